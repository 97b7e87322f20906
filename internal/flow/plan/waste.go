package plan

import (
	"fmt"
	"slices"

	"aerugo/internal/science/film"
	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// CopperLimitMgPerL is the copper in waste water that a metal finisher in the US
// may let go as a monthly mean, in mg/L (40 CFR 433.15). A studio's own limit is
// what its water company says.
const CopperLimitMgPerL = 2.07

// Copper bounds are reckoned with these where nobody knows better.
const (
	filmPerSalt   = 10.0 // g of water that a g of salt draws up over 5 % ammonia: computed, NaCl at 94 % humidity
	dampFilm      = 20.0 // g/m² of water on a face that nothing wetted, in damp air: common practice, no source
	mostOnFace    = 1e6  // g/m² or mL/m², so that a face of next to no area can't make it infinite
	unknownSplash = 50.0 // mL/m² of a liquid whose amount nobody wrote: common practice, no source
)

const (
	molarCopper  = 63.546 // g/mol, IUPAC conventional atomic weight
	molarAcetic  = 60.05
	litreOfWater = 1000.0 // g
)

// A Waste is the copper that rinsing may bring off, at most, and where it goes.
//
// CopperG errs upwards: every chloride, acid and ammonia in the film is taken to
// have dissolved all the copper it can hold. DiluteL is the water it would take
// to thin that to [CopperLimitMgPerL], which is why thinning is no answer.
// Missing names what no amount was written for.
type Waste struct {
	CopperG float64
	DiluteL float64
	Jars    []string
	Missing []string
	Assumed []string
}

// copperIn is the grams of copper in a gram of the dry salt.
var copperIn = map[string]float64{
	"copper-sulfate": molarCopper / 159.602, "copper-chloride": molarCopper / 134.446, "copper-nitrate": molarCopper / 187.554,
	"copper-acetate": molarCopper / 181.634, "copper-carbonate": 2 * molarCopper / 221.11,
}

// chlorideAsSalt is the grams of table salt with as much chloride as one gram.
var chlorideAsSalt = map[string]float64{
	"sodium-chloride": 1, "ammonium-chloride": 58.44 / 53.49, "calcium-chloride": 2 * 58.44 / 110.98, "copper-chloride": 2 * 58.44 / 134.446, "ferric-chloride": 3 * 58.44 / 162.195,
}

// WasteOf bounds the copper in the rinse of treatments of swatches, each face of
// so many m². Face areas are by swatch number.
func WasteOf(treatments []studio.Treatment, faceM2 map[int64]float64, sup []studio.Supply) (Waste, error) {
	var w Waste
	for _, t := range treatments {
		n := 1.0
		if t.Faces == studio.OnBoth {
			n = 2
		}
		g, err := w.face(t.Steps, faceM2[t.Swatch], sup)
		if err != nil {
			return Waste{}, err
		}
		w.CopperG += n * g
	}
	w.DiluteL = 1000 * w.CopperG / CopperLimitMgPerL
	return w, nil
}

// face bounds the copper of one face.
func (w *Waste) face(steps []studio.Step, area float64, sup []studio.Supply) (float64, error) {
	var salt, water, ammonia, own float64 // g/m²
	fumed := 0.0                          // strength of the strongest ammonia fumed with, a fraction
	jar := func(text string) {
		if !slices.Contains(w.Jars, text) {
			w.Jars = append(w.Jars, text)
		}
	}
	assume := func(list *[]string, format string, args ...any) {
		if text := fmt.Sprintf(format, args...); !slices.Contains(*list, text) {
			*list = append(*list, text)
		}
	}
	var each []studio.Step // of a mixed liquid, each part as if the water were its own
	for _, s := range steps {
		each = append(each, parts(s)...)
	}
	for _, s := range each {
		u, ok := useOf(s, sup)
		if !ok {
			continue
		}
		sub, known := matter.Lookup(u.Key)
		if !known {
			assume(&w.Missing, "%s: what it is, is not known here", u.Key)
			continue
		}
		band, err := matter.At(sub.Key, u.WtPercent)
		if err != nil {
			band = sub.Bands[len(sub.Bands)-1]
		}
		is := func(g matter.Group) bool { return slices.Contains(band.Groups, g) }
		strength := u.WtPercent / 100
		if strength == 0 {
			strength = sub.AssumedWtPercent / 100
		}
		switch {
		case is("AMM"):
			jar("copper and ammonia")
		case is("SUL"):
			jar("sulfide")
		case is("ACD"), is("CUS"), is("FES"), chlorideAsSalt[sub.Key] > 0:
			jar("copper and acid, no ammonia")
		case is("SOL"), is("KET"):
			jar("solvent")
		}
		if s.Kind == studio.Fume {
			if is("AMM") {
				if strength == 0 {
					strength = 0.28
					assume(&w.Assumed, "ammonia of unknown strength taken as 28 %%")
				}
				fumed = max(fumed, strength)
			}
			continue
		}
		amount := s.Amount.Value
		switch {
		case s.Amount.IsZero() && s.Kind == studio.Wet:
			amount = unknownSplash
			assume(&w.Assumed, "%s: no amount is written, %g mL/m² taken", sub.Name, unknownSplash)
		case s.Amount.IsZero():
			if is("ACD") || is("CUS") || is("AMM") || chlorideAsSalt[sub.Key] > 0 {
				assume(&w.Missing, "%s (%s): no amount is written", sub.Name, s.Kind)
			}
			continue
		case !s.Amount.Unit.PerArea() && area > 0:
			amount = min(amount/area, mostOnFace)
		}
		wet := s.Amount.Unit == studio.MLPerM2 || s.Amount.Unit == studio.Millilitre || s.Kind == studio.Wet
		dissolved := amount // of a dry salt
		if wet {
			if strength == 0 && sub.Key != "water" && sub.Key != "distilled-water" {
				strength = 1
				assume(&w.Assumed, "%s of unknown strength taken as undiluted", sub.Name)
			}
			density := litreOfWater
			if d, ok := matter.DensityAt20(sub.Key, strength); ok {
				density = d
			}
			dissolved = amount * density / 1000 * min(1, strength)
			water += amount*density/1000 - dissolved
		}
		switch {
		case is("AMM"):
			ammonia += dissolved
		case is("ACT"):
			own += dissolved / molarAcetic / 2 * molarCopper // two acetates to one copper
		case is("ACD"):
			own += dissolved / 49.04 * molarCopper / 2 // as sulfuric acid, one copper to two protons
		}
		own += dissolved * copperIn[sub.Key]
		salt += dissolved * chlorideAsSalt[sub.Key]
	}
	if fumed > 0 {
		if salt > 0 {
			water += filmPerSalt * salt
			assume(&w.Assumed, "a gram of salt draws up %g g of water in the chamber", filmPerSalt)
		}
		if water < dampFilm {
			water = dampFilm
			assume(&w.Assumed, "a damp film of at least %g g/m² in the chamber", dampFilm)
		}
		fumed = min(fumed, 0.36)
		ammonia += water * fumed / (1 - fumed) // no stronger than what it fumes over
	}
	// The bound is linear in both, so that no loading is outside its range.
	perSalt, err := film.CopperBoundG("sodium-chloride", 1, 0, 1)
	if err != nil {
		return 0, fmt.Errorf("bound copper of salt: %w", err)
	}
	perAmmonia, err := film.CopperBoundG("sodium-chloride", 0, 1, 1)
	if err != nil {
		return 0, fmt.Errorf("bound copper of ammonia: %w", err)
	}
	return (salt*perSalt + ammonia*perAmmonia + own) * area, nil
}
