package stat

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// The table of ASTM E2587 (Standard Practice for Use of Control Charts in Statistical
// Process Control) for 2 to 10, as reprinted to four decimals in the vignette of the R
// package SixSigma, Shewhart Constants for Control Charts; A3 and E2 as reprinted to three
// from ASTM E2587 and the AIAG manual.
func TestFactorsMeetThePrintedTable(t *testing.T) {
	for _, row := range []struct {
		n                                                int
		d2, d3, c4, a2, dLow, dHigh, bLow, bHigh, a3, e2 float64
	}{
		{2, 1.1284, 0.8525, 0.7979, 1.8800, 0, 3.2665, 0, 3.2665, 2.659, 2.659}, // E2 is printed as 2.660 where d2 was rounded to 1.128 first
		{3, 1.6926, 0.8884, 0.8862, 1.0233, 0, 2.5746, 0, 2.5682, 1.954, 1.772},
		{4, 2.0588, 0.8798, 0.9213, 0.7286, 0, 2.2821, 0, 2.2660, 1.628, 1.457},
		{5, 2.3259, 0.8641, 0.9400, 0.5768, 0, 2.1145, 0, 2.0890, 1.427, 1.290},
		{6, 2.5344, 0.8480, 0.9515, 0.4832, 0, 2.0038, 0.0304, 1.9696, 1.287, 1.184},
		{7, 2.7044, 0.8332, 0.9594, 0.4193, 0.0757, 1.9243, 0.1177, 1.8823, 1.182, 1.109},
		{8, 2.8472, 0.8198, 0.9650, 0.3725, 0.1362, 1.8638, 0.1851, 1.8149, 1.099, 1.054},
		{9, 2.9700, 0.8078, 0.9693, 0.3367, 0.1840, 1.8160, 0.2391, 1.7609, 1.032, 1.010},
		{10, 3.0775, 0.7971, 0.9727, 0.3083, 0.2230, 1.7770, 0.2837, 1.7163, 0.975, 0.975},
		{15, 3.4718, 0.7562, 0.9823, 0.2231, 0.3466, 1.6534, 0.4282, 1.5718, 0.789, 0.864},
		{20, 3.7349, 0.7287, 0.9869, 0.1796, 0.4147, 1.5853, 0.5102, 1.4898, 0.680, 0.803},
	} {
		f, err := ChartFactors(row.n)
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range []struct {
			name      string
			got, want float64
			digits    float64
		}{{"d2", f.D2, row.d2, 4}, {"d3", f.D3, row.d3, 4}, {"c4", f.C4, row.c4, 4}, {"A2", f.A2, row.a2, 4}, {"D3", f.DLow, row.dLow, 4}, {"D4", f.DHigh, row.dHigh, 4},
			{"B3", f.BLow, row.bLow, 4}, {"B4", f.BHigh, row.bHigh, 4}, {"A3", f.A3, row.a3, 3}, {"E2", f.E2, row.e2, 3}} {
			if math.Abs(x.got-x.want) > 0.5*math.Pow(10, -x.digits)+1e-5 {
				t.Errorf("n = %d: %s is %.5f, the table says %v", row.n, x.name, x.got, x.want)
			}
		}
	}
	// of two: 2/sqrt(pi) and sqrt(2-4/pi), in closed form
	f, _ := ChartFactors(2)
	if math.Abs(f.D2-2/math.Sqrt(math.Pi)) > 1e-7 || math.Abs(f.D3-math.Sqrt(2-4/math.Pi)) > 1e-7 || math.Abs(f.C4-math.Sqrt(2/math.Pi)) > 1e-12 {
		t.Errorf("of two: d2 %.9f, d3 %.9f, c4 %.12f", f.D2, f.D3, f.C4)
	}
	for _, n := range []int{1, 101} {
		if _, err := ChartFactors(n); err == nil {
			t.Errorf("groups of %d were taken", n)
		}
	}
}

// NIST/SEMATECH e-Handbook 6.3.2.2.1, ten flow rates; figures from memory, and they
// follow from the data by hand: mean 50.81, mean moving range 1.8778.
func TestSinglesMeetTheHandbook(t *testing.T) {
	x := []float64{49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}
	v, r, err := ChartSingles(x, 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what      string
		got, want float64
	}{{"mean", v.Centre, 50.81}, {"upper limit", v.High[3], 55.8041}, {"lower limit", v.Low[9], 45.8159}, {"mean moving range", r.Centre, 1.8778}} {
		if math.Abs(c.got-c.want) > 2e-3 { // the handbook divides by 1.128, which is 1.12838
			t.Errorf("%s is %.4f, the handbook has %v", c.what, c.got, c.want)
		}
	}
	if len(v.Beyond()) != 0 || len(r.Points) != 9 {
		t.Errorf("beyond: %v, %d ranges", v.Beyond(), len(r.Points))
	}
	if _, _, err := ChartSingles(x[:1], 0); !errors.Is(err, ErrChart) {
		t.Errorf("one value: %v", err)
	}
}

// NIST/SEMATECH e-Handbook 6.3.2.4, twenty values; figures from memory, and they follow
// from the data by hand.
func TestWeightedMeetsTheHandbook(t *testing.T) {
	x := []float64{52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}
	want := []float64{50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99}
	c, err := ChartWeighted(x, 50, 2.0539, 0.3, 3)
	if err != nil {
		t.Fatal(err)
	}
	for i := range want {
		if math.Abs(c.Points[i]-want[i]) > 0.0051 {
			t.Errorf("point %d is %.4f, the handbook has %v", i+1, c.Points[i], want[i])
		}
	}
	if math.Abs(c.High[19]-52.5884) > 0.003 || math.Abs(c.Low[19]-47.4115) > 0.003 {
		t.Errorf("limits end at %.4f and %.4f", c.Low[19], c.High[19])
	}
	if got := 50 + 3*2.0539*0.3; math.Abs(c.High[0]-got) > 1e-9 {
		t.Errorf("the first limit is %v, one value's weight gives %v", c.High[0], got)
	}
}

// Champ and Woodall 1987: 370.40 points to a false alarm, 152.73 with eight in a row.
// The e-Handbook (6.3.2) says 371 for the first.
func TestRunLengthsMeetThePaper(t *testing.T) {
	for _, c := range []struct {
		shift float64
		run   int
		want  float64
	}{{0, 0, 370.40}, {0, 8, 152.73}, {1, 0, 43.89}, {2, 0, 6.30}, {3, 0, 2.00}} { // 43.89, 6.30, 2.00: Montgomery's table for the same chart, from memory
		got, err := RunLength(c.shift, c.run)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(got-c.want) > 0.006 {
			t.Errorf("shift %v, run %d: %.3f, published %v", c.shift, c.run, got, c.want)
		}
	}
	r := rand.New(rand.NewPCG(1, 1))
	const times = 20000
	total := 0
	for range times {
		in, last := 0, 0
		for {
			x := r.NormFloat64() + 0.5
			total++
			if s := side(x); s == last {
				in++
			} else {
				in, last = 1, s
			}
			if math.Abs(x) > 3 || in >= 9 {
				break
			}
		}
	}
	want, _ := RunLength(0.5, 9)
	if got := float64(total) / times; math.Abs(got-want) > 4*want/math.Sqrt(times) {
		t.Errorf("thrown: %.2f, reckoned: %.2f", got, want)
	}
	if a, _ := RunLength(0.7, 8); true {
		if b, _ := RunLength(-0.7, 8); math.Abs(a-b) > 1e-9 {
			t.Errorf("up %v, down %v", a, b)
		}
	}
}

// In-control rows go beyond the limit of ChartTogether as often as it says, also when it
// was learnt from few.
func TestTogetherCallsAsOftenAsItSays(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 2))
	row := func() []float64 {
		a := r.NormFloat64()
		return []float64{50 + 2*a, a + r.NormFloat64(), 3 * r.NormFloat64()}
	}
	const times, alpha = 4000, 0.05
	called := 0
	for range times {
		var known [][]float64
		for range 8 {
			known = append(known, row())
		}
		c, err := ChartTogether(known, [][]float64{row()}, alpha)
		if err != nil {
			t.Fatal(err)
		}
		called += len(c.Beyond())
	}
	if got := float64(called) / times; math.Abs(got-alpha) > 4*math.Sqrt(alpha*(1-alpha)/times) {
		t.Errorf("called at %.3f of sound rows, meant %v", got, alpha)
	}
	if _, err := ChartTogether([][]float64{{1, 2}, {2, 4}, {3, 6}, {4, 8}, {5, 10}}, nil, 0.05); !errors.Is(err, ErrNoSpread) {
		t.Errorf("columns in proportion: %v", err)
	}
}

func TestGroupsOfOneProcessStayWithin(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	outside, points := 0, 0
	for range 400 {
		var groups [][]float64
		for range 25 {
			groups = append(groups, []float64{r.NormFloat64(), r.NormFloat64(), r.NormFloat64(), r.NormFloat64()})
		}
		m, _, err := ChartGroups(groups)
		if err != nil {
			t.Fatal(err)
		}
		outside, points = outside+len(m.Beyond()), points+len(m.Points)
	}
	if got := float64(outside) / float64(points); got > 0.005 { // 0.0027 where limits are known
		t.Errorf("%.4f of the means lie outside", got)
	}
	if _, _, err := ChartGroups([][]float64{{1, 2}, {1, 2, 3}}); !errors.Is(err, ErrChart) {
		t.Errorf("unequal groups: %v", err)
	}
}

func TestRunsAreStretchesOnOneSide(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := ControlChart{Points: rapid.SliceOfN(rapid.Float64Range(-2, 2), 0, 40).Draw(t, "points")}
		n := rapid.IntRange(2, 9).Draw(t, "n")
		in := make([]bool, len(c.Points))
		for _, run := range c.Runs(n) {
			if run[1]-run[0]+1 < n {
				t.Fatalf("a stretch of %d", run[1]-run[0]+1)
			}
			for i := run[0]; i <= run[1]; i++ {
				in[i] = true
				if sideOf(c, i) != sideOf(c, run[0]) || sideOf(c, i) == 0 {
					t.Fatalf("point %d is on the other side", i)
				}
			}
		}
		for i := 0; i+n <= len(c.Points); i++ {
			same := sideOf(c, i) != 0
			for j := range n {
				same = same && sideOf(c, i+j) == sideOf(c, i)
			}
			if same && slices.Contains(in[i:i+n], false) {
				t.Fatalf("points %d to %d were missed", i, i+n-1)
			}
		}
	})
}
