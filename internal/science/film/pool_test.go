package film

import (
	"encoding/csv"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"
	"time"

	"pgregory.net/rapid"

	"aerugo/internal/science"
)

// rows reads a table of testdata by its columns' names.
func rows(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	lines, err := r.ReadAll()
	if err != nil || len(lines) < 2 {
		t.Fatalf("%s: %d lines, %v", name, len(lines), err)
	}
	var out []map[string]string
	for _, l := range lines[1:] {
		m := map[string]string{}
		for i, cell := range l {
			m[lines[0][i]] = cell
		}
		out = append(out, m)
	}
	return out
}

func value(t *testing.T, cell string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(cell, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// away fails when got is not within tolerance of want, and logs both.
func away(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	t.Logf("%-58s %11.5g %11.5g %9.2g", what, want, got, got-want)
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %v, want %v within %v", what, got, want, tolerance)
	}
}

var water20 = Liquid{"water", 0.07274, 998.2}

// testdata/puddle_height.csv, after de Gennes, Brochard-Wyart and Quéré 2004,
// computed outside this program: lengths to 4 digits.
func TestPuddleHeightsMatchTheTable(t *testing.T) {
	for _, r := range rows(t, "puddle_height.csv") {
		// kg/m3 and mN/m as printed there
		sigma, rho := value(t, r["sigma_mN_m"])/1000, value(t, r["rho_kg_m3"])
		l := Liquid{r["liquid"], 0, 0}
		setLiquid(&l, sigma, rho)
		lc, err := l.CapillaryMM()
		if err != nil {
			t.Fatal(err)
		}
		away(t, r["liquid"]+", capillary length mm", lc, value(t, r["lc_mm"]), 2e-4)
		e, err := l.PuddleMM(value(t, r["theta_deg"]))
		if err != nil {
			t.Fatal(err)
		}
		away(t, r["liquid"]+" at "+r["theta_deg"]+"°, puddle mm", e, value(t, r["e_mm"]), 3e-4)
	}
}

// sin 30° = 1/2: at 60 degrees a puddle is exactly one capillary length high.
// A tenth of a square metre then holds 273 mL of water at 20 °C.
func TestPuddleAtSixtyDegreesIsTheCapillaryLength(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var l Liquid
		setLiquid(&l, rapid.Float64Range(0.01, 0.1).Draw(t, "tension"), rapid.Float64Range(600, 2000).Draw(t, "density"))
		lc, _ := l.CapillaryMM()
		e, err := l.PuddleMM(60)
		if err != nil || math.Abs(e/lc-1) > 1e-12 {
			t.Fatalf("%v mm against %v, %v", e, lc, err)
		}
	})
	g, err := water20.PuddleG(60, 0.1)
	if err != nil {
		t.Fatal(err)
	}
	away(t, "mL on 0.1 m2 at 60°", g/0.9982, 273, 0.5)
}

// testdata/drop_runoff.csv, after Furmidge 1962, computed outside this program.
func TestSlidingDropsMatchTheTable(t *testing.T) {
	for _, r := range rows(t, "drop_runoff.csv") {
		d := Drop{water20, value(t, r["d_mm"]), value(t, r["theta_adv"]), value(t, r["theta_rec"])}
		what := r["d_mm"] + " mm, " + r["theta_adv"] + "/" + r["theta_rec"] + "°"
		v, err := d.VolumeUL()
		if err != nil {
			t.Fatal(err)
		}
		away(t, what+", uL", v, value(t, r["volume_uL"]), 0.006)
		s, err := d.SlideDeg()
		if err != nil {
			t.Fatal(err)
		}
		if r["alpha_slide_deg"] == "" {
			if !math.IsInf(s.Value, 1) || !math.IsInf(s.High, 1) {
				t.Errorf("%s slides at %v°, the table says never", what, s)
			}
			continue
		}
		away(t, what+", slides at °", s.Value, value(t, r["alpha_slide_deg"]), 0.02)
		if !(s.Low < s.Value && s.Value < s.High) {
			t.Errorf("%s: %v is not an interval", what, s)
		}
	}
}

// testdata/draining_film.csv, after Jeffreys 1930, computed outside this program.
func TestDrainingFilmsMatchTheTable(t *testing.T) {
	for _, r := range rows(t, "draining_film.csv") {
		s := Slope{1.002e-3, water20.DensityKgPerM3, value(t, r["incline_deg"])}
		z, after := 1000*value(t, r["z_m"]), time.Duration(value(t, r["t_s"]))*time.Second
		h, err := s.LeftUM(z, after)
		if err != nil {
			t.Fatal(err)
		}
		away(t, r["z_m"]+" m, "+r["t_s"]+" s, "+r["incline_deg"]+"°, um", h, value(t, r["h_um"]), 0.006)
		// the mean over a length, by summing slices, is two thirds of its end
		sum := 0.0
		for i := range 1000 {
			part, _ := s.LeftUM(z*(float64(i)+0.5)/1000, after)
			sum += part / 1000
		}
		if mean, _ := s.MeanUM(z, after); math.Abs(mean/sum-1) > 1e-4 {
			t.Errorf("mean %v, slices give %v", mean, sum)
		}
	}
}

// CRC Handbook of Chemistry and Physics: viscosity of water at 0, 20, 25, 40, 60
// and 100 °C in mPa s (20 °C read in the handbook's text, the others from memory).
func TestWaterViscosityMatchesTheHandbook(t *testing.T) {
	for temp, want := range map[float64]float64{0: 1.793, 20: 1.002, 25: 0.890, 40: 0.653, 60: 0.466, 100: 0.282} {
		got, err := WaterViscosity(science.Celsius(temp))
		if err != nil {
			t.Fatal(err)
		}
		away(t, "viscosity at "+strconv.Itoa(int(temp))+" °C, mPa s", 1000*got, want, 0.002*want+0.0005)
	}
}

// A 50 mm face with 100 g/m2 of water that meets it at 60 degrees: the film is
// 0.1 mm and the puddle 2.73 mm, so that a thirtieth of the face is covered, and
// it takes atan(2.73/50) = 3.1 degrees to move it as one.
func TestCauseFollowsTiltAndFilm(t *testing.T) {
	base := Lay{Liquid: water20, ContactDeg: 60, FilmGPerM2: 100, LengthMM: 50}
	for _, c := range []struct {
		name   string
		change func(*Lay)
		cause  string
		nearly bool
	}{
		{"level and greasy", func(l *Lay) {}, Cohesion, false},
		{"two degrees", func(l *Lay) { l.TiltDeg = 2 }, Cohesion, true},
		{"four degrees", func(l *Lay) { l.TiltDeg = 4 }, Gravity, false},
		{"two degrees, but four times as long", func(l *Lay) { l.TiltDeg, l.LengthMM = 2, 200 }, Gravity, false},
		{"flooded and level", func(l *Lay) { l.FilmGPerM2 = 3000 }, Neither, false},
		{"wetting and level", func(l *Lay) { l.ContactDeg = 5 }, Neither, false},
		{"wetting and tilted", func(l *Lay) { l.ContactDeg, l.TiltDeg = 5, 1 }, Gravity, false},
		{"dry", func(l *Lay) { l.FilmGPerM2, l.TiltDeg = 0, 45 }, Neither, false},
	} {
		l := base
		c.change(&l)
		p, err := Judge(l)
		if err != nil {
			t.Fatal(err)
		}
		if p.Cause != c.cause || p.Nearly != c.nearly || p.Why == "" {
			t.Errorf("%s: %s, nearly %v (%s), want %s, %v", c.name, p.Cause, p.Nearly, p.Why, c.cause, c.nearly)
		}
		if l.FilmGPerM2 > 0 && len(p.Do) < 2 {
			t.Errorf("%s: nothing to do but %v", c.name, p.Do)
		}
		for _, a := range p.Do {
			if a.Source == "" || a.Text == "" {
				t.Errorf("%s: %+v rests on nothing", c.name, a)
			}
		}
	}
	p, _ := Judge(base)
	away(t, "islands' share of the face", p.Share.Value, 0.1001/2.726, 1e-3)
	away(t, "tilt that moves it as one", p.CriticalTiltDeg.Value, 3.12, 0.01)
}

// More liquid covers more; a steeper or longer face never makes gravity less.
func TestPoolingIsMonotone(t *testing.T) {
	order := map[string]int{Neither: 0, Cohesion: 0, Gravity: 1}
	rapid.Check(t, func(t *rapid.T) {
		l := Lay{
			ContactDeg: rapid.Float64Range(0.1, 180).Draw(t, "contact angle"), FilmGPerM2: rapid.Float64Range(0.1, 5000).Draw(t, "film"),
			LengthMM: rapid.Float64Range(1, 5000).Draw(t, "length"), TiltDeg: rapid.Float64Range(0, 89).Draw(t, "tilt"),
		}
		setLiquid(&l.Liquid, rapid.Float64Range(0.01, 0.1).Draw(t, "tension"), rapid.Float64Range(600, 2000).Draw(t, "density"))
		p, err := Judge(l)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range []Interval{p.PuddleMM, p.Share, p.CriticalTiltDeg} {
			if !(s.Low <= s.Value && s.Value <= s.High && s.Low > 0) {
				t.Fatalf("%v is not an interval", s)
			}
		}
		if p.PuddleMM.Value > 2*p.CapillaryMM {
			t.Fatalf("a puddle %v mm high, over two capillary lengths", p.PuddleMM.Value)
		}
		longer, steeper, more := l, l, l
		longer.LengthMM = min(5000, l.LengthMM*2)
		steeper.TiltDeg = min(90, l.TiltDeg+1)
		more.FilmGPerM2 *= 2
		for _, worse := range []Lay{longer, steeper} {
			q, err := Judge(worse)
			if err != nil || order[q.Cause] < order[p.Cause] {
				t.Fatalf("%+v gives %s, milder than %s of %+v (%v)", worse, q.Cause, p.Cause, l, err)
			}
		}
		if q, _ := Judge(more); q.Share.Value < p.Share.Value {
			t.Fatalf("more liquid covers %v, less than %v", q.Share.Value, p.Share.Value)
		}
	})
}

func TestTurnedPieceNamesThePlantedCause(t *testing.T) {
	for _, c := range []struct {
		name          string
		before, after Offset
		turn          float64
		says          string
	}{
		{"stays while turned half round", Offset{8, 2, 1}, Offset{8.5, 1.5, 1}, 180, GravityRuledOut},
		{"runs back over after half a turn", Offset{8, 2, 1}, Offset{-7.5, -2.5, 1}, 180, GravityIs},
		// low side to the right; a quarter turn left brings the piece's lower edge there
		{"a quarter turn to the left", Offset{10, 0, 1}, Offset{0, -10, 1}, 90, GravityIs},
		{"a quarter turn to the right", Offset{10, 0, 1}, Offset{0, 10, 1}, -90, GravityIs},
		{"too near the middle", Offset{1, 0, 1}, Offset{0, 1, 1}, 180, CantTell},
		{"not turned", Offset{10, 0, 1}, Offset{10, 0, 1}, 0, CantTell},
		{"went elsewhere", Offset{10, 0, 1}, Offset{0, 10, 1}, 180, CantTell},
	} {
		got, err := TurnedPiece(c.before, c.after, c.turn)
		if err != nil {
			t.Fatal(err)
		}
		if got.Says != c.says || got.Why == "" {
			t.Errorf("%s: %+v, want %q", c.name, got, c.says)
		}
	}
}

// The true cause is rejected in five cases in a hundred, whatever the pool: 4000
// invented pools each with a fixed seed; four standard errors of 5 % are 1.4 %.
func TestTurnedPieceErrsAsOftenAsItSays(t *testing.T) {
	dice := rand.New(rand.NewPCG(7, 11))
	const n = 4000
	wrongStay, wrongRun := 0, 0
	for range n {
		x, y, turn := 20*dice.NormFloat64(), 20*dice.NormFloat64(), 360*dice.Float64()-180
		s1, s2 := 0.2+2*dice.Float64(), 0.2+2*dice.Float64()
		seen := func(x, y, sd float64) Offset {
			return Offset{x + sd*dice.NormFloat64(), y + sd*dice.NormFloat64(), sd}
		}
		s, c := math.Sincos(-radians(turn))
		stay, err1 := TurnedPiece(seen(x, y, s1), seen(x, y, s2), turn)
		run, err2 := TurnedPiece(seen(x, y, s1), seen(c*x-s*y, s*x+c*y, s2), turn)
		if err1 != nil || err2 != nil {
			t.Fatal(err1, err2)
		}
		if stay.StayP < turnLevel {
			wrongStay++
		}
		if run.FollowP < turnLevel {
			wrongRun++
		}
	}
	away(t, "pools that stayed, rejected", float64(wrongStay)/n, 0.05, 0.014)
	away(t, "pools that ran, rejected", float64(wrongRun)/n, 0.05, 0.014)
}

func TestPoolingRefusesWhatCannotBe(t *testing.T) {
	nan := math.NaN()
	good := Lay{Liquid: water20, ContactDeg: 60, FilmGPerM2: 100, LengthMM: 50}
	for name, change := range map[string]func(*Lay){
		"no tension": func(l *Lay) { l.Liquid.TensionNPerM = 0 }, "density in g/mL": func(l *Lay) { l.Liquid.DensityKgPerM3 = 1 },
		"contact 0": func(l *Lay) { l.ContactDeg = 0 }, "contact over 180": func(l *Lay) { l.ContactDeg = 181 },
		"film below 0": func(l *Lay) { l.FilmGPerM2 = -1 }, "film nan": func(l *Lay) { l.FilmGPerM2 = nan },
		"no length": func(l *Lay) { l.LengthMM = 0 }, "length nan": func(l *Lay) { l.LengthMM = nan },
		"tilt 91": func(l *Lay) { l.TiltDeg = 91 }, "tilt nan": func(l *Lay) { l.TiltDeg = nan },
		"spread nan": func(l *Lay) { l.ContactSpread = nan },
	} {
		l := good
		change(&l)
		_, err := Judge(l)
		outside(t, name, err)
	}
	for _, d := range []Drop{{water20, 0, 80, 40}, {water20, 5, 180, 40}, {water20, 5, 80, 90}, {water20, 5, 80, 0}, {water20, nan, 80, 40}} {
		_, err := d.SlideDeg()
		outside(t, "drop", err)
	}
	for _, s := range []Slope{{0, 998, 90}, {1e-3, 1, 90}, {1e-3, 998, 0}, {nan, 998, 90}} {
		_, err := s.LeftUM(100, time.Second)
		outside(t, "slope", err)
	}
	_, err := Slope{1e-3, 998, 90}.LeftUM(100, 0)
	outside(t, "no time", err)
	_, err = WaterViscosity(101)
	outside(t, "steam", err)
	_, err = TurnedPiece(Offset{1, 1, 0}, Offset{1, 1, 1}, 180)
	outside(t, "no spread", err)
	_, err = TurnedPiece(Offset{nan, 1, 1}, Offset{1, 1, 1}, 180)
	outside(t, "offset nan", err)
	_, err = TurnedPiece(Offset{1, 1, 1}, Offset{1, 1, 1}, nan)
	outside(t, "turn nan", err)
}

func outside(t *testing.T, what string, err error) {
	t.Helper()
	var r *science.RangeError
	if !errors.As(err, &r) {
		t.Errorf("%s: got error %v, want a RangeError", what, err)
	}
}

func setLiquid(l *Liquid, tension, density float64) {
	l.TensionNPerM, l.DensityKgPerM3 = tension, density
}
