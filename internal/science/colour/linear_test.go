package colour

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// A space rebuilt of another's matrix, whose figures the other tests hold to the
// published primaries, gives the same colours.
func TestLinearSpaceKeepsTheColours(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from := rapid.SampledFrom([]Space{SRGB, DisplayP3, AdobeRGB}).Draw(t, "space")
		s, err := LinearSpace(from.Matrix())
		if err != nil {
			t.Fatal(err)
		}
		v := rapid.SliceOfN(rapid.Float64Range(0, 1), 3, 3).Draw(t, "light")
		a, b := from.Lab(v[0], v[1], v[2]), s.Lab(v[0], v[1], v[2])
		if Difference(a, b) > 1e-9 {
			t.Errorf("%v became %v", a, b)
		}
		if r, _, _ := s.Decode(v[0], v[1], v[2]); math.Abs(r-v[0]) > 1e-12 {
			t.Errorf("stored %v is the light %v", v[0], r)
		}
	})
}

func TestLinearSpaceRefusesWhatNoPictureHas(t *testing.T) {
	for _, m := range []Matrix{{}, {{1, 0, 0}, {1, 0, 0}, {1, 0, 0}}, {{math.NaN()}}, {{1e300}}, {{0.9, 0.03, 0.03}, {0.9, 0.05, 0.05}, {0.8, 0.01, 0.01}}} {
		if _, err := LinearSpace(m); err == nil {
			t.Errorf("%v was taken for a space", m)
		}
	}
}
