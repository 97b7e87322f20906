package colour

import (
	"encoding/csv"
	"os"
	"strconv"
	"testing"
)

// row is one line of a table in testdata, by column name.
type row map[string]string

func (r row) number(t *testing.T, column string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(r[column], 64)
	if err != nil {
		t.Fatalf("column %s: %v", column, err)
	}
	return v
}

func (r row) numbers(t *testing.T, columns ...string) []float64 {
	t.Helper()
	var v []float64
	for _, c := range columns {
		v = append(v, r.number(t, c))
	}
	return v
}

func (r row) lab(t *testing.T, l, a, b string) Lab {
	t.Helper()
	return Lab{r.number(t, l), r.number(t, a), r.number(t, b)}
}

// table reads a CSV file of testdata, which must have at least atLeast rows.
func table(t *testing.T, name string, atLeast int) []row {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	reader := csv.NewReader(f)
	reader.Comment = '#'
	records, err := reader.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []row
	for _, record := range records[1:] {
		r := row{}
		for i, column := range records[0] {
			r[column] = record[i]
		}
		rows = append(rows, r)
	}
	if len(rows) < atLeast {
		t.Fatalf("%s has %d rows, want at least %d", name, len(rows), atLeast)
	}
	return rows
}
