package run

import (
	"fmt"
	"sort"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// An Entry is a treatment on the bench, its swatch and what is known of it.
type Entry struct {
	Treatment studio.Treatment
	Swatch    studio.Swatch
	Record    Record
}

// Together is how far apart in time two swatches may be due in one chamber and
// still be seen to in one opening.
const Together = 2 * time.Minute

// A Member is one treatment of a task.
type Member struct {
	Treatment int64
	Swatch    int64
	Faces     studio.Faces
	Step      int // index of the step, from 0, for Confirm
	N, Of     int // as said to people: step N of Of
	Due       time.Time
	Latest    time.Time
}

// A Task is what the hands do next, for one treatment or for several seen to in
// one opening of a chamber.
//
// Due is when: the end of a dwell, or now for a step the hands do. Since is when
// the step became current, zero if not known. Latest is when its tolerance
// breaks, zero if none was given and the step is no dwell. Left is the time to
// Due, Overdue the time since; one of them is 0. Missed says that Latest has
// passed. Doubt says in words why the time can't be trusted.
type Task struct {
	Kind     studio.StepKind
	Title    string
	Members  []Member // swatch by swatch
	N, Of    int      // of the first member
	Dwell    bool
	Since    time.Time
	Due      time.Time
	Latest   time.Time
	Left     time.Duration
	Overdue  time.Duration
	Missed   bool
	Next     studio.StepKind // of the first member; empty when this is the last step
	Chamber  int64
	Caution  string
	Doubt    string
	Amount   studio.Amount // of the first member's step
	Material string
}

// Board lists what the hands do next at now: for every running treatment its
// current step. What is overdue comes first, the least time to its tolerance
// leading; then by the time it is due.
func Board(now time.Time, entries []Entry, chambers []studio.Chamber) []Task {
	var tasks []Task
	for _, e := range entries {
		if e.Record.Status == Running && e.Record.Current < len(e.Treatment.Steps) {
			tasks = append(tasks, taskOf(now, e))
		}
	}
	sortTasks(tasks)
	tasks = group(now, tasks)
	for i := range tasks {
		tasks[i].name(chambers)
	}
	sortTasks(tasks)
	return tasks
}

// taskOf returns the task of one running treatment.
func taskOf(now time.Time, e Entry) Task {
	i := e.Record.Current
	s := e.Treatment.Steps[i]
	t := Task{
		Kind: s.Kind, N: i + 1, Of: len(e.Treatment.Steps), Dwell: s.Kind.Dwell(), Since: e.Record.Steps[i].Began,
		Due: now, Chamber: s.ChamberID, Amount: s.Amount, Material: s.Material,
	}
	switch {
	case t.Since.IsZero():
		t.Doubt = "when it began is not known"
	case t.Dwell:
		t.Due = t.Since.Add(s.Duration)
		t.Latest = t.Due.Add(s.Late)
	case s.Late > 0:
		t.Latest = t.Since.Add(s.Duration + s.Late)
	}
	if i > 0 && e.Record.Steps[i-1].Doubt != "" {
		t.Doubt = "about the step before: " + e.Record.Steps[i-1].Doubt
	}
	if i+1 < len(e.Treatment.Steps) {
		t.Next = e.Treatment.Steps[i+1].Kind
	}
	t.Members = []Member{{
		Treatment: e.Treatment.ID, Swatch: e.Treatment.Swatch, Faces: e.Treatment.Faces,
		Step: i, N: t.N, Of: t.Of, Due: t.Due, Latest: t.Latest,
	}}
	t.clock(now)
	return t
}

// clock sets what depends on now.
func (t *Task) clock(now time.Time) {
	t.Left, t.Overdue = max(t.Due.Sub(now), 0), max(now.Sub(t.Due), 0)
	t.Missed = !t.Latest.IsZero() && now.After(t.Latest)
	if t.Missed && t.Overdue == 0 {
		t.Overdue = now.Sub(t.Latest) // a step of the hands is due from the start; it is late past its tolerance
	}
}

// sortTasks puts what is overdue first, by how soon its tolerance breaks, then
// the rest by when it is due; swatch numbers settle the rest.
func sortTasks(tasks []Task) {
	sort.SliceStable(tasks, func(i, j int) bool {
		a, b := tasks[i], tasks[j]
		if (a.Overdue > 0) != (b.Overdue > 0) {
			return a.Overdue > 0
		}
		x, y := a.Due, b.Due
		if a.Overdue > 0 {
			x, y = a.limit(), b.limit()
		}
		if c := x.Compare(y); c != 0 {
			return c < 0
		}
		if a.Members[0].Swatch != b.Members[0].Swatch {
			return a.Members[0].Swatch < b.Members[0].Swatch
		}
		return a.Members[0].Treatment < b.Members[0].Treatment
	})
}

func (t Task) limit() time.Time {
	if t.Latest.IsZero() {
		return t.Due
	}
	return t.Latest
}

// group joins tasks of one kind in one chamber that can be seen to in one
// opening: what is overdue counts as due now.
func group(now time.Time, tasks []Task) []Task {
	byDue := append([]Task{}, tasks...)
	when := func(t Task) time.Time {
		if t.Due.Before(now) {
			return now
		}
		return t.Due
	}
	sort.SliceStable(byDue, func(i, j int) bool { return when(byDue[i]).Before(when(byDue[j])) })
	var out []Task
	open := map[[2]string]int{} // place in out of the last opening of a chamber
	for _, t := range byDue {
		key := [2]string{string(t.Kind), strconv.FormatInt(t.Chamber, 10)}
		if i, ok := open[key]; ok && t.Chamber != 0 && when(t).Sub(when(out[i])) <= Together {
			out[i].join(now, t)
			continue
		}
		open[key] = len(out)
		out = append(out, t)
	}
	return out
}

// join adds other to t: due with the first, at the latest with the first to break.
func (t *Task) join(now time.Time, other Task) {
	t.Members = append(t.Members, other.Members...)
	if other.Due.Before(t.Due) {
		t.Due = other.Due
	}
	if !other.Latest.IsZero() && (t.Latest.IsZero() || other.Latest.Before(t.Latest)) {
		t.Latest = other.Latest
	}
	if t.Doubt == "" {
		t.Doubt = other.Doubt
	}
	t.clock(now)
}

// name writes the title and the caution.
func (t *Task) name(chambers []studio.Chamber) {
	sort.SliceStable(t.Members, func(i, j int) bool {
		a, b := t.Members[i], t.Members[j]
		if a.Swatch != b.Swatch {
			return a.Swatch < b.Swatch
		}
		return a.Treatment < b.Treatment
	})
	first := t.Members[0]
	t.N, t.Of = first.N, first.Of
	what := pieces(t.Members)
	t.Title = verb(t.Kind) + " " + what
	if t.Chamber != 0 && t.Dwell {
		chamber := chamberName(chambers, t.Chamber)
		if len(t.Members) > 1 {
			t.Title = fmt.Sprintf("Open %s once: %s %s", chamber, strings.ToLower(verb(t.Kind)), what)
		} else {
			t.Title = fmt.Sprintf("Open %s: %s %s", chamber, strings.ToLower(verb(t.Kind)), what)
		}
	}
	if t.Kind == studio.Fume {
		t.Caution = OpeningCaution(t.Material)
	}
}

// pieces names the swatches of a task: "swatch 12, front"; "swatches 3 (both
// faces) and 5 (front)"; "swatches 3 and 5, both faces".
func pieces(ms []Member) string {
	if len(ms) == 1 {
		return fmt.Sprintf("swatch %d, %s", ms[0].Swatch, facesWord(ms[0].Faces))
	}
	same := true
	for _, m := range ms {
		same = same && m.Faces == ms[0].Faces
	}
	var names []string
	for _, m := range ms {
		name := strconv.FormatInt(m.Swatch, 10)
		if !same {
			name += " (" + facesWord(m.Faces) + ")"
		}
		names = append(names, name)
	}
	text := "swatches " + strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
	if same {
		text += ", " + facesWord(ms[0].Faces)
	}
	return text
}

func chamberName(chambers []studio.Chamber, id int64) string {
	for _, c := range chambers {
		if c.ID == id && c.Name != "" {
			return c.Name
		}
	}
	return "the chamber"
}

// OpeningCaution returns what to mind when a chamber with material in its pad
// is opened; an empty material is taken as ammonia.
func OpeningCaution(key string) string {
	if key == "" {
		key = "ammonia-water"
	}
	for _, c := range matter.Cautions([]matter.Use{{Key: key, Step: 1, Form: "fume"}}, "") {
		return c.Text
	}
	return ""
}
