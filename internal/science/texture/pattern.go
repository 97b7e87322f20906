package texture

import (
	"fmt"
	"math"

	"aerugo/internal/science"
)

// tie is the difference, as a share of the values compared, below which a place on
// the circle is as bright as the middle: rounding alone must not make a pattern.
const tie = 1e-12

// Patterns holds the local binary pattern of each cell of a grid, in its order.
type Patterns struct {
	Code    []uint8 // bit k is set when the place at 45k degrees is at least as bright as the middle
	Uniform []uint8 // bits set, 0 to 8, when they lie in one run round the circle; 9 otherwise
	Whole   []bool  // whether the cell and all of its circle count
}

// BinaryPatterns compares each cell with 8 places on a circle of radius mm, read by
// bilinear interpolation: a code of what is a spot, an edge or flat, whatever the
// brightness. Cells off the grid and cells that do not count are read as 0 and spoil
// the code, so use only the codes that are Whole. The radius is from one cell to half
// of the smaller side; outside it the error is a [science.RangeError].
//
// Source: Ojala, Pietikäinen and Mäenpää 2002; the codes are those of scikit-image
// 0.19.3, methods default and uniform, but for exact ties that it loses to rounding.
func BinaryPatterns(g Grid, mm float64) (Patterns, error) {
	if _, err := g.check(); err != nil {
		return Patterns{}, err
	}
	most := float64(min(g.W, g.H)) / 2 * g.MMPerCell
	if !(mm >= g.MMPerCell && mm <= most) {
		return Patterns{}, &science.RangeError{What: "radius of the pattern", Got: mm, Min: g.MMPerCell, Max: most, Unit: "mm"}
	}
	var circle [8]place
	for k := range circle {
		circle[k] = placeAt(mm/g.MMPerCell, float64(k)*math.Pi/4)
	}
	n := len(g.V)
	p := Patterns{make([]uint8, n), make([]uint8, n), make([]bool, n)}
	for r := range g.H {
		for c := range g.W {
			i := r*g.W + c
			middle := 0.0
			whole := g.ok(i)
			if whole {
				middle = g.V[i]
			}
			for k := range circle {
				v, all := circle[k].read(&g, r, c)
				whole = whole && all
				if v-middle >= -tie*(math.Abs(v)+math.Abs(middle)) {
					p.Code[i] |= 1 << k
				}
			}
			p.Uniform[i], p.Whole[i] = uniform(p.Code[i]), whole
		}
	}
	return p, nil
}

// PatternShares returns which share of the whole patterns each uniform code 0 to 9
// has; the shares add up to 1. The radius and its errors are those of
// [BinaryPatterns]; a grid without a whole pattern is ErrTooFew.
func PatternShares(g Grid, mm float64) (shares [10]float64, err error) {
	p, err := BinaryPatterns(g, mm)
	if err != nil {
		return shares, err
	}
	n := 0
	for i, code := range p.Uniform {
		if p.Whole[i] {
			shares[code]++
			n++
		}
	}
	if n == 0 {
		return shares, fmt.Errorf("%w: no cell has all of its circle", ErrTooFew)
	}
	for k := range shares {
		shares[k] /= float64(n)
	}
	return shares, nil
}

// corner is a cell that a place leans on, seen from the middle cell.
type corner struct {
	row, col int
	weight   float64
}

// place is a point between up to four cells.
type place []corner

func placeAt(radius, angle float64) place {
	split := func(x float64) (int, float64) {
		// The cosine of a right angle is not quite 0; the places straight above and
		// beside must not lean on the next row or column. Five decimals are what
		// scikit-image keeps, by which near ties come out the same.
		x = math.Round(x*1e5) / 1e5
		whole := math.Floor(x)
		return int(whole), x - whole
	}
	row, down := split(-radius * math.Sin(angle))
	col, right := split(radius * math.Cos(angle))
	var p place
	for _, c := range [4]corner{
		{row, col, (1 - down) * (1 - right)}, {row, col + 1, (1 - down) * right},
		{row + 1, col, down * (1 - right)}, {row + 1, col + 1, down * right},
	} {
		if c.weight > 0 {
			p = append(p, c)
		}
	}
	return p
}

// read returns the value there, and whether every cell it leans on counts.
func (p place) read(g *Grid, r, c int) (v float64, whole bool) {
	whole = true
	for _, at := range p {
		row, col := r+at.row, c+at.col
		if row < 0 || row >= g.H || col < 0 || col >= g.W || !g.ok(row*g.W+col) {
			whole = false
			continue
		}
		v += at.weight * g.V[row*g.W+col]
	}
	return v, whole
}

func uniform(code uint8) uint8 {
	changes, set := 0, uint8(0)
	for k := range 8 {
		bit, next := code>>k&1, code>>((k+1)%8)&1
		if bit != next {
			changes++
		}
		set += bit
	}
	if changes > 2 {
		return 9
	}
	return set
}
