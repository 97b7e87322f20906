package heif

import "errors"

// scalingLists holds the quantiser's weights for every block size (0 is 4x4,
// 3 is 32x32) and matrix (0-2 intra Y, Cb, Cr; 3-5 inter), as ScalingFactor of
// H.265 clause 7.4.5, row by row.
type scalingLists struct {
	factor [4][6][]uint8
}

// The default lists of 8x8 and above (table 7-6), in up-right diagonal order.
var (
	defaultIntra = [64]uint8{
		16, 16, 16, 16, 16, 16, 16, 16, 16, 16, 17, 16, 17, 16, 17, 18,
		17, 18, 18, 17, 18, 21, 19, 20, 21, 20, 19, 21, 24, 22, 22, 24,
		24, 22, 22, 24, 25, 25, 27, 30, 27, 25, 25, 29, 31, 35, 35, 31,
		29, 36, 41, 44, 41, 36, 47, 54, 54, 47, 65, 70, 65, 88, 88, 115,
	}
	defaultInter = [64]uint8{
		16, 16, 16, 16, 16, 16, 16, 16, 16, 16, 17, 17, 17, 17, 17, 18,
		18, 18, 18, 18, 18, 20, 20, 20, 20, 20, 20, 20, 24, 24, 24, 24,
		24, 24, 24, 24, 25, 25, 25, 25, 25, 25, 25, 28, 28, 28, 28, 28,
		28, 33, 33, 33, 33, 33, 41, 41, 41, 41, 54, 54, 54, 71, 71, 91,
	}
)

// rawLists are the lists as sent, before they are spread over the blocks.
type rawLists struct {
	coef [4][6][64]uint8
	dc   [4][6]uint8
}

func (l *rawLists) setDefault(size, matrix int) {
	c := &l.coef[size][matrix]
	switch {
	case size == 0:
		for i := range c {
			c[i] = 16
		}
	case matrix < 3:
		*c = defaultIntra
	default:
		*c = defaultInter
	}
	l.dc[size][matrix] = 16
}

func defaultScaling() *scalingLists {
	var l rawLists
	for size := range 4 {
		for m := range 6 {
			l.setDefault(size, m)
		}
	}
	return l.spread()
}

// parseScaling reads scaling_list_data (clause 7.3.4).
func parseScaling(r *bitReader) (*scalingLists, error) {
	bad := errors.New("scaling list outside the standard")
	var l rawLists
	for size := range 4 {
		step := 1
		if size == 3 {
			step = 3
		}
		for m := 0; m < 6; m += step {
			if !r.flag() {
				delta := int(r.ue()) * step
				switch {
				case delta == 0:
					l.setDefault(size, m)
				case delta < 0 || delta > m:
					return nil, bad
				default:
					l.coef[size][m] = l.coef[size][m-delta]
					l.dc[size][m] = l.dc[size][m-delta]
				}
				continue
			}
			next, n := 8, 64
			if size == 0 {
				n = 16
			}
			if size > 1 {
				dc := r.se()
				if dc < -7 || dc > 247 {
					return nil, bad
				}
				next = int(dc) + 8
				l.dc[size][m] = uint8(next)
			}
			for i := range n {
				d := r.se()
				if d < -128 || d > 127 {
					return nil, bad
				}
				next = (next + int(d) + 256) & 255
				l.coef[size][m][i] = uint8(next)
			}
		}
	}
	// Chroma of 32x32 arises only in 4:4:4 and borrows the lists of 16x16.
	for _, m := range []int{1, 2, 4, 5} {
		l.coef[3][m] = l.coef[2][m]
		l.dc[3][m] = l.dc[2][m]
	}
	if r.over {
		return nil, errShort
	}
	return l.spread(), nil
}

func (l *rawLists) spread() *scalingLists {
	out := &scalingLists{}
	for size := range 4 {
		n := 4 << size
		scan, shift, side := diagonal(8), size-1, 8
		if size == 0 {
			scan, shift, side = diagonal(4), 0, 4
		}
		for m := range 6 {
			grid := make([]uint8, side*side)
			for i, p := range scan {
				grid[int(p.y)*side+int(p.x)] = l.coef[size][m][i]
			}
			f := make([]uint8, n*n)
			for y := range n {
				for x := range n {
					f[y*n+x] = grid[(y>>shift)*side+x>>shift]
				}
			}
			if size > 1 {
				f[0] = l.dc[size][m]
			}
			out.factor[size][m] = f
		}
	}
	return out
}
