package evidence

import (
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"aerugo/internal/studio"
)

func steps(t *rapid.T, name string) []studio.Step {
	kinds := []studio.StepKind{studio.Rinse, studio.Wet, studio.Sprinkle, studio.Fume, studio.BrushOut}
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) studio.Step {
		s := studio.Step{Kind: rapid.SampledFrom(kinds).Draw(t, "kind")}
		s.Duration = time.Duration(rapid.IntRange(0, 3).Draw(t, "min")) * time.Minute
		s.Strength = float64(rapid.IntRange(0, 2).Draw(t, "strength")) * 5
		s.Material = rapid.SampledFrom([]string{"", "water", "ammonia-water"}).Draw(t, "material")
		s.Tool = rapid.SampledFrom([]string{"", "sieve"}).Draw(t, "tool")
		s.Amount = studio.Amount{Value: float64(rapid.IntRange(0, 2).Draw(t, "amount")), Unit: studio.GramPerM2}
		return s
	}), 0, 8).Draw(t, name)
}

func TestNothingChangedSaysNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := steps(t, "a")
		if got := Diff(a, slices.Clone(a), Names{}); len(got) != 0 {
			t.Fatalf("%+v", got)
		}
	})
}

func TestDiffNamesTheSameStepsBothWays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := steps(t, "a"), steps(t, "b")
		type named struct {
			Kind     studio.StepKind
			From, To int
			Moved    bool
			Fields   string
		}
		of := func(cs []Change, back bool) (out []named) {
			for _, c := range cs {
				n := named{c.Kind, c.From, c.To, c.Moved, ""}
				if back {
					n.From, n.To = c.To, c.From
				}
				for _, f := range c.Fields {
					n.Fields += string(f) + ","
				}
				out = append(out, n)
			}
			slices.SortFunc(out, func(a, b named) int {
				return strings.Compare(string(a.Kind)+string(rune(a.From+65))+string(rune(a.To+65)), string(b.Kind)+string(rune(b.From+65))+string(rune(b.To+65)))
			})
			return out
		}
		if d := cmp.Diff(of(Diff(a, b, Names{}), false), of(Diff(b, a, Names{}), true)); d != "" {
			t.Fatal(d)
		}
	})
}

// Everything a step has is told when it alone changes: read off the type, so that a new
// field can't be forgotten.
func TestEveryFieldOfAStepIsTold(t *testing.T) {
	base := studio.Step{Kind: studio.Fume, SupplyID: 1, Material: "ammonia-water", Strength: 5, Amount: studio.Amount{Value: 3, SD: 1, Unit: studio.GramPerM2},
		Tool: "pad", Faces: studio.OnFront, Duration: time.Hour, Early: time.Minute, Late: time.Minute, ChamberID: 1, Place: "bench", Note: "mind"}
	ty := reflect.TypeOf(base)
	seen := map[string]bool{}
	for i := range ty.NumField() {
		name := ty.Field(i).Name
		if name == "Kind" {
			continue
		}
		changed := base
		f := reflect.ValueOf(&changed).Elem().Field(i)
		switch name {
		case "Amount":
			changed.Amount.SD = 2
		case "Also":
			changed.Also = []studio.Part{{Material: "vinegar", Strength: 2}}
		case "Faces":
			changed.Faces = studio.OnBoth
		default:
			switch f.Kind() {
			case reflect.String:
				f.SetString("other")
			case reflect.Int64:
				f.SetInt(f.Int() * 3)
			case reflect.Float64:
				f.SetFloat(f.Float() * 2)
			default:
				t.Fatalf("%s is of a type this test can't change", name)
			}
		}
		got := Diff([]studio.Step{base}, []studio.Step{changed}, Names{})
		if len(got) != 1 || len(got[0].Fields) != 1 || got[0].Words == "" {
			t.Errorf("%s: %+v", name, got)
			continue
		}
		seen[got[0].Words] = true
	}
	if len(seen) < ty.NumField()-2 { // early and late may read alike
		t.Errorf("changes of different fields read the same: %v", seen)
	}
}

func TestWordsOfADifference(t *testing.T) {
	from := []studio.Step{
		{Kind: studio.Rinse, Duration: time.Minute}, {Kind: studio.Wet, Material: "water", Amount: studio.Amount{Value: 40, Unit: studio.MLPerM2}},
		{Kind: studio.Fume, Material: "ammonia-water", Strength: 5, Duration: 4 * time.Hour, ChamberID: 2}, {Kind: studio.BrushOut}, {Kind: studio.Rinse, Duration: 2 * time.Minute},
	}
	to := []studio.Step{
		{Kind: studio.Rinse, Duration: time.Minute}, {Kind: studio.Sprinkle, Material: "sodium-chloride"}, {Kind: studio.Wet, Material: "water", Amount: studio.Amount{Value: 40, Unit: studio.MLPerM2}},
		{Kind: studio.Fume, Material: "ammonia-water", Strength: 10, Duration: 4*time.Hour + 30*time.Minute, ChamberID: 2}, {Kind: studio.Rinse, Duration: time.Minute},
	}
	var got []string
	for _, c := range Diff(from, to, Names{}) {
		got = append(got, c.Words)
	}
	want := []string{
		"sprinkling added as step 2",
		"fumes 30 min longer (4 h 30 min instead of 4 h); 10 % ammonia water instead of 5 %",
		"brushing out left off",
		"rinses 1 min shorter (1 min instead of 2 min) (step 5)",
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	// wetting before the salt, or after it
	a, b := []studio.Step{{Kind: studio.Wet, Tool: "brush"}, {Kind: studio.Sprinkle}}, []studio.Step{{Kind: studio.Sprinkle}, {Kind: studio.Wet, Tool: "brush"}}
	if got := Diff(a, b, Names{}); len(got) != 1 || !got[0].Moved {
		t.Errorf("%+v", got)
	}
}

func TestASwatchIsAsWrittenWhateverTheBottle(t *testing.T) {
	v := []studio.Step{{Kind: studio.Sprinkle, Material: "sodium-chloride", Amount: studio.Amount{Hand: studio.Light, Unit: studio.GramPerM2}}, {Kind: studio.Fume, Duration: time.Hour}}
	p := slices.Clone(v)
	p[0].SupplyID, p[0].Amount.Value = 3, 11
	if !AsWritten(v, p) {
		t.Error("another bottle is another recipe")
	}
	for i, change := range []func(s []studio.Step){
		func(s []studio.Step) { s[1].Duration = 2 * time.Hour }, func(s []studio.Step) { s[0].Amount = studio.Amount{Value: 25, Unit: studio.GramPerM2} },
		func(s []studio.Step) { s[0].Kind = studio.Rinse }, func(s []studio.Step) { s[0].Material = "potash" },
	} {
		q := slices.Clone(p)
		change(q)
		if AsWritten(v, q) {
			t.Errorf("change %d goes unseen", i)
		}
	}
	if AsWritten(v, p[:1]) {
		t.Error("a step less goes unseen")
	}
}
