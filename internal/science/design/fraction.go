package design

import (
	"fmt"
	"math/bits"
	"slices"
	"strings"
)

// Word is a product of two-level factors that is the same in every run, one bit
// a factor from the lowest; Minus says that it is -1 and not 1.
type Word struct {
	Factors uint32
	Minus   bool
}

// Fraction is a two-level plan with a fraction of all combinations.
type Fraction struct {
	Plan
	Generators []string // such as "5=1234"
	Defining   []Word   // all of them, the empty one left out
}

// generators are those of least aberration where that is known (Box, Hunter &
// Hunter 1978, as in the NIST/SEMATECH e-Handbook table 3.17, some from memory;
// the tests verify every resolution and word count by computation). A stands
// for factor 10, B for 11 and so on.
var generators = map[[2]int]string{
	{3, 1}: "3=12", {4, 1}: "4=123", {5, 1}: "5=1234", {5, 2}: "4=12 5=13", {6, 1}: "6=12345", {6, 2}: "5=123 6=234", {6, 3}: "4=12 5=13 6=23",
	{7, 1}: "7=123456", {7, 2}: "6=1234 7=1245", {7, 3}: "5=123 6=234 7=134", {7, 4}: "4=12 5=13 6=23 7=123",
	{8, 2}: "7=1234 8=1256", {8, 3}: "6=123 7=124 8=2345", {8, 4}: "5=234 6=134 7=123 8=124",
	{9, 2}: "8=13467 9=23567", {9, 3}: "7=1234 8=1356 9=3456", {9, 4}: "6=2345 7=1345 8=1245 9=1235", {9, 5}: "5=123 6=234 7=134 8=124 9=1234",
	{10, 3}: "8=1237 9=2345 A=1346", {10, 4}: "7=2346 8=1346 9=1245 A=1235", {10, 5}: "6=1234 7=1235 8=1245 9=1345 A=2345", {10, 6}: "5=123 6=234 7=134 8=124 9=1234 A=12",
	{11, 5}: "7=345 8=1234 9=126 A=2456 B=1456", {11, 6}: "6=123 7=234 8=345 9=134 A=145 B=245", {11, 7}: "5=123 6=234 7=134 8=124 9=1234 A=12 B=13",
	{15, 11}: "5=12 6=13 7=14 8=23 9=24 A=34 B=123 C=124 D=134 E=234 F=1234",
}

const digits = "123456789ABCDEFGHIJKLMNOP"

// Fractional returns 2^(k-p) runs for k factors with two settings each. p is 0
// for every combination.
func Fractional(fs []Factor, p int) (Fraction, error) {
	gen, ok := generators[[2]int{len(fs), p}]
	if p != 0 && !ok {
		return Fraction{}, askf("no good fraction 2^(%d-%d) is known here; these are: %s", len(fs), p, fractionsOf(len(fs)))
	}
	return FractionOf(fs, strings.Fields(gen))
}

// fractionsOf lists the fractions for k factors.
func fractionsOf(k int) string {
	var out []string
	for p := range k {
		if _, ok := generators[[2]int{k, p}]; ok {
			out = append(out, fmt.Sprintf("2^(%d-%d) in %d runs", k, p, 1<<(k-p)))
		}
	}
	if out == nil {
		return "none for so many factors"
	}
	return strings.Join(out, ", ")
}

// FractionOf returns the fraction that the generators make, such as "5=1234" or
// "5=-1234": each names a factor after the basic ones and the product it follows.
func FractionOf(fs []Factor, gens []string) (Fraction, error) {
	if err := checkFactors(fs); err != nil {
		return Fraction{}, err
	}
	for _, f := range fs {
		if len(f.codes()) != 2 {
			return Fraction{}, askf("%s has %d levels; a two-level plan takes two", f.Name, len(f.codes()))
		}
	}
	basic := len(fs) - len(gens)
	if basic < 1 || basic > 7 {
		return Fraction{}, askf("%d factors with %d generators make 2^%d runs; this makes 2 to 128", len(fs), len(gens), basic)
	}
	f := Fraction{Plan: Plan{Factors: fs, Model: Main(fs)}, Generators: gens}
	var words []Word
	for i, g := range gens {
		name, product, ok := strings.Cut(g, "=")
		product, minus := strings.CutPrefix(product, "-")
		if !ok || product == "" || name != string(digits[basic+i]) {
			return Fraction{}, askf("the generator %q can't be read; number %d reads like %c=123", g, i+1, digits[basic+i])
		}
		w := Word{Factors: 1 << (basic + i), Minus: minus}
		for _, d := range product {
			at := strings.IndexRune(digits[:basic], d)
			if at < 0 || w.Factors&(1<<at) != 0 {
				return Fraction{}, askf("the generator %q names %c twice or beyond the %d basic factors", g, d, basic)
			}
			w.Factors |= 1 << at
		}
		words = append(words, w)
	}
	f.Defining = products(words)
	for r := range 1 << basic {
		run := make([]float64, len(fs))
		for i := range basic {
			run[i] = float64(2*(r>>i&1) - 1)
		}
		for i, w := range words {
			v := 1.0
			if w.Minus {
				v = -1
			}
			for j := range basic {
				if w.Factors>>j&1 == 1 {
					v *= run[j]
				}
			}
			run[basic+i] = v
		}
		f.Runs = append(f.Runs, levelCodes(fs, run))
	}
	return f, nil
}

// levelCodes turns -1 and 1 into the codes of factors with two levels.
func levelCodes(fs []Factor, run []float64) []float64 {
	out := make([]float64, len(run))
	for i, v := range run {
		codes := fs[i].codes()
		out[i] = codes[0]
		if v > 0 {
			out[i] = codes[1]
		}
	}
	return out
}

// products returns all products of the words, without the empty one.
func products(words []Word) []Word {
	out := []Word{{}}
	for _, w := range words {
		for _, o := range out[:len(out):len(out)] {
			out = append(out, Word{o.Factors ^ w.Factors, o.Minus != w.Minus})
		}
	}
	return out[1:]
}

// Resolution is the length of the shortest word: 3 when main effects are mixed up
// with interactions of two, 4 when those are only mixed up with each other, 5
// when even they stand clear. It is 0 for a plan with every combination.
func (f Fraction) Resolution() int {
	least := 0
	for _, w := range f.Defining {
		if n := bits.OnesCount32(w.Factors); least == 0 || n < least {
			least = n
		}
	}
	return least
}

// WordLengths returns how many words there are of 3, 4 and more letters.
func (f Fraction) WordLengths() []int {
	out := make([]int, max(0, len(f.Factors)-2))
	for _, w := range f.Defining {
		if n := bits.OnesCount32(w.Factors); n >= 3 {
			out[n-3]++
		}
	}
	return out
}

// Alias is an effect that can't be told from another: one bit a factor, and
// Minus when it counts against it.
type Alias = Word

// Aliases returns the effects of up to order factors that the effect of the
// named factors (one bit each) can't be told from, shortest first.
func (f Fraction) Aliases(effect uint32, order int) []Alias {
	var out []Alias
	for _, w := range f.Defining {
		if a := w.Factors ^ effect; a != 0 && bits.OnesCount32(a) <= order {
			out = append(out, Alias{a, w.Minus})
		}
	}
	slices.SortFunc(out, func(a, b Alias) int {
		if d := bits.OnesCount32(a.Factors) - bits.OnesCount32(b.Factors); d != 0 {
			return d
		}
		// 24 before 35: the one whose first differing factor is the lower.
		return int(bits.Reverse32(b.Factors)>>1) - int(bits.Reverse32(a.Factors)>>1)
	})
	return out
}

// Clear is the number of two-factor interactions that are mixed up with no main
// effect and no other two-factor interaction.
func (f Fraction) Clear() int {
	n := 0
	for i := range f.Factors {
		for j := range i {
			if len(f.Aliases(1<<i|1<<j, 2)) == 0 {
				n++
			}
		}
	}
	return n
}

// Foldover returns the plan with a second half in which the named factors (one
// bit each) are turned round; 0 turns all of them. What then stays mixed up is in
// its Defining. The halves are the groups named "half".
func (f Fraction) Foldover(turned uint32) Fraction {
	if turned == 0 {
		turned = 1<<len(f.Factors) - 1
	}
	out := Fraction{Plan: Plan{Factors: f.Factors, Model: f.Model, Runs: slices.Clone(f.Runs)}}
	for _, run := range f.Runs {
		next := slices.Clone(run)
		for i, fac := range f.Factors {
			if turned>>i&1 == 1 {
				codes := fac.codes()
				next[i] = codes[0] + codes[1] - run[i]
			}
		}
		out.Runs = append(out.Runs, next)
	}
	for _, w := range f.Defining {
		if bits.OnesCount32(w.Factors&turned)%2 == 0 {
			out.Defining = append(out.Defining, w)
		}
	}
	out.Groups = []Group{Evenly("half", len(out.Runs), 2)}
	return out
}

// Mirror returns only the second half of [Fraction.Foldover] of all factors.
func (f Fraction) Mirror() Fraction {
	both := f.Foldover(0)
	out := Fraction{Plan: Plan{Factors: f.Factors, Model: f.Model, Runs: both.Runs[len(f.Runs):]}}
	for _, w := range f.Defining {
		out.Defining = append(out.Defining, Word{w.Factors, w.Minus != (bits.OnesCount32(w.Factors)%2 == 1)})
	}
	return out
}

// Says names an effect by its factors: "A × B".
func (f Fraction) Says(effect uint32) string {
	var out []string
	for i, fac := range f.Factors {
		if effect>>i&1 == 1 {
			out = append(out, fac.Name)
		}
	}
	return strings.Join(out, " × ")
}

// Untold says in words which main effects and interactions of two can't be told
// from which, one sentence a string of them.
func (f Fraction) Untold() []string {
	var out []string
	seen := map[uint32]bool{}
	say := func(effect uint32) {
		if seen[effect] {
			return
		}
		seen[effect] = true
		others := f.Aliases(effect, 2)
		if len(others) == 0 {
			return
		}
		var words []string
		for _, o := range others {
			seen[o.Factors] = true
			words = append(words, f.Says(o.Factors))
		}
		out = append(out, fmt.Sprintf("can't tell %s from %s", f.Says(effect), strings.Join(words, ", nor from ")))
	}
	for i := range f.Factors {
		say(1 << i)
	}
	for i := range f.Factors {
		for j := i + 1; j < len(f.Factors); j++ {
			say(1<<i | 1<<j)
		}
	}
	return out
}
