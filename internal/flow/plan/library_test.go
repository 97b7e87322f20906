package plan

import (
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"aerugo/internal/science/matter"
	"aerugo/internal/science/published"
	"aerugo/internal/studio"
)

// Every published recipe that may be done becomes a version that can be kept,
// and one for the record only never does.
func TestPublishedRecipesBecomeVersions(t *testing.T) {
	sup := []studio.Supply{{ID: 7, Name: "Household", Material: "ammonia-water", Strength: 9, StrengthUnit: studio.WtPercent}}
	for _, r := range published.All() {
		for _, s := range r.Steps {
			if !studio.StepKind(s.Kind).Known() {
				t.Errorf("%s: %q is no step known at the bench", r.Key, s.Kind)
			}
			if studio.StepKind(s.Kind).Dwell() && s.Minutes == 0 {
				t.Errorf("%s: %s needs a time", r.Key, s.Kind)
			}
		}
		v, err := FromLibrary(r, sup)
		if r.Use == published.ForRecord {
			if p := studio.ProblemIn(err); p == nil || p.Kind != studio.Unsafe || len(v.Steps) > 0 {
				t.Errorf("%s is for the record only and gives %v, %v", r.Key, v, err)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", r.Key, err)
			continue
		}
		if i := LongestStep(v); i >= 0 && !v.Steps[i].Kind.Dwell() || r.Key == "R30" && (i < 0 || v.Steps[i].Kind != studio.Fume) {
			t.Errorf("%s: step %d is most worth varying", r.Key, i+1)
		}
		if v.Source != r.Key || !strings.Contains(v.Why, r.Source) {
			t.Errorf("%s does not say where it is from: %q, %q", r.Key, v.Source, v.Why)
		}
	}
}

// What a published recipe brings together is seen by the safety check of the
// version: every substance, and every stop that the recipe itself shows.
func TestNothingIsLostOnTheWayToAVersion(t *testing.T) {
	tried := 0
	for _, r := range published.All() {
		v, err := FromLibrary(r, nil)
		if err != nil {
			continue
		}
		tried++
		uses := Uses([]studio.Version{v}, nil)
		for _, x := range r.Ingredients {
			if x.Substance == "water" {
				continue
			}
			if !slices.ContainsFunc(uses, func(u matter.Use) bool { return u.Key == x.Substance }) {
				t.Errorf("%s: %s is not seen by the safety check", r.Key, x.Name)
			}
		}
		clashes, problem := Safety([]studio.Version{v}, nil, studio.Metal{Alloy: "C11000"})
		for _, c := range r.Clashes() {
			if c.Level == matter.Stop && (problem == nil || !slices.ContainsFunc(clashes, func(d matter.Clash) bool { return d.ID == c.ID && d.Level == matter.Stop })) {
				t.Errorf("%s: the recipe shows %v, the version %v", r.Key, c, clashes)
			}
		}
		if r.Use == published.ForClass && problem != nil {
			t.Errorf("%s is for a class and stopped: %v", r.Key, problem)
		}
		if w, err := WasteOf([]studio.Treatment{{Swatch: 1, Faces: studio.OnFront, Steps: v.Steps}}, map[int64]float64{1: 0.01}, nil); err != nil || w.CopperG < 0 || w.CopperG > 100 {
			t.Errorf("%s: waste of %v g, %v", r.Key, w.CopperG, err)
		}
	}
	if tried != 47 { // 15 'yes' and 32 'demo' of the compiled table
		t.Errorf("%d recipes tried, want 47", tried)
	}
}

// A mixed liquid is stopped, and its copper counted, like its parts.
func TestAMixedLiquidCountsWhole(t *testing.T) {
	mix := studio.Step{Kind: studio.Wet, Material: "sodium-chloride", Strength: 2, Also: []studio.Part{{Material: "liver-of-sulfur"}, {Material: "vinegar", Strength: 4}}, Amount: studio.Amount{Value: 50, Unit: studio.MLPerM2}}
	clashes, problem := Safety([]studio.Version{{Steps: []studio.Step{mix}}}, nil, studio.Metal{})
	if problem == nil || !slices.ContainsFunc(clashes, func(c matter.Clash) bool { return c.ID == "X03" }) {
		t.Errorf("acid and sulfide in one liquid: %v", clashes)
	}
	of := func(s studio.Step) float64 {
		w, err := WasteOf([]studio.Treatment{{Swatch: 1, Faces: studio.OnFront, Steps: []studio.Step{s}}}, map[int64]float64{1: 1}, nil)
		if err != nil {
			t.Fatal(err)
		}
		return w.CopperG
	}
	alone := studio.Step{Kind: studio.Wet, Material: "copper-sulfate", Strength: 6, Amount: mix.Amount}
	both := alone
	both.Material, both.Strength, both.Also = "alum", 1, []studio.Part{{Material: "copper-sulfate", Strength: 6}}
	if a, b := of(alone), of(both); a <= 0 || a != b {
		t.Errorf("copper %v g alone, %v g as a part", a, b)
	}
	// a rinse before the step counts for all of its parts
	steps := []studio.Step{{Kind: studio.Wet, Material: "liver-of-sulfur", Strength: 2}, {Kind: studio.Rinse}, {Kind: studio.Wet, Material: "sodium-chloride", Also: []studio.Part{{Material: "vinegar", Strength: 4}}}}
	if _, problem := Safety([]studio.Version{{Steps: steps}}, nil, studio.Metal{}); problem != nil {
		t.Errorf("rinsed between, and stopped: %v", problem)
	}
}

func TestWhatChangedIsSaid(t *testing.T) {
	r, _ := published.ByKey("R27")
	v, err := FromLibrary(r, nil)
	if err != nil {
		t.Fatal(err)
	}
	if got := Changed(v.Steps, v.Steps); len(got) > 0 {
		t.Errorf("nothing changed, yet %v", got)
	}
	to := slices.Clone(v.Steps)
	to[3].Also = []studio.Part{{Material: "ammonium-chloride", Strength: 2}}
	to[4].Duration = 24 * time.Hour
	to = append(to[:6:6], studio.Step{Kind: studio.Rinse})
	got := strings.Join(Changed(v.Steps, to), "\n")
	want := "step 4 (wet): liquid vinegar + ammonium chloride 4.75 % → vinegar + ammonium chloride 2 %\nstep 5 (dry): time 2 d → 1 d\nleft out: dry\nadded as step 7: rinse"
	if got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// Steps added and left out are counted right whatever the lists: what is left of
// the one, with what was added, is the other.
func TestChangesAddUp(t *testing.T) {
	kinds := rapid.SampledFrom([]studio.StepKind{studio.Wet, studio.Dry, studio.Rinse})
	list := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) studio.Step { return studio.Step{Kind: kinds.Draw(t, "kind")} }), 0, 8)
	rapid.Check(t, func(t *rapid.T) {
		a, b := list.Draw(t, "from"), list.Draw(t, "to")
		added, left := 0, 0
		for _, text := range Changed(a, b) {
			switch {
			case strings.HasPrefix(text, "added"):
				added++
			case strings.HasPrefix(text, "left out"):
				left++
			default:
				t.Fatalf("%q: the steps differ in kind only", text)
			}
		}
		if len(a)-left+added != len(b) || added+left < max(len(a), len(b))-min(len(a), len(b)) {
			t.Fatalf("%d steps, %d left out, %d added, %d steps", len(a), left, added, len(b))
		}
	})
}
