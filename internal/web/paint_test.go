package web

import (
	"testing"

	"aerugo/internal/studio"
)

// Whatever comes in the strokes' field, it is read or refused in a sentence; what
// is read is written the same again.
func FuzzReadStrokes(f *testing.F) {
	for _, text := range []string{``, `[]`, `null`, `{}`, `[{"class":"bare","radius":2,"points":[[1,2],[3,4]]}]`, `[{"class":"gold","radius":1,"points":[[1,2]]}]`,
		`[{"class":"bare","radius":-1,"points":[[1]]}]`, `[{"class":"bare","radius":1e300,"points":[[1e400,0]]}]`, `[[[[[`} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		strokes, err := readStrokes(text)
		if err != nil {
			if studio.ProblemIn(err) == nil {
				t.Fatalf("refused without a sentence: %v", err)
			}
			return
		}
		again, err := readStrokes(writeStrokes(strokes))
		if err != nil || writeStrokes(again) != writeStrokes(strokes) {
			t.Fatalf("%q came back as %v, %v", text, again, err)
		}
	})
}
