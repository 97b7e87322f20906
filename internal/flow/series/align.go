package series

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"aerugo/internal/flow/measure"
	"aerugo/internal/science/colour"
)

// affine maps a place of the reference face to a place of another photograph's,
// both from 0 to 1 across and down: x' = a[0] + a[1] x + a[2] y, and so on.
type affine [6]float64

func (a affine) to(x, y float64) (float64, float64) {
	return a[0] + a[1]*x + a[2]*y, a[3] + a[4]*x + a[5]*y
}

var still = affine{0, 1, 0, 0, 0, 1}

// after returns the map that does b and then a.
func (a affine) after(b affine) affine {
	return affine{
		a[0] + a[1]*b[0] + a[2]*b[3], a[1]*b[1] + a[2]*b[4], a[1]*b[2] + a[2]*b[5],
		a[3] + a[4]*b[0] + a[5]*b[3], a[4]*b[1] + a[5]*b[4], a[4]*b[2] + a[5]*b[5],
	}
}

// plane is one quantity over a face.
type plane struct {
	w, h int
	v    []float64
}

// at interpolates at a place counted in cells; beyond the rim it is the rim's.
func (p plane) at(x, y float64) float64 {
	x, y = math.Max(0, math.Min(float64(p.w)-1.001, x-0.5)), math.Max(0, math.Min(float64(p.h)-1.001, y-0.5))
	i, j := int(x), int(y)
	x, y = x-float64(i), y-float64(j)
	k := j*p.w + i
	return (p.v[k]*(1-x)+p.v[k+1]*x)*(1-y) + (p.v[k+p.w]*(1-x)+p.v[k+p.w+1]*x)*y
}

// smooth blurs by the weights 1 4 6 4 1 (Burt and Adelson 1983) across and down.
func (p plane) smooth() plane {
	pass := func(p plane, dx, dy int) plane {
		out := plane{p.w, p.h, make([]float64, len(p.v))}
		for y := range p.h {
			for x := range p.w {
				get := func(k int) float64 {
					return p.v[max(0, min(p.h-1, y+k*dy))*p.w+max(0, min(p.w-1, x+k*dx))]
				}
				out.v[y*p.w+x] = (get(-2) + 4*get(-1) + 6*get(0) + 4*get(1) + get(2)) / 16
			}
		}
		return out
	}
	return pass(pass(p, 1, 0), 0, 1)
}

// half is the plane at half its fineness.
func (p plane) half() plane {
	out := plane{p.w / 2, p.h / 2, make([]float64, (p.w/2)*(p.h/2))}
	for y := range out.h {
		for x := range out.w {
			k := 2*y*p.w + 2*x
			out.v[y*out.w+x] = (p.v[k] + p.v[k+1] + p.v[k+p.w] + p.v[k+p.w+1]) / 4
		}
	}
	return out
}

// lightness is L* over a face without what is broad in it: a lamp's slope and a
// growing film move the broad part, brushing and edges of patina the rest. The
// band along the edge, which is not read, takes the value beside it.
func lightness(s measure.Straight) plane {
	p := plane{s.W, s.H, make([]float64, s.W*s.H)}
	x0, y0, x1, y1 := s.W, s.H, -1, -1
	for i, ok := range s.Usable {
		if ok {
			x0, x1 = min(x0, i%s.W), max(x1, i%s.W)
			y0, y1 = min(y0, i/s.W), max(y1, i/s.W)
		}
	}
	for y := range s.H {
		for x := range s.W {
			k := max(y0, min(y1, y))*s.W + max(x0, min(x1, x))
			p.v[y*s.W+x] = s.XYZ[k].Lab(colour.D50).L
		}
	}
	if p = p.smooth(); max(p.w, p.h) > 160 {
		p = p.half() // finer would take longer and find it no better
	}
	broad := p.half().half().half().smooth()
	for y := range p.h {
		for x := range p.w {
			p.v[y*p.w+x] -= broad.at((float64(x)+0.5)/8, (float64(y)+0.5)/8)
		}
	}
	// The shore of what grows is far steeper than the pattern, and moves: clipped,
	// it counts no more than the rest.
	size := make([]float64, len(p.v))
	for i, v := range p.v {
		size[i] = math.Abs(v)
	}
	most := 2.5 * median(size)
	for i, v := range p.v {
		p.v[i] = math.Max(-most, math.Min(most, v))
	}
	return p
}

// edges is how steep a plane is: the same whether a deposit is paler or darker
// than what it grew on.
func (p plane) edges() plane {
	out := plane{p.w, p.h, make([]float64, len(p.v))}
	for y := 1; y < p.h-1; y++ {
		for x := 1; x < p.w-1; x++ {
			k := y*p.w + x
			out.v[k] = math.Sqrt(math.Hypot(p.v[k+1]-p.v[k-1], p.v[k+p.w]-p.v[k-p.w]))
		}
	}
	return out.smooth()
}

// rim is the share along each edge that is not looked at for aligning.
const rim = 0.05

// search is how far, in sides, the pattern is looked for round where the marks
// put it.
const search = 0.1

// refine finds the affine map that makes photo look most like ref, coarse to
// fine, and their correlation (-1 to 1) under it. It starts from where
// the marks put it, and from the shift with the highest correlation within search
// of there. Method: forward
// additive maximisation of the enhanced correlation coefficient (Evangelidis and
// Psarakis 2008, IEEE TPAMI 30(10):1858-1865), which no change of brightness or
// contrast moves. What grows between two photographs would draw the map along, so
// the half of the face that agrees least is left out, and only then more than a
// shift is sought. ok is false when
// it loses its way.
func refine(ref, photo plane) (a affine, rho float64, ok bool) {
	refs, photos := []plane{ref}, []plane{photo}
	for i := 0; i < 2 && min(refs[i].w, refs[i].h) >= 48; i++ {
		refs, photos = append(refs, refs[i].half()), append(photos, photos[i].half())
	}
	last := len(refs) - 1
	for _, start := range []affine{still, shiftOf(refs[last], photos[last])} {
		b, r, fine := start, 0.0, true
		for i := last; i >= 0 && fine; i-- {
			b, r, fine = climb(refs[i], photos[i], b, trusted(refs[i], photos[i], b), true)
		}
		for range 3 {
			if fine {
				b, r, fine = climb(ref, photo, b, trusted(ref, photo, b), false)
			}
		}
		if fine && likely(b) && (!ok || r > rho+0.02) {
			a, rho, ok = b, r, true
		}
	}
	return a, rho, ok
}

// stretchMost is how far marks can stretch or turn a face: 0.06 is 3.4 degrees. A
// map that stretches it more follows what grows.
const stretchMost = 0.06

func likely(a affine) bool {
	return math.Max(math.Max(math.Abs(a[1]-1), math.Abs(a[2])), math.Max(math.Abs(a[4]), math.Abs(a[5]-1))) <= stretchMost
}

// shiftOf is the shift with the highest correlation.
func shiftOf(ref, photo plane) affine {
	best, most := still, -2.0
	nx, ny := int(search*float64(ref.w)), int(search*float64(ref.h))
	for dy := -ny; dy <= ny; dy++ {
		for dx := -nx; dx <= nx; dx++ {
			a := affine{float64(dx) / float64(ref.w), 1, 0, float64(dy) / float64(ref.h), 0, 1}
			x0, y0 := max(2, nx), max(2, ny)
			if r := correlation(ref, photo, a, x0, y0, ref.w-x0, ref.h-y0); r > most {
				best, most = a, r
			}
		}
	}
	return best
}

// correlation is that of a part of ref with photo under a map.
func correlation(ref, photo plane, a affine, x0, y0, x1, y1 int) float64 {
	var n, r, s, rr, ss, rs float64
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			u, v := a.to((float64(x)+0.5)/float64(ref.w), (float64(y)+0.5)/float64(ref.h))
			p, q := ref.v[y*ref.w+x], photo.at(u*float64(photo.w), v*float64(photo.h))
			n, r, s, rr, ss, rs = n+1, r+p, s+q, rr+p*p, ss+q*q, rs+p*q
		}
	}
	rr, ss, rs = rr-r*r/n, ss-s*s/n, rs-r*s/n
	if !(rr > 0 && ss > 0) {
		return 0
	}
	return rs / math.Sqrt(rr*ss)
}

// trusted tells the cells that lie in the half of the face's blocks whose
// pattern agrees best.
func trusted(ref, photo plane, a affine) []bool {
	side := max(6, max(ref.w, ref.h)/14)
	cols, rows := (ref.w+side-1)/side, (ref.h+side-1)/side
	agree := make([]float64, cols*rows)
	for k := range agree {
		x, y := k%cols*side, k/cols*side
		agree[k] = correlation(ref, photo, a, x, y, min(ref.w, x+side), min(ref.h, y+side))
	}
	middle := median(agree)
	out := make([]bool, len(ref.v))
	for i := range out {
		out[i] = agree[i/ref.w/side*cols+i%ref.w/side] >= middle
	}
	return out
}

// climb is refine at one fineness, over the cells that use names; with only, only
// the shift is sought.
func climb(ref, photo plane, a affine, use []bool, only bool) (affine, float64, bool) {
	w, h := float64(ref.w), float64(ref.h)
	pw, ph := float64(photo.w), float64(photo.h)
	x0, y0 := max(2, int(rim*w)), max(2, int(rim*h))
	n := 0
	for y := y0; y < ref.h-y0; y++ {
		for x := x0; x < ref.w-x0; x++ {
			if use[y*ref.w+x] {
				n++
			}
		}
	}
	ir, iw := make([]float64, n), make([]float64, n)
	g := make([][6]float64, n)
	rho := -1.0
	for range 40 {
		k := 0
		var mr, mw float64
		for y := y0; y < ref.h-y0; y++ {
			for x := x0; x < ref.w-x0; x++ {
				if !use[y*ref.w+x] {
					continue
				}
				u, v := (float64(x)+0.5)/w, (float64(y)+0.5)/h
				px, py := a.to(u, v)
				px, py = px*pw, py*ph
				ir[k], iw[k] = ref.v[y*ref.w+x], photo.at(px, py)
				gx := (photo.at(px+0.5, py) - photo.at(px-0.5, py)) * pw
				gy := (photo.at(px, py+0.5) - photo.at(px, py-0.5)) * ph
				g[k] = [6]float64{gx, gx * u, gx * v, gy, gy * u, gy * v}
				mr, mw = mr+ir[k], mw+iw[k]
				k++
			}
		}
		mr, mw = mr/float64(n), mw/float64(n)
		hess := mat.NewSymDense(6, nil)
		var imageP, refP [6]float64
		var rr, ww, rw float64
		var sums [21]float64
		for k := range g {
			r, s := ir[k]-mr, iw[k]-mw
			rr, ww, rw = rr+r*r, ww+s*s, rw+r*s
			at := 0
			for i := range 6 {
				imageP[i] += g[k][i] * s
				refP[i] += g[k][i] * r
				for j := i; j < 6; j++ {
					sums[at] += g[k][i] * g[k][j]
					at++
				}
			}
		}
		if rr <= 0 || ww <= 0 {
			return a, 0, false
		}
		before := rho
		rho = rw / math.Sqrt(rr*ww)
		at := 0
		for i := range 6 {
			for j := i; j < 6; j++ {
				hess.SetSym(i, j, sums[at])
				if only && i == j && i%3 != 0 {
					hess.SetSym(i, j, sums[at]*1e6) // held
				}
				at++
			}
		}
		var chol mat.Cholesky
		if !chol.Factorize(hess) {
			return a, rho, false
		}
		var onImage, step mat.VecDense
		if chol.SolveVecTo(&onImage, mat.NewVecDense(6, imageP[:])) != nil {
			return a, rho, false
		}
		num, den := ww, rw
		for i := range 6 {
			num -= imageP[i] * onImage.AtVec(i)
			den -= refP[i] * onImage.AtVec(i)
		}
		if den <= 0 {
			return a, rho, false
		}
		var rest [6]float64
		for i := range 6 {
			rest[i] = num/den*refP[i] - imageP[i]
		}
		if chol.SolveVecTo(&step, mat.NewVecDense(6, rest[:])) != nil {
			return a, rho, false
		}
		most := 0.0
		for i := range 6 {
			a[i] += step.AtVec(i)
			most = math.Max(most, math.Abs(step.AtVec(i)))
		}
		if !(most < 0.2) {
			return a, rho, false
		}
		if most < 1e-5 || math.Abs(rho-before) < 1e-7 {
			break
		}
	}
	return a, rho, true
}

// turned is the plane turned by half, as a face laid the other way round.
func (p plane) turned() plane {
	out := plane{p.w, p.h, make([]float64, len(p.v))}
	for i, v := range p.v {
		out.v[len(p.v)-1-i] = v
	}
	return out
}
