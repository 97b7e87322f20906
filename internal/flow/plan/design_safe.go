package plan

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"aerugo/internal/studio"
)

// A layer makes the treatments of one swatch from the levels it gets, and keeps
// in mind what must not be made.
type layer struct {
	ask     Ask
	bench   bench
	faces   studio.Faces
	below   []studio.Treatment
	back    []studio.Treatment
	sup     []studio.Supply
	metal   studio.Metal
	refused map[string]refusal
}

func (a Ask) layer(sup []studio.Supply, hands []studio.HandAmount, metal studio.Metal, notes *noteList) (*layer, error) {
	l := &layer{ask: a, bench: bench{sup: sup, hands: hands, chamber: a.Chamber.ID}, faces: studio.OnFront, sup: sup, metal: metal, refused: map[string]refusal{}}
	belowFaces := l.faces
	if a.SameFaces {
		l.faces, belowFaces = studio.OnBoth, studio.OnBoth
	}
	if a.FacesApart {
		belowFaces = studio.OnBoth
	}
	var err error
	if l.below, err = l.bench.layers("front", belowFaces, a.FrontBelow, notes); err != nil {
		return nil, err
	}
	if a.Back != nil {
		l.back, err = l.bench.layers("back", studio.OnBack, append(append([]studio.Version{}, a.BackBelow...), *a.Back), notes)
	}
	return l, err
}

// top is the treatment that carries the levels.
func (l *layer) top(factors []studio.Factor, run []int, faces studio.Faces, notes *noteList) (studio.Treatment, error) {
	steps, settings, err := l.bench.settled(l.ask.Front.Steps, factors, run, notes)
	if err != nil {
		return studio.Treatment{}, err
	}
	t := studio.Treatment{
		Faces: faces, Layer: len(l.below) + 1, Over: l.ask.Front.Over,
		VersionID: l.ask.Front.ID, Steps: steps, Settings: settings,
	}
	if t.Layer == 1 {
		t.Over = ""
	}
	return t, nil
}

// kind returns the treatments of one swatch: its one run, or the runs of its
// front and its back.
func (l *layer) kind(factors []studio.Factor, runs [][]int, of []int, notes *noteList) ([]studio.Treatment, error) {
	out := append([]studio.Treatment{}, l.below...)
	for i, r := range of {
		faces := l.faces
		if len(of) == 2 {
			faces = []studio.Faces{studio.OnFront, studio.OnBack}[i]
		}
		t, err := l.top(factors, runs[r], faces, notes)
		if err != nil {
			return nil, err
		}
		out = append(out, t)
	}
	return append(out, l.back...), nil
}

// unsafe returns what says why levels of the factors must not be made. Times, and
// amounts above nought, change nothing in what must never meet, so that all
// levels which differ in those alone are looked at once.
func (l *layer) unsafe(factors []studio.Factor) func([]studio.Level) refusal {
	return func(levels []studio.Level) refusal {
		var key strings.Builder
		for i, f := range factors {
			switch f.Kind {
			case studio.ByMinutes:
			case studio.ByLoading:
				fmt.Fprint(&key, levels[i].Number == 0, ";")
			default:
				fmt.Fprint(&key, levels[i].Number, levels[i].SupplyID, levels[i].Yes, ";")
			}
		}
		if known, ok := l.refused[key.String()]; ok {
			return known
		}
		one := slices.Clone(factors)
		for i := range one {
			one[i].Levels = levels[i : i+1]
		}
		var none noteList
		var r refusal
		kind, err := l.kind(one, [][]int{make([]int, len(one))}, []int{0}, &none)
		if err != nil {
			r.err = err
		} else if _, problem := pieceSafety(kind, l.sup, l.metal); problem != nil {
			r.unsafe = problem
		}
		l.refused[key.String()] = r
		return r
	}
}

// leftOut says what was not laid out because it must never meet.
func (l *layer) leftOut() []string {
	texts := map[string]bool{}
	for _, r := range l.refused {
		if r.unsafe != nil {
			texts["Left out, and worked around: "+r.unsafe.Text] = true
		}
	}
	return slices.Sorted(maps.Keys(texts))
}

// countable returns the levels of swatches that are made already, and how many
// of those say too little to be counted.
func (a Ask) countable(factors []studio.Factor) (made [][]studio.Level, uncounted int) {
	for _, settings := range a.Made {
		levels := make([]studio.Level, len(factors))
		ok := true
		for i, f := range factors {
			at := slices.IndexFunc(settings, func(s studio.Setting) bool { return s.Factor == f.Name && s.Kind == f.Kind })
			if at < 0 {
				ok = false
				break
			}
			levels[i] = settings[at].Level
			ok = ok && (f.Kind.Numeric() || slices.ContainsFunc(f.Levels, func(x studio.Level) bool { return sameLevel(f.Kind, x, levels[i]) }))
		}
		if ok {
			made = append(made, levels)
		} else {
			uncounted++
		}
	}
	return made, uncounted
}

// aboutMade says what became of the swatches made already.
func (a Ask) aboutMade(c choice, made [][]studio.Level, uncounted int) []string {
	var out []string
	if len(made) > 0 {
		if a.Design == studio.Chosen {
			out = append(out, fmt.Sprintf("%s made already count: these were chosen to go with them.", swatches(len(made))))
		} else {
			n := 0
			for _, run := range c.runs {
				if slices.ContainsFunc(made, func(m []studio.Level) bool { return sameLevels(c.factors, m, levelsOf(c.factors, run)) }) {
					n++
				}
			}
			out = append(out, fmt.Sprintf("%d of the %d settings are there already on earlier swatches, which count.", n, len(c.runs)))
		}
		out = append(out, "Earlier swatches were made on another day, and that day may have shifted them all: a difference between days is told apart from the rest only as far as the two sets share settings.")
	}
	if uncounted > 0 {
		out = append(out, fmt.Sprintf("%s of the earlier set can't be counted: something that is varied here was not varied there, or had other levels.", swatches(uncounted)))
	}
	return out
}

func swatches(n int) string {
	if n == 1 {
		return "1 swatch"
	}
	return fmt.Sprintf("%d swatches", n)
}
