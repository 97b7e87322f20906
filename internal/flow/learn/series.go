package learn

import (
	"math"

	"aerugo/internal/studio"
)

// series returns L*, a*, b* and coverage along the cells of one factor.
func series(f studio.Factor, cells []cell) []Series {
	var all []Series
	for i, name := range channelNames {
		all = append(all, oneSeries(name, f, cells, channel(i)))
	}
	if cover := nonEmpty(withCover(cells)); len(cover) > 0 {
		s := oneSeries("coverage", f, cover, covered)
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

// oneSeries returns one quantity along the cells. Levels that are numbers share
// the spread of all; others have their own.
func oneSeries(name string, f studio.Factor, cells []cell, get func(unit) float64) Series {
	s := Series{Name: name, Factor: f.Name, Numeric: f.Kind.Numeric(), Unit: f.Kind.Unit()}
	s2, df := variance(cells, get)
	for _, c := range cells {
		m := LevelMean{Level: c.label, X: c.x, N: len(c.units), Mean: c.mean(get)}
		v, d := s2, df
		if !s.Numeric {
			v, d = variance([]cell{c}, get)
		}
		if d >= 1 {
			half := quantileT(Confidence, d) * math.Sqrt(v/float64(m.N))
			m.Low, m.High, m.Interval = m.Mean-half, m.Mean+half, true
		}
		s.Levels = append(s.Levels, m)
	}
	if s.Numeric && df >= 1 {
		s.Slope = slope(name, cells, get)
	}
	return s
}

// slope returns the straight-line change of one quantity per unit of X with its
// interval, by least squares over the swatches, or nil with fewer than three.
func slope(name string, cells []cell, get func(unit) float64) *Change {
	var x, y []float64
	for _, c := range cells {
		for _, u := range c.units {
			x, y = append(x, c.x), append(y, get(u))
		}
	}
	n := float64(len(x))
	if n < 3 || len(cells) < 2 {
		return nil
	}
	mx, my := meanOf(x), meanOf(y)
	sxx, sxy := 0.0, 0.0
	for i := range x {
		sxx += (x[i] - mx) * (x[i] - mx)
		sxy += (x[i] - mx) * (y[i] - my)
	}
	b := sxy / sxx
	rss := 0.0
	for i := range x {
		e := y[i] - my - b*(x[i]-mx)
		rss += e * e
	}
	c := Change{Name: name, Value: b}.within(math.Sqrt(rss/(n-2)/sxx), n-2, 1)
	return &c
}

func meanOf(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x
	}
	return sum / float64(len(v))
}
