package cli

import (
	"bytes"
	"io"
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

// Whatever stands in a table, the verbs that read one answer or say what to mend: they
// never end with a fault of ours.
func FuzzTables(f *testing.F) {
	for _, text := range []string{
		"a,b,c\n1,2,x\n2,3,x\n3,3,y\n4,9,y\n7,1,x\n", "a,b,c\n1e200,2,3\n2,3,4\n", "a,b\n1,1e308\n2,-1e308\n3,0\n4,5\n5,6\n6,7\n",
		"a,b,c\n1,1,1\n1,1,1\n", "winner,loser\nx,y\ny,x\n", "a,b,c,d\nx,y,1e300,1\n", "a,b\n0,0\n1,0.1\n2,0.5\n3,0.8\n4,0.9\n5,0.95\n6,0.95\n",
		"a,b,c\n1e-200,2e-200,3\n2e-200,3e-200,4\n1,2,3\n", "a,b,choice\nx,y,tie\n", "a,b,c\n1,-0,\xc3\xa9\n2,0,f\n3,1,f\n",
	} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		for _, args := range [][]string{
			{"effects", "-", "--response", "a", "--factors", "b,c", "--interactions", "--squares", "--json"},
			{"effects", "-", "--response", "a", "--factors", "b", "--random", "c", "--sums", "3", "--see", "2", "--json"},
			{"curve", "-", "--json"}, {"curve", "-", "--model", "avrami", "--logit", "--json"}, {"rank", "-", "--json"},
		} {
			var said bytes.Buffer
			if status := Main(args, bytes.NewReader(data), io.Discard, &said); status == exitOurs {
				t.Fatalf("%q: %s", args, said.String())
			}
		}
	})
}
