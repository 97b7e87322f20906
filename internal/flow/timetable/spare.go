package timetable

// A Wait is how long one lasts that has an end, and how much longer it may.
type Wait struct {
	Lag     int // in Day.Lags
	Minutes int
	Spare   int
}

func waits(d Day, start []int) []Wait {
	var out []Wait
	for k, l := range d.Lags {
		if l.Max == NoLimit {
			continue
		}
		w := start[l.To] - start[l.From] - d.Ops[l.From].Minutes
		out = append(out, Wait{k, w, l.Max - w})
	}
	return out
}

// spareOf is the least spare time of all waits, where each counts in full that
// lasts no longer than it must.
func spareOf(d Day, start []int) (least, most int) {
	least, most = 1<<30, 0
	for _, w := range waits(d, start) {
		l := d.Lags[w.Lag]
		if d.Ops[l.From].Started && d.Ops[l.To].Started {
			continue
		}
		most = max(most, l.Max-l.Min)
		if w.Minutes > l.Min {
			least = min(least, w.Spare)
		}
	}
	return min(least, most), most
}

// tightened is the day with every wait that has an end so much shorter, as far
// as its limits allow.
func (d Day) tightened(by int) Day {
	lags := make([]Lag, len(d.Lags))
	for k, l := range d.Lags {
		if l.Max < NoLimit {
			l.Max = max(l.Min, l.Max-by)
		}
		lags[k] = l
	}
	d.Lags = lags
	return d
}

// spare looks for the most spare time at the same finish and openings.
func spare(d Day, t *Timetable, seed uint64, clock *meter) {
	lo, hi := spareOf(d, t.Start)
	openings := Openings(d, t.Start)
	for lo < hi && clock.left(0) {
		try := lo + (hi-lo+1)/2
		tight := d.ended(t.Finish).tightened(try)
		starts, r := t.Start, nothing
		if least, circle := paths(tight); circle == nil {
			m := build(tight, least)
			if openings > 0 {
				m.atRoot(atMost(m.shared(), openings))
			}
			s := newSearch(m, dice(seed+2), clock)
			s.start(t.Start)
			for k := 1; k < 6; k++ {
				if r = s.run(byFault, nil, 200*k); r != gaveUp || clock.over {
					break
				}
			}
			starts = s.best
		}
		if r == found {
			t.Start = starts
			lo = try
		} else {
			hi = try - 1
		}
	}
	t.Spare, _ = spareOf(d, t.Start)
}
