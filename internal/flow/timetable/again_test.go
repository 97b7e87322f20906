package timetable

import (
	"math/rand/v2"
	"testing"
)

// lateDay starts what a timetable starts before now and makes one of it late.
func lateDay(d Day, start []int, now, late int) (Day, bool) {
	ops := append([]Op(nil), d.Ops...)
	d.Ops = ops
	last := -1
	for i, s := range start {
		if s < now {
			ops[i].Started, ops[i].Start = true, s
			if s+ops[i].Minutes > now-late && (last < 0 || s > start[last]) {
				last = i
			}
		}
	}
	if last < 0 {
		return d, false
	}
	ops[last].Minutes += late
	return d, true
}

func TestReplanMovesNoMoreThanItMust(t *testing.T) {
	tried := 0
	for seed := range 600 {
		r := rand.New(rand.NewPCG(uint64(seed), 4))
		d := tinyDay(r)
		before, err := Plan(d, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if before.State != Fits {
			continue
		}
		now := 2 + r.IntN(4)
		late, ok := lateDay(d, before.Start, now, 1+r.IntN(2))
		if !ok {
			continue
		}
		fewest, finish := 1<<30, 0
		every(late, func(start []int) {
			moved := 0
			for i, s := range start {
				if !late.Ops[i].Started && s < now {
					return
				}
				if s != before.Start[i] {
					moved++
				}
			}
			if f := finishOf(late, start); moved < fewest || moved == fewest && f < finish {
				fewest, finish = moved, f
			}
		})
		tt, err := Replan(late, before.Start, now, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if ok := fewest < 1<<30; ok != (tt.State == Fits) {
			t.Fatalf("day %d: %v, trying every start says %v (%+v)", seed, tt.State, ok, late)
		} else if !ok {
			continue
		}
		tried++
		if err := broken(late, tt.Start); err != nil {
			t.Fatalf("day %d: %v", seed, err)
		}
		if len(tt.Moved) != fewest || !tt.FewestMoves || tt.Finish != finish {
			t.Fatalf("day %d: %d moved (fewest %v), finish %d; trying every start says %d, %d (%+v)", seed, len(tt.Moved), tt.FewestMoves, tt.Finish, fewest, finish, late)
		}
	}
	if tried < 50 {
		t.Errorf("only %d days were tried", tried)
	}
}

func TestReplanOfABenchDay(t *testing.T) {
	d := benchDay(t, "bd12.txt")
	before, err := Plan(d, Options{Finish: Limit{Steps: 100_000}, Tidy: Limit{Steps: 50_000}})
	if err != nil || before.State != Fits {
		t.Fatal(before.State, err)
	}
	tried := 0
	for now := 20; now < before.Finish; now += 30 {
		late, ok := lateDay(d, before.Start, now, 3)
		if !ok {
			continue
		}
		tried++
		tt, err := Replan(late, before.Start, now, Options{Finish: Limit{Steps: 200_000}, Tidy: Limit{Steps: 20_000}})
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("at %d: %v, %d of %d moved (fewest %v), finish %d after %d", now, tt.State, len(tt.Moved), len(d.Ops), tt.FewestMoves, tt.Finish, before.Finish)
		if tt.State == Fits {
			if err := broken(late, tt.Start); err != nil {
				t.Fatal(err)
			}
		} else if len(tt.Reasons) == 0 {
			t.Errorf("at %d: %v for no reason", now, tt.State)
		}
	}
	if tried < 3 {
		t.Errorf("only %d late steps were tried", tried)
	}
}
