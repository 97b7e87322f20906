package propose

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"aerugo/internal/science/guess"
	"aerugo/internal/studio"
)

// A Stock says what is lacking to make swatches, all of them together, each given by
// its treatments; empty when there is enough. It never changes what is predicted: only
// what is proposed.
type Stock func(swatches [][]studio.Treatment) (lacks string)

// atHand asks a Stock, and remembers what it ruled out. A nil Stock gives everything.
type atHand struct {
	m      *Model
	stock  Stock
	taken  [][]studio.Treatment
	answer map[string]string // by setting, beside what is taken
	looked map[string]bool
	out    map[string]bool
	why    map[string]int
}

func (m *Model) asks(s Stock) *atHand {
	return &atHand{m: m, stock: s, answer: map[string]string{}, looked: map[string]bool{}, out: map[string]bool{}, why: map[string]int{}}
}

// gives reports whether a setting can be made beside those taken already.
func (s *atHand) gives(at []float64) bool {
	if s.stock == nil {
		return true
	}
	key := fmt.Sprint(at)
	lacks, ok := s.answer[key]
	if !ok {
		lacks = s.stock(append(slices.Clip(slices.Clone(s.taken)), s.m.make.look(at).all))
		s.answer[key] = lacks
		s.looked[key] = true
		if lacks != "" && !s.out[key] {
			s.out[key] = true
			s.why[lacks]++
		}
	}
	return lacks == ""
}

// take takes what one swatch with a setting needs; false, and nothing is taken, when
// there is not enough.
func (s *atHand) take(at []float64) bool {
	if !s.gives(at) {
		return false
	}
	if s.stock != nil {
		s.taken = append(s.taken, s.m.make.look(at).all)
		s.answer = map[string]string{} // there is less now
	}
	return true
}

// offered is gives for a question, nil where nothing is asked.
func (s *atHand) offered() func(at []float64) bool {
	if s.stock == nil {
		return nil
	}
	return s.gives
}

// most is what rules out most, up to three of them.
func (s *atHand) most() string {
	var all []string
	for w := range s.why {
		all = append(all, w)
	}
	slices.SortFunc(all, func(a, b string) int {
		if s.why[a] != s.why[b] {
			return s.why[b] - s.why[a]
		}
		return strings.Compare(a, b)
	})
	return strings.Join(all[:min(3, len(all))], " ")
}

// words say how much was ruled out.
func (s *atHand) words() string {
	if s.stock == nil {
		return ""
	}
	if len(s.out) == 0 {
		return fmt.Sprintf("Nothing was left out for want of stock: all %d settings looked at can be made from the shelf.", len(s.looked))
	}
	return fmt.Sprintf("Left out for want of stock: %d of %d settings looked at. %s What is predicted rests on the same swatches as before.", len(s.out), len(s.looked), s.most())
}

// nothing says why nothing is proposed.
func (s *atHand) nothing(m *Model, err error, refused map[string]int) error {
	if s.stock != nil && errors.Is(err, guess.ErrNothingAllowed) && len(s.out) > 0 {
		return studio.Problemf(studio.Conflict, "", "Nothing may be tried with what is on the shelf. %s Buy some, or ask again without the shelf.", s.most())
	}
	return m.nothing(err, refused)
}
