package taste

import (
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/studio"
)

func dice(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 1)) }

// Whatever people choose: every person sees every pair before any a second time, no
// face runs far ahead of another, and none stands on one side much more often.
func TestPairsAreFair(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(3, 7).Draw(rt, "faces")
		people := []string{"Ana", "Ben", "Cleo"}[:rapid.IntRange(1, 3).Draw(rt, "people")]
		fs, r := faces(n), dice(rapid.Uint64().Draw(rt, "seed"))
		likes := draw(r, fs, 1)
		var choices []studio.Choice
		seen := map[string]map[Pair]int{}
		shown, lean := map[studio.FaceOf]int{}, map[studio.FaceOf]int{}
		all := n * (n - 1) / 2
		for k := range all * len(people) {
			who := people[k%len(people)]
			p := Ahead(Ask{Faces: fs, Choices: choices, Who: who, Rand: r}, 1)[0]
			if p.Left == p.Right {
				rt.Fatalf("%v is shown with itself", p)
			}
			key := p
			if after(p.Left, p.Right) {
				key = Pair{p.Right, p.Left}
			}
			if seen[who] == nil {
				seen[who] = map[Pair]int{}
			}
			seen[who][key]++
			if seen[who][key] > 1 && len(seen[who]) < all {
				rt.Fatalf("%s sees %v again after %d of %d pairs", who, key, len(seen[who]), all)
			}
			shown[p.Left]++
			shown[p.Right]++
			lean[p.Left]++
			lean[p.Right]--
			choices = append(choices, likes.choose(r, p, who, 0.2))
			least, most := shown[fs[0]], 0
			for _, f := range fs {
				least, most = min(least, shown[f]), max(most, shown[f])
				if l := lean[f]; l > 3 || l < -3 {
					rt.Fatalf("%v stood %d times more often on one side", f, l)
				}
			}
			// near the end of a round only the pairs that are left can be shown
			if most-least > n {
				rt.Fatalf("after %d choices one face was shown %d times, another %d", len(choices), most, least)
			}
		}
		for _, f := range fs {
			if shown[f] != (n-1)*len(people) {
				rt.Errorf("%v was shown %d times in full rounds", f, shown[f])
			}
		}
		// in the second round the sides are changed
		p := Ahead(Ask{Faces: fs, Choices: choices, Who: "Ana", Rand: r}, 1)[0]
		for _, c := range choices {
			if c.Who == "Ana" && c.Left == p.Left && c.Right == p.Right {
				rt.Errorf("%v comes back with the same sides", p)
			}
		}
	})
}

// Pairs planned ahead are all different while there are enough, so that a phone can go
// on without the network.
func TestPairsAheadAreDifferent(t *testing.T) {
	fs := faces(5)
	seen := map[Pair]bool{}
	for _, p := range Ahead(Ask{Faces: fs, Who: "Ana", Rand: dice(1)}, 10) {
		if after(p.Left, p.Right) {
			p = Pair{p.Right, p.Left}
		}
		seen[p] = true
	}
	if len(seen) != 10 {
		t.Errorf("%d of 10 pairs are different", len(seen))
	}
	if got := Ahead(Ask{Faces: fs[:1], Who: "Ana", Rand: dice(1)}, 3); got != nil {
		t.Errorf("of one face: %v", got)
	}
	a := Ahead(Ask{Faces: fs, Who: "Ana", Rand: dice(1)}, 10)
	b := Ahead(Ask{Faces: fs, Who: "Ana", Rand: dice(1)}, 10)
	for i := range a {
		if a[i] != b[i] {
			t.Errorf("with the same dice pair %d is %v and %v", i, a[i], b[i])
		}
	}
}

// Two people who begin at once are not shown the same faces first: what waits on one
// screen counts as shown.
func TestPairsOnOtherScreensCount(t *testing.T) {
	fs := faces(6)
	var waiting []Pair
	shown := map[studio.FaceOf]int{}
	for _, who := range []string{"Ana", "Ben", "Cleo"} {
		p := Ahead(Ask{Faces: fs, Who: who, Waiting: waiting, Rand: dice(9)}, 1)[0]
		waiting = append(waiting, p)
		shown[p.Left]++
		shown[p.Right]++
	}
	for _, f := range fs {
		if shown[f] > 2 {
			t.Errorf("%v is on %d of 3 screens", f, shown[f])
		}
	}
	if len(shown) < 4 {
		t.Errorf("three screens show %d faces: %v", len(shown), waiting)
	}
}

// Of many faces, two people still meet some of the same pairs, without which their
// agreement could not be read.
func TestPeopleMeetTheSamePairs(t *testing.T) {
	fs, r := faces(20), dice(4)
	likes := draw(r, fs, 1)
	var choices []studio.Choice
	for i := range 60 {
		who := []string{"Ana", "Ben"}[i%2]
		choices = append(choices, likes.choose(r, Ahead(Ask{Faces: fs, Choices: choices, Who: who, Rand: r}, 1)[0], who, 0))
	}
	a := AgreementOf(choices)
	if len(a.Twos) != 1 || a.Twos[0].Both < 6 {
		t.Errorf("of 190 pairs, after 30 choices each: %+v", a.Twos)
	} else {
		t.Logf("of 190 pairs, after 30 choices each, both saw %d", a.Twos[0].Both)
	}
}

func TestEnoughIsWithinReason(t *testing.T) {
	for n, want := range map[int]int{0: 0, 1: 0, 3: 3, 4: 6, 8: 24, 20: 30, 40: 30} { // n log2 n, all pairs, or 30
		if got := Enough(n); got != want {
			t.Errorf("%d faces: %d, want %d", n, got, want)
		}
	}
}

func BenchmarkAhead(b *testing.B) {
	fs, r := faces(40), dice(2)
	likes := draw(r, fs, 1)
	var choices []studio.Choice
	for range 300 {
		choices = append(choices, likes.choose(r, randomPair(r, fs), "Ana", 0.2))
	}
	for b.Loop() {
		Ahead(Ask{Faces: fs, Choices: choices, Who: "Ana", Rand: r}, 8)
	}
}
