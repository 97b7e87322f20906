package store

import (
	"testing"
	"time"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// kept adds a bare reference, examples and salt to a photograph.
func kept(t *testing.T, s *Store, b bench, photo int64) (studio.BareReference, studio.Painting) {
	t.Helper()
	ref := must[studio.BareReference](t)(s.AddBareReference(ctx, studio.BareReference{Metal: b.metal.ID, Photo: photo, Of: "swatch 3", Method: "m1", Made: noon,
		Lab: colour.Lab{L: 62, A: 21.5, B: 22}, Cov: studio.Spread{1, 0.25, -0.5, 2, 0, 3}, N: 900, SpreadDE: 2.5, Corrected: "grey card", Whole: true}))
	painting := must[studio.Painting](t)(s.AddPainting(ctx, studio.Painting{Photo: photo, Of: "swatch 1", Made: noon,
		Strokes: []studio.Stroke{{Class: studio.ClassBare, RadiusMM: 2.5, Points: []studio.Point{{X: 1.25, Y: 3}, {X: 2, Y: 3}}}, {Class: studio.ClassGreen, RadiusMM: 1, Points: []studio.Point{{X: 30, Y: 3}}}},
		Rule: studio.TrainedRule{Of: "swatch 1", Reference: "the blank", Lambda: 0.25, Gamma: 0.05, Patches: 12, Wrong: 0.03125, WrongStroke: -1, Calibrated: true,
			Groups: []studio.ColourGroup{{Class: studio.ClassBare, Reference: true, N: 90, Lab: ref.Lab, Cov: ref.Cov}}, Errors: []studio.ClassError{{Class: studio.ClassGreen, N: 90, Wrong: 0.125}}}}))
	return ref, painting
}

func TestJudgesComeBackAsKept(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	photo := addPhoto(t, s, shot(b.pieces[0].Number, studio.Front, studio.Bare, noon))
	ref, painting := kept(t, s, b, photo.ID)
	same(t, "reference", must[studio.BareReference](t)(s.BareReference(ctx, ref.ID)), ref)
	same(t, "painting", must[studio.Painting](t)(s.Painting(ctx, painting.ID)), painting)
	if ref.Cov[2] != -0.5 || painting.Rule.Groups[0].Cov != ref.Cov || painting.Strokes[0].Points[1] != (studio.Point{X: 2, Y: 3}) {
		t.Errorf("kept as %+v and %+v", ref, painting)
	}
	second := ref
	second.Of, second.ID = "swatch 3 again", 0
	second = must[studio.BareReference](t)(s.AddBareReference(ctx, second))
	same(t, "references, newest first", must[[]studio.BareReference](t)(s.BareReferences(ctx, b.metal.ID)), []studio.BareReference{second, ref})
	if j := must[studio.SetJudge](t)(s.SetJudge(ctx, b.set.ID)); j.ID != 0 || j.Reference != 0 {
		t.Errorf("before anything was said the set uses %+v", j)
	}
	must[studio.SetJudge](t)(s.AddSetJudge(ctx, studio.SetJudge{Set: b.set.ID, Reference: second.ID}))
	last := must[studio.SetJudge](t)(s.AddSetJudge(ctx, studio.SetJudge{Set: b.set.ID, Reference: ref.ID, Painting: painting.ID}))
	same(t, "judge", must[studio.SetJudge](t)(s.SetJudge(ctx, b.set.ID)), last)
	m := reading(photo.ID)
	m.Marks.Reference, m.Marks.BareSpread, m.Marks.Trained = ref.ID, 2.5, &painting.Rule
	same(t, "marks", must[studio.Measurement](t)(s.AddMeasurement(ctx, m)).Marks, m.Marks)
	for what, err := range map[string]error{
		"reference of no metal":   errorOf(s.AddBareReference(ctx, studio.BareReference{Metal: 99})),
		"painting of no photo":    errorOf(s.AddPainting(ctx, studio.Painting{Photo: 99})),
		"judge of no set":         errorOf(s.AddSetJudge(ctx, studio.SetJudge{Set: 99})),
		"judge by no reference":   errorOf(s.AddSetJudge(ctx, studio.SetJudge{Set: b.set.ID, Reference: 99})),
		"reference that is not":   errorOf(s.BareReference(ctx, 99)),
		"grains of no photograph": errorOf(s.AddGrains(ctx, studio.GrainReading{Photo: 99})),
	} {
		if p := studio.ProblemIn(err); p == nil || p.Kind != studio.NotFound {
			t.Errorf("%s: %v", what, err)
		}
	}
	wantProblem(t, errorOf(s.AddPainting(ctx, studio.Painting{Photo: photo.ID, Strokes: []studio.Stroke{{Class: "gold"}}})), studio.Invalid, "gold")
	if _, err := s.write.Exec(`UPDATE painting SET strokes = '[]'`); err == nil {
		t.Error("painted examples were changed")
	}
	if _, err := s.write.Exec(`UPDATE bare_reference SET reading = '{}'`); err == nil {
		t.Error("a bare reference was changed")
	}
}

func errorOf[T any](_ T, err error) error { return err }

func TestSaltComesBackAsKept(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	p := shot(b.pieces[0].Number, studio.Front, studio.Underway, noon)
	p.Salted = true
	photo := addPhoto(t, s, p)
	if got := must[studio.Photo](t)(s.Photo(ctx, photo.ID)); !got.Salted || got.ThroughLid {
		t.Error("the salt on the face is forgotten")
	}
	if _, ok, err := s.GrainsOf(ctx, photo.ID); ok || err != nil {
		t.Errorf("before it was counted: %v, %v", ok, err)
	}
	g := studio.GrainReading{Photo: photo.ID, Method: "m1", Made: noon, Marks: reading(photo.ID).Marks, Count: 40, Low: 28.5, High: 54.5, CoveredShare: 0.125, ReadShare: 0.94,
		PerCM2: 1.5, PerCM2Read: 0.05, TypicalMM: 0.4, Clumped: 3, ShineShare: 0.01, Rule: "bright", Warnings: []string{"close"}}
	must[studio.GrainReading](t)(s.AddGrains(ctx, studio.GrainReading{Photo: photo.ID, Method: "m0", Low: 0, High: 3.7, Rule: "none"}))
	g = must[studio.GrainReading](t)(s.AddGrains(ctx, g))
	got, ok, err := s.GrainsOf(ctx, photo.ID)
	if err != nil || !ok || got.Count != 40 {
		t.Fatalf("newest count is %+v, %v, %v", got, ok, err)
	}
	same(t, "grains", got, g)
	w := studio.WeighedSalt{Photo: photo.ID, Of: "swatch 1", Material: "sodium-chloride", Made: noon, MassG: 0.05, SDG: 0.001, AreaCM2: 25, Count: 40, CoveredShare: 0.125, PerCM2: 1.5}
	w = must[studio.WeighedSalt](t)(s.AddWeighedSalt(ctx, w))
	same(t, "weighed", must[[]studio.WeighedSalt](t)(s.WeighedSalts(ctx)), []studio.WeighedSalt{w})
	if loading, sd := w.GramPerM2(); loading != 20 || sd != 0.4 { // 0.05 g on 0.0025 m2
		t.Errorf("loading is %v and %v g/m2", loading, sd)
	}
	for field, bad := range map[string]studio.WeighedSalt{"mass": {AreaCM2: 25}, "area": {MassG: 1}, "sd": {MassG: 1, AreaCM2: 1, SDG: 2}} {
		if p := studio.ProblemIn(bad.Check()); p == nil || p.Field != field {
			t.Errorf("%+v: %v", bad, p)
		}
	}
	photo.Salted, photo.Moment = false, studio.Bare
	if err := s.UpdatePhoto(ctx, photo); err != nil {
		t.Fatal(err)
	}
	if got := must[studio.Photo](t)(s.Photo(ctx, photo.ID)); got.Salted {
		t.Error("put right, it still has salt")
	}
}

// What judges a set outlives its photograph; counts go with theirs, and all of a
// metal's references go with the metal.
func TestJudgesOutliveTheirPhotograph(t *testing.T) {
	c := &clock{noon}
	s := mustOpen(t, t.TempDir(), c)
	b := furnish(t, s, true)
	photo := addPhoto(t, s, shot(b.pieces[0].Number, studio.Front, studio.Bare, noon))
	ref, painting := kept(t, s, b, photo.ID)
	must[studio.SetJudge](t)(s.AddSetJudge(ctx, studio.SetJudge{Set: b.set.ID, Reference: ref.ID, Painting: painting.ID}))
	must[studio.GrainReading](t)(s.AddGrains(ctx, studio.GrainReading{Photo: photo.ID, Method: "m1", High: 3.7, Rule: "none"}))
	if err := s.BinItem(ctx, "photo", photo.ID); err != nil {
		t.Fatal(err)
	}
	c.t = c.t.Add(40 * 24 * time.Hour)
	if n, err := s.PurgeBin(ctx); err != nil || n != 1 {
		t.Fatalf("%d things went, %v", n, err)
	}
	ref.Photo, painting.Photo = 0, 0
	same(t, "reference", must[studio.BareReference](t)(s.BareReference(ctx, ref.ID)), ref)
	same(t, "painting", must[studio.Painting](t)(s.Painting(ctx, painting.ID)), painting)
	if n := must[int64](t)(number(ctx, s.read, `SELECT count(*) FROM grain_count`)); n != 0 {
		t.Errorf("%d counts are left of a photograph that is gone", n)
	}
	if err := s.RemoveInvented(ctx); err != nil {
		t.Fatal(err)
	}
	if n := must[int64](t)(number(ctx, s.read, `SELECT (SELECT count(*) FROM bare_reference) + (SELECT count(*) FROM set_judge)`)); n != 0 {
		t.Errorf("%d judges are left of the example", n)
	}
	wantSound(t, s)
}
