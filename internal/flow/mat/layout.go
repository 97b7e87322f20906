package mat

import (
	"fmt"

	"github.com/boombuler/barcode/datamatrix"
)

// MM is a place on the page, in mm from its top left.
type MM struct{ X, Y float64 }

// Area is an upright rectangle on the page, in mm from its top left.
type Area struct{ X, Y, W, H float64 }

// Centre returns the middle of a.
func (a Area) Centre() MM { return MM{a.X + a.W/2, a.Y + a.H/2} }

// Inset returns a made smaller by d mm on every side.
func (a Area) Inset(d float64) Area { return Area{a.X + d, a.Y + d, a.W - 2*d, a.H - 2*d} }

// Corners returns the corners of a: top left, top right, bottom right, bottom left.
func (a Area) Corners() [4]MM {
	return [4]MM{{a.X, a.Y}, {a.X + a.W, a.Y}, {a.X + a.W, a.Y + a.H}, {a.X, a.Y + a.H}}
}

// Contains reports whether p lies in a.
func (a Area) Contains(p MM) bool {
	return p.X >= a.X && p.Y >= a.Y && p.X <= a.X+a.W && p.Y <= a.Y+a.H
}

// Kind says how many swatches lie on a mat.
type Kind int

// The kinds of mat.
const (
	OneSwatch   Kind = 1 // one swatch of up to 150 mm
	TwoSwatches Kind = 2 // two side by side, of up to 85 mm each
)

// Measures of a corner mark in mm: a black frame, a rim of white, the code.
const (
	MarkSide   = 22.0 // of the frame, outside
	frameWidth = 2.2
	module     = 1.1 // of the code; the rim is one module, as ISO/IEC 16022 asks for
	modules    = 14  // along one side of the code
	codeInset  = frameWidth + module
)

// RulerMM is the length of the line a person checks the print by.
const RulerMM = 100.0

// cornerWords and cornerNames are the four corners for the code and for people,
// in the order of all corners here.
var (
	cornerWords = [4]string{"TL", "TR", "BR", "BL"}
	cornerNames = [4]string{"top left", "top right", "bottom right", "bottom left"}
)

// A Layout is one mat. Everything on it is in mm.
type Layout struct {
	Paper     string // "A4" or "Letter"
	Kind      Kind
	Page      Area
	Marks     [4]Area // frames of the corner marks: top left, top right, bottom right, bottom left
	Fields    []Area  // bare white paper, for the gradient of the light
	Grey      Area    // where a grey card lies; a card of this size or larger covers it
	Target    Area    // where a 24-patch target lies
	Labels    []Area  // where a swatch's own label lies, one for each swatch
	Swatches  []Area  // a swatch lies inside with white paper around it
	MaxSwatch float64 // the longest side of a swatch that fits
	Ruler     Area    // its length W is RulerMM
	Bar       Area    // scale bar with ticks every mm
	Head      Area    // room for the title
	Words     Area    // room for instructions
}

// Layouts are all mats: for one and for two swatches, on A4 and US Letter.
var Layouts = []Layout{
	oneSwatch("A4", 210, 297), twoSwatches("A4", 210, 297),
	oneSwatch("Letter", 215.9, 279.4), twoSwatches("Letter", 215.9, 279.4),
}

// LayoutOf returns the mat of a paper ("A4" or "Letter") and kind.
func LayoutOf(paper string, kind Kind) (Layout, bool) {
	for _, l := range Layouts {
		if l.Paper == paper && l.Kind == kind {
			return l, true
		}
	}
	return Layout{}, false
}

// Name says which mat it is, for people.
func (l Layout) Name() string {
	if l.Kind == TwoSwatches {
		return "mat for two swatches, " + l.Paper
	}
	return "mat for one swatch, " + l.Paper
}

// margin is the rim of the page no printer is asked to reach.
const margin = 8.0

func base(paper string, w, h float64, kind Kind) Layout {
	r, b := w-margin-MarkSide, h-margin-MarkSide
	return Layout{
		Paper: paper, Kind: kind, Page: Area{0, 0, w, h},
		Marks: [4]Area{
			{margin, margin, MarkSide, MarkSide}, {r, margin, MarkSide, MarkSide},
			{r, b, MarkSide, MarkSide}, {margin, b, MarkSide, MarkSide},
		},
		Head:   Area{34, 8, w - 68, 9.5},
		Ruler:  Area{w/2 - RulerMM/2, 18.6, RulerMM, 3},
		Fields: []Area{{34, 24.5, w - 68, 6.5}},
	}
}

func oneSwatch(paper string, w, h float64) Layout {
	l := base(paper, w, h, OneSwatch)
	const side, top = 156.0, 33.5
	x := (w - side) / 2
	l.MaxSwatch = 150
	l.Swatches = []Area{{x, top, side, side}}
	l.Bar = Area{x - 4.5, top + 3, 3, 150}
	l.Fields = append(l.Fields,
		Area{9, 35, x - 10 - 9, side - 4},
		Area{x + side + 3, 35, w - 9 - (x + side + 3), side - 4},
		Area{10, top + side + 2, w - 20, 7})
	l.Labels = []Area{{9, 201, 48, 29}}
	l.Words = Area{9, 231.5, 48, 15.5}
	l.Target = Area{60, 201, 106, 66}
	l.Grey = Area{168, 201, 34, 44}
	return l
}

func twoSwatches(paper string, w, h float64) Layout {
	l := base(paper, w, h, TwoSwatches)
	const side, gap, top = 87.0, 8.0, 33.5
	x := (w - 2*side - gap) / 2
	l.MaxSwatch = 85
	l.Swatches = []Area{{x, top, side, side}, {x + side + gap, top, side, side}}
	l.Fields = append(l.Fields,
		Area{8.5, 35, x - 1.5 - 8.5, side - 3},
		Area{x + side + 1.5, 35, gap - 3, side - 3},
		Area{x + 2*side + gap + 1.5, 35, w - 8.5 - (x + 2*side + gap + 1.5), side - 3},
		Area{10, top + side + 2.5, w - 20, 8.5},
		Area{w - 33, 178, 24, 64})
	l.Labels = []Area{{x + 19.5, 134, 48, 29}, {x + side + gap + 19.5, 134, 48, 29}}
	l.Bar = Area{w/2 - 75, 166.5, 150, 3}
	l.Grey = Area{10, 177, 48, 48}
	l.Words = Area{10, 227, 48, 19}
	l.Target = Area{62, 177, 112, 68}
	return l
}

// Code returns what the mark in corner i (0 to 3: top left, top right, bottom
// right, bottom left) says: "AM", the kind, "A4" or "LT", and the corner.
func (l Layout) Code(i int) string {
	paper := "A4"
	if l.Paper != "A4" {
		paper = "LT"
	}
	return fmt.Sprintf("AM%d%s%s", l.Kind, paper, cornerWords[i])
}

// readCode is the inverse of Code.
func readCode(text string) (l Layout, corner int, ok bool) {
	for _, l := range Layouts {
		for i := range l.Marks {
			if l.Code(i) == text {
				return l, i, true
			}
		}
	}
	return Layout{}, 0, false
}

// Ink is a rectangle to be printed; Grey is 0 for black to 255 for white.
type Ink struct {
	Area Area
	Grey uint8
}

// Ink returns all that is printed on the mat but its words, in drawing order.
func (l Layout) Ink() ([]Ink, error) {
	var out []Ink
	for i, m := range l.Marks {
		out = append(out, Ink{m, 0}, Ink{m.Inset(frameWidth), 255})
		img, err := datamatrix.Encode(l.Code(i))
		if err != nil {
			return nil, fmt.Errorf("encode %q: %w", l.Code(i), err)
		}
		b := img.Bounds()
		if b.Dx() != modules || b.Dy() != modules {
			return nil, fmt.Errorf("encode %q: the code has %d x %d modules, not %d", l.Code(i), b.Dx(), b.Dy(), modules)
		}
		dark := func(x, y int) bool {
			r, _, _, _ := img.At(b.Min.X+x, b.Min.Y+y).RGBA()
			return r < 0x8000
		}
		for y := range modules {
			for x := 0; x < modules; x++ {
				from := x
				for x < modules && dark(x, y) {
					x++
				}
				if x > from {
					// A hair of overlap, so that viewers leave no white seam between rows.
					out = append(out, Ink{Area{m.X + codeInset + module*float64(from), m.Y + codeInset + module*float64(y), module * float64(x-from), module * 1.02}, 0})
				}
			}
		}
	}
	r := l.Ruler
	out = append(out, Ink{Area{r.X, r.Y + r.H - 0.3, r.W, 0.3}, 0})
	for i := 0; i <= int(RulerMM); i += 10 {
		h := 1.6
		if i%50 == 0 {
			h = r.H
		}
		out = append(out, tick(r.X+float64(i), r.Y+r.H-h, h, true))
	}
	out = append(out, l.bar()...)
	for _, a := range append([]Area{l.Grey, l.Target}, l.Labels...) {
		out = append(out, outline(a, 0.2, 150)...)
	}
	for _, s := range l.Swatches {
		out = append(out, ticks(s)...)
	}
	return out, nil
}

// tick is a short line whose middle is at the place it stands for.
func tick(x, y, length float64, upright bool) Ink {
	const thick = 0.2
	if upright {
		return Ink{Area{x - thick/2, y, thick, length}, 0}
	}
	return Ink{Area{x, y - thick/2, length, thick}, 0}
}

// bar draws the scale bar: a tick each mm, longer ones each 5 and 10 mm.
func (l Layout) bar() []Ink {
	b := l.Bar
	upright := b.H > b.W
	n := int(max(b.W, b.H))
	var out []Ink
	for i := 0; i <= n; i++ {
		h := 1.0
		switch {
		case i%10 == 0:
			h = 2.6
		case i%5 == 0:
			h = 1.8
		}
		if upright {
			out = append(out, tick(b.X+b.W-h, b.Y+float64(i), h, false))
		} else {
			out = append(out, tick(b.X+float64(i), b.Y+b.H-h, h, true))
		}
	}
	return out
}

func outline(a Area, thick float64, grey uint8) []Ink {
	return []Ink{
		{Area{a.X, a.Y, a.W, thick}, grey}, {Area{a.X, a.Y + a.H - thick, a.W, thick}, grey},
		{Area{a.X, a.Y, thick, a.H}, grey}, {Area{a.X + a.W - thick, a.Y, thick, a.H}, grey},
	}
}

// ticks mark the corners of a swatch's place, outside it: inside, the paper
// stays white so that the swatch's edge is the only one.
func ticks(a Area) []Ink {
	const long, thick, grey = 4.0, 0.3, 150
	var out []Ink
	for i, c := range a.Corners() {
		x, y := c.X-long, c.Y-long
		if i == 0 || i == 3 {
			x = c.X
		}
		if i < 2 {
			y = c.Y
		}
		edgeX, edgeY := c.X, c.Y-thick
		if i == 0 || i == 3 {
			edgeX = c.X - thick
		}
		if i >= 2 {
			edgeY = c.Y
		}
		out = append(out, Ink{Area{x, edgeY, long, thick}, grey}, Ink{Area{edgeX, y, thick, long}, grey})
	}
	return out
}
