package mat

import (
	"math"
	"testing"

	"aerugo/internal/studio"
)

func TestCutCornersComeBack(t *testing.T) {
	// a square of 10 with each corner cut by 1, clockwise where y runs down
	hull := []studio.Point{{X: 1, Y: 0}, {X: 9, Y: 0}, {X: 10, Y: 1}, {X: 10, Y: 9}, {X: 9, Y: 10}, {X: 1, Y: 10}, {X: 0, Y: 9}, {X: 0, Y: 1}}
	for turn := range hull {
		q, ok := fourCorners(append(append([]studio.Point(nil), hull[turn:]...), hull[:turn]...))
		if !ok {
			t.Fatal("no corners")
		}
		if a := area(q[:]); math.Abs(a-100) > 1e-9 {
			t.Errorf("turn %d: corners %v hold %.2f, not 100", turn, q, a)
		}
		for i := range q {
			if cross(q[i], q[(i+1)%4], q[(i+2)%4]) <= 0 {
				t.Errorf("turn %d: corners %v do not run clockwise", turn, q)
			}
		}
	}
}
