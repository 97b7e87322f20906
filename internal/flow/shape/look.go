package shape

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// A Patch is one colour of a face and its share of the face.
type Patch struct {
	Lab   colour.Lab
	Share float64
}

// Expected is how a face is expected to look, from swatches of its recipe.
type Expected struct {
	Swatches []int64
	Mean     colour.Lab
	// Along is the direction in CIELAB, of length 1, in which such swatches differ most,
	// and Reach how far along it one new piece may lie, nine times in ten, in CIELAB units.
	Along [3]float64
	Reach float64
	// Palette is the colours of the swatch nearest to the mean, moved to it; from the
	// least covered to the most, where Ordered.
	Palette  []Patch
	Ordered  bool
	Nearest  int64
	MottleMM float64 // width of its spots
	Assumed  []string
}

// What is assumed of the spread while there are few swatches, as if so many had shown
// it, and of the width of spots where none was read (common practice, no source).
const (
	priorSD  = 2.5 // in each of L*, a*, b*
	priorN   = 3.0
	priorMM  = 5.0
	fewLooks = 5
	mostBits = 8
)

// Guess reckons the expected look of one face from measured faces made by its recipe:
// their mean, and the principal direction of their covariance (Mardia, K. V., Kent, J.
// T. and Bibby, J. M., Multivariate Analysis, Academic Press 1979, ch. 8), with
// Student's t for one more piece. While there are few, the covariance is drawn to an
// assumed one. It needs one measured face at least.
func Guess(looks []studio.Look) (Expected, error) {
	var seen []studio.Look
	for _, l := range looks {
		if l.Measurement != nil {
			seen = append(seen, l)
		}
	}
	n := float64(len(seen))
	if n == 0 {
		return Expected{}, studio.Problemf(studio.Invalid, "", "No swatch of this recipe has been photographed and measured, so nobody can tell how the piece will look. Make and photograph one first.")
	}
	var e Expected
	var mean [3]float64
	axes := func(l colour.Lab) [3]float64 { return [3]float64{l.L, l.A, l.B} }
	for _, l := range seen {
		e.Swatches = append(e.Swatches, l.Swatch)
		for i, v := range axes(l.Measurement.Lab) {
			mean[i] += v / n
		}
	}
	e.Mean = colour.Lab{L: mean[0], A: mean[1], B: mean[2]}
	prior := priorN
	if n > fewLooks {
		prior = 0
	}
	free := prior + n - 1
	cov := mat.NewSymDense(3, nil)
	for i := range 3 {
		for j := i; j < 3; j++ {
			s := 0.0
			if i == j {
				s = prior * priorSD * priorSD
			}
			for _, l := range seen {
				x := axes(l.Measurement.Lab)
				s += (x[i] - mean[i]) * (x[j] - mean[j])
			}
			cov.SetSym(i, j, s/free)
		}
	}
	var eig mat.EigenSym
	if !eig.Factorize(cov, true) {
		return Expected{}, fmt.Errorf("find the main direction of %d looks: no convergence", len(seen))
	}
	var dir mat.Dense
	eig.VectorsTo(&dir)
	values := eig.Values(nil) // from small to large
	e.Along = [3]float64{dir.At(0, 2), dir.At(1, 2), dir.At(2, 2)}
	if n == 1 {
		e.Along = [3]float64{1, 0, 0} // every direction alike: lighter and darker is said plainest
	}
	if e.Along[0] < 0 || e.Along[0] == 0 && e.Along[1] < 0 {
		for i := range e.Along {
			e.Along[i] = -e.Along[i]
		}
	}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: free}.Quantile(0.95)
	e.Reach = t * math.Sqrt(values[2]*(1+1/n))
	if prior > 0 {
		e.Assumed = append(e.Assumed, fmt.Sprintf("with %s, the range leans on an assumed spread of %.1f in each of L*, a* and b*", swatches(len(seen)), priorSD))
	}
	near := slices.MinFunc(seen, func(a, b studio.Look) int {
		return cmp.Compare(colour.Difference(a.Measurement.Lab, e.Mean), colour.Difference(b.Measurement.Lab, e.Mean))
	})
	e.Nearest = near.Swatch
	e.palette(*near.Measurement)
	var widths []float64
	for _, l := range seen {
		if w := spotMM(l.Measurement.Texture); w > 0 {
			widths = append(widths, w)
		}
	}
	slices.Sort(widths)
	if e.MottleMM = priorMM; len(widths) > 0 {
		e.MottleMM = widths[len(widths)/2]
	} else {
		e.Assumed = append(e.Assumed, fmt.Sprintf("spots %.0f mm wide: no swatch's pattern was read at its real size", priorMM))
	}
	return e, nil
}

// palette takes the colours of a face, moved so that their mean is the expected one.
func (e *Expected) palette(m studio.Measurement) {
	bits := slices.Clone(m.Palette)
	if len(bits) == 0 {
		bits = []studio.PaletteEntry{{Lab: m.Lab, Share: 1}}
	}
	slices.SortStableFunc(bits, func(a, b studio.PaletteEntry) int { return cmp.Compare(b.Share, a.Share) })
	bits = bits[:min(len(bits), mostBits)]
	var total float64
	var mean colour.Lab
	for _, b := range bits {
		total += max(b.Share, 1e-6)
		mean.L, mean.A, mean.B = mean.L+max(b.Share, 1e-6)*b.Lab.L, mean.A+max(b.Share, 1e-6)*b.Lab.A, mean.B+max(b.Share, 1e-6)*b.Lab.B
	}
	shift := colour.Lab{L: e.Mean.L - mean.L/total, A: e.Mean.A - mean.A/total, B: e.Mean.B - mean.B/total}
	if bare := m.Marks.BareLab; bare != nil {
		e.Ordered = true
		slices.SortStableFunc(bits, func(a, b studio.PaletteEntry) int {
			return cmp.Compare(colour.Difference(a.Lab, *bare), colour.Difference(b.Lab, *bare))
		})
	} else {
		slices.SortStableFunc(bits, func(a, b studio.PaletteEntry) int { return cmp.Compare(a.Lab.L, b.Lab.L) })
	}
	for _, b := range bits {
		e.Palette = append(e.Palette, Patch{Lab: colour.Lab{L: b.Lab.L + shift.L, A: b.Lab.A + shift.A, B: b.Lab.B + shift.B}, Share: max(b.Share, 1e-6) / total})
	}
}

// spotMM is the width below which spots hold half of what spots hold at all, from
// the granularity of the face's lightness; 0 when it was not read.
func spotMM(t *studio.Texture) float64 {
	if t == nil || len(t.Grain) == 0 {
		return 0
	}
	last := t.Grain[len(t.Grain)-1]
	if !(last.Value > 0) {
		return 0
	}
	before := studio.ScaleValue{}
	for _, g := range t.Grain {
		if g.Value >= last.Value/2 {
			if g.Value == before.Value {
				return g.MM
			}
			return max(0.2, before.MM+(g.MM-before.MM)*(last.Value/2-before.Value)/(g.Value-before.Value))
		}
		before = g
	}
	return last.MM
}

// At returns the palette so far along: 0 is the likely look, -1 and 1 are the ends
// within which nine pieces in ten lie.
func (e Expected) At(t float64) []Patch {
	out := slices.Clone(e.Palette)
	for i := range out {
		out[i].Lab = e.moved(out[i].Lab, t)
	}
	return out
}

// Colour is the mean colour so far along, see [Expected.At].
func (e Expected) Colour(t float64) colour.Lab { return e.moved(e.Mean, t) }

func (e Expected) moved(l colour.Lab, t float64) colour.Lab {
	k := t * e.Reach
	return colour.Lab{L: max(0, min(100, l.L+k*e.Along[0])), A: l.A + k*e.Along[1], B: l.B + k*e.Along[2]}
}

// Toward says how the far end differs from the likely look, t being -1 or 1: such as
// "darker, greener".
func (e Expected) Toward(t float64) string {
	var words []string
	for i, w := range [3][2]string{{"darker", "lighter"}, {"greener", "redder"}, {"bluer", "yellower"}} {
		d := t * e.Along[i]
		switch {
		case d < -0.35:
			words = append(words, w[0])
		case d > 0.35:
			words = append(words, w[1])
		}
	}
	if len(words) == 0 {
		return "different"
	}
	out := words[0]
	for _, w := range words[1:] {
		out += ", " + w
	}
	return out
}

func swatches(n int) string {
	if n == 1 {
		return "1 swatch"
	}
	return fmt.Sprintf("%d swatches", n)
}
