package form

import (
	"cmp"
	"math"
	"slices"
)

// swept is what a sweep over a drawing found.
type swept struct {
	area, edge float64
	metal      []sides // of each line
}

// sides is the length of a closed line that has metal on its inner or outer side only.
type sides struct{ inside, outside float64 }

// side is one straight stretch of a closed line, going up from lo to hi.
type side struct {
	lo, hi Point
	up     int8 // +1 if the line runs up here, -1 if down
	inner  bool // the inside of its line lies on its right (larger x)
	line   int32
}

func (s *side) at(y float64) float64 {
	return s.lo.X + (s.hi.X-s.lo.X)*((y-s.lo.Y)/(s.hi.Y-s.lo.Y))
}

// sweepWork bounds the stretches that a sweep looks at: a drawing of 100 000 points
// takes some millions.
const sweepWork = 100_000_000

// sweep measures the painted area and its border exactly, lines that cross and
// overlap included: it cuts the plane into strips between neighbouring corners and
// crossings, in which the stretches lie side by side. The drawing is turned first,
// so that no line is level except by ill luck.
func sweep(lines []closedLine, paints []paint) (swept, error) {
	s := sweeper{paints: paints, wind: make([]int32, len(paints)), out: swept{metal: make([]sides, len(lines))}}
	for _, p := range paints {
		s.paper = s.paper || p.paper
	}
	s.filled = make([]uint64, len(paints)/64+1)
	// the middle of the drawing, so that digits are not lost to a far origin
	box := boxOf(lines[0].pts)
	for _, l := range lines {
		box = box.with(boxOf(l.pts))
	}
	mid := Point{(box.Min.X + box.Max.X) / 2, (box.Min.Y + box.Max.Y) / 2}
	s.eps = 1e-9 * max(box.Width(), box.Height())
	sin, cos := math.Sincos(0.36787944117)
	turn := func(p Point) Point {
		p = Point{p.X - mid.X, p.Y - mid.Y}
		return Point{cos*p.X - sin*p.Y, sin*p.X + cos*p.Y}
	}
	var all []side
	var ys []float64
	for i, l := range lines {
		right := signedArea(l.pts) < 0 // then the inside is on the right of a line that runs up
		for j, p := range l.pts {
			a, b := turn(p), turn(l.pts[(j+1)%len(l.pts)])
			ys = append(ys, a.Y)
			switch {
			case a.Y < b.Y:
				all = append(all, side{a, b, 1, right, int32(i)})
			case a.Y > b.Y:
				all = append(all, side{b, a, -1, !right, int32(i)})
			}
		}
	}
	slices.Sort(ys)
	ys = slices.Compact(ys)
	slices.SortFunc(all, func(a, b side) int { return cmp.Compare(a.lo.Y, b.lo.Y) })
	s.lines, s.all = lines, all
	next := 0
	var live []int32
	for i := 0; i+1 < len(ys); i++ {
		low, high := ys[i], ys[i+1]
		live = slices.DeleteFunc(live, func(k int32) bool { return all[k].hi.Y <= low })
		for next < len(all) && all[next].lo.Y <= low {
			live = append(live, int32(next))
			next++
		}
		if err := s.strip(live, low, high); err != nil {
			return swept{}, err
		}
	}
	return s.out, nil
}

type sweeper struct {
	lines  []closedLine
	all    []side
	paints []paint
	paper  bool
	wind   []int32  // of each paint, left of where the sweep is
	filled []uint64 // a bit for each paint that covers
	count  int      // of bits
	eps    float64
	work   int
	out    swept
}

// strip measures between two heights, from crossing to crossing: the lowest one is
// always between neighbours.
func (s *sweeper) strip(live []int32, low, high float64) error {
	const least = 1e-7 // of what is left: each turn gets on by this much, and is blind below it
	for low < high {   // start may round to low; cut is above it or is high
		start := low + least*(high-low)
		byStart := func(a, b int32) int {
			x, y := &s.all[a], &s.all[b]
			return cmp.Or(cmp.Compare(x.at(start), y.at(start)), cmp.Compare(x.at(high), y.at(high)), cmp.Compare(a, b))
		}
		if s.work += len(live) + 1; s.work > sweepWork {
			return bad("drawing", "The drawing is too intricate to measure: its lines cross or overlap too often. Leave out hatching and filling patterns.")
		}
		if !slices.IsSortedFunc(live, byStart) {
			slices.SortFunc(live, byStart)
			s.work += 4 * len(live)
		}
		cut := high
		for i := 1; i < len(live); i++ {
			a, b := &s.all[live[i-1]], &s.all[live[i]]
			after := b.at(high) - a.at(high)
			if after >= -s.eps {
				continue
			}
			before := b.at(start) - a.at(start)
			if c := start + (high-start)*before/(before-after); c > start {
				cut = min(cut, c)
			}
		}
		s.measure(live, low, low+(cut-low)/2, cut)
		low = cut // above start, unless high itself is no larger
	}
	return nil
}

// measure adds a strip in which no two stretches cross.
func (s *sweeper) measure(live []int32, low, mid, high float64) {
	var from float64 // where the metal began
	inside := false
	for i := 0; i < len(live); {
		x := s.all[live[i]].at(mid)
		first := i
		for ; i < len(live) && s.all[live[i]].at(mid) <= x+s.eps; i++ { // lines that lie on each other
			e := &s.all[live[i]]
			s.add(s.lines[e.line].paint, int32(e.up))
		}
		now := s.covered()
		if now == inside {
			continue
		}
		if now {
			from = x
		} else {
			s.out.area += (x - from) * (high - low)
		}
		inside = now
		e := &s.all[live[first]]
		long := math.Hypot(1, (e.hi.X-e.lo.X)/(e.hi.Y-e.lo.Y)) * (high - low)
		s.out.edge += long
		for _, k := range live[first:i] {
			e := &s.all[k]
			if e.inner == now { // metal and the line's inside are on the same side
				s.out.metal[e.line].inside += long
			} else {
				s.out.metal[e.line].outside += long
			}
		}
	}
}

// add changes a paint's winding and whether it covers what is right of here.
func (s *sweeper) add(paint int, up int32) {
	w := s.wind[paint]
	s.wind[paint] = w + up
	covers := func(w int32) bool {
		if s.paints[paint].evenOdd {
			return w%2 != 0
		}
		return w != 0
	}
	if covers(w) == covers(w+up) {
		return
	}
	bit := uint64(1) << (paint % 64)
	s.filled[paint/64] ^= bit
	if s.filled[paint/64]&bit != 0 {
		s.count++
	} else {
		s.count--
	}
}

// covered reports whether the paint on top is metal.
func (s *sweeper) covered() bool {
	if s.count == 0 || !s.paper {
		return s.count > 0
	}
	for i := len(s.filled) - 1; i >= 0; i-- {
		s.work++
		if s.filled[i] != 0 {
			top := 63
			for s.filled[i]>>top == 0 {
				top--
			}
			return !s.paints[i*64+top].paper
		}
	}
	return false
}

func sortLoops(loops []Loop) {
	slices.SortStableFunc(loops, func(a, b Loop) int { return cmp.Compare(b.AreaMM2, a.AreaMM2) })
}
