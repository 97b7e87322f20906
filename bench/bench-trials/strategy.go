package main

import (
	"fmt"
	"math"
	"math/rand/v2"

	"aerugo/internal/science/colour"
	"aerugo/internal/science/guess"
)

const (
	near      = 3.0 // dE00 at which a target is reached
	perDay    = 4   // swatches made in a day
	scattered = 3   // swatches before a model is asked
)

// trial is one search: a bench, a target and the swatches made so far.
type trial struct {
	bench  *bench
	target colour.Lab
	r      *rand.Rand
	day    [3]float64
	rows   []guess.Row
	done   bool
}

func newTrial(b *bench, target colour.Lab, seed uint64) *trial {
	return &trial{bench: b, target: target, r: rand.New(rand.NewPCG(seed, 4711))}
}

// try makes a swatch and returns how far it looks from the target as measured.
// Whether the target is reached goes by what the setting truly gives.
func (t *trial) try(at []float64) float64 {
	if len(t.rows)%perDay == 0 {
		t.day = t.bench.newDay(t.r)
	}
	out := t.bench.make(at, t.day, t.r)
	t.rows = append(t.rows, guess.Row{At: at, Block: fmt.Sprint("day ", len(t.rows)/perDay), Out: out})
	truth, _ := t.bench.look(at)
	t.done = t.done || colour.Difference(truth, t.target) <= near
	return colour.Difference(colour.Lab{L: out[0], A: out[1], B: out[2]}, t.target)
}

// latin makes the swatches of Latin hypercubes of 40.
func (t *trial) latin(most int) {
	for !t.done && len(t.rows) < most {
		for _, at := range hypercube(40, t.r) {
			if t.try(at); t.done || len(t.rows) >= most {
				return
			}
		}
	}
}

func hypercube(n int, r *rand.Rand) [][]float64 {
	out := make([][]float64, n)
	for i := range out {
		out[i] = make([]float64, len(settings))
	}
	for j, f := range settings {
		for i, k := range r.Perm(n) {
			if levels := len(f.Levels); levels > 0 {
				out[i][j] = float64(k % levels)
			} else {
				out[i][j] = f.Low * math.Pow(f.High/f.Low, (float64(k)+r.Float64())/float64(n))
			}
		}
	}
	return out
}

// oneFactor moves one factor at a time from the middle, keeps the best it saw and
// goes on with the next: five steps of each number, all levels of each label. Every
// round over all factors halves the steps; a round that brings nothing ends the
// climb, and another begins from anywhere.
func (t *trial) oneFactor(most int) {
	at := anySetting(t.r)
	for j, f := range settings {
		if len(f.Levels) == 0 {
			at[j] = math.Sqrt(f.Low * f.High)
		}
	}
	for ; !t.done && len(t.rows) < most; at = anySetting(t.r) {
		best, width := t.try(at), 1.0
		for better := true; better; width /= 2 {
			better = false
			for _, j := range t.r.Perm(len(settings)) {
				for _, moved := range around(at, j, width) {
					if t.done || len(t.rows) >= most {
						return
					}
					if seen := t.try(moved); seen < best {
						best, at, better = seen, moved, true
					}
				}
			}
		}
	}
}

// around returns settings that differ from one in factor j.
func around(at []float64, j int, width float64) [][]float64 {
	f, steps := settings[j], 5
	if n := len(f.Levels); n > 0 {
		steps = n
	}
	var out [][]float64
	for k := range steps {
		x := float64(k)
		if len(f.Levels) == 0 {
			x = at[j] * math.Pow(f.High/f.Low, width*(float64(k)/4-0.5))
			x = min(f.High, max(f.Low, x))
		}
		if x == at[j] || len(out) > 0 && out[len(out)-1][j] == x {
			continue
		}
		moved := append([]float64{}, at...)
		moved[j] = x
		out = append(out, moved)
	}
	return out
}

// model asks the model after each swatch, with features computed by a or, when it is
// nil, without. watch is called with each model before it chooses.
func (t *trial) model(a *air, most int, watch func(*guess.Model)) error {
	for _, at := range hypercube(scattered, t.r) {
		if t.try(at); t.done {
			return nil
		}
	}
	factors, goal := settings, guess.Goal{Loss: guess.Toward(t.target), Near: near, Effort: 500}
	if a != nil {
		factors = append(append([]guess.Factor{}, settings...), features...)
		goal.Compute = a.compute
	}
	opt := guess.Options{RepeatSD: 1.5, Starts: 2}
	for !t.done && len(t.rows) < most {
		m, err := guess.Fit(factors, t.with(a), opt, t.r)
		if err != nil {
			return err
		}
		opt.Warm = &m.Hyper
		if watch != nil {
			watch(m)
		}
		plan, err := m.Next(goal, t.r)
		if err != nil {
			return err
		}
		t.try(plan.Proposals[0].At[:len(settings):len(settings)])
	}
	return nil
}

// with returns the rows with their features.
func (t *trial) with(a *air) []guess.Row {
	if a == nil {
		return t.rows
	}
	rows := append([]guess.Row{}, t.rows...)
	for i := range rows {
		more, _ := a.compute(rows[i].At)
		rows[i].At = append(append([]float64{}, rows[i].At...), more...)
	}
	return rows
}
