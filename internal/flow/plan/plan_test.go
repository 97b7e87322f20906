package plan

import (
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"aerugo/internal/studio"
)

var (
	salt    = studio.Supply{ID: 1, Name: "table salt", Material: "sodium-chloride", Strength: 100, StrengthUnit: studio.Pure}
	ammonia = studio.Supply{ID: 2, Name: "shop ammonia", Material: "ammonia-water", Strength: 10, StrengthUnit: studio.WtPercent}
	vinegar = studio.Supply{ID: 3, Name: "white vinegar", Material: "vinegar", Strength: 5, StrengthUnit: studio.WtPercent}
	nitrate = studio.Supply{ID: 4, Name: "blue crystals", Material: "copper-nitrate", StrengthUnit: studio.Pure}
	cloudy  = studio.Supply{ID: 5, Name: "cloudy ammonia", Material: "ammonia-water", StrengthUnit: studio.WtPercent}
	shelf   = []studio.Supply{salt, ammonia, vinegar, nitrate, cloudy}

	hands = []studio.HandAmount{
		{Word: studio.Light, Material: "sodium-chloride", Mean: 11, SD: 4, Unit: studio.GramPerM2, N: 10},
		{Word: studio.Medium, Material: "sodium-chloride", Mean: 25, SD: 8, Unit: studio.GramPerM2, N: 10},
		{Word: studio.Heavy, Material: "sodium-chloride", Mean: 80, SD: 25, Unit: studio.GramPerM2, N: 10},
		{Word: studio.Light, Material: "water", Mean: 40, SD: 15, Unit: studio.MLPerM2},
	}
	copper = studio.Metal{ID: 7, Name: "copper 0.5 mm", Alloy: "C11000", ThicknessMM: 0.5}
	box    = studio.Chamber{ID: 9, Name: "chamber A", VolumeL: 20, Places: 12}
)

// fuming is degrease, rinse, sprinkle light salt, fume 4 h over ammonia, rinse.
func fuming() studio.Version {
	return studio.Version{ID: 20, RecipeID: 2, Number: 1, Steps: []studio.Step{
		{Kind: studio.Degrease, Material: "detergent", Duration: 2 * time.Minute},
		{Kind: studio.Rinse, Duration: time.Minute},
		{Kind: studio.Sprinkle, SupplyID: salt.ID, Amount: studio.Amount{Hand: studio.Light, Unit: studio.GramPerM2}},
		{Kind: studio.Fume, SupplyID: ammonia.ID, Duration: 4 * time.Hour, Early: 10 * time.Minute, Late: 20 * time.Minute},
		{Kind: studio.Rinse, Duration: time.Minute},
	}}
}

func minutes(levels ...float64) studio.Factor {
	f := studio.Factor{Name: "fuming time", Kind: studio.ByMinutes, Step: 3}
	for _, n := range levels {
		f.Levels = append(f.Levels, studio.Level{Number: n})
	}
	return f
}

func wetting() studio.Factor {
	return studio.Factor{Name: "wetting", Kind: studio.ByWetting, Step: 2, Levels: []studio.Level{{Yes: false}, {Yes: true}}}
}

func brushing() studio.Factor {
	return studio.Factor{Name: "brushing out", Kind: studio.ByBrushing, Step: 3, Levels: []studio.Level{{Yes: false}, {Yes: true}}}
}

func ladder(fs ...studio.Factor) Ask {
	a := Ask{
		Name: "how long", Question: "Does longer fuming make it bluer?", Shape: studio.Ladder, Factors: fs,
		Replicates: 2, Blanks: 1, Seed: 1, WidthMM: 50, HeightMM: 70, Chamber: box, Front: fuming(), SameFaces: true,
	}
	if len(fs) > 1 {
		a.Shape = studio.Grid
	}
	return a
}

func lay(t *testing.T, a Ask) Layout {
	t.Helper()
	l, err := Lay(a, shelf, hands, copper)
	if err != nil {
		t.Fatalf("Lay: %v", err)
	}
	return l
}

func kindsOf(steps []studio.Step) string {
	var ks []string
	for _, s := range steps {
		ks = append(ks, string(s.Kind))
	}
	return strings.Join(ks, ", ")
}

// settingsOf names the levels of the treatments of a piece.
func settingsOf(p Piece) string {
	if p.Swatch.Blank {
		return "blank"
	}
	var ls []string
	for _, s := range p.Treatments[0].Settings {
		ls = append(ls, s.Level.Label)
	}
	return strings.Join(ls, " | ")
}

func TestLadderHasEveryLevelReplicateAndBlank(t *testing.T) {
	l := lay(t, ladder(minutes(30, 60, 120, 240, 480)))
	if got := len(l.Pieces); got != 11 {
		t.Fatalf("%d pieces, want 5 levels x 2 + 1 blank = 11", got)
	}
	n := map[string]int{}
	for i, p := range l.Pieces {
		n[settingsOf(p)]++
		if p.Swatch.Blank {
			if len(p.Treatments) != 0 {
				t.Errorf("a blank has treatments: %v", p.Treatments)
			}
			continue
		}
		tr := p.Treatments[0]
		if len(p.Treatments) != 1 || tr.Faces != studio.OnBoth || tr.Layer != 1 || tr.Over != "" || tr.Order != i+1 {
			t.Errorf("piece %d: %d treatments, faces %q, layer %d, over %q, order %d", i, len(p.Treatments), tr.Faces, tr.Layer, tr.Over, tr.Order)
		}
		if want := time.Duration(tr.Settings[0].Level.Number) * time.Minute; tr.Steps[3].Duration != want {
			t.Errorf("%s is fumed %s", settingsOf(p), tr.Steps[3].Duration)
		}
		if tr.Steps[3].ChamberID != box.ID || tr.Steps[3].Material != "ammonia-water" || tr.Steps[3].Strength != 10 {
			t.Errorf("the fume step is not frozen: %+v", tr.Steps[3])
		}
		if a := tr.Steps[2].Amount; a.Value != 11 || a.SD != 4 || a.Hand != studio.Light || a.Assumed {
			t.Errorf("the hand word is not resolved: %v", a)
		}
	}
	want := map[string]int{"30 min": 2, "60 min": 2, "120 min": 2, "240 min": 2, "480 min": 2, "blank": 1}
	if !reflect.DeepEqual(n, want) {
		t.Errorf("levels %v, want %v", n, want)
	}
	if l.Set.Factors[0].Levels[0].Label != "30 min" || l.Set.MetalID != copper.ID || l.Set.FrontID != 20 || l.Set.Seed != 1 {
		t.Errorf("the set was not kept as asked: %+v", l.Set)
	}
}

func TestPlannedStepsAreCopies(t *testing.T) {
	a := ladder(minutes(30, 60))
	for _, p := range lay(t, a).Pieces {
		for i := range p.Treatments {
			p.Treatments[i].Steps[0].Note = "scribbled"
		}
	}
	seen := 0
	for _, p := range lay(t, a).Pieces {
		for _, tr := range p.Treatments {
			seen++
			if tr.Steps[0].Note != "" {
				t.Fatal("changing one plan changed another")
			}
		}
	}
	if seen != 4 || a.Front.Steps[3].Duration != 4*time.Hour || a.Factors[0].Levels[0].Label != "" {
		t.Errorf("Lay changed what it was given: %+v", a)
	}
}

func TestFactorsActOnTheirStep(t *testing.T) {
	withWet := fuming()
	withWet.Steps = append(append(append([]studio.Step{}, withWet.Steps[:2]...), studio.Step{Kind: studio.Wet, Material: "water", Duration: time.Minute}), withWet.Steps[2:]...)
	rested := fuming()
	rested.Steps = append(append([]studio.Step{}, rested.Steps[:4]...), studio.Step{Kind: studio.Dry, Duration: time.Hour}, studio.Step{Kind: studio.Seal, Material: "wax"})
	brushed := fuming()
	brushed.Steps = append(append([]studio.Step{}, brushed.Steps[:4]...), studio.Step{Kind: studio.BrushOut, Duration: 5 * time.Minute}, studio.Step{Kind: studio.Rinse})
	for _, tc := range []struct {
		name  string
		front studio.Version
		f     studio.Factor
		want  []string // one line per level: kinds, then what must show
	}{
		{"wetting is put before the salt", fuming(), wetting(), []string{
			"degrease, rinse, sprinkle, fume, rinse", "degrease, rinse, wet, sprinkle, fume, rinse"}},
		{"wetting that is there is left out", withWet, wetting(), []string{
			"degrease, rinse, sprinkle, fume, rinse", "degrease, rinse, wet, sprinkle, fume, rinse"}},
		{"brushing is put after the fume", fuming(), brushing(), []string{
			"degrease, rinse, sprinkle, fume, rinse", "degrease, rinse, sprinkle, fume, brush out, rinse"}},
		{"brushing waits for drying", rested, brushing(), []string{
			"degrease, rinse, sprinkle, fume, dry, seal", "degrease, rinse, sprinkle, fume, dry, brush out, seal"}},
		{"brushing that is there is left out", brushed, brushing(), []string{
			"degrease, rinse, sprinkle, fume, rinse", "degrease, rinse, sprinkle, fume, brush out, rinse"}},
		{"no salt, no sprinkling", fuming(), studio.Factor{Kind: studio.ByLoading, Step: 2, Levels: []studio.Level{{Number: 0}, {Number: 25}}}, []string{
			"degrease, rinse, fume, rinse", "degrease, rinse, sprinkle, fume, rinse"}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			a := ladder(tc.f)
			a.Front = tc.front
			l := lay(t, a)
			got := map[string]string{}
			for _, p := range l.Pieces {
				if !p.Swatch.Blank {
					got[settingsOf(p)] = kindsOf(p.Treatments[0].Steps)
				}
			}
			for i, level := range l.Set.Factors[0].Levels {
				if got[level.Label] != tc.want[i] {
					t.Errorf("%s: %s, want %s", level.Label, got[level.Label], tc.want[i])
				}
			}
		})
	}
}

func TestWhatIsPutInIsMarkedAssumed(t *testing.T) {
	l := lay(t, ladder(wetting(), brushing()))
	found := 0
	for _, p := range l.Pieces {
		for _, tr := range p.Treatments {
			for _, s := range tr.Steps {
				if s.Kind == studio.Wet {
					found++
					if !s.Amount.Assumed || s.Amount.Value != 40 || !strings.HasPrefix(s.Note, "Assumed") {
						t.Errorf("the wetting put in is not marked: %+v", s)
					}
				}
				if s.Kind == studio.BrushOut {
					found++
					if !strings.HasPrefix(s.Note, "Assumed") {
						t.Errorf("the brushing put in is not marked: %+v", s)
					}
				}
			}
		}
	}
	if found != 8 {
		t.Errorf("%d steps put in, want 4 wettings and 4 brushings", found)
	}
	for _, want := range []string{"no wetting", "no brushing out"} {
		if !strings.Contains(strings.Join(l.Notes, "\n"), want) {
			t.Errorf("no note says the recipe has %q", want)
		}
	}
}

func TestLevelsOfSupplies(t *testing.T) {
	liquid := studio.Factor{Name: "liquid", Kind: studio.ByLiquid, Step: 3, Levels: []studio.Level{{SupplyID: ammonia.ID}, {SupplyID: vinegar.ID}}}
	l := lay(t, ladder(liquid))
	for _, p := range l.Pieces {
		if p.Swatch.Blank {
			continue
		}
		s := p.Treatments[0].Steps[3]
		want := map[string]studio.Supply{"shop ammonia": ammonia, "white vinegar": vinegar}[settingsOf(p)]
		if s.SupplyID != want.ID || s.Material != want.Material || s.Strength != want.Strength {
			t.Errorf("%s: %+v", settingsOf(p), s)
		}
	}
	if !strings.Contains(strings.Join(l.Notes, "\n"), "differ in strength too (5 to 10 %): the two can't be told apart") {
		t.Errorf("liquids of two strengths are not said to be mixed up: %q", l.Notes)
	}

	strength := studio.Factor{Kind: studio.ByStrength, Step: 3, Levels: []studio.Level{{Number: 2.5}, {Number: 10}}}
	for _, p := range lay(t, ladder(strength)).Pieces {
		if !p.Swatch.Blank {
			s := p.Treatments[0].Steps[3]
			if fmt.Sprintf("%v %%", s.Strength) != settingsOf(p) || s.SupplyID != ammonia.ID {
				t.Errorf("%s: strength %v from supply %d", settingsOf(p), s.Strength, s.SupplyID)
			}
		}
	}
}

func TestLoadingByHandWordBringsItsSpread(t *testing.T) {
	f := studio.Factor{Kind: studio.ByLoading, Step: 2, Levels: []studio.Level{{Label: studio.Light}, {Label: studio.Medium}, {Label: "weighed", Number: 50}}}
	l := lay(t, ladder(f))
	want := map[string]studio.Amount{
		"light":   {Value: 11, SD: 4, Unit: studio.GramPerM2, Hand: studio.Light},
		"medium":  {Value: 25, SD: 8, Unit: studio.GramPerM2, Hand: studio.Medium},
		"weighed": {Value: 50, Unit: studio.GramPerM2},
	}
	for _, p := range l.Pieces {
		if p.Swatch.Blank {
			continue
		}
		if got := p.Treatments[0].Steps[2].Amount; got != want[settingsOf(p)] {
			t.Errorf("%s: %v", settingsOf(p), got)
		}
	}
	if got := l.Set.Factors[0].Levels[1].Number; got != 25 {
		t.Errorf("medium stands at %v on the axis, want 25", got)
	}
	if !strings.Contains(strings.Join(l.Notes, "\n"), "light and medium of amount overlap in this hand") {
		t.Errorf("11 ± 4 and 25 ± 8 are not said to overlap: %q", l.Notes)
	}
}

func TestFacesMayDiffer(t *testing.T) {
	a := ladder(minutes(60, 240))
	a.SameFaces = false
	back := studio.Version{ID: 30, Steps: []studio.Step{{Kind: studio.Wet, SupplyID: vinegar.ID, Duration: time.Minute}, {Kind: studio.Rest, Duration: time.Hour}}}
	a.Back = &back
	l := lay(t, a)
	for _, p := range l.Pieces {
		if p.Swatch.Blank {
			continue
		}
		if len(p.Treatments) != 2 {
			t.Fatalf("%d treatments, want one each face", len(p.Treatments))
		}
		f, b := p.Treatments[0], p.Treatments[1]
		if f.Faces != studio.OnFront || b.Faces != studio.OnBack || f.Layer != 1 || b.Layer != 1 || f.VersionID != 20 || b.VersionID != 30 {
			t.Errorf("faces %q %q, layers %d %d", f.Faces, b.Faces, f.Layer, b.Layer)
		}
		if len(b.Settings) != 0 || b.Order != f.Order || b.Replicate != f.Replicate {
			t.Errorf("the back's treatment: %+v", b)
		}
	}
	if l.Set.BackID != 30 || l.Set.SameFaces {
		t.Errorf("the set: %+v", l.Set)
	}
	a.Back = nil
	if p := lay(t, a).Pieces; len(p[0].Treatments)+len(p[1].Treatments) > 2 {
		t.Error("without a back recipe the back got a treatment")
	}
}

func TestLayersAreLaidFromTheMetalUp(t *testing.T) {
	base := studio.Version{ID: 40, Steps: []studio.Step{{Kind: studio.Wet, SupplyID: vinegar.ID}, {Kind: studio.Dry, Duration: time.Hour}, {Kind: studio.Rinse}}}
	a := ladder(minutes(60, 240))
	a.Front.OverID, a.Front.Over = 40, studio.OverDry
	if _, err := Lay(a, shelf, hands, copper); problemField(err) != "front" {
		t.Errorf("a recipe over another was planned on bare metal: %v", err)
	}
	a.FrontBelow = []studio.Version{base}
	for _, p := range lay(t, a).Pieces {
		if p.Swatch.Blank {
			continue
		}
		if len(p.Treatments) != 2 || p.Treatments[0].Layer != 1 || p.Treatments[1].Layer != 2 || p.Treatments[1].Over != studio.OverDry || p.Treatments[0].VersionID != 40 {
			t.Errorf("%+v", p.Treatments)
		}
		if len(p.Treatments[0].Settings) != 0 || len(p.Treatments[1].Settings) != 1 {
			t.Errorf("the settings belong to the layer that is varied: %+v", p.Treatments)
		}
	}
}

func TestNotesAreHonest(t *testing.T) {
	a := ladder(minutes(30, 45))
	a.Replicates, a.Blanks = 1, 0
	a.Chamber.Places = 1
	all := strings.Join(lay(t, a).Notes, "\n")
	for _, want := range []string{"can't be told from your hand's own spread", "No blank", "Two levels", "tighten the tolerance", "2 swatches take 2 runs", "count as one swatch"} {
		if !strings.Contains(all, want) {
			t.Errorf("no note says %q in:\n%s", want, all)
		}
	}
	a = ladder(minutes(30, 120, 480))
	all = strings.Join(lay(t, a).Notes, "\n")
	for _, not := range []string{"hand's own spread", "No blank", "Two levels", "tighten", "runs"} {
		if strings.Contains(all, not) {
			t.Errorf("a note says %q although it is not so:\n%s", not, all)
		}
	}
	a.Front.Steps[3].SupplyID = cloudy.ID
	if all = strings.Join(lay(t, a).Notes, "\n"); !strings.Contains(all, "strength of cloudy ammonia") {
		t.Errorf("an unknown strength is not said: %s", all)
	}
}
