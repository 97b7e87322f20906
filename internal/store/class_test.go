package store

import (
	"errors"
	"testing"
	"time"

	"aerugo/internal/studio"
)

// eight is a class that uses everything a class can hold.
func eight(t testing.TB, s *Store, b bench) studio.Class {
	t.Helper()
	room := must[studio.Room](t)(s.SaveRoom(ctx, studio.Room{Name: "Class room", VolumeM3: 100, ACH: 2, Mixing: 3}))
	return studio.Class{Name: "Blue in three hours", Aim: "name two hazards", Teacher: "Ann", Starts: noon.Add(48 * time.Hour), Minutes: 180, Heads: 8, Who: studio.ForAdults, Skill: "none",
		RoomID: room.ID, Where: studio.Outdoors, Recipes: []studio.ClassRecipe{{VersionID: b.recipe.Latest.ID, PerHead: 2, Shown: 1, MetalID: b.metal.ID}},
		Parts: []studio.ClassPart{{Kind: studio.PartWelcome, Words: "hello", Minutes: 10}, {Kind: studio.PartMake, Minutes: 25, VersionID: b.recipe.Latest.ID, From: 1, To: 3, Where: studio.Outdoors}},
		Kit:   []studio.KitLine{{What: "copper", Count: 3, Per: 1, Spare: 1.2, Own: true, Left: true, Unit: "sheet"}},
		Risks: []studio.RiskLine{{Key: "ammonia", Hazard: "fumes", WhoHow: "eyes", Now: "hood", More: "mask", By: "Ann", Till: "Friday", DoneWhen: "Thursday"}},
		SetID: b.set.ID, After: studio.ClassAfter{Incident: "none", Surprised: "so blue", Note: "n", Waste: []studio.ClassWaste{{What: "rinse water", MassG: 2500}}, Fetched: []int64{b.pieces[0].Number}, Done: []string{"stock"}}}
}

func TestClassIsKeptAndChanged(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	c := eight(t, s, b)
	kept := must[studio.Class](t)(s.SaveClass(ctx, c))
	c.ID, c.Made = kept.ID, noon
	same(t, "class", kept, c)
	same(t, "class read again", must[studio.Class](t)(s.Class(ctx, c.ID)), c)
	c.Heads, c.Name = 6, "Blue for six"
	same(t, "changed class", must[studio.Class](t)(s.SaveClass(ctx, c)), c)
	same(t, "classes", must[[]studio.Class](t)(s.Classes(ctx)), []studio.Class{c})
	same(t, "class of its set", must[studio.Class](t)(s.ClassOfSet(ctx, b.set.ID)), c)
	_, err := s.ClassOfSet(ctx, 99)
	wantProblem(t, err, studio.NotFound, "class of set 99")

	next := must[studio.Class](t)(s.SaveClass(ctx, studio.Class{Name: "Next evening", Starts: noon, Minutes: 120, Heads: 6, Who: studio.ForTeens, Where: studio.OpenRoom, FollowsID: c.ID, AheadID: b.set.ID}))
	if got := must[[]studio.Class](t)(s.Classes(ctx)); len(got) != 2 || got[0].ID != next.ID {
		t.Errorf("classes are %+v, want the earlier one first", got)
	}

	// Two people write in one class: neither takes the other's words away.
	changed := must[studio.Class](t)(s.ChangeClass(ctx, c.ID, func(x *studio.Class) error { x.Kit = nil; return nil }))
	c.Kit = nil
	same(t, "class with its kit changed", changed, c)
	stop := errors.New("no")
	if _, err := s.ChangeClass(ctx, c.ID, func(x *studio.Class) error { x.Name = "Gone"; return stop }); !errors.Is(err, stop) {
		t.Errorf("the change failed as %v", err)
	}
	if err := s.EndClass(ctx, c.ID, noon); err != nil {
		t.Fatal(err)
	}
	if err := s.EndClass(ctx, c.ID, noon.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	c.Ended = noon
	same(t, "ended class", must[studio.Class](t)(s.Class(ctx, c.ID)), c)
	wantSound(t, s)
}

func TestClassThatCannotBeIsRefused(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	good := eight(t, s, b)
	for says, spoil := range map[string]func(*studio.Class){
		"name":                 func(c *studio.Class) { c.Name = " " },
		"class of 0":           func(c *studio.Class) { c.Heads = 0 },
		"class of 61":          func(c *studio.Class) { c.Heads = 61 },
		"can't last 14 min":    func(c *studio.Class) { c.Minutes = 14 },
		"the hour when":        func(c *studio.Class) { c.Starts = time.Time{} },
		"who comes":            func(c *studio.Class) { c.Who = studio.NoClass },
		"no class known":       func(c *studio.Class) { c.Who = "cats" },
		"where the vapours go": func(c *studio.Class) { c.Where = "cellar" },
		"2000 are the most":    func(c *studio.Class) { c.Aim = string(make([]byte, 2001)) },
		"1 to 20 times":        func(c *studio.Class) { c.Recipes[0].PerHead, c.Recipes[0].Shown = 0, 0 },
		"Part 1: \"lunch\"":    func(c *studio.Class) { c.Parts[0].Kind = "lunch" },
		"Part 2: choose":       func(c *studio.Class) { c.Parts[1].VersionID = 0 },
		"Part 2 holds":         func(c *studio.Class) { c.Parts[1].To = 0 },
		"Part 1 can't take":    func(c *studio.Class) { c.Parts[0].Minutes = -1 },
		"The kit's line":       func(c *studio.Class) { c.Kit[0].Spare = 0.5 },
		"names no hazard":      func(c *studio.Class) { c.Risks[0].Key = "" },
		"Waste":                func(c *studio.Class) { c.After.Waste[0].MassG = -1 },
		"4000 are the most":    func(c *studio.Class) { c.After.Note = string(make([]byte, 4001)) },
		"with itself":          func(c *studio.Class) { c.ID, c.FollowsID = 7, 7 },
	} {
		c := good
		c.Recipes, c.Parts = append([]studio.ClassRecipe{}, c.Recipes...), append([]studio.ClassPart{}, c.Parts...)
		c.Kit, c.Risks, c.After.Waste = append([]studio.KitLine{}, c.Kit...), append([]studio.RiskLine{}, c.Risks...), append([]studio.ClassWaste{}, c.After.Waste...)
		spoil(&c)
		_, err := s.SaveClass(ctx, c)
		wantProblem(t, err, studio.Invalid, says)
	}
	for says, spoil := range map[string]func(*studio.Class){
		"recipe version 99": func(c *studio.Class) { c.Recipes = []studio.ClassRecipe{{VersionID: 99, PerHead: 1}} },
		"metal 99": func(c *studio.Class) {
			c.Recipes = []studio.ClassRecipe{{VersionID: b.recipe.Latest.ID, PerHead: 1, MetalID: 99}}
		},
		"set 99":       func(c *studio.Class) { c.AheadID = 99 },
		"room 99":      func(c *studio.Class) { c.RoomID = 99 },
		"bench day 99": func(c *studio.Class) { c.DayID = 99 },
		"class 99":     func(c *studio.Class) { c.FollowsID = 99 },
		"class 98":     func(c *studio.Class) { c.ID = 98 },
	} {
		c := good
		spoil(&c)
		_, err := s.SaveClass(ctx, c)
		wantProblem(t, err, studio.NotFound, says)
	}
	if n := len(must[[]studio.Class](t)(s.Classes(ctx))); n != 0 {
		t.Errorf("%d classes were kept", n)
	}
	_, err := s.ChangeClass(ctx, 5, func(*studio.Class) error { return nil })
	wantProblem(t, err, studio.NotFound, "class 5")
}

// What a class names stays while the class does; its sets may go without it.
func TestClassHoldsItsRecipes(t *testing.T) {
	c := &clock{noon}
	s := mustOpen(t, t.TempDir(), c)
	b := furnish(t, s, false)
	class := must[studio.Class](t)(s.SaveClass(ctx, eight(t, s, b)))
	for _, x := range []struct {
		kind string
		id   int64
	}{{"set", b.set.ID}, {"recipe", b.recipe.ID}, {"metal", b.metal.ID}, {"room", class.RoomID}} {
		if err := s.BinItem(ctx, x.kind, x.id); err != nil {
			t.Fatal(err)
		}
	}
	c.t = noon.AddDate(0, 0, 40)
	if n := must[int](t)(s.PurgeBin(ctx)); n != 1 {
		t.Errorf("%d things went, want the set", n)
	}
	class.SetID = 0
	same(t, "class", must[studio.Class](t)(s.Class(ctx, class.ID)), class)
	if err := s.BinItem(ctx, "class", class.ID); err != nil {
		t.Fatal(err)
	}
	c.t = noon.AddDate(0, 0, 80)
	if n := must[int](t)(s.PurgeBin(ctx)); n != 4 {
		t.Errorf("%d things went, want the class, its recipe, its metal and its room", n)
	}
	wantSound(t, s)
}

func TestInventedClassGoesWithTheExample(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, true)
	own := furnish(t, s, false)
	mine := eight(t, s, own)
	shown := eight(t, s, b)
	shown.Invented = true
	must[studio.Class](t)(s.SaveClass(ctx, shown))
	mine = must[studio.Class](t)(s.SaveClass(ctx, mine))
	if err := s.RemoveInvented(ctx); err != nil {
		t.Fatal(err)
	}
	same(t, "classes", must[[]studio.Class](t)(s.Classes(ctx)), []studio.Class{mine})
	if must[bool](t)(s.HasInvented(ctx)) {
		t.Error("something invented is left")
	}
	wantSound(t, s)
}
