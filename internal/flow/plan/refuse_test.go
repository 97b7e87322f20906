package plan

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"aerugo/internal/studio"
)

func problemField(err error) string {
	if p := studio.ProblemIn(err); p != nil {
		return p.Field
	}
	return fmt.Sprint("no Problem: ", err)
}

func TestWhatCannotBePlannedIsRefused(t *testing.T) {
	strength := func(levels ...studio.Level) studio.Factor {
		return studio.Factor{Kind: studio.ByStrength, Step: 3, Levels: levels}
	}
	for _, tc := range []struct {
		name, field string
		change      func(*Ask)
	}{
		{"no name", "name", func(a *Ask) { a.Name = " " }},
		{"no levels", "factor1.levels", func(a *Ask) { a.Factors[0].Levels = nil }},
		{"one level", "factor1.levels", func(a *Ask) { a.Factors = []studio.Factor{minutes(30)} }},
		{"a level twice", "factor1.levels", func(a *Ask) { a.Factors = []studio.Factor{minutes(30, 60, 30)} }},
		{"a label twice", "factor1.levels", func(a *Ask) {
			a.Factors = []studio.Factor{minutes(30, 60)}
			a.Factors[0].Levels[0].Label, a.Factors[0].Levels[1].Label = "x", "x"
		}},
		{"a time of nought", "factor1.levels", func(a *Ask) { a.Factors = []studio.Factor{minutes(0, 60)} }},
		{"a negative time", "factor1.levels", func(a *Ask) { a.Factors = []studio.Factor{minutes(-5, 60)} }},
		{"sixty-one days", "factor1.levels", func(a *Ask) { a.Factors = []studio.Factor{minutes(60, 61*24*60)} }},
		{"no such step", "factor1.step", func(a *Ask) { a.Factors[0].Step = 5 }},
		{"a step below the first", "factor1.step", func(a *Ask) { a.Factors[0].Step = -1 }},
		{"loading without an amount", "factor1.step", func(a *Ask) {
			a.Factors = []studio.Factor{{Kind: studio.ByLoading, Step: 3, Levels: []studio.Level{{Number: 1}, {Number: 2}}}}
		}},
		{"the time of a step without one", "factor1.step", func(a *Ask) { a.Factors[0].Step = 2 }},
		{"the strength of a rinse", "factor1.step", func(a *Ask) {
			a.Factors = []studio.Factor{strength(studio.Level{Number: 1}, studio.Level{Number: 2})}
			a.Factors[0].Step = 1
		}},
		{"the liquid of a rinse", "factor1.step", func(a *Ask) {
			a.Factors = []studio.Factor{{Kind: studio.ByLiquid, Step: 1, Levels: []studio.Level{{SupplyID: 2}, {SupplyID: 3}}}}
		}},
		{"stronger than the bottle", "factor1.levels", func(a *Ask) {
			a.Factors = []studio.Factor{strength(studio.Level{Number: 5}, studio.Level{Number: 25})}
		}},
		{"above pure", "factor1.levels", func(a *Ask) {
			a.Factors = []studio.Factor{strength(studio.Level{Number: 5}, studio.Level{Number: 101})}
		}},
		{"a bottle that is gone", "factor1.levels", func(a *Ask) {
			a.Factors = []studio.Factor{{Kind: studio.ByLiquid, Step: 3, Levels: []studio.Level{{SupplyID: 2}, {SupplyID: 99}}}}
		}},
		{"a kind that is none", "factor1.step", func(a *Ask) { a.Factors[0].Kind = "moon" }},
		{"a ladder of two", "shape", func(a *Ask) { a.Factors = append(a.Factors, wetting()) }},
		{"a grid of one", "shape", func(a *Ask) { a.Shape = studio.Grid }},
		{"a grid of nine", "shape", func(a *Ask) {
			a.Shape, a.Factors = studio.Grid, slices.Repeat([]studio.Factor{minutes(1, 2), wetting(), brushing()}, 3)
		}},
		{"loose with a factor", "shape", func(a *Ask) { a.Shape = studio.Loose }},
		{"no shape", "shape", func(a *Ask) { a.Shape = "" }},
		{"the same thing twice", "factor2", func(a *Ask) {
			b := minutes(1, 2)
			b.Name = "again"
			a.Shape, a.Factors = studio.Grid, []studio.Factor{minutes(30, 60), b}
		}},
		{"one name twice", "factor2", func(a *Ask) {
			b := wetting()
			b.Name = "fuming time"
			a.Shape, a.Factors = studio.Grid, []studio.Factor{minutes(30, 60), b}
		}},
		{"a step left out that is varied too", "factor2.step", func(a *Ask) {
			a.Front.Steps[4] = studio.Step{Kind: studio.BrushOut, Duration: time.Minute}
			b := brushing()
			m := minutes(1, 2)
			m.Step = 4
			a.Shape, a.Factors = studio.Grid, []studio.Factor{m, b}
		}},
		{"201 swatches", "replicates", func(a *Ask) { a.Blanks = 197 }},
		{"a product that runs over", "replicates", func(a *Ask) {
			var many []float64
			for i := 1; i <= 150; i++ {
				many = append(many, float64(i))
			}
			a.Shape, a.Factors = studio.Grid, []studio.Factor{minutes(many...), wetting(), brushing()}
		}},
		{"no replicate", "replicates", func(a *Ask) { a.Replicates = 0 }},
		{"eleven replicates", "replicates", func(a *Ask) { a.Replicates = 11 }},
		{"blanks below nought", "blanks", func(a *Ask) { a.Blanks = -1 }},
		{"no width", "width", func(a *Ask) { a.WidthMM = 0 }},
		{"no steps", "front", func(a *Ask) { a.Front.Steps = nil }},
		{"two backs", "back", func(a *Ask) { v := fuming(); a.Back = &v }},
		{"a word nobody weighed", "front", func(a *Ask) { a.Front.Steps[2].Amount.Hand = "a good pinch" }},
		{"a supply that is gone", "front", func(a *Ask) { a.Front.Steps[2].SupplyID = 99 }},
	} {
		t.Run(tc.name, func(t *testing.T) {
			a := ladder(minutes(30, 60))
			tc.change(&a)
			l, err := Lay(a, shelf, hands, copper)
			p := studio.ProblemIn(err)
			if p == nil {
				t.Fatalf("was planned: %d pieces, %v", len(l.Pieces), err)
			}
			if p.Field != tc.field {
				t.Errorf("the problem is at %q, want %q: %s", p.Field, tc.field, p.Text)
			}
			if !strings.HasSuffix(p.Text, ".") || strings.Contains(p.Text, "%!") {
				t.Errorf("not a sentence: %s", p.Text)
			}
			if len(l.Pieces) != 0 {
				t.Error("half a layout came back")
			}
		})
	}
	if _, err := Lay(ladder(minutes(30, 60)), shelf, hands, studio.Metal{}); problemField(err) != "metal" {
		t.Errorf("no metal: %v", err)
	}
	a := ladder(minutes(30, 60))
	a.Blanks = 196
	if _, err := Lay(a, shelf, hands, copper); err != nil {
		t.Errorf("200 swatches are allowed: %v", err)
	}
}
