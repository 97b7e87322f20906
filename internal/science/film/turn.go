package film

import (
	"math"

	"aerugo/internal/science"
)

// An Offset is where the middle of the liquid lies from the middle of the face,
// in mm, in the piece's own frame: right and up as when its label is upright.
// SDMM is how far a repeat would differ, as a standard deviation on each axis.
type Offset struct{ RightMM, UpMM, SDMM float64 }

// What the turned piece says.
const (
	GravityRuledOut = "gravity ruled out"
	GravityIs       = "gravity"
	CantTell        = "can't tell"
)

// turnLevel is the share of cases in which a true cause is rejected by chance.
const turnLevel = 0.05

// A Turned is what two readings say, before and after the piece was turned where
// it lay: StayP is the chance of a difference this large if the pool stays with
// the piece, FollowP if it stays on the low side of the bench.
type Turned struct {
	Says     string
	Why      string
	StayP    float64
	FollowP  float64
	StayMM   float64 // how far the second reading lies from a pool that stayed
	FollowMM float64 // and from one that ran to the low side again
}

// TurnedPiece reads the test of turning the piece. The piece was turned by so
// many degrees anticlockwise seen from above (-360 to 360); both offsets are in
// the piece's frame. A pool that stays with the piece keeps its offset; one that
// gravity moves is at R(-turn) of it.
//
// The statistic is the squared distance from either over sd1² + sd2², which
// is chi-square with 2 degrees of freedom if that cause is true, so that
// P = exp(-x/2). A cause is ruled out below 5 %; unless exactly one is, the answer
// is [CantTell]. That turning the piece without the pool moving rules gravity
// out is common practice, no source. A pool that has dried or is pinned cannot
// move: turn it while it is wet, and wait a minute.
func TurnedPiece(before, after Offset, turnDeg float64) (Turned, error) {
	for _, v := range []float64{before.RightMM, before.UpMM, after.RightMM, after.UpMM} {
		if !(math.Abs(v) <= 5000) {
			return Turned{}, &science.RangeError{What: "offset of the pool", Got: v, Min: -5000, Max: 5000, Unit: "mm"}
		}
	}
	for _, v := range []float64{before.SDMM, after.SDMM} {
		if !(v >= 0.01 && v <= 1000) {
			return Turned{}, &science.RangeError{What: "spread of the offset", Got: v, Min: 0.01, Max: 1000, Unit: "mm"}
		}
	}
	if !(math.Abs(turnDeg) <= 360) {
		return Turned{}, &science.RangeError{What: "turn of the piece", Got: turnDeg, Min: -360, Max: 360, Unit: "°"}
	}
	// Seen from the piece, the bench turned the other way.
	s, c := math.Sincos(-radians(turnDeg))
	right, up := c*before.RightMM-s*before.UpMM, s*before.RightMM+c*before.UpMM
	t := Turned{
		StayMM:   math.Hypot(after.RightMM-before.RightMM, after.UpMM-before.UpMM),
		FollowMM: math.Hypot(after.RightMM-right, after.UpMM-up),
	}
	variance := before.SDMM*before.SDMM + after.SDMM*after.SDMM
	t.StayP, t.FollowP = math.Exp(-t.StayMM*t.StayMM/(2*variance)), math.Exp(-t.FollowMM*t.FollowMM/(2*variance))
	switch stay, follow := t.StayP >= turnLevel, t.FollowP >= turnLevel; {
	case stay && !follow:
		t.Says, t.Why = GravityRuledOut, "the pool turned with the piece, so the metal holds it: beading, an edge or a greasy patch"
	case follow && !stay:
		t.Says, t.Why = GravityIs, "the pool went back to the low side of the bench, so the piece lay tilted"
	case stay:
		t.Says, t.Why = CantTell, "the two readings lie too near to each other for their spread: turn the piece by half a turn, or wait for a pool further from the middle"
	default:
		t.Says, t.Why = CantTell, "the pool moved, but neither with the piece nor to the same side of the bench: something else moved it, or only part of it ran"
	}
	return t, nil
}
