package form

import (
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"aerugo/internal/studio"
	"pgregory.net/rapid"
)

func file(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// table reads a table of testdata: comment lines begin with #, the first other line
// names the columns.
func table(t testing.TB, name, sep string) []map[string]string {
	t.Helper()
	var head []string
	var out []map[string]string
	for line := range strings.Lines(string(file(t, name))) {
		line = strings.TrimRight(line, "\r\n")
		if strings.HasPrefix(line, "#") || line == "" {
			continue
		}
		f := strings.Split(line, sep)
		if head == nil {
			head = f
			continue
		}
		m := map[string]string{}
		for i, h := range head {
			m[h] = f[i]
		}
		out = append(out, m)
	}
	return out
}

func number(t testing.TB, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// mm wraps shapes into a drawing whose unit is a millimetre.
func mm(shapes string) []byte {
	return []byte(`<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="400mm" height="400mm" viewBox="0 0 400 400">` + shapes + `</svg>`)
}

func outline(t testing.TB, data []byte, opt DrawingOptions) Outline {
	t.Helper()
	o, err := ReadSVG(data, opt)
	if err != nil {
		t.Fatalf("%s: %v", cut(string(data)), err)
	}
	return o
}

// Areas and lengths of path data against svgelements and shapely; testdata/svgpath.tsv
// names them.
func TestPathsMeetTheReferenceLibrary(t *testing.T) {
	for _, r := range table(t, "svgpath.tsv", "\t") {
		o := outline(t, mm(`<path d="`+r["path"]+`"/>`), DrawingOptions{})
		if !alike(o.AreaMM2, number(t, r["area"]), 1e-4) || !alike(o.EdgeMM, number(t, r["length"]), 1e-4) {
			t.Errorf("%s: area %v, edge %v; want %s, %s", r["name"], o.AreaMM2, o.EdgeMM, r["area"], r["length"])
		}
		if len(o.Loops) != 1 || o.Holes != 0 || o.Assumed {
			t.Errorf("%s: %d loops, %d holes, assumed %v", r["name"], len(o.Loops), o.Holes, o.Assumed)
		}
	}
}

// Closed formulas: the shapes of SVG 1.1, chapter 9, a rounded rectangle less
// (4 - pi) r² of its corners (from memory).
func TestBasicShapesMeetTheClosedFormulas(t *testing.T) {
	tests := []struct {
		name, svg  string
		area, edge float64
		holes      int
	}{
		{"rect", `<rect x="10" y="10" width="50" height="30"/>`, 1500, 160, 0},
		{"rounded", `<rect x="10" y="10" width="50" height="30" rx="5"/>`, 1500 - (4-math.Pi)*25, 160 - 40 + 10*math.Pi, 0},
		{"circle", `<circle cx="100" cy="100" r="50"/>`, 2500 * math.Pi, 100 * math.Pi, 0},
		{"tiny circle", `<circle cx="100" cy="100" r="2.5"/>`, 6.25 * math.Pi, 5 * math.Pi, 0},
		{"ellipse", `<ellipse cx="100" cy="100" rx="50" ry="20"/>`, 1000 * math.Pi, 230.1312, 0}, // perimeter: Ramanujan's second formula
		{"triangle", `<polygon points="0,0 30,0 0,40"/>`, 600, 120, 0},
		{"polyline closes as painted", `<polyline points="0,0 30,0 0,40"/>`, 600, 120, 0},
		{"ring by even-odd", `<path fill-rule="evenodd" d="M0 0H40V40H0zM10 10H30V30H10z"/>`, 1200, 240, 1},
		{"nonzero, same way: no hole", `<path d="M0 0H40V40H0zM10 10H30V30H10z"/>`, 1600, 160, 0},
		{"nonzero, other way: a hole", `<path d="M0 0H40V40H0zM10 10V30H30V10z"/>`, 1200, 240, 1},
		{"two painted shapes overlap", `<rect width="20" height="20"/><rect x="10" width="20" height="20"/>`, 600, 100, 0},
		{"two shapes side by side share an edge", `<rect width="20" height="20"/><rect x="20" width="20" height="20"/>`, 800, 120, 0},
		{"white over black", `<rect width="20" height="20"/><circle fill="#FFF" cx="10" cy="10" r="5"/>`, 400 - 25*math.Pi, 80 + 10*math.Pi, 1},
		{"cut lines: inner is a hole", `<g fill="none" stroke="red"><rect width="20" height="20"/><circle cx="10" cy="10" r="5"/></g>`, 400 - 25*math.Pi, 80 + 10*math.Pi, 1},
		{"an island in a hole", `<g style="fill:none;stroke:#000"><circle cx="50" cy="50" r="40"/><circle cx="50" cy="50" r="30"/><circle cx="50" cy="50" r="10"/></g>`, 800 * math.Pi, 160 * math.Pi, 1},
		{"cut lines drawn twice", `<g fill="none" stroke="red"><rect width="20" height="20"/><rect width="20" height="20"/></g>`, 400, 80, 0},
		{"lines joined into a square", `<g fill="none" stroke="#000"><path d="M0 0H20"/><path d="M20 20V0.01"/><polyline points="0,0 0,20.02"/><line x1="0" y1="20" x2="20" y2="20"/></g>`, 400, 80, 0},
		{"bow tie", `<path d="M0 0L20 20V0L0 20z"/>`, 200, 2*20 + 4*math.Hypot(10, 10), 0},
		{"inches in a nested group", `<g transform="scale(25.4)"><g transform="rotate(30) translate(1,1)"><rect width="2" height="1"/></g></g>`, 2 * 645.16, 6 * 25.4, 0},
		{"matrix shears", `<rect width="10" height="10" transform="matrix(1 0 5 1 0 0)"/>`, 100, 20 + 20*math.Hypot(1, 5), 0},
	}
	for _, tt := range tests {
		o := outline(t, mm(tt.svg), DrawingOptions{})
		if !alike(o.AreaMM2, tt.area, 5e-4) || !alike(o.EdgeMM, tt.edge, 1e-3) || o.Holes != tt.holes {
			t.Errorf("%s: area %v, edge %v, %d holes; want %v, %v, %d (%v)", tt.name, o.AreaMM2, o.EdgeMM, o.Holes, tt.area, tt.edge, tt.holes, o.Notes)
		}
	}
}

// The whole of a drawing with clones, symbols, skews, both fill rules, a style sheet
// and a nested view, against how Chromium 156 paints it at 20 pixels a millimetre:
// its dark pixels are 7755.59 mm².
func TestDrawingMeetsWhatABrowserPaints(t *testing.T) {
	o := outline(t, file(t, "painted.svg"), DrawingOptions{})
	if !alike(o.AreaMM2, 7755.59, 1e-3) {
		t.Errorf("area %v, want 7755.59 (%v)", o.AreaMM2, o.Notes)
	}
}

// CSS Values and Units Module Level 3, section 6.2: 96 px, 72 pt, 6 pc, 2.54 cm and
// 101.6 q an inch.
func TestUnitsOfDrawings(t *testing.T) {
	for _, size := range []string{"1in", "96px", "72pt", "6pc", "2.54cm", "25.4mm", "101.6q", "96"} {
		data := []byte(`<svg width="` + size + `" height="` + size + `" viewBox="0 0 10 10"><rect width="10" height="10"/></svg>`)
		if o := outline(t, data, DrawingOptions{}); !alike(o.AreaMM2, 645.16, 1e-9) || o.Assumed != strings.HasPrefix(size, "96") {
			t.Errorf("%s: %v mm², assumed %v", size, o.AreaMM2, o.Assumed)
		}
	}
	rect := `<rect width="10" height="5"/></svg>`
	for _, tt := range []struct {
		head    string
		want    float64
		unit    float64
		assumed bool
	}{
		{`<svg viewBox="0 0 10 10">`, 50 * sq(25.4/96), 0, true},
		{`<svg viewBox="0 0 10 10" width="100%" height="100%">`, 50 * sq(25.4/96), 0, true},
		{`<svg width="100mm" viewBox="0 0 10 20">`, 5000, 0, false},
		{`<svg width="100mm" height="100mm" viewBox="0 0 10 20">`, 1250, 0, false}, // the smaller scale, 5
		{`<svg width="100mm" height="100mm" viewBox="0 0 10 20" preserveAspectRatio="none">`, 2500, 0, false},
		{`<svg width="100mm" height="100mm" viewBox="0 0 10 20">`, 50 * 4, 2, false},
	} {
		if o := outline(t, []byte(tt.head+rect), DrawingOptions{UnitMM: tt.unit}); !alike(o.AreaMM2, tt.want, 1e-9) || o.Assumed != tt.assumed {
			t.Errorf("%s: %v mm², want %v, assumed %v", tt.head, o.AreaMM2, tt.want, o.Assumed)
		}
	}
}

func TestOpenLinesAreToldWithTheirPlace(t *testing.T) {
	o := outline(t, mm(`<g fill="none" stroke="#000"><rect width="50" height="50"/><path d="M100 100 H120 V120 L100 104"/></g>`), DrawingOptions{})
	if len(o.Open) != 1 || !alike(o.Open[0].MissMM, 4, 1e-9) || o.Open[0].At != (Point{100, 100}) || !strings.Contains(o.Open[0].String(), "100.00, 100.00") {
		t.Errorf("open: %v", o.Open)
	}
	o = outline(t, mm(`<g fill="none" stroke="#000"><rect width="50" height="50"/><path d="M100 100 H120 V120 L100 104"/></g>`), DrawingOptions{JoinMM: 5})
	if len(o.Open) != 0 || !alike(o.AreaMM2, 2500+(20*20-20*16/2), 1e-9) {
		t.Errorf("joined over 5 mm: %v, %v", o.AreaMM2, o.Open)
	}
	o, err := ReadDXF(file(t, "gap.dxf"), DrawingOptions{})
	if err != nil || len(o.Open) != 1 || !alike(o.Open[0].MissMM, 4, 1e-9) || len(o.Notes) != 1 || !strings.Contains(o.Notes[0], "1 of the kind TEXT") {
		t.Errorf("gap.dxf: %v, %v, %v", o.Open, o.Notes, err)
	}
}

// Drawings by another writer of DXF, R12 to R2018, against its own flattening and
// shapely; testdata/dxf.csv names them.
func TestDXFMeetsTheReferenceLibrary(t *testing.T) {
	for _, r := range table(t, "dxf.csv", ",") {
		o, err := ReadDXF(file(t, r["file"]), DrawingOptions{})
		if err != nil {
			t.Errorf("%s: %v", r["file"], err)
			continue
		}
		if !alike(o.AreaMM2, number(t, r["area_mm2"]), 1e-4) || fmt.Sprint(o.Holes) != r["holes"] {
			t.Errorf("%s: area %v, %d holes; want %s, %s (%v %v)", r["file"], o.AreaMM2, o.Holes, r["area_mm2"], r["holes"], o.Notes, o.Open)
		}
		if edge := number(t, r["edge_mm"]); edge > 0 && !alike(o.EdgeMM, edge, 1e-4) {
			t.Errorf("%s: edge %v, want %v", r["file"], o.EdgeMM, edge)
		}
	}
}

// dxf makes a minimal drawing of entities.
func dxf(unit int, entities string) []byte {
	head := ""
	if unit > 0 {
		head = fmt.Sprintf("0\nSECTION\n2\nHEADER\n9\n$INSUNITS\n70\n%d\n0\nENDSEC\n", unit)
	}
	return []byte(head + "0\nSECTION\n2\nENTITIES\n" + entities + "0\nENDSEC\n0\nEOF\n")
}

func TestDXFUnitsAndCircles(t *testing.T) {
	circle := "0\nCIRCLE\n10\n5\n20\n5\n40\n2\n"
	for unit, mm := range map[int]float64{0: 1, 1: 25.4, 2: 304.8, 4: 1, 5: 10, 6: 1000} {
		o, err := ReadDXF(dxf(unit, circle), DrawingOptions{})
		if err != nil || !alike(o.AreaMM2, 4*math.Pi*mm*mm, 1e-3) || o.Assumed != (unit == 0) {
			t.Errorf("unit %d: %v, %v, assumed %v", unit, o.AreaMM2, err, o.Assumed)
		}
	}
	o, err := ReadDXF(dxf(1, strings.ReplaceAll(circle, "\n", "\r\n")), DrawingOptions{UnitMM: 10})
	if err != nil || !alike(o.AreaMM2, 400*math.Pi, 1e-3) || o.Assumed {
		t.Errorf("given unit: %v, %v", o.AreaMM2, err)
	}
	// a semicircular bulge of 1 (DXF Reference: the tangent of a quarter of the angle)
	o, err = ReadDXF(dxf(4, "0\nLWPOLYLINE\n90\n2\n70\n1\n10\n0\n20\n0\n42\n1\n10\n10\n20\n0\n42\n1\n"), DrawingOptions{})
	if err != nil || !alike(o.AreaMM2, 25*math.Pi, 1e-3) {
		t.Errorf("two half circles: %v, %v", o.AreaMM2, err)
	}
}

func TestDrawingsThatCannotBeReadAreRefused(t *testing.T) {
	bomb := `<!DOCTYPE svg [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]><svg><path d="&b;"/></svg>`
	var clones strings.Builder // each group holds the one before ten times
	clones.WriteString(`<g id="g0"><rect width="1" height="1"/></g>`)
	for i := 1; i < 12; i++ {
		fmt.Fprintf(&clones, `<g id="g%d">%s</g>`, i, strings.Repeat(fmt.Sprintf(`<use href="#g%d"/>`, i-1), 10))
	}
	for name, svg := range map[string]string{
		"empty": "", "text": "hello", "another": "<html></html>", "cut off": `<svg><path d="M0 0H10V10z"/>`, "mismatch": `<svg><g></svg></g>`,
		"entities": bomb, "script": `<svg><script>1</script><rect width="1" height="1"/></svg>`, "handler": `<svg onload="x()"><rect width="1" height="1"/></svg>`,
		"foreign": `<svg><foreignObject/></svg>`, "other file": `<svg><use href="other.svg#a"/></svg>`, "picture": `<svg><image href="http://example.org/a.png"/></svg>`,
		"nothing": `<svg></svg>`, "open": `<svg><path fill="none" stroke="red" d="M0 0H10"/></svg>`, "flat": `<svg><path d="M0 0H10H20z"/></svg>`,
		"far": `<svg><rect x="1e11" width="10" height="10"/></svg>`, "clones": `<svg>` + clones.String() + `</svg>`,
		"itself": `<svg><g id="a"><use href="#a"/></g></svg>`, "deep": strings.Repeat("<svg>", 100) + strings.Repeat("</svg>", 100),
		"many comments in the style": `<svg><style>` + strings.Repeat("a<!-- -->/**/", 200000) + `</style></svg>`,
		"letters":                    `<?xml version="1.0" encoding="UTF-7"?><svg/>`,
	} {
		if o, err := ReadSVG([]byte(svg), DrawingOptions{}); studio.ProblemIn(err) == nil {
			t.Errorf("%s: area %v, %v; want a problem", name, o.AreaMM2, err)
		}
	}
	for name, data := range map[string]string{
		"empty": "", "text": "hello\nworld\n", "binary": "AutoCAD Binary DXF\r\n\x1a\x00", "cut off": "0\nSECTION\n2", "no section": "0\nLINE\n",
		"nothing": string(dxf(4, "")), "line": string(dxf(4, "0\nLINE\n10\n0\n20\n0\n11\n5\n21\n5\n")), "block of itself": "0\nSECTION\n2\nBLOCKS\n0\nBLOCK\n2\nA\n0\nINSERT\n2\nA\n70\n9999\n71\n9999\n0\nENDBLK\n0\nENDSEC\n" + string(dxf(4, "0\nINSERT\n2\nA\n")),
		"no number": string(dxf(4, "0\nCIRCLE\n10\nx\n20\n0\n40\n1\n")),
	} {
		if o, err := ReadDXF([]byte(data), DrawingOptions{}); studio.ProblemIn(err) == nil {
			t.Errorf("%s: area %v, %v; want a problem", name, o.AreaMM2, err)
		}
	}
	for _, opt := range []DrawingOptions{{JoinMM: -1}, {JoinMM: math.NaN()}, {UnitMM: -1}, {UnitMM: math.Inf(1)}} {
		if _, err := ReadSVG(mm(`<circle r="5"/>`), opt); studio.ProblemIn(err) == nil {
			t.Errorf("%+v: %v; want a problem", opt, err)
		}
	}
}

func TestWhatIsNotMeasuredIsNoted(t *testing.T) {
	o := outline(t, mm(`<rect width="10" height="10"/><text>A</text><image href="data:image/png;base64,AA"/><rect width="5" height="5" fill="none"/><g clip-path="url(#c)"/><path d="M20 20H30V30L20 24"/>`), DrawingOptions{})
	if len(o.Notes) != 5 {
		t.Errorf("notes: %q", o.Notes)
	}
}

// The area and the cut edge of a drawing stay as they are however it is turned,
// moved and mirrored, and go with the square and the size of a scale.
func TestOutlineIsTheSameTurnedAndScaled(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 4).Draw(t, "shapes")
		var b strings.Builder
		for range n {
			// whole numbers: a spike a millionth of a millimetre wide may or may not count as edge
			f := func(lo, hi int) float64 { return float64(rapid.IntRange(lo, hi).Draw(t, "v")) }
			fill := rapid.SampledFrom([]string{"black", "white", "#333"}).Draw(t, "fill")
			switch rapid.IntRange(0, 2).Draw(t, "kind") {
			case 0:
				fmt.Fprintf(&b, `<rect fill="%s" x="%f" y="%f" width="%f" height="%f"/>`, fill, f(0, 50), f(0, 50), f(5, 50), f(5, 50))
			case 1:
				fmt.Fprintf(&b, `<circle fill="%s" cx="%f" cy="%f" r="%f"/>`, fill, f(0, 50), f(0, 50), f(5, 30))
			default:
				fmt.Fprintf(&b, `<path fill="%s" fill-rule="evenodd" d="M%f %fL%f %fL%f %fL%f %fL%f %fz"/>`, fill, f(0, 80), f(0, 80), f(0, 80), f(0, 80), f(0, 80), f(0, 80), f(0, 80), f(0, 80), f(0, 80), f(0, 80))
			}
		}
		plain, err := ReadSVG(mm(b.String()), DrawingOptions{})
		if err != nil {
			return // all of it is white
		}
		turn := rapid.Float64Range(0, 360).Draw(t, "turn")
		k := rapid.Float64Range(0.5, 3).Draw(t, "scale")
		moved, err := ReadSVG(mm(fmt.Sprintf(`<g transform="translate(30 -70) rotate(%f) scale(%f -%f)">%s</g>`, turn, k, k, b.String())), DrawingOptions{})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(moved.AreaMM2-k*k*plain.AreaMM2) > 1e-3*k*k*plain.AreaMM2+0.01 || math.Abs(moved.EdgeMM-k*plain.EdgeMM) > 2e-3*k*plain.EdgeMM+0.01 {
			t.Fatalf("area %v becomes %v, edge %v becomes %v by scale %v", plain.AreaMM2, moved.AreaMM2, plain.EdgeMM, moved.EdgeMM, k)
		}
		scaled, err := plain.Scaled(k)
		if err != nil || !alike(scaled.AreaMM2, k*k*plain.AreaMM2, 1e-12) || !alike(scaled.Box.Width(), k*plain.Box.Width(), 1e-12) {
			t.Fatalf("scaled: %v, %v", scaled.AreaMM2, err)
		}
	})
}

// Inclusion and exclusion: of two random polygons painted together, the union's area
// and the even-odd area add up with the overlap to the sum of both.
func TestPaintsAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		path := func(name string) string {
			n := rapid.IntRange(3, 9).Draw(t, name)
			var b strings.Builder
			for i := range n {
				fmt.Fprintf(&b, "%s%f %f", []string{"L", "M"}[map[bool]int{true: 1}[i == 0]], rapid.Float64Range(0, 100).Draw(t, "x"), rapid.Float64Range(0, 100).Draw(t, "y"))
			}
			return b.String() + "z"
		}
		a, b := path("a"), path("b")
		area := func(svg string) float64 {
			o, err := ReadSVG(mm(svg), DrawingOptions{})
			if err != nil {
				return 0
			}
			return o.AreaMM2
		}
		one := func(d string) string { return `<path fill-rule="evenodd" d="` + d + `"/>` }
		both := area(one(a) + one(b))                                                     // in a or b
		aNotB := area(one(a) + strings.Replace(one(b), "<path", `<path fill="white"`, 1)) // in a, not in b
		odd := area(one(a + b))                                                           // in one of them only
		bNotA := both - area(one(a))
		if math.Abs(aNotB+bNotA-odd) > 1e-3 {
			t.Fatalf("a less b %v and b less a %v make %v, want %v", aNotB, bNotA, aNotB+bNotA, odd)
		}
	})
}

// 2000 slits crossing 2000 slits are 4 million crossings: measured or refused, but soon.
func TestHatchingIsBounded(t *testing.T) {
	var b strings.Builder
	for i := range 1000 {
		fmt.Fprintf(&b, "M%d 0L%d 1000h.1L%d 0zM0 %dL1000 %dv.1L0 %dz", i, 999-i, i, i, 999-i, i)
	}
	_, err := ReadSVG(mm(`<path d="`+b.String()+`"/>`), DrawingOptions{})
	if p := studio.ProblemIn(err); p == nil || !strings.Contains(p.Text, "intricate") {
		t.Errorf("hatching: %v; want to be told that it is too intricate", err)
	}
}

func TestOutlineIsCutFromSheet(t *testing.T) {
	o := outline(t, mm(`<path fill-rule="evenodd" d="M0 0H40V40H0zM10 10H30V30H10z"/>`), DrawingOptions{})
	s, err := o.Surfaces(0.5)
	if err != nil || !alike(s.OutsideMM2, 1200, 1e-9) || !alike(s.EdgeMM2, 120, 1e-9) || s.Blank.LengthMM != 40 {
		t.Errorf("%+v, %v", s, err)
	}
	if !slices.ContainsFunc(o.Loops, func(l Loop) bool { return l.Hole && alike(l.AreaMM2, 400, 1e-9) }) {
		t.Errorf("loops: %+v", o.Loops)
	}
	if _, err := o.Surfaces(-1); studio.ProblemIn(err) == nil {
		t.Errorf("negative thickness: %v", err)
	}
}

func FuzzReadSVG(f *testing.F) {
	f.Add(file(f, "painted.svg"))
	f.Add(mm(`<path d="M1.5.5 31.5.5-.5 30.5z"/><g transform="rotate(3)" fill="none" stroke="red"><line x2="5"/></g>`))
	f.Fuzz(func(t *testing.T, data []byte) {
		o, err := ReadSVG(data, DrawingOptions{})
		holds(t, o, err)
	})
}

func FuzzReadDXF(f *testing.F) {
	f.Add(file(f, "plate_r12.dxf"))
	f.Add(append([]byte("0\nSECTION\n2\nBLOCKS\n0\nBLOCK\n2\nA\n0\nCIRCLE\n10\n1\n20\n2\n40\n3\n0\nENDBLK\n0\nENDSEC\n"), dxf(4, "0\nINSERT\n2\nA\n41\n2\n70\n2\n44\n50\n")...))
	f.Add(dxf(4, "0\nARC\n10\n0\n20\n0\n40\n5\n50\n0\n51\n180\n0\nLINE\n10\n-5\n20\n0\n11\n5\n21\n0\n0\nSPLINE\n71\n1\n40\n0\n40\n0\n40\n1\n40\n1\n10\n0\n20\n0\n10\n1\n20\n1\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		o, err := ReadDXF(data, DrawingOptions{})
		holds(t, o, err)
	})
}

// holds checks what must be true of any outline, whatever was read.
func holds(t *testing.T, o Outline, err error) {
	t.Helper()
	if err != nil {
		if studio.ProblemIn(err) == nil {
			t.Fatalf("not a problem for a person: %v", err)
		}
		return
	}
	if box := o.Box.Width() * o.Box.Height(); !(o.AreaMM2 > 0 && o.AreaMM2 <= box*(1+1e-6)+1e-9) || math.IsNaN(o.EdgeMM) || len(o.Loops) == 0 {
		t.Fatalf("area %v in a box of %v, edge %v, %d loops", o.AreaMM2, box, o.EdgeMM, len(o.Loops))
	}
}
