package guess

import (
	"math/rand/v2"
	"slices"
)

// Draw returns looks that a setting may give, all outputs together: of what is truly
// there, or of one new swatch in a new block. The same r gives all settings the same
// luck, so that they can be compared.
func (m *Model) Draw(at []float64, swatch bool, r *rand.Rand) ([][]float64, error) {
	u, err := units(m.factors, at)
	if err != nil {
		return nil, err
	}
	c := &chooser{Model: m, dice: m.roll(r), out: make([]float64, len(m.centre))}
	m.look(u, &c.w)
	var out [][]float64
	c.sample(swatch, func(_ int, y []float64) { out = append(out, slices.Clone(y)) })
	return out, nil
}
