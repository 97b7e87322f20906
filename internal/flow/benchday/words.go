package benchday

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/flow/timetable"
	"aerugo/internal/studio"
)

// A Fix is one change that, by itself, makes a day fit; it was tried. Drop is
// treatments to leave for another day, Stretch a step to let last longer, Later
// minutes to end later; the others are empty.
type Fix struct {
	Text    string
	Button  string
	Drop    []int64
	Stretch studio.BenchStretch
	Later   int
}

// Apply returns what is asked for with the fix made.
func (f Fix) Apply(w studio.BenchAsk) studio.BenchAsk {
	w.Treatments = slices.DeleteFunc(slices.Clone(w.Treatments), func(id int64) bool { return slices.Contains(f.Drop, id) })
	if f.Stretch.Minutes > 0 {
		w.Stretch = append(slices.Clone(w.Stretch), f.Stretch)
	}
	w.LaterMin += f.Later
	return w
}

// clock writes a time of day, with the day where it is not now's.
func clock(t, now time.Time) string {
	t = t.In(now.Location())
	if t.Format("2006-01-02") == now.Format("2006-01-02") {
		return t.Format("15:04")
	}
	return t.Format("Mon 15:04")
}

func (d *draft) clock(minute int) string { return clock(d.time(minute), d.ask.Now) }

// swatch names the swatch of an entry, and its face where that is the back.
func (d *draft) swatch(entry int) string {
	return "swatch " + number(d.ask.Entries[entry].Treatment)
}

func number(t studio.Treatment) string {
	n := strconv.FormatInt(t.Swatch, 10)
	if t.Faces == studio.OnBack {
		n += " (back)"
	}
	return n
}

// name is what the timetable calls a work.
func (d *draft) name(w work) string {
	text := d.swatch(w.entry) + ", " + string(d.stepOf(w).Kind)
	switch w.what {
	case PutIn, TakeOut, SeeTo, Begin:
		text += ": " + w.what
	}
	return text
}

// series writes "3", "3 and 5", "3, 5 and 7".
func series(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

var verbs = map[studio.StepKind]string{
	studio.Degrease: "Degrease", studio.Abrade: "Abrade", studio.Rinse: "Rinse", studio.Wet: "Wet", studio.Sprinkle: "Sprinkle salt on",
	studio.BrushOut: "Brush out", studio.Flip: "Flip", studio.Heat: "Heat", studio.Neutralise: "Neutralise", studio.Seal: "Seal",
	studio.Dry: "dries", studio.Rest: "rests", studio.Fume: "is fumed", studio.Bury: "lies buried", studio.Pickle: "lies in the pickle",
}

func plural(n int) string {
	if n == 1 {
		return "swatch "
	}
	return "swatches "
}

// title is what an action is called at the bench.
func (d *draft) title(a Action) string {
	names := a.names
	if a.Opening {
		once := ""
		if len(a.Parts) > 1 {
			once = " once"
		}
		return fmt.Sprintf("Open %s%s: %s", d.ask.chamberName(a.Chamber), once, strings.Join(a.Under(), ", "))
	}
	p := a.Parts[0]
	who := plural(len(a.Swatches)) + names(p.What)
	switch p.What {
	case PutIn:
		return map[studio.StepKind]string{studio.Fume: "Put in the chamber: ", studio.Bury: "Bury ", studio.Pickle: "Put in the pickle: "}[p.Kind] + who
	case TakeOut:
		return map[studio.StepKind]string{studio.Fume: "Take out of the chamber: ", studio.Bury: "Dig out ", studio.Pickle: "Take out of the pickle: "}[p.Kind] + who
	case SeeTo:
		if p.Kind == studio.Dry {
			return "See that it is dry: " + who
		}
		return "See to it, the rest is over: " + who
	case Begin:
		return fmt.Sprintf("Lay out to %s: %s", p.Kind, who)
	}
	return verbs[p.Kind] + " " + who
}

// names lists the swatches of an action's parts of a kind.
func (a Action) names(what string) string {
	var out []string
	for _, p := range a.Parts {
		if n := number(studio.Treatment{Swatch: p.Swatch, Faces: p.Faces}); p.What == what && !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	return series(out)
}

// Under says what is done under the lid of an opening, in order: "take out 3",
// "flip 5", "put in 9".
func (a Action) Under() []string {
	var does []string
	for _, x := range []struct{ what, word string }{{TakeOut, "take out "}, {Do, "flip "}, {PutIn, "put in "}} {
		if n := a.names(x.what); a.Opening && n != "" {
			does = append(does, x.word+n)
		}
	}
	return does
}

// miss says what starting later than a time will mean.
func (d *draft) miss(t tie, at time.Time) string {
	s := d.ask.Entries[t.entry].Treatment.Steps[t.step]
	who, when := d.swatch(t.entry), clock(at, d.ask.Now)
	switch t.why {
	case dwells:
		if t.assumed {
			return fmt.Sprintf("Later than %s %s %s clearly longer than planned (its recipe gives no tolerance; a tenth is assumed): note it, it still counts as run.", when, who, verbs[s.Kind])
		}
		return fmt.Sprintf("Later than %s %s %s longer than its tolerance: note it, it still counts as run.", when, who, verbs[s.Kind])
	case stands:
		if s.Kind == studio.Wet {
			return fmt.Sprintf("Later than %s the wetted face of %s begins to dry: wet it again, and note it.", when, who)
		}
		return fmt.Sprintf("Later than %s the salt on %s has drunk up its wetting before it goes in: note it, it still counts as run.", when, who)
	case over:
		return fmt.Sprintf("Later than %s the base of %s may be dry, and this is to go on wet: note it, it still counts as run.", when, who)
	case chained:
		return fmt.Sprintf("Later than %s %s is no longer in one filling with its block: note it, the block then counts for less.", when, who)
	}
	return ""
}

// broken says which tolerance a plan can't keep, and by how much.
func (d *draft) broken(t tie, minutes int) string {
	s := d.ask.Entries[t.entry].Treatment.Steps[t.step]
	who := capital(d.swatch(t.entry))
	by := studio.Span(time.Duration(minutes) * time.Minute)
	switch t.why {
	case dwells:
		return fmt.Sprintf("%s %s %s past its tolerance.", who, verbs[s.Kind], by)
	case stands:
		return fmt.Sprintf("%s stands %s too long after the %s.", who, by, map[bool]string{true: "wetting", false: "salting"}[s.Kind == studio.Wet])
	case over:
		return fmt.Sprintf("%s waits %s too long for what goes on wet.", who, by)
	}
	return fmt.Sprintf("%s goes in %s after the rest of its block.", who, by)
}

// firstWords says why a comes before b, which is due as well.
func (d *draft) firstWords(a, b Action) string {
	other := strings.ToLower(b.Title[:1]) + b.Title[1:]
	till := clock(b.Latest, d.ask.Now)
	switch {
	case a.Latest.IsZero():
		return fmt.Sprintf("This first: it has time before the other (%s), which can wait until %s.", other, till)
	case a.Latest.Before(b.Latest):
		return fmt.Sprintf("This first: it can wait until %s only, the other (%s) until %s.", clock(a.Latest, d.ask.Now), other, till)
	case b.Start.After(b.Latest):
		return fmt.Sprintf("This first, then the other (%s).", other)
	}
	return fmt.Sprintf("This first: both keep their tolerance in this order, the other (%s) can wait until %s.", other, till)
}

// Distance says how far the finish may be from the earliest there is.
func (s Sheet) Distance() string {
	done := clock(s.Finish, s.Now)
	if s.Bound.IsZero() {
		return fmt.Sprintf("Done %s.", done)
	}
	if s.Proven || !s.Bound.Before(s.Finish) {
		return fmt.Sprintf("Done %s; it can't be done before.", done)
	}
	return fmt.Sprintf("Done %s; it can't be done before %s.", done, clock(s.Bound, s.Now))
}

// reasons says why a day does not fit.
func (d *draft) reasons(day timetable.Day, tt timetable.Timetable) []string {
	var out []string
	if tt.State == timetable.NotFound {
		out = append(out, "No timetable was found in the time given, nor a proof that there is none.")
	}
	span := func(minutes int) string { return studio.Span(time.Duration(minutes) * time.Minute) }
	for _, r := range tt.Reasons {
		switch r.Kind {
		case timetable.Load:
			if r.Resource == 0 {
				out = append(out, fmt.Sprintf("There is %s of work for the hands, and they are there for %s.", span(r.Need), span(r.Have)))
			} else {
				out = append(out, fmt.Sprintf("The %s are needed for %s together, and there are %s.", day.Resources[r.Resource].Name, span(r.Need), span(r.Have)))
			}
		case timetable.Hours:
			alone := d.notEvenAlone()
			if len(alone) == 0 {
				out = append(out, "Each swatch fits alone, but not all of them together.")
				break
			}
			out = append(out, fmt.Sprintf("%s can't be done within the hours in which someone is there, even with all hands and places to %s.",
				capital(plural(len(alone))+series(alone)), map[bool]string{true: "itself", false: "themselves"}[len(alone) == 1]))
		case timetable.Circle:
			var names []string
			for _, i := range r.Ops {
				names = append(names, day.Ops[i].Name)
			}
			out = append(out, fmt.Sprintf("The waits contradict each other: %s.", strings.Join(names, "; ")))
		default:
			out = append(out, "Each swatch fits alone, but not all of them together.")
		}
	}
	return out
}

// notEvenAlone names the swatches that don't fit into the hours by themselves.
func (d *draft) notEvenAlone() []string {
	var out []string
	for _, e := range d.ask.Entries {
		one := *d.ask
		one.Entries = []run.Entry{e}
		one.Wish.Treatments = []int64{e.Treatment.ID}
		alone, err := newDraft(&one, nil)
		if err != nil || !alone.anything() {
			continue
		}
		quick := timetable.Limit{Steps: 2000}
		tt, _, err := alone.solve(alone.levels(one.Wish.LaterMin), timetable.Options{Seed: 1, Finish: quick, Tidy: timetable.Limit{Steps: 1}})
		if err == nil && tt.State == timetable.CanNot && !slices.Contains(out, number(e.Treatment)) {
			out = append(out, number(e.Treatment))
		}
	}
	return out
}

func capital(text string) string { return strings.ToUpper(text[:1]) + text[1:] }

// fixes puts what would make a day fit into words and changes.
func (d *draft) fixes(day timetable.Day, tt timetable.Timetable) []Fix {
	var out []Fix
	for _, f := range tt.Fixes {
		switch f.Kind {
		case timetable.Drop:
			var fix Fix
			var names []string
			for _, e := range d.ask.Entries {
				if t := e.Treatment; slices.Contains(f.Swatches, fmt.Sprint("swatch ", t.Swatch)) && slices.Contains(d.ask.Wish.Treatments, t.ID) {
					fix.Drop = append(fix.Drop, t.ID)
					if n := strconv.FormatInt(t.Swatch, 10); !slices.Contains(names, n) {
						names = append(names, n)
					}
				}
			}
			if len(fix.Drop) == 0 || len(fix.Drop) == len(d.ask.Wish.Treatments) {
				continue
			}
			fix.Text = fmt.Sprintf("It fits without %s%s.", plural(len(names)), series(names))
			fix.Button = fmt.Sprintf("Leave %s for another day", series(names))
			out = append(out, fix)
		case timetable.Stretch:
			l := day.Lags[f.Lag]
			for _, t := range d.ties {
				if t.from != l.From || t.to != l.To || t.most != l.Max || t.why != dwells && t.why != stands {
					continue
				}
				s := d.ask.Entries[t.entry].Treatment
				by := studio.Span(time.Duration(f.Minutes) * time.Minute)
				text := fmt.Sprintf("It fits if %s may %s up to %s longer than its tolerance.", d.swatch(t.entry), lasting[s.Steps[t.step].Kind], by)
				fix := Fix{Text: text, Button: fmt.Sprintf("Let it %s %s longer", lasting[s.Steps[t.step].Kind], by),
					Stretch: studio.BenchStretch{Treatment: s.ID, Step: t.step, Minutes: f.Minutes}}
				out = append(out, fix)
				break
			}
		case timetable.Later:
			by := studio.Span(time.Duration(f.Minutes) * time.Minute)
			out = append(out, Fix{Text: fmt.Sprintf("It fits if someone stays %s longer, until %s.", by, d.clock(lastOf(d.levels(d.ask.Wish.LaterMin))+f.Minutes)),
				Button: "Stay " + by + " longer", Later: f.Minutes})
		}
	}
	return out
}

var lasting = map[studio.StepKind]string{
	studio.Fume: "fume", studio.Rest: "rest", studio.Dry: "dry", studio.Bury: "lie buried", studio.Pickle: "lie in the pickle",
	studio.Wet: "stand after the wetting", studio.Sprinkle: "stand after the salting",
}

// assumed lists what nobody said and was taken as usual.
func (d *draft) assumed() []string {
	out := slices.Clone(d.notes)
	minutes := map[studio.StepKind]int{}
	var open, stand []string
	for _, w := range d.works {
		if w.assumed && !w.done {
			minutes[d.stepOf(w).Kind] = w.minutes
		}
	}
	for _, t := range d.ties {
		if !t.assumed || d.works[t.to].done {
			continue
		}
		k := string(d.ask.Entries[t.entry].Treatment.Steps[t.step].Kind)
		switch t.why {
		case dwells:
			if !slices.Contains(open, k) {
				open = append(open, k)
			}
		case stands:
			if !slices.Contains(stand, k) {
				stand = append(stand, k)
			}
		}
	}
	var kinds []string
	for _, k := range studio.StepKinds {
		if m, ok := minutes[k]; ok {
			kinds = append(kinds, fmt.Sprintf("%s %d min", k, m))
		}
	}
	if len(kinds) > 0 {
		out = append(out, "Assumed, as the recipe gives no time: "+strings.Join(kinds, ", ")+" (common practice, no source).")
	}
	for _, k := range stand {
		out = append(out, fmt.Sprintf("Assumed: the next step comes within %d min of %s, whose recipe gives no tolerance (common practice, no source).", standing[studio.StepKind(k)], k))
	}
	if len(open) > 0 {
		out = append(out, "Assumed: a tenth more time, 5 min at least, as the recipe gives no tolerance for: "+strings.Join(open, ", ")+" (common practice, no source).")
	}
	if slices.ContainsFunc(d.works, func(w work) bool { return w.lid && !w.done }) {
		out = append(out, fmt.Sprintf("Assumed: %d min to put one swatch in or take it out (common practice, no source).", handling))
	}
	return out
}
