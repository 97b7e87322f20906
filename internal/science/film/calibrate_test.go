package film

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

// takes is a face whose time goes as one over the coefficient, as it all but does.
func takes(hours float64) func(float64) (float64, error) {
	return func(times float64) (float64, error) { return hours / times, nil }
}

// TestOneFaceIsMostLikelyInTheMiddle: for one interval the likelihood of a
// log-normal time is greatest where the model's time is its geometric middle.
func TestOneFaceIsMostLikelyInTheMiddle(t *testing.T) {
	k, err := KFromDissolving([]Seen{{NotYet: 3, By: 5, Takes: takes(4.9)}}, 0.25)
	if err != nil {
		t.Fatal(err)
	}
	if want := 4.9 / math.Sqrt(15); math.Abs(k.K/want-1) > 0.005 {
		t.Errorf("k %v, want %v", k.K, want)
	}
	if !(k.Low < k.K && k.K < k.High) || k.Low == 0 || math.IsInf(k.High, 1) {
		t.Errorf("interval %v to %v", k.Low, k.High)
	}
}

// TestNarrowIntervalsGiveTheMean: when the times are known all but exactly, the
// likeliest k is the geometric mean and its 95 % interval 1.96 scatter/sqrt(n) in
// ln k (normal theory, known standard deviation).
func TestNarrowIntervalsGiveTheMean(t *testing.T) {
	var seen []Seen
	mean := 0.0
	for i, hours := range []float64{2.0, 2.6, 3.1, 2.2, 2.9, 2.4} {
		model := 2.5 + 0.1*float64(i)
		mean += math.Log(model/hours) / 6
		seen = append(seen, Seen{NotYet: hours * 0.999, By: hours * 1.001, Takes: takes(model)})
	}
	k, err := KFromDissolving(seen, 0.2)
	if err != nil {
		t.Fatal(err)
	}
	half := 1.959964 * 0.2 / math.Sqrt(6)
	if math.Abs(math.Log(k.K)-mean) > 0.006 || math.Abs(math.Log(k.Low)-mean+half) > 0.01 || math.Abs(math.Log(k.High)-mean-half) > 0.01 {
		t.Errorf("%+v, want %v (%v to %v)", k, math.Exp(mean), math.Exp(mean-half), math.Exp(mean+half))
	}
}

// TestIntervalCoversAsOftenAsItSays: 95 % intervals over 400 invented studios with
// known k hold it in 92 to 98 of a hundred (three standard errors).
func TestIntervalCoversAsOftenAsItSays(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 11))
	const rounds = 400
	held := 0
	for range rounds {
		truth := math.Exp(r.NormFloat64() * 0.4)
		var seen []Seen
		for range 6 {
			model := 1 + 7*r.Float64()
			at := model / truth * math.Exp(Scatter*r.NormFloat64())
			// It is looked at every hour and a half or so, for twelve hours.
			s := Seen{By: math.Inf(1), Takes: takes(model)}
			for look := 0.0; look < 12; {
				look += 1 + r.Float64()
				if at <= look {
					s.By = look
					break
				}
				s.NotYet = look
			}
			seen = append(seen, s)
		}
		k, err := KFromDissolving(seen, Scatter)
		if err != nil {
			t.Fatal(err)
		}
		if k.Low <= truth && truth <= k.High {
			held++
		}
	}
	t.Logf("held in %d of %d", held, rounds)
	if share := float64(held) / rounds; share < 0.92 || share > 0.98 {
		t.Errorf("the interval held the truth in %.3f", share)
	}
}

func TestFacesThatBoundOneSideOnlySaySo(t *testing.T) {
	k, err := KFromDissolving([]Seen{{NotYet: 6, By: math.Inf(1), Takes: takes(5)}}, 0.25)
	if err != nil || k.Low != 0 || k.High > 2 {
		t.Errorf("never seen dissolved: %+v %v", k, err)
	}
	k, err = KFromDissolving([]Seen{{NotYet: 0, By: 2, Takes: takes(5)}}, 0.25)
	if err != nil || !math.IsInf(k.High, 1) || k.Low < 1 {
		t.Errorf("seen dissolved at the first look: %+v %v", k, err)
	}
}

func TestWhatCannotBeFittedIsAnError(t *testing.T) {
	never := func(float64) (float64, error) { return math.Inf(1), nil }
	for name, seen := range map[string][]Seen{
		"none": nil, "turned round": {{NotYet: 5, By: 3, Takes: takes(4)}}, "never by the model": {{NotYet: 1, By: 3, Takes: never}},
		"not a number": {{NotYet: math.NaN(), By: 3, Takes: takes(4)}},
	} {
		if k, err := KFromDissolving(seen, 0.25); err == nil {
			t.Errorf("%s gave %+v", name, k)
		}
	}
	if _, err := KFromDissolving([]Seen{{NotYet: 1, By: 3, Takes: takes(2)}}, 0); err == nil {
		t.Error("no scatter at all was taken")
	}
}

// TestWeighedCapGivesBackItsK weighs a cap that took up water at a known k.
func TestWeighedCapGivesBackItsK(t *testing.T) {
	b := brine(t, "sodium-chloride", 20)
	air := brine(t, "", 20).Over(5.8)
	const k, area, hours = 6.2e-4, 8e-4, 5.0
	water := 3600 * hours * area * b.Flux(air, 20, k, 1, 0)
	gain := water * (1 + b.Ammonia(air.NH3, b.Saturated)*molarAmmonia/1000)
	w := Weighing{Salt: "sodium-chloride", SaltG: 5, BeforeG: 7, AfterG: 7 + gain, BalanceG: 0.001, AreaM2: area, AreaShare: 0.03, Hours: hours, Air: air, AirTemperature: 20, Temperature: 20}
	got, err := KFromWeighing(w)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(got.K/k-1) > 1e-9 || !(got.Low < k && k < got.High) {
		t.Errorf("%+v, want %v", got, k)
	}
	// One standard deviation of gain and area together, times 1.96.
	if half := math.Log(got.High / got.K); math.Abs(half-1.96*math.Hypot(0.001*math.Sqrt2/gain, 0.03)) > 1e-4 {
		t.Errorf("half width %v", half)
	}
	for name, c := range map[string]struct {
		change func(*Weighing)
		want   error
	}{
		"all dissolved": {func(w *Weighing) { w.SaltG = 0.01 }, ErrAllDissolved},
		"no gain":       {func(w *Weighing) { w.AfterG = w.BeforeG + 0.001 }, ErrNoGain},
		"lost weight":   {func(w *Weighing) { w.AfterG = w.BeforeG - 1 }, ErrNoGain},
		"dry air":       {func(w *Weighing) { w.Air.H2O = 100 }, ErrNoUptake},
	} {
		bad := w
		c.change(&bad)
		if _, err := KFromWeighing(bad); !errors.Is(err, c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
