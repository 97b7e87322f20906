package mat

import (
	"errors"
	"fmt"
	"math"
	"os"
	"sort"
	"strconv"
	"sync"
	"testing"

	"aerugo/internal/studio"
)

// outcome is what came of one render.
type outcome struct {
	scene       scene
	found       bool
	refusal     error
	seen        int
	corner      float64 // mm, the worst corner of the swatch places
	scale       float64 // relative
	said        float64 // ErrorMM
	swatchErr   []float64
	swatchNo    []error
	swatchSaid  []float64
	labels      int
	wrongLabels int
	upside      bool
}

func try(t testing.TB, s scene, paper *sheet) outcome {
	o := outcome{scene: s}
	img := s.photograph(t, paper)
	f, err := Find(img)
	if err != nil {
		if studio.ProblemIn(err) == nil {
			t.Errorf("scene %d: %v is no Problem", s.seed, err)
		}
		o.refusal = err
		return o
	}
	o.found, o.seen, o.said, o.upside = true, f.MarksSeen, f.ErrorMM, f.UpsideDown
	if f.Layout.Name() != s.layout.Name() {
		o.corner = math.Inf(1)
		return o
	}
	for _, place := range s.layout.Swatches {
		for _, c := range place.Corners() {
			p := f.Page(s.pixel(c))
			o.corner = math.Max(o.corner, math.Hypot(p.X-c.X, p.Y-c.Y))
		}
	}
	c := s.layout.Swatches[0].Centre()
	o.scale = math.Abs(f.MMPerPx*s.toPixels.scale(c.X, c.Y) - 1)
	for _, l := range f.Codes {
		o.labels++
		if l.Number != s.numbers[l.Place] {
			o.wrongLabels++
		}
	}
	swatches, err := SwatchQuads(img, f)
	if err != nil {
		if studio.ProblemIn(err) == nil {
			t.Errorf("scene %d: %v is no Problem", s.seed, err)
		}
		for range s.layout.Swatches {
			o.swatchNo = append(o.swatchNo, err)
		}
		return o
	}
	for _, w := range swatches {
		if w.Problem != nil {
			o.swatchNo = append(o.swatchNo, w.Problem)
			continue
		}
		worst := 0.0
		for i, c := range s.swatches[w.Place].corners() {
			p := s.page(w.Marks.Corners[i])
			worst = math.Max(worst, math.Hypot(p.X-c.X, p.Y-c.Y))
		}
		o.swatchErr = append(o.swatchErr, worst)
		o.swatchSaid = append(o.swatchSaid, w.ErrorMM)
	}
	return o
}

func renders(t *testing.T) int {
	if v := os.Getenv("AERUGO_RENDERS"); v != "" {
		n, err := strconv.Atoi(v)
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	return 48 // flow/scene draws 300 with all else in them
}

// tryAll renders n scenes on all processors.
func tryAll(t *testing.T, n int) []outcome {
	t.Helper()
	papers := map[string]*sheet{}
	for _, l := range Layouts {
		papers[l.Name()] = newSheet(t, l)
	}
	out := make([]outcome, n)
	next := make(chan int)
	var wg sync.WaitGroup
	for range 2 {
		wg.Go(func() {
			for i := range next {
				s := newScene(t, uint64(i))
				out[i] = try(t, s, papers[s.layout.Name()])
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	wg.Wait()
	return out
}

func quantile(v []float64, q float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	s := append([]float64(nil), v...)
	sort.Float64s(s)
	return s[int(q*float64(len(s)-1)+0.5)]
}

// overstepped is the share of corners, of the page and of swatches, that are off
// by more than three times the error given with them.
func overstepped(all []outcome) float64 {
	n, over := 0, 0
	count := func(err, said float64) {
		n++
		if err > 3*said {
			over++
		}
	}
	for _, o := range all {
		if o.found {
			count(o.corner, o.said)
		}
		for i, e := range o.swatchErr {
			count(e, o.swatchSaid[i])
		}
	}
	return float64(over) / float64(n)
}

// The bounds are the ones the mat was designed for; the truth is the renderer's
// own camera. Chance is seeded by the number of the scene.
func TestMatIsFoundOrHonestlyRefused(t *testing.T) {
	all := tryAll(t, renders(t))
	var corners, scales, swatchErr []float64
	foundClear, clear, swatchRefused, labels, places := 0, 0, 0, 0, 0
	table := "tilt      renders found  corner mm median / 95 % / most   scale % most   swatch corner mm median / most   refused swatches   labels read\n"
	for low := 0.0; low < 40; low += 10 {
		var c, sc, sw []float64
		n, found, no, labels, places := 0, 0, 0, 0, 0
		for _, o := range all {
			if o.scene.tilt < low || o.scene.tilt >= low+10 {
				continue
			}
			n++
			if !o.found {
				continue
			}
			found++
			c, sc, sw = append(c, o.corner), append(sc, 100*o.scale), append(sw, o.swatchErr...)
			no += len(o.swatchNo)
			labels += o.labels
			places += len(o.scene.labels)
		}
		table += fmt.Sprintf("%2.0f to %2.0f  %5d %6d    %.3f / %.3f / %.3f              %.3f          %.3f / %.3f                   %d                %d of %d\n",
			low, low+10, n, found, quantile(c, 0.5), quantile(c, 0.95), quantile(c, 1), quantile(sc, 1), quantile(sw, 0.5), quantile(sw, 1), no, labels, places)
	}
	t.Log("\n" + table)
	for _, o := range all {
		if o.scene.covered == 0 {
			clear++
			if o.found {
				foundClear++
			}
		}
		if !o.found {
			t.Logf("scene %d (tilt %.0f, %d covered, blur %.1f): %v", o.scene.seed, o.scene.tilt, o.scene.covered, o.scene.blur, o.refusal)
			continue
		}
		if o.corner > 1.5 {
			t.Errorf("scene %d: corners are %.2f mm off (%.2f said, %d marks)", o.scene.seed, o.corner, o.said, o.seen)
		}
		if o.scale > 0.005 {
			t.Errorf("scene %d: the scale is %.2f %% off", o.scene.seed, 100*o.scale)
		}
		if o.wrongLabels > 0 {
			t.Errorf("scene %d: a label was misread", o.scene.seed)
		}
		if o.scene.upside != o.upside && o.scene.w < o.scene.h {
			t.Errorf("scene %d: upside down is %v, not %v", o.scene.seed, o.upside, o.scene.upside)
		}
		for i, e := range o.swatchErr {
			if e > 1.5 {
				t.Errorf("scene %d: a swatch's corner is %.2f mm off (%.2f said)", o.scene.seed, e, o.swatchSaid[i])
			}
		}
		for _, err := range o.swatchNo {
			t.Logf("scene %d: %v", o.scene.seed, err)
		}
		corners, scales, swatchErr = append(corners, o.corner), append(scales, o.scale), append(swatchErr, o.swatchErr...)
		swatchRefused += len(o.swatchNo)
		labels += o.labels
		places += len(o.scene.labels)
	}
	if float64(labels) < 0.95*float64(places) {
		t.Errorf("only %d of %d labels were read", labels, places)
	}
	if m := quantile(corners, 0.5); !(m <= 0.3) {
		t.Errorf("the median corner is %.2f mm off", m)
	}
	if m := quantile(swatchErr, 0.5); !(m <= 0.3) {
		t.Errorf("the median swatch corner is %.2f mm off", m)
	}
	if off := overstepped(all); off > 0.05 {
		t.Errorf("%.0f %% of the corners are further off than three times what was said", 100*off)
	}
	if float64(foundClear) < 0.97*float64(clear) {
		t.Errorf("only %d of %d mats with nothing on their marks were found", foundClear, clear)
	}
	if float64(swatchRefused) > 0.15*float64(swatchRefused+len(swatchErr)) {
		t.Errorf("%d swatches were refused, %d found", swatchRefused, len(swatchErr))
	}
	var p *studio.Problem
	for _, o := range all {
		if o.refusal != nil && !errors.As(o.refusal, &p) {
			t.Errorf("scene %d: %v", o.scene.seed, o.refusal)
		}
	}
	t.Logf("%.1f %% of corners are further off than three times what was said", 100*overstepped(all))
	t.Logf("found %d of %d (%d of %d with clear marks); corner median %.3f mm; scale most %.3f %%; swatches found %d, refused %d",
		len(corners), len(all), foundClear, clear, quantile(corners, 0.5), 100*quantile(scales, 1), len(swatchErr), swatchRefused)
}

// The printed mat, words and all, photographed at four tilts. Poppler sets edges
// on whole dots, half of which is 0.127 mm.
func TestPrintedMatIsFoundInPhotographs(t *testing.T) {
	for i, l := range Layouts {
		paper := printedSheet(t, l)
		for n := uint64(i); n < 16; n += 4 {
			s := newScene(t, 1000+n)
			if s.layout.Name() != l.Name() {
				t.Fatalf("scene %d is of the %s", s.seed, s.layout.Name())
			}
			o := try(t, s, paper)
			if !o.found {
				if s.covered == 0 {
					t.Errorf("scene %d: %v", s.seed, o.refusal)
				}
				continue
			}
			most := 0.3
			if o.seen == 3 {
				most = 1
			}
			if o.corner > most || o.scale > 0.005 || o.wrongLabels > 0 {
				t.Errorf("scene %d: corners %.2f mm off, scale %.2f %%, %d labels misread", s.seed, o.corner, 100*o.scale, o.wrongLabels)
			}
			for _, e := range o.swatchErr {
				if e > 0.7 {
					t.Errorf("scene %d: a swatch's corner is %.2f mm off", s.seed, e)
				}
			}
			for _, err := range o.swatchNo {
				t.Logf("scene %d: %v", s.seed, err)
			}
			t.Logf("scene %d: tilt %.0f, corners %.2f mm, scale %.3f %%, swatches %.2f, labels %d", s.seed, s.tilt, o.corner, 100*o.scale, o.swatchErr, o.labels)
		}
	}
}
