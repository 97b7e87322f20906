package target

import (
	"math"

	"aerugo/internal/studio"
)

// square is a part of a view of even colour and about the shape of a square
// seen at an angle.
type square struct {
	at   studio.Point // view pixels
	side float64      // root of the area
}

// Limits for a square, and the steps of evenness that are tried: the largest
// distance from the first pixel's colour, in cube roots of light (0.03 is about
// 3.5 in L*). Common practice, no source.
var evenness = []float32{0.025, 0.05, 0.09}

const (
	leastArea    = 25.0
	mostShare    = 1.0 / 28 // of the view; 24 patches cannot be larger
	mostLength   = 2.5      // long over short
	leastFilling = 0.80     // of the parallelogram with the same spread
	mostFilling  = 1.12
)

// squares finds even squares. A patch may be found once for each evenness; the
// largest that is still square is kept.
func (v *view) squares() []square {
	var all []square
	label := make([]int32, len(v.px))
	stack := make([]int32, 0, len(v.px))
	for step, limit := range evenness {
		mark := int32(step + 1)
		for start := range v.px {
			if label[start] >= mark {
				continue
			}
			seed := v.px[start]
			if !v.flat(start, limit) {
				continue
			}
			label[start] = mark
			stack = append(stack[:0], int32(start))
			var n, sx, sy, sxx, syy, sxy float64
			border := false
			for len(stack) > 0 {
				i := int(stack[len(stack)-1])
				stack = stack[:len(stack)-1]
				x, y := i%v.w, i/v.w
				fx, fy := float64(x), float64(y)
				n++
				sx += fx
				sy += fy
				sxx += fx * fx
				syy += fy * fy
				sxy += fx * fy
				if x == 0 || y == 0 || x == v.w-1 || y == v.h-1 {
					border = true
				}
				for _, j := range [4]int{i - 1, i + 1, i - v.w, i + v.w} {
					if j < 0 || j >= len(v.px) || (j == i-1 && x == 0) || (j == i+1 && x == v.w-1) || label[j] >= mark {
						continue
					}
					if apart(v.px[j], seed) <= limit {
						label[j] = mark
						stack = append(stack, int32(j))
					}
				}
			}
			if border || n < leastArea || n > mostShare*float64(len(v.px)) {
				continue
			}
			mx, my := sx/n, sy/n
			xx, yy, xy := sxx/n-mx*mx+1.0/12, syy/n-my*my+1.0/12, sxy/n-mx*my
			root := math.Sqrt((xx-yy)*(xx-yy)/4 + xy*xy)
			long, short := (xx+yy)/2+root, (xx+yy)/2-root
			if !(short > 0) || long > mostLength*mostLength*short {
				continue
			}
			// A parallelogram of area A has spreads of product (A/12)².
			if fill := n / (12 * math.Sqrt(long*short)); fill < leastFilling || fill > mostFilling {
				continue
			}
			all = append(all, square{studio.Point{X: mx, Y: my}, math.Sqrt(n)})
		}
	}
	var kept []square
	places := index{}
	for _, s := range all {
		same := -1
		places.near(s.at, s.side, func(k int) {
			if o := kept[k]; same < 0 && math.Hypot(s.at.X-o.at.X, s.at.Y-o.at.Y) < 0.35*min(s.side, o.side) {
				same = k
			}
		})
		switch {
		case same < 0:
			places.add(s.at, len(kept))
			kept = append(kept, s)
		case s.side > kept[same].side:
			kept[same] = s
		}
	}
	return kept
}

// flat reports whether the pixel to the right and the one below are alike: an
// edge is no place to start.
func (v *view) flat(i int, limit float32) bool {
	x, y := i%v.w, i/v.w
	if x+1 >= v.w || y+1 >= v.h {
		return false
	}
	return apart(v.px[i], v.px[i+1]) < limit/2 && apart(v.px[i], v.px[i+v.w]) < limit/2
}

func apart(a, b [3]float32) float32 {
	d := float32(0)
	for i := range a {
		if e := a[i] - b[i]; e > d {
			d = e
		} else if -e > d {
			d = -e
		}
	}
	return d
}

// index finds squares by place: a picture of a tiled wall has thousands.
type index map[[2]int][]int

const bin = 24.0 // view pixels

func (x index) add(p studio.Point, i int) {
	k := [2]int{int(p.X / bin), int(p.Y / bin)}
	x[k] = append(x[k], i)
}

// near calls each for what may be within a distance of p.
func (x index) near(p studio.Point, d float64, each func(i int)) {
	for a := int(math.Floor((p.X - d) / bin)); a <= int((p.X+d)/bin); a++ {
		for b := int(math.Floor((p.Y - d) / bin)); b <= int((p.Y+d)/bin); b++ {
			for _, i := range x[[2]int{a, b}] {
				each(i)
			}
		}
	}
}
