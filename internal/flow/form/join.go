package form

import (
	"cmp"
	"math"
	"slices"
)

// join makes closed lines of chains: ends that lie within tol of each other are
// joined, the nearest first. What is left open is returned as gaps. A chain drawn
// twice counts once.
func join(chains []chain, tol float64) (closed [][]Point, open []Gap) {
	var loose []chain
	drawn := map[[6]int64]bool{}
	add := func(pts []Point) {
		b := boxOf(pts)
		corners := sameLine([]Point{b.Min, b.Max}, tol)
		corners[4], corners[5] = grid(math.Abs(signedArea(pts)), tol*max(perimeter(pts), tol)), math.MaxInt64
		if !drawn[corners] {
			drawn[corners] = true
			closed = append(closed, pts)
		}
	}
	for _, c := range chains {
		n := len(c.pts)
		switch {
		case n < 2:
		case c.closed || n > 2 && c.pts[0].to(c.pts[n-1]) <= tol:
			if n > 2 {
				add(c.pts)
			}
		default:
			if key := sameLine(c.pts, tol); !drawn[key] {
				drawn[key] = true
				loose = append(loose, c)
			}
		}
	}
	// end 2i is the start of chain i, 2i+1 its end
	at := func(e int) Point {
		c := loose[e/2].pts
		if e%2 == 0 {
			return c[0]
		}
		return c[len(c)-1]
	}
	pairs := near(2*len(loose), at, tol)
	mate := make([]int, 2*len(loose))
	for i := range mate {
		mate[i] = -1
	}
	for _, p := range pairs {
		if mate[p.a] < 0 && mate[p.b] < 0 {
			mate[p.a], mate[p.b] = p.b, p.a
		}
	}
	used := make([]bool, len(loose))
	walk := func(e int) (pts []Point, last int) { // e is the end where the chain is entered
		for {
			used[e/2] = true
			c := slices.Clone(loose[e/2].pts)
			if e%2 == 1 {
				slices.Reverse(c)
			}
			pts = append(pts, c...)
			last = e ^ 1
			if mate[last] < 0 || used[mate[last]/2] {
				return pts, last
			}
			e = mate[last]
		}
	}
	var ends []int
	for e, m := range mate { // strings of chains with free ends first
		if m < 0 && !used[e/2] {
			_, last := walk(e)
			ends = append(ends, e, last)
		}
	}
	for i := range loose {
		if !used[i] {
			if pts, _ := walk(2 * i); len(pts) >= 3 {
				add(pts)
			}
		}
	}
	const told = 200 // gaps: enough to see what is wrong with a drawing
	for i := 0; i+1 < len(ends) && len(open) < told; i += 2 {
		a, b := ends[i], ends[i+1]
		miss := at(a).to(at(b))
		for _, e := range ends[:min(len(ends), 4000)] {
			if e != a && (e != b || len(ends) == 2) {
				miss = min(miss, at(a).to(at(e)))
			}
		}
		open = append(open, Gap{at(a), at(b), miss})
	}
	return closed, open
}

// sameLine is alike for two chains with the same ends and middle, either way round.
func sameLine(pts []Point, tol float64) [6]int64 {
	n := len(pts)
	a, b := pts[0], pts[n-1]
	if a.X > b.X || a.X == b.X && a.Y > b.Y {
		a, b = b, a
	}
	var m Point // the mean of all points but the ends weighted alike from both sides
	for i := 1; i < n; i++ {
		m.X += (pts[i-1].X + pts[i].X) / 2 / float64(n-1)
		m.Y += (pts[i-1].Y + pts[i].Y) / 2 / float64(n-1)
	}
	return [6]int64{grid(a.X, tol), grid(a.Y, tol), grid(b.X, tol), grid(b.Y, tol), grid(m.X, tol), grid(m.Y, tol)}
}

// grid is a number in steps, as a whole number.
func grid(v, step float64) int64 { return int64(math.Round(max(-1e15, min(1e15, v/step)))) }

type pair struct {
	a, b int
	d    float64
}

// near returns the pairs of ends within tol, the nearest first. Where many ends
// crowd together each looks at some only, so that the work stays bounded.
func near(n int, at func(int) Point, tol float64) []pair {
	const most = 32
	cell := func(p Point) [2]int64 {
		return [2]int64{int64(math.Floor(max(-1e15, min(1e15, p.X/tol)))), int64(math.Floor(max(-1e15, min(1e15, p.Y/tol))))}
	}
	cells := map[[2]int64][]int{}
	var pairs []pair
	for e := range n {
		p := at(e)
		k := cell(p)
		for dx := int64(-1); dx <= 1; dx++ {
			for dy := int64(-1); dy <= 1; dy++ {
				for _, o := range cells[[2]int64{k[0] + dx, k[1] + dy}] {
					if d := p.to(at(o)); d <= tol {
						pairs = append(pairs, pair{o, e, d})
					}
				}
			}
		}
		if len(cells[k]) < most {
			cells[k] = append(cells[k], e)
		}
	}
	slices.SortFunc(pairs, func(x, y pair) int {
		return cmp.Or(cmp.Compare(x.d, y.d), cmp.Compare(x.a, y.a), cmp.Compare(x.b, y.b))
	})
	return pairs
}
