package mat

import (
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing/datamatrix/decoder"
)

// Paper sizes: A4 by ISO 216, Letter by ANSI/ASME Y14.1 (8.5 x 11 inches).
func TestLayoutsAreOnTheirPaper(t *testing.T) {
	want := map[string][2]float64{"A4": {210, 297}, "Letter": {215.9, 279.4}}
	if len(Layouts) != 4 {
		t.Fatalf("there are %d layouts", len(Layouts))
	}
	for _, l := range Layouts {
		if w := want[l.Paper]; l.Page.W != w[0] || l.Page.H != w[1] {
			t.Errorf("%s is %v", l.Name(), l.Page)
		}
		if got, ok := LayoutOf(l.Paper, l.Kind); !ok || got.Name() != l.Name() {
			t.Errorf("LayoutOf(%q, %d) is %q", l.Paper, l.Kind, got.Name())
		}
		if l.Ruler.W != RulerMM {
			t.Errorf("%s: the ruler is %.1f mm", l.Name(), l.Ruler.W)
		}
		for _, s := range l.Swatches {
			if s.W < l.MaxSwatch+2 || s.H < l.MaxSwatch+2 {
				t.Errorf("%s: a swatch of %.0f mm has no white around it", l.Name(), l.MaxSwatch)
			}
		}
	}
	if _, ok := LayoutOf("A3", OneSwatch); ok {
		t.Error("there is no A3 mat")
	}
}

func TestNothingOnTheMatOverlaps(t *testing.T) {
	for _, l := range Layouts {
		all := map[string]Area{"grey card": l.Grey, "target": l.Target, "ruler": l.Ruler, "bar": l.Bar, "head": l.Head, "words": l.Words}
		for i, m := range l.Marks {
			all["mark "+cornerNames[i]] = m.Inset(-2) // the frame needs white around it
		}
		for i, a := range l.Fields {
			all["field "+string(rune('1'+i))] = a
		}
		for i, a := range l.Labels {
			all["label "+string(rune('1'+i))] = a
		}
		for i, a := range l.Swatches {
			all["swatch "+string(rune('1'+i))] = a
		}
		for n, a := range all {
			if a.W <= 0 || a.H <= 0 || a.X < 6-1e-9 || a.Y < 6-1e-9 || a.X+a.W > l.Page.W-6+1e-9 || a.Y+a.H > l.Page.H-6+1e-9 {
				t.Errorf("%s: the %s leaves the page: %v", l.Name(), n, a)
			}
			for m, b := range all {
				if n < m && a.X < b.X+b.W-1e-9 && b.X < a.X+a.W-1e-9 && a.Y < b.Y+b.H-1e-9 && b.Y < a.Y+a.H-1e-9 {
					t.Errorf("%s: the %s lies on the %s", l.Name(), n, m)
				}
			}
		}
	}
}

// The ink of each mark must say its code to another library than the one that
// drew it (gozxing, a port of ZXing; ISO/IEC 16022), and no two marks the same.
func TestMarksSayWhatTheyAre(t *testing.T) {
	seen := map[string]bool{}
	for _, l := range Layouts {
		s := newSheet(t, l)
		for i, m := range l.Marks {
			grid := make([][]bool, modules)
			for y := range grid {
				for x := range modules {
					v := s.at(MM{m.X + codeInset + module*(float64(x)+0.5), m.Y + codeInset + module*(float64(y)+0.5)})
					grid[y] = append(grid[y], v < 0.5)
				}
			}
			r, err := decoder.NewDecoder().DecodeBoolMap(grid)
			if err != nil {
				t.Fatalf("%s, %s: %v", l.Name(), cornerNames[i], err)
			}
			text := r.GetText()
			if text != l.Code(i) || seen[text] || !strings.HasPrefix(text, "AM") {
				t.Errorf("%s, %s: the mark says %q", l.Name(), cornerNames[i], text)
			}
			seen[text] = true
			if back, corner, ok := readCode(text); !ok || back.Name() != l.Name() || corner != i {
				t.Errorf("%q reads as %s, corner %d", text, back.Name(), corner)
			}
		}
	}
	if _, _, ok := readCode("S0042F1"); ok {
		t.Error("a swatch's label is no mark")
	}
}
