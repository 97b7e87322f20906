package print

import (
	"fmt"

	"github.com/boombuler/barcode/datamatrix"
)

// quiet is the white rim a Data Matrix needs, in modules: ISO/IEC 16022 asks
// for one, phones read two more easily.
const quiet = 2

// A code is a Data Matrix (ISO/IEC 16022, ECC 200): true is black.
type code [][]bool

// A placedCode is a code where it was drawn, with its rim.
type placedCode struct {
	page int
	at   box
	code code
}

// codeOf encodes text.
func codeOf(text string) (code, error) {
	img, err := datamatrix.Encode(text)
	if err != nil {
		return nil, fmt.Errorf("encode %q: %w", text, err)
	}
	b := img.Bounds()
	m := make(code, b.Dy())
	for y := range m {
		m[y] = make([]bool, b.Dx())
		for x := range m[y] {
			r, _, _, _ := img.At(b.Min.X+x, b.Min.Y+y).RGBA()
			m[y][x] = r < 0x8000
		}
	}
	return m, nil
}

// code draws m with its quiet rim inside the square at x, y of side mm.
func (c *canvas) code(x, y, side float64, m code) {
	if c.dry {
		return
	}
	c.codes = append(c.codes, placedCode{c.page, box{x, y, side, side}, m})
	module := side / float64(len(m)+2*quiet)
	c.fill(box{x, y, side, side}, 255, 255, 255)
	for row, line := range m {
		for from := 0; from < len(line); from++ {
			if !line[from] {
				continue
			}
			to := from
			for to < len(line) && line[to] {
				to++
			}
			// A hair of overlap, so that viewers leave no white seam between rows.
			c.fill(box{
				x + module*float64(quiet+from), y + module*float64(quiet+row),
				module * float64(to-from), module * 1.02,
			}, 0, 0, 0)
			from = to
		}
	}
}
