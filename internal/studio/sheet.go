package studio

import (
	"bytes"
	"strings"
	"time"
)

// MaxSheet is the largest safety data sheet kept, in bytes.
const MaxSheet = 25 << 20

// A DataSheet is the maker's own safety data sheet of a supply, a PDF. It is kept
// as it came: never opened, drawn or run here.
type DataSheet struct {
	ID     int64
	Supply int64
	Name   string // of the file as it was sent
	SHA256 string
	Bytes  int64
	Added  time.Time
	By     string
}

// CheckSheet reports a Problem when data can't be kept as a data sheet.
func CheckSheet(data []byte) error {
	switch {
	case len(data) == 0:
		return Problemf(Invalid, "sheet", "Choose the data sheet's PDF first.")
	case len(data) > MaxSheet:
		return Problemf(Invalid, "sheet", "That file has %.1f MB; a data sheet of at most %d MB can be kept.", float64(len(data))/(1<<20), MaxSheet>>20)
	case !bytes.HasPrefix(data, []byte("%PDF-")):
		return Problemf(Invalid, "sheet", "That file is no PDF. Data sheets come as PDF from the maker's site; save it as that.")
	}
	return nil
}

// A SheetCheck says that a row of what is known about a supply was held against
// the bottle's own data sheet, or that this is taken back (Checked false). Row
// names the row ("gloves"), Text is what it said then: a row that says something
// else since was not checked.
type SheetCheck struct {
	ID      int64
	Supply  int64
	Row     string
	Text    string
	Checked bool
	At      time.Time
	By      string
}

// Check reports a Problem when c cannot be kept.
func (c SheetCheck) Check() error {
	if strings.TrimSpace(c.Row) == "" || len(c.Row) > 120 || len(c.Text) > 4000 {
		return Problemf(Invalid, "row", "Say which line was checked against the sheet.")
	}
	return nil
}

// ClassOf is for whom a set is made.
type ClassOf string

// The classes a set can be made for; NoClass is the artist's own bench.
const (
	NoClass   ClassOf = ""
	ForAdults ClassOf = "adults"
	ForTeens  ClassOf = "12-17"
	ForYoung  ClassOf = "under 12"
)

// Classes lists the classes in the order shown.
var Classes = []ClassOf{NoClass, ForAdults, ForTeens, ForYoung}

// Words says for whom, as it is printed: "a class, 12 to 17 years old".
func (c ClassOf) Words() string {
	switch c {
	case ForAdults:
		return "a class of adults"
	case ForTeens:
		return "a class, 12 to 17 years old"
	case ForYoung:
		return "a class with children under 12"
	}
	return "my own bench, no class"
}

// YoungestAge is the least age in years that the class may hold, 0 for none.
func (c ClassOf) YoungestAge() int {
	switch c {
	case ForAdults:
		return 18
	case ForTeens:
		return 12
	case ForYoung:
		return 1
	}
	return 0
}

// Check reports a Problem when c is no class known here.
func (c ClassOf) Check() error {
	for _, known := range Classes {
		if c == known {
			return nil
		}
	}
	return Problemf(Invalid, "class", "%q is no class known here; choose adults, 12-17 or under 12, or none.", string(c))
}
