package run

import (
	"fmt"
	"slices"
	"time"

	"aerugo/internal/studio"
)

// A Tap is what a person tells about a treatment. Client is the key made where
// the tap was made. Step counts from 0. Corrects names the event that a
// correction or void is about.
type Tap struct {
	Kind     studio.EventKind
	Step     int
	At       time.Time
	By       string
	Client   string
	Amount   *studio.Amount
	TempC    *float64
	RH       *float64
	Note     string
	Corrects int64
}

// MaxKey is the longest client key a tap may carry; it leaves room for what is
// added to tell the events of one tap apart.
const MaxKey = 60

// skew is how far two clocks on one bench may differ.
const skew = 2 * time.Minute

// Confirm returns the events that a tap on e makes. Coming late, skipping steps
// and tapping twice are all recorded, and so is a step that nobody confirmed
// before the treatment was finished; what can't be true is a *studio.Problem:
// work on a treatment that was not begun or is over, a step that is not there,
// a time before the beginning. A tap whose key is recorded already makes the
// same events again, which the store knows.
func Confirm(e Entry, tap Tap) ([]studio.Event, error) {
	t, r := e.Treatment, e.Record
	if tap.Client == "" || len(tap.Client) > MaxKey {
		return nil, studio.Problemf(studio.Invalid, "client", "The tap came without its key; reload the page and tap again.")
	}
	if tap.At.IsZero() {
		return nil, studio.Problemf(studio.Invalid, "at", "Say when it happened.")
	}
	if !slices.Contains(r.Keys, tap.Client) {
		if err := allowed(t, r, tap); err != nil {
			return nil, err
		}
	}
	ev := studio.Event{
		Treatment: t.ID, Client: tap.Client, Kind: tap.Kind, Step: tap.Step, At: tap.At.UTC(), By: tap.By,
		Corrects: tap.Corrects, Amount: tap.Amount, TempC: tap.TempC, RH: tap.RH, Note: tap.Note,
	}
	if tap.Kind == studio.Done && tap.Amount != nil {
		changed := studio.Event{
			Treatment: t.ID, Client: tap.Client + "/amount", Kind: studio.Changed, Step: tap.Step,
			At: ev.At, By: tap.By, Amount: tap.Amount,
		}
		ev.Amount = nil
		return []studio.Event{changed, ev}, nil
	}
	return []studio.Event{ev}, nil
}

// allowed reports why a tap can't be true.
func allowed(t studio.Treatment, r Record, tap Tap) error {
	p := piece(t)
	switch tap.Kind {
	case studio.Began:
		switch {
		case t.Blank || len(t.Steps) == 0:
			return studio.Problemf(studio.Conflict, "", "There is nothing to do to %s: it is kept bare.", p)
		case r.Status != Planned:
			return studio.Problemf(studio.Conflict, "", "The treatment of %s was started already; it is %s.", p, r.Status)
		}
		return nil
	case studio.Done, studio.Changed:
		if tap.Step < 0 || tap.Step >= len(t.Steps) {
			return studio.Problemf(studio.Invalid, "step", "%s has no step %d; it has %d.", capital(p), tap.Step+1, len(t.Steps))
		}
		if tap.Kind == studio.Changed && tap.Amount == nil {
			return studio.Problemf(studio.Invalid, "amount", "Say which amount was really used.")
		}
		if tap.Amount != nil {
			if err := tap.Amount.Check("amount"); err != nil {
				return err
			}
		}
		if tap.Kind == studio.Changed && r.Status != Planned {
			break // an amount may be remembered later
		}
		if tap.Kind == studio.Done && r.Status == Finished && r.Steps[tap.Step].State == Unconfirmed && !tap.At.After(r.Ended.Add(skew)) {
			break // made before another finished it, and the only word on that step
		}
		if err := running(r, p); err != nil {
			return err
		}
	case studio.Stopped:
		if err := running(r, p); err != nil {
			return err
		}
	case studio.Noted:
		if tap.Note == "" && tap.TempC == nil && tap.RH == nil {
			return studio.Problemf(studio.Invalid, "note", "There is nothing to keep: write a note, or the room's temperature or humidity.")
		}
		return nil
	case studio.Corrected, studio.Voided:
		if tap.Corrects <= 0 {
			return studio.Problemf(studio.Invalid, "corrects", "Say which record is to be corrected.")
		}
		return nil
	default:
		return studio.Problemf(studio.Invalid, "kind", "%q is not something that can happen to a swatch here.", string(tap.Kind))
	}
	if !r.Began.IsZero() && tap.At.Before(r.Began.Add(-skew)) {
		return studio.Problemf(studio.Invalid, "at", "That is before the treatment of %s began; check the time, or correct when it began.", p)
	}
	return nil
}

func running(r Record, p string) error {
	switch r.Status {
	case Planned:
		return studio.Problemf(studio.Conflict, "", "The treatment of %s has not been started; start it first.", p)
	case Finished:
		return studio.Problemf(studio.Conflict, "", "The treatment of %s is finished; to change what is recorded, correct it.", p)
	case Stopped:
		return studio.Problemf(studio.Conflict, "", "The treatment of %s was given up; to go on, take that record back first.", p)
	}
	return nil
}

// StartTogether returns the events that begin several treatments at once. The
// key of each event is made from key and the treatment, so that the same tap
// sent twice begins nothing twice. Either all can begin or none does.
func StartTogether(entries []Entry, at time.Time, key, by string) ([]studio.Event, error) {
	if len(entries) == 0 {
		return nil, studio.Problemf(studio.Invalid, "t", "Tick at least one swatch to start.")
	}
	var events []studio.Event
	seen := map[int64]bool{}
	for _, e := range entries {
		if seen[e.Treatment.ID] {
			continue
		}
		seen[e.Treatment.ID] = true
		made, err := Confirm(e, Tap{Kind: studio.Began, At: at, By: by, Client: memberKey(key, e.Treatment.ID)})
		if err != nil {
			return nil, err
		}
		events = append(events, made...)
	}
	return events, nil
}

// ConfirmTogether returns the events of one tap on a task of several members:
// tap, with the step of each, on every entry. Either all are right or none is.
func ConfirmTogether(entries []Entry, members []Member, tap Tap) ([]studio.Event, error) {
	byID := map[int64]Entry{}
	for _, e := range entries {
		byID[e.Treatment.ID] = e
	}
	var events []studio.Event
	for _, m := range members {
		e, ok := byID[m.Treatment]
		if !ok {
			return nil, studio.Problemf(studio.NotFound, "", "The treatment of swatch %d is not on the bench any more; reload the page.", m.Swatch)
		}
		one := tap
		one.Step, one.Client = m.Step, tap.Client
		if len(members) > 1 {
			one.Client = memberKey(tap.Client, m.Treatment)
		}
		made, err := Confirm(e, one)
		if err != nil {
			return nil, err
		}
		events = append(events, made...)
	}
	return events, nil
}

// memberKey makes the key of one treatment's event from the key of a tap on several.
func memberKey(key string, treatment int64) string {
	if key == "" {
		return ""
	}
	return fmt.Sprintf("%s/%d", key, treatment)
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return string(s[0]-'a'+'A') + s[1:]
}
