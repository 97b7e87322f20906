// Package jpeg decodes the parts of an ordinary JPEG that are asked for: the
// baseline files that cameras and phones write (ITU-T T.81, sequential Huffman
// coding, 8 bits, one scan). What lies outside the parts is passed over without
// being transformed, and the rows below the last part are not read at all.
//
// A file of another kind, or a damaged one, gives an error; the standard
// library's image/jpeg reads more kinds and judges damage.
package jpeg

import (
	"encoding/binary"
	"errors"
	"image"
)

// ErrUnusual tells that a file is not of the kind that this package reads.
var ErrUnusual = errors.New("not a baseline JPEG in one scan")

// ErrShort tells that a file has fewer bytes than the least its picture could have.
var ErrShort = errors.New("the picture data break off")

var errDamaged = errors.New("damaged picture data")

// Tile is one unit of the picture's grid (an MCU of T.81), decoded. Luma has
// W*H samples, in rows; Blue and Red have 8*8, each for 1<<AcrossShift by
// 1<<DownShift samples of Luma. A grey picture has Luma alone.
type Tile struct {
	X, Y, W, H             int // place and size in the stored picture; it may reach past its edges
	Luma                   [256]uint8
	Blue, Red              [64]uint8 // the second and third component: Cb and Cr, or G and B
	AcrossShift, DownShift int
}

// Kind says what the components of a picture are.
type Kind int

// The kinds of components.
const (
	Grey Kind = iota + 1
	YCbCr
	RGB
)

type component struct {
	id, quant byte
	h, v      int
	dc, ac    *codes
	before    int32 // the last DC value
}

// Decoder holds the head of a JPEG.
type Decoder struct {
	Width, Height int
	Kind          Kind

	comps    []component
	quants   [4]*[64]int32 // in zigzag order
	dc, ac   [4]*codes
	interval int // units between restart markers; 0 for none
	scan     []byte

	words bits
	bad   bool
}

// New reads the head of a JPEG up to its picture data. It returns ErrUnusual for
// a kind of JPEG it cannot decode, and another error for a damaged head.
func New(b []byte) (*Decoder, error) {
	d := &Decoder{}
	if len(b) < 2 || b[0] != 0xff || b[1] != 0xd8 {
		return nil, errDamaged
	}
	jfif, adobe := false, -1
	for i := 2; ; {
		for i+1 < len(b) && b[i] == 0xff && b[i+1] == 0xff {
			i++
		}
		if i+4 > len(b) || b[i] != 0xff {
			return nil, errDamaged
		}
		marker, n := b[i+1], int(binary.BigEndian.Uint16(b[i+2:]))
		if n < 2 || i+2+n > len(b) {
			return nil, errDamaged
		}
		data := b[i+4 : i+2+n]
		i += 2 + n
		var err error
		switch {
		case marker == 0xc0 || marker == 0xc1:
			err = d.frame(data)
		case marker == 0xc4:
			err = d.huffman(data)
		case marker == 0xdb:
			err = d.quantisers(data)
		case marker == 0xdd:
			if len(data) != 2 {
				return nil, errDamaged
			}
			d.interval = int(binary.BigEndian.Uint16(data))
		case marker == 0xe0:
			jfif = jfif || len(data) >= 5 && string(data[:5]) == "JFIF\x00"
		case marker == 0xee:
			if len(data) >= 12 && string(data[:5]) == "Adobe" {
				adobe = int(data[11])
			}
		case marker == 0xda:
			if err := d.start(data); err != nil {
				return nil, err
			}
			d.scan = b[i:]
			if d.shorter() {
				return nil, ErrShort
			}
			if d.Kind == YCbCr && !jfif && (adobe == 0 || d.comps[0].id == 'R' && d.comps[1].id == 'G' && d.comps[2].id == 'B') {
				d.Kind = RGB
			}
			return d, nil
		case marker >= 0xe0 && marker <= 0xef || marker == 0xfe:
		default:
			return nil, ErrUnusual
		}
		if err != nil {
			return nil, err
		}
	}
}

// shorter reports whether the picture data are too few for the size that the head
// names: each block takes a bit for its first coefficient and one for the others.
func (d *Decoder) shorter() bool {
	blocks := 0
	first := d.comps[0]
	across, down := (d.Width+8*first.h-1)/(8*first.h), (d.Height+8*first.v-1)/(8*first.v)
	for _, c := range d.comps {
		blocks += across * down * c.h * c.v
	}
	return 8*len(d.scan) < 2*blocks
}

// frame reads the frame header (T.81 B.2.2).
func (d *Decoder) frame(data []byte) error {
	if len(data) < 6 || d.comps != nil {
		return errDamaged
	}
	d.Height, d.Width = int(binary.BigEndian.Uint16(data[1:])), int(binary.BigEndian.Uint16(data[3:]))
	n := int(data[5])
	if len(data) != 6+3*n {
		return errDamaged
	}
	if data[0] != 8 || d.Width == 0 || d.Height == 0 || n != 1 && n != 3 {
		return ErrUnusual
	}
	for i := range n {
		c := component{id: data[6+3*i], h: int(data[7+3*i] >> 4), v: int(data[7+3*i] & 15), quant: data[8+3*i]}
		if c.quant > 3 {
			return errDamaged
		}
		for _, other := range d.comps {
			if other.id == c.id {
				return errDamaged
			}
		}
		d.comps = append(d.comps, c)
	}
	d.Kind = Grey
	if n == 1 { // alone it has no grid but its own (T.81 A.2.2)
		d.comps[0].h, d.comps[0].v = 1, 1
		return nil
	}
	d.Kind = YCbCr
	y, b, r := d.comps[0], d.comps[1], d.comps[2]
	if y.h < 1 || y.h > 2 || y.v < 1 || y.v > 2 || b.h != 1 || b.v != 1 || r.h != 1 || r.v != 1 {
		return ErrUnusual
	}
	return nil
}

// quantisers reads quantisation tables (T.81 B.2.4.1).
func (d *Decoder) quantisers(data []byte) error {
	for len(data) > 0 {
		wide, id := int(data[0]>>4), data[0]&15
		if wide > 1 || id > 3 || len(data) < 1+64*(1+wide) {
			return errDamaged
		}
		var q [64]int32
		for i := range q {
			if wide == 1 {
				q[i] = int32(binary.BigEndian.Uint16(data[1+2*i:]))
			} else {
				q[i] = int32(data[1+i])
			}
		}
		d.quants[id] = &q
		data = data[1+64*(1+wide):]
	}
	return nil
}

// huffman reads tables of codes (T.81 B.2.4.2).
func (d *Decoder) huffman(data []byte) error {
	for len(data) > 0 {
		if len(data) < 17 {
			return errDamaged
		}
		class, id := data[0]>>4, data[0]&15
		n := 0
		for _, v := range data[1:17] {
			n += int(v)
		}
		if class > 1 || id > 3 || n > 256 || len(data) < 17+n {
			return errDamaged
		}
		t, err := newCodes([16]byte(data[1:17]), data[17:17+n])
		if err != nil {
			return err
		}
		if class == 0 {
			d.dc[id] = t
		} else {
			d.ac[id] = t
		}
		data = data[17+n:]
	}
	return nil
}

// start reads the scan header (T.81 B.2.3).
func (d *Decoder) start(data []byte) error {
	if d.comps == nil || len(data) < 1 || len(data) != 4+2*int(data[0]) {
		return errDamaged
	}
	if int(data[0]) != len(d.comps) {
		return ErrUnusual // a scan for each component
	}
	for i := range d.comps {
		c := &d.comps[i]
		dc, ac := data[2+2*i]>>4, data[2+2*i]&15
		if data[1+2*i] != c.id {
			return ErrUnusual
		}
		if dc > 3 || ac > 3 || d.dc[dc] == nil || d.ac[ac] == nil || d.quants[c.quant] == nil {
			return errDamaged
		}
		c.dc, c.ac = d.dc[dc], d.ac[ac]
	}
	return nil
}

// Decode decodes the units of the grid that hold any pixel of parts, in places of
// the stored picture, and hands each to take, row by row. With no parts it decodes
// all. The tile is used again after take returns. On an error what was taken
// before it may be wrong.
func (d *Decoder) Decode(parts []image.Rectangle, take func(*Tile)) error {
	first := d.comps[0]
	t := Tile{W: 8 * first.h, H: 8 * first.v, AcrossShift: first.h - 1, DownShift: first.v - 1}
	across, down := (d.Width+t.W-1)/t.W, (d.Height+t.H-1)/t.H
	wanted := make([]bool, across)
	rows := down
	if parts != nil {
		rows = 0
		for _, p := range parts {
			if !p.Empty() {
				rows = max(rows, min(down, (p.Max.Y+t.H-1)/t.H))
			}
		}
	}
	rest, left := d.scan, d.interval
	rest, err := d.words.fill(rest)
	if err != nil {
		return err
	}
	var b block
	for y := range rows {
		t.Y = y * t.H
		d.mark(wanted, parts, t)
		for x, want := range wanted {
			if d.interval > 0 {
				if left == 0 {
					if d.words.over() {
						return errDamaged
					}
					if len(rest) < 2 || rest[0] != 0xff || rest[1] < 0xd0 || rest[1] > 0xd7 {
						return errDamaged
					}
					if rest, err = d.words.fill(rest[2:]); err != nil {
						return err
					}
					left = d.interval
					for i := range d.comps {
						d.comps[i].before = 0
					}
				}
				left--
			}
			t.X = x * t.W
			for v := range first.v {
				for h := range first.h {
					d.read(&d.comps[0], &b)
					if want {
						b.inverse(t.Luma[8*v*t.W+8*h:], t.W)
					}
				}
			}
			if len(d.comps) == 3 {
				d.read(&d.comps[1], &b)
				if want {
					b.inverse(t.Blue[:], 8)
				}
				d.read(&d.comps[2], &b)
				if want {
					b.inverse(t.Red[:], 8)
				}
			}
			if d.bad {
				return errDamaged
			}
			if want {
				take(&t)
			}
		}
		if d.words.over() {
			return errDamaged
		}
	}
	return nil
}

// mark tells which units of the row of the grid at t.Y hold any pixel of parts.
func (d *Decoder) mark(wanted []bool, parts []image.Rectangle, t Tile) {
	for i := range wanted {
		wanted[i] = parts == nil
	}
	for _, p := range parts {
		if p.Empty() || p.Max.Y <= t.Y || p.Min.Y >= t.Y+t.H {
			continue
		}
		from, to := max(0, p.Min.X)/t.W, min(len(wanted), (p.Max.X+t.W-1)/t.W)
		for i := from; i < to; i++ {
			wanted[i] = true
		}
	}
}
