package guess

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// copy returns a model that can be added to without touching m.
func (m *Model) copy() *Model {
	n := *m
	n.x, n.block = slices.Clone(m.x), slices.Clone(m.block)
	n.process = slices.Clone(m.process)
	n.told = make([][][]float64, len(m.process))
	for o := range n.process {
		n.process[o].lower = slices.Clone(m.process[o].lower)
		n.told[o] = [][]float64{m.z[o]}
	}
	return &n
}

// add conditions a copy on one more point, made in the block that is still to
// come. ys holds its outputs along each axis in each telling.
func (m *Model) add(u []float64, ys [][]float64) bool {
	k := m.cover(u, make([]float64, len(m.x)))
	block := -1
	if m.Blocks != nil {
		block = len(m.Blocks)
	}
	for o := range m.process {
		p := &m.process[o]
		row, own := slices.Clone(k), 1+p.noise
		if block >= 0 {
			own += p.block
			for j := range row {
				if m.block[j] == block {
					row[j] += p.block
				}
			}
		}
		if !p.lower.grow(row, own) {
			m.undo(o)
			return false
		}
	}
	m.x, m.block = append(m.x, u), append(m.block, block)
	for o := range m.process {
		before := m.told[o]
		m.told[o] = make([][]float64, len(ys[o]))
		for f, y := range ys[o] {
			m.told[o][f] = append(slices.Clone(before[f%len(before)]), y)
		}
		m.process[o].tell(m.told[o], m.known)
	}
	return true
}

// undo takes the last row back from the first axes.
func (m *Model) undo(axes int) {
	for o := range axes {
		p := &m.process[o]
		p.lower = p.lower[:len(p.lower)-1]
	}
}

// dream adds u as if it had been made, in tellings drawn from the processes. A point
// that no matrix can tell from those there is left out: nothing can be learnt at it.
func (c *chooser) dream(u []float64, r *rand.Rand) {
	c.look(u, &c.w)
	ys := make([][]float64, len(c.process))
	for o := range c.process {
		p := &c.process[o]
		for f := range dreams {
			y := c.w.mean[o][f%len(c.w.mean[o])]
			ys[o] = append(ys[o], y+math.Sqrt(p.scale2*(c.w.share[o]+p.noise+p.block))*r.NormFloat64())
		}
	}
	if !c.add(u, ys) {
		return
	}
	c.look(u, &c.w)
	best := make([]float64, dreams)
	for f := range best {
		loss := c.goal.Loss(c.outputs(func(o int) float64 { return c.w.mean[o][f] }))
		best[f] = min(c.best[f%len(c.best)], loss)
	}
	c.best = best
}

// cross returns the covariance of what is truly at two points, as a share of axis
// o's own, from their correlation prior, and their columns of lower and what these
// leave of the mean.
func (p *process) cross(prior float64, v, w []float64, missV, missW float64) float64 {
	return prior - floats.Dot(v, w) + missV*missW/p.weight
}
