package chamber

import (
	"fmt"
	"math"
	"strings"
	"time"

	"aerugo/internal/science"
	"aerugo/internal/science/film"
)

// Forecast is a run with what it rests on and how far it may be off.
type Forecast struct {
	Result
	Dissolves [][]film.Span // h since the lid closed, by piece and face; +Inf where it may never be
	Assumed   []film.Assumption
	Cautions  []string
}

// Doubt is how far the inputs of a forecast may be off, as standard deviations or
// what comes near them.
type Doubt struct {
	// Calibrated is the multiplier of D/gap found for this chamber; nil if none was,
	// and then KFactor either way is taken.
	Calibrated *film.Transfer
	Strength   float64         // mass fraction; 0 for StrengthSpread
	Offset     science.Celsius // 0 for OffsetSpread
}

// Predict runs a chamber and, six times more, the same chamber with one input at a
// time as far off as the doubt says: the transfer coefficient, the strength and
// the temperature of the pieces. Their effects on each dissolving time are
// joined as those of independent inputs.
func Predict(box Box, pad Pad, openings []Opening, pieces []Piece, hours float64, opt Options, doubt Doubt) (Forecast, error) {
	if doubt.Strength == 0 {
		doubt.Strength = StrengthSpread
	}
	if doubt.Offset == 0 {
		doubt.Offset = OffsetSpread
	}
	if opt.K == 0 {
		opt.K = 1
	}
	low, high := opt.K/KFactor, opt.K*KFactor
	if c := doubt.Calibrated; c != nil {
		opt.K = c.K
		low, high = max(c.Low, c.K/20), min(c.High, c.K*20)
	}
	middle, err := Run(box, pad, openings, pieces, hours, opt)
	if err != nil {
		return Forecast{}, err
	}
	f := Forecast{Result: middle}
	var others []Result
	run := func(pad Pad, pieces []Piece, k float64) error {
		o := opt
		o.K = k
		r, err := Run(box, pad, openings, pieces, hours, o)
		others = append(others, r)
		return err
	}
	weaker, stronger := pad, pad
	weaker.Strength = max(pad.Strength-doubt.Strength, 0)
	stronger.Strength = min(pad.Strength+doubt.Strength, 0.30)
	if err := first(
		run(pad, pieces, low), run(pad, pieces, high),
		run(weaker, pieces, opt.K), run(stronger, pieces, opt.K),
		run(pad, offset(box, pieces, -doubt.Offset), opt.K), run(pad, offset(box, pieces, doubt.Offset), opt.K),
	); err != nil {
		return Forecast{}, err
	}
	for i, p := range middle.Pieces {
		spans := make([]film.Span, len(p.Faces))
		for j, face := range p.Faces {
			times := make([]float64, len(others))
			for n, o := range others {
				times[n] = dissolvedH(o.Pieces[i].Faces[j])
			}
			spans[j] = film.Combine(dissolvedH(face), times...)
		}
		f.Dissolves = append(f.Dissolves, spans)
	}
	f.assume(box, pad, doubt)
	f.caution(box, pad, openings)
	return f, nil
}

func dissolvedH(f FaceResult) float64 {
	if !f.Dissolved {
		return math.Inf(1)
	}
	return f.DissolvedAt.Hours()
}

// offset returns pieces so much warmer, within the range of a run.
func offset(box Box, pieces []Piece, by science.Celsius) []Piece {
	out := make([]Piece, len(pieces))
	for i, p := range pieces {
		p.Offset = min(max(box.Temp+p.Offset+by, 0), 40) - box.Temp
		out[i] = p
	}
	return out
}

// assume lists what the forecast rests on that the run's own fields do not say.
func (f *Forecast) assume(box Box, pad Pad, doubt Doubt) {
	add := func(what, value, source string) {
		f.Assumed = append(f.Assumed, film.Assumption{What: what, Value: value, Source: source})
	}
	if c := doubt.Calibrated; c != nil {
		add("how fast water crosses the air to the metal", fmt.Sprintf("%.3g mm/s, by your calibration", 1000*f.K), c.How)
	} else {
		add("how fast water crosses the air to the metal", fmt.Sprintf("%.3g mm/s, its diffusivity over the gap, within a factor of %.3g", 1000*f.K, KFactor), "Massman 1998 for the diffusivity; the factor is "+film.NoSource)
	}
	add("the solution's strength", fmt.Sprintf("%.3g wt%%, as given, ±%.2g", 100*pad.Strength, 100*doubt.Strength), film.NoSource)
	add("the metal's temperature", fmt.Sprintf("as given, ±%.2g °C", float64(doubt.Offset)), film.NoSource)
	add("the pad and the air", "wetted through and mixed, so that the air is at once what the solution gives; true within some minutes of closing the lid", film.NoSource)
	add("the air pressure", "101.325 kPa", "the standard atmosphere")
	if box.LeakPerH > 0 {
		add("the room's air that leaks in", fmt.Sprintf("%.0f %% humidity at the bath's temperature", 100*box.RoomRH), film.NoSource)
	}
	if f.strongest() > 0.146 {
		add("water over brine with more than 10 mol/kg of ammonia", "the formulas of weaker ammonia carried on; that the salt takes up water is sure, how fast is not", "Clegg and Brimblecombe 1989")
	}
	told := map[string]bool{}
	for _, p := range f.Pieces {
		for _, face := range p.Faces {
			if face.SaltGPerM2 > 0 && !told[face.Salt] {
				told[face.Salt] = true
				f.Assumed = append(f.Assumed, film.SaltAssumed(face.Salt)...)
			}
		}
	}
}

// strongest is the highest strength the pad had.
func (f *Forecast) strongest() float64 {
	s := 0.0
	for _, a := range f.Series {
		s = max(s, a.Strength)
	}
	return s
}

// caution lists what a careful person would say of this run.
func (f *Forecast) caution(box Box, pad Pad, openings []Opening) {
	add := func(format string, args ...any) { f.Cautions = append(f.Cautions, fmt.Sprintf(format, args...)) }
	if text, ok := f.Flammable(box); ok {
		add("%s", text)
	}
	if pad.Strength > 0 {
		add("The air under the lid holds about %.2g %% of ammonia at first, %.0f times what is fit for a working day (25 ppm). Open it outdoors or under an extractor, face and eyes away from the lid.", 100*f.Series[0].Share(), twoDigits(f.Series[0].PPM()/25))
	}
	if f.PadDry {
		add("The pad runs out of water after %s, and the reckoning ends there: put on more solution.", Spoken(f.Series[len(f.Series)-1].At))
	}
	if f.Halved {
		add("The ammonia under the lid has fallen to half after %s: refresh the pad by then.", Spoken(f.HalvedAt))
	}
	var dew []string
	for i, p := range f.Pieces {
		if p.Dew {
			dew = append(dew, called(p.Piece, i))
		}
		for _, face := range p.Faces {
			for _, moved := range []time.Duration{face.In, face.Out} {
				if moved > 0 && moved.Seconds() < f.Series[len(f.Series)-1].At.Seconds() && !opens(openings, moved) {
					add("A face goes in or out after %s, but no opening of the lid is given then: its air was not lost in this reckoning.", Spoken(moved))
				}
			}
		}
	}
	if len(dew) > 0 {
		add("Colder than the bath, %s gathers dew of its own, which spreads and dilutes the salt.", strings.Join(dew, " and "))
	}
}

// twoDigits rounds to two digits that count.
func twoDigits(v float64) float64 {
	if v <= 0 {
		return 0
	}
	unit := math.Pow(10, math.Floor(math.Log10(v))-1)
	return math.Round(v/unit) * unit
}

func called(p Piece, i int) string {
	if p.Name != "" {
		return p.Name
	}
	return fmt.Sprintf("piece %d", i+1)
}

// opens reports whether the lid is lifted within five minutes of a time.
func opens(openings []Opening, at time.Duration) bool {
	for _, o := range openings {
		if (o.At - at).Abs() <= 5*time.Minute {
			return true
		}
	}
	return false
}

// Spoken says a length of time as a person would: "40 min", "4 h 50 min", "3 days".
func Spoken(d time.Duration) string {
	m := int(d.Round(time.Minute).Minutes())
	switch {
	case m < 1:
		return "less than a minute"
	case m < 60:
		return fmt.Sprintf("%d min", m)
	case m >= 72*60:
		return fmt.Sprintf("%d days", int(math.Round(d.Hours()/24)))
	case m%60 == 0:
		return fmt.Sprintf("%d h", m/60)
	}
	return fmt.Sprintf("%d h %d min", m/60, m%60)
}
