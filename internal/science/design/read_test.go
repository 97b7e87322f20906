package design

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// published reads a table of testdata, whose first lines name its source, as one
// map a row.
func published(t testing.TB, name string) []map[string]string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(strings.NewReader(string(data)))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%s: %d rows, %v", name, len(rows), err)
	}
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, cell := range row {
			m[rows[0][i]] = cell
		}
		out = append(out, m)
	}
	return out
}

// publishedRuns reads the named columns of a table as numbers.
func publishedRuns(t testing.TB, name, prefix string) [][]float64 {
	t.Helper()
	var out [][]float64
	for _, row := range published(t, name) {
		var run []float64
		for i := 1; row[prefix+strconv.Itoa(i)] != ""; i++ {
			run = append(run, num(t, row[prefix+strconv.Itoa(i)]))
		}
		out = append(out, run)
	}
	return out
}

func num(t testing.TB, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}
