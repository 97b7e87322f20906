package language

import (
	"regexp"
	"strings"
	"time"

	"golang.org/x/text/language"
	"golang.org/x/text/message"
	"golang.org/x/text/number"
)

// unitWords are the symbols of units (ISO 80000, and time as on the pages),
// which are the same in every language.
const unitWords = "fl|oz|lb|ft²|oz/ft²|ft2|tsp|tbsp|s|min|h|d|ms|mg|g|kg|µg|mL|ml|µL|L|l|mm|cm|m|µm|nm|mm²|cm²|m²|m³|cm³|mol|mmol|M|wt|kPa|Pa|hPa|mbar|bar|K|°C|°|%|kB|MB|GB|ppm|mg/L|g/L|g/m²|mL/m²|g/m3|g/m³|mg/m³|g/m2|mL/m2|mg/cm²|ΔE00|ΔE|L*|a*|b*|C*|W|V|Hz|px|mL/min|m³/h|/h|pH"

// isUnit has the words of unitWords.
var isUnit = func() map[string]bool {
	out := map[string]bool{}
	for _, u := range strings.Split(unitWords, "|") {
		out[u] = true
	}
	return out
}()

// onlyUnits reports whether all words of text are symbols of units.
func onlyUnits(text string) bool {
	from := -1
	for i, r := range text {
		if betweenUnits(r) {
			if from >= 0 && !isUnit[text[from:i]] {
				return false
			}
			from = -1
		} else if from < 0 {
			from = i
		}
	}
	return from < 0 || isUnit[text[from:]]
}

// betweenUnits reports whether r is a digit, or parts numbers and units.
func betweenUnits(r rune) bool {
	if r < 0x80 {
		switch r {
		case ' ', '\t', '\r', '\n', '(', ')', '[', ']', ',', ';', ':', '=', '<', '>', '+', '-', '.':
			return true
		}
		return r >= '0' && r <= '9'
	}
	switch r {
	case '\u00a0', '\u202f', '·', '–', '×', '±', '≥', '≤', '→', '−':
		return true
	}
	return false
}

// measure matches text that is numbers and units alone.
func measure(text string) bool {
	return strings.ContainsAny(text, "0123456789") && onlyUnits(text)
}

// decimalPoint matches a number with a point, alone: not one of a date, an
// address or a version.
var decimalPoint = regexp.MustCompile(`(^|[^\d.,])(\d+)\.(\d+)($|[^\d.]|\.$|\.\D)`)

// numbers brings the numbers in a text of numbers and units to the language's form.
func (l *Language) numbers(text string) string {
	if l.point != "." {
		for range 2 { // neighbours share the sign between them
			text = decimalPoint.ReplaceAllString(text, "${1}${2}"+l.point+"${3}${4}")
		}
	}
	if l.percent != " %" {
		text = strings.ReplaceAll(text, " %", l.percent)
	}
	return text
}

// forms of numbers as CLDR gives them, through golang.org/x/text.
func numberForms(tag language.Tag) (point, percent string) {
	p := message.NewPrinter(tag)
	point = strings.Trim(p.Sprint(number.Decimal(1.5)), "15")
	if point == "" {
		point = "."
	}
	switch of := p.Sprint(number.Percent(0.5)); {
	case tag == language.English:
		percent = " %"
	case strings.HasPrefix(of, "50"):
		percent = "\u202f%"
		if of == "50%" {
			percent = "%"
		}
	default:
		percent = " %"
	}
	return point, percent
}

// layouts are the ways in which Aerugo writes days and hours in English. What
// they are in another language stands in its catalogue: the layout with its
// parts moved about, like "2. Jan. 2006".
var layouts = []string{
	"Monday 2 January 2006", "Monday 2 January", "Mon 2 Jan 2006", "Mon 2 Jan", "2 January 2006", "2 January", "2 Jan 2006", "2 Jan", "Monday", "Mon",
	"2 January 2006, 15:04", "2 January, 15:04", "2 Jan 2006, 15:04", "2 Jan, 15:04", "2 Jan 15:04", "Mon 15:04", "Monday 15:04", "Mon 2 Jan 15:04", "Mon 2 Jan, 15:04", "Monday 2 January, 15:04",
	"2006-01-02", "2006-01-02 15:04",
}

// Calendar are the names that days are written with.
var calendar = func() []string {
	var out []string
	for m := time.January; m <= time.December; m++ {
		out = append(out, m.String())
		if m != time.May {
			out = append(out, m.String()[:3])
		}
	}
	for d := time.Sunday; d <= time.Saturday; d++ {
		out = append(out, d.String(), d.String()[:3])
	}
	return out
}()

var dateLike = regexp.MustCompile(`^(?:[A-Z][a-z]{2,8}|\d{1,4}[ -])[A-Za-z0-9 ,:-]*$`)

// date says a day or an hour of the calendar, if text is one.
func (l *Language) date(text string) (string, bool) {
	if len(text) > 40 || !dateLike.MatchString(text) {
		return "", false
	}
	for _, layout := range layouts {
		t, err := time.Parse(layout, text)
		if err != nil || afterDay(t.Format(layout), layout) != afterDay(text, layout) {
			continue
		}
		to := l.text("", layout)
		if to == "" {
			return text, false
		}
		if !strings.Contains(layout, "2") && !strings.Contains(layout, "15") {
			// the day of the week alone, which Parse does not keep
			if w := l.text("", text); w != "" {
				return w, true
			}
			return text, false
		}
		day, hasDay := weekday(text, layout)
		return l.layOut(t, to, day, hasDay), true
	}
	return "", false
}

// afterDay cuts off the name of the day, which Parse reads and does not keep.
func afterDay(text, layout string) string {
	if _, rest, ok := strings.Cut(text, " "); ok && strings.HasPrefix(layout, "Mon") {
		return rest
	}
	return text
}

// weekday returns the name of the day as it stands in text.
func weekday(text, layout string) (string, bool) {
	if !strings.HasPrefix(layout, "Mon") {
		return "", false
	}
	w, _, _ := strings.Cut(text, " ")
	return w, true
}

// layOut writes t in a layout of the language, in which the names of the moment, a Monday
// in January, stand in English or in the language.
func (l *Language) layOut(t time.Time, layout, day string, hasDay bool) string {
	var b strings.Builder
	for layout != "" {
		part, n := "", 0
		for _, p := range []string{"Monday", "January", "Mon", "Jan", "2006", "15:04", "15", "04", "01", "02", "2"} {
			for _, name := range []string{p, strings.TrimSuffix(l.or(p), ".")} {
				if strings.HasPrefix(layout, name) && len(name) > n {
					part, n = p, len(name)
				}
			}
		}
		switch part {
		case "":
			r := []rune(layout)[0]
			b.WriteRune(r)
			n = len(string(r))
		case "Monday", "Mon":
			if hasDay {
				b.WriteString(l.or(day))
			}
		case "January", "Jan":
			name := l.or(t.Format(part))
			b.WriteString(name)
			if strings.HasSuffix(name, ".") && strings.HasPrefix(layout[n:], ".") {
				n++ // a short name brings its own stop
			}
		default:
			b.WriteString(t.Format(part))
		}
		layout = layout[n:]
	}
	return b.String()
}

// or returns the translation of id, or id.
func (l *Language) or(id string) string {
	if t := l.text("", id); t != "" {
		return t
	}
	return id
}
