package film

import (
	"fmt"
	"math"

	"aerugo/internal/science"
)

// Why liquid gathers.
const (
	Cohesion = "cohesion" // it beads: surface tension pulls it together
	Gravity  = "gravity"  // it runs to the low side
	Neither  = "neither"
)

// ContactSpreadDeg is how far a contact angle may be off when nothing is known
// of it: storage and drying move it by tens of degrees.
const ContactSpreadDeg = 15

// WetsBelowDeg is the contact angle below which a film stays spread: the sheet
// of water does not break. Common practice, no source.
const WetsBelowDeg = 10

// A Lay is liquid put on one face. LengthMM is that of the face along the slope,
// TiltDeg its tilt from level, 0 to 90. ContactDeg is what the liquid makes with
// this metal; ContactSpread how far that may be off, 0 for [ContactSpreadDeg].
type Lay struct {
	Liquid        Liquid
	ContactDeg    float64
	ContactSpread float64
	FilmGPerM2    float64
	LengthMM      float64
	TiltDeg       float64
}

// Practice marks a fact of the trade that nothing published backs.
const Practice = "common practice, no source"

// An Interval is a value with the ends it may lie between; an end is +Inf where
// a drop holds even upright.
type Interval struct{ Value, Low, High float64 }

// A Guess is a value that nobody gave: what it is, the value with its unit, and
// where it comes from.
type Guess struct{ What, Value, Source string }

// An Advice is one thing to do, with what it rests on.
type Advice struct{ Text, Source string }

// A Pooled is what becomes of a lay: its shape, the cause if it gathers, and
// what to do. Nearly says that the tilt is more than half of what gathers the
// liquid. LevelDeg is the tilt to stay within, RiseMM the same as the height of
// one end over the other.
type Pooled struct {
	CapillaryMM     float64
	PuddleMM        Interval
	FilmUM          float64
	Share           Interval // of the face, once gathered
	CriticalTiltDeg Interval
	LevelDeg        float64
	RiseMM          float64
	Cause           string
	Nearly          bool
	Why             string
	Do              []Advice
	Assumed         []Guess
}

// Judge says whether a lay stays where it was put. It compares the tilt with
// L tan(alpha) = e, where the whole face's liquid runs to the low side, and the
// film with the puddle height e, below which it gathers into islands. On metal
// that wets (below [WetsBelowDeg]) nothing gathers it but the slope, once
// L tan(alpha) is twice the film. Intervals come from the contact angle.
func Judge(l Lay) (Pooled, error) {
	if !(l.TiltDeg >= 0 && l.TiltDeg <= 90) {
		return Pooled{}, &science.RangeError{What: "tilt", Got: l.TiltDeg, Min: 0, Max: 90, Unit: "°"}
	}
	if !(l.ContactSpread >= 0 && l.ContactSpread <= 90) {
		return Pooled{}, &science.RangeError{What: "spread of the contact angle", Got: l.ContactSpread, Min: 0, Max: 90, Unit: "°"}
	}
	var p Pooled
	var err error
	if p.CapillaryMM, err = l.Liquid.CapillaryMM(); err != nil {
		return Pooled{}, err
	}
	if p.FilmUM, err = l.Liquid.FilmUM(l.FilmGPerM2); err != nil {
		return Pooled{}, err
	}
	if p.Share.Value, err = l.Liquid.IslandShare(l.FilmGPerM2, l.ContactDeg); err != nil {
		return Pooled{}, err
	}
	if p.CriticalTiltDeg.Value, err = l.Liquid.CriticalTiltDeg(l.ContactDeg, l.LengthMM); err != nil {
		return Pooled{}, err
	}
	spread := l.ContactSpread
	if spread == 0 {
		spread = ContactSpreadDeg
		p.Assumed = append(p.Assumed, Guess{"contact angle", fmt.Sprintf("%g ± %d°", l.ContactDeg, ContactSpreadDeg), "measure it from a photograph taken level with the metal; " + Practice})
	}
	// The ends are angles that can be, so none of these can fail.
	low, high := max(1, l.ContactDeg-spread), min(180, l.ContactDeg+spread)
	low = min(low, l.ContactDeg)
	height := func(deg float64) float64 { return 2 * p.CapillaryMM * math.Sin(radians(deg)/2) }
	p.PuddleMM = Interval{height(l.ContactDeg), height(low), height(high)}
	p.Share.Low, p.Share.High = min(1, p.FilmUM/1000/p.PuddleMM.High), min(1, p.FilmUM/1000/p.PuddleMM.Low)
	p.CriticalTiltDeg.Low = degrees(math.Atan(p.PuddleMM.Low / l.LengthMM))
	p.CriticalTiltDeg.High = degrees(math.Atan(p.PuddleMM.High / l.LengthMM))
	p.judge(l)
	p.advise(l)
	return p, nil
}

// judge names the cause.
func (p *Pooled) judge(l Lay) {
	drop := l.LengthMM * math.Tan(radians(l.TiltDeg)) // of one end below the other, mm
	enough, what := p.PuddleMM.Value, "a puddle of this liquid is high"
	p.LevelDeg = p.CriticalTiltDeg.Value / 2
	if l.ContactDeg < WetsBelowDeg {
		enough, what = 2*p.FilmUM/1000, "twice the film is thick"
		p.LevelDeg = degrees(math.Atan(enough / l.LengthMM))
	}
	p.RiseMM = l.LengthMM * math.Tan(radians(p.LevelDeg))
	switch {
	case l.FilmGPerM2 == 0:
		p.Cause, p.Why = Neither, "there is no liquid on the face"
	case drop >= enough:
		p.Cause = Gravity
		p.Why = fmt.Sprintf("the low side lies %.2g mm below the high side, more than %s (%.2g mm)", drop, what, enough)
		if p.Share.Value < 1 && l.ContactDeg >= WetsBelowDeg {
			p.Why += fmt.Sprintf("; level, it would still bead, over about %.0f %% of the face", 100*p.Share.Value)
		}
	case l.ContactDeg < WetsBelowDeg:
		p.Cause, p.Why = Neither, "the metal wets, so that the film stays spread, and the tilt is too small to gather it"
	case p.Share.Value < 1:
		p.Cause = Cohesion
		p.Why = fmt.Sprintf("the film is %.2g mm thick and a puddle of this liquid stands %.2g mm high, so it draws together over about %.0f %% of the face", p.FilmUM/1000, p.PuddleMM.Value, 100*p.Share.Value)
	default:
		p.Cause, p.Why = Neither, "there is enough liquid to flood the face, and the tilt is too small to move it; it stands as long as the edges hold it"
	}
	p.Nearly = p.Cause != Gravity && l.FilmGPerM2 > 0 && drop >= enough/2
}

// advise says what to do, what helps most first.
func (p *Pooled) advise(l Lay) {
	say := func(source, format string, args ...any) {
		p.Do = append(p.Do, Advice{fmt.Sprintf(format, args...), source})
	}
	level := func() {
		say("derived: L tan(tilt) against the puddle height (de Gennes, Brochard-Wyart and Quéré 2004)",
			"Level the face to within %.1f°: one end no more than %.1f mm above the other.", p.LevelDeg, p.RiseMM)
	}
	switch p.Cause {
	case Cohesion:
		say("ASTM F22, water-break test", "Degrease again until a sheet of rinse water stays whole for a minute; no finger on the face afterwards.")
		if l.Liquid.TensionNPerM > DetergentTension {
			soapy := l.Liquid
			soapy.TensionNPerM = DetergentTension
			if share, err := soapy.IslandShare(l.FilmGPerM2, l.ContactDeg); err == nil {
				say("Birdi (0.005 mol/L of sodium dodecyl sulfate: 72 to 30 mN/m); "+Practice+" on patina",
					"A trace of detergent in the liquid helps: even at the same contact angle it would cover %.0f %% instead of %.0f %%, and the angle falls too. Try it on a spare swatch first.", 100*share, 100*p.Share.Value)
			}
		}
		say(Practice, "Brush it out while wet, and again when it draws back.")
		say("GSA 0503002S; Henley's Twentieth Century Formulas", "Several thin coats, each dry before the next, beat one flood.")
		if p.Nearly {
			level()
		}
	case Gravity:
		level()
		say(Practice, "Put less liquid on each face, and blot what gathers along the low edge.")
		say(Practice, "Turn the piece half round midway, so that no side stays the low one.")
	default:
		if p.Nearly {
			level()
		}
		if p.Share.Value >= 1 && l.ContactDeg >= WetsBelowDeg {
			say(Practice, "Use less liquid, so that it needs no edge to hold it.")
		}
	}
	if l.FilmGPerM2 > 0 {
		say(Practice, "Not sure? Turn the piece half round where it lies, while it is wet: if the pool turns with it, it is not the tilt.")
		say("Deegan and others 1997", "A pool that dries where it stands leaves most of what it holds at its rim: spread or blot it before it dries.")
	}
}
