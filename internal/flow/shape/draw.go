package shape

import (
	"image"
	"image/color"
	"math"

	"aerugo/internal/flow/form"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// A View is how a piece is looked at: Up points to the sky; it is turned about that,
// and seen from so far above.
type View struct {
	Up               form.Vec
	TurnDeg, FromDeg float64
	Width, Height    int
}

// Usual is the view that pictures have if nobody turns them.
func Usual(up form.Vec, width, height int) View { return View{up, 30, 25, width, height} }

// frame returns the directions in the piece that point right, up and towards the eye.
func (v View) frame() (right, over, near form.Vec) {
	u := norm(v.Up)
	ref := form.Vec{X: 1}
	if math.Abs(u.X) > 0.9 {
		ref = form.Vec{Y: 1}
	}
	d := dot(ref, u)
	e1 := norm(form.Vec{X: ref.X - d*u.X, Y: ref.Y - d*u.Y, Z: ref.Z - d*u.Z})
	e2 := cross(u, e1)
	s, c := math.Sincos(v.TurnDeg * math.Pi / 180)
	right = sum(e1, c, e2, s)
	ahead := sum(e1, s, e2, -c)
	s, c = math.Sincos(v.FromDeg * math.Pi / 180)
	return right, sum(u, c, ahead, -s), sum(ahead, c, u, s)
}

// A Place is a point of a piece that is drawn.
type Place struct {
	At     form.Vec // mm, in the piece's own axes
	Normal form.Vec // of length 1, towards the eye
	Inside bool     // the inner face of a skin is seen
	Cos    float64  // of the angle between Normal and the way up
	X, Y   int      // pixel
}

// Draw makes a picture of a body, each place painted by paint, on nothing (alpha 0).
// Surfaces that meet at less than 40 degrees are smooth. With lined a dark line goes
// along its edges, where one part stands before another.
func Draw(b Body, v View, lined bool, paint func(Place) color.NRGBA) *image.NRGBA {
	const fine = 2 // pixels drawn for each that is shown, across and down
	w, h := v.Width*fine, v.Height*fine
	depth := make([]float32, w*h)
	pix := make([]color.NRGBA, w*h)
	inner := make([]bool, w*h)
	for i := range depth {
		depth[i] = float32(math.Inf(-1))
	}
	right, over, near := v.frame()
	up := norm(v.Up)
	tris, normals := Corners(b)
	project := func(c form.Vec) (x, y, z float64) { return dot(c, right), dot(c, over), dot(c, near) }
	x0, x1, y0, y1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, t := range tris {
		for _, c := range t {
			x, y, _ := project(c)
			x0, x1, y0, y1 = min(x0, x), max(x1, x), min(y0, y), max(y1, y)
		}
	}
	k := 0.92 * min(float64(w)/max(x1-x0, 1e-9), float64(h)/max(y1-y0, 1e-9))
	cx, cy := float64(w)/2-k*(x0+x1)/2, float64(h)/2+k*(y0+y1)/2
	for ti, t := range tris {
		var px, py, pz [3]float64
		for i, c := range t {
			x, y, z := project(c)
			px[i], py[i], pz[i] = cx+k*x, cy-k*y, z
		}
		area := (px[1]-px[0])*(py[2]-py[0]) - (px[2]-px[0])*(py[1]-py[0])
		if math.Abs(area) < 1e-12 {
			continue
		}
		inside := area > 0 // y goes down in the picture
		if inside && !b.Both {
			continue
		}
		ax, bx := max(0, int(min(px[0], px[1], px[2])-0.5)), min(w-1, int(max(px[0], px[1], px[2])+0.5))
		ay, by := max(0, int(min(py[0], py[1], py[2])-0.5)), min(h-1, int(max(py[0], py[1], py[2])+0.5))
		for y := ay; y <= by; y++ {
			for x := ax; x <= bx; x++ {
				fx, fy := float64(x)+0.5, float64(y)+0.5
				l1 := ((fx-px[0])*(py[2]-py[0]) - (px[2]-px[0])*(fy-py[0])) / area
				l2 := ((px[1]-px[0])*(fy-py[0]) - (fx-px[0])*(py[1]-py[0])) / area
				l0 := 1 - l1 - l2
				if l0 < -1e-9 || l1 < -1e-9 || l2 < -1e-9 {
					continue
				}
				z := float32(l0*pz[0] + l1*pz[1] + l2*pz[2])
				if z <= depth[y*w+x] {
					continue
				}
				depth[y*w+x], inner[y*w+x] = z, inside
				n := norm(form.Vec{X: l0*normals[ti][0].X + l1*normals[ti][1].X + l2*normals[ti][2].X, Y: l0*normals[ti][0].Y + l1*normals[ti][1].Y + l2*normals[ti][2].Y, Z: l0*normals[ti][0].Z + l1*normals[ti][1].Z + l2*normals[ti][2].Z})
				if inside {
					n = form.Vec{X: -n.X, Y: -n.Y, Z: -n.Z}
				}
				pix[y*w+x] = paint(Place{
					At:     form.Vec{X: l0*t[0].X + l1*t[1].X + l2*t[2].X, Y: l0*t[0].Y + l1*t[1].Y + l2*t[2].Y, Z: l0*t[0].Z + l1*t[1].Z + l2*t[2].Z},
					Normal: n, Inside: inside, Cos: dot(n, up), X: x / fine, Y: y / fine})
			}
		}
	}
	if lined {
		outline(pix, depth, inner, w, float32(0.03*max(x1-x0, y1-y0)))
	}
	out := image.NewNRGBA(image.Rect(0, 0, v.Width, v.Height))
	for y := range v.Height {
		for x := range v.Width {
			var r, g, bl, a int
			for dy := range fine {
				for dx := range fine {
					p := pix[(y*fine+dy)*w+x*fine+dx]
					r, g, bl, a = r+int(p.R)*int(p.A), g+int(p.G)*int(p.A), bl+int(p.B)*int(p.A), a+int(p.A)
				}
			}
			if a > 0 {
				out.SetNRGBA(x, y, color.NRGBA{uint8(r / a), uint8(g / a), uint8(bl / a), uint8(a / (fine * fine))})
			}
		}
	}
	return out
}

// outline darkens the pixels beside nothing, beside the other face of a skin, or in
// front of what lies further back by more than jump.
func outline(pix []color.NRGBA, depth []float32, inner []bool, w int, jump float32) {
	ink := color.NRGBA{0x14, 0x14, 0x14, 255}
	var dark []int
	for i := range pix {
		if pix[i].A == 0 {
			continue
		}
		for _, j := range [4]int{i - 1, i + 1, i - w, i + w} {
			if j >= 0 && j < len(pix) && (pix[j].A == 0 || inner[i] != inner[j] || depth[i]-depth[j] > jump) {
				dark = append(dark, i)
				break
			}
		}
	}
	for _, i := range dark {
		pix[i] = ink
	}
}

// A Lie is how a place lies to the horizontal.
type Lie int

// The lies, as [form.Slopes] parts them.
const (
	Flat    Lie = iota // faces up, nearly level
	Sloping            // faces up, slanting
	Steep
	Under // faces down
)

// LieOf parts places by the cosine of the angle between their face and the way up.
func LieOf(cos float64) Lie {
	switch deg := math.Acos(max(-1, min(1, cos))) * 180 / math.Pi; {
	case deg <= form.FlatDeg:
		return Flat
	case deg <= form.SteepDeg:
		return Sloping
	case deg <= 180-form.SteepDeg:
		return Steep
	}
	return Under
}

// Greys are the greys of the lies; each also has a hatching of its own.
var Greys = [4]uint8{0x48, 0x82, 0xbc, 0xe6}

// hatched reports whether a pixel lies on a mark of a lie's hatching: level lines
// where liquid stays, slanting ones where it runs slowly, none where it runs off, dots
// where it drips.
func hatched(l Lie, x, y int) bool {
	switch l {
	case Flat:
		return y%6 == 0
	case Sloping:
		return (x+y)%9 == 0
	case Under:
		return x%7 < 2 && y%7 < 2
	}
	return false
}

// BySlope paints places in grey by how they lie, with hatching.
func BySlope(p Place) color.NRGBA {
	l := LieOf(p.Cos)
	g := Greys[l]
	if p.Inside {
		g -= g / 8
	}
	if hatched(l, p.X, p.Y) {
		if g < 0x90 {
			g += 0x58
		} else {
			g -= 0x88
		}
	}
	return color.NRGBA{g, g, g, 255}
}

// Where a place's lie is expected to move the look along the palette, from the least
// covered colour to the most, as a share of the face (common practice, no source):
// where liquid stays there is more of the deposit, where drops hang and spray misses
// there is less.
var LieShift = [4]float64{0.22, 0, -0.05, -0.2}

// AsExpected returns a painter of the look so far along for the outside and the inside;
// nil for a face that gets no recipe, which is drawn in mid grey. The light on it is
// for the form only: it darkens every colour alike.
func AsExpected(outside, inside *Expected, t float64) func(Place) color.NRGBA {
	a, b := newPainter(outside, t), newPainter(inside, t)
	return func(p Place) color.NRGBA {
		if p.Inside {
			return b.at(p)
		}
		return a.at(p)
	}
}

type painter struct {
	of     *Expected
	light  [][3]float64 // linear
	shares []float64    // summed up
}

func newPainter(e *Expected, t float64) painter {
	if e == nil {
		return painter{}
	}
	p := painter{of: e}
	total := 0.0
	for _, x := range e.At(t) {
		hex, _ := colour.ToScreen(x.Lab)
		p.light = append(p.light, Linear(hex))
		total += x.Share
		p.shares = append(p.shares, total)
	}
	return p
}

func (a painter) at(p Place) color.NRGBA {
	shade := Light(p.Normal)
	if a.of == nil {
		g := encode(0.216 * shade)
		return color.NRGBA{g, g, g, 255}
	}
	q := rank(mottle(p.At, a.of.MottleMM))
	if a.of.Ordered {
		q += LieShift[LieOf(p.Cos)]
	}
	i := 0
	for i < len(a.shares)-1 && q > a.shares[i] {
		i++
	}
	c := a.light[i]
	return color.NRGBA{encode(c[0] * shade), encode(c[1] * shade), encode(c[2] * shade), 255}
}

// Light is how much a face of that direction is lit, in the piece's own axes: even
// light, so that no colour is lost in the dark.
func Light(n form.Vec) float64 {
	return 0.8 + 0.2*dot(n, norm(form.Vec{X: -0.4, Y: -0.6, Z: 0.7}))
}

// Linear is a screen colour such as "#4a6b5c" as linear light, 0 to 1 (IEC 61966-2-1).
func Linear(hex string) (out [3]float64) {
	if len(hex) != 7 {
		return out
	}
	digit := func(c byte) float64 {
		switch {
		case c >= '0' && c <= '9':
			return float64(c - '0')
		case c >= 'a' && c <= 'f':
			return float64(c-'a') + 10
		}
		return 0
	}
	for i := range out {
		v := (digit(hex[1+2*i])*16 + digit(hex[2+2*i])) / 255
		if v <= 0.04045 {
			out[i] = v / 12.92
		} else {
			out[i] = math.Pow((v+0.055)/1.055, 2.4)
		}
	}
	return out
}

// encode is linear light as a screen's byte (IEC 61966-2-1).
func encode(v float64) uint8 {
	v = max(0, min(1, v))
	if v <= 0.0031308 {
		v *= 12.92
	} else {
		v = 1.055*math.Pow(v, 1/2.4) - 0.055
	}
	return uint8(math.Round(255 * v))
}

// UpOf is the way up of a form as it is kept; straight up where it has none.
func UpOf(f studio.Form) form.Vec {
	u := form.Vec{X: f.Up[0], Y: f.Up[1], Z: f.Up[2]}
	if l := math.Sqrt(dot(u, u)); !(l > 1e-9) || math.IsInf(l, 0) {
		return form.Vec{Z: 1}
	}
	return norm(u)
}

func dot(a, b form.Vec) float64 { return a.X*b.X + a.Y*b.Y + a.Z*b.Z }
func cross(a, b form.Vec) form.Vec {
	return form.Vec{X: a.Y*b.Z - a.Z*b.Y, Y: a.Z*b.X - a.X*b.Z, Z: a.X*b.Y - a.Y*b.X}
}
func norm(a form.Vec) form.Vec {
	l := math.Sqrt(dot(a, a))
	if l == 0 {
		return form.Vec{Z: 1}
	}
	return form.Vec{X: a.X / l, Y: a.Y / l, Z: a.Z / l}
}
func sum(a form.Vec, k float64, b form.Vec, m float64) form.Vec {
	return form.Vec{X: k*a.X + m*b.X, Y: k*a.Y + m*b.Y, Z: k*a.Z + m*b.Z}
}

// Corners returns the triangles of a body and, for each corner, the direction its
// surface faces there: the mean over the triangles that meet there at less than 40
// degrees.
func Corners(b Body) (tris, normals [][3]form.Vec) {
	n := b.Mesh.Triangles()
	tris, normals = make([][3]form.Vec, n), make([][3]form.Vec, n)
	faces := make([]form.Vec, n) // as long as twice the area
	at := map[form.Vec][]int32{}
	for i := range n {
		t := b.Mesh.Triangle(i)
		tris[i] = t
		faces[i] = cross(sum(t[1], 1, t[0], -1), sum(t[2], 1, t[0], -1))
		for _, c := range t {
			at[c] = append(at[c], int32(i))
		}
	}
	least := math.Cos(40 * math.Pi / 180)
	for i, t := range tris {
		own := norm(faces[i])
		for k, c := range t {
			var s form.Vec
			meet := at[c]
			for _, j := range meet[:min(len(meet), 200)] { // a fan of thousands is a cap: its first faces tell
				if dot(norm(faces[j]), own) >= least {
					s = sum(s, 1, faces[j], 1)
				}
			}
			if s == (form.Vec{}) {
				s = own
			}
			normals[i][k] = norm(s)
		}
	}
	return tris, normals
}
