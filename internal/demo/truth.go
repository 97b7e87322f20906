package demo

import (
	"math"
	"math/rand/v2"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// This file is the world behind the example: what each face would look like if
// the world were as simple as these few lines. It is invented, its constants are
// picked to look likely, and nothing in it is chemistry; it exists so that what
// the program finds in the example can be held against what was put in.
//
//	soaked    minutes the salt has been wet: it dissolves at 12 minutes to the
//	          g/m2 put on dry and 3 put on a wetted face, evenly, and a half
//	          dissolved salt soaks half
//	covered   most x (1 - exp(-(soaked/150)^1.2)), most being 0.58 for no salt
//	          and rising to 0.92 for much, 0.06 more on a wetted face
//	turned    1 - exp(-(soaked/120)^1.5): the dark film comes first and turns
//	          blue-green behind its edge
//	hue       of the liquid, and up to 5 darker and 5 bluer as it soaks
//	hand      the salt really put on is the planned one x exp(0.18 N), a chance
//	          of the swatch
//	swatches  differ from each other by 0.22 in the logit of covered and about
//	          1.2 in L*, a* and b* of the patina; the two faces of one swatch by
//	          about half that

// Truth is what is true of a face at a moment, and what a perfect measurement
// of its photograph would read.
type Truth struct {
	Lab      colour.Lab // of the mean over the face in linear light, D50
	Coverage float64    // share of the face no longer bare metal
	Look     Look       // all the rest
}

// bareLab is the colour of each metal as freshly abraded. The hues follow those
// of the clean metals (Johnson & Christy 1972 for copper, Querry 1985 for the
// brasses, as colours under D50); a brushed face photographs darker than a
// mirror, and these are darker by a guess.
var bareLab = map[string]colour.Lab{
	"C11000": {L: 66, A: 15.5, B: 17},
	"C22000": {L: 69, A: 8, B: 24},
	"C26000": {L: 71.5, A: 2, B: 29},
}

// filmLab is the first dark film on each metal, invented.
var filmLab = map[string]colour.Lab{
	"C11000": {L: 31, A: 9, B: 9},
	"C22000": {L: 34, A: 8, B: 13},
	"C26000": {L: 37, A: 6, B: 16},
}

// brownLab is the base brown laid under an overlay, invented.
var brownLab = colour.Lab{L: 31, A: 11, B: 13}

// greens are the two hues the patina wanders between, by liquid, invented.
var greens = map[string][2]colour.Lab{
	"distilled-water":   {{L: 58, A: -24, B: -12}, {L: 63, A: -24, B: -5}},
	"vinegar":           {{L: 62, A: -26, B: 6}, {L: 66, A: -21, B: 14}},
	"ammonium-chloride": {{L: 51, A: -10, B: -27}, {L: 55, A: -16, B: -18}},
	"salt water":        {{L: 60, A: -18, B: 4}, {L: 64, A: -14, B: 8}},
}

// conditions are what was really done to a face up to a moment.
type conditions struct {
	alloy   string
	liquid  string  // key of greens
	loading float64 // g/m2 of salt, as planned or as noted
	wetted  bool
	minutes float64 // in the chamber so far
	fumed   bool    // false: salt water alone, which does little
	brown   bool    // laid over the base brown
	wet     bool    // photographed while still wet
}

// soaked returns the minutes the salt has been wet and the share of it that has
// not dissolved yet.
func soaked(minutes, loading float64, wetted bool) (soak, left float64) {
	pace := 12.0 // min for each g/m2
	if wetted {
		pace = 3
	}
	whole := pace * loading
	if minutes < whole {
		return minutes * minutes / (2 * whole), 1 - minutes/whole
	}
	return minutes - whole/2, 0
}

// chanceOf returns the chance that belongs to one thing, from the ids that name it.
func chanceOf(ids ...uint64) *rand.Rand {
	h := uint64(0x9e3779b97f4a7c15)
	for _, id := range ids {
		h = (h ^ id) * 0xbf58476d1ce4e5b9
		h ^= h >> 29
	}
	return rand.New(rand.NewPCG(h, 51))
}

// sideOf numbers the faces for chanceOf.
func sideOf(f studio.Face) uint64 {
	if f == studio.Back {
		return 2
	}
	return 1
}

// bareLook returns the look of the bare face of swatch n.
func bareLook(alloy string, n int, f studio.Face) Look {
	rng := chanceOf(uint64(n), sideOf(f), 1)
	g := bareLab[alloy]
	g.L += 0.7 * rng.NormFloat64()
	g.A += 0.25 * rng.NormFloat64()
	g.B += 0.35 * rng.NormFloat64()
	return Look{Ground: g, Film: filmLab[alloy], Patina: g, Second: g, Shine: 1}
}

// brownLook returns the look of a face of swatch n under its base brown, before
// anything is laid over it.
func brownLook(alloy string, n int, f studio.Face) Look {
	l := bareLook(alloy, n, f)
	rng := chanceOf(uint64(n), sideOf(f), 2)
	l.Ground = brownLab
	l.Ground.L += 1.0 * rng.NormFloat64()
	l.Ground.B += 0.6 * rng.NormFloat64()
	l.Shine = 0.15
	return l
}

// lookOf returns the look of a face of swatch n after c.
func lookOf(c conditions, n int, f studio.Face) Look {
	l := bareLook(c.alloy, n, f)
	if c.brown {
		l = brownLook(c.alloy, n, f)
		l.Film.L -= 6
	}
	swatch, side := chanceOf(uint64(n), 3), chanceOf(uint64(n), sideOf(f), 3)
	loading := c.loading * math.Exp(0.18*swatch.NormFloat64())

	soak, left := soaked(c.minutes, loading, c.wetted)
	if !c.fumed {
		soak *= 0.16
	}
	most := 0.58 + 0.34*(1-math.Exp(-loading/30))
	if c.wetted {
		most += 0.06
	}
	covered := most * (1 - math.Exp(-math.Pow(soak/150, 1.2)))
	covered = max(0.002, min(0.985, covered))
	shift := 0.22*swatch.NormFloat64() + 0.12*side.NormFloat64()
	l.Covered = 1 / (1 + math.Exp(-(math.Log(covered/(1-covered)) + shift)))
	l.Turned = 1 - math.Exp(-math.Pow(soak/120, 1.5))
	if !c.fumed {
		l.Turned *= 0.5
	}

	deep := 1 - math.Exp(-soak/240)
	pair := greens[c.liquid]
	drift := colour.Lab{
		L: -5*deep + 1.2*swatch.NormFloat64() + 0.6*side.NormFloat64(),
		A: 1.0*swatch.NormFloat64() + 0.5*side.NormFloat64(),
		B: -5*deep + 1.2*swatch.NormFloat64() + 0.6*side.NormFloat64(),
	}
	if c.wet {
		l.Salt = min(0.06, 0.0011*loading*left)
		drift.L -= 3
		l.Film.L -= 2
	}
	for i, p := range []*colour.Lab{&l.Patina, &l.Second} {
		*p = colour.Lab{L: pair[i].L + drift.L, A: pair[i].A + drift.A, B: pair[i].B + drift.B}
	}

	l.Spots = 0.15
	switch {
	case c.loading == 0:
		l.Spots = 0
	case !c.wetted:
		l.Spots = 0.9
	}
	l.Pool = 0.35 * math.Abs(side.NormFloat64()) * (1 - 0.5*l.Spots)
	l.PoolTo = 2 * math.Pi * side.Float64()
	return l
}

// truth returns what is true of l; over a base patina no metal is bare.
func (l Look) truth() Truth {
	t := Truth{Lab: l.Mean(), Coverage: l.Salt + (1-l.Salt)*l.Covered, Look: l}
	if l.Shine < 0.5 {
		t.Coverage = 1
	}
	return t
}
