package demo

import (
	"time"

	"aerugo/internal/studio"
)

// Sample draws one photograph of an invented finished face as if it were of
// another swatch, with the marks a careful person would set on it and what is
// true of it: for tests that need a picture of any swatch. n picks the look.
func Sample(number int64, face studio.Face, n int, taken time.Time) ([]byte, studio.Marks, Truth) {
	from := int64(2 + 5*n)
	truth, ok := TruthOf(from, face, studio.Finished)
	for !ok {
		from = from%40 + 1
		truth, ok = TruthOf(from, face, studio.Finished)
	}
	s := Shot{
		Number: number, Face: face, Look: truth.Look, WidthMM: 50, HeightMM: 50, Taken: taken,
		Light: lightOf(uint64(n)), Piece: uint64(from), Chance: uint64(31*n + 7),
	}
	return Render(s), s.Marks(), truth
}
