package studio

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// A Seat is a student's place in a class. The record of what was done names only its
// number ("seat 5"); the name, where one was given, stands here and nowhere else, so
// that it can be taken out in one stroke.
type Seat struct {
	ID       int64
	Class    int64
	Number   int
	Name     string    // a first name or nickname; "" where none was given
	Joined   time.Time // zero while nobody sits here
	Hand     time.Time // since when the hand is up; zero when it is down
	Photos   SeatPhotos
	Swatches []int64 // that the seat works on, by number
}

// SeatPhotos is what becomes of a student's photographs when what is kept of the
// student is erased.
type SeatPhotos string

// The photographs are given to the studio, or go with the rest.
const (
	PhotosStay SeatPhotos = "studio"
	PhotosGo   SeatPhotos = "gone"
)

// MaxSeats is the highest number a seat can have: two more than the most students.
const MaxSeats = MaxHeads + 2

// AStudent stands in the record for a student who was erased.
const AStudent = "a student"

// SeatHand is how the seat of a number stands in the record: "seat 5".
func SeatHand(number int) string { return fmt.Sprintf("seat %d", number) }

// By is how the seat stands in the record.
func (s Seat) By() string { return SeatHand(s.Number) }

// Said is how the seat is called on a page: "Seat 5, Ana".
func (s Seat) Said() string {
	if s.Name == "" {
		return fmt.Sprintf("Seat %d", s.Number)
	}
	return fmt.Sprintf("Seat %d, %s", s.Number, s.Name)
}

// Taken reports whether somebody sits there.
func (s Seat) Taken() bool { return !s.Joined.IsZero() }

// CheckSeat reports a Problem when nobody can sit at number in c.
func CheckSeat(c Class, number int) error {
	if most := SeatsOf(c); number < 1 || number > most {
		return Problemf(Invalid, "number", "This class has seats 1 to %d, no seat %d.", most, number)
	}
	return nil
}

// SeatsOf is how many seats c has: two more than it was planned for.
func SeatsOf(c Class) int { return min(c.Heads+2, MaxSeats) }

// CheckSeatName reports a Problem when name can't be kept for a seat of c. Children's
// names are not asked for, and not kept.
func CheckSeatName(name string, t SeatTerms) error {
	n := len([]rune(name))
	switch {
	case n == 0:
		return nil
	case !t.Names:
		return Problemf(Invalid, "name", "No names are kept in this class: the seat's number is enough.")
	case n > 24:
		return Problemf(Invalid, "name", "That name has %d letters; 24 are the most. A first name or a nickname is enough.", n)
	case strings.ContainsFunc(name, func(r rune) bool { return r < ' ' }):
		return Problemf(Invalid, "name", "A name is written in one line.")
	case strings.ContainsAny(name, "@0123456789"):
		return Problemf(Invalid, "name", "Write a first name or a nickname, no address and no number.")
	}
	return nil
}

// SeatTerms is what a class promises its students about what is kept of them.
type SeatTerms struct {
	Class    int64
	Names    bool // a first name or nickname may be given
	KeepDays int  // after the class, then it is erased
	LinkDays int  // after the class a seat's phone still sees its own pages
}

// UsualTerms are those of a class nobody set others for: 60 days, 14 for the link, and
// no names unless all are adults.
func UsualTerms(c Class) SeatTerms {
	return SeatTerms{Class: c.ID, Names: c.Who == ForAdults, KeepDays: 60, LinkDays: 14}
}

// Check reports a Problem when t cannot be kept for c.
func (t SeatTerms) Check(c Class) error {
	if t.Names && c.Who != ForAdults {
		return Problemf(Invalid, "names", "Names are kept of adults only; seat numbers are enough for the younger.")
	}
	if t.KeepDays < 0 || t.KeepDays > 730 {
		return Problemf(Invalid, "keepdays", "%d days can't be kept; write 0 to 730 days after the class.", t.KeepDays)
	}
	if t.LinkDays < 0 || t.LinkDays > t.KeepDays {
		return Problemf(Invalid, "linkdays", "The students' pages can be open from 0 to %d days after the class, as long as anything is kept.", t.KeepDays)
	}
	return nil
}

// Over is when c ends by its plan.
func (c Class) Over() time.Time { return c.Starts.Add(time.Duration(c.Minutes) * time.Minute) }

// Erased is when what is kept of the students of c is erased by itself.
func (t SeatTerms) Erased(c Class) time.Time { return c.Over().AddDate(0, 0, t.KeepDays) }

// LinkTill is until when a seat's phone sees its own pages.
func (t SeatTerms) LinkTill(c Class) time.Time {
	till := c.Over().AddDate(0, 0, t.LinkDays)
	if open := c.Over().Add(time.Hour); till.Before(open) {
		till = open
	}
	return till
}

// A Door is the way into a class while it is open. It is good on the local network
// only, and stays with the studio's folder.
type Door struct {
	Class          int64
	Code           string
	Opened, Closes time.Time
}

// OpenAt reports whether the door can be used at t.
func (d Door) OpenAt(t time.Time) bool { return d.Code != "" && t.Before(d.Closes) }

// DoorLetters are those a door's code is made of: none looks like another, or like a
// digit that reads as itself.
const DoorLetters = "ABCDEFGHJKMNPRSTWXYZ"

// DoorLength is how many letters a code has: 20 to the 6th, 64 million codes.
const DoorLength = 6

// ReadDoorCode reads a code as people write it: small letters, spaces, and digits that
// stand for the letter they look like.
func ReadDoorCode(text string) string {
	var b strings.Builder
	for _, r := range strings.ToUpper(text) {
		switch r {
		case '5':
			r = 'S'
		case '8':
			r = 'B'
		case '2':
			r = 'Z'
		case '6':
			r = 'G'
		case '4':
			r = 'A'
		}
		if strings.ContainsRune(DoorLetters, r) {
			b.WriteRune(r)
		} else if r != ' ' && r != '-' {
			return ""
		}
	}
	if b.Len() != DoorLength {
		return ""
	}
	return b.String()
}

// SeatWords are up to three words of a student for one face, and how much of it they
// find covered. They are never changed; the newest of a seat counts.
type SeatWords struct {
	ID       int64
	Client   string
	Class    int64
	Seat     int64 // 0 once the student was erased
	Face     FaceOf
	Words    []string
	Covered  *float64 // fraction from 0 to 1, by eye; nil: not said
	Note     string
	At       time.Time
	Recorded time.Time
}

// Check reports a Problem when w cannot be kept; now is the store's clock.
func (w SeatWords) Check(now time.Time) error {
	if w.Face.Face != Front && w.Face.Face != Back {
		return Problemf(Invalid, "face", "Say whether it is the front or the back.")
	}
	if len(w.Words) > 3 {
		return Problemf(Invalid, "words", "Three words are the most.")
	}
	for i, word := range w.Words {
		if n := len([]rune(word)); n == 0 || n > 24 || strings.ContainsAny(word, "\r\n") || slices.Index(w.Words, word) != i {
			return Problemf(Invalid, "words", "Each of the three words is another one, of 1 to 24 letters.")
		}
	}
	if w.Covered != nil && !(*w.Covered >= 0 && *w.Covered <= 1) {
		return Problemf(Invalid, "covered", "%v %% can't be covered; say 0 to 100.", *w.Covered*100)
	}
	if len(w.Note) > 1000 {
		return Problemf(Invalid, "note", "The note has %d letters; 1000 are the most.", len(w.Note))
	}
	if len(w.Words) == 0 && w.Covered == nil && w.Note == "" {
		return Problemf(Invalid, "words", "Write a word, say how much is covered, or leave a note.")
	}
	return checkTap(w.Client, "seat", w.At, now)
}

// DealRound hands swatches out to seats 1 to heads, one each in turn, in the order
// given. The answer says the seat of each.
func DealRound(swatches []int64, heads int) map[int64]int {
	out := make(map[int64]int, len(swatches))
	for i, n := range swatches {
		out[n] = i%max(heads, 1) + 1
	}
	return out
}
