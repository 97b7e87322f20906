package cost

import (
	"testing"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/studio"
)

// A shelf by hand. Ammonia water of 10 % by mass weighs 0.9575 g/mL at 20 °C (CRC
// Handbook, 'Concentrative properties of aqueous solutions'), within 1 %. 200 mL are
// there, 40 mL of them past their day; set 7 takes 80 mL, so 80 mL are left of the 160
// that may be used; 120 mL are needed: 40 mL are short.
func TestEnoughByHand(t *testing.T) {
	weak := studio.Supply{ID: 1, Name: "Ammonia", Material: "ammonia-water", Strength: 10, StrengthUnit: studio.WtPercent}
	strong := studio.Supply{ID: 2, Name: "Ammonia, strong", Material: "ammonia-water", Strength: 25, StrengthUnit: studio.WtPercent}
	old := studio.Supply{ID: 3, Name: "Ammonia, old", Material: "ammonia-water", Strength: 25, StrengthUnit: studio.WtPercent, Expires: day.AddDate(0, 0, -9)}
	salt := studio.Supply{ID: 4, Name: "Salt", Material: "sodium-chloride", StrengthUnit: studio.Pure}
	s := Shelf{Supplies: []studio.Supply{weak, strong, old, salt}}
	rho, known := DensityOf(weak)
	if !known || rho < 0.9575*0.99 || rho > 0.9575*1.01 {
		t.Fatalf("10 %% ammonia weighs %v g/mL", rho)
	}
	ml := func(v float64) float64 { return v * rho }
	stock := map[int64]Stock{
		1: StockOf([]studio.StockMove{{ID: 1, Kind: studio.Bought, Amount: 160, Unit: studio.Millilitre, Lot: "B", At: at(0)},
			{ID: 2, Kind: studio.Bought, Amount: 40, Unit: studio.Millilitre, Lot: "A", Expires: day.AddDate(0, 0, -3), At: at(0)}}, nil, rho),
		2: {Known: true, G: 100, Lots: []Lot{{G: 100}}}, 3: {Known: true, G: 100, Lots: []Lot{{G: 100}}},
	}
	seven := Claim{Set: 7, Name: "Seven", Needs: []Need{{Supply: 1, G: ml(80)}}}
	needs := []Need{{Supply: 1, Material: "ammonia-water", G: ml(120), GPerML: rho}, {Supply: 4, Material: "sodium-chloride", G: 9, GPerML: 1}, {Material: "vinegar", G: 30, GPerML: 1}}
	got := s.Enough(needs, stock, []Claim{seven, {Set: 8, Name: "Eight"}}, at(5))
	a := got[0]
	near(t, "there", a.There, ml(160))
	near(t, "left", a.Left, ml(80))
	near(t, "short", a.Short, ml(40))
	if !a.Lacks() || len(a.By) != 1 || a.By[0].Set != 7 || len(a.Expired) != 1 || a.Expired[0].Name != "A" {
		t.Errorf("%+v", a)
	}
	if len(a.Others) != 1 || a.Others[0].ID != strong.ID {
		t.Errorf("instead of it: %+v", a.Others)
	}
	if b := got[1]; b.Known || b.Lacks() {
		t.Errorf("nobody counted the salt, and it is %+v", b)
	}
	if c := got[2]; !c.Lacks() || c.Short != 30 || c.Need.Supply != 0 {
		t.Errorf("no vinegar is on the shelf: %+v", c)
	}
	// exactly enough is enough
	needs[0].G = ml(80)
	if x := s.Enough(needs[:1], stock, []Claim{seven}, at(5))[0]; x.Lacks() || x.Others != nil {
		t.Errorf("%+v", x)
	}
	// a step that asks for more than the bottle holds can't be made of any amount
	swatches := map[int64]studio.Swatch{1: {Number: 1, WidthMM: 100, HeightMM: 100}}
	wet := studio.Step{Kind: studio.Wet, SupplyID: 1, Material: "ammonia-water", Strength: 20, Amount: studio.Amount{Value: 1, Unit: studio.Millilitre}}
	n := s.Needs([]studio.Treatment{{Swatch: 1, Faces: studio.OnFront, Steps: []studio.Step{wet}}}, swatches)
	if x := s.Enough(n, stock, nil, at(5)); len(x) != 1 || !x[0].Lacks() || x[0].Short != 0 || x[0].Need.Asked != 20 || len(x[0].Others) != 1 {
		t.Errorf("%+v", x)
	}
	// the supply's own day counts for lots without one
	weak.Expires = day.AddDate(0, 0, -9)
	s.Supplies[0] = weak
	if x := s.Enough(needs[:1], stock, nil, at(5))[0]; x.There != 0 || len(x.Expired) != 2 {
		t.Errorf("past its day: %+v", x)
	}
}

func TestAheadIsWhatIsNotDone(t *testing.T) {
	steps := []studio.Step{{Kind: studio.Wet}, {Kind: studio.Sprinkle}, {Kind: studio.Fume, Duration: time.Hour}, {Kind: studio.Seal}}
	entry := func(status run.Status, states ...run.State) run.Entry {
		e := run.Entry{Treatment: studio.Treatment{ID: 1, Steps: steps}, Record: run.Record{Status: status}}
		for _, s := range states {
			e.Record.Steps = append(e.Record.Steps, run.StepRecord{State: s})
		}
		return e
	}
	for i, c := range []struct {
		e    run.Entry
		want []studio.StepKind
	}{
		{entry(run.Planned, run.Waiting, run.Waiting, run.Waiting, run.Waiting), []studio.StepKind{studio.Wet, studio.Sprinkle, studio.Fume, studio.Seal}},
		{entry(run.Running, run.Done, run.Current, run.Waiting, run.Waiting), []studio.StepKind{studio.Sprinkle, studio.Fume, studio.Seal}},
		{entry(run.Running, run.Done, run.Unconfirmed, run.Current, run.Waiting), []studio.StepKind{studio.Seal}},
		{entry(run.Finished, run.Done, run.Done, run.Done, run.Done), nil},
		{entry(run.Stopped, run.Done, run.Dropped, run.Dropped, run.Dropped), nil},
	} {
		got := Ahead([]run.Entry{c.e})
		var kinds []studio.StepKind
		for _, t := range got {
			for _, s := range t.Steps {
				kinds = append(kinds, s.Kind)
			}
		}
		if len(kinds) != len(c.want) {
			t.Errorf("%d: %v, want %v", i, kinds, c.want)
			continue
		}
		for j := range kinds {
			if kinds[j] != c.want[j] {
				t.Errorf("%d: %v, want %v", i, kinds, c.want)
			}
		}
	}
}
