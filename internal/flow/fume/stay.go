package fume

import (
	"fmt"
	"strings"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/science/chamber"
	"aerugo/internal/science/film"
	"aerugo/internal/science/solution"
	"aerugo/internal/studio"
)

// A Job is a treatment with the swatch it is done to and what was tapped so far.
type Job struct {
	Treatment studio.Treatment
	Swatch    studio.Swatch
	Record    run.Record
}

// A Coat is what lies on a face when it goes in. Words says in plain words what
// was put on; Doubt why the reckoning may not hold ("vinegar is reckoned as
// water"). Unknown is set when it can't be reckoned at all, with the reason in Doubt.
type Coat struct {
	Salt        string // key of package solution; empty for none
	SaltGPerM2  float64
	SaltSD      float64
	WaterGPerM2 float64
	Assumed     bool // an amount that nobody weighed
	Words       string
	Doubt       []string
	Unknown     bool
}

// A Stay is the time one face spends in one chamber without being dried or
// rinsed in between.
//
// In and Out are when it went in and came out; Going says that it is there
// still, or not yet, and Out is then as planned. Salted is when dry salt was put
// on a face that was in already; zero when it went in with it. Steps are the first
// and last step, counted from 0.
type Stay struct {
	Treatment, Swatch int64
	Face              studio.Face
	Chamber           int64
	First, Last       int
	In, Out, Salted   time.Time
	Began, Going      bool
	Coat
	AreaM2   float64
	Strength float64 // percent by mass as the step says; 0 if it does not
	SupplyID int64
}

// StaysOf returns the stays of a job in order of time. Steps that have not begun
// are reckoned on from the last one known, or from now, as planned.
func StaysOf(j Job, supplies []studio.Supply, now time.Time) []Stay {
	var out []Stay
	from, to := times(j, now)
	for _, face := range studio.BothFaces {
		if !j.Treatment.Faces.Has(face) {
			continue
		}
		var coat Coat
		open := -1 // the stay in out that the face is in, or was without drying since
		for i, s := range j.Treatment.Steps {
			if s.Faces != "" && !s.Faces.Has(face) && s.Kind != studio.Fume {
				continue
			}
			if r := j.Record; i < len(r.Steps) && r.Steps[i].State == run.Dropped {
				break
			}
			amount := s.Amount
			if i < len(j.Record.Steps) {
				amount = j.Record.Steps[i].Amount
			}
			switch s.Kind {
			case studio.Wet:
				coat.wet(material(s, supplies), strength(s, supplies), amount, j.Swatch)
				coat.mixed(s.Also, amount, j.Swatch)
			case studio.Sprinkle:
				coat.sprinkle(material(s, supplies), amount, j.Swatch)
				if open >= 0 && !out[open].Going && out[open].SaltGPerM2 == 0 {
					out[open].Salted = from[i]
				}
			case studio.Dry, studio.Heat:
				coat.WaterGPerM2, open = 0, -1
			case studio.Rinse, studio.Degrease, studio.Pickle, studio.Neutralise, studio.BrushOut, studio.Abrade, studio.Bury, studio.Seal:
				coat, open = Coat{}, -1
			case studio.Fume:
				going := i >= j.Record.Current || i >= len(j.Record.Steps)
				began := !from[i].IsZero() && j.Record.Status != run.Planned && i <= j.Record.Current
				if open >= 0 && out[open].Chamber == s.ChamberID {
					o := &out[open]
					o.Last, o.Out, o.Going, o.Coat = i, to[i], going, coat
					continue
				}
				out = append(out, Stay{Treatment: j.Treatment.ID, Swatch: j.Swatch.Number, Face: face, Chamber: s.ChamberID, First: i, Last: i,
					In: from[i], Out: to[i], Began: began, Going: going, Coat: coat, AreaM2: j.Swatch.AreaM2(), Strength: strength(s, supplies), SupplyID: s.SupplyID})
				open = len(out) - 1
			}
		}
	}
	return out
}

// times returns when each step began and ended: as recorded, else as planned
// onwards from what is recorded.
func times(j Job, now time.Time) (from, to []time.Time) {
	n := len(j.Treatment.Steps)
	from, to = make([]time.Time, n), make([]time.Time, n)
	at := now
	if !j.Record.Began.IsZero() {
		at = j.Record.Began
	}
	for i, s := range j.Treatment.Steps {
		var r run.StepRecord
		if i < len(j.Record.Steps) {
			r = j.Record.Steps[i]
		}
		from[i] = at
		if !r.Began.IsZero() {
			from[i] = r.Began
		}
		to[i] = from[i].Add(s.Duration)
		switch {
		case !r.Ended.IsZero():
			to[i] = r.Ended
		case r.State == run.Current && to[i].Before(now):
			to[i] = now // overdue, and still in
		}
		at = to[i]
	}
	return from, to
}

func material(s studio.Step, supplies []studio.Supply) string {
	for _, x := range supplies {
		if x.ID == s.SupplyID && x.Material != "" {
			return x.Material
		}
	}
	return s.Material
}

func strength(s studio.Step, supplies []studio.Supply) float64 {
	if s.Strength > 0 {
		return s.Strength
	}
	for _, x := range supplies {
		if x.ID == s.SupplyID {
			return x.WtPercent()
		}
	}
	return 0
}

// perM2 returns a loading in g/m², water-like liquids taken as 1 g to the mL.
func perM2(a studio.Amount, s studio.Swatch) (value, sd float64) {
	if a.Unit.PerArea() {
		return a.Value, a.SD
	}
	if area := s.AreaM2(); area > 0 {
		return a.Value / area, a.SD / area
	}
	return 0, 0
}

// plainLiquids behave as water on metal as far as the reckoning goes.
var plainLiquids = map[string]bool{"": true, "water": true, "distilled-water": true, "ammonia-water": true}

func (c *Coat) wet(key string, percent float64, a studio.Amount, s studio.Swatch) {
	v, _ := perM2(a, s)
	c.Assumed = c.Assumed || a.Assumed
	if a.IsZero() {
		c.Doubt = append(c.Doubt, "how much it was wetted is not said; it is reckoned as dry")
		return
	}
	share := percent / 100
	switch sol, ok := solution.SaltOf(key); {
	case ok && share > 0 && share < 1:
		c.put(sol.Key, v*share, 0)
		v *= 1 - share
	case ok:
		c.Doubt = append(c.Doubt, "the strength of the "+sol.Name+" in the liquid is not known; it is reckoned as water")
	case !plainLiquids[key]:
		c.Doubt = append(c.Doubt, strings.ReplaceAll(key, "-", " ")+" is reckoned as water")
	}
	c.WaterGPerM2 += v
	c.say(fmt.Sprintf("%.0f g/m² of liquid", v))
}

// mixed counts what else is in a liquid that was put on: its salts lie on the
// face, and a salt of unknown strength leaves the whole unknown.
func (c *Coat) mixed(also []studio.Part, a studio.Amount, s studio.Swatch) {
	v, _ := perM2(a, s)
	for _, p := range also {
		switch sol, ok := solution.SaltOf(p.Material); {
		case a.IsZero():
			// wet said already that the amount is not known
		case ok && p.Strength > 0:
			c.put(sol.Key, v*p.Strength/100, 0)
			c.WaterGPerM2 = max(0, c.WaterGPerM2-v*p.Strength/100)
		case ok:
			c.Doubt = append(c.Doubt, "how much "+sol.Name+" is in the liquid is not said")
			c.Unknown = true
		case !plainLiquids[p.Material]:
			c.Doubt = append(c.Doubt, strings.ReplaceAll(p.Material, "-", " ")+" in the liquid is reckoned as water")
		}
	}
}

func (c *Coat) sprinkle(key string, a studio.Amount, s studio.Swatch) {
	v, sd := perM2(a, s)
	c.Assumed = c.Assumed || a.Assumed
	sol, ok := solution.SaltOf(key)
	switch {
	case a.IsZero():
		c.Doubt = append(c.Doubt, "how much was sprinkled is not said")
		c.Unknown = true
	case !ok:
		c.Doubt = append(c.Doubt, "how "+strings.ReplaceAll(key, "-", " ")+" takes up water is not known here")
		c.Unknown = true
	default:
		c.put(sol.Key, v, sd)
		c.say(fmt.Sprintf("%.3g g/m² of %s", v, sol.Name))
	}
}

// put adds salt. Of two salts the heavier is reckoned with the weight of both.
func (c *Coat) put(key string, v, sd float64) {
	if c.Salt != "" && c.Salt != key {
		c.Doubt = append(c.Doubt, "two salts lie on it; it is reckoned as if all were the one there is more of")
	}
	if c.Salt == "" || v > c.SaltGPerM2 {
		c.Salt = key
	}
	c.SaltGPerM2 += v
	c.SaltSD = max(c.SaltSD, sd)
}

func (c *Coat) say(words string) {
	if c.Words != "" {
		c.Words += " and "
	}
	c.Words += words
}

// Assumption and Span are those of the science below, so that a page needs no
// second word for them.
type (
	Assumption = film.Assumption
	Span       = film.Span
	Air        = chamber.Air
)
