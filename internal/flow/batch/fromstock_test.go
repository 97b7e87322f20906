package batch

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// By hand: pieces of 100 x 100, no kerf, no edge. The offcut of 250 x 100 gives two and
// leaves 50 x 100; the sheet of 400 x 300 gives four to a row: of the eight still wanted
// two rows, and 400 x 100 stays.
func TestCutFromOffcutsFirst(t *testing.T) {
	b := Blank{WidthMM: 100, HeightMM: 100, Pieces: 10}
	there := []Sheet{{ID: 1, WMM: 400, HMM: 300, Count: 2}, {ID: 2, WMM: 250, HMM: 100, Count: 1, Offcut: true}, {ID: 3, WMM: 90, HMM: 900, Count: 5, Offcut: true}}
	got, err := CutFrom(b, there)
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Takings) != 2 || got.Missing != 0 || got.Pieces != 10 {
		t.Fatalf("%+v", got)
	}
	a, s := got.Takings[0], got.Takings[1]
	if a.Sheet.ID != 2 || a.Pieces() != 2 || a.RestW != 50 || a.RestH != 100 || s.Sheet.ID != 1 || s.Count != 1 || s.Pieces() != 8 || s.RestW != 400 || s.RestH != 100 {
		t.Errorf("%+v", got.Takings)
	}
	if got.Words != "10 pieces from 1 offcut and 1 sheet." {
		t.Error(got.Words)
	}
	want := []Sheet{{ID: 3, WMM: 90, HMM: 900, Count: 5, Offcut: true}, {ID: 1, WMM: 400, HMM: 300, Count: 1}, {WMM: 50, HMM: 100, Count: 1, Offcut: true}, {WMM: 400, HMM: 100, Count: 1, Offcut: true}}
	if len(got.Left) != len(want) {
		t.Fatalf("left: %+v", got.Left)
	}
	for i := range want {
		if got.Left[i] != want[i] {
			t.Errorf("left: %+v, want %+v", got.Left[i], want[i])
		}
	}
	b.Pieces = 100
	if got, err = CutFrom(b, there); err != nil || got.Missing != 100-2-24 || got.Words != "26 pieces from 1 offcut and 2 sheets. 74 pieces still lack a sheet." {
		t.Errorf("%+v, %v", got, err)
	}
	b.WidthMM = 500
	if got, err = CutFrom(b, there); err != nil || got.Missing != 100 || got.Words != "No sheet that is there is large enough." {
		t.Errorf("%+v, %v", got, err)
	}
	for _, bad := range []Blank{{}, {WidthMM: math.NaN(), HeightMM: 1, Pieces: 1}, {WidthMM: 10, HeightMM: 10}} {
		if _, err := CutFrom(bad, there); err == nil {
			t.Errorf("%+v was cut", bad)
		}
	}
}

// Whatever is there, pieces and sheets add up, nothing is taken that is not there, what
// is left fits beside the pieces, and on a single whole sheet it is what Cut does.
func TestCutFromAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := Blank{WidthMM: rapid.Float64Range(20, 200).Draw(t, "w"), HeightMM: rapid.Float64Range(20, 200).Draw(t, "h"), Pieces: rapid.IntRange(1, 80).Draw(t, "n"),
			KerfMM: rapid.Float64Range(0, 3).Draw(t, "kerf"), EdgeMM: rapid.Float64Range(0, 10).Draw(t, "edge"), Turn: rapid.Bool().Draw(t, "turn")}
		var there []Sheet
		for i := range rapid.IntRange(0, 5).Draw(t, "kinds") {
			there = append(there, Sheet{ID: int64(i + 1), WMM: rapid.Float64Range(10, 700).Draw(t, "W"), HMM: rapid.Float64Range(10, 700).Draw(t, "H"), Count: rapid.IntRange(0, 4).Draw(t, "count"), Offcut: rapid.Bool().Draw(t, "offcut")})
		}
		got, err := CutFrom(b, there)
		if err != nil {
			t.Fatal(err)
		}
		pieces, taken, whole := 0, map[int64]int{}, false
		for _, x := range got.Takings {
			pieces += x.Pieces()
			taken[x.Sheet.ID] += x.Count
			if whole && x.Sheet.Offcut {
				t.Fatal("a whole sheet is cut before an offcut")
			}
			whole = whole || !x.Sheet.Offcut
			for _, s := range x.Spots {
				if s.X < b.EdgeMM-1e-6 || s.Y < b.EdgeMM-1e-6 || s.X+s.W > x.Sheet.WMM-b.EdgeMM+1e-6 || s.Y+s.H > x.Sheet.HMM-b.EdgeMM+1e-6 {
					t.Fatalf("%+v leaves its sheet %+v", s, x.Sheet)
				}
			}
			used := float64(len(x.Spots)) * b.WidthMM * b.HeightMM
			if used+x.RestW*x.RestH > x.Sheet.WMM*x.Sheet.HMM+1e-6 || min(x.RestW, x.RestH) > 0 && min(x.RestW, x.RestH) < leastKept {
				t.Fatalf("%+v leaves %v x %v", x.Sheet, x.RestW, x.RestH)
			}
		}
		if pieces != got.Pieces || got.Pieces+got.Missing != b.Pieces || got.Missing < 0 {
			t.Fatalf("%d pieces, %+v", pieces, got)
		}
		left := map[int64]int{}
		for _, s := range got.Left {
			left[s.ID] += s.Count
		}
		for _, s := range there {
			if taken[s.ID]+left[s.ID] != s.Count {
				t.Fatalf("of %d sheets %d are taken and %d left", s.Count, taken[s.ID], left[s.ID])
			}
		}
		one := b
		one.SheetWMM, one.SheetHMM = 700, 500
		if plan, err := Cut(one); err == nil {
			from, err := CutFrom(b, []Sheet{{ID: 1, WMM: 700, HMM: 500, Count: 100}})
			sheets := 0
			for _, x := range from.Takings {
				sheets += x.Count
			}
			if err != nil || from.Missing != 0 || sheets != len(plan.Sheets) {
				t.Fatalf("%d sheets from the shelf, %d by Cut, %v", sheets, len(plan.Sheets), err)
			}
		}
	})
}
