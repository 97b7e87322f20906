package chamber

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"aerugo/internal/science/film"
)

func TestForecastSaysWhatItRestsOn(t *testing.T) {
	box, pad := standard()
	f, err := Predict(box, pad, nil, one(15, 0), 12, Options{}, Doubt{})
	if err != nil {
		t.Fatal(err)
	}
	s := f.Dissolves[0][0]
	if !(s.Low < s.Value && s.Value < s.High) || s.High/s.Value < KFactor-0.1 || s.Value/s.Low < KFactor-0.1 {
		t.Errorf("%+v", s)
	}
	all := ""
	for _, a := range f.Assumed {
		if a.What == "" || a.Value == "" || a.Source == "" {
			t.Errorf("half an assumption: %+v", a)
		}
		all += a.What + "; "
	}
	for _, want := range []string{"crosses the air", "strength", "metal's temperature", "pressure", "pad and the air"} {
		if !strings.Contains(all, want) {
			t.Errorf("%q is not among %s", want, all)
		}
	}
}

// TestCalibrationNarrowsTheForecast, and moves it by what it found.
func TestCalibrationNarrowsTheForecast(t *testing.T) {
	box, pad := standard()
	plain, err := Predict(box, pad, nil, one(15, 0), 24, Options{}, Doubt{})
	if err != nil {
		t.Fatal(err)
	}
	f, err := Predict(box, pad, nil, one(15, 0), 24, Options{}, Doubt{Calibrated: &film.Transfer{K: 0.8, Low: 0.75, High: 0.85, How: "a cap"}})
	if err != nil {
		t.Fatal(err)
	}
	a, b := plain.Dissolves[0][0], f.Dissolves[0][0]
	if !(b.Value > a.Value && b.High/b.Low < a.High/a.Low) {
		t.Errorf("%+v after %+v", b, a)
	}
}

func TestCautionsNameWhatMatters(t *testing.T) {
	box, _ := standard()
	pieces := one(15, 0)
	pieces[0].Offset = -2
	pieces[0].Faces[0].Out = 3 * time.Hour
	f, err := Predict(box, Pad{400, 0.18}, nil, pieces, 200, Options{}, Doubt{})
	if err != nil {
		t.Fatal(err)
	}
	all := strings.Join(f.Cautions, "\n")
	for _, want := range []string{"can burn", "25 ppm", "refresh the pad", "dew", "no opening of the lid is given"} {
		if !strings.Contains(all, want) {
			t.Errorf("%q is not among\n%s", want, all)
		}
	}
	if f.Halved == false {
		t.Error("it never halved")
	}
}

func TestSpoken(t *testing.T) {
	for d, want := range map[time.Duration]string{
		20 * time.Second: "less than a minute", 40 * time.Minute: "40 min", time.Hour: "1 h", 290*time.Minute + 20*time.Second: "4 h 50 min", 50 * time.Hour: "50 h", 80 * time.Hour: "3 days",
	} {
		if got := Spoken(d); got != want {
			t.Errorf("%v: %q", d, got)
		}
	}
}

// TestCapFindsTheChambersK weighs an invented cap out of a chamber whose k is known.
func TestCapFindsTheChambersK(t *testing.T) {
	box, pad := standard()
	openings := []Opening{{90 * time.Minute, 0.5}}
	const truth, area, salt = 0.7, 7e-4, 4.0
	in := time.Hour
	r, err := Run(box, pad, openings, []Piece{{Faces: []Face{{Salt: "sodium-chloride", SaltGPerM2: 2000, In: in}}}}, 7, Options{K: truth})
	if err != nil {
		t.Fatal(err)
	}
	end := r.Pieces[0].Faces[0]
	gain := area * (end.End.WaterGPerM2 + end.AmmoniaGM2)
	w := film.Weighing{Salt: "sodium-chloride", SaltG: salt, BeforeG: 6, AfterG: 6 + gain, BalanceG: 0.001, AreaM2: area, AreaShare: 0.02, Hours: 6}
	k, err := KFromCap(box, pad, openings, in, w)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(k.K/truth-1) > 0.01 || !(k.Low < truth && truth < k.High) || k.High/k.Low > 1.5 {
		t.Errorf("%+v, the chamber had %v", k, truth)
	}
}

// TestWatchedFacesFindTheChambersK: faces of an invented chamber whose k is known,
// looked at every half hour.
func TestWatchedFacesFindTheChambersK(t *testing.T) {
	box, pad := standard()
	var pieces []Piece
	for _, salt := range []float64{6, 10, 15, 20, 25} {
		pieces = append(pieces, one(salt, 0)...)
	}
	pieces[4].Faces[0].In = time.Hour
	const truth = 1.4
	r, err := Run(box, pad, nil, pieces, 24, Options{K: truth})
	if err != nil {
		t.Fatal(err)
	}
	dice := rand.New(rand.NewPCG(3, 5))
	var watched []Watched
	for i, p := range r.Pieces {
		start := p.Faces[0].In.Hours()
		at := start + (dissolvedH(p.Faces[0])-start)*math.Exp(0.1*dice.NormFloat64())
		look := math.Floor(at*2) / 2
		watched = append(watched, Watched{Piece: i, NotYetH: look, ByH: look + 0.5})
	}
	k, err := KFromWatched(box, pad, nil, pieces, watched, 0.1)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%+v", k)
	if !(k.Low < truth && truth < k.High) || k.High/k.Low > 1.5 {
		t.Errorf("%+v, the chamber had %v", k, truth)
	}
	if _, err := KFromWatched(box, pad, nil, pieces, []Watched{{Piece: 9, NotYetH: 1, ByH: 2}}, 0); err == nil {
		t.Error("a piece that is not there was watched")
	}
}

func TestMeanAirRefuses(t *testing.T) {
	box, pad := standard()
	if _, err := MeanAir(box, pad, nil, 2*time.Hour, time.Hour); err == nil {
		t.Error("it took a mean backwards")
	}
}
