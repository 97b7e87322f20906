package target

import (
	"math"

	"aerugo/internal/science/colour"
)

// basis is what is fitted to the patches after the tone.
type basis int

const (
	basisNone  basis = iota // tone only
	basisThree              // 3 x 3
	basisRoot               // root-polynomial of degree 2
)

// recipe is one way of correcting. Bend holds back the bends of the tone curve,
// ridge the departure of the colours from those the picture's own space gives.
type recipe struct {
	tone  toneKind
	bend  float64
	basis basis
	ridge float64
}

// terms is how many features a root-polynomial of degree 2 has.
const terms = 6

// features returns R, G, B and the roots of their products (Finlayson, Mackiewicz
// and Hurlbert, Color Correction Using Root-Polynomial Regression, IEEE
// Transactions on Image Processing 24(5):1460-1470, 2015), which all grow in step
// with the exposure. From each root the mean of its factors is taken away: the
// same polynomial, but a grey has no roots, so that holding the roots back does
// not tint it.
func features(u [3]float64) [terms]float64 {
	r, g, b := u[0], u[1], u[2]
	return [terms]float64{r, g, b,
		math.Sqrt(r*g) - (r+g)/2, math.Sqrt(g*b) - (g+b)/2, math.Sqrt(r*b) - (r+b)/2}
}

// model is a recipe fitted: a tone curve per channel, the picture's own space,
// and what is added to it.
type model struct {
	space colour.Space
	tone  [3]toneCurve
	n     int               // features in use: 0, 3 or 6
	delta [3][terms]float64 // added to X, Y, Z as shares of the white
	most  float64           // the most colourful patch
}

// prepared is a sample with what every fit needs of it.
type prepared struct {
	rgb     [3]float64
	lab     colour.Lab
	want    [3]float64 // shares of the white
	grey    [3]float64 // linear RGB wanted of a neutral
	neutral bool
	metric  [3][3]float64
}

func prepare(samples []Sample, space colour.Space) []prepared {
	out := make([]prepared, len(samples))
	for i, s := range samples {
		p := prepared{rgb: s.RGB, lab: s.Patch.Lab, neutral: s.Patch.Neutral}
		xyz := p.lab.XYZ(colour.D50)
		p.want = [3]float64{xyz.X / colour.D50.X, xyz.Y, xyz.Z / colour.D50.Z}
		p.grey[0], p.grey[1], p.grey[2] = space.FromXYZ(xyz)
		p.metric = metricAt(p.lab, p.want)
		out[i] = p
	}
	return out
}

// metricAt returns the matrix that turns a small change of X, Y, Z (as shares
// of the white) at a colour into one whose length is its CIEDE2000 difference,
// but for the rotation term in the blues.
func metricAt(lab colour.Lab, share [3]float64) (m [3][3]float64) {
	f := func(t float64) float64 {
		if t > 216.0/24389 {
			return math.Pow(t, -2.0/3) / 3
		}
		return 24389.0 / 27 / 116
	}
	fx, fy, fz := f(share[0]), f(share[1]), f(share[2])
	jac := [3][3]float64{{0, 116 * fy, 0}, {500 * fx, -500 * fy, 0}, {0, 200 * fy, -200 * fz}}
	t := colour.Terms(lab, lab)
	c, s := 1.0, 0.0
	if ch := lab.Chroma(); ch > 1e-9 {
		c, s = lab.A/ch, lab.B/ch
	}
	g := 1 + t.G
	for j := 0; j < 3; j++ {
		a, b := g*jac[1][j], jac[2][j]
		m[0][j] = jac[0][j] / t.SL
		m[1][j] = (c*a + s*b) / t.SC
		m[2][j] = (-s*a + c*b) / t.SH
	}
	return m
}

// base returns what the picture's own space makes of light, as shares of the
// white.
func (m *model) base(u [3]float64) [3]float64 {
	xyz := m.space.XYZ(u[0], u[1], u[2])
	return [3]float64{xyz.X / colour.D50.X, xyz.Y, xyz.Z / colour.D50.Z}
}

// share returns the corrected colour as shares of the white.
func (m *model) share(rgb [3]float64) [3]float64 {
	var u [3]float64
	for c := range u {
		u[c] = m.tone[c].at(rgb[c])
	}
	out := m.base(u)
	if m.n > 0 {
		f := features(m.pulled(u))
		for r := range out {
			for j := 0; j < m.n; j++ {
				out[r] += m.delta[r][j] * f[j]
			}
			if !(out[r] > 0) {
				out[r] = 0
			}
		}
	}
	return out
}

// colourful measures how far a colour's channels are from alike, whatever the
// exposure.
func colourful(u [3]float64) float64 {
	s := (u[0] + u[1] + u[2]) / 3
	if !(s > 0) {
		return 0
	}
	return math.Sqrt((u[0]-s)*(u[0]-s)+(u[1]-s)*(u[1]-s)+(u[2]-s)*(u[2]-s)) / s
}

// pulled returns u with no more colourfulness than the patches had. What is
// added for it is then never more than for the patches, while the colour itself
// still goes through the picture's own space.
func (m *model) pulled(u [3]float64) [3]float64 {
	k := colourful(u)
	if k <= m.most {
		return u
	}
	s := (u[0] + u[1] + u[2]) / 3
	for c := range u {
		u[c] = s + (u[c]-s)*m.most/k
	}
	return u
}

func (m *model) lab(rgb [3]float64) colour.Lab {
	s := m.share(rgb)
	return colour.XYZ{X: s[0] * colour.D50.X, Y: s[1], Z: s[2] * colour.D50.Z}.Lab(colour.D50)
}

// fit fits a recipe to all samples but two (-1: none is left out). The fit is
// least squares in CIEDE2000 differences taken as straight about each patch's
// published colour; the ridge pulls what is added towards nothing.
func fit(r recipe, all []prepared, skip1, skip2 int, space colour.Space) (*model, bool) {
	m := &model{space: space}
	var seen, want [3][]float64
	for i := range all {
		p := &all[i]
		if i == skip1 || i == skip2 || !p.neutral {
			continue
		}
		for c := 0; c < 3; c++ {
			seen[c] = append(seen[c], p.rgb[c])
			want[c] = append(want[c], p.grey[c])
		}
	}
	for c := range m.tone {
		var ok bool
		if m.tone[c], ok = fitTone(r.tone, seen[c], want[c], r.bend); !ok {
			return nil, false
		}
	}
	switch r.basis {
	case basisThree:
		m.n = 3
	case basisRoot:
		m.n = 6
	default:
		return m, true
	}
	k := 3 * m.n
	var a [3 * terms][3 * terms]float64
	var b [3 * terms]float64
	for i := range all {
		if i == skip1 || i == skip2 {
			continue
		}
		p := &all[i]
		var u [3]float64
		for c := range u {
			u[c] = m.tone[c].at(p.rgb[c])
		}
		m.most = max(m.most, colourful(u))
		f := features(u)
		base := m.base(u)
		for q := 0; q < 3; q++ {
			var row [3 * terms]float64
			res := 0.0
			for x := 0; x < 3; x++ {
				res += p.metric[q][x] * (p.want[x] - base[x])
				for j := 0; j < m.n; j++ {
					row[x*m.n+j] = p.metric[q][x] * f[j]
				}
			}
			for x := 0; x < k; x++ {
				b[x] += row[x] * res
				for y := 0; y <= x; y++ {
					a[x][y] += row[x] * row[y]
				}
			}
		}
	}
	for x := 0; x < k; x++ {
		a[x][x] += r.ridge
	}
	if !solve(&a, &b, k) {
		return nil, false
	}
	for x := 0; x < 3; x++ {
		for j := 0; j < m.n; j++ {
			m.delta[x][j] = b[x*m.n+j]
		}
	}
	return m, true
}

// solve replaces b by the solution of a·x = b, a symmetric and positive, of
// which the lower half is given, by Cholesky's method.
func solve(a *[3 * terms][3 * terms]float64, b *[3 * terms]float64, k int) bool {
	for i := 0; i < k; i++ {
		for j := 0; j <= i; j++ {
			s := a[i][j]
			for l := 0; l < j; l++ {
				s -= a[i][l] * a[j][l]
			}
			if i == j {
				if !(s > 1e-12) {
					return false
				}
				a[i][i] = math.Sqrt(s)
			} else {
				a[i][j] = s / a[j][j]
			}
		}
	}
	for i := 0; i < k; i++ {
		for l := 0; l < i; l++ {
			b[i] -= a[i][l] * b[l]
		}
		b[i] /= a[i][i]
	}
	for i := k - 1; i >= 0; i-- {
		for l := i + 1; l < k; l++ {
			b[i] -= a[l][i] * b[l]
		}
		b[i] /= a[i][i]
	}
	return true
}
