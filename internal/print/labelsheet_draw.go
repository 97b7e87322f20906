package print

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"aerugo/internal/language"

	"aerugo/internal/studio"
)

// A Sticker is one label on a ready-cut sheet: of a swatch's face, a place or whatever
// has a title. Code is what its Data Matrix says, empty for none; Word stands in a frame
// beside the title, white on black for the back of a swatch.
type Sticker struct {
	Title    string
	Word     string
	Code     string
	Lines    []string // the first are kept where there is no room for all
	Invented bool     // part of the example data
}

// leastModule is the smallest module of a code that a phone reads, in mm: what a 150 dpi
// print still holds with two dots; common practice, no source.
const leastModule = 0.38

// Stickers writes labels on ready-cut sheets. What can't be made is a *studio.Problem,
// and nothing is written.
func Stickers(w io.Writer, stickers []Sticker, sheet StickerSheet) error {
	c, err := drawStickers(languageOf(w), stickers, sheet)
	if err != nil {
		return err
	}
	return c.write(w, "labels")
}

func drawStickers(in *language.Language, stickers []Sticker, sheet StickerSheet) (*canvas, error) {
	pw, ph, err := sheet.check()
	if err != nil {
		return nil, err
	}
	if len(stickers) == 0 {
		return nil, studio.Problemf(studio.Invalid, "labels", "There is nothing to print labels for; choose at least one.")
	}
	codes := make([]code, len(stickers))
	for i, x := range stickers {
		if strings.TrimSpace(clean(x.Title)) == "" {
			return nil, studio.Problemf(studio.Invalid, "labels", "Label %d has nothing to say; give it a number or a name.", i+1)
		}
		if x.Code == "" {
			continue
		}
		if codes[i], err = codeOf(x.Code); err != nil {
			return nil, err
		}
		if side := codeSide(sheet.Format.W, sheet.Format.H); side/float64(len(codes[i])+2*quiet) < leastModule {
			return nil, studio.Problemf(studio.Invalid, "format", "The code %s is too fine for a label of %s × %s mm; choose larger labels, or print them without codes.", x.Code, mm(sheet.Format.W), mm(sheet.Format.H))
		}
	}
	c := newCanvas(in, pw, ph, document{"Labels", sheet.Studio, sheet.Date})
	per, start := sheet.Format.Per(), max(sheet.Start, 1)
	for i, x := range stickers {
		place := (start - 1 + i) % per
		if i == 0 || place == 0 {
			c.newPage()
		}
		c.sticker(sheet.Format.at(place, sheet.RightMM, sheet.DownMM), x, codes[i])
	}
	return c, nil
}

// stickerPad is the rim of a label in which nothing stands, in mm: sheets are cut a
// little off.
func stickerPad(w, h float64) float64 { return max(0.8, min(2.2, 0.07*min(w, h))) }

// codeSide is the side of a code with its rim on a label w by h mm.
func codeSide(w, h float64) float64 {
	pad := stickerPad(w, h)
	return max(0, min(h-2*pad, 0.46*(w-2*pad), 18))
}

// sticker draws one label: the code at the right, title, word and lines at the left.
func (c *canvas) sticker(at box, x Sticker, m code) {
	pad := stickerPad(at.w, at.h)
	in := box{at.x + pad, at.y + pad, at.w - 2*pad, at.h - 2*pad}
	text, side := in.w, 0.0
	if m != nil {
		side = codeSide(at.w, at.h)
		text = in.w - side - 0.8
	}
	title := min(8.5, max(3.6, 0.34*in.h))
	y := in.y
	c.text(box{in.x, y, text, title}, x.Title, style{size: title / mmPerPoint * 0.82, least: 5, bold: true, head: 2})
	y += title
	if x.Word != "" && y+3.1 <= in.y+in.h {
		high := min(4, max(3.1, 0.14*in.h))
		word := style{size: high / mmPerPoint * 0.7, bold: true, align: "C"}
		bar := box{in.x, y + 0.2, min(text, c.width(word, x.Word)+2.6), high - 0.4}
		if x.Word == string(studio.Back) {
			c.fill(bar, 0, 0, 0)
			word.grey = 255
		} else {
			c.frame(bar, 0.6, 0)
		}
		c.text(bar, x.Word, word)
		y += high + 0.3
	}
	lines := x.Lines
	if x.Invented {
		lines = append([]string{invented}, lines...)
	}
	plain := style{size: 7.5, least: 5.5}
	if in.h < 16 {
		plain.size = 6.5
	}
	under := in.y + side // below the code the lines have the whole width
	if side > 0 && in.h-side >= 2.8 {
		under += 2.8
	}
	for _, l := range lines {
		wide := text
		if side > 0 && y >= under {
			wide = in.w
		}
		if y+plain.line() > in.y+in.h+hair {
			break
		}
		c.text(box{in.x, y, wide, plain.line()}, l, plain)
		y += plain.line()
	}
	if m != nil {
		c.code(in.x+in.w-side, in.y, side, m)
		if in.h-side >= 2.8 {
			c.text(box{in.x + in.w - side, in.y + side, side, 2.6}, x.Code, style{size: 6.5, least: 4.5, align: "C"})
		}
	}
}

// StickerTest writes a page that shows where the labels of a sheet would be printed: to
// be printed on plain paper, held against the sheet of labels, and the difference measured.
func StickerTest(w io.Writer, sheet StickerSheet) error {
	c, err := drawStickerTest(languageOf(w), sheet)
	if err != nil {
		return err
	}
	return c.write(w, "test page")
}

func drawStickerTest(in *language.Language, sheet StickerSheet) (*canvas, error) {
	pw, ph, err := sheet.check()
	if err != nil {
		return nil, err
	}
	c := newCanvas(in, pw, ph, document{"Test page for labels", sheet.Studio, sheet.Date})
	c.newPage()
	say := box{(pw - 124) / 2, (ph - 46) / 2, 124, 46}
	var free []int // the places that the words in the middle leave
	for n := range sheet.Format.Per() {
		at := sheet.Format.at(n, sheet.RightMM, sheet.DownMM)
		c.frame(at, 0.4, 90)
		if at.x+at.w < say.x || at.x > say.x+say.w || at.y+at.h < say.y || at.y > say.y+say.h {
			free = append(free, n)
		}
	}
	c.fill(say, 255, 255, 255)
	c.frame(say, 0.8, 0)
	x, w, y := say.x+4, say.w-8, say.y+3
	c.text(box{x, y, w, 6}, "Test page for labels", style{size: 14, bold: true, head: 1})
	y += 7
	plain := style{size: 9}
	c.text(box{x, y, w, 4}, "Where this printer puts the labels", style{size: 9.5, bold: true, head: 2})
	y += 5
	for _, line := range []string{
		fmt.Sprintf("%s; corrected by %s mm to the right and %s mm down.", sheet.Format.shortName(), signedMM(sheet.RightMM), signedMM(sheet.DownMM)),
		"Print it on plain paper at 100 %, lay it on a sheet of labels and hold both against the light.",
		"If the outlines lie too far left or too high, add that many millimetres to the correction; if too far right or too low, take them off.",
	} {
		y += c.para(x, y, w, line, plain) + 1
	}
	for _, n := range free {
		at := sheet.Format.at(n, sheet.RightMM, sheet.DownMM)
		c.text(box{at.x + 1, at.y + at.h/2 - 2, at.w - 2, 4}, strconv.Itoa(n+1), style{size: 9, align: "C", grey: 60, run: true})
	}
	return c, nil
}

// signedMM writes millimetres with a true minus.
func signedMM(v float64) string { return decimal(v) }
