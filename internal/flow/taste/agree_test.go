package taste

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/studio"
)

func chosen(who string, over, under studio.FaceOf) studio.Choice {
	return studio.Choice{Who: who, Left: over, Right: under, Chosen: studio.ChoseLeft}
}

// The number of circular trios of a full round among n is n(n-1)(n-2)/6 less the sum of
// a(a-1)/2 over the wins a of each (Kendall and Babington Smith 1940).
func TestCirclesMeetKendall(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 9).Draw(t, "faces")
		fs := faces(n)
		wins := make([]int, n)
		var choices []studio.Choice
		for i := range n {
			for j := i + 1; j < n; j++ {
				a, b := i, j
				if rapid.Bool().Draw(t, "swap") {
					a, b = j, i
				}
				wins[a]++
				c := chosen("Ana", fs[a], fs[b])
				if rapid.Bool().Draw(t, "right") {
					c = studio.Choice{Who: "Ana", Left: fs[b], Right: fs[a], Chosen: studio.ChoseRight}
				}
				choices = append(choices, c)
			}
		}
		want := n * (n - 1) * (n - 2) / 6
		for _, a := range wins {
			want -= a * (a - 1) / 2
		}
		h := HandsOf(choices)[0]
		if h.Circles != want || h.Trios != n*(n-1)*(n-2)/6 || h.Choices != n*(n-1)/2 {
			t.Errorf("%+v, want %d circles", h, want)
		}
	})
}

// Two people who choose by a coin agree by chance: alpha is about 0. Two who choose
// alike have 1, two who choose opposite things about -1 (Krippendorff 2004: 0 is
// chance; below it is systematic disagreement).
func TestAlphaIsNilByChance(t *testing.T) {
	fs := faces(12)
	r := rand.New(rand.NewPCG(3, 1))
	even := liking{}
	var coin, same, opposite []studio.Choice
	for i, a := range fs {
		for _, b := range fs[i+1:] {
			x, y := even.choose(r, Pair{a, b}, "Ana", 0), even.choose(r, Pair{b, a}, "Ben", 0)
			coin = append(coin, x, y)
			y = x
			y.Who = "Ben"
			same = append(same, x, y)
			y.Left, y.Right = x.Right, x.Left
			opposite = append(opposite, x, y)
		}
	}
	if a := AgreementOf(coin); math.Abs(a.Alpha) > 0.25 || len(a.Twos) != 1 || math.Abs(a.Twos[0].ByChance-0.5) > 1e-12 || !strings.Contains(a.Twos[0].Words(), "about 33") {
		t.Errorf("%+v: %s", a, a.Twos[0].Words())
	}
	if a := AgreementOf(same); a.Alpha != 1 || a.Twos[0].Same != 66 || a.Twos[0].Words() != "Ana and Ben agree on 66 of 66 pairs; chance alone would give about 33." || a.Words() != "People agree almost wholly." {
		t.Errorf("%+v: %s", a, a.Words())
	}
	if a := AgreementOf(opposite); a.Alpha > -0.95 || a.Twos[0].Same != 0 || !strings.Contains(a.Twos[0].Words(), "opposite") {
		t.Errorf("%+v", a)
	}
}

// Turning the two sides of any choice round changes nothing in how people agree.
func TestAgreementDoesNotHangOnTheSide(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		fs := faces(5)
		var choices, turned []studio.Choice
		for i := range rapid.IntRange(2, 30).Draw(t, "choices") {
			p := rapid.Permutation(fs).Draw(t, "pair")
			c := studio.Choice{Who: fmt.Sprint("p", i%3), Left: p[0], Right: p[1], Chosen: rapid.SampledFrom([]studio.Outcome{studio.ChoseLeft, studio.ChoseRight, studio.CantChoose}).Draw(t, "chosen")}
			choices = append(choices, c)
			c.Left, c.Right = c.Right, c.Left
			c.Chosen = map[studio.Outcome]studio.Outcome{studio.ChoseLeft: studio.ChoseRight, studio.ChoseRight: studio.ChoseLeft, studio.CantChoose: studio.CantChoose}[c.Chosen]
			turned = append(turned, c)
		}
		a, b := AgreementOf(choices), AgreementOf(turned)
		if fmt.Sprint(a) != fmt.Sprint(b) {
			t.Errorf("%+v\n%+v", a, b)
		}
	})
}

func TestOddOneIsNamedOnlyWhenSure(t *testing.T) {
	fs := faces(9)
	var choices []studio.Choice
	for i, a := range fs {
		for _, b := range fs[i+1:] {
			choices = append(choices, chosen("Ana", a, b), chosen("Ben", a, b), chosen("Cleo", b, a))
		}
	}
	a := AgreementOf(choices)
	if a.Odd != "Cleo" || a.Own != 0 || a.OwnOf != 72 || a.Rest != 36 || !strings.Contains(a.Words(), "Cleo differs most: alike with another on 0 of 72 pairs, the others among themselves on 36 of 36") {
		t.Errorf("%+v: %s", a, a.Words())
	}
	if a := AgreementOf(choices[:6]); a.Odd != "" {
		t.Errorf("after two pairs %s is called odd", a.Odd)
	}
	if w := AgreementOf([]studio.Choice{chosen("Ana", fs[0], fs[1]), chosen("Ben", fs[0], fs[1]), chosen("Ana", fs[0], fs[2]), chosen("Ben", fs[0], fs[2])}).Words(); !strings.HasPrefix(w, "It can’t be told yet") {
		t.Errorf("after two pairs: %s", w)
	}
	if a := AgreementOf(nil); a.Words() != "" || len(a.Twos) != 0 {
		t.Errorf("of nothing: %+v", a)
	}
}

func TestLeaningToOneSideIsSaid(t *testing.T) {
	fs := faces(8)
	var choices []studio.Choice
	for i, a := range fs {
		for _, b := range fs[i+1:] {
			choices = append(choices, chosen("Ana", a, b))
		}
	}
	if w := HandsOf(choices)[0].Words(); !strings.Contains(w, "Ana chose 28 times") || !strings.Contains(w, "The left one was taken surprisingly often") || !strings.Contains(w, "no circle in 56 trios") {
		t.Error(w)
	}
}
