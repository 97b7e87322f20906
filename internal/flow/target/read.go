package target

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	gonumstat "gonum.org/v1/gonum/stat"

	"aerugo/internal/picture"
	"aerugo/internal/science/colour"
	"aerugo/internal/science/target"
)

// Reading is what the picture shows of one patch: the median of the middle of
// the patch.
type Reading struct {
	Patch  target.Patch
	RGB    [3]float64 // linear, 1 at full scale
	Uneven float64    // half the span of the middle two thirds, in L* units
	Fault  string     // why it is left out; empty when it can be used
}

// Limits for a patch. Common practice, no source.
const (
	halfSample  = 0.19 // of the pitch, either way: half of a patch, which is 0.76 of it
	clippedCode = 253
	mostClipped = 0.02 // share of the samples
	mostUneven  = 4.0  // L* units
	mostOff     = 28.0 // from what the other patches make of it, CIE 1976
	leastStep   = 0.03 // between patch and gap, in cube roots of light: 3.5 in L*
	blackPatch  = 25.0 // L*
)

// read reads the patches of a target that lies on a plane.
func read(img *picture.Image, ref target.Reference, h plane) (*Found, error) {
	f := &Found{space: img.Space}
	f.Mirrored = h[0]*h[4]-h[1]*h[3] < 0
	for i := range f.Centres {
		col, row := float64(i%target.Columns), float64(i/target.Columns)
		f.Centres[i] = h.to(col, row)
		if p := h.pitch(col, row); !(p >= leastPitch) {
			return nil, refuse("The target is too small in the picture: its patches are %.1f pixels from centre to centre, and at least %.0f are needed. Take the photograph closer.", p, leastPitch)
		}
		f.Readings = append(f.Readings, readPatch(img, ref.Patches[i], h, col, row))
	}
	var seen, want [3][]float64
	for _, r := range f.Readings {
		if r.Fault == outside || r.Fault == unlike {
			continue
		}
		w := wanted(r.Patch)
		for c := range w {
			seen[c] = append(seen[c], math.Cbrt(r.RGB[c]))
			want[c] = append(want[c], w[c])
		}
	}
	f.Correlation = correlate(seen, want, patches/2)
	if len(seen[0]) >= patches/2 && !(f.Correlation >= leastCorrelation) {
		return nil, refuse("The patches do not look like those of the 24-patch target (a match of %.2f, at least %.2f is needed). Show the whole target with nothing on it, or mark the centres of its brown, bluish green, black and white corner patches.", f.Correlation, leastCorrelation)
	}
	f.unlike()
	good := len(f.Samples())
	if good < FewestPatches {
		return nil, refuse("Only %d of the target's 24 patches can be read (%s); at least %d are needed. Show the whole target with nothing on it, evenly lit and not burnt out.", good, f.faults(), FewestPatches)
	}
	return f, nil
}

const (
	outside = "outside the picture"
	burnt   = "burnt out"
	uneven  = "uneven"
	unlike  = "covered or not of its colour"
)

// faults says what is wrong with patches, in a few words.
func (f *Found) faults() string {
	s := ""
	for _, fault := range []string{outside, burnt, uneven, unlike} {
		n := 0
		for _, r := range f.Readings {
			if r.Fault == fault {
				n++
			}
		}
		if n > 0 {
			if s != "" {
				s += ", "
			}
			s += countWords(n) + " " + fault
		}
	}
	return s
}

func countWords(n int) string {
	words := []string{"none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}
	if n < len(words) {
		return words[n]
	}
	return "most"
}

func readPatch(img *picture.Image, p target.Patch, h plane, col, row float64) Reading {
	r := Reading{Patch: p}
	n := int(min(41, max(5, math.Ceil(2*halfSample*h.pitch(col, row)))))
	var v [3][]float64
	clipped, taken := 0, 0
	for i := 0; i < n; i++ {
		for j := 0; j < n; j++ {
			taken++
			at := h.to(col+halfSample*(2*(float64(i)+0.5)/float64(n)-1), row+halfSample*(2*(float64(j)+0.5)/float64(n)-1))
			if !(at.X > -0.5 && at.Y > -0.5 && at.X < float64(img.Width)-0.5 && at.Y < float64(img.Height)-0.5) {
				continue
			}
			x, y := int(math.Round(at.X)), int(math.Round(at.Y))
			x, y = min(max(x, 0), img.Width-1), min(max(y, 0), img.Height-1)
			if !img.Opaque(x, y) {
				continue
			}
			rgb, peak := img.At(x, y)
			if peak >= clippedCode {
				clipped++
			}
			for c := range v {
				v[c] = append(v[c], float64(rgb[c]))
			}
		}
	}
	if len(v[0]) < taken {
		r.Fault = outside
		return r
	}
	for c := range v {
		slices.Sort(v[c])
		q := func(share float64) float64 { return v[c][int(share*float64(len(v[c])-1)+0.5)] }
		r.RGB[c] = q(0.5)
		// L* is 116 times the cube root, less 16.
		r.Uneven = max(r.Uneven, 58*(math.Cbrt(q(5.0/6))-math.Cbrt(q(1.0/6))))
	}
	switch {
	case !bounded(img, p, r.RGB, h, col, row):
		r.Fault = unlike
	case float64(clipped) > mostClipped*float64(len(v[0])):
		r.Fault = burnt
	case r.Uneven > mostUneven:
		r.Fault = uneven
	}
	return r
}

// bounded reports whether the gap around a patch can be told from the patch on
// three sides: what covers a patch covers gaps too. The black patch is as dark
// as the gaps.
func bounded(img *picture.Image, p target.Patch, rgb [3]float64, h plane, col, row float64) bool {
	if p.Lab.L < blackPatch {
		return true
	}
	sides := 0
	for _, d := range [4][2]float64{{0.5, 0}, {-0.5, 0}, {0, 0.5}, {0, -0.5}} {
		var gap [3][]float64
		for along := -2.0; along <= 2; along++ {
			at := h.to(col+d[0]+0.1*along*2*d[1], row+d[1]+0.1*along*2*d[0])
			x, y := int(math.Round(at.X)), int(math.Round(at.Y))
			if x < 0 || y < 0 || x >= img.Width || y >= img.Height {
				continue
			}
			v, _ := img.At(x, y)
			for c := range gap {
				gap[c] = append(gap[c], math.Cbrt(float64(v[c])))
			}
		}
		for c := range gap {
			if len(gap[c]) == 0 {
				break
			}
			slices.Sort(gap[c])
			if math.Abs(gap[c][len(gap[c])/2]-math.Cbrt(rgb[c])) > leastStep {
				sides++
				break
			}
		}
	}
	return sides >= 3
}

// wanted is a patch's published colour as cube roots of linear sRGB.
func wanted(p target.Patch) (w [3]float64) {
	w[0], w[1], w[2] = colour.SRGB.FromLab(p.Lab)
	for c := range w {
		w[c] = math.Cbrt(max(0, w[c]))
	}
	return w
}

// correlate is the mean correlation of three channels, which neither exposure
// nor cast nor veil changes, or 0 for fewer than a number of patches.
func correlate(seen, want [3][]float64, fewest int) float64 {
	sum := 0.0
	for c := range seen {
		if len(seen[c]) < fewest {
			return 0
		}
		r := gonumstat.Correlation(seen[c], want[c], nil)
		if math.IsNaN(r) {
			return 0
		}
		sum += r / 3
	}
	return sum
}

// unlike finds the patches that the others speak against. Roots of light are
// turned into Lab by the best straight relation; the worst patch is left out and
// the relation drawn anew, until none is far off.
func (f *Found) unlike() {
	for {
		var use []int
		for i, r := range f.Readings {
			if r.Fault == "" || r.Fault == uneven || r.Fault == burnt {
				use = append(use, i)
			}
		}
		if len(use) < patches/2 {
			return
		}
		a := mat.NewDense(len(use), 4, nil)
		b := mat.NewDense(len(use), 3, nil)
		for k, i := range use {
			r := f.Readings[i]
			a.SetRow(k, []float64{1, math.Cbrt(r.RGB[0]), math.Cbrt(r.RGB[1]), math.Cbrt(r.RGB[2])})
			b.SetRow(k, []float64{r.Patch.Lab.L, r.Patch.Lab.A, r.Patch.Lab.B})
		}
		var x, fit mat.Dense
		if x.Solve(a, b) != nil {
			return
		}
		fit.Mul(a, &x)
		worst, off := -1, mostOff
		for k, i := range use {
			d := math.Hypot(math.Hypot(fit.At(k, 0)-b.At(k, 0), fit.At(k, 1)-b.At(k, 1)), fit.At(k, 2)-b.At(k, 2))
			if d > off {
				worst, off = i, d
			}
		}
		if worst < 0 {
			return
		}
		f.Readings[worst].Fault = unlike
	}
}
