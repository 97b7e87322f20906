package cli

import (
	"encoding/json"
	"testing"

	"aerugo/internal/studio"
)

// Whatever stands in a file of examples, it is read or refused in a sentence; what
// is read comes back the same when written again.
func FuzzReadExamples(f *testing.F) {
	for _, text := range []string{
		`{"unit": "mm", "strokes": [{"class": "bare", "radius": 2, "points": [[5, 10], [12, 10]]}]}`,
		`{"unit": "face", "strokes": []}`, `{"unit": "mm", "strokes": [{"class": "gold"}]}`, `[]`, `{"unit":"mm"} {}`, `{"unit": "mm", "strokes": [{"points": [[1e999, 0]]}]}`,
	} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		unit, strokes, err := readExamples(data)
		if err != nil {
			if studio.ProblemIn(err) == nil {
				t.Fatalf("refused without a sentence: %v", err)
			}
			return
		}
		again := examplesFile{Unit: unit}
		for _, s := range strokes {
			one := struct {
				Class  string       `json:"class"`
				Radius float64      `json:"radius"`
				Points [][2]float64 `json:"points"`
			}{Class: s.Class, Radius: s.RadiusMM}
			for _, p := range s.Points {
				one.Points = append(one.Points, [2]float64{p.X, p.Y})
			}
			again.Strokes = append(again.Strokes, one)
		}
		text, err := json.Marshal(again)
		if err != nil {
			t.Fatal(err)
		}
		unit2, strokes2, err := readExamples(text)
		if err != nil || unit2 != unit || len(strokes2) != len(strokes) {
			t.Fatalf("written again as %s: %q, %d strokes, %v", text, unit2, len(strokes2), err)
		}
	})
}
