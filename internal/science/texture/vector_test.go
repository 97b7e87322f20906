package texture

import (
	"fmt"
	"math"
	"testing"

	"aerugo/internal/science/colour"
)

// haralick4 is the picture of Haralick, Shanmugam and Dinstein 1973, Fig. 3.
func haralick4() Grid {
	return Grid{W: 4, H: 4, MMPerCell: 1, V: []float64{0, 0, 1, 1, 0, 0, 1, 1, 0, 2, 2, 2, 2, 2, 3, 3}}
}

// TestCooccurMatchesHaralick checks counts and features of the paper's picture, in
// glcm_haralick_4x4.csv as scikit-image 0.19.3 gives them. It counts rows downwards,
// so that its 45 is the paper's 135, and ours.
func TestCooccurMatchesHaralick(t *testing.T) {
	out, err := Cooccur(haralick4(), Levels{0, 4, 4}, 1)
	if err != nil {
		t.Fatal(err)
	}
	steps := map[string]struct {
		right, down int
		got         Cooccurrence
	}{"0": {1, 0, out.Deg0}, "135": {1, -1, out.Deg45}, "90": {0, -1, out.Deg90}, "45": {-1, -1, out.Deg135}}
	lines := records(t, "glcm_haralick_4x4.csv", 5)[1:]
	for _, line := range lines {
		s := steps[line[0]]
		levels := haralick4().levels(Levels{0, 4, 4})
		for i, got := range pairs(levels, 4, 4, 4, s.right, s.down) {
			near(t, fmt.Sprintf("file's angle %s: count %d,%d", line[0], i/4, i%4), float64(got), number(t, line[1+i]), 0)
		}
		for column, got := range map[int]float64{17: s.got.Contrast, 19: s.got.Homogeneity, 20: s.got.ASM, 22: s.got.Correlation, 23: s.got.Entropy} {
			near(t, fmt.Sprintf("file's angle %s: column %d", line[0], column+1), got, number(t, line[column]), 6e-11)
		}
	}
	if len(lines) != 4 {
		t.Errorf("%d directions in the file, want 4", len(lines))
	}
}

// TestCooccurDirectionsAreThePapers checks the counts printed in Fig. 3 of the paper:
// up to the right is P_RD(45), up to the left P_LD(135). From memory; the first row of
// each tells them apart.
func TestCooccurDirectionsAreThePapers(t *testing.T) {
	levels := haralick4().levels(Levels{0, 4, 4})
	for name, c := range map[string]struct {
		right, down int
		row         [4]int
	}{"0": {1, 0, [4]int{4, 2, 1, 0}}, "45": {1, -1, [4]int{4, 1, 0, 0}}, "90": {0, -1, [4]int{6, 0, 2, 0}}, "135": {-1, -1, [4]int{2, 1, 3, 0}}} {
		if got := [4]int(pairs(levels, 4, 4, 4, c.right, c.down)[:4]); got != c.row {
			t.Errorf("%s degrees: first row is %v, want %v", name, got, c.row)
		}
	}
}

// TestPictureMatchesReferences checks every number of texture_64_expected.csv, made
// with scikit-image 0.19.3, scipy 1.10.1 and numpy 1.24.2, to the digits it holds.
func TestPictureMatchesReferences(t *testing.T) {
	want := named(t, "texture_64_expected.csv", 34)
	const digits = 6e-10
	seen := 0
	check := func(name string, got, within float64) {
		t.Helper()
		w, ok := want[name]
		if !ok {
			t.Fatalf("the file has no %s", name)
		}
		seen++
		near(t, name, got, w, within)
	}
	g := picture64()
	mean, variance := g.moments(len(g.V))
	check("mean", mean, digits)
	check("var_pop", variance, digits)
	blocks, err := BlockVariances(g, []float64{1, 2, 4, 8, 16, 32})
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range blocks {
		check(fmt.Sprintf("block_var_%v", b.MM), b.Variance, digits)
	}
	contrast, err := Contrast(g)
	if err != nil {
		t.Fatal(err)
	}
	check("tamura_contrast", contrast, digits)
	for _, d := range []float64{1, 4} {
		c, err := Cooccur(g, Levels{0, 256, 16}, d)
		if err != nil {
			t.Fatal(err)
		}
		for feature, got := range map[string]float64{
			"contrast": c.Mean.Contrast, "homogeneity": c.Mean.Homogeneity, "ASM": c.Mean.ASM, "correlation": c.Mean.Correlation, "entropy_nat": c.Mean.Entropy,
		} {
			check(fmt.Sprintf("glcm_d%v_%s", d, feature), got, digits)
		}
	}
	shares, err := PatternShares(g, 1)
	if err != nil {
		t.Fatal(err)
	}
	for code, share := range shares {
		check(fmt.Sprintf("lbp_u8r1_interior_bin%d", code), share*62*62, 1e-12)
	}
	grains, err := Granularity(g, []float64{3, 5, 7, 9})
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range grains {
		check(fmt.Sprintf("opening_%v", s.MM), s.Loss, digits)
	}
	if seen != len(want) {
		t.Errorf("%d of the file's %d numbers were checked", seen, len(want))
	}
}

// TestBinaryPatternsMatchReference checks every code of lbp_12x12.csv, of scikit-image
// 0.19.3, edges read as 0 included.
func TestBinaryPatternsMatchReference(t *testing.T) {
	p, err := BinaryPatterns(paint(12, 12, func(r, c int) float64 { return float64((7*c + 13*r + c*r) % 32) }), 1)
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range records(t, "lbp_12x12.csv", 2) {
		codes := map[string][]uint8{"default": p.Code, "uniform": p.Uniform}[line[0]]
		if len(line) != 145 || len(codes) != 144 {
			t.Fatalf("%s: %d codes, and %d fields in the file", line[0], len(codes), len(line))
		}
		for i, got := range codes {
			if want := number(t, line[1+i]); float64(got) != want {
				t.Errorf("%s: row %d, column %d is %d, want %v", line[0], i/12, i%12, got, want)
			}
		}
	}
	for i, whole := range p.Whole {
		if r, c := i/12, i%12; whole != (r > 0 && r < 11 && c > 0 && c < 11) {
			t.Errorf("row %d, column %d: whole is %v", r, c, whole)
		}
	}
}

// TestMoranMatchesReference checks moran_vectors.csv, made with libpysal 4.7.0
// weights. The expected value is -1/(n - 1), Moran 1950.
func TestMoranMatchesReference(t *testing.T) {
	grids := map[string]Grid{
		"checker5": paint(6, 6, func(r, c int) float64 { return float64((r + c) % 2) }),
		"halves":   paint(6, 6, func(r, c int) float64 { return float64(r / 3) }),
		"gradient": paint(6, 6, func(r, c int) float64 { return float64(c) }),
		"disc7": paint(9, 9, func(r, c int) float64 {
			if math.Hypot(float64(r-4), float64(c-4)) <= 3 {
				return 1
			}
			return 0
		}),
		"lattice_mod": paint(6, 6, func(r, c int) float64 { return float64((3*r + 5*c) % 7) }),
	}
	lines := records(t, "moran_vectors.csv", 6)[1:]
	for _, line := range lines {
		g, ok := grids[line[0]]
		if !ok {
			t.Fatalf("the file's grid %q is not known", line[0])
		}
		for column, n := range map[int]Neighbours{2: Rook, 3: Queen} {
			c, err := Moran(g, ClusterOptions{Neighbours: n}, nil)
			if err != nil {
				t.Fatal(err)
			}
			near(t, fmt.Sprintf("%s, column %d", line[0], column+1), c.I, number(t, line[column]), 6e-11)
			near(t, line[0]+" expected", c.Expected, -1/(number(t, line[1])-1), 1e-12)
			near(t, line[0]+" n", float64(c.N), number(t, line[1]), 0)
		}
	}
}

// drops are the deposits of pooling_101_expected.csv.
func drops() map[string]Grid {
	fields := map[string]func(r, c float64) float64{
		"flat":   func(r, c float64) float64 { return 1 },
		"ring":   func(r, c float64) float64 { return 1 + 2*math.Exp(-math.Pow((math.Hypot(r-50, c-50)-42)/2, 2)) },
		"centre": func(r, c float64) float64 { return 1 + 2*math.Exp(-math.Pow(math.Hypot(r-50, c-50)/10, 2)) },
		"tilt":   func(r, c float64) float64 { return 1 + 0.01*(c-50) },
		"blob":   func(r, c float64) float64 { return 1 + 3*math.Exp(-((r-35)*(r-35)+(c-60)*(c-60))/72) },
	}
	grids := map[string]Grid{}
	for name, f := range fields {
		grids[name] = paint(101, 101, func(r, c int) float64 { return f(float64(r), float64(c)) })
	}
	return grids
}

// TestPoolMatchesReference checks every number of pooling_101_expected.csv, made with
// numpy, whose y runs downwards.
func TestPoolMatchesReference(t *testing.T) {
	lines := records(t, "pooling_101_expected.csv", 6)[1:]
	for _, line := range lines {
		g, ok := drops()[line[0]]
		if !ok {
			t.Fatalf("the file's field %q is not known", line[0])
		}
		p, err := Pool(g, Disc(50.5, 50.5, 45), 10)
		if err != nil {
			t.Fatal(err)
		}
		ratio, ok := p.EdgeRatio()
		if !ok {
			t.Errorf("%s has no edge ratio", line[0])
		}
		for i, got := range []float64{p.Mean, ratio, p.RightMM, -p.UpMM, p.Offset, p.RingCV, p.Harmonic} {
			near(t, fmt.Sprintf("%s, column %d", line[0], i+2), got, number(t, line[i+1]), 6e-9)
		}
	}
}

// TestPaletteDistanceMatchesReference checks the two distances of emd_palettes.csv,
// made with POT 0.8.2 ot.emd2 and, for CIE 1976, OpenCV 4.6.0.
func TestPaletteDistanceMatchesReference(t *testing.T) {
	palettes := map[string][]Part{}
	want := map[string]float64{}
	for _, line := range records(t, "emd_palettes.csv", 10)[1:] {
		if len(line[0]) > 1 {
			want[line[0]] = number(t, line[1])
			continue
		}
		palettes[line[0]] = append(palettes[line[0]], Part{colour.Lab{L: number(t, line[1]), A: number(t, line[2]), B: number(t, line[3])}, number(t, line[4])})
	}
	for name, ground := range map[string]func(a, b colour.Lab) float64{"EMD_dE76": colour.Difference76, "EMD_dE00": colour.Difference} {
		for _, way := range [][2]string{{"P", "Q"}, {"Q", "P"}} {
			got, err := PaletteDistance(palettes[way[0]], palettes[way[1]], ground)
			if err != nil {
				t.Fatal(err)
			}
			near(t, name+" from "+way[0], got, want[name], 1e-9)
		}
	}
}
