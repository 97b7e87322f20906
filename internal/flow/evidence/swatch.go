package evidence

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/studio"
)

// A Kept is a swatch as it was really run, as a version of a recipe.
type Kept struct {
	Version     studio.Version
	Unconfirmed []string // what nobody confirmed and is taken as planned
	Otherwise   []string // what was done otherwise than planned
}

// FromSwatch turns a treatment that has ended into a version: the times that what runs by
// the clock took and the amounts that were used, steps that were not done left out, what was otherwise noted on
// its step. Tolerances are the planned ones; Tolerances puts those of the evidence in.
// below is the treatment it lies over, nil on bare metal.
func FromSwatch(t studio.Treatment, r run.Record, below *studio.Treatment) (Kept, error) {
	var k Kept
	if t.Blank {
		return k, studio.Problemf(studio.Invalid, "", "Swatch %d is the bare blank; nothing was done to it that could be a recipe.", t.Swatch)
	}
	if r.Status != run.Finished && r.Status != run.Stopped {
		return k, studio.Problemf(studio.Conflict, "", "Swatch %d is not finished yet; keep it as a recipe when it is.", t.Swatch)
	}
	if t.Layer > 1 {
		if below == nil || below.VersionID == 0 {
			return k, studio.Problemf(studio.Conflict, "", "What lies under this layer of swatch %d came from no recipe; keep that one as a recipe first.", t.Swatch)
		}
		k.Version.OverID, k.Version.Over = below.VersionID, t.Over
	}
	for _, l := range run.AsRun(t, r) {
		planned, got := t.Steps[l.N-1], r.Steps[l.N-1]
		if !l.Kind.Dwell() {
			// from tap to tap a step of the hands holds the waiting for the others too
			l.Step.Duration, l.Difference = planned.Duration, ""
			if got.AmountNoted && (got.Amount.Value != planned.Amount.Value || got.Amount.Unit != planned.Amount.Unit) {
				l.Difference = "used " + amountWords(got.Amount) + " instead of " + amountWords(planned.Amount)
			}
		}
		if l.Kind.Dwell() && l.Took == 0 { // began and ended put at one moment tell no length, and none is no recipe
			l.Step.Duration = planned.Duration
		}
		name := fmt.Sprintf("%s (step %d)", noun(l.Kind), l.N)
		if got.State == run.Dropped || got.State == run.Waiting {
			k.Otherwise = append(k.Otherwise, noun(l.Kind)+" left off")
			continue
		}
		s := l.Step
		s.Early, s.Late = planned.Early, planned.Late
		s.Duration = rounded(s.Duration)
		s.Early = min(s.Early, s.Duration)
		if !s.Amount.IsZero() {
			if s.Amount.Hand != "" && !got.AmountNoted {
				k.Unconfirmed = append(k.Unconfirmed, fmt.Sprintf("the amount of %s: '%s', taken as %s", name, s.Amount.Hand, amountWords(studio.Amount{Value: s.Amount.Value, Unit: s.Amount.Unit})))
			}
			if s.Amount.Value > 0 {
				s.Amount.Hand = "" // the number stays, whatever the word comes to weigh
			}
		}
		switch {
		case got.State == run.Unconfirmed:
			k.Unconfirmed = append(k.Unconfirmed, name+" was never tapped, taken as planned")
		case s.Kind.Dwell() && l.Took == 0:
			k.Unconfirmed = append(k.Unconfirmed, "how long "+name+" took, taken as planned")
		case l.Difference != "" && (!s.Kind.Dwell() || !l.Within || got.AmountNoted):
			k.Otherwise = append(k.Otherwise, noun(l.Kind)+" "+l.Difference)
			s.Note = noted(s.Note, fmt.Sprintf("On swatch %d: %s.", t.Swatch, l.Difference))
		}
		if wait := l.Took - planned.Duration; !s.Kind.Dwell() && wait >= longWait {
			s.Note = noted(s.Note, fmt.Sprintf("On swatch %d the next step came %s later.", t.Swatch, studio.Span(rounded(l.Took))))
		}
		k.Version.Steps = append(k.Version.Steps, s)
	}
	k.Version.Why = Reference{t.Swatch, t.Faces}.String()
	if len(k.Otherwise) > 0 {
		k.Version.Why += ": " + strings.Join(k.Otherwise, "; ")
	}
	return k, k.Version.Check()
}

// longWait is how long what is done by hand may wait for the next step without being
// told: a choice of ours.
const longWait = 10 * time.Minute

func noted(note, more string) string { return strings.TrimSpace(note + " " + more) }

// rounded is a time as it would be written into a recipe: whole minutes from ten on,
// else five seconds.
func rounded(d time.Duration) time.Duration {
	step := 5 * time.Second
	if d >= 10*time.Minute {
		step = time.Minute
	}
	if out := d.Round(step); out > 0 || d == 0 {
		return out
	}
	return step
}

// A Reference is the swatch that a version was kept from.
type Reference struct {
	Swatch int64
	Faces  studio.Faces
}

// String writes a reference as the reason of a version begins.
func (r Reference) String() string {
	return fmt.Sprintf("As swatch %d, %s, was run", r.Swatch, strings.TrimPrefix(faceWords(r.Faces), "the "))
}

var referenceIn = regexp.MustCompile(`^As swatch (\d{1,18}), (front|back|both faces), was run`)

// ReferenceIn reads the reference back from a version; false when it was kept from none.
func ReferenceIn(v studio.Version) (Reference, bool) {
	m := referenceIn.FindStringSubmatch(v.Why)
	if m == nil {
		return Reference{}, false
	}
	n, err := strconv.ParseInt(m[1], 10, 64)
	if err != nil {
		return Reference{}, false
	}
	faces := studio.Faces(m[2])
	if m[2] == "both faces" {
		faces = studio.OnBoth
	}
	return Reference{n, faces}, true
}
