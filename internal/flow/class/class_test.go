package class

import (
	"encoding/csv"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"aerugo/internal/studio"
)

var saturday = time.Date(2026, 6, 6, 10, 0, 0, 0, time.UTC)

var copper = studio.Metal{ID: 1, Name: "Copper sheet", Alloy: "C11000", ThicknessMM: 0.55}

// sulfide is a dip in liver of sulfur, as every student does it.
func sulfide() Recipe {
	return Recipe{Name: "Sulfide brown", Metal: copper, Version: studio.Version{ID: 1, Steps: []studio.Step{
		{Kind: studio.Degrease}, {Kind: studio.Abrade}, {Kind: studio.Rinse},
		{Kind: studio.Wet, Material: "liver-of-sulfur", Strength: 1, Tool: "dip", Duration: 2 * time.Minute},
		{Kind: studio.Rinse}, {Kind: studio.Dry, Duration: 10 * time.Minute}}}}
}

// blue is salt and vinegar over ammonia for a day.
func blue() Recipe {
	return Recipe{Name: "Salt blue", Metal: copper, Version: studio.Version{ID: 2, Steps: []studio.Step{
		{Kind: studio.Degrease}, {Kind: studio.Abrade}, {Kind: studio.Rinse},
		{Kind: studio.Wet, Material: "vinegar", Strength: 5, Tool: "brush"},
		{Kind: studio.Sprinkle, Material: "sodium-chloride", Strength: 100, Amount: studio.Amount{Value: 10, Unit: studio.GramPerM2}},
		{Kind: studio.Fume, Material: "ammonia-water", Strength: 5, Duration: 24 * time.Hour, Late: 4 * time.Hour},
		{Kind: studio.Rinse}, {Kind: studio.Dry, Duration: 2 * time.Hour}}}}
}

func three() Ask {
	return Ask{Class: studio.Class{Name: "Blue and brown", Starts: saturday, Minutes: 180, Heads: 8, Who: studio.ForAdults, Where: studio.Outdoors,
		Recipes: []studio.ClassRecipe{{VersionID: 1, PerHead: 1}, {VersionID: 2, PerHead: 1}}}, Recipes: []Recipe{sulfide(), blue()}}
}

// The twelve parts of a class of three hours; the table names its source.
func TestThreeHoursAreTaughtAsTheTradeDoes(t *testing.T) {
	text, err := os.ReadFile("testdata/class_3h.csv")
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(strings.NewReader(string(text)))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	p, err := Make(three())
	if err != nil {
		t.Fatal(err)
	}
	kinds := []studio.PartKind{studio.PartWelcome, studio.PartSafety, studio.PartTalk, studio.PartPrepare, studio.PartNumber, studio.PartMake, studio.PartMake, studio.PartMake,
		studio.PartBreak, studio.PartFinish, studio.PartJudge, studio.PartClear}
	if len(p.Parts) != len(rows)-1 || p.Over != 0 || len(p.Advice) > 0 || len(p.Faults) > 0 {
		t.Fatalf("%d parts, over by %d, advice %q, faults %q: %+v", len(p.Parts), p.Over, p.Advice, p.Faults, p.Parts)
	}
	for i, row := range rows[1:] {
		want, _ := strconv.Atoi(row[1])
		sum, _ := strconv.Atoi(row[2])
		x := p.Parts[i]
		if x.Kind != kinds[i] || x.Minutes != want || int(x.End.Sub(saturday).Minutes()) != sum {
			t.Errorf("part %d (%s) is %s, %d min, until minute %v; want %s, %d, %d", i+1, row[0], x.Kind, x.Minutes, x.End.Sub(saturday).Minutes(), kinds[i], want, sum)
		}
	}
	if running := p.Parts[8].Running; !slices.ContainsFunc(running, func(s string) bool { return strings.Contains(s, "Salt blue: fume") }) {
		t.Errorf("in the break, what runs is %q", running)
	}
	if got := p.Parts[10].Teacher; !strings.Contains(got, "first look at Salt blue after 30 min") || strings.Contains(p.PlanB.Parts[10].Teacher, "first look") {
		t.Errorf("when they judge, the teacher %q; by plan B %q", got, p.PlanB.Parts[10].Teacher)
	}
	// A three-hour class cannot fume, dry and seal one piece.
	brown, salt := p.Recipes[0], p.Recipes[1]
	if !brown.Finished || brown.Who != Students || brown.Swatches != 8 {
		t.Errorf("the brown is %+v", brown)
	}
	if salt.Finished || salt.Short != "Fuming takes 1 d; the class has 3 h." {
		t.Errorf("the blue is %+v", salt)
	}
	var what []string
	for _, h := range p.Ahead {
		what = append(what, strconv.Itoa(h.ToMake())+" "+h.What)
	}
	if want := []string{"1 fumed 1 h", "1 fumed 4 h", "1 fumed 1 d", "1 fumed 2 d", "1 not wetted first, else the same", "4 finished but not sealed"}; !slices.Equal(what, want) {
		t.Errorf("made ahead: %q, want %q", what, want)
	}
	home := p.Home[1]
	if got := home.TakeOut; !got.Equal(saturday.Add(130*time.Minute + 24*time.Hour)) {
		t.Errorf("taken out at %v", got)
	}
	if home.What != "Swatches that stay: 8. The teacher takes them out at Sunday 12:10. After that: rinse, dry." || !home.Fetch.Equal(home.TakeOut.Add(125*time.Minute)) || home.Night != "" { // 14:10, so from 14:15
		t.Errorf("home: %+v", home)
	}
}

// What ends at night is said, with what the recipe allows.
func TestTakingOutAtNightIsSaid(t *testing.T) {
	a := three()
	a.Recipes[1].Version.Steps[5].Duration = 15 * time.Hour
	p, err := Make(a)
	if err != nil {
		t.Fatal(err)
	}
	if h := p.Home[1]; h.TakeOut.Hour() != 3 || !strings.Contains(h.Night, "0 s sooner to 4 h later") {
		t.Errorf("taken out at %v: %q", h.TakeOut, h.Night)
	}
}

// Rain: what gives off gas falls away, the hours stay.
func TestPlanBGivesOffNothing(t *testing.T) {
	p, err := Make(three())
	if err != nil {
		t.Fatal(err)
	}
	if !p.PlanB.Needed || len(p.PlanB.Notes) != 2 {
		t.Fatalf("plan B is %+v", p.PlanB)
	}
	sum := 0
	for i, x := range p.PlanB.Parts {
		sum += x.Minutes
		if !x.Start.Equal(p.Parts[i].Start) || !x.End.Equal(p.Parts[i].End) {
			t.Errorf("part %d is from %v to %v", i+1, x.Start, x.End)
		}
		if x.VersionID == 1 || x.VersionID == 2 && x.To > 5 {
			t.Errorf("%s is still there without a hood", x.Title)
		}
	}
	if sum != 180 {
		t.Errorf("plan B takes %d min", sum)
	}
	if p.PlanB.Parts[6].VersionID != 2 {
		t.Error("the layout without ammonia fell away")
	}
}

// Whom the recipes are for: sulfide and ammonia not for children, for teenagers
// sulfide by the teacher. Common practice, no source.
func TestChildrenGetOnlyWhatIsForThem(t *testing.T) {
	a := three()
	a.Class.Who = studio.ForYoung
	p, err := Make(a)
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range p.Recipes {
		if d.Who != Nobody || !strings.Contains(d.Why, "under 12") {
			t.Errorf("%s: %s, %q", d.Name, d.Who, d.Why)
		}
	}
	if p.Over != 0 || slices.ContainsFunc(p.Parts, func(x Part) bool { return x.VersionID != 0 }) {
		t.Errorf("parts are %+v", p.Parts)
	}
	a.Class.Who = studio.ForTeens
	if p, err = Make(a); err != nil {
		t.Fatal(err)
	}
	if d := p.Recipes[0]; d.Who != Teacher || d.Why == "" {
		t.Errorf("for teenagers the sulfide is %+v", d)
	}
}

// Bleach and ammonia, on whatever swatches, must never be in one room.
func TestWhatMustNeverMeetStopsThePlan(t *testing.T) {
	a := three()
	bleach := Recipe{Name: "Bleach black", Metal: copper, Version: studio.Version{ID: 3, Steps: []studio.Step{{Kind: studio.Wet, Material: "bleach", Strength: 5}}}}
	a.Class.Recipes = append(a.Class.Recipes, studio.ClassRecipe{VersionID: 3, PerHead: 1})
	a.Recipes = append(a.Recipes, bleach)
	if p := Stop(a.Recipes, nil); p == nil || p.Kind != studio.Unsafe {
		t.Fatalf("the stop is %v", p)
	}
	if _, err := Make(a); studio.ProblemIn(err) == nil {
		t.Errorf("the plan was made: %v", err)
	}
	if _, err := LayOwn(a, nil, Size{50, 75}); studio.ProblemIn(err) == nil {
		t.Errorf("the swatches were laid: %v", err)
	}
	if p := Stop(three().Recipes, nil); p != nil {
		t.Errorf("salt, vinegar, sulfide and ammonia are stopped: %v", p)
	}
}

// An hour's fuming ends in class; the evening after, a week's goes on.
func TestWaitsAreUsed(t *testing.T) {
	a := three()
	short := blue()
	short.Version.Steps[5].Duration, short.Version.Steps[5].Late = 40*time.Minute, 10*time.Minute
	short.Version.Steps[7].Duration = 10 * time.Minute
	a.Recipes[1] = short
	p, err := Make(a)
	if err != nil {
		t.Fatal(err)
	}
	if d := p.Recipes[1]; d.Next < 8 || p.Over != 0 {
		t.Errorf("after an hour's fuming: %+v in %+v", d, p.Parts)
	}
	a = three()
	a.Before = map[int64]Begun{2: {Step: 5, Since: saturday.AddDate(0, 0, -7)}}
	a.Class.Minutes = 240
	if p, err = Make(a); err != nil {
		t.Fatal(err)
	}
	if d := p.Recipes[1]; d.From != 6 || d.Next != 8 {
		t.Errorf("the second evening holds steps %d to %d of the blue", d.From, d.Next)
	}
}

func TestTooLongIsSaidWithWhatToDo(t *testing.T) {
	a := three()
	parts, err := Parts(a)
	if err != nil {
		t.Fatal(err)
	}
	a.Class.Parts = parts
	a.Class.Minutes = 150
	p, err := Make(a)
	if err != nil {
		t.Fatal(err)
	}
	if p.Over != 30 || len(p.Advice) < 2 || !strings.Contains(p.Advice[0], "30 min too long") {
		t.Errorf("over by %d: %q", p.Over, p.Advice)
	}
	if a.Class.Parts, err = Fit(a); err != nil {
		t.Fatal(err)
	}
	if p, err = Make(a); err != nil || p.Over != 0 {
		t.Errorf("fitted: over by %d, %v", p.Over, err)
	}
	a.Class.Parts[6].From = 4 // the wetting is in no part now
	if p, err = Make(a); err != nil || len(p.Faults) != 1 || !strings.Contains(p.Faults[0], "is in no part") {
		t.Errorf("faults %q, %v", p.Faults, err)
	}
}

// Two hours leave out what is least needed, a day has a meal while the tubs work, and
// an hour says what does not fit. Common practice, no source.
func TestOtherLengthsScale(t *testing.T) {
	for minutes, want := range map[int]struct {
		finish bool
		breaks int
		over   int
	}{60: {false, 0, 39}, 120: {false, 1, 0}, 150: {true, 1, 0}, 180: {true, 1, 0}, 360: {true, 2, 0}} {
		a := three()
		a.Class.Minutes = minutes
		p, err := Make(a)
		if err != nil {
			t.Fatal(err)
		}
		breaks, finish, meal := 0, false, 0
		for i, x := range p.Parts {
			finish = finish || x.Kind == studio.PartFinish
			if x.Kind == studio.PartBreak {
				breaks++
				meal = max(meal, x.Minutes)
				if i > 0 && p.Parts[i-1].Kind == studio.PartBreak {
					t.Errorf("%d min: two breaks one after the other", minutes)
				}
			}
		}
		if finish != want.finish || breaks != want.breaks || p.Over != want.over || minutes == 360 && meal < 30 {
			t.Errorf("%d min: finish %v, %d breaks (the longest %d min), over by %d; want %+v", minutes, finish, breaks, meal, p.Over, want)
		}
		if want.over > 0 && !strings.Contains(p.Advice[len(p.Advice)-1], "take Salt blue out (35 min)") {
			t.Errorf("%d min: advice %q", minutes, p.Advice)
		}
	}
}

func TestSwatchesThereAlreadyCount(t *testing.T) {
	a := three()
	did, dry := blue().Version.Steps, slices.Delete(blue().Version.Steps, 3, 4)
	a.Made = []Made{{12, 2, 24 * 60, 1, did}, {13, 2, 55, 1, did}, {14, 1, 10, 1, sulfide().Version.Steps}, {15, 2, 24 * 60, 1, did}, {16, 2, 60, 9, did}, {17, 2, 24 * 60, 1, dry}}
	p, err := Make(a)
	if err != nil {
		t.Fatal(err)
	}
	for _, h := range p.Ahead {
		want := map[string][]int64{"fumed 1 h": {13}, "fumed 1 d": {12}, "not wetted first, else the same": {17}, "finished but not sealed": {15}}[h.What] // 16 is of another metal
		if !slices.Equal(h.Have, want) {
			t.Errorf("%s: there already are %v, want %v", h.What, h.Have, want)
		}
	}
}

// Any class: its parts follow each other, they add up to its hours or the plan says
// by how much not, and what is not finished in class is made ahead and goes home.
func TestEveryPlanAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := three()
		a.Class.Minutes = rapid.IntRange(15, studio.MaxClassMinutes).Draw(t, "minutes")
		a.Class.Heads = rapid.IntRange(1, 30).Draw(t, "heads")
		a.Class.Who = rapid.SampledFrom(studio.Classes[1:]).Draw(t, "who")
		a.Class.Where = rapid.SampledFrom(studio.ClassWheres).Draw(t, "where")
		for i := range a.Recipes {
			a.Class.Recipes[i].PerHead = rapid.IntRange(0, 3).Draw(t, "each")
			a.Class.Recipes[i].Shown = 1
			for k := range a.Recipes[i].Version.Steps {
				if s := &a.Recipes[i].Version.Steps[k]; s.Kind.Dwell() {
					s.Duration = time.Duration(rapid.IntRange(1, 3000).Draw(t, "dwell")) * time.Minute
				}
			}
		}
		p, err := Make(a)
		if err != nil {
			t.Fatal(err)
		}
		at, sum := a.Class.Starts, 0
		for _, x := range p.Parts {
			if !x.Start.Equal(at) || x.Minutes < 0 {
				t.Fatalf("%s starts at %v, the one before ends at %v", x.Title, x.Start, at)
			}
			at, sum = x.End, sum+x.Minutes
			if x.Title == "" || x.Teacher == "" || x.Students == "" {
				t.Fatalf("nothing is said of %+v", x)
			}
			if p.Over == 0 && x.Short() > 0 {
				t.Fatalf("%s has %d min and needs %d, yet the class is said to fit", x.Title, x.Minutes, x.Least)
			}
		}
		if sum != p.Minutes || p.Over != sum-a.Class.Minutes || (p.Over != 0) != (len(p.Advice) > 0) {
			t.Fatalf("parts of %d min in a class of %d: over by %d, advice %q", sum, a.Class.Minutes, p.Over, p.Advice)
		}
		if len(p.Faults) > 0 {
			t.Fatalf("the usual parts have faults: %q", p.Faults)
		}
		sumB := 0
		for _, x := range p.PlanB.Parts {
			sumB += x.Minutes
		}
		if sumB != sum {
			t.Fatalf("plan B takes %d min, the plan %d", sumB, sum)
		}
		for i, d := range p.Recipes {
			steps := a.Recipes[i].Version.Steps
			if d.Who == Nobody {
				if d.Why == "" || d.Next != 0 {
					t.Fatalf("%s is left out without a reason", d.Name)
				}
				continue
			}
			home := p.Home[i]
			switch {
			case d.Finished:
				if d.Next != len(steps) {
					t.Fatalf("%s is said to be finished at step %d of %d", d.Name, d.Next, len(steps))
				}
			case d.Short == "" || home.What == "" || !slices.ContainsFunc(p.Ahead, func(h Ahead) bool { return h.Index == i && h.Count > 0 }):
				t.Fatalf("%s is not finished; why %q, home %q, ahead %+v", d.Name, d.Short, home.What, p.Ahead)
			case d.Open >= 0 && !home.TakeOut.Equal(d.Since.Add(steps[d.Open].Duration)):
				t.Fatalf("%s is taken out at %v", d.Name, home.TakeOut)
			}
			for _, s := range steps[d.Next:] {
				if !strings.Contains(home.Left, string(s.Kind)) {
					t.Fatalf("%s: nobody does %s after the class", d.Name, s.Kind)
				}
			}
			if home.Fetch.Before(a.Class.Starts) {
				t.Fatalf("%s is fetched at %v", d.Name, home.Fetch)
			}
		}
	})
}
