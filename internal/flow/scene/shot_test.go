package scene_test

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"sync"

	"github.com/boombuler/barcode/datamatrix"

	"aerugo/internal/flow/mat"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// The page is drawn as what lies on each of its cells, 0.1 mm wide: a number into
// the list of surfaces. So the true coverage and colour of a swatch are counted,
// not reckoned, and each surface has to be looked up under the light only once.

const dots = 10 // to the mm

// The surfaces every page has; a swatch's own follow from swatchFrom.
const (
	ofPaper = iota
	ofInk
	ofGreyInk
	ofWords
	ofCard
	ofLabel
	ofLabelInk
	ofFinger
	ofSlip
	ofBench
	ofBenchVein
	ofShadow
	ofDeepShadow
	ofFrame
	ofPatch         // and 23 more
	swatchFrom = 40 // first swatch's bare metal
	perSwatch  = 40 // numbers of a swatch
	tones      = 5  // of each kind of surface on a swatch: bare, two patinas, grains
	kinds      = 4
	surfaces   = swatchFrom + 2*perSwatch
)

type raster struct {
	w, h int
	v    []uint8
}

// printed is the mat's ink, once for each layout.
var printed = func() func(l mat.Layout) raster {
	var mu sync.Mutex
	made := map[string]raster{}
	return func(l mat.Layout) raster {
		mu.Lock()
		defer mu.Unlock()
		if r, ok := made[l.Name()]; ok {
			return r
		}
		r := raster{w: int(math.Round(l.Page.W * dots)), h: int(math.Round(l.Page.H * dots))}
		r.v = make([]uint8, r.w*r.h)
		ink, err := l.Ink()
		if err != nil {
			panic(err)
		}
		for _, i := range ink {
			kind := uint8(ofPaper)
			switch {
			case i.Grey < 50:
				kind = ofInk
			case i.Grey < 200:
				kind = ofGreyInk
			}
			r.fill(i.Area, kind)
		}
		for y := l.Head.Y; y < l.Head.Y+l.Head.H-1; y += 3 { // in the place of words
			for x := l.Head.X + 2; x < l.Head.X+l.Head.W-6; x += 4 {
				r.fill(mat.Area{X: x, Y: y, W: 2.6, H: 1.7}, ofWords)
			}
		}
		made[l.Name()] = r
		return r
	}
}()

func (r raster) fill(a mat.Area, kind uint8) {
	x0, y0 := int(math.Round(a.X*dots)), int(math.Round(a.Y*dots))
	x1, y1 := max(x0+1, int(math.Round((a.X+a.W)*dots))), max(y0+1, int(math.Round((a.Y+a.H)*dots)))
	for y := max(0, y0); y < min(r.h, y1); y++ {
		for x := max(0, x0); x < min(r.w, x1); x++ {
			r.v[y*r.w+x] = kind
		}
	}
}

// slab is a rectangle on the mat, turned about its middle.
type slab struct {
	middle   mat.MM
	w, h     float64
	cos, sin float64
}

func newSlab(middle mat.MM, w, h, degrees float64) slab {
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	return slab{middle, w, h, cos, sin}
}

func (s slab) place(x, y float64) mat.MM {
	return mat.MM{X: s.middle.X + x*s.cos - y*s.sin, Y: s.middle.Y + x*s.sin + y*s.cos}
}

func (s slab) corners() (out [4]mat.MM) {
	for i, d := range [4][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
		out[i] = s.place(d[0]*s.w/2, d[1]*s.h/2)
	}
	return out
}

// over runs through the cells of a slab, with each one's place on it in mm.
func (r raster) over(s slab, use func(i int, x, y float64)) {
	reach := math.Hypot(s.w, s.h) / 2
	x0, x1 := max(0, int((s.middle.X-reach)*dots)), min(r.w-1, int((s.middle.X+reach)*dots)+1)
	y0, y1 := max(0, int((s.middle.Y-reach)*dots)), min(r.h-1, int((s.middle.Y+reach)*dots)+1)
	for j := y0; j <= y1; j++ {
		for i := x0; i <= x1; i++ {
			dx, dy := (float64(i)+0.5)/dots-s.middle.X, (float64(j)+0.5)/dots-s.middle.Y
			x, y := dx*s.cos+dy*s.sin, dy*s.cos-dx*s.sin
			if math.Abs(x) <= s.w/2 && math.Abs(y) <= s.h/2 {
				use(j*r.w+i, x, y)
			}
		}
	}
}

func (r raster) cover(s slab, kind uint8) {
	r.over(s, func(i int, _, _ float64) { r.v[i] = kind })
}

// noise is smooth chance over the plane, from 0 to 1, with features of a width.
type noise struct {
	seed  uint64
	width float64
}

func hash(a, b, seed uint64) float64 {
	h := a*0x9e3779b97f4a7c15 ^ b*0xc2b2ae3d27d4eb4f ^ seed*0x165667b19e3779f9
	h ^= h >> 29
	h *= 0xbf58476d1ce4e5b9
	h ^= h >> 32
	return float64(h>>11) / (1 << 53)
}

func (n noise) at(x, y float64) float64 {
	sum, size := 0.0, 1.0
	for octave := range uint64(3) {
		u, v := x/n.width*float64(int(1)<<octave)+1000, y/n.width*float64(int(1)<<octave)+1000
		i, j := math.Floor(u), math.Floor(v)
		f, g := u-i, v-j
		f, g = f*f*(3-2*f), g*g*(3-2*g)
		a, b, s := uint64(i), uint64(j), n.seed+octave
		sum += size * ((1-g)*((1-f)*hash(a, b, s)+f*hash(a+1, b, s)) + g*((1-f)*hash(a, b+1, s)+f*hash(a+1, b+1, s)))
		size /= 2
	}
	return sum / 1.75
}

// sheet is noise over a slab at every 0.4 mm; between, it is interpolated.
type sheet struct {
	n      int
	x0, y0 float64
	v      []float32
}

const sheetStep = 0.4

func (n noise) sheet(w, h float64) sheet {
	s := sheet{n: int(w/sheetStep) + 3, x0: -w/2 - sheetStep, y0: -h/2 - sheetStep}
	for j := range int(h/sheetStep) + 3 {
		for i := range s.n {
			s.v = append(s.v, float32(n.at(s.x0+float64(i)*sheetStep, s.y0+float64(j)*sheetStep)))
		}
	}
	return s
}

func (s sheet) at(x, y float64) float64 {
	u, v := (x-s.x0)/sheetStep, (y-s.y0)/sheetStep
	i, j := int(u), int(v)
	f, g := float32(u-float64(i)), float32(v-float64(j))
	a, b := s.v[j*s.n+i:], s.v[(j+1)*s.n+i:]
	return float64((1-g)*((1-f)*a[0]+f*a[1]) + g*((1-f)*b[0]+f*b[1]))
}

// surface says what a swatch is made of and how it is covered.
type surface struct {
	metal    spectrum
	patina   [2]spectrum
	grain    spectrum
	coverage float64 // wanted, of the part that is not the strip
	strip    float64 // mm along the lower edge that stayed bare
	second   float64 // share of the second patina
	width    float64 // mm, of the blotches
	grains   float64 // share
	seed     uint64
}

// edgeBand is the share of each side along every edge that measure leaves out,
// since pixels mix there; the truth is that of the rest.
const edgeBand = 0.015

// lay draws a swatch and returns what is true of it.
func (r raster) lay(s slab, f surface, base int) (coverage float64, counts [kinds * tones]int) {
	field, other := noise{f.seed, f.width}.sheet(s.w, s.h), noise{f.seed + 77, 1.7 * f.width}.sheet(s.w, s.h)
	var values, others []float64
	pick := rand.New(rand.NewPCG(f.seed, 3))
	for range 6000 {
		x, y := (pick.Float64()-0.5)*s.w, (pick.Float64()-0.5)*s.h
		values, others = append(values, field.at(x, y)), append(others, other.at(x, y))
	}
	slices.Sort(values)
	slices.Sort(others)
	quantile := func(v []float64, q float64) float64 { return v[int(min(max(q, 0), 1)*float64(len(v)-1))] }
	level, border := quantile(values, f.coverage), quantile(others, f.second)
	all, covered := 0, 0
	r.over(s, func(i int, x, y float64) {
		kind := 0
		if y < s.h/2-f.strip && (f.coverage > 0 && field.at(x, y) <= level) {
			kind = 1
			if other.at(x, y) < border {
				kind = 2
			}
		}
		if y < s.h/2-f.strip && f.grains > 0 && f.coverage > 0 {
			const cell = 4.0 // one grain at most in each
			a, b := math.Floor(x/cell)+500, math.Floor(y/cell)+500
			ha, hb := uint64(a), uint64(b)
			if hash(ha, hb, f.seed+5) < f.grains*4 {
				cx, cy := (a-500+0.35+0.3*hash(ha, hb, f.seed+6))*cell, (b-500+0.35+0.3*hash(ha, hb, f.seed+7))*cell
				if math.Hypot(x-cx, y-cy) < 0.6+0.6*hash(ha, hb, f.seed+8) {
					kind = 3
				}
			}
		}
		tone := int(tones * hash(uint64(y/0.3+1000), uint64(x/9+1000), f.seed)) // brushed lines
		if kind > 0 {
			tone = int(tones * hash(uint64(y/0.7+1000), uint64(x/0.7+1000), f.seed+9))
		}
		r.v[i] = uint8(base + kind*tones + tone)
		if math.Abs(x) > (0.5-edgeBand)*s.w || math.Abs(y) > (0.5-edgeBand)*s.h {
			return
		}
		counts[kind*tones+tone]++
		all++
		if kind > 0 {
			covered++
		}
	})
	return float64(covered) / float64(all), counts
}

// toneOf is how bright a tone is beside its surface.
func toneOf(tone int) float64 { return 1 + 0.04*float64(tone-tones/2) }

func (f surface) spectrumOf(kind int) spectrum {
	return [kinds]spectrum{f.metal, f.patina[0], f.patina[1], f.grain}[kind]
}

// plate is one swatch in a shot and all that is true of it.
type plate struct {
	slab     slab
	surface  surface
	number   int64
	face     studio.Face
	coverage float64
	lab      colour.Lab
	blank    bool
}

// shot is one photograph to be, drawn by chance from its number.
type shot struct {
	n        uint64
	layout   mat.Layout
	w, h     int
	page     [9]float64 // mm on the page to pixels
	back     [9]float64
	tilt     float64
	upside   bool
	plates   []plate
	target   bool
	near     bool // two swatches of nearly one colour
	covered  int  // marks with something on them
	lamp     string
	kelvin   float64
	light    spectrum
	phone    phone
	level    float64 // linear light of white paper
	slope    mat.MM  // of the light, for each mm
	fall     float64 // share lost over the page
	vignette float64
	shadow   float64 // depth; 0 for none
	edge     func(p mat.MM) float64
	glare    []highlight
	blur     float64
	noise    float64
	quality  int
	seen     [surfaces][3]float32
	raster   raster
	spectra  [surfaces]spectrum
}

type highlight struct {
	at             mat.MM
	radius, bright float64
}

func apply(h *[9]float64, x, y float64) (u, v float64) {
	w := 1 / (h[6]*x + h[7]*y + h[8])
	return (h[0]*x + h[1]*y + h[2]) * w, (h[3]*x + h[4]*y + h[5]) * w
}

func inverse(h [9]float64) (out [9]float64) {
	c := func(a, b, d, e int) float64 { return h[a]*h[b] - h[d]*h[e] }
	return [9]float64{
		c(4, 8, 5, 7), c(2, 7, 1, 8), c(1, 5, 2, 4),
		c(5, 6, 3, 8), c(0, 8, 2, 6), c(2, 3, 0, 5),
		c(3, 7, 4, 6), c(1, 6, 0, 7), c(0, 4, 1, 3),
	}
}

func (s *shot) pixel(p mat.MM) studio.Point {
	u, v := apply(&s.page, p.X, p.Y)
	return studio.Point{X: u, Y: v}
}

func (s *shot) mm(q studio.Point) mat.MM {
	x, y := apply(&s.back, q.X, q.Y)
	return mat.MM{X: x, Y: y}
}

// pxPerMM is the true scale at a place: the root of how areas grow.
func (s *shot) pxPerMM(p mat.MM) float64 {
	const d = 0.01
	a, b, c := s.pixel(p), s.pixel(mat.MM{X: p.X + d, Y: p.Y}), s.pixel(mat.MM{X: p.X, Y: p.Y + d})
	return math.Sqrt(math.Abs((b.X-a.X)*(c.Y-a.Y)-(b.Y-a.Y)*(c.X-a.X))) / d
}

// aim points a pinhole camera at the page from as near as the page allows.
func (s *shot) aim(axis, roll, fill float64, shift mat.MM) {
	rad := math.Pi / 180
	st, ct := math.Sincos(s.tilt * rad)
	sa, ca := math.Sincos(axis * rad)
	sr, cr := math.Sincos(roll * rad)
	focal := 1.15 * float64(max(s.w, s.h))
	rows := func(d float64) (h [9]float64) {
		project := func(x, y float64) [3]float64 {
			x, y = x-s.layout.Page.W/2+shift.X, y-s.layout.Page.H/2+shift.Y
			u, v := ca*x+sa*y, ca*y-sa*x // turned so that the tilt's axis is u
			v, z := v*ct, d+v*st
			x, y = ca*u-sa*v, sa*u+ca*v
			x, y = cr*x-sr*y, sr*x+cr*y
			return [3]float64{float64(s.w)/2*z + focal*x, float64(s.h)/2*z + focal*y, z}
		}
		o, a, b := project(0, 0), project(1, 0), project(0, 1)
		for i := range 3 {
			h[3*i], h[3*i+1], h[3*i+2] = a[i]-o[i], b[i]-o[i], o[i]
		}
		return h
	}
	for d := 250.0; ; d *= 1.02 {
		s.page = rows(d)
		fits := true
		for _, c := range s.layout.Page.Corners() {
			p := s.pixel(c)
			fits = fits && math.Abs(p.X-float64(s.w)/2) <= fill*float64(s.w)/2 && math.Abs(p.Y-float64(s.h)/2) <= fill*float64(s.h)/2
		}
		if fits {
			break
		}
	}
	s.back = inverse(s.page)
}

// newShot draws the shot of a number: its light and camera, then what lies there.
func newShot(n uint64) *shot {
	s, r := lit(n)
	s.furnish(r)
	return s
}

// lit draws the mat, light and camera of a number, and hands on the chance.
func lit(n uint64) (*shot, *rand.Rand) {
	p := published()
	r := rand.New(rand.NewPCG(n, 112026))
	between := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
	l := mat.Layouts[int(n)%len(mat.Layouts)]
	s := &shot{n: n, layout: l, w: 960, h: 1280, tilt: between(0, 40), quality: 60 + r.IntN(36), target: n/4%2 == 0}
	roll := between(-12, 12)
	switch r.IntN(4) {
	case 0:
		roll += 180
		s.upside = true
	case 1:
		s.w, s.h = s.h, s.w
		roll += 90
	}
	s.aim(between(0, 360), roll, between(0.88, 0.98), mat.MM{X: between(-3, 3), Y: between(-3, 3)})

	// the light
	s.kelvin = between(2700, 6500)
	switch k := r.IntN(3); {
	case k == 0:
		i := r.IntN(4)
		s.lamp, s.light, s.kelvin = "LED", p.leds[i].times(0.01), []float64{2733, 4103, 6598, 2723}[i]
	case k == 1 && s.kelvin >= 4000:
		s.lamp, s.light = "daylight", p.daylight(s.kelvin)
	default:
		s.lamp, s.light = "hot wire", blackbody(s.kelvin)
	}
	s.phone = newPhone(r, s.light, s.kelvin)
	s.level = between(0.45, 0.8)
	s.fall = between(0, 0.25)
	sin, cos := math.Sincos(between(0, 2*math.Pi))
	s.slope = mat.MM{X: cos * s.fall / l.Page.H, Y: sin * s.fall / l.Page.H}
	s.vignette = between(0, 0.08)
	if r.IntN(5) == 0 {
		s.shadow = between(0.15, 0.4)
		soft, at := between(4, 25), between(-60, 110)
		sin, cos := math.Sincos(between(0, 2*math.Pi))
		s.edge = func(q mat.MM) float64 {
			d := (q.X-l.Page.W/2)*cos + (q.Y-l.Page.H/2)*sin - at
			return 1 - s.shadow*min(max(0.5+d/soft, 0), 1)
		}
	}
	s.blur, s.noise = between(0.3, 1.3), between(0.001, 0.006)
	return s, r
}

// furnish lays on the mat what is to be photographed.
func (s *shot) furnish(r *rand.Rand) {
	p, l, sp := published(), s.layout, &s.spectra
	between := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
	flat := spectrum{}.plus(1)
	paper := between(0.82, 0.90)                                 // Y of office paper: L* 92.6 to 96
	sp[ofPaper] = step(paper*between(0.95, 1.0), paper, 440, 25) // warmer or cooler
	sp[ofInk], sp[ofGreyInk], sp[ofWords] = flat.times(between(0.02, 0.045)), flat.times(0.30), flat.times(0.06)
	sp[ofCard] = step(0.18*between(0.985, 1.015), 0.18*between(0.985, 1.015), 550, 60)
	sp[ofLabel], sp[ofLabelInk] = flat.times(0.84), flat.times(0.04)
	sp[ofFinger], sp[ofSlip] = step(0.2, 0.5, 590, 20), flat.times(0.8)
	sp[ofBench], sp[ofBenchVein] = step(0.1, 0.28, 560, 50), step(0.08, 0.2, 560, 50)
	sp[ofShadow], sp[ofDeepShadow], sp[ofFrame] = sp[ofPaper].times(0.86), sp[ofPaper].times(0.74), flat.times(0.035)
	for i, v := range p.patches {
		sp[ofPatch+i] = v
	}
	s.raster = printed(l)
	s.raster.v = slices.Clone(s.raster.v)
	if r.IntN(8) > 0 || !s.target {
		s.raster.cover(newSlab(l.Grey.Centre(), l.Grey.W+2, l.Grey.H+2, between(-2, 2)), ofCard)
	}
	if s.target {
		s.layTarget(newSlab(l.Target.Centre(), 96, 64, between(-1, 1)+float64(180*r.IntN(2))))
	}
	s.near = l.Kind == mat.TwoSwatches && r.IntN(10) < 7
	blank := l.Kind == mat.TwoSwatches && !s.near && r.IntN(3) > 0
	for i, place := range l.Swatches {
		x := plate{number: 1 + r.Int64N(9999), face: studio.BothFaces[r.IntN(2)]}
		w, h := between(0.5, 0.97)*l.MaxSwatch, between(0.5, 0.97)*l.MaxSwatch
		turn := between(-4, 4)
		room := func(side, long, other float64) float64 { return max(0, (side-long-other*0.08)/2-1) }
		if room(place.W, w, h) == 0 || room(place.H, h, w) == 0 {
			turn = between(-0.4, 0.4)
		}
		c := place.Centre()
		c.X += between(-1, 1) * room(place.W, w, h)
		c.Y += between(-1, 1) * room(place.H, h, w)
		x.slab = newSlab(c, w, h, turn)
		f := surface{metal: metal(r.IntN(3)).times(between(0.85, 1.15)), coverage: between(0.05, 0.97), strip: between(9, 12), second: between(0, 0.5), width: between(3, 25), seed: r.Uint64()}
		for k := range f.patina {
			f.patina[k] = smooth(patinaLabs[r.IntN(len(patinaLabs))])
		}
		f.grain = smooth(colour.Lab{L: 70, A: -12, B: -2})
		if r.IntN(3) == 0 {
			f.grains = between(0.02, 0.15)
		}
		switch {
		case i == 1 && s.near:
			was := s.plates[0].surface
			seed := f.seed
			f = was
			f.seed = seed
			f.coverage = min(max(was.coverage+0.05*r.NormFloat64(), 0), 1)
			for k := range f.patina {
				f.patina[k] = f.patina[k].times(math.Exp(0.06 * r.NormFloat64()))
				tilt := 0.06 * r.NormFloat64()
				for j := range f.patina[k] {
					f.patina[k][j] *= math.Exp(tilt * (wavelength(j) - 550) / 150)
				}
			}
		case i == 1 && blank:
			f.metal, f.coverage, f.grains, x.blank = s.plates[0].surface.metal, 0, 0, true
			s.plates[0].surface.strip = 0
		}
		x.surface = f
		s.plates = append(s.plates, x)
		lab := newSlab(l.Labels[i].Centre(), 46, 27, between(-3, 3)+float64(180*r.IntN(2)))
		s.layLabel(lab, studio.Code(x.number, x.face))
	}
	for i := range s.plates {
		x := &s.plates[i]
		s.castShadow(x.slab)
	}
	for i := range s.plates {
		x := &s.plates[i]
		base := swatchFrom + i*perSwatch
		for k := range kinds {
			for t := range tones {
				sp[base+k*tones+t] = x.surface.spectrumOf(k).times(toneOf(t))
			}
		}
		var counts [kinds * tones]int
		x.coverage, counts = s.raster.lay(x.slab, x.surface, base)
		var sum spectrum
		all := 0.0
		for k, c := range counts {
			all += float64(c)
			for j, v := range sp[base+k] {
				sum[j] += float64(c) * v
			}
		}
		x.lab = p.lab(sum.times(1 / all))
		if r.IntN(5) == 0 {
			for range 1 + r.IntN(2) {
				s.glare = append(s.glare, highlight{x.slab.place(between(-0.4, 0.4)*x.slab.w, between(-0.4, 0.3)*x.slab.h), between(1, 3.5), between(0.6, 2)})
			}
		}
	}
	if r.IntN(4) == 0 {
		s.covered = 1 + r.IntN(5)/4
	}
	for _, i := range r.Perm(4)[:s.covered] {
		m := l.Marks[i].Centre()
		k := newSlab(mat.MM{X: m.X + between(-11, 11), Y: m.Y + between(-11, 11)}, between(8, 25), between(8, 25), between(0, 90))
		kind := uint8(ofFinger)
		if r.IntN(3) == 0 {
			kind = ofSlip
		}
		s.raster.cover(k, kind)
	}
}

// castShadow darkens the paper beside a thin sheet.
func (s *shot) castShadow(k slab) {
	for i, grown := range [2]float64{1.2, 0.5} {
		t := k
		t.middle.X, t.middle.Y = t.middle.X+0.5, t.middle.Y+0.4
		t.w, t.h = t.w+grown, t.h+grown
		s.raster.over(t, func(j int, _, _ float64) {
			if v := s.raster.v[j]; v == ofPaper || v == ofShadow {
				s.raster.v[j] = uint8(ofShadow + i)
			}
		})
	}
}

// layTarget lays a 24-patch target: patches 0.76 of their pitch, on black.
func (s *shot) layTarget(k slab) {
	s.raster.cover(k, ofFrame)
	pitch := min(k.w/6.3, k.h/4.3)
	s.raster.over(k, func(i int, x, y float64) {
		u, v := x/pitch+3, y/pitch+2
		if u < 0 || v < 0 || u >= 6 || v >= 4 {
			return
		}
		if math.Abs(u-math.Floor(u)-0.5) < 0.38 && math.Abs(v-math.Floor(v)-0.5) < 0.38 {
			s.raster.v[i] = uint8(ofPatch + 6*int(v) + int(u))
		}
	})
}

// layLabel lays a label: its code at the right, 13.6 mm with a rim of two
// modules, and words.
func (s *shot) layLabel(k slab, text string) {
	img, err := datamatrix.Encode(text)
	if err != nil {
		panic(err)
	}
	b := img.Bounds()
	n := b.Dx()
	const side = 13.6
	module := side / float64(n+4)
	s.raster.over(k, func(i int, x, y float64) {
		kind := uint8(ofLabel)
		u, v := int(math.Floor((x-k.w/2+1.2+side)/module))-2, int(math.Floor((y+k.h/2-1.2)/module))-2
		if u >= 0 && v >= 0 && u < n && v < n {
			if c, _, _, _ := img.At(b.Min.X+u, b.Min.Y+v).RGBA(); c < 0x8000 {
				kind = ofLabelInk
			}
		}
		if x < k.w/2-18 && math.Mod(y+k.h/2, 4) > 2 && math.Mod(x+k.w/2, 3) > 1.2 {
			kind = ofLabelInk
		}
		s.raster.v[i] = kind
	})
}

// file is the photograph as a JPEG file.
func (s *shot) file() []byte {
	white := s.phone.seen(s.spectra[ofPaper], s.light)
	most := max(white[0], white[1], white[2])
	for i, v := range s.spectra {
		c := s.phone.seen(v, s.light)
		for k := range c {
			s.seen[i][k] = float32(c[k] * s.level / most)
		}
	}
	n := s.w * s.h
	rgb := make([]float32, 3*n)
	h := &s.back
	for y := range s.h {
		for x := range s.w {
			var sum [3]float32
			for _, d := range [4][2]float64{{0.25, 0.25}, {0.75, 0.25}, {0.25, 0.75}, {0.75, 0.75}} {
				u, v := apply(h, float64(x)+d[0], float64(y)+d[1])
				kind := uint8(ofBench)
				i, j := int(u*dots), int(v*dots)
				if u >= 0 && v >= 0 && i < s.raster.w && j < s.raster.h {
					kind = s.raster.v[j*s.raster.w+i]
				} else if int(v*0.4+u*0.05+1000)%3 == 0 {
					kind = ofBenchVein
				}
				c := &s.seen[kind]
				sum[0], sum[1], sum[2] = sum[0]+c[0], sum[1]+c[1], sum[2]+c[2]
			}
			u, v := apply(h, float64(x)+0.5, float64(y)+0.5)
			p := mat.MM{X: u, Y: v}
			light := max(1-s.fall/2+s.slope.X*(u-s.layout.Page.W/2)+s.slope.Y*(v-s.layout.Page.H/2), 0.3)
			dx, dy := (float64(x)-float64(s.w)/2)/float64(s.w), (float64(y)-float64(s.h)/2)/float64(s.w)
			light *= 1 - s.vignette*(dx*dx+dy*dy)
			if s.edge != nil {
				light *= s.edge(p)
			}
			extra := float32(0)
			for _, g := range s.glare {
				if d := math.Hypot(u-g.at.X, v-g.at.Y); d < 2*g.radius {
					if i, j := int(u*dots), int(v*dots); i >= 0 && j >= 0 && i < s.raster.w && j < s.raster.h && s.raster.v[j*s.raster.w+i] >= swatchFrom {
						extra += float32(g.bright * math.Exp(-2*square(d/g.radius)))
					}
				}
			}
			for k := range sum {
				rgb[3*(y*s.w+x)+k] = (sum[k]/4 + extra*s.seen[ofPaper][k]) * float32(light)
			}
		}
	}
	smear(rgb, s.w, s.h, s.blur)
	return s.encode(rgb)
}

// throws are normal chance of spread 1.
var throws = sync.OnceValue(func() []float32 {
	r := rand.New(rand.NewPCG(11, 26))
	out := make([]float32, 65521)
	for i := range out {
		out[i] = float32(r.NormFloat64())
	}
	return out
})

// encode makes a JPEG of linear sRGB: noise, the camera's curve, its saturation.
func (s *shot) encode(rgb []float32) []byte {
	chance := s.n * 977 // where among the throws each picture starts
	const steps = 4096
	normal := throws()
	curve := make([]float32, steps+2)
	for i := range curve {
		curve[i] = float32(s.phone.toned(float64(i) / steps))
	}
	toned := func(v float32) float32 {
		v = min(max(v, 0), 1) * steps
		i := int(v)
		f := v - float32(i)
		return curve[i]*(1-f) + curve[i+1]*f
	}
	out := image.NewRGBA(image.Rect(0, 0, s.w, s.h))
	saturation := float32(s.phone.saturation)
	for i := range s.w * s.h {
		var v [3]float32
		for c := range v {
			l := rgb[3*i+c]
			chance += 1 + chance>>7&3
			l += float32(s.noise) * (0.5 + float32(math.Sqrt(float64(max(l, 0))))) * normal[chance%uint64(len(normal))]
			v[c] = toned(l)
		}
		y := 0.2126*v[0] + 0.7152*v[1] + 0.0722*v[2]
		for c := range v {
			v[c] = y + saturation*(v[c]-y)
		}
		if s.phone.p3 { // sRGB to Display P3, both D65 and of one curve
			var l [3]float32
			for c := range v {
				l[c] = linearOf(v[c])
			}
			v = [3]float32{
				encodedOf(0.8224622*l[0] + 0.1775378*l[1]),
				encodedOf(0.0331942*l[0] + 0.9668058*l[1]),
				encodedOf(0.0170826*l[0] + 0.0723974*l[1] + 0.9105199*l[2]),
			}
		}
		for c := range v {
			out.Pix[4*i+c] = uint8(min(max(v[c], 0), 1)*255 + 0.5)
		}
		out.Pix[4*i+3] = 255
	}
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, out, &jpeg.Options{Quality: s.quality}); err != nil {
		panic(err)
	}
	if !s.phone.p3 {
		return buf.Bytes()
	}
	raw := buf.Bytes()
	body := append([]byte("ICC_PROFILE\x00\x01\x01"), displayP3()...)
	file := append([]byte{}, raw[:2]...)
	file = append(file, 0xff, 0xe2)
	file = binary.BigEndian.AppendUint16(file, uint16(len(body)+2))
	file = append(file, body...)
	return append(file, raw[2:]...)
}

// The sRGB curve (IEC 61966-2-1) in 4096 steps, and its inverse.
var encodings = sync.OnceValue(func() (out [2][4098]float32) {
	for i := range out[0] {
		v := float64(i) / 4096
		if v <= 0.04045 {
			out[0][i] = float32(v / 12.92)
		} else {
			out[0][i] = float32(math.Pow((v+0.055)/1.055, 2.4))
		}
		if v <= 0.0031308 {
			out[1][i] = float32(12.92 * v)
		} else {
			out[1][i] = float32(1.055*math.Pow(v, 1/2.4) - 0.055)
		}
	}
	return out
})

var encodingTable = encodings()

func lookUp(t *[4098]float32, v float32) float32 {
	v = min(max(v, 0), 1) * 4096
	i := int(v)
	f := v - float32(i)
	return t[i]*(1-f) + t[i+1]*f
}

func linearOf(v float32) float32  { return lookUp(&encodingTable[0], v) }
func encodedOf(v float32) float32 { return lookUp(&encodingTable[1], v) }

// displayP3 is the profile inside a picture of package picture.
var displayP3 = sync.OnceValue(func() []byte {
	b, err := os.ReadFile("../../picture/testdata/p8_p3_v4.jpg")
	if err != nil {
		panic(err)
	}
	i := bytes.Index(b, []byte("ICC_PROFILE\x00\x01\x01"))
	if i < 2 {
		panic("the sample has no profile")
	}
	length := int(binary.BigEndian.Uint16(b[i-2:]))
	return b[i+14 : i-2+length]
})

// smear is a Gaussian blur of sigma pixels.
func smear(rgb []float32, w, h int, sigma float64) {
	reach := int(math.Ceil(2.5 * sigma))
	k := make([]float32, 2*reach+1)
	sum := float32(0)
	for i := range k {
		k[i] = float32(math.Exp(-square(float64(i-reach)) / (2 * sigma * sigma)))
		sum += k[i]
	}
	for i := range k {
		k[i] /= sum
	}
	row := make([]float32, 3*(w+2*reach))
	for y := range h {
		line := rgb[3*y*w : 3*(y+1)*w]
		copy(row[3*reach:], line)
		for i := range reach {
			copy(row[3*i:3*i+3], line[:3])
			copy(row[3*(reach+w+i):3*(reach+w+i)+3], line[3*(w-1):])
		}
		for i := range line {
			v := float32(0)
			for j, f := range k {
				v += f * row[i+3*j]
			}
			line[i] = v
		}
	}
	// down, with whole rows at a time
	past := make([]float32, len(rgb))
	copy(past, rgb)
	for y := range h {
		line := rgb[3*y*w : 3*(y+1)*w]
		clear(line)
		for j, f := range k {
			from := min(max(y+j-reach, 0), h-1)
			for i, v := range past[3*from*w : 3*(from+1)*w] {
				line[i] += f * v
			}
		}
	}
}
