package measure

import (
	"fmt"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// The surface classes, in the order they are told.
const (
	classBare   = "bare"
	classBrown  = "brown"
	classGreen  = "green"
	classBlue   = "blue"
	classViolet = "violet-dark"
)

var classNames = []string{classBare, classBrown, classGreen, classBlue, classViolet}

// Limits of the classes, hues in degrees of CIELAB (D50). They lie in the gaps
// between the ISCC-NBS centroids (NBS Special Publication 440): browns end at
// 80 and yellows at 100, greens run from 109 to 195, blues from 216 to 305,
// violets and purples from 292 to 338, reds start at 343. Green starts at 100
// and not in the middle of its gap, because clean 70/30 brass reaches 89 and
// warm light pulls dark greens down to about 100.
const (
	greenFrom  = 100.0
	blueFrom   = 205.0
	violetFrom = 298.0
	brownFrom  = 340.0
	// nearly black is C* under blackChroma - blackSlope L*, which takes the
	// names with "black" or "blackish" in them and none else with a hue
	blackChroma = 14.5
	blackSlope  = 0.35
	weakChroma  = 4.0 // below it a cast of light decides the hue
	weakWarn    = 0.2 // share of the face
)

// class is a place in classNames.
type class uint8

const (
	atBare class = iota
	atBrown
	atGreen
	atBlue
	atViolet
	classCount = iota
)

// classOf is the name of the class of a place that is not bare metal.
func classOf(c colour.Lab) string { return classNames[classAt(c)] }

func classAt(c colour.Lab) class {
	if c.Chroma() < blackChroma-blackSlope*c.L {
		return atViolet
	}
	switch h := c.Hue(); {
	case h >= greenFrom && h < blueFrom:
		return atGreen
	case h >= blueFrom && h < violetFrom:
		return atBlue
	case h >= violetFrom && h < brownFrom:
		return atViolet
	}
	return atBrown
}

// classes shares the usable cells out among the surface classes. covered is the
// covered part of each cell as coverage weighed it, and bareRule its rule; nil
// and empty when nobody has shown what bare metal looks like. Of a cell on the
// edge of the bare metal the bare part is bare, and the covered part is of the
// class most of the wholly covered cells around are of: its own colour is mixed
// with the metal's. Between two other classes a mixed cell is of the class its
// own colour falls into.
func (f *face) classes(covered []float64, bareRule string) (shares []studio.ClassShare, rule, note string) {
	own := make([]class, len(f.usable))
	n, weak := 0.0, 0.0
	for i, ok := range f.usable {
		if !ok {
			continue
		}
		n++
		own[i] = classAt(f.cells[i].lab)
		if own[i] != atViolet && f.cells[i].lab.Chroma() < weakChroma && (covered == nil || covered[i] > 0) {
			weak++
		}
	}
	if n == 0 {
		return nil, "", ""
	}
	if weak/n > weakWarn {
		note = fmt.Sprintf("%.0f %% of the face is nearly grey (C* under %.0f), where a slight cast of the light decides between brown, green and blue.", 100*weak/n, weakChroma)
	}
	return f.shareOut(own, covered), classRule(bareRule), note
}

// shareOut is the part of the face of each class, by the classes of the cells and
// their covered parts.
func (f *face) shareOut(own []class, covered []float64) (shares []studio.ClassShare) {
	n := 0.0
	var sum [classCount]float64
	for i, ok := range f.usable {
		switch {
		case !ok:
			continue
		case covered == nil:
			sum[own[i]]++
		default:
			sum[atBare] += 1 - covered[i]
			of := own[i]
			if covered[i] > 0 && covered[i] < 1 {
				of = f.around(i, own, covered)
			}
			sum[of] += covered[i]
		}
		n++
	}
	for i, name := range classNames {
		if sum[i] > 0 {
			shares = append(shares, studio.ClassShare{Name: name, Share: sum[i] / n})
		}
	}
	return shares
}

// classRule says the rule in words.
func classRule(bareRule string) string {
	bare := "bare: not told apart, as no bare metal was shown; it counts by its colour, mostly as brown. "
	if bareRule != "" {
		bare = "bare: not " + bareRule + ". "
	}
	return bare + fmt.Sprintf("Of the rest by CIELAB (D50): violet-dark: hue %.0f to %.0f° or nearly black (C* under %.1f − %.2f L*); green: hue %.0f to %.0f°; blue: %.0f to %.0f°; brown: all other hues, from red through brown to yellow.",
		violetFrom, brownFrom, blackChroma, blackSlope, greenFrom, blueFrom, blueFrom, violetFrom)
}

// around is the class of most of the wholly covered cells near cell i; its own
// when there are none.
func (f *face) around(i int, own []class, covered []float64) class {
	var count [classCount]int
	for y := max(0, i/f.w-rim-1); y <= min(f.h-1, i/f.w+rim+1); y++ {
		for x := max(0, i%f.w-rim-1); x <= min(f.w-1, i%f.w+rim+1); x++ {
			if j := y*f.w + x; f.usable[j] && covered[j] == 1 {
				count[own[j]]++
			}
		}
	}
	best, most := own[i], 0
	for c, n := range count {
		if n > most {
			best, most = class(c), n
		}
	}
	return best
}
