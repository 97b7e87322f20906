package measure

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// table reads a CSV from testdata without its heading line.
func table(t testing.TB, name string, heading bool) [][]string {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	r.FieldsPerRecord = -1
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if heading {
		rows = rows[1:]
	}
	return rows
}

func number(t testing.TB, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// OpenCV 4.6.0 getPerspectiveTransform (homography_vector.csv).
func TestMappingEqualsOpenCVs(t *testing.T) {
	points := map[string][4]studio.Point{}
	var want homography
	var maps [][4]float64
	for _, row := range table(t, "homography_vector.csv", true) {
		switch row[0] {
		case "src", "dst":
			var p [4]studio.Point
			for i := range p {
				p[i] = studio.Point{X: number(t, row[1+2*i]), Y: number(t, row[2+2*i])}
			}
			points[row[0]] = p
		case "H":
			for i := range want {
				want[i] = number(t, row[1+i])
			}
		case "map":
			maps = append(maps, [4]float64{number(t, row[1]), number(t, row[2]), number(t, row[3]), number(t, row[4])})
		}
	}
	h, ok := mapping(points["src"], points["dst"])
	if !ok || len(maps) != 3 {
		t.Fatal("no mapping")
	}
	for i := range h {
		if math.Abs(h[i]-want[i]) > 1e-9*math.Max(1, math.Abs(want[i])) {
			t.Errorf("element %d: %.12g, want %.12g", i, h[i], want[i])
		}
	}
	for _, m := range maps {
		p := h.to(studio.Point{X: m[0], Y: m[1]})
		if math.Hypot(p.X-m[2], p.Y-m[3]) > 1e-6 {
			t.Errorf("%v maps to %v", m, p)
		}
	}
}

func TestMappingTakesCornersToCorners(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var from, to [4]studio.Point
		for i := range from {
			jitter := rapid.Float64Range(-0.3, 0.3)
			x, y := float64((i+1)/2%2), float64(i/2)
			from[i] = studio.Point{X: 1000 * (x + jitter.Draw(t, "a")), Y: 800 * (y + jitter.Draw(t, "b"))}
			to[i] = studio.Point{X: 600 * (x + jitter.Draw(t, "c")), Y: 500 * (y + jitter.Draw(t, "d"))}
		}
		h, ok := mapping(from, to)
		if !ok {
			return
		}
		for i, p := range from {
			if q := h.to(p); math.Hypot(q.X-to[i].X, q.Y-to[i].Y) > 1e-6 {
				t.Fatalf("corner %d goes to %v, want %v", i, q, to[i])
			}
		}
	})
}

func mixture(t testing.TB) []colour.Lab {
	var out []colour.Lab
	for _, row := range table(t, "mixture_lab_3000.csv", false) {
		out = append(out, colour.Lab{L: number(t, row[0]), A: number(t, row[1]), B: number(t, row[2])})
	}
	if len(out) != 3000 {
		t.Fatalf("%d points", len(out))
	}
	return out
}

// scikit-learn 1.2.1 KMeans (mixture_expected.csv).
func TestKMeansEqualsScikitLearns(t *testing.T) {
	points := mixture(t)
	c := kMeans(points, 3, 4, rand.New(rand.NewPCG(1, 1)))
	counts := make([]float64, 3)
	for _, k := range c.of {
		counts[k]++
	}
	checked := 0
	for _, row := range table(t, "mixture_expected.csv", true) {
		switch row[0] {
		case "kmeans":
			want := colour.Lab{L: number(t, row[3]), A: number(t, row[4]), B: number(t, row[5])}
			near := 0
			for i := range c.centres {
				if colour.Difference76(c.centres[i], want) < colour.Difference76(c.centres[near], want) {
					near = i
				}
			}
			if d := colour.Difference76(c.centres[near], want); d > 0.01 {
				t.Errorf("centre %v is %.4f from %v", c.centres[near], d, want)
			}
			if share := counts[near] / 3000; math.Abs(share-number(t, row[2])) > 1e-6 {
				t.Errorf("share %.6f, want %s", share, row[2])
			}
			checked++
		case "kmeans_inertia":
			if math.Abs(c.inertia-number(t, row[2])) > 0.001 {
				t.Errorf("inertia %.6f, want %s", c.inertia, row[2])
			}
			checked++
		}
	}
	if checked != 4 {
		t.Fatalf("%d checks", checked)
	}
}

// scikit-image 0.19.3 threshold_otsu with 256 bins (mixture_expected.csv).
func TestOtsuEqualsScikitImages(t *testing.T) {
	points := mixture(t)
	values := make([]float64, len(points))
	for i, p := range points {
		values[i] = p.A
	}
	threshold, separation := otsu(values)
	below := 0.0
	for _, v := range values {
		if v < threshold {
			below++
		}
	}
	checked := 0
	for _, row := range table(t, "mixture_expected.csv", true) {
		switch row[0] {
		case "otsu_a":
			if math.Abs(threshold-number(t, row[2])) > 1e-6 {
				t.Errorf("threshold %.6f, want %s", threshold, row[2])
			}
			checked++
		case "fraction_a_below_otsu":
			if math.Abs(below/3000-number(t, row[2])) > 1e-6 {
				t.Errorf("share below %.6f, want %s", below/3000, row[2])
			}
			checked++
		}
	}
	if checked != 2 || separation < 0.95 {
		t.Errorf("%d checks, separation %.3f", checked, separation)
	}
}

// For a threshold at the mean, a normal spread gives 2/pi = 0.637 and an even
// one 3/4: the variance of the halves' means over the whole variance.
func TestOtsuKnowsOneGroupFromTwo(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	normal, even := make([]float64, 20000), make([]float64, 20000)
	for i := range normal {
		normal[i], even[i] = rng.NormFloat64(), rng.Float64()
	}
	if _, s := otsu(normal); math.Abs(s-2/math.Pi) > 0.02 {
		t.Errorf("normal: %.3f", s)
	}
	if _, s := otsu(even); math.Abs(s-0.75) > 0.02 {
		t.Errorf("even: %.3f", s)
	}
	if _, s := otsu([]float64{4, 4, 4}); s != 0 {
		t.Errorf("all alike: %.3f", s)
	}
}

func TestNumberOfColoursIsFound(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	all := mixture(t)
	var one, two []colour.Lab
	for i, p := range all {
		one = append(one, colour.Lab{L: 60 + 2*rng.NormFloat64(), A: -20 + 2*rng.NormFloat64(), B: rng.NormFloat64()})
		if p.A < -15 || i%2 == 0 && p.L > 50 {
			two = append(two, p)
		}
	}
	for _, c := range []struct {
		what   string
		points []colour.Lab
		want   int
	}{{"the three-colour mixture", all[:gapSample], 3}, {"one spread", one[:gapSample], 1}, {"two of the three", two[:1000], 2}} {
		if k := countColours(c.points, rng); k != c.want {
			t.Errorf("%s: %d colours, want %d", c.what, k, c.want)
		}
	}
}

// coverage_uncertainty_sim.csv: thresholded Gaussian fields of 256 x 256 cells
// with a known spread from field to field. The interval must be of that size:
// the published binomial error would be 4 to 20 times too small.
func TestTileIntervalIsOfTheTrueSize(t *testing.T) {
	for _, row := range table(t, "coverage_uncertainty_sim.csv", true) {
		sigma, p, sd := number(t, row[0]), number(t, row[1]), number(t, row[2])
		if sigma != 3 && sigma != 8 {
			continue
		}
		rng := rand.New(rand.NewPCG(7, uint64(sigma)))
		const fields = 24
		mean, holds := 0.0, 0
		for range fields {
			f, covered := randomFace(256, sigma, p, rng)
			half := f.tileInterval(covered)
			share := f.meanOf(covered)
			mean += half / fields
			if math.Abs(share-p) <= half {
				holds++
			}
		}
		ratio := mean / (1.96 * sd)
		t.Logf("patches %2.0f, coverage %.1f: half width %.3f, true 1.96 sd %.3f, holds %d of %d", sigma, p, mean, 1.96*sd, holds, fields)
		if ratio < 0.75 || ratio > 2.5 {
			t.Errorf("patches of %.0f, coverage %.1f: interval is %.2f times the true one", sigma, p, ratio)
		}
		if holds < fields*8/10 {
			t.Errorf("patches of %.0f, coverage %.1f: holds only %d of %d", sigma, p, holds, fields)
		}
	}
}

// randomFace is a face whose covered cells are those where a smooth random field
// is over the level that leaves a share p, and which they are.
func randomFace(n int, sigma, p float64, rng *rand.Rand) (*face, []float64) {
	field := make([]float64, n*n)
	for i := range field {
		field[i] = rng.NormFloat64()
	}
	reach := int(4 * sigma)
	kernel := make([]float64, 2*reach+1)
	norm := 0.0
	for i := range kernel {
		kernel[i] = math.Exp(-square(float64(i-reach)/sigma) / 2)
		norm += square(kernel[i])
	}
	blur := func(step, other int) {
		out := make([]float64, n*n)
		for a := range n {
			for b := range n {
				for i, k := range kernel {
					out[a*step+b*other] += k * field[((a+i-reach+n)%n)*step+b*other] / math.Sqrt(norm)
				}
			}
		}
		field = out
	}
	blur(1, n)
	blur(n, 1)
	level := math.Sqrt2 * math.Erfinv(1-2*p)
	f := &face{w: n, h: n, usable: make([]bool, n*n)}
	covered := make([]float64, n*n)
	for i, v := range field {
		f.usable[i] = true
		if v > level {
			covered[i] = 1
		}
	}
	return f, covered
}
