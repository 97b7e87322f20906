package target

import (
	"cmp"
	"math"
	"slices"

	"aerugo/internal/science/target"
	"aerugo/internal/studio"
)

// lattice is squares by column and row.
type lattice map[[2]int]int

var steps = [4][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}}

// fewestSquares is how many patches must be seen as squares; the others are then
// looked for where the lattice says. Common practice, no source.
const fewestSquares = 12

// lattices joins squares to lattices, the largest first.
func lattices(all []square) []lattice {
	var found []lattice
	covered := make([]int, len(all)) // size of the largest lattice a square is in
	places := index{}
	for i, s := range all {
		places.add(s.at, i)
	}
	for s := range all {
		if covered[s] >= 20 {
			continue
		}
		type near struct {
			i int
			d float64
			v studio.Point
		}
		var around []near
		places.near(all[s].at, 2.4*all[s].side, func(i int) {
			v := studio.Point{X: all[i].at.X - all[s].at.X, Y: all[i].at.Y - all[s].at.Y}
			d := math.Hypot(v.X, v.Y)
			if i != s && alike(all[s], all[i]) && d > 0.95*all[s].side && d < 2.4*all[s].side {
				around = append(around, near{i, d, v})
			}
		})
		slices.SortFunc(around, func(a, b near) int { return cmp.Compare(a.d, b.d) })
		if len(around) > 8 {
			around = around[:8]
		}
		for i, a := range around {
			for _, b := range around[i+1:] {
				sine := math.Abs(a.v.X*b.v.Y-a.v.Y*b.v.X) / (a.d * b.d)
				if covered[s] >= 20 || sine < 0.75 || b.d > 1.8*a.d {
					continue
				}
				l := grow(all, places, s, a.v, b.v)
				if len(l) < fewestSquares {
					continue
				}
				found = append(found, l)
				for _, k := range l {
					covered[k] = max(covered[k], len(l))
				}
			}
		}
	}
	slices.SortStableFunc(found, func(a, b lattice) int { return len(b) - len(a) })
	if len(found) > 12 {
		found = found[:12]
	}
	return found
}

func alike(a, b square) bool { return a.side < 1.6*b.side && b.side < 1.6*a.side }

// grow adds neighbours to a square as long as there are any where they should
// be, by the step to the neighbour on the other side where that is known.
func grow(all []square, places index, start int, right, down studio.Point) lattice {
	l := lattice{{0, 0}: start}
	used := map[int]bool{start: true}
	queue := [][2]int{{0, 0}}
	for len(queue) > 0 {
		c := queue[0]
		queue = queue[1:]
		p := all[l[c]]
		for _, d := range steps {
			next := [2]int{c[0] + d[0], c[1] + d[1]}
			if _, ok := l[next]; ok || max(next[0], -next[0], next[1], -next[1]) > target.Columns-1 {
				continue
			}
			step := studio.Point{X: float64(d[0])*right.X + float64(d[1])*down.X, Y: float64(d[0])*right.Y + float64(d[1])*down.Y}
			if back, ok := l[[2]int{c[0] - d[0], c[1] - d[1]}]; ok {
				step = studio.Point{X: p.at.X - all[back].at.X, Y: p.at.Y - all[back].at.Y}
			}
			want := studio.Point{X: p.at.X + step.X, Y: p.at.Y + step.Y}
			best, least := -1, 0.22*math.Hypot(step.X, step.Y)
			places.near(want, least, func(i int) {
				if d := math.Hypot(all[i].at.X-want.X, all[i].at.Y-want.Y); d < least && !used[i] && alike(p, all[i]) {
					best, least = i, d
				}
			})
			if best >= 0 {
				l[next] = best
				used[best] = true
				queue = append(queue, next)
			}
		}
	}
	return l
}
