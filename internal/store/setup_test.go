package store

import (
	"fmt"
	"testing"
	"time"

	"aerugo/internal/studio"
)

// lit is one setup, target and print of each kind that can be kept.
func lit(photo int64) (setups []studio.Setup, file studio.TargetFile, prints []studio.MatPrint) {
	white, grey := [3]float64{0.8, 0.75, 0.6}, [3]float64{0.16, 0.15, 0.12}
	setups = []studio.Setup{
		{Name: "Phone, north window", Camera: "Phone 7", Lamp: "window, overcast", Kind: studio.ByTarget, Target: "24-patch photographic target, from November 2014", Photo: photo,
			Taken: noon.Add(-time.Hour), Made: noon, Fit: `{"method":"x"}`, Method: "x", LOOMean: 3.5, LOOP95: 8, White: &white, Greys: &grey},
		{Name: "Grey only", Lamp: "two lamps", Kind: studio.ByGrey, Taken: noon.Add(-time.Hour), Made: noon, Fit: `{}`, Grey: &grey},
	}
	day := time.Date(2026, 3, 1, 0, 0, 0, 0, time.Local)
	return setups, studio.TargetFile{Name: "Mine, 2019", Text: "CGATS.17\n…"}, []studio.MatPrint{
		{Paper: "A4", Swatches: 1, Printed: day, RulerMM: 99.25}, {Paper: "Letter", Swatches: 2, Printed: day, RulerMM: 102}}
}

func keepLit(t *testing.T, s *Store, photo int64) (setups []studio.Setup, file studio.TargetFile, prints []studio.MatPrint) {
	t.Helper()
	setups, file, prints = lit(photo)
	for i, x := range setups {
		setups[i] = must[studio.Setup](t)(s.AddSetup(ctx, x))
		x.ID = setups[i].ID
		same(t, "setup", setups[i], x)
	}
	file = must[studio.TargetFile](t)(s.AddTargetFile(ctx, file))
	for i, x := range prints {
		prints[i] = must[studio.MatPrint](t)(s.AddMatPrint(ctx, x))
		if !prints[i].Printed.Equal(x.Printed) || prints[i].RulerMM != x.RulerMM {
			t.Errorf("the print is %+v, was %+v", prints[i], x)
		}
	}
	return setups, file, prints
}

func TestSetupsTargetsAndPrintsAreKeptAsGiven(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	photo := addPhoto(t, s, shot(b.pieces[0].Number, studio.Front, studio.Bare, noon))
	setups, file, prints := keepLit(t, s, photo.ID)
	same(t, "setups", must[[]studio.Setup](t)(s.Setups(ctx)), []studio.Setup{setups[1], setups[0]})
	same(t, "targets", must[[]studio.TargetFile](t)(s.TargetFiles(ctx)), []studio.TargetFile{file})
	same(t, "prints", must[[]studio.MatPrint](t)(s.MatPrints(ctx)), []studio.MatPrint{prints[1], prints[0]})
	for _, q := range []string{`UPDATE setup SET lamp = 'other'`, `UPDATE setup SET fit = '{}'`, `UPDATE target_file SET text = 'other'`, `UPDATE mat_print SET ruler_mm = 100`} {
		if _, err := s.write.ExecContext(ctx, q); err == nil {
			t.Errorf("%s was done", q)
		}
	}
	_, err := s.AddTargetFile(ctx, studio.TargetFile{Name: file.Name, Text: "x"})
	wantProblem(t, err, studio.Conflict, "already")
	gone := setups[0]
	gone.Photo = 4711
	_, err = s.AddSetup(ctx, gone)
	wantProblem(t, err, studio.NotFound, "photograph 4711")
}

func TestWhatNobodyCouldUseIsNotKept(t *testing.T) {
	s := fresh(t)
	for name, change := range map[string]func(*studio.Setup){
		"name": func(x *studio.Setup) { x.Name = " " }, "lamp": func(x *studio.Setup) { x.Lamp = "" }, "kind": func(x *studio.Setup) { x.Kind = "moon" },
		"fit": func(x *studio.Setup) { x.Fit = "" }, "error": func(x *studio.Setup) { x.LOOP95 = -1 }, "black": func(x *studio.Setup) { x.White = &[3]float64{0.8, 0, 0.6} },
		"nothing": func(x *studio.Setup) { x.White, x.Grey, x.Greys = nil, nil, nil },
	} {
		all, _, _ := lit(0)
		change(&all[0])
		if _, err := s.AddSetup(ctx, all[0]); studio.ProblemIn(err) == nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, mm := range []float64{97.9, 102.1, 0, -100, 1e9} {
		_, _, prints := lit(0)
		prints[0].RulerMM = mm
		_, err := s.AddMatPrint(ctx, prints[0])
		wantProblem(t, err, studio.Invalid, "mm")
	}
	if n := len(must[[]studio.MatPrint](t)(s.MatPrints(ctx))); n != 0 {
		t.Errorf("%d prints were kept", n)
	}
}

// What a reading was made with stays for the day it is read again; what nothing
// used goes when its 30 days are over. A photograph gone for good is forgotten.
func TestUsedSetupsAndTargetsOutliveTheBin(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	photo := addPhoto(t, s, shot(b.pieces[0].Number, studio.Front, studio.Bare, noon))
	other := addPhoto(t, s, shot(b.pieces[1].Number, studio.Front, studio.Bare, noon))
	setups, file, _ := keepLit(t, s, other.ID)
	spare := must[studio.TargetFile](t)(s.AddTargetFile(ctx, studio.TargetFile{Name: "spare", Text: "x"}))
	must[studio.Measurement](t)(s.AddMeasurement(ctx, studio.Measurement{Photo: photo.ID, Method: "m", Name: "green",
		Marks: studio.Marks{Setup: setups[0].ID, Target: fmt.Sprint("file-", file.ID)}}))
	for _, x := range []struct {
		kind string
		id   int64
	}{{"setup", setups[0].ID}, {"setup", setups[1].ID}, {"target", file.ID}, {"target", spare.ID}, {"photo", other.ID}} {
		if err := s.BinItem(ctx, x.kind, x.id); err != nil {
			t.Fatal(err)
		}
	}
	if n := len(must[[]BinEntry](t)(s.Binned(ctx))); n != 5 {
		t.Errorf("%d things are in the bin", n)
	}
	dir := s.Dir()
	s.Close()
	s = mustOpen(t, dir, &clock{noon.AddDate(0, 2, 0)})
	must[int](t)(s.PurgeBin(ctx))
	if x := must[studio.Setup](t)(s.Setup(ctx, setups[0].ID)); x.Photo != 0 {
		t.Errorf("the setup still names photograph %d", x.Photo)
	}
	must[studio.TargetFile](t)(s.TargetFile(ctx, file.ID))
	_, err := s.Setup(ctx, setups[1].ID)
	wantProblem(t, err, studio.NotFound, "no setup")
	_, err = s.TargetFile(ctx, spare.ID)
	wantProblem(t, err, studio.NotFound, "no colour target")
}
