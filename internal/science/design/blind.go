package design

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"aerugo/internal/science/stat"
)

// Sight is the smallest difference a plan shows between the two settings of a
// factor that it tells apart least well, averaged over everything else. DF is
// what is left to judge chance by.
type Sight struct {
	Factor   string
	From, To string
	Least    float64 // in the unit of the question's spread
	DF       int
}

// leastLeft is what must be left to judge chance by before a size is told.
const leastLeft = 2

// Sees returns what the plan can show of each factor of its model, for the
// question's spread, confidence and chance. A factor held in groups is judged by
// its groups, not its swatches (Jones & Goos 2007). A factor for which next to
// nothing is left to judge chance by is not on the list.
func (p Plan) Sees(q Question) ([]Sight, error) {
	if err := q.check(); err != nil {
		return nil, err
	}
	w, x, err := p.weigh()
	if err != nil {
		return nil, err
	}
	inv, ok := w.inverse(x)
	if !ok {
		return nil, ErrSingular
	}
	var out []Sight
	for t, idx := range w.terms {
		if len(idx) != 1 {
			continue
		}
		f := p.Factors[idx[0]]
		df := p.left(x, f)
		if df < leastLeft {
			continue
		}
		codes := []float64{-1, 1}
		if f.Category() {
			codes = f.codes()
		}
		s := Sight{Factor: f.Name, DF: df}
		worst := 0.0
		for i, a := range codes {
			for _, b := range codes[:i] {
				l := make([]float64, w.q)
				for k, v := range f.columns(nil, a) {
					l[w.from[t]+k] = v
				}
				for k, v := range f.columns(nil, b) {
					l[w.from[t]+k] -= v
				}
				if v := quad(inv, l, l); v > worst {
					worst, s.From, s.To = v, f.Says(b), f.Says(a)
				}
			}
		}
		errors, err := visible(float64(df), q)
		if err != nil {
			return nil, err
		}
		s.Least = errors * math.Sqrt(worst) * q.Spread
		out = append(out, s)
	}
	return out, nil
}

// left is what is left to judge a factor by: the directions in which runs can
// still differ once the model, and all chance groups, are told; for a factor held
// in groups, those its groups add to the model and to the groups they lie in.
func (p Plan) left(x [][]float64, f Factor) int {
	cols := make([][]float64, len(x[0]))
	for j := range cols {
		for i := range x {
			cols[j] = append(cols[j], x[i][j])
		}
	}
	with := func(cols [][]float64, g Group) [][]float64 {
		for b := range g.count() {
			in := make([]float64, len(x))
			for i, of := range g.Of {
				if of == b {
					in[i] = 1
				}
			}
			cols = append(slices.Clip(cols), in)
		}
		return cols
	}
	if f.HeldIn == "" {
		for _, g := range p.Groups {
			if g.Ratio > 0 {
				cols = with(cols, g)
			}
		}
		return len(x) - len(orthonormal(cols))
	}
	held := p.Groups[slices.IndexFunc(p.Groups, func(g Group) bool { return g.Name == f.HeldIn })]
	for _, g := range p.Groups {
		if g.Ratio > 0 && g.Name != held.Name && held.within(g) {
			cols = with(cols, g)
		}
	}
	return len(orthonormal(with(cols, held))) - len(orthonormal(cols))
}

// within says whether each of g's groups lies in a single one of the other's.
func (g Group) within(other Group) bool {
	in := map[int]int{}
	for i, b := range g.Of {
		if o, ok := in[b]; ok && o != other.Of[i] {
			return false
		}
		in[b] = other.Of[i]
	}
	return true
}

// Blind says in plain sentences what the plan can not tell, apart from what it
// mixes up (Confounded).
func (p Plan) Blind(q Question) ([]string, error) {
	w, x, err := p.weigh()
	if err != nil {
		return nil, err
	}
	var out []string
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	for i, f := range p.Factors {
		used := map[float64]bool{}
		for _, run := range p.Runs {
			used[run[i]] = true
		}
		switch {
		case f.Category():
			for c, l := range f.Levels {
				if !used[float64(c)] {
					say("It never makes %s %s, so it says nothing of it.", f.Name, l)
				}
			}
		case len(used) == 1:
			say("It makes %s at one setting only, so it can't tell what %s does.", f.Name, f.Name)
		case len(used) == 2:
			say("It makes %s at two settings only, so it can't tell a bend, or a best place between them, from a straight line.", f.Name)
		}
		if f.HeldIn != "" {
			g := p.Groups[slices.IndexFunc(p.Groups, func(g Group) bool { return g.Name == f.HeldIn })]
			say("%s changes only from one %s to the next, so it is judged by the %d of those and not by the %d swatches.", f.Name, g.Name, g.count(), len(p.Runs))
		}
	}
	if missing := p.missing(); len(missing) > 0 {
		text := strings.Join(missing[:min(4, len(missing))], ", ")
		if more := len(missing) - 4; more > 0 {
			text += fmt.Sprintf(" and %d more", more)
		}
		say("It takes for granted that these don't matter: %s.", text)
	}
	if p.twins() == 0 {
		say("No two of its swatches are made alike, so it can't tell by itself how far swatches made alike differ: make the repeats too.")
	}
	if _, ok := w.inverse(x); !ok {
		say("It can't tell all effects that were asked for apart; those are named as mixed up.")
		return out, nil
	}
	sights, err := p.Sees(q)
	if err != nil {
		return nil, err
	}
	var unjudged []string
	for _, idx := range w.terms {
		name := p.Factors[idx[0]].Name
		if len(idx) == 1 && !slices.ContainsFunc(sights, func(s Sight) bool { return s.Factor == name }) {
			unjudged = append(unjudged, name)
		}
	}
	if unjudged != nil {
		say("It leaves next to nothing to judge chance by for %s: only an effect that towers above all others can be believed.", strings.Join(unjudged, ", "))
	}
	var small []string
	for _, s := range sights {
		if s.Least > q.Difference {
			small = append(small, fmt.Sprintf("%s %s and %s (from about %.2g on)", s.Factor, s.From, s.To, s.Least))
		}
	}
	if small != nil {
		say("It would miss a difference of %g, where swatches made alike differ by %g, between %s: those are seen %.0f times in 100.", q.Difference, q.Spread, strings.Join(small, "; "), 100*q.Chance)
	}
	say("It says nothing beyond the settings it makes.")
	return out, nil
}

// missing names the interactions of two the model leaves out.
func (p Plan) missing() []string {
	var out []string
	for i, a := range p.Factors {
		for _, b := range p.Factors[i+1:] {
			if !slices.ContainsFunc(p.Model, func(t stat.Term) bool {
				return len(t) == 2 && (t[0] == a.Name && t[1] == b.Name || t[0] == b.Name && t[1] == a.Name)
			}) {
				out = append(out, a.Name+" × "+b.Name)
			}
		}
	}
	return out
}

// twins is how many runs repeat an earlier one.
func (p Plan) twins() int {
	n := 0
	for i, run := range p.Runs {
		if slices.ContainsFunc(p.Runs[:i], func(r []float64) bool { return slices.Equal(r, run) }) {
			n++
		}
	}
	return n
}
