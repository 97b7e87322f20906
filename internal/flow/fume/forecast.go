package fume

import (
	"fmt"
	"math"
	"strings"
	"time"

	"aerugo/internal/science/chamber"
	"aerugo/internal/studio"
)

// A Forecast is what a stay in a freshly charged chamber will do to one face.
//
// Takes is how long its salt needs to dissolve, in hours from when it goes in, +Inf
// if longer than a day past the stay. Wet is how long it will be wet by the end of
// the stay. Share is how much has dissolved by then. Words is the sentence for a
// person; Enough says that the salt dissolves within the stay.
type Forecast struct {
	Stay
	Stayed  time.Duration
	Takes   Span
	Wet     time.Duration
	Share   float64
	Enough  bool
	None    bool
	Words   string
	Assumed []Assumption
}

// Foretell returns the forecast of each stay of a planned treatment in this
// chamber, alone in it with a pad charged as it starts. Temp is the room's, nil if
// nobody knows it.
func Foretell(b Bench, t studio.Treatment, s studio.Swatch, temp *float64) []Forecast {
	start := time.Date(2000, 1, 1, 8, 0, 0, 0, time.UTC) // any: only spans are read
	var out []Forecast
	for _, st := range StaysOf(Job{Treatment: t, Swatch: s}, b.Supplies, start) {
		if st.Chamber != b.Chamber.ID {
			continue
		}
		f := Forecast{Stay: st, Stayed: st.Out.Sub(st.In)}
		if st.Unknown {
			f.Words = "When it is wet can't be reckoned: " + strings.Join(st.Doubt, "; ") + "."
			out = append(out, f)
			continue
		}
		st.Began, st.Going = true, true // followed past its planned end
		x := State{At: st.Out}
		c := charge{at: st.In, grams: b.Chamber.PadML, strength: st.Strength / 100}
		if c.grams == 0 {
			c.grams = chamber.DefaultSolutionG
			x.assume("solution on the pad", fmt.Sprintf("%.0f g", c.grams))
		}
		if c.strength == 0 {
			c.strength, c.unsure = chamber.DefaultStrength, true
			x.assume("strength of the ammonia", fmt.Sprintf("%.0f %% by mass", 100*c.strength))
		}
		x.reckon(b, c, studio.Standing(b.Log), []Stay{st}, temp)
		f.Assumed = x.Assumed
		if x.Why != "" || len(x.Faces) == 0 {
			f.Words = x.Why
			out = append(out, f)
			continue
		}
		f.from(x.Faces[0])
		out = append(out, f)
	}
	return out
}

func (f *Forecast) from(r Face) {
	from := r.In
	if !r.Salted.IsZero() {
		from = r.Salted
	}
	hours := func(t time.Time) float64 {
		if t.IsZero() {
			return math.Inf(1)
		}
		return t.Sub(from).Hours()
	}
	f.Takes = Span{Value: hours(r.DissolvedAt), Low: hours(r.Soonest), High: hours(r.Latest)}
	f.Wet, f.Share, f.None = r.WetAtOut, r.Share, r.None
	f.Enough = !f.None && f.Takes.Value <= f.Stayed.Hours()
	f.Words = f.words()
}

func span(h float64) string {
	switch {
	case math.IsInf(h, 1):
		return "more than a day"
	case h <= 0.05:
		return "at once"
	case h < 1:
		return studio.Span(time.Duration(h*60/5+0.5) * 5 * time.Minute)
	}
	return studio.Span(time.Duration(h*4+0.5) * 15 * time.Minute)
}

func (f *Forecast) words() string {
	stay := studio.Span(f.Stayed)
	switch {
	case f.None && f.WaterGPerM2 == 0:
		return "No salt and no liquid on it: the fume meets bare metal."
	case f.None:
		return "No salt to dissolve: wet from the start."
	case f.Takes.Value <= 0.05:
		return fmt.Sprintf("The salt dissolves at once; wet for all %s.", stay)
	}
	bounds := fmt.Sprintf("%s to %s", span(max(f.Takes.Low, 0)), span(f.Takes.High))
	switch {
	case math.IsInf(f.Takes.Value, 1):
		return fmt.Sprintf("%s is not enough for this much salt: about %.0f %% dissolves. Wet it first, or put less.", capital(stay), 100*f.Share)
	case !f.Enough && f.Takes.Low <= f.Stayed.Hours():
		return fmt.Sprintf("%s may not be enough: the salt needs about %s (%s).", capital(stay), span(f.Takes.Value), bounds)
	case !f.Enough:
		return fmt.Sprintf("%s is not enough: the salt needs about %s (%s). Wetted first it would be quicker.", capital(stay), span(f.Takes.Value), bounds)
	case f.Takes.High > f.Stayed.Hours():
		return fmt.Sprintf("Dissolved after about %s (%s), so perhaps not within %s.", span(f.Takes.Value), bounds, stay)
	}
	return fmt.Sprintf("Dissolved after about %s (%s); then wet for about %s.", span(f.Takes.Value), bounds, span(f.Wet.Hours()))
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
