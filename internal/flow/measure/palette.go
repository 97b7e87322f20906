package measure

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

const (
	mostColours   = 5
	sameColour    = 3.0  // dE00 below which two colours are shown as one; common practice, no source
	flatFace      = 0.75 // CIELAB units: a face whose spread is less is one colour
	gapSample     = 1500 // cells the number of colours is judged on
	gapReferences = 10
	fitSample     = 20000 // cells the colours are fitted on
)

// clustering is k-means' answer.
type clustering struct {
	centres []colour.Lab
	of      []int   // cluster of each point
	inertia float64 // sum of squared distances to the own centre
}

// kMeans clusters points in Lab by Lloyd's algorithm from k-means++ starts
// (Arthur & Vassilvitskii 2007), keeping the best of several.
func kMeans(points []colour.Lab, k, starts int, rng *rand.Rand) clustering {
	best := clustering{inertia: math.Inf(1)}
	for range starts {
		c := lloyd(points, seeds(points, k, rng))
		if c.inertia < best.inertia {
			best = c
		}
	}
	return best
}

// seeds picks k starting centres, each with a chance in proportion to its
// squared distance from those picked before.
func seeds(points []colour.Lab, k int, rng *rand.Rand) []colour.Lab {
	centres := []colour.Lab{points[rng.IntN(len(points))]}
	near := make([]float64, len(points))
	for i := range near {
		near[i] = math.Inf(1)
	}
	for len(centres) < k {
		last := centres[len(centres)-1]
		sum := 0.0
		for i, p := range points {
			near[i] = math.Min(near[i], squaredDistance(p, last))
			sum += near[i]
		}
		pick := rng.Float64() * sum
		next := 0
		for i, d := range near {
			if pick -= d; pick <= 0 && d > 0 {
				next = i
				break
			}
		}
		centres = append(centres, points[next])
	}
	return centres
}

func squaredDistance(p, q colour.Lab) float64 {
	return square(p.L-q.L) + square(p.A-q.A) + square(p.B-q.B)
}

// lloyd moves centres to the means of their points until no point changes side.
// Most points are told by bounds, not by their distances (Hamerly 2010, SIAM
// International Conference on Data Mining: 130-140): near is at least the distance
// to a point's own centre and far at most that to any other, both kept true as the
// centres move, and while near is below far the point stays where it is.
func lloyd(points []colour.Lab, centres []colour.Lab) clustering {
	k := len(centres)
	c := clustering{centres: slices.Clone(centres), of: make([]int, len(points))}
	near, far := make([]float64, len(points)), make([]float64, len(points))
	sums, counts := make([]colour.Lab, k), make([]float64, k)
	for i, p := range points {
		best, least, second := c.twoNearest(p)
		c.of[i], near[i], far[i] = best, math.Sqrt(least), math.Sqrt(second)
		sums[best] = plus(sums[best], p, 1)
		counts[best]++
	}
	moved, apart := make([]float64, k), make([]float64, k)
	for range 300 {
		for j, n := range counts {
			moved[j] = 0
			if n > 0 {
				next := colour.Lab{L: sums[j].L / n, A: sums[j].A / n, B: sums[j].B / n}
				moved[j] = math.Sqrt(squaredDistance(next, c.centres[j]))
				c.centres[j] = next
			}
		}
		most := slices.Max(moved)
		for j := range apart { // no point nearer than half the way to the next centre can change
			apart[j] = math.Inf(1)
			for l := range apart {
				if l != j {
					apart[j] = math.Min(apart[j], math.Sqrt(squaredDistance(c.centres[j], c.centres[l]))/2)
				}
			}
		}
		changed := false
		for i, p := range points {
			own := c.of[i]
			near[i] += moved[own]
			far[i] -= most
			bound := max(far[i], apart[own])
			if near[i] < bound {
				continue
			}
			if near[i] = math.Sqrt(squaredDistance(p, c.centres[own])); near[i] < bound {
				continue
			}
			best, least, second := c.twoNearest(p)
			near[i], far[i] = math.Sqrt(least), math.Sqrt(second)
			if best != own {
				changed = true
				c.of[i] = best
				sums[own], sums[best] = plus(sums[own], p, -1), plus(sums[best], p, 1)
				counts[own]--
				counts[best]++
			}
		}
		if !changed {
			break
		}
	}
	for i, p := range points {
		c.inertia += squaredDistance(p, c.centres[c.of[i]])
	}
	return c
}

// twoNearest is the nearest centre and the squared distances of the nearest two.
func (c *clustering) twoNearest(p colour.Lab) (best int, least, second float64) {
	least, second = math.Inf(1), math.Inf(1)
	for j, q := range c.centres {
		if d := squaredDistance(p, q); d < least {
			best, least, second = j, d, least
		} else if d < second {
			second = d
		}
	}
	return best, least, second
}

func plus(sum, p colour.Lab, times float64) colour.Lab {
	return colour.Lab{L: sum.L + times*p.L, A: sum.A + times*p.A, B: sum.B + times*p.B}
}

// countColours chooses how many colours points hold, 1 to mostColours, by the
// gap statistic (Tibshirani, Walther & Hastie 2001, J. R. Stat. Soc. B 63:
// 411-423) against uniform points in the box along the points' own axes: the
// fewest whose gap is within one standard error of the largest. The paper's
// stricter rule, which stops at the first gap that is not followed by a larger
// one, overlooks a colour that covers little of the face.
func countColours(points []colour.Lab, rng *rand.Rand) int {
	box := newBox(points)
	references := make([][]colour.Lab, gapReferences)
	for i := range references {
		references[i] = box.uniform(len(points), rng)
	}
	var gaps, errs [mostColours]float64
	best := 0
	for k := range mostColours {
		var logs [gapReferences]float64
		mean := 0.0
		for i, r := range references {
			logs[i] = math.Log(kMeans(r, k+1, 1, rng).inertia + 1e-9)
			mean += logs[i] / gapReferences
		}
		variance := 0.0
		for _, v := range logs {
			variance += square(v-mean) / gapReferences
		}
		gaps[k] = mean - math.Log(kMeans(points, k+1, 4, rng).inertia+1e-9)
		errs[k] = math.Sqrt(variance * (1 + 1.0/gapReferences))
		if gaps[k] > gaps[best] {
			best = k
		}
	}
	for k := range best {
		if gaps[k] >= gaps[best]-errs[best] {
			return k + 1
		}
	}
	return best + 1
}

// palette names the colours of a face with their shares, largest first. Each
// colour's Lab is that of the mean XYZ of its cells. The chance k-means needs
// is seeded, so that the same face always gives the same palette.
func palette(cells []cell) []studio.PaletteEntry {
	rng := rand.New(rand.NewPCG(0x61657275, 0x676f))
	sample := thin(cells, gapSample, rng)
	k := 1
	if lloyd(sample, []colour.Lab{sample[0]}).inertia/float64(len(sample)) > flatFace*flatFace {
		k = countColours(sample, rng)
	}
	fit := thin(cells, fitSample, rng)
	c := kMeans(fit, k, 4, rng)
	for k > 1 && nearest(c.centres) < sameColour {
		k--
		c = kMeans(fit, k, 4, rng)
	}
	sums, counts := make([]colour.XYZ, k), make([]float64, k)
	for _, v := range cells {
		best, least := 0, math.Inf(1)
		for j, q := range c.centres {
			if d := squaredDistance(v.lab, q); d < least {
				best, least = j, d
			}
		}
		sums[best].X += v.xyz.X
		sums[best].Y += v.xyz.Y
		sums[best].Z += v.xyz.Z
		counts[best]++
	}
	var out []studio.PaletteEntry
	for j, n := range counts {
		if n > 0 {
			lab := colour.XYZ{X: sums[j].X / n, Y: sums[j].Y / n, Z: sums[j].Z / n}.Lab(colour.D50)
			out = append(out, studio.PaletteEntry{Lab: lab, Share: n / float64(len(cells)), Name: colour.Name(lab)})
		}
	}
	slices.SortStableFunc(out, func(a, b studio.PaletteEntry) int { return cmp.Compare(b.Share, a.Share) })
	return out
}

// nearest is the smallest dE00 between two centres.
func nearest(centres []colour.Lab) float64 {
	least := math.Inf(1)
	for i := range centres {
		for j := range i {
			least = math.Min(least, colour.Difference(centres[i], centres[j]))
		}
	}
	return least
}

// thin takes n of the cells: one at a random place in each of n equal runs, so
// that no stripe of the face is favoured.
func thin(cells []cell, n int, rng *rand.Rand) []colour.Lab {
	n = min(n, len(cells))
	run := float64(len(cells)) / float64(n)
	out := make([]colour.Lab, n)
	for i := range out {
		out[i] = cells[min(len(cells)-1, int((float64(i)+rng.Float64())*run))].lab
	}
	return out
}
