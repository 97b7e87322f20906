package demo

import (
	"math"
	"math/rand/v2"
	"sync"
)

// tile is the side of the noise tables in pixels; they wrap, so any offset and
// stride into them is valid.
const tile = 1024

// gaussBits is the base-2 logarithm of how many normal draws are kept.
const gaussBits = 13

// tables are the fields every face is cut from. They are built once: a face
// takes its own corner of them, which costs a lookup instead of a computation.
type tables struct {
	islands []float32 // many scales, mean 0, spread 1
	broad   []float32 // large scales only, mean 0, spread 1
	grains  []float32 // distance to the nearest of scattered points, mean 0, spread 1
	streak  []float32 // fine lines along x, mean 0, spread 1
	gauss   []float32 // draws from the normal law, few enough to stay near the processor
}

// noise returns the shared tables.
var noise = sync.OnceValue(func() *tables {
	t := &tables{
		islands: octaves(11, []int{128, 64, 32, 16, 8, 4}, 0.62),
		broad:   octaves(12, []int{256, 128, 64}, 0.6),
		grains:  points(13, 22),
		streak:  lines(14),
		gauss:   make([]float32, 1<<gaussBits),
	}
	rng := rand.New(rand.NewPCG(15, 0))
	for i := range t.gauss {
		t.gauss[i] = float32(rng.NormFloat64())
	}
	return t
})

// octaves sums gradient noise over lattices of the given cell sizes; each size
// after the first counts gain times the one before.
func octaves(seed uint64, cells []int, gain float64) []float32 {
	out := make([]float32, tile*tile)
	rng := rand.New(rand.NewPCG(seed, 1))
	weight := 1.0
	for _, cell := range cells {
		n := tile / cell
		gx, gy := make([]float32, n*n), make([]float32, n*n)
		for i := range gx {
			s, c := math.Sincos(2 * math.Pi * rng.Float64())
			gx[i], gy[i] = float32(c), float32(s)
		}
		for y := range tile {
			j0 := y / cell
			j1 := (j0 + 1) % n
			fy := (float32(y%cell) + 0.5) / float32(cell)
			sy := fade(fy)
			for x := range tile {
				i0 := x / cell
				i1 := (i0 + 1) % n
				fx := (float32(x%cell) + 0.5) / float32(cell)
				sx := fade(fx)
				a, b, c, d := j0*n+i0, j0*n+i1, j1*n+i0, j1*n+i1
				top := lerp(gx[a]*fx+gy[a]*fy, gx[b]*(fx-1)+gy[b]*fy, sx)
				low := lerp(gx[c]*fx+gy[c]*(fy-1), gx[d]*(fx-1)+gy[d]*(fy-1), sx)
				out[y*tile+x] += float32(weight) * lerp(top, low, sy)
			}
		}
		weight *= gain
	}
	return standardise(out)
}

// points returns minus the distance to the nearest of points scattered one to
// a cell, so that the places near a point stand highest.
func points(seed uint64, about int) []float32 {
	n := tile / about
	cell := float64(tile) / float64(n)
	rng := rand.New(rand.NewPCG(seed, 2))
	px, py := make([]float64, n*n), make([]float64, n*n)
	for i := range px {
		px[i] = (float64(i%n) + rng.Float64()) * cell
		py[i] = (float64(i/n) + rng.Float64()) * cell
	}
	out := make([]float32, tile*tile)
	for y := range tile {
		j := int(float64(y) / cell)
		for x := range tile {
			i := int(float64(x) / cell)
			best := math.MaxFloat64
			for dj := -1; dj <= 1; dj++ {
				for di := -1; di <= 1; di++ {
					k := (j+dj+n)%n*n + (i+di+n)%n
					dx, dy := wrap(float64(x)-px[k]), wrap(float64(y)-py[k])
					best = min(best, dx*dx+dy*dy)
				}
			}
			out[y*tile+x] = -float32(math.Sqrt(best))
		}
	}
	return standardise(out)
}

// lines is noise smoothed far along x and hardly along y: the grain that
// abrading in one direction leaves.
func lines(seed uint64) []float32 {
	out := make([]float32, tile*tile)
	rng := rand.New(rand.NewPCG(seed, 3))
	for _, run := range []int{64, 256} {
		n := tile / run
		knots := make([]float32, n)
		for y := range tile {
			for i := range knots {
				knots[i] = float32(rng.NormFloat64())
			}
			shift := rng.IntN(run) // so that the lines do not all end in one column
			for x := range tile {
				at := (x + shift) % tile
				i := at / run
				f := fade(float32(at%run) / float32(run))
				out[y*tile+x] += lerp(knots[i], knots[(i+1)%n], f)
			}
		}
	}
	return standardise(out)
}

// standardise shifts and scales f in place to mean 0 and standard deviation 1.
func standardise(f []float32) []float32 {
	var sum, sq float64
	for _, v := range f {
		sum += float64(v)
		sq += float64(v) * float64(v)
	}
	mean := sum / float64(len(f))
	sd := math.Sqrt(sq/float64(len(f)) - mean*mean)
	for i, v := range f {
		f[i] = float32((float64(v) - mean) / sd)
	}
	return f
}

// between samples f at a place between its pixels.
func between(f []float32, x, y float32) float32 {
	fx, fy := floor(x), floor(y)
	i, j := int(fx)&(tile-1), int(fy)&(tile-1)
	i1, j1 := (i+1)&(tile-1), (j+1)&(tile-1)
	x, y = x-fx, y-fy
	return lerp(lerp(f[j*tile+i], f[j*tile+i1], x), lerp(f[j1*tile+i], f[j1*tile+i1], x), y)
}

// at samples f at the nearest pixel.
func at(f []float32, x, y int) float32 { return f[(y&(tile-1))*tile+x&(tile-1)] }

func wrap(d float64) float64          { return d - tile*math.Round(d/tile) }
func fade(t float32) float32          { return t * t * t * (t*(t*6-15) + 10) }
func lerp(a, b, t float32) float32    { return a + (b-a)*t }
func clamp(v, lo, hi float32) float32 { return min(max(v, lo), hi) }

// floor returns the greatest whole number not above v, for |v| below 2^31.
func floor(v float32) float32 {
	i := float32(int32(v))
	if v < i {
		i--
	}
	return i
}

// step rises smoothly from 0 at lo to 1 at hi.
func step(lo, hi, v float32) float32 {
	t := clamp((v-lo)/(hi-lo), 0, 1)
	return t * t * (3 - 2*t)
}
