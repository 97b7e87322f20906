package measure

import (
	"math"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// readingNoise is added to every variance, in squared CIELAB units: 8-bit sRGB
// codes round by up to 0.5 of a unit, so no class is narrower than that.
const readingNoise = 0.25

// moments are the sums of a set of colours, from which any part can be taken off
// again.
type moments struct {
	n    float64
	sum  [3]float64
	prod studio.Spread // LL, La, Lb, aa, ab, bb, about nought
}

func (m *moments) add(c colour.Lab) {
	m.n++
	m.sum[0], m.sum[1], m.sum[2] = m.sum[0]+c.L, m.sum[1]+c.A, m.sum[2]+c.B
	for i, v := range [6]float64{c.L * c.L, c.L * c.A, c.L * c.B, c.A * c.A, c.A * c.B, c.B * c.B} {
		m.prod[i] += v
	}
}

// plus returns m and sign times o together.
func (m moments) plus(o moments, sign float64) moments {
	m.n += sign * o.n
	for i := range m.sum {
		m.sum[i] += sign * o.sum[i]
	}
	for i := range m.prod {
		m.prod[i] += sign * o.prod[i]
	}
	return m
}

func (m moments) mean() [3]float64 { return [3]float64{m.sum[0] / m.n, m.sum[1] / m.n, m.sum[2] / m.n} }

// scatter is the sum of squares and products about the mean.
func (m moments) scatter() studio.Spread {
	c := m.mean()
	s := m.prod
	for i, v := range [6]float64{c[0] * c[0], c[0] * c[1], c[0] * c[2], c[1] * c[1], c[1] * c[2], c[2] * c[2]} {
		s[i] -= m.n * v
	}
	return s
}

// covariance is the scatter over the number.
func (m moments) covariance() studio.Spread {
	s := m.scatter()
	for i := range s {
		s[i] /= m.n
	}
	return s
}

// momentsOf is a set of n colours with that mean and covariance.
func momentsOf(n float64, mean colour.Lab, cov studio.Spread) moments {
	m := moments{n: n, sum: [3]float64{n * mean.L, n * mean.A, n * mean.B}}
	for i, v := range [6]float64{mean.L * mean.L, mean.L * mean.A, mean.L * mean.B, mean.A * mean.A, mean.A * mean.B, mean.B * mean.B} {
		m.prod[i] = n * (cov[i] + v)
	}
	return m
}

// normal is one class's colours, ready to be asked.
type normal struct {
	class  int
	mean   [3]float64
	inv    studio.Spread
	logDet float64
}

// far is the discriminant score: squared Mahalanobis distance plus the logarithm
// of the determinant. The smallest of all classes wins, none being likelier than
// another beforehand.
func (g normal) far(c colour.Lab) float64 {
	x, y, z := c.L-g.mean[0], c.A-g.mean[1], c.B-g.mean[2]
	i := g.inv
	return i[0]*x*x + i[3]*y*y + i[5]*z*z + 2*(i[1]*x*y+i[2]*x*z+i[4]*y*z) + g.logDet
}

// group is the examples of one class, or its bare reference.
type group struct {
	class int
	m     moments
}

// normals fits the classes by regularised discriminant analysis (Friedman 1989,
// J. Amer. Stat. Assoc. 84: 165-175, formulas 16 to 18): each class's scatter is
// drawn by lambda to that of all, then by gamma to a ball of the same size.
func normals(groups []group, lambda, gamma float64) []normal {
	var all studio.Spread
	total := 0.0
	for _, g := range groups {
		total += g.m.n
		for i, v := range g.m.scatter() {
			all[i] += v
		}
	}
	out := make([]normal, 0, len(groups))
	for _, g := range groups {
		s := g.m.scatter()
		w := (1-lambda)*g.m.n + lambda*total
		for i := range s {
			s[i] = ((1-lambda)*s[i] + lambda*all[i]) / w
		}
		ball := (s[0] + s[3] + s[5]) / 3
		for i := range s {
			s[i] *= 1 - gamma
		}
		for _, i := range []int{0, 3, 5} {
			s[i] += gamma*ball + readingNoise
		}
		inv, det := inverse(s)
		out = append(out, normal{g.class, g.m.mean(), inv, math.Log(det)})
	}
	return out
}

// inverse inverts a symmetric 3 x 3 matrix that is positive definite.
func inverse(s studio.Spread) (studio.Spread, float64) {
	a, b, c, d, e, f := s[0], s[1], s[2], s[3], s[4], s[5]
	out := studio.Spread{d*f - e*e, c*e - b*f, b*e - c*d, a*f - c*c, b*c - a*e, a*d - b*b}
	det := a*out[0] + b*out[1] + c*out[2]
	for i := range out {
		out[i] /= det
	}
	return out, det
}

// scores fills in each class's score: of several groups of a class the nearest.
// A class without a group stays infinitely far.
func scores(ns []normal, c colour.Lab, into []float64) {
	for i := range into {
		into[i] = math.Inf(1)
	}
	for _, g := range ns {
		into[g.class] = math.Min(into[g.class], g.far(c))
	}
}

// closest is the class of the smallest score.
func closest(into []float64) int {
	best := 0
	for i, v := range into {
		if v < into[best] {
			best = i
		}
	}
	return best
}

// surprise is minus the logarithm of the chance the scores give to a class, held
// at a chance of one in a thousand so that no single place decides.
func surprise(into []float64, class int) float64 {
	sum := 0.0
	for _, v := range into {
		sum += math.Exp(-(v - into[class]) / 2)
	}
	return math.Min(math.Log(sum), math.Log(1000))
}
