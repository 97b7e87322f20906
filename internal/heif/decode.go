package heif

import (
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
)

// Decode decodes the primary picture of a file and says what ReadInfo says of
// it. A picture of more than maxPixels is refused before memory is taken for
// it. It uses two goroutines for a picture made of tiles. An error is returned
// for a file that is damaged, and for one that uses tools of the standards
// beyond those the package knows.
func Decode(b []byte, maxPixels int) (p *Picture, info Info, err error) {
	defer catch(&err)
	p, info, err = decode(b, maxPixels)
	if err != nil {
		return nil, Info{}, fmt.Errorf("decode heic: %w", err)
	}
	return p, info, nil
}

func decode(b []byte, maxPixels int) (*Picture, Info, error) {
	c, err := readContainer(b)
	if err != nil {
		return nil, Info{}, err
	}
	src, err := c.source()
	if err != nil {
		return nil, Info{}, err
	}
	if src.size.w > maxPixels/src.size.h {
		return nil, Info{}, tooLarge(src.size.w, src.size.h, maxPixels)
	}
	p := &Picture{Width: src.view.w, Height: src.view.h, view: src.view}
	if err := p.setColour(src.info); err != nil {
		return nil, Info{}, err
	}
	if src.grid != nil {
		err = p.decodeGrid(c, src.grid, maxPixels)
	} else {
		err = p.decodeSingle(c, src, maxPixels)
	}
	if err != nil {
		return nil, Info{}, err
	}
	return p, src.info, nil
}

// decodeItem decodes a coded item of w by h pixels into d.
func (c *container) decodeItem(d *picture, it *item, cfg *config, w, h, maxPixels int) (err error) {
	defer catch(&err)
	data, err := c.data(it)
	if err != nil {
		return err
	}
	// What is coded is rounded up to whole blocks of at most 64.
	return d.decode(cfg, data, max(maxPixels, (w+63)*(h+63)))
}

func (p *Picture) decodeSingle(c *container, src *source, maxPixels int) error {
	cfg, err := c.config(src.item)
	if err != nil {
		return err
	}
	d := &picture{}
	if err := c.decodeItem(d, src.item, cfg, src.size.w, src.size.h, maxPixels); err != nil {
		return err
	}
	s := d.sps
	if s.width-s.cropLeft-s.cropRight != src.size.w || s.height-s.cropTop-s.cropBottom != src.size.h {
		return errors.New("the coded picture is not of the size the file says")
	}
	p.format(s)
	p.plane = d.plane
	at := vec{s.cropLeft, s.cropTop}
	p.view.origin = vec{p.view.origin.x + at.x, p.view.origin.y + at.y}
	return nil
}

// format takes over how samples are stored.
func (p *Picture) format(s *sps) {
	p.BitDepth, p.depth = s.depth[0], s.depth
	p.chroma, p.subX, p.subY = s.chroma, s.subX, s.subY
}

func (p *Picture) decodeGrid(c *container, g *grid, maxPixels int) error {
	// Everything that the tiles' goroutines share is read beforehand.
	cfgs := make([]*config, len(g.tiles))
	var first *sps
	for i, t := range g.tiles {
		cfg, err := c.config(t)
		if err != nil {
			return err
		}
		cfgs[i] = cfg
		v := newView(1, 1)
		if err := v.apply(t.props); err != nil {
			return err
		}
		if v != newView(1, 1) {
			return unsupported("a grid of turned tiles")
		}
		if i == 0 {
			if first, err = cfg.only(); err != nil {
				return err
			}
		}
	}
	tw, th := first.width-first.cropLeft-first.cropRight, first.height-first.cropTop-first.cropBottom
	if (g.cols-1)*tw >= g.width || g.cols*tw < g.width || (g.rows-1)*th >= g.height || g.rows*th < g.height {
		return fmt.Errorf("%d by %d tiles of %d by %d do not make a picture of %d by %d", g.cols, g.rows, tw, th, g.width, g.height)
	}
	if g.cols > 1 && tw&first.subX != 0 || g.rows > 1 && th&first.subY != 0 {
		return unsupported("a grid of tiles with an odd size")
	}
	p.format(first)
	for i := range p.plane {
		w, h := g.width, g.height
		if i > 0 {
			w, h = (w+first.subX)>>first.subX, (h+first.subY)>>first.subY
			if first.chroma == 0 {
				break
			}
		}
		p.plane[i] = plane{make([]uint16, w*h), w, w, h}
	}
	var next atomic.Int64
	var errs [2]error
	var wait sync.WaitGroup
	for k := range errs {
		wait.Go(func() {
			d := &picture{}
			for {
				i := int(next.Add(1)) - 1
				if i >= len(g.tiles) {
					return
				}
				err := c.decodeItem(d, g.tiles[i], cfgs[i], tw, th, maxPixels)
				if err == nil {
					err = p.place(d, first, i%g.cols*tw, i/g.cols*th)
				}
				if err != nil {
					errs[k] = fmt.Errorf("tile %d: %w", i, err)
					next.Store(int64(len(g.tiles))) // the other need not go on
					return
				}
			}
		})
	}
	wait.Wait()
	return errors.Join(errs[:]...)
}

// place copies a decoded tile to luma sample (x, y) of the picture.
func (p *Picture) place(d *picture, first *sps, x, y int) error {
	s := d.sps
	if s.chroma != first.chroma || s.depth != first.depth ||
		s.width-s.cropLeft-s.cropRight != first.width-first.cropLeft-first.cropRight ||
		s.height-s.cropTop-s.cropBottom != first.height-first.cropTop-first.cropBottom {
		return errors.New("tiles are not all alike")
	}
	for i := range p.plane {
		dst, src := &p.plane[i], &d.plane[i]
		dx, dy, sx, sy := x, y, s.cropLeft, s.cropTop
		right := s.cropRight
		bottom := s.cropBottom
		if i > 0 {
			dx, dy, sx, sy = dx>>s.subX, dy>>s.subY, sx>>s.subX, sy>>s.subY
			right, bottom = right>>s.subX, bottom>>s.subY
		}
		w, h := min(src.w-sx-right, dst.w-dx), min(src.h-sy-bottom, dst.h-dy)
		for j := range h {
			copy(dst.pix[(dy+j)*dst.stride+dx:][:w], src.pix[(sy+j)*src.stride+sx:])
		}
	}
	return nil
}
