package plan

import (
	"math/bits"
	"math/rand/v2"

	"aerugo/internal/studio"
)

// orderStream is the second half of the generator's seed. It never changes: a
// recorded seed must give the order it gave when the set was made.
const orderStream = 0x61657275676f2d31

// randomOrder returns the numbers 0 to n-1 shuffled by seed: Fisher-Yates on a
// PCG. Shuffle of math/rand/v2 is not used because only the generator's output,
// not the shuffle's use of it, is promised to stay the same for ever.
func randomOrder(n int, seed uint64) []int { return shuffled(n, rand.NewPCG(seed, orderStream)) }

// orderWithin is the order within a block, apart from that of others.
func orderWithin(n int, seed uint64, block int) []int {
	return shuffled(n, rand.NewPCG(seed, orderStream+1+uint64(block)))
}

func shuffled(n int, src rand.Source) []int {
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	for i := n - 1; i > 0; i-- {
		j := below(src, uint64(i+1))
		order[i], order[j] = order[j], order[i]
	}
	return order
}

// below returns a whole number from 0 to n-1, each equally often: the high word
// of a product, drawn again in the rare case that would favour some numbers.
func below(src rand.Source, n uint64) uint64 {
	floor := -n % n
	for {
		hi, lo := bits.Mul64(src.Uint64(), n)
		if lo >= floor {
			return hi
		}
	}
}

// combinations returns every combination of the factors' levels, as level
// indices, the last factor running fastest. No factors give one empty combination.
func combinations(factors []studio.Factor) [][]int {
	all := [][]int{{}}
	for _, f := range factors {
		var next [][]int
		for _, c := range all {
			for l := range f.Levels {
				next = append(next, append(append([]int{}, c...), l))
			}
		}
		all = next
	}
	return all
}
