package heif

import (
	"encoding/binary"
	"fmt"
)

// box is one box of ISO/IEC 14496-12 clause 4.2.
type box struct {
	kind string
	body []byte
}

// boxes splits data into boxes. A last box that runs past the end is an error.
func boxes(b []byte) ([]box, error) {
	var out []box
	for len(b) > 0 {
		if len(b) < 8 {
			return out, fmt.Errorf("box: %w", errShort)
		}
		size, head := uint64(binary.BigEndian.Uint32(b)), 8
		kind := string(b[4:8])
		switch size {
		case 0:
			size = uint64(len(b))
		case 1:
			if len(b) < 16 {
				return out, fmt.Errorf("box %q: %w", kind, errShort)
			}
			size, head = binary.BigEndian.Uint64(b[8:]), 16
		}
		if size < uint64(head) || size > uint64(len(b)) {
			return out, fmt.Errorf("box %q: %w", kind, errShort)
		}
		out = append(out, box{kind, b[head:size]})
		b = b[size:]
	}
	return out, nil
}

// fields reads the fields of a box. Reading past the end gives zeros and sets
// over.
type fields struct {
	b    []byte
	over bool
}

// u reads a whole number of n bytes, n up to 8; n of 0 gives 0.
func (f *fields) u(n int) uint64 {
	var v uint64
	for _, c := range f.take(n) {
		v = v<<8 | uint64(c)
	}
	return v
}

func (f *fields) take(n int) []byte {
	if n < 0 || n > len(f.b) {
		f.over = true
		f.b = nil
		return nil
	}
	out := f.b[:n]
	f.b = f.b[n:]
	return out
}

// full reads the version and flags of a full box.
func (f *fields) full() (version int, flags uint32) {
	v := uint32(f.u(4))
	return int(v >> 24), v & 0xffffff
}

// text reads a string that a zero byte ends.
func (f *fields) text() string {
	for i, c := range f.b {
		if c == 0 {
			s := string(f.b[:i])
			f.b = f.b[i+1:]
			return s
		}
	}
	s := string(f.b)
	f.b = nil
	return s
}

func (f *fields) err(kind string) error {
	if f.over {
		return fmt.Errorf("box %q: %w", kind, errShort)
	}
	return nil
}
