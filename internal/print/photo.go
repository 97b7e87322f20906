package print

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"strconv"
	"strings"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/draw"

	"aerugo/internal/science/colour"
)

// A photo is a card's face with its picture at the size it is printed.
type photo struct {
	face CardFace
	jpeg []byte
	w, h int    // of the picture in pixels; 0 without one
	why  string // why there is no picture
}

// The longest side a picture is printed with, in pixels: 27 mm at 600 dots per
// inch. And the largest that is opened.
const (
	printPixels = 640
	mostPixels  = 100_000_000
)

// readPhotos makes each picture ready for print: at the size it needs, so that
// the card stays small, and without what a camera writes beside it, the place
// above all. A damaged picture is said to be so; a viewer would show a grey block.
func readPhotos(faces []CardFace) ([]photo, error) {
	var out []photo
	taken := map[int]bool{}
	for _, f := range faces {
		p := photo{face: f}
		img, why := openPicture(f.JPEG)
		if img == nil {
			p.why = why
			out = append(out, p)
			continue
		}
		w, h := img.Bounds().Dx(), img.Bounds().Dy()
		if long := max(w, h); long > printPixels {
			w, h = max(w*printPixels/long, 1), max(h*printPixels/long, 1)
		}
		for taken[w] { // fpdf orders pictures by width alone, and by chance where it is the same
			w++
		}
		taken[w] = true
		small := image.NewRGBA(image.Rect(0, 0, w, h))
		draw.CatmullRom.Scale(small, small.Bounds(), img, img.Bounds(), draw.Src, nil)
		var buf bytes.Buffer
		if err := jpeg.Encode(&buf, small, &jpeg.Options{Quality: 90}); err != nil {
			return nil, fmt.Errorf("shrink photograph of swatch %d: %w", f.Swatch, err)
		}
		p.jpeg, p.w, p.h = buf.Bytes(), w, h
		out = append(out, p)
	}
	return out, nil
}

// openPicture decodes a JPEG, or says why there is no picture.
func openPicture(file []byte) (image.Image, string) {
	if len(file) == 0 {
		return nil, "no photograph"
	}
	const broken = "the photograph can't be read"
	size, err := jpeg.DecodeConfig(bytes.NewReader(file))
	if err != nil {
		return nil, broken
	}
	if size.Width*size.Height > mostPixels {
		return nil, "the photograph is too large"
	}
	img, err := jpeg.Decode(bytes.NewReader(file))
	if err != nil || img.Bounds().Empty() {
		return nil, broken
	}
	return img, ""
}

// picture draws a JPEG as large as fits in b, with a hairline.
func (c *canvas) picture(b box, name string, file []byte, w, h int) {
	if c.dry {
		return
	}
	scale := min(b.w/float64(w), b.h/float64(h))
	at := box{b.x, b.y, float64(w) * scale, float64(h) * scale}
	options := fpdf.ImageOptions{ImageType: "JPG"}
	c.pdf.RegisterImageOptionsReader(name, options, bytes.NewReader(file))
	c.pdf.ImageOptions(name, at.x, at.y, at.w, at.h, false, options, 0, "")
	c.frame(at, 0.25, 120)
}

// chip draws a measured colour with a neutral outline and reports whether paper
// colours hold it.
func (c *canvas) chip(b box, lab colour.Lab) bool {
	hex, inGamut := colour.ToScreen(lab)
	rgb, err := strconv.ParseUint(strings.TrimPrefix(hex, "#"), 16, 32)
	if err != nil {
		return false
	}
	c.fill(b, int(rgb>>16&255), int(rgb>>8&255), int(rgb&255))
	c.frame(b, 0.25, 120)
	return inGamut
}

// photoBlocks are the faces with their colour.
func (l layout) photoBlocks() []block {
	var out []block
	for i, p := range l.photos {
		out = append(out, block{what: "photographs", put: func(c *canvas, x, y, w float64) float64 {
			return l.face(c, x, y, w, strconv.Itoa(i), p)
		}})
	}
	return out
}

// face draws a picture on the left and what was measured beside it.
func (l layout) face(c *canvas, x, y, w float64, name string, p photo) float64 {
	const side = 27.0
	frame := box{x, y, side, side}
	m := p.face.Measured
	plain := style{size: 7.5, least: 6.5}
	switch {
	case p.w > 0:
		c.picture(frame, name, p.jpeg, p.w, p.h)
	case m != nil:
		c.chip(frame, m.Lab)
	default:
		c.frame(frame, 0.25, 120)
	}
	if p.w == 0 && m == nil {
		st := style{size: 7.5, align: "C", grey: 50}
		lines := c.wrapAtMost(st, p.why, side-3, 2)
		c.lines(x+1.5, y+side/2-st.line(), side-3, lines, st)
	}

	tx, tw, ty := x+side+2.4, w-side-2.4, y-0.4
	title := style{size: 9, least: 7.5, bold: true, head: 2}
	c.text(box{tx, ty, tw, title.line()}, fmt.Sprintf("%d %s", p.face.Swatch, p.face.Face), title)
	ty += title.line() + 0.4
	put := func(text string, most int) { ty += c.lines(tx, ty, tw, c.wrapAtMost(plain, text, tw, most), plain) }
	if m == nil {
		put("colour not measured", 2)
		return max(side, ty-y) + 3.5
	}
	inGamut := true
	if p.w > 0 {
		inGamut = c.chip(box{tx, ty + 0.2, tw, 4.4}, m.Lab)
		ty += 5.6
	} else {
		put(p.why, 2)
	}
	put(m.Name, 2)
	put(fmt.Sprintf("L* %s", decimal(m.Lab.L)), 1)
	put(fmt.Sprintf("a* %s · b* %s", decimal(m.Lab.A), decimal(m.Lab.B)), 1)
	put("± "+decimal(m.SD)+" over the face", 1)
	switch {
	case !m.Calibrated:
		put("not calibrated: no grey card", 2)
	default:
		put("by grey card", 1)
	}
	if !inGamut {
		put("stronger than shown", 1)
	}
	return max(side, ty-y) + 3.5
}

// decimal writes v with one decimal and a true minus.
func decimal(v float64) string {
	return strings.Replace(strconv.FormatFloat(v, 'f', 1, 64), "-", "−", 1)
}
