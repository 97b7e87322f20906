package target

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"

	"gonum.org/v1/gonum/mat"

	"aerugo/internal/science"
	"aerugo/internal/science/colour"
)

// correctionDoc is a Correction as it is kept. Errors are CIEDE2000; to_xyz turns
// linear RGB into XYZ under D50 as the picture's own space does; tones work on
// cube roots of light; add is what is added, as shares of the white.
type correctionDoc struct {
	Method  string        `json:"method"`
	LOOMean float64       `json:"loo_mean_de00"`
	LOOP95  float64       `json:"loo_p95_de00"`
	Patches []patchDoc    `json:"patches"`
	Methods []methodDoc   `json:"methods"`
	Space   [3][3]float64 `json:"to_xyz"`
	Tone    [3]toneDoc    `json:"tones"`
	Add     [3][]float64  `json:"add"`
	Most    float64       `json:"most_colourful"`
}

type patchDoc struct {
	ID      string     `json:"id"`
	Fitted  float64    `json:"fitted_de00"`
	LeftOut float64    `json:"left_out_de00"`
	Lab     [3]float64 `json:"lab"`
}

type methodDoc struct {
	Method  string  `json:"method"`
	LOOMean float64 `json:"loo_mean_de00"`
	LOOP95  float64 `json:"loo_p95_de00"`
}

type toneDoc struct {
	C   [3]float64 `json:"powers"` // lowest first
	Low float64    `json:"low"`
	Top float64    `json:"top"`
}

// MarshalJSON writes the correction whole, so that it can be kept and used on
// later photographs.
func (c Correction) MarshalJSON() ([]byte, error) {
	if c.m == nil {
		return nil, fmt.Errorf("keep correction: it was never fitted")
	}
	d := correctionDoc{Method: c.Method, LOOMean: c.LOOMean, LOOP95: c.LOOP95, Space: c.m.space.Matrix(), Most: c.m.most, Patches: []patchDoc{}, Methods: []methodDoc{}}
	for _, p := range c.Patches {
		d.Patches = append(d.Patches, patchDoc{p.ID, p.Fitted, p.LeftOut, [3]float64{p.Lab.L, p.Lab.A, p.Lab.B}})
	}
	for _, m := range c.Methods {
		d.Methods = append(d.Methods, methodDoc(m))
	}
	for i, t := range c.m.tone {
		d.Tone[i] = toneDoc{t.c, t.low, t.top}
		d.Add[i] = append([]float64{}, c.m.delta[i][:c.m.n]...)
	}
	return json.Marshal(d)
}

// UnmarshalJSON reads what [Correction.MarshalJSON] wrote. It refuses what no fit
// could have made: the file it comes from may be another's, or damaged.
func (c *Correction) UnmarshalJSON(data []byte) error {
	var d correctionDoc
	r := json.NewDecoder(bytes.NewReader(data))
	r.DisallowUnknownFields()
	if err := r.Decode(&d); err != nil {
		return fmt.Errorf("read kept correction: %w", err)
	}
	if _, err := r.Token(); err != io.EOF {
		return fmt.Errorf("read kept correction: more text after it")
	}
	m := &model{n: len(d.Add[0]), most: d.Most}
	if m.n != 0 && m.n != 3 && m.n != terms {
		return fmt.Errorf("read kept correction: %d terms; there can be 0, 3 or %d", m.n, terms)
	}
	within := func(what string, v, low, high float64) error {
		if !(v >= low && v <= high) {
			return fmt.Errorf("read kept correction: %w", &science.RangeError{What: what, Got: v, Min: low, Max: high})
		}
		return nil
	}
	for _, v := range []struct {
		what      string
		got, most float64
	}{{"mean error", d.LOOMean, 200}, {"95th percentile of errors", d.LOOP95, 200}, {"colourfulness", d.Most, 2}} {
		if err := within(v.what, v.got, 0, v.most); err != nil {
			return err
		}
	}
	var err error
	if m.space, err = colour.LinearSpace(d.Space); err != nil {
		return fmt.Errorf("read kept correction: %w", err)
	}
	for i, t := range d.Tone {
		if len(d.Add[i]) != m.n {
			return fmt.Errorf("read kept correction: %d terms in one row, %d in another", m.n, len(d.Add[i]))
		}
		for j, v := range d.Add[i] {
			if err := within("term of the fit", v, -100, 100); err != nil {
				return err
			}
			m.delta[i][j] = v
		}
		for _, v := range t.C {
			if err := within("tone curve's term", v, -1000, 1000); err != nil {
				return err
			}
		}
		if err := within("tone curve's start", t.Low, 0, 3); err != nil {
			return err
		}
		if err := within("tone curve's end", t.Top, t.Low, 3); err != nil {
			return err
		}
		k := toneCurve{c: t.C, low: t.Low, top: t.Top}
		k.finish()
		if k.top-k.low > 1e-6 && !k.rises() || !(k.atLow[1] > 0 && k.atTop[1] > 0) {
			return fmt.Errorf("read kept correction: its tone curve falls")
		}
		m.tone[i] = k
	}
	*c = Correction{Method: d.Method, LOOMean: d.LOOMean, LOOP95: d.LOOP95, m: m}
	for _, p := range d.Patches {
		c.Patches = append(c.Patches, PatchError{p.ID, p.Fitted, p.LeftOut, colour.Lab{L: p.Lab[0], A: p.Lab[1], B: p.Lab[2]}})
	}
	for _, p := range d.Methods {
		c.Methods = append(c.Methods, MethodError(p))
	}
	return nil
}

// Space is the picture's own space the correction was fitted in: linear RGB of
// another space must be brought into it first. Its stored values are linear.
func (c Correction) Space() colour.Space { return c.m.space }

// Gain returns the correction that one grey allows: a gain for each channel that
// makes linear RGB, 1 at full scale, the neutral of lightness l (L*, D50), and
// the picture's own space. It knows no error of its own: LOOMean is 0. RGB must
// be from 0.001 to 16 and l from 10 to 98.
func Gain(rgb [3]float64, l float64, space colour.Space) (Correction, error) {
	if !(l >= 10 && l <= 98) {
		return Correction{}, &science.RangeError{What: "L* of the grey", Got: l, Min: 10, Max: 98}
	}
	want := colour.Lab{L: l}.XYZ(colour.D50).Y
	m := &model{space: space}
	for i, v := range rgb {
		if !(v >= 0.001 && v <= 16) {
			return Correction{}, &science.RangeError{What: "linear light of the grey", Got: v, Min: 0.001, Max: 16}
		}
		root := math.Cbrt(v)
		m.tone[i] = toneCurve{c: [3]float64{0, math.Cbrt(want / v), 0}, low: root, top: root}
		m.tone[i].finish()
	}
	return Correction{Method: "gain from a grey card", m: m}, nil
}

// Grey returns the linear RGB, in the correction's space, that it turns into the
// neutral of lightness l (L*, D50, 10 to 98): what a grey card of that lightness
// would have read in the photograph the correction was fitted to.
func (c Correction) Grey(l float64) ([3]float64, error) {
	var out [3]float64
	if !(l >= 10 && l <= 98) {
		return out, &science.RangeError{What: "L* of the grey", Got: l, Min: 10, Max: 98}
	}
	want := colour.Lab{L: l}
	y := want.XYZ(colour.D50).Y
	for i := range out { // near it, since what is added to the tone moves a grey by little
		out[i] = max(1e-4, c.m.tone[i].inverse(y))
	}
	off := func(rgb [3]float64) [3]float64 {
		lab := c.XYZ(rgb).Lab(colour.D50)
		return [3]float64{lab.L - l, lab.A, lab.B}
	}
	for range 50 { // Newton's method on the logarithms of light, with short steps
		miss := off(out)
		if math.Hypot(math.Hypot(miss[0], miss[1]), miss[2]) < 1e-7 {
			return out, nil
		}
		slope := mat.NewDense(3, 3, nil)
		for j := range out {
			moved := out
			moved[j] *= 1.001
			for i, v := range off(moved) {
				slope.Set(i, j, (v-miss[i])/math.Log(1.001))
			}
		}
		var step mat.VecDense
		if step.SolveVec(slope, mat.NewVecDense(3, miss[:])) != nil {
			break
		}
		for j := range out {
			out[j] = min(16, out[j]*math.Exp(-max(-0.3, min(0.3, step.AtVec(j)))))
		}
	}
	return out, fmt.Errorf("there is no light that this correction turns into a grey of L* %.1f", l)
}

// inverse returns the light that the curve turns into v, at most 16.
func (t *toneCurve) inverse(v float64) float64 {
	low, high := 0.0, 16.0
	for range 60 { // the curve rises: halving finds it to the last bits
		if mid := (low + high) / 2; t.at(mid) < v {
			low = mid
		} else {
			high = mid
		}
	}
	return high
}
