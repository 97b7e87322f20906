package mat

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

// OpenCV 4.6.0 getPerspectiveTransform (homography_vector.csv).
func TestHomographyAgreesWithOpenCV(t *testing.T) {
	file, err := os.Open("testdata/homography_vector.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	r := csv.NewReader(file)
	r.Comment, r.FieldsPerRecord = '#', -1
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	numbers := map[string][][]float64{}
	for _, row := range rows[1:] {
		var v []float64
		for _, cell := range row[1:] {
			if cell == "" {
				continue
			}
			f, err := strconv.ParseFloat(cell, 64)
			if err != nil {
				t.Fatal(err)
			}
			v = append(v, f)
		}
		numbers[row[0]] = append(numbers[row[0]], v)
	}
	pairs := func(v []float64) (out [][2]float64) {
		for i := 0; i < len(v); i += 2 {
			out = append(out, [2]float64{v[i], v[i+1]})
		}
		return out
	}
	h, ok := fitHomography(pairs(numbers["src"][0]), pairs(numbers["dst"][0]))
	if !ok {
		t.Fatal("no homography")
	}
	for i, want := range numbers["H"][0] {
		if math.Abs(h[i]-want) > 1e-9*math.Max(1, math.Abs(want)) {
			t.Errorf("element %d is %.12g, OpenCV says %.12g", i, h[i], want)
		}
	}
	for _, m := range numbers["map"] {
		if u, v := h.at(m[0], m[1]); math.Hypot(u-m[2], v-m[3]) > 1e-5 {
			t.Errorf("(%.0f, %.0f) goes to (%.6f, %.6f), OpenCV says (%.6f, %.6f)", m[0], m[1], u, v, m[2], m[3])
		}
	}
}

func TestHomographyOfManyPointsIsFoundAgainAndInverts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := Layouts[rapid.IntRange(0, 3).Draw(t, "layout")]
		want := camera(l, 1600, 1200, rapid.Float64Range(0, 45).Draw(t, "tilt"), rapid.Float64Range(0, 360).Draw(t, "axis"),
			rapid.Float64Range(-180, 180).Draw(t, "roll"), 0.9, MM{})
		var from, to [][2]float64
		for _, m := range l.Marks[:3] {
			for _, c := range m.Corners() {
				u, v := want.at(c.X, c.Y)
				from, to = append(from, [2]float64{c.X, c.Y}), append(to, [2]float64{u, v})
			}
		}
		h, ok := fitHomography(from, to)
		if !ok {
			t.Fatal("not found")
		}
		back, ok := h.inverse()
		if !ok {
			t.Fatal("no inverse")
		}
		for _, c := range l.Page.Corners() {
			u, v := h.at(c.X, c.Y)
			a, b := want.at(c.X, c.Y)
			if math.Hypot(u-a, v-b) > 1e-4 {
				t.Fatalf("%v is %.2g pixels off", c, math.Hypot(u-a, v-b))
			}
			if x, y := back.at(u, v); math.Hypot(x-c.X, y-c.Y) > 1e-6 {
				t.Fatalf("%v comes back as %.6f, %.6f", c, x, y)
			}
		}
	})
}

// What spread foretells must be what repeated trials with seeded noise show.
func TestSpreadIsWhatTrialsShow(t *testing.T) {
	l := Layouts[0]
	h := camera(l, 1500, 2000, 25, 40, 5, 0.9, MM{})
	var from, clean [][2]float64
	for _, m := range l.Marks[:3] {
		for _, c := range m.Corners() {
			u, v := h.at(c.X, c.Y)
			from, clean = append(from, [2]float64{c.X, c.Y}), append(clean, [2]float64{u, v})
		}
	}
	p := MM{l.Page.W, l.Page.H}
	const sigma, trials = 0.3, 600
	said := h.spread(from, sigma, []MM{p})[0]
	r := rand.New(rand.NewPCG(1, 2))
	sum := 0.0
	for range trials {
		var to [][2]float64
		for _, c := range clean {
			to = append(to, [2]float64{c[0] + sigma*r.NormFloat64(), c[1] + sigma*r.NormFloat64()})
		}
		g, ok := fitHomography(from, to)
		if !ok {
			t.Fatal("not found")
		}
		u, v := g.at(p.X, p.Y)
		a, b := h.at(p.X, p.Y)
		sum += square(u-a) + square(v-b)
	}
	if got := math.Sqrt(sum / trials); math.Abs(said/got-1) > 0.1 {
		t.Errorf("spread says %.3f pixels, trials show %.3f", said, got)
	}
}
