package measure

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"aerugo/internal/picture"
	"aerugo/internal/studio"
)

// homography maps the plane of a flat face to the plane of the picture, row by
// row of a 3 x 3 matrix.
type homography [9]float64

// to maps a point.
func (h homography) to(p studio.Point) studio.Point {
	w := h[6]*p.X + h[7]*p.Y + h[8]
	return studio.Point{X: (h[0]*p.X + h[1]*p.Y + h[2]) / w, Y: (h[3]*p.X + h[4]*p.Y + h[5]) / w}
}

func (h homography) times(g homography) homography {
	var out homography
	for i := 0; i < 3; i++ {
		for j := 0; j < 3; j++ {
			for k := 0; k < 3; k++ {
				out[3*i+j] += h[3*i+k] * g[3*k+j]
			}
		}
	}
	return out
}

// normalise moves four points to their centroid and scales them to a mean
// distance of the square root of 2, which keeps the equations well conditioned
// (Hartley & Zisserman, Multiple View Geometry, 2nd ed., 2004, section 4.4).
func normalise(p [4]studio.Point) (q [4]studio.Point, t, back homography) {
	var cx, cy, d float64
	for _, v := range p {
		cx += v.X / 4
		cy += v.Y / 4
	}
	for _, v := range p {
		d += math.Hypot(v.X-cx, v.Y-cy) / 4
	}
	s := math.Sqrt2 / d
	t = homography{s, 0, -s * cx, 0, s, -s * cy, 0, 0, 1}
	back = homography{1 / s, 0, cx, 0, 1 / s, cy, 0, 0, 1}
	for i, v := range p {
		q[i] = t.to(v)
	}
	return q, t, back
}

// mapping returns the homography that takes four points to four others, by the
// normalised direct linear transformation (Hartley & Zisserman, algorithm
// 4.2), scaled so that its last element is 1. ok is false when three of the
// points lie in one line.
func mapping(from, to [4]studio.Point) (h homography, ok bool) {
	a, ta, _ := normalise(from)
	b, _, backB := normalise(to)
	m := mat.NewDense(8, 8, nil)
	v := mat.NewVecDense(8, nil)
	for i := range a {
		x, y, u, w := a[i].X, a[i].Y, b[i].X, b[i].Y
		m.SetRow(2*i, []float64{x, y, 1, 0, 0, 0, -u * x, -u * y})
		m.SetRow(2*i+1, []float64{0, 0, 0, x, y, 1, -w * x, -w * y})
		v.SetVec(2*i, u)
		v.SetVec(2*i+1, w)
	}
	var solved mat.VecDense
	if err := solved.SolveVec(m, v); err != nil {
		return h, false
	}
	for i := 0; i < 8; i++ {
		h[i] = solved.AtVec(i)
	}
	h[8] = 1
	h = backB.times(h).times(ta)
	last := h[8]
	for i := range h {
		h[i] /= last
		if math.IsNaN(h[i]) || math.IsInf(h[i], 0) {
			return h, false
		}
	}
	return h, true
}

func wholePicture(img *picture.Image) [4]studio.Point {
	w, h := float64(img.Width), float64(img.Height)
	return [4]studio.Point{{X: 0, Y: 0}, {X: w, Y: 0}, {X: w, Y: h}, {X: 0, Y: h}}
}

var cornerNames = [4]string{"top left", "top right", "bottom right", "bottom left"}
var sideNames = [4]string{"top", "right", "bottom", "left"}

// turns returns, for each corner, the cross product of the sides that meet
// there: all positive when the corners run clockwise around a convex face.
func turns(q [4]studio.Point) (t [4]float64) {
	for i := range q {
		p, c, n := q[(i+3)%4], q[i], q[(i+1)%4]
		t[i] = (c.X-p.X)*(n.Y-c.Y) - (c.Y-p.Y)*(n.X-c.X)
	}
	return t
}

func clockwise(q [4]studio.Point) bool {
	for _, t := range turns(q) {
		if !(t > 0) {
			return false
		}
	}
	return true
}

// checkCorners refuses corners that cannot be those of a face in a w x h
// picture, naming the one at fault.
func checkCorners(q [4]studio.Point, w, h int) error {
	const slack = 0.5 // half a pixel: a click on the very border
	for i, p := range q {
		if !(p.X >= -slack && p.Y >= -slack && p.X <= float64(w)+slack && p.Y <= float64(h)+slack) {
			return refuse("corners", "The %s corner is at %.0f, %.0f, outside the %d x %d picture. Put it on the face's own corner.", cornerNames[i], p.X, p.Y, w, h)
		}
	}
	for i := range q {
		n := q[(i+1)%4]
		if d := math.Hypot(n.X-q[i].X, n.Y-q[i].Y); d < shortestSide {
			return refuse("corners", "The %s side, between the %s and %s corners, is only %.0f pixels long; at least %.0f are needed. Take the photograph closer.", sideNames[i], cornerNames[i], cornerNames[(i+1)%4], d, shortestSide)
		}
	}
	if clockwise(q) {
		t := turns(q)
		for i := range q {
			p, n := q[(i+3)%4], q[(i+1)%4]
			sine := t[i] / (math.Hypot(q[i].X-p.X, q[i].Y-p.Y) * math.Hypot(n.X-q[i].X, n.Y-q[i].Y))
			if sine < 0.25 { // about 15 degrees from a straight line or a spike
				return refuse("corners", "The %s corner, at %.0f, %.0f, lies almost in line with its neighbours. Put it on the face's own corner, or photograph the face from straight above.", cornerNames[i], q[i].X, q[i].Y)
			}
		}
		return nil
	}
	if back := [4]studio.Point{q[0], q[3], q[2], q[1]}; clockwise(back) {
		return refuse("corners", "The corners run the wrong way round: top right and bottom left are exchanged. Mark top left, top right, bottom right, bottom left.")
	}
	for i := range q {
		j := (i + 1) % 4
		swapped := q
		swapped[i], swapped[j] = q[j], q[i]
		if clockwise(swapped) {
			return refuse("corners", "The sides cross: the %s and %s corners are exchanged. Mark top left, top right, bottom right, bottom left.", cornerNames[i], cornerNames[j])
		}
	}
	// What is left is dented: one corner turns the other way than the rest.
	t := turns(q)
	odd := 0
	for i := range t {
		if t[i] < t[odd] {
			odd = i
		}
	}
	return refuse("corners", "The %s corner, at %.0f, %.0f, lies inside the triangle of the other three. Put it on the face's own corner.", cornerNames[odd], q[odd].X, q[odd].Y)
}

// foreshortening is the largest ratio of two opposite sides.
func foreshortening(q [4]studio.Point) float64 {
	var d [4]float64
	for i := range q {
		n := q[(i+1)%4]
		d[i] = math.Hypot(n.X-q[i].X, n.Y-q[i].Y)
	}
	return max(d[0]/d[2], d[2]/d[0], d[1]/d[3], d[3]/d[1])
}
