package target

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"aerugo/internal/picture"
	"aerugo/internal/science/colour"
	"aerugo/internal/science/target"
	"aerugo/internal/studio"
)

// scene is a rendered photograph of the target.
type scene struct {
	tilt     float64 // how much nearer one side is than the other, as a share
	turn     float64 // degrees
	gradient float64 // share by which the light falls from left to right
	kelvin   string  // lamp
	noise    float64 // standard deviation in 8-bit steps
	cover    int     // patches hidden behind a leaf
	side     float64 // pixels from patch to patch
	exposure float64
}

var lamps = map[string]colour.XYZ{"D50": colour.D50, "D65": colour.D65, "A": {X: 1.02, Y: 1, Z: 0.62}}

// render draws a scene and says where the patches' centres are.
func render(t testing.TB, s scene, seed uint64) (*picture.Image, [24]studio.Point) {
	t.Helper()
	const w, h = 700, 560
	sin, cos := math.Sincos(s.turn * math.Pi / 180)
	place := func(x, y float64) studio.Point { // of column x, row y
		dx, dy := (x-2.5)*s.side, (y-1.5)*s.side
		u, v := cos*dx-sin*dy, sin*dx+cos*dy
		z := 1 + s.tilt*u/(5*s.side)
		return studio.Point{X: w/2 + u/z, Y: h/2 + v/z}
	}
	var from, to []studio.Point
	for _, p := range [][2]float64{{0, 0}, {5, 0}, {5, 3}, {0, 3}} {
		from = append(from, place(p[0], p[1]))
		to = append(to, studio.Point{X: p[0], Y: p[1]})
	}
	back, ok := fitPlane(from, to)
	if !ok {
		t.Fatal("no plane")
	}
	ref := target.After2014()
	r := rand.New(rand.NewPCG(seed, 7))
	white := lamps[s.kelvin]
	lab := func(x, y float64) colour.Lab {
		p := back.to(x, y)
		col, row := int(math.Round(p.X)), int(math.Round(p.Y))
		switch {
		case p.X < -0.8 || p.X > 5.8 || p.Y < -0.8 || p.Y > 3.8:
			return colour.Lab{L: 62, A: 4, B: 14} // a bench top
		case col < 0 || col > 5 || row < 0 || row > 3:
			return colour.Lab{L: 14}
		case row*6+col < s.cover:
			return colour.Lab{L: 45, A: -18, B: 25}
		case math.Abs(p.X-float64(col)) < 0.4 && math.Abs(p.Y-float64(row)) < 0.4:
			return ref.Patches[row*6+col].Lab
		}
		return colour.Lab{L: 14}
	}
	linear := map[colour.Lab][3]float64{}
	shown := func(l colour.Lab) [3]float64 {
		v, ok := linear[l]
		if !ok {
			// Without an adaptation by the camera: its D50 is the lamp's light.
			v[0], v[1], v[2] = colour.SRGB.FromXYZ(colour.Adapt(l.XYZ(colour.D50), colour.D50, white))
			linear[l] = v
		}
		return v
	}
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			var sum [3]float64
			for k := range 4 {
				v := shown(lab(float64(x)+0.5*float64(k%2)-0.25, float64(y)+0.5*float64(k/2)-0.25))
				sum[0], sum[1], sum[2] = sum[0]+v[0]/4, sum[1]+v[1]/4, sum[2]+v[2]/4
			}
			light := s.exposure * (1 - s.gradient*float64(x)/w)
			er, eg, eb := colour.SRGB.Encode(light*sum[0], light*sum[1], light*sum[2])
			code := func(v float64) uint8 {
				return uint8(min(255, max(0, math.Round(255*v+s.noise*r.NormFloat64()))))
			}
			img.SetNRGBA(x, y, color.NRGBA{code(er), code(eg), code(eb), 255})
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	var centres [24]studio.Point
	for i := range centres {
		centres[i] = place(float64(i%6), float64(i/6))
	}
	return decode(t, b.Bytes()), centres
}

func TestRenderedTargetsAreFoundAndCorrected(t *testing.T) {
	for _, c := range []struct {
		name string
		s    scene
		most float64 // dE00 left out
	}{
		{"square on", scene{kelvin: "D50", side: 70, exposure: 0.85}, 1},
		{"upside down", scene{kelvin: "D50", side: 70, exposure: 0.85, turn: 180}, 1},
		{"turned and tilted", scene{kelvin: "D50", side: 60, exposure: 0.85, turn: 38, tilt: 0.35}, 1},
		{"tilted the other way", scene{kelvin: "D65", side: 60, exposure: 0.8, turn: -100, tilt: -0.3}, 1.5},
		{"warm lamp", scene{kelvin: "A", side: 60, exposure: 0.75, turn: 10}, 2.5},
		{"uneven light", scene{kelvin: "D50", side: 60, exposure: 0.9, gradient: 0.35, turn: 5}, 4},
		{"noise", scene{kelvin: "D50", side: 60, exposure: 0.8, noise: 6, turn: 95}, 2},
		{"small", scene{kelvin: "D50", side: 17, exposure: 0.8, turn: 20}, 1.5},
		{"all at once", scene{kelvin: "A", side: 50, exposure: 0.8, noise: 4, gradient: 0.2, turn: 200, tilt: 0.25}, 4},
	} {
		img, want := render(t, c.s, 3)
		f, err := Find(img, target.After2014())
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		for i, p := range want {
			if d := apartBy(p, f.Centres[i]); d > 2 {
				t.Errorf("%s: patch %d is %.1f pixels off", c.name, i+1, d)
			}
		}
		fit, err := f.Correction()
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		t.Logf("%s: %d patches, %s, %.2f", c.name, len(fit.Patches), fit.Method, fit.LOOMean)
		if fit.LOOMean > c.most {
			t.Errorf("%s: %.2f dE00 left out, want %.1f", c.name, fit.LOOMean, c.most)
		}
	}
}

func TestHiddenPatchesAreDroppedOrRefused(t *testing.T) {
	for hidden, good := range map[int]bool{0: true, 2: true, 6: false, 9: false} {
		img, _ := render(t, scene{kelvin: "D50", side: 60, exposure: 0.85, turn: 12, cover: hidden}, 5)
		f, err := Find(img, target.After2014())
		if good != (err == nil) {
			t.Errorf("%d hidden: %v", hidden, err)
			continue
		}
		if p := studio.ProblemIn(err); err != nil && (p == nil || !strings.Contains(p.Text, "covered")) {
			t.Errorf("%d hidden: %v, want a Problem that says covered", hidden, err)
		}
		if err == nil && len(f.Samples()) < 24-hidden {
			t.Errorf("%d hidden: only %d patches are used", hidden, len(f.Samples()))
		}
	}
}

func TestBurntOutPatchesAreDropped(t *testing.T) {
	img, _ := render(t, scene{kelvin: "D50", side: 60, exposure: 1.25}, 5)
	f, err := Find(img, target.After2014())
	if err != nil {
		t.Fatal(err)
	}
	if f.Readings[18].Fault != burnt || f.Readings[19].Fault != "" {
		t.Errorf("white %q, light grey %q", f.Readings[18].Fault, f.Readings[19].Fault)
	}
}
