package chamber

import (
	"errors"
	"math"

	"aerugo/internal/science"
)

type temperature = science.Celsius

func celsius(t float64) science.Celsius { return science.Celsius(t) }

// fataler is what a test and a property share.
type fataler interface {
	Helper()
	Errorf(format string, args ...any)
	Fatalf(format string, args ...any)
}

// checkBooks holds both ledgers to 1e-9.
func checkBooks(t fataler, r Result) {
	t.Helper()
	for name, l := range map[string]Ledger{"ammonia": r.Ammonia, "water": r.Water} {
		if miss := l.Miss(); !(math.Abs(miss) <= 1e-9) {
			t.Errorf("%s: %.3g of it is unaccounted for: %+v", name, miss, l)
		}
	}
}

// declined reports whether a chamber that was drawn cannot be.
func declined(err error) bool { return errors.Is(err, ErrPadTooSmall) || errors.Is(err, ErrBoils) }
