package design

import (
	"math"
	"slices"
	"strings"
	"testing"

	"aerugo/internal/science/stat"
	"pgregory.net/rapid"
)

// What is computed from the runs of a fraction is what its defining words say.
func TestConfoundedAgreesWithAliases(t *testing.T) {
	for k := range generators {
		if k[0] > 8 {
			continue
		}
		f, err := Fractional(TwoLevels(k[0]), k[1])
		if err != nil {
			t.Fatal(err)
		}
		got, err := f.Confounded()
		if err != nil {
			t.Fatal(err)
		}
		mixed := map[string][]string{}
		for _, m := range got {
			if m.Share < whollyFrom {
				t.Errorf("2^(%d-%d): %s; a regular fraction mixes up wholly or not at all", k[0], k[1], m.Words)
			}
			mixed[m.Effect] = m.With
		}
		for i, fac := range f.Factors {
			var want []string
			for _, a := range f.Aliases(1<<i, 2) {
				want = append(want, f.Says(a.Factors))
			}
			have := slices.Sorted(slices.Values(mixed[fac.Name]))
			slices.Sort(want)
			if !slices.Equal(have, want) {
				t.Errorf("2^(%d-%d): %s is mixed up with %v, by its words with %v", k[0], k[1], fac.Name, have, want)
			}
		}
	}
}

// In 12 screening runs each effect is correlated by a third with each
// interaction of two others: 10 factors make 45 pairs (Plackett & Burman plans of
// 12; e-Handbook 5.3.3.5).
func TestScreeningIsPartlyMixed(t *testing.T) {
	p, err := PlackettBurman(TwoLevels(11), 12)
	if err != nil {
		t.Fatal(err)
	}
	got, err := p.Confounded()
	if err != nil || len(got) != 11 {
		t.Fatalf("%d, %v", len(got), err)
	}
	for _, m := range got {
		if math.Abs(m.Share-1.0/3) > 1e-9 || len(m.With) != 45 || !strings.Contains(m.Words, "and 41 more") {
			t.Errorf("%s: %v with %d", m.Words, m.Share, len(m.With))
		}
	}
}

func TestConfoundedSeesBlocksAndSums(t *testing.T) {
	fs := []Factor{{Name: "liquid", Levels: []string{"a", "b"}}, {Name: "hours", Low: 0, High: 8, Settings: []float64{0, 8}}}
	p := Plan{Factors: fs, Model: Main(fs), Runs: [][]float64{{0, -1}, {0, 1}, {1, -1}, {1, 1}}, Groups: []Group{Evenly("day", 4, 2)}}
	got, err := p.Confounded()
	if err != nil || len(got) != 1 || got[0].Words != "can't tell liquid from day" {
		t.Errorf("%+v, %v", got, err)
	}
	if blind, err := p.Blind(Usual); err != nil || !strings.Contains(strings.Join(blind, "\n"), "those are named as mixed up") {
		t.Errorf("%q, %v", blind, err)
	}
	// A level never made beside the others leaves its effect untold.
	three := []Factor{{Name: "liquid", Levels: []string{"a", "b", "c"}}}
	q := Plan{Factors: three, Model: Main(three), Runs: [][]float64{{0}, {1}, {0}, {1}}}
	if got, err = q.Confounded(); err != nil || len(got) != 1 || !strings.HasPrefix(got[0].Words, "can't tell all of liquid") {
		t.Errorf("%+v, %v", got, err)
	}
	// x = a + b in every run, though no two of the three go together wholly.
	sum := []Factor{{Name: "a", Low: -1, High: 1}, {Name: "b", Low: -1, High: 1}, {Name: "x", Low: -2, High: 2}}
	r := Plan{Factors: sum, Model: Main(sum)}
	for _, v := range [][2]float64{{-1, -1}, {1, 0}, {0, 1}, {1, -1}, {0.4, 0.6}, {-0.2, 1}} {
		r.Runs = append(r.Runs, []float64{v[0], v[1], (v[0] + v[1]) / 2})
	}
	if got, err = r.Confounded(); err != nil || !slices.ContainsFunc(got, func(m Mixed) bool { return m.Words == "can't tell x from the other effects together" }) {
		t.Errorf("%+v, %v", got, err)
	}
}

// An effect mixed up wholly makes the model singular, and the other way round.
func TestConfoundedMeansSingular(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		fs := []Factor{{Name: "a", Low: -1, High: 1, Settings: []float64{-1, 1}}, {Name: "b", Levels: []string{"p", "q", "r"}}, {Name: "c", Levels: []string{"s", "t"}}}
		p := Plan{Factors: fs, Model: append(Main(fs), stat.Term{"a", "c"})}
		n := rapid.IntRange(6, 10).Draw(t, "n")
		for range n {
			run := make([]float64, 3)
			for f, fac := range fs {
				run[f] = rapid.SampledFrom(fac.codes()).Draw(t, "code")
			}
			p.Runs = append(p.Runs, run)
		}
		mixed, err := p.Confounded()
		if err != nil {
			t.Fatal(err)
		}
		inModel := []string{"a", "b", "c", "a × c"}
		whole := slices.ContainsFunc(mixed, func(m Mixed) bool {
			return m.Share >= whollyFrom && slices.Contains(inModel, m.Effect) && (m.With == nil || slices.ContainsFunc(m.With, func(o string) bool { return slices.Contains(inModel, o) }))
		})
		if _, err = p.Efficiency(nil); (err != nil) != whole {
			t.Fatalf("efficiency %v, but %+v for %v", err, mixed, p.Runs)
		}
	})
}

func TestBlindSaysWhatCannotBeTold(t *testing.T) {
	fs := []Factor{{Name: "hours", Low: 2, High: 8, Settings: []float64{2, 8}, HeldIn: "chamber run"}, {Name: "liquid", Levels: []string{"salt water", "vinegar", "brine"}}}
	p := Plan{Factors: fs, Model: Main(fs), Runs: [][]float64{{-1, 0}, {-1, 1}, {1, 0}, {1, 1}, {-1, 0}, {-1, 1}, {1, 0}, {1, 1}}, Groups: []Group{Evenly("chamber run", 8, 4)}}
	p.Groups[0].Ratio = 1
	p.Factors[1].Levels = p.Factors[1].Levels[:2]
	text, err := p.Blind(Usual)
	if err != nil {
		t.Fatal(err)
	}
	all := strings.Join(text, "\n")
	for _, want := range []string{"hours at two settings only", "judged by the 4 of those and not by the 8 swatches", "take", "hours × liquid", "It would miss a difference of 3, where", "hours 2 and 8 (from about", "nothing beyond"} {
		if !strings.Contains(all, want) {
			t.Errorf("%q is not in\n%s", want, all)
		}
	}
	if strings.Contains(all, "No two of its swatches") {
		t.Errorf("has repeats, but\n%s", all)
	}
	// Split plots by hand: the variance of a difference between halves of 4 chamber
	// runs of two is 2(ratio/2 + 1/4) = 1.5, with 4 - 2 degrees of freedom (Jones &
	// Goos 2007); within runs it is 1/2, with 8 - 3 - 2.
	sees, err := p.Sees(Usual)
	if err != nil || len(sees) != 2 {
		t.Fatal(sees, err)
	}
	for i, c := range []struct{ variance, df float64 }{{1.5, 2}, {0.5, 3}} {
		k, err := visible(c.df, Usual)
		if want := k * math.Sqrt(c.variance) * Usual.Spread; err != nil || math.Abs(sees[i].Least-want) > 1e-6 || sees[i].DF != int(c.df) {
			t.Errorf("%+v, by hand %.6f with %g degrees", sees[i], want, c.df)
		}
	}
}

// Two faces a swatch, two swatches a chamber run: what is left is what the table
// of a split-split plot leaves, by hand. 24 faces, 12 swatches, 6 chamber runs:
// hours 6-2, metal 12-6-1, salt 24-12-1.
func TestSeesCountsNestedGroups(t *testing.T) {
	fs := []Factor{{Name: "hours", Low: 2, High: 8, HeldIn: "chamber run"}, {Name: "metal", Levels: []string{"copper", "brass"}, HeldIn: "swatch"}, {Name: "salt", Low: 0, High: 1}}
	p := Plan{Factors: fs, Model: Main(fs), Groups: []Group{Evenly("chamber run", 24, 6), Evenly("swatch", 24, 12)}}
	p.Groups[0].Ratio, p.Groups[1].Ratio = 1, 0.5
	for i := range 24 {
		p.Runs = append(p.Runs, []float64{float64(i/4%2*2 - 1), float64(i / 2 % 2), float64(i%2*2 - 1)})
	}
	sees, err := p.Sees(Usual)
	if err != nil || len(sees) != 3 {
		t.Fatal(sees, err)
	}
	for i, want := range []int{4, 5, 11} {
		if sees[i].DF != want {
			t.Errorf("%s: %d, by hand %d", sees[i].Factor, sees[i].DF, want)
		}
	}
}
