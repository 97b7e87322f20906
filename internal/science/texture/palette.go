package texture

import (
	"errors"
	"fmt"
	"math"

	"aerugo/internal/science"
	"aerugo/internal/science/colour"
)

// ErrNoPalette says that a palette has no colour with a weight.
var ErrNoPalette = errors.New("the palette has no colour with a weight above 0")

// maxColours bounds a palette, whose work grows with about the third power.
const maxColours = 256

// allOfIt is a palette's weight in the units in which it is shipped. Whole numbers of
// them make every sum exact, so that the search for the best plan must end.
const allOfIt = 1 << 52

// Part is one colour of a palette and how much of it there is, in any unit, such as a
// share of the area; 0 to 1e9.
type Part struct {
	Lab    colour.Lab
	Weight float64
}

// Move is a share of the colour that goes from one part of a palette to one of another.
type Move struct {
	From, To int     // places in the two palettes
	Share    float64 // of the whole, above 0 to 1
}

// PaletteDistance returns the earth mover's distance between two palettes of up to
// 256 colours: the least mean colour difference by which one can be made from the
// other, in units of the ground distance, such as [colour.Difference] or
// [colour.Difference76]. Each palette's weights are first divided by their sum. The
// answer is exact but for rounding; a share below 1e-16 is none. It is 0 only for equal palettes, and a metric when
// the ground distance is one, as Difference76 is and Difference is not quite.
//
// A weight, a number of colours or a ground distance out of its range is a
// [science.RangeError]; a palette without colour is ErrNoPalette.
// Source: Rubner, Tomasi and Guibas 2000.
func PaletteDistance(p, q []Part, ground func(a, b colour.Lab) float64) (float64, error) {
	distance, _, err := PaletteMoves(p, q, ground)
	return distance, err
}

// PaletteMoves is [PaletteDistance] with the moves of one way to reach it.
func PaletteMoves(p, q []Part, ground func(a, b colour.Lab) float64) (float64, []Move, error) {
	from, supply, err := units(p)
	if err != nil {
		return 0, nil, fmt.Errorf("first palette: %w", err)
	}
	to, demand, err := units(q)
	if err != nil {
		return 0, nil, fmt.Errorf("second palette: %w", err)
	}
	cost := make([][]float64, len(from))
	for i, a := range from {
		cost[i] = make([]float64, len(to))
		for j, b := range to {
			d := ground(p[a].Lab, q[b].Lab)
			if !(d >= 0 && d <= maxValue) {
				return 0, nil, &science.RangeError{What: "ground distance", Got: d, Min: 0, Max: maxValue}
			}
			cost[i][j] = d
		}
	}
	s := newShipping(supply, demand, cost)
	s.solve()
	total, moves := 0.0, []Move(nil)
	for _, l := range s.lanes {
		if l.flow > 0 {
			share := float64(l.flow) / allOfIt
			total += share * cost[l.i][l.j]
			moves = append(moves, Move{from[l.i], to[l.j], share})
		}
	}
	return total, moves, nil
}

// units returns the places of the parts that weigh a unit or more, and their units,
// allOfIt together.
func units(p []Part) (places []int, weights []int64, err error) {
	total, heaviest := 0.0, 0
	for _, part := range p {
		if !(part.Weight >= 0 && part.Weight <= maxValue) {
			return nil, nil, &science.RangeError{What: "weight of a colour", Got: part.Weight, Min: 0, Max: maxValue}
		}
		total += part.Weight
	}
	if total == 0 {
		return nil, nil, ErrNoPalette
	}
	left := int64(allOfIt)
	for i, part := range p {
		if w := int64(math.Round(part.Weight / total * allOfIt)); w > 0 {
			places, weights = append(places, i), append(weights, w)
			left -= w
			if w > weights[heaviest] {
				heaviest = len(weights) - 1
			}
		}
	}
	if len(places) > maxColours {
		return nil, nil, &science.RangeError{What: "number of colours", Got: float64(len(places)), Min: 1, Max: maxColours}
	}
	weights[heaviest] += left
	return places, weights, nil
}

// lane carries flow from supply i to demand j.
type lane struct {
	i, j int
	flow int64 // in units
}

// shipping is the transportation problem, solved by the simplex method on its network:
// the lanes in use always form a tree over the n supplies and m demands.
type shipping struct {
	n, m  int
	cost  [][]float64
	lanes []lane
	price []float64 // of the nodes: supplies, then demands; cost is their sum on a lane in use
	over  []int     // lane over which each node hangs in the tree; -1 for the root
	depth []int
	small float64 // a gain below this is rounding
}

// newShipping starts from the north-west corner: it fills the demands in order from
// the supplies in order. Supply and demand must have the same sum.
func newShipping(supply, demand []int64, cost [][]float64) *shipping {
	s := &shipping{n: len(supply), m: len(demand), cost: cost}
	s.price, s.over, s.depth = make([]float64, s.n+s.m), make([]int, s.n+s.m), make([]int, s.n+s.m)
	for _, row := range cost {
		for _, c := range row {
			s.small = max(s.small, c*1e-13)
		}
	}
	left, wanted := supply[0], demand[0]
	for i, j := 0, 0; ; {
		flow := min(left, wanted)
		s.lanes = append(s.lanes, lane{i, j, flow})
		left, wanted = left-flow, wanted-flow
		switch {
		case i == s.n-1 && j == s.m-1:
			return s
		case j == s.m-1 || i < s.n-1 && left == 0:
			i++
			left = supply[i]
		default:
			j++
			wanted = demand[j]
		}
	}
}

// solve swaps lanes until none would make the cost less. It takes the lane of the
// largest gain, but after a swap that moved nothing the first that gains, which keeps
// it from going round in circles (Bland's rule).
func (s *shipping) solve() {
	for first := false; ; {
		s.hang()
		i, j, gains := s.better(first)
		if !gains {
			return
		}
		first = s.swap(i, j) == 0
	}
}

// hang sets the prices and the tree's shape from the lanes in use.
func (s *shipping) hang() {
	touching := make([][]int, s.n+s.m)
	for k, l := range s.lanes {
		touching[l.i] = append(touching[l.i], k)
		touching[s.n+l.j] = append(touching[s.n+l.j], k)
	}
	s.price[0], s.over[0], s.depth[0] = 0, -1, 0
	for reached := []int{0}; len(reached) > 0; {
		node := reached[0]
		reached = reached[1:]
		for _, k := range touching[node] {
			if k == s.over[node] {
				continue
			}
			l := s.lanes[k]
			next := l.i
			if node < s.n {
				next = s.n + l.j
			}
			s.price[next] = s.cost[l.i][l.j] - s.price[node]
			s.over[next], s.depth[next] = k, s.depth[node]+1
			reached = append(reached, next)
		}
	}
}

// better returns a lane that costs less than its prices say: the first, or the one
// that gains most.
func (s *shipping) better(first bool) (bi, bj int, gains bool) {
	most := s.small * float64(s.n+s.m)
	for i, row := range s.cost {
		for j, c := range row {
			if gain := s.price[i] + s.price[s.n+j] - c; gain > most {
				bi, bj, gains, most = i, j, true, gain
				if first {
					return bi, bj, gains
				}
			}
		}
	}
	return bi, bj, gains
}

// swap takes lane i, j into use and as much flow as the loop it closes allows, and
// drops the lane that this empties. It returns the flow moved.
func (s *shipping) swap(i, j int) (flow int64) {
	var less, more []int // lanes round the loop, by turns
	up := func(node int, gives bool) (next int) {
		k := s.over[node]
		if gives {
			less = append(less, k)
		} else {
			more = append(more, k)
		}
		if node < s.n {
			return s.n + s.lanes[k].j
		}
		return s.lanes[k].i
	}
	// The ends of the new lane give up flow on the lanes they hang by; from there on
	// the turns follow from the kind of node.
	for a, b := i, s.n+j; a != b; {
		if s.depth[a] >= s.depth[b] {
			a = up(a, a < s.n)
		} else {
			b = up(b, b >= s.n)
		}
	}
	out := less[0]
	for _, k := range less[1:] {
		x, y := s.lanes[k], s.lanes[out]
		if x.flow < y.flow || x.flow == y.flow && x.i*s.m+x.j < y.i*s.m+y.j {
			out = k
		}
	}
	flow = s.lanes[out].flow
	for _, k := range less {
		s.lanes[k].flow -= flow
	}
	for _, k := range more {
		s.lanes[k].flow += flow
	}
	s.lanes[out] = lane{i, j, flow}
	return flow
}
