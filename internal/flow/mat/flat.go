package mat

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/mat"

	"aerugo/internal/picture"
)

// Flat is the light over the mat: a surface of second order in mm for each
// channel, in linear light, fitted to the white fields.
type Flat struct {
	Residual float64 // root mean square of what is left, as a share of the light
	Covered  float64 // share of the white fields left out: shadow, dirt, something on them
	Range    float64 // (most - least) / most light over the swatches' places
	middle   MM
	size     float64
	coef     [3][6]float64
}

// Limits of the flat field; common practice, no source.
const (
	flatGrid    = 2.0 // mm between samples
	paperClip   = 253 // code value from which paper counts as burnt out
	clippedMost = 0.3 // share of the white fields
	coveredMost = 0.6
)

func (s *Flat) terms(p MM) [6]float64 {
	x, y := (p.X-s.middle.X)/s.size, (p.Y-s.middle.Y)/s.size
	return [6]float64{1, x, y, x * x, x * y, y * y}
}

// Paper returns what white paper at p gives in the photograph: linear RGB in
// the picture's space, 1 at full scale.
func (s *Flat) Paper(p MM) [3]float64 {
	t := s.terms(p)
	var out [3]float64
	for c := range out {
		for i, v := range t {
			out[c] += v * s.coef[c][i]
		}
		out[c] = math.Max(out[c], 1e-4)
	}
	return out
}

// Gain returns by what linear RGB at p is multiplied to give what it would be
// under the light at from, such as the grey card's middle.
func (s *Flat) Gain(p, from MM) [3]float64 {
	a, b := s.Paper(p), s.Paper(from)
	return [3]float64{b[0] / a[0], b[1] / a[1], b[2] / a[2]}
}

// FlatField fits the light over a found mat from its white border fields. Up to
// about half of them may be covered or in shadow: what is darker than the
// surface the rest agrees on is left out, and counted in Covered. A
// *studio.Problem says that the paper is burnt out or hardly to be seen.
func FlatField(img *picture.Image, f Found) (*Flat, error) {
	c := f.Layout.Page.Centre()
	s := &Flat{middle: c, size: f.Layout.Page.H / 2}
	var at []MM
	var rgb [][3]float64
	clipped, all := 0, 0
	for _, field := range f.Layout.Fields {
		nx, ny := max(1, int(field.W/flatGrid)), max(1, int(field.H/flatGrid))
		for j := range ny {
			for i := range nx {
				p := MM{field.X + field.W*(float64(i)+0.5)/float64(nx), field.Y + field.H*(float64(j)+0.5)/float64(ny)}
				v, peak, ok := around(img, f, p, 0.7)
				all++
				if !ok {
					continue
				}
				if peak >= paperClip {
					clipped++
					continue
				}
				at, rgb = append(at, p), append(rgb, v)
			}
		}
	}
	if float64(clipped) > clippedMost*float64(all) {
		return nil, refuse("%.0f %% of the mat's white fields are burnt out, so the light can't be evened; at most %.0f %% may be. Expose less.", 100*float64(clipped)/float64(all), 100*clippedMost)
	}
	if len(at) < 60 {
		return nil, refuse("Only %d places of the mat's white fields are in the picture; at least 60 must be. Take the whole mat into it.", len(at))
	}
	w, ok := s.settle(at, rgb)
	if !ok {
		return nil, refuse("The light over the mat could not be followed; lay the mat flat in even light.")
	}
	kept, sum := 0.0, 0.0
	for i, p := range at {
		if w[i] == 0 {
			continue
		}
		kept++
		sum += square(rgb[i][1]/s.Paper(p)[1] - 1)
	}
	s.Covered = 1 - (kept+float64(clipped))/float64(all)
	if s.Covered > coveredMost {
		return nil, refuse("%.0f %% of the mat's white fields are covered or in shadow; at most %.0f %% may be. Clear the mat and move the lamp.", 100*s.Covered, 100*coveredMost)
	}
	s.Residual = math.Sqrt(sum / math.Max(kept, 1))
	low, high := math.Inf(1), 0.0
	for _, place := range f.Layout.Swatches {
		for _, p := range append([]MM{place.Centre()}, cornersOf(place)...) {
			v := s.Paper(p)[1]
			low, high = math.Min(low, v), math.Max(high, v)
		}
	}
	s.Range = (high - low) / high
	return s, nil
}

func cornersOf(a Area) []MM { c := a.Corners(); return c[:] }

// settle fits the surfaces and returns the weights the places ended with. It
// starts from the brighter half, since shadow and dirt only ever darken paper,
// and judges each round by the spread of the round before (Tukey's biweight).
func (s *Flat) settle(at []MM, rgb [][3]float64) ([]float64, bool) {
	n := len(at)
	w := make([]float64, n)
	for i := range w {
		w[i] = 1
	}
	for round := range 12 {
		for c := range 3 {
			a := mat.NewDense(n, 6, nil)
			b := mat.NewVecDense(n, nil)
			for i, p := range at {
				k := math.Sqrt(w[i])
				t := s.terms(p)
				for j := range t {
					t[j] *= k
				}
				a.SetRow(i, t[:])
				b.SetVec(i, k*rgb[i][c])
			}
			var x mat.VecDense
			if err := x.SolveVec(a, b); err != nil {
				return nil, false
			}
			for j := range 6 {
				s.coef[c][j] = x.AtVec(j)
			}
		}
		off := make([]float64, n)
		sizes := make([]float64, n)
		for i, p := range at {
			off[i] = rgb[i][1]/s.Paper(p)[1] - 1
			sizes[i] = math.Abs(off[i])
		}
		sort.Float64s(sizes)
		spread, most := math.Max(1.48*sizes[n/2], 0.004), 0.012 // paper that is not quite flat, no shadow
		if round < 4 {
			spread, most = math.Max(spread, 0.02), 0.03
		}
		for i := range w {
			if round < 4 && off[i] > 0 {
				w[i] = 1 // brighter than the surface: the surface is in a shadow
				continue
			}
			d := off[i] / (4.7 * math.Min(spread, most))
			w[i] = 0
			if d*d < 1 {
				w[i] = square(1 - d*d)
			}
		}
	}
	return w, true
}

// around returns the mean linear RGB within r mm of a place, and the highest
// code value there.
func around(img *picture.Image, f Found, p MM, r float64) (rgb [3]float64, peak uint8, ok bool) {
	q := f.Pixel(p)
	reach := int(clamp(r/f.MMPerPx, 0, 8))
	x, y := int(q.X), int(q.Y)
	if x-reach < 0 || y-reach < 0 || x+reach >= img.Width || y+reach >= img.Height {
		return rgb, 0, false
	}
	n := square(float64(2*reach + 1))
	for j := -reach; j <= reach; j++ {
		for i := -reach; i <= reach; i++ {
			v, top := img.At(x+i, y+j)
			peak = max(peak, top)
			for c := range rgb {
				rgb[c] += float64(v[c]) / n
			}
		}
	}
	return rgb, peak, true
}
