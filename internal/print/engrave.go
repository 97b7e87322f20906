package print

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"fmt"
	"strconv"
	"strings"

	"aerugo/internal/studio"
)

// A Mark is one text to be stamped, scribed or engraved into metal. Mirror turns it
// about its upright middle, as for what is struck from the back and read at the front.
// About says what it is for, in the lists.
type Mark struct {
	Text   string
	Mirror bool
	About  string
}

// EngravingHeights are the heights of letters offered, in mm.
var EngravingHeights = []float64{2, 3, 5}

// The grid a letter is drawn on, and how far the next one begins.
const (
	letterWide = 4
	letterHigh = 6
	letterStep = 6
)

// strokes are our own letters for a point that scribes, a chisel or a laser: lines only,
// on a grid 4 wide and 6 high from the lower left. Lines are parted by spaces; each is a
// run of points of two digits, across and up. Zero has a bar and seven a dash, so that
// neither is taken for a letter or for one.
var strokes = map[rune]string{
	'0': "103041453616050110 1135", '1': "052620 1030", '2': "05163645440040", '3': "05163645443323 334241301001", '4': "30360242",
	'5': "4606033342413000", '6': "4536160501103041423303", '7': "064610 1333", '8': "13040516364544331302011030414233", '9': "0110304145361605041343",
	'A': "002640 1232", 'B': "00063645443303 3342413000", 'C': "4536160501103041", 'D': "00062644422000", 'E': "46060040 0333", 'F': "460600 0333",
	'G': "45361605011030414323", 'H': "0006 4046 0343", 'I': "2026 1030 1636", 'J': "4641301001", 'K': "0006 460340", 'L': "060040",
	'M': "0006234640", 'N': "00064046", 'O': "103041453616050110", 'P': "00063645443303", 'Q': "103041453616050110 2240", 'R': "00063645443303 2340",
	'S': "453616050413334241301001", 'T': "0646 2026", 'U': "060110304146", 'V': "062046", 'W': "0610233046", 'X': "0046 0640", 'Y': "062346 2320", 'Z': "06460040",
	'-': "1333", '/': "0046", '.': "2021", '#': "1016 3036 0242 0444", ' ': "",
}

// A polyline is a line through points, in mm from the lower left of its text.
type polyline [][2]float64

// strokes returns the lines of a text in letters high mm high, from its lower left, and
// how wide it is. Small letters become capitals; a sign that can't be drawn is a Problem.
func (m Mark) strokes(high float64) (lines []polyline, wide float64, err error) {
	text := []rune(strings.ToUpper(strings.TrimSpace(m.Text)))
	if len(text) == 0 || len(text) > 40 {
		return nil, 0, studio.Problemf(studio.Invalid, "text", "A mark has from 1 to 40 signs; %q has %d.", m.Text, len(text))
	}
	unit := high / letterHigh
	wide = float64((len(text)-1)*letterStep+letterWide) * unit
	for i, r := range text {
		drawn, ok := strokes[r]
		if !ok {
			return nil, 0, studio.Problemf(studio.Invalid, "text", "%q can't be engraved; the signs are A to Z, 0 to 9, - / . and #.", string(r))
		}
		for _, run := range strings.Fields(drawn) {
			var line polyline
			for k := 0; k+1 < len(run); k += 2 {
				x := (float64(i*letterStep) + float64(run[k]-'0')) * unit
				if m.Mirror {
					x = wide - x
				}
				line = append(line, [2]float64{x, float64(run[k+1]-'0') * unit})
			}
			lines = append(lines, line)
		}
	}
	return lines, wide, nil
}

// EngravingText lists the marks, one a line.
func EngravingText(marks []Mark) string {
	var b strings.Builder
	for _, m := range marks {
		b.WriteString(m.Text + "\n")
	}
	return b.String()
}

// EngravingCSV lists the marks as CSV by RFC 4180: text, whether it is mirrored, what it
// is for. A text that a spreadsheet would take for a formula has an apostrophe before it.
func EngravingCSV(marks []Mark) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	safe := func(s string) string {
		if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
			return "'" + s
		}
		return s
	}
	_ = w.Write([]string{"text", "mirrored", "for"}) // a buffer does not fail
	for _, m := range marks {
		_ = w.Write([]string{safe(m.Text), map[bool]string{true: "yes", false: "no"}[m.Mirror], safe(m.About)})
	}
	w.Flush()
	return b.Bytes()
}

// EngravingSVG draws the marks one below the other in letters highMM high, 1 to 20, as
// lines without width: an SVG (1.1) whose unit is the millimetre. Each mark is a group
// named by what it is for.
func EngravingSVG(marks []Mark, highMM float64) ([]byte, error) {
	if !(highMM >= 1 && highMM <= 20) {
		return nil, studio.Problemf(studio.Invalid, "high", "Letters %v mm high can't be engraved; choose from 1 to 20 mm.", highMM)
	}
	if len(marks) == 0 {
		return nil, studio.Problemf(studio.Invalid, "marks", "There is nothing to engrave; choose at least one swatch.")
	}
	const margin = 2.0
	step := highMM * 2
	wide := 0.0
	var body strings.Builder
	number := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	round := func(v float64) string { return number(float64(int(v*1000+0.5)) / 1000) }
	for i, m := range marks {
		lines, w, err := m.strokes(highMM)
		if err != nil {
			return nil, err
		}
		wide = max(wide, w)
		var title bytes.Buffer
		if err := xml.EscapeText(&title, []byte(strings.TrimSpace(m.Text+" "+m.About))); err != nil {
			return nil, fmt.Errorf("write title of mark %s: %w", m.Text, err)
		}
		base := margin + float64(i)*step + highMM
		fmt.Fprintf(&body, "<g id=\"mark-%d\"><title>%s</title>\n", i+1, title.String())
		for _, l := range lines {
			var d strings.Builder
			for k, p := range l {
				d.WriteString(map[bool]string{true: "M", false: " L"}[k == 0] + round(margin+p[0]) + " " + round(base-p[1]))
			}
			fmt.Fprintf(&body, "<path d=\"%s\"/>\n", d.String())
		}
		body.WriteString("</g>\n")
	}
	w, h := wide+2*margin, 2*margin+float64(len(marks)-1)*step+highMM
	var out bytes.Buffer
	fmt.Fprintf(&out, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%smm\" height=\"%smm\" viewBox=\"0 0 %s %s\" fill=\"none\" stroke=\"#000\" stroke-width=\"0.1\" stroke-linecap=\"round\" stroke-linejoin=\"round\">\n", round(w), round(h), round(w), round(h))
	out.WriteString(body.String())
	out.WriteString("</svg>\n")
	return out.Bytes(), nil
}
