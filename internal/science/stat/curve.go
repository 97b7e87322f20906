package stat

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// GrowthShape is how something grows with time towards a plateau.
type GrowthShape string

// The shapes. Both are written by the plateau, the onset (when a tenth of the plateau is
// reached) and the half-time, so that each gets an interval of its own.
const (
	// Logistic is plateau / (1 + exp(-k (t - half))).
	Logistic GrowthShape = "logistic"
	// Avrami is plateau (1 - exp(-(k t)^n)): islands that appear and spread until they
	// meet (Johnson and Mehl 1939; Avrami 1939; Kolmogorov 1937).
	Avrami GrowthShape = "avrami"
)

// OnsetShare is the share of the plateau that counts as the onset.
const OnsetShare = 0.1

// Growth is a series to fit: values at times of 0 or more, in any unit.
type Growth struct {
	Time, Value []float64
	Shape       GrowthShape
	// Logit takes the values as shares from 0 to 1 whose scatter is even on the logit
	// scale, as that of coverage is; the plateau then stays below 1. Shares of exactly 0
	// or 1 are drawn in by half a count of Points.
	Logit  bool
	Points float64 // for Logit: how many independent places a share was counted from; 0 means 100
	Conf   float64 // of the intervals; 0 means 0.95
}

// Landmark is a number of the curve with its profile likelihood interval; an open end
// is infinite (or 0 below, for a time).
type Landmark struct {
	Value, Low, High float64
	Open             bool // the data do not bound it on one side
}

// GrowthFit is a fitted growth curve.
type GrowthFit struct {
	Plateau, Onset, Half Landmark
	Exponent             float64 // Avrami's n; the logistic's k times its half-time
	Rate                 float64 // k, per unit of time
	Sigma                float64 // on the logit scale with Logit
	DF                   int
	PlateauSeen          bool   // the plateau is bounded by the data
	Doubt                string // why not, in a sentence; empty when it is

	shape GrowthShape
}

// At returns the curve's height.
func (g *GrowthFit) At(t float64) float64 {
	return growth(g.shape, g.Plateau.Value, g.Onset.Value, g.Half.Value, t)
}

var (
	onsetLogit  = math.Log((1 - OnsetShare) / OnsetShare)
	onsetAvrami = -math.Log1p(-OnsetShare)
)

func growth(shape GrowthShape, plateau, onset, half, t float64) float64 {
	if shape == Logistic {
		return plateau * expit(onsetLogit*(t-half)/(half-onset))
	}
	if t <= 0 {
		return 0
	}
	n := math.Log(math.Ln2/onsetAvrami) / math.Log(half/onset)
	return plateau * -math.Expm1(-math.Ln2*math.Pow(t/half, n))
}

// FitGrowth fits a growth curve with profile likelihood intervals (Venzon and
// Moolgavkar 1988; Bates and Watts 1988). Six points at four or more times are the least.
// ErrNoFit says that these data hold no such curve, ErrNoSpread that nothing grew.
func FitGrowth(g Growth) (*GrowthFit, error) {
	if g.Conf == 0 {
		g.Conf = 0.95
	}
	if _, err := critical(g.Conf, 10); err != nil {
		return nil, err
	}
	if g.Shape != Logistic && g.Shape != Avrami {
		return nil, fmt.Errorf("%w: there is no growth shape %q", ErrModel, g.Shape)
	}
	if len(g.Time) != len(g.Value) {
		return nil, ErrUnequal
	}
	if err := need(6, g.Time, g.Value); err != nil {
		return nil, err
	}
	times := slices.Clone(g.Time)
	slices.Sort(times)
	times = slices.Compact(times)
	if len(times) < 4 {
		return nil, fmt.Errorf("%w: %d different times given, 4 needed", ErrTooFew, len(times))
	}
	if times[0] < 0 {
		return nil, fmt.Errorf("%w: a time is below 0", ErrModel)
	}
	if allSame(g.Value) {
		return nil, ErrNoSpread
	}
	p := profile{g: g, y: slices.Clone(g.Value), last: times[len(times)-1]}
	if g.Logit {
		if g.Points == 0 {
			p.g.Points = 100
		}
		for i, v := range p.y {
			if v < 0 || v > 1 {
				return nil, fmt.Errorf("%w: the share %v is not from 0 to 1", ErrModel, v)
			}
			v = (v*(p.g.Points-1) + 0.5) / p.g.Points
			p.y[i] = math.Log(v / (1 - v))
		}
	}
	return p.fit()
}

// profile fits with some landmarks held. Its parameters are the plateau (its log, or its
// logit with Logit), the log of the half-time, and the log of half-time over onset (for
// the logistic: the log of half-time less onset).
type profile struct {
	g    Growth
	y    []float64
	last float64
}

func (p *profile) plateauOf(a float64) float64 {
	if p.g.Logit {
		return expit(a)
	}
	return a
}

func (p *profile) toPlateau(v float64) float64 {
	if p.g.Logit {
		return math.Log(v / (1 - v))
	}
	return v
}

func (p *profile) height(plateau, onset, half float64, i int) float64 {
	h := growth(p.g.Shape, plateau, onset, half, p.g.Time[i])
	if !p.g.Logit {
		return h
	}
	// the curve's floor is what a share of none counts as
	h = (h*(p.g.Points-1) + 0.5) / p.g.Points
	return math.Log(h / (1 - h))
}

// rise turns the third parameter and the half-time into the onset.
func (p *profile) onsetOf(half, r float64) float64 {
	if p.g.Shape == Logistic {
		return half - math.Exp(r)
	}
	return half / (1 + math.Exp(r))
}

func (p *profile) toRise(half, onset float64) float64 {
	if p.g.Shape == Logistic {
		return math.Log(half - onset)
	}
	return math.Log(half/onset - 1)
}

func (p *profile) starts() [][]float64 {
	top := slices.Max(p.g.Value)
	if p.g.Logit {
		top = min(max(top, 0.05), 0.98)
	}
	var out [][]float64
	for _, more := range []float64{1, 1.5} {
		plateau := top * more
		if p.g.Logit {
			plateau = min(plateau, 0.99)
		}
		for _, half := range []float64{0.15, 0.4, 0.75} {
			for _, early := range []float64{0.25, 0.7} {
				h := half * p.last
				out = append(out, []float64{p.toPlateau(plateau), math.Log(h), p.toRise(h, h*early)})
			}
		}
	}
	return out
}

func (p *profile) curve() Curve {
	return Curve{Names: []string{"the plateau", "the half-time", "the onset"}, At: func(q []float64, i int) float64 {
		half := math.Exp(q[1])
		return p.height(p.plateauOf(q[0]), p.onsetOf(half, q[2]), half, i)
	}, Allowed: func(q []float64) bool {
		return math.Abs(q[1]) < 60 && math.Abs(q[2]) < 60 && (!p.g.Logit || math.Abs(q[0]) < 40)
	}}
}

func (p *profile) fit() (*GrowthFit, error) {
	var best *CurveFit
	var first error
	for _, start := range p.starts() {
		f, err := fitCurve(p.curve(), p.y, start, quick)
		if err != nil {
			if first == nil {
				first = err
			}
			continue
		}
		if best == nil || f.RSS < best.RSS {
			best = f
		}
	}
	if best == nil {
		if errors.Is(first, ErrNoFit) {
			return nil, fmt.Errorf("%w: these points do not show a rise with a bend", ErrNoFit)
		}
		return nil, first
	}
	half := math.Exp(best.params[1])
	plateau, onset := p.plateauOf(best.params[0]), p.onsetOf(half, best.params[2])
	if plateau <= 0 || half > 1e3*p.last {
		return nil, fmt.Errorf("%w: these points do not show a rise with a bend", ErrNoFit)
	}
	_, squares := meanAndSquares(p.y)
	if best.RSS > 0.95*squares {
		return nil, fmt.Errorf("%w: the curve explains no more than a flat line does", ErrNoFit)
	}
	f := &GrowthFit{Sigma: best.Sigma, DF: best.DF, shape: p.g.Shape}
	limit := best.RSS*(1+distuv.F{D1: 1, D2: float64(best.DF)}.Quantile(p.g.Conf)/float64(best.DF)) + 1e-300
	f.Plateau = p.plateauInterval(best, plateau, limit)
	f.Half = p.timeInterval(best, half, limit, true)
	f.Onset = p.timeInterval(best, onset, limit, false)
	if p.g.Shape == Logistic {
		f.Rate = onsetLogit / (half - onset)
		f.Exponent = f.Rate * half
	} else {
		f.Exponent = math.Log(math.Ln2/onsetAvrami) / math.Log(half/onset)
		f.Rate = math.Pow(math.Ln2, 1/f.Exponent) / half
	}
	f.judge(p)
	return f, nil
}

// judge says whether the plateau was seen.
func (f *GrowthFit) judge(p *profile) {
	reached := f.At(p.last) / f.Plateau.Value
	switch {
	case f.Plateau.Open:
		f.Doubt = "It was still growing at the last look: these points do not bound the plateau, and the half-time and onset lean on it; look later."
	case reached < 0.8:
		f.Doubt = fmt.Sprintf("The last look came at %.0f %% of the fitted plateau, so the plateau is foretold, not seen; look later.", 100*reached)
	default:
		f.PlateauSeen = true
	}
}

// quick and timid are single attempts: many starts or a start close by make more
// needless.
var (
	quick = []attempt{{1e-3, false, math.Inf(1), 150}}
	timid = []attempt{{1, false, math.Inf(1), 150}}
)

// least returns the least sum of squares with one landmark held, starting from other
// parameters; it is infinite when no fit is found.
func (p *profile) least(held func(q []float64) (plateau, onset, half float64, ok bool), start []float64) (float64, []float64) {
	c := Curve{Names: []string{"a", "b"}, At: func(q []float64, i int) float64 {
		plateau, onset, half, _ := held(q)
		return p.height(plateau, onset, half, i)
	}, Allowed: func(q []float64) bool {
		_, _, _, ok := held(q)
		return ok
	}}
	f, err := fitCurve(c, p.y, start, quick)
	if err != nil {
		f, err = fitCurve(c, p.y, start, timid)
	}
	if err != nil {
		return math.Inf(1), start
	}
	return f.RSS, f.params
}

func (p *profile) plateauInterval(best *CurveFit, plateau, limit float64) Landmark {
	held := func(v float64, from []float64) (float64, []float64) {
		return p.least(func(q []float64) (float64, float64, float64, bool) {
			half := math.Exp(q[0])
			return v, p.onsetOf(half, q[1]), half, math.Abs(q[0]) < 60 && math.Abs(q[1]) < 60
		}, from)
	}
	l := Landmark{Value: plateau}
	step := 0.05 * plateau
	if p.g.Logit {
		// walk on the logit scale
		a := best.params[0]
		walk := func(d float64, from []float64) (float64, []float64) { return held(expit(a+d), from) }
		low, lowOpen := edge(walk, best.params[1:], -1, 0.1, limit, 12)
		high, highOpen := edge(walk, best.params[1:], 1, 0.1, limit, 12)
		l.Low, l.High, l.Open = expit(a-low), expit(a+high), highOpen || lowOpen
		if highOpen {
			l.High = 1
		}
		if lowOpen {
			l.Low = 0
		}
		return l
	}
	walk := func(d float64, from []float64) (float64, []float64) { return held(plateau+d, from) }
	low, lowOpen := edge(walk, best.params[1:], -1, step, limit, 0.999*plateau)
	high, highOpen := edge(walk, best.params[1:], 1, step, limit, 20*plateau)
	l.Low, l.High, l.Open = plateau-low, plateau+high, highOpen || lowOpen
	if highOpen {
		l.High = math.Inf(1)
	}
	if lowOpen {
		l.Low = 0
	}
	return l
}

func (p *profile) timeInterval(best *CurveFit, value, limit float64, isHalf bool) Landmark {
	held := func(v float64, from []float64) (float64, []float64) {
		return p.least(func(q []float64) (float64, float64, float64, bool) {
			plateau := p.plateauOf(q[0])
			ok := math.Abs(q[1]) < 60 && (!p.g.Logit || math.Abs(q[0]) < 40)
			if isHalf {
				return plateau, p.onsetOf(v, q[1]), v, ok && v > 0
			}
			if p.g.Shape == Logistic {
				half := v + math.Exp(q[1])
				return plateau, v, half, ok && half > 0
			}
			return plateau, v, v * (1 + math.Exp(q[1])), ok && v > 0
		}, from)
	}
	from := []float64{best.params[0], best.params[2]}
	l := Landmark{Value: value}
	span := p.last
	floor := span * 10
	if p.g.Shape == Avrami || isHalf {
		floor = value * (1 - 1e-6)
	}
	walk := func(d float64, from []float64) (float64, []float64) { return held(value+d, from) }
	step := max(0.02*math.Abs(value), 1e-4*span)
	low, lowOpen := edge(walk, from, -1, min(step, floor/4), limit, floor)
	high, highOpen := edge(walk, from, 1, step, limit, 20*span)
	l.Low, l.High, l.Open = value-low, value+high, lowOpen || highOpen
	if lowOpen {
		l.Low = 0
		if p.g.Shape == Logistic && !isHalf {
			l.Low = math.Inf(-1)
		}
	}
	if highOpen {
		l.High = math.Inf(1)
	}
	return l
}

// edge walks away from the best fit until the least sum of squares passes limit, and
// returns how far that is; open says that it does not within reach.
func edge(walk func(d float64, from []float64) (float64, []float64), from []float64, sign, step, limit, reach float64) (at float64, open bool) {
	inside, outside := 0.0, 0.0
	place := from
	for d := step; ; d = min(d*1.7, reach) {
		rss, q := walk(sign*d, place)
		if rss > limit {
			outside = d
			break
		}
		inside, place = d, q
		if d >= reach {
			return reach, true
		}
	}
	for range 50 {
		d := (inside + outside) / 2
		if outside-inside < 1e-5*outside {
			break
		}
		if rss, q := walk(sign*d, place); rss > limit {
			outside = d
		} else {
			inside, place = d, q
		}
	}
	return (inside + outside) / 2, false
}
