package batch

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/flow/learn"
	"aerugo/internal/science/colour"
)

var teal = colour.Lab{L: 52, A: -18, B: -8}

// A recipe under test: how its colours scatter, in CIELAB units, from run to run and
// within one, and how strongly L*, a* and b* go together.
type recipe struct{ between, within, together float64 }

func (x recipe) run(r *rand.Rand) [3]float64 { return x.scatter(x.between, r) }

func (x recipe) scatter(sd float64, r *rand.Rand) (out [3]float64) {
	same := r.NormFloat64()
	for i := range out {
		out[i] = sd * (math.Sqrt(x.together)*same + math.Sqrt(1-x.together)*r.NormFloat64())
	}
	return out
}

func (x recipe) face(run [3]float64, r *rand.Rand) Face {
	d := x.scatter(x.within, r)
	v := 0.7 + 0.02*r.NormFloat64()
	return Face{Lab: colour.Lab{L: teal.L + run[0] + d[0], A: teal.A + run[1] + d[1], B: teal.B + run[2] + d[2]}, Coverage: &v}
}

func (x recipe) made(runs, each int, r *rand.Rand) (out []Made) {
	for k := range runs {
		run := x.run(r)
		for range each {
			out = append(out, Made{string(rune('a' + k)), x.face(run, r)})
		}
	}
	return out
}

// The limits promise: with the confidence, 95 % of good pieces pass. Each row is 2000
// recipes learnt anew; the table is printed with -v.
func TestLimitsLetGoodPiecesPassAsPromised(t *testing.T) {
	for _, c := range []struct {
		name       string
		recipe     recipe
		runs, each int
		confidence float64
	}{
		{"6 runs of 2, alike within", recipe{1, 1, 0}, 6, 2, 0.9},
		{"6 runs of 2, going together", recipe{1, 1, 0.9}, 6, 2, 0.9},
		{"5 runs of 6", recipe{1.5, 0.7, 0.5}, 5, 6, 0.9},
		{"one run of 12, no runs differ", recipe{0, 1.2, 0.5}, 1, 12, 0.9},
	} {
		r := rand.New(rand.NewPCG(7, 8))
		const times = 2000
		kept, pass, rejected, miss5, miss10 := 0, 0.0, 0.0, 0.0, 0.0
		for range times {
			reference := c.recipe.face(c.recipe.run(r), r)
			limits, err := LimitsOf(reference, c.recipe.made(c.runs, c.each, r), c.confidence)
			if err != nil {
				t.Fatal(err)
			}
			const pieces = 60
			good, no, off5, off10 := 0, 0, 0, 0
			for range pieces {
				f := c.recipe.face(c.recipe.run(r), r)
				switch Judge(f, reference, 0.5, limits).Advice {
				case Accept:
					good++
				case Reject:
					no++
				}
				f.Lab.A -= 5
				if Judge(f, reference, 0.5, limits).Advice == Accept {
					off5++
				}
				f.Lab.A -= 5
				if Judge(f, reference, 0.5, limits).Advice == Accept {
					off10++
				}
			}
			if float64(good) >= 0.93*pieces { // 60 pieces tell 95 % to 3 in a hundred
				kept++
			}
			pass, rejected, miss5, miss10 = pass+float64(good)/pieces, rejected+float64(no)/pieces, miss5+float64(off5)/pieces, miss10+float64(off10)/pieces
		}
		held := float64(kept) / times
		t.Logf("%-30s nominal: 95 %% pass, %.0f %% sure. Got: %.1f %% sure; good pieces accepted %.1f %%, rejected %.2f %%; let through though a* is less by 5 (3 ΔE00) %.0f %%, by 10 (6 ΔE00) %.1f %%",
			c.name, 100*c.confidence, 100*held, 100*pass/times, 100*rejected/times, 100*miss5/times, 100*miss10/times)
		if held < c.confidence-0.04 {
			t.Errorf("%s: 95 %% of good pieces pass in %.3f of recipes, promised %.2f", c.name, held, c.confidence)
		}
		if miss10/times > 0.8*miss5/times {
			t.Errorf("%s: pieces 10 off are let through almost as often as those 5 off: %.3f, %.3f", c.name, miss10/times, miss5/times)
		}
	}
}

// One axis and one run are the plain normal case: the bound of |x| for a mean far from
// 0 is the one-sided tolerance limit, whose factors ISO 16269-6:2014, annex C, prints
// as 2.911 for 10 values and 2.396 for 20 (95 %, 95 %).
func TestReachMeetsToleranceFactors(t *testing.T) {
	for n, k := range map[int]float64{10: 2.911, 20: 2.396} {
		var run [][]float64
		mean, squares := 0.0, 0.0
		for i := range n {
			x := 100 + math.Sin(float64(i))
			run = append(run, []float64{x})
			mean += x / float64(n)
		}
		for _, x := range run {
			squares += (x[0] - mean) * (x[0] - mean)
		}
		want := mean + k*math.Sqrt(squares/float64(n-1))
		got := reach([][][]float64{run}, 0.95, 0.95)
		if off := (got - want) / (want - mean); math.Abs(off) > 0.04 {
			t.Errorf("%d values: reach %.3f, ISO 16269-6 gives %.3f", n, got, want)
		}
	}
}

func TestLimitsAreAssumedFromFewFaces(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	reference := recipe{}.face([3]float64{}, r)
	limits, err := LimitsOf(reference, recipe{1, 1, 0}.made(1, 5, r), 0.95)
	if err != nil || len(limits.All) != 2 {
		t.Fatal(limits, err)
	}
	if l := limits.All[0]; !l.Assumed || l.Max != 3 || l.OneRun() {
		t.Errorf("colour: %+v, want 3 assumed", l)
	}
	limits, err = LimitsOf(reference, recipe{1, 1, 0}.made(2, 5, r), 0.95)
	if err != nil || limits.All[0].Assumed || !limits.All[0].OneRun() {
		t.Errorf("ten faces of two runs: %+v, %v", limits, err)
	}
	for _, bad := range []float64{0.4, 1, math.NaN()} {
		if _, err := LimitsOf(reference, nil, bad); err == nil {
			t.Errorf("a confidence of %v was taken", bad)
		}
	}
}

// The length of a difference is the published ΔE00 itself (Sharma, Wu and Dalal 2005).
func TestApartIsAsLongAsTheDifference(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lab := func(name string) colour.Lab {
			return colour.Lab{L: rapid.Float64Range(5, 95).Draw(t, name+"L"), A: rapid.Float64Range(-60, 60).Draw(t, name+"a"), B: rapid.Float64Range(-60, 60).Draw(t, name+"b")}
		}
		a, b := lab("from"), lab("to")
		d := apart(a, b)
		if got, want := math.Sqrt(d[0]*d[0]+d[1]*d[1]+d[2]*d[2]), colour.Difference(a, b); math.Abs(got-want) > 1e-9*(1+want) {
			t.Fatalf("length %v, dE00 %v", got, want)
		}
	})
}

func TestJudgeSaysWhatAndHowMuch(t *testing.T) {
	v := func(x float64) *float64 { return &x }
	brown := colour.Lab{L: 50, A: 10, B: 10}
	ref := Face{Lab: brown, Coverage: v(0.8), Mottle: v(4), Edge: v(0)}
	limits := Limits{0.9, []Limit{{learn.OfColour, 4, false, 20, 5}, {learn.OfCoverage, 0.1, true, 0, 0}, {learn.OfTexture, 1.5, false, 20, 5}, {learn.OfPooling, 0.3, false, 20, 5}}}
	greener := brown
	greener.A -= 7
	for name, c := range map[string]struct {
		face  Face
		error float64
		want  Advice
		says  string
	}{
		"alike":             {ref, 0.5, Accept, "Like the reference"},
		"greener":           {Face{Lab: greener}, 0.8, Reject, "Greener than the reference by"},
		"greener, unsure":   {Face{Lab: greener}, 6, Look, "can be wrong by that much"},
		"alike, unsure":     {Face{Lab: brown}, 6, Look, "may be wrong by 6.0, more than that"},
		"barer":             {Face{Lab: brown, Coverage: v(0.6)}, 0.5, Reject, "Less covered than the reference by 20 %, assumed to be let pass are 10 %."},
		"barer, not read":   {Face{Lab: brown, Coverage: v(0.6), CoverageError: 0.15}, 0.5, Look, "can be wrong by that much"},
		"mottled":           {Face{Lab: brown, Mottle: v(9)}, 0.5, Look, "More mottled than the reference by 5.0 L*"},
		"pooled":            {Face{Lab: brown, Edge: v(math.Log(2))}, 0.5, Look, "Stronger at the edges than the reference by a factor of 2.0, the spread of this recipe is a factor of 1.3."},
		"greener and barer": {Face{Lab: greener, Coverage: v(0.6)}, 0.8, Reject, "Less covered"},
	} {
		got := Judge(c.face, ref, c.error, limits)
		if got.Advice != c.want || !strings.Contains(got.Words, c.says) {
			t.Errorf("%s: %s: %s", name, got.Advice, got.Words)
		}
	}
	if got := Judge(ref, ref, 0.5, Limits{}); got.Advice != Look {
		t.Errorf("without limits: %+v", got)
	}
}
