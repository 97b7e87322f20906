package studio

import (
	"strings"
	"time"
)

// VerdictOn is what a person decided on a piece.
type VerdictOn string

// What can be decided. Reworked pieces wait for another verdict.
const (
	Accepted VerdictOn = "accept"
	Reworked VerdictOn = "rework"
	Rejected VerdictOn = "reject"
)

// VerdictsOn lists the outcomes in the order shown.
var VerdictsOn = []VerdictOn{Accepted, Reworked, Rejected}

// A Verdict is what one person decided on one piece of a batch, and why. It is never
// changed; of several on a piece the newest counts. Client is the random key of the
// tap, At when it was made and Recorded when it reached the store.
type Verdict struct {
	ID       int64
	Client   string
	Swatch   int64
	Outcome  VerdictOn
	Why      string
	By       string
	At       time.Time
	Recorded time.Time
}

// Check reports a Problem when v cannot be kept at the time now.
func (v Verdict) Check(now time.Time) error {
	switch {
	case v.Client == "" || len(v.Client) > 80:
		return Problemf(Invalid, "client", "The tap came without its key; reload the page and tap again.")
	case v.Outcome != Accepted && v.Outcome != Reworked && v.Outcome != Rejected:
		return Problemf(Invalid, "verdict", "%q is no verdict; choose accept, rework or reject.", string(v.Outcome))
	case strings.TrimSpace(v.By) == "":
		return Problemf(Invalid, "who", "Write who decides.")
	case len([]rune(v.By)) > 60:
		return Problemf(Invalid, "who", "That name has %d letters; 60 are the most.", len([]rune(v.By)))
	case v.Outcome != Accepted && strings.TrimSpace(v.Why) == "":
		return Problemf(Invalid, "why", "Write why, such as: greener than the others.")
	case len([]rune(v.Why)) > 400:
		return Problemf(Invalid, "why", "The reason has %d letters; 400 are the most.", len([]rune(v.Why)))
	case v.At.IsZero() || v.At.After(now.Add(2*time.Minute)):
		return Problemf(Invalid, "at", "Its time, %s, can't be right; it is %s now.", v.At.UTC().Format("2006-01-02 15:04 MST"), now.UTC().Format("2006-01-02 15:04 MST"))
	}
	return nil
}

// StandingVerdicts returns the verdict that counts on each piece, by its number, from
// verdicts in the order they were kept.
func StandingVerdicts(all []Verdict) map[int64]Verdict {
	out := map[int64]Verdict{}
	for _, v := range all {
		out[v.Swatch] = v
	}
	return out
}
