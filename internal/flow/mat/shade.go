package mat

import (
	"math"
	"slices"

	"aerugo/internal/picture"
)

// Limits of a shadow; common practice, no source.
const (
	shadeFrom  = 0.045 // of the light, lost: less is within what paper and surface differ by
	shadeUpTo  = 0.55  // more is no shadow but something dark lying there
	shadeNear  = 12.0  // mm within which white fields speak for a place
	shadeStep  = 3.0   // mm between samples
	shadeMost  = 0.03  // share of the paper round a place
	shadeFewer = 8     // samples below which nothing is said
)

// Shade returns the share of the white paper round an area that is darker than
// the light over the mat, by far too little for ink or a thing lying there, and
// how much darker half of that is at least. A surface of second order cannot
// follow the edge of a shadow, so what lies there reads wrong. The depth is a
// least one: a large shadow bends the surface after it.
func (s *Flat) Shade(img *picture.Image, f Found, area Area) (share, depth float64) {
	var lost []float64
	seen := 0
	look := func(p MM) {
		v, peak, ok := around(img, f, p, 0.7)
		if !ok || peak >= paperClip {
			return
		}
		switch off := 1 - v[1]/s.Paper(p)[1]; {
		case off > shadeUpTo:
		case off > shadeFrom:
			lost = append(lost, off)
			seen++
		default:
			seen++
		}
	}
	for _, field := range f.Layout.Fields {
		for y := field.Y + 1; y < field.Y+field.H; y += shadeStep {
			for x := field.X + 1; x < field.X+field.W; x += shadeStep {
				if d := area.Inset(-shadeNear); d.Contains(MM{x, y}) {
					look(MM{x, y})
				}
			}
		}
	}
	ring := area.Inset(-2.5)
	corners := ring.Corners()
	for i, a := range corners {
		b := corners[(i+1)%4]
		n := int(math.Hypot(b.X-a.X, b.Y-a.Y) / shadeStep)
		for k := 2; k <= n-2; k++ { // clear of the ticks at the corners
			t := float64(k) / float64(n)
			if p := (MM{a.X + t*(b.X-a.X), a.Y + t*(b.Y-a.Y)}); f.Layout.blank(p) {
				look(p)
			}
		}
	}
	if seen < shadeFewer || len(lost) == 0 {
		return 0, 0
	}
	slices.Sort(lost)
	return float64(len(lost)) / float64(seen), lost[len(lost)/2]
}

// blank reports whether the paper at p is white and nothing is meant to lie there.
// Cards and labels may be larger than their places, or lie askew.
func (l Layout) blank(p MM) bool {
	const clear, stray = 1.2, 5.0 // mm from what is printed, and from what is laid down
	if !l.Page.Inset(2).Contains(p) {
		return false
	}
	within := func(areas []Area, d float64) bool {
		return slices.ContainsFunc(areas, func(a Area) bool { return a.Inset(-d).Contains(p) })
	}
	return !within(l.Marks[:], clear) && !within([]Area{l.Ruler, l.Bar, l.Head, l.Words, l.Target}, clear) &&
		!within(l.Swatches, clear) && !within(l.Labels, stray) && !within([]Area{l.Grey}, stray)
}

// Shaded reports whether so much of the paper round an area lies in shadow that
// what lies there can't be read right.
func (s *Flat) Shaded(img *picture.Image, f Found, area Area) (depth float64, shaded bool) {
	share, depth := s.Shade(img, f, area)
	return depth, share > shadeMost
}
