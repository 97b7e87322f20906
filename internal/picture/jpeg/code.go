package jpeg

import (
	"bytes"
	"encoding/binary"
)

// bits gives the bits of the picture data: acc holds the next n of them at its
// top. The stuffed bytes of T.81 B.1.1.5 are taken out beforehand, so that a whole
// word can be loaded at once.
type bits struct {
	data []byte // followed by padding
	end  int    // where the data end and the padding begins
	at   int    // of the next byte to load
	acc  uint64
	n    uint
}

// padding lets the last code be looked up in whole words.
const padding = 24

// fill takes the data up to the next marker and returns what starts there.
func (s *bits) fill(b []byte) (rest []byte, err error) {
	if s.data == nil {
		s.data = make([]byte, 0, len(b)+padding)
	}
	s.data = s.data[:0]
	s.at, s.acc, s.n = 0, 0, 0
	for {
		i := bytes.IndexByte(b, 0xff)
		if i < 0 || i+1 >= len(b) {
			return nil, errDamaged
		}
		switch b[i+1] {
		case 0:
			s.data = append(s.data, b[:i+1]...)
			b = b[i+2:]
			continue
		case 0xff: // fill byte in front of a marker
			s.data = append(s.data, b[:i]...)
			b = b[i+1:]
			continue
		}
		s.data = append(s.data, b[:i]...)
		s.end = len(s.data)
		s.data = append(s.data, make([]byte, padding)...)
		return b[i:], nil
	}
}

// over reports whether more bits were taken than there are.
func (s *bits) over() bool { return 8*s.at-int(s.n) > 8*s.end }

// lookup is how many bits are looked up at once: most codes, and the values behind
// the shorter ones.
const lookup = 11

// codes is a table of Huffman codes (T.81 annex C and F.2.2). An entry of fast is
// 0 where the code is longer than lookup, or else
//
//	bits 0-4   how many bits it takes in all
//	bits 5-8   zeros before the value
//	bits 9-12  bits of the value that still follow
//	bit 13     set where there is a value
//	bits 16-31 the value, if none of its bits follow
type codes struct {
	fast    [1 << lookup]uint32
	most    [17]int32 // largest code of each length, -1 for none
	offset  [17]int32 // place in symbols of a code of each length, less the code
	symbols [256]byte
}

const hasValue = 1 << 13

func newCodes(counts [16]byte, symbols []byte) (*codes, error) {
	t := &codes{}
	copy(t.symbols[:], symbols)
	code, i := int32(0), int32(0)
	for n := 1; n <= 16; n++ {
		t.most[n] = -1
		t.offset[n] = i - code
		for range counts[n-1] {
			if code >= 1<<n {
				return nil, errDamaged
			}
			if n <= lookup {
				t.enter(code, n, t.symbols[i])
			}
			t.most[n] = code
			code++
			i++
		}
		code <<= 1
	}
	return t, nil
}

// enter writes the entries of a code of n bits.
func (t *codes) enter(code int32, n int, symbol byte) {
	size := int(symbol & 15)
	free := lookup - n
	for rest := range 1 << free {
		e := uint32(n) | uint32(symbol>>4)<<5
		switch {
		case size == 0:
		case size <= free:
			v := extend(int32(rest>>(free-size)), size)
			e = uint32(n+size) | uint32(symbol>>4)<<5 | hasValue | uint32(uint16(int16(v)))<<16
		default:
			e |= uint32(size)<<9 | hasValue
		}
		t.fast[int(code)<<free|rest] = e
	}
}

// extend gives the value that size bits stand for (T.81 F.2.2.1).
func extend(v int32, size int) int32 {
	if v < 1<<(size-1) {
		v += 1 - 1<<size
	}
	return v
}

// long finds a code longer than lookup and gives its entry, 0 for none.
func (t *codes) long(acc uint64) uint32 {
	for n := lookup + 1; n <= 16; n++ {
		code := int32(acc >> (64 - n))
		if code <= t.most[n] {
			symbol := t.symbols[byte(t.offset[n]+code)]
			e := uint32(n) | uint32(symbol>>4)<<5
			if size := symbol & 15; size > 0 {
				e |= uint32(size)<<9 | hasValue
			}
			return e
		}
	}
	return 0
}

// natural is the place in a block of the coefficients in zigzag order (T.81 figure 5).
var natural = [64]uint8{
	0, 1, 8, 16, 9, 2, 3, 10, 17, 24, 32, 25, 18, 11, 4, 5, 12, 19, 26, 33, 40, 48, 41, 34, 27, 20, 13, 6, 7, 14, 21, 28,
	35, 42, 49, 56, 57, 50, 43, 36, 29, 22, 15, 23, 30, 37, 44, 51, 58, 59, 52, 45, 38, 31, 39, 46, 53, 60, 61, 54, 47, 55, 62, 63,
}

// read reads the coefficients of one block, times their quantisers (T.81 F.2.2).
// Bits that cannot be leave d.bad set.
func (d *Decoder) read(c *component, b *block) {
	s := &d.words
	data, at, acc, n := s.data, s.at, s.acc, s.n
	q := d.quants[c.quant]
	clear(b.v[:])
	b.columns = 0

	t := c.dc
	for k := 0; k < 64; {
		if n < 32 { // a code has 16 bits at most, a value 15
			if at+8 > len(data) {
				d.bad = true
				return
			}
			acc |= binary.BigEndian.Uint64(data[at:]) >> (n & 63)
			at += int(63-n) >> 3
			n |= 56
		}
		e := t.fast[acc>>(64-lookup)]
		if e == 0 {
			if e = t.long(acc); e == 0 {
				d.bad = true
				return
			}
		}
		took := uint(e & 31)
		acc <<= took & 63
		n -= took
		run := int(e >> 5 & 15)
		value := int32(e) >> 16
		if size := uint(e >> 9 & 15); size > 0 {
			v := int32(acc >> ((64 - size) & 63))
			acc <<= size & 63
			n -= size
			value = extend(v, int(size&15))
		}
		if k == 0 {
			if run != 0 { // a size above 15
				d.bad = true
				return
			}
			c.before += value
			b.v[0] = c.before * q[0]
			k, t = 1, c.ac
			continue
		}
		if e&hasValue == 0 {
			if run != 15 {
				break // only zeros follow
			}
			k += 16
			continue
		}
		k += run
		if k > 63 {
			d.bad = true
			return
		}
		at := natural[k]
		b.v[at&63] = value * q[k&63]
		b.columns |= 1 << (at & 7)
		k++
	}
	s.at, s.acc, s.n = at, acc, n
}
