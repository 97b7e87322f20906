package plan

import (
	"strings"
	"testing"
	"time"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

func version(over int64, steps ...studio.Step) studio.Version {
	v := studio.Version{ID: over + 1, Steps: steps, OverID: over}
	if over != 0 {
		v.Over = studio.OverDry
	}
	return v
}

func step(k studio.StepKind, material string) studio.Step {
	s := studio.Step{Kind: k, Material: material}
	if k.Dwell() {
		s.Duration = time.Hour
	}
	return s
}

// The pairs are those of the never-meet table; X09: CRC Handbook of Chemistry
// and Physics, section 16-23 (inferred for a patina); X03 and X06: Lab Manager,
// 'Incompatible chemical mixtures'.
func TestSafetyStopsWhatMustNeverMeet(t *testing.T) {
	for _, tc := range []struct {
		name   string
		layers []studio.Version
		stop   string // part of the reason; empty: not stopped
	}{
		{"nitrate, then fume", []studio.Version{version(0, step(studio.Wet, "copper-nitrate"), step(studio.Fume, "ammonia-water"))}, "nitrate"},
		{"nitrate, then a fume that names nothing", []studio.Version{version(0, step(studio.Wet, "copper-nitrate"), step(studio.Fume, ""))}, "nitrate"},
		{"nitrate, rinsed, then fume", []studio.Version{version(0, step(studio.Wet, "copper-nitrate"), step(studio.Rinse, ""), step(studio.Fume, "ammonia-water"))}, ""},
		{"nitrate below, fume over it", []studio.Version{version(0, step(studio.Wet, "copper-nitrate"), step(studio.Dry, "")), version(1, step(studio.Fume, "ammonia-water"))}, "nitrate"},
		{"nitrate below, rinsed at its end", []studio.Version{version(0, step(studio.Wet, "copper-nitrate"), step(studio.Rinse, "")), version(1, step(studio.Fume, "ammonia-water"))}, ""},
		{"sulfide, then vinegar", []studio.Version{version(0, step(studio.Wet, "liver-of-sulfur"), step(studio.Wet, "vinegar"))}, "hydrogen sulfide"},
		{"vinegar fume over sulfide", []studio.Version{version(0, step(studio.Wet, "liver-of-sulfur"), step(studio.Fume, "vinegar"))}, "hydrogen sulfide"},
		{"acetone, then peroxide", []studio.Version{version(0, step(studio.Degrease, "acetone"), step(studio.Wet, "hydrogen-peroxide"))}, "peroxide"},
		{"salt and vinegar", []studio.Version{version(0, step(studio.Sprinkle, "sodium-chloride"), step(studio.Wet, "vinegar"))}, ""},
		{"salt and ammonia fume", []studio.Version{fuming()}, ""},
	} {
		t.Run(tc.name, func(t *testing.T) {
			clashes, p := Safety(tc.layers, shelf, copper)
			if tc.stop == "" {
				if p != nil {
					t.Fatalf("stopped: %s", p.Text)
				}
				return
			}
			if p == nil {
				t.Fatalf("not stopped; clashes %v", clashes)
			}
			if p.Kind != studio.Unsafe || !strings.Contains(p.Text, tc.stop) || !strings.Contains(p.Text, "Safer: ") {
				t.Errorf("kind %v: %s", p.Kind, p.Text)
			}
		})
	}
}

func TestRinsedNitrateStillCarriesACaution(t *testing.T) {
	clashes, p := Safety([]studio.Version{version(0, step(studio.Wet, "copper-nitrate"), step(studio.Rinse, ""), step(studio.Fume, "ammonia-water"))}, shelf, copper)
	if p != nil {
		t.Fatal(p)
	}
	for _, c := range clashes {
		if c.ID == "X09" && c.Level == matter.Care {
			return
		}
	}
	t.Errorf("nothing says to rinse well: %v", clashes)
}

func TestUnknownMaterialIsNeverSilent(t *testing.T) {
	for _, s := range []studio.Step{step(studio.Wet, "uncle's potion"), step(studio.Sprinkle, ""), step(studio.Seal, "")} {
		clashes, _ := Safety([]studio.Version{version(0, s)}, shelf, copper)
		found := false
		for _, c := range clashes {
			found = found || c.ID == "unknown"
		}
		if !found {
			t.Errorf("%s of %q passes in silence: %v", s.Kind, s.Material, clashes)
		}
	}
}

func TestStrengthOfTheBottleCounts(t *testing.T) {
	peroxide := studio.Supply{ID: 50, Name: "peroxide", Material: "hydrogen-peroxide", Strength: 3, StrengthUnit: studio.WtPercent}
	recipe := version(0, studio.Step{Kind: studio.Wet, SupplyID: 50}, step(studio.Wet, "vinegar"))
	recipe.Steps[1].Strength = 5
	if clashes, p := Safety([]studio.Version{recipe}, []studio.Supply{peroxide}, copper); p != nil || len(clashes) == 0 {
		t.Errorf("3 %% peroxide and vinegar are a caution: %v %v", clashes, p)
	}
	peroxide.Strength = 30
	if _, p := Safety([]studio.Version{recipe}, []studio.Supply{peroxide}, copper); p == nil {
		t.Error("30 % peroxide and vinegar are not stopped")
	}
}

// What is on one face meets what is done to the other, whichever comes first;
// a rinse of the second treatment is not trusted to reach the first face.
func TestFacesAreCheckedAgainstEachOther(t *testing.T) {
	on := func(f studio.Faces, steps ...studio.Step) studio.Treatment {
		return studio.Treatment{Faces: f, Layer: 1, Steps: steps}
	}
	nitrateWet, fume, rinse := step(studio.Wet, "copper-nitrate"), step(studio.Fume, "ammonia-water"), step(studio.Rinse, "")
	for _, tc := range []struct {
		name string
		ts   []studio.Treatment
		stop bool
	}{
		{"nitrate on the front, fume on the back", []studio.Treatment{on(studio.OnFront, nitrateWet), on(studio.OnBack, fume)}, true},
		{"the other way round", []studio.Treatment{on(studio.OnFront, fume), on(studio.OnBack, nitrateWet)}, true},
		{"each rinsed at its end", []studio.Treatment{on(studio.OnFront, nitrateWet, rinse), on(studio.OnBack, fume, rinse)}, false},
		{"rinsed only within the second", []studio.Treatment{on(studio.OnFront, nitrateWet), on(studio.OnBack, rinse, fume, rinse)}, true},
		{"alike on both", []studio.Treatment{on(studio.OnBoth, nitrateWet, rinse, fume)}, false},
		{"within one face, rinsed between", []studio.Treatment{on(studio.OnFront, nitrateWet, rinse, fume, rinse), on(studio.OnBack, step(studio.Wet, "water"))}, false},
	} {
		_, p := SafetyOf(tc.ts, shelf, copper)
		if (p != nil) != tc.stop {
			t.Errorf("%s: %v", tc.name, p)
		}
	}
}

func TestLayRefusesALevelThatCanHurt(t *testing.T) {
	wetted := fuming()
	wetted.Steps[2] = studio.Step{Kind: studio.Wet, SupplyID: vinegar.ID}
	a := ladder(studio.Factor{Kind: studio.ByLiquid, Step: 2, Levels: []studio.Level{{SupplyID: vinegar.ID}, {SupplyID: nitrate.ID}}})
	a.Front = wetted
	_, err := Lay(a, shelf, hands, copper)
	if p := studio.ProblemIn(err); p == nil || p.Kind != studio.Unsafe {
		t.Errorf("one level puts nitrate under ammonia: %v", err)
	}
	a.Factors[0].Levels[1].SupplyID = ammonia.ID
	l := lay(t, a)
	if len(l.Clashes) == 0 {
		t.Error("vinegar and ammonia on one swatch carry no caution")
	}
}

func TestBrassThatCanCrackIsSaid(t *testing.T) {
	brass := studio.Metal{ID: 8, Name: "yellow sheet", Alloy: "C26000", Temper: "half hard", ThicknessMM: 0.5}
	clashes, p := Safety([]studio.Version{fuming()}, shelf, brass)
	if p != nil {
		t.Fatal(p)
	}
	found := false
	for _, c := range clashes {
		found = found || c.ID == "X22"
	}
	if !found {
		t.Errorf("season cracking is not said for %s: %v", MetalWords(brass), clashes)
	}
}

func TestHeatWithoutFlameIsNoTorch(t *testing.T) {
	nitrated := func(tool string) []studio.Version {
		return []studio.Version{version(0, step(studio.Wet, "copper-nitrate"), studio.Step{Kind: studio.Heat, Tool: tool})}
	}
	torch, _ := Safety(nitrated("torch"), shelf, copper)
	oven, _ := Safety(nitrated("small oven"), shelf, copper)
	has := func(cs []matter.Clash, id string) bool {
		for _, c := range cs {
			if c.ID == id {
				return true
			}
		}
		return false
	}
	if !has(torch, "X17") || has(oven, "X17") {
		t.Errorf("torch over nitrate: %v; oven: %v", torch, oven)
	}
}

func TestOverBuildsTheNextLayer(t *testing.T) {
	sw := studio.Swatch{Number: 12, SetID: 3}
	base := studio.Treatment{ID: 1, Swatch: 12, Faces: studio.OnFront, Layer: 1, Order: 4, Replicate: 2, Steps: []studio.Step{step(studio.Wet, "vinegar"), step(studio.Rinse, "")}}
	v := fuming()
	v.ID = 77
	below := []Below{{Treatment: base, Begun: true, Ended: true}}
	got, _, err := Over(sw, studio.OnFront, below, v, studio.OverDry, shelf, hands, copper)
	if err != nil {
		t.Fatal(err)
	}
	if got.Layer != 2 || got.Over != studio.OverDry || got.Swatch != 12 || got.SetID != 3 || got.VersionID != 77 || got.Order != 4 || got.Replicate != 2 || got.Faces != studio.OnFront {
		t.Errorf("%+v", got)
	}
	if got.Steps[2].Amount.Value != 11 || got.Steps[3].Material != "ammonia-water" {
		t.Errorf("its steps are not frozen: %+v", got.Steps)
	}
	if v.Steps[3].Material != "" {
		t.Error("Over changed the recipe it was given")
	}
}

func TestOverRefuses(t *testing.T) {
	sw := studio.Swatch{Number: 12}
	base := studio.Treatment{ID: 1, Swatch: 12, Faces: studio.OnFront, Layer: 1, Steps: []studio.Step{step(studio.Wet, "copper-nitrate"), step(studio.Dry, "")}}
	salted := version(0, step(studio.Sprinkle, "sodium-chloride"))
	done := []Below{{base, true, true}}
	other := base
	other.Swatch = 13
	for _, tc := range []struct {
		name  string
		sw    studio.Swatch
		faces studio.Faces
		below []Below
		v     studio.Version
		state studio.LayState
		kind  studio.Kind
	}{
		{"nothing there", sw, studio.OnFront, nil, salted, studio.OverDry, studio.Conflict},
		{"nothing on that face", sw, studio.OnBack, done, salted, studio.OverDry, studio.Conflict},
		{"not started", sw, studio.OnFront, []Below{{base, false, false}}, salted, studio.OverWet, studio.Conflict},
		{"not dry yet", sw, studio.OnBoth, []Below{{base, true, false}}, salted, studio.OverDry, studio.Conflict},
		{"a blank", studio.Swatch{Number: 12, Blank: true}, studio.OnFront, done, salted, studio.OverDry, studio.Conflict},
		{"dry or wet not said", sw, studio.OnFront, done, salted, "", studio.Invalid},
		{"no face", sw, "", done, salted, studio.OverDry, studio.Invalid},
		{"another swatch", sw, studio.OnFront, []Below{{other, true, true}}, salted, studio.OverDry, studio.Invalid},
		{"no steps", sw, studio.OnFront, done, studio.Version{}, studio.OverDry, studio.Invalid},
		{"fume over unrinsed nitrate", sw, studio.OnFront, done, version(0, step(studio.Fume, "ammonia-water")), studio.OverDry, studio.Unsafe},
	} {
		_, _, err := Over(tc.sw, tc.faces, tc.below, tc.v, tc.state, shelf, hands, copper)
		if p := studio.ProblemIn(err); p == nil || p.Kind != tc.kind {
			t.Errorf("%s: %v", tc.name, err)
		}
	}
	if _, _, err := Over(sw, studio.OnFront, []Below{{base, true, false}}, salted, studio.OverWet, shelf, hands, copper); err != nil {
		t.Errorf("over a wet patina that is under way: %v", err)
	}
}
