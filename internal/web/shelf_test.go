package web_test

import (
	"net/url"
	"slices"
	"testing"

	"aerugo/internal/studio"
)

func TestARefusedMetalSupplyOrChamberComesBackAsTyped(t *testing.T) {
	s := stocked(t)
	metal := func(change ...string) url.Values {
		f := url.Values{"id": {"0"}, "name": {"Brass sheet"}, "alloy": {"C26000"}, "temper": {"half hard"}, "thickness": {"0.8"}, "gauge": {"20 gauge"}, "lot": {"L7"}, "note": {"from the end"}}
		for i := 0; i+1 < len(change); i += 2 {
			f.Set(change[i], change[i+1])
		}
		return f
	}
	tomorrow := s.now().AddDate(0, 0, 1).Format("2006-01-02")
	supply := func(change ...string) url.Values {
		f := url.Values{"id": {"0"}, "name": {"Strong vinegar"}, "material": {"vinegar"}, "strength": {"10"}, "strengthunit": {"wt%"}, "lot": {"9"}, "opened": {""}, "expires": {""}, "note": {""}}
		for i := 0; i+1 < len(change); i += 2 {
			f.Set(change[i], change[i+1])
		}
		return f
	}
	chamber := func(change ...string) url.Values {
		f := url.Values{"id": {"0"}, "name": {"Tub"}, "volume": {"30"}, "padml": {"40"}, "gap": {"60"}, "tilt": {"1"}, "places": {"4"}, "pad": {"cotton"}, "note": {"cracked lid"}}
		for i := 0; i+1 < len(change); i += 2 {
			f.Set(change[i], change[i+1])
		}
		return f
	}
	for _, c := range []refusal{
		{"metal without a thickness", "/shelf/metals", metal("thickness", ""), "thickness", []string{"0.8", "20 ga"}},
		{"metal with words for a thickness", "/shelf/metals", metal("thickness", "like a coin"), "thickness", []string{`"like a coin"`, "12.5"}},
		{"a gauge outside the table", "/shelf/metals", metal("thickness", "99 ga"), "thickness", []string{"99", "mm"}},
		{"metal a hand thick", "/shelf/metals", metal("thickness", "90"), "thickness", []string{"90 mm", "0.01 to 50"}},
		{"metal without a name", "/shelf/metals", metal("name", ""), "name", []string{"name"}},
		{"supply opened tomorrow", "/shelf/supplies", supply("opened", tomorrow), "opened", []string{tomorrow, "future", "leave it empty"}},
		{"supply opened some day", "/shelf/supplies", supply("opened", "last week"), "opened", []string{`"last week"`, "2026-11-25"}},
		{"supply used by some day", "/shelf/supplies", supply("expires", "soon"), "", []string{`"soon"`, "2026-11-25"}},
		{"supply stronger than pure", "/shelf/supplies", supply("strength", "120"), "strength", []string{"120", "0 to 100"}},
		{"supply of unread strength", "/shelf/supplies", supply("strength", "strong"), "strength", []string{`"strong"`}},
		{"supply of nothing known", "/shelf/supplies", supply("material", ""), "material", []string{"Say what"}},
		{"supply without a name", "/shelf/supplies", supply("name", ""), "name", []string{"name"}},
		{"chamber of no volume", "/shelf/chambers", chamber("volume", "0"), "volume", []string{"0", "0.1 to 5000"}},
		{"chamber of a big volume", "/shelf/chambers", chamber("volume", "big"), "volume", []string{`"big"`}},
		{"chamber on end", "/shelf/chambers", chamber("tilt", "90"), "tilt", []string{"90", "0 to 45"}},
		{"chamber with half a place", "/shelf/chambers", chamber("places", "1.5"), "places", []string{`"1.5"`, "like 3"}},
		{"chamber without a place", "/shelf/chambers", chamber("places", "0"), "places", []string{"0", "1 to 500"}},
	} {
		refused(t, s.bench, c)
	}
	// a row that is there is refused and kept the same way
	was, err := s.store.Metal(t.Context(), s.metal)
	if err != nil {
		t.Fatal(err)
	}
	refused(t, s.bench, refusal{"a known metal", "/shelf/metals", metal("id", id(s.metal), "thickness", "thin"), "thickness", []string{`"thin"`}})
	if is, err := s.store.Metal(t.Context(), s.metal); err != nil || is != was {
		t.Errorf("the refused metal was %+v and is %+v (%v)", was, is, err)
	}
}

// TestAGaugeIsTakenForAThickness: 22 B&S (AWG) is 0.0253 in = 0.644 mm, 16 is
// 0.0508 in = 1.291 mm (ASTM B258, table of the American wire gauge).
func TestAGaugeIsTakenForAThickness(t *testing.T) {
	s := stocked(t)
	for typed, mm := range map[string]float64{"22 ga": 0.644, "16 gauge": 1.291, "22 AWG": 0.644, "22ga": 0.644, "0,5": 0.5} {
		s.post(t, "/shelf/metals", url.Values{"name": {"sheet " + typed}, "alloy": {"C26000"}, "thickness": {typed}}).to(t)
		metals, err := s.store.Metals(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		at := slices.IndexFunc(metals, func(m studio.Metal) bool { return m.Name == "sheet "+typed })
		if at < 0 {
			t.Errorf("%s was not kept", typed)
		} else if got := metals[at].ThicknessMM; got < mm-0.001 || got > mm+0.001 {
			t.Errorf("%s is kept as %v mm, want %v", typed, got, mm)
		}
	}
}

func TestRefusedWeighingsComeBackAsTyped(t *testing.T) {
	s := stocked(t)
	form := func(weighings, area string) url.Values {
		return url.Values{"word": {"medium"}, "material": {"ammonium-chloride"}, "state": {"solid"}, "area": {area}, "weighings": {weighings}}
	}
	hands, err := s.store.HandAmounts(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []refusal{
		{"two weighings", "/shelf/hands", form("0.12; 0.15", "25"), "", []string{"2 weighings", "at least 3"}},
		{"none", "/shelf/hands", form("", "25"), "", []string{"0 weighings", "at least 3"}},
		{"words among them", "/shelf/hands", form("0.12; little; 0.15", "25"), "", []string{`"little"`, "0.12; 0.15; 0.11"}},
		{"one of them nothing", "/shelf/hands", form("0.12; 0; 0.15", "25"), "", []string{"0", "above 0"}},
		{"a plate of no area", "/shelf/hands", form("0.12; 0.13; 0.15", "0"), "", []string{"above 0 cm²"}},
		{"words for the plate", "/shelf/hands", form("0.12; 0.13; 0.15", "small"), "", []string{`"small"`, "cm²"}},
	} {
		refused(t, s.bench, c)
	}
	if after, err := s.store.HandAmounts(t.Context()); err != nil || !slices.Equal(after, hands) {
		t.Errorf("refused weighings changed %v into %v (%v)", hands, after, err)
	}
	// 0.12, 0.15 and 0.12 g on 25 cm2 are 48, 60 and 48 g/m2: mean 52, spread 6.93
	s.post(t, "/shelf/hands", form("0.12; 0,15; 0.12", "25")).to(t)
	hands, err = s.store.HandAmounts(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	a, ok := studio.Resolve(hands, "medium", "ammonium-chloride")
	if !ok || a.Assumed || a.Value < 51.99 || a.Value > 52.01 || a.SD < 6.92 || a.SD > 6.94 || a.Unit != studio.GramPerM2 {
		t.Errorf("medium is %+v, %v", a, ok)
	}
}

func TestARefusedStartComesBackAsTyped(t *testing.T) {
	b := serve(t)
	form := func(change ...string) url.Values {
		f := url.Values{"alloy": {"C26000"}, "thickness": {"0.6"}, "volume": {"33"}, "gap": {"41"}, "places": {"7"}, "ammonia": {"10"}, "liquid": {"ammonia-water", "sodium-chloride"}}
		for i := 0; i+1 < len(change); i += 2 {
			f.Set(change[i], change[i+1])
		}
		return f
	}
	for _, c := range []refusal{
		{"words for a thickness", "/start", form("thickness", "thin"), "", []string{`"thin"`}},
		{"ammonia too strong", "/start", form("ammonia", "60"), "", []string{"60", "35"}},
		{"two and a half places", "/start", form("places", "2.5"), "", []string{`"2.5"`, "like 3"}},
		{"no room in the box", "/start", form("volume", "0"), "", []string{"0", "0.1 to 5000"}},
	} {
		refused(t, b, c)
	}
}
