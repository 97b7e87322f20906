package measure

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"aerugo/internal/picture"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// ruleFits says whether a trained rule can be used on a photograph, and if not, why.
func ruleFits(rule studio.TrainedRule, calibrated bool) (bool, string) {
	kinds := map[bool]bool{} // bare or not
	for _, g := range rule.Groups {
		if slices.Contains(studio.PaintClasses, g.Class) && g.N > 0 {
			kinds[g.Class == studio.ClassBare] = true
		}
	}
	switch {
	case len(kinds) < 2:
		return false, "The painted examples were not used: they do not hold both bare metal and patina."
	case rule.Calibrated && !calibrated:
		return false, "The painted examples were not used: they were painted on a photograph with a grey card, and none is marked in this one. Mark the grey card."
	case !rule.Calibrated && calibrated:
		return false, "The painted examples were not used: they were painted before the grey card was marked. Paint them again."
	}
	return true, ""
}

// trained judges the face by a rule trained from examples. Value counts cells on
// an edge by their covered part, as coverage does. Low and High span edge cells
// counted whole, bare metal held three times likelier or less likely, and the
// share put right by the examples' own errors (Rogan & Gladen 1978, Am. J.
// Epidemiol. 107: 71-76), widened by the tiles as coverage does.
func (f *face) trained(rule studio.TrainedRule) (cover *studio.Coverage, weights []float64, shares []studio.ClassShare, classRule string, notes []string) {
	var groups []group
	bareGroup := -1
	for _, g := range rule.Groups {
		class := slices.Index(studio.PaintClasses, g.Class)
		if class < 0 || g.N < 1 {
			continue
		}
		if g.Class == studio.ClassBare && (bareGroup < 0 || !g.Reference) {
			bareGroup = len(groups)
		}
		groups = append(groups, group{class, momentsOf(float64(g.N), g.Lab, g.Cov)})
	}
	ns := normals(groups, rule.Lambda, rule.Gamma)
	told, lead := f.tell(ns)
	bare := slices.Index(studio.PaintClasses, studio.ClassBare)
	metal := groups[bareGroup].m.mean()
	taken := func(i int) bool { return told[i] != bare }
	weights = f.weigh(colour.Lab{L: metal[0], A: metal[1], B: metal[2]}, taken)
	value := f.meanOf(weights)
	low, high := value, value
	take := func(v float64) { low, high = math.Min(low, v), math.Max(high, v) }
	take(f.share(taken))
	odds := 2 * math.Log(oddsTried)
	take(f.share(func(i int) bool { return lead[i] > odds }))
	take(f.share(func(i int) bool { return lead[i] > -odds }))
	if v, ok := putRight(value, rule); ok {
		take(v)
	}
	whole := f.tileInterval(weights)
	half := whole * math.Sqrt(1-f.seenShare())
	cover = &studio.Coverage{Value: value, Low: math.Max(0, low-half), High: math.Min(1, high+half), Rule: TrainedWords(rule),
		Rules:    &studio.ShareRange{Low: low, High: high},
		Sampling: &studio.ShareRange{Low: math.Max(0, value-whole), High: math.Min(1, value+whole)}}
	if cover.High-cover.Low > 0.3 {
		notes = append(notes, fmt.Sprintf("By the painted examples, coverage lies anywhere from %.0f to %.0f %%. Paint more of what is hard to tell.", 100*cover.Low, 100*cover.High))
	}
	if rule.Wrong > poorExamples {
		notes = append(notes, fmt.Sprintf("%.0f %% of the painted examples are told wrong when left out. Paint more, and only where it is plain.", 100*rule.Wrong))
	}
	return cover, weights, f.trainedShares(told, weights), classRuleOf(rule), notes
}

// tell gives each usable cell its class, smoothed over its neighbours: the class
// of most of the 3 x 3 cells around, its own where there is no most, so that
// noise makes no specks. lead is by how much bare scores worse than the best other.
func (f *face) tell(ns []normal) (told []int, lead []float64) {
	own := make([]int, len(f.usable))
	lead = make([]float64, len(f.usable))
	into := make([]float64, len(studio.PaintClasses))
	for i, ok := range f.usable {
		if !ok {
			continue
		}
		scores(ns, f.cells[i].lab, into)
		own[i] = closest(into)
		lead[i] = into[0] - slices.Min(into[1:])
	}
	told = make([]int, len(own))
	count := make([]int, len(studio.PaintClasses))
	for i, ok := range f.usable {
		if !ok {
			continue
		}
		clear(count)
		for y := max(0, i/f.w-1); y <= min(f.h-1, i/f.w+1); y++ {
			for x := max(0, i%f.w-1); x <= min(f.w-1, i%f.w+1); x++ {
				if j := y*f.w + x; f.usable[j] {
					count[own[j]]++
				}
			}
		}
		told[i] = own[i]
		for class, n := range count {
			if n > count[told[i]] {
				told[i] = class
			}
		}
	}
	return told, lead
}

// putRight takes the rule's own errors out of a share.
func putRight(share float64, rule studio.TrainedRule) (float64, bool) {
	var bareWrong, otherWrong, n float64
	for _, e := range rule.Errors {
		if e.Class == studio.ClassBare {
			bareWrong = e.Wrong
		} else {
			otherWrong += e.Wrong // also those told as another patina: the most it can be
			n++
		}
	}
	if n == 0 || 1-bareWrong-otherWrong/n < 0.3 {
		return 0, false
	}
	return math.Max(0, math.Min(1, (share-bareWrong)/(1-bareWrong-otherWrong/n))), true
}

// trainedShares shares the face out among the classes; of what is only patina the
// fixed limits of hue decide.
func (f *face) trainedShares(told []int, weights []float64) []studio.ClassShare {
	own := make([]class, len(f.usable))
	for i, ok := range f.usable {
		if !ok {
			continue
		}
		own[i] = classAt(f.cells[i].lab)
		if at := slices.Index(classNames, studio.PaintClasses[told[i]]); at > int(atBare) {
			own[i] = class(at)
		}
	}
	return f.shareOut(own, weights)
}

// TrainedWords says a trained rule in one line, with its errors.
func TrainedWords(rule studio.TrainedRule) string {
	text := "what looks more like the patina than like the bare metal painted on " + rule.Of
	if rule.Reference != "" {
		text += " and like the bare reference (" + rule.Reference + ")"
	}
	text += fmt.Sprintf("; %.1f %% of the examples are told wrong when left out patch by patch", 100*rule.Wrong)
	if rule.WrongStroke >= 0 {
		text += fmt.Sprintf(", %.1f %% by whole strokes", 100*rule.WrongStroke)
	}
	return text
}

func classRuleOf(rule studio.TrainedRule) string {
	var names []string
	limits := ""
	for _, e := range rule.Errors {
		names = append(names, fmt.Sprintf("%s (%d places, %.1f %% told wrong when left out)", e.Class, e.N, 100*e.Wrong))
		if e.Class == studio.ClassPatina {
			_, fixed, _ := strings.Cut(classRule("x"), ". ")
			limits = " What is told as patina is named by fixed limits. " + fixed
		}
	}
	return fmt.Sprintf("By the examples painted on %s: %s. Regularised discriminant analysis in CIELAB (Friedman 1989), shrinkage %.2f to the common spread and %.2f to a ball, all equally likely; then the most of the 3 × 3 places around.%s",
		rule.Of, strings.Join(names, ", "), rule.Lambda, rule.Gamma, limits)
}

// BareReading reads what bare metal looks like from a photograph: its marked bare
// spot, or with whole the whole face, as mean colour and spread. It is for judging
// other photographs, so a grey patch or target must have set the colours right.
// Metal, Photo, Of and Made are left to the caller. Errors are *studio.Problem.
func BareReading(img *picture.Image, marks studio.Marks, size Size, under Under, whole bool) (studio.BareReference, error) {
	ref := studio.BareReference{Method: Version, Whole: whole}
	if !whole && marks.Bare == nil {
		return ref, refuse("bare", "No bare spot is marked in this photograph. Mark one first, or say that the whole face is bare.")
	}
	f, l, calibrated, err := readFace(img, marks, size, under)
	if err != nil {
		return ref, err
	}
	if !calibrated {
		return ref, refuse("grey", "A bare reference is for judging other photographs, so its colours must be set right: mark the grey card in this photograph first.")
	}
	ref.Corrected = "grey card"
	if under.Correct != nil {
		ref.Corrected = "colour target"
	}
	cells := f.valid()
	if !whole {
		if err := checkRect("bare", "spot of bare metal", *marks.Bare, img); err != nil {
			return ref, err
		}
		var clipped float64
		if cells, clipped = blocks(img, l, *marks.Bare, f.footprint); clipped > clippedWarn {
			return ref, refuse("bare", "%.0f %% of the spot of bare metal is burnt out, so its colour is not known. Mark a spot without shine.", 100*clipped)
		}
	}
	if len(cells) < leastPlaces {
		return ref, refuse("bare", "Only %d places of bare metal could be read; at least %d are needed. Mark a larger spot.", len(cells), leastPlaces)
	}
	ref.Lab, ref.N = meanLab(cells), len(cells)
	var m moments
	apart := make([]float64, len(cells))
	for i, c := range cells {
		m.add(c.lab)
		apart[i] = colour.Difference(c.lab, ref.Lab)
	}
	ref.Cov = m.covariance()
	slices.Sort(apart)
	ref.SpreadDE = apart[min(len(apart)-1, int(0.95*float64(len(apart))))]
	if ref.SpreadDE > mostThreshold {
		return ref, refuse("bare", "The bare metal differs within itself by %.0f ΔE00; the most is %.0f. Mark a smaller, evenly lit spot.", ref.SpreadDE, mostThreshold)
	}
	return ref, nil
}

// EdgeBand is the part of a face's width and height along each edge that is not
// read, nor shown by Portrait.
const EdgeBand = edgeBand
