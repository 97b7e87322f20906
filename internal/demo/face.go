package demo

import (
	"math"
	"math/rand/v2"

	"aerugo/internal/science/colour"
)

// pxPerMM is the fineness at which a face is painted before it is photographed.
const pxPerMM = 8

// A Look is what one face shows at one moment, before any lamp or camera:
// a mixture of ground, film and patina whose shares and colours are known.
type Look struct {
	Ground  colour.Lab // bare metal, or the base patina under an overlay
	Film    colour.Lab // the first dark film
	Patina  colour.Lab // the grown patina
	Second  colour.Lab // the hue the patina wanders to, in equal parts
	Covered float64    // share of the face no longer ground
	Turned  float64    // share of the covered that is patina, the rest being film
	Salt    float64    // share under salt that has not dissolved
	Spots   float64    // 0 a wash, 1 separate dots
	Pool    float64    // how far the liquid drew to one side; 0 not at all
	PoolTo  float64    // which side, in radians from the right edge, clockwise
	Shine   float64    // 1 brushed metal, 0 dull
}

// salt is the colour of dry salt grains.
var salt = colour.Lab{L: 88, A: 0, B: 1}

// tones returns the four tones of l and the share of the face each covers:
// ground, film, patina, salt.
func (l Look) tones() (t [4]tone, share [4]float64) {
	t = [4]tone{toneOf(l.Ground), toneOf(l.Film), mix(toneOf(l.Patina), toneOf(l.Second), 0.5), toneOf(salt)}
	open := 1 - l.Salt
	share = [4]float64{open * (1 - l.Covered), open * l.Covered * (1 - l.Turned), open * l.Covered * l.Turned, l.Salt}
	return t, share
}

// mean returns the average tone over the face.
func (l Look) mean() (m tone) {
	t, share := l.tones()
	for k := range t {
		for c := range m {
			m[c] += float32(share[k]) * t[k][c]
		}
	}
	return m
}

// Mean returns the colour an instrument that sees the whole face at once reads:
// CIELAB of the mean over the face in linear light.
func (l Look) Mean() colour.Lab { return labOf(l.mean()) }

// face is a painted face: w by h tones, row by row.
type face struct {
	w, h int
	px   []tone
}

// paint draws l on a face of the given size. The seed fixes where the islands
// lie and how the metal was brushed, so that a face painted again at a later
// moment shows the same islands, grown.
//
// The painted shares and the painted mean are those of l: the islands are cut
// at the height that leaves the right share above it, and what the mottling did
// to the mean is taken out again at the end.
func paint(l Look, widthMM, heightMM float64, seed uint64) face {
	n := noise()
	f := face{w: int(widthMM * pxPerMM), h: int(heightMM * pxPerMM)}
	f.px = make([]tone, f.w*f.h)
	rng := rand.New(rand.NewPCG(seed, 21))
	spot := func() (int, int) { return rng.IntN(tile), rng.IntN(tile) }
	ix, iy := spot()
	ax, ay := spot()
	bx, by := spot()
	gx, gy := spot()
	mx, my := spot()
	sx, sy := spot()
	bandAt := 0.15 + 0.7*rng.Float32()
	bandLean := 0.12 * (2*rng.Float32() - 1)

	sin, cos := math.Sincos(l.PoolTo)
	toX, toY := float32(cos*l.Pool), float32(sin*l.Pool)
	height := make([]float32, len(f.px))
	low, high := float32(math.MaxFloat32), float32(-math.MaxFloat32)
	spots := float32(l.Spots)
	for y := range f.h {
		v := 2*float32(y)/float32(f.h) - 1
		for x := range f.w {
			u := 2*float32(x)/float32(f.w) - 1
			wx, wy := at(n.broad, x+ax, y+ay), at(n.broad, x+bx, y+by)
			t := between(n.islands, float32(x+ix)+13*wx, float32(y+iy)+13*wy)
			if spots > 0 {
				fine := at(n.islands, 3*x+gy, 3*y+gx)
				g := between(n.grains, float32(x+gx)+5*t+1.5*fine, float32(y+gy)+4*wx-1.5*fine)
				t = lerp(t, 0.62*t+0.75*g+0.12*fine, spots)
			} else {
				t += 0.10 * at(n.islands, 3*x+gy, 3*y+gx)
			}
			t += u*toX + v*toY
			height[y*f.w+x] = t
			low, high = min(low, t), max(high, t)
		}
	}
	shoreAt := level(height, low, high, l.Covered)
	turnAt := level(height, low, high, l.Covered*l.Turned)

	t, _ := l.tones()
	patina, second := toneOf(l.Patina), toneOf(l.Second)
	young := mix(t[0], mix(t[1], tone{0.40, 0.16, 0.05}, 0.35), 0.75) // the film where it is thinnest
	crust := mix(mix(patina, second, 0.5), tone{0.75, 0.85, 0.82}, 0.35)
	shine := float32(l.Shine)
	for y := range f.h {
		v := float32(y) / float32(f.h)
		for x := range f.w {
			i := y*f.w + x
			u := float32(x) / float32(f.w)
			h := height[i]
			mottle := at(n.islands, x+mx, y+my)
			wander := at(n.broad, x+my, y+mx)
			line := at(n.streak, x+sx, y+sy)
			covered := step(shoreAt-0.09, shoreAt+0.09, h)
			turned := step(turnAt-0.25, turnAt+0.25, h)
			dust := n.gauss[(i*2654435761>>7)&(1<<gaussBits-1)]

			var c tone
			if covered < 1 {
				d := (u - bandAt - bandLean*(v-0.5)) * 4
				glare := 0.30/(1+d*d*6) - 0.05
				c = t[0].times(1 + shine*(0.055*line+glare) + 0.03*wander + (1-shine)*(0.10*mottle+0.05*line))
			}
			if covered > 0 {
				film := mix(young, t[1], step(shoreAt, shoreAt+0.5, h)).times(1 + 0.10*mottle + 0.04*line + 0.03*dust)
				if turned > 0 {
					deep := clamp((h-turnAt)/2.2, 0, 1)
					p := mix(patina, second, clamp(0.5+0.30*wander+0.12*mottle, 0, 1))
					p = mix(p, crust, 0.75*deep*clamp(0.5+0.5*mottle, 0, 1))
					p = mix(p, t[1], 0.22*clamp(-mottle-0.5, 0, 1)) // where it is thin the film shows through
					p = p.times(1 + 0.11*mottle + 0.06*wander + 0.055*dust)
					film = mix(film, p, turned)
				}
				c = mix(c, film, covered)
			}
			f.px[i] = c
		}
	}
	f.crystals(l, rng, height, turnAt, toneOf(salt))
	f.settle(l.mean())
	return f
}

// crystals sets undissolved grains of salt over the face, and fine pale
// crystals on the grown patina.
func (f face) crystals(l Look, rng *rand.Rand, height []float32, turnAt float32, white tone) {
	if l.Turned > 0.3 {
		for range int(float64(len(f.px)) * 0.0025 * l.Covered) {
			i := rng.IntN(len(f.px))
			if height[i] > turnAt+0.3 {
				f.px[i] = mix(f.px[i], white, 0.25+0.35*rng.Float32())
			}
		}
	}
	const side = 3 // about 0.4 mm, a grain of table salt
	for range int(l.Salt * float64(len(f.px)) / (side * side)) {
		x0, y0 := rng.IntN(f.w-side-1), rng.IntN(f.h-side-1)
		bright := 0.85 + 0.25*rng.Float32()
		for y := range side + 1 {
			for x := range side + 1 {
				i := (y0+y)*f.w + x0 + x
				switch {
				case x < side && y < side:
					f.px[i] = white.times(bright - 0.06*float32(x+y))
				default: // its shadow, to the lower right
					f.px[i] = f.px[i].times(0.75)
				}
			}
		}
	}
}

// settle scales each channel so that the mean over the face is want.
func (f face) settle(want tone) {
	var sum [3]float64
	for i := range f.px {
		for c := range sum {
			sum[c] += float64(f.px[i][c])
		}
	}
	var k tone
	for c := range k {
		k[c] = float32(float64(want[c]) * float64(len(f.px)) / max(sum[c], 1e-9))
	}
	for i := range f.px {
		for c := range k {
			f.px[i][c] = max(f.px[i][c]*k[c], 0)
		}
	}
}

// between samples the face at a place in pixels from its corner.
func (f face) between(x, y float32) tone {
	x, y = clamp(x-0.5, 0, float32(f.w)-1.001), clamp(y-0.5, 0, float32(f.h)-1.001)
	i, j := int(x), int(y)
	x, y = x-float32(i), y-float32(j)
	at := j*f.w + i
	return mix(mix(f.px[at], f.px[at+1], x), mix(f.px[at+f.w], f.px[at+f.w+1], x), y)
}

// level returns the height above which share of all heights lie; low and high
// are their least and greatest.
func level(height []float32, low, high float32, share float64) float32 {
	if share <= 0 {
		return high + 1
	}
	if share >= 1 {
		return low - 1
	}
	const bins = 4096
	var count [bins]int
	scale := (bins - 1) / (high - low)
	for _, h := range height {
		count[int((h-low)*scale)]++
	}
	left := int(math.Round(share * float64(len(height))))
	for b := bins - 1; b >= 0; b-- {
		if left -= count[b]; left <= 0 {
			return low + (float32(b)+0.5)/scale
		}
	}
	return low - 1
}
