package chamber

import (
	"math"
	"testing"
	"time"
)

// endless is a pad so large that its strength stays.
func endless(strength, gapMM float64) (Box, Pad) {
	return Box{VolumeL: 50, Temp: 20, GapMM: gapMM, RoomRH: 0.5}, Pad{SolutionG: 1e5, Strength: strength}
}

func one(salt, water float64) []Piece {
	return []Piece{{Faces: []Face{{Salt: "sodium-chloride", SaltGPerM2: salt, WaterGPerM2: water}}}}
}

// TestReferenceFigures holds the model against an independent computation of the
// same formulas (Clegg and Brimblecombe 1989, Pitzer, Massman 1998; NaCl, k = D/gap),
// whose figures are rounded to 0.1 h and must agree within 3 %.
func TestReferenceFigures(t *testing.T) {
	for _, c := range []struct {
		name                         string
		salt, water, strength, gapMM float64
		temp, offset                 float64
		hours                        float64 // 0: at once; Inf: not within 24 h
	}{
		{"15 dry", 15, 0, 0.09, 40, 20, 0, 4.9},
		{"8 dry", 8, 0, 0.09, 40, 20, 0, 2.6},
		{"80 dry", 80, 0, 0.09, 40, 20, 0, math.Inf(1)},
		{"80 on 150 of water", 80, 150, 0.09, 40, 20, 0, 8.6},
		{"15 on 60 of water", 15, 60, 0.09, 40, 20, 0, 0},
		{"5 wt%, 20 C", 15, 0, 0.05, 30, 20, 0, 3.5},
		{"5 wt%, 12 C", 15, 0, 0.05, 30, 12, 0, 6.0},
		{"5 wt%, 28 C", 15, 0, 0.05, 30, 28, 0, 2.1},
		{"5 wt%, piece 2 C warmer", 15, 0, 0.05, 30, 20, 2, 5.8},
	} {
		box, pad := endless(c.strength, c.gapMM)
		box.Temp = celsius(c.temp)
		pieces := one(c.salt, c.water)
		pieces[0].Offset = celsius(c.offset)
		r, err := Run(box, pad, nil, pieces, 24, Options{})
		if err != nil {
			t.Fatal(err)
		}
		f := r.Pieces[0].Faces[0]
		got := math.Inf(1)
		if f.Dissolved {
			got = f.DissolvedAt.Hours()
		}
		t.Logf("%-24s reference %5.3g h, ours %6.3f h (%+.1f %%)", c.name, c.hours, got, 100*(got/c.hours-1))
		if math.IsInf(c.hours, 1) != math.IsInf(got, 1) || !math.IsInf(got, 1) && math.Abs(got-c.hours) > 0.03*c.hours {
			t.Errorf("%s: dissolved at %.3f h, the reference says %v", c.name, got, c.hours)
		}
	}
}

func TestSparseSaltIsThreeFifthsDissolvedAtThreeHours(t *testing.T) {
	box, pad := endless(0.09, 40)
	r, err := Run(box, pad, nil, one(15, 0), 3, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if got := r.Pieces[0].Faces[0].End.Share; math.Abs(got-0.60) > 0.03*0.60 {
		t.Errorf("dissolved at 3 h: %.3f, the reference says about 0.60", got)
	}
}

// dayOfTwelve is twelve swatches, both faces salted, and ten openings.
func dayOfTwelve() (Box, Pad, []Opening, []Piece) {
	box := Box{VolumeL: DefaultVolumeL, LeakPerH: DefaultLeakPerH, Temp: DefaultTemp, GapMM: DefaultGapMM, RoomRH: DefaultRoomRH}
	pad := Pad{SolutionG: DefaultSolutionG, Strength: DefaultStrength}
	var openings []Opening
	var pieces []Piece
	for i := range 10 {
		openings = append(openings, Opening{At: time.Duration(i+1) * 97 * time.Minute, Lost: DefaultLost})
	}
	for i := range 12 {
		in := time.Duration(max(i-6, 0)) * 97 * time.Minute
		face := func(n int) Face {
			return Face{Salt: "sodium-chloride", SaltGPerM2: 4 + 3*float64(n), WaterGPerM2: float64(n%3) * 10, AreaM2: 0.005, In: in, Out: in + time.Duration(4+i)*time.Hour}
		}
		pieces = append(pieces, Piece{Offset: celsius(0.2 * float64(i%4)), Faces: []Face{face(i), face(i + 5)}})
	}
	return box, pad, openings, pieces
}

func BenchmarkDayOfTwelve(b *testing.B) {
	box, pad, openings, pieces := dayOfTwelve()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Run(box, pad, openings, pieces, 24, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

func TestInventoryIsKept(t *testing.T) {
	box, pad, openings, pieces := dayOfTwelve()
	r, err := Run(box, pad, openings, pieces, 24, Options{})
	if err != nil {
		t.Fatal(err)
	}
	checkBooks(t, r)
	if r.Ammonia.Leaked <= 0 || r.Ammonia.Opened <= 0 || r.Ammonia.Out <= 0 || r.Water.In <= 0 {
		t.Errorf("something moved nothing: %+v %+v", r.Ammonia, r.Water)
	}
}
