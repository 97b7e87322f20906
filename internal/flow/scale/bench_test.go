package scale_test

import (
	"testing"

	"aerugo/internal/flow/scale"
)

func BenchmarkBowlInALargerChamber(b *testing.B) {
	a := large()
	for b.Loop() {
		if _, err := scale.Reckon(a); err != nil {
			b.Fatal(err)
		}
	}
}
