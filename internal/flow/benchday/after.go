package benchday

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/studio"
)

// A Row is one piece of work as planned against as done. Times are zero where
// it was not planned, or is not known to be done.
type Row struct {
	Treatment, Swatch int64
	Faces             studio.Faces
	Step              int
	Kind              studio.StepKind
	What              string
	PlannedAt, DoneAt time.Time // when it starts
	PlannedEnd        time.Time
	DoneEnd           time.Time
	Late              time.Duration // of the start; negative when sooner
	By                string
}

// A Report is a bench day as it was.
type Report struct {
	Rows     []Row
	HandsOn  map[int64]time.Duration // by swatch
	Work     time.Duration           // of all hands
	Idle     time.Duration           // of hands that were there, from the first work to the last
	Openings int                     // as done
	Planned  int                     // openings as planned
	Slipped  []string
	Learnt   map[studio.StepKind]Took // from this day alone
	Began    time.Time
	Ended    time.Time
}

// After holds a day against its first timetable: a.Wish names its treatments and
// people, a.Entries what happened.
//
// What a swatch took is reckoned from taps: the time since the same person's
// tap before, shared by the swatches of one tap; a minute for each lid.
func After(a Ask, first []studio.BenchStart) (Report, error) {
	kept := keptOf(first)
	d, err := newDraft(&a, kept)
	if err != nil {
		return Report{}, err
	}
	mine := slices.DeleteFunc(slices.Clone(a.Entries), func(e run.Entry) bool { return !slices.Contains(a.Wish.Treatments, e.Treatment.ID) })
	took := handsOn(mine)
	r := Report{HandsOn: map[int64]time.Duration{}, Learnt: Learn(mine)}
	asDone, asPlanned := map[int64][]time.Time{}, map[int64][]time.Time{}
	lateAlready := map[int64]bool{}
	starts := d.show(kept)
	for n, w := range d.works {
		t := d.treatment(w)
		if w.what == onRack || w.what == offRack || !slices.Contains(a.Wish.Treatments, t.ID) {
			continue
		}
		row := Row{Treatment: t.ID, Swatch: t.Swatch, Faces: t.Faces, Step: w.step, Kind: d.stepOf(w).Kind, What: w.what}
		was, planned := kept[d.key(w)]
		if planned {
			row.PlannedAt, row.PlannedEnd = was.At, was.At.Add(time.Duration(was.Minutes)*time.Minute)
			if w.lid {
				asPlanned[w.chamber] = append(asPlanned[w.chamber], row.PlannedAt)
			}
		}
		if w.done && !w.going {
			row.DoneAt, row.DoneEnd = starts.Starts[n].At, d.time(w.end)
			rec := d.ask.Entries[w.entry].Record.Steps
			hand := time.Duration(handling) * time.Minute
			switch w.what {
			case Do:
				hand, row.By = took[key{t.ID, w.step, ""}], rec[w.step].By
			case PutIn:
				if w.step > 0 {
					row.By = rec[w.step-1].By
				}
			default:
				row.By = rec[w.step].By
			}
			r.HandsOn[t.Swatch] += hand
			r.Work += hand
			if w.lid {
				asDone[w.chamber] = append(asDone[w.chamber], row.DoneEnd)
			}
			if r.Began.IsZero() || row.DoneAt.Before(r.Began) {
				r.Began = row.DoneAt
			}
			if row.DoneEnd.After(r.Ended) {
				r.Ended = row.DoneEnd
			}
			if planned {
				row.Late = row.DoneEnd.Sub(row.PlannedEnd)
				if row.Late >= slip && !lateAlready[t.ID] {
					lateAlready[t.ID] = true
					r.Slipped = append(r.Slipped, fmt.Sprintf("Swatch %s: %s was done %s late, and what follows with it.", number(t), d.doing(w), studio.Span(row.Late.Round(time.Minute))))
				}
			}
		}
		r.Rows = append(r.Rows, row)
	}
	for _, e := range mine {
		for i, s := range e.Treatment.Steps {
			rec := e.Record.Steps[i]
			if ok, known := rec.Within(s); known && !ok && s.Kind.Dwell() {
				r.Slipped = append(r.Slipped, fmt.Sprintf("Swatch %s %s for %s, planned %s.", number(e.Treatment), verbs[s.Kind], studio.Span(rec.Ended.Sub(rec.Began).Round(time.Minute)), studio.Span(s.Duration)))
			}
		}
	}
	slices.SortStableFunc(r.Rows, func(x, y Row) int { return x.when().Compare(y.when()) })
	r.Openings, r.Planned = openings(asDone), openings(asPlanned)
	for _, l := range d.levels(a.Wish.LaterMin) {
		from, till := later(d.time(l.from), r.Began), earlier(d.time(l.till), r.Ended)
		if till.After(from) {
			r.Idle += till.Sub(from) * time.Duration(l.hands)
		}
	}
	r.Idle = max(0, r.Idle-r.Work)
	return r, nil
}

// slip is how late a step must be to be spoken of.
const slip = 5 * time.Minute

func (r Row) when() time.Time {
	if r.DoneAt.IsZero() {
		return r.PlannedAt
	}
	return r.DoneAt
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// doing names a work in the middle of a sentence.
func (d *draft) doing(w work) string {
	k := string(d.stepOf(w).Kind)
	switch w.what {
	case PutIn:
		return "putting in to " + k
	case TakeOut:
		return "taking out (" + k + ")"
	case SeeTo, Begin:
		return "seeing to it (" + k + ")"
	}
	return k
}

// openings counts times that lie further apart than taps of one opening do.
func openings(times map[int64][]time.Time) int {
	n := 0
	for _, all := range times {
		slices.SortFunc(all, time.Time.Compare)
		for i, t := range all {
			if i == 0 || t.Sub(all[i-1]) > run.Together {
				n++
			}
		}
	}
	return n
}

// handsOn is how long the hands were on each step that is no dwell, where both
// its ends are known; the keys have no What.
func handsOn(entries []run.Entry) map[key]time.Duration {
	type tap struct {
		by    string
		kind  studio.StepKind
		began time.Time
		at    time.Time
		of    key
		hand  bool
	}
	var taps []tap
	for _, e := range entries {
		for i, s := range e.Treatment.Steps {
			rec := e.Record.Steps[i]
			if rec.Ended.IsZero() || rec.Doubt != "" {
				continue
			}
			taps = append(taps, tap{rec.By, s.Kind, rec.Began, rec.Ended, key{e.Treatment.ID, i, ""}, !s.Kind.Dwell()})
		}
	}
	slices.SortFunc(taps, func(a, b tap) int {
		return cmp.Or(cmp.Compare(a.by, b.by), a.at.Compare(b.at), cmp.Compare(a.kind, b.kind), cmp.Compare(a.of.treatment, b.of.treatment), cmp.Compare(a.of.step, b.of.step))
	})
	out := map[key]time.Duration{}
	for i := 0; i < len(taps); {
		// one tap, or taps for one thing done to several
		n := i + 1
		for n < len(taps) && taps[n].by == taps[i].by && taps[n].kind == taps[i].kind && taps[n].at.Sub(taps[n-1].at) < 30*time.Second {
			n++
		}
		if taps[i].hand {
			from := taps[i].began
			for _, t := range taps[i:n] {
				if !t.began.IsZero() && (from.IsZero() || t.began.Before(from)) {
					from = t.began
				}
			}
			for j := i - 1; j >= 0 && taps[j].by == taps[i].by; j-- {
				if taps[j].at.Before(taps[i].at) {
					from = later(from, taps[j].at)
					break
				}
			}
			if !from.IsZero() {
				for _, t := range taps[i:n] {
					out[t.of] = max(0, taps[n-1].at.Sub(from)) / time.Duration(n-i)
				}
			}
		}
		i = n
	}
	return out
}

// waited is how many times as long as planned a step may seem to take and still
// be learnt from. What is longer holds a wait for something else, a meal or a
// talk: between two taps these can't be told from work.
const waited = 4

// Learn returns how long each kind of step took the hands, from what was tapped.
// Steps that run by themselves are not learnt: they last as planned. Nor is one
// that seems to have taken more than four times as long as planned.
func Learn(entries []run.Entry) map[studio.StepKind]Took {
	took := handsOn(entries)
	all := map[studio.StepKind][]float64{}
	for _, e := range entries {
		for i, s := range e.Treatment.Steps {
			planned, _ := (&Ask{}).minutesOf(s)
			if d, ok := took[key{e.Treatment.ID, i, ""}]; ok && d <= time.Duration(waited*planned)*time.Minute {
				all[s.Kind] = append(all[s.Kind], d.Minutes())
			}
		}
	}
	out := map[studio.StepKind]Took{}
	for k, v := range all {
		slices.Sort(v)
		out[k] = Took{Median: quantile(v, 0.5), Low: quantile(v, 0.1), High: quantile(v, 0.9), N: len(v)}
	}
	return out
}

// quantile is that of sorted values, linear between them: definition 7 of
// Hyndman and Fan 1996, The American Statistician 50, 361.
func quantile(sorted []float64, p float64) float64 {
	at := p * float64(len(sorted)-1)
	i := int(math.Floor(at))
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (at-float64(i))*(sorted[i+1]-sorted[i])
}
