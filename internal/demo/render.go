package demo

import (
	"image"
	"math"
	"math/rand/v2"

	"aerugo/internal/science/colour"
)

// bounds are a place's edges with its corner radius, in mm, for the renderer.
type bounds struct{ cx, cy, hw, hh, r float32 }

func (p place) bounds() bounds {
	return bounds{float32(p.x + p.w/2), float32(p.y + p.h/2), float32(p.w/2 - p.round), float32(p.h/2 - p.round), float32(p.round)}
}

// distance returns how far (x, y) lies outside b, in mm; negative is inside.
func (b bounds) distance(x, y float32) float32 {
	dx, dy := abs(x-b.cx)-b.hw, abs(y-b.cy)-b.hh
	if dx <= 0 || dy <= 0 {
		return max(dx, dy) - b.r
	}
	return float32(math.Sqrt(float64(dx*dx+dy*dy))) - b.r
}

func abs(v float32) float32 { return max(v, -v) }

// thing is one flat object on the table.
type thing struct {
	bounds
	drop, soft, dark float32 // its shadow: offset and softness in mm, darkness
	px               float32 // sampling, pixels to the mm
	left, top        float32 // its upper left corner in mm
	face             *face   // painted in colour, or
	grey             *image.Gray
	base             tone // the colour of white in grey
	metal            bool
	seen             image.Rectangle // the pixels it or its shadow may touch
}

// sight sets the pixels t may touch, seen through l.
func (t *thing) sight(l lens) {
	const reach = 4 // mm, further than any shadow falls
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, sx := range [2]float64{-1, 1} {
		for _, sy := range [2]float64{-1, 1} {
			x, y := through(l.to, float64(t.cx)+sx*(float64(t.hw+t.r)+reach), float64(t.cy)+sy*(float64(t.hh+t.r)+reach))
			x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x), max(y1, y)
		}
	}
	t.seen = image.Rect(int(x0), int(y0), int(x1)+1, int(y1)+1)
}

// Render draws the photograph: a JPEG of 1000 by 750 pixels as stored, sRGB,
// with the time, the camera's name and the orientation in its EXIF.
func Render(s Shot) []byte { return encodeJPEG(s, expose(s)) }

// expose returns the photograph as displayed.
func expose(s Shot) *image.RGBA {
	n := noise()
	w, h := s.size()
	sc, lens := s.scene(), s.lens()
	painted := paint(s.Look, s.WidthMM, s.HeightMM, s.Piece)
	paper := toneOf(colour.Lab{L: 92, A: 0, B: 2})
	grey := toneOf(colour.Lab{L: greyL})
	table := toneOf(colour.Lab{L: 66})
	shiny := s.Look.Shine > 0.5
	things := []thing{
		{bounds: sc.label.bounds(), drop: 0.15, soft: 0.5, dark: 0.22, px: labelPx, grey: drawLabel(s.Number, s.Face), base: paper, left: float32(sc.label.x), top: float32(sc.label.y)},
		{bounds: sc.card.bounds(), drop: 0.35, soft: 1.1, dark: 0.35, px: labelPx, grey: drawCard(sc.card.w, sc.card.h), base: grey, left: float32(sc.card.x), top: float32(sc.card.y)},
		{bounds: sc.swatch.bounds(), drop: 0.8, soft: 2.0, dark: 0.42, px: pxPerMM, face: &painted, metal: shiny, left: float32(sc.swatch.x), top: float32(sc.swatch.y)},
	}
	for i := range things {
		things[i].sight(lens)
	}
	rng := rand.New(rand.NewPCG(s.Chance, 41))
	clothX, clothY := rng.IntN(tile), rng.IntN(tile)
	dice := rng.Uint32()

	var lamp [3]float32
	for c := range lamp {
		lamp[c] = float32(s.Light.Cast[c] * s.Light.Exposure)
	}
	sin, cos := math.Sincos(s.Light.From)
	slopeX, slopeY := float32(s.Light.Slope*cos), float32(s.Light.Slope*sin)

	img := image.NewRGBA(image.Rect(0, 0, w, h))
	m := lens.from
	const pxMM = 8.5 // about how many pixels a mm takes in the picture
	var onRow [3]*thing
	for py := range h {
		fy := float64(py) + 0.5
		v := float32(fy/float64(h)) - 0.5
		row := img.Pix[py*img.Stride:]
		here := onRow[:0]
		for i := range things {
			if t := &things[i]; py >= t.seen.Min.Y && py < t.seen.Max.Y {
				here = append(here, t)
			}
		}
		for px := range w {
			fx := float64(px) + 0.5
			k := 1 / (m[6]*fx + m[7]*fy + m[8])
			x, y := float32((m[0]*fx+m[1]*fy+m[2])*k), float32((m[3]*fx+m[4]*fy+m[5])*k)

			cx, cy := int(floor(x*9)), int(floor(y*9))
			cloth := 1 + 0.012*at(n.broad, cx+clothX, cy+clothY) + 0.010*at(n.islands, 2*cx+clothY, 2*cy+clothX)
			c := table.times(cloth)
			for _, t := range here {
				if px < t.seen.Min.X || px >= t.seen.Max.X {
					continue
				}
				d := t.distance(x, y)
				if d > -0.2 {
					shade := t.distance(x-t.drop, y-t.drop*1.3)
					c = c.times(1 - t.dark*(1-step(-0.6*t.soft, t.soft, shade)))
				}
				switch a := 0.5 - d*pxMM; {
				case a >= 1:
					c = t.look(x, y, d)
				case a > 0:
					c = mix(c, t.look(x, y, d), a)
				}
			}

			u := float32(fx/float64(w)) - 0.5
			light := 1 + slopeX*u + slopeY*v - 0.05*(u*u+v*v)
			for ch := range lamp {
				value := c[ch] * light * lamp[ch]
				dice = dice*1664525 + 1013904223
				value += n.gauss[dice>>(32-gaussBits)] * (0.0012 + 0.0045*value)
				row[4*px+ch] = encode(value)
			}
			row[4*px+3] = 255
		}
	}
	caption(img)
	return img
}

// look returns the thing's colour at a place d mm outside its edge.
func (t *thing) look(x, y, d float32) tone {
	gx, gy := (x-t.left)*t.px, (y-t.top)*t.px
	if t.face == nil {
		return t.base.times(sampleGrey(t.grey, gx, gy))
	}
	c := t.face.between(gx, gy)
	// The sheared edge catches the lamp at the upper left and turns away from
	// it at the lower right.
	if rim := 1 - clamp(-d/0.35, 0, 1); rim > 0 {
		lit := clamp(((t.cx-x)/t.hw+(t.cy-y)/t.hh)*0.8, -1, 1)
		if t.metal {
			lit *= 1.4
		}
		c = c.times(1 + 0.22*rim*lit)
	}
	return c
}

// sampleGrey samples g between its pixels, as a fraction of white.
func sampleGrey(g *image.Gray, x, y float32) float32 {
	w, h := g.Rect.Dx(), g.Rect.Dy()
	x, y = clamp(x-0.5, 0, float32(w)-1.001), clamp(y-0.5, 0, float32(h)-1.001)
	i, j := int(x), int(y)
	x, y = x-float32(i), y-float32(j)
	p := g.Pix[j*g.Stride+i:]
	top := lerp(float32(p[0]), float32(p[1]), x)
	low := lerp(float32(p[g.Stride]), float32(p[g.Stride+1]), x)
	return lerp(top, low, y) / 255
}
