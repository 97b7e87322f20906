package class

import (
	"fmt"
	"strings"
	"time"

	"aerugo/internal/studio"
)

// A Part is one part of the class on the clock. Least is how many minutes it needs
// at least. Running says what works by itself meanwhile, from the parts before.
type Part struct {
	studio.ClassPart
	Start, End time.Time
	Title      string
	Teacher    string
	Students   string
	Running    []string
	Least      int
}

// Short is by how many minutes the part is shorter than it can be done in.
func (p Part) Short() int { return max(0, p.Least-p.Minutes) }

// clocked puts the parts one after the other from the class's beginning.
func (a Ask) clocked(parts []studio.ClassPart) []Part {
	out := make([]Part, len(parts))
	at := a.Class.Starts
	for i, p := range parts {
		end := at.Add(time.Duration(p.Minutes) * time.Minute)
		out[i] = Part{ClassPart: p, Start: at, End: end, Least: min(a.spanOf(p).least, studio.MaxClassMinutes)}
		at = end
	}
	return out
}

// A wait is a dwell of a recipe on the clock of the class.
type wait struct {
	step       int
	from, till time.Time
}

// course is how far a recipe comes in the parts: the next step not done, the dwell
// that still runs when the class ends (-1 for none), and what is wrong with the
// order of its parts.
type course struct {
	from, next int
	open       int
	since      time.Time
	waits      []wait
	early      bool // a part comes before the wait ahead of it is over
	faults     []string
}

// follow goes with recipe i through the parts.
func (a Ask) follow(i int, parts []Part) course {
	r := a.Recipes[i]
	steps := r.Version.Steps
	c := course{open: -1}
	c.from, _ = a.first(i)
	if _, begun := a.first(i); !begun && a.mode(i).who == byTeacher {
		c.from = 0
	}
	c.next = c.from
	end := a.Class.Starts.Add(time.Duration(a.Class.Minutes) * time.Minute)
	for _, p := range parts {
		if p.VersionID != r.Version.ID || p.From == p.To {
			continue
		}
		if c.open >= 0 {
			over := c.since.Add(steps[c.open].Duration - steps[c.open].Early)
			if p.Start.Before(over) {
				c.early = true
				c.faults = append(c.faults, fmt.Sprintf("%s goes on at %s, but its %s is not over before %s; move that part later or leave it out.", r.Name, clock(p.Start), steps[c.open].Kind, clock(over)))
				return c
			}
			c.open = -1
		}
		switch {
		case p.From < c.next && p.To > c.next:
			c.faults = append(c.faults, fmt.Sprintf("Step %d of %s (%s) is in two parts; take it out of one.", p.From+1, r.Name, steps[p.From].Kind))
		case p.To <= c.next:
			continue // cleaning that is in a part of its own
		case p.From > c.next:
			c.faults = append(c.faults, fmt.Sprintf("Step %d of %s (%s) is in no part before %s; put it into one.", c.next+1, r.Name, steps[c.next].Kind, clock(p.Start)))
			return c
		}
		c.next = p.To
		if last := steps[p.To-1]; last.Kind.Dwell() {
			c.open, c.since = p.To-1, p.End
			c.waits = append(c.waits, wait{p.To - 1, p.End, p.End.Add(last.Duration)})
		}
	}
	if c.open >= 0 && !c.since.Add(steps[c.open].Duration-steps[c.open].Early).After(end) {
		c.open = -1
	}
	return c
}

// clock is a time as the room's clock shows it, in the zone of the time.
func clock(t time.Time) string { return t.Format("15:04") }

// gerunds name what runs by itself.
var gerunds = map[studio.StepKind]string{
	studio.Fume: "Fuming", studio.Rest: "Resting", studio.Dry: "Drying", studio.Bury: "Lying in the litter", studio.Pickle: "Pickling",
}

func gerund(k studio.StepKind) string {
	if g, ok := gerunds[k]; ok {
		return g
	}
	return strings.ToUpper(string(k)[:1]) + string(k)[1:]
}

// listed joins the kinds of steps in order, each once in a row.
func listed(steps []studio.Step) string {
	var out []string
	for _, s := range steps {
		if len(out) == 0 || out[len(out)-1] != string(s.Kind) {
			out = append(out, string(s.Kind))
		}
	}
	return strings.Join(out, ", ")
}
