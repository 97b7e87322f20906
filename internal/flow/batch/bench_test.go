package batch

import (
	"math/rand/v2"
	"testing"
)

func BenchmarkWatch(b *testing.B) {
	all := seen(rand.New(rand.NewPCG(1, 2)), 30, 15, 2, false)
	for b.Loop() {
		Watch(all)
	}
}
