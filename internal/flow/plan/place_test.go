package plan

import (
	"strings"
	"testing"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

func wash(swatch int64, materials ...string) studio.Treatment {
	t := studio.Treatment{Swatch: swatch, Faces: studio.OnBoth, Layer: 1}
	for _, m := range materials {
		t.Steps = append(t.Steps, studio.Step{Kind: studio.Wet, Material: m, Amount: studio.Amount{Value: 20, Unit: studio.MLPerM2}})
	}
	return t
}

var yard, shed, hooded = studio.Room{ID: 1, Name: "Yard", Outdoors: true}, studio.Room{ID: 2, Name: "Shed"}, studio.Room{ID: 3, Name: "Workshop", Hood: true}

func placeIn(room int64, class studio.ClassOf) Place {
	return PlaceOf(studio.Set{RoomID: room, Class: class}, []studio.Room{yard, shed, hooded})
}

// X04 and X13 of the never-meet table need a hood: acid on thiosulfate, an
// ammonium salt with soda.
func TestHoodPairAsksWhere(t *testing.T) {
	copper := studio.Metal{Name: "Copper", Alloy: "C11000"}
	for _, materials := range [][]string{{"sodium-thiosulfate", "vinegar"}, {"ammonium-chloride", "washing-soda"}} {
		ts := []studio.Treatment{wash(1, materials...)}
		for room, says := range map[int64]string{0: "nobody has said where", 2: "Shed has neither a hood nor the open air", 1: "", 3: "", 99: "nobody has said where"} {
			clashes, p := placeIn(room, studio.NoClass).Allow(ts, nil, copper)
			switch {
			case says == "" && (p != nil || len(clashes) == 0 || clashes[0].Level != matter.Hood):
				t.Errorf("%v in room %d: %v, %v", materials, room, p, clashes)
			case says != "" && (p == nil || p.Kind != studio.Unsafe || !strings.Contains(p.Text, says) || !strings.Contains(p.Text, "Go outdoors or under a hood")):
				t.Errorf("%v in room %d: %v", materials, room, p)
			}
		}
	}
}

// The ages are common practice, no source, but for chronic hazards (LHAMA, 16 CFR
// 1500.14(b)(8)): no ammonia above 1 % and no sulfide under 12; at most 5 %, and
// outdoors, under 18; no reference chemicals in any class.
func TestClassStopsWhatItsAgeMustNotHandle(t *testing.T) {
	copper := studio.Metal{Name: "Copper", Alloy: "C11000"}
	fume := func(strength float64) studio.Treatment {
		return studio.Treatment{Swatch: 1, Faces: studio.OnBoth, Layer: 1, Steps: []studio.Step{{Kind: studio.Fume, Material: "ammonia-water", Strength: strength, Duration: 3600e9}}}
	}
	for _, c := range []struct {
		what  string
		t     studio.Treatment
		class studio.ClassOf
		room  int64
		stop  bool
	}{
		{"salt and vinegar under 12", wash(1, "sodium-chloride", "vinegar"), studio.ForYoung, 2, false},
		{"4 % ammonia under 12", fume(4), studio.ForYoung, 1, true},
		{"sulfide under 12", wash(1, "liver-of-sulfur"), studio.ForYoung, 1, true},
		{"4 % ammonia at 12 to 17, outdoors", fume(4), studio.ForTeens, 1, false},
		{"4 % ammonia at 12 to 17, under a hood", fume(4), studio.ForTeens, 3, true},
		{"9 % ammonia at 12 to 17, outdoors", fume(9), studio.ForTeens, 1, true},
		{"9 % ammonia, adults, under a hood", fume(9), studio.ForAdults, 3, false},
		{"9 % ammonia, adults, in a shed", fume(9), studio.ForAdults, 2, true},
		{"9 % ammonia, adults, nobody said where", fume(9), studio.ForAdults, 0, true},
		{"9 % ammonia, my own bench", fume(9), studio.NoClass, 0, false},
		{"nitric acid, adults, outdoors", wash(1, "nitric-acid"), studio.ForAdults, 1, true},
	} {
		_, p := placeIn(c.room, c.class).AllowSet([]studio.Treatment{c.t, c.t}, nil, copper)
		if (p != nil) != c.stop {
			t.Errorf("%s: %v", c.what, p)
		}
		if p != nil && (p.Kind != studio.Unsafe || !strings.Contains(p.Text, "Safer: ")) {
			t.Errorf("%s: %s", c.what, p.Text)
		}
	}
}

func TestOneSwatchOfManyStopsTheSet(t *testing.T) {
	ts := []studio.Treatment{wash(1, "vinegar"), wash(2, "vinegar"), wash(3, "liver-of-sulfur", "vinegar")}
	if _, p := placeIn(0, studio.NoClass).AllowSet(ts, nil, studio.Metal{}); p == nil || !strings.Contains(p.Text, "ydrogen sulfide") {
		t.Errorf("got %v", p)
	}
	if _, p := placeIn(0, studio.NoClass).AllowSet(ts[:2], nil, studio.Metal{}); p != nil {
		t.Errorf("got %v", p)
	}
}

// X01: ammonia and bleach never share a room; X03, acid and sulfide, want benches
// apart.
func TestTheDaysWorkInOneRoom(t *testing.T) {
	ammonia := studio.Treatment{Swatch: 1, Steps: []studio.Step{{Kind: studio.Fume, Duration: 3600e9}}}
	bleach := wash(2, "bleach")
	for _, c := range []struct {
		rooms [2]int64
		stop  bool
	}{{[2]int64{1, 1}, true}, {[2]int64{1, 2}, false}, {[2]int64{0, 2}, true}, {[2]int64{0, 0}, true}} {
		_, p := Day([]Work{{ammonia, c.rooms[0]}, {bleach, c.rooms[1]}}, nil)
		if (p != nil) != c.stop {
			t.Errorf("rooms %v: %v", c.rooms, p)
		}
		if p != nil && (!strings.HasPrefix(p.Text, "Not in one room on one day.") || !strings.Contains(p.Text, "hloramine")) {
			t.Errorf("rooms %v: %s", c.rooms, p.Text)
		}
	}
	clashes, p := Day([]Work{{wash(1, "vinegar"), 1}, {wash(2, "liver-of-sulfur"), 1}}, nil)
	if p != nil || len(clashes) == 0 || clashes[0].ID != "X03" || clashes[0].Level != matter.Care {
		t.Errorf("acid and sulfide on two pieces: %v, %v", clashes, p)
	}
	if clashes, p := Day([]Work{{ammonia, 1}, {wash(2, "sodium-chloride"), 1}}, nil); p != nil || len(clashes) != 0 {
		t.Errorf("ammonia and salt: %v, %v", clashes, p)
	}
}

func TestPlaceInWords(t *testing.T) {
	for want, p := range map[string]Place{"": placeIn(0, ""), "Yard, outdoors": placeIn(1, ""), "Shed": placeIn(2, ""), "Workshop, under its hood, for a class of adults": placeIn(3, studio.ForAdults),
		"For a class with children under 12": placeIn(0, studio.ForYoung)} {
		if got := p.Words(); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}
