package print

import (
	"fmt"
	"io"
	"time"

	"aerugo/internal/language"

	"aerugo/internal/flow/mat"
	"aerugo/internal/studio"
)

// Mat writes a photo mat, one page to be printed at 100 %. Its marks are drawn
// as rectangles, so that every printer sets them as sharp as it can. Date is
// kept in the file and stands at the foot. A layout that is none of
// [mat.Layouts] and a missing date are a *studio.Problem, and nothing is written.
func Mat(w io.Writer, layout mat.Layout, date time.Time) error {
	c, err := drawMat(languageOf(w), layout, date)
	if err != nil {
		return err
	}
	return c.write(w, "photo mat")
}

func drawMat(in *language.Language, l mat.Layout, date time.Time) (*canvas, error) {
	if known, ok := mat.LayoutOf(l.Paper, l.Kind); !ok {
		return nil, studio.Problemf(studio.Invalid, "mat", "There is no photo mat for %d swatches on %q; choose one or two swatches, on A4 or Letter.", int(l.Kind), l.Paper)
	} else {
		l = known
	}
	if err := checkDate(date); err != nil {
		return nil, err
	}
	ink, err := l.Ink()
	if err != nil {
		return nil, err
	}
	c := newCanvas(in, l.Page.W, l.Page.H, document{"Photo mat", "", date})
	c.newPage()
	for _, i := range ink {
		c.fill(onSheet(i.Area), int(i.Grey), int(i.Grey), int(i.Grey))
	}
	c.matWords(l, date)
	return c, nil
}

func onSheet(a mat.Area) box { return box{a.X, a.Y, a.W, a.H} }

// matWords sets what a person reads. No word stands where the light is read or
// a swatch's edge is looked for.
func (c *canvas) matWords(l mat.Layout, date time.Time) {
	const captionGrey = 90
	caption := style{size: 7.5, least: 6, grey: captionGrey, align: "C"}
	head := onSheet(l.Head)
	c.text(box{head.x, head.y, head.w, 4.8}, "TOP · print at 100 %", style{size: 11, least: 9, bold: true, align: "C", head: 1})
	c.text(box{head.x, head.y + 5, head.w, 3.6}, fmt.Sprintf("Photo mat for %s · printed %s", matFor(l), day(date)), style{size: 7.5, least: 6.5, align: "C"})

	r := onSheet(l.Ruler)
	side := r.x - head.x - 1.6
	c.text(box{head.x, r.y - 0.4, side, 3.4}, "Measure this line:", style{size: 7.5, least: 6, align: "R"})
	c.text(box{r.x + r.w + 1.6, r.y - 0.4, side, 3.4}, "100 mm exactly", style{size: 7.5, least: 6, bold: true})

	// the bar's numerals, where they cover no tick
	number := style{size: 6.5, least: 5, grey: 40, run: true}
	for mm := 0; mm <= 150; mm += 50 {
		text := fmt.Sprintf("%d", mm)
		if mm == 150 {
			text = "150 mm"
		}
		if l.Bar.H > l.Bar.W {
			text = fmt.Sprintf("%d", mm)
			number.align = "R"
			c.text(box{l.Bar.X - 5, l.Bar.Y + float64(mm) - 1.5, 4.7, 3}, text, number)
		} else {
			number.align = "C"
			c.text(box{l.Bar.X + float64(mm) - 6, l.Bar.Y + l.Bar.H + 0.2, 12, 3}, text, number)
		}
	}
	if l.Bar.H > l.Bar.W {
		c.text(box{l.Bar.X - 5, l.Bar.Y + 146, 4.7, 2.4}, "mm", style{size: 6, least: 5, grey: 40, align: "R", run: true})
	}

	within := func(a mat.Area, lines ...string) {
		h := caption.line()
		y := a.Y + a.H/2 - h*float64(len(lines))/2
		for i, text := range lines {
			c.text(box{a.X + 1, y + float64(i)*h, a.W - 2, h}, text, caption)
		}
	}
	within(l.Grey, "Grey card", fmt.Sprintf("%.0f x %.0f mm", l.Grey.W, l.Grey.H), "or larger")
	within(l.Target, "24-patch target", fmt.Sprintf("up to %.0f x %.0f mm, if you have one", l.Target.W-2, l.Target.H-2))
	for _, a := range l.Labels {
		within(a, "The swatch's label,", "code up")
	}

	words := style{size: 6.5, grey: 40}
	b := onSheet(l.Words)
	bottom := b.y + b.h
	y := b.y
	for _, text := range []string{
		"Whole mat in the picture, from straight above.",
		"Swatch flat inside its corners, bare white paper all round: the light is read there.",
		"Nothing on the four black squares. No shine, no shadow, no flash.",
	} {
		lines := c.wrap(words, text, b.w)
		if y+float64(len(lines))*words.line() > bottom+0.2 {
			break
		}
		y += c.lines(b.x, y, b.w, lines, words)
	}
}

// matFor says what a mat is for.
func matFor(l mat.Layout) string {
	if l.Kind == mat.TwoSwatches {
		return fmt.Sprintf("two swatches of up to %.0f mm", l.MaxSwatch)
	}
	return fmt.Sprintf("one swatch of up to %.0f mm", l.MaxSwatch)
}
