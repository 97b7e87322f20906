package print

import (
	"fmt"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/text/unicode/norm"

	"aerugo/internal/fonts"
)

// mmPerPoint is one PostScript point in mm.
const mmPerPoint = 25.4 / 72

// How far letters reach from the baseline, and lines from each other, in sizes.
const (
	ascent   = 0.73
	descent  = 0.21
	lineStep = 1.24
)

// hair is how much longer than its cell a line may be: what sums of fractions
// are off by, in mm.
const hair = 1e-6

// missing is drawn for a character the type family does not have.
const missing = '□'

// A face is one weight of the family with its widths in thousandths of the size.
type face struct {
	file   []byte
	widths map[rune]int
}

// faces are the two weights, read once: regular, bold.
var faces = sync.OnceValue(func() [2]face {
	var out [2]face
	for i, file := range [][]byte{fonts.Regular, fonts.Bold} {
		f, err := sfnt.Parse(file)
		if err != nil {
			panic(fmt.Errorf("read the embedded font: %w", err))
		}
		out[i] = face{file: file, widths: map[rune]int{}}
		var buf sfnt.Buffer
		for r := rune(0x20); r <= 0xfffd; r++ {
			g, err := f.GlyphIndex(&buf, r)
			if err != nil || g == 0 {
				continue
			}
			a, err := f.GlyphAdvance(&buf, g, fixed.I(1000), font.HintingNone)
			if err != nil {
				continue
			}
			out[i].widths[r] = a.Round()
		}
	}
	return out
})

// A style is how a run of text is set. Size is in points; a line too long for
// its cell is set smaller down to Least (0: never) before it is shortened.
//
// Head, run and aloud are for those who can't read the sheet: a heading of level 1 to 3;
// a piece of one run of words, such as the numbers in a drawing; what is said in place of
// text that its place explains, such as a number alone. Own is for what a person wrote:
// it is in their language, whichever the sheet is in.
type style struct {
	size  float64
	least float64
	bold  bool
	grey  int // 0 black to 255 white
	align string
	head  int
	run   bool
	aloud string
	own   bool
}

func (s style) face() face {
	if s.bold {
		return faces()[1]
	}
	return faces()[0]
}

// line returns the height of one line in mm.
func (s style) line() float64 { return s.size * lineStep * mmPerPoint }

// width returns the length of text in mm.
func (s style) width(text string) float64 {
	f, sum := s.face(), 0
	for _, r := range text {
		sum += f.widths[r]
	}
	return float64(sum) / 1000 * s.size * mmPerPoint
}

// clean makes text safe to set: composed accents, single spaces, and a hollow
// square for each character the family lacks. What joins or tints characters
// without a shape of its own is dropped.
func clean(text string) string {
	widths := faces()[0].widths
	var b strings.Builder
	for _, r := range norm.NFC.String(text) {
		switch {
		case unicode.IsSpace(r):
			b.WriteByte(' ')
		case unicode.Is(unicode.Cc, r) || unicode.Is(unicode.Cf, r) || unicode.Is(unicode.Variation_Selector, r):
		case widths[r] > 0:
			b.WriteRune(r)
		case unicode.Is(unicode.Mn, r):
		default:
			b.WriteRune(missing)
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

// fit returns text and the style in which it takes at most w mm on one line.
func (s style) fit(text string, w float64) (string, style) {
	text = clean(text)
	full := s.width(text)
	if full <= w+hair {
		return text, s
	}
	if s.least > 0 && s.least < s.size {
		want := s.size * w / full
		s.size = max(s.least, float64(int(want*10))/10)
		if s.width(text) <= w+hair {
			return text, s
		}
	}
	return s.shorten(text, w), s
}

// shorten returns the longest beginning of text that fits w with an ellipsis.
func (s style) shorten(text string, w float64) string {
	if s.width(text) <= w+hair {
		return text
	}
	dots := s.width("…")
	if dots > w+hair {
		return ""
	}
	sum, end := dots, 0
	for i, r := range text {
		sum += s.width(string(r))
		if sum > w+hair {
			end = i
			break
		}
	}
	return strings.TrimRight(text[:end], " ,;·(") + "…"
}

// units are what stays on the line of the number before it.
var units = map[string]bool{"%": true, "mm": true, "cm": true, "mm²": true, "cm²": true, "m²": true, "m³": true, "g": true, "kg": true, "mL": true, "L": true, "°C": true,
	"s": true, "min": true, "h": true, "d": true, "ppm": true, "g/m²": true, "mL/m²": true, "oz/ft²": true}

// words parts text at its spaces, but keeps a number with its unit.
func (s style) words(text string, w float64) []string {
	parts := strings.Fields(clean(text))
	var out []string
	for i, part := range parts {
		if i > 0 && units[strings.TrimRight(part, ".,;:)")] && strings.ContainsAny(parts[i-1][len(parts[i-1])-1:], "0123456789") {
			if both := out[len(out)-1] + " " + part; s.width(both) <= w {
				out[len(out)-1] = both
				continue
			}
		}
		out = append(out, part)
	}
	return out
}

// wrap breaks text into lines of at most w mm: at spaces, and inside a word only
// when it is longer than a line.
func (s style) wrap(text string, w float64) []string {
	var lines []string
	current := ""
	for _, word := range s.words(text, w) {
		next := word
		if current != "" {
			next = current + " " + word
		}
		if s.width(next) <= w+hair {
			current = next
			continue
		}
		if current != "" {
			lines = append(lines, current)
		}
		for s.width(word) > w {
			runes := []rune(word)
			n := len(runes) - 1
			for n > 1 && s.width(string(runes[:n])) > w {
				n--
			}
			if n < 1 {
				break
			}
			lines = append(lines, string(runes[:n]))
			word = string(runes[n:])
		}
		current = word
	}
	if current != "" {
		lines = append(lines, current)
	}
	return lines
}

// wrapAtMost is wrap with at most n lines, the last one shortened.
func (s style) wrapAtMost(text string, w float64, n int) []string {
	lines := s.wrap(text, w)
	if len(lines) <= n {
		return lines
	}
	rest := strings.Join(lines[n-1:], " ")
	lines = lines[:n]
	lines[n-1] = s.shorten(rest, w)
	return lines
}
