package studio

import (
	"strings"
	"time"
)

// A FaceOf names one face of one swatch.
type FaceOf struct {
	Swatch int64
	Face   Face
}

// SittingFrom is where the faces of a sitting came from.
type SittingFrom string

// A sitting is about the faces of a set, of a set made in a class, or about faces
// picked by hand.
const (
	FromSet    SittingFrom = "set"
	FromClass  SittingFrom = "class"
	FromPicked SittingFrom = "picked"
)

// The fewest and the most faces a sitting can be about: three make an order, and forty
// have 780 pairs, more than anyone wants to look at.
const (
	FewestToChoose = 3
	MostToChoose   = 40
)

// A Sitting asks people which of two faces they like better, again and again. Only
// Closed ever changes.
type Sitting struct {
	ID       int64
	Question string
	From     SittingFrom
	Set      int64 // 0 for faces picked by hand
	Faces    []FaceOf
	Blind    bool   // numbers are hidden while people choose
	Measured bool   // measured colours are shown, not photographs
	Seed     uint64 // of which pair comes next, and on which side
	By       string
	Made     time.Time
	Closed   time.Time // zero while it is open
}

// Check reports a Problem when s cannot be kept.
func (s Sitting) Check() error {
	if q := strings.TrimSpace(s.Question); q == "" {
		return Problemf(Invalid, "question", "Ask something, such as: which of these two would you put on the lamp?")
	} else if n := len([]rune(q)); n > 200 {
		return Problemf(Invalid, "question", "The question has %d letters; 200 are the most that fit above two pictures.", n)
	}
	switch s.From {
	case FromSet, FromClass:
		if s.Set == 0 {
			return Problemf(Invalid, "set", "Say which set the choosing is about.")
		}
	case FromPicked:
	default:
		return Problemf(Invalid, "from", "The faces of a sitting come from a set, a class or are picked by hand, not from %q.", string(s.From))
	}
	if len(s.Faces) < FewestToChoose || len(s.Faces) > MostToChoose {
		return Problemf(Invalid, "faces", "%d faces can't be put in order by choosing between two; take %d to %d.", len(s.Faces), FewestToChoose, MostToChoose)
	}
	seen := map[FaceOf]bool{}
	for _, f := range s.Faces {
		if f.Face != Front && f.Face != Back {
			return Problemf(Invalid, "faces", "Swatch %d has a front and a back, no %q.", f.Swatch, string(f.Face))
		}
		if seen[f] {
			return Problemf(Invalid, "faces", "The %s of swatch %d is there twice; name each face once.", f.Face, f.Swatch)
		}
		seen[f] = true
	}
	return nil
}

// Has reports whether the sitting is about f.
func (s Sitting) Has(f FaceOf) bool {
	for _, x := range s.Faces {
		if x == f {
			return true
		}
	}
	return false
}

// Outcome is how a choice came out.
type Outcome string

// The outcomes. Undone takes an earlier choice back; both stay on record.
const (
	ChoseLeft  Outcome = "left"
	ChoseRight Outcome = "right"
	CantChoose Outcome = "neither"
	Undone     Outcome = "undone"
)

// A Choice is one tap on one of two faces. It is never changed.
type Choice struct {
	ID          int64
	Sitting     int64
	Client      string // made where the tap was made, so that it counts once
	Who         string
	Left, Right FaceOf
	Chosen      Outcome
	Undoes      int64 // the choice that an undone one takes back
	Took        time.Duration
	At          time.Time
	Recorded    time.Time
}

// Check reports a Problem when c cannot be kept; now is the store's clock.
func (c Choice) Check(now time.Time) error {
	switch c.Chosen {
	case ChoseLeft, ChoseRight, CantChoose:
	case Undone:
		if c.Undoes == 0 {
			return Problemf(Invalid, "of", "Say which choice is taken back.")
		}
	default:
		return Problemf(Invalid, "chosen", "%q is no choice; take the left one, the right one or neither.", string(c.Chosen))
	}
	if c.Left == c.Right {
		return Problemf(Invalid, "left", "A choice needs two different faces; both are the %s of swatch %d.", c.Left.Face, c.Left.Swatch)
	}
	if c.Took < 0 {
		return Problemf(Invalid, "took", "A choice can't have taken less than no time.")
	}
	return checkTap(c.Client, c.Who, c.At, now)
}

// checkTap reports a Problem when a tap lacks its key, its person or a time that can be.
func checkTap(client, who string, at, now time.Time) error {
	if err := CheckWho(who); err != nil {
		return err
	}
	if client == "" || len(client) > 80 {
		return Problemf(Invalid, "client", "The tap came without its key; reload the page and tap again.")
	}
	if at.IsZero() {
		return Problemf(Invalid, "at", "Say when it happened.")
	}
	if at.After(now.Add(2 * time.Minute)) {
		return Problemf(Invalid, "at", "%s is in the future; it is %s now.", at.UTC().Format("2006-01-02 15:04 MST"), now.UTC().Format("2006-01-02 15:04 MST"))
	}
	if at.Year() < 1950 {
		return Problemf(Invalid, "at", "The year %d can't be right; check the date.", at.Year())
	}
	return nil
}

// CheckWho reports a Problem when who cannot stand for the person who chose.
func CheckWho(who string) error {
	if strings.TrimSpace(who) == "" {
		return Problemf(Invalid, "who", "Say who is choosing: a first name is enough.")
	}
	if n := len([]rune(who)); n > 40 {
		return Problemf(Invalid, "who", "That name has %d letters; 40 are the most.", n)
	}
	return nil
}

// ScoreOf is what of a face a score is about.
type ScoreOf string

// What can be scored.
const (
	ScoreColour   ScoreOf = "colour"
	ScoreTexture  ScoreOf = "texture"
	ScoreCoverage ScoreOf = "coverage"
	ScoreWhole    ScoreOf = "as a whole"
)

// ScoreAspects lists what can be scored, in the order shown.
var ScoreAspects = []ScoreOf{ScoreWhole, ScoreColour, ScoreTexture, ScoreCoverage}

// ScoreWords are the words of the scores 1 to 5: the five grades of quality of
// Recommendation ITU-R BT.500.
var ScoreWords = [5]string{"bad", "poor", "fair", "good", "excellent"}

// A Score is what one person thinks of one aspect of a face. It is never changed: the
// newest of each person counts.
type Score struct {
	ID       int64
	Client   string
	Face     FaceOf
	Of       ScoreOf
	Value    int // 1 to 5
	Who      string
	At       time.Time
	Recorded time.Time
}

// Word returns the score in a word.
func (s Score) Word() string {
	if s.Value < 1 || s.Value > len(ScoreWords) {
		return ""
	}
	return ScoreWords[s.Value-1]
}

// Check reports a Problem when s cannot be kept; now is the store's clock.
func (s Score) Check(now time.Time) error {
	if s.Value < 1 || s.Value > len(ScoreWords) {
		return Problemf(Invalid, "score", "A score of %d can't be kept; take 1 (%s) to %d (%s).", s.Value, ScoreWords[0], len(ScoreWords), ScoreWords[len(ScoreWords)-1])
	}
	for _, of := range ScoreAspects {
		if s.Of == of {
			return checkTap(s.Client, s.Who, s.At, now)
		}
	}
	return Problemf(Invalid, "of", "%q can't be scored; take colour, texture, coverage or the face as a whole.", string(s.Of))
}

// NewestScores returns the newest score of each person for each face and aspect, in
// the order they were given.
func NewestScores(all []Score) []Score {
	type key struct {
		face FaceOf
		of   ScoreOf
		who  string
	}
	last := map[key]int{}
	for i, s := range all {
		k := key{s.Face, s.Of, s.Who}
		if j, there := last[k]; !there || !s.At.Before(all[j].At) {
			last[k] = i
		}
	}
	var out []Score
	for i, s := range all {
		if last[key{s.Face, s.Of, s.Who}] == i {
			out = append(out, s)
		}
	}
	return out
}

// StandingChoices returns the choices that were not taken back, in the order given.
func StandingChoices(all []Choice) []Choice {
	gone := map[int64]bool{}
	for _, c := range all {
		if c.Chosen == Undone {
			gone[c.Undoes], gone[c.ID] = true, true
		}
	}
	var out []Choice
	for _, c := range all {
		if !gone[c.ID] {
			out = append(out, c)
		}
	}
	return out
}
