package learn

import (
	"errors"
	"fmt"
	"math"

	"aerugo/internal/science/stat"
	"aerugo/internal/studio"

	"gonum.org/v1/gonum/stat/distuv"
)

// Clock is which hours explain a set's looks.
type Clock string

// The clocks.
const (
	InChamber Clock = "hours in the chamber"
	SinceWet  Clock = "hours since the salt dissolved"
	BothOfIt  Clock = "both"
	NoClock   Clock = ""
)

// Clocks says which of the two clocks of a set explains its looks.
//
// AddsWet is the probability, by chance alone, of so much being explained by the wet
// hours once the hours in the chamber are known; AddsChamber the other way round. Both
// are corrected for the several numbers of a look. LeftWet and LeftChamber are how far
// L*, a* and b* together still scatter (root mean square) about each clock.
type Clocks struct {
	Better               Clock
	Words, Evidence      string
	AddsWet, AddsChamber float64
	LeftWet, LeftChamber float64
	Swatches             int
}

// leastForClocks is the fewest swatches with both clocks known: five numbers are fitted,
// and some must be left to judge by.
const leastForClocks = 9

// CompareClocks asks whether the hours since the salt dissolved explain the looks of a
// set better than the hours in the chamber. What works through either clock (time, salt,
// wetting) is left out of the model, other factors are held equal. Each clock may act
// along a curve (hours and their root). A clock is better when it adds to the other and
// the other adds nothing to it: the encompassing test. Source: Mizon and Richard 1986.
//
// It reports false when too few swatches have both.
func CompareClocks(set studio.Set, rows []Row) (Clocks, bool) {
	var known []Row
	for _, r := range rows {
		if !math.IsNaN(r.Wet) && !math.IsNaN(r.Chamber) && r.Wet >= 0 && r.Chamber >= 0 {
			known = append(known, r)
		}
	}
	rest := set
	rest.Factors = nil
	for _, f := range set.Factors {
		if f.Kind != studio.ByMinutes && f.Kind != studio.ByLoading && f.Kind != studio.ByWetting {
			rest.Factors = append(rest.Factors, f)
		}
	}
	t := newTrial(rest, known)
	c := Clocks{Swatches: t.swatches(), AddsWet: 1, AddsChamber: 1}
	if c.Swatches < leastForClocks {
		return c, false
	}
	var wet, chamber []float64
	for _, r := range t.rows {
		wet, chamber = append(wet, r.Wet), append(chamber, r.Chamber)
	}
	switch {
	case flat(wet) && flat(chamber):
		c.Words = "All these swatches had the same hours in the chamber and the same hours wet, so they can't say which of the two matters."
		return c, true
	case flat(chamber):
		c.Words = fmt.Sprintf("All these swatches were %s in the chamber, so they can't say whether those hours matter. They were wet for %s to %s.", hours(chamber[0]), hours(least(wet)), hours(most(wet)))
		return c, true
	case flat(wet):
		c.Words = "All these swatches were wet for the same hours, so they can't say whether those matter."
		return c, true
	}
	line, err := stat.SlopeFit(chamber, wet)
	if err == nil && line.R2 > 0.98 {
		c.Words = "In these swatches the hours wet and the hours in the chamber went together, so their effects can't be told apart. Swatches with other amounts of salt for the same hours would tell."
		return c, true
	}
	return c.judge(t)
}

func (c Clocks) judge(t *trial) (Clocks, bool) {
	looked, alone := 0, 1.0
	for _, r := range responses[:4] {
		var at []int
		for i, row := range t.rows {
			if v := r.get(row); !math.IsNaN(v) && !math.IsInf(v, 0) {
				at = append(at, i)
			}
		}
		if len(at) < leastForClocks {
			continue
		}
		none, err0 := t.clockFit(r, at, false, false)
		wet, err1 := t.clockFit(r, at, true, false)
		chamber, err2 := t.clockFit(r, at, false, true)
		both, err3 := t.clockFit(r, at, true, true)
		if errors.Join(err0, err1, err2, err3) != nil || both.DF < 2 {
			continue
		}
		looked++
		c.AddsWet = min(c.AddsWet, added(chamber, both))
		c.AddsChamber = min(c.AddsChamber, added(wet, both))
		alone = min(alone, added(none, wet), added(none, chamber))
		if r.aspect == OfColour {
			c.LeftWet += wet.Sigma * wet.Sigma
			c.LeftChamber += chamber.Sigma * chamber.Sigma
		}
	}
	if looked == 0 {
		return c, false
	}
	c.LeftWet, c.LeftChamber = math.Sqrt(c.LeftWet), math.Sqrt(c.LeftChamber)
	c.AddsWet, c.AddsChamber = min(1, c.AddsWet*float64(looked)), min(1, c.AddsChamber*float64(looked))
	wet, chamber := c.AddsWet < alarm, c.AddsChamber < alarm
	switch {
	case alone*float64(2*looked) >= alarm:
		c.Words = "Neither the hours in the chamber nor the hours since the salt dissolved explain these looks."
	case wet && chamber:
		c.Better = BothOfIt
		c.Words = "Both clocks matter here: the hours in the chamber and the hours since the salt dissolved each explain something that the other does not."
	case wet:
		c.Better = SinceWet
		c.Words = "Count from when the salt has dissolved: those hours explain these looks better than the hours in the chamber do."
	case chamber:
		c.Better = InChamber
		c.Words = "Count the hours in the chamber: they explain these looks better than the hours since the salt dissolved do."
	default:
		c.Words = "Can't tell from these swatches whether the hours in the chamber or those since the salt dissolved matter: either explains them about as well."
	}
	c.Evidence = fmt.Sprintf("Knowing the hours in the chamber, the wet hours still add something (p = %s); knowing the wet hours, those in the chamber add something (p = %s). Colours scatter by %s about the wet hours and by %s about the hours in the chamber (%d swatches). The wet hours are reckoned, not watched.",
		pText(c.AddsWet), pText(c.AddsChamber), one(c.LeftWet), one(c.LeftChamber), c.Swatches)
	return c, true
}

// clockFit fits one response by the other factors and the clocks asked for.
func (t *trial) clockFit(r response, at []int, wet, chamber bool) (*stat.LinearFit, error) {
	m := t.model(r, at, -1, 0)
	add := func(name string, get func(Row) float64) {
		h, root := stat.Column{Name: name}, stat.Column{Name: name + " root"}
		for _, i := range at {
			v := get(t.rows[i])
			h.Numbers, root.Numbers = append(h.Numbers, v), append(root.Numbers, math.Sqrt(v))
		}
		m.Columns = append(m.Columns, h, root)
		m.Terms = append(m.Terms, stat.Term{h.Name}, stat.Term{root.Name})
	}
	if wet {
		add("wet", func(x Row) float64 { return x.Wet })
	}
	if chamber {
		add("chamber", func(x Row) float64 { return x.Chamber })
	}
	return stat.FitLinear(m)
}

// added returns the probability of so large a gain of the wider model by chance (the F
// test of nested models); 1 when it gains no column.
func added(narrow, wide *stat.LinearFit) float64 {
	q := narrow.DF - wide.DF
	if q < 1 || wide.DF < 1 {
		return 1
	}
	if wide.RSS <= 0 {
		return 0
	}
	f := max(0, narrow.RSS-wide.RSS) / float64(q) / (wide.RSS / float64(wide.DF))
	return distuv.F{D1: float64(q), D2: float64(wide.DF)}.Survival(f)
}

func flat(xs []float64) bool { return most(xs)-least(xs) < 0.05 }

func least(xs []float64) float64 {
	v := xs[0]
	for _, x := range xs {
		v = min(v, x)
	}
	return v
}

func most(xs []float64) float64 {
	v := xs[0]
	for _, x := range xs {
		v = max(v, x)
	}
	return v
}

// hours writes a time as on the bench: "45 min", "3.5 h".
func hours(h float64) string {
	if h < 1 {
		return fmt.Sprintf("%.0f min", 60*h)
	}
	return one(h) + " h"
}
