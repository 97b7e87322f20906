package design

import "slices"

// plackett are the rows that are turned round to make the plans (Plackett &
// Burman 1946; the one of 12 in the order of the e-Handbook's table 3.18, those
// of 20 and 24 from memory; the tests verify that all columns are orthogonal).
// The run that no turning makes has one sign throughout.
var plackett = map[int]string{
	12: "-+-+++---+-",
	20: "++--++++-+-+----++-",
	24: "+++++-+-++--++--+-+----",
}

// PlackettBurman returns 12, 20 or 24 runs for up to one factor fewer, two
// levels each. No main effect is mixed up with another, but each is partly
// mixed up with the interactions of all others.
func PlackettBurman(fs []Factor, runs int) (Plan, error) {
	row, ok := plackett[runs]
	if !ok {
		return Plan{}, askf("a screening plan of this kind has 12, 20 or 24 runs, not %d", runs)
	}
	if len(fs) > len(row) {
		return Plan{}, askf("%d runs screen up to %d factors, not %d", runs, len(row), len(fs))
	}
	if err := checkFactors(fs); err != nil {
		return Plan{}, err
	}
	for _, f := range fs {
		if len(f.codes()) != 2 {
			return Plan{}, askf("%s has %d levels; a screening plan takes two", f.Name, len(f.codes()))
		}
	}
	p := Plan{Factors: fs, Model: Main(fs)}
	for _, signs := range plackettSigns(runs) {
		p.Runs = append(p.Runs, levelCodes(fs, signs[:len(fs)]))
	}
	return p, nil
}

// plackettSigns is the whole plan in -1 and 1.
func plackettSigns(runs int) [][]float64 {
	row := plackett[runs]
	n := len(row)
	same := func(v float64) []float64 { return slices.Repeat([]float64{v}, n) }
	var out [][]float64
	for r := range n {
		line := same(-1)
		for c := range n {
			if row[(c-r+n)%n] == '+' {
				line[c] = 1
			}
		}
		out = append(out, line)
	}
	if runs == 12 {
		return slices.Insert(out, 0, same(1))
	}
	return append(out, same(-1))
}
