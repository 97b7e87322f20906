package web

import (
	"fmt"
	"html/template"
	"slices"
	"strings"
	"time"

	"aerugo/internal/flow/benchday"
	"aerugo/internal/studio"
)

// dayChart draws a day as strips: a row for each swatch, with its work as ticks
// and what runs by itself as bars that say what it is, and a row for each
// chamber with how many lie in it and each lifting of its lid.
func dayChart(s benchday.Sheet) template.HTML {
	if !s.Fits || len(s.Actions) == 0 {
		return ""
	}
	from, to := s.Actions[0].Start, s.Finish
	for _, a := range s.Actions {
		if a.Start.Before(from) {
			from = a.Start
		}
		if a.End.After(to) {
			to = a.End
		}
	}
	if s.Now.After(from) && s.Now.Before(to.Add(2*time.Hour)) && s.Now.After(to) {
		to = s.Now
	}
	if to.Sub(from) < time.Hour {
		to = from.Add(time.Hour)
	}
	var swatches []int64
	chambers := map[int64]string{}
	for _, a := range s.Actions {
		for _, p := range a.Parts {
			if !slices.Contains(swatches, p.Swatch) {
				swatches = append(swatches, p.Swatch)
			}
		}
	}
	slices.Sort(swatches)
	for _, o := range s.Opened {
		chambers[o.Chamber] = o.Name
	}
	const width, x0, x1, row, top = 1080.0, 130.0, 1064.0, 26.0, 40.0
	x := func(t time.Time) float64 {
		return x0 + (x1-x0)*min(1, max(0, t.Sub(from).Seconds()/to.Sub(from).Seconds()))
	}
	height := top + row*float64(len(swatches)+len(chambers)) + 24
	var b strings.Builder
	title := fmt.Sprintf("The day by swatch and chamber, from %s to %s", dayClock(from, s.Now), dayClock(s.Finish, s.Now))
	fmt.Fprintf(&b, `<svg viewBox="0 0 %.0f %.0f" role="img" aria-label="%s" font-family="'Source Sans 3', sans-serif" font-size="15"><title>%s</title>`, width, height, template.HTMLEscapeString(title), template.HTMLEscapeString(title))
	step := 15 * time.Minute
	for to.Sub(from)/step > 10 {
		step *= 2
	}
	zone := s.Now.Location()
	first := from.In(zone)
	first = time.Date(first.Year(), first.Month(), first.Day(), first.Hour(), 0, 0, 0, zone)
	for t := first; !t.After(to); t = t.Add(step) {
		if t.Before(from) {
			continue
		}
		anchor := "middle"
		if x(t) > x1-40 {
			anchor = "end"
		}
		fmt.Fprintf(&b, `<line x1="%.1f" x2="%.1f" y1="%.0f" y2="%.1f" stroke="currentColor" stroke-opacity=".25"/><text x="%.1f" y="20" text-anchor="%s" fill="currentColor">%s</text>`,
			x(t), x(t), top-10, height-20, x(t), anchor, template.HTMLEscapeString(dayClock(t, s.Now)))
	}
	y := map[int64]float64{}
	for i, n := range swatches {
		y[n] = top + row*float64(i)
		fmt.Fprintf(&b, `<text x="8" y="%.1f" fill="currentColor" font-weight="650">%d</text><line x1="%.0f" x2="%.0f" y1="%.1f" y2="%.1f" stroke="currentColor" stroke-opacity=".18"/>`, y[n]+17, n, x0, x1, y[n]+row-2, y[n]+row-2)
	}
	for _, d := range s.Dwells {
		w := x(d.Till) - x(d.From)
		fmt.Fprintf(&b, `<rect x="%.1f" y="%.1f" width="%.1f" height="18" fill="currentColor" fill-opacity=".12" stroke="currentColor" stroke-opacity=".7"/>`, x(d.From), y[d.Swatch]+2, max(1, w))
		if word := string(d.Kind); w > 8*float64(len(word)) {
			fmt.Fprintf(&b, `<text x="%.1f" y="%.1f" fill="currentColor" font-size="14">%s</text>`, x(d.From)+4, y[d.Swatch]+16, template.HTMLEscapeString(word))
		}
	}
	for _, a := range s.Actions {
		for _, p := range a.Parts {
			fill := "none"
			if p.Done || p.Going {
				fill = "currentColor" // what is done is filled
			}
			fmt.Fprintf(&b, `<rect x="%.1f" y="%.1f" width="%.1f" height="14" fill="%s" stroke="currentColor" stroke-width="1.5"/>`, x(p.Start), y[p.Swatch]+4, max(2, x(p.End)-x(p.Start)), fill)
		}
	}
	line := top + row*float64(len(swatches))
	for _, o := range s.Opened {
		name := o.Name
		if r := []rune(name); len(r) > 16 {
			name = string(r[:15]) + "…"
		}
		fmt.Fprintf(&b, `<text x="8" y="%.1f" fill="currentColor">%s</text>`, line+17, template.HTMLEscapeString(name))
		for _, seg := range occupied(s, o.Chamber) {
			fmt.Fprintf(&b, `<rect x="%.1f" y="%.1f" width="%.1f" height="12" fill="currentColor" fill-opacity=".12" stroke="currentColor" stroke-opacity=".5"/>`, x(seg.from), line+9, max(1, x(seg.till)-x(seg.from)))
			if x(seg.till)-x(seg.from) > 40 {
				fmt.Fprintf(&b, `<text x="%.1f" y="%.1f" fill="currentColor" font-size="13">%d in</text>`, x(seg.from)+4, line+20, seg.n)
			}
		}
		for _, a := range s.Actions {
			if a.Opening && a.Chamber == o.Chamber {
				fmt.Fprintf(&b, `<path d="M%.1f %.1f l-5 -8 h10 z" fill="currentColor"/>`, x(a.Start), line+9)
			}
		}
		line += row
	}
	if s.Now.After(from) && s.Now.Before(to) {
		fmt.Fprintf(&b, `<line x1="%.1f" x2="%.1f" y1="%.0f" y2="%.1f" stroke="currentColor" stroke-width="2" stroke-dasharray="5 4"/><text x="%.1f" y="%.1f" fill="currentColor">now</text>`, x(s.Now), x(s.Now), top-8, height-18, x(s.Now)+5, height-6)
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String())
}

type occupancy struct {
	from, till time.Time
	n          int
}

// occupied is how many lie in a chamber, over the times that this stays the same.
func occupied(s benchday.Sheet, chamber int64) []occupancy {
	change := map[time.Time]int{}
	for _, d := range s.Dwells {
		if d.Chamber == chamber && d.Kind == studio.Fume {
			change[d.From]++
			change[d.Till]--
		}
	}
	var times []time.Time
	for t := range change {
		times = append(times, t)
	}
	slices.SortFunc(times, time.Time.Compare)
	var out []occupancy
	n := 0
	for i, t := range times {
		n += change[t]
		if n > 0 && i+1 < len(times) {
			if last := len(out) - 1; last >= 0 && out[last].n == n && out[last].till.Equal(t) {
				out[last].till = times[i+1]
				continue
			}
			out = append(out, occupancy{t, times[i+1], n})
		}
	}
	return out
}
