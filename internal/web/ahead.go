package web

import (
	"context"
	"strings"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/studio"
)

// cardShape is an empty card.
var cardShape = taskView{State: "▲ NOW", Button: "Done", Amount: "0", Unit: "g", Ahead: forScript{[]aheadTreatment{}}, Task: run.Task{Title: "Step"}}

// An aheadTreatment is a treatment as a phone needs it to go on by itself: the
// steps from the present one on, in the words of their cards.
type aheadTreatment struct {
	Treatment int64       `json:"t"`
	Swatch    int64       `json:"swatch"`
	Faces     string      `json:"faces" say:"yes"`
	Step      int         `json:"step"`            // index of the first of Steps
	Since     int64       `json:"since,omitempty"` // when it became current, ms; 0 when not known
	Steps     []aheadStep `json:"steps"`
	Not       string      `json:"not,omitempty" say:"yes"` // why it may not begin
}

// An aheadStep is a step's card. In its title for several {1} stands for the swatches: a
// language has them where it needs them.
type aheadStep struct {
	Kind    studio.StepKind `json:"kind"`
	One     string          `json:"one" say:"yes"`  // "Open Chamber A: take out swatch 3, front"
	Many    string          `json:"many" say:"yes"` // "Open Chamber A once: take out {1}", of several
	Lines   []string        `json:"lines,omitempty" say:"yes"`
	Button  string          `json:"button" say:"yes"`
	Buttons string          `json:"buttons" say:"yes"` // of two, "All 2 done": over the 2 the script writes how many there are
	Dwell   bool            `json:"dwell,omitempty"`
	Lasts   int64           `json:"lasts,omitempty"` // ms
	Late    int64           `json:"late,omitempty"`  // ms
	Chamber int64           `json:"place,omitempty"` // several in one are seen to together
	Amount  string          `json:"amount,omitempty" say:"yes"`
	Unit    string          `json:"unit,omitempty" say:"yes"`
	UnitKey string          `json:"unitkey,omitempty"`
}

// stepsAhead returns the cards of a treatment's steps from one on. They come
// from the board itself, asked as if the steps before had just been done.
func stepsAhead(t studio.Treatment, from int, chambers []studio.Chamber, now time.Time) []aheadStep {
	out := []aheadStep{}
	names := map[int64]string{}
	for _, c := range chambers {
		names[c.ID] = c.Name
	}
	for i := from; i < len(t.Steps); i++ {
		records := make([]run.StepRecord, len(t.Steps))
		records[i].Began = now
		tasks := run.Board(now, []run.Entry{{Treatment: t, Record: run.Record{Status: run.Running, Current: i, Steps: records}}}, chambers)
		if len(tasks) != 1 {
			continue
		}
		task := tasks[0]
		v := viewTask(task)
		step := t.Steps[i]
		many := task.Title
		if i := strings.LastIndex(many, " swatch "); i >= 0 { // a chamber's name may say it too
			many = many[:i] + " {1}"
		}
		a := aheadStep{Kind: step.Kind, One: task.Title, Many: many, Lines: v.Lines, Button: v.Button, Dwell: task.Dwell, Lasts: step.Duration.Milliseconds(), Late: step.Late.Milliseconds(),
			Amount: v.Amount, Unit: v.Unit, UnitKey: v.UnitKey}
		if head, what, ok := strings.Cut(many, ": "); ok && task.Chamber != 0 && task.Dwell {
			a.Many = head + " once: " + what
		}
		if task.Dwell {
			a.Chamber = task.Chamber
		}
		task.Members = append(task.Members, task.Members[0])
		a.Buttons = doneWord(task)
		out = append(out, a)
	}
	return out
}

// aheadOf writes a task's treatments with what is ahead of each.
func aheadOf(t run.Task, entries map[int64]run.Entry, chambers []studio.Chamber, now time.Time) forScript {
	var all []aheadTreatment
	for _, m := range t.Members {
		e := entries[m.Treatment]
		a := aheadTreatment{Treatment: m.Treatment, Swatch: m.Swatch, Faces: facesWord(m.Faces), Step: m.Step, Steps: stepsAhead(e.Treatment, m.Step, chambers, now)}
		if began := e.Record.Steps[m.Step].Began; !began.IsZero() {
			a.Since = began.UnixMilli()
		}
		all = append(all, a)
	}
	return forScript{all}
}

// aheadOfReady writes a treatment that can begin, or why it may not: a phone
// that can't ask the laptop must know that beforehand. refused is what its set
// is refused for; layers from elsewhere on the swatch are looked at here.
func (s *Server) aheadOfReady(ctx context.Context, f folded, refused string, b benchNow) (forScript, error) {
	t := f.Treatment
	a := aheadTreatment{Treatment: t.ID, Swatch: t.Swatch, Faces: facesWord(t.Faces), Steps: stepsAhead(t, 0, b.chambers, s.now()), Not: refused}
	if refused == "" && len(b.onSwatch[t.Swatch]) > 1 {
		err := s.safeToBegin(ctx, run.Entry{Treatment: t, Swatch: b.bySwatch[t.Swatch], Record: f.Record}, b.supplies)
		if p := studio.ProblemIn(err); p != nil {
			a.Not = p.Text
		} else if err != nil {
			return forScript{}, err
		}
	}
	return forScript{a}, nil
}
