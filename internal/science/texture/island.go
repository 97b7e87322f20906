package texture

import (
	"math"
	"slices"

	"aerugo/internal/science"
)

// Island is one connected area of a grid.
type Island struct {
	Cells      int
	AreaMM2    float64
	DiameterMM float64 // of the disc of the same area
	X, Y       float64 // its centre in mm right of and below the grid's top left corner
}

// Islands returns the connected areas of cells that count and hold at least a value,
// the largest first and those of one size in reading order; for a mask of 0 and 1
// that value is 0.5. Their number is the length of the answer, which is empty when no
// cell reaches the value. Rook joins cells by their sides, Queen by corners too. The
// value is -1e9 to 1e9. Common practice, no source.
func Islands(g Grid, atLeast float64, n Neighbours) ([]Island, error) {
	if _, err := g.check(); err != nil {
		return nil, err
	}
	if !(math.Abs(atLeast) <= maxValue) {
		return nil, &science.RangeError{What: "least value of an island", Got: atLeast, Min: -maxValue, Max: maxValue}
	}
	var islands []Island
	seen := make([]bool, len(g.V))
	var shore []int // cells reached whose neighbours have yet to be looked at
	reach := func(i int) {
		if !seen[i] && g.ok(i) && g.V[i] >= atLeast {
			seen[i] = true
			shore = append(shore, i)
		}
	}
	for start := range g.V {
		reach(start)
		if len(shore) == 0 {
			continue
		}
		var land Island
		for len(shore) > 0 {
			i := shore[len(shore)-1]
			shore = shore[:len(shore)-1]
			row, col := i/g.W, i%g.W
			land.Cells++
			land.X += (float64(col) + 0.5) * g.MMPerCell
			land.Y += (float64(row) + 0.5) * g.MMPerCell
			for _, to := range n.ahead() {
				for _, sign := range [2]int{1, -1} {
					r, c := row+sign*to[1], col+sign*to[0]
					if r >= 0 && r < g.H && c >= 0 && c < g.W {
						reach(r*g.W + c)
					}
				}
			}
		}
		land.X /= float64(land.Cells)
		land.Y /= float64(land.Cells)
		land.AreaMM2 = float64(land.Cells) * g.MMPerCell * g.MMPerCell
		land.DiameterMM = 2 * math.Sqrt(land.AreaMM2/math.Pi)
		islands = append(islands, land)
	}
	slices.SortStableFunc(islands, func(a, b Island) int { return b.Cells - a.Cells })
	return islands, nil
}
