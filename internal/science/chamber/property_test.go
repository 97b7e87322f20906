package chamber

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"aerugo/internal/science/film"
	"aerugo/internal/science/solution"
)

// setup is a chamber drawn from the whole valid range.
type setup struct {
	box      Box
	pad      Pad
	openings []Opening
	pieces   []Piece
	hours    float64
	opt      Options
}

func (s setup) run(t fataler) Result {
	t.Helper()
	r, err := Run(s.box, s.pad, s.openings, s.pieces, s.hours, s.opt)
	if err != nil {
		t.Fatalf("%+v: %v", s, err)
	}
	return r
}

// drawSetup draws a chamber whose pad does not run dry at once.
func drawSetup(t *rapid.T) setup {
	f := func(name string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(t, name) }
	hours := f("hours", 0.1, 48)
	at := func(name string) time.Duration { return time.Duration(f(name, 0, hours) * float64(time.Hour)) }
	s := setup{
		box:   Box{VolumeL: f("volume", 1, 500), LeakPerH: max(0, f("leak", -3, 10)), Temp: celsius(f("temp", 0, 40)), GapMM: f("gap", 2, 1000), RoomRH: f("rh", 0, 1)},
		pad:   Pad{SolutionG: f("pad", 50, 5000), Strength: f("strength", 0, 0.30)},
		hours: hours,
	}
	for range rapid.IntRange(0, 5).Draw(t, "openings") {
		s.openings = append(s.openings, Opening{At: at("opening"), Lost: f("lost", 0, 1)})
	}
	for range rapid.IntRange(0, 3).Draw(t, "pieces") {
		offset := celsius(min(max(f("offset", -5, 5)+float64(s.box.Temp), 0), 40)) - s.box.Temp
		p := Piece{Offset: offset}
		for range rapid.IntRange(1, 2).Draw(t, "faces") {
			face := Face{
				Salt:       rapid.SampledFrom(salts(s.box.Temp+offset)).Draw(t, "salt"),
				SaltGPerM2: max(0, f("salt", -50, 200)), WaterGPerM2: max(0, f("water", -200, 300)), AreaM2: max(0, f("area", -0.1, 0.3)),
			}
			if rapid.Bool().Draw(t, "late") {
				face.In = at("in")
			}
			if rapid.Bool().Draw(t, "salted later") {
				face.Salted = face.In + at("salted")/2
			}
			if rapid.Bool().Draw(t, "taken out") {
				face.Out = max(face.In, face.Salted) + time.Second + at("out")
			}
			p.Faces = append(p.Faces, face)
		}
		s.pieces = append(s.pieces, p)
	}
	return s
}

func salts(temp temperature) (keys []string) {
	for _, s := range solution.Salts() {
		if _, err := film.NewBrine(s.Key, temp); err == nil {
			keys = append(keys, s.Key)
		}
	}
	return keys
}

// TestNothingIsMadeOrLost: whatever the chamber, both inventories are kept to 1e-9
// and every number is possible.
func TestNothingIsMadeOrLost(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSetup(t)
		r, err := Run(s.box, s.pad, s.openings, s.pieces, s.hours, s.opt)
		if declined(err) {
			return
		}
		if err != nil {
			t.Fatalf("%v", err)
		}
		checkBooks(t, r)
		for _, a := range r.Series {
			if !(a.NH3 >= 0 && a.H2O > 0 && a.PadG > 0 && a.Strength >= 0 && a.Strength < 0.5) || math.IsInf(float64(a.NH3), 0) {
				t.Fatalf("impossible air: %+v", a)
			}
		}
		last := r.Series[len(r.Series)-1].At
		for _, p := range r.Pieces {
			for _, f := range p.Faces {
				for _, x := range append(f.Series, f.End) {
					if !(x.WaterGPerM2 >= 0 && x.FilmGPerM2 >= x.WaterGPerM2 && x.Share >= 0 && x.Share <= 1) || math.IsInf(x.FilmGPerM2, 0) {
						t.Fatalf("impossible film: %+v", x)
					}
				}
				start := f.salted()
				if f.Dissolved && (f.DissolvedAt < start || f.DissolvedAt > last || f.WetTime > last-f.DissolvedAt+time.Millisecond) {
					t.Fatalf("dissolved at %v of %v, wet for %v", f.DissolvedAt, last, f.WetTime)
				}
				if !f.Dissolved && f.WetTime != 0 {
					t.Fatalf("wet for %v without having dissolved", f.WetTime)
				}
			}
		}
	})
}

// compare runs a chamber twice, the second time changed.
func compare(t *rapid.T, change func(*setup)) (before, after Result, ok bool) {
	s := drawSetup(t)
	for i := range s.pieces {
		for j := range s.pieces[i].Faces {
			s.pieces[i].Faces[j].AreaM2 = 0
		}
	}
	before, err := Run(s.box, s.pad, s.openings, s.pieces, s.hours, s.opt)
	if declined(err) {
		return before, after, false
	}
	if err != nil {
		t.Fatal(err)
	}
	pieces := make([]Piece, len(s.pieces))
	for i, p := range s.pieces {
		p.Faces = append([]Face(nil), p.Faces...)
		pieces[i] = p
	}
	s.pieces = pieces
	change(&s)
	after = s.run(t)
	return before, after, !before.PadDry && !after.PadDry
}

// later checks that no face of after dissolved earlier than in before, but for a
// second's rounding of the steps.
func later(t *rapid.T, before, after Result) {
	for i, p := range before.Pieces {
		for j, f := range p.Faces {
			if g := after.Pieces[i].Faces[j]; dissolvedH(g) < dissolvedH(f)*(1-1e-6)-1e-3 {
				t.Fatalf("piece %d face %d: %v h before, %v h after", i, j, dissolvedH(f), dissolvedH(g))
			}
		}
	}
}

func TestMoreSaltDissolvesLater(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		before, after, ok := compare(t, func(s *setup) {
			for i := range s.pieces {
				for j := range s.pieces[i].Faces {
					s.pieces[i].Faces[j].SaltGPerM2 *= 1.2
				}
			}
		})
		if ok {
			later(t, before, after)
		}
	})
}

func TestWarmerPieceDissolvesLater(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// Common salt: its solubility hardly rises, so that warmth only takes water away.
		before, after, ok := compare(t, func(s *setup) {
			for i := range s.pieces {
				s.pieces[i].Offset = min(s.pieces[i].Offset+0.5, 40-s.box.Temp)
			}
		})
		if !ok {
			return
		}
		for _, p := range before.Pieces {
			for _, f := range p.Faces {
				if f.SaltGPerM2 > 0 && f.Salt != "sodium-chloride" {
					return
				}
			}
		}
		// On wet faces a little more of the salt dissolves for the warmth itself.
		for i, p := range before.Pieces {
			for j, f := range p.Faces {
				if g := after.Pieces[i].Faces[j]; f.WaterGPerM2 == 0 && f.Salted == 0 && dissolvedH(g) < dissolvedH(f)*(1-1e-6)-1e-3 {
					t.Fatalf("%v h before, %v h warmer", dissolvedH(f), dissolvedH(g))
				}
			}
		}
	})
}

func TestMoreWaterAtFirstDissolvesSooner(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		before, after, ok := compare(t, func(s *setup) {
			for i := range s.pieces {
				for j := range s.pieces[i].Faces {
					s.pieces[i].Faces[j].WaterGPerM2 += 20
				}
			}
		})
		if ok {
			later(t, after, before)
		}
	})
}

func TestFasterTransferDissolvesSoonerOverAnyBathAsWarm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var ok2 = true
		before, after, ok := compare(t, func(s *setup) {
			s.opt.K = 1.5
			for _, p := range s.pieces {
				ok2 = ok2 && p.Offset <= 0
			}
		})
		if ok && ok2 {
			later(t, after, before)
		}
	})
}

func TestNoLeakKeepsTheStrength(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSetup(t)
		s.box.LeakPerH, s.openings, s.pieces = 0, nil, nil
		r, err := Run(s.box, s.pad, nil, nil, s.hours, s.opt)
		if declined(err) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		for _, a := range r.Series {
			if math.Abs(a.Strength-r.Series[0].Strength) > 1e-12 || r.Halved {
				t.Fatalf("from %v to %v", r.Series[0].Strength, a.Strength)
			}
		}
		if first := r.Series[0]; first.Strength > s.pad.Strength*(1+1e-9) && s.pad.Strength < 0.02 {
			t.Fatalf("filling the air made the bath stronger: %v to %v", s.pad.Strength, first.Strength)
		}
	})
}

func TestLeaksAndOpeningsOnlyWeaken(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSetup(t)
		s.pieces = nil
		if s.pad.Strength < 0.001 {
			return
		}
		r, err := Run(s.box, s.pad, s.openings, nil, s.hours, s.opt)
		if declined(err) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		for i := 1; i < len(r.Series); i++ {
			if a, b := r.Series[i-1], r.Series[i]; b.NH3 > a.NH3*(1+1e-12) {
				t.Fatalf("ammonia rose from %v to %v at %v", a.NH3, b.NH3, b.At)
			}
		}
		tighter := s
		tighter.box.LeakPerH /= 2
		q, err := Run(tighter.box, tighter.pad, tighter.openings, nil, tighter.hours, tighter.opt)
		if err != nil {
			t.Fatal(err)
		}
		if r.PadDry || q.PadDry {
			return
		}
		if a, b := r.Series[len(r.Series)-1].NH3, q.Series[len(q.Series)-1].NH3; b < a*(1-1e-5) {
			t.Fatalf("a tighter lid left less: %v, %v", a, b)
		}
	})
}

func TestFacesWithoutAreaDoNotTouchTheAir(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSetup(t)
		for i := range s.pieces {
			for j := range s.pieces[i].Faces {
				f := &s.pieces[i].Faces[j]
				f.AreaM2, f.In, f.Out, f.Salted = 0, 0, 0, 0
			}
		}
		r, err := Run(s.box, s.pad, s.openings, s.pieces, s.hours, s.opt)
		if declined(err) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		s.pieces = nil
		q := s.run(t)
		for i, a := range r.Series {
			if b := q.Series[i]; math.Abs(float64(a.NH3-b.NH3)) > 1e-9*float64(b.NH3) || a.At != b.At {
				t.Fatalf("%+v and %+v", a, b)
			}
		}
	})
}

// TestSecondOrder: halving the step quarters the error, of the air and of films,
// in a chamber that leaks, with films that matter to it.
func TestSecondOrder(t *testing.T) {
	box := Box{VolumeL: 80, LeakPerH: 0.5, Temp: 22, GapMM: 20, RoomRH: 0.3}
	pieces := []Piece{{Offset: 0.3, Faces: []Face{{Salt: "sodium-chloride", SaltGPerM2: 10, WaterGPerM2: 40, AreaM2: 0.3}}}}
	end := func(step time.Duration) (Air, Film) {
		r, err := Run(box, Pad{SolutionG: 150, Strength: 0.12}, nil, pieces, 8, Options{Step: step})
		if err != nil {
			t.Fatal(err)
		}
		return r.Series[len(r.Series)-1], r.Pieces[0].Faces[0].End
	}
	air, liquid := end(5 * time.Second)
	missed := func(step time.Duration) (float64, float64) {
		a, f := end(step)
		return math.Abs(float64(a.NH3/air.NH3) - 1), math.Abs(f.WaterGPerM2/liquid.WaterGPerM2 - 1)
	}
	a1, f1 := missed(12 * time.Minute)
	a2, f2 := missed(6 * time.Minute)
	a0, f0 := missed(5 * time.Minute)
	t.Logf("order of the air %.2f, of the film %.2f; error at five minutes %.1e and %.1e", math.Log2(a1/a2), math.Log2(f1/f2), a0, f0)
	if math.Log2(a1/a2) < 1.8 || math.Log2(f1/f2) < 1.8 {
		t.Errorf("errors %v, %v of the air, %v, %v of the film", a1, a2, f1, f2)
	}
	if a0 > 1e-4 || f0 > 1e-3 {
		t.Errorf("at five minutes the air is off by %v and the film by %v", a0, f0)
	}
}
