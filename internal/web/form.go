package web

import (
	"cmp"
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/language"
	"aerugo/internal/studio"
)

// A form keeps what was typed and what is wrong with it, field by field, so
// that a refused form comes back as it was.
type form struct {
	values url.Values
	wrong  map[string]string
	in     *language.Language // that the page was shown in; nil for English
}

func readForm(r *http.Request) *form {
	_ = r.ParseForm() // what can't be parsed is simply not there, and is asked for again
	l, _ := r.Context().Value(spokenKey{}).(*language.Language)
	return &form{values: r.Form, wrong: map[string]string{}, in: l}
}

// Val returns what was typed in a field.
func (f *form) Val(name string) string { return strings.TrimSpace(f.values.Get(name)) }

// typed turns what was typed in the language of the page into the words that the program
// reads: those of the sets of language.Typed.
func (f *form) typed(text string, sets ...string) string {
	return cmp.Or(f.in, language.English).Typed(text, sets...)
}

// tool is a tool by which a step is judged (how hot it is, what goes beside, what seals) as
// the program knows it, any other in its own words.
func (f *form) tool(text string) string {
	if w := f.typed(text, language.ToolWords); slices.Contains(language.WordsOf(language.ToolWords), w) {
		return w
	}
	return text
}

// Wrong returns what is wrong with a field, or with the form as a whole ("").
func (f *form) Wrong(name string) string { return f.wrong[name] }

func (f *form) set(name, value string) { f.values.Set(name, value) }

// ok reports whether nothing was wrong.
func (f *form) ok() bool { return len(f.wrong) == 0 }

func (f *form) say(name, format string, args ...any) {
	if f.wrong[name] == "" {
		f.wrong[name] = fmt.Sprintf(format, args...)
	}
}

// blame puts a Problem beside its field if the page shows that field, else on
// top, and returns any other error.
func (f *form) blame(err error, fields ...string) error {
	if err == nil {
		return nil
	}
	p := studio.ProblemIn(err)
	if p == nil {
		return err
	}
	for _, name := range fields {
		if p.Field == name {
			f.say(name, "%s", p.Text)
			return nil
		}
	}
	f.say("", "%s", p.Text)
	return nil
}

// refusal is what a script is told: one thing that is wrong, and at which field.
func (f *form) refusal() map[string]any {
	for _, name := range slices.Sorted(maps.Keys(f.wrong)) {
		return map[string]any{"problem": f.wrong[name], "field": name}
	}
	return nil
}

// onTop puts what is wrong with fields that the page has no place beside on top
// of it, so that no refusal goes unsaid.
func (f *form) onTop(shown ...string) {
	for _, name := range slices.Sorted(maps.Keys(f.wrong)) {
		if name != "" && !slices.Contains(shown, name) {
			f.say("", "%s", f.wrong[name])
			delete(f.wrong, name)
		}
	}
}

// decimal reads a number as people write it: a comma may stand for the point
// and a true minus sign for the hyphen.
func decimal(text string) (float64, error) {
	t := strings.NewReplacer("−", "-", " ", "", "\u00a0", "", "\u202f", "").Replace(strings.TrimSpace(text))
	if strings.Count(t, ",") == 1 && !strings.Contains(t, ".") {
		t = strings.Replace(t, ",", ".", 1)
	}
	v, err := strconv.ParseFloat(t, 64)
	if err != nil || v != v || v > 1e12 || v < -1e12 {
		return 0, fmt.Errorf("%q is not a number", text)
	}
	return v, nil
}

// number reads a field as a number; empty gives otherwise.
func (f *form) number(name, what, unit string, otherwise float64) float64 {
	text := f.Val(name)
	if text == "" {
		return otherwise
	}
	v, err := decimal(text)
	if err != nil {
		if unit != "" {
			f.say(name, "%q is not a number; write the %s in %s with digits, like 12.5.", text, what, unit)
		} else {
			f.say(name, "%q is not a number; write the %s with digits, like 12.5.", text, what)
		}
	}
	return v
}

// whole reads a field as a whole number; empty gives otherwise.
func (f *form) whole(name, what string, otherwise int64) int64 {
	text := f.Val(name)
	if text == "" {
		return otherwise
	}
	v, err := strconv.ParseInt(text, 10, 64)
	if err != nil {
		f.say(name, "%q is not a whole number; write the %s with digits, like 3.", text, what)
	}
	return v
}

// date reads a day (2026-11-25) in local time; empty gives the zero time.
func (f *form) date(name string) time.Time {
	text := f.Val(name)
	if text == "" {
		return time.Time{}
	}
	t, err := time.ParseInLocation("2006-01-02", text, time.Local)
	if err != nil {
		f.say(name, "%q is not a date; write it like 2026-11-25.", text)
	}
	return t
}

// idIn reads the number in a path, as in /sets/{id}.
func idIn(r *http.Request, name string) (int64, error) {
	text := r.PathValue(name)
	id, err := strconv.ParseInt(text, 10, 64)
	if err != nil || id < 1 {
		return 0, studio.Problemf(studio.NotFound, "", "There is nothing here with the number %q.", text)
	}
	return id, nil
}

// longest is the longest time that can be written, nearly two years.
const longest = 1e6 * time.Minute

// span reads a length of time as people write it: "90", "90 min", "4 h",
// "1 h 30 min", "45 s", "2 d". A bare number is minutes.
func span(text string) (time.Duration, error) {
	t := strings.ToLower(strings.TrimSpace(text))
	if t == "" {
		return 0, nil
	}
	bad := fmt.Errorf("%q is not a time; write it like 90 min, 4 h or 1 h 30 min", text)
	if v, err := decimal(t); err == nil {
		if v < 0 || v > longest.Minutes() {
			return 0, bad
		}
		return time.Duration(v * float64(time.Minute)), nil
	}
	var total time.Duration
	for t != "" {
		t = strings.TrimSpace(t)
		n := 0
		for n < len(t) && (t[n] >= '0' && t[n] <= '9' || t[n] == '.' || t[n] == ',') {
			n++
		}
		if n == 0 {
			return 0, bad
		}
		v, err := decimal(t[:n])
		if err != nil {
			return 0, bad
		}
		t = strings.TrimSpace(t[n:])
		m := 0
		for m < len(t) && t[m] >= 'a' && t[m] <= 'z' {
			m++
		}
		unit, ok := map[string]time.Duration{"s": time.Second, "sec": time.Second, "second": time.Second, "seconds": time.Second,
			"m": time.Minute, "min": time.Minute, "mins": time.Minute, "minute": time.Minute, "minutes": time.Minute,
			"h": time.Hour, "hr": time.Hour, "hrs": time.Hour, "hour": time.Hour, "hours": time.Hour,
			"d": 24 * time.Hour, "day": 24 * time.Hour, "days": 24 * time.Hour}[t[:m]]
		if !ok {
			return 0, bad
		}
		if v*float64(unit) > float64(longest) {
			return 0, bad // before it runs over what a Duration holds
		}
		if total += time.Duration(v * float64(unit)); total > longest {
			return 0, bad
		}
		t = t[m:]
	}
	return total, nil
}
