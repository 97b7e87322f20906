package cli

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"aerugo/internal/science/guess"
	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// spec says what the columns of a table of swatches are.
type spec struct {
	Factors  []specFactor        `json:"factors"`
	Block    string              `json:"block"`
	Outputs  []string            `json:"outputs"`
	RepeatSD *float64            `json:"repeat_sd"`
	Wet      *specWet            `json:"wet"`
	Never    []map[string]string `json:"never"`
	AtMost   []specLimit         `json:"at_most"`
	Metal    string              `json:"metal"`
	Supplies []string            `json:"supplies"`
	metal    int                 // factor whose levels are metals; -1: Metal is one
	always   []matter.Use        // what Supplies name
	put      []puts              // what the factors put on, by factor
	safe     map[string]string   // what a combination is stopped for
}

type specFactor struct {
	Name   string   `json:"name"`
	Low    float64  `json:"low"`
	High   float64  `json:"high"`
	Ratio  bool     `json:"ratio"`
	Levels []string `json:"levels"`

	Material  string            `json:"material"`  // what a number above 0 puts on
	Materials map[string]string `json:"materials"` // what a level puts on
}

type specLimit struct {
	Sum map[string]float64 `json:"sum"`
	Is  float64            `json:"is"`
}

const specForm = `{"factors": [{"name": "hours", "low": 2, "high": 48, "ratio": true}, {"name": "metal", "levels": ["copper", "brass"]}]}`

// specHelp is shown by both verbs that read a spec.
const specHelp = `SPEC.json names the columns of DATA.csv: factors, each with low and high (and "ratio": true where doubling matters rather than adding) or with levels; "block", a column such as the day or the chamber run; "outputs", by default L, a and b. It may hold "repeat_sd", what repeats of one swatch usually differ by (1.5 for colours). The least is
  ` + specForm + `

"wet" adds what the chamber's physics says: when the salt dissolved, how long the face was wet, how much ammonia it met. It names the factor, or gives the number, of hours, salt_g_m2 and ammonia_wt, and, if they matter, gap_mm, temp_c, volume_l, solution_g, leak_per_h, salt (a key such as sodium-chloride, or the factor whose levels are keys; none for no salt).

"never" lists what must not be tried together, as {"metal": "brass", "salt": "ammonium-chloride"}; "at_most" holds limits such as {"sum": {"hours": 1, "rest_h": 1}, "is": 24}.

What must never meet is left out by itself where the spec says what is used: "supplies" lists what is on every swatch, as ["ammonia-water:9"]; a factor with low and high names its "material", put on where it is above 0; a factor with levels names its "materials" by level, as {"vinegar": "vinegar:5", "sponge": "sodium-hypochlorite:5"}; "metal" is the metal or the factor whose levels are metals. Substances are written as for 'aerugo meet', their strength in percent after a colon. Whether a hood is at hand is yours to see to.
`

// readSpec reads a spec and checks it.
func readSpec(from io.Reader) (*spec, []guess.Factor, error) {
	bad := func(format string, args ...any) (*spec, []guess.Factor, error) {
		return nil, nil, studio.Problemf(studio.Invalid, "spec", "the spec: "+format, args...)
	}
	text, err := io.ReadAll(io.LimitReader(from, 1<<20))
	if err != nil {
		return nil, nil, fmt.Errorf("read the spec: %w", err)
	}
	d := json.NewDecoder(bytes.NewReader(bytes.TrimPrefix(text, []byte("\ufeff"))))
	d.DisallowUnknownFields()
	var s spec
	if err := d.Decode(&s); err != nil {
		return bad("%v; write it like %s", err, specForm)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return bad("something follows its last bracket; write one object, like %s", specForm)
	}
	if len(s.Factors) == 0 || len(s.Factors) > 40 {
		return bad("it names %d factors; name 1 to 40, like %s", len(s.Factors), specForm)
	}
	if len(s.Outputs) == 0 {
		s.Outputs = []string{"L", "a", "b"}
	}
	taken := map[string]bool{}
	names := slices.Concat(s.Outputs)
	if s.Block != "" {
		names = append(names, s.Block)
	}
	for _, f := range s.Factors {
		names = append(names, f.Name)
	}
	for _, name := range names {
		key := strings.ToLower(strings.TrimSpace(name))
		if key == "" || taken[key] {
			return bad("the column %q is named twice or has no name; each column has one use", name)
		}
		taken[key] = true
	}
	if s.RepeatSD != nil && !(*s.RepeatSD >= 0 && *s.RepeatSD <= 1e6) {
		return bad("repeat_sd can't be %v; write what repeats usually differ by, 0 or more", *s.RepeatSD)
	}
	var factors []guess.Factor
	for _, f := range s.Factors {
		switch {
		case len(f.Levels) == 1 || len(f.Levels) > 100:
			return bad("%s has %d levels; name 2 to 100", f.Name, len(f.Levels))
		case len(f.Levels) > 0:
			for i, l := range f.Levels {
				if strings.TrimSpace(l) == "" || slices.Contains(f.Levels[:i], l) {
					return bad("%s has the level %q twice or empty; name each once", f.Name, l)
				}
			}
		case !(f.High > f.Low) || math.Abs(f.Low) > 1e9 || math.Abs(f.High) > 1e9:
			return bad("%s can't reach from %v to %v; give low and a higher high, or levels", f.Name, f.Low, f.High)
		case f.Ratio && f.Low <= 0:
			return bad("%s goes by ratio and can't start at %v; give a low above 0, or leave ratio out", f.Name, f.Low)
		}
		factors = append(factors, guess.Factor{Name: f.Name, Low: f.Low, High: f.High, Log: f.Ratio, Levels: f.Levels})
	}
	for _, n := range s.Never {
		for name, level := range n {
			i := factorNamed(factors, name)
			if i < 0 || !slices.Contains(factors[i].Levels, level) {
				return bad("never names %s %q, which is no factor with that level", name, level)
			}
		}
	}
	for _, l := range s.AtMost {
		for name, times := range l.Sum {
			if i := factorNamed(factors, name); i < 0 || len(factors[i].Levels) > 0 || math.IsInf(times, 0) {
				return bad("at_most sums %s, which is no factor with low and high", name)
			}
		}
	}
	if err := s.Wet.check(factors); err != nil {
		return nil, nil, err
	}
	if err := s.readMaterials(factors); err != nil {
		return nil, nil, err
	}
	return &s, factors, nil
}

func factorNamed(factors []guess.Factor, name string) int {
	return slices.IndexFunc(factors, func(f guess.Factor) bool { return f.Name == name })
}

// allowed says whether the spec lets a setting be tried.
func (s *spec) allowed(factors []guess.Factor, at []float64) bool {
	if s.stopped(factors, at) != "" {
		return false
	}
	for _, n := range s.Never {
		meets := len(n) > 0
		for name, level := range n {
			i := factorNamed(factors, name)
			meets = meets && factors[i].Levels[int(at[i])] == level
		}
		if meets {
			return false
		}
	}
	for _, l := range s.AtMost {
		sum := 0.0
		for name, times := range l.Sum {
			sum += times * at[factorNamed(factors, name)]
		}
		if sum > l.Is {
			return false
		}
	}
	return true
}

// swatchesIn reads rows of settings and, where withOut says so, outputs.
func (s *spec) swatchesIn(from io.Reader, what string, factors []guess.Factor, withOut bool) ([]guess.Row, error) {
	data, err := io.ReadAll(io.LimitReader(from, mostSheetBytes+1))
	if err != nil {
		return nil, fmt.Errorf("read swatches: %w", err)
	}
	table, err := readSheet(data, what)
	if err != nil {
		return nil, err
	}
	if len(table.rows) > mostSwatches {
		return nil, studio.Problemf(studio.Invalid, what, "%s holds %d swatches, more than %d; give the latest %d", what, len(table.rows), mostSwatches, mostSwatches)
	}
	reader := swatchReader{table: table, columns: map[string]int{}}
	var rows []guess.Row
	for i := range table.rows {
		row, err := reader.row(i, s, factors, withOut)
		if err != nil {
			return nil, err
		}
		rows = append(rows, row)
	}
	if least := map[bool]int{true: 3, false: 1}[withOut]; len(table.rows) < least {
		return nil, studio.Problemf(studio.Invalid, what, "%s holds %d swatches; it takes %d or more, one a line below a line of names", what, len(table.rows), least)
	}
	return rows, nil
}

// mostSwatches is how many are learnt from; the time taken grows with their cube.
const mostSwatches = 1000

// swatchReader reads the rows of a table as a spec names them.
type swatchReader struct {
	table   *sheet
	columns map[string]int
}

func (r swatchReader) bad(row int, format string, args ...any) error {
	return studio.Problemf(studio.Invalid, r.table.name, "%s, row %d: %s", r.table.name, r.table.lines[row], fmt.Sprintf(format, args...))
}

func (r swatchReader) cell(row int, name string) (string, error) {
	i, ok := r.columns[name]
	if !ok {
		var err error
		if i, err = r.table.find("spec", name); err != nil {
			return "", err
		}
		r.columns[name] = i
	}
	text := r.table.rows[row][i]
	if text == "" {
		return "", r.bad(row, "%s is empty; write what it was, or take the row out", name)
	}
	return text, nil
}

func (r swatchReader) value(row int, name string) (float64, error) {
	text, err := r.cell(row, name)
	if err != nil {
		return 0, err
	}
	v, ok := r.table.number(text)
	if !ok || math.Abs(v) > 1e9 {
		return 0, r.bad(row, "%s can't be %q; write a number", name, short(text))
	}
	return v, nil
}

func (r swatchReader) row(i int, s *spec, factors []guess.Factor, withOut bool) (row guess.Row, err error) {
	for _, f := range factors {
		var v float64
		if len(f.Levels) > 0 {
			text, err := r.cell(i, f.Name)
			if err != nil {
				return row, err
			}
			l := slices.Index(f.Levels, text)
			if l < 0 {
				return row, r.bad(i, "%s can't be %q; the spec knows %s", f.Name, short(text), strings.Join(f.Levels, ", "))
			}
			v = float64(l)
		} else if v, err = r.value(i, f.Name); err != nil {
			return row, err
		} else if f.Log && v <= 0 {
			return row, r.bad(i, "%s goes by ratio and can't be %v; write a number above 0", f.Name, v)
		}
		row.At = append(row.At, v)
	}
	if !withOut {
		return row, nil
	}
	for _, name := range s.Outputs {
		v, err := r.value(i, name)
		if err != nil {
			return row, err
		}
		row.Out = append(row.Out, v)
	}
	if s.Block != "" {
		row.Block, err = r.cell(i, s.Block)
	}
	return row, err
}
