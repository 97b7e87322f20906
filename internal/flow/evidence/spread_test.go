package evidence

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"aerugo/internal/science/colour"
	"aerugo/internal/science/stat"
)

// Calcium in turnip greens, two determinations of three leaves of four plants: Snedecor
// and Cochran 1967, p. 286, as printed in the SAS/STAT guide under NESTED. There the
// components are 0.365223 (plants), 0.161060 (leaves) and 0.006654 (determinations).
var turnips = [][3][2]float64{
	{{3.28, 3.09}, {3.52, 3.48}, {2.88, 2.80}},
	{{2.46, 2.44}, {1.87, 1.92}, {2.19, 2.19}},
	{{2.77, 2.66}, {3.74, 3.44}, {2.55, 2.55}},
	{{3.78, 3.87}, {4.07, 4.12}, {3.31, 3.31}},
}

func greens() (rows []Made, values []float64) {
	for d, plant := range turnips {
		for f, leaf := range plant {
			for _, v := range leaf {
				rows = append(rows, Made{Kind: "greens", Day: fmt.Sprint(d), Filling: fmt.Sprint(f)})
				values = append(values, v)
			}
		}
	}
	return rows, values
}

func TestComponentsMeetThePublishedOnes(t *testing.T) {
	rows, values := greens()
	p := partsOf(rows, [][]float64{values})
	for _, c := range []struct {
		what string
		got  Figure
		want float64 // variance of one
	}{
		{"together", p.Together, 0.006654},
		{"fillings", p.Fillings, 0.006654 + 0.161060},
		{"days", p.Days, 0.006654 + 0.161060 + 0.365223},
	} {
		if want := math.Sqrt(2 * c.want); !c.got.Known || math.Abs(c.got.Value-want) > 1e-4 {
			t.Errorf("%s: %+v, want %.5f", c.what, c.got, want)
		}
	}
}

// Where they agree on balanced rows, Henderson's method and REML (stat.FitMixed, itself
// checked against lme4) must be one.
func TestComponentsMeetREML(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	var rows []Made
	var values []float64
	var fillings, days []string
	for d := range 5 {
		day := 2 * r.NormFloat64()
		for f := range 3 {
			filling := 1.5 * r.NormFloat64()
			for range 3 {
				m := Made{Kind: "one", Day: fmt.Sprint(d), Filling: fmt.Sprint(f)}
				rows, values = append(rows, m), append(values, day+filling+r.NormFloat64())
				days, fillings = append(days, m.Day), append(fillings, m.Day+"/"+m.Filling)
			}
		}
	}
	fit, err := stat.FitMixed(stat.Model{Response: values}, []stat.Random{{Name: "day", Labels: days}, {Name: "filling", Labels: fillings}})
	if err != nil {
		t.Fatal(err)
	}
	sum := 0.0
	p := partsOf(rows, [][]float64{values})
	for _, c := range []struct {
		got Figure
		sd  float64
	}{{p.Together, fit.Variances[2].SD}, {p.Fillings, fit.Variances[1].SD}, {p.Days, fit.Variances[0].SD}} {
		sum += c.sd * c.sd
		if want := math.Sqrt(2 * sum); math.Abs(c.got.Value-want) > 1e-5*want {
			t.Errorf("got %+v, REML says %v", c.got, want)
		}
	}
}

// A bench with known spreads, in ΔE00-like units about a mid grey-green where ΔE00 and
// CIELAB are near proportional after stretching; several kinds share fillings, some
// swatches are missing.
func bench(r *rand.Rand, days, fillings, each, kinds int, day, filling, within float64, missing float64) (rows []Made, values [][]float64) {
	values = make([][]float64, 3)
	for d := range days {
		dv := [3]float64{day * r.NormFloat64(), day * r.NormFloat64(), day * r.NormFloat64()}
		for f := range fillings {
			fv := [3]float64{filling * r.NormFloat64(), filling * r.NormFloat64(), filling * r.NormFloat64()}
			for i := range each {
				if r.Float64() < missing {
					continue
				}
				k := i % kinds
				rows = append(rows, Made{Kind: fmt.Sprint("kind ", k), Day: fmt.Sprint(d), Filling: fmt.Sprint(f)})
				for c := range 3 {
					values[c] = append(values[c], 10*float64(k)+dv[c]+fv[c]+within*r.NormFloat64())
				}
			}
		}
	}
	return rows, values
}

func TestIntervalsHoldTheTruth(t *testing.T) {
	const times = 1500
	for _, c := range []struct {
		name                            string
		days, fillings, each, kinds     int
		day, filling, within, missing   float64
		needWithin, needFilling, needDy bool
	}{
		{"balanced", 4, 3, 4, 1, 1, 1, 1, 0, true, true, true},
		{"two kinds, some missing", 5, 2, 6, 2, 2, 1, 1, 0.2, true, true, true},
		{"nothing between", 4, 2, 4, 2, 0, 0, 1, 0.1, true, true, true},
		{"one filling a day", 6, 1, 4, 1, 2, 0, 1, 0, true, false, true},
		{"one of a kind in each", 5, 3, 1, 1, 1, 1, 0, 0, false, true, true},
	} {
		r := rand.New(rand.NewPCG(11, 17))
		held, known := [3]int{}, [3]int{}
		for range times {
			rows, values := bench(r, c.days, c.fillings, c.each, c.kinds, c.day, c.filling, c.within, c.missing)
			p := partsOf(rows, values)
			w := 3 * c.within * c.within
			f := w + 3*c.filling*c.filling
			d := f + 3*c.day*c.day
			for i, x := range []struct {
				f     Figure
				truth float64
			}{{p.Together, w}, {p.Fillings, f}, {p.Days, d}} {
				if truth := math.Sqrt(2 * x.truth); x.f.Known {
					known[i]++
					if x.f.Low <= truth && truth <= x.f.High {
						held[i]++
					}
				}
			}
		}
		for i, need := range []bool{c.needWithin, c.needFilling, c.needDy} {
			if need && known[i] < times*9/10 {
				t.Errorf("%s: part %d is known %d times of %d", c.name, i, known[i], times)
			}
			share := float64(held[i]) / float64(max(1, known[i]))
			t.Logf("%s, part %d: %.3f of %d", c.name, i, share, known[i])
			// 1500 draws of 0.95 scatter by 0.006; the intervals are approximate
			if known[i] > 0 && (share < 0.93 || share > 0.995) {
				t.Errorf("%s: the interval of part %d holds the truth %.3f of the time", c.name, i, share)
			}
		}
	}
}

func TestRepeatIsInDeltaE(t *testing.T) {
	// two looks of Sharma, Wu and Dalal 2005, pair 1: ΔE00 2.0425. Pairs of swatches that
	// differ by exactly that in every filling differ by that on the root mean square.
	a, b := colour.Lab{L: 50, A: 2.6772, B: -79.7751}, colour.Lab{L: 50, A: 0, B: -82.7485}
	var all []Made
	for i := range 6 {
		f := fmt.Sprint(i % 2)
		all = append(all, Made{Swatch: int64(2 * i), Kind: f, Filling: f, Day: "d", Lab: a, Coverage: 0.5}, Made{Swatch: int64(2*i + 1), Kind: f, Filling: f, Day: "d", Lab: b, Coverage: 0.5})
	}
	got := RepeatOf(all)
	// six of each in two fillings: variance with n-1, so a little above half the square
	want := 2.0425 / math.Sqrt2 * math.Sqrt(6.0/5)
	if f := got.Colour.Together; !f.Known || math.Abs(f.Value-want) > 0.03 {
		t.Errorf("%+v, want %.3f", f, want)
	}
	if got.Coverage.Together.Known {
		t.Errorf("coverage that never differs has a spread: %+v", got.Coverage.Together)
	}
	if got.Colour.Days.Known || !strings.Contains(strings.Join(got.Words(), " "), "one day") {
		t.Errorf("one day tells of days: %q", got.Words())
	}
}

func TestUnknownFillingsAreNotGuessed(t *testing.T) {
	var all []Made
	for i := range 8 {
		all = append(all, Made{Swatch: int64(i), Kind: "k", Lab: colour.Lab{L: float64(40 + i)}, Coverage: math.NaN()})
	}
	if r := RepeatOf(all); r.Swatches != 0 || r.Colour.Together.Known {
		t.Errorf("%+v", r)
	}
	if r := RepeatOf(nil); len(r.Words()) != 1 || r.Line() != "" {
		t.Errorf("%q", r.Words())
	}
}
