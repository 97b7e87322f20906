package learn

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sort"
	"time"

	"aerugo/internal/science/colour"
	"aerugo/internal/science/stat"
	"aerugo/internal/studio"
)

// An Instant is a look after some hours: of one swatch of a ladder, or one photograph
// of a face through time. Coverage is a fraction, NaN when not known. Coloured is
// false when the colour may not be compared (no grey patch).
type Instant struct {
	Hours    float64
	Lab      colour.Lab
	Coloured bool
	Coverage float64
	Swatch   int64
}

// Instants returns a ladder of times as instants; it reports false when the set does not
// vary one time, or nothing else than that.
func Instants(set studio.Set, points []Point) ([]Instant, bool) {
	if len(set.Factors) != 1 || set.Factors[0].Kind != studio.ByMinutes {
		return nil, false
	}
	used, _, _ := split(set, points)
	var out []Instant
	for _, c := range ladderCells(set.Factors[0], used) {
		for _, u := range c.units {
			in := Instant{Hours: c.x / 60, Lab: lab(u.values), Coloured: true, Coverage: math.NaN(), Swatch: u.swatch}
			if u.hasCover {
				in.Coverage = u.covered
			}
			out = append(out, in)
		}
	}
	return out, len(out) > 0
}

// GrowthOf is what grew.
type GrowthOf string

// What grows.
const (
	Covering  GrowthOf = "coverage"
	Colouring GrowthOf = "colour"
)

// A Growth is one curve through the instants: times in hours, with 95 % profile
// likelihood intervals. The plateau of the coverage is a fraction, that of the colour a
// distance in CIELAB from the first look along the way to the last. Why says in a
// sentence why there is no curve; the rest is then empty.
type Growth struct {
	Of                   GrowthOf
	Shape                stat.GrowthShape
	Onset, Half, Plateau stat.Landmark
	Words                string
	Doubt                string
	Why                  string
	First                float64 // hours from which a colour's change is counted
	seen                 bool    // the plateau
	fit                  *stat.GrowthFit
}

// alike is how much more a shape may leave over and still pass for fitting as well.
const alike = 1.5

// At returns the curve after some hours.
func (g Growth) At(h float64) float64 {
	if g.fit == nil {
		return math.NaN()
	}
	return g.fit.At(h - g.First)
}

// Grow fits coverage and colour against time, each by the logistic or Avrami's curve,
// whichever leaves less over. Coverage is read on the logit scale. It returns what could
// be fitted and why the rest could not.
func Grow(instants []Instant) []Growth {
	var h, share []float64
	for _, x := range instants {
		if !math.IsNaN(x.Coverage) {
			h, share = append(h, x.Hours), append(share, x.Coverage)
		}
	}
	out := []Growth{curve(Covering, h, share, 0)}
	return append(out, colouring(instants))
}

// colouring measures how far each look has gone from the first looks towards the last.
func colouring(instants []Instant) Growth {
	var seen []Instant
	for _, x := range instants {
		if x.Coloured {
			seen = append(seen, x)
		}
	}
	sort.SliceStable(seen, func(i, j int) bool { return seen[i].Hours < seen[j].Hours })
	if len(seen) == 0 {
		return curve(Colouring, nil, nil, 0)
	}
	means := lookMeans(seen)
	from, to := values(means[0].look), values(means[len(means)-1].look)
	var axis [channels]float64
	size := 0.0
	for i := range axis {
		axis[i] = to[i] - from[i]
		size += axis[i] * axis[i]
	}
	if size = math.Sqrt(size); size < 3 {
		return Growth{Of: Colouring, Why: "Between the first looks and the last the colour hardly changes, so there is no growth to draw."}
	}
	var h, along []float64
	for _, x := range seen {
		d := 0.0
		for i, v := range values(x.Lab) {
			d += (v - from[i]) * axis[i] / size
		}
		h, along = append(h, x.Hours-means[0].hours), append(along, d)
	}
	return curve(Colouring, h, along, means[0].hours)
}

func curve(of GrowthOf, h, v []float64, first float64) Growth {
	g := Growth{Of: of, First: first}
	if len(h) < 6 {
		g.Why = fmt.Sprintf("A growth curve of the %s needs six looks at four times or more; there are %d.", of, len(h))
		return g
	}
	var last error
	var fits []*stat.GrowthFit
	for _, shape := range []stat.GrowthShape{stat.Logistic, stat.Avrami} {
		f, err := stat.FitGrowth(stat.Growth{Time: h, Value: v, Shape: shape, Logit: of == Covering, Points: coverPlaces})
		if err != nil {
			last = err
			continue
		}
		fits = append(fits, f)
		if g.fit == nil || f.Sigma < g.fit.Sigma {
			g.fit, g.Shape = f, shape
		}
	}
	if g.fit == nil {
		g.Why = fmt.Sprintf("No growth curve fits the %s: these looks do not show a rise that bends.", of)
		if errors.Is(last, stat.ErrTooFew) {
			g.Why = fmt.Sprintf("A growth curve of the %s needs looks at four times or more.", of)
		}
		return g
	}
	g.Onset, g.Half, g.Plateau, g.Doubt = later(g.fit.Onset, first), later(g.fit.Half, first), g.fit.Plateau, g.fit.Doubt
	g.seen = g.fit.PlateauSeen && len(fits) == 2
	if len(fits) < 2 && g.Doubt == "" {
		g.Doubt = "Only one shape of curve bends as these looks do, the other sees no end of the growth; look later."
	}
	for _, f := range fits {
		// which shape it is must not decide whether the plateau was seen
		if g.seen && f.Sigma < alike*g.fit.Sigma && (!f.PlateauSeen || math.Abs(f.Plateau.Value/g.fit.Plateau.Value-1) > 0.2) {
			g.seen = false
			g.Doubt = "Another shape of curve fits about as well and levels off elsewhere, so the plateau is foretold, not seen; look later."
		}
	}
	g.Words = g.words()
	return g
}

func later(l stat.Landmark, by float64) stat.Landmark {
	l.Value, l.Low, l.High = l.Value+by, l.Low+by, l.High+by
	return l
}

func (g Growth) words() string {
	what, top := "Coverage", func(v float64) string { return percent(v) }
	if g.Of == Colouring {
		what, top = "The colour", func(v float64) string { return one(v) + " CIELAB units from where it began" }
	}
	end := fmt.Sprintf(", and levels off at %s", top(g.Plateau.Value))
	switch {
	case !g.seen:
		end = "; where it levels off was not seen"
	case g.Of == Covering:
		end += fmt.Sprintf(" (between %s and %s)", percent(g.Plateau.Low), percent(g.Plateau.High))
	default:
		end += fmt.Sprintf(" (between %s and %s)", one(g.Plateau.Low), one(g.Plateau.High))
	}
	return fmt.Sprintf("%s starts to change about %s%s, is half way at %s%s%s.", what, spanOf(g.Onset.Value), between(g.Onset), spanOf(g.Half.Value), between(g.Half), end)
}

func spanOf(h float64) string {
	return studio.Span(time.Duration(max(0, h) * float64(time.Hour)).Round(time.Minute))
}

func between(l stat.Landmark) string {
	switch {
	case math.IsInf(l.High, 1) && l.Low <= 0:
		return " (not bounded)"
	case math.IsInf(l.High, 1):
		return fmt.Sprintf(" (%s or later)", spanOf(l.Low))
	case l.Low <= 0:
		return fmt.Sprintf(" (%s or sooner)", spanOf(l.High))
	}
	return fmt.Sprintf(" (between %s and %s)", spanOf(l.Low), spanOf(l.High))
}

// A Stop says when to stop for a wanted look.
type Stop struct {
	Hours, Low, High float64 // Low and High with the confidence of Explain; only when Bounded
	Bounded          bool
	DE               float64 // CIEDE2000 between the wanted look and the nearest on the way
	Near             bool    // it is reached: DE is no more than what passes for one recipe
	Words            string
}

type meanLook struct {
	hours float64
	look  colour.Lab
	n     int
}

func lookMeans(sorted []Instant) (out []meanLook) {
	for i := 0; i < len(sorted); {
		j, sum := i, [channels]float64{}
		for ; j < len(sorted) && sorted[j].Hours == sorted[i].Hours; j++ {
			for c, v := range values(sorted[j].Lab) {
				sum[c] += v
			}
		}
		for c := range sum {
			sum[c] /= float64(j - i)
		}
		out = append(out, meanLook{sorted[i].Hours, lab(sum), j - i})
		i = j
	}
	return out
}

// StopAt finds the hours after which the look is nearest to a wanted one, on straight
// ways between the mean looks of the times tried. The interval draws those means again
// with the spread of looks made alike; there is none where nothing was made twice. It
// reports false with fewer than three times.
func StopAt(instants []Instant, wanted colour.Lab, seed uint64) (Stop, bool) {
	var seen []Instant
	for _, x := range instants {
		if x.Coloured {
			seen = append(seen, x)
		}
	}
	sort.SliceStable(seen, func(i, j int) bool { return seen[i].Hours < seen[j].Hours })
	means := lookMeans(seen)
	if len(means) < 3 {
		return Stop{}, false
	}
	var cells []cell
	for _, m := range means {
		c := cell{x: m.hours}
		for _, x := range seen {
			if x.Hours == m.hours {
				c.units = append(c.units, unit{values: values(x.Lab)})
			}
		}
		cells = append(cells, c)
	}
	var s Stop
	s.Hours, s.DE = nearest(means, wanted)
	s.Near = s.DE <= noColour
	if sp := spreadOf(cells); sp.df >= 1 {
		rng := rand.New(rand.NewPCG(seed, bootStream))
		const again = 400
		at := make([]float64, again)
		drawn := slices.Clone(means)
		for i := range at {
			wide := widening(sp.df, rng)
			for k, m := range means {
				drawn[k].look = sp.shake(m.look, wide/math.Sqrt(float64(m.n)), rng)
			}
			at[i], _ = nearest(drawn, wanted)
		}
		sort.Float64s(at)
		tail := int(again * (1 - ExplainConfidence) / 2)
		s.Low, s.High, s.Bounded = at[tail], at[again-1-tail], true
	}
	last := means[len(means)-1].hours
	span := ""
	if s.Bounded {
		span = fmt.Sprintf(" (between %s and %s)", spanOf(s.Low), spanOf(s.High))
	}
	switch {
	case s.Hours >= last && !s.Near:
		s.Words = fmt.Sprintf("Not reached: at the last look, after %s, it was still ΔE00 %s away. Longer was not tried.", spanOf(last), one(s.DE))
	case !s.Near:
		s.Words = fmt.Sprintf("This way does not lead there: it comes nearest at %s%s and is then still ΔE00 %s away.", spanOf(s.Hours), span, one(s.DE))
	case s.Hours <= means[0].hours:
		s.Words = fmt.Sprintf("Stop by %s, the shortest time tried%s: the look is then ΔE00 %s from it. Shorter was not tried.", spanOf(s.Hours), span, one(s.DE))
	default:
		s.Words = fmt.Sprintf("Stop at %s%s: the look is then ΔE00 %s from it.", spanOf(s.Hours), span, one(s.DE))
	}
	return s, true
}

// nearest returns the hours on the way at which it comes nearest to the wanted look.
func nearest(means []meanLook, wanted colour.Lab) (hours, de float64) {
	const steps = 24
	de = math.Inf(1)
	for i := 1; i < len(means); i++ {
		a, b := values(means[i-1].look), values(means[i].look)
		for k := range steps + 1 {
			w := float64(k) / steps
			var v [channels]float64
			for c := range v {
				v[c] = a[c] + w*(b[c]-a[c])
			}
			if d := colour.Difference(wanted, lab(v)); d < de {
				de, hours = d, means[i-1].hours+w*(means[i].hours-means[i-1].hours)
			}
		}
	}
	return hours, de
}
