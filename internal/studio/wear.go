package studio

import (
	"strings"
	"time"
)

// A WearTest is one thing done to a face, or left to happen to it, to see whether
// its colour lasts. What is done is Protocol in its Version, a key of the list in
// flow/last. A test is never changed; what comes of it are its readings.
type WearTest struct {
	ID         int64
	Client     string // key made where it was sent, so that it is kept once
	Face       FaceOf
	Protocol   string
	Version    int
	Sealer     string // "wax", "oil", "lacquer" or "none": what the face was sealed with
	Conditions string // where and how, in the person's words
	Site       string // corrosivity class by ISO 9223 where it stands outdoors; empty if not known
	Control    FaceOf // a like face kept in the dark; a zero swatch for none
	Start      time.Time
	By         string
	Recorded   time.Time
}

// Sealers are what a face can be sealed with.
var Sealers = []string{"none", "wax", "oil", "lacquer"}

// Sites are the corrosivity classes of ISO 9223, mildest first.
var Sites = []string{"C1", "C2", "C3", "C4", "C5", "CX"}

// oneOf reports whether list has word.
func oneOf(list []string, word string) bool {
	for _, x := range list {
		if x == word {
			return true
		}
	}
	return false
}

// Check reports a Problem when t cannot be kept; now is the store's clock.
func (t WearTest) Check(now time.Time) error {
	if t.Client == "" || len(t.Client) > 80 {
		return Problemf(Invalid, "client", "The test came without its key; reload the page and start it again.")
	}
	if t.Face.Swatch < 1 || t.Face.Face != Front && t.Face.Face != Back {
		return Problemf(Invalid, "face", "Say whether the front or the back is tested.")
	}
	if t.Protocol == "" || t.Version < 1 {
		return Problemf(Invalid, "protocol", "Choose what the face is put through.")
	}
	if !oneOf(Sealers, t.Sealer) {
		return Problemf(Invalid, "sealer", "Say what the face is sealed with: none, wax, oil or lacquer; %q is none of them.", t.Sealer)
	}
	if t.Site != "" && !oneOf(Sites, t.Site) {
		return Problemf(Invalid, "site", "%q is no class of ISO 9223; choose C1 to C5, CX, or leave it open.", t.Site)
	}
	if len([]rune(t.Conditions)) > 400 {
		return Problemf(Invalid, "conditions", "The place has %d letters; 400 are the most.", len([]rune(t.Conditions)))
	}
	if t.Control.Swatch != 0 && t.Control.Face != Front && t.Control.Face != Back {
		return Problemf(Invalid, "control", "Say whether the front or the back of swatch %d is kept in the dark.", t.Control.Swatch)
	}
	if t.Control.Swatch != 0 && t.Control == t.Face {
		return Problemf(Invalid, "control", "A face can't be its own comparison; choose another swatch made the same way.")
	}
	return checkWearTime(t.Start, now)
}

func checkWearTime(at, now time.Time) error {
	switch {
	case at.IsZero():
		return Problemf(Invalid, "at", "Say when it was.")
	case at.After(now.Add(2 * time.Minute)):
		return Problemf(Invalid, "at", "%s is in the future; it is %s now.", at.UTC().Format("2006-01-02 15:04 MST"), now.UTC().Format("2006-01-02 15:04 MST"))
	case at.Year() < 1950:
		return Problemf(Invalid, "at", "The year %d can't be right; check the date.", at.Year())
	}
	return nil
}

// WearKind is what a reading of a test records.
type WearKind string

// The kinds of reading. Readings are only ever added: a voided one names the
// reading that did not happen.
const (
	WearBefore WearKind = "before" // as it was before the test
	WearRead   WearKind = "read"   // as it was found
	WearEnded  WearKind = "ended"  // nothing more will be read
	WearVoided WearKind = "voided"
)

// A WearReading is what was found on one day of a test. Grade is a key of the
// test's protocol. Photo and ControlPhoto are 0 when none was taken. Count is how
// often it was done, such as strokes, 0 when not counted.
type WearReading struct {
	ID           int64
	Test         int64
	Client       string
	Kind         WearKind
	At           time.Time
	Recorded     time.Time
	By           string
	Grade        string
	Count        int
	Photo        int64
	ControlPhoto int64
	Voids        int64
	Note         string
}

// Check reports a Problem when r cannot be kept; now is the store's clock.
func (r WearReading) Check(now time.Time) error {
	if r.Client == "" || len(r.Client) > 80 {
		return Problemf(Invalid, "client", "The reading came without its key; reload the page and tap again.")
	}
	switch r.Kind {
	case WearBefore:
		if r.Photo == 0 {
			return Problemf(Invalid, "photo", "What it was like before is a photograph; choose one.")
		}
	case WearRead:
		if r.Grade == "" {
			return Problemf(Invalid, "grade", "Choose the words that say what you saw.")
		}
	case WearEnded:
	case WearVoided:
	default:
		return Problemf(Invalid, "kind", "%q is not something that can be kept of a test.", string(r.Kind))
	}
	if (r.Kind == WearVoided) != (r.Voids != 0) {
		return Problemf(Invalid, "voids", "Say which reading did not happen.")
	}
	if r.Count < 0 || r.Count > 100000 {
		return Problemf(Invalid, "count", "A count of %d can't be right; write 0 to 100 000.", r.Count)
	}
	if len([]rune(strings.TrimSpace(r.Note))) > 2000 {
		return Problemf(Invalid, "note", "The note has %d letters; 2000 are the most.", len([]rune(r.Note)))
	}
	return checkWearTime(r.At, now)
}

// StandingWear returns the readings that were not voided, in the order they were
// made.
func StandingWear(all []WearReading) []WearReading {
	gone := map[int64]bool{}
	for _, r := range all {
		if r.Kind == WearVoided {
			gone[r.Voids] = true
		}
	}
	var out []WearReading
	for _, r := range all {
		if r.Kind != WearVoided && !gone[r.ID] {
			out = append(out, r)
		}
	}
	for i := 1; i < len(out); i++ {
		for j := i; j > 0 && out[j].At.Before(out[j-1].At); j-- {
			out[j], out[j-1] = out[j-1], out[j]
		}
	}
	return out
}
