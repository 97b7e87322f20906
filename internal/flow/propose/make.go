package propose

import (
	"fmt"
	"math"
	"strings"
	"sync"
	"time"

	"aerugo/internal/flow/fume"
	"aerugo/internal/science/guess"
	"aerugo/internal/studio"
)

// made is what is known of one setting before it is tried.
type made struct {
	physics []float64 // nil where it can't be reckoned
	total   time.Duration
	all     []studio.Treatment
	stop    string // why it must not or can't be made; empty: it can
}

// maker looks settings up, each once. It is safe for use by several at once.
type maker struct {
	f     *Family
	mu    sync.Mutex
	known map[string]made
	safe  map[string]string // what a way of treating is stopped for
}

func newMaker(f *Family) *maker {
	return &maker{f: f, known: map[string]made{}, safe: map[string]string{}}
}

// look says what is known of a setting of the free factors.
func (m *maker) look(at []float64) made {
	key := fmt.Sprint(at)
	m.mu.Lock()
	was, ok := m.known[key]
	m.mu.Unlock()
	if ok {
		return was
	}
	x := m.reckon(at)
	m.mu.Lock()
	m.known[key] = x
	m.mu.Unlock()
	return x
}

func (m *maker) reckon(at []float64) made {
	levels := m.f.levels(at)
	all, top, err := m.f.way.Treatments(levels)
	if err != nil {
		if p := studio.ProblemIn(err); p != nil {
			return made{stop: p.Text}
		}
		return made{stop: err.Error()}
	}
	x := made{all: all, stop: m.unsafe(all)}
	for _, s := range all[top].Steps {
		x.total += s.Duration
		if x.stop == "" {
			x.stop = m.f.offShelf(s)
		}
	}
	x.physics = m.f.physics(all[top])
	return x
}

// offShelf says why a step's supply can't be used.
func (f *Family) offShelf(s studio.Step) string {
	if s.SupplyID == 0 {
		return ""
	}
	have, ok := f.supply(s.SupplyID)
	switch {
	case !ok || !have.BinnedAt.IsZero():
		return "A supply of the recipe is not on the shelf any more."
	case !have.Expires.IsZero() && f.bench.Now.After(have.Expires.AddDate(0, 0, 1)):
		return fmt.Sprintf("%s expired on %s.", have.Name, have.Expires.Format("2 January 2006"))
	case have.WtPercent() > 0 && s.Strength > have.WtPercent()+1e-9:
		return fmt.Sprintf("%s holds %v %%, so a stronger one can't be made from it.", have.Name, have.WtPercent())
	}
	return ""
}

// unsafe says why treatments of one swatch must not be made.
func (m *maker) unsafe(all []studio.Treatment) string {
	var key strings.Builder
	for _, t := range all {
		fmt.Fprintf(&key, "%s %d;", t.Faces, t.Layer)
		for _, s := range t.Steps {
			fmt.Fprintf(&key, "%s %d %s %v %s %s,", s.Kind, s.SupplyID, s.Material, s.Strength, s.Tool, s.Place)
		}
	}
	m.mu.Lock()
	why, ok := m.safe[key.String()]
	m.mu.Unlock()
	if ok {
		return why
	}
	if _, p := m.f.bench.Place.Allow(all, m.f.bench.Supplies, m.f.bench.Metal); p != nil {
		why = p.Text
	}
	m.mu.Lock()
	m.safe[key.String()] = why
	m.mu.Unlock()
	return why
}

// The least of what is told apart: minutes of wet time, and a trace of ammonia.
const (
	leastH    = 0.2
	leastPPMH = 10
)

// physicsFactors are what the chamber's reckoning adds to the settings.
var physicsFactors = []string{"time until the salt has dissolved", "wet time", "ammonia met while wet"}

// physics returns what the face meets, in logarithms; nil where it can't be reckoned.
func (f *Family) physics(t studio.Treatment) []float64 {
	swatch := studio.Swatch{WidthMM: f.bench.WidthMM, HeightMM: f.bench.HeightMM}
	var sum fume.Exposure
	any := false
	for _, c := range f.bench.Chambers {
		for _, s := range t.Steps {
			if s.Kind != studio.Fume || s.ChamberID != c.Chamber.ID {
				continue
			}
			e, ok := fume.Expose(c, t, swatch, f.Face, nil)
			if !ok {
				return nil
			}
			sum.TakesH, sum.WetH, sum.PPMH, any = sum.TakesH+e.TakesH, sum.WetH+e.WetH, sum.PPMH+e.PPMH, true
			break
		}
	}
	if !any {
		return nil
	}
	return []float64{math.Log10(sum.TakesH + leastH), math.Log10(sum.WetH + leastH), math.Log10(sum.PPMH + leastPPMH)}
}

// physicsAxes returns the computed factors that differ among the swatches, and which
// of the reckoned numbers each is; none where some swatch can't be reckoned.
func (m *maker) physicsAxes() (axes []guess.Factor, which []int) {
	var all [][]float64
	for _, t := range m.f.Tried {
		x := m.look(t.at)
		if x.physics == nil {
			return nil, nil
		}
		all = append(all, x.physics)
	}
	for i, name := range physicsFactors {
		low, high := math.Inf(1), math.Inf(-1)
		for _, p := range all {
			low, high = min(low, p[i]), max(high, p[i])
		}
		if high-low > 0.05 {
			axes, which = append(axes, guess.Factor{Name: name, Low: low, High: high, Computed: true}), append(which, i)
		}
	}
	return axes, which
}
