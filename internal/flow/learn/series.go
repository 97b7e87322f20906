package learn

import (
	"math"

	"aerugo/internal/science/stat"
	"aerugo/internal/studio"
)

// A rung is one level on the axis and the cells that have it: one in a ladder,
// several in a grid.
type rung struct {
	label string
	x     float64
	side  side
}

// rungsOf returns each cell of a ladder as a rung.
func rungsOf(cells []cell) []rung {
	var rs []rung
	for i, c := range cells {
		rs = append(rs, rung{label: c.label, x: c.x, side: side{cells[i : i+1]}})
	}
	return rs
}

// series returns L*, a*, b* and coverage along the rungs of one factor. The
// spread is that within the rungs' cells together; own gives each rung its own.
func series(f studio.Factor, rungs []rung, own bool) []Series {
	var all []Series
	for i, name := range channelNames {
		all = append(all, oneSeries(name, f, rungs, own, channel(i)))
	}
	var cover []rung
	for _, r := range rungs {
		r.side = side{nonEmpty(withCover(r.side.cells))}
		if len(r.side.cells) > 0 {
			cover = append(cover, r)
		}
	}
	if len(cover) > 0 {
		s := oneSeries("coverage", f, cover, own, covered)
		for i := range s.Levels {
			l := &s.Levels[i]
			l.Low, l.High = max(0, l.Low), min(1, l.High)
		}
		all = append(all, s)
	}
	return all
}

func nonEmpty(cells []cell) []cell {
	var out []cell
	for _, c := range cells {
		if len(c.units) > 0 {
			out = append(out, c)
		}
	}
	return out
}

// oneSeries returns one quantity along the rungs.
func oneSeries(name string, f studio.Factor, rungs []rung, own bool, get func(unit) float64) Series {
	s := Series{Name: name, Factor: f.Name, Numeric: f.Kind.Numeric(), Unit: f.Kind.Unit()}
	var all []cell
	for _, r := range rungs {
		all = append(all, r.side.cells...)
	}
	s2, df := variance(all, get)
	for _, r := range rungs {
		m := LevelMean{Level: r.label, X: r.x, N: r.side.n(), Mean: r.side.mean(get)}
		v, d := s2, df
		if own {
			v, d = variance(r.side.cells, get)
		}
		if d >= 1 {
			mean := stat.Contrast{Difference: m.Mean, SE: math.Sqrt(v * r.side.share()), DF: d}
			m.Low, m.High, _ = mean.Interval(Confidence) // its only error is a confidence outside 0 to 1
			m.Interval = true
		}
		s.Levels = append(s.Levels, m)
	}
	if s.Numeric && len(all) == len(rungs) {
		s.Slope = slope(name, all, get)
	}
	return s
}

// slope returns the straight-line change of one quantity per unit of X with its
// interval, over the swatches of a ladder, or nil where no line can be laid or
// nothing was made twice.
func slope(name string, cells []cell, get func(unit) float64) *Change {
	var x, y []float64
	for _, c := range cells {
		for _, v := range c.numbers(get) {
			x, y = append(x, c.x), append(y, v)
		}
	}
	l, err := stat.SlopeFit(x, y)
	if err != nil || len(x) == len(cells) {
		return nil
	}
	c := changeOf(name, stat.Contrast{Difference: l.Slope, SE: l.SlopeSE, DF: float64(l.DF)}, 1)
	return &c
}
