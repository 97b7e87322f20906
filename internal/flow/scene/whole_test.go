package scene_test

import (
	"fmt"
	"math"
	"os"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"aerugo/internal/flow/mat"
	"aerugo/internal/flow/measure"
	"aerugo/internal/flow/scene"
	"aerugo/internal/picture"
	"aerugo/internal/science/colour"
	"aerugo/internal/science/target"
	"aerugo/internal/studio"
)

// reading is what came of one plate.
type reading struct {
	refused  error
	corner   float64 // mm, the worst
	size     float64 // relative error of the scale
	colour   float64 // dE00 to the truth; NaN when it was not calibrated
	coverage float64 // off by, in percentage points; NaN when not read
	in       bool    // the truth lies between the coverage's Low and High
	shift    colour.Lab
}

// outcome is what came of one shot.
type outcome struct {
	*shot
	refused  error
	wrong    []string // what no honest answer may be
	scale    float64
	readings []reading
	pairTrue float64
	pairOff  float64 // NaN: no pair
	pairIn   bool    // the truth lies in the interval
	loo      float64
	method   string
	took     [3]time.Duration
}

// take renders a shot and reads it as the pages do.
func take(t testing.TB, n uint64, ref *target.Reference) (o outcome) {
	start := time.Now()
	s := newShot(n)
	o = outcome{shot: s, pairOff: math.NaN(), loo: math.NaN()}
	data := s.file()
	s.raster.v = nil
	o.took[0] = time.Since(start)
	start = time.Now()
	defer func() { o.took[1] = time.Since(start) }()
	img, err := picture.Decode(data)
	if err != nil {
		t.Errorf("shot %d: %v", n, err)
		return o
	}
	want := scene.Want{Mat: true}
	if s.target {
		want.Target = ref
	}
	fault := func(format string, args ...any) { o.wrong = append(o.wrong, fmt.Sprintf(format, args...)) }
	look, err := scene.Look(img, want)
	if err != nil {
		o.refused = err
		if studio.ProblemIn(err) == nil {
			fault("%v is no Problem", err)
		}
		return o
	}
	if look.Mat.Layout.Name() != s.layout.Name() {
		fault("the %s was taken for the %s", s.layout.Name(), look.Mat.Layout.Name())
		return o
	}
	if s.upside != look.Mat.UpsideDown && s.w < s.h {
		fault("upside down is %v", look.Mat.UpsideDown)
	}
	c := s.layout.Swatches[0].Centre()
	o.scale = math.Abs(look.Mat.MMPerPx*s.pxPerMM(c) - 1)
	if o.scale > 0.005 {
		fault("the scale is off by %.2f %%", 100*o.scale)
	}
	under := look.Under()
	if under.Note != nil {
		o.loo, o.method = under.Note.LOOMean, under.Note.Method
	}
	o.readings = make([]reading, len(s.plates))
	read := make([]*studio.Measurement, len(s.plates))
	var blank *colour.Lab
	for i := len(s.plates) - 1; i >= 0; i-- { // the blank, at the right, first
		p, r := s.plates[i], &o.readings[i]
		r.colour, r.coverage = math.NaN(), math.NaN()
		if l, ok := look.Label(i); ok && (l.Number != p.number || l.Face != p.face) {
			fault("the label of swatch %d %s was read as %d %s", p.number, p.face, l.Number, l.Face)
		}
		marks, size, ok := look.Face(i)
		if !ok {
			r.refused = look.Swatches[i].Problem
			continue
		}
		for k, c := range p.slab.corners() {
			q := s.mm(marks.Corners[k])
			r.corner = max(r.corner, math.Hypot(q.X-c.X, q.Y-c.Y))
		}
		if p.surface.strip > 0 {
			marks.Bare = s.spot(p)
		} else if blank != nil {
			marks.BareLab, marks.BareOf = blank, "the blank beside it"
		}
		m, err := measure.MeasureUnder(img, marks, size, under)
		if err != nil {
			r.refused = err
			if studio.ProblemIn(err) == nil {
				fault("%v is no Problem", err)
			}
			continue
		}
		r.size = math.Abs(m.MMPerPixel/meanScale(s, p) - 1)
		if p.blank {
			blank = &m.Lab
		}
		if m.Calibrated {
			r.colour = colour.Difference(m.Lab, p.lab)
			r.shift = colour.Lab{L: m.Lab.L - p.lab.L, A: m.Lab.A - p.lab.A, B: m.Lab.B - p.lab.B}
			read[i] = &m
		}
		if m.Coverage != nil && !p.blank {
			r.coverage = 100 * (m.Coverage.Value - p.coverage)
			r.in = p.coverage >= m.Coverage.Low-0.005 && p.coverage <= m.Coverage.High+0.005
		}
	}
	if len(read) == 2 && read[0] != nil && read[1] != nil {
		o.pairTrue = colour.Difference(s.plates[0].lab, s.plates[1].lab)
		d := scene.Between(*read[0], *read[1])
		o.pairOff = d.DE00 - o.pairTrue
		o.pairIn = o.pairTrue >= d.Low && o.pairTrue <= d.High
	}
	return o
}

// meanScale is the true mm per pixel along the upper and lower sides of a plate.
func meanScale(s *shot, p plate) float64 {
	c := p.slab.corners()
	long := func(i, j int) float64 {
		a, b := s.pixel(c[i]), s.pixel(c[j])
		return math.Hypot(a.X-b.X, a.Y-b.Y)
	}
	return p.slab.w / ((long(0, 1) + long(3, 2)) / 2)
}

// spot is where a person would mark bare metal: in the strip that stayed bare,
// clear of its edges. nil where too little of it is in sight.
func (s *shot) spot(p plate) *studio.Rect {
	deep := p.surface.strip - 3
	c := s.pixel(p.slab.place(0, p.slab.h/2-1.5-deep/2))
	inside := func(r float64) bool {
		for _, d := range [4][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
			q := s.mm(studio.Point{X: c.X + r*d[0], Y: c.Y + r*d[1]})
			dx, dy := q.X-p.slab.middle.X, q.Y-p.slab.middle.Y
			y := dy*p.slab.cos - dx*p.slab.sin
			if y > p.slab.h/2-1.5 || y < p.slab.h/2-1.5-deep {
				return false
			}
		}
		return true
	}
	r := 0.0
	for inside(r + 0.5) {
		r += 0.5
	}
	if r < 4 {
		return nil
	}
	return &studio.Rect{X: c.X - r, Y: c.Y - r, W: 2 * r, H: 2 * r}
}

// shots says which are taken, a third of the three hundred that bench/photographs.sh takes:
// the check has to be done while somebody waits for it.
func shots(t *testing.T) (from, n int) {
	from, n = 1000, 100
	if v := os.Getenv("AERUGO_SHOTS"); v != "" {
		a, b, _ := strings.Cut(v, "+")
		from, _ = strconv.Atoi(a)
		if b != "" {
			n, _ = strconv.Atoi(b)
		}
	}
	return from, n
}

func quantile(v []float64, q float64) float64 {
	v = slices.DeleteFunc(slices.Clone(v), math.IsNaN)
	if len(v) == 0 {
		return math.NaN()
	}
	slices.Sort(v)
	return v[int(q*float64(len(v)-1)+0.5)]
}

func absolute(v []float64) []float64 {
	out := slices.Clone(v)
	for i := range out {
		out[i] = math.Abs(out[i])
	}
	return out
}

// The whole way of a photograph, from the file to colour and coverage, against
// scenes whose truth is known: the mat's own ink under real lights, seen by a
// camera whose sensitivities are a real one's and whose tone curve, white
// balance and saturation are invented to be like a telephone's. The bounds are
// the ones the reading was designed for.
func TestPhotographsOfKnownSwatchesReadTrue(t *testing.T) {
	ref := target.Before2014() // of the age of the target whose spectra are drawn
	from, n := shots(t)
	all := make([]outcome, n)
	next := make(chan int)
	var wait sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for i := range next {
				all[i] = take(t, uint64(from+i), &ref)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	wait.Wait()
	report(t, all)
}

// row is what a group of shots came to.
type row struct {
	shots, refused, plates, no                     int
	corner, scale, target, grey, cover, pairs, loo []float64
	in, covers, allPairs, pairsOut                 int
}

func gather(all []outcome, of func(o outcome) bool) (r row) {
	for _, o := range all {
		if !of(o) {
			continue
		}
		r.shots++
		if o.refused != nil {
			r.refused++
			continue
		}
		r.scale = append(r.scale, 100*o.scale)
		if !math.IsNaN(o.loo) {
			r.loo = append(r.loo, o.loo)
		}
		for _, p := range o.readings {
			r.plates++
			if p.refused != nil {
				r.no++
				continue
			}
			r.corner = append(r.corner, p.corner)
			if o.target {
				r.target = append(r.target, p.colour)
			} else {
				r.grey = append(r.grey, p.colour)
			}
			if !math.IsNaN(p.coverage) {
				r.cover = append(r.cover, math.Abs(p.coverage))
				r.covers++
				if p.in {
					r.in++
				}
			}
		}
		if !math.IsNaN(o.pairOff) {
			r.allPairs++
			if !o.pairIn {
				r.pairsOut++
			}
		}
		if o.near && !math.IsNaN(o.pairOff) {
			r.pairs = append(r.pairs, math.Abs(o.pairOff))
		}
	}
	return r
}

func (r row) String() string {
	return fmt.Sprintf("%4d %3d | %3d %3d | %.2f %.2f | %.2f | %5.2f %5.2f | %5.2f %5.2f | %5.2f %5.2f %3.0f%% | %.2f %.2f", r.shots, r.refused, r.plates, r.no,
		quantile(r.corner, 0.5), quantile(r.corner, 1), quantile(r.scale, 1),
		quantile(r.target, 0.5), quantile(r.target, 0.95), quantile(r.grey, 0.5), quantile(r.grey, 0.95),
		quantile(r.cover, 0.5), quantile(r.cover, 0.95), 100*float64(r.in)/float64(max(1, r.covers)), quantile(r.pairs, 0.5), quantile(r.pairs, 0.95))
}

func report(t *testing.T, all []outcome) {
	groups := []struct {
		name string
		of   func(o outcome) bool
	}{
		{"all", func(outcome) bool { return true }},
		{"tilt 0-10", func(o outcome) bool { return o.tilt < 10 }},
		{"tilt 10-20", func(o outcome) bool { return o.tilt >= 10 && o.tilt < 20 }},
		{"tilt 20-30", func(o outcome) bool { return o.tilt >= 20 && o.tilt < 30 }},
		{"tilt 30-40", func(o outcome) bool { return o.tilt >= 30 }},
		{"below 3500 K", func(o outcome) bool { return o.kelvin < 3500 }},
		{"3500-5000 K", func(o outcome) bool { return o.kelvin >= 3500 && o.kelvin < 5000 }},
		{"over 5000 K", func(o outcome) bool { return o.kelvin >= 5000 }},
		{"LED", func(o outcome) bool { return o.lamp == "LED" }},
		{"curve under 0.2", func(o outcome) bool { return o.phone.curve < 0.2 }},
		{"curve over 0.4", func(o outcome) bool { return o.phone.curve > 0.4 }},
		{"light falls > 15 %", func(o outcome) bool { return o.fall > 0.15 }},
		{"shadow", func(o outcome) bool { return o.shadow > 0 }},
		{"no shadow", func(o outcome) bool { return o.shadow == 0 }},
		{"glare", func(o outcome) bool { return len(o.glare) > 0 }},
		{"JPEG under 70", func(o outcome) bool { return o.quality < 70 }},
		{"Display P3", func(o outcome) bool { return o.phone.p3 }},
		{"upside down", func(o outcome) bool { return o.upside }},
		{"marks covered", func(o outcome) bool { return o.covered > 0 }},
		{"two swatches", func(o outcome) bool { return o.layout.Kind == mat.TwoSwatches }},
	}
	table := fmt.Sprintf("%-19s %4s %3s | %3s %3s | %-9s | %s | %-11s | %-11s | %-15s | %s\n", "", "n", "no", "sw.", "no", "corner mm", "sc.%", "dE target", "dE grey", "coverage, in", "pair")
	for _, g := range groups {
		table += fmt.Sprintf("%-19s %s\n", g.name, gather(all, g.of))
	}
	var draw, read time.Duration
	for _, o := range all {
		draw, read = draw+o.took[0], read+o.took[1]
		for _, w := range o.wrong {
			t.Errorf("shot %d: %s", o.n, w)
		}
		if o.refused != nil {
			t.Logf("shot %d (tilt %.0f, %d covered, shadow %.2f, blur %.1f): %v", o.n, o.tilt, o.covered, o.shadow, o.blur, o.refused)
		}
		for i, r := range o.readings {
			p := o.plates[i]
			if r.refused != nil {
				t.Logf("shot %d place %d (tilt %.0f, shadow %.2f, glare %d): %v", o.n, i, o.tilt, o.shadow, len(o.glare), r.refused)
			} else if r.colour > 6 || math.Abs(r.coverage) > 5 || r.corner > 0.8 {
				t.Logf("shot %d place %d: %.1f mm, dE %.1f (%+.1f %+.1f %+.1f), coverage %+.1f of %.0f; target %v (%.1f, %s) %s %.0f K, curve %.2f sat %.2f, shadow %.2f, glare %d, level %.2f truth %.0f %.0f %.0f", o.n, i, r.corner, r.colour, r.shift.L, r.shift.A, r.shift.B,
					r.coverage, 100*p.coverage, o.target, o.loo, o.method, o.lamp, o.kelvin, o.phone.curve, o.phone.saturation, o.shadow, len(o.glare), o.level, p.lab.L, p.lab.A, p.lab.B)
			}
		}
	}
	t.Log("\n" + table)
	t.Logf("%.2f s to draw and %.2f s to read each, on one of %d processors", draw.Seconds()/float64(len(all)), read.Seconds()/float64(len(all)), runtime.GOMAXPROCS(0))
	whole := gather(all, groups[0].of)
	clear, refusedClear := 0, 0
	for _, o := range all {
		if o.shadow > 0 || o.covered > 1 {
			continue
		}
		clear++
		if o.refused != nil {
			refusedClear++
		}
	}
	for _, c := range []struct {
		what      string
		got, most float64
	}{
		{"median corner, mm", quantile(whole.corner, 0.5), 0.3},
		{"worst scale, %", quantile(whole.scale, 1), 0.5},
		{"median coverage error, points", quantile(whole.cover, 0.5), 1.5},
		{"95th percentile of the coverage error, points", quantile(whole.cover, 0.95), 5},
		{"median dE00 with a target", quantile(whole.target, 0.5), 2},
		{"median dE00 with a grey card", quantile(whole.grey, 0.5), 3.5},
		{"median error of a pair's difference, dE00", quantile(whole.pairs, 0.5), 0.4},
		// our own: what is said of the doubt holds, and little is refused without need
		{"coverages outside their range, %", 100 * (1 - float64(whole.in)/float64(whole.covers)), 5},
		{"pairs outside their interval, %", 100 * float64(whole.pairsOut) / float64(max(1, whole.allPairs)), 10},
		{"refused without shadow or two covered marks, %", 100 * float64(refusedClear) / float64(max(1, clear)), 5},
	} {
		t.Logf("%-48s %.2f (at most %.1f)", c.what, c.got, c.most)
		if !(c.got <= c.most) {
			t.Errorf("%s: %.2f; at most %.1f", c.what, c.got, c.most)
		}
	}
}
