package measure

import (
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

func shareOf(m studio.Measurement, class string) float64 {
	for _, c := range m.Classes {
		if c.Name == class {
			return c.Share
		}
	}
	return 0
}

// The ISCC-NBS names (Kelly & Judd, NBS Special Publication 440, 1976; centroids
// of Kelly 1958) say what people call a colour in daylight. A colour whose name
// ends in brown, green, blue, violet or purple must be of that class, and one
// whose name says black must be violet-dark. Yellow and olive belong to brown,
// which is where brass is.
func TestClassesAgreeWithTheNamesOfColours(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "science", "colour", "data", "centroids.tsv"))
	if err != nil {
		t.Fatal(err)
	}
	of := map[string]string{"brown": classBrown, "yellow": classBrown, "olive": classBrown, "orange": classBrown, "red": classBrown,
		"green": classGreen, "blue": classBlue, "violet": classViolet, "purple": classViolet}
	agree, all := map[string]int{}, map[string]int{}
	for line := range strings.Lines(string(text)) {
		field := strings.Split(strings.TrimSpace(line), "\t")
		if strings.HasPrefix(line, "#") || len(field) != 7 || field[0] == "number" {
			continue
		}
		var v [3]float64
		for i := range v {
			if v[i], err = strconv.ParseFloat(field[3+i], 64); err != nil {
				t.Fatal(err)
			}
		}
		words := strings.Fields(field[1])
		last := words[len(words)-1]
		want := of[last]
		if strings.Contains(field[1], "black") {
			want, last = classViolet, "black"
		}
		if want == "" {
			continue
		}
		all[last]++
		if lab := (colour.Lab{L: v[0], A: v[1], B: v[2]}); classOf(lab) == want {
			agree[last]++
		} else {
			t.Logf("%s (L* %.0f, C* %.0f, hue %.0f) is %s", field[1], lab.L, lab.Chroma(), lab.Hue(), classOf(lab))
		}
	}
	for last, n := range all {
		// "vivid purplish blue", at hue 305, lies beyond the palest violets at 292,
		// which fall to blue for the same reason: the hues of these two names
		// overlap in CIELAB, whose blues bend towards purple.
		least := n
		switch last {
		case "blue":
			least = n - 1
		case "violet":
			least = n - 4
		}
		t.Logf("%-7s %3d of %3d", last, agree[last], n)
		if agree[last] < least {
			t.Errorf("%s: %d of %d agree, want at least %d", last, agree[last], n, least)
		}
	}
	if len(all) < 10 || all["green"] < 30 {
		t.Fatalf("names read: %v", all)
	}
}

// Clean copper and brass, from optical constants (Johnson & Christy 1972; Querry
// 1985; hue 44 to 52 for copper, 80 for 85/15 brass, 89 for 70/30 brass), are
// never taken for green when nobody showed what is bare.
func TestBareMetalUnshownIsBrown(t *testing.T) {
	for _, c := range []struct{ chroma, hue float64 }{{19, 44}, {25, 52}, {25, 80}, {25, 89}} {
		for _, l := range []float64{50, 86} { // brushed metal is darker
			lab := colour.Lab{L: l, A: c.chroma * math.Cos(c.hue*math.Pi/180), B: c.chroma * math.Sin(c.hue*math.Pi/180)}
			if got := classOf(lab); got != classBrown {
				t.Errorf("%v is %s", lab, got)
			}
		}
	}
}

// regions.csv: rectangles marked by hand, each of one surface by eye, on
// uncalibrated photographs in warm museum light. With -v it prints the share of
// each region's pixels in every class.
//
// A share is demanded only where the region's own colour leaves room:
//   - bo's paler green skirt has hue 109 with a spread of 3 in a*: warm light has
//     drawn it to within one spread of the limit at 100, so most of it, not all.
//   - thunder's dark green foot has its median at hue 99: in this light its
//     ISCC-NBS name is an olive and it falls on both sides of the limit. It is
//     the known failure of an uncalibrated photograph: green is not demanded,
//     only that it is never blue and not mostly violet-dark.
//   - hu's dark gap is a gap between walls: towards its rims the light of the brown
//     and the green wall comes in, and a third of it is theirs.
//   - yue's red-brown has L* 17, near black; a few pixels in a hundred are lost.
//   - the gun stands in mixed daylight, hue 161 and 178, inside green.
//   - backgrounds and the floor are no treated surface and are only printed.
func TestClassesOnRealRegions(t *testing.T) {
	demand := map[string]struct {
		class string
		least float64
	}{
		"bo_chunqiu1000.jpg green 560":                {classGreen, 0.95},
		"bo_chunqiu1000.jpg green 215":                {classGreen, 0.7},
		"bo_chunqiu1000.jpg reddish scar 465":         {classBrown, 0.8},
		"thunder_pou1000.jpg brown 500":               {classBrown, 0.95},
		"thunder_pou1000.jpg turquoise 370":           {classGreen, 0.95},
		"yue_wzhou1000.jpg red-brown 420":             {classBrown, 0.8},
		"hu_geometric_war1000.jpg green 745":          {classGreen, 0.9},
		"hu_geometric_war1000.jpg green 850":          {classGreen, 0.9},
		"hu_geometric_war1000.jpg brown 818":          {classBrown, 0.9},
		"hu_geometric_war1000.jpg dark gap 965":       {classViolet, 0.6},
		"OSX_WorldHist_A17_03_Gun.jpg grey-green 430": {classGreen, 0.9},
		"OSX_WorldHist_A17_03_Gun.jpg grey-green 620": {classGreen, 0.8},
		"thunder_pou1000.jpg dark green 290":          {},
		"thunder_pou1000.jpg background 20":           {},
		"yue_wzhou1000.jpg background 420":            {},
		"OSX_WorldHist_A17_03_Gun.jpg floor 650":      {},
	}
	t.Logf("%-46s %6s %6s %6s %6s", "region", "brown", "green", "blue", "violet")
	for _, row := range table(t, "regions.csv", true) {
		img := photo(t, row[0])
		light := newLight(img)
		x0, y0, x1, y1 := number(t, row[2]), number(t, row[3]), number(t, row[4]), number(t, row[5])
		share, n := map[string]float64{}, (x1-x0)*(y1-y0)
		for y := int(y0); y < int(y1); y++ {
			for x := int(x0); x < int(x1); x++ {
				rgb, _ := img.At(x, y)
				share[classOf(light.cell(rgb).lab)] += 1 / n
			}
		}
		name := row[0] + " " + row[1] + " " + row[2]
		t.Logf("%-46s %6.2f %6.2f %6.2f %6.2f", name, share[classBrown], share[classGreen], share[classBlue], share[classViolet])
		want, ok := demand[name]
		if !ok {
			t.Errorf("region %q is not judged", name)
			continue
		}
		if want.class != "" && share[want.class] < want.least {
			t.Errorf("%s: %.2f %s, want %.2f", name, share[want.class], want.class, want.least)
		}
		if row[1] == "dark green" && (share[classBlue] > 0.01 || share[classViolet] > 0.5) {
			t.Errorf("%s: %v", name, share)
		}
	}
}

// A face of five stripes of known width, two under casts that only the grey card
// takes out. The stripes' colours are invented; their widths are the truth.
func TestDrawnClassesAreFoundThroughCast(t *testing.T) {
	widths := []struct {
		class string
		rgb   [3]float64
		share float64
	}{
		{classBare, copperish, 0.3}, {classBrown, linearOf(92, 54, 38), 0.2}, {classGreen, verdigris, 0.25},
		{classBlue, linearOf(60, 110, 170), 0.15}, {classViolet, linearOf(30, 26, 34), 0.1},
	}
	face := func(u, v float64) [3]float64 {
		for _, w := range widths {
			if u < w.share {
				return w.rgb
			}
			u -= w.share
		}
		return widths[len(widths)-1].rgb
	}
	want := map[string]float64{} // on the face less its band
	const n = 10000
	for i := range n {
		u := edgeBand + (1-2*edgeBand)*(float64(i)+0.5)/n
		for _, w := range widths {
			if u < w.share {
				want[w.class] += 1.0 / n
				break
			}
			u -= w.share
		}
	}
	for _, cast := range [][3]float64{{1, 1, 1}, {1.25, 1, 0.6}, {0.8, 1, 1.4}} {
		s := desk(face)
		s.cast, s.noise = cast, 2
		s.bare, s.bareRGB = &studio.Rect{X: 520, Y: 250, W: 90, H: 90}, copperish
		m := measured(t, s.take(t), s.marks())
		sum := 0.0
		for _, c := range m.Classes {
			sum += c.Share
		}
		t.Logf("cast %v: %v", cast, m.Classes)
		for class, share := range want {
			if got := shareOf(m, class); math.Abs(got-share) > 0.015 {
				t.Errorf("cast %v: %s %.3f, drawn %.3f", cast, class, got, share)
			}
		}
		if math.Abs(sum-1) > 1e-9 || !strings.HasPrefix(m.ClassRule, "bare: not more than ") {
			t.Errorf("shares add up to %v; %q", sum, m.ClassRule)
		}
		if bare := shareOf(m, classBare); math.Abs(bare-(1-m.Coverage.Value)) > 1e-9 {
			t.Errorf("bare %.4f, but coverage %.4f", bare, m.Coverage.Value)
		}
	}
}

// Spots on bare metal: their blurred rims belong to the metal and the spots'
// class, not to a class between them.
func TestEdgesMakeNoClassOfTheirOwn(t *testing.T) {
	s := desk(spotted(0.3))
	s.bare, s.bareRGB = &studio.Rect{X: 520, Y: 250, W: 90, H: 90}, copperish
	m := measured(t, s.take(t), s.marks())
	if got := shareOf(m, classBrown) + shareOf(m, classBlue) + shareOf(m, classViolet); got > 0.002 {
		t.Errorf("%.4f in classes that were not drawn: %v", got, m.Classes)
	}
	if got := shareOf(m, classGreen); math.Abs(got-innerShare(0.3)) > 0.01 {
		t.Errorf("green %.3f, drawn %.3f", got, innerShare(0.3))
	}
}

func TestUnshownBareMetalIsSaidInTheRule(t *testing.T) {
	s := desk(spotted(0.3))
	m := measured(t, s.take(t), s.marks())
	if shareOf(m, classBare) != 0 || shareOf(m, classBrown) < 0.6 || !strings.Contains(m.ClassRule, "no bare metal was shown") {
		t.Errorf("%v, %q", m.Classes, m.ClassRule)
	}
	grey := desk(flat([3]float64{0.3, 0.3, 0.3}))
	if m := measured(t, grey.take(t), grey.marks()); !anyHas(m.Warnings, "nearly grey") {
		t.Errorf("a grey face: %q", m.Warnings)
	}
}

// Every colour has a class, and a slightly lighter or duller one of the same hue
// keeps it unless it crosses into nearly black.
func TestEveryColourHasAClass(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		draw := func(name string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(r, name) }
		lab := colour.Lab{L: draw("L", 0, 100), A: draw("a", -120, 120), B: draw("b", -120, 120)}
		class := classOf(lab)
		if class == classBare || !strings.Contains(strings.Join(classNames, " "), class) {
			r.Fatalf("%v is %q", lab, class)
		}
		lighter := colour.Lab{L: math.Min(100, lab.L+draw("more", 0, 30)), A: lab.A, B: lab.B}
		if class != classViolet && classOf(lighter) != class {
			r.Fatalf("%v is %s, %v is %s", lab, class, lighter, classOf(lighter))
		}
	})
}
