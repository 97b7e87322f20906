package web_test

import (
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"

	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// photographTurned measures a second photograph of the first swatch's front.
func photographTurned(t *testing.T, s *stock) int64 {
	t.Helper()
	id, marks := s.photograph(t, s.planned[0].Swatch, studio.Front, 7)
	s.post(t, fmt.Sprintf("/photos/%d/measure", id), marksForm(marks, true)).to(t)
	return id
}

// wetSet plans a set whose recipe sprays a face in a chamber, and then dries it.
func wetSet(t *testing.T, s *stock) (recipe, set int64) {
	t.Helper()
	steps := []studio.Step{{Kind: studio.Wet, Material: "water", Amount: studio.Amount{Value: 100, Unit: studio.GramPerM2}},
		{Kind: studio.Fume, Material: "ammonia-water", SupplyID: s.ammonia, ChamberID: s.chamber, Duration: 2 * time.Hour}, {Kind: studio.Rinse}, {Kind: studio.Dry, Duration: 10 * time.Minute}}
	r, err := s.store.AddRecipe(t.Context(), studio.Recipe{Name: "Wet and fumes"}, studio.Version{Steps: steps})
	if err != nil {
		t.Fatal(err)
	}
	return r.ID, s.plan(t, s.setForm(map[string][]string{"front": {id(r.Latest.ID)}, "step0": {"1"}, "do": {"make"}}))
}

// Water of 100 g/m² beads on copper that was not degreased; in a chamber that is
// tilted by 6° it runs, since a puddle 2.7 mm high (de Gennes, Brochard-Wyart and
// Quéré 2004, 60° contact) does so over 50 mm at 3.1°.
func TestLiquidIsJudgedByTheTiltKeptWithTheChamber(t *testing.T) {
	s := stocked(t)
	recipe, set := wetSet(t, s)
	paths := []string{fmt.Sprintf("/sets/%d", set), fmt.Sprintf("/recipes/%d", recipe)}
	for _, path := range paths {
		text := s.see(t, path).doc(t).one("details.staying").words()
		for _, want := range []string{"Not everywhere", "It draws into islands", "assumed level", "Level within"} {
			if !strings.Contains(text, want) {
				t.Errorf("%s does not say %q: %s", path, want, text)
			}
		}
	}
	level := fmt.Sprintf("/chambers/%d/level", s.chamber)
	if text := s.see(t, level).doc(t).one("main").words(); !strings.Contains(text, "Nobody measured a tilt: assumed level") {
		t.Errorf("the level page says: %s", text)
	}
	to := s.post(t, level, url.Values{"tilt": {"6,0"}}).to(t)
	if text := s.see(t, to).doc(t).one(".said").words(); !strings.Contains(text, "kept as tilted by 6°") || !strings.Contains(text, "shim the low side") {
		t.Errorf("having kept the tilt it says %q", text)
	}
	if c, err := s.store.Chamber(t.Context(), s.chamber); err != nil || c.TiltDeg != 6 {
		t.Errorf("kept %v, %v", c.TiltDeg, err)
	}
	for _, path := range paths {
		if text := s.see(t, path).doc(t).one("details.staying").words(); !strings.Contains(text, "It runs to the low side") || !strings.Contains(text, "Level the face to within") {
			t.Errorf("tilted, %s says: %s", path, text)
		}
	}
	for _, bad := range []string{"", "steep", "46", "-1"} {
		a := s.post(t, level, url.Values{"tilt": {bad}})
		if a.code != 422 || a.doc(t).one(".wrong") == nil {
			t.Errorf("a tilt of %q: %d, %q", bad, a.code, a.problem())
		}
	}
	if c, _ := s.store.Chamber(t.Context(), s.chamber); c.TiltDeg != 6 {
		t.Errorf("a refused tilt was kept: %v", c.TiltDeg)
	}
}

// A rinsed face dries in half an hour in a room at half humidity, and not at all
// where the air is full; the room is what the last tap said.
func TestDryingIsToldByTheRoomAsRead(t *testing.T) {
	s := stocked(t)
	_, set := wetSet(t, s)
	all, err := s.store.Treatments(t.Context(), store.TreatmentFilter{Set: set})
	if err != nil || len(all) == 0 {
		t.Fatalf("%d treatments, %v", len(all), err)
	}
	first := all[0]
	s.begin(t, "go", first.ID).to(t)
	swatch := fmt.Sprintf("/swatches/%d", first.Swatch)
	dry := len(first.Steps) - 1
	for step := range dry {
		if step == dry-1 {
			if text := s.see(t, swatch).doc(t).one(".dries").words(); !strings.Contains(text, "Will take about 30 min to dry") {
				t.Errorf("ahead of drying: %s", text)
			}
		}
		s.post(t, "/taps", url.Values{"client": {fmt.Sprint("s", step)}, "kind": {"done"}, "of": {fmt.Sprintf("%d:%d", first.ID, step)}}).to(t)
	}
	today := func() string { return s.see(t, "/").doc(t).one(".task").words() }
	if text := today(); !strings.Contains(text, "Dry by about") || !strings.Contains(text, "50 % humidity (assumed)") || !strings.Contains(text, "Read the room") || !strings.Contains(text, "10 min of the recipe are too short") {
		t.Errorf("the room not read: %s", text)
	}
	s.post(t, "/taps", url.Values{"client": {"r"}, "kind": {"noted"}, "of": {fmt.Sprintf("%d:%d", first.ID, dry)}, "temp": {"18"}, "rh": {"100"}}).to(t)
	if text := today(); !strings.Contains(text, "Will not dry today") || !strings.Contains(text, "18 °C, 100 % humidity") || strings.Contains(text, "assumed") {
		t.Errorf("in full air: %s", text)
	}
	if text := s.see(t, swatch).doc(t).one(".dries").words(); !strings.Contains(text, "Will not dry today") {
		t.Errorf("the swatch's page: %s", text)
	}
}

// The test of turning the piece is read from two photographs of one face.
func TestTurnedPieceIsAnsweredFromTwoPhotographs(t *testing.T) {
	s, photos := lived(t)
	turned := photographTurned(t, s)
	page := fmt.Sprintf("/swatches/%d/front/pooling", s.planned[0].Swatch)
	doc := s.see(t, fmt.Sprintf("%s?before=%d&after=%d&turned=180", page, photos[0], turned)).doc(t)
	text := doc.one("[role=status].panel").words()
	if !strings.Contains(text, "A cause below 0.05 is ruled out") {
		t.Errorf("the answer is %q", text)
	}
	if !strings.Contains(text, "dried can’t move") {
		t.Errorf("both are filed as finished, and nothing says that a dry pool can't move: %q", text)
	}
	if n := len(doc.all("figure img")); n != 2 {
		t.Errorf("%d pictures stand beside the answer, want both", n)
	}
	for _, bad := range []string{fmt.Sprintf("before=%d&after=%[1]d", turned), fmt.Sprintf("before=%d&after=99", turned), fmt.Sprintf("before=%d&after=%d&turned=9999", photos[0], turned), "low=north"} {
		a := s.see(t, page+"?"+bad)
		if a.code != 422 || a.doc(t).one(".wrong, .problem") == nil {
			t.Errorf("%s: %d", bad, a.code)
		}
	}
	if text := s.see(t, fmt.Sprintf("/swatches/%d", s.planned[0].Swatch)).doc(t).one("#pool-front"); text == nil {
		t.Error("the swatch's page does not say where it gathered")
	}
}
