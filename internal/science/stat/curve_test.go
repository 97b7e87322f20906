package stat

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

// TestGrowthMeetsRat42: the NIST StRD set Rat42 is a logistic, b1/(1+exp(b2-b3 x)):
// plateau b1, half-time b2/b3, onset (b2 - ln 9)/b3, by the certified values.
func TestGrowthMeetsRat42(t *testing.T) {
	data := sheet(t, "nist/nls_Rat42.csv")
	f, err := FitGrowth(Growth{Time: floats(t, data["x"]), Value: floats(t, data["y"]), Shape: Logistic})
	if err != nil {
		t.Fatal(err)
	}
	b1, b2, b3 := 7.2462237576e+01, 2.6180768402, 6.7359200066e-02
	wantDigits(t, "plateau", f.Plateau.Value, b1, 8)
	wantDigits(t, "half-time", f.Half.Value, b2/b3, 8)
	wantDigits(t, "onset", f.Onset.Value, (b2-math.Log(9))/b3, 7)
	wantDigits(t, "rate", f.Rate, b3, 8)
	wantDigits(t, "sigma", f.Sigma, 1.1587725499, 8)
	// the profile interval lies about the linearised one, certified sd 1.7340283401, and
	// leans upwards; t(0.975, 6) = 2.447 (NIST/SEMATECH e-Handbook table)
	if lo, hi := b1-2.447*1.7340283401, b1+2.447*1.7340283401; math.Abs(f.Plateau.Low-lo) > 1 || math.Abs(f.Plateau.High-hi) > 1.5 || f.Plateau.High < hi {
		t.Errorf("plateau %.3f to %.3f, linearised %.3f to %.3f", f.Plateau.Low, f.Plateau.High, lo, hi)
	}
	if !f.PlateauSeen || f.Doubt != "" {
		t.Errorf("%+v", f)
	}
}

func grown(shape GrowthShape, plateau, onset, half, noise float64, last int, seed uint64) Growth {
	r := rand.New(rand.NewPCG(seed, 3))
	g := Growth{Shape: shape}
	for i := range last {
		for range 2 {
			g.Time = append(g.Time, float64(i+1))
			g.Value = append(g.Value, growth(shape, plateau, onset, half, float64(i+1))+noise*r.NormFloat64())
		}
	}
	return g
}

func TestGrowthFindsTheTruth(t *testing.T) {
	for _, shape := range []GrowthShape{Logistic, Avrami} {
		f, err := FitGrowth(grown(shape, 0.8, 2.5, 6, 0.01, 16, 1))
		if err != nil {
			t.Fatal(shape, err)
		}
		for what, l := range map[string][2]Landmark{"plateau": {f.Plateau, {Value: 0.8}}, "onset": {f.Onset, {Value: 2.5}}, "half": {f.Half, {Value: 6}}} {
			if l[0].Open || !(l[0].Low < l[0].Value && l[0].Value < l[0].High) || math.Abs(l[0].Value-l[1].Value) > 0.05*l[1].Value+2*(l[0].High-l[0].Low) {
				t.Errorf("%s %s: %+v, truth %v", shape, what, l[0], l[1].Value)
			}
		}
		if !f.PlateauSeen {
			t.Errorf("%s: %s", shape, f.Doubt)
		}
		// the curve has a tenth and half of its plateau where it says
		wantDigits(t, "onset share", f.At(f.Onset.Value), 0.1*f.Plateau.Value, 9)
		wantDigits(t, "half share", f.At(f.Half.Value), 0.5*f.Plateau.Value, 9)
	}
}

// TestUnseenPlateauIsSaid: points that end far below the plateau can't tell it.
func TestUnseenPlateauIsSaid(t *testing.T) {
	for _, shape := range []GrowthShape{Logistic, Avrami} {
		f, err := FitGrowth(grown(shape, 0.8, 10, 24, 0.02, 12, 2))
		if err != nil {
			if !errors.Is(err, ErrNoFit) {
				t.Error(shape, err)
			}
			continue
		}
		if f.PlateauSeen || f.Doubt == "" {
			t.Errorf("%s: plateau %+v is said to be seen", shape, f.Plateau)
		}
	}
}

func TestGrowthThatIsNoneIsRefused(t *testing.T) {
	flat := grown(Logistic, 0, 1, 2, 0.01, 12, 5)
	if f, err := FitGrowth(flat); err == nil && f.PlateauSeen {
		t.Errorf("noise about nothing: %+v", f)
	}
	same := Growth{Time: []float64{1, 2, 3, 4, 5, 6}, Value: []float64{2, 2, 2, 2, 2, 2}, Shape: Avrami}
	if _, err := FitGrowth(same); !errors.Is(err, ErrNoSpread) {
		t.Error(err)
	}
	few := Growth{Time: []float64{1, 1, 1, 2, 2, 3}, Value: []float64{1, 2, 3, 4, 5, 6}, Shape: Avrami}
	if _, err := FitGrowth(few); !errors.Is(err, ErrTooFew) {
		t.Error(err)
	}
	share := Growth{Time: []float64{1, 2, 3, 4, 5, 6}, Value: []float64{0, 0.1, 0.3, 0.6, 0.9, 1.2}, Shape: Avrami, Logit: true}
	if _, err := FitGrowth(share); !errors.Is(err, ErrModel) {
		t.Error(err)
	}
}

// TestCoverageStaysBelowOne: on the logit scale neither the plateau nor its interval
// passes 1.
func TestCoverageStaysBelowOne(t *testing.T) {
	g := grown(Avrami, 0.97, 2, 5, 0, 14, 6)
	r := rand.New(rand.NewPCG(6, 6))
	for i, v := range g.Value {
		x := math.Log(v/(1-v)) + 0.15*r.NormFloat64()
		g.Value[i] = expit(x)
	}
	g.Logit = true
	g.Points = 1e4
	f, err := FitGrowth(g)
	if err != nil {
		t.Fatal(err)
	}
	if !(f.Plateau.Low > 0.9 && f.Plateau.High <= 1 && f.Plateau.Low < 0.97 && 0.97 < f.Plateau.High) {
		t.Errorf("%+v", f.Plateau)
	}
	if !(f.Half.Low < 5 && 5 < f.Half.High) {
		t.Errorf("%+v", f.Half)
	}
}

// TestGrowthIntervalsCoverAsOftenAsTheySay draws 40 series from a known curve; three
// standard errors of the count are allowed.
func TestGrowthIntervalsCoverAsOftenAsTheySay(t *testing.T) {
	const runs = 40
	held := map[string]int{}
	for i := range uint64(runs) {
		g := grown(Avrami, 0.8, 2.5, 6, 0.03, 12, 100+i)
		g.Conf = 0.9
		f, err := FitGrowth(g)
		if err != nil {
			t.Fatal(err)
		}
		for what, l := range map[string][2]float64{"plateau": {f.Plateau.Low - 0.8, f.Plateau.High - 0.8}, "onset": {f.Onset.Low - 2.5, f.Onset.High - 2.5}, "half": {f.Half.Low - 6, f.Half.High - 6}} {
			if l[0] <= 0 && 0 <= l[1] {
				held[what]++
			}
		}
	}
	for what, n := range held {
		if math.Abs(float64(n)-0.9*runs) > 3*math.Sqrt(0.09*runs) {
			t.Errorf("the 90%% interval of the %s held the truth %d times of %d", what, n, runs)
		}
	}
}

func BenchmarkGrowth(b *testing.B) {
	g := grown(Avrami, 0.8, 2.5, 6, 0.02, 12, 1)
	for b.Loop() {
		if _, err := FitGrowth(g); err != nil {
			b.Fatal(err)
		}
	}
}
