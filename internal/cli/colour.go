package cli

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strings"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

type colourVerb struct {
	Difference differenceVerb `cmd:"" help:"Colour differences ΔE00 (CIEDE2000) of pairs of CIELAB colours."`
}

type differenceVerb struct {
	CSV  string `name:"csv" required:"" placeholder:"FILE" help:"File of pairs, '-' for standard input."`
	JSON bool   `name:"json" help:"Answer in JSON: an array of numbers."`
}

// Help is shown below the verb's usage.
func (differenceVerb) Help() string {
	return `Each row of the file holds L1,a1,b1,L2,a2,b2 (CIELAB, D50). With a header that holds these six names, in any order and among others, columns are found by name; otherwise the first six count. Rows that start with # are left out.

The answer is one number a row, in the order of the rows: with 4 decimals, or as JSON to full precision.

` + exits
}

// pairColumns are the names of the columns, in the order they stand in without
// a header.
var pairColumns = [6]string{"L1", "a1", "b1", "L2", "a2", "b2"}

const pairForm = "L1,a1,b1,L2,a2,b2"

// mostLab is far beyond any colour's a* or b*; past it a number is a slip.
const mostLab = 1000

// Run prints the differences.
func (v differenceVerb) Run(t *term) error {
	from := t.stdin
	if v.CSV != "-" {
		f, err := openFile(v.CSV, "a CSV file")
		if err != nil {
			return err
		}
		defer f.Close()
		from = f
	}
	differences, err := differencesIn(from)
	if err != nil {
		return err
	}
	if v.JSON {
		return t.asJSON(differences)
	}
	w := bufio.NewWriter(t.stdout)
	for _, d := range differences {
		fmt.Fprintf(w, "%.4f\n", d)
	}
	return w.Flush()
}

// differencesIn reads rows of pairs and returns their differences. A row is
// called by its line in the file, as editors and spreadsheets number them.
func differencesIn(from io.Reader) ([]float64, error) {
	r := csv.NewReader(skipMark(from))
	r.Comment = '#'
	r.FieldsPerRecord = -1
	r.TrimLeadingSpace = true
	r.LazyQuotes = true
	r.ReuseRecord = true
	columns := [6]int{0, 1, 2, 3, 4, 5}
	out := []float64{}
	for first := true; ; first = false {
		record, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		var parse *csv.ParseError
		if errors.As(err, &parse) {
			return nil, studio.Problemf(studio.Invalid, "csv", "row %d: %v; write %s", parse.Line, parse.Err, pairForm)
		}
		if err != nil {
			return nil, fmt.Errorf("read pairs: %w", err)
		}
		row, _ := r.FieldPos(0)
		if first {
			if named, ok := columnsOf(record); ok {
				columns = named
			}
			if isHeader(record) {
				continue
			}
		}
		a, b, err := pairIn(record, columns, row)
		if err != nil {
			return nil, err
		}
		out = append(out, colour.Difference(a, b))
	}
	if len(out) == 0 {
		return nil, studio.Problemf(studio.Invalid, "csv", "there are no rows of colours in it; write one pair a row, %s", pairForm)
	}
	return out, nil
}

// columnsOf finds the six columns by their names.
func columnsOf(header []string) (columns [6]int, ok bool) {
	for i, want := range pairColumns {
		columns[i] = -1
		for j, have := range header {
			if strings.EqualFold(strings.TrimSpace(have), want) {
				columns[i] = j
				break
			}
		}
		if columns[i] < 0 {
			return columns, false
		}
	}
	return columns, true
}

// isHeader reports whether no cell is a number, as in a row of names.
func isHeader(record []string) bool {
	named := 0
	for _, cell := range record {
		if _, ok := number(cell); ok {
			return false
		}
		if strings.TrimSpace(cell) != "" {
			named++
		}
	}
	return named >= len(pairColumns)
}

// pairIn reads the two colours of one row.
func pairIn(record []string, columns [6]int, row int) (a, b colour.Lab, err error) {
	var v [6]float64
	for i, c := range columns {
		if c >= len(record) {
			return a, b, studio.Problemf(studio.Invalid, "csv", "row %d: there are only %d columns; write %s", row, len(record), pairForm)
		}
		var ok bool
		if v[i], ok = number(record[c]); !ok {
			return a, b, studio.Problemf(studio.Invalid, "csv", "row %d: %q is not a number; write %s", row, short(record[c]), pairForm)
		}
		if math.Abs(v[i]) > mostLab {
			return a, b, studio.Problemf(studio.Invalid, "csv", "row %d: %s can't be %v; L* runs from 0 to 100, a* and b* from about -130 to 130", row, pairColumns[i], v[i])
		}
	}
	return colour.Lab{L: v[0], A: v[1], B: v[2]}, colour.Lab{L: v[3], A: v[4], B: v[5]}, nil
}

// short returns the beginning of what stands where a number should.
func short(cell string) string {
	const most = 40
	r := []rune(strings.TrimSpace(cell))
	if len(r) > most {
		return string(r[:most]) + "..."
	}
	return string(r)
}

// skipMark leaves out the byte order mark that some spreadsheets write first.
func skipMark(r io.Reader) io.Reader {
	b := bufio.NewReader(r)
	if mark, err := b.Peek(3); err == nil && string(mark) == "\ufeff" {
		_, _ = b.Discard(3)
	}
	return b
}

// openFile opens an ordinary file to read; what says what it should be.
func openFile(path, what string) (*os.File, error) {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return nil, studio.Problemf(studio.NotFound, "", "there is no file %s; name %s that is there", path, what)
	case err != nil:
		return nil, studio.Problemf(studio.Machine, "", "%s can't be read (%s); name %s that can", path, plainly(err), what)
	case info.IsDir():
		return nil, studio.Problemf(studio.Invalid, "", "%s is a folder; name %s", path, what)
	case !info.Mode().IsRegular():
		return nil, studio.Problemf(studio.Invalid, "", "%s is not an ordinary file; name %s", path, what)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, studio.Problemf(studio.Machine, "", "%s can't be read (%s); name %s that can", path, plainly(err), what)
	}
	return f, nil
}

// plainly returns what the machine said about a file, without the file's name,
// which is said already.
func plainly(err error) string {
	var path *os.PathError
	if errors.As(err, &path) {
		return path.Err.Error()
	}
	var link *os.LinkError
	if errors.As(err, &link) {
		return link.Err.Error()
	}
	return err.Error()
}
