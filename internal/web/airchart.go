package web

import (
	"fmt"
	"html/template"
	"math"
	"strings"
	"time"

	"aerugo/internal/flow/fume"
)

// airChart draws ammonia under the lid and humidity at the piece over a run,
// one above the other on one axis of time, with now and each lifting of the lid.
func airChart(s fume.State) template.HTML {
	if !s.Live || len(s.Series) < 2 {
		return ""
	}
	from, to := s.Series[0].At, s.Series[len(s.Series)-1].At
	var b strings.Builder
	title := "Ammonia under the lid and humidity at the piece, reckoned"
	if !s.Halved.IsZero() {
		title = "The ammonia falls to half by " + dayClock(s.Halved, s.At)
	}
	fmt.Fprintf(&b, `<svg class="chart" viewBox="0 0 %d 330" role="img" aria-label="%s" font-family="'Source Sans 3', sans-serif" font-size="17"><title>%s</title>`, chartWidth, template.HTMLEscapeString(title), template.HTMLEscapeString(title))
	const x0, x1 = 84.0, chartWidth - 16.0
	x := func(t time.Time) float64 { return x0 + (x1-x0)*t.Sub(from).Seconds()/to.Sub(from).Seconds() }
	most := 0.0
	for _, m := range s.Series {
		most = max(most, m.PPM())
	}
	panel := func(top, bottom float64, name string, hi float64, value func(fume.Moment) float64, unit string) {
		ticks := niceTicks(0, hi, 3)
		hi = max(hi, ticks[len(ticks)-1])
		y := func(v float64) float64 { return bottom - (bottom-top)*v/hi }
		fmt.Fprintf(&b, `<text x="8" y="%.0f" fill="currentColor" font-weight="650">%s</text>`, top-10, name)
		for _, t := range ticks {
			fmt.Fprintf(&b, `<line x1="%.0f" x2="%.0f" y1="%.1f" y2="%.1f" stroke="currentColor" stroke-opacity=".3"/><text x="%.0f" y="%.1f" text-anchor="end" fill="currentColor">%s%s</text>`, x0, x1, y(t), y(t), x0-8, y(t)+6, number(t, 0), unit)
		}
		b.WriteString(`<polyline fill="none" stroke="currentColor" stroke-width="2" points="`)
		for _, m := range s.Series {
			v := value(m)
			if math.IsNaN(v) {
				continue
			}
			fmt.Fprintf(&b, "%.1f,%.1f ", x(m.At), y(math.Min(v, hi)))
		}
		b.WriteString(`"/>`)
	}
	thousands := func(m fume.Moment) float64 { return m.PPM() / 1000 }
	panel(36, 150, "Ammonia, thousand ppm", most/1000, thousands, "")
	panel(196, 286, "Humidity at the piece", 100, func(m fume.Moment) float64 { return 100 * m.RH }, " %")
	for _, t := range s.Lifted {
		if t.Before(to) {
			fmt.Fprintf(&b, `<path d="M%.1f 286 l-5 9 h10 z" fill="currentColor"/>`, x(t))
		}
	}
	fmt.Fprintf(&b, `<line x1="%.1f" x2="%.1f" y1="30" y2="286" stroke="currentColor" stroke-width="1.5" stroke-dasharray="5 4"/><text x="%.1f" y="176" fill="currentColor">now</text>`, x(s.At), x(s.At), x(s.At)+5)
	step := time.Hour
	for to.Sub(from)/step > 5 {
		step *= 2
	}
	for t := from; !t.After(to); t = t.Add(step) {
		anchor := "middle"
		if x(t) > x1-50 {
			anchor = "end"
		}
		fmt.Fprintf(&b, `<text x="%.1f" y="318" text-anchor="%s" fill="currentColor">%s</text>`, x(t), anchor, template.HTMLEscapeString(dayClock(t, s.At)))
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String())
}
