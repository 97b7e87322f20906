package colour

import (
	"fmt"
	"math"
)

// screenSlack is how far linear light may leave 0 to 1 and still show as stored:
// a third of an 8-bit step in the darks, less elsewhere.
const screenSlack = 1e-4

// ToScreen returns the sRGB colour that shows l (D50) on a screen, as "#rrggbb".
// It is the one place where measured colours become screen colours. A colour
// outside sRGB keeps its lightness and hue and loses as little chroma as it must,
// and inGamut is false. A lightness outside 0 to 100 is shown as black or white, a
// Lab that is not a number as mid grey.
func ToScreen(l Lab) (hex string, inGamut bool) {
	switch {
	case !l.finite():
		return "#777777", false
	case l.L < 0:
		return "#000000", l.L > -0.01 && l.Chroma() < 0.01
	case l.L > 100:
		return "#ffffff", l.L < 100.01 && l.Chroma() < 0.01
	}
	shown := l
	if inGamut = onScreen(l); !inGamut {
		low, high := 0.0, 1.0 // grey always fits, l does not
		for range 30 {
			mid := (low + high) / 2
			if onScreen(Lab{l.L, mid * l.A, mid * l.B}) {
				low = mid
			} else {
				high = mid
			}
		}
		shown = Lab{l.L, low * l.A, low * l.B}
	}
	r, g, b := SRGB.Encode(SRGB.FromLab(shown))
	return fmt.Sprintf("#%02x%02x%02x", byteOf(r), byteOf(g), byteOf(b)), inGamut
}

func onScreen(l Lab) bool {
	r, g, b := SRGB.FromLab(l)
	return min(r, g, b) >= -screenSlack && max(r, g, b) <= 1+screenSlack
}

func byteOf(v float64) uint8 { return uint8(math.Round(255 * v)) }
