package print

import (
	"encoding/csv"
	"encoding/xml"
	"io"
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/studio"
)

// The lines of every letter keep to the grid 4 wide and 6 high, and each is drawn.
func TestLettersKeepToTheirGrid(t *testing.T) {
	for r, drawn := range strokes {
		for _, run := range strings.Fields(drawn) {
			if len(run)%2 != 0 || len(run) < 4 {
				t.Errorf("%q has the line %q, which is no run of points", r, run)
				continue
			}
			for k := 0; k < len(run); k += 2 {
				if run[k] < '0' || run[k] > '4' || run[k+1] < '0' || run[k+1] > '6' {
					t.Errorf("%q leaves its grid at %s", r, run[k:k+2])
				}
			}
		}
	}
	for _, r := range "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-/.#" {
		if strokes[r] == "" {
			t.Errorf("%q can't be drawn", r)
		}
	}
	seen := map[string]rune{}
	for r, drawn := range strokes {
		if other, ok := seen[drawn]; ok {
			t.Errorf("%q and %q look the same", r, other)
		}
		seen[drawn] = r
	}
}

type svgFile struct {
	Width   string `xml:"width,attr"`
	Height  string `xml:"height,attr"`
	ViewBox string `xml:"viewBox,attr"`
	Groups  []struct {
		Title string `xml:"title"`
		Paths []struct {
			D string `xml:"d,attr"`
		} `xml:"path"`
	} `xml:"g"`
}

// points reads the absolute moves and lines of a path (SVG 1.1, 8.3).
func points(t complainer, d string) (out [][2]float64) {
	fields := strings.Fields(strings.NewReplacer("M", " ", "L", " ").Replace(d))
	for i := 0; i+1 < len(fields); i += 2 {
		x, err := strconv.ParseFloat(fields[i], 64)
		y, err2 := strconv.ParseFloat(fields[i+1], 64)
		if err != nil || err2 != nil {
			t.Errorf("the path %q has no numbers", d)
		}
		out = append(out, [2]float64{x, y})
	}
	return out
}

// The drawing is in mm, of the height asked for, inside its own edges; a mirrored mark is
// its own mirror picture.
func TestEngravingIsInMillimetres(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		text := rapid.StringMatching(`[0-9A-Za-z#./-]{1,12}`).Draw(rt, "text")
		high := rapid.SampledFrom(EngravingHeights).Draw(rt, "high")
		b, err := EngravingSVG([]Mark{{Text: text, About: "front & <back>"}, {Text: text, Mirror: true}}, high)
		if err != nil {
			rt.Fatal(err)
		}
		var f svgFile
		if err := xml.Unmarshal(b, &f); err != nil {
			rt.Fatal(err)
		}
		w, err := strconv.ParseFloat(strings.TrimSuffix(f.Width, "mm"), 64)
		h, err2 := strconv.ParseFloat(strings.TrimSuffix(f.Height, "mm"), 64)
		if err != nil || err2 != nil || f.ViewBox != "0 0 "+strings.TrimSuffix(f.Width, "mm")+" "+strings.TrimSuffix(f.Height, "mm") {
			rt.Fatalf("%s x %s with the view %s", f.Width, f.Height, f.ViewBox)
		}
		if len(f.Groups) != 2 || !strings.Contains(f.Groups[0].Title, "front & <back>") {
			rt.Fatalf("%d marks, the first named %q", len(f.Groups), f.Groups[0].Title)
		}
		for _, g := range f.Groups {
			for _, p := range g.Paths {
				for _, q := range points(rt, p.D) {
					if q[0] < 0 || q[0] > w || q[1] < 0 || q[1] > h {
						rt.Fatalf("%v lies outside %v x %v", q, w, h)
					}
				}
			}
		}
		one, wide, err := Mark{Text: text}.strokes(high)
		if err != nil {
			rt.Fatal(err)
		}
		two, _, _ := Mark{Text: text, Mirror: true}.strokes(high)
		for i, l := range one {
			for k, p := range l {
				if math.Abs(p[0]+two[i][k][0]-wide) > 1e-9 || p[1] != two[i][k][1] || p[1] < 0 || p[1] > high+1e-9 {
					rt.Fatalf("%v mirrors to %v in %v", p, two[i][k], wide)
				}
			}
		}
	})
	tall := func(text string) (low, top float64) {
		lines, _, err := Mark{Text: text}.strokes(5)
		if err != nil {
			t.Fatal(err)
		}
		low = 9
		for _, l := range lines {
			for _, p := range l {
				low, top = min(low, p[1]), max(top, p[1])
			}
		}
		return low, top
	}
	for r := '0'; r <= '9'; r++ {
		if low, top := tall(string(r)); low != 0 || math.Abs(top-5) > 1e-9 {
			t.Errorf("%q reaches from %v to %v mm, want 0 to 5", r, low, top)
		}
	}
}

func TestEngravingListsReadBack(t *testing.T) {
	marks := []Mark{{Text: "14F", About: "swatch 14, front"}, {Text: "14B", Mirror: true, About: "=swatch, \"14\""}, {Text: "-1", About: "x"}}
	if got := EngravingText(marks); got != "14F\n14B\n-1\n" {
		t.Errorf("the text is %q", got)
	}
	rows, err := csv.NewReader(strings.NewReader(string(EngravingCSV(marks)))).ReadAll()
	if err != nil && err != io.EOF {
		t.Fatal(err)
	}
	want := [][]string{{"text", "mirrored", "for"}, {"14F", "no", "swatch 14, front"}, {"14B", "yes", "'=swatch, \"14\""}, {"'-1", "no", "x"}}
	for i, row := range want {
		if i >= len(rows) || strings.Join(rows[i], "|") != strings.Join(row, "|") {
			t.Errorf("row %d of the list is %q, want %q", i, rows, row)
		}
	}
	for _, bad := range []Mark{{Text: "14é"}, {Text: " "}, {Text: strings.Repeat("1", 41)}} {
		if _, err := EngravingSVG([]Mark{bad}, 3); studio.ProblemIn(err) == nil {
			t.Errorf("%q: %v", bad.Text, err)
		}
	}
	for _, high := range []float64{0, 21, math.NaN()} {
		if _, err := EngravingSVG(marks[:1], high); studio.ProblemIn(err) == nil {
			t.Errorf("%v mm: %v", high, err)
		}
	}
	if _, err := EngravingSVG(nil, 3); studio.ProblemIn(err) == nil {
		t.Error("nothing was engraved")
	}
}
