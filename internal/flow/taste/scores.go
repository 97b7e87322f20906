package taste

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"aerugo/internal/science/stat"
	"aerugo/internal/studio"
)

// A Tally is how one face was scored for one aspect.
type Tally struct {
	Of     studio.ScoreOf
	Median float64 // 1 to 5; halves where the middle two differ
	People int
	Words  string
}

// TallyOf returns the middle of the newest scores of each person for one face and
// aspect; false when nobody scored it.
func TallyOf(scores []studio.Score, face studio.FaceOf, of studio.ScoreOf) (Tally, bool) {
	var vs []float64
	for _, s := range studio.NewestScores(scores) {
		if s.Face == face && s.Of == of {
			vs = append(vs, float64(s.Value))
		}
	}
	if len(vs) == 0 {
		return Tally{}, false
	}
	slices.Sort(vs)
	t := Tally{Of: of, Median: (vs[(len(vs)-1)/2] + vs[len(vs)/2]) / 2, People: len(vs)}
	t.Words = gradeWords(t.Median)
	return t, true
}

// gradeWords says a middle score in words.
func gradeWords(v float64) string {
	lo, hi := int(math.Floor(v)), int(math.Ceil(v))
	lo, hi = min(max(lo, 1), 5), min(max(hi, 1), 5)
	if lo == hi {
		return studio.ScoreWords[lo-1]
	}
	return studio.ScoreWords[lo-1] + " to " + studio.ScoreWords[hi-1]
}

// fewestScored is how few scored swatches a claim is made from: with fewer, an ordinal
// model of even one factor has nothing left to judge chance by.
const fewestScored = 6

// ScoreCauses says which settings of a set score higher, aspect by aspect. What counts
// are swatches: of a face that several people scored, the middle of their newest scores
// is one score. The scores are ordered words, so a cumulative logit model is fitted to
// them; a claim is sure when a setting's odds of a higher score differ from another's,
// all of one aspect judged together (McCullagh 1980; Holm 1979). Where that model has
// no answer, since one setting's scores hardly meet another's, the ranks of the scores
// are compared instead (Conover and Iman 1981).
func ScoreCauses(set studio.Set, scores []studio.Score, settings Settings) []Claim {
	var faces []studio.FaceOf
	for f := range settings {
		faces = append(faces, f)
	}
	slices.SortFunc(faces, func(a, b studio.FaceOf) int {
		if after(a, b) {
			return 1
		}
		return -1
	})
	var out []Claim
	for _, of := range studio.ScoreAspects {
		units := settings.units(faces, func(f studio.FaceOf) (float64, bool) {
			t, ok := TallyOf(scores, f, of)
			return t.Median, ok
		})
		factors, labels := varied(set, units)
		if len(factors) == 0 || len(units) < fewestScored {
			continue
		}
		out = append(out, scoreClaims(of, factors, labels, units)...)
	}
	slices.SortStableFunc(out, func(a, b Claim) int { return cmp.Compare(weight(b), weight(a)) })
	return out
}

func scoreClaims(of studio.ScoreOf, factors []studio.Factor, labels map[string][]string, units []unit) []Claim {
	ps, why := judgeScores(model(factors, labels, units), factors, ranks(units))
	var out []Claim
	for i, f := range factors {
		more, less, high, low := ends(f, labels[f.Name], units)
		a, b := middle(units, f.Name, high), middle(units, f.Name, low)
		c := Claim{Factor: f.Name, Swatches: swatchesOf(units), Why: why, Sure: why == "" && ps[i] < 1-Confidence}
		if c.Sure {
			c.Words = fmt.Sprintf("%s: %s scores higher than %s %s, mostly %s against %s, from %d swatches.", capital(f.Name), more, less, aspectWords(of), gradeWords(a), gradeWords(b), len(units))
		} else {
			c.Words = fmt.Sprintf("%s: can’t tell which scores higher %s.", capital(f.Name), aspectWords(of))
			if c.Why == "" {
				c.Why = "Swatches made alike score about as differently."
			}
		}
		out = append(out, c)
	}
	return out
}

func aspectWords(of studio.ScoreOf) string {
	if of == studio.ScoreWhole {
		return string(of)
	}
	return "for its " + string(of)
}

// ranks turns scores into ranks from 0 without gaps, as FitOrdinal takes them.
func ranks(units []unit) []int {
	var values []float64
	for _, u := range units {
		if !slices.Contains(values, u.y) {
			values = append(values, u.y)
		}
	}
	slices.Sort(values)
	out := make([]int, len(units))
	for i, u := range units {
		out[i] = slices.Index(values, u.y)
	}
	return out
}

// middle is the median score of the units with one of these levels.
func middle(units []unit, factor string, labels []string) float64 {
	var vs []float64
	for _, u := range units {
		if slices.Contains(labels, u.levels[factor].Label) {
			vs = append(vs, u.y)
		}
	}
	slices.Sort(vs)
	if len(vs) == 0 {
		return 1
	}
	return math.Round(vs[(len(vs)-1)/2]+vs[len(vs)/2]) / 2
}

// judgeScores returns the chance of each factor's effect by luck, by the likelihood
// with and without it, raised for all factors together, or why it can't be judged.
func judgeScores(m stat.Model, factors []studio.Factor, scores []int) ([]float64, string) {
	if slices.Max(scores) == 0 {
		return nil, "All swatches score the same."
	}
	full, err := stat.FitOrdinal(m, scores)
	if err != nil { // the odds run off to infinity where scores go with a setting without exception
		m.Response = midRanks(scores)
		return judge(m, factors)
	}
	ps := make([]float64, len(factors))
	for i, f := range factors {
		less := m
		less.Terms = slices.DeleteFunc(slices.Clone(m.Terms), func(t stat.Term) bool { return t.String() == f.Name })
		df := 0
		for _, c := range full.Coefficients {
			if c.Term == f.Name {
				df++
			}
		}
		ps[i] = 1
		if df == 0 {
			continue
		}
		without := marginal(scores)
		if len(less.Terms) > 0 {
			part, err := stat.FitOrdinal(less, scores)
			if err != nil {
				continue
			}
			without = part.LogLik
		}
		ps[i] = likelihoodRatio(2*(full.LogLik-without), df)
	}
	return stat.Holm(ps), ""
}

// midRanks returns the place of each score among all, from 1, those alike sharing the
// middle of theirs.
func midRanks(scores []int) []float64 {
	out := make([]float64, len(scores))
	for i, a := range scores {
		below, same := 0.0, 0.0
		for _, b := range scores {
			if b < a {
				below++
			} else if b == a {
				same++
			}
		}
		out[i] = below + (same+1)/2
	}
	return out
}

// marginal is the log likelihood of scores that nothing explains.
func marginal(scores []int) float64 {
	count := map[int]float64{}
	for _, s := range scores {
		count[s]++
	}
	v := 0.0
	for _, c := range count {
		v += c * math.Log(c/float64(len(scores)))
	}
	return v
}

// likelihoodRatio is the chance of so large a rise of twice the log likelihood by df
// numbers that matter nothing (Wilks 1938).
func likelihoodRatio(rise float64, df int) float64 {
	return distuv.ChiSquared{K: float64(df)}.Survival(math.Max(0, rise))
}
