package chamber

import (
	"testing"
	"time"
)

// standard is the chamber of the defaults.
func standard() (Box, Pad) {
	return Box{VolumeL: DefaultVolumeL, LeakPerH: DefaultLeakPerH, Temp: DefaultTemp, GapMM: DefaultGapMM, RoomRH: DefaultRoomRH},
		Pad{SolutionG: DefaultSolutionG, Strength: DefaultStrength}
}

// share is how much of a face's salt has dissolved after some hours.
func share(t *testing.T, face Face, offset, hours float64) (float64, FaceResult) {
	t.Helper()
	box, pad := standard()
	face.Salt, face.AreaM2 = "sodium-chloride", 0.005
	r, err := Run(box, pad, nil, []Piece{{Offset: celsius(offset), Faces: []Face{face}}}, hours, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return r.Pieces[0].Faces[0].End.Share, r.Pieces[0].Faces[0]
}

// The loadings of a hand: a sparse sprinkle is 8 to 15 g/m², a heavy one 80 (common
// practice, no source). So are the facts below.

func TestSparseSprinkleBeginsAtThreeHoursAndIsDoneByAboutFive(t *testing.T) {
	for _, c := range []struct{ hours, least, most float64 }{{1, 0, 0.25}, {3, 0.4, 0.75}, {5.75, 1, 1}} {
		if got, _ := share(t, Face{SaltGPerM2: 15}, 0, c.hours); got < c.least || got > c.most {
			t.Errorf("after %v h %.2f has dissolved, want %v to %v", c.hours, got, c.least, c.most)
		}
	}
}

func TestHeavySprinkleIsFarFromDissolvedAfterAnHour(t *testing.T) {
	if got, _ := share(t, Face{SaltGPerM2: 80}, 0, 1); got > 0.1 {
		t.Errorf("%.2f of it has dissolved", got)
	}
}

// A sprayed plate carries some 40 to 80 g/m² of water.
func TestSaltOnAFreshlySprayedPlateIsDissolvedWithinTwoHours(t *testing.T) {
	for _, salt := range []float64{8, 15, 25} {
		_, f := share(t, Face{SaltGPerM2: salt, WaterGPerM2: 60}, 0, 3)
		if !f.Dissolved || f.DissolvedAt > 2*time.Hour {
			t.Errorf("%v g/m²: dissolved %v at %v", salt, f.Dissolved, f.DissolvedAt)
		}
	}
}

// A plate left over ammonia all night a degree or two colder than the bath is dewy in the
// morning, and salt put on it then dissolves quickly.
func TestSaltOnAPlateDewyFromTheNightDissolvesQuickly(t *testing.T) {
	box, pad := standard()
	night := 12 * time.Hour
	r, err := Run(box, pad, []Opening{{night, DefaultLost}}, []Piece{{Offset: -1.5, Faces: []Face{
		{Salt: "sodium-chloride", SaltGPerM2: 15, AreaM2: 0.005, Salted: night},
		{Salt: "sodium-chloride", SaltGPerM2: 15, AreaM2: 0.005, In: night},
	}}}, 20, Options{})
	if err != nil {
		t.Fatal(err)
	}
	dewy, dry := r.Pieces[0].Faces[0], r.Pieces[0].Faces[1]
	if !r.Pieces[0].Dew {
		t.Error("no dew was seen")
	}
	quick, slow := dewy.DissolvedAt-night, dry.DissolvedAt-night
	if !dewy.Dissolved || !dry.Dissolved || quick > 90*time.Minute || quick > slow/2 {
		t.Errorf("on dew after %v, on dry metal after %v", quick, slow)
	}
}

func TestHoursBuyDissolvedSalt(t *testing.T) {
	before := 0.0
	for hours := 1.0; hours <= 24; hours++ {
		_, f := share(t, Face{SaltGPerM2: 40}, 0, hours)
		got := f.End.Share * 40
		if got < before || hours <= 8 && got <= before {
			t.Errorf("%v h: %v g/m² dissolved, an hour before %v", hours, got, before)
		}
		before = got
	}
}
