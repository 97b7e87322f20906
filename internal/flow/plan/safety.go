package plan

import (
	"strings"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// Safety checks the recipe versions in the order they are laid, the one at the
// metal first, against everything that must never meet. It returns what must be
// minded, worst first, and a Problem of kind Unsafe when something is to be
// stopped; the Problem says why and names a safer way.
//
// What an earlier step put on is taken to be still there unless a rinse came
// between. A fume step that names nothing is taken as ammonia of unknown strength.
func Safety(layers []studio.Version, sup []studio.Supply, metal studio.Metal) ([]matter.Clash, *studio.Problem) {
	clashes := matter.Clashes(Uses(layers, sup), MetalWords(metal))
	return clashes, refuse(clashes)
}

// SafetyOf is [Safety] for treatments of one swatch, in any order: layers of a
// face lie over each other, and what is on one face meets what is done to the
// other. The bench asks it before a treatment begins.
func SafetyOf(treatments []studio.Treatment, sup []studio.Supply, metal studio.Metal) ([]matter.Clash, *studio.Problem) {
	return pieceSafety(treatments, sup, metal)
}

// Uses lists what the layers use, for [matter.Clashes] and [matter.Cautions].
// Steps are numbered on from 1 at the metal through all layers.
func Uses(layers []studio.Version, sup []studio.Supply) []matter.Use {
	var steps [][]studio.Step
	for _, v := range layers {
		steps = append(steps, v.Steps)
	}
	uses, _ := usesOf(steps, sup)
	return uses
}

// UsesOf is [Uses] for treatments, which carry their own steps.
func UsesOf(treatments []studio.Treatment, sup []studio.Supply) []matter.Use {
	var steps [][]studio.Step
	for _, t := range treatments {
		steps = append(steps, t.Steps)
	}
	uses, _ := usesOf(steps, sup)
	return uses
}

// MetalWords names a metal so that matter can read its alloy and temper.
func MetalWords(m studio.Metal) string {
	words := strings.TrimSpace(m.Name)
	if m.Alloy != "" && !strings.Contains(words, m.Alloy) {
		words = strings.TrimSpace(words + " (" + m.Alloy + ")")
	}
	if m.Temper != "" {
		words += ", " + m.Temper
	}
	return words
}

// usesOf returns the uses of layers, and whether the piece is left rinsed.
func usesOf(layers [][]studio.Step, sup []studio.Supply) (uses []matter.Use, rinsed bool) {
	n := 0
	for i, steps := range layers {
		for _, s := range steps {
			n++
			if s.Kind == studio.Rinse {
				rinsed = true
			}
			clean := rinsed
			for _, part := range parts(s) {
				u, ok := useOf(part, sup)
				if !ok {
					continue
				}
				u.Step, u.RinsedBefore = n, clean
				if i < len(layers)-1 && u.Form != "fume" {
					u.Form = "residue"
				}
				uses, rinsed = append(uses, u), false
			}
		}
	}
	return uses, rinsed
}

// parts returns a step once for each thing in its liquid.
func parts(s studio.Step) []studio.Step {
	out := []studio.Step{s}
	for _, p := range s.Also {
		one := s
		one.SupplyID, one.Material, one.Strength = 0, p.Material, p.Strength
		out = append(out, one)
	}
	return out
}

// useOf returns what a step brings to the metal, and false if nothing.
func useOf(s studio.Step, sup []studio.Supply) (matter.Use, bool) {
	u := matter.Use{Key: materialOf(s, sup), WtPercent: s.Strength, Form: "liquid"}
	if have, ok := supplyBy(sup, s.SupplyID); ok && u.WtPercent == 0 {
		u.WtPercent = have.WtPercent()
	}
	switch s.Kind {
	case studio.Fume:
		u.Form = "fume"
		if u.Key == "" {
			u.Key = "ammonia-water"
		}
	case studio.Heat:
		if u.Key != "" {
			break
		}
		tool := strings.ToLower(s.Tool + " " + s.Place)
		for _, mild := range []string{"oven", "kiln", "hot plate", "water bath"} {
			if strings.Contains(tool, mild) {
				return u, false
			}
		}
		u.Key, u.Form = "torch", "fume"
	case studio.Wet:
		if u.Key == "" {
			u.Key = "water"
		}
	case studio.Sprinkle, studio.Bury:
		u.Form = "solid"
	case studio.Pickle, studio.Neutralise, studio.Seal:
		// an empty key is passed on, and answered as unknown
	default:
		if u.Key == "" {
			return u, false
		}
	}
	return u, true
}

// pieceSafety checks all treatments of one swatch.
func pieceSafety(treatments []studio.Treatment, sup []studio.Supply, metal studio.Metal) ([]matter.Clash, *studio.Problem) {
	var clashes []matter.Clash
	words := MetalWords(metal)
	front, back := stack(treatments, studio.Front), stack(treatments, studio.Back)
	f, frontRinsed := usesOf(front, sup)
	clashes = mergeClashes(clashes, matter.Clashes(f, words))
	if !sameStack(treatments) {
		b, backRinsed := usesOf(back, sup)
		clashes = mergeClashes(clashes, matter.Clashes(b, words))
		clashes = mergeClashes(clashes, across(f, frontRinsed, b, words))
		clashes = mergeClashes(clashes, across(b, backRinsed, f, words))
	}
	return clashes, refuse(clashes)
}

// stack returns the steps laid on a face, layer by layer from the metal.
func stack(treatments []studio.Treatment, face studio.Face) [][]studio.Step {
	var on []studio.Treatment
	for _, t := range treatments {
		if t.Faces.Has(face) {
			on = append(on, t)
		}
	}
	for i := 1; i < len(on); i++ { // few: insertion keeps equal layers in the order given
		for j := i; j > 0 && on[j].Layer < on[j-1].Layer; j-- {
			on[j], on[j-1] = on[j-1], on[j]
		}
	}
	var steps [][]studio.Step
	for _, t := range on {
		steps = append(steps, t.Steps)
	}
	return steps
}

// sameStack reports whether nothing is done to one face that is not done to
// the other.
func sameStack(treatments []studio.Treatment) bool {
	for _, t := range treatments {
		if t.Faces != studio.OnBoth {
			return false
		}
	}
	return true
}

// across returns the clashes of what the first face is left with and what is
// then done to the other. A rinse that ended the first counts; one within the
// second does not, since it need not reach the first face.
func across(first []matter.Use, rinsed bool, second []matter.Use, metal string) []matter.Clash {
	type pair struct {
		a, b     string
		pa, pb   float64
		rinsedIt bool
	}
	var clashes []matter.Clash
	seen := map[pair]bool{}
	for i, a := range first {
		clean := rinsed
		for _, later := range first[i+1:] {
			clean = clean || later.RinsedBefore
		}
		for _, b := range second {
			p := pair{a.Key, b.Key, a.WtPercent, b.WtPercent, clean}
			if seen[p] {
				continue
			}
			seen[p] = true
			a.Step, a.RinsedBefore, a.Form = 1, false, "residue"
			b.Step, b.RinsedBefore = 2, clean
			for _, c := range matter.Clashes([]matter.Use{a, b}, metal) {
				if c.StepA+c.StepB == 3 { // the two with each other; the rest is known already
					c.StepA, c.StepB = 0, 0 // numbers of a pair say nothing about the recipes
					c.Do = "one is on the front, the other on the back: " + c.Do
					clashes = append(clashes, c)
				}
			}
		}
	}
	return clashes
}

// refuse returns the Problem of the worst clash, or nil if none is a stop.
func refuse(clashes []matter.Clash) *studio.Problem {
	for _, c := range clashes {
		if c.Level != matter.Stop {
			continue
		}
		text := "This must not be done: " + c.A
		if c.B != "" {
			text += " would meet " + c.B
		}
		text += ". What comes of it: " + period(c.What) + " Rule: " + period(c.Do)
		if c.Instead != "" {
			text += " Safer: " + period(c.Instead)
		}
		return studio.Problemf(studio.Unsafe, "", "%s", text)
	}
	return nil
}

// period returns text ended like a sentence.
func period(text string) string {
	text = strings.TrimSpace(text)
	if strings.HasSuffix(text, ".") || strings.HasSuffix(text, "!") {
		return text
	}
	return text + "."
}
