package learn

import (
	"cmp"
	"slices"
	"strings"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// By is what the wall is sorted by.
type By string

// The ways to sort the wall.
const (
	ByHue       By = "hue"
	ByLightness By = "lightness"
	ByMetal     By = "metal"
	ByLiquid    By = "liquid"
	BySet       By = "set"
	ByAge       By = "age"
)

// Orders lists the ways to sort the wall, in the order shown.
var Orders = []By{ByHue, ByLightness, ByMetal, ByLiquid, BySet, ByAge}

// A Brick is one face on the wall, with the words it may be sorted by.
type Brick struct {
	Look   studio.Look
	Swatch studio.Swatch
	Metal  string
	Liquid string
	Set    string
}

// greyBelow is the chroma below which a colour has no hue to speak of and goes
// to the end of the hue circle, dark to light. Our choice.
const greyBelow = 4.0

// Sort returns the bricks sorted by by: hue from red through yellow, green and
// blue, greys last; lightness from dark to light; words by letter, those without
// last; age from the newest. Faces that are not measured come after those that
// are. Ties are settled by swatch number and face, so the order is always the same.
func Sort(bricks []Brick, by By) []Brick {
	out := slices.Clone(bricks)
	slices.SortStableFunc(out, func(a, b Brick) int {
		return cmp.Or(
			compare(a, b, by),
			cmp.Compare(a.Swatch.Number, b.Swatch.Number),
			cmp.Compare(faceRank(a.Look.Face), faceRank(b.Look.Face)),
		)
	})
	return out
}

func compare(a, b Brick, by By) int {
	switch by {
	case ByHue, ByLightness:
		la, okA := measured(a)
		lb, okB := measured(b)
		if !okA || !okB {
			return cmp.Compare(rank(!okA), rank(!okB))
		}
		if by == ByLightness {
			return cmp.Compare(la.L, lb.L)
		}
		greyA, greyB := la.Chroma() < greyBelow, lb.Chroma() < greyBelow
		if greyA || greyB {
			return cmp.Or(cmp.Compare(rank(greyA), rank(greyB)), cmp.Compare(la.L, lb.L))
		}
		return cmp.Compare(la.Hue(), lb.Hue())
	case ByMetal:
		return byWord(a.Metal, b.Metal)
	case ByLiquid:
		return byWord(a.Liquid, b.Liquid)
	case BySet:
		return byWord(a.Set, b.Set)
	case ByAge:
		return b.Look.Taken.Compare(a.Look.Taken)
	}
	return 0
}

func measured(b Brick) (colour.Lab, bool) {
	if b.Look.Measurement == nil {
		return colour.Lab{}, false
	}
	return b.Look.Measurement.Lab, true
}

func byWord(a, b string) int {
	return cmp.Or(cmp.Compare(rank(a == ""), rank(b == "")), strings.Compare(strings.ToLower(a), strings.ToLower(b)))
}

func rank(last bool) int {
	if last {
		return 1
	}
	return 0
}

func faceRank(f studio.Face) int { return rank(f == studio.Back) }

// Liquid returns the material that makes the colour in a treatment: what it
// fumes over, else what it is wetted with or buried in, else nothing.
func Liquid(t studio.Treatment) string {
	for _, k := range []studio.StepKind{studio.Fume, studio.Bury, studio.Wet, studio.Sprinkle} {
		for _, s := range t.Steps {
			if s.Kind == k && s.Material != "" && s.Material != "water" && s.Material != "distilled-water" {
				return s.Material
			}
		}
	}
	return ""
}
