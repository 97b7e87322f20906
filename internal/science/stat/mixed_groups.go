package stat

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// groups is what the rows of a mixed model share. A row's covariance with another is
// never written out: with Z the groups' columns and L the roots of their variances,
// V^-1 = (1 - Z L M^-1 L Z') / e, where M = e + L Z'Z L has one row a group (Woodbury).
// The part with the most groups is solved by division, since each row is in one of them.
type groups struct {
	x     *mat.Dense  // columns of the design, at right angles
	log   float64     // of the determinant that this takes off X'V^-1 X
	of    [][]int     // by part and row: the place of its group
	part  []int       // of each place; the part with the most groups stands first
	count []float64   // rows at each place
	many  int         // places of that part
	near  [][]link    // by place of that part: the others it shares rows with, counted from many
	among [][]float64 // by place after many and the same: rows in both
}

type link struct {
	place int
	rows  float64
}

func newGroups(x *mat.Dense, random []Random) *groups {
	n, _ := x.Dims()
	g := &groups{x: x, of: make([][]int, len(random))}
	most := 0
	for k, r := range random {
		if distinct(r.Labels) > distinct(random[most].Labels) {
			most = k
		}
	}
	add := func(k int) {
		seen := map[string]int{}
		for _, l := range random[k].Labels {
			at, ok := seen[l]
			if !ok {
				at = len(g.part)
				seen[l] = at
				g.part, g.count = append(g.part, k), append(g.count, 0)
			}
			g.count[at]++
			g.of[k] = append(g.of[k], at)
		}
	}
	if len(random) > 0 {
		add(most)
		g.many = len(g.part)
	}
	for k := range random {
		if k != most {
			add(k)
		}
	}
	few := len(g.part) - g.many
	g.near, g.among = make([][]link, g.many), square(few, few)
	for i := range n {
		for k, b := range g.of {
			if k == most {
				continue
			}
			own, at := g.of[most][i], b[i]-g.many
			if j := slices.IndexFunc(g.near[own], func(l link) bool { return l.place == at }); j >= 0 {
				g.near[own][j].rows++
			} else {
				g.near[own] = append(g.near[own], link{at, 1})
			}
			for j, a := range g.of {
				if j != most {
					g.among[a[i]-g.many][at]++
				}
			}
		}
	}
	return g
}

func square(rows, columns int) [][]float64 {
	out := make([][]float64, rows)
	for i := range out {
		out[i] = make([]float64, columns)
	}
	return out
}

// share returns V_k times d, where V_k has a 1 where two rows share a group of part k;
// the part after the last is each row by itself.
func (g *groups) share(k int, d *mat.Dense) *mat.Dense {
	if k == len(g.of) {
		return d
	}
	n, c := d.Dims()
	out := mat.NewDense(n, c, nil)
	sums := make([]float64, len(g.part))
	for j := range c {
		clear(sums)
		for i, a := range g.of[k] {
			sums[a] += d.At(i, j)
		}
		for i, a := range g.of[k] {
			out.Set(i, j, sums[a])
		}
	}
	return out
}

// state is what the restricted likelihood is made of at some variances.
type state struct {
	*groups
	minus2   float64
	e        float64     // variance of a row by itself
	root     []float64   // by place, of the variance of its part
	few      [][]float64 // triangle of the places after many, the others eliminated
	vx       *mat.Dense  // V^-1 X
	c        *mat.Dense  // (X'V^-1 X)^-1
	gamma    []float64   // coefficients of x
	gradient []float64   // of the log likelihood
	observed [][]float64 // its negated second derivatives
	expected [][]float64
}

// at returns the restricted likelihood of y; false where there is none.
func (g *groups) at(v, y []float64, derivatives bool) (*state, bool) {
	n, p := g.x.Dims()
	s := &state{groups: g, e: v[len(v)-1]}
	if !(s.e > 0) {
		return nil, false
	}
	for _, k := range g.part {
		s.root = append(s.root, math.Sqrt(v[k]))
	}
	det, ok := s.eliminate()
	if !ok {
		return nil, false
	}
	s.vx = s.solve(g.x)
	var xvx mat.Dense
	xvx.Mul(g.x.T(), s.vx)
	s.c = new(mat.Dense)
	if err := s.c.Inverse(&xvx); err != nil {
		if _, near := err.(mat.Condition); !near {
			return nil, false
		}
	}
	log, sign := mat.LogDet(&xvx)
	if sign <= 0 {
		return nil, false
	}
	var xvy, b, r mat.VecDense
	at := mat.NewVecDense(n, y)
	xvy.MulVec(s.vx.T(), at)
	b.MulVec(s.c, &xvy)
	s.gamma = b.RawVector().Data
	r.MulVec(g.x, &b)
	r.SubVec(at, &r)
	py := s.column(r.RawVector().Data)
	s.minus2 = float64(n-p)*math.Log(2*math.Pi) + det + log + g.log
	for i, v := range py {
		s.minus2 += r.AtVec(i) * v
	}
	if math.IsNaN(s.minus2) {
		return nil, false
	}
	if derivatives {
		s.derive(v, py)
	}
	return s, true
}

// eliminate makes the triangle and returns the logarithm of V's determinant.
func (s *state) eliminate() (det float64, ok bool) {
	m := len(s.part)
	n, _ := s.x.Dims()
	det = float64(n-m) * math.Log(s.e)
	few := m - s.many
	s.few = square(few, few)
	for a := range few {
		la := s.root[s.many+a]
		for b := range a + 1 {
			s.few[a][b] = la * s.root[s.many+b] * s.among[a][b]
		}
		s.few[a][a] += s.e
	}
	for i := range s.many {
		d := s.diagonal(i)
		det += math.Log(d)
		w := s.root[i] * s.root[i] / d
		for _, a := range s.near[i] {
			for _, b := range s.near[i] {
				if b.place <= a.place {
					s.few[a.place][b.place] -= w * a.rows * b.rows * s.root[s.many+a.place] * s.root[s.many+b.place]
				}
			}
		}
	}
	for a := range few { // Cholesky
		for b := range a + 1 {
			v := s.few[a][b]
			for k := range b {
				v -= s.few[a][k] * s.few[b][k]
			}
			if a > b {
				s.few[a][b] = v / s.few[b][b]
				continue
			}
			if !(v > 0) {
				return 0, false
			}
			s.few[a][a] = math.Sqrt(v)
			det += math.Log(v)
		}
	}
	return det, true
}

func (s *state) diagonal(place int) float64 {
	return s.e + s.root[place]*s.root[place]*s.count[place]
}

// inner overwrites u, one number a place, with M^-1 u.
func (s *state) inner(u []float64) {
	few := u[s.many:]
	for i := range s.many {
		u[i] /= s.diagonal(i)
		if u[i] == 0 {
			continue
		}
		for _, a := range s.near[i] {
			few[a.place] -= s.root[i] * s.root[s.many+a.place] * a.rows * u[i]
		}
	}
	for a := range few {
		for k := range a {
			few[a] -= s.few[a][k] * few[k]
		}
		few[a] /= s.few[a][a]
	}
	for a := len(few) - 1; a >= 0; a-- {
		few[a] /= s.few[a][a]
		for k := range a {
			few[k] -= s.few[a][k] * few[a]
		}
	}
	for i := range s.many {
		sum := 0.0
		for _, a := range s.near[i] {
			sum += a.rows * s.root[s.many+a.place] * few[a.place]
		}
		u[i] -= s.root[i] * sum / s.diagonal(i)
	}
}

// column returns V^-1 w.
func (s *state) column(w []float64) []float64 {
	u := make([]float64, len(s.part))
	for _, of := range s.of {
		for i, a := range of {
			u[a] += s.root[a] * w[i]
		}
	}
	s.inner(u)
	out := make([]float64, len(w))
	for i := range w {
		x := w[i]
		for _, of := range s.of {
			x -= s.root[of[i]] * u[of[i]]
		}
		out[i] = x / s.e
	}
	return out
}

// solve returns V^-1 d.
func (s *state) solve(d *mat.Dense) *mat.Dense {
	n, c := d.Dims()
	out, w := mat.NewDense(n, c, nil), make([]float64, n)
	for j := range c {
		out.SetCol(j, s.column(mat.Col(w, j, d)))
	}
	return out
}

// shared fills out with Z'Z u.
func (s *state) shared(u, out []float64) {
	few, sums := u[s.many:], out[s.many:]
	for a, row := range s.among {
		sums[a] = 0
		for b, n := range row {
			sums[a] += n * few[b]
		}
	}
	for i := range s.many {
		x := s.count[i] * u[i]
		for _, a := range s.near[i] {
			x += a.rows * few[a.place]
			sums[a.place] += a.rows * u[i]
		}
		out[i] = x
	}
}

// derive fills the derivatives of the likelihood by the variances. With the projection
// P = V^-1 - V^-1 X C X'V^-1 they need the traces of P V_k and P V_k P V_l; those of a
// row by itself follow from P V P = P and the trace of P V, which is n - p.
func (s *state) derive(v, py []float64) {
	n, p := s.x.Dims()
	m, q := len(s.part), len(s.of)+1
	last := q - 1
	var cx mat.Dense
	cx.Mul(s.vx, s.c)
	traces, pair := make([]float64, q), square(q, q)
	turned, pt := square(q, n), square(q, n) // V_k P y and P V_k P y
	project := func(w []float64) []float64 {
		out := s.column(w)
		sum := make([]float64, p)
		for i, x := range w {
			if x == 0 {
				continue
			}
			for j, h := range s.vx.RawRowView(i) {
				sum[j] += h * x
			}
		}
		for i := range out {
			for j, h := range cx.RawRowView(i) {
				out[i] -= h * sum[j]
			}
		}
		return out
	}
	sums := make([]float64, m)
	for k, of := range s.of {
		for i, a := range of {
			sums[a] += py[i]
		}
		for i, a := range of {
			turned[k][i] = sums[a]
		}
		pt[k] = project(turned[k])
	}
	turned[last], pt[last] = py, project(py)
	// Z'PZ, a column at a time
	zvx := square(m, p)
	for _, of := range s.of {
		for i, a := range of {
			for j, h := range s.vx.RawRowView(i) {
				zvx[a][j] += h
			}
		}
	}
	own, z, w := make([]float64, m), make([]float64, m), make([]float64, m)
	hc := make([]float64, p)
	for a, l := range s.part {
		clear(z)
		z[a] = 1
		s.shared(z, own)
		for b, x := range own {
			z[b] = s.root[b] * x
		}
		s.inner(z)
		for b := range z {
			z[b] *= s.root[b]
		}
		s.shared(z, w)
		for j := range p {
			hc[j] = 0
			for i, h := range s.c.RawRowView(j) {
				hc[j] += h * zvx[a][i]
			}
		}
		for b, x := range own {
			x = (x - w[b]) / s.e
			for j, h := range zvx[b] {
				x -= h * hc[j]
			}
			pair[s.part[b]][l] += x * x
			if a == b {
				traces[l] += x
			}
		}
	}
	traces[last] = float64(n - p)
	for k := range last {
		traces[last] -= v[k] * traces[k]
	}
	traces[last] /= s.e
	for l := range q {
		pair[last][l] = traces[l]
		for k := range last {
			pair[last][l] -= v[k] * pair[k][l]
		}
		pair[last][l] /= s.e
		pair[l][last] = pair[last][l]
	}
	for k := range q {
		yy := 0.0
		for i := range n {
			yy += py[i] * turned[k][i]
		}
		s.gradient = append(s.gradient, -0.5*(traces[k]-yy))
		s.expected, s.observed = append(s.expected, make([]float64, q)), append(s.observed, make([]float64, q))
		for l := range q {
			dot := 0.0
			for i := range n {
				dot += turned[l][i] * pt[k][i]
			}
			s.expected[k][l] = pair[k][l] / 2
			s.observed[k][l] = dot - pair[k][l]/2
		}
	}
}
