package web

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"aerugo/internal/flow/learn"
	"aerugo/internal/science/colour"
)

// A chart draws one quantity along the levels of a factor as SVG: each face as
// a square of its own measured colour, the mean of each level with its interval.
// Presentation attributes only, so that the strict style policy holds.
type chart struct {
	b              strings.Builder
	x0, x1, y0, y1 float64 // the plotting area, in SVG units
	lo, hi         float64 // the range of values
	xs             func(x float64) float64
}

const (
	chartWidth  = 640
	chartHeight = 250
)

// seriesChart draws one series with the points behind it.
func seriesChart(s learn.Series, points []learn.Point) template.HTML {
	value := func(p learn.Point) (float64, bool) {
		switch s.Name {
		case "L*":
			return p.Lab.L, true
		case "a*":
			return p.Lab.A, true
		case "b*":
			return p.Lab.B, true
		}
		if p.Coverage == nil {
			return 0, false
		}
		return p.Coverage.Value * 100, true
	}
	scale := 1.0
	unit := ""
	if s.Name == "coverage" {
		scale, unit = 100, " %"
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	see := func(v float64) { lo, hi = math.Min(lo, v), math.Max(hi, v) }
	for _, l := range s.Levels {
		see(l.Mean * scale)
		if l.Interval {
			see(l.Low * scale)
			see(l.High * scale)
		}
	}
	for _, p := range points {
		if v, ok := value(p); ok && p.Calibrated {
			see(v)
		}
	}
	if len(s.Levels) == 0 || math.IsInf(lo, 0) {
		return ""
	}
	if hi-lo < 4 {
		lo, hi = lo-2, hi+2
	}
	c := &chart{x0: 70, x1: chartWidth - 16, y0: chartHeight - 52, y1: 36, lo: lo, hi: hi}
	c.xs = c.across(s)
	ticks := niceTicks(lo, hi, 5)
	c.lo, c.hi = math.Min(lo, ticks[0]), math.Max(hi, ticks[len(ticks)-1])
	name := s.Name
	if name == "coverage" {
		name = "Coverage" // the others are symbols, whose letters are small
	}
	title := fmt.Sprintf("%s against %s", name, s.Factor)
	fmt.Fprintf(&c.b, `<svg viewBox="0 0 %d %d" role="img" aria-label="%s" font-family="'Source Sans 3', sans-serif" font-size="17"><title>%s</title><desc>%s</desc>`,
		chartWidth, chartHeight, template.HTMLEscapeString(title), template.HTMLEscapeString(title), template.HTMLEscapeString(describe(s, scale, unit)))
	c.text(8, 20, "start", name+unit, true)
	for _, t := range ticks {
		y := c.y(t)
		fmt.Fprintf(&c.b, `<line x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f" stroke="#000" stroke-opacity=".25"/>`, c.x0, c.x1, y, y)
		c.text(c.x0-8, y+6, "end", number(t, 1), false)
	}
	c.levelWords(s)
	for _, p := range points {
		v, ok := value(p)
		if !ok {
			continue
		}
		c.square(c.xs(p.X)+jitter(p), c.y(v), p)
	}
	var path []string
	for _, l := range s.Levels {
		x, y := c.xs(l.X), c.y(l.Mean*scale)
		path = append(path, fmt.Sprintf("%.1f,%.1f", x, y))
		if l.Interval {
			c.bar(x, c.y(math.Max(l.Low*scale, c.lo)), c.y(math.Min(l.High*scale, c.hi)))
		}
	}
	if s.Numeric {
		fmt.Fprintf(&c.b, `<polyline points="%s" fill="none" stroke="#000" stroke-width="1.5"/>`, strings.Join(path, " "))
	}
	for _, l := range s.Levels {
		fmt.Fprintf(&c.b, `<circle cx="%.1f" cy="%.1f" r="3.2" fill="#000"/>`, c.xs(l.X), c.y(l.Mean*scale))
	}
	c.b.WriteString(`</svg>`)
	return template.HTML(c.b.String())
}

// across returns how a level's X lies on the page: numbers that span more than
// a factor of eight by their logarithm, other numbers as they are, names evenly.
func (c *chart) across(s learn.Series) func(float64) float64 {
	if !s.Numeric {
		n := float64(len(s.Levels))
		return func(x float64) float64 { return c.x0 + (c.x1-c.x0)*(x+.5)/n }
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, l := range s.Levels {
		lo, hi = math.Min(lo, l.X), math.Max(hi, l.X)
	}
	f := func(x float64) float64 { return x }
	if lo > 0 && hi/lo > 8 {
		f = math.Log
	}
	a, b := f(lo), f(hi)
	if a == b {
		return func(float64) float64 { return (c.x0 + c.x1) / 2 }
	}
	const inset = 30
	return func(x float64) float64 { return c.x0 + inset + (c.x1-c.x0-2*inset)*(f(x)-a)/(b-a) }
}

func (c *chart) y(v float64) float64 { return c.y0 + (c.y1-c.y0)*(v-c.lo)/(c.hi-c.lo) }

func (c *chart) text(x, y float64, anchor, text string, bold bool) {
	weight := ""
	if bold {
		weight = ` font-weight="650"`
	}
	fmt.Fprintf(&c.b, `<text x="%.1f" y="%.1f" text-anchor="%s"%s fill="#0c0c0c">%s</text>`, x, y, anchor, weight, template.HTMLEscapeString(text))
}

// levelWords writes the levels under the axis, leaving out those that would run
// into the one before.
func (c *chart) levelWords(s learn.Series) {
	last := math.Inf(-1)
	for _, l := range s.Levels {
		x := c.xs(l.X)
		width := float64(len([]rune(l.Level))) * 8.4
		if x-width/2 < last+6 {
			continue
		}
		last = x + width/2
		c.text(math.Min(math.Max(x, width/2+2), chartWidth-width/2-2), c.y0+22, "middle", l.Level, false)
	}
	name := capital(s.Factor)
	if s.Unit != "" {
		name += ", " + s.Unit
	}
	c.text((c.x0+c.x1)/2, chartHeight-8, "middle", name, true)
}

// square draws a face in its own measured colour; one without a grey card is
// drawn open, since its colour can't be held against the others.
func (c *chart) square(x, y float64, p learn.Point) {
	hexColour, _ := colour.ToScreen(p.Lab)
	stroke := `stroke="#000" stroke-width="1"`
	if !p.Calibrated {
		stroke = `stroke="#000" stroke-width="1.5" stroke-dasharray="2 2" fill-opacity=".4"`
	}
	fmt.Fprintf(&c.b, `<rect x="%.1f" y="%.1f" width="14" height="14" fill="%s" %s><title>swatch %d %s</title></rect>`, x-7, y-7, hexColour, stroke, p.Swatch, p.Face)
}

func (c *chart) bar(x, low, high float64) {
	fmt.Fprintf(&c.b, `<path d="M%.1f %.1fV%.1fM%.1f %.1fh12M%.1f %.1fh12" stroke="#000" stroke-width="2" fill="none"/>`, x, low, high, x-6, low, x-6, high)
}

// jitter keeps the squares of one level apart: replicates and faces stand side
// by side, always in the same place.
func jitter(p learn.Point) float64 {
	d := float64((p.Replicate-1)%3)*17 - 17
	if p.Face == "back" {
		d += 8.5
	}
	return d
}

// describe says the chart in words.
func describe(s learn.Series, scale float64, unit string) string {
	var parts []string
	for _, l := range s.Levels {
		t := fmt.Sprintf("%s: mean %s%s of %d", l.Level, number(l.Mean*scale, 1), unit, l.N)
		if l.Interval {
			t += fmt.Sprintf(", between %s and %s", number(l.Low*scale, 1), number(l.High*scale, 1))
		}
		parts = append(parts, t)
	}
	return strings.Join(parts, "; ") + "."
}

// niceTicks returns about n round values that span lo to hi.
func niceTicks(lo, hi float64, n int) []float64 {
	raw := (hi - lo) / float64(n)
	mag := math.Pow(10, math.Floor(math.Log10(raw)))
	step := 10 * mag
	for _, m := range []float64{1, 2, 5} {
		if raw <= m*mag {
			step = m * mag
			break
		}
	}
	var out []float64
	for v := math.Floor(lo/step) * step; v <= hi+step*.999; v += step {
		out = append(out, v)
	}
	return out
}
