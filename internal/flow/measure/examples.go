package measure

import (
	"math"
	"slices"

	"aerugo/internal/picture"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// Choices of the rule trained from examples; our own.
const (
	leastPlaces    = 30      // cells a class needs
	leastPatches   = 3       // patches a class needs, so that one can be left out
	patchCells     = 12      // cells along the side of a patch
	triedOfPatch   = 16      // cells of a patch that are tried when it is left out
	contradictory  = 1.0 / 3 // share of a class told wrong from which the examples contradict each other
	against        = 0.5     // the same of one stroke, by a rule trained with it
	oddsTried      = 3.0     // bare that many times likelier, and less likely, for the range
	poorExamples   = 0.10    // mean error from which the person is told
	referenceShare = 1.0     // weight of the reference over the largest painted class
)

var lambdas, gammas = []float64{0, 0.25, 0.5, 0.75, 1}, []float64{0, 0.05, 0.2, 0.5}

// readFace straightens and lights a face as MeasureUnder does, glare dropped.
func readFace(img *picture.Image, marks studio.Marks, size Size, under Under) (f *face, l light, calibrated bool, err error) {
	quad := wholePicture(img)
	if marks.Corners != nil {
		quad = *marks.Corners
	}
	if err := checkCorners(quad, img.Width, img.Height); err != nil {
		return nil, l, false, err
	}
	l = newLight(img)
	l.under(under)
	calibrated = under.Correct != nil
	if !calibrated && marks.Grey != nil {
		if _, err := l.calibrate(img, *marks.Grey, marks.GreyL); err != nil {
			return nil, l, false, err
		}
		calibrated = true
	}
	if f, err = straighten(img, quad, size); err != nil {
		return nil, l, false, err
	}
	if f.opaque < minimumOpaque {
		return nil, l, false, refuse("corners", "%.0f %% of the face is transparent in this picture. Send the photograph as it was taken.", 100*(1-f.opaque))
	}
	if under.Gain != nil {
		f.even(quad, under.Gain)
	}
	f.light(l)
	if lost := f.dropGlare(); lost > glareRefuse && marks.Corners != nil { // a whole picture's background may be burnt out
		return nil, l, false, refuse("photo", "%.0f %% of the face is glare or burnt out; the most is %.0f %%. Turn the lamp or the face until the shine leaves it, or expose less.", 100*lost, 100*glareRefuse)
	}
	return f, l, calibrated, nil
}

// patch of examples: neighbouring cells of one stroke.
type examplePatch struct {
	class, stroke int
	m             moments
	tried         []colour.Lab
}

// paint returns the painted cells as patches. A place that was painted twice
// counts as it was painted last.
func (f *face) paint(strokes []studio.Stroke, size Size) []examplePatch {
	if size.WidthMM <= 0 || size.HeightMM <= 0 {
		size = Size{1, 1}
	}
	kx, ky := float64(f.w)/size.WidthMM, float64(f.h)/size.HeightMM // cells a mm
	owner := make([]int, len(f.usable))                             // stroke number from 1
	for n, s := range strokes {
		for i, p := range s.Points {
			q := s.Points[max(0, i-1)]
			f.dab(q, p, s.RadiusMM, kx, ky, func(cell int) { owner[cell] = n + 1 })
		}
	}
	type key struct{ stroke, x, y int }
	at := map[key]int{}
	var out []examplePatch
	var cells [][]colour.Lab
	for i, n := range owner {
		if n == 0 || !f.usable[i] {
			continue
		}
		k := key{n - 1, i % f.w / patchCells, i / f.w / patchCells}
		j, ok := at[k]
		if !ok {
			j = len(out)
			at[k] = j
			out = append(out, examplePatch{class: slices.Index(studio.PaintClasses, strokes[n-1].Class), stroke: n - 1})
			cells = append(cells, nil)
		}
		out[j].m.add(f.cells[i].lab)
		cells[j] = append(cells[j], f.cells[i].lab)
	}
	for j := range out {
		step := max(1, len(cells[j])/triedOfPatch)
		for i := step / 2; i < len(cells[j]); i += step {
			out[j].tried = append(out[j].tried, cells[j][i])
		}
	}
	return out
}

// dab visits the cells whose middles lie within radius of the line from a to b.
func (f *face) dab(a, b studio.Point, radius, kx, ky float64, visit func(cell int)) {
	x0, x1 := math.Min(a.X, b.X)-radius, math.Max(a.X, b.X)+radius
	y0, y1 := math.Min(a.Y, b.Y)-radius, math.Max(a.Y, b.Y)+radius
	dx, dy := b.X-a.X, b.Y-a.Y
	long := dx*dx + dy*dy
	from := func(v float64, n int) int { return int(math.Max(0, math.Min(float64(n), math.Floor(v)))) }
	for y := from(y0*ky, f.h); y < from(y1*ky+1, f.h); y++ {
		for x := from(x0*kx, f.w); x < from(x1*kx+1, f.w); x++ {
			px, py := (float64(x)+0.5)/kx-a.X, (float64(y)+0.5)/ky-a.Y
			t := 0.0
			if long > 0 {
				t = math.Max(0, math.Min(1, (px*dx+py*dy)/long))
			}
			if square(px-t*dx)+square(py-t*dy) <= radius*radius {
				visit(y*f.w + x)
			}
		}
	}
}

// Learn trains a rule that tells bare metal and the kinds of patina apart from
// places painted on a face, in mm (without a real size, in widths and heights of
// the face), and from the metal's bare reference where the photograph has a grey
// card or target; ref may be nil.
//
// The method is regularised discriminant analysis in CIELAB (Friedman 1989,
// J. Amer. Stat. Assoc. 84: 165-175), all classes equally likely. The two
// shrinkages are those with the least error on examples left out patch by patch
// (12 cells wide), then the least surprise, then the stronger. Neighbouring
// patches are alike, so the error by whole strokes is told too. Errors are
// *studio.Problem: too few examples, or examples that contradict each other: a
// third of a class, or half of a stroke, told wrong.
func Learn(img *picture.Image, marks studio.Marks, size Size, under Under, strokes []studio.Stroke, ref *studio.BareReference) (studio.TrainedRule, error) {
	var rule studio.TrainedRule
	if err := studio.CheckStrokes(strokes); err != nil {
		return rule, err
	}
	f, _, calibrated, err := readFace(img, marks, size, under)
	if err != nil {
		return rule, err
	}
	rule.Calibrated = calibrated
	if !calibrated {
		ref = nil // another photograph's colours mean nothing here
	}
	e := examples{patches: f.paint(strokes, size)}
	if err := e.enough(ref != nil); err != nil {
		return rule, err
	}
	e.gather(ref)
	rule.Lambda, rule.Gamma = e.shrink()
	wrong := e.leftOut(rule.Lambda, rule.Gamma, nil)
	rule.Wrong, rule.WrongStroke, rule.Patches = wrong.mean(), e.byStroke(rule.Lambda, rule.Gamma), len(e.patches)
	if err := e.agree(rule.Lambda, rule.Gamma, wrong); err != nil {
		return rule, err
	}
	for class, n := range wrong.tried {
		if n > 0 {
			rule.Errors = append(rule.Errors, studio.ClassError{Class: studio.PaintClasses[class], N: int(e.places[class]), Wrong: wrong.wrong[class] / n})
		}
	}
	for i, g := range e.groups {
		mean := g.m.mean()
		rule.Groups = append(rule.Groups, studio.ColourGroup{Class: studio.PaintClasses[g.class], Reference: i == e.ref, N: int(math.Round(g.m.n)),
			Lab: colour.Lab{L: mean[0], A: mean[1], B: mean[2]}, Cov: g.m.covariance()})
	}
	if ref != nil {
		rule.Reference = ref.Of
	}
	return rule, nil
}

// examples are the painted patches and the groups made of them; ref is the
// place of the bare reference among the groups, or -1.
type examples struct {
	patches []examplePatch
	groups  []group
	of      []int     // group of each class, or -1
	places  []float64 // painted cells of each class
	ref     int
}

func (e *examples) enough(reference bool) error {
	n, patches := make([]float64, len(studio.PaintClasses)), make([]int, len(studio.PaintClasses))
	e.places = n
	for _, p := range e.patches {
		n[p.class] += p.m.n
		patches[p.class]++
	}
	other := false
	for class, name := range studio.PaintClasses {
		if n[class] == 0 {
			continue
		}
		other = other || name != studio.ClassBare
		if n[class] < leastPlaces || patches[class] < leastPatches {
			return refuse("strokes", "Too little is painted as %s: %.0f places in %d patches; at least %d places in %d patches are needed. Paint more of it, in several spots.", name, n[class], patches[class], leastPlaces, leastPatches)
		}
	}
	if n[slices.Index(studio.PaintClasses, studio.ClassBare)] == 0 && !reference {
		return refuse("strokes", "Nothing is painted as bare, and there is no bare reference of this metal that can be used here. Paint some bare metal, or keep a bare reference and mark the grey card.")
	}
	if !other {
		return refuse("strokes", "Nothing is painted as patina or one of its colours. Paint some, so that there is something to tell from bare.")
	}
	return nil
}

func (e *examples) gather(ref *studio.BareReference) {
	e.of, e.ref = make([]int, len(studio.PaintClasses)), -1
	largest := 0.0
	for class := range e.of {
		e.of[class] = -1
		var m moments
		for _, p := range e.patches {
			if p.class == class {
				m = m.plus(p.m, 1)
			}
		}
		if m.n > 0 {
			e.of[class] = len(e.groups)
			e.groups = append(e.groups, group{class, m})
			largest = math.Max(largest, m.n)
		}
	}
	if ref != nil {
		e.ref = len(e.groups)
		e.groups = append(e.groups, group{slices.Index(studio.PaintClasses, studio.ClassBare), momentsOf(math.Max(leastPlaces, math.Min(float64(ref.N), referenceShare*largest)), ref.Lab, ref.Cov)})
	}
}

// told counts, by class, the places tried and those told wrong.
type told struct {
	tried, wrong []float64
	surprise     float64
	as           map[[2]int]float64 // painted class, told class
}

// mean is the mean of the classes' shares told wrong.
func (t told) mean() float64 {
	sum, n := 0.0, 0.0
	for class, tried := range t.tried {
		if tried > 0 {
			sum += t.wrong[class] / tried
			n++
		}
	}
	return sum / n
}

// without trains on all but the moments left out of one class.
func (e *examples) without(lambda, gamma float64, class int, out moments) []normal {
	groups := slices.Clone(e.groups)
	if i := e.of[class]; out.n > 0 {
		if groups[i].m = groups[i].m.plus(out, -1); groups[i].m.n < 1 {
			groups = slices.Delete(groups, i, i+1)
		}
	}
	return normals(groups, lambda, gamma)
}

func newTold() told {
	return told{tried: make([]float64, len(studio.PaintClasses)), wrong: make([]float64, len(studio.PaintClasses)), as: map[[2]int]float64{}}
}

// try asks about a patch.
func (t *told) try(ns []normal, p examplePatch) (wrong float64) {
	into := make([]float64, len(studio.PaintClasses))
	for _, c := range p.tried {
		scores(ns, c, into)
		got := closest(into)
		t.tried[p.class]++
		t.as[[2]int{p.class, got}]++
		if got != p.class {
			t.wrong[p.class]++
			wrong++
		}
		t.surprise += surprise(into, p.class)
	}
	return wrong
}

// leftOut trains without each patch, or without what out says of it, and asks.
func (e *examples) leftOut(lambda, gamma float64, out func(p examplePatch) (moments, bool)) told {
	t := newTold()
	for _, p := range e.patches {
		m, ok := p.m, true
		if out != nil {
			m, ok = out(p)
		}
		if ok {
			t.try(e.without(lambda, gamma, p.class, m), p)
		}
	}
	return t
}

// shrink chooses the shrinkages.
func (e *examples) shrink() (lambda, gamma float64) {
	best, least := math.Inf(1), math.Inf(1)
	for _, l := range lambdas {
		for _, g := range gammas {
			t := e.leftOut(l, g, nil)
			wrong := t.mean()
			if wrong < best-1e-9 || wrong < best+1e-9 && t.surprise <= least {
				best, least, lambda, gamma = wrong, t.surprise, l, g
			}
		}
	}
	return lambda, gamma
}

// byStroke is the mean error where whole strokes are left out, of the classes
// with two or more; -1 when there is none.
func (e *examples) byStroke(lambda, gamma float64) float64 {
	sums, strokes := map[int]moments{}, map[int]map[int]bool{}
	for _, p := range e.patches {
		sums[p.stroke] = sums[p.stroke].plus(p.m, 1)
		if strokes[p.class] == nil {
			strokes[p.class] = map[int]bool{}
		}
		strokes[p.class][p.stroke] = true
	}
	t := e.leftOut(lambda, gamma, func(p examplePatch) (moments, bool) { return sums[p.stroke], len(strokes[p.class]) > 1 })
	if len(t.as) == 0 {
		return -1
	}
	return t.mean()
}

// agree reports a Problem when examples contradict each other.
func (e *examples) agree(lambda, gamma float64, wrong told) error {
	all := normals(e.groups, lambda, gamma)
	strokes := map[int]*told{}
	for _, p := range e.patches {
		if strokes[p.stroke] == nil {
			t := newTold()
			strokes[p.stroke] = &t
		}
		strokes[p.stroke].try(all, p)
	}
	worst, worstShare := -1, against
	for n, t := range strokes {
		if share := t.mean(); share > worstShare || share == worstShare && worst >= 0 && n < worst {
			worst, worstShare = n, share
		}
	}
	if worst >= 0 {
		class, as := strokes[worst].mostly()
		return refuse("strokes", "The examples contradict each other: %.0f %% of stroke %d, painted as %s, looks like what was painted as %s. Undo that stroke, or those it contradicts.", 100*worstShare, worst+1, class, as)
	}
	for class, tried := range wrong.tried {
		if tried > 0 && wrong.wrong[class]/tried > contradictory {
			one := newTold()
			for k, n := range wrong.as {
				if k[0] == class {
					one.as[k] = n
				}
			}
			name, as := one.mostly()
			return refuse("strokes", "The examples contradict each other: %.0f %% of what was painted as %s looks like what was painted as %s. Paint only where it is plain which it is, or call both the same.", 100*wrong.wrong[class]/tried, name, as)
		}
	}
	return nil
}

// mostly is the painted class and the other that most of it was told as.
func (t told) mostly() (class, as string) {
	most := 0.0
	for k, n := range t.as {
		if k[0] != k[1] && (n > most || n == most && studio.PaintClasses[k[1]] < as) {
			most, class, as = n, studio.PaintClasses[k[0]], studio.PaintClasses[k[1]]
		}
	}
	return class, as
}
