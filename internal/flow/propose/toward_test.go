package propose

import (
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"aerugo/internal/flow/plan"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// Whatever the shelf, the room and the hours, what is proposed can be made: nothing
// that must not meet, nothing expired or gone, nothing stronger than its bottle,
// no longer than there is time, no more than the chamber holds, in amounts and times
// that are read off a scale and a clock.
func TestOnlyWhatCanBeMadeIsProposed(t *testing.T) {
	factors := []studio.Factor{byTime, bySalt, byWhat}
	liquids := []studio.Level{{Label: water.Name, SupplyID: water.ID}, {Label: vinegar.Name, SupplyID: vinegar.ID}, {Label: sulfur.Name, SupplyID: sulfur.ID}}
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "world"), 1))
		b := workbench()
		b.Supplies = slices.Clone(shelf)
		for i := range b.Supplies {
			if b.Supplies[i].ID == salt.ID || b.Supplies[i].ID == ammonia.ID {
				continue
			}
			switch rapid.IntRange(0, 4).Draw(t, "shelf "+b.Supplies[i].Name) {
			case 0:
				b.Supplies[i].Expires = noon.AddDate(0, 0, -rapid.IntRange(2, 100).Draw(t, "days"))
			case 1:
				b.Supplies[i].BinnedAt = noon
			}
		}
		if rapid.Bool().Draw(t, "class") {
			b.Place = plan.PlaceOf(studio.Set{RoomID: 1, Class: studio.Classes[len(studio.Classes)-1]}, []studio.Room{{ID: 1, Name: "room"}})
		}
		b.Chamber.Places = rapid.IntRange(1, 5).Draw(t, "places")
		b.Chambers = nil // the reckoning has tests of its own
		s := Source{Set: studio.Set{ID: 1, FrontID: 20, MetalID: copper.ID, Factors: factors}}
		full := scatteredRows(r, liquids)
		s.Rows = full
		f, err := Gather(b, studio.Front, []Source{s})
		if err != nil {
			t.Fatal(err)
		}
		m, err := f.Fit(2)
		if err != nil {
			t.Fatal(err)
		}
		g := Goal{Target: colour.Lab{L: 20 + 60*r.Float64(), A: 40*r.Float64() - 20, B: 40*r.Float64() - 20}, Batch: rapid.IntRange(1, 4).Draw(t, "batch"), Seed: 3}
		if rapid.Bool().Draw(t, "limited") {
			g.Within = time.Duration(rapid.IntRange(100, 300).Draw(t, "minutes")) * time.Minute
		}
		got, err := m.Toward(g)
		if p := studio.ProblemIn(err); p != nil {
			if !strings.HasPrefix(p.Text, "Nothing may be tried. ") {
				t.Fatalf("%v", err)
			}
			return
		} else if err != nil {
			t.Fatal(err)
		}
		again, err := m.Toward(g)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(words(got), words(again)); d != "" {
			t.Fatalf("the same seed gives another answer: %s", d)
		}
		if len(got.Proposals) == 0 {
			t.Fatal("no proposal and no reason")
		}
		times := 0
		for _, p := range got.Proposals {
			times += p.Times
			checkMakable(t, b, f, g.Within, p)
		}
		if times > b.Chamber.Places {
			t.Fatalf("%d swatches for %d places", times, b.Chamber.Places)
		}
		fs, combos := f.Choose(got.Proposals)
		ask := plan.Ask{Name: "next", Replicates: 1, WidthMM: 50, HeightMM: 50, Chamber: b.Chamber, Front: b.Front, Seed: 1}
		lay, err := plan.LayProposed(ask, fs, combos, b.Supplies, b.Hands, b.Metal)
		if err != nil {
			t.Fatalf("the proposals can't be laid out: %v", err)
		}
		if len(lay.Pieces) != times || lay.Set.Design != studio.Proposed {
			t.Fatalf("%d swatches laid out of %d, design %q", len(lay.Pieces), times, lay.Set.Design)
		}
	})
}

func words(b Batch) []string {
	out := []string{b.Stop, b.Reach}
	for _, p := range b.Proposals {
		out = append(out, p.Words, p.Says, p.Why)
	}
	return out
}

func checkMakable(t *rapid.T, b Bench, f *Family, within time.Duration, p Proposal) {
	way, err := plan.NewWay(plan.Ask{Name: "x", Replicates: 1, WidthMM: 50, HeightMM: 50, Front: b.Front}, f.Factors, b.Supplies, b.Hands, b.Metal)
	if err != nil {
		t.Fatal(err)
	}
	all, top, err := way.Treatments(slices.Clone(p.Levels))
	if err != nil {
		t.Fatalf("%s can't be made: %v", p.Words, err)
	}
	if _, problem := b.Place.Allow(all, b.Supplies, b.Metal); problem != nil {
		t.Fatalf("%s must not be made: %v", p.Words, problem)
	}
	total := time.Duration(0)
	for _, s := range all[top].Steps {
		total += s.Duration
		for _, x := range b.Supplies {
			if x.ID == s.SupplyID && (!x.BinnedAt.IsZero() || !x.Expires.IsZero() && x.Expires.Before(noon.AddDate(0, 0, -1)) || s.Strength > x.WtPercent()+1e-9 && x.WtPercent() > 0) {
				t.Fatalf("%s uses %s as it can't be", p.Words, x.Name)
			}
		}
	}
	if within > 0 && total > within {
		t.Fatalf("%s takes %s of %s", p.Words, total, within)
	}
	for i, x := range f.Factors {
		v := p.Levels[i].Number
		if !x.Kind.Numeric() {
			continue
		}
		a := f.free[slices.IndexFunc(f.free, func(a axis) bool { return a.factor == i })]
		if v < a.Low || v > a.High {
			t.Fatalf("%s: %v lies outside %v to %v", x.Name, v, a.Low, a.High)
		}
		if v != nice(x.Kind, v) && !slices.Contains(a.tried, v) {
			t.Fatalf("%s: %v can't be read off", x.Name, v)
		}
	}
}

// towards asks for a look and fails the test on any error.
func towards(t *testing.T, m *Model, g Goal) Batch {
	t.Helper()
	b, err := m.Toward(g)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// The words that more trials are no use come when the best swatch is the target, made
// often enough to know it, and not while the target lies well off.
func TestStopIsSaidAtTheTargetAndNotBefore(t *testing.T) {
	for seed := range uint64(5) {
		w := newWorld(t, 60+seed, three()...)
		w.day = 0.3
		wanted := []studio.Level{minutes(240), grams(12), wettedOrNot[1]}
		var combos [][]studio.Level
		for _, m := range []float64{60, 120, 480} {
			for _, g := range []float64{6, 30} {
				combos = append(combos, []studio.Level{minutes(m), grams(g), wettedOrNot[len(combos)%2]})
			}
		}
		early := w.source(t, 1, 4, three(), combos)
		target := w.truth(t, wanted)
		nearest := 100.0
		for _, c := range combos {
			nearest = min(nearest, colour.Difference(w.truth(t, c), target))
		}
		if b := towards(t, fitted(t, workbench(), early), Goal{Target: target, Batch: 2, Seed: seed}); b.Stop != "" && nearest > 4 {
			t.Errorf("world %d: stopped %.1f from the target: %s", seed, nearest, b.Stop)
		} else if b.Reach != "" {
			t.Errorf("world %d: a target that can be reached is called out of reach: %s", seed, b.Reach)
		}
		for range 6 {
			combos = append(combos, wanted)
		}
		b := towards(t, fitted(t, workbench(), w.source(t, 1, 6, three(), combos)), Goal{Target: target, Batch: 2, Seed: seed})
		if !strings.HasPrefix(b.Stop, "You are within the spread of your own hands: a repeat of swatch 10") && !strings.HasPrefix(b.Stop, "You are within the spread of your own hands: a repeat of swatch 11") {
			t.Errorf("world %d: at the target after six repeats it says %q, best %d at %.1f, hands %.1f", seed, b.Stop, b.Best.Swatch, b.BestDE, b.Hands)
		}
	}
}

// A red that no copper patina of this recipe comes near is called out of reach.
func TestOutOfReachIsSaid(t *testing.T) {
	w := newWorld(t, 70, three()...)
	m := fitted(t, workbench(), scattered(t, w, 24))
	b := towards(t, m, Goal{Target: colour.Lab{L: 45, A: 70, B: 45}, Batch: 2})
	if !strings.HasPrefix(b.Reach, "Nothing in these settings is likely to come nearer than ") || b.Stop != "" {
		t.Errorf("a bright red is %q, %q", b.Reach, b.Stop)
	}
}

// Batches of four bring a target nearer: the best of twelve proposed swatches lies
// nearer than the best of twelve made by chance, on the mean of invented benches.
func TestProposalsComeNearer(t *testing.T) {
	asked, chanced := 0.0, 0.0
	const worlds = 6
	for seed := range uint64(worlds) {
		w := newWorld(t, 80+seed, three()...)
		r := rand.New(rand.NewPCG(seed, 9))
		target := w.truth(t, anyLevels(r))
		first := [][]studio.Level{}
		for range 6 {
			first = append(first, anyLevels(r))
		}
		sources := []Source{w.source(t, 1, 4, three(), first)}
		best, luck := 100.0, 100.0
		for range 3 {
			b := towards(t, fitted(t, workbench(), sources...), Goal{Target: target, Batch: 4, Seed: seed})
			var next [][]studio.Level
			for _, p := range b.Proposals {
				next = append(next, p.Levels)
				best = min(best, colour.Difference(w.truth(t, p.Levels), target))
			}
			sources = append(sources, w.source(t, int64(len(sources)+1), 4, three(), next))
		}
		for range 12 {
			luck = min(luck, colour.Difference(w.truth(t, anyLevels(r)), target))
		}
		asked, chanced = asked+best/worlds, chanced+luck/worlds
	}
	t.Logf("best of 12: %.2f proposed, %.2f by chance", asked, chanced)
	if asked > 0.75*chanced || asked > 3 {
		t.Errorf("best of 12: %.2f when proposed, %.2f by chance", asked, chanced)
	}
}

// Amounts dosed by the words of a hand are proposed in these words.
func TestHandWordsStayHandWords(t *testing.T) {
	w := newWorld(t, 90, three()...)
	light, heavy := studio.Level{Label: studio.Light, Number: 11}, studio.Level{Label: studio.Heavy, Number: 80}
	var combos [][]studio.Level
	for i, m := range []float64{60, 90, 120, 240, 360, 480, 600, 720} {
		combos = append(combos, []studio.Level{minutes(m), []studio.Level{light, heavy}[i%2], wettedOrNot[i/2%2]})
	}
	m := fitted(t, workbench(), w.source(t, 1, 4, three(), combos))
	b := towards(t, m, Goal{Target: colour.Lab{L: 55, A: -15, B: 0}, Batch: 4})
	for _, p := range b.Proposals {
		if !slices.Contains(studio.HandWords, p.Levels[1].Label) {
			t.Errorf("%s: %v is no word of this hand", p.Words, p.Levels[1])
		}
		if p.Why == "" || !strings.Contains(p.Says, "from the target") {
			t.Errorf("%s: %q, %q", p.Words, p.Says, p.Why)
		}
	}
}

// The swatches proposed to settle a question narrow its answer, and a question that is
// settled gets no more.
func TestQuestionsAreSettled(t *testing.T) {
	w := newWorld(t, 95, three()...)
	m := fitted(t, workbench(), scattered(t, w, 10))
	a, err := m.Settle(Question{A: 0, B: -1, Batch: 4, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	e := a.Effects[0]
	if a.Settled != "" || len(a.Proposals) == 0 || e.HighAfter-e.LowAfter >= e.High-e.Low {
		t.Errorf("ten swatches: %q, %d proposals, %.1f to %.1f becomes %.1f to %.1f", a.Settled, len(a.Proposals), e.Low, e.High, e.LowAfter, e.HighAfter)
	}
	again, err := m.Settle(Question{A: 0, B: -1, Batch: 4, Seed: 1})
	if err != nil || !reflect.DeepEqual(a, again) {
		t.Errorf("the same seed gives another answer: %v", err)
	}
	w.hand, w.day = 0.3, 0.1
	var combos [][]studio.Level
	for range 3 {
		for _, h := range []float64{120, 720} {
			combos = append(combos, []studio.Level{minutes(h), grams(10), wettedOrNot[1]}, []studio.Level{minutes(h), grams(10.5), wettedOrNot[1]})
		}
	}
	m = fitted(t, workbench(), w.source(t, 1, 12, three(), combos))
	a, err = m.Settle(Question{A: 0, B: 1, Batch: 4, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	if a.Settled != "Settled: fuming time matters more than amount of salt." || len(a.Proposals) != 0 {
		t.Errorf("six times the hours against a twentieth more salt: %q, %d proposals; %+v", a.Settled, len(a.Proposals), a.Effects)
	}
	for _, q := range []Question{{A: 9, B: -1}, {A: -1, B: -1}, {A: 0, B: 0}, {A: 2, B: -1}, {A: 0, B: -1, FromA: 0, ToA: 99}} {
		if _, err := m.Settle(q); studio.ProblemIn(err) == nil {
			t.Errorf("%+v: %v, want a Problem", q, err)
		}
	}
}

func TestChanceInWords(t *testing.T) {
	for _, tc := range []struct {
		p    float64
		want string
	}{{0, "hardly a chance"}, {0.34, "1 in 3"}, {0.5, "1 in 2"}, {0.1, "1 in 10"}, {0.88, "7 in 8"}, {1, "nearly sure"}} {
		if got := chance(tc.p); got != tc.want {
			t.Errorf("%v is %q, want %q", tc.p, got, tc.want)
		}
	}
}

// A batch of six from sixty swatches, the fit included.
func BenchmarkSixFromSixty(b *testing.B) {
	w := newWorld(b, 1, three()...)
	s := scattered(b, w, 60)
	for b.Loop() {
		m := fitted(b, workbench(), s)
		if _, err := m.Toward(Goal{Target: colour.Lab{L: 55, A: -15, B: 0}, Batch: 6}); err != nil {
			b.Fatal(err)
		}
	}
}
