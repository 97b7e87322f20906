package plan

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/studio"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within*want) {
		t.Errorf("%s: got %v, want %v within %v", what, got, want, within)
	}
}

// One gram of copper sulfate crystals holds 0.2545 g of copper (stoichiometry) and
// takes 123 L of water to fall to 2.07 mg/L (40 CFR 433.15, monthly mean).
func TestAGramOfCopperSulfateTakes123Litres(t *testing.T) {
	// 0.6393 g of the salt itself in a gram of crystals (159.61/249.68), on 25 cm2
	step := studio.Step{Kind: studio.Sprinkle, Material: "copper-sulfate", Amount: studio.Amount{Value: 0.6393, Unit: studio.Gram}}
	w, err := WasteOf([]studio.Treatment{{Swatch: 1, Faces: studio.OnFront, Steps: []studio.Step{step}}}, map[int64]float64{1: 25e-4}, nil)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "copper", w.CopperG, 0.2545, 0.001)
	near(t, "water", w.DiluteL, 123, 0.005)
	if !slices.Equal(w.Jars, []string{"copper and acid, no ammonia"}) {
		t.Errorf("jars are %q", w.Jars)
	}
}

// Table salt, 1 g/m2: its chloride as Cu2Cl(OH)3 holds 2 x 63.546/58.44 = 2.175 g/m2
// of copper; four ammonias hold one copper, so 17.03 g hold 15.89 g (stoichiometry).
func TestWasteIsBoundedByChlorideAndAmmonia(t *testing.T) {
	area := map[int64]float64{1: 1}
	salt := studio.Step{Kind: studio.Sprinkle, Material: "sodium-chloride", Amount: studio.Amount{Value: 1, Unit: studio.GramPerM2}}
	w, err := WasteOf([]studio.Treatment{{Swatch: 1, Faces: studio.OnFront, Steps: []studio.Step{salt}}}, area, nil)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "salt alone", w.CopperG, 2.175, 0.002)
	// 1000 mL/m2 of water fumed over 10 %: at most 111.1 g of ammonia in it
	wet := studio.Step{Kind: studio.Wet, Material: "water", Amount: studio.Amount{Value: 1000, Unit: studio.MLPerM2}}
	fume := studio.Step{Kind: studio.Fume, Material: "ammonia-water", Strength: 10, Duration: 3600e9}
	both := studio.Treatment{Swatch: 1, Faces: studio.OnBoth, Steps: []studio.Step{wet, fume}}
	if w, err = WasteOf([]studio.Treatment{both}, area, nil); err != nil {
		t.Fatal(err)
	}
	near(t, "two wetted faces over 10 %", w.CopperG, 2*111.1/17.031/4*63.546, 0.002)
	if !slices.Contains(w.Jars, "copper and ammonia") {
		t.Errorf("jars are %q", w.Jars)
	}
}

// What nobody wrote down is said, not left out.
func TestWasteSaysWhatItDoesNotKnow(t *testing.T) {
	steps := []studio.Step{{Kind: studio.Bury, Material: "sodium-chloride"}, {Kind: studio.Fume}, {Kind: studio.Wet, Material: "moon-dust"}}
	w, err := WasteOf([]studio.Treatment{{Swatch: 1, Faces: studio.OnFront, Steps: steps}}, map[int64]float64{1: 25e-4}, nil)
	if err != nil || len(w.Missing) != 2 || len(w.Assumed) != 2 || !(w.CopperG > 0) {
		t.Errorf("got %+v, %v", w, err)
	}
}

// More of anything never makes less copper, and nothing breaks it.
func TestWasteOnlyGrows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		materials := []string{"sodium-chloride", "ammonium-chloride", "copper-nitrate", "vinegar", "ammonia-water", "liver-of-sulfur", "water", "acetone", "ferric-chloride", ""}
		kinds := []studio.StepKind{studio.Wet, studio.Sprinkle, studio.Fume, studio.Rinse, studio.Pickle}
		var steps []studio.Step
		for range rapid.IntRange(1, 6).Draw(t, "steps") {
			steps = append(steps, studio.Step{Kind: rapid.SampledFrom(kinds).Draw(t, "kind"), Material: rapid.SampledFrom(materials).Draw(t, "material"), Strength: rapid.Float64Range(0, 100).Draw(t, "strength"),
				Amount: studio.Amount{Value: rapid.Float64Range(0, 500).Draw(t, "amount"), Unit: rapid.SampledFrom(studio.Units).Draw(t, "unit")}})
		}
		area := map[int64]float64{1: rapid.Float64Range(0, 1).Draw(t, "area")}
		last := -1.0
		for n := range steps {
			w, err := WasteOf([]studio.Treatment{{Swatch: 1, Faces: studio.OnFront, Steps: steps[:n+1]}}, area, nil)
			if err != nil {
				t.Fatal(err)
			}
			if !(w.CopperG >= 0) || math.IsInf(w.CopperG, 0) {
				t.Fatalf("copper is %v", w.CopperG)
			}
			if w.CopperG < last*(1-1e-9) {
				t.Fatalf("step %d made %v of %v", n, w.CopperG, last)
			}
			last = w.CopperG
		}
	})
}
