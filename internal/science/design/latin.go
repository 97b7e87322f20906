package design

import "strings"

// Latin returns a square of n letters (0 to n-1) in which each stands once in
// every row and column: rows and columns are two things to be evened out, such as
// days and chambers. Those of 3 to 5 are the NIST/SEMATECH e-Handbook's.
func Latin(n int) ([][]int, error) {
	if n < 3 || n > MaxLevels {
		return nil, askf("a Latin square here has 3 to %d rows, not %d", MaxLevels, n)
	}
	switch n {
	case 3:
		return square(n, func(r, c int) int { return c - r + n }), nil
	case 4:
		return table("0132 3201 1320 2013"), nil
	case 5:
		return square(n, func(r, c int) int { return c + 2*r }), nil
	}
	return square(n, func(r, c int) int { return c + r }), nil
}

// GraecoLatin returns two Latin squares in which each pair of letters meets
// once, for an odd n up to 11 and for 4. There is none of 6 (Tarry 1901).
func GraecoLatin(n int) (first, second [][]int, err error) {
	switch {
	case n == 4:
		return table("0123 3210 1032 2301"), table("0123 1032 2301 3210"), nil
	case n >= 3 && n <= 11 && n%2 == 1:
		return square(n, func(r, c int) int { return c + 2*r }), square(n, func(r, c int) int { return c + r }), nil
	case n == 6:
		return nil, nil, askf("there is no pair of squares of 6 (Tarry 1901); take 5 or 7")
	}
	return nil, nil, askf("a pair of squares has 3, 4, 5, 7, 9 or 11 rows here, not %d", n)
}

func square(n int, at func(r, c int) int) [][]int {
	out := make([][]int, n)
	for r := range n {
		for c := range n {
			out[r] = append(out[r], at(r, c)%n)
		}
	}
	return out
}

func table(text string) [][]int {
	var out [][]int
	for _, row := range strings.Fields(text) {
		var line []int
		for _, d := range row {
			line = append(line, int(d-'0'))
		}
		out = append(out, line)
	}
	return out
}

// LatinPlan lays out three or four factors of n levels each by a Latin or
// Graeco-Latin square: rows, columns, letters (and second letters).
func LatinPlan(fs []Factor) (Plan, error) {
	if len(fs) < 3 || len(fs) > 4 {
		return Plan{}, askf("a Latin square lays out 3 factors, a pair of squares 4, not %d", len(fs))
	}
	n := len(fs[0].codes())
	var first, second [][]int
	var err error
	if len(fs) == 4 {
		first, second, err = GraecoLatin(n)
	} else {
		first, err = Latin(n)
	}
	if err != nil {
		return Plan{}, err
	}
	var levels [][]int
	for r := range n {
		for c := range n {
			run := []int{r, c, first[r][c]}
			if second != nil {
				run = append(run, second[r][c])
			}
			levels = append(levels, run)
		}
	}
	return ofLevels(fs, levels)
}

// L9 returns nine runs for up to four factors of three levels, each pair of
// levels once (Taguchi's name; e-Handbook, mixed-level designs).
func L9(fs []Factor) (Plan, error) {
	var levels [][]int
	for a := range 3 {
		for b := range 3 {
			levels = append(levels, []int{a, b, (a + b) % 3, (2*a + b) % 3})
		}
	}
	return ofLevels(fs, levels)
}

// L18 returns eighteen runs for one factor of two levels, the first, and up to
// seven of three, every pair of levels equally often (e-Handbook, mixed-level
// designs).
func L18(fs []Factor) (Plan, error) {
	return ofLevels(fs, table(`00000000 00111111 00222222 01001122 01112200 01220011 02010212 02121020 02202101
		10022110 10100221 10211002 11012021 11120102 11201210 12021201 12102012 12210120`))
}

// ofLevels turns numbers of levels into runs, leaving out columns to the right.
func ofLevels(fs []Factor, levels [][]int) (Plan, error) {
	if err := checkFactors(fs); err != nil {
		return Plan{}, err
	}
	if len(fs) > len(levels[0]) {
		return Plan{}, askf("this plan is for up to %d factors, not %d", len(levels[0]), len(fs))
	}
	p := Plan{Factors: fs, Model: Main(fs)}
	for i, f := range fs {
		want := 0
		for _, row := range levels {
			want = max(want, row[i]+1)
		}
		if got := len(f.codes()); got != want {
			return Plan{}, askf("%s has %d levels, and in its place of this plan it needs %d", f.Name, got, want)
		}
	}
	for _, row := range levels {
		run := make([]float64, len(fs))
		for i, f := range fs {
			run[i] = f.codes()[row[i]]
		}
		p.Runs = append(p.Runs, run)
	}
	return p, nil
}
