package timetable

import (
	"fmt"
	"math/rand/v2"
	"testing"
)

// short is for tests that look at what is right, not at what is best.
var short = Options{Finish: Limit{Steps: 2500}, Tidy: Limit{Steps: 2500}}

func TestTenThousandRandomDaysKeepEveryRule(t *testing.T) {
	days, fit := 10000, 0
	if testing.Short() {
		days = 1000
	}
	for seed := range days {
		r := rand.New(rand.NewPCG(uint64(seed), 1))
		d := randomDay(r)
		tt, err := Plan(d, short)
		if err != nil {
			t.Fatalf("day %d: %v", seed, err)
		}
		if tt.State != Fits {
			continue
		}
		fit++
		if err := broken(d, tt.Start); err != nil {
			t.Fatalf("day %d: %v", seed, err)
		}
		if f := finishOf(d, tt.Start); f != tt.Finish || tt.Bound > f {
			t.Fatalf("day %d: finish %d, said %d, bound %d", seed, f, tt.Finish, tt.Bound)
		}
	}
	t.Logf("%d of %d days fit", fit, days)
	if fit < days/2 {
		t.Errorf("only %d of %d days fit", fit, days)
	}
}

// tinyDay draws a day of three or four operations within a dozen minutes.
func tinyDay(r *rand.Rand) Day {
	d := Day{FinishBy: 8 + r.IntN(5), Resources: []Resource{{Name: "hands", Capacity: 1 + r.IntN(2)}, {Name: "place", Capacity: 1 + r.IntN(2)}}}
	if r.IntN(2) == 0 {
		d.Resources[0].Windows = []Window{{1, 4, 0}, {6, 12, r.IntN(d.Resources[0].Capacity)}}
	}
	n := 3 + r.IntN(2)
	for i := range n {
		d.Ops = append(d.Ops, Op{Name: fmt.Sprint(i), Swatch: fmt.Sprint(i % 2), Minutes: r.IntN(4), Needs: []Need{{0, 1}}})
		if i > 0 {
			l := Lag{r.IntN(i), i, r.IntN(6) - 3, NoLimit}
			if r.IntN(2) == 0 {
				l.Max = l.Min + r.IntN(3)
			}
			d.Lags = append(d.Lags, l)
		}
	}
	d.Holds = []Hold{{1, 1, 0, 1}, {1, 1, 2, n - 1}}
	d.Lids = []Lid{{Name: "lid", Ops: []int{0, 1, 2}, Gap: r.IntN(2)}}
	return d
}

// every calls see with each timetable of a tiny day that keeps every rule.
func every(d Day, see func(start []int)) {
	start := make([]int, len(d.Ops))
	var place func(i int)
	place = func(i int) {
		if i == len(start) {
			if broken(d, start) == nil {
				see(start)
			}
			return
		}
		if d.Ops[i].Started {
			start[i] = d.Ops[i].Start
			place(i + 1)
			return
		}
		for s := 0; s <= d.FinishBy-d.Ops[i].Minutes; s++ {
			start[i] = s
			place(i + 1)
		}
	}
	place(0)
}

func TestTinyDaysAgainstEveryStart(t *testing.T) {
	fit := 0
	for seed := range 400 {
		d := tinyDay(rand.New(rand.NewPCG(uint64(seed), 2)))
		finish, openings, spare := 1<<30, 0, 0
		every(d, func(start []int) {
			f, o := finishOf(d, start), Openings(d, start)
			s, _ := spareOf(d, start)
			if f < finish || f == finish && (o < openings || o == openings && s > spare) {
				finish, openings, spare = f, o, s
			}
		})
		ok := finish < 1<<30
		tt, err := Plan(d, Options{Seed: uint64(seed)})
		if err != nil {
			t.Fatal(err)
		}
		switch {
		case ok != (tt.State == Fits):
			t.Fatalf("day %d: %v, trying every start says %v (%+v)", seed, tt.State, ok, d)
		case ok && (tt.Finish != finish || !tt.Proven || tt.Openings != openings || !tt.Fewest || tt.Spare != spare):
			t.Fatalf("day %d: finish %d (proven %v), openings %d (%v), spare %d; trying every start says %d, %d, %d (%+v)",
				seed, tt.Finish, tt.Proven, tt.Openings, tt.Fewest, tt.Spare, finish, openings, spare, d)
		case ok:
			fit++
		}
	}
	if fit < 50 || fit > 380 {
		t.Errorf("%d of 400 days fit", fit)
	}
}

func TestFixesOfTinyDaysDoAndFewerMinutesDoNot(t *testing.T) {
	possible := func(d Day) bool {
		any := false
		every(d, func([]int) { any = true })
		return any
	}
	tried := 0
	for seed := range 120 {
		d := tinyDay(rand.New(rand.NewPCG(uint64(seed), 3)))
		tt, err := Plan(d, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if tt.State == Fits {
			continue
		}
		if len(tt.Reasons) == 0 {
			t.Fatalf("day %d does not fit for no reason", seed)
		}
		for _, f := range tt.Fixes {
			tried++
			if f.Text(d) == "" {
				t.Fatal("a fix without words")
			}
			switch f.Kind {
			case Drop:
				if !possible(d.without(f.Swatches)) {
					t.Fatalf("day %d does not fit without %v", seed, f.Swatches)
				}
			case Stretch:
				e := d
				e.Lags = append([]Lag(nil), d.Lags...)
				e.Lags[f.Lag].Max += f.Minutes
				if !possible(e) {
					t.Fatalf("day %d: %+v does not do", seed, f)
				}
				if e.Lags[f.Lag].Max--; f.Least && possible(e) {
					t.Fatalf("day %d: %+v is more than is needed", seed, f)
				}
			case Later:
				if f.Minutes < 5 && (!possible(d.longer(f.Minutes)) || possible(d.longer(f.Minutes-1))) {
					t.Fatalf("day %d: %+v is not the least", seed, f)
				}
			}
		}
	}
	if tried < 20 {
		t.Errorf("only %d fixes were tried", tried)
	}
}
