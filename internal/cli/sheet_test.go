package cli

import (
	"testing"

	"aerugo/internal/studio"
)

// Whatever stands in a table, it is read or refused in a sentence, and what is read is
// square.
func FuzzReadSheet(f *testing.F) {
	for _, text := range []string{"a,b\n1,2\n", "a;b\n1,5;2\n", "a\tb\n1\t2\n", "# x\n\ufeffa,b\n1,2", "a,b\n1\n", "a,a\n1,2", "a,\"b\n1,2", "", "a", ",\n1,2", "%d,b\n%s,1\n"} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := readSheet(data, "100%d.csv")
		if err != nil {
			if studio.ProblemIn(err) == nil {
				t.Fatalf("refused without a sentence: %v", err)
			}
			return
		}
		if len(s.rows) == 0 || len(s.heads) == 0 {
			t.Fatal("an empty table was taken")
		}
		for _, r := range s.rows {
			if len(r) != len(s.heads) {
				t.Fatalf("%d fields under %d heads", len(r), len(s.heads))
			}
		}
		for i := range s.heads {
			if _, err := s.numbers(i); (err == nil) != s.numeric(i) {
				t.Fatal("the column is numbers and is not")
			}
		}
	})
}
