package scene

import (
	"slices"

	"aerugo/internal/picture"
	"aerugo/internal/studio"
)

// Codes reads every label that lies in a picture, of swatches and of places, turned
// anyhow, each once: several can be laid beside each other. One whose check character
// is wrong is left out.
func Codes(img *picture.Image) []string {
	g := shrunk(img.Width, img.Height, longSides[0], func(x, y int) float32 {
		c, _ := img.At(x, y)
		return 0.25*c[0] + 0.6*c[1] + 0.15*c[2]
	})
	var out []string
	for i, long := range longSides {
		if i > 0 {
			if max(g.w, g.h) <= long {
				continue
			}
			was := g
			g = shrunk(was.w, was.h, long, func(x, y int) float32 { return was.v[y*was.w+x] })
		}
		for _, text := range g.codes() {
			_, _, swatch := studio.ReadCode(text)
			_, place := studio.ReadPlaceCode(text)
			if (swatch == nil || place == nil) && !slices.Contains(out, text) {
				out = append(out, text)
			}
		}
	}
	slices.Sort(out)
	return out
}
