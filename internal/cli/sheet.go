package cli

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"unicode/utf8"

	"aerugo/internal/studio"
)

// sheetHelp says what a table must look like.
const sheetHelp = `The table is a CSV file with the columns' names in its first line, fields parted by commas, semicolons or tabs; lines that start with # are passed over. With semicolons a decimal comma is understood. "-" reads standard input.`

// The largest table read.
const (
	mostSheetBytes   = 4 << 20
	mostSheetRows    = 5000
	mostSheetColumns = 200
)

// sheet is a table as it was written.
type sheet struct {
	name   string
	heads  []string
	rows   [][]string
	lines  []int // of the file, by row
	commas bool  // decimals may be written with a comma
}

// openSheet reads the table in a file, or from standard input.
func openSheet(t *term, path string) (*sheet, error) {
	if path == "-" {
		data, err := io.ReadAll(io.LimitReader(t.stdin, mostSheetBytes+1))
		if err != nil {
			return nil, studio.Problemf(studio.Machine, "table", "standard input can't be read (%s)", plainly(err))
		}
		return readSheet(data, "standard input")
	}
	f, err := os.Open(path)
	if err != nil {
		kind := studio.Machine
		if errors.Is(err, os.ErrNotExist) {
			kind = studio.NotFound
		}
		return nil, studio.Problemf(kind, "table", "%s can't be read (%s); name a CSV file", path, plainly(err))
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, mostSheetBytes+1))
	if err != nil {
		return nil, studio.Problemf(studio.Machine, "table", "%s can't be read (%s); name a CSV file", path, plainly(err))
	}
	return readSheet(data, filepath.Base(path))
}

// readSheet reads a table; every refusal is a Problem.
func readSheet(data []byte, name string) (*sheet, error) {
	refuse := func(format string, args ...any) (*sheet, error) {
		return nil, studio.Problemf(studio.Invalid, "table", name+": "+format, args...)
	}
	name = strings.ReplaceAll(name, "%", "%%")
	if len(data) > mostSheetBytes {
		return refuse("the table is larger than 4 MB; keep only the columns that are asked about")
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	if !utf8.Valid(data) || bytes.IndexByte(data, 0) >= 0 {
		return refuse("this is not a CSV file in UTF-8; save the table as 'CSV UTF-8'")
	}
	s := &sheet{name: strings.ReplaceAll(name, "%%", "%")}
	r := csv.NewReader(bytes.NewReader(data))
	r.Comment = '#'
	r.Comma = separator(data)
	s.commas = r.Comma != ','
	r.TrimLeadingSpace = r.Comma != '\t'
	for {
		record, err := r.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			var p *csv.ParseError
			if errors.As(err, &p) {
				if errors.Is(p.Err, csv.ErrFieldCount) {
					return refuse("line %d has %d fields, and the first line has %d; every line needs the same", p.StartLine, len(record), len(s.heads))
				}
				return refuse("line %d can't be read as CSV: a quotation mark is out of place; put quotation marks round whole fields, or leave them out", p.StartLine)
			}
			return refuse("the table can't be read as CSV")
		}
		for i := range record {
			record[i] = strings.TrimSpace(record[i])
		}
		if s.heads == nil {
			s.heads = record
			continue
		}
		if len(s.rows) == mostSheetRows {
			return refuse("the table has more than %d rows", mostSheetRows)
		}
		line, _ := r.FieldPos(0)
		s.rows, s.lines = append(s.rows, record), append(s.lines, line)
	}
	switch {
	case s.heads == nil:
		return refuse("the table is empty; its first line names the columns")
	case len(s.heads) > mostSheetColumns:
		return refuse("the table has %d columns, more than %d", len(s.heads), mostSheetColumns)
	case len(s.rows) == 0:
		return refuse("the table has a head and no rows")
	}
	for i, h := range s.heads {
		if h == "" {
			return refuse("column %d has no name in the first line", i+1)
		}
		if slices.Contains(s.heads[:i], h) {
			return refuse("two columns are named %q", h)
		}
	}
	return s, nil
}

// separator guesses what parts the fields by the first line that is not a comment.
func separator(data []byte) rune {
	for line := range bytes.Lines(data) {
		line = bytes.TrimSpace(line)
		if len(line) == 0 || line[0] == '#' {
			continue
		}
		best, most := ',', bytes.Count(line, []byte(","))
		for _, c := range []rune{';', '\t'} {
			if n := bytes.Count(line, []byte(string(c))); n > most {
				best, most = c, n
			}
		}
		return best
	}
	return ','
}

// find returns where the column stands; option is the one that named it.
func (s *sheet) find(option, name string) (int, error) {
	if i := slices.Index(s.heads, name); i >= 0 {
		return i, nil
	}
	for i, h := range s.heads {
		if strings.EqualFold(h, name) {
			return i, nil
		}
	}
	hint := "its columns are " + strings.Join(s.heads, ", ")
	if n := nearest(strings.ToLower(name), s.heads); n != "" {
		hint = "did you mean " + n + "? " + strings.ToUpper(hint[:1]) + hint[1:]
	}
	return 0, studio.Problemf(studio.NotFound, option, "%s has no column %q; %s", s.name, name, hint)
}

// column returns the texts of a column.
func (s *sheet) column(i int) []string {
	out := make([]string, len(s.rows))
	for r, row := range s.rows {
		out[r] = row[i]
	}
	return out
}

func (s *sheet) number(text string) (float64, bool) {
	if s.commas && strings.Count(text, ",") == 1 && !strings.Contains(text, ".") {
		text = strings.Replace(text, ",", ".", 1)
	}
	return number(text)
}

// numeric says whether a column holds nothing but numbers.
func (s *sheet) numeric(i int) bool {
	for _, row := range s.rows {
		if _, ok := s.number(row[i]); !ok {
			return false
		}
	}
	return true
}

// numbers reads a column of numbers.
func (s *sheet) numbers(i int) ([]float64, error) {
	out := make([]float64, len(s.rows))
	for r, row := range s.rows {
		v, ok := s.number(row[i])
		if !ok {
			return nil, studio.Problemf(studio.Invalid, s.heads[i], "row %d of %s says %q in column %s, which is not a number", r+1, s.name, row[i], s.heads[i])
		}
		out[r] = v
	}
	return out, nil
}

// without drops the rows whose field i is empty, and returns their numbers from 1.
func (s *sheet) without(i int) (left *sheet, dropped []int) {
	left = &sheet{name: s.name, heads: s.heads, commas: s.commas}
	for r, row := range s.rows {
		if row[i] == "" {
			dropped = append(dropped, r+1)
			continue
		}
		left.rows, left.lines = append(left.rows, row), append(left.lines, s.lines[r])
	}
	return left, dropped
}
