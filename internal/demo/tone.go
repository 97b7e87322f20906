package demo

import (
	"math"

	"aerugo/internal/science/colour"
)

// tone is a colour of light or of a surface: linear sRGB, 1 is full white.
type tone [3]float32

// mix returns the tone that lies share of the way from a to b, in linear light.
func mix(a, b tone, share float32) tone {
	return tone{lerp(a[0], b[0], share), lerp(a[1], b[1], share), lerp(a[2], b[2], share)}
}

// times returns a with every channel multiplied by k.
func (a tone) times(k float32) tone { return tone{a[0] * k, a[1] * k, a[2] * k} }

// encoding holds the sRGB curve as a table over linear 0 to 1.
var encoding = func() (t [8193]uint8) {
	for i := range t {
		v := float64(i) / 8192
		if v <= 0.0031308 {
			v *= 12.92
		} else {
			v = 1.055*math.Pow(v, 1/2.4) - 0.055
		}
		t[i] = uint8(math.Round(255 * v))
	}
	return t
}()

// encode returns the 8-bit sRGB value of a linear one; too bright or too dark is cut off.
func encode(v float32) uint8 {
	i := int(v*8192 + 0.5)
	if uint(i) > 8192 {
		i = 0
		if v > 0.5 {
			i = 8192
		}
	}
	return encoding[i]
}

// toneOf returns the tone of a colour given in CIELAB (D50). Every colour of
// the example lies inside sRGB; one that does not is cut off at 0.
func toneOf(lab colour.Lab) tone {
	r, g, b := colour.SRGB.FromLab(lab)
	return tone{float32(max(r, 0)), float32(max(g, 0)), float32(max(b, 0))}
}

// labOf is the inverse of toneOf.
func labOf(t tone) colour.Lab {
	return colour.SRGB.Lab(float64(t[0]), float64(t[1]), float64(t[2]))
}
