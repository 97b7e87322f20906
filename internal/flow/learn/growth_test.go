package learn

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"aerugo/internal/science/colour"
	"aerugo/internal/science/stat"
)

// covering is the curve of the coverage alone.
func covering(in []Instant) Growth {
	var h, v []float64
	for _, x := range in {
		h, v = append(h, x.Hours), append(v, x.Coverage)
	}
	return curve(Covering, h, v, 0)
}

// growing draws a ladder whose coverage and colour follow Avrami's curve (Avrami 1939)
// with known landmarks: half-time 3 h, exponent 2, plateau 0.8.
func growing(seed uint64, times []float64, each int) []Instant {
	rng := rand.New(rand.NewPCG(seed, 0x67726f77))
	var out []Instant
	for _, h := range times {
		for range each {
			grown := -math.Expm1(-math.Ln2 * math.Pow(h/3, 2))
			v := values(part(0.9 * grown))
			for c := range v {
				v[c] += 1.2 * rng.NormFloat64()
			}
			out = append(out, Instant{Hours: h, Lab: lab(v), Coloured: true, Coverage: expit(logit(0.8*grown) + 0.15*rng.NormFloat64()), Swatch: int64(len(out) + 1)})
		}
	}
	return out
}

var ladderHours = []float64{0.5, 1, 2, 3, 4, 6, 9, 14}

// The 95 % intervals of half-time, onset and plateau hold the planted ones; of 40 draws
// a true 95 % varies by 1.4 (one standard deviation).
func TestGrowthFindsItsLandmarks(t *testing.T) {
	const n = 40
	onset := 3 * math.Sqrt(-math.Log(0.9)/math.Ln2) // a tenth of the plateau
	half, first, top, avrami := 0, 0, 0, 0
	for seed := range uint64(n) {
		g := covering(growing(seed+1, ladderHours, 2))
		in := func(l stat.Landmark, v float64) int {
			if l.Low <= v && v <= l.High {
				return 1
			}
			return 0
		}
		half, first, top = half+in(g.Half, 3), first+in(g.Onset, onset), top+in(g.Plateau, 0.8)
		if g.Shape == stat.Avrami {
			avrami++
		}
		if seed == 0 {
			t.Log(g.Words)
			t.Log(Grow(growing(1, ladderHours, 2))[1].Words)
		}
	}
	t.Logf("of %d: half-time %d, onset %d, plateau %d; Avrami's shape chosen in %d", n, half, first, top, avrami)
	if half < 34 || first < 34 || top < 34 || avrami < 30 {
		t.Errorf("of %d: half-time %d, onset %d, plateau %d; Avrami's shape chosen in %d", n, half, first, top, avrami)
	}
}

// A ladder that ends while it still grows says that its plateau was not seen.
func TestGrowthThatWasCutShortSaysSo(t *testing.T) {
	said := 0
	for seed := range uint64(20) {
		g := covering(growing(seed+1, []float64{0.3, 0.6, 1, 1.4, 1.8, 2.2}, 2))
		if g.Why != "" || g.Doubt != "" && strings.Contains(g.Words, "not seen") {
			said++
		}
	}
	if said < 18 {
		t.Errorf("said in %d of 20", said)
	}
	for _, g := range Grow(growing(1, []float64{1, 2}, 2)) {
		if g.Why == "" || g.Words != "" || !math.IsNaN(g.At(1)) {
			t.Errorf("two times make a curve: %+v", g)
		}
	}
}

// The hours of a wanted look lie in their interval, a look off the way is said to be so.
func TestStopAtTheWantedLook(t *testing.T) {
	const n = 100
	hold := 0
	at := []float64{1, 2, 3, 4, 6}
	// 2.4 h on the straight way between the true looks at 2 h and 3 h
	grown := func(h float64) float64 { return 0.9 * -math.Expm1(-math.Ln2*math.Pow(h/3, 2)) }
	wanted := part(grown(2) + 0.4*(grown(3)-grown(2)))
	for seed := range uint64(n) {
		s, ok := StopAt(growing(seed+1, at, 3), wanted, seed)
		if !ok || !s.Bounded || !s.Near {
			t.Fatalf("%+v", s)
		}
		if s.Low <= 2.4 && 2.4 <= s.High {
			hold++
		}
		if seed == 0 {
			t.Log(s.Words)
		}
	}
	t.Logf("the interval holds the hours in %d of %d", hold, n)
	if hold < 81 || hold > 98 { // 90 % with three standard deviations of 100 draws
		t.Errorf("the interval holds the hours in %d of %d", hold, n)
	}
	s, _ := StopAt(growing(1, at, 3), colour.Lab{L: 90, A: 40, B: 60}, 1)
	if s.Near || !strings.Contains(s.Words, "does not lead there") && !strings.Contains(s.Words, "Not reached") {
		t.Errorf("a look far off the way: %q", s.Words)
	}
	if s, _ := StopAt(growing(1, []float64{0.5, 1, 1.5}, 2), part(0.85), 1); s.Near || !strings.Contains(s.Words, "Longer was not tried") {
		t.Errorf("a look past the end: %q", s.Words)
	}
	if s, ok := StopAt(growing(1, at, 1), wanted, 1); !ok || s.Bounded {
		t.Errorf("an interval without anything made twice: %+v", s)
	}
	if _, ok := StopAt(growing(1, at[:2], 3), wanted, 1); ok {
		t.Error("two times answer")
	}
}

// That a look lies outside what was tried is said where it does, and not where it lies
// half way; 3 standard deviations of 5 in 100 are allowed.
func TestOutsideWhatWasTriedIsSaid(t *testing.T) {
	const n = 100
	times := []float64{0.5, 1, 1.5, 2, 2.5}
	grown := func(h float64) float64 { return 0.9 * -math.Expm1(-math.Ln2*math.Pow(h/3, 2)) }
	outside := func(seed uint64, wanted colour.Lab) bool {
		s, ok := StopAt(growing(seed+1, times, 3), wanted, seed)
		return ok && strings.Contains(s.Words, "was not tried")
	}
	said, wrong := 0, 0
	for seed := range uint64(n) {
		if outside(seed, part(0.9)) {
			said++
		}
		if outside(seed, part(grown(1.75))) {
			wrong++
		}
	}
	t.Logf("said in %d of %d past the end, in %d half way", said, n, wrong)
	if said < 95 || wrong > 11 {
		t.Errorf("said in %d of %d past the end, in %d half way", said, n, wrong)
	}
}
