package measure

import (
	"math"

	"aerugo/internal/science/colour"
)

// from gives differences from one colour. A face has a third of a million cells,
// and most of the time of CIEDE2000 goes into angles that are turned back into
// sines and cosines at once; here they stay sines and cosines.
type from struct {
	lab    colour.Lab
	chroma float64
}

func newFrom(lab colour.Lab) from { return from{lab, math.Sqrt(lab.A*lab.A + lab.B*lab.B)} }

// difference is [colour.Difference], within a ten-thousandth.
func (f from) difference(c colour.Lab) float64 {
	g := 1.5 - 0.5*math.Sqrt(share7((math.Sqrt(c.A*c.A+c.B*c.B)+f.chroma)/2))
	a1, b1, a2, b2 := g*c.A, c.B, g*f.lab.A, f.lab.B
	c1, c2 := math.Sqrt(a1*a1+b1*b1), math.Sqrt(a2*a2+b2*b2)
	dot, cross := a1*a2+b1*b2, a1*b2-b1*a2
	if product := c1 * c2; !(product > 1e-6 && dot > -0.99*product) {
		// without a hue, or with opposite ones, the mean hue is a special case
		return colour.Difference(c, f.lab)
	}
	// 2 sqrt(c1 c2) sin(turn/2), as sin(turn) over cos(turn/2)
	dH := cross / math.Sqrt((c1*c2+dot)/2)

	// the mean hue halves the angle between the two directions
	cos, sin := a1/c1+a2/c2, b1/c1+b2/c2
	long := math.Sqrt(cos*cos + sin*sin)
	cos, sin = cos/long, sin/long
	cos2, sin2 := 2*cos*cos-1, 2*sin*cos
	cos3, sin3 := cos2*cos-sin2*sin, sin2*cos+cos2*sin
	cos4, sin4 := 2*cos2*cos2-1, 2*sin2*cos2
	t := 1 - 0.17*(cos*cos30+sin*sin30) + 0.24*cos2 + 0.32*(cos3*cos6-sin3*sin6) - 0.20*(cos4*cos63+sin4*sin63)

	off, mean := (c.L+f.lab.L)/2-50, (c1+c2)/2
	l := (f.lab.L - c.L) / (1 + 0.015*off*off/math.Sqrt(20+off*off))
	ch := (c2 - c1) / (1 + 0.045*mean)
	h := dH / (1 + 0.015*mean*t)
	sum := l*l + ch*ch + h*h
	if cos*cos275+sin*sin275 > 0 { // farther from 275 degrees the turning term is under 1e-5
		hue := math.Atan2(sin, cos) * 180 / math.Pi
		if hue < 0 {
			hue += 360
		}
		blue := (hue - 275) / 25
		sum -= 2 * math.Sqrt(share7(mean)) * math.Sin(math.Pi/3*math.Exp(-blue*blue)) * ch * h
	}
	return math.Sqrt(max(0, sum))
}

var (
	sin6, cos6     = math.Sincos(math.Pi / 30)
	sin30, cos30   = math.Sincos(math.Pi / 6)
	sin63, cos63   = math.Sincos(63 * math.Pi / 180)
	sin275, cos275 = math.Sincos(275 * math.Pi / 180)
)

// share7 is c⁷/(c⁷+25⁷).
func share7(c float64) float64 {
	c2 := c * c
	c7 := c2 * c2 * c2 * c
	return c7 / (c7 + 6103515625)
}
