package matter

import (
	"encoding/csv"
	"errors"
	"os"
	"strconv"
	"testing"

	"aerugo/internal/science"
)

// published reads a table of testdata; its first line names the source.
func published(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	lines, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []map[string]string
	for _, l := range lines[1:] {
		m := make(map[string]string)
		for i, cell := range l {
			m[lines[0][i]] = cell
		}
		rows = append(rows, m)
	}
	if len(rows) == 0 {
		t.Fatalf("%s has no rows", name)
	}
	return rows
}

func num(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// refused fails unless err is a range error.
func refused(t *testing.T, what string, err error) {
	t.Helper()
	var r *science.RangeError
	if !errors.As(err, &r) {
		t.Errorf("%s: got error %v, want a RangeError", what, err)
	}
}
