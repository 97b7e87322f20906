package stat

import "math"

// exact is an unevaluated sum hi + lo of two float64 with about 31 decimal digits.
// Least squares is done in it because a design such as a tenth-degree polynomial
// (NIST's Filip, condition 1e15) leaves no right digit in plain float64.
// Source: Dekker 1971; Hida, Li and Bailey 2001.
type exact struct{ hi, lo float64 }

func quickSum(a, b float64) exact {
	s := a + b
	return exact{s, b - (s - a)}
}

func twoSum(a, b float64) exact {
	s := a + b
	bb := s - a
	return exact{s, (a - (s - bb)) + (b - bb)}
}

func (a exact) add(b exact) exact {
	s, t := twoSum(a.hi, b.hi), twoSum(a.lo, b.lo)
	s = quickSum(s.hi, s.lo+t.hi)
	return quickSum(s.hi, s.lo+t.lo)
}

func (a exact) neg() exact        { return exact{-a.hi, -a.lo} }
func (a exact) sub(b exact) exact { return a.add(b.neg()) }

func (a exact) mul(b exact) exact {
	p := a.hi * b.hi
	e := math.FMA(a.hi, b.hi, -p)
	e += a.hi*b.lo + a.lo*b.hi
	return quickSum(p, e)
}

func (a exact) div(b exact) exact {
	q := a.hi / b.hi
	r := a.sub(b.mul(exact{q, 0}))
	q2 := r.hi / b.hi
	r = r.sub(b.mul(exact{q2, 0}))
	s := quickSum(q, q2)
	return s.add(exact{r.hi / b.hi, 0})
}

func (a exact) sqrt() exact {
	if a.hi <= 0 {
		return exact{}
	}
	x := 1 / math.Sqrt(a.hi)
	ax := a.hi * x
	r := a.sub(exact{ax, 0}.mul(exact{ax, 0}))
	s := quickSum(ax, r.hi*x*0.5)
	r = a.sub(s.mul(s))
	return s.add(exact{r.hi * x * 0.5, 0})
}

func (a exact) float() float64 { return a.hi + a.lo }

// aliased is the share of a column's length below which what the columns before it
// leave of it is rounding: data typed in decimals are good to 1e-16.
const aliased = 1e-12

// factorised is a design turned upper triangular by Householder reflections. A
// column that those before it make up is set aside (the pivoting); the order of the
// others is kept, so that sums of squares can be read off in sequence.
type factorised struct {
	n       int
	kept    []int     // columns in the triangle
	dropped []int     // columns set aside
	r       [][]exact // r[j] is the j-th kept column's part in the triangle, j+1 long
	rest    [][]exact // of each dropped column, its part in the triangle
	effects [][]exact // of each response, turned the same way, n long
}

// factorise turns the columns and the responses; both are overwritten.
func factorise(columns, responses [][]exact, n int) *factorised {
	f := &factorised{n: n}
	size := make([]float64, len(columns))
	for j, c := range columns {
		size[j] = length(c).hi
	}
	var aside [][]exact
	for j, c := range columns {
		k := len(f.kept)
		left := exact{}
		if k < n {
			left = length(c[k:])
		}
		if k >= n || !(left.hi > aliased*size[j]) {
			f.dropped = append(f.dropped, j)
			aside = append(aside, c)
			continue
		}
		if c[k].hi > 0 {
			left = left.neg()
		}
		// v = c[k:] - left*e1, and H = I - v v'/(v'v/2) = I - v v'/(left*(left-c[k]))
		v := append([]exact(nil), c[k:]...)
		v[0] = v[0].sub(left)
		half := left.mul(left.sub(c[k]))
		turn := func(x []exact) {
			s := exact{}
			for i, vi := range v {
				s = s.add(vi.mul(x[i]))
			}
			s = s.div(half)
			for i, vi := range v {
				x[i] = x[i].sub(vi.mul(s))
			}
		}
		for _, later := range columns[j+1:] {
			turn(later[k:])
		}
		for _, y := range responses {
			turn(y[k:])
		}
		// a column set aside is kept in the basis of those kept before it; nothing
		// is left of it below, so the later turns do not touch it
		r := append([]exact(nil), c[:k+1]...)
		r[k] = left
		f.r = append(f.r, r)
		f.kept = append(f.kept, j)
	}
	for _, c := range aside {
		f.rest = append(f.rest, c[:min(len(c), len(f.kept))])
	}
	f.effects = responses
	return f
}

func length(c []exact) exact {
	s := exact{}
	for _, x := range c {
		s = s.add(x.mul(x))
	}
	return s.sqrt()
}

// solve returns b with R b = z, z at least as long as the triangle is wide.
func (f *factorised) solve(z []exact) []exact {
	p := len(f.kept)
	b := append([]exact(nil), z[:p]...)
	for j := p - 1; j >= 0; j-- {
		b[j] = b[j].div(f.r[j][j])
		for i := 0; i < j; i++ {
			b[i] = b[i].sub(f.r[j][i].mul(b[j]))
		}
	}
	return b
}

// forward returns z with R' z = l.
func (f *factorised) forward(l []exact) []exact {
	p := len(f.kept)
	z := make([]exact, p)
	for j := 0; j < p; j++ {
		s := l[j]
		for i := 0; i < j; i++ {
			s = s.sub(f.r[j][i].mul(z[i]))
		}
		z[j] = s.div(f.r[j][j])
	}
	return z
}

// squares returns the sum of squares of effects from to to.
func squares(effects []exact) exact {
	s := exact{}
	for _, e := range effects {
		s = s.add(e.mul(e))
	}
	return s
}
