package target

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Keyword is a header line of a CGATS file.
type Keyword struct{ Name, Value string }

// Table is one table of a CGATS file: named columns and rows of text. Every row
// has as many values as there are fields.
type Table struct {
	Keywords []Keyword
	Fields   []string
	Rows     [][]string
}

// Limits of a file that is read: far above any target, and low enough that a
// wrong file is refused before it fills the memory.
const (
	mostBytes  = 8 << 20
	mostFields = 1000
	mostRows   = 100000
)

// ReadCGATS reads the tables of a CGATS.17 text file. It bears what is seen in
// the wild: counts missing or wrong, counts before or after the format, decimal
// commas, several tables, names with spaces but no quotes, a byte order mark. A
// table without a format of its own has that of the table before. The error
// names the line.
func ReadCGATS(text string) ([]Table, error) {
	if len(text) > mostBytes {
		return nil, fmt.Errorf("the file has %d bytes; a target's file has at most %d", len(text), mostBytes)
	}
	if !utf8.ValidString(text) {
		text = strings.ToValidUTF8(text, "\uFFFD")
	}
	text = strings.TrimPrefix(text, "\uFEFF")
	text = strings.ReplaceAll(text, "\r\n", "\n")
	text = strings.ReplaceAll(text, "\r", "\n")
	var (
		tables  []Table
		t       Table
		fields  []string // of the table before, for one without a format
		state   = "head"
		started bool
	)
	end := func() {
		tables = append(tables, t)
		fields = t.Fields
		t = Table{}
	}
	for i, line := range strings.Split(text, "\n") {
		words := split(line)
		if len(words) == 0 {
			continue
		}
		if !started {
			// The first line names the kind of file; what it says is not relied on.
			started = true
			if len(words) == 1 && !words[0].quoted && words[0].text != "BEGIN_DATA" && words[0].text != "BEGIN_DATA_FORMAT" {
				continue
			}
		}
		key := strings.ToUpper(words[0].text)
		if words[0].quoted {
			key = ""
		}
		switch {
		case state == "head" && key == "BEGIN_DATA_FORMAT":
			state = "format"
			t.Fields = nil
			words = words[1:]
		case state == "head" && key == "BEGIN_DATA":
			if t.Fields == nil {
				t.Fields = fields
			}
			if len(t.Fields) == 0 {
				return nil, fmt.Errorf("line %d: the data begin before BEGIN_DATA_FORMAT has named the columns", i+1)
			}
			state = "data"
			words = words[1:]
		case state == "format" && key == "END_DATA_FORMAT":
			state = "head"
			continue
		case state == "data" && key == "END_DATA":
			state = "head"
			end()
			continue
		}
		switch state {
		case "head":
			t.keyword(key, words)
		case "format":
			for _, w := range words {
				if strings.EqualFold(w.text, "END_DATA_FORMAT") && !w.quoted {
					state = "head"
					break
				}
				t.Fields = append(t.Fields, strings.ToUpper(w.text))
			}
			if len(t.Fields) > mostFields {
				return nil, fmt.Errorf("line %d: more than %d columns", i+1, mostFields)
			}
		case "data":
			closed := false
			if n := len(words); n > 0 && !words[n-1].quoted && strings.EqualFold(words[n-1].text, "END_DATA") {
				words, closed = words[:n-1], true
			}
			if len(words) > 0 {
				row, err := t.row(words)
				if err != nil {
					return nil, fmt.Errorf("line %d: %w", i+1, err)
				}
				t.Rows = append(t.Rows, row)
				if len(t.Rows) > mostRows {
					return nil, fmt.Errorf("line %d: more than %d rows", i+1, mostRows)
				}
			}
			if closed {
				state = "head"
				end()
			}
		}
	}
	switch {
	case state == "format":
		return nil, fmt.Errorf("the file ends before END_DATA_FORMAT")
	case state == "data":
		return nil, fmt.Errorf("the file ends before END_DATA, so rows may be missing")
	case len(tables) == 0:
		return nil, fmt.Errorf("there is no table between BEGIN_DATA and END_DATA")
	}
	return tables, nil
}

// word is one value of a line.
type word struct {
	text   string
	quoted bool
}

// split cuts a line at spaces and tabs, keeps quoted text whole and drops a
// comment. Two quotes within quoted text stand for one.
func split(line string) []word {
	var words []word
	for {
		line = strings.TrimLeft(line, " \t\v\f\u00a0")
		switch {
		case line == "" || line[0] == '#':
			return words
		case line[0] == '"':
			var b strings.Builder
			rest := line[1:]
			for {
				text, after, closed := strings.Cut(rest, `"`)
				b.WriteString(text)
				rest = after
				if !closed || !strings.HasPrefix(after, `"`) {
					break
				}
				b.WriteByte('"')
				rest = after[1:]
			}
			words = append(words, word{b.String(), true})
			line = rest
		default:
			end := strings.IndexAny(line, " \t\v\f\u00a0")
			if end < 0 {
				end = len(line)
			}
			words = append(words, word{line[:end], false})
			line = line[end:]
		}
	}
}

// keyword notes a header line. Counts are not kept: the rows count.
func (t *Table) keyword(key string, words []word) {
	if key == "" || key == "NUMBER_OF_FIELDS" || key == "NUMBER_OF_SETS" || key == "KEYWORD" {
		return
	}
	values := make([]string, 0, len(words)-1)
	for _, w := range words[1:] {
		values = append(values, w.text)
	}
	t.Keywords = append(t.Keywords, Keyword{key, strings.Join(values, " ")})
}

// row fits the words of a line to the columns. Where there are too many, those
// of a name without quotes are joined.
func (t *Table) row(words []word) ([]string, error) {
	n := len(t.Fields)
	row := make([]string, 0, n)
	for _, w := range words {
		row = append(row, w.text)
	}
	if extra := len(row) - n; extra > 0 {
		at := t.column("SAMPLE_NAME")
		if at < 0 {
			return nil, fmt.Errorf("%d values for %d columns", len(row), n)
		}
		joined := strings.Join(row[at:at+extra+1], " ")
		row = append(append(row[:at:at], joined), row[at+extra+1:]...)
	}
	if len(row) < n {
		return nil, fmt.Errorf("%d values for %d columns", len(row), n)
	}
	return row, nil
}

func (t Table) column(name string) int {
	for i, f := range t.Fields {
		if f == name {
			return i
		}
	}
	return -1
}

// columns returns where the named columns are, or nil when one is missing.
func (t Table) columns(names ...string) []int {
	var at []int
	for _, name := range names {
		i := t.column(name)
		if i < 0 {
			return nil
		}
		at = append(at, i)
	}
	return at
}

// number reads a value with a decimal point or comma.
func number(s string) (float64, bool) {
	if strings.Count(s, ",") == 1 && !strings.Contains(s, ".") {
		s = strings.Replace(s, ",", ".", 1)
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil && !math.IsNaN(v) && !math.IsInf(v, 0)
}

// Keyword returns the value of the first header line of a name, or "".
func (t Table) Keyword(name string) string {
	for _, k := range t.Keywords {
		if strings.EqualFold(k.Name, name) {
			return k.Value
		}
	}
	return ""
}
