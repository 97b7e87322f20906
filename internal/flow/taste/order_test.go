package taste

import (
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/studio"
)

func readTable(t testing.TB, name string) [][]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows[1:]
}

func amount(t testing.TB, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// With thousands of choices what was supposed beforehand no longer matters: citations
// between journals (Stigler 1994) give what R 4.2.2's BradleyTerry2 says, to 2 %.
func TestManyChoicesMeetR(t *testing.T) {
	journals := map[string]studio.FaceOf{}
	var fs []studio.FaceOf
	of := func(name string) studio.FaceOf {
		if _, there := journals[name]; !there {
			journals[name] = studio.FaceOf{Swatch: int64(len(journals) + 1), Face: studio.Front}
			fs = append(fs, journals[name])
		}
		return journals[name]
	}
	var choices []studio.Choice
	for _, row := range readTable(t, "citations_pairs.csv") {
		a, b := of(row[0]), of(row[1])
		for range int(amount(t, row[2])) {
			choices = append(choices, chosen("all", a, b))
		}
		for range int(amount(t, row[3])) {
			choices = append(choices, chosen("all", b, a))
		}
	}
	f, err := FitChoices(fs, choices)
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range readTable(t, "case5_bradley_terry.csv") {
		want, se := amount(t, row[1]), amount(t, row[2])
		got, gotSE := f.Difference(journals[strings.TrimPrefix(row[0], "..")], journals["Biometrika"])
		if math.Abs(got-want) > 0.02*math.Abs(want)+0.001 || math.Abs(gotSE-se) > 0.02*se {
			t.Errorf("%s: %.4f ± %.4f, R says %.4f ± %.4f", row[0], got, gotSE, want, se)
		}
	}
	o := OrderOf(f, choices)
	if o.Places[0].Face != journals["JRSS-B"] || len(o.Best) != 1 || o.Best[0] != journals["JRSS-B"] || o.Places[3].First != 4 || len(o.Unsure) != 0 {
		t.Errorf("%+v", o)
	}
	// R gives a deviance of 4.293 on 3 degrees of freedom, so p = 0.2314 (chi-squared)
	if math.Abs(o.Crossed-0.2314) > 5e-4 || o.OneOrder() != "" {
		t.Errorf("one order does not hold with p = %v: %s", o.Crossed, o.OneOrder())
	}
}

// A face that won all of its few choices is not thought unbeatable, and one never shown
// is not thought middling for sure.
func TestFewChoicesStayInDoubt(t *testing.T) {
	fs := faces(4)
	f, err := FitChoices(fs, []studio.Choice{chosen("Ana", fs[0], fs[1]), chosen("Ana", fs[0], fs[2])})
	if err != nil {
		t.Fatal(err)
	}
	o := OrderOf(f, nil)
	p := o.Places[0]
	if p.Face != fs[0] || p.Share > 0.9 || p.LowShare > 0.5 || p.First != 1 || p.Last < 3 {
		t.Errorf("%+v", p)
	}
	if len(o.Best) != 4 || o.Lead(NamerOf(fs)) != "Can’t tell yet which is liked best: it may be any of them." {
		t.Errorf("%+v: %s", o.Best, o.Lead(NamerOf(fs)))
	}
	if d := o.Doubts(NamerOf(fs)); len(o.Unsure) != 3 || len(d) == 0 || !strings.Contains(d[0], "Can’t tell ") && !strings.Contains(d[0], "may well be liked alike") {
		t.Errorf("%+v: %q", o.Unsure, d)
	}
	_, first := f.Strength(fs[0])
	_, never := f.Strength(fs[3])
	if never <= first {
		t.Errorf("the one never shown is known to %v, one shown twice to %v", never, first)
	}
	if _, err := FitChoices(fs, nil); !errors.Is(err, ErrNothing) {
		t.Errorf("of nothing: %v", err)
	}
	if s, _ := f.Strength(studio.FaceOf{Swatch: 99}); !math.IsNaN(s) {
		t.Errorf("a face that is not there has strength %v", s)
	}
}

// As many more choices as are asked for do tell, when they fall as expected.
func TestMoreChoicesTell(t *testing.T) {
	fs := faces(3)
	var choices []studio.Choice
	for range 6 {
		choices = append(choices, chosen("Ana", fs[0], fs[1]), chosen("Ana", fs[1], fs[2]), chosen("Ana", fs[0], fs[2]))
	}
	for range 4 {
		choices = append(choices, chosen("Ana", fs[1], fs[0]))
	}
	f, err := FitChoices(fs, choices)
	if err != nil {
		t.Fatal(err)
	}
	o := OrderOf(f, choices)
	if len(o.Unsure) == 0 || o.Unsure[0].A != fs[0] || o.Unsure[0].More == 0 {
		t.Fatalf("%+v", o.Unsure)
	}
	u := o.Unsure[0]
	if said := o.Doubts(NamerOf(fs))[0]; said != fmt.Sprintf("Can’t tell 1 from 2 yet; about %d more choices between them would.", u.More) {
		t.Error(said)
	}
	d, _ := f.Difference(u.A, u.B)
	a, _, _ := odds(d, 0)
	wins := int(math.Round(a * float64(u.More)))
	for i := range u.More {
		c := chosen("Ana", u.A, u.B)
		if i >= wins {
			c = chosen("Ana", u.B, u.A)
		}
		choices = append(choices, c)
	}
	f, _ = FitChoices(fs, choices)
	d, se := f.Difference(u.A, u.B)
	if low := d - z*se; low < -0.1 {
		t.Errorf("after %d more choices the difference is still %.2f ± %.2f", u.More, d, se)
	}
}

// The order does not hang on the order of the faces, and turning every choice round
// turns the order round.
func TestOrderTurnsWithTheChoices(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		fs := faces(rapid.IntRange(2, 6).Draw(t, "faces"))
		var choices, turned []studio.Choice
		for range rapid.IntRange(1, 30).Draw(t, "choices") {
			p := rapid.Permutation(fs).Draw(t, "pair")
			out := rapid.SampledFrom([]studio.Outcome{studio.ChoseLeft, studio.ChoseRight, studio.CantChoose}).Draw(t, "chosen")
			choices = append(choices, studio.Choice{Who: "Ana", Left: p[0], Right: p[1], Chosen: out})
			turned = append(turned, studio.Choice{Who: "Ana", Left: p[1], Right: p[0], Chosen: out})
		}
		f, err := FitChoices(fs, choices)
		if err != nil {
			t.Fatal(err)
		}
		g, err := FitChoices(fs, turned)
		if err != nil {
			t.Fatal(err)
		}
		h, err := FitChoices(rapid.Permutation(fs).Draw(t, "order"), choices)
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for _, x := range fs {
			a, se := f.Strength(x)
			b, seB := g.Strength(x)
			c, _ := h.Strength(x)
			sum += a
			if math.Abs(a+b) > 1e-5 || math.Abs(se-seB) > 1e-5 || math.Abs(a-c) > 1e-5 || math.IsNaN(se) {
				t.Errorf("%v: %v ± %v, turned %v ± %v, in another order %v", x, a, se, b, seB, c)
			}
		}
		if math.Abs(sum) > 1e-9 {
			t.Errorf("the strengths sum to %v", sum)
		}
	})
}

// Doubts are said once: first what the fewest choices would tell, then each run of
// neighbours that hardly any would.
func TestDoubtsAreSaidOnce(t *testing.T) {
	f := faces(6)
	o := Order{Unsure: []Unsure{{f[0], f[1], 40}, {f[1], f[2], 0}, {f[2], f[3], 0}, {f[3], f[4], 1}, {f[4], f[5], 0}}}
	got := strings.Join(o.Doubts(NamerOf(f)), " | ")
	want := "Can’t tell 4 from 5 yet; one more choice between them may tell. | Can’t tell 1 from 2 yet; about 40 more choices between them would. | " +
		"2, 3 and 4 may well be liked alike: even 200 more choices between neighbours would hardly tell. | 5 and 6 may well be liked alike: even 200 more choices between neighbours would hardly tell."
	if got != want {
		t.Error(got)
	}
}

func TestFacesAreNamedBySideOnlyWhereBothAreThere(t *testing.T) {
	one := faces(2)
	both := append(faces(2), studio.FaceOf{Swatch: 2, Face: studio.Back})
	if got := NamerOf(one).Name(one[1]); got != "2" {
		t.Error(got)
	}
	if got := NamerOf(both).Name(both[2]); got != "2 back" {
		t.Error(got)
	}
}
