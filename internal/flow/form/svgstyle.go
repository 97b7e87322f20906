package form

import (
	"math"
	"strconv"
	"strings"
)

// svgNode is one element of an SVG drawing.
type svgNode struct {
	name string
	attr map[string]string
	kids []*svgNode
	text []byte // of a style element
}

// look is what decides how an element is painted; children have it from their parents.
type look struct {
	fill, rule, stroke, visible string
}

// svgRule is one rule of a style sheet: what it picks and what it says.
type svgRule struct {
	picks string // "*", "tag", ".class" or "#id"
	says  map[string]string
}

// rank orders rules as CSS does: a class beats a tag, an id beats a class.
func (r svgRule) rank() int {
	switch r.picks[0] {
	case '#':
		return 2
	case '.':
		return 1
	}
	return 0
}

// mostRules bounds a style sheet.
const mostRules = 2000

// readSheet reads the plain rules of a style sheet: selectors of one tag, class
// or id. Others, and what stands within an at-rule, are left out.
func readSheet(css string) []svgRule {
	var plain strings.Builder // without comments
	for {
		before, rest, found := strings.Cut(css, "/*")
		plain.WriteString(before)
		if !found {
			break
		}
		plain.WriteByte(' ')
		_, css, _ = strings.Cut(rest, "*/")
	}
	css = plain.String()
	var rules []svgRule
	for len(rules) < mostRules {
		head, rest, ok := strings.Cut(css, "{")
		if !ok {
			break
		}
		body, after, ok := strings.Cut(rest, "}")
		if !ok {
			break
		}
		css = after
		if strings.Contains(head, "@") {
			continue
		}
		says := declarations(body)
		for pick := range strings.SplitSeq(head, ",") {
			pick = strings.TrimSpace(pick)
			if pick != "" && !strings.ContainsAny(pick, " >+~:[") && strings.LastIndexAny(pick, ".#") <= 0 {
				rules = append(rules, svgRule{pick, says})
			}
		}
	}
	return rules
}

func declarations(body string) map[string]string {
	m := map[string]string{}
	for d := range strings.SplitSeq(body, ";") {
		if k, v, ok := strings.Cut(d, ":"); ok {
			v, _, _ = strings.Cut(v, "!")
			m[strings.ToLower(strings.TrimSpace(k))] = strings.ToLower(strings.TrimSpace(v))
		}
	}
	return m
}

// says returns an element's own properties: attributes, then style sheet, then
// the style attribute, each over the one before.
func (n *svgNode) says(sheet []svgRule) map[string]string {
	m := map[string]string{}
	for _, k := range []string{"fill", "fill-rule", "fill-opacity", "opacity", "stroke", "display", "visibility"} {
		if v, ok := n.attr[k]; ok {
			m[k] = strings.ToLower(strings.TrimSpace(v))
		}
	}
	if len(sheet) > 0 {
		const most = 20 // classes of one element, so that the work stays bounded
		classes := fields(n.attr["class"], most)
		for rank := range 3 {
			for _, r := range sheet {
				if r.rank() == rank && r.fits(n, classes) {
					for k, v := range r.says {
						m[k] = v
					}
				}
			}
		}
	}
	for k, v := range declarations(n.attr["style"]) {
		m[k] = v
	}
	return m
}

func (r svgRule) fits(n *svgNode, classes []string) bool {
	switch r.picks[0] {
	case '*':
		return r.picks == "*"
	case '#':
		return n.attr["id"] == r.picks[1:]
	case '.':
		for _, c := range classes {
			if c == r.picks[1:] {
				return true
			}
		}
		return false
	}
	return n.name == r.picks
}

// under is the look of an element that says m within a parent of look l.
func (l look) under(m map[string]string) look {
	for k, to := range map[string]*string{"fill": &l.fill, "fill-rule": &l.rule, "stroke": &l.stroke, "visibility": &l.visible} {
		if v, ok := m[k]; ok && v != "inherit" {
			*to = v
		}
	}
	if m["fill-opacity"] == "0" || m["opacity"] == "0" {
		l.fill = "none"
	}
	if m["opacity"] == "0" {
		l.stroke = "none"
	}
	return l
}

// white reports whether a paint is white, in the ways in which drawings write it.
func white(fill string) bool {
	switch strings.ReplaceAll(fill, " ", "") {
	case "white", "#fff", "#ffffff", "rgb(255,255,255)", "rgb(100%,100%,100%)":
		return true
	}
	return false
}

// svgUnits are the units of CSS in mm: 96 px are an inch (CSS Values and Units
// Module Level 3, section 6.2). An em is taken as 16 px.
var svgUnits = map[string]float64{
	"": 25.4 / 96, "px": 25.4 / 96, "in": 25.4, "cm": 10, "mm": 1, "q": 0.25, "pt": 25.4 / 72, "pc": 25.4 / 6,
	"em": 16 * 25.4 / 96, "ex": 8 * 25.4 / 96,
}

// svgLength reads a length in user units (px); a percentage is of whole.
func svgLength(s string, whole float64) (float64, bool) {
	s = strings.ToLower(strings.TrimSpace(s))
	end := len(s)
	for end > 0 && (s[end-1] >= 'a' && s[end-1] <= 'z' || s[end-1] == '%') {
		end--
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(s[:end]), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, false
	}
	if s[end:] == "%" {
		return v / 100 * whole, true
	}
	mm, ok := svgUnits[s[end:]]
	return v * mm / svgUnits[""], ok
}

// numbers reads a list of numbers parted by spaces and commas; it ends at the
// first thing that is none.
func numbers(s string) []float64 {
	r := pathReader{s: s}
	var out []float64
	for {
		v, ok := r.number()
		if !ok {
			return out
		}
		out = append(out, v)
	}
}

// svgTransform reads a list of transforms (SVG 1.1, section 7.6).
func svgTransform(s string) (matrix, bool) {
	m := unmoved
	for {
		s = strings.TrimLeft(s, " \t\r\n,")
		if s == "" {
			return m, true
		}
		name, rest, ok := strings.Cut(s, "(")
		args, after, ok2 := strings.Cut(rest, ")")
		if !ok || !ok2 {
			return unmoved, false
		}
		s = after
		v := numbers(args)
		arg := func(i int, otherwise float64) float64 {
			if i < len(v) {
				return v[i]
			}
			return otherwise
		}
		if len(v) == 0 {
			return unmoved, false
		}
		var t matrix
		switch strings.TrimSpace(name) {
		case "matrix":
			if len(v) != 6 {
				return unmoved, false
			}
			t = matrix{v[0], v[1], v[2], v[3], v[4], v[5]}
		case "translate":
			t = matrix{1, 0, 0, 1, v[0], arg(1, 0)}
		case "scale":
			t = matrix{v[0], 0, 0, arg(1, v[0]), 0, 0}
		case "rotate":
			sin, cos := math.Sincos(v[0] * math.Pi / 180)
			x, y := arg(1, 0), arg(2, 0)
			t = matrix{cos, sin, -sin, cos, x - cos*x + sin*y, y - sin*x - cos*y}
		case "skewX":
			t = matrix{1, 0, math.Tan(v[0] * math.Pi / 180), 1, 0, 0}
		case "skewY":
			t = matrix{1, math.Tan(v[0] * math.Pi / 180), 0, 1, 0, 0}
		default:
			return unmoved, false
		}
		m = m.after(t)
	}
}
