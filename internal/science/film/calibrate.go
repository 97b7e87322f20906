package film

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"aerugo/internal/science"
)

// Weighing is a cap filled with dry salt, weighed before and after some hours in
// a running chamber, crystals still showing at the end.
type Weighing struct {
	Salt           string
	SaltG          float64 // dry salt in the cap
	BeforeG        float64 // cap and salt before
	AfterG         float64 // and after
	BalanceG       float64 // standard deviation of one reading
	AreaM2         float64 // of the cap's opening
	AreaShare      float64 // standard deviation of the area, as a share of it
	Hours          float64
	Air            Air             // mean air over those hours
	AirTemperature science.Celsius // of that air
	Temperature    science.Celsius // of the cap
}

// Transfer is a mass transfer coefficient in m/s with its 95 % interval. Low is
// 0 or High +Inf where nothing bounds it on that side.
type Transfer struct {
	K, Low, High float64
	How          string
}

// ErrAllDissolved says that the cap's salt had all dissolved, so that its gain
// no longer tells how fast the air brings water.
var ErrAllDissolved = errors.New("all the salt in the cap had dissolved; fill it higher or weigh it sooner")

// ErrNoGain says that the cap gained too little to tell anything.
var ErrNoGain = errors.New("the cap gained no more than the balance may err; leave it in longer, or use a wider cap")

// ErrNoUptake says that in this air the salt takes up no water.
var ErrNoUptake = errors.New("in this air the salt takes up no water")

// KFromWeighing returns the mass transfer coefficient that a weighed cap tells.
// While crystals are left the film's activity stays put, so that k is what was
// gained, less the ammonia in it, by area, time and drive. The interval joins
// the balance and the area; the strength of the bath is the caller's to vary.
func KFromWeighing(w Weighing) (Transfer, error) {
	for _, v := range []struct {
		what     string
		got      float64
		min, max float64
		unit     string
	}{
		{"salt in the cap", w.SaltG, 1e-3, 1e4, "g"},
		{"area of the cap", w.AreaM2, 1e-6, 1, "m2"},
		{"hours in the chamber", w.Hours, 0.05, 1000, "h"},
		{"spread of the balance", w.BalanceG, 0, 10, "g"},
		{"spread of the area", w.AreaShare, 0, 0.5, ""},
		{"weight before", w.BeforeG, 0, 1e5, "g"},
		{"weight after", w.AfterG, 0, 1e5, "g"},
	} {
		if !(v.got >= v.min && v.got <= v.max) {
			return Transfer{}, &science.RangeError{What: v.what, Got: v.got, Min: v.min, Max: v.max, Unit: v.unit}
		}
	}
	b, err := NewBrine(w.Salt, w.Temperature)
	if err != nil {
		return Transfer{}, err
	}
	if b.Salt.Key == "" {
		return Transfer{}, errors.New("the cap needs a salt")
	}
	drive := b.Flux(w.Air, w.AirTemperature, 1, 1, 0)
	if drive <= 0 {
		return Transfer{}, ErrNoUptake
	}
	gain, sd := w.AfterG-w.BeforeG, w.BalanceG*math.Sqrt2
	if gain <= 2*sd || gain <= 0 {
		return Transfer{}, ErrNoGain
	}
	withAmmonia := 1 + b.Ammonia(w.Air.NH3, b.Saturated)*molarAmmonia/1000
	water := gain / withAmmonia
	if water*b.Solubility >= w.SaltG {
		return Transfer{}, ErrAllDissolved
	}
	k := water / (w.AreaM2 * w.Hours * 3600 * drive)
	share := distuv.UnitNormal.Quantile(0.975) * math.Hypot(sd/gain, w.AreaShare)
	return Transfer{
		K: k, Low: k * math.Exp(-share), High: k * math.Exp(share),
		How: fmt.Sprintf("%.3g g gained in %.3g h by a cap of %.3g cm², of which %.0f %% is ammonia", gain, w.Hours, 1e4*w.AreaM2, 100*(1-1/withAmmonia)),
	}, nil
}

// Seen is one face watched for its salt to dissolve.
type Seen struct {
	NotYet float64 // h: crystals were still seen then; 0 if it was not looked at before By
	By     float64 // h: none were left then; +Inf if that was never seen
	// Takes returns the hours the model needs at a coefficient of times the one
	// it would take by itself; +Inf if the salt never dissolves.
	Takes func(times float64) (float64, error)
}

// Scatter is the assumed spread of real dissolving times round the model's, as a
// standard deviation of their logarithm (common practice, no source).
const Scatter = 0.25

const (
	leastTimes, mostTimes = 0.05, 20.0
	timesNodes            = 61
	timesFine             = 20 // between two nodes
)

// KFromDissolving returns the most likely multiplier of the model's own transfer
// coefficient, between 0.05 and 20, from faces seen not yet dissolved and then
// dissolved, with a 95 % profile-likelihood interval (half the 0.95 point of
// chi-squared with one degree of freedom below the peak). Times scatter
// log-normally round the model's, by scatter in ln t. Low is 0 or High +Inf when
// the faces say nothing on that side.
func KFromDissolving(seen []Seen, scatter float64) (Transfer, error) {
	if len(seen) == 0 {
		return Transfer{}, errors.New("no face was watched")
	}
	if !(scatter >= 0.02 && scatter <= 2) {
		return Transfer{}, &science.RangeError{What: "scatter", Got: scatter, Min: 0.02, Max: 2}
	}
	for _, s := range seen {
		if !(s.NotYet >= 0 && s.By > s.NotYet) || s.Takes == nil {
			return Transfer{}, fmt.Errorf("a face was seen undissolved at %v h and dissolved by %v h; the second must be later", s.NotYet, s.By)
		}
	}
	// ln t against ln times is all but a straight line, so that nodes a tenth
	// apart and straight lines between them are within a thousandth.
	step := math.Log(mostTimes/leastTimes) / (timesNodes - 1)
	lnT := make([][]float64, len(seen))
	for i, s := range seen {
		lnT[i] = make([]float64, timesNodes)
		for j := range timesNodes {
			t, err := s.Takes(leastTimes * math.Exp(float64(j)*step))
			if err != nil {
				return Transfer{}, err
			}
			lnT[i][j] = math.Log(t)
		}
	}
	n := (timesNodes-1)*timesFine + 1
	like := make([]float64, n)
	best := math.Inf(-1)
	for i := range like {
		j, frac := i/timesFine, float64(i%timesFine)/timesFine
		for f, s := range seen {
			mid := lnT[f][j]
			if frac > 0 {
				mid = (1-frac)*mid + frac*lnT[f][j+1]
			}
			like[i] += lnBetween(s.NotYet, s.By, mid, scatter)
		}
		best = max(best, like[i])
	}
	if math.IsInf(best, -1) {
		return Transfer{}, errors.New("no coefficient within a factor of 20 explains what was seen; check the times, the loadings and the temperature")
	}
	at := func(i int) float64 { return leastTimes * math.Exp(float64(i)*step/timesFine) }
	drop := distuv.ChiSquared{K: 1}.Quantile(0.95) / 2
	// A flat top has no single peak: its middle is taken.
	var first, last, low, high = -1, -1, -1, -1
	for i, l := range like {
		if l >= best-1e-9 {
			if first < 0 {
				first = i
			}
			last = i
		}
		if l >= best-drop {
			if low < 0 {
				low = i
			}
			high = i
		}
	}
	t := Transfer{K: math.Sqrt(at(first) * at(last)), Low: at(low), High: at(high),
		How: fmt.Sprintf("most likely for %d faces watched, whose times scatter by %.0f %%", len(seen), 100*scatter)}
	if low == 0 {
		t.Low = 0
	}
	if high == n-1 {
		t.High = math.Inf(1)
	}
	return t, nil
}

// lnBetween is the logarithm of the chance that a time whose logarithm is normal
// round mid lies between from and to hours.
func lnBetween(from, to, mid, scatter float64) float64 {
	if math.IsInf(mid, 1) || math.IsNaN(mid) {
		if math.IsInf(to, 1) {
			return 0
		}
		return math.Inf(-1)
	}
	if math.IsInf(mid, -1) {
		// It dissolves at once.
		if from == 0 {
			return 0
		}
		return math.Inf(-1)
	}
	a, b := (math.Log(from)-mid)/scatter, (math.Log(to)-mid)/scatter
	if a > 0 {
		// The difference of two small upper tails, not of two numbers near one.
		a, b = -b, -a
	}
	return math.Log(distuv.UnitNormal.CDF(b) - distuv.UnitNormal.CDF(a))
}
