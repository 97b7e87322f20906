package measure

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"aerugo/internal/studio"
)

// halite is the density of common salt in g/cm3 (CRC Handbook: 2.17), from memory.
const halite = 2.17

// salted is a face of brushed metal with square grains of salt strewn over it at
// random, drawn by arithmetic. Grains lie in one layer and may touch. A grain is
// taken as a cube, so that its weight goes with the third power of its width.
type salted struct {
	mm     float64 // side of the face
	grains []saltGrain
	near   map[[2]int][]int // grains by square millimetre
	lines  []float64        // brushing, across the brushed direction
	tilt   float64
	metal  [3]float64
	shade  float64 // a shadow's light beside each grain, over the metal's; 0 for none
}

type saltGrain struct{ x, y, width, cos, sin, light float64 }

func strew(rng *rand.Rand, n int, mm, width, spread float64) *salted {
	s := &salted{mm: mm, near: map[[2]int][]int{}, tilt: rng.Float64() * math.Pi, metal: linearOf(175, 125, 104), lines: make([]float64, 800)}
	for i := range s.lines {
		s.lines[i] = 1 + 0.06*rng.NormFloat64()
	}
	for len(s.grains) < n {
		a := rng.Float64() * math.Pi / 2
		g := saltGrain{rng.Float64() * mm, rng.Float64() * mm, width * math.Exp(spread*rng.NormFloat64()), math.Cos(a), math.Sin(a), 0.72 + 0.08*(2*rng.Float64()-1)}
		free := true
		s.around(g.x, g.y, func(o saltGrain) { free = free && math.Hypot(o.x-g.x, o.y-g.y) > (o.width+g.width)/2 })
		if free {
			at := [2]int{int(g.x), int(g.y)}
			s.near[at] = append(s.near[at], len(s.grains))
			s.grains = append(s.grains, g)
		}
	}
	return s
}

func (s *salted) around(x, y float64, visit func(g saltGrain)) {
	for i := int(x) - 1; i <= int(x)+1; i++ {
		for j := int(y) - 1; j <= int(y)+1; j++ {
			for _, k := range s.near[[2]int{i, j}] {
				visit(s.grains[k])
			}
		}
	}
}

func (s *salted) at(u, v float64) [3]float64 {
	x, y := u*s.mm, v*s.mm
	lamp := 1.1 - 0.25*u
	rgb := [3]float64{}
	line := s.lines[int(math.Abs(x*math.Cos(s.tilt)+y*math.Sin(s.tilt))*10)%len(s.lines)]
	for c := range rgb {
		rgb[c] = s.metal[c] * line * lamp
	}
	s.around(x, y, func(g saltGrain) {
		dx, dy := x-g.x-0.5*g.width, y-g.y-0.3*g.width
		if s.shade > 0 && math.Max(math.Abs(dx*g.cos+dy*g.sin), math.Abs(dy*g.cos-dx*g.sin)) < g.width/2 {
			for c := range rgb {
				rgb[c] = s.metal[c] * line * lamp * s.shade
			}
		}
	})
	s.around(x, y, func(g saltGrain) {
		dx, dy := x-g.x, y-g.y
		if math.Max(math.Abs(dx*g.cos+dy*g.sin), math.Abs(dy*g.cos-dx*g.sin)) < g.width/2 {
			rgb = [3]float64{g.light * lamp, g.light * lamp, 0.97 * g.light * lamp}
		}
	})
	return rgb
}

// inside counts the grains whose middle lies in the part that is read, and their
// share of its area.
func (s *salted) inside() (n int, covered float64) {
	low, high := edgeBand*s.mm, (1-edgeBand)*s.mm
	for _, g := range s.grains {
		if g.x > low && g.x < high && g.y > low && g.y < high {
			n++
			covered += g.width * g.width
		}
	}
	return n, covered / square(high-low)
}

// gramPerM2 is what a balance would tell.
func (s *salted) gramPerM2() float64 {
	grams := 0.0
	for _, g := range s.grains {
		grams += halite * 1e-3 * g.width * g.width * g.width
	}
	return grams / (s.mm * s.mm * 1e-6)
}

func (s *salted) take(t testing.TB, cast [3]float64, noise float64) (*scene, GrainCount) {
	t.Helper()
	d := desk(s.at)
	d.cast, d.noise = cast, noise
	g, err := Grains(d.take(t), d.marks(), Size{WidthMM: s.mm, HeightMM: s.mm}, Under{})
	if err != nil {
		t.Fatal(err)
	}
	return &d, g
}

// The truth is what was strewn: perspective, a lamp's slope of a quarter, brushed
// lines of 6 %, shadows, noise, and casts of light that no grey card takes out.
func TestGrainsAreCountedWithinATenth(t *testing.T) {
	for _, c := range []struct {
		n             int
		width, spread float64 // mm, of the logarithm
		cast          [3]float64
		noise, shade  float64
	}{
		{25, 0.5, 0.15, [3]float64{1, 1, 1}, 1, 0},
		{60, 0.5, 0.2, [3]float64{1.2, 1, 0.7}, 2, 0.4},
		{120, 0.45, 0.2, [3]float64{0.7, 0.7, 0.7}, 2, 0.3},
		{200, 0.45, 0.2, [3]float64{0.8, 1, 1.3}, 3, 0},
		{300, 0.5, 0.15, [3]float64{1, 1, 1}, 2, 0.4},
		{400, 0.5, 0.1, [3]float64{1.2, 1, 0.7}, 2, 0.3},
		{400, 0.45, 0.2, [3]float64{1, 1, 1}, 3, 0.5},
		{400, 0.6, 0.25, [3]float64{1, 1, 1}, 2, 0.4},
	} {
		s := strew(rand.New(rand.NewPCG(uint64(c.n), 7)), c.n, 40, c.width, c.spread)
		s.shade = c.shade
		_, g := s.take(t, c.cast, c.noise)
		n, covered := s.inside()
		t.Logf("%3d grains of %.2f mm: counted %d (%.0f to %.0f), %d in clumps; covered %.4f, read %.4f; %.2f mm across", n, c.width, g.Count, g.Low, g.High, g.Clumped, covered, g.CoveredShare, g.TypicalMM)
		if math.Abs(float64(g.Count-n)) > 0.1*float64(n) {
			t.Errorf("%d grains strewn, %d counted", n, g.Count)
		}
		if math.Abs(g.CoveredShare/covered-1) > 0.15 {
			t.Errorf("covered %.4f, strewn %.4f", g.CoveredShare, covered)
		}
		// a square of width w is as large as a disc 1.13 w wide
		if math.Abs(g.TypicalMM/(1.128*c.width)-1) > 0.2 {
			t.Errorf("grains %.2f mm across, strewn squares of %.2f mm", g.TypicalMM, c.width)
		}
	}
}

// Fifty faces with 60 to 400 grains under other lamps than the weighed face's;
// the true loading is that of the strewn cubes of salt.
func TestLoadingIntervalHoldsTheTruth(t *testing.T) {
	weighed := strew(rand.New(rand.NewPCG(1, 1)), 250, 40, 0.45, 0.2)
	_, count := weighed.take(t, [3]float64{1, 1, 1}, 2)
	ref, err := count.Weighed(weighed.gramPerM2(), 0.02*weighed.gramPerM2())
	if err != nil {
		t.Fatal(err)
	}
	const faces = 50
	held, off, wide := 0, 0.0, 0.0
	for seed := range uint64(faces) {
		rng := rand.New(rand.NewPCG(seed, 99))
		s := strew(rng, 60+rng.IntN(341), 40, 0.45, 0.2)
		s.shade = 0.3 * float64(rng.IntN(3)) // none, deep or faint
		_, g := s.take(t, [3]float64{0.8 + 0.4*rng.Float64(), 1, 0.7 + 0.6*rng.Float64()}, 1+2*rng.Float64())
		l, err := ref.Loading(g)
		if err != nil {
			t.Fatal(err)
		}
		truth := s.gramPerM2()
		if l.Low <= truth && truth <= l.High {
			held++
		}
		off += math.Abs(l.Value/truth-1) / faces
		wide += (l.High - l.Low) / 2 / l.Value / faces
		if l.Unit != studio.GramPerM2 || l.Check("loading") != nil || l.Low > l.Value || l.High < l.Value {
			t.Errorf("%+v", l)
		}
	}
	t.Logf("the interval held the truth in %d of %d; off by %.1f %% on average, half width %.0f %%", held, faces, 100*off, 100*wide)
	if held < 45 {
		t.Errorf("the interval held the truth in %d of %d", held, faces)
	}
	// an interval can be true by being useless: a third either way would be
	if off > 0.08 || wide > 0.4 {
		t.Errorf("off by %.1f %% on average, half width %.0f %%", 100*off, 100*wide)
	}
}

func TestBareBrushedMetalHasNoGrains(t *testing.T) {
	for seed := range uint64(3) {
		s := strew(rand.New(rand.NewPCG(seed, 3)), 0, 40, 0.5, 0.2)
		_, g := s.take(t, [3]float64{1, 1, 1}, 3)
		if g.Count != 0 || g.CoveredShare != 0 || !anyHas(g.Warnings, "No grains stand out") {
			t.Errorf("bare metal: %+v", g)
		}
		ref := Reference{GramPerM2: 10, Count: 100, CoveredShare: 0.02, PerCM2: 6}
		l, err := ref.Loading(g)
		if err != nil || l.Value != 0 || l.Low != 0 || !(l.High > 0.3 && l.High < 0.6) {
			t.Errorf("none found of 10 g/m² for 100 grains: %+v, %v", l, err)
		}
	}
}

// A bright line is a scratch and a bright sheet is shine; neither is a grain.
func TestScratchesAndShineAreNotGrains(t *testing.T) {
	s := strew(rand.New(rand.NewPCG(5, 5)), 150, 40, 0.5, 0.15)
	_, plain := s.take(t, [3]float64{1, 1, 1}, 1)
	d := desk(func(u, v float64) [3]float64 {
		if math.Abs(u-0.3-0.2*v) < 0.005 && v > 0.2 && v < 0.8 || u > 0.7 && u < 0.85 && v > 0.7 && v < 0.85 {
			return [3]float64{0.7, 0.7, 0.7}
		}
		return s.at(u, v)
	})
	d.noise = 1
	g, err := Grains(d.take(t), d.marks(), Size{WidthMM: 40, HeightMM: 40}, Under{})
	if err != nil {
		t.Fatal(err)
	}
	// the sheet hides 2 % of the face and the grains on it
	if g.Count > plain.Count || g.Count < plain.Count-12 || g.ShineShare < 0.015 || !anyHas(g.Warnings, "shine or heaps") {
		t.Errorf("with a scratch and a sheet of shine %+v; without %d grains", g, plain.Count)
	}
}

func TestTooMuchSaltIsRefused(t *testing.T) {
	for _, share := range []float64{0.42, 0.6, 0.8} {
		d := desk(func(u, v float64) [3]float64 {
			side := math.Sqrt(share)
			if fu, fv := math.Mod(u*50, 1), math.Mod(v*50, 1); fu < side && fv < side {
				return [3]float64{0.75, 0.75, 0.73}
			}
			return copperish
		})
		g, err := Grains(d.take(t), d.marks(), Size{WidthMM: 40, HeightMM: 40}, Under{})
		if p := studio.ProblemIn(err); p == nil || !strings.Contains(p.Error(), "too much salt, or shine") {
			t.Errorf("%.0f %% covered: %+v, %v", 100*share, g, err)
		}
	}
}

// Garwood's exact limits, as in the tables of Pearson & Hartley, Biometrika Tables
// for Statisticians I, table 40 (two-sided 95 %); from memory.
func TestPoissonIntervalIsGarwoods(t *testing.T) {
	for _, c := range []struct {
		n         int
		low, high float64
	}{{0, 0, 3.69}, {1, 0.0253, 5.57}, {2, 0.242, 7.22}, {5, 1.62, 11.67}, {10, 4.80, 18.39}, {20, 12.22, 30.89}, {30, 20.24, 42.83}, {50, 37.11, 65.92}} {
		low, high := poisson(c.n)
		if math.Abs(low-c.low) > 0.006 || math.Abs(high-c.high) > 0.006 {
			t.Errorf("%d: %.4f to %.4f, want %v to %v", c.n, low, high, c.low, c.high)
		}
	}
}

func TestWeighedFaceMustBeUsable(t *testing.T) {
	good := GrainCount{Count: 100, CoveredShare: 0.02, PerCM2: 6}
	for _, c := range []struct {
		g      GrainCount
		gm, sd float64
	}{{good, 0, 0}, {good, -1, 0}, {good, math.NaN(), 0}, {good, 9000, 0}, {good, 10, -1}, {good, 10, 11}, {good, 10, math.NaN()}, {GrainCount{Count: 9, CoveredShare: 0.01}, 10, 0}, {GrainCount{}, 10, 0}} {
		if _, err := c.g.Weighed(c.gm, c.sd); studio.ProblemIn(err) == nil {
			t.Errorf("%d grains, %v ± %v g/m²: %v", c.g.Count, c.gm, c.sd, err)
		}
	}
	if _, err := (Reference{}).Loading(good); studio.ProblemIn(err) == nil {
		t.Errorf("no reference: %v", err)
	}
	ref, err := good.Weighed(12, 0)
	if err != nil {
		t.Fatal(err)
	}
	// twice the area and twice the count is twice the weight; Poisson alone gives
	// exp(1.96 sqrt(1/100 + 1/200)) = 1.271 either way
	l, err := ref.Loading(GrainCount{Count: 200, CoveredShare: 0.04, PerCM2: 12})
	if err != nil || math.Abs(l.Value-24) > 1e-9 || math.Abs(l.High/24-1.2713) > 0.001 || math.Abs(24/l.Low-1.2713) > 0.001 {
		t.Errorf("%+v, %v", l, err)
	}
	// where count and area tell two things, the interval spans both
	l, err = ref.Loading(GrainCount{Count: 400, CoveredShare: 0.04, PerCM2: 24})
	if err != nil || l.Value != 24 || l.High < 48 {
		t.Errorf("%+v, %v", l, err)
	}
}
