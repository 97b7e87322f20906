package pool_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"aerugo/internal/flow/pool"
	"aerugo/internal/flow/run"
	"aerugo/internal/science/film"
	"aerugo/internal/science/texture"
	"aerugo/internal/studio"
)

func job(faces studio.Faces, steps ...studio.Step) pool.Job {
	return pool.Job{Treatment: studio.Treatment{Faces: faces, Steps: steps}, Swatch: studio.Swatch{Number: 7, WidthMM: 50, HeightMM: 50},
		Chambers: []studio.Chamber{{ID: 1, Name: "Box", VolumeL: 20, PadML: 250, GapMM: 40}}}
}

var (
	degrease = studio.Step{Kind: studio.Degrease}
	spray    = studio.Step{Kind: studio.Wet, Material: "water", Amount: studio.Amount{Value: 100, Unit: studio.GramPerM2}}
	salt     = studio.Step{Kind: studio.Sprinkle, Material: "sodium-chloride", Amount: studio.Amount{Value: 15, Unit: studio.GramPerM2}}
	fume     = studio.Step{Kind: studio.Fume, Material: "ammonia-water", Strength: 9, ChamberID: 1, Duration: 16 * time.Hour}
	dry      = studio.Step{Kind: studio.Dry, Duration: time.Hour}
)

// A water puddle with a contact angle of 60° stands 2 lc sin 30° = 2.73 mm, with lc
// of water at 20 °C 2.73 mm (de Gennes, Brochard-Wyart and Quéré 2004: 2.7 mm), so
// that 100 g/m², 0.1 mm, covers 3.7 %, and over 50 mm it runs at atan(2.73/50) = 3.1°.
func TestSprayedWaterBeadsAsThePuddleFormulaSays(t *testing.T) {
	lays := pool.Lays(job(studio.OnBoth, spray, fume))
	if len(lays) != 1 || lays[0].Faces != studio.OnBoth {
		t.Fatalf("lays = %+v", lays)
	}
	l := lays[0]
	for _, c := range []struct {
		what              string
		got, want, within float64
	}{{"puddle, mm", l.PuddleMM.Value, 2.73, 0.02}, {"share of the face", l.Share.Value, 0.0366, 0.001}, {"tilt, degrees", l.CriticalTiltDeg.Value, 3.12, 0.03}, {"level within", l.LevelDeg, 1.56, 0.02}} {
		if math.Abs(c.got-c.want) > c.within {
			t.Errorf("%s: %.4f, want %.4f", c.what, c.got, c.want)
		}
	}
	if l.Cause != film.Cohesion || !l.Act() || l.Place != "in Box" {
		t.Errorf("%s, %s, %q", l.Cause, l.Place, l.Short())
	}
	if !strings.Contains(strings.Join(l.Assumed, "; "), "tilt in Box: level") {
		t.Errorf("the tilt nobody measured is not marked: %v", l.Assumed)
	}
}

// Sprayed on after degreasing, water meets metal that it wets better (from
// memory: 10 to 40° against 70 to 90°), so that the same liquid covers more.
func TestDegreasedMetalIsCoveredFurther(t *testing.T) {
	handled, clean := pool.Lays(job(studio.OnFront, spray))[0], pool.Lays(job(studio.OnFront, degrease, spray))[0]
	if !(clean.Share.Value > 2*handled.Share.Value) || clean.FilmGPerM2 != handled.FilmGPerM2 {
		t.Errorf("clean %.3f, handled %.3f; films %v and %v", clean.Share.Value, handled.Share.Value, clean.FilmGPerM2, handled.FilmGPerM2)
	}
}

func TestTiltedChamberRuns(t *testing.T) {
	j := job(studio.OnFront, spray, fume)
	j.Chambers[0].TiltDeg = 6
	l := pool.Lays(j)[0]
	if l.Cause != film.Gravity || !strings.Contains(l.Do[0].Text, "Level the face to within 1.6°") {
		t.Errorf("%s: %v", l.Cause, l.Do)
	}
	if strict, ok := pool.Strictest([]pool.Lay{{Unknown: "x"}, l, pool.Lays(job(studio.OnFront, degrease, spray))[0]}); !ok || strict.LevelDeg >= l.LevelDeg {
		t.Errorf("the clean face needs less tilt, but %.2f is the strictest of it and %.2f", strict.LevelDeg, l.LevelDeg)
	}
}

// Dry salt in the chamber gathers more than the water it needs to dissolve:
// 15 g/m² over 9 wt% ammonia is dissolved after about 5 h (common practice, no
// source), which takes 15/0.359 = 42 g/m² of water (solubility: CRC handbook).
func TestSaltGathersItsLiquidInTheChamber(t *testing.T) {
	l := pool.Lays(job(studio.OnFront, degrease, salt, fume))[0]
	if l.Kind != studio.Fume || l.FilmGPerM2 < 42+15 || !strings.Contains(l.Words, "gathered in 16 h") {
		t.Errorf("%s: %.0f g/m², %q", l.Kind, l.FilmGPerM2, l.Words)
	}
	if got := pool.Lays(job(studio.OnFront, degrease, salt, dry)); len(got) != 0 {
		t.Errorf("dry salt that never meets water was judged: %+v", got)
	}
}

// A patina is porous: that it drinks liquid is common practice, no source.
func TestLayerOverAPatinaIsDoubted(t *testing.T) {
	j := job(studio.OnFront, spray)
	if l := pool.Lays(j)[0]; len(l.Doubt) != 0 {
		t.Errorf("on bare metal: %v", l.Doubt)
	}
	j.Treatment.Layer = 2
	if l := pool.Lays(j)[0]; len(l.Doubt) != 1 || !strings.Contains(l.Doubt[0], "patina") {
		t.Errorf("over a patina: %v", l.Doubt)
	}
}

func TestLiquidsAreNamed(t *testing.T) {
	for key, want := range map[string]string{"": "100 g/m² of water", "distilled-water": "100 g/m² of distilled water", "vinegar": "100 g/m² of liquid (vinegar)"} {
		s := spray
		s.Material = key
		l := pool.Lays(job(studio.OnFront, s))[0]
		if l.Words != want || (key == "vinegar") != (len(l.Doubt) == 1) {
			t.Errorf("%q: %q, %v", key, l.Words, l.Doubt)
		}
	}
}

func TestAmountsNobodyGaveAreNotReckoned(t *testing.T) {
	l := pool.Lays(job(studio.OnFront, studio.Step{Kind: studio.Wet}, fume))
	if len(l) != 1 || l[0].Unknown == "" || l[0].Short() != "Can't be reckoned" || l[0].Act() {
		t.Errorf("%+v", l)
	}
}

// Whatever steps stand in a recipe, every face's answer is a number with its
// bounds in order, or says why it can't be reckoned.
func TestEveryRecipeGetsAnAnswer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		step := rapid.Custom(func(t *rapid.T) studio.Step {
			return studio.Step{Kind: rapid.SampledFrom(studio.StepKinds).Draw(t, "kind"), Material: rapid.SampledFrom([]string{"", "water", "sodium-chloride", "ammonia-water", "vinegar", "copper-nitrate"}).Draw(t, "material"),
				Strength: rapid.Float64Range(0, 100).Draw(t, "strength"), Amount: studio.Amount{Value: rapid.SampledFrom([]float64{0, 0.001, 12, 400, 1e5}).Draw(t, "amount"), Unit: rapid.SampledFrom(studio.Units).Draw(t, "unit")},
				ChamberID: rapid.Int64Range(0, 2).Draw(t, "chamber"), Faces: rapid.SampledFrom([]studio.Faces{"", studio.OnFront, studio.OnBack}).Draw(t, "faces"),
				Duration: time.Duration(rapid.Int64Range(0, int64(1440*time.Hour)).Draw(t, "time"))}
		})
		j := job(studio.OnBoth, rapid.SliceOfN(step, 1, 6).Draw(t, "steps")...)
		j.Chambers[0].TiltDeg = rapid.Float64Range(0, 45).Draw(t, "tilt")
		for _, l := range pool.Lays(j) {
			if l.Unknown == "" && !(l.Share.Low <= l.Share.Value && l.Share.Value <= l.Share.High && l.LevelDeg > 0 && l.Short() != "") {
				t.Fatalf("%+v", l)
			}
		}
		for i := range j.Treatment.Steps {
			if d, ok := pool.Dry(j, i, pool.Room{TempC: 20, RH: rapid.Float64Range(0, 1).Draw(t, "rh")}, now); ok && (d.Words == "" || !(d.Hours.Low <= d.Hours.Value && d.Hours.Value <= d.Hours.High)) {
				t.Fatalf("%+v", d)
			}
		}
	})
}

func deg(v float64) *float64 { return &v }

func TestPhotographsFitACause(t *testing.T) {
	low := studio.Pooling{Of: "coverage", EdgeRatio: 1, Offset: 0.3, OffsetDeg: 275, Islands: 1, LargestMM: 30}
	beads := studio.Pooling{Of: "coverage", EdgeRatio: 1, Offset: 0.02, Islands: 14, LargestMM: 6}
	rim := studio.Pooling{Of: "coverage", EdgeRatio: 1.6, Offset: 0.02, Islands: 1}
	even := studio.Pooling{Of: "coverage", EdgeRatio: 1.05, Offset: 0.02, Islands: 1}
	for _, c := range []struct {
		what  string
		s     pool.Shown
		cause string
		turn  bool
		word  string
	}{
		{"at the bottom, which was low", pool.Shown{Pooling: low, LowDeg: deg(270)}, film.Gravity, true, "fits the tilt"},
		{"at the bottom, the top was low", pool.Shown{Pooling: low, LowDeg: deg(90)}, film.Cohesion, false, "high side"},
		{"at the bottom, the right was low", pool.Shown{Pooling: low, LowDeg: deg(0)}, pool.CantTell, true, "across"},
		{"at the bottom, nobody knows", pool.Shown{Pooling: low}, pool.CantTell, true, "the bottom, by tilt or by beading"},
		{"at the bottom, it lay level", pool.Shown{Pooling: low, Level: true}, film.Cohesion, false, "tilt is ruled out"},
		{"islands", pool.Shown{Pooling: beads, Covered: 0.4}, film.Cohesion, false, "islands"},
		{"islands a little to one side, as chance has it", pool.Shown{Pooling: studio.Pooling{Of: "coverage", EdgeRatio: 1, Offset: 0.2, OffsetDeg: 40, Islands: 29}, Covered: 0.2}, film.Cohesion, false, "islands"},
		{"islands far to one side", pool.Shown{Pooling: studio.Pooling{Of: "coverage", EdgeRatio: 1, Offset: 0.35, OffsetDeg: 40, Islands: 29}, Covered: 0.2}, pool.CantTell, true, "the upper right"},
		{"one pool with crumbs", pool.Shown{Pooling: studio.Pooling{Of: "coverage", EdgeRatio: 1, Offset: 0.3, OffsetDeg: 40, Islands: 29, LargestMM: 28}, Covered: 0.3, WidthMM: 50, HeightMM: 50}, pool.CantTell, true, "the upper right"},
		{"two large islands among crumbs", pool.Shown{Pooling: studio.Pooling{Of: "coverage", EdgeRatio: 1, Offset: 0.3, OffsetDeg: 40, Islands: 29, LargestMM: 20}, Covered: 0.3, WidthMM: 50, HeightMM: 50}, film.Cohesion, false, "islands"},
		{"a rim", pool.Shown{Pooling: rim}, film.Cohesion, false, "edges"},
		{"even", pool.Shown{Pooling: even}, film.Neither, false, "No pooling"},
	} {
		v := pool.Read(c.s)
		if v.Cause != c.cause || v.Turn != c.turn || !strings.Contains(v.Short, c.word) || len(v.Why) == 0 {
			t.Errorf("%s: %+v", c.what, v)
		}
		if (v.Cause == film.Neither) != (len(v.Do) == 0) {
			t.Errorf("%s: advised %v", c.what, v.Do)
		}
	}
}

// Islands strewn at random pass for lying to one side in about one case of twenty.
func TestIslandsStrewnAtRandomSeldomFavourASide(t *testing.T) {
	dice := rand.New(rand.NewPCG(4, 2))
	wrong := 0
	const faces, islands = 2000, 12
	for range faces {
		var x, y float64
		for range islands {
			x += (2*dice.Float64() - 1) / islands
			y += (2*dice.Float64() - 1) / islands
		}
		p := studio.Pooling{Of: "coverage", EdgeRatio: 1, Offset: math.Hypot(x, y), OffsetDeg: math.Atan2(y, x) * 180 / math.Pi, Islands: islands}
		if pool.Read(pool.Shown{Pooling: p, Covered: 0.3}).Side != "" {
			wrong++
		}
	}
	if share := float64(wrong) / faces; share < 0.03 || share > 0.07 {
		t.Errorf("%.1f %% of faces with islands strewn at random were said to favour a side, want about 5 %%", 100*share)
	}
}

func TestSidesAreNamedAnticlockwiseFromTheRight(t *testing.T) {
	for deg, want := range map[float64]string{0: "the right", 44: "the upper right", 90: "the top", 181: "the left", 315: "the lower right", 350: "the right", 359.9: "the right", -90: "the bottom"} {
		if got := pool.SideName(deg); got != want {
			t.Errorf("%v°: %s, want %s", deg, got, want)
		}
	}
}

// What a photograph's reading keeps leads back to the place in mm.
func TestPlaceIsWhereTheReadingSaw(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(20, 60).Draw(t, "w"), rapid.IntRange(20, 60).Draw(t, "h")
		g := texture.Grid{W: w, H: h, V: make([]float64, w*h), OK: make([]bool, w*h), MMPerCell: 1}
		x, y := rapid.IntRange(0, w-4).Draw(t, "x"), rapid.IntRange(0, h-4).Draw(t, "y")
		for i := range g.V {
			g.OK[i] = true
			if cx, cy := i%w, i/w; cx >= x && cx < x+4 && cy >= y && cy < y+4 {
				g.V[i] = 1
			}
		}
		p, err := texture.Pool(g, texture.WholeFace(g), 5)
		if err != nil {
			t.Fatal(err)
		}
		at := pool.Place(studio.Pooling{Offset: p.Offset, OffsetDeg: p.OffsetDeg}, float64(w), float64(h))
		if math.Abs(at.RightMM-p.RightMM) > 1e-9 || math.Abs(at.UpMM-p.UpMM) > 1e-9 {
			t.Fatalf("%v, %v; was %v, %v", at.RightMM, at.UpMM, p.RightMM, p.UpMM)
		}
	})
}

func measured(photo int64, offset, deg float64) *studio.Measurement {
	return &studio.Measurement{Photo: photo, Pooling: &studio.Pooling{Of: "coverage", Offset: offset, OffsetDeg: deg}}
}

// Turning the piece without the pool moving rules gravity out (common practice,
// no source).
func TestTurnedPieceIsReadFromTwoPhotographs(t *testing.T) {
	before := measured(1, 0.4, 270)
	for _, c := range []struct {
		what  string
		after *studio.Measurement
		drawn float64
		says  string
	}{
		{"it stayed at the piece's bottom", measured(2, 0.38, 268), 0, film.GravityRuledOut},
		{"it went to the piece's top, which is low now", measured(2, 0.4, 92), 0, film.GravityIs},
		{"drawn upside down, at the picture's top: the piece's bottom", measured(2, 0.4, 90), 180, film.GravityRuledOut},
		{"drawn upside down, at the picture's bottom: the piece's top", measured(2, 0.4, 270), 180, film.GravityIs},
		{"in the middle", measured(2, 0, 0), 0, film.CantTell},
	} {
		got, err := pool.Turned(pool.Turn{Before: before, After: c.after, WidthMM: 50, HeightMM: 40, TurnedDeg: 180, DrawnDeg: c.drawn})
		if err != nil || got.Says != c.says {
			t.Errorf("%s: %+v, %v", c.what, got, err)
		}
	}
	for _, c := range []struct {
		word string
		turn pool.Turn
	}{
		{"same photograph", pool.Turn{Before: before, After: before, WidthMM: 50, HeightMM: 50, TurnedDeg: 180}},
		{"Mark and measure", pool.Turn{Before: before, After: &studio.Measurement{Photo: 3}, WidthMM: 50, HeightMM: 50, TurnedDeg: 180}},
		{"size is not known", pool.Turn{Before: before, After: measured(2, 0.4, 0), TurnedDeg: 180}},
		{"not square", pool.Turn{Before: before, After: measured(2, 0.4, 0), WidthMM: 50, HeightMM: 40, TurnedDeg: 90, DrawnDeg: 90}},
		{"darkness", pool.Turn{Before: before, After: &studio.Measurement{Photo: 3, Pooling: &studio.Pooling{Of: "darkness"}}, WidthMM: 50, HeightMM: 50, TurnedDeg: 180}},
	} {
		if _, err := pool.Turned(c.turn); studio.ProblemIn(err) == nil || !strings.Contains(err.Error(), c.word) {
			t.Errorf("%s: %v", c.word, err)
		}
	}
}

var now = time.Date(2026, 3, 14, 14, 0, 0, 0, time.Local)

func read(at time.Time, temp, rh *float64) run.Record {
	return run.Record{Room: []run.Reading{{At: at, TempC: temp, RH: rh}}}
}

func TestRoomIsTheLastRead(t *testing.T) {
	got := pool.RoomNow([]run.Record{read(now.Add(-time.Hour), deg(21), nil), read(now.Add(-2*time.Hour), deg(17), deg(0.6)), read(now.Add(-13*time.Hour), nil, deg(0.9)), read(now.Add(time.Hour), deg(30), deg(0.1))}, now)
	if got.TempC != 21 || got.RH != 0.6 || got.TempAssumed || got.RHAssumed {
		t.Errorf("%+v", got)
	}
	if text := pool.RoomNow(nil, now).String(); text != "20 °C (assumed), 50 % humidity (assumed)" {
		t.Errorf("a room nobody read is called %q", text)
	}
}

// Common salt is dry below 75.5 % and stays wet above (Greenspan 1977). A bare
// film of 50 g/m² in a room of 20 °C and 50 % (17.3 g/m³ of vapour saturated, CRC
// handbook) goes at 0.0035 m/s × 8.65 g/m³ = 109 g/(m² h): in 0.46 h.
func TestDryByWhenInThisRoom(t *testing.T) {
	room := pool.Room{TempC: 20, RH: 0.5}
	d, ok := pool.Dry(job(studio.OnFront, studio.Step{Kind: studio.Rinse}, dry), 1, room, now)
	if !ok || d.Outlook != film.Dries || math.Abs(d.Hours.Value-0.46) > 0.02 {
		t.Fatalf("rinsed: %v, %+v", ok, d)
	}
	if by := d.By.Sub(now).Minutes(); math.Abs(by-60*d.Hours.Value) > 0.1 || !strings.HasPrefix(d.Words, "Dry by about 14:2") {
		t.Errorf("after %.1f min: %q", by, d.Words)
	}
	fumed := job(studio.OnFront, salt, fume, dry)
	room.RH = 0.85
	if d, ok := pool.Dry(fumed, 2, room, now); !ok || !d.Never() || !strings.HasPrefix(d.Words, "Will not dry today") || !d.By.IsZero() {
		t.Errorf("salty at 85 %%: %v, %+v", ok, d)
	}
	room.RH = 0.755
	if d, _ := pool.Dry(fumed, 2, room, now); d.Outlook != film.Unclear || !strings.HasPrefix(d.Words, "Can't tell") {
		t.Errorf("salty at 75.5 %%: %q", d.Words)
	}
	room.RH = 0.5
	slow, _ := pool.Dry(fumed, 2, room, now)
	if !(slow.Hours.Value > d.Hours.Value) || len(slow.Cautions) == 0 {
		t.Errorf("salt holds its water: %.2f h, a rinsed face %.2f h; %v", slow.Hours.Value, d.Hours.Value, slow.Cautions)
	}
	short := fumed
	short.Treatment.Steps = []studio.Step{salt, fume, {Kind: studio.Dry, Duration: time.Minute}}
	if d, _ := pool.Dry(short, 2, room, now); !strings.Contains(d.Words, "1 min of the recipe are too short") {
		t.Errorf("%q", d.Words)
	}
}

// A Dry step that began counts from then.
func TestDryingCountsFromItsBeginning(t *testing.T) {
	j := job(studio.OnFront, studio.Step{Kind: studio.Rinse}, dry)
	j.Record = run.Record{Status: run.Running, Current: 1, Steps: []run.StepRecord{{}, {State: run.Current, Began: now.Add(-2 * time.Hour)}}}
	d, ok := pool.Dry(j, 1, pool.Room{TempC: 20, RH: 0.5}, now)
	if !ok || !d.By.Before(now) || !strings.HasPrefix(d.Words, "Should be dry since 12:2") {
		t.Errorf("%v, %q", ok, d.Words)
	}
	if _, ok := pool.Dry(j, 0, pool.Room{}, now); ok {
		t.Error("a rinse is no Dry step")
	}
	if _, ok := pool.Dry(job(studio.OnFront, dry), 0, pool.Room{TempC: 20, RH: 0.5}, now); ok {
		t.Error("bare dry metal was said to dry")
	}
}
