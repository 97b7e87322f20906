package texture

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

// records reads a CSV file of testdata without its comment lines; it must have at
// least so many lines.
func records(t testing.TB, name string, atLeast int) [][]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment, r.FieldsPerRecord = '#', -1
	lines, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(lines) < atLeast {
		t.Fatalf("%s has %d lines, want at least %d", name, len(lines), atLeast)
	}
	return lines
}

func number(t testing.TB, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// named reads the numbers of a file of names and values.
func named(t testing.TB, name string, atLeast int) map[string]float64 {
	t.Helper()
	m := map[string]float64{}
	for _, line := range records(t, name, atLeast)[1:] {
		m[line[0]] = number(t, line[1])
	}
	return m
}

// reporter is a test, or one draw of a property test.
type reporter interface {
	Helper()
	Errorf(format string, args ...any)
}

// near holds a number against a published one, relative to its size above 1.
func near(t reporter, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within*max(1, math.Abs(want))) {
		t.Errorf("%s is %.12g, want %.12g within %g", what, got, want, within)
	}
}

// paint makes a grid with cells of 1 mm from row and column.
func paint(w, h int, v func(r, c int) float64) Grid {
	g := Grid{W: w, H: h, V: make([]float64, w*h), MMPerCell: 1}
	for i := range g.V {
		g.V[i] = v(i/w, i%w)
	}
	return g
}

// picture64 is the picture of texture_64_expected.csv.
func picture64() Grid {
	return paint(64, 64, func(r, c int) float64 { return float64((3*r*r + 5*c*c + 7*r*c) / 16 % 256) })
}

// anyGrid draws a grid with values lo to hi, and in half of the draws a mask.
func anyGrid(t *rapid.T, least int, lo, hi float64) Grid {
	g := Grid{
		W:         rapid.IntRange(least, 12).Draw(t, "width"),
		H:         rapid.IntRange(least, 12).Draw(t, "height"),
		MMPerCell: rapid.SampledFrom([]float64{0.05, 0.1, 0.25, 1}).Draw(t, "mm per cell"),
	}
	g.V = rapid.SliceOfN(rapid.Float64Range(lo, hi), g.W*g.H, g.W*g.H).Draw(t, "values")
	if rapid.Bool().Draw(t, "masked") {
		g.OK = make([]bool, len(g.V))
		for i := range g.OK {
			g.OK[i] = rapid.IntRange(0, 3).Draw(t, "ok") > 0
		}
	}
	return g
}

// like returns g with each value changed.
func (g Grid) like(change func(float64) float64) Grid {
	v := make([]float64, len(g.V))
	for i := range v {
		v[i] = change(g.V[i])
	}
	g.V = v
	return g
}
