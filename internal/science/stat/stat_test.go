package stat

import (
	"encoding/csv"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/science"
)

// table reads a CSV file of testdata without its head.
func table(t *testing.T, name string, rows int) [][]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	records, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(records) != rows+1 {
		t.Fatalf("%s has %d rows, want %d", name, len(records)-1, rows)
	}
	return records[1:]
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// digits is the log relative error: how many digits of want got has right.
func digits(got, want float64) float64 {
	if got == want {
		return 15
	}
	return -math.Log10(math.Abs(got-want) / math.Abs(want))
}

func wantDigits(t *testing.T, what string, got, want, n float64) {
	t.Helper()
	if d := digits(got, want); !(d >= n) {
		t.Errorf("%s: got %.15g, want %.15g: %.1f digits right, want %.1f", what, got, want, d, n)
	}
}

// TestSlopeFitMeetsNorris checks the NIST StRD set Norris and its certified values.
func TestSlopeFitMeetsNorris(t *testing.T) {
	var x, y []float64
	for _, r := range table(t, "norris.csv", 36) {
		y, x = append(y, number(t, r[0])), append(x, number(t, r[1]))
	}
	l, err := SlopeFit(x, y)
	if err != nil {
		t.Fatal(err)
	}
	certified := map[string][]string{}
	for _, r := range table(t, "norris_certified.csv", 9) {
		certified[r[0]] = r[1:]
	}
	wantDigits(t, "intercept", l.Intercept, number(t, certified["B0"][0]), 11)
	wantDigits(t, "slope", l.Slope, number(t, certified["B1"][0]), 11)
	wantDigits(t, "error of the intercept", l.InterceptSE, number(t, certified["B0"][1]), 11)
	wantDigits(t, "error of the slope", l.SlopeSE, number(t, certified["B1"][1]), 11)
	wantDigits(t, "residual sd", l.ResidualSD, number(t, certified["residual_sd"][0]), 11)
	wantDigits(t, "R2", l.R2, number(t, certified["r_squared"][0]), 11)
	if l.DF != 34 {
		t.Errorf("%d degrees of freedom, want 34", l.DF)
	}
	// t(0.975, 34) = 2.0322, table of the NIST/SEMATECH e-Handbook, 1.3.6.7.2 (2.032), from memory.
	lo, hi, err := l.SlopeInterval(0.95)
	if err != nil || math.Abs((hi-lo)/2/l.SlopeSE-2.032) > 5e-4 || math.Abs((hi+lo)/2-l.Slope) > 1e-12 {
		t.Errorf("the slope's interval is %v to %v (%v)", lo, hi, err)
	}
}

// TestMeansMeetSiRstv checks the means of the five instruments of the NIST StRD set
// SiRstv by putting its certified analysis of variance together from them.
func TestMeansMeetSiRstv(t *testing.T) {
	groups := map[string][]float64{}
	var all []float64
	for _, r := range table(t, "sirstv.csv", 25) {
		groups[r[0]] = append(groups[r[0]], number(t, r[1]))
		all = append(all, number(t, r[1]))
	}
	c := table(t, "sirstv_certified.csv", 1)[0] // dataset, then df, SS, MS between, F, df, SS, MS within, R2, residual sd
	grand, _, _, err := MeanInterval(all, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	between, within := 0.0, 0.0
	for name, xs := range groups {
		mean, lo, hi, err := MeanInterval(xs, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		between += 5 * (mean - grand) * (mean - grand)
		squares := 0.0
		for _, x := range xs {
			squares += (x - mean) * (x - mean)
		}
		within += squares
		// t(0.975, 4) = 2.776, e-Handbook table, from memory.
		if half := 2.776 * math.Sqrt(squares/4/5); math.Abs((hi-lo)/2-half) > 2e-4*half+1e-9 {
			t.Errorf("instrument %s: half width %v, want %v", name, (hi-lo)/2, half)
		}
	}
	wantDigits(t, "sum of squares between", between, number(t, c[2]), 9)
	wantDigits(t, "sum of squares within", within, number(t, c[6]), 9)
	wantDigits(t, "residual sd", math.Sqrt(within/20), number(t, c[9]), 9)
}

// TestCriticalValuesMatchTable: NIST/SEMATECH e-Handbook, 1.3.6.7.2, upper critical
// values of Student's t, from memory.
func TestCriticalValuesMatchTable(t *testing.T) {
	upper := []float64{0.90, 0.95, 0.975, 0.99, 0.995}
	for df, want := range map[float64][]float64{
		1:   {3.078, 6.314, 12.706, 31.821, 63.657},
		2:   {1.886, 2.920, 4.303, 6.965, 9.925},
		3:   {1.638, 2.353, 3.182, 4.541, 5.841},
		5:   {1.476, 2.015, 2.571, 3.365, 4.032},
		10:  {1.372, 1.812, 2.228, 2.764, 3.169},
		30:  {1.310, 1.697, 2.042, 2.457, 2.750},
		100: {1.290, 1.660, 1.984, 2.364, 2.626},
	} {
		for i, p := range upper {
			if got, err := critical(2*p-1, df); err != nil || math.Abs(got-want[i]) > 5.5e-4 {
				t.Errorf("t(%v, %v) is %.4f (%v), want %.3f", p, df, got, err, want[i])
			}
		}
	}
}

// TestWelchMatchesSleepData: Student's sleep data (Student 1908), as analysed by
// the standard example t.test(extra ~ group) of R: t = -1.8608, df = 17.776,
// p = 0.07939, interval -3.3654832 to 0.2054832, for group 1 less group 2. From
// memory of the printed output.
func TestWelchMatchesSleepData(t *testing.T) {
	one := []float64{0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0}
	two := []float64{1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4}
	c, err := WelchDifference(one, two)
	if err != nil {
		t.Fatal(err)
	}
	lo, hi, err := c.Interval(0.95)
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range []struct {
		what              string
		got, want, within float64
	}{{"difference", c.Difference, 1.58, 1e-9}, {"t", c.Difference / c.SE, 1.8608, 5e-5}, {"df", c.DF, 17.776, 5e-4},
		{"p", c.P, 0.07939, 5e-6}, {"low end", lo, -0.2054832, 5e-8}, {"high end", hi, 3.3654832, 5e-8}} {
		if math.Abs(v.got-v.want) > v.within {
			t.Errorf("%s is %.8f, want %v", v.what, v.got, v.want)
		}
	}
}

// TestQuantilesMatchPublishedDefinition: definition 7 of Hyndman and Fan 1996 puts
// the k-th of n numbers at (k-1)/(n-1).
func TestQuantilesMatchPublishedDefinition(t *testing.T) {
	xs := []float64{9, 1, 8, 2, 7, 3, 6, 4, 5, 10}
	for p, want := range map[float64]float64{0: 1, 0.25: 3.25, 0.5: 5.5, 0.75: 7.75, 0.9: 9.1, 1: 10} {
		if got, err := Quantile(xs, p); err != nil || math.Abs(got-want) > 1e-12 {
			t.Errorf("quantile %v is %v (%v), want %v", p, got, err, want)
		}
	}
	if xs[0] != 9 {
		t.Error("Quantile sorted the caller's numbers")
	}
	if got, _ := Quantile([]float64{4}, 0.3); got != 4 {
		t.Errorf("the quantile of one number is %v", got)
	}
}

// TestWilsonMatchesNewcombe: Newcombe 1998, Statistics in Medicine 17:857-872,
// Table I, method 3, from memory.
func TestWilsonMatchesNewcombe(t *testing.T) {
	for _, c := range []struct {
		hits, n int
		lo, hi  float64
	}{{81, 263, 0.2553, 0.3662}, {15, 148, 0.0624, 0.1605}, {0, 20, 0, 0.1611}, {1, 29, 0.0061, 0.1718}} {
		lo, hi, err := WilsonInterval(c.hits, c.n, 0.95)
		if err != nil || math.Abs(lo-c.lo) > 5e-5 || math.Abs(hi-c.hi) > 5e-5 {
			t.Errorf("%d of %d: %.4f to %.4f (%v), want %v to %v", c.hits, c.n, lo, hi, err, c.lo, c.hi)
		}
	}
}

func TestWilsonHoldsTheShareAndMirrors(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 5000).Draw(t, "n")
		hits := rapid.IntRange(0, n).Draw(t, "hits")
		conf := rapid.Float64Range(0.5, 0.999).Draw(t, "confidence")
		lo, hi, err := WilsonInterval(hits, n, conf)
		p := float64(hits) / float64(n)
		if err != nil || !(0 <= lo && lo <= p+1e-12 && p <= hi+1e-12 && hi <= 1) {
			t.Fatalf("%v to %v for %v (%v)", lo, hi, p, err)
		}
		mlo, mhi, _ := WilsonInterval(n-hits, n, conf)
		if math.Abs(mlo-(1-hi)) > 1e-9 || math.Abs(mhi-(1-lo)) > 1e-9 {
			t.Fatalf("the misses give %v to %v", mlo, mhi)
		}
	})
}

// TestWeightedMeanWorkedExample: 3·80 + 1·90 + 0·1000 over 4 is 82.5.
func TestWeightedMeanWorkedExample(t *testing.T) {
	if got, err := WeightedMean([]float64{80, 90, 1000}, []float64{3, 1, 0}); err != nil || got != 82.5 {
		t.Errorf("got %v (%v), want 82.5", got, err)
	}
}

func someNumbers(t *rapid.T, label string, least int) []float64 {
	return rapid.SliceOfN(rapid.Float64Range(-1e6, 1e6), least, 40).Draw(t, label)
}

func TestMeansMoveWithTheNumbers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		xs := someNumbers(t, "numbers", 2)
		shift := rapid.Float64Range(-1e6, 1e6).Draw(t, "shift")
		scale := rapid.Float64Range(0.01, 100).Draw(t, "scale")
		mean, lo, hi, err := MeanInterval(xs, 0.9)
		if err != nil || !(lo <= mean && mean <= hi) {
			t.Fatalf("%v, %v to %v (%v)", mean, lo, hi, err)
		}
		moved, ones := make([]float64, len(xs)), make([]float64, len(xs))
		for i, x := range xs {
			moved[i], ones[i] = scale*x+shift, 1
		}
		m, l, h, _ := MeanInterval(moved, 0.9)
		tolerance := 1e-9 * (1e8 + math.Abs(m))
		if math.Abs(m-(scale*mean+shift)) > tolerance || math.Abs((h-l)-scale*(hi-lo)) > tolerance {
			t.Fatalf("moved: %v, %v to %v", m, l, h)
		}
		if w, err := WeightedMean(xs, ones); err != nil || math.Abs(w-mean) > 1e-6 {
			t.Fatalf("equal weights give %v (%v), the mean is %v", w, err, mean)
		}
	})
}

func TestWelchIsAntisymmetric(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := append(someNumbers(t, "a", 1), 1e6+1), someNumbers(t, "b", 2)
		there, err := WelchDifference(a, b)
		if err != nil {
			t.Fatal(err)
		}
		back, _ := WelchDifference(b, a)
		if there.Difference != -back.Difference || math.Abs(there.P-back.P) > 1e-12 || !(there.P >= 0 && there.P <= 1) {
			t.Fatalf("%+v there, %+v back", there, back)
		}
		if least := float64(min(len(a), len(b)) - 1); there.DF < least-1e-6 || there.DF > float64(len(a)+len(b)-2)+1e-6 {
			t.Fatalf("%v degrees of freedom", there.DF)
		}
	})
}

func TestLineThroughExactPointsIsFound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		slope := rapid.Float64Range(-50, 50).Draw(t, "slope")
		intercept := rapid.Float64Range(-50, 50).Draw(t, "intercept")
		var x, y []float64
		for i := range rapid.IntRange(3, 20).Draw(t, "points") {
			x = append(x, float64(i))
			y = append(y, intercept+slope*float64(i))
		}
		l, err := SlopeFit(x, y)
		if err != nil || math.Abs(l.Slope-slope) > 1e-9 || math.Abs(l.Intercept-intercept) > 1e-9 || math.Abs(l.At(3)-y[2]-slope) > 1e-8 {
			t.Fatalf("%+v (%v)", l, err)
		}
		if math.Abs(slope) > 0.01 && math.Abs(l.R2-1) > 1e-9 {
			t.Fatalf("R2 is %v", l.R2)
		}
	})
}

// TestIntervalsCoverAsOftenAsTheySay draws 4000 samples from known normal
// distributions (fixed seed); three standard errors of the count are allowed.
func TestIntervalsCoverAsOftenAsTheySay(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	draw := func(n int, mean, sd float64) []float64 {
		xs := make([]float64, n)
		for i := range xs {
			xs[i] = mean + sd*rng.NormFloat64()
		}
		return xs
	}
	const runs = 4000
	mean, welch, slope := 0, 0, 0
	x := []float64{0, 1, 2, 4, 8}
	for range runs {
		if _, lo, hi, err := MeanInterval(draw(4, 10, 3), 0.9); err == nil && lo <= 10 && 10 <= hi {
			mean++
		}
		c, err := WelchDifference(draw(6, 1, 1), draw(8, 3, 4))
		if lo, hi, e := c.Interval(0.9); err == nil && e == nil && lo <= 2 && 2 <= hi {
			welch++
		}
		y := draw(len(x), 0, 2)
		for i := range y {
			y[i] += 5 - 0.7*x[i]
		}
		l, err := SlopeFit(x, y)
		if lo, hi, e := l.SlopeInterval(0.9); err == nil && e == nil && lo <= -0.7 && -0.7 <= hi {
			slope++
		}
	}
	allowed := 3 * math.Sqrt(0.9*0.1*runs)
	for what, n := range map[string]int{"mean": mean, "Welch": welch, "slope": slope} {
		if math.Abs(float64(n)-0.9*runs) > allowed {
			t.Errorf("the 90%% interval of the %s held the truth %d times of %d", what, n, runs)
		}
	}
}

func TestNumbersThatCannotAnswerAreErrors(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	mean := func(xs []float64, conf float64) error { _, _, _, err := MeanInterval(xs, conf); return err }
	welch := func(a, b []float64) error { _, err := WelchDifference(a, b); return err }
	fit := func(x, y []float64) error { _, err := SlopeFit(x, y); return err }
	quantile := func(xs []float64, p float64) error { _, err := Quantile(xs, p); return err }
	weighted := func(xs, ws []float64) error { _, err := WeightedMean(xs, ws); return err }
	wilson := func(hits, n int, conf float64) error { _, _, err := WilsonInterval(hits, n, conf); return err }
	slope := func(conf float64) error { _, _, err := (Line{SlopeSE: 1, DF: 3}).SlopeInterval(conf); return err }
	outside := &science.RangeError{}
	for _, c := range []struct {
		name string
		err  error
		want error
	}{
		{"mean of one", mean([]float64{1}, 0.95), ErrTooFew},
		{"mean of nan", mean([]float64{1, nan}, 0.95), ErrNotFinite},
		{"mean at 0", mean([]float64{1, 2}, 0), outside},
		{"mean at 1", mean([]float64{1, 2}, 1), outside},
		{"mean at nan", mean([]float64{1, 2}, nan), outside},
		{"slope at 95", slope(95), outside},
		{"welch of one", welch([]float64{1, 2}, []float64{1}), ErrTooFew},
		{"welch of inf", welch([]float64{1, 2}, []float64{1, inf}), ErrNotFinite},
		{"welch of equals", welch([]float64{0.1, 0.1, 0.1}, []float64{0.2, 0.2}), ErrNoSpread},
		{"fit of two", fit([]float64{1, 2}, []float64{1, 2}), ErrTooFew},
		{"fit of unequal", fit([]float64{1, 2, 3}, []float64{1, 2}), ErrUnequal},
		{"fit of one x", fit([]float64{0.1, 0.1, 0.1}, []float64{1, 2, 3}), ErrNoSpread},
		{"fit of nan", fit([]float64{1, 2, 3}, []float64{1, nan, 3}), ErrNotFinite},
		{"quantile of none", quantile(nil, 0.5), ErrTooFew},
		{"quantile 2", quantile([]float64{1}, 2), outside},
		{"quantile nan", quantile([]float64{1}, nan), outside},
		{"weights unequal", weighted([]float64{1}, nil), ErrUnequal},
		{"weights of none", weighted(nil, nil), ErrTooFew},
		{"weights all 0", weighted([]float64{1, 2}, []float64{0, 0}), ErrTooFew},
		{"weight below 0", weighted([]float64{1, 2}, []float64{2, -1}), outside},
		{"wilson of none", wilson(0, 0, 0.95), ErrTooFew},
		{"wilson of too many", wilson(3, 2, 0.95), outside},
		{"wilson at 2", wilson(1, 2, 2), outside},
	} {
		if c.want == outside {
			var r *science.RangeError
			if !errors.As(c.err, &r) {
				t.Errorf("%s: got %v, want a RangeError", c.name, c.err)
			}
		} else if !errors.Is(c.err, c.want) {
			t.Errorf("%s: got %v, want %v", c.name, c.err, c.want)
		}
	}
}

func TestFlatLineExplainsNothing(t *testing.T) {
	l, err := SlopeFit([]float64{1, 2, 3, 4}, []float64{0.1, 0.1, 0.1, 0.1})
	if err != nil || l.R2 != 0 || math.Abs(l.Slope) > 1e-15 {
		t.Errorf("%+v (%v)", l, err)
	}
}
