package colour

import "math"

// LinearSpace returns the space whose matrix from linear RGB to XYZ under D50 is
// m, as [Space.Matrix] gives it, and whose stored values are linear light: for
// going on with linear light whose picture is no longer there. The error says
// that no picture's space could have that matrix.
func LinearSpace(m Matrix) (Space, error) {
	for _, row := range m {
		for _, v := range row {
			if math.IsNaN(v) || math.Abs(v) > 10 {
				return Space{}, errSingular
			}
		}
	}
	t, err := newTone(tone{g: 1, a: 1})
	if err != nil {
		return Space{}, err
	}
	d, err := newSpaceData(m, [3]*tone{t, t, t})
	return Space{d}, err
}
