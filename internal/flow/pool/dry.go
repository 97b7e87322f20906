package pool

import (
	"fmt"
	"math"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/science"
	"aerugo/internal/science/film"
	"aerugo/internal/studio"
)

// readFor is how long a reading of the room counts.
const readFor = 12 * time.Hour

// A Room is the air that a face dries in. An assumed value is one that nobody
// read within the last 12 hours; the times say when the others were.
type Room struct {
	TempC, RH               float64
	TempAssumed, RHAssumed  bool
	TempReadAt, HumidReadAt time.Time
}

// RoomNow returns the room as last read at a tap, temperature and humidity each.
func RoomNow(records []run.Record, now time.Time) Room {
	r := Room{TempC: commonTemp, RH: commonRH, TempAssumed: true, RHAssumed: true}
	for _, rec := range records {
		for _, x := range rec.Room {
			if x.At.After(now) || now.Sub(x.At) > readFor {
				continue
			}
			if x.TempC != nil && x.At.After(r.TempReadAt) {
				r.TempC, r.TempAssumed, r.TempReadAt = *x.TempC, false, x.At
			}
			if x.RH != nil && x.At.After(r.HumidReadAt) {
				r.RH, r.RHAssumed, r.HumidReadAt = *x.RH, false, x.At
			}
		}
	}
	return r
}

// String says the room in words: "20 °C (assumed), 48 % humidity".
func (r Room) String() string {
	mark := map[bool]string{true: " (assumed)"}
	return fmt.Sprintf("%.3g °C%s, %.0f %% humidity%s", r.TempC, mark[r.TempAssumed], 100*r.RH, mark[r.RHAssumed])
}

// A Drying is what becomes of a face in a Dry step. By is zero when it will not
// dry, or nobody can tell; From and To bound it, To zero when the bound is never
// reached. Words is the sentence for a person.
type Drying struct {
	Step     int
	Outlook  film.Outlook
	By       time.Time
	From, To time.Time
	Hours    film.Span
	Words    string
	Lies     string
	Room     Room
	Assumed  []string
	Cautions []string
}

// Never reports whether it will not dry in this room.
func (d Drying) Never() bool { return d.Outlook == film.Never }

// Dry says when the faces of a Dry step (counted from 0) are dry: the slower of
// two. It counts from when the step began, from now if it has not. False when
// the step is no Dry step or nothing wet is known to lie there.
func Dry(j Job, step int, room Room, now time.Time) (Drying, bool) {
	if step < 0 || step >= len(j.Treatment.Steps) || j.Treatment.Steps[step].Kind != studio.Dry {
		return Drying{}, false
	}
	if j.TempC == nil && !room.TempAssumed {
		j.TempC = &room.TempC
	}
	start := now
	if step < len(j.Record.Steps) && !j.Record.Steps[step].Began.IsZero() {
		start = j.Record.Steps[step].Began
	}
	var slowest Drying
	found := false
	for _, face := range studio.BothFaces {
		if !j.Treatment.Faces.Has(face) {
			continue
		}
		var c coat
		reached := false
		j.walk(face, func(i int, at coat) bool {
			if i == step {
				c, reached = at, true
			}
			return i < step
		})
		if !reached || c.unknown != "" || c.water == 0 && c.salt == 0 {
			continue
		}
		d := Drying{Step: step, Room: room, Lies: fmt.Sprintf("%.0f g/m² of water", c.water), Assumed: c.assumed, Cautions: c.doubt}
		if c.salt > 0 {
			d.Lies += fmt.Sprintf(" with %.3g g/m² of salt", c.salt)
		}
		got, err := film.Drying(film.Wet{Salt: c.key, SaltGPerM2: min(c.salt, film.MostGPerM2), WaterGPerM2: min(c.water, film.MostGPerM2), Temperature: science.Celsius(room.TempC), RoomRH: room.RH})
		if err != nil {
			continue // outside the formulas' range: nothing is said
		}
		d.Outlook, d.Hours = got.Outlook, got.Hours
		for _, a := range got.Assumed {
			if a.What != "the room's humidity" {
				d.Assumed = append(d.Assumed, a.What+": "+a.Value)
			}
		}
		d.Cautions = append(d.Cautions, got.Cautions...)
		d.speak(got, start, now, j.Treatment.Steps[step].Duration)
		if !found || worse(d, slowest) {
			slowest, found = d, true
		}
	}
	return slowest, found
}

// worse reports whether a takes longer than b.
func worse(a, b Drying) bool { return a.Hours.Value > b.Hours.Value }

func (d *Drying) speak(got film.Dried, start, now time.Time, planned time.Duration) {
	after := func(h float64) time.Time {
		if math.IsInf(h, 1) || h > 60*24 {
			return time.Time{}
		}
		return start.Add(time.Duration(h * float64(time.Hour)))
	}
	humid := fmt.Sprintf("at %.0f %% humidity", 100*d.Room.RH)
	switch got.Outlook {
	case film.Never:
		if got.Deliquescence < 1 {
			d.Words = fmt.Sprintf("Will not dry today: %s this salt keeps its liquid, as it does above %.0f %%. Warm or dry the room, or rinse the salt off.", humid, 100*got.Deliquescence)
		} else {
			d.Words = fmt.Sprintf("Will not dry today: %s the air takes no more water. Warm or dry the room.", humid)
		}
		return
	case film.Unclear:
		d.Words = fmt.Sprintf("Can't tell whether it dries: %s it is too near the %.0f %% above which this salt stays wet. Warm or dry the room a little.", humid, 100*got.Deliquescence)
		return
	}
	d.By, d.From, d.To = after(got.Hours.Value), after(got.Hours.Low), after(got.Hours.High)
	switch {
	case got.Hours.Value == 0:
		d.Words = "Dry already, by the reckoning."
		return
	case d.By.IsZero():
		d.Words = "Will not dry for weeks " + humid + "."
		return
	}
	to := "no upper bound"
	if !d.To.IsZero() {
		to = clock(d.To, now)
	}
	d.Words = fmt.Sprintf("Dry by about %s (%s to %s).", clock(d.By, now), clock(d.From, now), to)
	if !d.By.After(now) {
		d.Words = fmt.Sprintf("Should be dry since %s (%s to %s). Touch a corner to be sure.", clock(d.By, now), clock(d.From, now), to)
	} else if planned > 0 && start.Add(planned).Before(d.From) {
		d.Words += fmt.Sprintf(" The %s of the recipe are too short for that.", studio.Span(planned))
	}
}
