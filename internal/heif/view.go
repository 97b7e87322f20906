package heif

import (
	"errors"
	"fmt"
	"math"
)

// view is how the decoded samples are shown: pixel (x, y) of the picture is the
// sample at origin + x*right + y*down.
type view struct {
	w, h        int
	origin      vec
	right, down vec
}

type vec struct{ x, y int }

func newView(w, h int) view { return view{w: w, h: h, right: vec{1, 0}, down: vec{0, 1}} }

func (v *view) at(x, y int) vec {
	return vec{v.origin.x + x*v.right.x + y*v.down.x, v.origin.y + x*v.right.y + y*v.down.y}
}

// apply takes in an item's transformative properties in the order given, which
// is the order they are to be applied in (ISO/IEC 23008-12 clause 6.5.1).
func (v *view) apply(props []property) error {
	for _, p := range props {
		switch p.kind {
		case "irot":
			if len(p.body) < 1 {
				return fmt.Errorf("irot: %w", errShort)
			}
			for range p.body[0] & 3 {
				v.turn()
			}
		case "imir":
			if len(p.body) < 1 {
				return fmt.Errorf("imir: %w", errShort)
			}
			if p.body[0]&1 == 1 {
				v.origin, v.right = v.at(v.w-1, 0), vec{-v.right.x, -v.right.y}
			} else {
				v.origin, v.down = v.at(0, v.h-1), vec{-v.down.x, -v.down.y}
			}
		case "clap":
			if err := v.crop(p.body); err != nil {
				return err
			}
		case "hvcC", "ispe", "pixi", "colr", "auxC", "pasp":
		default:
			if p.essential {
				return unsupported(fmt.Sprintf("the essential property %q", p.kind))
			}
		}
	}
	return nil
}

// turn turns the picture a quarter anticlockwise: what was at the right is now
// at the top.
func (v *view) turn() {
	v.origin = v.at(v.w-1, 0)
	v.right, v.down = v.down, vec{-v.right.x, -v.right.y}
	v.w, v.h = v.h, v.w
}

// crop keeps the clean aperture (ISO/IEC 14496-12 clause 12.1.4), its edges
// moved out to whole samples within the picture.
func (v *view) crop(b []byte) error {
	f := fields{b: b}
	var q [4]float64
	for i := range q {
		n, d := int32(f.u(4)), int32(f.u(4))
		q[i] = float64(n) / float64(d)
		if i < 2 {
			q[i] = float64(uint32(n)) / float64(uint32(d))
		}
	}
	if err := f.err("clap"); err != nil {
		return err
	}
	w, h := math.Round(q[0]), math.Round(q[1])
	x := math.Floor(q[2] + (float64(v.w)-w)/2)
	y := math.Floor(q[3] + (float64(v.h)-h)/2)
	if !(w >= 1 && h >= 1 && x >= 0 && y >= 0 && x+w <= float64(v.w) && y+h <= float64(v.h)) {
		return errors.New("the clean aperture lies outside the picture")
	}
	v.origin = v.at(int(x), int(y))
	v.w, v.h = int(w), int(h)
	return nil
}

// turned splits the view into quarter turns anticlockwise and an exchange of
// left and right after them.
func (v *view) turned() (quarters int, mirror bool) {
	for q, down := range []vec{{0, 1}, {-1, 0}, {0, -1}, {1, 0}} {
		if v.down != down {
			continue
		}
		// Turned by q and not mirrored, right is down turned back a quarter.
		return q, v.right != vec{down.y, -down.x}
	}
	return 0, false
}
