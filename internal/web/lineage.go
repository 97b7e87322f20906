package web

import (
	"fmt"
	"html/template"
	"strings"
	"unicode/utf8"

	"aerugo/internal/flow/evidence"
)

// The drawing of a lineage: a line of text for each version, lanes at its left. A row is
// as high as a finger is wide.
const (
	lineageWidth = 340
	lineageRow   = 48
	lineageLane  = 26
	lineageFont  = 15
)

// lineageDrawing draws what came from what: a full line joins versions of one recipe, a
// broken one what lies over what. Every version is a link; the one shown is filled.
func lineageDrawing(g evidence.Graph, shown int64) template.HTML {
	if len(g.Nodes) < 2 {
		return ""
	}
	x := func(n evidence.Node) int { return 16 + lineageLane*min(n.Lane, 4) }
	y := func(n evidence.Node) int { return lineageRow/2 + lineageRow*n.Row }
	text := 16 + lineageLane*(min(g.Lanes, 5)-1) + 18
	most := (lineageWidth - text) * 10 / (lineageFont * 5) // characters that have room
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="lineage" viewBox="0 0 %d %d" role="group" aria-label="Versions, and what lies over what" font-family="'Source Sans 3', sans-serif" font-size="%d" fill="currentColor">`, lineageWidth, lineageRow*len(g.Nodes), lineageFont)
	for _, e := range g.Edges {
		from, to := g.Nodes[e.From], g.Nodes[e.To]
		dash := ""
		if e.Over {
			dash = ` stroke-dasharray="5 4"`
		}
		// down its own lane, then across into the other
		fmt.Fprintf(&b, `<path d="M%d %d V%d L%d %d" fill="none" stroke="currentColor" stroke-width="2"%s/>`, x(from), y(from), y(to)-lineageRow/3*sign(to.Row-from.Row), x(to), y(to), dash)
	}
	for _, n := range g.Nodes {
		title := n.Title()
		short := title
		if utf8.RuneCountInString(short) > most {
			tail := fmt.Sprintf("… v. %d", n.Version.Number)
			short = strings.TrimSpace(string([]rune(short)[:max(0, most-utf8.RuneCountInString(tail))])) + tail
		}
		fill, weight, now := "none", "400", ""
		if n.Version.ID == shown {
			fill, weight, now = "currentColor", "650", ` aria-current="true"`
		}
		name := "" // what is read out has what is seen in it
		if short != title {
			name = fmt.Sprintf(` aria-label="%s"`, template.HTMLEscapeString(short+": "+title))
		}
		fmt.Fprintf(&b, `<a href="/recipes/%d?v=%d"%s%s><rect x="0" y="%d" width="%d" height="%d" fill="none" pointer-events="all"/>`,
			n.Version.RecipeID, n.Version.ID, name, now, lineageRow*n.Row, lineageWidth, lineageRow)
		if n.Own {
			fmt.Fprintf(&b, `<circle class="knot" cx="%d" cy="%d" r="7" stroke="currentColor" stroke-width="2"/>`, x(n), y(n))
			fmt.Fprintf(&b, `<circle cx="%d" cy="%d" r="7" fill="%s"/>`, x(n), y(n), fill)
		} else {
			fmt.Fprintf(&b, `<rect class="knot" x="%d" y="%d" width="13" height="13" stroke="currentColor" stroke-width="2"/>`, x(n)-6, y(n)-6)
		}
		fmt.Fprintf(&b, `<text x="%d" y="%d" font-weight="%s">%s</text></a>`, text, y(n)+lineageFont/3, weight, template.HTMLEscapeString(short))
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String())
}

func sign(v int) int {
	if v < 0 {
		return -1
	}
	return 1
}
