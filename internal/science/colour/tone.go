package colour

import (
	"errors"
	"math"
	"sort"
	"sync"
)

// tone is the curve from a stored channel value to linear light, both 0 to 1. It
// never falls. Either table holds equally spaced samples, or the curve is
//
//	(a·x + b)^g + e  for x >= d,   c·x + f  below,
//
// the most general of the parametric curves of ICC.1:2022, 10.18.
type tone struct {
	g, a, b, c, d, e, f float64
	table               []float64
	bytes               [256]float32
	words               func() *[65536]float32 // made when first asked for: 256 kB
}

var (
	errToneFalls = errors.New("its tone curve falls where it should rise")
	errToneWild  = errors.New("its tone curve leaves the range from black to white")
)

// newTone checks a curve and fills its tables.
func newTone(t tone) (*tone, error) {
	const steps = 1024
	last := math.Inf(-1)
	for i := range steps + 1 {
		y := t.raw(float64(i) / steps)
		switch {
		case math.IsNaN(y) || y < -0.01 || y > 1.01:
			return nil, errToneWild
		case y < last-1e-4: // parameters stored in 16 bits may leave a tiny step where the parts meet
			return nil, errToneFalls
		}
		last = y
	}
	if !sort.Float64sAreSorted(t.table) {
		return nil, errToneFalls
	}
	if last-t.raw(0) < 0.1 {
		return nil, errors.New("its tone curve is flat")
	}
	for i := range t.bytes {
		t.bytes[i] = float32(t.decode(float64(i) / 255))
	}
	t.words = sync.OnceValue(func() *[65536]float32 {
		w := new([65536]float32)
		for i := range w {
			w[i] = float32(t.decode(float64(i) / 65535))
		}
		return w
	})
	return &t, nil
}

// raw evaluates the curve for x from 0 to 1 without limiting the result.
func (t *tone) raw(x float64) float64 {
	if n := len(t.table); n > 0 {
		at := x * float64(n-1)
		i := min(int(at), n-2)
		return t.table[i] + (at-float64(i))*(t.table[i+1]-t.table[i])
	}
	if x < t.d {
		return t.c*x + t.f
	}
	return math.Pow(max(0, t.a*x+t.b), t.g) + t.e
}

func (t *tone) decode(x float64) float64 { return clamp(t.raw(clamp(x))) }

// encode is the inverse of decode; on a flat part it gives the lowest value.
func (t *tone) encode(y float64) float64 {
	y = clamp(y)
	if n := len(t.table); n > 0 {
		i := sort.SearchFloat64s(t.table, y)
		switch {
		case i == 0:
			return 0
		case i == n:
			return 1
		}
		low, high := t.table[i-1], t.table[i]
		return (float64(i-1) + (y-low)/(high-low)) / float64(n-1)
	}
	if t.d > 0 && y < t.raw(t.d) {
		if t.c == 0 {
			return 0
		}
		return clamp((y - t.f) / t.c)
	}
	return clamp((math.Pow(max(0, y-t.e), 1/t.g) - t.b) / t.a)
}

// clamp limits x to 0 to 1; not-a-number becomes 0.
func clamp(x float64) float64 {
	if !(x > 0) {
		return 0
	}
	return min(x, 1)
}
