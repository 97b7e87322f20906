package print

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"unicode/utf16"

	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"

	"aerugo/internal/fonts"
)

// The tests look at the file that was written, not at what the package meant to
// write: this is a small reader of the drawing commands (ISO 32000-1, annex A).

// A textRun is a piece of text in a page of a PDF: its ends in mm from the left,
// and top and bottom in mm from the top.
type textRun struct {
	text             string
	size             float64 // points
	bold             bool
	x0, x1, top, end float64
	ink              float64 // how light it is, 0 to 1, as a grey printer has it
}

// A filledBox is a rectangle that was painted, in mm from the top left.
type filledBox struct {
	box
	r, g, b float64
}

// A readPage is what stands on a page.
type readPage struct {
	w, h   float64 // mm
	texts  []textRun
	fills  []filledBox
	tints  [][3]float64 // every colour that was set
	images int
}

// all returns the page's text in drawing order, lines joined by a space.
func (p readPage) all() string {
	var parts []string
	for _, r := range p.texts {
		parts = append(parts, r.text)
	}
	return strings.Join(parts, " ")
}

var (
	objectHead = regexp.MustCompile(`(?m)^(\d+) 0 obj`)
	contentsOf = regexp.MustCompile(`/Contents (\d+) 0 R`)
	lengthOf   = regexp.MustCompile(`/Length (\d+)`)
	mediaBox   = regexp.MustCompile(`/MediaBox \[0 0 ([0-9.]+) ([0-9.]+)\]`)
	fontRef    = regexp.MustCompile(`/F([0-9a-f]{40}) (\d+) 0 R`)
)

// objects cuts a PDF into its numbered objects, with streams unpacked.
func objects(t testing.TB, pdf []byte) map[int]string {
	t.Helper()
	out := map[int]string{}
	for at := 0; ; {
		m := objectHead.FindSubmatchIndex(pdf[at:])
		if m == nil {
			return out
		}
		n, _ := strconv.Atoi(string(pdf[at+m[2] : at+m[3]]))
		body := pdf[at+m[1]:]
		end := bytes.Index(body, []byte("endobj"))
		head := body[:end]
		if s := bytes.Index(head, []byte("stream\n")); s >= 0 {
			head = head[:s]
			length, err := strconv.Atoi(string(lengthOf.FindSubmatch(head)[1]))
			if err != nil {
				t.Fatal(err)
			}
			data := body[s+len("stream\n"):][:length]
			end = s + len("stream\n") + length
			if bytes.Contains(head, []byte("/FlateDecode")) {
				r, err := zlib.NewReader(bytes.NewReader(data))
				if err != nil {
					t.Fatalf("object %d: %v", n, err)
				}
				if data, err = io.ReadAll(r); err != nil {
					t.Fatalf("object %d: %v", n, err)
				}
			}
			out[n] = string(lengthOf.ReplaceAll(head, nil)) + "stream\n" + string(data)
		} else {
			out[n] = string(head)
		}
		at += m[1] + end
	}
}

// measure returns the width of text at size in mm, read from the font file.
func measure(t testing.TB, text string, size float64, bold bool) float64 {
	t.Helper()
	sum := fixed.Int26_6(0)
	f := measures[bold]
	var buf sfnt.Buffer
	for _, r := range text {
		g, err := f.GlyphIndex(&buf, r)
		if err != nil || g == 0 {
			t.Fatalf("the font has no %q, which was printed in %q", r, text)
		}
		a, err := f.GlyphAdvance(&buf, g, fixed.I(1000), font.HintingNone)
		if err != nil {
			t.Fatal(err)
		}
		sum += a
	}
	return float64(sum) / 64 / 1000 * size * 25.4 / 72
}

var measures = func() map[bool]*sfnt.Font {
	out := map[bool]*sfnt.Font{}
	for bold, file := range map[bool][]byte{false: fonts.Regular, true: fonts.Bold} {
		f, err := sfnt.Parse(file)
		if err != nil {
			panic(err)
		}
		out[bold] = f
	}
	return out
}()

// readPDF reads every page of a file this package wrote.
func readPDF(t testing.TB, pdf []byte) []readPage {
	t.Helper()
	objs := objects(t, pdf)
	bold := map[string]bool{}
	for _, o := range objs {
		for _, m := range fontRef.FindAllStringSubmatch(o, -1) {
			n, _ := strconv.Atoi(m[2])
			bold[m[1]] = strings.Contains(objs[n], "/BaseFont /utf8bodyB")
		}
	}
	size := mediaBox.FindSubmatch(pdf)
	if size == nil {
		t.Fatal("the file has no page size")
	}
	w, h := number(t, string(size[1])), number(t, string(size[2]))
	var out []readPage
	for _, m := range contentsOf.FindAllSubmatch(pdf, -1) {
		n, _ := strconv.Atoi(string(m[1]))
		_, content, ok := strings.Cut(objs[n], "stream\n")
		if !ok {
			t.Fatalf("page content %d is missing", n)
		}
		out = append(out, readContent(t, content, w, h, bold))
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

// readContent follows the drawing commands of one page, w by h points.
func readContent(t testing.TB, content string, w, h float64, bold map[string]bool) readPage {
	t.Helper()
	const mm = 25.4 / 72
	p := readPage{w: w * mm, h: h * mm}
	var stack []string
	var fill [3]float64
	var held [][3]float64
	var fontID string
	var size, tx, ty float64
	var rects [][4]float64
	arg := func(back int) float64 { return number(t, stack[len(stack)-back]) }
	for rest := content; ; {
		rest = strings.TrimLeft(rest, " \n\r\t")
		if rest == "" {
			return p
		}
		if rest[0] == '(' {
			text, n := literal(t, rest)
			stack, rest = append(stack, text), rest[n:]
			continue
		}
		n := strings.IndexAny(rest, " \n\r\t(")
		if n < 0 {
			n = len(rest)
		}
		word := rest[:n]
		rest = rest[n:]
		switch word {
		case "q":
			held = append(held, fill)
		case "Q":
			fill, held = held[len(held)-1], held[:len(held)-1]
		case "g", "G":
			v := arg(1)
			p.tints = append(p.tints, [3]float64{v, v, v})
			if word == "g" {
				fill = [3]float64{v, v, v}
			}
		case "rg", "RG":
			v := [3]float64{arg(3), arg(2), arg(1)}
			p.tints = append(p.tints, v)
			if word == "rg" {
				fill = v
			}
		case "Tf":
			fontID, size = strings.TrimPrefix(stack[len(stack)-2], "/F"), arg(1)
		case "Td":
			tx, ty = arg(2), arg(1)
		case "Tj":
			text := stack[len(stack)-1]
			base := h - ty
			long := measure(t, text, size, bold[fontID])
			p.texts = append(p.texts, textRun{
				text: text, size: size, bold: bold[fontID],
				x0: tx * mm, x1: tx*mm + long, top: (base - 0.66*size) * mm, end: (base + 0.2*size) * mm, ink: greyOf(fill[0], fill[1], fill[2]),
			})
		case "re":
			rects = append(rects, [4]float64{arg(4), arg(3), arg(2), arg(1)})
		case "f", "f*", "B":
			for _, r := range rects {
				x, y, rw, rh := r[0], h-r[1], r[2], -r[3]
				p.fills = append(p.fills, filledBox{box{x * mm, y * mm, rw * mm, rh * mm}, fill[0], fill[1], fill[2]})
			}
			rects = nil
		case "S":
			rects = nil
		case "Do":
			p.images++
		default:
			stack = append(stack, word)
			continue
		}
		stack = nil
	}
}

// greyOf is how light a colour is on a printer without colour: its luma by Rec. ITU-R
// BT.601-7, 2.5.1, which ISO 32000-1, 10.3.3 takes for DeviceRGB to DeviceGray.
func greyOf(r, g, b float64) float64 { return 0.3*r + 0.59*g + 0.11*b }

// literal reads a string in round brackets, UTF-16BE inside, and returns how
// many bytes it took.
func literal(t testing.TB, s string) (string, int) {
	t.Helper()
	var raw []byte
	for i := 1; i < len(s); i++ {
		switch c := s[i]; c {
		case '\\':
			i++
			switch s[i] {
			case 'r':
				raw = append(raw, '\r')
			case 'n':
				raw = append(raw, '\n')
			default:
				raw = append(raw, s[i])
			}
		case ')':
			units := make([]uint16, len(raw)/2)
			for j := range units {
				units[j] = uint16(raw[2*j])<<8 | uint16(raw[2*j+1])
			}
			return string(utf16.Decode(units)), i + 1
		default:
			raw = append(raw, c)
		}
	}
	t.Fatal("a string does not end")
	return "", 0
}

// faults lists text that leaves the page or its margin of 8 mm, and text that
// lies on other text.
func (p readPage) faults() []string {
	var out []string
	const margin, hair = 8.0, 0.02
	for i, r := range p.texts {
		if r.x0 < margin-hair || r.x1 > p.w-margin+hair || r.top < margin-hair || r.end > p.h-margin+hair {
			out = append(out, fmt.Sprintf("%q leaves the page: %.1f to %.1f of %.1f, %.1f to %.1f of %.1f", r.text, r.x0, r.x1, p.w, r.top, r.end, p.h))
		}
		for _, q := range p.texts[i+1:] {
			if r.x0 < q.x1-hair && q.x0 < r.x1-hair && r.top < q.end-hair && q.top < r.end-hair {
				out = append(out, fmt.Sprintf("%q lies on %q", r.text, q.text))
			}
		}
	}
	return out
}
