package heif

import (
	"encoding/binary"
	"errors"
	"fmt"
)

// Info is what a file's container says of its primary picture.
type Info struct {
	Width, Height int  // as displayed, after cropping and turning
	Rotate        int  // quarter turns anticlockwise that displaying takes
	Mirror        bool // whether displaying exchanges left and right, after turning
	BitDepth      int  // of a luma sample

	ICC []byte // the colour profile; nil if none

	// The colour of the samples as code points of ITU-T H.273. Without an nclx
	// box they are the bitstream's own, and without those BT.601 full range
	// (matrix 6, primaries and transfer 2, unspecified).
	HasNCLX                     bool
	Matrix, Primaries, Transfer int
	FullRange                   bool

	Exif []byte // TIFF data, nil if none
}

// Sniff reports whether b begins a file of the HEIF family that may hold an
// HEIC picture.
func Sniff(b []byte) bool {
	if len(b) < 16 || string(b[4:8]) != "ftyp" {
		return false
	}
	size := int(min(uint64(binary.BigEndian.Uint32(b)), uint64(len(b)), 4096))
	generic := false
	for at := 8; at+4 <= size; at += 4 {
		if at == 12 {
			continue // the version
		}
		switch string(b[at : at+4]) {
		case "heic", "heix", "heim", "heis", "hevc", "hevx":
			return true
		case "avif", "avis":
			return false
		case "mif1", "msf1":
			generic = true
		}
	}
	return generic
}

// ReadInfo reads the container only, which is quick. It returns an error for a
// file that is damaged or whose primary picture is not HEIC.
func ReadInfo(b []byte) (info Info, err error) {
	defer catch(&err)
	c, err := readContainer(b)
	if err != nil {
		return Info{}, fmt.Errorf("read heic: %w", err)
	}
	src, err := c.source()
	if err != nil {
		return Info{}, fmt.Errorf("read heic: %w", err)
	}
	return src.info, nil
}

// catch turns a panic into an error. None is known; a picture from elsewhere
// must still not stop the program.
func catch(err *error) {
	if v := recover(); v != nil {
		*err = fmt.Errorf("read heic: damaged file: %v", v)
	}
}

// source is the primary picture with the derived pictures on top of it taken
// into account.
type source struct {
	item *item // of kind hvc1 or grid
	grid *grid // if a grid
	tile *item // the coded picture, or a grid's first
	size size
	view view
	info Info
}

// size is a width and a height in luma samples.
type size struct{ w, h int }

// source finds the primary picture and what is to be done with it.
func (c *container) source() (*source, error) {
	var chain []*item
	it := c.items[c.primary]
	for it.kind == "iden" {
		chain = append(chain, it)
		ids := it.refs["dimg"]
		if len(ids) != 1 || c.items[ids[0]] == nil {
			return nil, errors.New("a derived picture lacks the picture it is derived from")
		}
		if it = c.items[ids[0]]; len(chain) > 8 {
			return nil, errors.New("pictures are derived from each other in a ring")
		}
	}
	chain = append(chain, it)
	s := &source{item: it, tile: it}
	switch it.kind {
	case "grid":
		g, err := c.grid(it)
		if err != nil {
			return nil, err
		}
		s.grid, s.tile = g, g.tiles[0]
	case "hvc1":
	case "av01":
		return nil, errors.New("the picture is coded as AVIF, not HEIC")
	default:
		return nil, unsupported(fmt.Sprintf("a picture of kind %q", it.kind))
	}
	cfg, err := c.config(s.tile)
	if err != nil {
		return nil, err
	}
	ps, err := cfg.only()
	if err != nil {
		return nil, err
	}
	s.size = size{ps.width - ps.cropLeft - ps.cropRight, ps.height - ps.cropTop - ps.cropBottom}
	if s.grid != nil {
		s.size = size{s.grid.width, s.grid.height}
	}
	s.view = newView(s.size.w, s.size.h)
	for i := len(chain) - 1; i >= 0; i-- {
		if err := s.view.apply(chain[i].props); err != nil {
			return nil, err
		}
	}
	s.info = Info{Width: s.view.w, Height: s.view.h, BitDepth: ps.depth[0], Matrix: 6, Primaries: 2, Transfer: 2, FullRange: true}
	s.info.Rotate, s.info.Mirror = s.view.turned()
	if ps.hasVideoSignal {
		s.info.FullRange = ps.fullRange
		if ps.hasColour {
			s.info.Primaries, s.info.Transfer, s.info.Matrix = ps.primaries, ps.transfer, ps.matrix
		}
	}
	for _, it := range append(chain, s.tile) {
		s.info.colour(it)
	}
	s.info.Exif = c.exif()
	return s, nil
}

// colour takes over an item's colour boxes, unless an item before had them.
func (info *Info) colour(it *item) {
	for _, p := range it.props {
		if p.kind != "colr" || len(p.body) < 4 {
			continue
		}
		f := fields{b: p.body[4:]}
		switch string(p.body[:4]) {
		case "prof", "rICC":
			if info.ICC == nil {
				info.ICC = append([]byte(nil), f.b...)
			}
		case "nclx":
			if info.HasNCLX || len(f.b) < 7 {
				continue
			}
			info.HasNCLX = true
			info.Primaries, info.Transfer, info.Matrix = int(f.u(2)), int(f.u(2)), int(f.u(2))
			info.FullRange = f.u(1)>>7 == 1
		}
	}
}

// exif finds the EXIF data of the primary picture; damaged data are as none.
func (c *container) exif() []byte {
	for _, it := range c.items {
		if it.kind != "Exif" {
			continue
		}
		ours := false
		for _, id := range it.refs["cdsc"] {
			ours = ours || id == c.primary
		}
		if !ours {
			continue
		}
		b, err := c.data(it)
		if err != nil || len(b) < 4 {
			continue
		}
		if skip := uint64(binary.BigEndian.Uint32(b)) + 4; skip < uint64(len(b)) {
			return append([]byte(nil), b[skip:]...)
		}
	}
	return nil
}
