package run

import (
	"time"

	"aerugo/internal/studio"
)

// A Line is one step as planned against as run.
//
// Run is empty and Confirmed false where the step was never confirmed.
// Difference is empty when there is none to speak of.
type Line struct {
	N          int
	Kind       studio.StepKind
	Planned    string
	Run        string
	Difference string
	Confirmed  bool
	Took       time.Duration // 0 when not known
	Late       time.Duration // how much longer than planned; negative when shorter
	Within     bool          // within the tolerance, or nothing to hold it to
	Step       studio.Step   // as run: the time taken and amount used put in where known
}

// AsRun returns the treatment as planned against as run, line by line. The Step
// of each line put together are the recipe as it was really carried out.
func AsRun(t studio.Treatment, r Record) []Line {
	var lines []Line
	for i, s := range t.Steps {
		if i >= len(r.Steps) {
			break
		}
		got := r.Steps[i]
		l := Line{N: i + 1, Kind: s.Kind, Planned: Words(s), Step: s, Confirmed: got.State == Done, Late: got.Late, Within: true}
		within, known := got.Within(s)
		if known && s.Kind.Dwell() {
			l.Within = within
		}
		if !got.Began.IsZero() && !got.Ended.IsZero() && !got.Ended.Before(got.Began) {
			l.Took = got.Ended.Sub(got.Began)
			if s.Duration > 0 {
				l.Step.Duration = l.Took
				l.Step.Early, l.Step.Late = 0, 0
			}
		}
		if got.AmountNoted {
			l.Step.Amount = got.Amount
		}
		if l.Confirmed {
			l.Run = Words(l.Step)
		}
		l.Difference = difference(s, got)
		lines = append(lines, l)
	}
	return lines
}

// difference says in words how a step was otherwise than planned.
func difference(s studio.Step, got StepRecord) string {
	text := ""
	add := func(more string) {
		if text != "" {
			text += "; "
		}
		text += more
	}
	switch got.State {
	case Unconfirmed:
		add("not confirmed")
	case Dropped:
		add("not done")
	case Done:
		switch {
		case got.Doubt != "":
			add(got.Doubt)
		case got.Began.IsZero():
			add("how long it took is not known")
		case got.Late >= 30*time.Second:
			add(studio.Span(got.Late) + " longer")
		case got.Late <= -30*time.Second:
			add(studio.Span(-got.Late) + " shorter")
		}
		if within, known := got.Within(s); known && !within && s.Kind.Dwell() && s.Early+s.Late > 0 {
			add("outside its tolerance")
		}
	}
	if got.AmountNoted && !sameAmount(got.Amount, s.Amount) {
		add("used " + got.Amount.String() + " instead of " + s.Amount.String())
	}
	return text
}

func sameAmount(a, b studio.Amount) bool { return a.Value == b.Value && a.Unit == b.Unit }
