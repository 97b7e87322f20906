package measure

import (
	"fmt"
	"math"

	"aerugo/internal/picture"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// light turns linear RGB of a picture into XYZ (D50), with one gain per
// channel that takes out exposure and cast, and a bend above the grey where white
// paper was seen beside it.
type light struct {
	gain    [3]float64
	space   colour.Space
	correct func(rgb [3]float64) colour.XYZ // nil: the picture's own space
	even    func(p studio.Point) [3]float64 // as [Under.Gain]; nil for even light
	white   *[3]float64                     // as [Under.White]
	grey    float64                         // light of the grey patch
	bend    float64                         // exponent of what is brighter than the grey patch; 0 for none
}

// under takes over what is known of the light.
func (l *light) under(u Under) { l.correct, l.even, l.white = u.Correct, u.Gain, u.White }

// Limits of what white paper says of the camera's curve.
const (
	paperL    = 95.0 // L* (D50) of white paper: that of ISO 12647-2, from memory
	paperHalf = 0.5  // of what it says is done
	bendLeast = 0.7
	bendMost  = 1.5
)

// bendTo learns from white paper, seen as white where a grey of light want is
// seen as grey, how the camera draws lightness above the grey: cameras brighten
// or flatten what is light, and one gain cannot tell. Half of it is taken back:
// with the whites of two real photographs of a target that did best (the mean
// over their 18 colours fell from 4.9 to 3.7 dE00; the whole made it 5.6). Darker
// than the grey nothing is known: the ink of a print may be any black.
func (l *light) bendTo(white, grey [3]float64, want float64) {
	light := func(v [3]float64) float64 { return 0.25*v[0] + 0.65*v[1] + 0.1*v[2] }
	seen := light(white) / light(grey)
	paper := lightOfL(paperL) / want
	if !(paper > 2 && seen > 1.3 && max(white[0], white[1], white[2]) < 0.97) {
		return // the card is a light one, or the paper nearly burnt out
	}
	l.grey = want
	l.bend = max(bendLeast, min(bendMost, 1+paperHalf*(math.Log(paper)/math.Log(seen)-1)))
}

// bent is a channel's light with the camera's curve taken out.
func (l light) bent(v float64) float64 {
	if l.bend == 0 || v <= l.grey {
		return v
	}
	return l.grey * math.Pow(v/l.grey, l.bend)
}

// evened returns linear RGB at a place of the picture as it would be under the
// light that falls on the grey patch. The cells of a face are evened as a whole.
func (l light) evened(rgb [3]float64, at studio.Point) [3]float64 {
	if l.even != nil {
		for c, g := range l.even(at) {
			rgb[c] *= g
		}
	}
	return rgb
}

// newLight is the light as the camera took it: no gain.
func newLight(img *picture.Image) light { return light{gain: [3]float64{1, 1, 1}, space: img.Space} }

// cell returns the colour of linear RGB under the light.
func (l light) cell(rgb [3]float32) cell {
	if l.correct != nil {
		xyz := l.correct([3]float64{float64(rgb[0]) * l.gain[0], float64(rgb[1]) * l.gain[1], float64(rgb[2]) * l.gain[2]})
		return cell{xyz, xyz.Lab(colour.D50)}
	}
	xyz := l.space.XYZ(l.bent(float64(rgb[0])*l.gain[0]), l.bent(float64(rgb[1])*l.gain[1]), l.bent(float64(rgb[2])*l.gain[2]))
	return cell{xyz, xyz.Lab(colour.D50)}
}

// Limits for the grey patch; common practice, no source.
const (
	greySide       = 8.0  // picture pixels
	greyClipped    = 0.01 // share of the patch
	greyDark       = 0.01 // linear light: below it, noise and rounding rule
	greyUnevenWarn = 0.10 // span of the means of its 16 parts, over their mean
	greyUnevenMost = 0.30
	greyCast       = 20.0 // C* as photographed
)

// calibrate sets the gains so that the patch becomes the neutral of L* greyL
// (D50; 0 stands for GreyCardL), and returns warnings.
func (l *light) calibrate(img *picture.Image, r studio.Rect, greyL float64) ([]string, error) {
	if greyL == 0 {
		greyL = GreyCardL
	}
	if !(greyL >= 10 && greyL <= 98) {
		return nil, refuse("grey", "The grey patch's lightness is given as L* %.1f; it must lie between 10 and 98 (a usual grey card is %.1f).", greyL, GreyCardL)
	}
	if err := checkRect("grey", "grey patch", r, img); err != nil {
		return nil, err
	}
	p := patch(img, r)
	if p.seen == 0 {
		return nil, refuse("grey", "The grey patch is transparent in this picture. Mark it on the card.")
	}
	if share := p.clipped; share > greyClipped {
		return nil, refuse("grey", "%.0f %% of the grey patch is burnt out, so it says nothing about the light; at most %.0f %% may be. Expose less, or use a darker grey.", 100*share, 100*greyClipped)
	}
	for _, v := range p.mean {
		if v < greyDark {
			return nil, refuse("grey", "The grey patch is too dark in the picture (%.1f %% of full light in its weakest colour; at least %.0f %% is needed). Expose more, or mark the card and not its shadow.", 100*v, 100*greyDark)
		}
	}
	if p.uneven > greyUnevenMost {
		return nil, refuse("grey", "The light over the grey patch changes by %.0f %%; the most is %.0f %%. Mark a smaller, evenly lit part of the card.", 100*p.uneven, 100*greyUnevenMost)
	}
	var warnings []string
	if p.uneven > greyUnevenWarn {
		warnings = append(warnings, fmt.Sprintf("The light over the grey patch changes by %.0f %%, so colours may be off by as much as the face is lit differently.", 100*p.uneven))
	}
	p.mean = l.evened(p.mean, studio.Point{X: r.X + r.W/2, Y: r.Y + r.H/2})
	before := l.cell([3]float32{float32(p.mean[0]), float32(p.mean[1]), float32(p.mean[2])}).lab
	if c := before.Chroma(); c > greyCast {
		warnings = append(warnings, fmt.Sprintf("The grey patch looks strongly coloured (C* %.0f): make sure that the mark is on the grey card, and use a whiter lamp.", c))
	}
	want := lightOfL(greyL)
	for c, v := range p.mean {
		l.gain[c] = want / v
	}
	if l.white != nil {
		l.bendTo(*l.white, p.mean, want)
	}
	if g := l.gain[1]; g > 4 || g < 0.25 {
		warnings = append(warnings, fmt.Sprintf("The picture had to be made %.1f times as bright to bring the grey patch right; expose so that the card looks mid grey.", g))
	}
	return warnings, nil
}

// lightOfL returns the luminous reflectance (0 to 1) of a lightness L*, the
// inverse of CIE 1976 L*.
func lightOfL(l float64) float64 {
	if l > 8 {
		return math.Pow((l+16)/116, 3)
	}
	return l * 27 / 24389
}

// checkRect refuses a marked rectangle that is outside the picture or too small.
func checkRect(field, what string, r studio.Rect, img *picture.Image) error {
	if !(r.W >= greySide && r.H >= greySide) {
		return refuse(field, "The %s is %.0f x %.0f pixels; it must be at least %.0f x %.0f. Mark a larger part.", what, r.W, r.H, greySide, greySide)
	}
	if !(r.X >= -0.5 && r.Y >= -0.5 && r.X+r.W <= float64(img.Width)+0.5 && r.Y+r.H <= float64(img.Height)+0.5) {
		return refuse(field, "The %s reaches outside the %d x %d picture. Mark it inside.", what, img.Width, img.Height)
	}
	return nil
}

// patchReading is what a marked rectangle holds.
type patchReading struct {
	mean    [3]float64
	seen    int
	clipped float64 // share with a channel clipped
	uneven  float64 // (largest - smallest) / mean of 16 parts, worst channel
}

func pixels(r studio.Rect, img *picture.Image) (x0, y0, x1, y1 int) {
	return max(0, int(math.Round(r.X))), max(0, int(math.Round(r.Y))),
		min(img.Width, int(math.Round(r.X+r.W))), min(img.Height, int(math.Round(r.Y+r.H)))
}

// patch reads a rectangle in linear light.
func patch(img *picture.Image, r studio.Rect) patchReading {
	x0, y0, x1, y1 := pixels(r, img)
	var p patchReading
	var parts [16][3]float64
	var counts [16]int
	clipped := 0
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			if !img.Opaque(x, y) {
				continue
			}
			rgb, peak := img.At(x, y)
			i := 4*(4*(y-y0)/(y1-y0)) + 4*(x-x0)/(x1-x0)
			counts[i]++
			p.seen++
			if peak >= clippedCode {
				clipped++
			}
			for c, v := range rgb {
				parts[i][c] += float64(v)
				p.mean[c] += float64(v)
			}
		}
	}
	if p.seen == 0 {
		return p
	}
	p.clipped = float64(clipped) / float64(p.seen)
	for c := range p.mean {
		p.mean[c] /= float64(p.seen)
		low, high := math.Inf(1), math.Inf(-1)
		for i, n := range counts {
			if n > 0 {
				v := parts[i][c] / float64(n)
				low, high = math.Min(low, v), math.Max(high, v)
			}
		}
		if p.mean[c] > 0 {
			p.uneven = math.Max(p.uneven, (high-low)/p.mean[c])
		}
	}
	return p
}
