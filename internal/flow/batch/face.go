package batch

import (
	"math"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// A Face is what is judged of one photographed face. Coverage is a fraction and
// CoverageError half its honest range; Mottle is the root mean square difference of
// L* between near places; Edge is the natural logarithm of how much stronger the
// deposit is along the edges. They are nil where the photograph could not tell.
type Face struct {
	Lab           colour.Lab
	Coverage      *float64
	CoverageError float64
	Mottle        *float64
	Edge          *float64
}

// stepL is the width in L* of one step of [studio.Texture]'s contrast.
const stepL = 3.125

// FaceOf takes from a measurement what is judged.
func FaceOf(m studio.Measurement) Face {
	f := Face{Lab: m.Lab}
	if c := m.Coverage; c != nil {
		v := c.Value
		f.Coverage, f.CoverageError = &v, (c.High-c.Low)/2
	}
	if m.Texture != nil {
		v := stepL * math.Sqrt(max(0, m.Texture.Contrast))
		f.Mottle = &v
	}
	if m.Pooling != nil && m.Pooling.EdgeRatio > 0 {
		v := math.Log(m.Pooling.EdgeRatio)
		f.Edge = &v
	}
	return f
}

// apart returns the difference of two colours as lightness, chroma and hue in
// units of CIEDE2000; its length is their CIEDE2000 difference.
func apart(from, to colour.Lab) [3]float64 {
	t := colour.Terms(from, to)
	if t.DE == 0 {
		return [3]float64{}
	}
	turn := (t.H2P - t.H1P) * math.Pi / 180
	d := [3]float64{(to.L - from.L) / t.SL, (t.C2P - t.C1P) / t.SC, 2 * math.Sqrt(t.C1P*t.C2P) * math.Sin(turn/2) / t.SH}
	length := math.Sqrt(d[0]*d[0] + d[1]*d[1] + d[2]*d[2])
	for i := range d {
		d[i] *= t.DE / length // the formula's last term turns chroma and hue into each other
	}
	return d
}
