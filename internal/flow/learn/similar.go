package learn

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"aerugo/internal/science/colour"
	"aerugo/internal/science/texture"
	"aerugo/internal/studio"
)

// What one unit of each part of a look's distance weighs, in ΔE00. Our choice:
// a tenth of the face more or less covered, or a pattern a third as strong
// again, counts about as much as a colour that is just plainly another.
const (
	coverageWeight = 20.0 // for a whole face of coverage
	textureWeight  = 6.0  // for one unit of ln(contrast ratio)
)

// WeightsInWords says how a look's distance is put together.
var WeightsInWords = fmt.Sprintf("Distance is that of the palettes (earth mover's, ΔE00) + %.0f times the difference in coverage + %.0f times the logarithm of how much stronger one pattern is.", coverageWeight, textureWeight)

// A Likeness is how near one look is to another: the distance of the palettes
// in ΔE00, the differences in coverage (a fraction) and in pattern strength
// (ln of the contrast ratio), NaN where one of the two is not known, and their
// weighted sum. Words say what made it near and what sets it apart.
type Likeness struct {
	Look     studio.Look
	Palette  float64
	Coverage float64
	Texture  float64
	Distance float64
	Words    string
}

// PaletteDistance returns the earth mover's distance between the palettes of
// two measurements with ΔE00 as the ground distance: how far the colours must
// be carried, on the mean, to turn one face's into the other's.
func PaletteDistance(a, b studio.Measurement) (float64, error) {
	return texture.PaletteDistance(parts(a.Palette), parts(b.Palette), colour.Difference)
}

func parts(palette []studio.PaletteEntry) []texture.Part {
	out := make([]texture.Part, len(palette))
	for i, p := range palette {
		out[i] = texture.Part{Lab: p.Lab, Weight: p.Share}
	}
	return out
}

// Nearest returns the n looks most like one, the nearest first. Only looks with
// a grey patch are held against each other; if the one asked about has none,
// there is no answer. The look itself is left out, as is its own photograph.
func Nearest(to studio.Look, among []studio.Look, n int) []Likeness {
	if whyNot(to) != "" {
		return nil
	}
	var out []Likeness
	for _, l := range among {
		if whyNot(l) != "" || (l.Swatch == to.Swatch && l.Face == to.Face) {
			continue
		}
		d, err := PaletteDistance(*to.Measurement, *l.Measurement)
		if err != nil {
			continue // a face without a palette
		}
		k := Likeness{Look: l, Palette: d, Coverage: math.NaN(), Texture: math.NaN(), Distance: d}
		if a, b := to.Measurement.Coverage, l.Measurement.Coverage; a != nil && b != nil {
			k.Coverage = math.Abs(a.Value - b.Value)
			k.Distance += coverageWeight * k.Coverage
		}
		if a, b := to.Measurement.Texture, l.Measurement.Texture; a != nil && b != nil && a.Contrast > 0 && b.Contrast > 0 {
			k.Texture = math.Abs(math.Log(a.Contrast / b.Contrast))
			k.Distance += textureWeight * k.Texture
		}
		k.Words = k.words()
		out = append(out, k)
	}
	slices.SortStableFunc(out, func(a, b Likeness) int {
		return cmp.Or(cmp.Compare(a.Distance, b.Distance), cmp.Compare(a.Look.Swatch, b.Look.Swatch), cmp.Compare(faceRank(a.Look.Face), faceRank(b.Look.Face)))
	})
	return out[:min(n, len(out))]
}

// words says which parts are near and which set the two apart.
func (k Likeness) words() string {
	var near, apart []string
	part := func(name string, weighted float64) {
		switch {
		case math.IsNaN(weighted):
		case weighted <= PhotoLow/2:
			near = append(near, name)
		case weighted > PhotoHigh/2:
			apart = append(apart, name)
		}
	}
	part("colour", k.Palette)
	part("coverage", coverageWeight*k.Coverage)
	part("texture", textureWeight*k.Texture)
	switch {
	case len(near) > 0 && len(apart) > 0:
		return fmt.Sprintf("alike in %s, apart in %s", join(near), join(apart))
	case len(near) > 0:
		return "alike in " + join(near)
	case len(apart) > 0:
		return "apart in " + strings.Join(apart, " and ")
	}
	return "near in everything, alike in nothing"
}
