package cli

import (
	"context"
	"fmt"
	"os"
	"slices"
	"time"

	"aerugo/internal/flow/timetable"
	"aerugo/internal/studio"
)

type dayVerb struct {
	Spec    string  `arg:"" name:"spec" help:"The day, a JSON file."`
	Seconds float64 `name:"seconds" default:"5" placeholder:"S" help:"How long to look for a better timetable."`
	Seed    uint64  `name:"seed" default:"1" placeholder:"N" help:"Another number draws other tries."`
	JSON    bool    `name:"json" help:"Answer in JSON."`
}

// Help is shown below the verb's usage.
func (dayVerb) Help() string {
	return `When each step of a bench day starts, so that the day is over as early as can be, lids are opened as seldom as can be, and waits have time to spare. It stops before --seconds once nothing better is possible.

The day, in minutes from its start:

{"finish_by_min": 480,
 "resources": [{"name": "hands", "capacity": 1, "windows_min": [[0, 240], [270, 540]]},
  {"name": "places", "capacity": 4}],
 "operations": [{"name": "S01 load", "swatch": "S01", "duration_min": 2,
  "needs": [{"resource": "hands", "amount": 1}],
  "earliest_min": 0, "latest_end_min": 300, "started_min": 12}, ...],
 "lags": [{"from": "S01 load", "to": "S01 unload", "min_min": 27, "max_min": 33}],
 "holds": [{"resource": "places", "from": "S01 load", "to": "S01 unload"}],
 "lids": [{"name": "chamber", "operations": ["S01 load", "S01 unload"], "gap_min": 0}]}

windows_min is when a resource is there; leave it out for always. A lag is the wait from the end of one step to the start of the next; without max_min it may last. A hold takes a place from the start of one step to the end of another. started_min is for a step that has begun. Lids opened again within gap_min are opened once.

A day that can't fit ends with status 2; what stands in its way and what would make it fit is the answer.

` + exits
}

// timetabled is what timetable reports. Times are minutes from the day's start.
type timetabled struct {
	Status     string             `json:"status"`
	Finish     *int               `json:"makespan"`
	Bound      int                `json:"lower_bound"`
	Gap        *float64           `json:"gap"`
	Proven     bool               `json:"proven"`
	Openings   int                `json:"openings"`
	Fewest     bool               `json:"openings_proven"`
	SpareMin   int                `json:"spare_min"`
	Operations []timetabledOp     `json:"operations"`
	Waits      []timetabledWait   `json:"waits"`
	Reasons    []timetabledReason `json:"reasons"`
	Fixes      []timetabledFix    `json:"fixes"`
	Seconds    float64            `json:"seconds"`
}

type timetabledOp struct {
	Name  string `json:"name"`
	Start int    `json:"start_min"`
	End   int    `json:"end_min"`
}

type timetabledWait struct {
	From    string `json:"from"`
	To      string `json:"to"`
	Minutes int    `json:"wait_min"`
	Spare   int    `json:"spare_min"`
}

type timetabledReason struct {
	Kind       string   `json:"kind"`
	Text       string   `json:"text"`
	Operations []string `json:"operations"`
	Resource   string   `json:"resource,omitempty"`
	NeedMin    int      `json:"need_min,omitempty"`
	HaveMin    int      `json:"have_min,omitempty"`
}

type timetabledFix struct {
	Kind     string   `json:"kind"`
	Text     string   `json:"text"`
	Swatches []string `json:"swatches,omitempty"`
	From     string   `json:"from,omitempty"`
	To       string   `json:"to,omitempty"`
	Minutes  int      `json:"minutes,omitempty"`
	Least    bool     `json:"least"`
}

// Run plans the day.
func (v dayVerb) Run(ctx context.Context, t *term) error {
	if !(v.Seconds > 0 && v.Seconds <= 3600) {
		return studio.Problemf(studio.Invalid, "seconds", "--seconds can't be %g; write more than 0 and at most 3600", v.Seconds)
	}
	d, err := dayIn(v.Spec)
	if err != nil {
		return err
	}
	begun := time.Now()
	// A fifth of the time is kept for openings, spare time and reasons.
	until := func(share float64) timetable.Limit {
		return timetable.Limit{Stop: func() bool { return ctx.Err() != nil || time.Since(begun).Seconds() > share*v.Seconds }}
	}
	tt, err := timetable.Plan(d, timetable.Options{Seed: v.Seed, Finish: until(0.8), Tidy: until(1)})
	if err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	r := told(d, tt)
	r.Seconds = round4(time.Since(begun).Seconds())
	if v.JSON {
		err = t.asJSON(r)
	} else {
		r.tell(t)
	}
	if err == nil && tt.State != timetable.Fits {
		what := "no timetable was found in " + fmt.Sprintf("%g", v.Seconds) + " s; give it more with --seconds, or plan less for the day"
		if tt.State == timetable.CanNot {
			what = "the day can't fit; the answer says why and what would make it fit"
		}
		return studio.Problemf(studio.Invalid, "spec", "%s", what)
	}
	return err
}

// dayIn reads the day in a file.
func dayIn(path string) (timetable.Day, error) {
	const most = 4 << 20
	info, err := os.Stat(path)
	if err == nil && info.Size() > most {
		return timetable.Day{}, studio.Problemf(studio.Invalid, "spec", "%s holds %d bytes, too many for a day; name a file of at most 4 MB", path, info.Size())
	}
	b, err := os.ReadFile(path)
	if err != nil {
		return timetable.Day{}, studio.Problemf(studio.NotFound, "spec", "%s can't be read (%s); name the JSON file that holds the day", path, plainly(err))
	}
	return timetable.Read(b)
}

// told puts names for numbers.
func told(d timetable.Day, tt timetable.Timetable) timetabled {
	r := timetabled{Status: string(tt.State), Bound: tt.Bound, Proven: tt.Proven, Openings: tt.Openings, Fewest: tt.Fewest, SpareMin: tt.Spare,
		Operations: []timetabledOp{}, Waits: []timetabledWait{}, Reasons: []timetabledReason{}, Fixes: []timetabledFix{}}
	if tt.State == timetable.Fits {
		finish := tt.Finish
		gap := 0.0
		if finish > 0 {
			gap = round4(float64(finish-tt.Bound) / float64(finish))
		}
		r.Finish, r.Gap = &finish, &gap
	}
	for i, s := range tt.Start {
		r.Operations = append(r.Operations, timetabledOp{d.Ops[i].Name, s, s + d.Ops[i].Minutes})
	}
	for _, w := range tt.Waits {
		l := d.Lags[w.Lag]
		r.Waits = append(r.Waits, timetabledWait{d.Ops[l.From].Name, d.Ops[l.To].Name, w.Minutes, w.Spare})
	}
	for _, w := range tt.Reasons {
		one := timetabledReason{Kind: string(w.Kind), Text: w.Text(d), Operations: []string{}, NeedMin: w.Need, HaveMin: w.Have}
		for _, i := range w.Ops {
			one.Operations = append(one.Operations, d.Ops[i].Name)
		}
		if w.Kind == timetable.Load {
			one.Resource = d.Resources[w.Resource].Name
		}
		r.Reasons = append(r.Reasons, one)
	}
	for _, f := range tt.Fixes {
		one := timetabledFix{Kind: string(f.Kind), Text: f.Text(d), Swatches: f.Swatches, Minutes: f.Minutes, Least: f.Least}
		if f.Kind == timetable.Stretch {
			one.From, one.To = d.Ops[d.Lags[f.Lag].From].Name, d.Ops[d.Lags[f.Lag].To].Name
		}
		r.Fixes = append(r.Fixes, one)
	}
	return r
}

// tell writes the timetable for people, in the order of the day.
func (r timetabled) tell(t *term) {
	clock := func(m int) string { return fmt.Sprintf("%3d:%02d", m/60, m%60) }
	slices.SortStableFunc(r.Operations, func(a, b timetabledOp) int { return a.Start - b.Start })
	for _, o := range r.Operations {
		t.printf("%s to %s  %s\n", clock(o.Start), clock(o.End), o.Name)
	}
	if r.Finish != nil {
		t.printf("\nOver after %d min", *r.Finish)
		switch {
		case r.Proven:
			t.printf("; earlier is not possible.\n")
		default:
			t.printf("; before %d min is not possible.\n", r.Bound)
		}
		if r.Openings > 0 {
			t.printf("Lids are opened %d times", r.Openings)
			if r.Fewest {
				t.printf("; fewer do not do for this finish")
			}
			t.printf(".\n")
		}
		if len(r.Waits) > 0 {
			t.printf("The tightest wait may last %d min longer.\n", r.SpareMin)
		}
	}
	for _, w := range r.Reasons {
		t.printf("%s\n", w.Text)
	}
	for _, f := range r.Fixes {
		t.printf("- %s\n", f.Text)
	}
}
