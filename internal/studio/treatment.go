package studio

import "time"

// A Treatment is one recipe on one swatch, on its front, its back or both
// together. Steps are frozen when it is planned. Layer counts from 1 at the
// metal; a treatment of layer 2 lies over that of layer 1.
type Treatment struct {
	ID        int64
	Swatch    int64 // number
	SetID     int64
	Faces     Faces
	Layer     int
	Over      LayState // how it meets the layer below; empty for layer 1
	VersionID int64    // the recipe version it came from, 0 if none
	Steps     []Step
	Settings  []Setting
	Order     int // place in the set's random order, from 1
	Replicate int // from 1
	Block     int // filling of the chamber or day of the plan, from 1; 0 when not planned
	Blank     bool
}

// EventKind is what kind of fact an event records.
type EventKind string

// The kinds of event. Records are only ever added: a correction names the event
// it corrects.
const (
	Began     EventKind = "began"     // the treatment started: step 0 is under way
	Done      EventKind = "done"      // the step was finished
	Changed   EventKind = "changed"   // the step was done with another amount
	Noted     EventKind = "noted"     // words, and the room if read
	Stopped   EventKind = "stopped"   // given up, with the reason
	Corrected EventKind = "corrected" // the event Corrects really was so
	Voided    EventKind = "voided"    // the event Corrects did not happen
)

// An Event is one thing that really happened to a treatment.
//
// Client is a random key made where the tap was made, so that a tap that is
// sent twice counts once. At is when it happened, Recorded when it reached the
// store; both UTC. TempC and RH are the room's, if read: degrees Celsius, and a
// fraction from 0 to 1.
type Event struct {
	ID        int64
	Treatment int64
	Client    string
	Kind      EventKind
	Step      int
	At        time.Time
	Recorded  time.Time
	By        string
	Corrects  int64
	Amount    *Amount
	TempC     *float64
	RH        *float64
	Note      string
}

// Check reports a Problem when e cannot be kept; now is the store's clock.
func (e Event) Check(now time.Time) error {
	switch e.Kind {
	case Began, Done, Changed, Noted, Stopped:
	case Corrected, Voided:
		if e.Corrects == 0 {
			return Problemf(Invalid, "corrects", "A correction must say which record it corrects.")
		}
	default:
		return Problemf(Invalid, "kind", "%q is not something that can happen to a swatch here.", string(e.Kind))
	}
	if e.Client == "" || len(e.Client) > 80 {
		return Problemf(Invalid, "client", "The tap came without its key; reload the page and tap again.")
	}
	if e.At.IsZero() {
		return Problemf(Invalid, "at", "Say when it happened.")
	}
	if e.At.After(now.Add(2 * time.Minute)) {
		return Problemf(Invalid, "at", "%s is in the future; it is %s now.", e.At.UTC().Format("2006-01-02 15:04 MST"), now.UTC().Format("2006-01-02 15:04 MST"))
	}
	if e.At.Year() < 1950 {
		return Problemf(Invalid, "at", "The year %d can't be right; check the date.", e.At.Year())
	}
	if e.TempC != nil && !(*e.TempC >= -30 && *e.TempC <= 60) {
		return Problemf(Invalid, "temp", "A room at %v °C can't be right; write −30 to 60.", *e.TempC)
	}
	if e.RH != nil && !(*e.RH >= 0 && *e.RH <= 1) {
		return Problemf(Invalid, "rh", "A humidity of %v %% can't be right; write 0 to 100.", *e.RH*100)
	}
	if len(e.Note) > 4000 {
		return Problemf(Invalid, "note", "The note has %d characters; 4000 are the most.", len(e.Note))
	}
	if e.Amount != nil {
		return e.Amount.Check("amount")
	}
	return nil
}
