package store

import (
	"testing"
	"time"

	"aerugo/internal/studio"
)

// logged is one record of each kind that a chamber's log may hold.
func logged(b bench, treatment int64) []studio.ChamberLog {
	bath, piece := 19.5, 21.0
	all := []studio.ChamberLog{
		{Kind: studio.PadCharged, SupplyID: b.salt.ID, Strength: 9, SolutionG: 60},
		{Kind: studio.LidOpened},
		{Kind: studio.AirRead, TempC: &bath, PieceC: &piece, Note: "thermometer by the pad"},
		{Kind: studio.SaltSeen, Treatment: treatment, Face: studio.Back, Saw: studio.Dissolved},
		{Kind: studio.CapWeighed, Cap: &studio.CapWeighing{Salt: "sodium-chloride", AreaCM2: 7, SaltG: 3, BeforeG: 5, AfterG: 5.4, Hours: 3}},
		{Kind: studio.AiredOut},
	}
	for i := range all {
		all[i].Chamber, all[i].Client, all[i].By, all[i].At = b.chamber.ID, keys(i), "Ada", noon.Add(time.Duration(i)*time.Minute-time.Hour)
	}
	return all
}

func TestChamberLogIsKeptAsGivenAndEachTapOnce(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	treatment := treatmentOf(t, s, b.pieces[0].Number).ID
	want := logged(b, treatment)
	for range 2 {
		for i, l := range want {
			kept := must[studio.ChamberLog](t)(s.AddChamberLog(ctx, l))
			want[i].ID, want[i].Recorded = kept.ID, kept.Recorded
		}
	}
	same(t, "the log", must[[]studio.ChamberLog](t)(s.ChamberLog(ctx, b.chamber.ID)), want)
	if n := len(studio.Standing(want)); n != len(want) {
		t.Errorf("%d of %d records stand", n, len(want))
	}
	back := must[studio.ChamberLog](t)(s.AddChamberLog(ctx, studio.ChamberLog{Chamber: b.chamber.ID, Client: "undo", Kind: studio.TakenBack, At: noon, Corrects: want[1].ID}))
	stand := studio.Standing(append(want, back))
	if len(stand) != len(want)-1 || stand[1].Kind != studio.AirRead {
		t.Errorf("with the lid's record taken back, %+v stand", stand)
	}
	_, err := s.AddChamberLog(ctx, studio.ChamberLog{Chamber: b.chamber.ID, Client: "undo2", Kind: studio.TakenBack, At: noon, Corrects: back.ID})
	wantProblem(t, err, studio.Conflict, "not one of this chamber's")
	if _, err := s.write.ExecContext(ctx, `UPDATE chamber_log SET note = 'other'`); err == nil {
		t.Error("a record of the log was changed")
	}
	// The swatch goes, and with it only what was seen on it.
	if err := s.BinItem(ctx, "set", b.set.ID); err != nil {
		t.Fatal(err)
	}
	later := &clock{noon.AddDate(0, 2, 0)}
	dir := s.Dir()
	s.Close()
	s = mustOpen(t, dir, later)
	must[int](t)(s.PurgeBin(ctx))
	for _, l := range must[[]studio.ChamberLog](t)(s.ChamberLog(ctx, b.chamber.ID)) {
		if l.Kind == studio.SaltSeen {
			t.Error("what was seen on a swatch outlives it")
		}
	}
	wantSound(t, s)
}

func TestChamberLogRefusesWhatCannotBe(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	hot := 80.0
	for _, tc := range []struct {
		change func(*studio.ChamberLog)
		says   string
	}{
		{func(l *studio.ChamberLog) { l.Chamber = 99 }, "chamber"},
		{func(l *studio.ChamberLog) { l.Client = " " }, "no key"},
		{func(l *studio.ChamberLog) { l.At = noon.Add(time.Hour) }, "future"},
		{func(l *studio.ChamberLog) { l.Kind = "boiled" }, "not something"},
		{func(l *studio.ChamberLog) { l.SolutionG = 0 }, "solution on the pad"},
		{func(l *studio.ChamberLog) { l.Strength = 60 }, "0 to 35"},
		{func(l *studio.ChamberLog) { l.Kind, l.TempC = studio.AirRead, &hot }, "80 °C"},
		{func(l *studio.ChamberLog) { l.Kind = studio.AirRead }, "at least one temperature"},
		{func(l *studio.ChamberLog) { l.Kind = studio.SaltSeen }, "grains were left"},
		{func(l *studio.ChamberLog) {
			l.Kind, l.Cap = studio.CapWeighed, &studio.CapWeighing{AreaCM2: 7, SaltG: 3, BeforeG: 5, AfterG: 4.9, Hours: 3}
		}, "lost 0.10 g"},
		{func(l *studio.ChamberLog) { l.SupplyID = 99 }, "supply"},
	} {
		l := studio.ChamberLog{Chamber: b.chamber.ID, Client: "a", Kind: studio.PadCharged, At: noon, Strength: 9, SolutionG: 60}
		tc.change(&l)
		_, err := s.AddChamberLog(ctx, l)
		p := studio.ProblemIn(err)
		if p == nil {
			t.Errorf("want a Problem with %q, got %v", tc.says, err)
			continue
		}
		wantProblem(t, err, p.Kind, tc.says)
	}
	if n := len(must[[]studio.ChamberLog](t)(s.ChamberLog(ctx, b.chamber.ID))); n != 0 {
		t.Errorf("%d records were kept", n)
	}
}

func TestRoomIsKeptAsGiven(t *testing.T) {
	s := fresh(t)
	want := studio.Room{Name: "Shed", VolumeM3: 30.5, ACH: 1.5, Mixing: 3, Hood: true, Invented: true}
	got := must[studio.Room](t)(s.SaveRoom(ctx, want))
	want.ID = got.ID
	same(t, "the room", must[studio.Room](t)(s.Room(ctx, got.ID)), want)
	want.Outdoors, want.VolumeM3 = true, 0
	same(t, "the yard", must[studio.Room](t)(s.SaveRoom(ctx, want)), want)
	_, err := s.SaveRoom(ctx, studio.Room{Name: "Cupboard", VolumeM3: 0.2, Mixing: 1})
	wantProblem(t, err, studio.Invalid, "room's volume can't be 0.2")
	c := must[studio.Chamber](t)(s.SaveChamber(ctx, studio.Chamber{Name: "Box", VolumeL: 20, Places: 1, LeakPerH: 0.2, RoomID: want.ID}))
	same(t, "the chamber", must[studio.Chamber](t)(s.Chamber(ctx, c.ID)), studio.Chamber{ID: c.ID, Name: "Box", VolumeL: 20, Places: 1, LeakPerH: 0.2, RoomID: want.ID})
}
