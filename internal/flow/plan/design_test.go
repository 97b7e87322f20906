package plan

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"aerugo/internal/studio"
)

// publishedTable reads a table of testdata, whose first lines name its source: the
// rows without the header.
func publishedTable(t testing.TB, name string) [][]string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(strings.NewReader(string(data)))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%s: %d rows, %v", name, len(rows), err)
	}
	return rows[1:]
}

// rich is a recipe on which eight things can be varied.
func rich() studio.Version {
	return studio.Version{ID: 30, RecipeID: 3, Number: 1, Steps: []studio.Step{
		{Kind: studio.Rinse, Duration: time.Minute},
		{Kind: studio.Wet, Material: "water", Amount: studio.Amount{Value: 40, Unit: studio.MLPerM2}, Duration: time.Minute},
		{Kind: studio.Sprinkle, SupplyID: salt.ID, Amount: studio.Amount{Hand: studio.Light, Unit: studio.GramPerM2}},
		{Kind: studio.Fume, SupplyID: ammonia.ID, Duration: 4 * time.Hour},
		{Kind: studio.Rest, Duration: time.Hour},
		{Kind: studio.Dry, Duration: time.Hour},
	}}
}

// eight are those things, with two levels each.
func eight() []studio.Factor {
	two := func(name string, kind studio.FactorKind, step int, a, b float64) studio.Factor {
		return studio.Factor{Name: name, Kind: kind, Step: step, Levels: []studio.Level{{Number: a}, {Number: b}}}
	}
	brush := brushing()
	brush.Step = 5
	return []studio.Factor{
		two("fuming time", studio.ByMinutes, 3, 30, 240),
		two("amount of salt", studio.ByLoading, 2, 5, 40),
		two("amount of water", studio.ByLoading, 1, 20, 120),
		brush,
		two("resting time", studio.ByMinutes, 4, 10, 60),
		two("drying time", studio.ByMinutes, 5, 10, 60),
		two("strength", studio.ByStrength, 3, 5, 10),
		two("wetting time", studio.ByMinutes, 1, 1, 10),
	}
}

func threeLevels(f studio.Factor) studio.Factor {
	f.Levels = []studio.Level{f.Levels[0], {Number: (f.Levels[0].Number + f.Levels[1].Number) / 2}, f.Levels[1]}
	return f
}

func designed(d studio.Design, fs ...studio.Factor) Ask {
	a := ladder(fs...)
	a.Front, a.Design, a.Chamber = rich(), d, studio.Chamber{}
	a.UsualReplicates, a.UsualBlanks = true, true
	a.starts = 20
	return a
}

// codes are the levels of the treatments of a layout as the published tables
// write them, by their place among the levels; repeats that the bench adds are
// left out with dropped.
func codes(l Layout, values []string) (rows []string, repeats int) {
	for _, t := range l.Treatments() {
		if len(t.Settings) == 0 {
			continue
		}
		var row []string
		for i, s := range t.Settings {
			f := l.Set.Factors[i]
			at := slices.IndexFunc(f.Levels, func(x studio.Level) bool { return sameLevel(f.Kind, x, s.Level) })
			row = append(row, values[at])
		}
		if t.Replicate > 1 {
			repeats++
		}
		rows = append(rows, strings.Join(row, ","))
	}
	slices.Sort(rows)
	return rows, repeats
}

// A laid set holds every run of the published plan, in the random order, and
// nothing else but its two repeats. The tables name the handbook.
func TestLaidSetsHoldThePublishedPlans(t *testing.T) {
	three := func(fs []studio.Factor) []studio.Factor {
		out := slices.Clone(fs)
		for i := range out {
			out[i] = threeLevels(out[i])
		}
		return out
	}
	numbers := append(slices.Clone(eight()[:3]), eight()[4:]...)
	for _, tc := range []struct {
		table   string
		design  studio.Design
		factors []studio.Factor
		values  []string
		repeats int
	}{
		{"plackett_burman_12.csv", studio.Screening, eight(), []string{"-1", "1"}, 2},
		{"box_behnken_3.csv", studio.Curve, numbers[:3], []string{"-1", "0", "1"}, 0},
		{"oa_l9_3x4.csv", studio.Square, three(numbers[:4]), []string{"1", "2", "3"}, 2},
		{"oa_l18_2x1_3x7.csv", studio.Square, append([]studio.Factor{eight()[3]}, three(numbers)...), []string{"1", "2", "3"}, 2},
	} {
		t.Run(tc.table, func(t *testing.T) {
			l := lay(t, designed(tc.design, tc.factors...))
			rows, _ := codes(l, tc.values)
			want := map[string]int{}
			total := 0
			for _, row := range publishedTable(t, tc.table) {
				want[strings.Join(row[:len(tc.factors)], ",")]++
				total++
			}
			got := map[string]int{}
			for _, r := range rows {
				got[r]++
			}
			extra := 0
			for r, n := range got {
				if want[r] == 0 || n < want[r] {
					t.Errorf("run %s is made %d times, and the plan has it %d times", r, n, want[r])
				}
				extra += n - want[r]
			}
			if len(got) != len(want) || extra != tc.repeats || len(rows) != total+tc.repeats {
				t.Errorf("%d settings in %d swatches with %d repeats; the plan has %d in %d, and %d repeats belong to it", len(got), len(rows), extra, len(want), total, tc.repeats)
			}
			if l.Set.Design != tc.design || l.Set.Shape != studio.Grid || l.Set.Blanks != 1 {
				t.Errorf("the set is %q, %q with %d blanks", l.Set.Design, l.Set.Shape, l.Set.Blanks)
			}
		})
	}
}

// The half of five things is 5=1234 (e-Handbook, fractional factorial designs):
// in each run the last level is the product of the others; nothing single or in
// pairs is mixed up.
func TestHalfOfFiveThings(t *testing.T) {
	l := lay(t, designed(studio.Fraction, eight()[:5]...))
	rows, _ := codes(l, []string{"-1", "1"})
	for _, r := range rows {
		product := 1.0
		for _, v := range strings.Split(r, ",") {
			x, _ := strconv.ParseFloat(v, 64)
			product *= x
		}
		if product != 1 {
			t.Errorf("the run %s has the product %v, and 5=1234 makes it 1", r, product)
		}
	}
	if len(slices.Compact(rows)) != 16 {
		t.Errorf("%d settings, want 16", len(rows))
	}
	w := weigh(t, l)
	if len(w.Untold) != 0 {
		t.Errorf("a plan of resolution 5 mixes nothing up, but: %q", w.Untold)
	}
}

func weigh(t *testing.T, l Layout) Worth {
	t.Helper()
	w, err := Weigh(l.Set, l.Treatments(), nil, Spread{SD: 2}, 3)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// Eight swatches for seven things mix each one up with the three pairs that are
// published (testdata/foldover_2_7_4.csv names the handbook), and it is said so.
func TestWhatSeventhsMixUpIsSaid(t *testing.T) {
	a := designed(studio.Fraction, eight()[:7]...)
	a.Swatches = 8
	l := lay(t, a)
	w := weigh(t, l)
	for _, row := range publishedTable(t, "foldover_2_7_4.csv") {
		main, _ := strconv.Atoi(row[0])
		name := eight()[main-1].Name
		at := slices.IndexFunc(w.Untold, func(s string) bool { return strings.HasPrefix(s, "What "+name+" does can't be told") })
		if at < 0 {
			t.Errorf("nothing is said of %s: %q", name, w.Untold)
			continue
		}
		for _, pair := range row[1:] {
			x, y := eight()[pair[0]-'1'].Name, eight()[pair[1]-'1'].Name
			if !strings.Contains(w.Untold[at], "what "+x+" and "+y+" do together") {
				t.Errorf("%s: the pair %s × %s is not named: %s", name, x, y, w.Untold[at])
			}
		}
	}
}

// What a design shows follows from its runs: the main effect of a balanced
// two-level plan in n swatches has the standard error 2σ/√n, and t of 0.975 and of
// 0.8 make the least difference seen (e-Handbook, sample sizes; exact power in the
// noncentral t is within 3 % of their sum at 16 degrees of freedom and more).
func TestWhatIsShownFollowsFromTheRuns(t *testing.T) {
	a := designed(studio.Full, eight()[3], eight()[0])
	a.UsualReplicates, a.Replicates = false, 5
	w := weigh(t, lay(t, a))
	if len(w.Shows) != 2 {
		t.Fatalf("shows %v", w.Shows)
	}
	for _, s := range w.Shows {
		want := (2.1199 + 0.8647) * 2 * 2 / math.Sqrt(20) // t of 16 degrees of freedom, from tables
		if math.Abs(s.Least/want-1) > 0.03 || s.Enough != (s.Least <= 3) {
			t.Errorf("%s shows %.3f, want %.3f", s.Factor, s.Least, want)
		}
	}
	if w.Shows[0].Words != fmt.Sprintf("Brushing out: shows a difference of %.1f ΔE00 or more between left alone and brushed out, 4 times in 5.", w.Shows[0].Least) {
		t.Errorf("it says %q", w.Shows[0].Words)
	}
	if w.Shows[1].From != "30 min" || w.Shows[1].To != "240 min" {
		t.Errorf("the levels are called %q and %q", w.Shows[1].From, w.Shows[1].To)
	}
}

// Ranges are filled with settings that hands keep.
func TestRangesGetTheSettingsTheDesignNeeds(t *testing.T) {
	a := designed(studio.Curve, eight()[0], eight()[1])
	a.Between = []bool{true, true}
	l := lay(t, a)
	var labels []string
	for _, f := range l.Set.Factors {
		for _, x := range f.Levels {
			labels = append(labels, x.Label)
		}
	}
	if got := strings.Join(labels, ", "); got != "30 min, 2 h 15 min, 240 min, 5 g/m², 22 g/m², 40 g/m²" && got != "30 min, 2 h 15 min, 240 min, 5 g/m², 23 g/m², 40 g/m²" {
		t.Errorf("the settings are %s", got)
	}
	a.Factors[0].Levels = []studio.Level{{Number: 1}, {Number: 2}}
	if _, err := Lay(a, shelf, hands, copper); problemField(err) != "factor1.levels" {
		t.Errorf("1 to 2 minutes have no whole minute between: %v", err)
	}
	for v, want := range map[float64]float64{0.2: 1, 7.4: 7, 29.6: 30, 31: 30, 33: 35, 67.4: 65} {
		if got := keepable(studio.ByMinutes, v); got != want {
			t.Errorf("%v min is kept as %v, want %v", v, got, want)
		}
	}
	for v, want := range map[float64]float64{0: 0, 0.123: 0.12, 22.5: 23, 147: 150, 3: 3} {
		if got := keepable(studio.ByLoading, v); got != want {
			t.Errorf("%v g/m² is kept as %v, want %v", v, got, want)
		}
	}
}

// What is ruled out is never laid out, in any design that can leave things out,
// and refused by those that can't.
func TestRuledOutIsNeverLaid(t *testing.T) {
	fs := []studio.Factor{threeLevels(eight()[0]), eight()[1], eight()[3]}
	never := [][]Pick{{{0, 2}, {2, 1}}, {{1, 0}, {2, 0}, {0, 0}}} // not 4 h brushed out; not 5 g for 30 min left alone
	for _, d := range []studio.Design{studio.Full, studio.Scattered, studio.Chosen} {
		a := designed(d, fs...)
		a.Never, a.Swatches = never, 12
		l := lay(t, a)
		for _, tr := range l.Treatments() {
			time, amount, brushed := tr.Settings[0].Level.Number, tr.Settings[1].Level.Number, tr.Settings[2].Level.Yes
			if time == 240 && brushed || amount == 5 && !brushed && time == 30 {
				t.Errorf("%s: %s was ruled out", d, saysRun([]studio.Level{tr.Settings[0].Level, tr.Settings[1].Level, tr.Settings[2].Level}))
			}
		}
	}
	a := designed(studio.Fraction, eight()[:4]...)
	a.Never = [][]Pick{{{0, 0}, {1, 0}}}
	if _, err := Lay(a, shelf, hands, copper); problemField(err) != "design" {
		t.Errorf("a fraction that meets what is ruled out: %v", err)
	}
}

// What must never meet is worked around where the design can do that, and said
// so; every combination is refused.
func TestUnsafeIsWorkedAroundOrRefused(t *testing.T) {
	bleach := studio.Supply{ID: 90, Name: "chlorine bleach", Material: "bleach", Strength: 5, StrengthUnit: studio.WtPercent}
	sup := append(slices.Clone(shelf), bleach)
	v := rich()
	v.Steps[1].SupplyID = vinegar.ID
	v.Steps[1].Material = ""
	liquid := studio.Factor{Name: "liquid", Kind: studio.ByLiquid, Step: 1, Levels: []studio.Level{{SupplyID: vinegar.ID}, {SupplyID: ammonia.ID}, {SupplyID: bleach.ID}}}
	a := designed(studio.Full, liquid, eight()[0])
	a.Front = v
	if _, err := Lay(a, sup, hands, copper); studio.ProblemIn(err) == nil || studio.ProblemIn(err).Kind != studio.Unsafe {
		t.Fatalf("bleach with ammonia in every combination: %v", err)
	}
	for _, d := range []studio.Design{studio.Scattered, studio.Chosen} {
		a.Design, a.Swatches = d, 8
		l, err := Lay(a, sup, hands, copper)
		if err != nil {
			t.Errorf("%s: %v", d, err)
			continue
		}
		for _, tr := range l.Treatments() {
			if tr.Settings[0].Level.SupplyID == bleach.ID {
				t.Errorf("%s lays out bleach with ammonia", d)
			}
		}
		if !slices.ContainsFunc(l.Notes, func(n string) bool { return strings.HasPrefix(n, "Left out, and worked around") }) {
			t.Errorf("%s does not say what it left out: %q", d, l.Notes)
		}
	}
}

// Swatches made already are not made again, and a searched plan builds on them:
// together they tell more than the new ones by themselves.
func TestMadeAlreadyIsNotMadeAgain(t *testing.T) {
	fs := []studio.Factor{eight()[0], eight()[1], eight()[3]}
	whole := designed(studio.Full, fs...)
	whole.UsualReplicates, whole.Replicates = false, 1
	all := lay(t, whole)
	var made [][]studio.Setting
	for _, tr := range all.Treatments()[:3] {
		made = append(made, tr.Settings)
	}
	whole.Made = made
	rest := lay(t, whole)
	if got := len(rest.Treatments()); got != 5 {
		t.Errorf("%d swatches are laid out, 8 less the 3 made are 5", got)
	}
	for _, tr := range rest.Treatments() {
		for _, m := range made {
			if settingsOf(Piece{Treatments: []studio.Treatment{tr}}) == settingsOf(Piece{Treatments: []studio.Treatment{{Settings: m}}}) {
				t.Errorf("%v is made again", m)
			}
		}
	}
	a := designed(studio.Chosen, fs...)
	a.UsualReplicates, a.Replicates = false, 1
	a.Made, a.Swatches, a.Model = made, 5, Effects
	l := lay(t, a)
	if got := len(l.Treatments()); got != 5 {
		t.Errorf("the search lays out %d, want 5 beside those made", got)
	}
	with, err := Weigh(l.Set, l.Treatments(), made, Spread{SD: 2}, 3)
	if err != nil {
		t.Fatal(err)
	}
	if with.Swatches != 8 || len(with.Shows) != 3 {
		t.Errorf("with those made it weighs %d swatches and shows %v", with.Swatches, with.Shows)
	}
	a.Made = append(a.Made, []studio.Setting{{Factor: "moon", Kind: studio.ByMinutes}})
	if l = lay(t, a); !slices.ContainsFunc(l.Notes, func(n string) bool { return strings.HasPrefix(n, "1 swatch of the earlier set can't be counted") }) {
		t.Errorf("an earlier swatch that says nothing of these factors is passed over in silence: %q", l.Notes)
	}
}

// Three two-level things in two fillings: each filling has every level, and every
// pair of levels, equally often, so that nothing is mixed up with the filling but
// all three together (e-Handbook, blocking of full factorial designs).
func TestFillingsAreBalanced(t *testing.T) {
	a := designed(studio.Full, eight()[0], eight()[1], eight()[3])
	a.UsualReplicates, a.Replicates, a.UsualBlanks, a.Blanks, a.Blocks = false, 1, false, 2, 2
	l := lay(t, a)
	product := map[int]float64{}
	for i, p := range l.Pieces {
		if i > 0 && p.Block < l.Pieces[i-1].Block {
			t.Errorf("piece %d of filling %d comes after filling %d", i+1, p.Block, l.Pieces[i-1].Block)
		}
		if p.Swatch.Blank {
			continue
		}
		sign := 1.0
		for j, s := range p.Treatments[0].Settings {
			if sameLevel(s.Kind, s.Level, l.Set.Factors[j].Levels[0]) {
				sign = -sign
			}
		}
		if was, ok := product[p.Block]; ok && was != sign {
			t.Errorf("filling %d has both products of the three things: a pair is mixed up with it", p.Block)
		}
		product[p.Block] = sign
	}
	if len(product) != 2 {
		t.Errorf("the fillings are %v", product)
	}
	blanks := map[int]int{}
	for _, p := range l.Pieces {
		if p.Swatch.Blank {
			blanks[p.Block]++
		}
	}
	if blanks[1] != 1 || blanks[2] != 1 {
		t.Errorf("two blanks in two fillings are %v", blanks)
	}
	if w := weigh(t, l); len(w.Untold) != 0 {
		t.Errorf("it says that something is mixed up: %q", w.Untold)
	}
}

// What a filling shares stays the same in it, and is judged by the fillings.
func TestSharedStaysTheSameInAFilling(t *testing.T) {
	for _, d := range []studio.Design{studio.Full, studio.Fraction, studio.Chosen} {
		a := designed(d, eight()[0], eight()[1], eight()[3], eight()[4])
		a.Shared, a.Swatches = []int{0}, 0
		if d == studio.Chosen {
			a.Swatches = 16
		}
		l := lay(t, a)
		of, fillings := map[int]float64{}, map[float64]int{}
		for _, tr := range l.Treatments() {
			v := tr.Settings[0].Level.Number
			if was, ok := of[tr.Block]; ok && was != v {
				t.Errorf("%s: filling %d has %v and %v min", d, tr.Block, was, v)
			} else if !ok {
				fillings[v]++
			}
			of[tr.Block] = v
		}
		if fillings[30] < 2 || fillings[240] < 2 {
			t.Errorf("%s: the times have the fillings %v; two each tell a time from a filling", d, fillings)
		}
		w := weigh(t, l)
		if !slices.ContainsFunc(w.Blind, func(s string) bool {
			return strings.HasPrefix(s, "Fuming time changes only from one day to the next")
		}) {
			t.Errorf("%s does not say that the time is judged by fillings: %q", d, w.Blind)
		}
	}
}

// Front and back share the time and differ otherwise, and are two treatments of
// one swatch; every setting stands as often on a front as on a back.
func TestFacesApart(t *testing.T) {
	for _, d := range []studio.Design{studio.Full, studio.Chosen} {
		a := designed(d, eight()[0], eight()[1], eight()[3])
		a.SameFaces, a.FacesApart, a.Swatches = false, true, 8
		l := lay(t, a)
		side := map[string]int{}
		for _, p := range l.Pieces {
			if p.Swatch.Blank {
				continue
			}
			if len(p.Treatments) != 2 || p.Treatments[0].Faces != studio.OnFront || p.Treatments[1].Faces != studio.OnBack {
				t.Fatalf("%s: a swatch has %+v", d, p.Treatments)
			}
			f, b := p.Treatments[0], p.Treatments[1]
			if f.Settings[0].Level.Number != b.Settings[0].Level.Number {
				t.Errorf("%s: front and back of one swatch are in the chamber for different times", d)
			}
			front, back := settingsOf(Piece{Treatments: []studio.Treatment{f}}), settingsOf(Piece{Treatments: []studio.Treatment{b}})
			if front == back {
				t.Errorf("%s: both faces are %s", d, front)
			}
			side[front]++
			side[back]--
		}
		for s, n := range side {
			if d == studio.Full && n != 0 {
				t.Errorf("%s stands %d times more on fronts than on backs", s, n)
			}
		}
		if l.Set.BackID != l.Set.FrontID || l.Set.SameFaces {
			t.Errorf("%s: the set says front %d, back %d, same %v", d, l.Set.FrontID, l.Set.BackID, l.Set.SameFaces)
		}
		if w := weigh(t, l); !slices.ContainsFunc(w.Blind, func(s string) bool {
			return strings.HasPrefix(s, "Fuming time changes only from one swatch to the next")
		}) {
			t.Errorf("%s does not say that the time is judged by swatches: %q", d, w.Blind)
		}
	}
	a := designed(studio.Full, eight()[0], eight()[4])
	a.SameFaces, a.FacesApart = false, true
	if _, err := Lay(a, shelf, hands, copper); problemField(err) != "faces" {
		t.Errorf("two times can't differ between faces: %v", err)
	}
}

// The chamber's places make the fillings, blanks and all.
func TestPlacesMakeFillings(t *testing.T) {
	a := designed(studio.Full, eight()[0], eight()[1], eight()[3])
	a.Chamber, a.ByPlaces = box, true
	l := lay(t, a)
	count := map[int]int{}
	for _, p := range l.Pieces {
		count[p.Block]++
	}
	if len(count) != 2 || count[1] > box.Places || count[2] > box.Places {
		t.Errorf("18 swatches in a chamber of 12 make the fillings %v", count)
	}
}

// Offers leave out what does not fit, and recommend one with its reason.
func TestOffersFitWhatIsVaried(t *testing.T) {
	named := func(fs ...studio.Factor) (map[studio.Design]Offer, studio.Design) {
		offers, err := Offers(designed(studio.Full, fs...), shelf, hands)
		if err != nil {
			t.Fatal(err)
		}
		out := map[studio.Design]Offer{}
		best := studio.Design("none")
		for _, o := range offers {
			out[o.Design] = o
			if o.Why != "" {
				if best != "none" {
					t.Errorf("two are recommended: %s and %s", best, o.Design)
				}
				best = o.Design
			}
		}
		return out, best
	}
	got, best := named(eight()...)
	if got[studio.Fraction].Settings != 16 || got[studio.Screening].Settings != 12 || best != studio.Fraction {
		t.Errorf("eight things of two levels: %v, %s", got, best)
	}
	if _, there := got[studio.Curve]; there {
		t.Error("a bend is offered for brushing out")
	}
	if _, there := got[studio.Full]; there {
		t.Error("256 combinations are offered")
	}
	got, best = named(eight()[0], eight()[3])
	if _, there := got[studio.Fraction]; there || best != studio.Full || got[studio.Full].Settings != 4 {
		t.Errorf("two things: %v, %s", got, best)
	}
	got, best = named(threeLevels(eight()[0]), threeLevels(eight()[1]), threeLevels(eight()[2]))
	if got[studio.Curve].Settings != 13 || got[studio.Square].Settings != 9 || best != studio.Curve {
		t.Errorf("three numbers: %v, %s", got, best)
	}
	if _, best = named(eight()[0]); best != studio.Full {
		t.Errorf("one thing: %s", best)
	}
	if _, err := Offers(designed(studio.Full), shelf, hands); problemField(err) != "factor1" {
		t.Errorf("nothing to vary: %v", err)
	}
}

// Any asking gives a layout that keeps its promises, or a Problem in a sentence;
// the same seed gives the same plan.
func TestAnyAskingIsLaidOrRefused(t *testing.T) {
	laid := map[studio.Design]int{}
	rapid.Check(t, func(t *rapid.T) {
		a := anyAsk(t)
		l, err := Lay(a, shelf, hands, copper)
		if err != nil {
			p := studio.ProblemIn(err)
			if p == nil || !strings.HasSuffix(p.Text, ".") || strings.Contains(p.Text, "%!") || p.Field == "" {
				t.Fatalf("refused with %v", err)
			}
			return
		}
		laid[a.Design]++
		again, err := Lay(a, shelf, hands, copper)
		if err != nil || fmt.Sprint(again) != fmt.Sprint(l) {
			t.Fatalf("the same asking gave another plan, %v", err)
		}
		treated, blanks := 0, 0
		for i, p := range l.Pieces {
			if p.Swatch.Blank {
				blanks++
			} else {
				treated++
			}
			if i > 0 && p.Block < l.Pieces[i-1].Block || p.Swatch.Blank != (len(p.Treatments) == 0) {
				t.Fatalf("piece %d: block %d after %d, blank %v", i+1, p.Block, l.Pieces[i-1].Block, p.Swatch.Blank)
			}
			faces := 1
			if a.FacesApart {
				faces = 2
			}
			if !p.Swatch.Blank && len(p.Treatments) != faces {
				t.Fatalf("%d treatments on %d faces", len(p.Treatments), faces)
			}
			for _, tr := range p.Treatments {
				if tr.Order != i+1 || tr.Block != p.Block || tr.Replicate < 1 {
					t.Fatalf("piece %d of block %d has %+v", i+1, p.Block, tr)
				}
				levels := make([]studio.Level, len(tr.Settings))
				for j, s := range tr.Settings {
					f := l.Set.Factors[j]
					levels[j] = s.Level
					if s.Factor != f.Name || !slices.ContainsFunc(f.Levels, func(x studio.Level) bool { return x == s.Level }) {
						t.Fatalf("%v is no level of %+v", s, f)
					}
					if a.shares(j) && f.Kind == studio.ByMinutes {
						for _, other := range l.Treatments() {
							if other.Block == tr.Block && other.Settings[j].Level != s.Level {
								t.Fatalf("%s is not shared in block %d", f.Name, tr.Block)
							}
						}
					}
				}
				if text := a.ruled(a.Factors, levels); text != "" {
					t.Fatalf("%s was ruled out", text)
				}
			}
		}
		if blanks != l.Set.Blanks || len(l.Pieces) > MaxSwatches || treated == 0 || !a.UsualBlanks && blanks != a.Blanks {
			t.Fatalf("%d treated and %d blanks of %d", treated, blanks, l.Set.Blanks)
		}
		if (a.Design == studio.Scattered || a.Design == studio.Chosen) && treated != a.Swatches {
			t.Fatalf("%d swatches were asked for and %d laid out", a.Swatches, treated)
		}
		if a.Blocks > 1 && len(l.Pieces) > 0 && l.Pieces[len(l.Pieces)-1].Block != a.Blocks {
			t.Fatalf("%d fillings were asked for, %d laid out", a.Blocks, l.Pieces[len(l.Pieces)-1].Block)
		}
		made := a.Made
		w, err := Weigh(l.Set, l.Treatments(), made, Spread{SD: 1.5}, 3)
		if err != nil && studio.ProblemIn(err) == nil {
			t.Fatalf("weighed: %v", err)
		}
		for _, s := range w.Shows {
			if !(s.Least > 0) {
				t.Fatalf("shows %+v", s)
			}
		}
		for _, text := range slices.Concat(w.Untold, w.Blind) {
			if !strings.HasSuffix(text, ".") || strings.Contains(text, "  ") {
				t.Fatalf("not a sentence: %q", text)
			}
		}
	})
	t.Logf("laid out: %v", laid)
}

// anyAsk draws an asking, half of the time one that its design can answer.
func anyAsk(t *rapid.T) Ask {
	d := rapid.SampledFrom([]studio.Design{studio.Full, studio.Fraction, studio.Screening, studio.Curve, studio.Square, studio.Scattered, studio.Chosen}).Draw(t, "design")
	fitting := rapid.Bool().Draw(t, "fitting")
	pool := eight()
	least, most := 1, 6
	if fitting {
		switch d {
		case studio.Fraction, studio.Screening:
			least, most = 4, 8
		case studio.Curve:
			pool = append(pool[:3:3], pool[4:]...)
			least, most = 2, 5
		case studio.Square:
			pool = append(pool[:3:3], pool[4:]...)
			least, most = 3, 7
		case studio.Full:
			most = 4
		}
	}
	var fs []studio.Factor
	var between []bool
	for _, f := range rapid.Permutation(pool).Draw(t, "order")[:rapid.IntRange(least, most).Draw(t, "factors")] {
		levels := rapid.IntRange(0, 2).Draw(t, "levels")
		if fitting && d == studio.Square {
			levels = 1
		}
		if fitting && (d == studio.Fraction || d == studio.Screening) {
			levels = 2 * (levels / 2)
		}
		ranged := f.Kind.Numeric() && levels == 2
		if f.Kind.Numeric() && levels == 1 {
			f = threeLevels(f)
		}
		fs, between = append(fs, f), append(between, ranged)
	}
	a := designed(d, fs...)
	a.Between, a.starts = between, 2
	a.Seed = rapid.Uint64().Draw(t, "seed")
	a.Swatches = rapid.IntRange(0, 24).Draw(t, "swatches")
	a.Model = rapid.SampledFrom([]Model{Effects, Pairs, Bends}).Draw(t, "model")
	a.UsualReplicates, a.UsualBlanks = rapid.Bool().Draw(t, "usual replicates"), rapid.Bool().Draw(t, "usual blanks")
	a.Replicates, a.Blanks = rapid.IntRange(1, 3).Draw(t, "replicates"), rapid.IntRange(0, 3).Draw(t, "blanks")
	one := func(of int, what string) bool { return rapid.IntRange(1, of).Draw(t, what) == of }
	if one(3, "in blocks") {
		a.Blocks = rapid.IntRange(0, 4).Draw(t, "blocks")
	}
	if one(5, "sharing") {
		a.Shared = []int{rapid.IntRange(0, len(fs)-1).Draw(t, "shared")}
	}
	if one(5, "apart") {
		a.FacesApart, a.SameFaces = true, false
	}
	if len(fs) > 1 && one(4, "ruling out") {
		pick := func(i int) Pick {
			return Pick{i, rapid.IntRange(0, len(fs[i].Levels)-1).Draw(t, "level")}
		}
		a.Never = [][]Pick{{pick(0), pick(1)}}
	}
	if one(4, "some made") {
		for range rapid.IntRange(1, 4).Draw(t, "made") {
			var settings []studio.Setting
			for _, f := range fs {
				settings = append(settings, studio.Setting{Factor: f.Name, Kind: f.Kind, Level: f.Levels[rapid.IntRange(0, len(f.Levels)-1).Draw(t, "made level")]})
			}
			a.Made = append(a.Made, settings)
		}
	}
	return a
}

// A Latin square of three levels mixes each thing up with what the two others do
// together, and with nothing single (e-Handbook, Latin square designs).
func TestSquaresMixThingsUpWithPairsOnly(t *testing.T) {
	a := designed(studio.Square, threeLevels(eight()[0]), threeLevels(eight()[1]), threeLevels(eight()[2]))
	a.UsualReplicates, a.Replicates = false, 1
	w := weigh(t, lay(t, a))
	want := []string{
		"What fuming time does can't be told from what amount of salt and amount of water do together.",
		"What amount of salt does can't be told from what fuming time and amount of water do together.",
		"What amount of water does can't be told from what fuming time and amount of salt do together.",
	}
	if !slices.Equal(w.Untold, want) {
		t.Errorf("it says %q, want %q", w.Untold, want)
	}
}
