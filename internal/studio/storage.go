package studio

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// PlaceKind says what a place is to a swatch that is put there.
type PlaceKind string

// The kinds of place.
const (
	Keeps PlaceKind = "keeps" // a cabinet, drawer, box or wall of one's own
	Lent  PlaceKind = "lent"  // with somebody, to come back
	Gone  PlaceKind = "gone"  // given away or sold: not looked for any more
)

// PlaceKinds lists the kinds in the order shown.
var PlaceKinds = []PlaceKind{Keeps, Lent, Gone}

// A Place is where swatches are kept, named in the person's own words. It may
// stand inside another. With Rows and Columns it is a grid whose cells have
// addresses like C4.
type Place struct {
	ID       int64
	Client   string // key made where it was sent, so that it is kept once
	Parent   int64  // 0: stands by itself
	Name     string
	Kind     PlaceKind
	Rows     int
	Columns  int
	Note     string
	Made     time.Time
	Closed   time.Time // given up: no longer offered; zero while in use
	Invented bool
}

// maxGrid is the most rows or columns of a place: 26 letters name the rows.
const maxGrid = 26

// Check reports a Problem when p cannot be kept.
func (p Place) Check() error {
	switch {
	case p.Client == "" || len(p.Client) > 80:
		return Problemf(Invalid, "client", "The place came without its key; reload the page and send it again.")
	case strings.TrimSpace(p.Name) == "":
		return Problemf(Invalid, "name", "Give the place a name, such as: drawer 2.")
	case len([]rune(p.Name)) > 60:
		return Problemf(Invalid, "name", "The name has %d letters; 60 are the most.", len([]rune(p.Name)))
	case p.Kind != Keeps && p.Kind != Lent && p.Kind != Gone:
		return Problemf(Invalid, "kind", "%q is no kind of place; choose one from the list.", string(p.Kind))
	case p.Rows < 0 || p.Columns < 0 || p.Rows > maxGrid || p.Columns > maxGrid:
		return Problemf(Invalid, "rows", "A grid of %d rows and %d columns can't be kept; %d of each are the most.", p.Rows, p.Columns, maxGrid)
	case (p.Rows == 0) != (p.Columns == 0):
		return Problemf(Invalid, "rows", "A grid needs both rows and columns; write both, or neither.")
	case p.Rows > 0 && p.Kind != Keeps:
		return Problemf(Invalid, "rows", "Only a place of your own has rows and columns; leave them empty.")
	case len(p.Note) > 4000:
		return Problemf(Invalid, "note", "The note has %d characters; 4000 are the most.", len(p.Note))
	case p.ID != 0 && p.Parent == p.ID:
		return Problemf(Invalid, "parent", "A place can't stand inside itself; choose another.")
	}
	return nil
}

// HasGrid reports whether p has rows and columns.
func (p Place) HasGrid() bool { return p.Rows > 0 && p.Columns > 0 }

// A SwatchMove says that a swatch was put somewhere: Place 0 takes it out of its
// place. Moves are only added; the newest of a swatch counts. Row and Column are
// from 1, or both 0. Due is the day a lent swatch is to be back.
type SwatchMove struct {
	ID       int64
	Client   string
	Swatch   int64
	Place    int64
	Row      int
	Column   int
	Due      time.Time
	At       time.Time
	Recorded time.Time
	By       string
	Note     string
}

// Check reports a Problem when m cannot be kept at the time now.
func (m SwatchMove) Check(now time.Time) error {
	switch {
	case m.Client == "" || len(m.Client) > 80:
		return Problemf(Invalid, "client", "The tap came without its key; reload the page and tap again.")
	case m.Swatch < 1:
		return Problemf(Invalid, "swatch", "Say which swatch; %d is no number of one.", m.Swatch)
	case m.Row < 0 || m.Column < 0 || (m.Row == 0) != (m.Column == 0):
		return Problemf(Invalid, "cell", "Row %d, column %d is no cell; write it like C4.", m.Row, m.Column)
	case m.At.IsZero() || m.At.After(now.Add(2*time.Minute)):
		return Problemf(Invalid, "at", "Its time, %s, can't be right; it is %s now.", m.At.UTC().Format("2006-01-02 15:04 MST"), now.UTC().Format("2006-01-02 15:04 MST"))
	case len([]rune(m.By)) > 60:
		return Problemf(Invalid, "by", "That name has %d letters; 60 are the most.", len([]rune(m.By)))
	case len(m.Note) > 400:
		return Problemf(Invalid, "note", "The note has %d characters; 400 are the most.", len(m.Note))
	}
	return nil
}

// A Round is one look through a place: what is there is ticked off as [Sighting]s,
// and the rest is missing.
type Round struct {
	ID     int64
	Client string
	Place  int64
	By     string
	Begun  time.Time
	Ended  time.Time // zero while it goes on
}

// Check reports a Problem when r cannot be kept.
func (r Round) Check() error {
	switch {
	case r.Client == "" || len(r.Client) > 80:
		return Problemf(Invalid, "client", "The round came without its key; reload the page and begin again.")
	case r.Place < 1:
		return Problemf(Invalid, "place", "Say which place the round looks through.")
	case len([]rune(r.By)) > 60:
		return Problemf(Invalid, "by", "That name has %d letters; 60 are the most.", len([]rune(r.By)))
	}
	return nil
}

// A Sighting is one swatch seen in a round.
type Sighting struct {
	ID     int64
	Client string
	Round  int64
	Swatch int64
	By     string
	At     time.Time
}

// Check reports a Problem when x cannot be kept.
func (x Sighting) Check() error {
	switch {
	case x.Client == "" || len(x.Client) > 80:
		return Problemf(Invalid, "client", "The tap came without its key; reload the page and tap again.")
	case x.Swatch < 1:
		return Problemf(Invalid, "swatch", "Say which swatch was seen; %d is no number of one.", x.Swatch)
	case len([]rune(x.By)) > 60:
		return Problemf(Invalid, "by", "That name has %d letters; 60 are the most.", len([]rune(x.By)))
	}
	return nil
}

// Cell names a cell of a grid: rows are letters from the top, columns numbers from
// the left, as in C4. It is empty for row 0.
func Cell(row, column int) string {
	if row < 1 || row > maxGrid || column < 1 {
		return ""
	}
	return string(rune('A'+row-1)) + strconv.Itoa(column)
}

// ReadCell reads what [Cell] writes; small letters and spaces are forgiven, and an
// empty text is no cell.
func ReadCell(text string) (row, column int, err error) {
	t := strings.ToUpper(strings.Join(strings.Fields(text), ""))
	if t == "" {
		return 0, 0, nil
	}
	column, perr := strconv.Atoi(t[1:])
	if t[0] < 'A' || t[0] > 'Z' || perr != nil || column < 1 || column > maxGrid || t[1] == '+' {
		return 0, 0, Problemf(Invalid, "cell", "%q is no cell; write its row as a letter and its column as a number, like C4.", text)
	}
	return int(t[0]-'A') + 1, column, nil
}

// PlaceCode returns what a place's label says: 'P', its number and a check character
// as in [Code].
func PlaceCode(id int64) string {
	text := fmt.Sprintf("P%04d", id)
	return text + string(checkCharacter(text))
}

// ReadPlaceCode takes a place's label apart; small letters, spaces and hyphens are
// forgiven.
func ReadPlaceCode(code string) (int64, error) {
	c := strings.ToUpper(strings.NewReplacer(" ", "", "-", "").Replace(code))
	bad := Problemf(Invalid, "code", "%q is not a place's label; one reads like %s.", code, PlaceCode(2))
	if len(c) < 6 || len(c) > 20 || c[0] != 'P' {
		return 0, bad
	}
	for i := 1; i < len(c)-1; i++ {
		if c[i] < '0' || c[i] > '9' {
			return 0, bad
		}
	}
	if checkCharacter(c[:len(c)-1]) != c[len(c)-1] {
		return 0, Problemf(Invalid, "code", "The label %q does not check: one of its characters was misread. Read it again, or choose the place from the list.", code)
	}
	id, err := strconv.ParseInt(c[1:len(c)-1], 10, 64)
	if err != nil || id < 1 {
		return 0, bad
	}
	return id, nil
}
