package cli

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"aerugo/internal/science/stat"
)

// Krippendorff's alpha is 0 where judges choose by chance (Krippendorff 2004), and 1
// where they choose alike, whatever the things are called.
func TestJudgesWhoThrowCoinsAgreeByChance(t *testing.T) {
	alpha := func(chance bool) float64 {
		r := rand.New(rand.NewPCG(1, 1))
		s := &sheet{name: "coins", heads: []string{"a", "b", "choice", "judge"}}
		for a := range 8 {
			for b := range a {
				liked := r.IntN(2) == 0
				for judge := range 40 {
					if chance {
						liked = r.IntN(2) == 0
					}
					row := []string{fmt.Sprint("s", a), fmt.Sprint("s", b), fmt.Sprint("s", a), fmt.Sprint("j", judge)}
					if !liked {
						row[2] = row[1]
					}
					s.rows = append(s.rows, row)
				}
			}
		}
		_, verdicts, err := s.choices()
		if err != nil {
			t.Fatal(err)
		}
		got, err := stat.Krippendorff(verdicts)
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	if got := alpha(true); math.Abs(got) > 0.03 {
		t.Errorf("throwers of coins agree with alpha %.3f", got)
	}
	if got := alpha(false); math.Abs(got-1) > 1e-9 {
		t.Errorf("judges who choose alike agree with alpha %.3f", got)
	}
}
