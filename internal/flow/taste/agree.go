package taste

import (
	"fmt"
	"math"
	"slices"

	"aerugo/internal/science/stat"
	"aerugo/internal/studio"
)

// A Two is how far two people agree on the pairs both saw. By chance is what two
// people would agree on who choose by a coin, and can't choose as often as these.
type Two struct {
	A, B      string
	Same      int
	Both      int
	Low, High float64 // of the share, by Wilson 1927
	ByChance  float64
}

// An Agreement is how far the people of a sitting agree.
type Agreement struct {
	Twos  []Two
	Alpha float64 // Krippendorff's, NaN where it can't be told
	// Odd is who chooses unlike the others, empty when nobody surely does; then Own of
	// OwnOf choices were as another's, and Rest of RestOf among the others.
	Odd          string
	Own, OwnOf   int
	Rest, RestOf int
}

// judged is the newest outcome of one person for each pair: +1 the face that comes
// first in order was chosen, -1 the other, 0 neither.
func judged(choices []studio.Choice) (people []string, of map[string]map[Pair]int) {
	of = map[string]map[Pair]int{}
	for _, c := range choices {
		p, out := Pair{c.Left, c.Right}, 0
		switch c.Chosen {
		case studio.ChoseLeft:
			out = 1
		case studio.ChoseRight:
			out = -1
		case studio.CantChoose:
		default:
			continue
		}
		if after(p.Left, p.Right) {
			p, out = Pair{p.Right, p.Left}, -out
		}
		if of[c.Who] == nil {
			of[c.Who] = map[Pair]int{}
			people = append(people, c.Who)
		}
		of[c.Who][p] = out
	}
	slices.Sort(people)
	return people, of
}

func after(a, b studio.FaceOf) bool {
	if a.Swatch != b.Swatch {
		return a.Swatch > b.Swatch
	}
	return a.Face > b.Face
}

// AgreementOf compares the people of a sitting by the newest choice of each on each
// pair. Choices taken back must be left out.
//
// Alpha treats both ways round of a pair alike, so that it does not hang on which face
// is written first: each pair counts once as it is and once turned round. Source:
// Krippendorff 2004, chapter 11.
func AgreementOf(choices []studio.Choice) Agreement {
	people, of := judged(choices)
	a := Agreement{Alpha: math.NaN()}
	var verdicts []stat.Verdict
	for _, who := range people {
		for p, out := range of[who] {
			thing := fmt.Sprint(p)
			verdicts = append(verdicts, stat.Verdict{Judge: who, Thing: thing, Label: fmt.Sprint(out)}, stat.Verdict{Judge: who, Thing: thing + " turned", Label: fmt.Sprint(-out)})
		}
	}
	if alpha, err := stat.Krippendorff(verdicts); err == nil {
		a.Alpha = alpha
	}
	for i, x := range people {
		for _, y := range people[i+1:] {
			if t := two(x, y, of); t.Both > 0 {
				a.Twos = append(a.Twos, t)
			}
		}
	}
	a.odd(people)
	return a
}

func two(a, b string, of map[string]map[Pair]int) Two {
	t := Two{A: a, B: b}
	tiesA, tiesB := 0.0, 0.0
	for p, x := range of[a] {
		y, there := of[b][p]
		if !there {
			continue
		}
		t.Both++
		if x == y {
			t.Same++
		}
		if x == 0 {
			tiesA++
		}
		if y == 0 {
			tiesB++
		}
	}
	if t.Both > 0 {
		tiesA, tiesB = tiesA/float64(t.Both), tiesB/float64(t.Both)
		t.ByChance = (1-tiesA)*(1-tiesB)/2 + tiesA*tiesB
		t.Low, t.High, _ = stat.WilsonInterval(t.Same, t.Both, Confidence) // Both is above 0
	}
	return t
}

// odd looks for the one person whose agreement with the others lies surely below that
// of the others among themselves.
func (a *Agreement) odd(people []string) {
	if len(people) < 3 {
		return
	}
	least := math.Inf(1)
	for _, who := range people {
		own, ownOf, rest, restOf := 0, 0, 0, 0
		for _, t := range a.Twos {
			if t.A == who || t.B == who {
				own, ownOf = own+t.Same, ownOf+t.Both
			} else {
				rest, restOf = rest+t.Same, restOf+t.Both
			}
		}
		if ownOf == 0 || restOf == 0 {
			continue
		}
		// one choice is compared with those of all others, which is no more evidence
		k := len(people) - 1
		_, high, _ := stat.WilsonInterval((own+k/2)/k, max(1, ownOf/k), Confidence)
		low, _, _ := stat.WilsonInterval(rest/max(1, k-1), max(1, restOf/max(1, k-1)), Confidence)
		if share := float64(own) / float64(ownOf); high < low && share < least {
			least = share
			a.Odd, a.Own, a.OwnOf, a.Rest, a.RestOf = who, own, ownOf, rest, restOf
		}
	}
}

// Words says how far two people agree.
func (t Two) Words() string {
	said := fmt.Sprintf("%s and %s agree on %d of %d pairs", t.A, t.B, t.Same, t.Both)
	chance := fmt.Sprintf("chance alone would give about %.0f", t.ByChance*float64(t.Both))
	switch {
	case t.Low > t.ByChance:
		return said + "; " + chance + "."
	case t.High < t.ByChance:
		return said + ", fewer than chance: they seem to like opposite things; " + chance + "."
	}
	return said + "; " + chance + ", so it can’t be told yet whether their tastes are alike."
}

// Words says how far all agree, and who differs; empty where nothing can be said.
func (a Agreement) Words() string {
	if math.IsNaN(a.Alpha) || len(a.Twos) == 0 {
		return ""
	}
	same, both, chance := 0, 0, 0.0
	for _, t := range a.Twos {
		same, both, chance = same+t.Same, both+t.Both, chance+t.ByChance*float64(t.Both)
	}
	chance /= float64(both)
	if low, high, _ := stat.WilsonInterval(same, both, Confidence); low <= chance && chance <= high {
		return "It can’t be told yet whether people agree: too few pairs were seen by two of them, or tastes differ."
	}
	said := "People agree no more than by chance."
	switch { // limits of ours, about those of Landis and Koch 1977 for kappa
	case a.Alpha >= 0.8:
		said = "People agree almost wholly."
	case a.Alpha >= 0.6:
		said = "People agree well."
	case a.Alpha >= 0.4:
		said = "People agree about half way."
	case a.Alpha >= 0.2:
		said = "People agree a little."
	}
	if a.Odd != "" {
		said += fmt.Sprintf(" %s differs most: alike with another on %d of %d pairs, the others among themselves on %d of %d.", a.Odd, a.Own, a.OwnOf, a.Rest, a.RestOf)
	}
	return said
}

// A Hand is how one person chose.
type Hand struct {
	Who     string
	Choices int
	Cant    int // could not choose
	Left    int // of those that were not 'neither'
	// Trios are three faces of which the person compared all three pairs; Circles those
	// in which the first was chosen over the second, that over the third, and that over
	// the first. By a coin a quarter of the trios go round.
	Trios, Circles int
	// LeansLow and LeansHigh are the 99 % interval of the share chosen on the left; nobody
	// is told lightly to have tapped without looking.
	LeansLow, LeansHigh float64
}

// HandsOf returns how each person chose, by name. Source of the circles: Kendall and
// Babington Smith 1940.
func HandsOf(choices []studio.Choice) []Hand {
	people, of := judged(choices)
	var out []Hand
	for _, who := range people {
		h := Hand{Who: who, LeansHigh: 1}
		decided := 0
		for _, c := range choices {
			if c.Who != who {
				continue
			}
			h.Choices++
			switch c.Chosen {
			case studio.CantChoose:
				h.Cant++
			case studio.ChoseLeft:
				h.Left++
				decided++
			case studio.ChoseRight:
				decided++
			}
		}
		if decided > 0 {
			h.LeansLow, h.LeansHigh, _ = stat.WilsonInterval(h.Left, decided, 0.99) // decided is above 0
		}
		h.Trios, h.Circles = circles(of[who])
		out = append(out, h)
	}
	return out
}

// circles counts trios, and those that go round.
func circles(of map[Pair]int) (trios, round int) {
	var faces []studio.FaceOf
	for p := range of {
		for _, f := range []studio.FaceOf{p.Left, p.Right} {
			if !slices.Contains(faces, f) {
				faces = append(faces, f)
			}
		}
	}
	over := func(a, b studio.FaceOf) int {
		if after(a, b) {
			return -of[Pair{b, a}]
		}
		return of[Pair{a, b}]
	}
	for i, a := range faces {
		for j := i + 1; j < len(faces); j++ {
			for k := j + 1; k < len(faces); k++ {
				x, y, w := over(a, faces[j]), over(faces[j], faces[k]), over(faces[k], a)
				if x == 0 || y == 0 || w == 0 { // not compared, or neither chosen
					continue
				}
				trios++
				if x == y && y == w {
					round++
				}
			}
		}
	}
	return trios, round
}

// Words says how one person chose.
func (h Hand) Words() string {
	said := fmt.Sprintf("%s chose %d times", h.Who, h.Choices)
	if h.Choices == 1 {
		said = h.Who + " chose once"
	}
	if h.Cant > 0 {
		said += fmt.Sprintf(", %d of them “can’t choose”", h.Cant)
	}
	switch {
	case h.Trios < 4:
	case h.Circles == 0:
		said += fmt.Sprintf("; no circle in %d trios compared in full: a steady order", h.Trios)
	default:
		said += fmt.Sprintf("; %d of %d trios go round in a circle (the first over the second, that over the third, that over the first); a coin would make about %.0f", h.Circles, h.Trios, math.Round(float64(h.Trios)/4))
	}
	switch {
	case h.LeansLow > 0.5:
		said += ". The left one was taken surprisingly often: " + h.Who + " may have tapped without looking"
	case h.LeansHigh < 0.5:
		said += ". The right one was taken surprisingly often: " + h.Who + " may have tapped without looking"
	}
	return said + "."
}
