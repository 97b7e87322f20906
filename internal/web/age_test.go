package web

import (
	"testing"
	"time"
)

func TestAgesAreSaidInPlainWords(t *testing.T) {
	const day = 24 * time.Hour
	for d, want := range map[time.Duration]string{
		0: "less than an hour old", 59 * time.Minute: "less than an hour old", time.Hour: "1 hour old", 47 * time.Hour: "47 hours old",
		2 * day: "2 days old", 99 * day: "99 days old", 100 * day: "3 months old", -3 * day: "3 days younger than the photograph",
	} {
		if got := ageWords(d); got != want {
			t.Errorf("%v is %q, want %q", d, got, want)
		}
	}
}
