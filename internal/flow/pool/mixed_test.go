package pool_test

import (
	"strings"
	"testing"

	"aerugo/internal/flow/pool"
	"aerugo/internal/studio"
)

// Salt as one part of a mixed liquid weighs on the face as much as salt alone in
// water (the film is the whole of what was put on), and one of unknown strength
// can't be reckoned.
func TestAMixedLiquidLiesLikeItsSalt(t *testing.T) {
	amount := studio.Amount{Value: 100, Unit: studio.MLPerM2}
	mixed := studio.Step{Kind: studio.Wet, Material: "water", Also: []studio.Part{{Material: "sodium-chloride", Strength: 5}}, Amount: amount}
	l := pool.Lays(job(studio.OnFront, degrease, mixed))[0]
	if l.Unknown != "" || l.FilmGPerM2 < 99 || l.FilmGPerM2 > 101 {
		t.Errorf("%.1f g/m² lie, %q", l.FilmGPerM2, l.Unknown)
	}
	mixed.Also[0].Strength = 0
	if l := pool.Lays(job(studio.OnFront, degrease, mixed))[0]; !strings.Contains(l.Unknown, "is not said") {
		t.Errorf("a salt of unknown strength is reckoned: %+v", l)
	}
}
