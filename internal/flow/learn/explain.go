package learn

import (
	"math"

	"aerugo/internal/science/colour"
	"aerugo/internal/science/stat"
	"aerugo/internal/studio"
)

// ExplainConfidence is that of the intervals of Explain, all of one set together: in
// nine sets of ten every one of them holds the truth.
const ExplainConfidence = 0.90

// A Row is one face with what may have caused its look besides what was varied. Numbers
// that nobody knows are NaN.
type Row struct {
	Point
	Mottle  float64 // difference of L* between places Texture.PairMM apart (root mean square)
	Edge    float64 // deposit near the edge over that of the middle; 1 is even
	Order   float64 // when it was made among the others, as a rank or a time
	Run     string  // which filling of a chamber; "" when not known
	Day     string  // on which day; "" when not known
	Chamber float64 // hours in the chamber
	Wet     float64 // hours since its salt had dissolved, until it came out
	PadAge  float64 // hours from the wetting of the pad until it went in
}

// Rows joins looks to what was varied, as Points does, with texture, pooling and the
// planned order. Runs, days and hours are the caller's to fill in.
func Rows(set studio.Set, treatments []studio.Treatment, looks []studio.Look) []Row {
	order := map[int64]int{}
	for _, t := range treatments {
		if t.SetID == set.ID && len(t.Settings) > 0 && order[t.Swatch] == 0 {
			order[t.Swatch] = t.Order
		}
	}
	of := map[int64]*studio.Measurement{}
	for _, l := range looks {
		of[l.Photo] = l.Measurement
	}
	var out []Row
	nan := math.NaN()
	for _, p := range Points(set, treatments, looks) {
		r := Row{Point: p, Mottle: nan, Edge: nan, Order: nan, Chamber: nan, Wet: nan, PadAge: nan}
		if m := of[p.Photo]; m != nil && m.Texture != nil {
			r.Mottle = stepL * math.Sqrt(m.Texture.Contrast)
		}
		if m := of[p.Photo]; m != nil && m.Pooling != nil && m.Pooling.EdgeRatio > 0 {
			r.Edge = m.Pooling.EdgeRatio
		}
		if n := order[p.Swatch]; n > 0 {
			r.Order = float64(n)
		}
		out = append(out, r)
	}
	return out
}

// stepL is the width in L* of one step of studio.Texture's contrast.
const stepL = 3.125

// Standing is how a claim stands.
type Standing string

// The standings. NoDifference is said only when every interval of the factor is short
// enough to rule out what a person would call another look.
const (
	Shown        Standing = "seen"
	CantTell     Standing = "can't tell"
	NoDifference Standing = "no difference bigger than"
)

// What a difference must be smaller than to be called none: a choice of ours. Two
// swatches nearer than ΔE00 5 pass for one recipe at arm's length; ten points of
// coverage are hardly seen.
const (
	noColour   = 5.0
	noCoverage = 0.10
)

// Aspect is what of a look a claim is about.
type Aspect string

// The aspects.
const (
	OfColour   Aspect = "colour"
	OfCoverage Aspect = "coverage"
	OfTexture  Aspect = "texture"
	OfPooling  Aspect = "pooling"
)

// A Claim is one sentence on one factor, with what is behind it.
//
// Changes are To less From, of a claim with With at each of its settings: L*, a* and b* for the colour, a fraction for the coverage, L*
// for the texture and a ratio for the pooling (1 is no change). Their intervals hold
// together with all others of the explanation. Lead is the change that Words names. DE
// is the CIEDE2000 difference of the two fitted looks with its own bootstrap interval,
// and Most what it does not exceed with the confidence; both are 0 where the claim has
// no colour. Photos are faces to look at, From's first.
type Claim struct {
	Words            string
	Factor           string
	With             string // the factor on whose setting it depends; else ""
	From, To         string
	Aspect           Aspect
	Changes          []Change
	Lead             int
	DE, Low, High    float64
	Most             float64
	Direction        string
	FromLook, ToLook colour.Lab
	Swatches         []int64
	Photos           []int64
	Standing         Standing
	Why              string  // why it can't be told
	strength         float64 // size over its error, to put the surest first
}

// An Explanation is what the factors of a set do to its swatches.
type Explanation struct {
	Claims      []Claim
	Warnings    []Caution
	Table       Table
	Diagnostics Table
	Method      string // one sentence
	Swatches    int
}

// A Caution is something to know before believing the claims; Kind is for programs.
type Caution struct {
	Kind     stat.WarningKind
	Text     string
	Swatches []int64
}

// PadWeaker warns that looks go with the age of the pad.
const PadWeaker stat.WarningKind = "pad weaker"

// LeftOut says that some looks are not counted, and why.
const LeftOut stat.WarningKind = "left out"

// Explain reads all factors of a set at once. Each is judged with the others held
// equal, in a linear model by least squares, or by a mixed model where runs or days of
// the chamber, or faces of one swatch, shift several rows together. Coverage is read on
// the logit scale, pooling on the logarithm of its ratio. A numeric factor is judged
// between its lowest and highest level without assuming a line, unless too few swatches
// were made for that. Intervals are Šidák's for all differences together.
//
// Whether the effect of one factor depends on another is tested for every pair that the
// set can tell, in the same family, and what is seen is told by the settings of the other.
// Pairs, or a factor and pairs, that always change together are named together. Where
// nothing was made twice and fewer than three swatches would be left to judge chance by,
// or the set is a fraction, two-level sets are judged by their smaller effects.
//
// Source: Šidák 1967; Lenth 1989; mixed models as in stat.FitMixed. The rates at which it
// is wrong are measured in explain_test.go and pair_test.go.
func Explain(set studio.Set, rows []Row) Explanation {
	t := newTrial(set, rows)
	out := Explanation{Swatches: t.swatches(), Warnings: t.cautions}
	if len(t.factors) == 0 || len(t.rows) == 0 {
		return out
	}
	t.fit()
	out.Claims, out.Table = t.claims()
	t.check()
	out.Warnings, out.Diagnostics, out.Method = t.cautions, t.diagnostics(), t.method()
	return out
}

// A response is one number read off every row, on the scale where its scatter is even.
type response struct {
	name   string
	aspect Aspect
	get    func(Row) float64 // NaN when not known
}

var responses = []response{
	{"L*", OfColour, func(r Row) float64 { return r.Lab.L }},
	{"a*", OfColour, func(r Row) float64 { return r.Lab.A }},
	{"b*", OfColour, func(r Row) float64 { return r.Lab.B }},
	{"coverage", OfCoverage, func(r Row) float64 {
		if r.Coverage == nil {
			return math.NaN()
		}
		return logit(r.Coverage.Value)
	}},
	{"mottling", OfTexture, func(r Row) float64 { return r.Mottle }},
	{"edge over middle", OfPooling, func(r Row) float64 { return math.Log(r.Edge) }},
}

// coverPlaces is how many independent places a share of a face is taken to be counted
// from, so that none and all have a logit.
const coverPlaces = 100

func logit(share float64) float64 {
	v := (min(max(share, 0), 1)*(coverPlaces-1) + 0.5) / coverPlaces
	return math.Log(v / (1 - v))
}

func expit(v float64) float64 {
	p := 1 / (1 + math.Exp(-v))
	return min(max((p*coverPlaces-0.5)/(coverPlaces-1), 0), 1)
}
