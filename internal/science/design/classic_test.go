package design

import (
	"fmt"
	"math"
	"math/bits"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Each fraction has the resolution, the word counts and the clear interactions
// that are published (testdata/fractional_generators.csv names the handbook).
func TestFractionsArePublishedOnes(t *testing.T) {
	for _, r := range published(t, "fractional_generators.csv") {
		k, _ := strconv.Atoi(r["k"])
		p, _ := strconv.Atoi(r["p"])
		f, err := Fractional(TwoLevels(k), p)
		if err != nil {
			t.Errorf("2^(%d-%d): %v", k, p, err)
			continue
		}
		if got := strings.Join(f.Generators, " "); got != r["generators"] {
			t.Errorf("2^(%d-%d): generators %s, published %s", k, p, got, r["generators"])
		}
		words := strings.Trim(fmt.Sprint(f.WordLengths()), "[]")
		if strconv.Itoa(len(f.Runs)) != r["runs"] || strconv.Itoa(f.Resolution()) != r["resolution"] || words != r["word_length_A3_up"] || strconv.Itoa(f.Clear()) != r["clear_2fi"] {
			t.Errorf("2^(%d-%d): %d runs, resolution %d, words %s, %d clear; published %v", k, p, len(f.Runs), f.Resolution(), words, f.Clear(), r)
		}
	}
}

// A defining word is the same product in every run, so that the words say of the
// runs what they seem to say.
func TestDefiningWordsHoldInEveryRun(t *testing.T) {
	hold := func(t *testing.T, f Fraction) {
		for _, w := range f.Defining {
			for _, run := range f.Runs {
				v := 1.0
				for i, x := range run {
					if w.Factors>>i&1 == 1 {
						v *= x
					}
				}
				if (v < 0) != w.Minus {
					t.Fatalf("%v: product %v in run %v", w, v, run)
				}
			}
		}
		// And no others do: the runs are as many as the words leave.
		distinct := map[string]bool{}
		for _, run := range f.Runs {
			distinct[fmt.Sprint(run)] = true
		}
		if len(distinct)*(len(f.Defining)+1) != 1<<len(f.Factors) {
			t.Fatalf("%d runs and %d words for %d factors", len(distinct), len(f.Defining), len(f.Factors))
		}
	}
	for k := range generators {
		f, err := Fractional(TwoLevels(k[0]), k[1])
		if err != nil {
			t.Fatal(err)
		}
		hold(t, f)
		hold(t, f.Mirror())
		if f.Resolution() == 3 { // the whole plan of an even resolution repeats its runs
			hold(t, f.Foldover(0))
			hold(t, f.Foldover(1))
		}
	}
	minus, err := FractionOf(TwoLevels(5), []string{"5=-1234"})
	if err != nil {
		t.Fatal(err)
	}
	hold(t, minus)
}

// The published aliases of the seven-factor screening plan, their signs in the
// mirrored half, and main effects clear of pairs when both halves are made
// (testdata/foldover_2_7_4.csv names the handbook).
func TestFoldoverAliases(t *testing.T) {
	f, err := Fractional(TwoLevels(7), 4)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range published(t, "foldover_2_7_4.csv") {
		main, _ := strconv.Atoi(r["main"])
		for half, plan := range map[string]Fraction{"first": f, "mirror": f.Mirror()} {
			var got []string
			for _, a := range plan.Aliases(1<<(main-1), 2) {
				name := ""
				for i := range 7 {
					if a.Factors>>i&1 == 1 {
						name += strconv.Itoa(i + 1)
					}
				}
				got = append(got, name)
				if a.Minus != (half == "mirror") {
					t.Errorf("%s half: main %d with %s, minus %v", half, main, name, a.Minus)
				}
			}
			if want := []string{r["alias1"], r["alias2"], r["alias3"]}; !slices.Equal(got, want) {
				t.Errorf("%s half: main %d is mixed up with %v, published %v", half, main, got, want)
			}
		}
		if got := f.Foldover(0).Aliases(1<<(main-1), 2); len(got) != 0 {
			t.Errorf("folded over, main %d is still mixed up with %v", main, got)
		}
	}
	if r := f.Foldover(0).Resolution(); r != 4 {
		t.Errorf("folded over, the resolution is %d; a mirrored plan of 3 has 4 (e-Handbook)", r)
	}
	// Turned in one factor alone, that one and its pairs stand clear (e-Handbook,
	// foldover of a single factor).
	for _, w := range f.Foldover(1 << 3).Defining {
		if w.Factors>>3&1 == 1 && bits.OnesCount32(w.Factors) <= 3 {
			t.Errorf("turned in D, D is in the word %b", w.Factors)
		}
	}
}

func TestUntoldNamesFactors(t *testing.T) {
	f, err := Fractional(TwoLevels(3), 1)
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"can't tell A from B × C", "can't tell B from A × C", "can't tell C from A × B"}
	if got := f.Untold(); !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	if f, err = Fractional(TwoLevels(5), 1); err != nil || len(f.Untold()) != 0 {
		t.Errorf("2^(5-1) of resolution 5: %q, %v; its main effects and pairs are clear", f.Untold(), err)
	}
}

// The screening plans of 12 and 20 are the published ones; in those and in 24
// every two columns are orthogonal and balanced (Plackett & Burman 1946).
func TestPlackettBurman(t *testing.T) {
	for _, n := range []int{12, 20, 24} {
		got := plackettSigns(n)
		if n != 24 {
			if want := publishedRuns(t, fmt.Sprintf("plackett_burman_%d.csv", n), "x"); !slices.EqualFunc(got, want, slices.Equal) {
				t.Errorf("%d runs: %v, published %v", n, got, want)
			}
		}
		if len(got) != n {
			t.Errorf("%d runs, not %d", len(got), n)
		}
		for i := range n - 1 {
			sum := 0.0
			for _, run := range got {
				sum += run[i]
			}
			if sum != 0 {
				t.Errorf("%d runs: column %d sums to %v", n, i, sum)
			}
			for j := range i {
				s := 0.0
				for _, run := range got {
					s += run[i] * run[j]
				}
				if s != 0 {
					t.Errorf("%d runs: columns %d and %d have the product %v", n, i, j, s)
				}
			}
		}
	}
	p, err := PlackettBurman(TwoLevels(11), 12)
	if err != nil {
		t.Fatal(err)
	}
	e, err := p.Efficiency(nil)
	if err != nil || math.Abs(e.D-1) > 1e-12 || math.Abs(e.G-1) > 1e-12 {
		t.Errorf("12 orthogonal runs: %+v, %v; D and G are 1", e, err)
	}
}

func TestBoxBehnkenIsPublished(t *testing.T) {
	for k := 3; k <= 5; k++ {
		fs := TwoLevels(k)
		for i := range fs {
			fs[i].Settings = nil
		}
		p, err := BoxBehnken(fs, -1)
		if err != nil {
			t.Fatal(err)
		}
		if want := publishedRuns(t, fmt.Sprintf("box_behnken_%d.csv", k), "x"); !slices.EqualFunc(p.Runs, want, slices.Equal) {
			t.Errorf("%d factors: %v, published %v", k, p.Runs, want)
		}
		if _, err := p.Efficiency(nil); err != nil {
			t.Errorf("%d factors: the quadratic model can't be told: %v", k, err)
		}
	}
}

func TestCompositeAlphasArePublished(t *testing.T) {
	for _, r := range published(t, "ccd_alpha.csv") {
		k, _ := strconv.Atoi(r["factors"])
		p := 0
		if part := r["factorial_part"]; strings.Contains(part, "-1)") {
			p = 1
		}
		got := CompositeAsk{P: p}.Alpha(k)
		if math.Abs(got-num(t, r["alpha"])) > 5.1e-4 {
			t.Errorf("%d factors, %s: alpha %.4f, published %s", k, r["factorial_part"], got, r["alpha"])
		}
		plan, err := Composite(bent(k), CompositeAsk{P: p, CentreCorner: 4})
		if err != nil {
			t.Fatal(err)
		}
		rotatable(t, plan)
	}
}

// bent is TwoLevels with settings between.
func bent(k int) []Factor {
	fs := TwoLevels(k)
	for i := range fs {
		fs[i].Settings = nil
	}
	return fs
}

// rotatable holds a plan to what the word means (Box & Hunter 1957): how sure a
// prediction is depends on the distance from the middle alone.
func rotatable(t *testing.T, p Plan) {
	t.Helper()
	w, x, err := p.weigh()
	if err != nil {
		t.Fatal(err)
	}
	inv, ok := w.inverse(x)
	if !ok {
		t.Fatal("singular")
	}
	rng := chance(3)
	first := 0.0
	for i := range 20 {
		at := make([]float64, len(p.Factors))
		norm := 0.0
		for j := range at {
			at[j] = rng.NormFloat64()
			norm += at[j] * at[j]
		}
		for j := range at {
			at[j] /= math.Sqrt(norm)
		}
		f := w.row(nil, at)
		v := quad(inv, f, f)
		if i == 0 {
			first = v
		}
		if math.Abs(v-first) > 1e-9*first {
			t.Errorf("%d factors: variance %v and %v at distance 1", len(p.Factors), first, v)
		}
	}
}

func TestCompositeInTwoBlocksIsPublished(t *testing.T) {
	want := publishedRuns(t, "ccd_2factor_2blocks_orthogonal.csv", "x")
	p, err := Composite(bent(2), CompositeAsk{Star: Blocked, CentreCorner: 2, CentreStar: 2})
	if err != nil {
		t.Fatal(err)
	}
	for i, r := range published(t, "ccd_2factor_2blocks_orthogonal.csv") {
		if strconv.Itoa(p.Groups[0].Of[i]+1) != r["block"] || math.Abs(p.Runs[i][0]-want[i][0]) > 5e-7 || math.Abs(p.Runs[i][1]-want[i][1]) > 5e-7 {
			t.Errorf("run %d: %v in block %d, published %v", i+1, p.Runs[i], p.Groups[0].Of[i]+1, r)
		}
	}
	// Orthogonal to the blocks for any k: the sums of squares stand in the ratio of
	// the runs (Box & Hunter 1957).
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.IntRange(2, 5).Draw(t, "k")
		a := CompositeAsk{Star: Blocked, CentreCorner: rapid.IntRange(0, 6).Draw(t, "corner"), CentreStar: rapid.IntRange(0, 6).Draw(t, "star")}
		p, err := Composite(bent(k), a)
		if err != nil {
			t.Fatal(err)
		}
		var n, sq [2]float64
		for i, run := range p.Runs {
			n[p.Groups[0].Of[i]]++
			sq[p.Groups[0].Of[i]] += run[0] * run[0]
		}
		if math.Abs(sq[0]*n[1]-sq[1]*n[0]) > 1e-9 {
			t.Fatalf("k %d: squares %v in runs %v", k, sq, n)
		}
	})
}

// In an orthogonal composite plan, the squares less their mean are orthogonal
// (Box & Wilson 1951).
func TestOrthogonalComposite(t *testing.T) {
	for k := 2; k <= 5; k++ {
		p, err := Composite(bent(k), CompositeAsk{Star: Orthogonal, CentreCorner: 3})
		if err != nil {
			t.Fatal(err)
		}
		n, s2, s22 := float64(len(p.Runs)), 0.0, 0.0
		for _, run := range p.Runs {
			s2 += run[0] * run[0]
			s22 += run[0] * run[0] * run[1] * run[1]
		}
		if math.Abs(s22-s2*s2/n) > 1e-9 {
			t.Errorf("k %d: the squares have the product %v", k, s22-s2*s2/n)
		}
	}
	faced, err := Composite(bent(3), CompositeAsk{Star: Faced})
	within, err2 := Composite(bent(3), CompositeAsk{Within: true})
	if err != nil || err2 != nil {
		t.Fatal(err, err2)
	}
	for _, p := range []Plan{faced, within} {
		for _, run := range p.Runs {
			if slices.Max(run) > 1 || slices.Min(run) < -1 {
				t.Errorf("%v lies outside", run)
			}
		}
	}
}

func TestLatinSquaresArePublished(t *testing.T) {
	for _, r := range published(t, "latin_squares.csv") {
		n, _ := strconv.Atoi(r["order"])
		row, _ := strconv.Atoi(r["row"])
		col, _ := strconv.Atoi(r["col"])
		var first, second [][]int
		var err error
		if r["kind"] == "latin" {
			first, err = Latin(n)
		} else {
			first, second, err = GraecoLatin(n)
		}
		if err != nil {
			t.Fatal(err)
		}
		if got := string(rune('A' + first[row-1][col-1])); got != r["treatment"] {
			t.Errorf("%s %d, row %d, column %d: %s, published %s", r["kind"], n, row, col, got, r["treatment"])
		}
		if second != nil && strconv.Itoa(second[row-1][col-1]+1) != r["second"] {
			t.Errorf("%s %d, row %d, column %d: second %d, published %s", r["kind"], n, row, col, second[row-1][col-1]+1, r["second"])
		}
	}
}

// By definition: each letter once a row and column, each pair of letters once.
func TestSquaresAreLatin(t *testing.T) {
	for n := 3; n <= MaxLevels; n++ {
		sq, err := Latin(n)
		if err != nil {
			t.Fatal(err)
		}
		latin(t, sq)
		a, b, err := GraecoLatin(n)
		if err != nil {
			if n%2 == 1 {
				t.Errorf("%d: %v", n, err)
			}
			continue
		}
		latin(t, a)
		latin(t, b)
		pairs := map[[2]int]bool{}
		for r := range n {
			for c := range n {
				pairs[[2]int{a[r][c], b[r][c]}] = true
			}
		}
		if len(pairs) != n*n {
			t.Errorf("%d: %d pairs", n, len(pairs))
		}
	}
}

func latin(t *testing.T, sq [][]int) {
	t.Helper()
	for i := range sq {
		row, col := map[int]bool{}, map[int]bool{}
		for j := range sq {
			row[sq[i][j]], col[sq[j][i]] = true, true
		}
		if len(row) != len(sq) || len(col) != len(sq) {
			t.Errorf("order %d: line %d is not Latin", len(sq), i)
		}
	}
}

func TestOrthogonalArraysArePublished(t *testing.T) {
	three := []string{"1", "2", "3"}
	l18 := []Factor{{Name: "a", Levels: []string{"1", "2"}}}
	var l9 []Factor
	for i := range 7 {
		l18 = append(l18, Factor{Name: letter(i), Levels: three})
		if i < 4 {
			l9 = append(l9, Factor{Name: letter(i), Levels: three})
		}
	}
	for name, build := range map[string]func() (Plan, error){
		"oa_l9_3x4.csv": func() (Plan, error) { return L9(l9) }, "oa_l18_2x1_3x7.csv": func() (Plan, error) { return L18(l18) },
	} {
		p, err := build()
		if err != nil {
			t.Fatal(err)
		}
		want := publishedRuns(t, name, "x")
		for i, run := range p.Runs {
			for j := range run {
				if run[j]+1 != want[i][j] {
					t.Errorf("%s: run %d is %v, published %v", name, i+1, run, want[i])
				}
			}
		}
		if _, err := p.Efficiency(nil); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}
