package site_test

import (
	"context"
	"fmt"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"aerugo/internal/demo"
	"aerugo/internal/science/colour"
	"aerugo/internal/site"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

var noon = time.Date(2026, 3, 14, 12, 0, 0, 0, time.UTC)

func must[T any](t testing.TB) func(T, error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

func open(t testing.TB) *store.Store {
	t.Helper()
	s := must[*store.Store](t)(store.Open(t.Context(), filepath.Join(t.TempDir(), "studio"), store.Options{Now: func() time.Time { return noon }}))
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

// photographed fills a studio with the invented example and its first photographs.
func photographed(t testing.TB, photographs int) *store.Store {
	t.Helper()
	s := open(t)
	if err := demo.Fill(t.Context(), s, noon); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	err := demo.Develop(ctx, s, 2, func(done, total int) {
		if done >= photographs {
			cancel()
		}
	})
	if err != nil && ctx.Err() == nil {
		t.Fatal(err)
	}
	return s
}

// everything asks for all that a studio can show.
func everything(t testing.TB, s *store.Store) site.Ask {
	t.Helper()
	a := site.Ask{Title: "What I found", Day: "2026-03-14", Maker: site.Maker{Name: "Ana <b>&", Studio: "The shed", Licence: "CC-BY-4.0"}}
	for _, r := range must[[]studio.Recipe](t)(s.Recipes(t.Context())) {
		a.Recipes = append(a.Recipes, r.ID)
	}
	for _, x := range must[[]studio.Set](t)(s.Sets(t.Context())) {
		if x.PieceID == 0 {
			a.Sets = append(a.Sets, x.ID)
		}
	}
	return a
}

// files collects what is built.
func files(t testing.TB, s *store.Store, a site.Ask) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	if err := site.Build(t.Context(), s, a, collect(out), nil); err != nil {
		t.Fatal(err)
	}
	return out
}

func collect(out map[string][]byte) func(string, []byte) error {
	var mu sync.Mutex
	return func(name string, data []byte) error {
		mu.Lock()
		defer mu.Unlock()
		if _, had := out[name]; had {
			return fmt.Errorf("%s is written twice", name)
		}
		out[name] = append([]byte{}, data...)
		return nil
	}
}

// bench is a small studio of one's own: a recipe over another, one finished swatch
// of each and one that a student made, all with words and figures that are easy to find.
type bench struct {
	*store.Store
	under, over studio.Recipe
	set         studio.Set
	student     int64
}

const (
	script = `<script>alert("x")</script>`
	secret = "137" // minutes; 12.34 g/m2 and 8.76 % are the other figures
)

func own(t testing.TB) bench {
	t.Helper()
	ctx := t.Context()
	b := bench{Store: open(t)}
	metal := must[studio.Metal](t)(b.SaveMetal(ctx, studio.Metal{Name: "Copper " + script, Alloy: "C11000", ThicknessMM: 0.8, Note: script}))
	ammonia := must[studio.Supply](t)(b.SaveSupply(ctx, studio.Supply{Name: "Ammonia " + script, Material: "ammonia-water", Strength: 8.76, StrengthUnit: studio.WtPercent, Lot: "LOT-SECRET"}))
	chamber := must[studio.Chamber](t)(b.SaveChamber(ctx, studio.Chamber{Name: "Anna's chamber", VolumeL: 54, Places: 4}))
	steps := []studio.Step{{Kind: studio.Degrease, Tool: script}, {Kind: studio.Sprinkle, Material: "sodium-chloride", Amount: studio.Amount{Value: 12.34, SD: 2, Unit: studio.GramPerM2}, Note: script + " 12.34 g/m2 in 137 min"},
		{Kind: studio.Fume, SupplyID: ammonia.ID, ChamberID: chamber.ID, Duration: 137 * time.Minute, Early: time.Minute, Late: 2 * time.Minute, Place: script}}
	b.under = must[studio.Recipe](t)(b.AddRecipe(ctx, studio.Recipe{Name: "Blue, 137 min " + script}, studio.Version{Steps: steps, Why: script + " 137"}))
	b.over = must[studio.Recipe](t)(b.AddRecipe(ctx, studio.Recipe{Name: "Green"}, studio.Version{Steps: []studio.Step{{Kind: studio.Wet, Material: "vinegar", Strength: 5, Amount: studio.Amount{Hand: studio.Light, Value: 40, Unit: studio.MLPerM2}}, {Kind: studio.Rest, Duration: 137 * time.Minute}},
		OverID: b.under.Latest.ID, Over: studio.OverDry}))
	factor := studio.Factor{Name: "fuming 137", Kind: studio.ByMinutes, Step: 2, Levels: []studio.Level{{Label: "45 min", Number: 45}, {Label: "137 min", Number: 137}}}
	var pieces []store.NewSwatch
	for range 2 {
		pieces = append(pieces, store.NewSwatch{Swatch: studio.Swatch{MetalID: metal.ID, WidthMM: 50, HeightMM: 50, Note: script + " 137"},
			Treatments: []studio.Treatment{{Faces: studio.OnBoth, Layer: 1, VersionID: b.under.Latest.ID, Steps: steps, Replicate: 1, Order: 1, Settings: []studio.Setting{{Factor: factor.Name, Kind: factor.Kind, Level: factor.Levels[1]}}}}})
	}
	set, swatches, err := b.AddSet(ctx, studio.Set{Name: "Ladder to 137 min", Question: script + " 137 min?", Shape: studio.Ladder, Replicates: 2, MetalID: metal.ID, WidthMM: 50, HeightMM: 50, FrontID: b.under.Latest.ID, Factors: []studio.Factor{factor}}, pieces)
	if err != nil {
		t.Fatal(err)
	}
	b.set = set
	lesson, more, err := b.AddSet(ctx, studio.Set{Name: "Saturday's own", Shape: studio.Loose, Replicates: 1, MetalID: metal.ID, WidthMM: 50, HeightMM: 50, FrontID: b.under.Latest.ID}, pieces[:1])
	if err != nil {
		t.Fatal(err)
	}
	for i, x := range append(swatches, more...) {
		b.finish(t, x.Number, int64(i))
	}
	b.student = more[0].Number
	class := must[studio.Class](t)(b.SaveClass(ctx, studio.Class{Name: "Saturday", Teacher: "Ann", Starts: noon, Minutes: 180, Heads: 6, Who: studio.ForAdults, Where: studio.UnderHood, SetID: lesson.ID}))
	if err := b.SaveSeatTerms(ctx, studio.SeatTerms{Class: class.ID, Names: true, KeepDays: 90, LinkDays: 7}); err != nil {
		t.Fatal(err)
	}
	must[studio.Seat](t)(b.TakeSeat(ctx, class, 3, "Zenobia", make([]byte, 32)))
	if err := b.GiveSwatches(ctx, class, map[int64]int{b.student: 3}, false); err != nil {
		t.Fatal(err)
	}
	return b
}

// finish carries a swatch's treatment out, photographs its front and measures it.
func (b bench) finish(t testing.TB, number, n int64) {
	t.Helper()
	ctx := t.Context()
	ts := must[[]studio.Treatment](t)(b.Treatments(ctx, store.TreatmentFilter{Swatch: number}))
	events := []studio.Event{{Treatment: ts[0].ID, Client: fmt.Sprint("b", number), Kind: studio.Began, At: noon.Add(-5 * time.Hour), By: "Zenobia"}}
	for i := range ts[0].Steps {
		events = append(events, studio.Event{Treatment: ts[0].ID, Client: fmt.Sprint("d", number, i), Kind: studio.Done, Step: i, At: noon.Add(-time.Hour), By: "Zenobia", Note: "for the customer Xerxes"})
	}
	must[[]studio.Event](t)(b.AddEvents(ctx, events))
	data, marks, _ := demo.Sample(number, studio.Front, int(n), noon)
	p, _, err := b.AddPhoto(ctx, studio.Photo{Swatch: number, Face: studio.Front, Moment: studio.Finished, Taken: noon, Format: "JPEG", Width: 1600, Height: 1200, Note: script}, data)
	if err != nil {
		t.Fatal(err)
	}
	must[studio.Measurement](t)(b.AddMeasurement(ctx, studio.Measurement{Photo: p.ID, Method: "m5", Marks: marks, Calibrated: true, Lab: colour.Lab{L: 48.21, A: -12.5, B: -5}, SD: 3.1, Name: "moderate bluish green", Coverage: &studio.Coverage{Value: .9, Low: .8, High: .95}}))
}
