package timetable

import (
	"fmt"
	"math/rand/v2"
)

// broken looks at a timetable minute by minute, knowing nothing of how it was
// made, and says what is wrong with it.
func broken(d Day, start []int) error {
	if len(start) != len(d.Ops) {
		return fmt.Errorf("%d starts for %d operations", len(start), len(d.Ops))
	}
	last := 0
	for i, o := range d.Ops {
		end := start[i] + o.Minutes
		last = max(last, end)
		switch {
		case o.Started:
			if start[i] != o.Start {
				return fmt.Errorf("%s started at %d, not at %d", o.Name, o.Start, start[i])
			}
		case start[i] < o.Earliest:
			return fmt.Errorf("%s at %d is before %d", o.Name, start[i], o.Earliest)
		case o.LatestEnd > 0 && end > o.LatestEnd:
			return fmt.Errorf("%s ends at %d, after %d", o.Name, end, o.LatestEnd)
		}
	}
	if d.FinishBy > 0 && last > d.FinishBy {
		return fmt.Errorf("it ends at %d, after %d", last, d.FinishBy)
	}
	for _, l := range d.Lags {
		if d.Ops[l.From].Started && d.Ops[l.To].Started {
			continue
		}
		if w := start[l.To] - start[l.From] - d.Ops[l.From].Minutes; w < l.Min || (l.Max != NoLimit && w > l.Max) {
			return fmt.Errorf("%s to %s waits %d, not %d to %d", d.Ops[l.From].Name, d.Ops[l.To].Name, w, l.Min, l.Max)
		}
	}
	for r, res := range d.Resources {
		all, past := make([]int, last+1), make([]int, last+1)
		take := func(from, till, amount int, happened bool) error {
			for m := from; m < till; m++ {
				all[m] += amount
				if happened {
					past[m] += amount
					continue
				}
				if there(res, m) == 0 {
					return fmt.Errorf("%s is used at %d, when nobody is there", res.Name, m)
				}
			}
			return nil
		}
		for i, o := range d.Ops {
			for _, n := range o.Needs {
				if n.Resource == r {
					if err := take(start[i], start[i]+o.Minutes, n.Amount, o.Started); err != nil {
						return err
					}
				}
			}
		}
		for _, h := range d.Holds {
			if h.Resource == r {
				if h.From != h.To && start[h.To]+d.Ops[h.To].Minutes <= start[h.From] && !(d.Ops[h.From].Started && d.Ops[h.To].Started) {
					return fmt.Errorf("%s is held for no time", res.Name)
				}
				if err := take(start[h.From], start[h.To]+d.Ops[h.To].Minutes, h.Amount, d.Ops[h.From].Started && d.Ops[h.To].Started); err != nil {
					return err
				}
			}
		}
		for m := range all {
			if n := there(res, m); all[m] > n && all[m] > past[m] {
				return fmt.Errorf("%d of %d %s are used at %d", all[m], n, res.Name, m)
			}
		}
	}
	return nil
}

// there is how many of a resource's units there are in a minute.
func there(r Resource, minute int) int {
	for _, w := range r.Windows {
		if w.From <= minute && minute < w.Till {
			return r.Capacity - w.Fewer
		}
	}
	if len(r.Windows) == 0 {
		return r.Capacity
	}
	return 0
}

// randomDay draws a small day: swatches with a chamber, waits with and without
// an end, one or two pairs of hands, breaks, nights, lids and things under way.
func randomDay(r *rand.Rand) Day {
	d := Day{Resources: []Resource{
		{Name: "hands", Capacity: 1 + r.IntN(5)/4},
		{Name: "chamber", Capacity: 1 + r.IntN(3)},
	}, Lids: []Lid{{Name: "lid", Gap: r.IntN(3)}}}
	switch r.IntN(4) {
	case 0:
		d.Resources[0].Windows = []Window{{0, 30, 0}, {40, 90, d.Resources[0].Capacity - 1}, {150, 300, 0}}
	case 1:
		d.Resources[0].Windows = []Window{{5, 200, 0}}
	}
	if r.IntN(3) == 0 {
		d.FinishBy = 40 + r.IntN(120)
	}
	for s := range 1 + r.IntN(5) {
		in := -1
		for k := range 2 + r.IntN(4) {
			i := len(d.Ops)
			o := Op{Name: fmt.Sprint("S", s, " ", k), Swatch: fmt.Sprint("S", s), Minutes: r.IntN(8), Needs: []Need{{0, 1}}}
			if r.IntN(8) == 0 {
				o.Needs = nil
			}
			if r.IntN(10) == 0 {
				o.Earliest = r.IntN(40)
			}
			if r.IntN(12) == 0 {
				o.LatestEnd = 60 + r.IntN(100)
			}
			d.Ops = append(d.Ops, o)
			if k > 0 {
				l := Lag{i - 1, i, r.IntN(15) - r.IntN(3), NoLimit}
				if r.IntN(3) > 0 {
					l.Max = l.Min + r.IntN(12)
				}
				d.Lags = append(d.Lags, l)
			}
			switch {
			case in < 0 && r.IntN(2) == 0:
				in = i
				d.Lids[0].Ops = append(d.Lids[0].Ops, i)
			case in >= 0:
				d.Lids[0].Ops = append(d.Lids[0].Ops, i)
				d.Holds = append(d.Holds, Hold{1, 1, in, i})
				in = -1
			}
		}
	}
	if r.IntN(6) == 0 {
		for n := range 1 + r.IntN(2) {
			o := &d.Ops[n]
			o.Started, o.Start = true, n*3
		}
	}
	return d
}
