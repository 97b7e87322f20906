package scale

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"aerugo/internal/flow/plan"
	"aerugo/internal/science/film"
	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// A Line is what one step takes for all pieces, in grams or millilitres: On lies
// on the metal, Lost goes beside it (share with its bounds), Take is both. Loading
// is what the recipe says, per m².
type Line struct {
	Part, Step int // counted from 0
	Kind       studio.StepKind
	Faces      studio.Faces
	SupplyID   int64
	Material   string
	Strength   float64 // wt%, 0 not said
	Also       []studio.Part
	AreaM2     float64
	Loading    studio.Amount
	Unit       studio.Unit
	On, Take   Span
	Lost       Span
	Assumed    bool
	Why        string // what the loss rests on
	Unknown    string // why no amount can be told
}

// How much of what is taken goes beside the metal, by what puts it on: shares with
// their bounds (common practice, no source).
var (
	bySpray  = Span{Value: 0.35, Low: 0.20, High: 0.60}
	byBrush  = Span{Value: 0.10, Low: 0.05, High: 0.20}
	byHand   = Span{Value: 0.15, Low: 0.05, High: 0.30} // sprinkled
	byAny    = Span{Value: 0.25, Low: 0.05, High: 0.60} // a liquid whose tool isn't said
	notKnown = "not said what puts it on"
)

// lostBy is what goes beside in a step, by its tool.
func lostBy(s studio.Step) (Span, string) {
	tool := strings.ToLower(s.Tool)
	has := func(words ...string) bool {
		return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(tool, w) })
	}
	switch {
	case s.Kind == studio.Sprinkle:
		return byHand, "salt that falls beside or is left in the sieve"
	case has("spray", "mist", "atomis", "atomiz", "airbrush"):
		return bySpray, "spray that goes past the piece"
	case has("brush", "sponge", "cloth", "swab", "roller"):
		return byBrush, "liquid left in the " + s.Tool
	}
	return byAny, "liquid that goes beside; " + notKnown
}

func times(s Span, k float64) Span {
	return Span{Value: s.Value * k, Low: s.Low * k, High: s.High * k}
}

// take reckons every step's amount.
func (t *Takes) take() {
	for i, p := range t.Parts {
		for k, s := range p.Steps {
			if s.Kind != studio.Wet && s.Kind != studio.Sprinkle && s.Amount.IsZero() || s.Kind == studio.Fume {
				continue
			}
			l := Line{Part: i, Step: k, Kind: s.Kind, Faces: p.on(s), SupplyID: s.SupplyID, Material: s.Material, Strength: s.Strength, Also: s.Also,
				AreaM2: float64(t.Count) * t.faceM2(p.on(s)), Loading: p.perArea(s), Assumed: s.Amount.Assumed}
			if x, ok := t.supply(s); ok {
				if x.Material != "" {
					l.Material = x.Material
				}
				if l.Strength == 0 && s.SupplyID != 0 {
					l.Strength = x.WtPercent()
				}
			}
			if s.Amount.IsZero() {
				l.Unknown = "how much goes on was never said; weigh one swatch before and after"
				t.Lines = append(t.Lines, l)
				continue
			}
			l.amount(s)
			if l.Assumed {
				t.assume(fmt.Sprintf("how much %s puts on", stepWords(s)), l.Loading.String())
			}
			t.assume("share lost as "+l.Why, fmt.Sprintf("%.0f %% (%.0f to %.0f)", 100*l.Lost.Value, 100*l.Lost.Low, 100*l.Lost.High))
			t.Lines = append(t.Lines, l)
		}
	}
}

// amount fills in what lies on the metal and what goes beside. A spread of the
// loading is that of the hand on one face: over many faces it does not average out,
// as the same hand may be heavy all day.
func (l *Line) amount(s studio.Step) {
	l.Unit = studio.Gram
	if l.Loading.Unit == studio.MLPerM2 {
		l.Unit = studio.Millilitre
	}
	sd := l.Loading.SD
	if sd == 0 && l.Assumed {
		sd = 0.2 * l.Loading.Value
	}
	v := l.Loading.Value
	l.On = times(Span{Value: v, Low: max(0, v-2*sd), High: v + 2*sd}, l.AreaM2)
	l.Lost, l.Why = lostBy(s)
	kept := 1 - l.Lost.Value
	l.Take = film.Combine(l.On.Value/kept, l.On.Low/kept, l.On.High/kept, l.On.Value/(1-l.Lost.Low), l.On.Value/(1-l.Lost.High))
}

// supply finds the bottle of a step: the one it names, else one of the same
// material on the shelf.
func (t *Takes) supply(s studio.Step) (studio.Supply, bool) {
	for _, x := range t.Supplies {
		if x.ID == s.SupplyID && s.SupplyID != 0 {
			return x, true
		}
	}
	return t.bottle(s.Material, s.Strength)
}

// bottle finds a supply of a material, at least so strong where that can be told.
func (t *Takes) bottle(material string, strength float64) (studio.Supply, bool) {
	for _, x := range t.Supplies {
		if material != "" && x.Material == material && x.WtPercent() >= strength {
			return x, true
		}
	}
	return studio.Supply{}, false
}

func stepWords(s studio.Step) string {
	if s.Material == "" {
		return string(s.Kind)
	}
	return fmt.Sprintf("%s %s", s.Kind, strings.ReplaceAll(s.Material, "-", " "))
}

// A Stock is one liquid or salt for all the steps that take it: Need is what they
// take, Make that with the spare, in grams or millilitres. Mix says what to weigh,
// where it has to be let down from a bottle. In lists what else is in a mixed liquid,
// in grams. Pad is the chamber's ammonia.
type Stock struct {
	Name     string
	Material string
	Strength float64
	Unit     studio.Unit
	Need     Span
	Make     float64
	Mix      *plan.MixCard
	From     string // the bottle on the shelf
	SupplyID int64
	In       []string
	Doubt    string
	Pad      bool
}

type stockKey struct {
	material string
	strength float64
	unit     studio.Unit
	also     string
}

// stock adds the lines up by what they take.
func (t *Takes) stock() {
	at := map[stockKey]int{}
	for _, l := range t.Lines {
		if l.Unknown != "" {
			continue
		}
		key := stockKey{l.Material, l.Strength, l.Unit, fmt.Sprint(l.Also)}
		i, ok := at[key]
		if !ok {
			i = len(t.Stock)
			at[key] = i
			t.Stock = append(t.Stock, Stock{Name: substance(l.Material), Material: l.Material, Strength: l.Strength, Unit: l.Unit})
		}
		x := &t.Stock[i]
		x.Need = Span{Value: x.Need.Value + l.Take.Value, Low: x.Need.Low + l.Take.Low, High: x.Need.High + l.Take.High}
		if len(l.Also) > 0 {
			x.In = nil
			for _, p := range l.Also {
				x.In = append(x.In, fmt.Sprintf("%s, %.3g %% of the whole", substance(p.Material), p.Strength))
			}
		}
	}
	for i := range t.Stock {
		x := &t.Stock[i]
		x.Make = RoundUp(x.Need.Value * (1 + t.Spare))
		t.mix(x)
	}
}

// mix says what to weigh for a stock.
func (t *Takes) mix(x *Stock) {
	b, found := t.bottle(x.Material, x.Strength)
	switch {
	case x.Material == "" || x.Material == "water" || x.Material == "distilled-water":
		return
	case !found:
		x.Doubt = "none so strong is on the shelf"
		return
	}
	x.From, x.SupplyID = b.Name, b.ID
	have := b.WtPercent()
	switch {
	case len(x.In) > 0:
		x.Doubt = "it is mixed of several things: weigh each by its share"
	case x.Strength > 0 && have == 0:
		x.Doubt = "how strong " + b.Name + " is stands nowhere"
	case x.Strength > 0 && x.Strength < have:
		s, err := plan.SupplyStock(b)
		if err == nil {
			var card plan.MixCard
			if card, err = plan.MixOf(s, x.Strength, x.Make, x.Unit == studio.Millilitre); err == nil {
				x.Mix = &card
			}
		}
		if p := (*studio.Problem)(nil); errors.As(err, &p) {
			x.Doubt = p.Text
		}
	}
}

func substance(key string) string {
	if key == "" {
		return "what the step says"
	}
	if s, ok := matter.Lookup(key); ok {
		return s.Name
	}
	return strings.ReplaceAll(key, "-", " ")
}

// RoundUp returns an amount above v as a hand measures it: two figures that count.
func RoundUp(v float64) float64 {
	if !(v > 0) || math.IsInf(v, 0) {
		return 0
	}
	unit := math.Pow(10, math.Floor(math.Log10(v))-1)
	return math.Ceil(v/unit-1e-9) * unit
}
