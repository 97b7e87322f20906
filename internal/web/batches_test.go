package web_test

import (
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"

	"aerugo/internal/science/colour"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// lamp keeps a piece of the stock's metal and recipe, to look like its first swatch.
func (s *stock) lamp(t testing.TB) studio.Piece {
	t.Helper()
	p, err := s.store.SavePiece(t.Context(), studio.Piece{Name: "Wall lamp", MetalID: s.metal, OutsideID: s.version, SameFaces: true, Reference: s.planned[0].Swatch,
		Form: studio.Form{Kind: "dome", DimsMM: map[string]float64{"diameter": 120, "height": 40}, Up: [3]float64{0, 0, 1}, OutsideMM2: 12000, InsideMM2: 11500, SheetMM2: 13000, SizeMM: [3]float64{120, 120, 40}, By: "typed"}})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// batchOf makes a batch of a piece and returns it with its pieces.
func (s *stock) batchOf(t testing.TB, piece int64, more ...string) (studio.Set, []studio.Swatch) {
	t.Helper()
	f := url.Values{"name": {"Six lamps"}, "pieces": {"5"}, "spares": {"1"}, "chamber": {id(s.chamber)}, "seed": {"7"}, "do": {"make"}}
	for i := 0; i+1 < len(more); i += 2 {
		f.Set(more[i], more[i+1])
	}
	to := s.post(t, fmt.Sprintf("/pieces/%d/batches", piece), f).to(t)
	var n int64
	if _, err := fmt.Sscanf(to, "/batches/%d", &n); err != nil {
		t.Fatalf("the batch leads to %q", to)
	}
	set, err := s.store.Set(t.Context(), n)
	if err != nil {
		t.Fatal(err)
	}
	made, err := s.store.SwatchesOf(t.Context(), n)
	if err != nil {
		t.Fatal(err)
	}
	return set, made
}

// measured photographs a front with its grey card and reads it.
func (s *stock) measured(t *testing.T, swatch int64, n int) {
	t.Helper()
	photo, marks := s.photograph(t, swatch, studio.Front, n)
	s.post(t, fmt.Sprintf("/photos/%d/measure", photo), marksForm(marks, true)).to(t)
}

func batchVisits(t *testing.T, empty *bench) []visit {
	t.Helper()
	s := stocked(t)
	b := s.bench
	lamp := s.lamp(t)
	set, made := s.batchOf(t, lamp.ID)
	s.measured(t, lamp.Reference, 0)
	s.measured(t, made[0].Number, 0)
	bare, err := s.store.SavePiece(t.Context(), studio.Piece{Name: "No recipe", Form: studio.Form{Kind: "disc", DimsMM: map[string]float64{"diameter": 10}, OutsideMM2: 100, SizeMM: [3]float64{10, 10, 1}}})
	if err != nil {
		t.Fatal(err)
	}
	of := func(format string, args ...any) string { return fmt.Sprintf(format, args...) }
	ask := func(more ...string) url.Values {
		f := url.Values{"name": {"Lamps"}, "pieces": {"30"}, "seed": {"7"}, "chamber": {id(s.chamber)}, "do": {"see"}, "width": {"120"}, "height": {"120"}, "disc": {"128"}, "kerf": {"1"}, "edge": {"5"}, "sheetw": {"1000"}, "sheeth": {"600"}}
		for i := 0; i+1 < len(more); i += 2 {
			f.Set(more[i], more[i+1])
		}
		return f
	}
	verdict := func(more ...string) url.Values {
		f := url.Values{"client": {"k"}, "piece": {id(made[1].Number)}, "verdict": {"reject"}, "who": {"Ana"}, "why": {""}}
		for i := 0; i+1 < len(more); i += 2 {
			f.Set(more[i], more[i+1])
		}
		return f
	}
	return []visit{
		{"batch_new", "usual", b, of("/pieces/%d/batches/new", lamp.ID), nil, 200, "A batch of Wall lamp"},
		{"batch_new", "shown", b, of("/pieces/%d/batches", lamp.ID), ask(), 200, "A batch of Wall lamp"},
		{"batch_new", "refused", b, of("/pieces/%d/batches", lamp.ID), ask("pieces", "many", "sheetw", "small"), 422, "A batch of Wall lamp"},
		{"batch_new", "too many", b, of("/pieces/%d/batches", lamp.ID), ask("pieces", "190"), 422, "A batch of Wall lamp"},
		{"batch_new", "sheet too small", b, of("/pieces/%d/batches", lamp.ID), ask("sheetw", "50"), 422, "A batch of Wall lamp"},
		{"batch_new", "no recipe", b, of("/pieces/%d/batches", bare.ID), ask(), 409, "A batch of No recipe"},
		{"batch_new", "not there", empty, "/pieces/1/batches/new", nil, 404, "Not here"},
		{"batch", "usual", b, of("/batches/%d", set.ID), nil, 200, "Six lamps"},
		{"batch", "some of them", b, of("/batches/%d?which=first%%2C+middle+and+last", set.ID), nil, 200, "Six lamps"},
		{"batch", "laid out", b, of("/batches/%d?width=120&height=120&disc=128&sheetw=400&sheeth=300&kerf=1&edge=5", set.ID), nil, 200, "Six lamps"},
		{"batch", "refused", b, of("/batches/%d/verdicts", set.ID), verdict(), 422, "Six lamps"},
		{"batch", "no batch", b, of("/batches/%d", s.set), nil, 404, "Not here"},
		{"batch", "piece of another", b, of("/batches/%d/verdicts", set.ID), verdict("piece", id(s.blank)), 404, "Not here"},
	}
}

// batchPages are the addresses of batches of the example.
func batchPages(t *testing.T, b *bench) []string {
	t.Helper()
	ctx := t.Context()
	recipes, err := b.store.Recipes(ctx)
	if err != nil {
		t.Fatal(err)
	}
	metals, err := b.store.Metals(ctx)
	if err != nil {
		t.Fatal(err)
	}
	p, err := b.store.SavePiece(ctx, studio.Piece{Name: "Wall lamp in a batch", MetalID: metals[0].ID, OutsideID: recipes[0].Latest.ID, SameFaces: true, Reference: 1,
		Form: studio.Form{Kind: "dome", DimsMM: map[string]float64{"diameter": 120, "height": 40}, Up: [3]float64{0, 0, 1}, OutsideMM2: 12000, InsideMM2: 11500, SizeMM: [3]float64{120, 120, 40}}})
	if err != nil {
		t.Fatal(err)
	}
	one := store.NewSwatch{Swatch: studio.Swatch{MetalID: metals[0].ID, WidthMM: 120, HeightMM: 120, OutsideMM2: 12000, InsideMM2: 11500}}
	set, made, err := b.store.AddSet(ctx, studio.Set{Name: "Lamps", Shape: studio.Loose, Replicates: 1, MetalID: metals[0].ID, PieceID: p.ID, FrontID: p.OutsideID, WidthMM: 120, HeightMM: 120}, []store.NewSwatch{one, one})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := b.store.AddVerdict(ctx, studio.Verdict{Client: "example" + id(made[0].Number), Swatch: made[0].Number, Outcome: studio.Reworked, Why: "a drop ran", By: "Ana", At: b.now()}); err != nil {
		t.Fatal(err)
	}
	return []string{fmt.Sprintf("/pieces/%d/batches/new", p.ID), fmt.Sprintf("/batches/%d?which=first%%2C+middle+and+last&sheetw=400&sheeth=300&width=120&height=120", set.ID)}
}

func TestBatchIsMadeByTheRulesOfSets(t *testing.T) {
	s := stocked(t)
	lamp := s.lamp(t)
	set, made := s.batchOf(t, lamp.ID, "pieces", "8", "spares", "2")
	if set.PieceID != lamp.ID || set.Shape != studio.Loose || set.FrontID != s.version || !set.SameFaces || len(made) != 10 {
		t.Fatalf("%+v, %d pieces", set, len(made))
	}
	if x := made[9]; x.OutsideMM2 != 12000 || x.InsideMM2 != 11500 || x.WidthMM != 120 || x.Blank {
		t.Errorf("%+v", x)
	}
	ts, err := s.store.Treatments(t.Context(), store.TreatmentFilter{Set: set.ID})
	if err != nil {
		t.Fatal(err)
	}
	blocks := map[int]int{}
	for _, x := range ts {
		blocks[x.Block]++
	}
	if len(ts) != 10 || blocks[1] != 6 || blocks[2] != 4 { // the stock's chamber has six places
		t.Errorf("%d treatments in fillings %v", len(ts), blocks)
	}
	bad := lamp
	bad.ID, bad.Name = 0, "Against the rules"
	steps := studio.Version{Steps: []studio.Step{{Kind: studio.Fume, SupplyID: s.nitrate, Material: "bleach", Duration: time.Hour, ChamberID: s.chamber}, {Kind: studio.Fume, SupplyID: s.ammonia, Material: "ammonia-water", Duration: time.Hour, ChamberID: s.chamber}}}
	steps.Steps[0].SupplyID = 0
	r, err := s.store.AddRecipe(t.Context(), studio.Recipe{Name: "Bleach and ammonia"}, steps)
	if err != nil {
		t.Fatal(err)
	}
	bad.OutsideID = r.Latest.ID
	if bad, err = s.store.SavePiece(t.Context(), bad); err != nil {
		t.Fatal(err)
	}
	a := s.post(t, fmt.Sprintf("/pieces/%d/batches", bad.ID), url.Values{"name": {"Never"}, "pieces": {"2"}, "do": {"make"}})
	if a.code != 422 {
		t.Errorf("bleach and ammonia: status %d, %s", a.code, a.problem())
	}
	if sets, _ := s.store.Batches(t.Context(), bad.ID); len(sets) != 0 {
		t.Error("a batch that must not be was kept")
	}
}

func TestVerdictsMakeTheYieldOfAPiece(t *testing.T) {
	s := stocked(t)
	lamp := s.lamp(t)
	set, made := s.batchOf(t, lamp.ID)
	give := func(i int, verdict, why string) answer {
		return s.post(t, fmt.Sprintf("/batches/%d/verdicts", set.ID), url.Values{"client": {fmt.Sprint("v", i, verdict)}, "piece": {id(made[i].Number)}, "verdict": {verdict}, "who": {"Ana"}, "why": {why}})
	}
	for i := range 4 {
		give(i, "accept", "").to(t)
	}
	give(4, "rework", "a drop ran").to(t)
	give(4, "reject", "ran again").to(t)
	page := s.see(t, fmt.Sprintf("/batches/%d", set.ID)).doc(t).one("main").words()
	for _, want := range []string{"4 of 5 good", "4 accepted, 1 rejected", "ran again", "rework by Ana"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not say %q: %.1500s", want, page)
		}
	}
	next := s.see(t, fmt.Sprintf("/pieces/%d/batches/new", lamp.ID)).doc(t).one("main").words()
	if !strings.Contains(next, "4 of 5 good") {
		t.Errorf("the next batch knows nothing of the yield: %.800s", next)
	}
	if a := s.see(t, fmt.Sprintf("/batches/%d/cutting.pdf?sheetw=400&sheeth=300&width=120&height=120&kerf=1&edge=5", set.ID)); a.code != 200 || !strings.HasPrefix(string(a.body), "%PDF") {
		t.Errorf("the cutting list: status %d", a.code)
	}
	if a := s.see(t, fmt.Sprintf("/batches/%d/cutting.pdf?sheetw=400", set.ID)); a.code != 422 {
		t.Errorf("a cutting list without a sheet: status %d", a.code)
	}
}

// A batch is planned in the browser, photographed, judged beside its reference, and
// accepted.
func TestSixPiecesFromPhotographsToAccepted(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	lamp := s.lamp(t)
	for _, width := range []int{1280, 390} {
		tb := open(t, s.url, "batch", width)
		tb.visit(fmt.Sprintf("/pieces/%d/batches/new", lamp.ID))
		tb.fill("pieces", "5")
		tb.fill("spares", "1")
		tb.pressThrough("Show the batch")
		tb.shot("shown")
		tb.pressThrough("Make it")
		var n int64
		if _, err := fmt.Sscanf(js[string](tb, `location.pathname`), "/batches/%d", &n); err != nil {
			t.Fatal(err)
		}
		made, err := s.store.SwatchesOf(t.Context(), n)
		if err != nil || len(made) != 6 {
			t.Fatalf("%d pieces, %v", len(made), err)
		}
		if width == 390 {
			tb.shot("made")
			continue
		}
		s.measured(t, lamp.Reference, 0)
		for i, x := range made {
			s.measured(t, x.Number, i%2)
		}
		tb.visit(fmt.Sprintf("/batches/%d", n))
		if got := js[int](tb, `[...document.querySelectorAll('.batch li')].filter(l => /Accept\.|Look yourself\.|Reject\./.test(l.innerText) && /Judged from two photographs/.test(l.innerText)).length`); got != 6 {
			t.Errorf("%d of 6 pieces are judged: %s", got, js[string](tb, `document.querySelector('main').innerText.slice(0, 2500)`))
		}
		if low := js[float64](tb, `Math.min(...[...document.querySelectorAll('.verdict button')].map(b => b.getBoundingClientRect().height))`); low < 48 {
			t.Errorf("a verdict's button is %v px high, want 48", low)
		}
		tb.shot("measured")
		for _, x := range made {
			form := fmt.Sprintf(`document.querySelector('#piece-%d .verdict')`, x.Number)
			js[bool](tb, form+`.querySelector('[name=who]').value = 'Ana', true`)
			if _, led := tb.tap("the verdict", form+`.querySelector('[value=accept]')`); !led {
				t.Fatalf("the verdict on %d is not sent", x.Number)
			}
		}
		tb.wait("the yield", `document.querySelector('main').innerText.includes('6 of 6 good')`)
		tb.shot("accepted")
	}
}

// Twelve pieces are made one after the other; the pad is charged afresh, from another
// bottle, after the seventh, and from the eighth on they are bluer.
func TestDriftIsShownWithWhatChangedThere(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	ctx := t.Context()
	lamp := s.lamp(t)
	set, _ := s.batchOf(t, lamp.ID, "pieces", "12", "spares", "0")
	ts, err := s.store.Treatments(ctx, store.TreatmentFilter{Set: set.ID})
	if err != nil {
		t.Fatal(err)
	}
	var bottles []int64
	for _, lot := range []string{"A7", "B2"} {
		x, err := s.store.SaveSupply(ctx, studio.Supply{Name: "Ammonia " + lot, Material: "ammonia-water", Strength: 9, StrengthUnit: studio.WtPercent, Lot: lot})
		if err != nil {
			t.Fatal(err)
		}
		bottles = append(bottles, x.ID)
	}
	s.measured(t, lamp.Reference, 0)
	for i, x := range ts {
		if i == 0 || i == 7 {
			_, err := s.store.AddChamberLog(ctx, studio.ChamberLog{Chamber: s.chamber, Client: fmt.Sprint("pad", i), Kind: studio.PadCharged, At: s.now(), By: "Ana", SupplyID: bottles[min(i, 1)], Strength: 9, SolutionG: 60})
			if err != nil {
				t.Fatal(err)
			}
		}
		s.pass(30 * time.Minute)
		if _, err := s.store.AddEvents(ctx, []studio.Event{{Treatment: x.ID, Client: fmt.Sprint("begin", i), Kind: studio.Began, At: s.now(), By: "Ana"}}); err != nil {
			t.Fatal(err)
		}
		photo, _ := s.photograph(t, x.Swatch, studio.Front, i%2)
		m := studio.Measurement{Photo: photo, Method: "m2", Calibrated: true, Lab: colour.Lab{L: 50 + 0.3*float64(i%3), A: -20 - 0.3*float64(i%2), B: 5 + 0.4*float64(i*i%3)}, Name: "green"}
		if i >= 7 {
			m.Lab.B -= 9
		}
		if _, err := s.store.AddMeasurement(ctx, m); err != nil {
			t.Fatal(err)
		}
	}
	tb := open(t, s.url, "drift", 1280)
	tb.visit(fmt.Sprintf("/batches/%d", set.ID))
	page := js[string](tb, `document.querySelector('main').innerText`)
	for _, want := range []string{"The batch drifts", "From about piece 8 on, the pieces are bluer", "Liquid on the pad: mostly lot A7 before, lot B2 after.", "a coincidence in time, not proof", "Reject."} {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not say %q: %.1500s", want, page)
		}
	}
	if strings.Contains(page, "Who began it") || strings.Contains(page, "Room:") {
		t.Errorf("what stayed the same is named: %.900s", page)
	}
	if got := js[int](tb, `document.querySelectorAll('.charts svg').length`); got < 2 {
		t.Errorf("%d charts are drawn", got)
	}
	js[bool](tb, `document.querySelectorAll('img').forEach(i => i.loading = 'eager') || true`)
	tb.wait("the pictures", `[...document.images].every(i => i.complete)`)
	tb.shot("drift")
	for _, x := range tb.violations() {
		t.Error(x)
	}
	narrow := open(t, s.url, "drift", 390)
	narrow.visit(fmt.Sprintf("/batches/%d?which=every+k-th&every=4", set.ID))
	if page := js[string](narrow, `document.querySelector('main').innerText`); !strings.Contains(page, "A single bad piece would be missed 75 times in 100") {
		t.Errorf("nothing says what three of twelve can promise: %.900s", page)
	}
	narrow.shot("drift")
	for _, x := range narrow.violations() {
		t.Error(x)
	}
}

// One photograph of piece and reference is believed more than two: the same two colours
// are then told apart or called alike, not left to the eye.
func TestOneMatDecidesWhatTwoPhotographsCannot(t *testing.T) {
	s := stocked(t)
	ctx := t.Context()
	lamp := s.lamp(t)
	set, made := s.batchOf(t, lamp.ID)
	data, _ := sample(1, studio.Front, 0)
	shot := func(n int64, client string, at time.Time) studio.Photo {
		return studio.Photo{Swatch: n, Face: studio.Front, Moment: studio.Finished, Client: client, Format: "JPEG", Width: 640, Height: 480, Taken: at}
	}
	at := s.now().Add(-time.Hour)
	read := func(photo int64, x float64, lab colour.Lab) {
		corners := [4]studio.Point{{X: x, Y: 10}, {X: x + 100, Y: 10}, {X: x + 100, Y: 110}, {X: x, Y: 110}}
		grey := studio.Rect{X: 300, Y: 300, W: 20, H: 20}
		if _, err := s.store.AddMeasurement(ctx, studio.Measurement{Photo: photo, Method: "m2", Calibrated: true, Marks: studio.Marks{Corners: &corners, Grey: &grey}, Lab: lab, Name: "green"}); err != nil {
			t.Fatal(err)
		}
	}
	both, _, err := s.store.AddPhotos(ctx, []studio.Photo{shot(made[0].Number, "a", at), shot(lamp.Reference, "b", at)}, data)
	if err != nil {
		t.Fatal(err)
	}
	read(both[0].ID, 200, colour.Lab{L: 50, A: -20, B: 6})
	read(both[1].ID, 20, colour.Lab{L: 50, A: -20, B: 5})
	other, _ := sample(1, studio.Front, 1)
	alone, _, err := s.store.AddPhoto(ctx, shot(made[1].Number, "c", at), other)
	if err != nil {
		t.Fatal(err)
	}
	read(alone.ID, 200, colour.Lab{L: 50, A: -20, B: 6})
	page := func(i int) string {
		return s.see(t, fmt.Sprintf("/batches/%d", set.ID)).doc(t).one(fmt.Sprintf("#piece-%d", made[i].Number)).words()
	}
	if got := page(0); !strings.Contains(got, "Accept. Like the reference") || !strings.Contains(got, "in one photograph with the reference") {
		t.Errorf("on one mat: %s", got)
	}
	if got := page(1); !strings.Contains(got, "Look yourself.") || !strings.Contains(got, "from two photographs") {
		t.Errorf("from two photographs: %s", got)
	}
}
