package stat

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"aerugo/internal/science"
)

var (
	// ErrModel says that a model names what its table does not hold, or lacks a part
	// that another part of it needs.
	ErrModel = errors.New("the model does not fit its table")
	// ErrNoReplicate says that every observation is used up by the model, so that
	// nothing is left to judge chance by.
	ErrNoReplicate = errors.New("nothing is left to judge chance by")
)

// Column is one factor of a table: continuous when Numbers is set, otherwise
// categorical with one label a row.
type Column struct {
	Name    string
	Numbers []float64
	Labels  []string
	Levels  []string // order of the labels, the first is the reference; sorted when empty
}

// Term is one part of a model: the names of the factors multiplied, such as
// {"liquid"}, {"liquid", "time"}, or {"time", "time"} for the square.
type Term []string

// String returns the term's name, such as "liquid:time" or "time^2".
func (t Term) String() string {
	var parts []string
	for i := 0; i < len(t); {
		n := 1
		for i+n < len(t) && t[i+n] == t[i] {
			n++
		}
		if n > 1 {
			parts = append(parts, fmt.Sprintf("%s^%d", t[i], n))
		} else {
			parts = append(parts, t[i])
		}
		i += n
	}
	return strings.Join(parts, ":")
}

// within says whether every factor of t, as often as it stands there, is in u.
func (t Term) within(u Term) bool {
	left := slices.Clone(u)
	for _, name := range t {
		i := slices.Index(left, name)
		if i < 0 {
			return false
		}
		left = slices.Delete(left, i, i+1)
	}
	return true
}

// Coding is how a categorical factor becomes numbers.
type Coding int

// The codings.
const (
	Treatment Coding = iota // each level against the first
	SumToZero               // each level but the last against the mean of all
)

// Model is a linear model to fit: a response, and terms made of the columns.
type Model struct {
	Response    []float64
	Columns     []Column
	Terms       []Term
	Coding      Coding
	NoIntercept bool
	Conf        float64 // of the intervals; 0 means 0.95
}

// Cross returns the terms of the named factors with all products of up to order of
// them, in the order of the factors, lowest products first.
func Cross(factors []string, order int) []Term {
	var out []Term
	var grow func(from int, t Term, left int)
	for size := 1; size <= order; size++ {
		grow = func(from int, t Term, left int) {
			if left == 0 {
				out = append(out, slices.Clone(t))
				return
			}
			for i := from; i < len(factors); i++ {
				grow(i+1, append(t, factors[i]), left-1)
			}
		}
		grow(0, nil, size)
	}
	return out
}

// Coefficient is one estimated number of a model with its Student t interval.
type Coefficient struct {
	Name      string // such as "liquid=B:time"; "intercept" is the first
	Term      string
	Estimate  float64
	SE        float64 // standard error; NaN when nothing is left to judge chance by
	DF        float64
	T, P      float64
	Low, High float64
}

// Alias says that a column of a model is made up of others, so that its effect
// cannot be told from theirs.
type Alias struct {
	Name string
	Of   []Weighted
}

// Weighted is a column's name and its weight in a sum.
type Weighted struct {
	Name   string
	Weight float64
}

// place is where a column's name stands in a design.
type place struct {
	name string
	term int // index in terms, -1 for the intercept
}

// design holds a model resolved against its table.
type design struct {
	columns []Column
	codes   [][]int // of categorical columns, the level of each row
	at      map[string]int
	terms   []Term
	coding  Coding
	bare    bool // no intercept
	places  []place
}

func (m Model) resolve() (*design, error) {
	n := len(m.Response)
	d := &design{columns: slices.Clone(m.Columns), codes: make([][]int, len(m.Columns)), at: map[string]int{}, terms: m.Terms, coding: m.Coding, bare: m.NoIntercept}
	for i := range d.columns {
		c := &d.columns[i]
		if c.Name == "" {
			return nil, fmt.Errorf("%w: column %d has no name", ErrModel, i+1)
		}
		if _, twice := d.at[c.Name]; twice {
			return nil, fmt.Errorf("%w: two columns are named %q", ErrModel, c.Name)
		}
		d.at[c.Name] = i
		if c.Numbers != nil {
			if len(c.Numbers) != n {
				return nil, fmt.Errorf("column %q: %w", c.Name, ErrUnequal)
			}
			if err := need(0, c.Numbers); err != nil {
				return nil, fmt.Errorf("column %q: %w", c.Name, err)
			}
			continue
		}
		if len(c.Labels) != n {
			return nil, fmt.Errorf("column %q: %w", c.Name, ErrUnequal)
		}
		if len(c.Levels) == 0 {
			seen := map[string]bool{}
			for _, l := range c.Labels {
				if !seen[l] {
					seen[l] = true
					c.Levels = append(c.Levels, l)
				}
			}
			sort.Strings(c.Levels)
		}
		index := map[string]int{}
		for k, l := range c.Levels {
			index[l] = k
		}
		d.codes[i] = make([]int, n)
		for r, l := range c.Labels {
			k, ok := index[l]
			if !ok {
				return nil, fmt.Errorf("%w: %q is not a level of column %q", ErrModel, l, c.Name)
			}
			d.codes[i][r] = k
		}
	}
	present := func(want Term) bool {
		if len(want) == 0 {
			return !m.NoIntercept
		}
		return slices.ContainsFunc(m.Terms, func(t Term) bool { return t.within(want) && want.within(t) })
	}
	for k, t := range m.Terms {
		if len(t) == 0 {
			return nil, fmt.Errorf("%w: term %d is empty", ErrModel, k+1)
		}
		for i, name := range t {
			j, ok := d.at[name]
			if !ok {
				return nil, fmt.Errorf("%w: there is no column %q", ErrModel, name)
			}
			if d.columns[j].Numbers != nil {
				continue
			}
			if slices.Contains(t[:i], name) || slices.Contains(t[i+1:], name) {
				return nil, fmt.Errorf("%w: %q is made of labels and has no square", ErrModel, name)
			}
			if without := slices.Delete(slices.Clone(t), i, i+1); !present(without) {
				return nil, fmt.Errorf("%w: %s stands without %s", ErrModel, t, cmpName(without))
			}
		}
		for _, other := range m.Terms[:k] {
			if t.within(other) && other.within(t) {
				return nil, fmt.Errorf("%w: the term %s stands twice", ErrModel, t)
			}
		}
	}
	d.name()
	return d, nil
}

func cmpName(t Term) string {
	if len(t) == 0 {
		return "the intercept"
	}
	return t.String()
}

// name lists the columns of the design in order.
func (d *design) name() {
	d.places = nil
	if !d.bare {
		d.places = append(d.places, place{"intercept", -1})
	}
	for k, t := range d.terms {
		names := []string{""}
		for i := 0; i < len(t); {
			run := 1
			for i+run < len(t) && t[i+run] == t[i] {
				run++
			}
			c := d.columns[d.at[t[i]]]
			parts := []string{Term(t[i : i+run]).String()}
			if c.Numbers == nil {
				parts = parts[:0]
				levels := c.Levels[min(1, len(c.Levels)):]
				if d.coding == SumToZero {
					levels = c.Levels[:max(0, len(c.Levels)-1)]
				}
				for _, l := range levels {
					parts = append(parts, c.Name+"="+l)
				}
			}
			var next []string
			for _, b := range parts {
				for _, a := range names {
					next = append(next, strings.TrimPrefix(a+":"+b, ":"))
				}
			}
			names = next
			i += run
		}
		for _, n := range names {
			d.places = append(d.places, place{n, k})
		}
	}
}

// row returns the design's row for one setting: number and level say what column j
// holds. A level may be spread over all of them, when level returns -1: the row is
// then that of their plain mean.
func (d *design) row(number func(j int) float64, level func(j int) int) []exact {
	out := make([]exact, 0, len(d.places))
	one := exact{1, 0}
	if !d.bare {
		out = append(out, one)
	}
	for _, t := range d.terms {
		values := []exact{one}
		for _, name := range t {
			j := d.at[name]
			c := &d.columns[j]
			if c.Numbers != nil {
				x := exact{number(j), 0}
				for i := range values {
					values[i] = values[i].mul(x)
				}
				continue
			}
			next := make([]exact, 0, len(values)*len(c.Levels))
			for _, w := range d.contrast(len(c.Levels), level(j)) {
				for _, v := range values {
					next = append(next, v.mul(w))
				}
			}
			values = next
		}
		out = append(out, values...)
	}
	return out
}

// contrast returns the coded columns of level k of a factor with so many levels.
func (d *design) contrast(levels, k int) []exact {
	out := make([]exact, max(0, levels-1))
	for i := range out {
		switch {
		case k < 0 && d.coding == Treatment:
			out[i] = exact{1, 0}.div(exact{float64(levels), 0})
		case k < 0:
		case d.coding == Treatment && k == i+1, d.coding == SumToZero && k == i:
			out[i] = exact{1, 0}
		case d.coding == SumToZero && k == levels-1:
			out[i] = exact{-1, 0}
		}
	}
	return out
}

// matrix returns the design's columns.
func (d *design) matrix(n int) [][]exact {
	columns := make([][]exact, len(d.places))
	for j := range columns {
		columns[j] = make([]exact, n)
	}
	for i := range n {
		row := d.row(func(j int) float64 { return d.columns[j].Numbers[i] }, func(j int) int { return d.codes[j][i] })
		for j, x := range row {
			columns[j][i] = x
		}
	}
	return columns
}

func exacts(xs []float64) []exact {
	out := make([]exact, len(xs))
	for i, x := range xs {
		out[i] = exact{x, 0}
	}
	return out
}

func (m Model) confidence() (float64, error) {
	if m.Conf == 0 {
		return 0.95, nil
	}
	if !(m.Conf > 0 && m.Conf < 1) {
		return 0, &science.RangeError{What: "confidence", Got: m.Conf, Min: 0, Max: 1}
	}
	return m.Conf, nil
}

func twoSided(t, df float64) float64 {
	if math.IsNaN(t) || !(df > 0) {
		return math.NaN()
	}
	if math.IsInf(df, 1) {
		return math.Erfc(math.Abs(t) / math.Sqrt2)
	}
	return 2 * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Survival(math.Abs(t))
}

func upperF(f, d1, d2 float64) float64 {
	if math.IsNaN(f) || !(d1 > 0) || !(d2 > 0) {
		return math.NaN()
	}
	// the survival as the lower tail of the reciprocal keeps the digits of a small one
	if f <= 0 {
		return 1
	}
	return distuv.F{D1: d2, D2: d1}.CDF(1 / f)
}
