package demo

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"sync"

	"github.com/boombuler/barcode/datamatrix"
	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"

	"aerugo/internal/fonts"
	"aerugo/internal/studio"
)

// labelPx is how finely labels are drawn, in pixels to the mm.
const labelPx = 12

// cuts returns the two cuts of the studio's type; they cannot fail to parse,
// being part of the program.
var cuts = sync.OnceValue(func() (f struct{ regular, bold *opentype.Font }) {
	f.regular, _ = opentype.Parse(fonts.Regular)
	f.bold, _ = opentype.Parse(fonts.Bold)
	return f
})

// write draws text on dst with its baseline starting at (x, y).
func write(dst draw.Image, f *opentype.Font, px float64, ink color.Color, x, y int, text string) {
	cut, err := opentype.NewFace(f, &opentype.FaceOptions{Size: px, DPI: 72, Hinting: font.HintingNone})
	if err != nil {
		return // a picture without its words is better than no picture
	}
	defer cut.Close()
	d := font.Drawer{Dst: dst, Src: image.NewUniform(ink), Face: cut, Dot: fixed.P(x, y)}
	d.DrawString(text)
}

// drawLabel returns the paper label of a face: number, face and machine code.
func drawLabel(number int64, side studio.Face) *image.Gray {
	const w, h = 34 * labelPx, 15 * labelPx
	img := image.NewGray(image.Rect(0, 0, w, h))
	draw.Draw(img, img.Rect, image.White, image.Point{}, draw.Src)
	ink := color.Gray{Y: 28}
	code := studio.Code(number, side)
	write(img, cuts().bold, 92, ink, 14, 88, fmt.Sprint(number))
	write(img, cuts().regular, 40, ink, 16, 132, string(side))
	write(img, cuts().regular, 26, color.Gray{Y: 90}, 16, 166, code)
	if m, err := datamatrix.Encode(code); err == nil {
		b := m.Bounds()
		const cell = 9
		x0, y0 := w-14-cell*b.Dx(), (h-cell*b.Dy())/2
		for j := range b.Dy() {
			for i := range b.Dx() {
				if v, _, _, _ := m.At(b.Min.X+i, b.Min.Y+j).RGBA(); v == 0 {
					r := image.Rect(x0+i*cell, y0+j*cell, x0+(i+1)*cell, y0+(j+1)*cell)
					draw.Draw(img, r, image.NewUniform(ink), image.Point{}, draw.Src)
				}
			}
		}
	}
	return img
}

// drawCard returns the grey card: even, with its name at the foot.
func drawCard(widthMM, heightMM float64) *image.Gray {
	w, h := int(widthMM*labelPx), int(heightMM*labelPx)
	img := image.NewGray(image.Rect(0, 0, w, h))
	draw.Draw(img, img.Rect, image.White, image.Point{}, draw.Src)
	write(img, cuts().regular, 30, color.Gray{Y: 90}, 14, h-16, "grey 18 %")
	return img
}

// caption writes into the picture's lower left corner that it is an invented example.
func caption(img *image.RGBA) {
	const text = "invented example"
	y := img.Rect.Dy() - 14
	write(img, cuts().regular, 19, color.RGBA{20, 20, 20, 150}, 15, y+1, text)
	write(img, cuts().regular, 19, color.RGBA{235, 235, 235, 255}, 14, y, text)
}
