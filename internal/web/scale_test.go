package web_test

import (
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"

	"aerugo/internal/studio"
)

// piece puts a piece into the store: a bowl that gets the stock's recipe on both sides.
func (s *stock) piece(t *testing.T, change func(*studio.Piece)) studio.Piece {
	t.Helper()
	x := studio.Piece{Name: "Wall bowl", MetalID: s.metal, OutsideID: s.version, SameFaces: true,
		Form: studio.Form{Kind: "dome", DimsMM: map[string]float64{"diameter": 200, "height": 80, "thickness": 0.8}, Up: [3]float64{0, 0, 1}, OutsideMM2: 51500, InsideMM2: 51000, SizeMM: [3]float64{200, 200, 80}}}
	if change != nil {
		change(&x)
	}
	kept, err := s.store.SavePiece(t.Context(), x)
	if err != nil {
		t.Fatal(err)
	}
	return kept
}

// takesVisits are the page's states.
func takesVisits(t *testing.T, s *stock, empty *bench) []visit {
	t.Helper()
	u := s.bench
	bowl, bare := s.piece(t, nil), s.piece(t, func(x *studio.Piece) { x.Name, x.OutsideID, x.SameFaces = "Bare bowl", 0, false })
	sheet := s.piece(t, func(x *studio.Piece) {
		x.Name, x.SameFaces = "Wall sheet", false
		x.Form = studio.Form{Kind: "rectangle", DimsMM: map[string]float64{"length": 400, "width": 300}, OutsideMM2: 120000, InsideMM2: 120000, SizeMM: [3]float64{400, 300, 0}}
	})
	at := func(x studio.Piece, query string) string { return fmt.Sprintf("/pieces/%d/takes%s", x.ID, query) }
	return []visit{
		{"scale", "usual", u, at(bowl, ""), nil, 200, "What it takes: Wall bowl"},
		{"scale", "flat, several", u, at(sheet, "?count=6&together=2&temp=18&colder=6&spare=20&open=yes"), nil, 200, "Wall sheet"},
		{"scale", "no recipe", u, at(bare, ""), nil, 200, "Bare bowl"},
		{"scale", "refused", u, at(bowl, "?count=many&temp=-4"), nil, 422, "Wall bowl"},
		{"scale", "no such chamber", u, at(bowl, "?chamber=99"), nil, 422, "Wall bowl"},
		{"scale", "not there", empty, "/pieces/1/takes", nil, 404, "Not here"},
	}
}

func TestTakesAreWrittenIntoThePiecesOwnRecipe(t *testing.T) {
	s := stocked(t)
	ctx := t.Context()
	big, err := s.store.SaveChamber(ctx, studio.Chamber{Name: "Large bin", VolumeL: 120, GapMM: 40, Places: 20, LengthMM: 600, WidthMM: 450, HeightMM: 400})
	if err != nil {
		t.Fatal(err)
	}
	x := s.piece(t, nil)
	path := fmt.Sprintf("/pieces/%d/takes", x.ID)
	asked := url.Values{"chamber": {id(big.ID)}, "temp": {"20"}, "count": {"2"}}
	first := s.see(t, path+"?"+asked.Encode()).doc(t).one("main").words()
	for _, want := range []string{"Have ready", "Large bin", "never logged", "vertical or curved", "Try this first", "Assumed", "2 pieces, 515 cm² outside and 510 cm² inside"} {
		if !strings.Contains(first, want) {
			t.Errorf("the page does not say %q:\n%s", want, first)
		}
	}
	s.post(t, path, asked).to(t)
	kept, err := s.store.Piece(ctx, x.ID)
	if err != nil {
		t.Fatal(err)
	}
	if kept.OutsideID == x.OutsideID || !kept.SameFaces {
		t.Fatalf("the piece still has version %d", kept.OutsideID)
	}
	own, err := s.store.Version(ctx, kept.OutsideID)
	if err != nil {
		t.Fatal(err)
	}
	recipe, err := s.store.Recipe(ctx, own.RecipeID)
	if err != nil {
		t.Fatal(err)
	}
	if recipe.Name != "Salt and fumes, for Wall bowl" {
		t.Errorf("the recipe is called %q", recipe.Name)
	}
	was, err := s.store.Version(ctx, s.version)
	if err != nil {
		t.Fatal(err)
	}
	for i, step := range own.Steps {
		if step.Kind != studio.Fume {
			continue
		}
		if step.ChamberID != big.ID || !strings.Contains(step.Note, "Pad:") || step.Duration < time.Hour {
			t.Errorf("fumed so: %+v", step)
		}
		if was.Steps[i].ChamberID != s.chamber {
			t.Error("the swatch's recipe was changed")
		}
	}
	// Reckoned again it is reckoned from the swatch's recipe, not carried twice.
	again := s.see(t, path+"?"+asked.Encode()).doc(t).one("main").words()
	if !strings.Contains(again, "written into the piece's recipe already") || strings.Contains(again, "Take these into the batch") {
		t.Errorf("the page offers it again:\n%s", again)
	}
	cut := func(page string) string {
		_, after, _ := strings.Cut(page, "Have ready")
		before, _, _ := strings.Cut(after, "Lifting the lid")
		return before
	}
	if cut(again) != cut(first) {
		t.Errorf("carried twice:\n%s\nwas\n%s", cut(again), cut(first))
	}
	if a := s.post(t, path, asked); a.code != 422 {
		t.Errorf("taken twice: %d", a.code)
	}
}

func TestTakesOfARoomThatCannotTakeItAreRefused(t *testing.T) {
	s := stocked(t)
	ctx := t.Context()
	room, err := s.store.SaveRoom(ctx, studio.Room{Name: "Kitchen", VolumeM3: 8, ACH: 0.5, Mixing: 3})
	if err != nil {
		t.Fatal(err)
	}
	c, err := s.store.Chamber(ctx, s.chamber)
	if err != nil {
		t.Fatal(err)
	}
	c.RoomID = room.ID
	if _, err := s.store.SaveChamber(ctx, c); err != nil {
		t.Fatal(err)
	}
	x := s.piece(t, nil)
	path := fmt.Sprintf("/pieces/%d/takes", x.ID)
	page := s.see(t, path).doc(t).one("main").words()
	if !strings.Contains(page, "Not in this room") || strings.Contains(page, "Take these") || strings.Contains(page, "Ammonia for the pad") {
		t.Errorf("not refused:\n%s", page)
	}
	if a := s.post(t, path, url.Values{}); a.code != 422 {
		t.Errorf("taken all the same: %d", a.code)
	}
	if kept, err := s.store.Piece(ctx, x.ID); err != nil || kept.OutsideID != x.OutsideID {
		t.Errorf("the piece was changed: %+v, %v", kept, err)
	}
	page = s.see(t, path+"?open=yes").doc(t).one("main").words()
	if strings.Contains(page, "Not in this room") || !strings.Contains(page, "Only under the hood") {
		t.Errorf("under a hood:\n%s", page)
	}
}

// A recipe laid over another is carried with what lies below it.
func TestOverlaysAreCarriedWithTheirGround(t *testing.T) {
	s := stocked(t)
	ctx := t.Context()
	base, err := s.store.Version(ctx, s.version)
	if err != nil {
		t.Fatal(err)
	}
	over, err := s.store.AddRecipe(ctx, studio.Recipe{Name: "Second coat"}, studio.Version{Steps: base.Steps, OverID: base.ID, Over: studio.OverDry})
	if err != nil {
		t.Fatal(err)
	}
	x := s.piece(t, func(x *studio.Piece) { x.OutsideID = over.Latest.ID })
	s.post(t, fmt.Sprintf("/pieces/%d/takes", x.ID), url.Values{}).to(t)
	kept, err := s.store.Piece(ctx, x.ID)
	if err != nil {
		t.Fatal(err)
	}
	top, err := s.store.Version(ctx, kept.OutsideID)
	if err != nil {
		t.Fatal(err)
	}
	ground, err := s.store.Version(ctx, top.OverID)
	if err != nil {
		t.Fatal(err)
	}
	if top.Over != studio.OverDry || ground.ID == base.ID || !strings.Contains(ground.Why, fmt.Sprintf("no. %d ", base.ID)) || ground.OverID != 0 {
		t.Errorf("%+v over %+v", top, ground)
	}
}
