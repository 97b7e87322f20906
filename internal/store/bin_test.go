package store

import (
	"path/filepath"
	"testing"
	"time"

	"aerugo/internal/studio"
)

func TestBinHidesAndGivesBack(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	photo := addPhoto(t, s, shot(b.pieces[0].Number, studio.Front, studio.Bare, noon))
	room := must[studio.Room](t)(s.SaveRoom(ctx, studio.Room{Name: "Back room", VolumeM3: 40, ACH: 2, Mixing: 3}))
	lamp := must[studio.Piece](t)(s.SavePiece(ctx, wallLamp()))
	class := must[studio.Class](t)(s.SaveClass(ctx, studio.Class{Name: "Evening", Starts: noon, Minutes: 120, Heads: 6, Who: studio.ForAdults, Where: studio.OpenRoom}))
	setups, file, _ := keepLit(t, s, 0)
	version := must[studio.Version](t)(s.AddVersion(ctx, b.recipe.ID, studio.Version{Steps: steps(b.salt.ID, b.chamber.ID)[:1]}))
	lists := map[string]func() int{
		"setup":   func() int { return len(must[[]studio.Setup](t)(s.Setups(ctx))) },
		"target":  func() int { return len(must[[]studio.TargetFile](t)(s.TargetFiles(ctx))) },
		"photo":   func() int { return len(must[[]studio.Photo](t)(s.PhotosOf(ctx, 1))) },
		"set":     func() int { return len(must[[]studio.Set](t)(s.Sets(ctx))) },
		"swatch":  func() int { return len(must[[]studio.Swatch](t)(s.Swatches(ctx))) },
		"piece":   func() int { return len(must[[]studio.Piece](t)(s.Pieces(ctx))) },
		"class":   func() int { return len(must[[]studio.Class](t)(s.Classes(ctx))) },
		"recipe":  func() int { return len(must[[]studio.Recipe](t)(s.Recipes(ctx))) },
		"version": func() int { return len(must[[]studio.Version](t)(s.Versions(ctx, b.recipe.ID))) },
		"metal":   func() int { return len(must[[]studio.Metal](t)(s.Metals(ctx))) },
		"supply":  func() int { return len(must[[]studio.Supply](t)(s.Supplies(ctx))) },
		"chamber": func() int { return len(must[[]studio.Chamber](t)(s.Chambers(ctx))) },
		"room":    func() int { return len(must[[]studio.Room](t)(s.Rooms(ctx))) },
	}
	ids := map[string]int64{"photo": photo.ID, "set": b.set.ID, "swatch": 1, "recipe": b.recipe.ID, "metal": b.metal.ID, "supply": b.salt.ID, "chamber": b.chamber.ID, "room": room.ID,
		"setup": setups[0].ID, "target": file.ID, "piece": lamp.ID, "class": class.ID, "version": version.ID}
	for _, k := range binKinds {
		before := lists[k.name]()
		if err := s.BinItem(ctx, k.name, ids[k.name]); err != nil {
			t.Fatal(err)
		}
		if got := lists[k.name](); got != before-1 {
			t.Errorf("with a %s in the bin, %d are listed, want %d", k.name, got, before-1)
		}
		in := must[[]BinEntry](t)(s.Binned(ctx))
		if len(in) != 1 || in[0].Kind != k.name || in[0].ID != ids[k.name] || in[0].Name == "" || !in[0].BinnedAt.Equal(noon) {
			t.Errorf("the bin holds %+v", in)
		}
		if err := s.RestoreItem(ctx, k.name, ids[k.name]); err != nil {
			t.Fatal(err)
		}
		if got := lists[k.name](); got != before {
			t.Errorf("with the %s back, %d are listed, want %d", k.name, got, before)
		}
	}
	// What is in the bin stays where records use it.
	for _, kind := range []string{"metal", "recipe", "supply"} {
		if err := s.BinItem(ctx, kind, ids[kind]); err != nil {
			t.Fatal(err)
		}
	}
	if m := must[studio.Metal](t)(s.Metal(ctx, b.metal.ID)); m.BinnedAt.IsZero() || m.Name != b.metal.Name {
		t.Errorf("metal is %+v", m)
	}
	must[studio.Version](t)(s.Version(ctx, b.recipe.Latest.ID))

	if err := s.BinItem(ctx, "set", b.set.ID); err != nil {
		t.Fatal(err)
	}
	if n := len(must[[]studio.Swatch](t)(s.Swatches(ctx))) + len(must[[]studio.Treatment](t)(s.Treatments(ctx, TreatmentFilter{}))); n != 0 {
		t.Errorf("a set in the bin leaves %d swatches and treatments listed", n)
	}
	if n := len(must[[]studio.Treatment](t)(s.Treatments(ctx, TreatmentFilter{Set: b.set.ID}))); n != 2 {
		t.Errorf("the binned set's own page has %d treatments, want 2", n)
	}
	wantProblem(t, s.BinItem(ctx, "cat", 1), studio.Invalid, "cat")
	wantProblem(t, s.BinItem(ctx, "set", 99), studio.NotFound, "no set 99")
}

func TestPurgeTakesOnlyWhatIsOldAndUnused(t *testing.T) {
	c := &clock{noon.AddDate(0, 0, -40)}
	s := mustOpen(t, t.TempDir(), c)
	b := furnish(t, s, false)
	spare := must[studio.Supply](t)(s.SaveSupply(ctx, studio.Supply{Name: "spare", Material: "water", StrengthUnit: studio.Pure}))
	twice := picture(100)
	shared := func(swatch int64) studio.Photo {
		p, _, err := s.AddPhoto(ctx, shot(swatch, studio.Front, studio.Bare, c.t), twice)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	gone, stays := shared(1), shared(2)
	alone := addPhoto(t, s, shot(1, studio.Back, studio.Bare, c.t))
	must[studio.Measurement](t)(s.AddMeasurement(ctx, reading(alone.ID)))
	if err := s.SavePreview(ctx, alone.ID, "thumb", []byte("x")); err != nil {
		t.Fatal(err)
	}
	tr := treatmentOf(t, s, 1)
	e := began(tr.ID, "k")
	e.At = c.t
	must[[]studio.Event](t)(s.AddEvents(ctx, []studio.Event{e}))
	for _, x := range []struct {
		kind string
		id   int64
	}{{"swatch", 1}, {"supply", b.salt.ID}, {"supply", spare.ID}, {"recipe", b.recipe.ID}, {"metal", b.metal.ID}, {"chamber", b.chamber.ID}} {
		if err := s.BinItem(ctx, x.kind, x.id); err != nil {
			t.Fatal(err)
		}
	}
	c.t = c.t.AddDate(0, 0, 20)
	if n := must[int](t)(s.PurgeBin(ctx)); n != 0 {
		t.Errorf("after 20 days, %d things went", n)
	}
	if err := s.BinItem(ctx, "swatch", 1); err != nil { // again: it has been there since the first time
		t.Fatal(err)
	}
	if err := s.BinItem(ctx, "swatch", 3); err != nil {
		t.Fatal(err)
	}
	c.t = noon
	if n := must[int](t)(s.PurgeBin(ctx)); n != 2 {
		t.Errorf("after 40 days, %d things went, want the swatch and the spare supply", n)
	}
	_, err := s.Swatch(ctx, 1)
	wantProblem(t, err, studio.NotFound, "no swatch 1")
	_, err = s.Treatment(ctx, tr.ID)
	wantProblem(t, err, studio.NotFound, "no treatment")
	_, err = s.Photo(ctx, gone.ID)
	wantProblem(t, err, studio.NotFound, "no photograph")
	_, err = s.Supply(ctx, spare.ID)
	wantProblem(t, err, studio.NotFound, "no supply")
	must[studio.Swatch](t)(s.Swatch(ctx, 3)) // only 20 days in the bin
	must[studio.Supply](t)(s.Supply(ctx, b.salt.ID))
	must[studio.Recipe](t)(s.Recipe(ctx, b.recipe.ID))
	must[[]byte](t)(s.PhotoData(ctx, stays.ID)) // the file is shared with what went
	same(t, "files", files(t, s), []string{pathOf(twice)})
	wantSound(t, s)

	// With the last swatches gone, nothing uses the rest any more.
	if err := s.BinItem(ctx, "set", b.set.ID); err != nil {
		t.Fatal(err)
	}
	c.t = c.t.AddDate(0, 0, 31)
	must[int](t)(s.PurgeBin(ctx))
	if got := must[Counts](t)(s.Seen(ctx)); !got.Empty || len(files(t, s)) != 0 {
		t.Errorf("left are %+v and %q", got, files(t, s))
	}
	wantSound(t, s)
}

func pathOf(data []byte) string { return filepath.ToSlash(photoPath(hashOf(data), "JPEG")) }

func TestPurgedPhotoGoesWithItsFile(t *testing.T) {
	c := &clock{noon}
	s := mustOpen(t, t.TempDir(), c)
	furnish(t, s, false)
	gone := addPhoto(t, s, shot(1, studio.Front, studio.Bare, noon))
	stays := addPhoto(t, s, shot(1, studio.Front, studio.Finished, noon))
	must[studio.Measurement](t)(s.AddMeasurement(ctx, reading(gone.ID)))
	gone.Note = "blurred"
	if err := s.UpdatePhoto(ctx, gone); err != nil {
		t.Fatal(err)
	}
	if err := s.BinItem(ctx, "photo", gone.ID); err != nil {
		t.Fatal(err)
	}
	c.t = c.t.AddDate(0, 0, 31)
	if n := must[int](t)(s.PurgeBin(ctx)); n != 1 {
		t.Errorf("%d things went, want 1", n)
	}
	same(t, "files", files(t, s), []string{filepath.ToSlash(photoPath(stays.SHA256, "JPEG"))})
	wantSound(t, s)
}

func TestExampleGoesAndWhatIsMineStays(t *testing.T) {
	s := fresh(t)
	if must[bool](t)(s.HasInvented(ctx)) {
		t.Error("a new studio has invented records")
	}
	example := furnish(t, s, true)
	addPhoto(t, s, shot(example.pieces[0].Number, studio.Front, studio.Bare, noon))
	must[[]studio.Event](t)(s.AddEvents(ctx, []studio.Event{began(treatmentOf(t, s, 1).ID, "k")}))
	over := must[studio.Recipe](t)(s.AddRecipe(ctx, studio.Recipe{Name: "Over it", Invented: true},
		studio.Version{Steps: steps(0, 0), OverID: example.recipe.Latest.ID, Over: studio.OverDry}))
	must[studio.Version](t)(s.AddVersion(ctx, over.ID, studio.Version{Steps: steps(0, 0), OverID: over.Latest.ID, Over: studio.OverDry}))
	mine := furnish(t, s, false)
	// Mine uses one of the example's supplies.
	borrowed := must[studio.Supply](t)(s.SaveSupply(ctx, studio.Supply{Name: "Borrowed", Material: "water", StrengthUnit: studio.Pure, Invented: true}))
	must[studio.Version](t)(s.AddVersion(ctx, mine.recipe.ID, studio.Version{Steps: steps(borrowed.ID, 0)}))
	my := addPhoto(t, s, shot(mine.pieces[0].Number, studio.Front, studio.Bare, noon))
	if !must[bool](t)(s.HasInvented(ctx)) {
		t.Error("the example is not seen")
	}
	if err := s.RemoveInvented(ctx); err != nil {
		t.Fatal(err)
	}
	if must[bool](t)(s.HasInvented(ctx)) {
		t.Error("there is still something to remove")
	}
	same(t, "swatches", must[[]studio.Swatch](t)(s.Swatches(ctx)), mine.pieces)
	same(t, "metals", must[[]studio.Metal](t)(s.Metals(ctx)), []studio.Metal{mine.metal})
	same(t, "supplies", must[[]studio.Supply](t)(s.Supplies(ctx)), []studio.Supply{borrowed, mine.salt})
	same(t, "files", files(t, s), []string{my.SHA256[:2] + "/" + my.SHA256 + ".jpg"})
	if r := must[[]studio.Recipe](t)(s.Recipes(ctx)); len(r) != 1 || r[0].ID != mine.recipe.ID {
		t.Errorf("recipes are %+v", r)
	}
	wantSound(t, s)
}

func TestDevicesComeAndGo(t *testing.T) {
	c := &clock{noon}
	s := mustOpen(t, t.TempDir(), c)
	hash := picture(32)
	d := must[studio.Device](t)(s.AddDevice(ctx, "Ann's phone", hash))
	same(t, "device", d, studio.Device{ID: d.ID, Name: "Ann's phone", Joined: noon, LastSeen: noon})
	same(t, "by token", must[studio.Device](t)(s.DeviceByToken(ctx, hash)), d)
	_, err := s.DeviceByToken(ctx, picture(32))
	wantProblem(t, err, studio.NotFound, "not been let in")
	for after, want := range map[time.Duration]time.Duration{30 * time.Second: 0, 2 * time.Minute: 2 * time.Minute} {
		c.t = noon.Add(after)
		if _, err := s.write.Exec(`UPDATE device SET last_seen_at = ?`, stamp(noon)); err != nil {
			t.Fatal(err)
		}
		if err := s.TouchDevice(ctx, d.ID); err != nil {
			t.Fatal(err)
		}
		if got := must[[]studio.Device](t)(s.Devices(ctx))[0].LastSeen; !got.Equal(noon.Add(want)) {
			t.Errorf("%v later it was last seen %v", after, got)
		}
	}
	if err := s.RevokeDevice(ctx, d.ID); err != nil {
		t.Fatal(err)
	}
	if d := must[studio.Device](t)(s.DeviceByToken(ctx, hash)); !d.Revoked {
		t.Error("the device is not shut out")
	}
	wantProblem(t, s.RevokeDevice(ctx, 99), studio.NotFound, "no device 99")
	wantProblem(t, s.TouchDevice(ctx, 99), studio.NotFound, "no device 99")
}

func TestSettingsAreKept(t *testing.T) {
	s := fresh(t)
	if v := must[string](t)(s.Setting(ctx, "wall.order")); v != "" {
		t.Errorf("got %q", v)
	}
	for _, v := range []string{"hue", "time", ""} {
		if err := s.SaveSetting(ctx, "wall.order", v); err != nil {
			t.Fatal(err)
		}
		if got := must[string](t)(s.Setting(ctx, "wall.order")); got != v {
			t.Errorf("got %q, want %q", got, v)
		}
	}
}

func TestSeenCounts(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	p := addPhoto(t, s, shot(1, studio.Front, studio.Bare, noon))
	addPhoto(t, s, shot(1, studio.Back, studio.Bare, noon))
	must[studio.Measurement](t)(s.AddMeasurement(ctx, reading(p.ID)))
	want := Counts{Metals: 1, Supplies: 1, Chambers: 1, Recipes: 1, Sets: 1, Swatches: 3, Photos: 2, Measured: 1}
	same(t, "counts", must[Counts](t)(s.Seen(ctx)), want)

	tap := func(swatch int64, kind studio.EventKind, step int, corrects int64, running int) studio.Event {
		t.Helper()
		e := studio.Event{Treatment: treatmentOf(t, s, swatch).ID, Kind: kind, Step: step, At: noon, Corrects: corrects}
		e.Client = keys(int(must[int64](t)(number(ctx, s.read, `SELECT count(*) FROM event`))))
		got := must[[]studio.Event](t)(s.AddEvents(ctx, []studio.Event{e}))[0]
		want.Running = running
		same(t, string(kind), must[Counts](t)(s.Seen(ctx)), want)
		return got
	}
	first := tap(1, studio.Began, 0, 0, 1)
	tap(2, studio.Began, 0, 0, 2)
	tap(1, studio.Voided, 0, first.ID, 1)
	tap(1, studio.Began, 0, 0, 2)
	tap(1, studio.Done, 2, 0, 2)
	last := tap(1, studio.Done, len(steps(0, 0))-1, 0, 1)
	tap(1, studio.Voided, 0, last.ID, 2)
	tap(2, studio.Stopped, 0, 0, 1)
	if err := s.BinItem(ctx, "set", b.set.ID); err != nil {
		t.Fatal(err)
	}
	same(t, "with the set in the bin", must[Counts](t)(s.Seen(ctx)), Counts{Metals: 1, Supplies: 1, Chambers: 1, Recipes: 1})
}
