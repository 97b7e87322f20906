package learn

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"aerugo/internal/studio"
)

// saltAndTime is the tenth bench: more salt dissolves later, and the look follows one
// of the two clocks. The numbers are made up.
func saltAndTime(by Clock) madeUp {
	times := studio.Factor{Name: "fuming time", Kind: studio.ByMinutes, Levels: []studio.Level{{Label: "2 h", Number: 120}, {Label: "5 h", Number: 300}, {Label: "9 h", Number: 540}}}
	return madeUp{factors: []studio.Factor{times, salting}, replicates: 2, after: func(rows []Row, rng *rand.Rand) []Row {
		for i := range rows {
			r := &rows[i]
			r.Chamber = r.Settings[0].Level.Number / 60
			dissolved := 0.5 + r.Settings[1].Level.Number/15 + 0.3*rng.Float64()
			r.Wet = max(0, r.Chamber-dissolved)
			h := 0.0
			switch by {
			case SinceWet:
				h = r.Wet
			case InChamber:
				h = r.Chamber
			}
			grown := 1 - math.Exp(-h/4)
			r.Lab.A -= 18 * grown
			r.Lab.B -= 22 * grown
		}
		return rows
	}}
}

// The clock that drives the look is named in four draws of five, the other in no more than
// one of twenty, and with none driving it none is in nine of ten.
func TestTheRightClockIsNamed(t *testing.T) {
	const n = 100
	for _, by := range []Clock{SinceWet, InChamber, NoClock} {
		got := map[Clock]int{}
		words := ""
		for seed := range uint64(n) {
			c, ok := CompareClocks(saltAndTime(by).rows(seed + 1))
			if !ok {
				t.Fatal("18 swatches with both clocks are too few")
			}
			got[c.Better]++
			if seed == 0 {
				words = c.Words + " " + c.Evidence
			}
		}
		t.Logf("10 the look follows %q: named %v. %s", by, got, words)
		other := map[Clock]Clock{SinceWet: InChamber, InChamber: SinceWet}[by]
		if got[by] < n*8/10 || by != NoClock && got[other] > n/20 {
			t.Errorf("the look follows %q, named in %d of %d: %v", by, got[by], n, got)
		}
		if by == NoClock && got[NoClock] < n*9/10 {
			t.Errorf("nothing follows a clock, yet one is named: %v", got)
		}
	}
}

// Clocks that ran together can't be told apart, and it is said.
func TestClocksThatRunTogether(t *testing.T) {
	b := saltAndTime(SinceWet)
	after := b.after
	b.after = func(rows []Row, rng *rand.Rand) []Row {
		rows = after(rows, rng)
		for i := range rows {
			rows[i].Wet = rows[i].Chamber - 0.5
		}
		return rows
	}
	c, ok := CompareClocks(b.rows(1))
	if !ok || c.Better != NoClock || !strings.Contains(c.Words, "can't be told apart") {
		t.Errorf("%v %q", ok, c.Words)
	}
	set, rows := b.rows(1)
	if _, ok := CompareClocks(set, rows[:leastForClocks-1]); ok {
		t.Error("too few swatches compare their clocks")
	}
	for i := range rows {
		rows[i].Wet = math.NaN()
	}
	if _, ok := CompareClocks(set, rows); ok {
		t.Error("swatches without salt have a wet clock")
	}
}
