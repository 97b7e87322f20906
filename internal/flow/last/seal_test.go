package last_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/flow/last"
	"aerugo/internal/flow/measure"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// painted is a straightened face of w x h places, coloured by place.
func painted(w, h int, of func(x, y float64) colour.Lab) measure.Straight {
	s := measure.Straight{W: w, H: h, Calibrated: true}
	for i := range w * h {
		l := of((float64(i%w)+0.5)/float64(w), (float64(i/w)+0.5)/float64(h))
		s.XYZ = append(s.XYZ, l.XYZ(colour.D50))
		s.Usable = append(s.Usable, true)
	}
	return s
}

// Pairs and differences of Sharma, Wu and Dalal 2005, table 1 (pairs 1, 4, 7, 17, 21, 25, 31).
func TestHalvesDifferAsCIEDE2000Says(t *testing.T) {
	for _, x := range []struct {
		a, b colour.Lab
		de   float64
	}{
		{colour.Lab{L: 50, A: 2.6772, B: -79.7751}, colour.Lab{L: 50, A: 0, B: -82.7485}, 2.0425},
		{colour.Lab{L: 50, A: -1.3802, B: -84.2814}, colour.Lab{L: 50, A: 0, B: -82.7485}, 1.0000},
		{colour.Lab{L: 50, A: 0, B: 0}, colour.Lab{L: 50, A: -1, B: 2}, 2.3669},
		{colour.Lab{L: 50, A: 2.5, B: 0}, colour.Lab{L: 73, A: 25, B: -18}, 27.1492},
		{colour.Lab{L: 50, A: 2.5, B: 0}, colour.Lab{L: 50, A: 3.1736, B: 0.5854}, 1.0000},
		{colour.Lab{L: 60.2574, A: -34.0099, B: 36.2677}, colour.Lab{L: 60.4626, A: -34.1751, B: 39.4387}, 1.2644},
		{colour.Lab{L: 90.8027, A: -2.0831, B: 1.4410}, colour.Lab{L: 91.1528, A: -1.6435, B: 0.0447}, 1.4441},
	} {
		for _, side := range last.Sides {
			cut := last.MiddleCut(side)
			onSealed := func(px, py float64) bool {
				return map[string]bool{"right": px > 0.5, "left": px < 0.5, "top": py < 0.5, "bottom": py > 0.5}[side]
			}
			h, err := last.ReadHalves(painted(60, 80, func(px, py float64) colour.Lab {
				if onSealed(px, py) {
					return x.b
				}
				return x.a
			}), cut)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(h.DE-x.de) > 0.0002 || math.Abs(h.Sealed.Lab.L-x.b.L) > 1e-6 || h.Low > h.DE || h.High < h.DE {
				t.Errorf("%s: %.4f (%.4f to %.4f), want %.4f", side, h.DE, h.Low, h.High, x.de)
			}
		}
	}
}

func TestALineMarkedAskewPartsTheHalves(t *testing.T) {
	cut := last.Cut{A: studio.Point{X: 0.3, Y: 0}, B: studio.Point{X: 0.6, Y: 1}, Sealed: "left"}
	open, wax := colour.Lab{L: 60, A: -20, B: -10}, colour.Lab{L: 52, A: -22, B: -12}
	h, err := last.ReadHalves(painted(90, 90, func(x, y float64) colour.Lab {
		if x < 0.3+0.3*y {
			return wax
		}
		return open
	}), cut)
	if err != nil {
		t.Fatal(err)
	}
	if colour.Difference(h.Sealed.Lab, wax) > 1e-6 || colour.Difference(h.Open.Lab, open) > 1e-6 {
		t.Errorf("read %v and %v", h.Open.Lab, h.Sealed.Lab)
	}
}

func TestALineThatPartsNothingIsRefused(t *testing.T) {
	face := painted(30, 30, func(x, y float64) colour.Lab { return colour.Lab{L: 50} })
	for _, cut := range []last.Cut{
		{A: studio.Point{X: 0.95, Y: 0}, B: studio.Point{X: 0.95, Y: 1}, Sealed: "right"},
		{A: studio.Point{X: 0.5, Y: 0.4}, B: studio.Point{X: 0.5, Y: 0.5}, Sealed: "right"},
		{A: studio.Point{X: 0.5, Y: 0}, B: studio.Point{X: 0.5, Y: 1}, Sealed: "rim"},
		{A: studio.Point{X: 0.5, Y: -1}, B: studio.Point{X: 0.5, Y: 1}, Sealed: "left"},
		{A: studio.Point{X: math.NaN(), Y: 0}, B: studio.Point{X: 0.5, Y: 1}, Sealed: "left"},
	} {
		if _, err := last.ReadHalves(face, cut); studio.ProblemIn(err) == nil {
			t.Errorf("%v: %v", cut, err)
		}
	}
	dark := painted(30, 30, func(x, y float64) colour.Lab { return colour.Lab{L: 50} })
	for i := range dark.Usable {
		dark.Usable[i] = i%30 < 15
	}
	if _, err := last.ReadHalves(dark, last.MiddleCut("right")); studio.ProblemIn(err) == nil {
		t.Error("a half with nothing to read is read")
	}
}

func TestWhatDifferedBeforeIsTakenOut(t *testing.T) {
	two := func(l, r colour.Lab) last.Halves {
		h, err := last.ReadHalves(painted(40, 40, func(x, y float64) colour.Lab {
			if x > 0.5 {
				return r
			}
			return l
		}), last.MiddleCut("right"))
		if err != nil {
			t.Fatal(err)
		}
		return h
	}
	before := two(colour.Lab{L: 60, A: -10}, colour.Lab{L: 63, A: -12})
	after := two(colour.Lab{L: 60, A: -10}, colour.Lab{L: 58, A: -15})
	from, to := after.Since(&before)
	if want := (colour.Lab{L: 55, A: -13}); colour.Difference(to, want) > 1e-6 || colour.Difference(from, after.Open.Lab) > 1e-9 {
		t.Errorf("to %v, want %v", to, want)
	}
}

// The truth is drawn: each swatch has a shift of its own about the sealer's, and each
// reading an error. An interval that says 90 % must hold the truth in 85 to 95 of 100.
func TestIntervalsOfASealerHoldTheTruth(t *testing.T) {
	from := colour.Lab{L: 55, A: -18, B: -8}
	truth := map[string]colour.Lab{"wax": {L: -4, A: -1, B: 0.5}, "oil": {L: -7, A: -3, B: -2}, "lacquer": {L: -11, A: -2, B: -5}}
	for _, readings := range []int{1, 2} {
		const rounds = 600
		hits, lights, all := 0, 0, 0
		r := rand.New(rand.NewPCG(5, uint64(readings)))
		for range rounds {
			var rows []last.Sealed
			number := int64(0)
			for _, name := range []string{"wax", "oil", "lacquer"} {
				for range 4 {
					number++
					own := colour.Lab{L: 1.4 * r.NormFloat64(), A: 1.2 * r.NormFloat64(), B: 1.2 * r.NormFloat64()}
					for range readings {
						d := truth[name]
						rows = append(rows, last.Sealed{Swatch: number, Sealer: name, From: from, To: colour.Lab{
							L: from.L + d.L + own.L + 0.6*r.NormFloat64(), A: from.A + d.A + own.A + 0.6*r.NormFloat64(), B: from.B + d.B + own.B + 0.6*r.NormFloat64()}})
					}
				}
			}
			got, err := last.CompareSealers(rows)
			if err != nil {
				t.Fatal(err)
			}
			for _, s := range got.Shifts {
				d := truth[s.Sealer]
				want := colour.Difference(from, colour.Lab{L: from.L + d.L, A: from.A + d.A, B: from.B + d.B})
				all++
				if s.DE.Low <= want && want <= s.DE.High {
					hits++
				}
				if s.Lightness.Low <= d.L && d.L <= s.Lightness.High {
					lights++
				}
			}
		}
		for what, n := range map[string]int{"dE00": hits, "lightness": lights} {
			share := float64(n) / float64(all)
			t.Logf("%d readings of each swatch: intervals of %s hold the truth in %.1f %%", readings, what, 100*share)
			if share < 0.85 || share > 0.95 {
				t.Errorf("%d readings: intervals of %s hold the truth in %.1f %%, want 85 to 95", readings, what, 100*share)
			}
		}
	}
}

// When nothing differs, 'keeps the colour best' is said in fewer than 10 of 100, and
// a shift where there is none in fewer than 10 too.
func TestNothingIsSeldomTakenForSomething(t *testing.T) {
	from := colour.Lab{L: 55, A: -18, B: -8}
	r := rand.New(rand.NewPCG(9, 9))
	best, shifted, all := 0, 0, 0
	for range 400 {
		var rows []last.Sealed
		for i := range int64(12) {
			rows = append(rows, last.Sealed{Swatch: i + 1, Sealer: []string{"wax", "oil", "lacquer"}[i%3], From: from,
				To: colour.Lab{L: from.L + 1.5*r.NormFloat64(), A: from.A + 1.5*r.NormFloat64(), B: from.B + 1.5*r.NormFloat64()}})
		}
		got, err := last.CompareSealers(rows)
		if err != nil {
			t.Fatal(err)
		}
		if got.Best != "" {
			best++
		}
		for _, s := range got.Shifts {
			all++
			if !s.Nothing {
				shifted++
			}
		}
	}
	t.Logf("best named in %.1f %%, a shift told in %.1f %%", float64(best)/4, 100*float64(shifted)/float64(all))
	if best > 40 || shifted > all/10 {
		t.Errorf("best named in %d of 400, a shift in %d of %d", best, shifted, all)
	}
}

func TestTheMilderSealerIsNamedInWords(t *testing.T) {
	from := colour.Lab{L: 55, A: -18, B: -8}
	var rows []last.Sealed
	for i := range int64(8) {
		e := float64(i%4)*0.4 - 0.6
		s, d := "wax", 3.0
		if i >= 4 {
			s, d = "lacquer", 12.0
		}
		rows = append(rows, last.Sealed{Swatch: i + 1, Sealer: s, From: from, To: colour.Lab{L: from.L - d + e, A: from.A, B: from.B}})
	}
	got, err := last.CompareSealers(rows)
	if err != nil {
		t.Fatal(err)
	}
	if got.Best != "wax" || got.Words != "Wax keeps the colour best." {
		t.Errorf("best %q: %s", got.Best, got.Words)
	}
	if w := got.Shifts[1].Words; w != "Sealing with lacquer makes it darker, by 12; between 11 and 12, from 4 swatches." && w != "Sealing with lacquer makes it darker, by 11; between 11 and 12, from 4 swatches." {
		t.Errorf("%s", w)
	}
	if l := got.Shifts[1].Lightness; math.Abs(l.Value+12) > 1e-9 || math.Abs(got.Shifts[1].Chroma.Value) > 1e-9 {
		t.Errorf("lightness %v", l)
	}
	one, err := last.CompareSealers(rows[:1])
	if err != nil || one.Shifts[0].DE.Known || !contains(one.Shifts[0].Words, "second swatch") {
		t.Errorf("one swatch: %v %v", one.Shifts, err)
	}
}

func TestComparingSealersNeverBreaks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var rows []last.Sealed
		for range rapid.IntRange(1, 14).Draw(t, "rows") {
			lab := func(name string) colour.Lab {
				return colour.Lab{L: rapid.Float64Range(0, 100).Draw(t, name), A: rapid.Float64Range(-60, 60).Draw(t, name), B: rapid.Float64Range(-60, 60).Draw(t, name)}
			}
			from := lab("from")
			to := from
			if rapid.Bool().Draw(t, "shifted") {
				to = lab("to")
			}
			rows = append(rows, last.Sealed{Swatch: rapid.Int64Range(1, 5).Draw(t, "swatch"), Sealer: rapid.SampledFrom(studio.Sealers).Draw(t, "sealer"), From: from, To: to})
		}
		got, err := last.CompareSealers(rows)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range got.Shifts {
			if s.DE.Low < 0 && s.DE.Known || s.DE.Low > s.DE.Value+1e-9 || s.DE.High < s.DE.Value-1e-9 || s.Words == "" {
				t.Fatalf("%+v", s)
			}
		}
	})
}

func BenchmarkCompareSealers(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 1))
	var rows []last.Sealed
	for i := range int64(48) {
		rows = append(rows, last.Sealed{Swatch: i/2 + 1, Sealer: studio.Sealers[1+i/2%3], From: colour.Lab{L: 50}, To: colour.Lab{L: 45 + r.NormFloat64(), A: r.NormFloat64()}})
	}
	for b.Loop() {
		if _, err := last.CompareSealers(rows); err != nil {
			b.Fatal(err)
		}
	}
}
