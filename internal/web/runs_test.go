package web

import (
	"testing"
	"time"

	"aerugo/internal/flow/fume"
)

// TestAFillingIsWhatWasInTogether: faces that were in one chamber at one time, directly
// or through others, are one filling; those of another chamber or hour are not.
func TestAFillingIsWhatWasInTogether(t *testing.T) {
	at := func(h float64) time.Time {
		return time.Date(2026, 5, 1, 8, 0, 0, 0, time.UTC).Add(time.Duration(h * float64(time.Hour)))
	}
	stay := func(swatch, chamber int64, in, out float64) fume.Stay {
		return fume.Stay{Swatch: swatch, Chamber: chamber, Face: "front", In: at(in), Out: at(out)}
	}
	stays := []fume.Stay{stay(1, 1, 0, 8), stay(2, 1, 1, 2), stay(3, 1, 7, 9), stay(4, 1, 10, 12), stay(5, 2, 0, 8)}
	runs := runsOf(stays)
	run := func(i int) string { return runs[stayKey(stays[i])] }
	if run(0) == "" || run(0) != run(1) || run(0) != run(2) || run(3) == run(0) || run(4) == run(0) || run(4) == run(3) {
		t.Errorf("fillings %q %q %q, %q, %q", run(0), run(1), run(2), run(3), run(4))
	}
}
