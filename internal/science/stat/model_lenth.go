package stat

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
	"sync"

	"gonum.org/v1/gonum/stat/distuv"
)

// Lenth is the yardstick of a design without replicates.
type Lenth struct {
	S0  float64 // first rough scale
	PSE float64 // pseudo standard error of one effect, in the effects' unit
	DF  float64 // a third of the number of effects
	ME  float64 // margin of error of one effect at the confidence
	SME float64 // margin that all of them together keep at the confidence
}

// LenthMargins judges effects of equal precision, of which most are taken to be
// nothing but chance, when a design has no replicates. At least three effects.
// Source: Lenth 1989; NIST/SEMATECH e-Handbook, 5.4.7.1 (ceramic).
func LenthMargins(effects []float64, conf float64) (Lenth, error) {
	if err := need(3, effects); err != nil {
		return Lenth{}, err
	}
	m := float64(len(effects))
	t, err := critical(conf, m/3)
	if err != nil {
		return Lenth{}, err
	}
	var sizes []float64
	for _, e := range effects {
		sizes = append(sizes, math.Abs(e))
	}
	l := Lenth{S0: 1.5 * median(sizes), DF: m / 3}
	var small []float64
	for _, s := range sizes {
		if s < 2.5*l.S0 {
			small = append(small, s)
		}
	}
	if len(small) == 0 {
		return Lenth{}, ErrNoSpread
	}
	l.PSE = 1.5 * median(small)
	l.ME = t * l.PSE
	together := (1 + math.Pow(conf, 1/m)) / 2
	l.SME = distuv.StudentsT{Mu: 0, Sigma: 1, Nu: l.DF}.Quantile(together) * l.PSE
	return l, nil
}

// lenthDraws is how many designs without effects LenthQuantile draws: the share of them
// beyond its answer then is good to a tenth of itself where it is half a hundredth.
const lenthDraws = 20000

var lenthDrawn sync.Map // sorted largest ratios by number of effects

// LenthQuantile returns how many pseudo standard errors the largest of m effects stays
// below with the probability conf (up to 0.998), when all of them are nothing but chance.
// Lenth's own SME rests on a t distribution with m/3 degrees of freedom, which is too
// wide for few effects; this one is drawn, always by the same chance. m is 6 to 255.
// Source: Ye and Hamada 2000.
func LenthQuantile(m int, conf float64) (float64, error) {
	if m < 6 || m > 255 || !(conf > 0 && conf <= 0.998) {
		return 0, fmt.Errorf("%w: Lenth's quantile is for 6 to 255 effects and a confidence up to 0.998, not %d and %g", ErrModel, m, conf)
	}
	kept, ok := lenthDrawn.Load(m)
	if !ok {
		rng := rand.New(rand.NewPCG(uint64(m), 1989))
		most, sizes := make([]float64, lenthDraws), make([]float64, m)
		for i := range most {
			for k := range sizes {
				sizes[k] = math.Abs(rng.NormFloat64())
			}
			sort.Float64s(sizes)
			most[i] = sizes[m-1] / pseudoError(sizes)
		}
		sort.Float64s(most)
		kept, _ = lenthDrawn.LoadOrStore(m, most)
	}
	most := kept.([]float64) // sorted, so without Quantile's own sorting
	at := conf * (lenthDraws - 1)
	low := int(at)
	return most[low] + (at-float64(low))*(most[low+1]-most[low]), nil
}

// pseudoError is Lenth's PSE of sorted sizes.
func pseudoError(sizes []float64) float64 {
	middle := func(s []float64) float64 { return (s[(len(s)-1)/2] + s[len(s)/2]) / 2 }
	small := sort.SearchFloat64s(sizes, 2.5*1.5*middle(sizes))
	return 1.5 * middle(sizes[:small])
}

func median(xs []float64) float64 {
	s := append([]float64(nil), xs...)
	sort.Float64s(s)
	n := len(s)
	return (s[(n-1)/2] + s[n/2]) / 2
}

// Alike says whether all effects are measured alike: the columns besides the intercept
// are of one length and at right angles to each other and to it, as those of a two-level
// factorial coded -1 and +1 are. Only then may their estimates share one yardstick.
func (f *LinearFit) Alike() bool {
	first := 0.0
	for k, r := range f.qr.r {
		size := math.Abs(r[k].hi)
		for _, x := range r[:k] {
			if math.Abs(x.hi) > 1e-9*size {
				return false
			}
		}
		if f.design.places[f.qr.kept[k]].term < 0 {
			continue
		}
		if first == 0 {
			first = size
		}
		if math.Abs(size-first) > 1e-9*first {
			return false
		}
	}
	return first > 0
}
