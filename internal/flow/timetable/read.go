package timetable

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"strings"

	"aerugo/internal/studio"
)

// written is a day as it is written down; things are named, never numbered.
type written struct {
	FinishBy  int `json:"finish_by_min"`
	Resources []struct {
		Name     string   `json:"name"`
		Capacity *int     `json:"capacity"`
		Windows  [][2]int `json:"windows_min"`
	} `json:"resources"`
	Operations []struct {
		Name      string `json:"name"`
		Swatch    string `json:"swatch"`
		Minutes   int    `json:"duration_min"`
		Needs     []use  `json:"needs"`
		Earliest  int    `json:"earliest_min"`
		LatestEnd int    `json:"latest_end_min"`
		Started   *int   `json:"started_min"`
	} `json:"operations"`
	Lags []struct {
		From string `json:"from"`
		To   string `json:"to"`
		Min  int    `json:"min_min"`
		Max  *int   `json:"max_min"`
	} `json:"lags"`
	Holds []struct {
		use
		From string `json:"from"`
		To   string `json:"to"`
	} `json:"holds"`
	Lids []struct {
		Name string   `json:"name"`
		Ops  []string `json:"operations"`
		Gap  int      `json:"gap_min"`
	} `json:"lids"`
}

type use struct {
	Resource string `json:"resource"`
	Amount   *int   `json:"amount"`
}

func (u use) amount() int {
	if u.Amount == nil {
		return 1
	}
	return *u.Amount
}

// Read reads a day from JSON and checks it. Its errors are *studio.Problem.
//
//	{"finish_by_min": 480,
//	 "resources":  [{"name": "hands", "capacity": 1, "windows_min": [[0, 240], [270, 540]]}],
//	 "operations": [{"name": "S01 load", "swatch": "S01", "duration_min": 2, "needs": [{"resource": "hands", "amount": 1}],
//	                 "earliest_min": 0, "latest_end_min": 300, "started_min": 12}],
//	 "lags":       [{"from": "S01 load", "to": "S01 unload", "min_min": 27, "max_min": 33}],
//	 "holds":      [{"resource": "places", "amount": 1, "from": "S01 load", "to": "S01 unload"}],
//	 "lids":       [{"name": "chamber", "operations": ["S01 load", "S01 unload"], "gap_min": 0}]}
//
// Amounts and capacities left out are 1, a longest wait left out has no end.
func Read(b []byte) (Day, error) {
	var w written
	dec := json.NewDecoder(bytes.NewReader(b))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&w); err != nil {
		return Day{}, unread(b, err)
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return Day{}, studio.Problemf(studio.Invalid, "spec", "there is more after the end of the day; a file holds one day")
	}
	return w.day()
}

// unread says in plain words why b is no day.
func unread(b []byte, err error) error {
	bad := func(format string, args ...any) error {
		return studio.Problemf(studio.Invalid, "spec", format, args...)
	}
	var shape *json.UnmarshalTypeError
	var syntax *json.SyntaxError
	line := func(offset int64) int {
		return 1 + bytes.Count(b[:min(max(offset, 0), int64(len(b)))], []byte("\n"))
	}
	switch {
	case errors.As(err, &shape):
		return bad("line %d: %s can't be a %s; write whole minutes without quotes, names in quotes, lists in [ ]", line(shape.Offset), shape.Field, shape.Value)
	case errors.As(err, &syntax):
		return bad("line %d is not JSON (%s); look for a comma or a quote too few or too many", line(syntax.Offset), syntax.Error())
	case strings.HasPrefix(err.Error(), "json: unknown field "):
		return bad("there is no field %s in a day; its fields are finish_by_min, resources, operations, lags, holds and lids, and theirs as the help of timetable shows", strings.TrimPrefix(err.Error(), "json: unknown field "))
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return bad("the day breaks off before its end; copy the whole file again")
	}
	return bad("the day can't be read (%v); write it as JSON", err)
}

// day puts numbers for names.
func (w written) day() (Day, error) {
	bad := func(format string, args ...any) (Day, error) {
		return Day{}, studio.Problemf(studio.Invalid, "spec", format, args...)
	}
	d := Day{FinishBy: w.FinishBy}
	resources, ops := map[string]int{}, map[string]int{}
	for _, r := range w.Resources {
		if _, twice := resources[r.Name]; twice || r.Name == "" {
			return bad("the resource %q is on the list twice or has no name; give each its own", r.Name)
		}
		resources[r.Name] = len(d.Resources)
		res := Resource{Name: r.Name, Capacity: 1}
		if r.Capacity != nil {
			res.Capacity = *r.Capacity
		}
		for _, v := range r.Windows {
			res.Windows = append(res.Windows, Window{From: v[0], Till: v[1]})
		}
		d.Resources = append(d.Resources, res)
	}
	resource := func(u use, of string) (int, error) {
		r, ok := resources[u.Resource]
		if !ok {
			_, err := bad("%q takes %q, which is not among the resources; add it there or mend the name", of, u.Resource)
			return 0, err
		}
		return r, nil
	}
	for _, o := range w.Operations {
		if _, twice := ops[o.Name]; twice || o.Name == "" {
			return bad("the operation %q is on the list twice or has no name; give each its own", o.Name)
		}
		ops[o.Name] = len(d.Ops)
		op := Op{Name: o.Name, Swatch: o.Swatch, Minutes: o.Minutes, Earliest: o.Earliest, LatestEnd: o.LatestEnd}
		if o.Started != nil {
			op.Started, op.Start = true, *o.Started
		}
		for _, u := range o.Needs {
			r, err := resource(u, o.Name)
			if err != nil {
				return Day{}, err
			}
			op.Needs = append(op.Needs, Need{r, u.amount()})
		}
		d.Ops = append(d.Ops, op)
	}
	op := func(name string) (int, error) {
		i, ok := ops[name]
		if !ok {
			_, err := bad("%q is not among the operations; add it there or mend the name", name)
			return 0, err
		}
		return i, nil
	}
	for _, l := range w.Lags {
		from, err := op(l.From)
		if err != nil {
			return Day{}, err
		}
		to, err := op(l.To)
		if err != nil {
			return Day{}, err
		}
		lag := Lag{from, to, l.Min, NoLimit}
		if l.Max != nil {
			lag.Max = *l.Max
		}
		d.Lags = append(d.Lags, lag)
	}
	for _, h := range w.Holds {
		from, err := op(h.From)
		if err != nil {
			return Day{}, err
		}
		to, err := op(h.To)
		if err != nil {
			return Day{}, err
		}
		r, err := resource(h.use, h.From)
		if err != nil {
			return Day{}, err
		}
		d.Holds = append(d.Holds, Hold{r, h.amount(), from, to})
	}
	for _, l := range w.Lids {
		lid := Lid{Name: l.Name, Gap: l.Gap}
		for _, name := range l.Ops {
			i, err := op(name)
			if err != nil {
				return Day{}, err
			}
			lid.Ops = append(lid.Ops, i)
		}
		d.Lids = append(d.Lids, lid)
	}
	return d, d.Check()
}
