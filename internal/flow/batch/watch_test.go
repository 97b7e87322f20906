package batch

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// seen draws four numbers of n pieces; the first is shifted by so many spreads from a
// piece on, at once or along a ramp.
func seen(r *rand.Rand, n, from int, shift float64, ramp bool) []Series {
	var out []Series
	for k, name := range []string{"L*", "a*", "b*", "coverage"} {
		s := Series{Name: name, Up: "more", Down: "less"}
		for i := range n {
			v := r.NormFloat64()
			if k == 0 && i >= from {
				if ramp {
					v += shift * float64(i-from+1) / float64(n-from)
				} else {
					v += shift
				}
			}
			s.Values = append(s.Values, v)
		}
		out = append(out, s)
	}
	return out
}

// The nominal rate is one steady batch in twenty; 200 batches tell it to about 1.5 in
// a hundred.
func TestSteadyBatchesAreSeldomCalled(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	const times = 200
	called := 0
	for range times {
		if _, d := Watch(seen(r, 30, 30, 0, false)); d != nil {
			called++
		}
	}
	t.Logf("%d of %d steady batches of 30 called", called, times)
	if share := float64(called) / times; share > 0.11 {
		t.Errorf("%d of %d steady batches were called drifting", called, times)
	}
}

func TestDriftIsFoundWhereItBegan(t *testing.T) {
	for _, c := range []struct {
		shift       float64
		ramp        bool
		least, held float64
	}{{2, false, 0.5, 0.8}, {3, false, 0.9, 0.85}, {4, true, 0.6, 0}} {
		r := rand.New(rand.NewPCG(3, 4))
		const times = 80
		called, right, held := 0, 0, 0
		for range times {
			_, d := Watch(seen(r, 30, 15, c.shift, c.ramp))
			if d == nil {
				continue
			}
			called++
			if d.Series.Name == "L*" {
				right++
				if d.Low <= 15 && 15 <= d.High {
					held++
				}
			}
		}
		t.Logf("shift %v, ramp %v: %d of %d called, %d by the right number, %d hold the place", c.shift, c.ramp, called, times, right, held)
		if float64(called) < c.least*times || float64(right) < 0.9*float64(called) || float64(held) < c.held*float64(right) {
			t.Errorf("shift %v, ramp %v: %d called, %d right, %d held of %d", c.shift, c.ramp, called, right, held, times)
		}
	}
}

func TestDriftIsSaidWithoutBlame(t *testing.T) {
	s := Series{Name: "b*", Up: "yellower", Down: "bluer"}
	for i := range 20 {
		v := 10 + 0.1*float64(i%3)
		if i >= 12 {
			v -= 5
		}
		s.Values = append(s.Values, v)
	}
	charts, d := Watch([]Series{s, {Name: "flat", Values: make([]float64, 20)}, {Name: "short", Values: []float64{1, 2}}})
	if len(charts) != 1 || d == nil || d.From != 12 || d.Low != 12 || d.High != 12 {
		t.Fatalf("%d charts, %+v", len(charts), d)
	}
	if !strings.Contains(d.Words, "From about piece 13 on, the pieces are bluer") || !strings.Contains(d.Caution, "coincidence in time, not proof") {
		t.Errorf("%s %s", d.Words, d.Caution)
	}
}

func TestMeanwhileNamesWhatChangedThere(t *testing.T) {
	nan := math.NaN()
	lots, people, alone := make([]string, 20), make([]string, 20), make([]string, 20)
	age, room, steady, unknown := make([]float64, 20), make([]float64, 20), make([]float64, 20), make([]float64, 20)
	for i := range 20 {
		lots[i], people[i], alone[i] = "lot 7", []string{"Ana", "Ben"}[i%2], string(rune('a'+i))
		age[i], room[i], steady[i], unknown[i] = 40+float64(i)/2, 20+float64(i%3), float64(i), nan
		if i >= 12 {
			lots[i], age[i] = "lot 8", float64(i-12)/2
		}
	}
	got := Meanwhile(12, []Circumstance{{Name: "Salt", Words: lots}, {Name: "Who began it", Words: people}, {Name: "Label", Words: alone},
		{Name: "Age of the pad", Unit: "h", Numbers: age}, {Name: "Room", Unit: "°C", Numbers: room}, {Name: "Blade", Unit: "h", Numbers: steady}, {Name: "Nothing", Numbers: unknown}})
	var names []string
	for _, x := range got {
		names = append(names, x.Name)
	}
	if strings.Join(names, ", ") != "Salt, Age of the pad, Blade" || got[0].Words != "Salt: mostly lot 7 before, lot 8 after." || got[1].Steady || !got[2].Steady {
		t.Errorf("%+v", got)
	}
}

// What has nothing to do with the drift is named in few batches.
func TestMeanwhileSeldomNamesChance(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	named := 0
	for range 2000 {
		words, numbers := make([]string, 30), make([]float64, 30)
		for i := range 30 {
			words[i], numbers[i] = []string{"a", "b", "c"}[r.IntN(3)], r.NormFloat64()
		}
		named += len(Meanwhile(5+r.IntN(20), []Circumstance{{Name: "w", Words: words}, {Name: "n", Numbers: numbers}}))
	}
	t.Logf("%d named of 4000", named)
	if named > 80 {
		t.Errorf("%d of 4000 circumstances of pure chance were named, want at most 2 in 100", named)
	}
}
