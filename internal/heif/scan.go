package heif

// point is a place in a block or in a grid of blocks.
type point struct{ x, y uint8 }

// diagonal is the up-right diagonal scan of an n by n grid (H.265 clause 6.5.3).
func diagonal(n int) []point {
	var s []point
	for d := range 2*n - 1 {
		for y := min(d, n-1); y >= 0 && d-y < n; y-- {
			s = append(s, point{uint8(d - y), uint8(y)})
		}
	}
	return s
}

// The three ways coefficients are sent (scanIdx of clause 7.4.9.11).
const (
	scanDiagonal = iota
	scanHorizontal
	scanVertical
)

// scanOrder is one order over a grid, with its inverse, at a row pitch of 8.
type scanOrder struct {
	at    []point
	index [64]uint8
}

// scans holds the order for each scanIdx and each log2 of the grid's side.
var scans = makeScans()

func makeScans() (s [3][4]scanOrder) {
	for l := range 4 {
		n := 1 << l
		var rows, cols []point
		for i := range n * n {
			rows = append(rows, point{uint8(i % n), uint8(i / n)})
			cols = append(cols, point{uint8(i / n), uint8(i % n)})
		}
		s[scanDiagonal][l].at = diagonal(n)
		s[scanHorizontal][l].at = rows
		s[scanVertical][l].at = cols
		for k := range s {
			o := &s[k][l]
			for i, p := range o.at {
				o.index[int(p.y)<<3|int(p.x)] = uint8(i)
			}
		}
	}
	return s
}
