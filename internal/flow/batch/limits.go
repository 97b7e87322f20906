package batch

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"aerugo/internal/flow/learn"
	"aerugo/internal/science"
	"aerugo/internal/studio"
)

// The published methods behind the limits, the place of a drift and the cutting list.
const (
	SourceTolerance science.Ref = "mee-owen-1983"
	SourceQuadratic science.Ref = "imhof-1961"
	SourceChange    science.Ref = "hinkley-1970"
	SourceStrips    science.Ref = "gilmore-gomory-1965"
)

// Share of good pieces that the limits let pass, all aspects together.
const Share = 0.95

// A Made is a face that the recipe made before. Run names the filling or day it was
// made in: pieces of one run are more alike than those of two.
type Made struct {
	Run  string
	Face Face
}

// A Limit is how far a good piece may lie off its reference in one aspect: ΔE00 for
// the colour, a fraction for the coverage, L* for the texture, and the logarithm of
// a ratio for the pooling. Assumed says that it is not from faces made before.
type Limit struct {
	Aspect  learn.Aspect
	Max     float64
	Assumed bool
	Faces   int
	Runs    int
}

// OneRun reports whether too few runs are behind the limit for how much one run
// differs from the next.
func (l Limit) OneRun() bool { return !l.Assumed && l.Runs < fewestRuns }

// Limits are those of all aspects, the colour first, at a confidence.
type Limits struct {
	Confidence float64
	All        []Limit
}

// What is taken where the recipe was not made often enough. The colour's is common
// practice for goods seen side by side, no source; the others are our own choice.
var assumed = map[learn.Aspect]float64{learn.OfColour: 3, learn.OfCoverage: 0.10, learn.OfTexture: 1.5, learn.OfPooling: math.Ln2 / 2}

const (
	fewest     = 6 // faces that limits are learnt from
	fewestRuns = 4 // runs that how runs differ is learnt from
)

// LimitsOf returns limits about a reference, from faces its recipe made before: with
// the confidence (0.5 to 0.99), [Share] of all pieces that the recipe makes, in runs
// to come, stay within all of them. From fewer than six faces nothing is learnt and
// the limits are assumed; from fewer than four runs the runs are taken as one.
//
// The spread within and between runs is that of one-way random effects, with
// Satterthwaite's degrees of freedom as in Mee and Owen 1983, here for a distance in up
// to three dimensions whose quantile is Imhof's 1961 approximation by three moments.
// Each aspect has its part of the pieces that may fail. What photographs do to readings
// is taken as spread of the recipe, so limits are too wide rather than too narrow.
func LimitsOf(reference Face, made []Made, confidence float64) (Limits, error) {
	if !(confidence >= 0.5 && confidence <= 0.99) {
		return Limits{}, studio.Problemf(studio.Invalid, "confidence", "A confidence of %.3g %% can't be held; choose 50 to 99 %%.", 100*confidence)
	}
	type kind struct {
		aspect learn.Aspect
		of     func(Face) []float64
	}
	scalar := func(of func(Face) *float64) func(Face) []float64 {
		return func(f Face) []float64 {
			v, ref := of(f), of(reference)
			if v == nil || ref == nil {
				return nil
			}
			return []float64{*v - *ref}
		}
	}
	kinds := []kind{
		{learn.OfColour, func(f Face) []float64 { d := apart(reference.Lab, f.Lab); return d[:] }},
		{learn.OfCoverage, scalar(func(f Face) *float64 { return f.Coverage })},
		{learn.OfTexture, scalar(func(f Face) *float64 { return f.Mottle })},
		{learn.OfPooling, scalar(func(f Face) *float64 { return f.Edge })},
	}
	kinds = slices.DeleteFunc(kinds, func(k kind) bool { return k.of(reference) == nil })
	out := Limits{Confidence: confidence}
	share := 1 - (1-Share)/float64(len(kinds))
	for _, k := range kinds {
		runs := map[string][][]float64{}
		var order []string
		n := 0
		for _, m := range made {
			x := k.of(m.Face)
			if x == nil {
				continue
			}
			if runs[m.Run] == nil {
				order = append(order, m.Run)
			}
			runs[m.Run] = append(runs[m.Run], x)
			n++
		}
		l := Limit{Aspect: k.aspect, Max: assumed[k.aspect], Assumed: n < fewest, Faces: n, Runs: len(order)}
		if !l.Assumed {
			var all [][][]float64
			for _, name := range order {
				all = append(all, runs[name])
			}
			l.Max = reach(all, share, confidence)
		}
		out.All = append(out.All, l)
	}
	return out, nil
}

// reach returns the distance from the origin that, with the confidence, the share of
// all vectors stays within, of which runs are what was seen.
func reach(runs [][][]float64, share, confidence float64) float64 {
	if len(runs) < fewestRuns {
		runs = [][][]float64{slices.Concat(runs...)}
	}
	var spreads []spread
	total, doubt := 0.0, 0.0 // of the variances, all axes together
	for _, axis := range principal(runs) {
		s := spreadAlong(runs, axis)
		spreads = append(spreads, s)
		total, doubt = total+s.variance, doubt+s.doubt
	}
	wider := 1.0
	if doubt > 0 {
		df := 2 * total * total / doubt
		wider = df / distuv.ChiSquared{K: df}.Quantile(1-confidence)
	}
	var c1, c2, c3 float64 // moments of the squared length of a normal vector
	for _, s := range spreads {
		v, m2 := wider*(s.variance+s.ofMean), s.mean*s.mean
		c1 += v + m2
		c2 += v * (v + 2*m2)
		c3 += v * v * (v + 3*m2)
	}
	if c3 == 0 {
		return math.Sqrt(c1)
	}
	h := c2 * c2 * c2 / (c3 * c3)
	return math.Sqrt(max(0, c1+(distuv.ChiSquared{K: h}.Quantile(share)-h)*math.Sqrt(c2/h)))
}

// principal returns the axes along which all vectors, less their mean, scatter
// independently.
func principal(runs [][][]float64) [][]float64 {
	all := slices.Concat(runs...)
	d := len(all[0])
	if d == 1 {
		return [][]float64{{1}}
	}
	mean := make([]float64, d)
	for _, x := range all {
		for k := range x {
			mean[k] += x[k] / float64(len(all))
		}
	}
	s := mat.NewSymDense(d, nil)
	for _, x := range all {
		for i := range d {
			for j := i; j < d; j++ {
				s.SetSym(i, j, s.At(i, j)+(x[i]-mean[i])*(x[j]-mean[j]))
			}
		}
	}
	out := make([][]float64, d)
	var e mat.EigenSym
	var v mat.Dense
	if e.Factorize(s, true) {
		e.VectorsTo(&v)
	}
	for k := range out {
		out[k] = make([]float64, d)
		if v.IsEmpty() {
			out[k][k] = 1
			continue
		}
		mat.Col(out[k], k, &v)
	}
	return out
}

// A spread is what runs tell of one axis: the mean of the runs' means, the variance of
// single values, within and between runs together, that of the mean, and the variance
// of the variance as estimated.
type spread struct{ mean, variance, ofMean, doubt float64 }

func spreadAlong(runs [][][]float64, axis []float64) (s spread) {
	var means []float64
	within, inverse, left := 0.0, 0.0, 0.0
	for _, run := range runs {
		var xs []float64
		sum := 0.0
		for _, x := range run {
			v := 0.0
			for k := range x {
				v += x[k] * axis[k]
			}
			xs = append(xs, v)
			sum += v
		}
		mean := sum / float64(len(xs))
		for _, v := range xs {
			within += (v - mean) * (v - mean)
		}
		left += float64(len(xs) - 1)
		inverse += 1 / float64(len(xs))
		means = append(means, mean)
	}
	n := float64(len(runs))
	for _, m := range means {
		s.mean += m / n
	}
	if left > 0 {
		within /= left
	}
	inside := within * (1 - inverse/n) // what the runs' means do not show of it
	if n == 1 {
		s.variance, s.ofMean, s.doubt = within, within/(left+1), 2*within*within/left
		return s
	}
	between := 0.0
	for _, m := range means {
		between += (m - s.mean) * (m - s.mean) / (n - 1)
	}
	s.variance, s.ofMean = between+inside, between/n
	s.doubt = 2 * between * between / (n - 1)
	if left > 0 {
		s.doubt += 2 * inside * inside / left
	}
	return s
}
