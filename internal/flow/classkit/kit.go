package classkit

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"aerugo/internal/flow/cost"
	"aerugo/internal/flow/plan"
	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// A Line is one line of the kit. Per heads share Count, or the whole class does where Per
// is 0; Need is Count for all heads with the spare, rounded up to whole things or to what
// can be measured out. Supply and Material name what it is taken from, where it is one.
type Line struct {
	Group    string
	What     string
	Count    float64
	Unit     string // "" for pieces, "g", "mL"
	Per      int
	Spare    float64
	Need     float64
	How      string
	Supply   int64
	Material string
	Metal    int64 // of a blank
	Own      bool  // the teacher's
	Changed  bool  // the teacher's number
	Left     bool  // struck out
	Standing string
}

// Text is the line as it is ticked: "29 × copper swatch", "150 mL ammonia water".
func (l Line) Text() string {
	if l.Need == 0 {
		return fmt.Sprintf("%s (how much: no recipe says)", l.What)
	}
	if l.Unit == "" {
		return fmt.Sprintf("%s × %s", number(l.Need), l.What)
	}
	return fmt.Sprintf("%s %s %s", number(l.Need), l.Unit, l.What)
}

// number writes a count without digits that say nothing.
func number(v float64) string { return strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64) }

// The groups of a kit, in the order shown.
const (
	groupMetal  = "Metal"
	groupMatter = "Liquids and salts"
	groupWear   = "To wear"
	groupTools  = "Tools"
	groupSafety = "In case, and for the waste"
	groupPaper  = "Paper, labels and to show"
	groupOwn    = "Added by the teacher"
)

// Groups lists the groups of a kit in the order shown.
var Groups = []string{groupMetal, groupMatter, groupWear, groupTools, groupSafety, groupPaper, groupOwn}

// round is need rounded up: whole things; g and mL to what a kitchen scale or a measuring
// cylinder shows at that size.
func round(v float64, unit string) float64 {
	step := 1.0
	if unit != "" {
		switch {
		case v > 1000:
			step = 50
		case v > 100:
			step = 10
		case v > 10:
			step = 5
		}
	}
	// sums of fractions are off by less than this
	return max(0, math.Ceil(v/step-1e-9)*step) // and no minus nought
}

// reckon fills in Need and How.
func (l *Line) reckon(heads int) {
	times := 1.0
	if l.Per > 0 {
		times = math.Ceil(float64(heads) / float64(l.Per))
	}
	exact := l.Count * times * l.Spare
	l.Need = round(exact, l.Unit)
	unit := ""
	if l.Unit != "" {
		unit = " " + l.Unit
	}
	switch {
	case l.Per == 0:
		l.How = fmt.Sprintf("%s%s for the class, times %s, is %s", number(l.Count), unit, number(l.Spare), number(exact))
	case l.Per == 1:
		l.How = fmt.Sprintf("%s%s for each of %d, times %s to spare, is %s", number(l.Count), unit, heads, number(l.Spare), number(exact))
	default:
		l.How = fmt.Sprintf("%s%s for every %d of %d, times %s to spare, is %s", number(l.Count), unit, l.Per, heads, number(l.Spare), number(exact))
	}
}

// A standard is a line that a class needs when it does something; handful is what each
// student handles of a material: more than goes on, since a bowl must hold something.
type standard struct {
	group, what string
	count       float64
	unit        string
	per         int
	spare       float64
	when        func(Ask) bool
}

func always(Ask) bool { return true }

func doing(kinds ...studio.StepKind) func(Ask) bool {
	return func(a Ask) bool {
		return slices.ContainsFunc(kinds, a.does)
	}
}

// standards are the lines that come with what is done. Common practice, no source.
var standards = []standard{
	{groupWear, "pair of nitrile gloves, in small, medium and large", 2, "", 1, 1.2, always},
	{groupWear, "splash goggles", 1, "", 1, 1.1, always},
	{groupWear, "apron", 1, "", 1, 1, always},
	{groupTools, "abrasive pad", 1, "", 1, 1.1, doing(studio.Abrade)},
	{groupTools, "quarter sheet of 400 grit paper", 1, "", 1, 1.1, doing(studio.Abrade)},
	{groupTools, "tongs of plastic or copper", 1, "", 2, 1, always},
	{groupTools, "soft brush", 1, "", 1, 1.1, doing(studio.Wet, studio.Sprinkle, studio.BrushOut)},
	{groupTools, "sponge", 1, "", 1, 1.1, doing(studio.Wet, studio.Rinse, studio.Degrease)},
	{groupTools, "fume tub with lid, rack and dish", 1, "", perTub, 1, doing(studio.Fume)},
	{groupTools, "rinse bowl, marked 1 or 2", 2, "", perTub, 1, doing(studio.Rinse, studio.Wet, studio.Pickle, studio.Neutralise)},
	{groupTools, "lidded tub for burying", 1, "", perTub, 1, doing(studio.Bury)},
	{groupTools, "torch or heat gun, with a fire brick and a fire extinguisher; the teacher's", 1, "", 0, 1, doing(studio.Heat)},
	{groupTools, "lint-free cloth", 1, "", 1, 1.1, doing(studio.Seal, studio.Degrease, studio.Dry)},
	{groupSafety, "waste jar, marked copper waste", 1, "", 0, 1, always},
	{groupSafety, "eyewash beside running water, ten seconds away at most", 1, "", 0, 1, always},
	{groupSafety, "spill pad with baking soda and citric acid, kept apart", 1, "", 0, 1, always},
	{groupSafety, "first-aid kit with dressings for burns", 1, "", 0, 1, always},
	{groupSafety, "box of ammonia detector tubes, 5 to 70 ppm, or a detector", 1, "", 0, 1, Ask.ammonia},
	{groupPaper, "folder with the data sheets and the risk assessment", 1, "", 0, 1, always},
	{groupPaper, "set of label, number stamps, card and pencil", 1, "", 1, 1.1, always},
	{groupPaper, "grey card and light tent", 1, "", 0, 1, always},
}

// handled is what of a material is brought for a class, whatever the recipes put on.
// Common practice, no source.
var handled = map[string]standard{
	"vinegar":           {count: 50, unit: "mL", per: 1, spare: 1.2},
	"sodium-chloride":   {count: 5, unit: "g", per: 1, spare: 1.2},
	"ammonium-chloride": {count: 2, unit: "g", per: 1, spare: 1.2},
	"liver-of-sulfur":   {count: 2, unit: "g", per: perTub, spare: 1.2},
	"wax":               {count: 5, unit: "g", per: 1, spare: 1.1},
	"wax-paste":         {count: 5, unit: "g", per: 1, spare: 1.1},
}

// atLeast is what a bowl or a dish of any other liquid must hold to be used at all.
// Common practice, no source.
var atLeast = standard{count: 20, unit: "mL", per: perTub, spare: 1.2}

// isSolution reports whether a bottle holds something weaker than the pure thing.
func (a Ask) isSolution(supply int64) bool {
	for _, s := range a.Supplies {
		if s.ID == supply && s.ID != 0 {
			w := s.WtPercent()
			return w > 0 && w < 100
		}
	}
	return false
}

// The spares of metal and of what goes on it, and the make-ahead swatches where nobody
// has reckoned them: from 24 to 40 are usual. Common practice, no source.
const (
	metalSpare  = 1.2
	matterSpare = 1.2
	usualAhead  = 24
)

// KitOf draws up the kit of a class: what its recipes need, in the order of [Groups],
// with what the teacher changed, struck out and added. What must never meet is refused
// with a Problem, as is a class that can't be.
func KitOf(a Ask) ([]Line, error) {
	if err := a.check(); err != nil {
		return nil, err
	}
	if p := Stop(a); p != nil {
		return nil, p
	}
	taught := len(a.Lessons) // what is only shown is shown on swatches made ahead
	a = a.here()
	lines := a.metal()
	lines = append(lines, a.matter()...)
	for _, s := range standards {
		if s.when(a) {
			lines = append(lines, Line{Group: s.group, What: s.what, Count: s.count, Unit: s.unit, Per: s.per, Spare: s.spare, Standing: practice})
		}
	}
	ahead := a.Ahead
	if ahead == 0 {
		ahead = usualAhead
	}
	if taught > 0 {
		lines = append(lines, Line{Group: groupPaper, What: "swatch made ahead, to show", Count: float64(ahead), Spare: 1, Standing: practice})
	}
	for i := range lines {
		l := &lines[i]
		if at := slices.IndexFunc(a.Class.Kit, func(k studio.KitLine) bool { return !k.Own && k.What == l.What }); at >= 0 {
			k := a.Class.Kit[at]
			l.Changed = k.Count != l.Count || k.Per != l.Per || k.Spare != l.Spare
			l.Count, l.Per, l.Spare, l.Left = k.Count, k.Per, k.Spare, k.Left
		}
	}
	for _, k := range a.Class.Kit {
		if k.Own {
			lines = append(lines, Line{Group: groupOwn, What: k.What, Count: k.Count, Unit: k.Unit, Per: k.Per, Spare: k.Spare, Own: true, Left: k.Left, Standing: "written by the teacher"})
		}
	}
	for i := range lines {
		lines[i].reckon(a.Class.Heads)
	}
	return lines, nil
}

// metal lists the blanks by metal: so many a head, and those the teacher shows.
func (a Ask) metal() []Line {
	var out []Line
	for _, l := range a.Lessons {
		if a.notHere(l) != "" {
			continue
		}
		what := fmt.Sprintf("%s swatch, %s × %s mm", plain(l.Metal), number(a.WidthMM), number(a.HeightMM))
		if l.Metal.ThicknessMM > 0 {
			what = fmt.Sprintf("%s swatch, %s × %s mm, %s mm thick", plain(l.Metal), number(a.WidthMM), number(a.HeightMM), number(l.Metal.ThicknessMM))
		}
		add := func(what string, count float64, per int, spare float64) {
			if count == 0 {
				return
			}
			i := slices.IndexFunc(out, func(x Line) bool { return x.What == what && x.Per == per })
			if i < 0 {
				out = append(out, Line{Group: groupMetal, What: what, Metal: l.Metal.ID, Per: per, Spare: spare, Standing: "counted from the recipes; the spare is " + practice})
				i = len(out) - 1
			}
			out[i].Count += count
		}
		add(what, float64(l.PerHead), 1, metalSpare)
		add(what+", for the teacher", float64(l.Shown), 0, 1)
	}
	return out
}

// plain names a metal as it is asked for.
func plain(m studio.Metal) string {
	words := plan.MetalWords(m)
	if words == "" {
		return "metal"
	}
	return words
}

// matter lists liquids and salts: what the recipes put on with a fifth to spare, and no
// less than what is handled.
func (a Ask) matter() []Line {
	var out []Line
	needs := a.Needs()
	for _, n := range needs {
		key := n.Material
		if s, ok := matter.Lookup(key); ok {
			key = s.Key
		}
		if key == "water" || isThing(key) {
			continue
		}
		unit := "g"
		if n.GPerML != 1 || isLiquid(key) || a.isSolution(n.Supply) {
			unit = "mL"
		}
		v := n.G
		if unit == "mL" && n.GPerML > 0 {
			v = n.G / n.GPerML
		}
		l := Line{Group: groupMatter, What: n.Name, Count: v, Unit: unit, Spare: matterSpare, Supply: n.Supply, Material: key, Standing: "added up from the recipes; the spare is " + practice}
		h, ok := handled[key]
		if ok && h.unit == "g" && a.isSolution(n.Supply) {
			ok = false // the bottle holds it dissolved already
		}
		if !ok && unit == "mL" && v > 0 {
			h, ok = atLeast, true
		}
		if ok {
			times := 1.0
			if h.per > 0 {
				times = math.Ceil(float64(a.Class.Heads) / float64(h.per))
			}
			if h.count*times*h.spare > v*matterSpare {
				l.Count, l.Unit, l.Per, l.Spare, l.Standing = h.count, h.unit, h.per, h.spare, practice
			}
		}
		if l.Count == 0 {
			l.Standing = noAmount
		}
		out = append(out, l)
	}
	// what a recipe uses without saying how much
	for _, l := range a.Lessons {
		if a.notHere(l) != "" {
			continue
		}
		for _, u := range (Ask{Lessons: []Lesson{{Name: l.Name, Version: l.Version}}, Supplies: a.Supplies}).things() {
			if u.key == "water" || isThing(u.key) || slices.ContainsFunc(out, func(x Line) bool { return x.Material == u.key }) {
				continue
			}
			x := Line{Group: groupMatter, What: u.name(), Unit: "g", Spare: 1, Supply: u.supply.ID, Material: u.key, Standing: noAmount}
			if u.supply.Name != "" {
				x.What = u.supply.Name
			}
			if h, ok := handled[u.key]; ok && !(h.unit == "g" && a.isSolution(u.supply.ID)) {
				x.Count, x.Unit, x.Per, x.Spare, x.Standing = h.count, h.unit, h.per, h.spare, practice
			}
			out = append(out, x)
		}
	}
	return out
}

// noAmount stands at what no recipe gives an amount of.
const noAmount = "no recipe says how much, so nothing is counted; write it"

// isLiquid reports whether a material is poured, where no density says so.
func isLiquid(key string) bool {
	return slices.Contains([]string{"acetone", "ethanol", "isopropanol", "turpentine", "mineral-spirits", "lacquer", "drying-oil", "detergent", "glycerine", "distilled-water"}, key)
}

// Needs adds up what the swatches of the class take, without the spare: what steps put on,
// and 60 mL in each fume tub. What is not done in this class takes nothing.
func (a Ask) Needs() []cost.Need {
	var all []cost.Need
	shelf := a.shelf()
	filled := map[string]bool{}
	for _, l := range a.Lessons {
		n := a.made(l)
		if a.notHere(l) != "" || n == 0 {
			continue
		}
		var ts []studio.Treatment
		swatches := map[int64]studio.Swatch{}
		for i := range n {
			number := int64(i + 1)
			swatches[number] = studio.Swatch{Number: number, WidthMM: a.WidthMM, HeightMM: a.HeightMM}
			for layer, v := range l.layers() {
				if layer < len(l.Below) {
					continue // lies there already when the class begins
				}
				t := studio.Treatment{Swatch: number, Faces: studio.OnFront, Layer: layer}
				for _, s := range v.Steps {
					if s.Kind != studio.Fume {
						t.Steps = append(t.Steps, s)
					}
				}
				ts = append(ts, t)
			}
		}
		all = append(all, shelf.Needs(ts, swatches)...)
		for _, s := range l.Version.Steps {
			if s.Kind != studio.Fume {
				continue
			}
			if s.Material == "" && s.SupplyID == 0 {
				s.Material = "ammonia-water"
			}
			// the same liquid fumes all recipes that ask for it: the tubs are filled once
			what := fmt.Sprintf("%d %s %v", s.SupplyID, s.Material, s.Strength)
			if filled[what] {
				continue
			}
			filled[what] = true
			amount := studio.Amount{Value: padML * float64(a.tubs()), Unit: studio.Millilitre}
			pad := studio.Step{Kind: studio.Wet, SupplyID: s.SupplyID, Material: s.Material, Strength: s.Strength, Also: s.Also, Amount: amount}
			one := map[int64]studio.Swatch{1: {Number: 1, WidthMM: a.WidthMM, HeightMM: a.HeightMM}}
			all = append(all, shelf.Needs([]studio.Treatment{{Swatch: 1, Faces: studio.OnFront, Steps: []studio.Step{pad}}}, one)...)
		}
	}
	return cost.Together(all)
}

// In returns the line's amount in grams where it is taken from a supply.
func (l Line) In(gPerML float64) float64 {
	if l.Unit == "mL" && gPerML > 0 {
		return l.Need * gPerML
	}
	return l.Need
}

// Breakage is what the spare of a line is for, in its own words.
func (l Line) Breakage() string {
	if l.Spare <= 1 {
		return ""
	}
	return fmt.Sprintf("%s %% more than is used, for what breaks, spills or fails", number((l.Spare-1)*100))
}

// Change returns the kit lines to keep when the teacher writes count, per and spare for a
// line, or strikes it out: what is as reckoned needs no line.
func Change(kit []studio.KitLine, l Line) []studio.KitLine {
	kept := slices.DeleteFunc(slices.Clone(kit), func(k studio.KitLine) bool { return k.What == l.What && k.Own == l.Own })
	return append(kept, studio.KitLine{What: strings.TrimSpace(l.What), Count: l.Count, Unit: l.Unit, Per: l.Per, Spare: l.Spare, Own: l.Own, Left: l.Left})
}
