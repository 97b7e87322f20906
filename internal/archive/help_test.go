package archive

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"

	"aerugo/internal/science/colour"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

var ctx = context.Background()

var noon = time.Date(2026, 3, 14, 12, 0, 0, 0, time.UTC)

func openAt(t testing.TB, dir string, now time.Time) *store.Store {
	t.Helper()
	s, err := store.Open(ctx, dir, store.Options{Now: func() time.Time { return now }})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func fresh(t testing.TB) *store.Store { return openAt(t, t.TempDir(), noon) }

func ok(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func wantProblem(t testing.TB, err error, kind studio.Kind, says string) {
	t.Helper()
	p := studio.ProblemIn(err)
	if p == nil || p.Kind != kind || !strings.Contains(p.Text, says) {
		t.Errorf("got error %v\nwant a Problem of kind %d saying %q", err, kind, says)
	}
}

// filled returns a studio that uses everything an archive can hold.
func filled(t testing.TB) *store.Store {
	t.Helper()
	s := fresh(t)
	metal, err := s.SaveMetal(ctx, studio.Metal{Name: "=Brass <&> \u2028 Blech", Alloy: "C26000", ThicknessMM: 0.8})
	ok(t, err)
	salt, err := s.SaveSupply(ctx, studio.Supply{Name: "Salt", Material: "sodium-chloride", Strength: 100, StrengthUnit: studio.Pure, Opened: noon, Invented: true})
	ok(t, err)
	chamber, err := s.SaveChamber(ctx, studio.Chamber{Name: "Box", VolumeL: 20.25, Places: 6, GapMM: 40, LengthMM: 420.5, WidthMM: 300, HeightMM: 180})
	ok(t, err)
	ok(t, s.SaveHandAmount(ctx, studio.HandAmount{Word: studio.Light, Material: "water", Mean: 38.5, SD: 4, Unit: studio.MLPerM2, N: 10}))
	steps := []studio.Step{
		{Kind: studio.Sprinkle, SupplyID: salt.ID, Amount: studio.Amount{Value: 11, SD: 4, Unit: studio.GramPerM2, Hand: studio.Light, Assumed: true}},
		{Kind: studio.Fume, Duration: 4 * time.Hour, Late: time.Minute, ChamberID: chamber.ID, Note: "-lid shut"},
	}
	base, err := s.AddRecipe(ctx, studio.Recipe{Name: "@Base"}, studio.Version{Steps: steps})
	ok(t, err)
	_, err = s.AddVersion(ctx, base.ID, studio.Version{Steps: append(steps[:1:1], studio.Step{Kind: studio.Wet, Material: "vinegar", Also: []studio.Part{{Material: "ammonium-chloride", Strength: 4.75}}}), Source: "R27", OverID: base.Latest.ID, Over: studio.OverWet, Why: "less"})
	ok(t, err)
	set := studio.Set{Name: "+How long", Shape: studio.Grid, Seed: 1<<64 - 1, MetalID: metal.ID, WidthMM: 50, HeightMM: 70, ChamberID: chamber.ID, FrontID: base.Latest.ID,
		Factors: []studio.Factor{{Name: "fuming", Kind: studio.ByMinutes, Step: 1, Levels: []studio.Level{{Label: "2 h", Number: 120.5}}}}}
	var pieces []store.NewSwatch
	for i := range 4 {
		pieces = append(pieces, store.NewSwatch{Swatch: studio.Swatch{MetalID: metal.ID, WidthMM: 50, HeightMM: 70, Blank: i == 3, Note: "\"quoted\",\nand more"},
			Treatments: []studio.Treatment{{Faces: studio.OnBoth, Layer: 1, VersionID: base.Latest.ID, Steps: steps, Order: i, Replicate: 1,
				Settings: []studio.Setting{{Factor: "fuming", Kind: studio.ByMinutes, Level: studio.Level{Label: "2 h", Number: 120.5}},
					{Factor: "-wetting", Kind: studio.ByWetting, Level: studio.Level{Label: "=wet", Yes: true}}}}}})
	}
	_, swatches, err := s.AddSet(ctx, set, pieces)
	ok(t, err)
	ts, err := s.Treatments(ctx, store.TreatmentFilter{})
	ok(t, err)
	warm, damp := -2.5, 0.5
	events, err := s.AddEvents(ctx, []studio.Event{
		{Treatment: ts[0].ID, Client: "a", Kind: studio.Began, At: noon.Add(-time.Hour), By: "Ann", TempC: &warm, RH: &damp},
		{Treatment: ts[0].ID, Client: "b", Kind: studio.Changed, At: noon, Amount: &studio.Amount{Value: 30, Unit: studio.GramPerM2}, Note: "=too much"},
	})
	ok(t, err)
	_, err = s.AddEvents(ctx, []studio.Event{{Treatment: ts[0].ID, Client: "c", Kind: studio.Voided, At: noon, Corrects: events[1].ID}})
	ok(t, err)
	for i, format := range []string{"JPEG", "PNG", "WebP", "HEIC"} {
		data := make([]byte, 3000)
		rand.Read(data)
		p, _, err := s.AddPhoto(ctx, studio.Photo{Swatch: swatches[i].Number, Face: studio.Front, Moment: studio.Finished, Salted: i == 3, ThroughLid: i == 2, Taken: noon, Format: format, Width: 40, Height: 30}, data)
		ok(t, err)
		if i == 0 {
			for range 2 {
				_, err = s.AddMeasurement(ctx, studio.Measurement{Photo: p.ID, Method: "mean 1", Lab: colour.Lab{L: 50.1, A: -12.25, B: 3}, Name: "green", Warnings: []string{"a <b>"},
					Marks: studio.Marks{Grey: &studio.Rect{W: 2, H: 3}}, Palette: []studio.PaletteEntry{{Share: 1, Name: "green"}}, Coverage: &studio.Coverage{Value: 0.5, Low: 0.4, High: 0.6, Rule: "r"}})
				ok(t, err)
			}
			p.Note = "put right"
			ok(t, s.UpdatePhoto(ctx, p))
			grey := [3]float64{0.16, 0.15, 0.125}
			_, err = s.AddSetup(ctx, studio.Setup{Name: "=Phone by the window", Lamp: "overcast", Kind: studio.ByTarget, Target: "24 patches", Photo: p.ID, Taken: noon, Fit: `{"method":"m"}`, Method: "m", LOOMean: 3.5, LOOP95: 8.25, Grey: &grey})
			ok(t, err)
			_, err = s.AddTargetFile(ctx, studio.TargetFile{Name: "Mine", Text: "CGATS.17\n\"quoted\"\n"})
			ok(t, err)
			_, err = s.AddMatPrint(ctx, studio.MatPrint{Paper: "A4", Swatches: 2, Printed: noon, RulerMM: 99.25})
			ok(t, err)
			bare, err := s.AddBareReference(ctx, studio.BareReference{Metal: metal.ID, Photo: p.ID, Of: "swatch 1 front", Method: "m1", Lab: colour.Lab{L: 62, A: 21.5, B: 22}, Cov: studio.Spread{1, 0.25, -0.5, 2, 0, 3}, N: 900, SpreadDE: 2.5, Corrected: "grey card", Whole: true})
			ok(t, err)
			rule := studio.TrainedRule{Of: "=swatch 1", Reference: bare.Of, Lambda: 0.25, Gamma: 0.05, Patches: 12, Wrong: 0.03125, WrongStroke: -1, Calibrated: true,
				Groups: []studio.ColourGroup{{Class: studio.ClassBare, Reference: true, N: 90, Lab: bare.Lab, Cov: bare.Cov}}, Errors: []studio.ClassError{{Class: studio.ClassBare, N: 90, Wrong: 0.125}}}
			painting, err := s.AddPainting(ctx, studio.Painting{Photo: p.ID, Of: rule.Of, Strokes: []studio.Stroke{{Class: studio.ClassBare, RadiusMM: 2.5, Points: []studio.Point{{X: 1.25, Y: 3}}}}, Rule: rule})
			ok(t, err)
			_, err = s.AddSetJudge(ctx, studio.SetJudge{Set: swatches[0].SetID, Reference: bare.ID, Painting: painting.ID})
			ok(t, err)
			_, err = s.AddGrains(ctx, studio.GrainReading{Photo: p.ID, Method: "m1", Count: 40, Low: 28.5, High: 54.5, CoveredShare: 0.125, ReadShare: 0.94, PerCM2: 1.5, Rule: "bright", Warnings: []string{"close"}})
			ok(t, err)
			_, err = s.AddWeighedSalt(ctx, studio.WeighedSalt{Photo: p.ID, Of: "swatch 1 front", Material: "sodium-chloride", MassG: 0.05, SDG: 0.001, AreaCM2: 25, Count: 40, CoveredShare: 0.125, PerCM2: 1.5})
			ok(t, err)
			_, err = s.AddMeasurement(ctx, studio.Measurement{Photo: p.ID, Method: "m1", Name: "green", Marks: studio.Marks{BareLab: &bare.Lab, BareOf: bare.Of, Reference: bare.ID, BareSpread: bare.SpreadDE, Trained: &rule}})
			ok(t, err)
			// The same file for another face.
			_, _, err = s.AddPhoto(ctx, studio.Photo{Swatch: swatches[1].Number, Face: studio.Back, Moment: studio.Bare, Taken: noon, Format: format}, data)
			ok(t, err)
		}
	}
	_, err = s.TakeIn(ctx, []store.TakenIn{{Name: "=From afar", Versions: []studio.Version{{Steps: []studio.Step{{Kind: studio.Rinse}}}}, Over: []*[2]int{nil},
		Origin: studio.RecipeOrigin{OriginID: "0123456789abcdef", FileName: "=a.patina.json", FileSHA256: strings.Repeat("ab", 32), Document: `{"name":"=From afar"}`, By: "Ann"}}})
	ok(t, err)
	_, err = s.AddSheet(ctx, studio.DataSheet{Supply: salt.ID, Name: "=salt.pdf", By: "Ann"}, []byte("%PDF-1.7 the maker's sheet"))
	ok(t, err)
	_, err = s.AddSheetCheck(ctx, studio.SheetCheck{Supply: salt.ID, Row: "gloves", Text: "none", Checked: true, By: "Ann"})
	ok(t, err)
	_, err = s.SavePieceWithFile(ctx, studio.Piece{Name: "=Lamp", MetalID: metal.ID, Form: studio.Form{Kind: "model", Format: "OBJ", FileName: "lamp.obj", Up: [3]float64{0, 0, 1}, OutsideMM2: 1200.5, Doubts: []string{"a gap"}}}, []byte("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"))
	ok(t, err)
	made, err := s.Pieces(ctx)
	ok(t, err)
	_, lamps, err := s.AddSet(ctx, studio.Set{Name: "Lamps", Shape: studio.Loose, Replicates: 1, MetalID: metal.ID, PieceID: made[0].ID, WidthMM: 90, HeightMM: 90}, []store.NewSwatch{{Swatch: studio.Swatch{MetalID: metal.ID, WidthMM: 90, HeightMM: 90, OutsideMM2: 1200.5}}})
	ok(t, err)
	_, err = s.AddVerdict(ctx, studio.Verdict{Client: "v1", Swatch: lamps[0].Number, Outcome: studio.Reworked, Why: "=ran", By: "Ann", At: noon})
	ok(t, err)
	var faces []studio.FaceOf
	for _, w := range swatches[:3] {
		faces = append(faces, studio.FaceOf{Swatch: w.Number, Face: studio.Back})
	}
	sitting, err := s.AddSitting(ctx, studio.Sitting{Question: "=Which one?", From: studio.FromSet, Set: swatches[0].SetID, Faces: faces, Blind: true, Seed: 1<<64 - 1, By: "Ann"})
	ok(t, err)
	choice, err := s.AddChoice(ctx, studio.Choice{Sitting: sitting.ID, Client: "c1", Who: "Ann", Left: faces[0], Right: faces[1], Chosen: studio.ChoseRight, Took: 1250 * time.Millisecond, At: noon})
	ok(t, err)
	_, err = s.AddChoice(ctx, studio.Choice{Sitting: sitting.ID, Client: "c2", Who: "Ann", Left: faces[0], Right: faces[1], Chosen: studio.Undone, Undoes: choice.ID, At: noon})
	ok(t, err)
	wear, err := s.AddWearTest(ctx, studio.WearTest{Client: "w1", Face: faces[0], Protocol: "outdoors", Version: 1, Sealer: "wax", Conditions: "=roof", Site: "C3", Control: faces[1], Start: noon.Add(-time.Hour), By: "Ann"})
	ok(t, err)
	worn, err := s.AddWearReading(ctx, studio.WearReading{Test: wear.ID, Client: "wr1", Kind: studio.WearRead, At: noon, By: "Ann", Grade: "slight", Count: 3, Note: "-dull"})
	ok(t, err)
	_, err = s.AddWearReading(ctx, studio.WearReading{Test: wear.ID, Client: "wr2", Kind: studio.WearVoided, At: noon, Voids: worn.ID})
	ok(t, err)
	ok(t, s.CloseSitting(ctx, sitting.ID, noon))
	_, err = s.AddSitting(ctx, studio.Sitting{Question: "And these?", From: studio.FromPicked, Faces: faces, Measured: true})
	ok(t, err)
	_, err = s.AddScore(ctx, studio.Score{Client: "s1", Face: faces[2], Of: studio.ScoreTexture, Value: 4, Who: "=Ann", At: noon})
	ok(t, err)
	todo, err := s.Treatments(ctx, store.TreatmentFilter{Swatch: swatches[0].Number})
	ok(t, err)
	ask := studio.BenchAsk{Treatments: []int64{todo[0].ID}, Overnight: true, DryingPlaces: 4, LaterMin: 20, Stretch: []studio.BenchStretch{{Treatment: todo[0].ID, Step: 2, Minutes: 15}},
		People: []studio.BenchPerson{{Name: "=Ann", There: []studio.Hours{{From: noon, Till: noon.Add(6 * time.Hour)}}, Away: []studio.Hours{{From: noon.Add(time.Hour), Till: noon.Add(2 * time.Hour), Why: "class"}}}}}
	day, planned, err := s.AddBenchDay(ctx, studio.BenchDay{Name: "Saturday", By: "Ann"}, studio.BenchPlan{By: "Ann", Ask: ask, Finish: noon.Add(5 * time.Hour), Bound: noon.Add(4 * time.Hour), Openings: 2,
		Starts: []studio.BenchStart{{Treatment: todo[0].ID, Step: 1, What: "put in", At: noon, Minutes: 1}}})
	ok(t, err)
	planned.Why, planned.Moved, planned.MovedMin, planned.Made = "late", 3, 12, noon.Add(time.Minute)
	_, err = s.AddBenchPlan(ctx, planned)
	ok(t, err)
	ok(t, s.AddBenchClaims(ctx, []studio.BenchClaim{{Day: day.ID, Treatment: todo[0].ID, Step: 1, Person: "=Ann", Client: "claim", At: noon, By: "Ann"}}))
	ok(t, s.EndBenchDay(ctx, day.ID, noon.Add(6*time.Hour)))
	class, err := s.SaveClass(ctx, studio.Class{Name: "=Evening", Starts: noon, Minutes: 180, Heads: 8, Who: studio.ForAdults, Where: studio.Outdoors, SetID: swatches[0].SetID, AheadID: lamps[0].SetID, DayID: day.ID,
		Recipes: []studio.ClassRecipe{{VersionID: base.Latest.ID, PerHead: 2, MetalID: metal.ID}}, Parts: []studio.ClassPart{{Kind: studio.PartMake, Minutes: 25, VersionID: base.Latest.ID, To: 1, Where: studio.UnderHood, Words: "=salt"}},
		Kit: []studio.KitLine{{What: "=gloves", Count: 1.5, Per: 1, Spare: 1.2, Own: true}}, Risks: []studio.RiskLine{{Key: "=fumes", Hazard: "<b>"}},
		After: studio.ClassAfter{Incident: "-none", Surprised: "=blue", Waste: []studio.ClassWaste{{What: "=rinse", MassG: 250.5}}, Fetched: []int64{swatches[0].Number}, Done: []string{"stock"}}})
	ok(t, err)
	_, err = s.SaveClass(ctx, studio.Class{Name: "Next", Starts: noon, Minutes: 60, Heads: 1, Who: studio.ForYoung, Where: studio.OpenRoom, FollowsID: class.ID, Invented: true})
	ok(t, err)
	ok(t, s.EndClass(ctx, class.ID, noon))
	ok(t, s.SaveSeatTerms(ctx, studio.SeatTerms{Class: class.ID, Names: true, KeepDays: 90, LinkDays: 7}))
	seat, err := s.TakeSeat(ctx, class, 3, "=Ana", bytes.Repeat([]byte{7}, 32))
	ok(t, err)
	ok(t, s.GiveSwatches(ctx, class, map[int64]int{swatches[0].Number: 3, swatches[1].Number: 4}, false))
	ok(t, s.RaiseHand(ctx, seat.ID, true))
	ok(t, s.SetSeatPhotos(ctx, seat.ID, studio.PhotosStay))
	covered := 0.625
	_, err = s.AddSeatWords(ctx, studio.SeatWords{Client: "sw1", Class: class.ID, Seat: seat.ID, Face: studio.FaceOf{Swatch: swatches[0].Number, Face: studio.Front}, Words: []string{"=sea", "dry"}, Covered: &covered, Note: "-", At: noon})
	ok(t, err)
	seen, err := s.PhotosOf(ctx, swatches[0].Number)
	ok(t, err)
	ok(t, s.AddSeatPhoto(ctx, seat.ID, seen[0].ID))
	ok(t, s.AddClassSitting(ctx, class.ID, sitting.ID))
	ok(t, s.OpenDoor(ctx, studio.Door{Class: class.ID, Code: "ABCDEF", Opened: noon, Closes: noon.Add(time.Hour)}))
	ok(t, s.SaveSetPlace(ctx, swatches[0].SetID, studio.ForTeens, 0))
	_, err = s.AddPackPrice(ctx, studio.PackPrice{Supply: salt.ID, Size: 500, Unit: studio.Gram, Price: decimal.RequireFromString("4.205"), Grade: "=technical", Keep: 100.5, By: "Ann"})
	ok(t, err)
	loss := decimal.RequireFromString("12.5")
	_, err = s.AddMetalPrice(ctx, studio.MetalPrice{Metal: metal.ID, Per: studio.BySheet, Price: decimal.RequireFromString("57.10"), WidthMM: 600, HeightMM: 1000.5, Loss: &loss, By: "Ann"})
	ok(t, err)
	_, err = s.AddMetalPrice(ctx, studio.MetalPrice{Metal: metal.ID, Per: studio.ByKilogram, Price: decimal.RequireFromString("12")})
	ok(t, err)
	bought, err := s.AddStockMove(ctx, studio.StockMove{Supply: salt.ID, Client: "b1", Kind: studio.Bought, Amount: 500.25, Unit: studio.Gram, Lot: "=A", Expires: noon.AddDate(1, 0, 0), At: noon, By: "Ann", Note: "-cheap"})
	ok(t, err)
	_, err = s.AddStockMove(ctx, studio.StockMove{Supply: salt.ID, Client: "b2", Kind: studio.Uncounted, Corrects: bought.ID, At: noon})
	ok(t, err)
	paid := decimal.RequireFromString("57.125")
	sheets, err := s.AddSheetMoves(ctx, []studio.SheetMove{{Metal: metal.ID, Client: "sh1", Kind: studio.SheetBought, Count: 3, WidthMM: 600, HeightMM: 1000.5, Price: &paid, Lot: "=L1", Supplier: "-Mill", State: "degreased", At: noon, By: "Ann"}})
	ok(t, err)
	cut, err := s.AddSheetMoves(ctx, []studio.SheetMove{{Metal: metal.ID, Client: "sh2", Kind: studio.SheetCut, Stack: sheets[0].ID, Count: 1, SetID: swatches[0].SetID, Pieces: 4, At: noon},
		{Metal: metal.ID, Client: "sh3", Kind: studio.SheetOffcut, Of: -1, Count: 1, WidthMM: 300, HeightMM: 1000, At: noon, Note: "=left"}})
	ok(t, err)
	_, err = s.AddSheetMoves(ctx, []studio.SheetMove{{Metal: metal.ID, Client: "sh4", Kind: studio.SheetUndone, Of: cut[0].ID, At: noon}})
	ok(t, err)
	unused, err := s.AddVersion(ctx, base.ID, studio.Version{Steps: []studio.Step{{Kind: studio.Rinse}}, Why: "=wrong"})
	ok(t, err)
	ok(t, s.BinItem(ctx, "version", unused.ID))
	_, err = s.AddQuote(ctx, studio.Quote{Client: "q1", SetID: swatches[0].SetID, By: "Ann", Currency: "EUR", Day: noon, ValidDays: 30, Customer: "=A. Buyer\nStreet 1", Tax: decimal.RequireFromString("21"), Care: "dust it", Note: "<b>", Basis: []string{"work: 75"},
		Lines: []studio.QuoteLine{{Text: "=Lamp", Quantity: decimal.RequireFromString("6"), Each: decimal.RequireFromString("24.97")}}})
	ok(t, err)
	ok(t, s.SaveRates(ctx, studio.Rates{Currency: "EUR", Hour: decimal.RequireFromString("30.5")}))
	cabinet, err := s.SavePlace(ctx, studio.Place{Client: "pl1", Name: "=Cabinet", Kind: studio.Keeps, Note: "-oak"})
	ok(t, err)
	drawer, err := s.SavePlace(ctx, studio.Place{Client: "pl2", Name: "drawer 2", Kind: studio.Keeps, Rows: 3, Columns: 4, Invented: true})
	ok(t, err)
	cabinet.Parent = drawer.ID // a later one
	_, err = s.SavePlace(ctx, cabinet)
	ok(t, err)
	ana, err := s.SavePlace(ctx, studio.Place{Client: "pl3", Name: "lent to Ana", Kind: studio.Lent})
	ok(t, err)
	_, err = s.AddSwatchMoves(ctx, []studio.SwatchMove{{Client: "mv1", Swatch: swatches[0].Number, Place: drawer.ID, Row: 3, Column: 4, At: noon, By: "Ann", Note: "=top"},
		{Client: "mv2", Swatch: swatches[1].Number, Place: ana.ID, Due: noon.AddDate(0, 1, 0), At: noon}, {Client: "mv3", Swatch: swatches[0].Number, At: noon}})
	ok(t, err)
	round, err := s.AddRound(ctx, studio.Round{Client: "rd1", Place: drawer.ID, By: "Ann"})
	ok(t, err)
	_, err = s.AddSighting(ctx, studio.Sighting{Client: "sg1", Round: round.ID, Swatch: swatches[1].Number, By: "=Ann"})
	ok(t, err)
	ok(t, s.EndRound(ctx, round.ID))
	ok(t, s.BinItem(ctx, "swatch", swatches[2].Number))
	ok(t, s.SaveSetting(ctx, "wall.order", "hue"))
	_, err = s.AddDevice(ctx, "Ann's phone", make([]byte, 32))
	ok(t, err)
	return s
}

func export(t testing.TB, s *store.Store) []byte {
	t.Helper()
	var b bytes.Buffer
	ok(t, Export(ctx, s, &b))
	return b.Bytes()
}

func take(s *store.Store, data []byte) (Report, error) {
	return Import(ctx, s, bytes.NewReader(data), int64(len(data)))
}

// contents unpacks an archive: the names in order, and what each holds.
func contents(t testing.TB, data []byte) ([]string, map[string][]byte) {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	ok(t, err)
	var names []string
	out := map[string][]byte{}
	for _, f := range z.File {
		r, err := f.Open()
		ok(t, err)
		body, err := io.ReadAll(r)
		ok(t, err)
		names = append(names, f.Name)
		out[f.Name] = body
	}
	return names, out
}

// repack packs files again, as another program would: in folders, all deflated.
func repack(t testing.TB, names []string, files map[string][]byte) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, name := range append([]string{"records/", "tables/", "photos/", "sheets/", "pieces/"}, names...) {
		f, err := z.Create(name)
		ok(t, err)
		_, err = f.Write(files[name])
		ok(t, err)
	}
	ok(t, z.Close())
	return b.Bytes()
}

// resign writes a manifest that fits the files, so that only what a test spoilt
// is wrong.
func resign(t testing.TB, files map[string][]byte) {
	t.Helper()
	var m manifest
	ok(t, json.Unmarshal(files["manifest.json"], &m))
	var kept []file
	for _, f := range m.Files {
		if body, there := files[f.Name]; there {
			kept = append(kept, fileOf(f.Name, body))
		}
	}
	m.Files = kept
	for _, kind := range store.RecordKinds() {
		var rows []json.RawMessage
		if json.Unmarshal(files["records/"+kind+".json"], &rows) == nil {
			m.Counts[kind] = len(rows)
		}
	}
	var err error
	files["manifest.json"], err = json.Marshal(m)
	ok(t, err)
}

// state is everything a studio keeps: its records, and the files of photographs.
func state(t testing.TB, s *store.Store) string {
	t.Helper()
	var out strings.Builder
	ok(t, s.Snapshot(ctx, func(all store.Records) error {
		for _, k := range all {
			for _, r := range k.Rows {
				fmt.Fprintf(&out, "%s %s\n", k.Name, r)
			}
		}
		return nil
	}))
	for _, sub := range []string{"photos", "sheets", "pieces"} {
		ok(t, filepath.WalkDir(filepath.Join(s.Dir(), sub), func(path string, d fs.DirEntry, err error) error {
			if err == nil && !d.IsDir() {
				fmt.Fprintln(&out, path)
			}
			return err
		}))
	}
	return out.String()
}

func sha(data []byte) string {
	h := sha256.Sum256(data)
	return hex.EncodeToString(h[:])
}
