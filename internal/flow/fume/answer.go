package fume

import (
	"fmt"
	"time"

	"aerugo/internal/science/matter"
	"aerugo/internal/science/room"
	"aerugo/internal/studio"
)

// Answers are what a person wants from two seconds' look, each a short line and
// one of detail. Act says that something is to be done now.
type Answers struct {
	Open, Salt, Back Answer
}

// An Answer is one of them.
type Answer struct {
	Short, More string
	Act         bool
}

// Answers puts the state into words. In is the room the chamber stands in, the
// zero Room if nobody said.
func (s State) Answers(in studio.Room) Answers {
	var a Answers
	if !s.Live {
		why := s.Why
		if why == "" {
			why = "Nothing is known of the air in it."
		}
		if s.Empty {
			a.Open = Answer{Short: "Empty, as far as was said", More: why + " If that is not so, treat it as full of ammonia."}
			a.Salt = Answer{Short: "No salt inside"}
			a.Back = Answer{Short: "No timer here"}
			return a
		}
		a.Open = Answer{Short: "Not known to be safe", More: why + " Treat it as full of ammonia until it was aired."}
		a.Salt = Answer{Short: "No salt is followed", More: why}
		a.Back = Answer{Short: "No timer here"}
		return a
	}
	a.Open = s.open(in)
	a.Salt = s.salt()
	a.Back = s.back()
	return a
}

// worst is the most ammonia that may be under the lid, in parts a million.
func (s State) worst() float64 { return max(s.HighPPM, s.Now.PPM()) }

func (s State) open(in studio.Room) Answer {
	const idlh = 300
	more := fmt.Sprintf("%s ppm under the lid, %s to %s; the workplace limit is 25.", PPM(s.Now.PPM()), PPM(s.LowPPM), PPM(s.HighPPM))
	if s.Flammable {
		more += " It can burn on its way out: no flame, no spark, no fan that sparks."
	}
	switch {
	case s.worst() < 25:
		return Answer{Short: "Yes, gently", More: more + " Smell is not a meter: stop if it stings."}
	case in.Outdoors:
		return Answer{Short: "Outdoors, face turned away", More: more + " Stand upwind, wait two minutes before you reach in.", Act: true}
	case in.Hood:
		return Answer{Short: "Only under the hood", More: more + " Hood on, face outside, wait two minutes.", Act: true}
	case s.worst() >= idlh:
		return Answer{Short: "Not in the room: carry it out", More: more + " Outdoors or under a hood, face away, wait two minutes.", Act: true}
	}
	return Answer{Short: "Outdoors, or under a hood", More: more, Act: true}
}

func (s State) salt() Answer {
	done, total, unknown := 0, 0, 0
	var next, last *Face
	for i := range s.Faces {
		f := &s.Faces[i]
		switch {
		case !f.Going || f.None:
			continue
		case f.Unknown:
			unknown++
			continue
		}
		total++
		switch {
		case !f.DissolvedAt.IsZero() && !f.DissolvedAt.After(s.At):
			done++
		case f.DissolvedAt.IsZero():
			last = f
		default:
			if next == nil || f.DissolvedAt.Before(next.DissolvedAt) {
				next = f
			}
			if last == nil || (!last.DissolvedAt.IsZero() && f.DissolvedAt.After(last.DissolvedAt)) {
				last = f
			}
		}
	}
	beside := ""
	if unknown > 0 {
		beside = fmt.Sprintf(" %s can't be reckoned.", count(unknown, "face"))
	}
	switch {
	case total == 0 && unknown > 0:
		return Answer{Short: "Can't be reckoned", More: "What lies on them takes up water in a way not known here. Look through the lid."}
	case total == 0:
		return Answer{Short: "No salt inside", More: "Nothing in there has to dissolve."}
	case done == total:
		return Answer{Short: "Dissolved", More: fmt.Sprintf("On all %s, by the reckoning. Look through the lid and say so.", count(total, "face")) + beside}
	case last.DissolvedAt.IsZero() && next == nil:
		return Answer{Short: fmt.Sprintf("%d of %d dissolved", done, total), More: fmt.Sprintf("Swatch %d won't be in this air; it would have to be wetted.", last.Swatch) + beside}
	case last.DissolvedAt.IsZero():
		return Answer{Short: fmt.Sprintf("%d of %d dissolved", done, total), More: fmt.Sprintf("Next: swatch %d about %s. Swatch %d won't be in this air.", next.Swatch, clock(next.DissolvedAt, s.At), last.Swatch) + beside}
	}
	latest := "no upper bound"
	if !last.Latest.IsZero() {
		latest = clock(last.Latest, s.At)
	}
	return Answer{Short: fmt.Sprintf("%d of %d dissolved", done, total),
		More: fmt.Sprintf("The last, swatch %d, about %s (%s to %s).", last.Swatch, clock(last.DissolvedAt, s.At), clock(last.Soonest, s.At), latest) + beside}
}

func (s State) back() Answer {
	var next *Face
	for i := range s.Faces {
		f := &s.Faces[i]
		if f.Going && (next == nil || f.Out.Before(next.Out)) {
			next = f
		}
	}
	switch {
	case next == nil && !s.Halved.IsZero() && s.Halved.Before(s.At):
		return Answer{Short: "Wet the pad first", More: "It is empty, and the ammonia has fallen to half."}
	case next == nil:
		return Answer{Short: "No swatch inside", More: "It can be aired."}
	case !next.Out.After(s.At):
		return Answer{Short: "Now", More: fmt.Sprintf("Swatch %d is due.", next.Swatch), Act: true}
	}
	more := fmt.Sprintf("Swatch %d comes out, in %s.", next.Swatch, studio.Span(next.Out.Sub(s.At).Round(time.Minute)))
	if !s.Halved.IsZero() && s.Halved.Before(next.Out) {
		if s.Halved.After(s.At) {
			more += fmt.Sprintf(" The ammonia falls to half by %s; wet the pad afresh if the set is to be even.", clock(s.Halved, s.At))
		} else {
			more += " The ammonia has fallen to half."
		}
	}
	return Answer{Short: clock(next.Out, s.At), More: more}
}

// clock writes a time as a person says it beside now.
func clock(t, now time.Time) string {
	t, now = t.Local(), now.Local()
	if t.YearDay() == now.YearDay() && t.Year() == now.Year() {
		return t.Format("15:04")
	}
	return t.Format("Mon 15:04")
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// PPM writes a concentration with two figures, as nobody knows it closer.
func PPM(ppm float64) string {
	switch {
	case ppm < 1:
		return "under 1"
	case ppm < 100:
		return fmt.Sprintf("%.0f", ppm)
	case ppm < 1000:
		return fmt.Sprintf("%.0f", 10*float64(int(ppm/10+0.5)))
	}
	d := 100.0
	for ppm/d >= 100 {
		d *= 10
	}
	n := d * float64(int(ppm/d+0.5))
	if n < 10000 {
		return fmt.Sprintf("%.0f", n)
	}
	return fmt.Sprintf("%.0f 000", n/1000)
}

// A RoomCase is what the room's air would come to.
type RoomCase struct {
	What      string
	Grams     float64
	PeakPPM   float64
	Worst15   float64 // ppm, the worst mean over 15 minutes
	Clear     time.Duration
	Clears    bool // whether it falls to 25 ppm at all
	NeedsACH  float64
	NeedsOK   bool
	Standings []room.Standing
	Actions   []room.Action
}

// mixingUnknown is the mixing factor taken for a room of which none is known (CDC
// 1994 gives 1 to 10; 3 is usual for a room without a designed supply).
const mixingUnknown = 3

// RoomAir reckons the room at one opening of the lid, and with everything that
// is in the chamber spilt. It is empty outdoors, and where the room is not known.
func (s State) RoomAir(in studio.Room) ([]RoomCase, error) {
	if !s.Live || in.Outdoors || in.VolumeM3 == 0 {
		return nil, nil
	}
	r := room.Room{VolumeM3: in.VolumeM3, AirChangesPerH: in.ACH, Mixing: in.Mixing, Temp: s.Temp}
	if r.Mixing == 0 {
		r.Mixing = mixingUnknown
	}
	gas, _ := matter.Lookup("ammonia-gas")
	var out []RoomCase
	for _, c := range []struct {
		what  string
		grams float64
		over  time.Duration
	}{
		{"One lifting of the lid now", s.LooseG, 0},
		{"Everything in the chamber, spilt and evaporated within ten minutes", s.AllG, 10 * time.Minute},
	} {
		release := []room.Release{{Grams: c.grams, Over: c.over}}
		course, err := r.Run(room.AmmoniaMolarMass, release)
		if err != nil {
			return nil, err
		}
		x := RoomCase{What: c.what, Grams: c.grams, Worst15: float64(course.Worst(15 * time.Minute))}
		peak, _ := course.Peak()
		x.PeakPPM = float64(peak)
		x.Clear, x.Clears = course.ClearAfter(25)
		if x.NeedsACH, x.NeedsOK, err = r.ChangesToStayBelow(35, 15*time.Minute, room.AmmoniaMolarMass, release); err != nil {
			return nil, err
		}
		x.Standings = course.Against(gas.Limits)
		x.Actions = course.Actions(gas.Limits)
		out = append(out, x)
	}
	return out, nil
}
