package cost

import (
	"fmt"
	"slices"
	"sort"
	"strings"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/science/matter"
	"aerugo/internal/science/solution"
	"aerugo/internal/studio"
)

// A Shelf is what steps can take from.
type Shelf struct {
	Supplies []studio.Supply
	Chambers []studio.Chamber
}

// A Need is how much of one supply a plan takes. Supply is 0 where the shelf has
// none of that material. GPerML is its density; Doubts say what was assumed. Asked is
// the strength that a step asks for, in percent by mass, where the bottle is weaker.
type Need struct {
	Supply   int64
	Material string
	Name     string
	G        float64
	Asked    float64
	GPerML   float64
	From     From
	Doubts   []string
}

// In returns the amount in g or mL.
func (n Need) In(u studio.Unit) float64 { return inUnit(n.G, n.GPerML, u) }

func inUnit(g, gPerML float64, u studio.Unit) float64 {
	if u == studio.Millilitre && gPerML > 0 {
		return g / gPerML
	}
	return g
}

func inGrams(v, gPerML float64, u studio.Unit) float64 {
	if u == studio.Millilitre && gPerML > 0 {
		return v * gPerML
	}
	return v
}

// DensityOf returns the g in a mL of a supply at 20 °C from matter's tables, water's
// from [solution.WaterDensity], and 1 with known false where neither has it.
func DensityOf(s studio.Supply) (gPerML float64, known bool) {
	if s.Material == "water" || s.Material == "distilled-water" {
		if kg, err := solution.WaterDensity(20); err == nil {
			return float64(kg) / 1000, true
		}
	}
	if kg, ok := matter.DensityAt20(s.Material, s.WtPercent()/100); ok {
		return kg / 1000, true
	}
	return 1, false
}

func (s Shelf) chamber(id int64) (studio.Chamber, bool) {
	for _, c := range s.Chambers {
		if c.ID == id {
			return c, true
		}
	}
	return studio.Chamber{}, false
}

// find returns the bottle a step means: the one it names, else the first that
// holds the material.
func (s Shelf) find(id int64, material string) (studio.Supply, bool) {
	for _, x := range s.Supplies {
		if id != 0 && x.ID == id {
			return x, true
		}
	}
	for _, x := range s.Supplies {
		if material != "" && x.Material == material {
			return x, true
		}
	}
	return studio.Supply{}, false
}

// take is what one step takes of one material from the shelf: grams of the
// bottle for an amount of what goes on, which may be weaker.
func (s Shelf) take(id int64, material string, strength float64, amount float64, unit studio.Unit) (Need, bool) {
	sup, found := s.find(id, material)
	if material == "" {
		material = sup.Material
	}
	if amount <= 0 || material == "" || (material == "water" && !found) {
		return Need{}, false
	}
	n := Need{Supply: sup.ID, Material: material, Name: sup.Name, From: Reckoned, GPerML: 1}
	if !found {
		n.Name = material
		if sub, ok := matter.Lookup(material); ok {
			n.Name = sub.Name
		}
		sup = studio.Supply{Material: material}
	}
	density, known := DensityOf(sup)
	n.GPerML = density
	have := sup.WtPercent()
	liquid := unit == studio.Millilitre || unit == studio.MLPerM2
	n.G = amount
	if found && have > 0 && strength > have+1e-9 {
		n.Asked = strength
	}
	switch {
	case strength > 0 && have > 0 && strength < have:
		if liquid {
			made, ok := matter.DensityAt20(material, strength/100)
			if !ok {
				made = 1000
				n.doubt("1 mL of the diluted liquid is taken as 1 g")
			}
			n.G *= made / 1000
		}
		n.G *= strength / have
	case liquid:
		if have == 100 && strength == 0 && sup.StrengthUnit == studio.Pure && !known {
			n.doubt("how strong the liquid is stands nowhere, so all of it counts as " + n.Name)
		} else if !known {
			n.doubt("1 mL is taken as 1 g")
		}
		n.G *= density
	}
	return n, true
}

func (n *Need) doubt(text string) {
	if !slices.Contains(n.Doubts, text) {
		n.Doubts = append(n.Doubts, text)
	}
}

// stepTakes lists what one step takes for faces of so many m².
func (s Shelf) stepTakes(step studio.Step, amount studio.Amount, areaM2 float64) []Need {
	v := amount.Value
	if amount.Unit.PerArea() {
		v *= areaM2
	}
	var out []Need
	add := func(id int64, material string, strength, v float64) {
		n, ok := s.take(id, material, strength, v, amount.Unit)
		if !ok {
			return
		}
		if amount.Assumed {
			n.From = Assumed
			why := "the amount is assumed"
			if amount.Hand != "" {
				why = "'" + amount.Hand + "' has not been weighed in this hand"
			}
			n.doubt(why)
		}
		out = append(out, n)
	}
	add(step.SupplyID, step.Material, step.Strength, v)
	for _, p := range step.Also {
		if p.Strength > 0 {
			add(0, p.Material, p.Strength, v)
		} else if n, ok := s.take(0, p.Material, 0, v, amount.Unit); ok {
			n.G, n.From = 0, Assumed
			n.doubt("how much of it is in the mixed liquid stands nowhere")
			out = append(out, n)
		}
	}
	return out
}

// onFaces returns the area a step touches.
func onFaces(w studio.Swatch, t studio.Treatment, step studio.Step) float64 {
	faces := t.Faces
	if step.Faces != "" && t.Faces == studio.OnBoth {
		faces = step.Faces
	}
	return w.FacesM2(faces)
}

// A Filling is one charge of a chamber's pad and how long it then works.
type Filling struct {
	Chamber int64
	Step    studio.Step
	Places  int // treatments in it
	Span    time.Duration
	Assumed bool // that these go in together was never planned
}

// Fillings groups what is fumed into fillings of chambers: treatments of one
// block share one, others as many as the chamber has places for.
func (s Shelf) Fillings(treatments []studio.Treatment) []Filling {
	type key struct {
		chamber int64
		block   int
		layer   int
		nth     int // fume steps of one treatment follow each other
	}
	groups := map[key][]studio.Step{}
	var order []key
	for _, t := range treatments {
		nth := 0
		for _, step := range t.Steps {
			if step.Kind != studio.Fume {
				continue
			}
			k := key{step.ChamberID, t.Block, t.Layer, nth}
			nth++
			if groups[k] == nil {
				order = append(order, k)
			}
			groups[k] = append(groups[k], step)
		}
	}
	var out []Filling
	for _, k := range order {
		steps := groups[k]
		// long ones together: a chamber works as long as the longest in it
		sort.SliceStable(steps, func(i, j int) bool { return steps[i].Duration > steps[j].Duration })
		places := len(steps)
		if c, ok := s.chamber(k.chamber); ok && k.block == 0 && c.Places > 0 {
			places = c.Places
		}
		for at := 0; at < len(steps); at += places {
			part := steps[at:min(at+places, len(steps))]
			out = append(out, Filling{Chamber: k.chamber, Step: part[0], Places: len(part), Span: part[0].Duration, Assumed: k.block == 0})
		}
	}
	return out
}

// Needs adds up what treatments take from the shelf, the pads of the chambers
// included, in the order of first use. Swatches are by number; a treatment whose
// swatch is missing is passed over.
func (s Shelf) Needs(treatments []studio.Treatment, swatches map[int64]studio.Swatch) []Need {
	var all []Need
	for _, t := range treatments {
		w, ok := swatches[t.Swatch]
		if !ok {
			continue
		}
		for _, step := range t.Steps {
			if step.Kind == studio.Fume && step.Amount.IsZero() {
				continue // the pad, below
			}
			all = append(all, s.stepTakes(step, step.Amount, onFaces(w, t, step))...)
		}
	}
	for _, f := range s.Fillings(treatments) {
		if !f.Step.Amount.IsZero() {
			continue
		}
		c, _ := s.chamber(f.Chamber)
		if c.PadML == 0 {
			if n, ok := s.take(f.Step.SupplyID, f.Step.Material, f.Step.Strength, 1, studio.Millilitre); ok {
				n.G, n.From, n.Doubts = 0, Assumed, []string{"how much goes on the chamber's pad stands nowhere, so nothing is counted: write it with the chamber"}
				all = append(all, n)
			}
			continue
		}
		if n, ok := s.take(f.Step.SupplyID, f.Step.Material, f.Step.Strength, c.PadML, studio.Millilitre); ok {
			if f.Assumed {
				n.doubt(fmt.Sprintf("one filling of the pad for %d places", c.Places))
			}
			all = append(all, n)
		}
	}
	return Together(all)
}

// Together adds up needs of the same supply, in the order of first use.
func Together(all []Need) []Need {
	var out []Need
	for _, n := range all {
		i := slices.IndexFunc(out, func(o Need) bool { return o.Supply == n.Supply && o.Material == n.Material })
		if i < 0 {
			n.Doubts = slices.Clone(n.Doubts)
			out = append(out, n)
			continue
		}
		out[i].G += n.G
		out[i].Asked = max(out[i].Asked, n.Asked)
		out[i].From = worse(out[i].From, n.From)
		for _, d := range n.Doubts {
			out[i].doubt(d)
		}
	}
	return out
}

// A Use is what the bench took of a supply at a time, in grams.
type Use struct {
	Supply int64
	At     time.Time
	G      float64
	What   string
}

// BenchUses reads from the records what was really taken: each step that was
// confirmed, with the amount noted or else planned, and each charge of a pad in
// the chambers' logs that was not taken back. Oldest first.
func (s Shelf) BenchUses(entries []run.Entry, logs []studio.ChamberLog) []Use {
	var out []Use
	for _, e := range entries {
		for i, step := range e.Treatment.Steps {
			if i >= len(e.Record.Steps) || e.Record.Steps[i].State != run.Done {
				continue
			}
			if step.Kind == studio.Fume && step.Amount.IsZero() {
				continue // the chamber's log says when its pad was charged
			}
			r := e.Record.Steps[i]
			at := r.Ended
			if at.IsZero() {
				at = e.Record.Began
			}
			for _, n := range s.stepTakes(step, r.Amount, onFaces(e.Swatch, e.Treatment, step)) {
				if n.Supply != 0 && n.G > 0 {
					out = append(out, Use{n.Supply, at, n.G, fmt.Sprintf("swatch %d, %s", e.Swatch.Number, step.Kind)})
				}
			}
		}
	}
	gone := map[int64]bool{}
	for _, l := range logs {
		if l.Kind == studio.TakenBack {
			gone[l.Corrects] = true
		}
	}
	for _, l := range logs {
		if l.Kind == studio.PadCharged && l.SupplyID != 0 && l.SolutionG > 0 && !gone[l.ID] {
			g := l.SolutionG
			if sup, ok := s.find(l.SupplyID, ""); ok && l.Strength > 0 && sup.WtPercent() > l.Strength {
				g *= l.Strength / sup.WtPercent()
			}
			out = append(out, Use{l.SupplyID, l.At, g, "pad of a chamber"})
		}
	}
	sort.SliceStable(out, func(i, j int) bool {
		if !out[i].At.Equal(out[j].At) {
			return out[i].At.Before(out[j].At)
		}
		if out[i].Supply != out[j].Supply {
			return out[i].Supply < out[j].Supply
		}
		return strings.Compare(out[i].What, out[j].What) < 0
	})
	return out
}
