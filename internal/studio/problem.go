package studio

import (
	"errors"
	"fmt"
)

// Kind sorts problems by what the person can do about them.
type Kind int

// The kinds of Problem; web turns them into a status, the command line into an exit code.
const (
	Invalid  Kind = iota + 1 // what was entered or given cannot be used
	NotFound                 // there is no such thing
	Conflict                 // it clashes with what is already there
	Unsafe                   // it could hurt someone, so it is refused
	Machine                  // the disk, folder or network stands in the way; the person can mend it
)

// A Problem is an error a person can act on. Any other error is a fault of the
// program or the machine and is shown only as such.
type Problem struct {
	Kind  Kind
	Field string // form field or flag it belongs to; empty if none
	Text  string // one sentence or two: what is wrong, then what would be right
}

// Error returns the sentence for the person.
func (p *Problem) Error() string { return p.Text }

// Problemf makes a Problem of the given kind; field may be empty.
func Problemf(kind Kind, field, format string, args ...any) *Problem {
	return &Problem{Kind: kind, Field: field, Text: fmt.Sprintf(format, args...)}
}

// ProblemIn returns the first Problem in err's chain, or nil.
func ProblemIn(err error) *Problem {
	var p *Problem
	if errors.As(err, &p) {
		return p
	}
	return nil
}
