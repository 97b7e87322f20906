package design

import (
	"math"
)

// BoxBehnken returns the plan for 3 to 5 continuous factors in which no run
// stands at all extremes at once, with so many centre runs; -1 takes the usual 3,
// 3 and 6 (Box & Behnken 1960).
func BoxBehnken(fs []Factor, centre int) (Plan, error) {
	k := len(fs)
	if k < 3 || k > 5 {
		return Plan{}, askf("this plan is for 3 to 5 factors, not %d", k)
	}
	if err := continuous(fs); err != nil {
		return Plan{}, err
	}
	if centre < 0 {
		centre = 3
		if k == 5 {
			centre = 6
		}
	}
	if centre > MaxRuns/2 {
		return Plan{}, askf("%d centre runs are too many; take up to %d", centre, MaxRuns/2)
	}
	p := Plan{Factors: fs, Model: Quadratic(fs)}
	for i := range k {
		for j := i + 1; j < k; j++ {
			for s := range 4 {
				run := make([]float64, k)
				run[i], run[j] = float64(s/2*2-1), float64(s%2*2-1)
				p.Runs = append(p.Runs, run)
			}
		}
	}
	for range centre {
		p.Runs = append(p.Runs, make([]float64, k))
	}
	return p, nil
}

func continuous(fs []Factor) error {
	if err := checkFactors(fs); err != nil {
		return err
	}
	for _, f := range fs {
		if f.Category() {
			return askf("%s has named levels; this plan bends a line through numbers, so take one of its levels, or a plan that is searched for", f.Name)
		}
	}
	return nil
}

// Star says how far out the axial runs of a composite plan stand.
type Star int

// The places of the axial runs.
const (
	Rotatable  Star = iota // how sure it is depends only on the distance from the middle
	Orthogonal             // squares are not mixed up with each other
	Faced                  // on the faces: three settings a factor do
	Blocked                // corners and axial runs can be made on two days
)

// CompositeAsk says which composite plan is wanted.
type CompositeAsk struct {
	Star         Star
	P            int  // the corners are a fraction 2^(k-P), of resolution 5 or more
	CentreCorner int  // centre runs with the corners
	CentreStar   int  // centre runs with the axial runs
	Within       bool // shrunk until the axial runs stand at -1 and 1
}

// Alpha returns how far out the axial runs stand for k factors, in units of the
// corners' (Box & Hunter 1957; e-Handbook 5.3.3.6.1).
func (a CompositeAsk) Alpha(k int) float64 {
	f := math.Exp2(float64(k - a.P))
	n := f + float64(2*k+a.CentreCorner+a.CentreStar)
	switch a.Star {
	case Orthogonal:
		return math.Sqrt((math.Sqrt(n*f) - f) / 2)
	case Faced:
		return 1
	case Blocked:
		return math.Sqrt(f * float64(2*k+a.CentreStar) / (2 * (f + float64(a.CentreCorner))))
	}
	return math.Sqrt(math.Sqrt(f))
}

// Composite returns the plan of corners, centre and axial runs for 2 to 7
// continuous factors. Unless Within is set, axial runs of an Alpha above 1
// stand outside the factors' low and high. The corners with their centre runs
// and the axial runs with theirs are the groups named "block" when Star is
// Blocked.
func Composite(fs []Factor, a CompositeAsk) (Plan, error) {
	k := len(fs)
	if k < 2 || k > 7 {
		return Plan{}, askf("a composite plan is for 2 to 7 factors, not %d", k)
	}
	if err := continuous(fs); err != nil {
		return Plan{}, err
	}
	if a.CentreCorner < 0 || a.CentreStar < 0 || a.CentreCorner+a.CentreStar > 50 {
		return Plan{}, askf("%d and %d centre runs; take 0 to 50 together", a.CentreCorner, a.CentreStar)
	}
	corners, err := Fractional(TwoLevels(k), a.P)
	if err != nil {
		return Plan{}, err
	}
	if r := corners.Resolution(); r != 0 && r < 5 {
		return Plan{}, askf("the corners 2^(%d-%d) mix up interactions with each other (resolution %d); a composite plan needs 5 or more", k, a.P, r)
	}
	alpha := a.Alpha(k)
	scale := 1.0
	if a.Within && alpha > 1 {
		scale = 1 / alpha
	}
	p := Plan{Factors: fs, Model: Quadratic(fs)}
	var of []int
	add := func(block int, run []float64) {
		for i := range run {
			run[i] *= scale
		}
		p.Runs = append(p.Runs, run)
		of = append(of, block)
	}
	for _, run := range corners.Runs {
		add(0, run)
	}
	for range a.CentreCorner {
		add(0, make([]float64, k))
	}
	for i := range k {
		for _, s := range []float64{-alpha, alpha} {
			run := make([]float64, k)
			run[i] = s
			add(1, run)
		}
	}
	for range a.CentreStar {
		add(1, make([]float64, k))
	}
	if a.Star == Blocked {
		p.Groups = []Group{{Name: "block", Of: of}}
	}
	return p, nil
}
