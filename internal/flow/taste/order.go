package taste

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"aerugo/internal/science/stat"
	"aerugo/internal/studio"
)

// A Place is one face in the order of liking. Shares are chances to be chosen over a
// middling one of these faces, from 0 to 1.
type Place struct {
	Face                  studio.FaceOf
	Strength, Low, High   float64 // log odds against the mean of all
	Share, LowShare, Most float64
	First, Last           int // the places it may really have, from 1
	Won                   float64
	Shown                 int
}

// An Unsure is two neighbours of the order that can't be told apart yet.
type Unsure struct {
	A, B studio.FaceOf
	More int // choices between the two that would tell; 0 where even many would not
}

// An Order is all faces by how well they are liked, the best first.
type Order struct {
	Places []Place
	Best   []studio.FaceOf // those that may be the best; one when that is known
	Unsure []Unsure
	// Crossed is the chance that so many choices go against any one order, or NaN where
	// that can't be said; small: there is no one order.
	Crossed float64
	Choices int
	People  []string
}

// tooMany is how many more choices between two are not worth asking for.
const tooMany = 200

// OrderOf puts faces in order. choices are those the fit was made from.
func OrderOf(f *Fit, choices []studio.Choice) Order {
	o := Order{Crossed: math.NaN()}
	won, shown := map[studio.FaceOf]float64{}, map[studio.FaceOf]int{}
	for _, c := range choices {
		_, okA := f.at[c.Left]
		_, okB := f.at[c.Right]
		if !okA || !okB || c.Chosen == studio.Undone {
			continue
		}
		o.Choices++
		if !slices.Contains(o.People, c.Who) {
			o.People = append(o.People, c.Who)
		}
		shown[c.Left]++
		shown[c.Right]++
		switch c.Chosen {
		case studio.ChoseLeft:
			won[c.Left]++
		case studio.ChoseRight:
			won[c.Right]++
		case studio.CantChoose:
			won[c.Left] += 0.5
			won[c.Right] += 0.5
		}
	}
	slices.Sort(o.People)
	for _, x := range f.Faces {
		s, se := f.Strength(x)
		p := Place{Face: x, Strength: s, Low: s - z*se, High: s + z*se, First: 1, Last: len(f.Faces), Won: won[x], Shown: shown[x]}
		p.Share, p.LowShare, p.Most = share(p.Strength), share(p.Low), share(p.High)
		for _, y := range f.Faces {
			if y == x {
				continue
			}
			switch d, se := f.Difference(x, y); {
			case d-z*se > 0:
				p.Last--
			case d+z*se < 0:
				p.First++
			}
		}
		o.Places = append(o.Places, p)
	}
	slices.SortStableFunc(o.Places, func(a, b Place) int { return cmp.Compare(b.Strength, a.Strength) })
	for i, p := range o.Places {
		if d, se := f.Difference(o.Places[0].Face, p.Face); i == 0 || d-z*se <= 0 {
			o.Best = append(o.Best, p.Face)
		}
		if i == 0 {
			continue
		}
		above := o.Places[i-1].Face
		if d, se := f.Difference(above, p.Face); d-z*se <= 0 {
			o.Unsure = append(o.Unsure, Unsure{above, p.Face, f.more(d, se)})
		}
	}
	o.Crossed = crossed(f, choices)
	return o
}

func share(strength float64) float64 { return 1 / (1 + math.Exp(-strength)) }

// more returns how many more choices between two would tell them apart if the
// difference is as it seems, 0 for more than tooMany.
func (f *Fit) more(d, se float64) int {
	n := (z*z/(d*d) - 1/(se*se)) / telling(d, f.tie)
	if !(n <= tooMany) {
		return 0
	}
	return max(1, int(math.Ceil(n)))
}

// crossed asks the model without the prior, which has an answer once nothing won or
// lost everything, whether one order explains the choices. The chi-squared distribution
// of its deviance holds only where each pair was met several times.
func crossed(f *Fit, choices []studio.Choice) float64 {
	var all []stat.Choice
	total := 0.0
	for _, d := range f.duels(choices) {
		total += d.winA + d.winB + d.t
		all = append(all, stat.Choice{A: fmt.Sprint(d.a), B: fmt.Sprint(d.b), WinA: d.winA, WinB: d.winB, Ties: d.t})
	}
	r, _, err := stat.FitChoices(all, "", Confidence)
	if err != nil || r.DF < 1 || total < 4*float64(len(all)) {
		return math.NaN()
	}
	return r.P
}

// Namer names faces in words: by number alone where all are of one side.
type Namer struct{ both bool }

// NamerOf returns the Namer for a sitting's faces.
func NamerOf(faces []studio.FaceOf) Namer {
	for _, f := range faces {
		if f.Face != faces[0].Face {
			return Namer{true}
		}
	}
	return Namer{}
}

// Name returns a face in words.
func (n Namer) Name(f studio.FaceOf) string {
	if n.both {
		return fmt.Sprintf("%d %s", f.Swatch, f.Face)
	}
	return fmt.Sprint(f.Swatch)
}

// Lead says which is liked best, as far as that is known.
func (o Order) Lead(n Namer) string {
	switch {
	case len(o.Best) == 1:
		return fmt.Sprintf("%s is liked best.", n.Name(o.Best[0]))
	case len(o.Best) == len(o.Places):
		return "Can’t tell yet which is liked best: it may be any of them."
	case len(o.Best) > 5:
		return fmt.Sprintf("Can’t tell yet which is liked best: it may be any of %d.", len(o.Best))
	}
	var names []string
	for _, f := range o.Best {
		names = append(names, n.Name(f))
	}
	return "Can’t tell yet which is liked best: it may be " + list(names, "or") + "."
}

// Doubts says what can't be told yet: neighbours that some more choices would tell
// apart, the fewest first, and in one sentence those that even many would not.
func (o Order) Doubts(n Namer) []string {
	var alike [][]string // runs of neighbours
	var last studio.FaceOf
	for _, u := range o.Unsure {
		switch k := len(alike) - 1; {
		case u.More > 0:
		case k >= 0 && u.A == last:
			alike[k] = append(alike[k], n.Name(u.B))
			last = u.B
		default:
			alike = append(alike, []string{n.Name(u.A), n.Name(u.B)})
			last = u.B
		}
	}
	unsure := slices.Clone(o.Unsure)
	slices.SortStableFunc(unsure, func(a, b Unsure) int { return cmp.Compare(a.More, b.More) })
	var out []string
	for _, u := range unsure {
		switch {
		case u.More == 0:
		case u.More == 1:
			out = append(out, fmt.Sprintf("Can’t tell %s from %s yet; one more choice between them may tell.", n.Name(u.A), n.Name(u.B)))
		default:
			out = append(out, fmt.Sprintf("Can’t tell %s from %s yet; about %d more choices between them would.", n.Name(u.A), n.Name(u.B), u.More))
		}
	}
	for _, names := range alike {
		out = append(out, fmt.Sprintf("%s may well be liked alike: even %d more choices between neighbours would hardly tell.", list(names, "and"), tooMany))
	}
	return out
}

// OneOrder says what it means when the choices go against any one order, and is empty
// when they do not.
func (o Order) OneOrder() string {
	if !(o.Crossed < 1-Confidence) {
		return ""
	}
	return "No one order explains these choices: tastes differ, or what is liked depends on what it stands beside."
}

func list(names []string, word string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:len(names)-1], ", ") + " " + word + " " + names[len(names)-1]
}
