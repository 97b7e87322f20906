package design

import (
	"slices"
	"strings"

	"aerugo/internal/science/stat"
)

// Main returns the model with each factor's own effect.
func Main(fs []Factor) []stat.Term { return stat.Cross(names(fs), 1) }

// TwoFactor returns the model with each factor's own effect and each pair's
// interaction.
func TwoFactor(fs []Factor) []stat.Term { return stat.Cross(names(fs), 2) }

// Quadratic returns TwoFactor with the square of each continuous factor that has
// more than two settings.
func Quadratic(fs []Factor) []stat.Term {
	out := TwoFactor(fs)
	for _, f := range fs {
		if !f.Category() && len(f.codes()) > 2 {
			out = append(out, stat.Term{f.Name, f.Name})
		}
	}
	return out
}

func names(fs []Factor) []string {
	out := make([]string, len(fs))
	for i, f := range fs {
		out[i] = f.Name
	}
	return out
}

// Words says a term as a person would: "liquid × time", "time squared".
func Words(t stat.Term) string {
	var out []string
	for i := 0; i < len(t); i++ {
		n := 1
		for i+n < len(t) && t[i+n] == t[i] {
			n++
		}
		switch n {
		case 1:
			out = append(out, t[i])
		case 2:
			out = append(out, t[i]+" squared")
		default:
			out = append(out, t[i]+" cubed")
		}
		i += n - 1
	}
	return strings.Join(out, " × ")
}

// shape is a model made ready for rows: which factors each term multiplies.
type shape struct {
	factors []Factor
	terms   [][]int
	from    []int // first column of each term; the mean is column 0
	cols    int
}

// newShape reads a model. The mean is always in it.
func newShape(fs []Factor, terms []stat.Term) (*shape, error) {
	s := &shape{factors: fs, cols: 1}
	seen := map[string]bool{}
	for _, t := range terms {
		if len(t) == 0 || len(t) > 3 {
			return nil, askf("a term multiplies 1 to 3 factors, not %d", len(t))
		}
		var idx []int
		for _, name := range t {
			i := slices.IndexFunc(fs, func(f Factor) bool { return f.Name == name })
			if i < 0 {
				return nil, askf("the model names %s, which is not among the factors", name)
			}
			if fs[i].Category() && slices.Contains(idx, i) {
				return nil, askf("%s has named levels and can't be squared", name)
			}
			idx = append(idx, i)
		}
		slices.Sort(idx)
		key := ""
		width := 1
		for _, i := range idx {
			key += fs[i].Name + "\x00"
			width *= fs[i].width()
		}
		if seen[key] {
			return nil, askf("the model has %s twice", Words(t))
		}
		seen[key] = true
		s.terms = append(s.terms, idx)
		s.from = append(s.from, s.cols)
		s.cols += width
	}
	return s, nil
}

// row appends the model's columns at a run.
func (s *shape) row(out, run []float64) []float64 {
	out = append(out, 1)
	for _, idx := range s.terms {
		out = s.term(out, idx, run)
	}
	return out
}

// term appends one term's columns: every product of its factors' columns.
func (s *shape) term(out []float64, idx []int, run []float64) []float64 {
	start := len(out)
	out = s.factors[idx[0]].columns(out, run[idx[0]])
	for _, i := range idx[1:] {
		f := s.factors[i]
		if f.width() == 1 {
			var one [1]float64
			v := f.columns(one[:0], run[i])[0]
			for j := start; j < len(out); j++ {
				out[j] *= v
			}
			continue
		}
		have := slices.Clone(out[start:])
		by := f.columns(nil, run[i])
		out = out[:start]
		for _, a := range have {
			for _, b := range by {
				out = append(out, a*b)
			}
		}
	}
	return out
}
