package timetable

import (
	"fmt"
	"math/rand/v2"
	"testing"
)

// fillingDay draws a tiny day of fillings that go into a chamber together, with
// hours that have a gap or somebody missing.
func fillingDay(r *rand.Rand) Day {
	d := Day{FinishBy: 24 + r.IntN(8), Resources: []Resource{{Name: "hands", Capacity: 1 + r.IntN(2)}, {Name: "places", Capacity: 1 + r.IntN(3)}}}
	if r.IntN(2) == 0 {
		d.Resources[0].Windows = []Window{{0, 4 + r.IntN(3), 0}, {7 + r.IntN(3), 12, r.IntN(d.Resources[0].Capacity)}, {12, 40, 0}}
	}
	hands := []Need{{0, 1}}
	for range 2 + r.IntN(2) {
		first := -1
		dwell := 3 + r.IntN(4)
		for k := range 1 + r.IntN(min(2, d.Resources[1].Capacity)) {
			in := len(d.Ops)
			if r.IntN(3) == 0 {
				in++
				d.Ops = append(d.Ops, Op{Name: "prepare", Minutes: 1 + r.IntN(3), Needs: hands})
				d.Lags = append(d.Lags, Lag{in - 1, in, 0, r.IntN(2)})
			}
			d.Ops = append(d.Ops, Op{Name: "in", Minutes: 1, Needs: hands}, Op{Name: "out", Minutes: 1, Needs: hands})
			d.Lags = append(d.Lags, Lag{in, in + 1, dwell + k, dwell + k + r.IntN(2)})
			d.Holds = append(d.Holds, Hold{1, 1, in, in + 1})
			if first >= 0 {
				d.Lags = append(d.Lags, Lag{first, in, -2 + r.IntN(3), 1})
			} else {
				first = in
			}
			if r.IntN(3) == 0 {
				d.Ops = append(d.Ops, Op{Name: "brush", Minutes: r.IntN(3), Needs: hands})
				d.Lags = append(d.Lags, Lag{in + 1, in + 2, r.IntN(4), NoLimit})
			}
		}
	}
	return d
}

// earliest is the earliest finish of a small day, by trying every start that its
// waits leave and looking at each timetable minute by minute; 0 for none, and false
// where that takes too long.
func earliest(d Day) (int, bool) {
	best, tries := d.FinishBy+1, 0
	start := make([]int, len(d.Ops))
	var place func(i int)
	place = func(i int) {
		if tries++; tries > 150_000 {
			return
		}
		if i == len(start) {
			if broken(d, start) == nil {
				best = finishOf(d, start)
			}
			return
		}
		lo, hi := 0, best-1-d.Ops[i].Minutes
		for _, l := range d.Lags {
			if l.To == i && l.From < i {
				end := start[l.From] + d.Ops[l.From].Minutes
				lo, hi = max(lo, end+l.Min), min(hi, end+l.Max)
			}
		}
		for s := lo; s <= hi && s+d.Ops[i].Minutes < best; s++ {
			start[i] = s
			if used(d, start[:i+1], s) <= there(d.Resources[0], s) {
				place(i + 1)
			}
		}
	}
	place(0)
	if best > d.FinishBy {
		best = 0
	}
	return best, tries <= 150_000
}

// used is how many hands the first operations take in a minute.
func used(d Day, start []int, minute int) int {
	n := 0
	for i, s := range start {
		if s <= minute && minute < s+d.Ops[i].Minutes {
			n++
		}
	}
	return n
}

func TestNoBoundIsAboveTheEarliestFinish(t *testing.T) {
	tried, byWaves, exact := 0, 0, 0
	for seed := range 600 {
		d := fillingDay(rand.New(rand.NewPCG(uint64(seed), 21)))
		least, circle := paths(d)
		if circle != nil {
			continue
		}
		finish, all := earliest(d)
		if !all || finish == 0 {
			continue
		}
		tried++
		m := build(d, least)
		work := m.lo(m.finish)
		m.chambered()
		bound := m.lo(m.finish)
		if m.broken || bound > finish {
			t.Fatalf("day %d: it can be over at %d, the bound says %d (broken %v): %+v", seed, finish, bound, m.broken, d)
		}
		if bound > work {
			byWaves++
		}
		if bound == finish {
			exact++
		}
	}
	t.Logf("%d days, waves bound %d, exact %d", tried, byWaves, exact)
	if tried < 300 || byWaves < 100 || exact < tried/4 {
		t.Errorf("%d days, waves bound %d, exact %d: too few of a kind were tried", tried, byWaves, exact)
	}
}

func TestPublishedOptimaAreNotBelowTheBoundOfTheWork(t *testing.T) {
	for _, set := range published {
		for name, want := range optima(t, set.dir) {
			d := set.read(t, name)
			least, circle := paths(d)
			if want < 0 || circle != nil {
				continue
			}
			m := build(d, least)
			m.chambered()
			if m.broken || m.lo(m.finish) > want {
				t.Errorf("%s: the bound is %d (broken %v), the optimum %d", name, m.lo(m.finish), m.broken, want)
			}
		}
	}
}

// A part planned again within a frame is a timetable of the whole.
func TestWhatIsPlannedAgainInAFrameKeepsEveryRule(t *testing.T) {
	bettered := 0
	for seed := range uint64(12) {
		d := fuming(22, 1+int(seed%2), seed)
		if seed%3 == 0 {
			d.Resources[0].Capacity = 2
			d.Resources[0].Windows = []Window{{0, 60, 0}, {90, 200, 1}, {200, 2000, 0}}
		}
		least, _ := paths(d)
		clock := &meter{}
		s := newSearch(build(d, least), dice(seed), clock)
		if s.first() != found {
			t.Fatalf("day %d: nothing found", seed)
		}
		near := &nearby{s, 40}
		begun := finishOf(d, s.best)
		for range 12 {
			near.again(finishOf(d, s.best))
			if err := broken(d, s.best); err != nil {
				t.Fatal(fmt.Errorf("day %d: %w", seed, err))
			}
		}
		if finishOf(d, s.best) < begun {
			bettered++
		}
	}
	if bettered < 8 {
		t.Errorf("%d of 12 days were bettered", bettered)
	}
}
