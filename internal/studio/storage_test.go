package studio

import (
	"testing"

	"pgregory.net/rapid"
)

// ISO/IEC 7064:2003, MOD 37,36, catches every single wrong character.
func TestPlaceCodesReadBackAndOneWrongCharacterIsCaught(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		id := rapid.Int64Range(1, 1e9).Draw(rt, "id")
		code := PlaceCode(id)
		if got, err := ReadPlaceCode(code); err != nil || got != id {
			rt.Fatalf("%s reads as %d, %v", code, got, err)
		}
		at := rapid.IntRange(1, len(code)-1).Draw(rt, "at")
		other := checkAlphabet[rapid.IntRange(0, 35).Draw(rt, "other")]
		if other == code[at] {
			return
		}
		if got, err := ReadPlaceCode(code[:at] + string(other) + code[at+1:]); err == nil {
			rt.Fatalf("%s with %c at %d reads as %d", code, other, at, got)
		}
	})
}

func TestPlaceAndSwatchLabelsAreNotTakenForEachOther(t *testing.T) {
	if _, err := ReadPlaceCode(Code(42, Front)); err == nil {
		t.Error("a swatch's label was read as a place")
	}
	if _, _, err := ReadCode(PlaceCode(42)); err == nil {
		t.Error("a place's label was read as a swatch")
	}
}

func TestCellsReadBack(t *testing.T) {
	for row := 1; row <= maxGrid; row++ {
		for column := 1; column <= maxGrid; column++ {
			r, c, err := ReadCell(Cell(row, column))
			if err != nil || r != row || c != column {
				t.Fatalf("%s reads as %d, %d, %v", Cell(row, column), r, c, err)
			}
		}
	}
	if r, c, err := ReadCell(" c 4 "); err != nil || r != 3 || c != 4 {
		t.Errorf("c 4 reads as %d, %d, %v", r, c, err)
	}
	for _, bad := range []string{"4", "C", "C0", "C-1", "C+1", "4C", "CC", "ß1", "C99"} {
		if r, c, err := ReadCell(bad); err == nil {
			t.Errorf("%q reads as %d, %d", bad, r, c)
		}
	}
}

func FuzzReadPlaceCode(f *testing.F) {
	f.Add(PlaceCode(2))
	f.Add("p-00 02")
	f.Fuzz(func(t *testing.T, text string) {
		if id, err := ReadPlaceCode(text); err == nil {
			if again, err := ReadPlaceCode(PlaceCode(id)); err != nil || again != id {
				t.Errorf("%q reads as %d, which reads back as %d, %v", text, id, again, err)
			}
		}
		if row, column, err := ReadCell(text); err == nil && Cell(row, column) == "" && row != 0 {
			t.Errorf("%q reads as row %d, column %d, which has no name", text, row, column)
		}
	})
}
