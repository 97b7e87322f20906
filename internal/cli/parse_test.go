package cli

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// FuzzDifferencesIn: whatever the bytes, there are finite differences or a
// Problem, and the answer can be written as JSON.
func FuzzDifferencesIn(f *testing.F) {
	for _, seed := range []string{
		"", "\n", "#\n", "50,2.6772,-79.7751,50,0,-82.7485\n", "\ufeffL1,a1,b1,L2,a2,b2\r\n1,2,3,4,5,6\r\n",
		"b2,a2,L2,b1,a1,L1\n1,2,3,4,5,6", "\"1\",2,3,4,5,6\n", "1,2,3\n", "1,2,3,4,5,abc\n", "\"1,2\n3", "1e999,0,0,0,0,0", "0x1p9,1_0,0,0,0,0",
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got, err := differencesIn(strings.NewReader(text))
		if err != nil {
			if studio.ProblemIn(err) == nil {
				t.Fatalf("%v is no Problem", err)
			}
			return
		}
		if len(got) == 0 {
			t.Fatal("no rows and no Problem")
		}
		for _, d := range got {
			if math.IsNaN(d) || math.IsInf(d, 0) || d < 0 {
				t.Fatalf("a difference of %v", d)
			}
		}
		if _, err := json.Marshal(got); err != nil {
			t.Fatal(err)
		}
	})
}

// FuzzNumbers: as many finite numbers as asked for, or a Problem.
func FuzzNumbers(f *testing.F) {
	for _, seed := range []string{"", "1,2,3,4", " 1 , −2,3e2,.5", "1,2,3", "1,2,3,NaN", "1,2,3,Inf", "1,2,3,4,5", "a,b,c,d"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got, err := numbers("grey", text, 4, "20,300,90,120")
		if err != nil {
			if studio.ProblemIn(err) == nil {
				t.Fatalf("%v is no Problem", err)
			}
			return
		}
		if len(got) != 4 {
			t.Fatalf("%d numbers", len(got))
		}
		for _, v := range got {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("%v", got)
			}
		}
	})
}

// However the columns stand and are named, each row gives the difference of its
// own two colours.
func TestColumnsAreFoundByName(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		names := rapid.Permutation([]string{"L1", "a1", "b1", "L2", "a2", "b2", "note", "pair"}).Draw(t, "columns")
		value := map[string]*rapid.Generator[float64]{}
		for _, n := range []string{"a1", "b1", "a2", "b2"} {
			value[n] = rapid.Float64Range(-130, 130)
		}
		value["L1"], value["L2"], value["pair"] = rapid.Float64Range(0, 100), rapid.Float64Range(0, 100), rapid.Float64Range(1, 9)
		text := strings.Join(names, ",") + "\n"
		var want []float64
		for range rapid.IntRange(1, 5).Draw(t, "rows") {
			row := map[string]float64{}
			var cells []string
			for _, n := range names {
				if n == "note" {
					cells = append(cells, "dry, then wetted"[:rapid.IntRange(0, 3).Draw(t, "words")])
					continue
				}
				row[n] = value[n].Draw(t, n)
				cells = append(cells, fmt.Sprint(row[n]))
			}
			text += strings.Join(cells, ",") + "\n"
			want = append(want, colour.Difference(colour.Lab{L: row["L1"], A: row["a1"], B: row["b1"]}, colour.Lab{L: row["L2"], A: row["a2"], B: row["b2"]}))
		}
		got, err := differencesIn(strings.NewReader(text))
		if err != nil || len(got) != len(want) {
			t.Fatalf("%v: %v\n%s", got, err, text)
		}
		for i := range want {
			if got[i] != want[i] {
				t.Fatalf("row %d: %v, want %v\n%s", i+1, got[i], want[i], text)
			}
		}
	})
}

// Levenshtein, Soviet Physics Doklady 10 (1966) 707-710, defines the distance;
// it is a metric: zero only for equal words, the same both ways, and no detour
// is shorter.
func TestEditsAreADistance(t *testing.T) {
	word := rapid.StringOfN(rapid.SampledFrom([]rune("abé")), 0, 6, -1)
	rapid.Check(t, func(t *rapid.T) {
		a, b, c := word.Draw(t, "a"), word.Draw(t, "b"), word.Draw(t, "c")
		if (edits(a, b) == 0) != (a == b) || edits(a, b) != edits(b, a) || edits(a, c) > edits(a, b)+edits(b, c) {
			t.Fatalf("%q %q %q: %d, %d, %d", a, b, c, edits(a, b), edits(b, c), edits(a, c))
		}
		if edits(a, a+"x") != 1 || edits(a, "") != len([]rune(a)) {
			t.Fatalf("%q", a)
		}
	})
}

// Never more is handed out than there is, and all comes back.
func TestRoomIsNeverOverdrawn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := rapid.Int64Range(1, 100).Draw(t, "all")
		asks := rapid.SliceOfN(rapid.Int64Range(0, 150), 1, 20).Draw(t, "asks")
		r := newRoom(all)
		done := make(chan bool)
		for _, n := range asks {
			go func() {
				got := r.take(n)
				r.mu.Lock()
				fine := r.free >= 0 && got == min(n, all)
				r.mu.Unlock()
				r.give(got)
				done <- fine
			}()
		}
		for range asks {
			if !<-done {
				t.Fatal("overdrawn")
			}
		}
		if r.free != all {
			t.Fatalf("%d of %d are left", r.free, all)
		}
	})
}
