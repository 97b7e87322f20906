package cost

import (
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"aerugo/internal/studio"
)

func money(text string) *decimal.Decimal {
	x := d(text)
	return &x
}

// Three sheets of 600 x 1000 mm at 57 EUR. Set 1 takes one and gives back 300 x 1000:
// half, 28.50 EUR; set 2 takes that offcut and gives back 100 x 300: a tenth of it, 2.85.
// So set 1 cost 57 - 28.50 = 28.50, set 2 28.50 - 2.85 = 25.65. Two sheets and the small
// offcut are left.
func TestSheetsByHand(t *testing.T) {
	moves := []studio.SheetMove{
		{ID: 1, Kind: studio.SheetBought, Count: 3, WidthMM: 600, HeightMM: 1000, Price: money("57"), At: at(0)},
		{ID: 2, Kind: studio.SheetCut, Stack: 1, Count: 1, SetID: 1, Pieces: 12, At: at(1)},
		{ID: 3, Kind: studio.SheetOffcut, Of: 2, Count: 1, WidthMM: 300, HeightMM: 1000, At: at(1)},
		{ID: 4, Kind: studio.SheetCut, Stack: 3, Count: 1, SetID: 2, Pieces: 5, At: at(2)},
		{ID: 5, Kind: studio.SheetOffcut, Of: 4, Count: 1, WidthMM: 100, HeightMM: 300, At: at(2)},
		{ID: 6, Kind: studio.SheetFound, Count: 2, WidthMM: 200, HeightMM: 200, At: at(3)},
		{ID: 7, Kind: studio.SheetThrown, Stack: 6, Count: 1, At: at(4)},
	}
	s := StacksOf(moves)
	for i, want := range []struct {
		count int
		price string
	}{{2, "57"}, {0, "28.5"}, {1, "2.85"}, {1, ""}} {
		if s[i].Count != want.count || (s[i].Price == nil) != (want.price == "") || s[i].Price != nil && !s[i].Price.Equal(d(want.price)) {
			t.Errorf("stack %d: %+v, want %+v", i, s[i], want)
		}
	}
	for set, want := range map[int64]struct {
		amount string
		pieces int
		area   float64
	}{1: {"28.5", 12, 0.3}, 2: {"25.65", 5, 0.27}, 3: {"0", 0, 0}, 0: {"0", 0, 0}} {
		u := SheetCost(moves, set)
		if !u.Amount.Equal(d(want.amount)) || u.Pieces != want.pieces || u.Unpriced != 0 {
			t.Errorf("set %d: %+v, want %+v", set, u, want)
		}
		near(t, "area cut up", u.AreaM2, want.area)
	}
	// the first cut taken back takes its offcut, what was cut of that, and its offcut along
	undone := append(moves, studio.SheetMove{ID: 8, Kind: studio.SheetUndone, Of: 2, At: at(5)})
	if s := StacksOf(undone); len(s) != 2 || s[0].Count != 3 || s[1].Count != 1 {
		t.Errorf("%+v", s)
	}
	if u := SheetCost(undone, 2); u.Sheets != 0 {
		t.Errorf("%+v", u)
	}
	// the stack itself taken back: nobody has said that any are there
	if _, known := Counted([]studio.SheetMove{moves[0], {ID: 9, Kind: studio.SheetUndone, Of: 1, At: at(5)}}); known {
		t.Error("sheets that were taken back are counted")
	}
	if since, known := Counted(moves); !known || !since.Equal(at(0)) {
		t.Errorf("%v, %v", since, known)
	}
	if s := StacksOf(append(moves, studio.SheetMove{ID: 10, Kind: studio.SheetCut, Stack: 1, Count: 9, SetID: 4, At: at(6)})); s[0].Count != 0 || s[0].Doubt == "" {
		t.Errorf("more were cut than there were: %+v", s[0])
	}
	if u := SheetCost(append(moves, studio.SheetMove{ID: 10, Kind: studio.SheetCut, Stack: 6, Count: 1, SetID: 4, At: at(6)}), 4); u.Unpriced != 1 || !u.Amount.IsZero() {
		t.Errorf("%+v", u)
	}
	if s := StacksOf(append(moves, studio.SheetMove{ID: 10, Kind: studio.SheetCounted, Stack: 1, Count: 7, At: at(6)})); s[0].Count != 7 {
		t.Errorf("%+v", s[0])
	}
}

// What was paid is found again, to the digit: in what sets took and in what is left,
// however often offcuts are cut from offcuts.
func TestPaidIsCutAndLeft(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		price := decimal.New(rapid.Int64Range(1, 999999).Draw(t, "price"), -2)
		moves := []studio.SheetMove{{ID: 1, Kind: studio.SheetBought, Count: 1, WidthMM: 600, HeightMM: 1000, Price: &price, At: at(0)}}
		w, h, stack, id := 600.0, 1000.0, int64(1), int64(2)
		cuts := rapid.IntRange(1, 5).Draw(t, "cuts")
		for i := range cuts {
			w, h = h*rapid.Float64Range(0.1, 1).Draw(t, "part"), w
			moves = append(moves, studio.SheetMove{ID: id, Kind: studio.SheetCut, Stack: stack, Count: 1, SetID: int64(i + 1), At: at(i)},
				studio.SheetMove{ID: id + 1, Kind: studio.SheetOffcut, Of: id, Count: 1, WidthMM: w, HeightMM: h, At: at(i)})
			stack, id = id+1, id+2
		}
		sum := decimal.Zero
		for i := range cuts {
			sum = sum.Add(SheetCost(moves, int64(i+1)).Amount)
		}
		shuffled := rapid.Permutation(moves).Draw(t, "shuffled")
		for _, s := range StacksOf(shuffled) {
			sum = sum.Add(s.Price.Mul(decimal.NewFromInt(int64(s.Count))))
		}
		if !sum.Equal(price) {
			t.Fatalf("%s was paid, %s is found", price, sum)
		}
	})
}
