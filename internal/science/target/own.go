package target

import (
	"errors"
	"fmt"
	"math"

	"aerugo/internal/science/colour"
)

// mostOwn is the largest file of a target's values, in bytes: a table for 24
// patches has some thousands.
const mostOwn = 1 << 20

// leastApart is how far, in CIE 1976 units, any two patches of a target must be
// from each other. The nearest two of the usual one are 10 apart; common
// practice, no source.
const leastApart = 3.0

// ReadOwn reads the CGATS file of a person's own 24-patch target and makes sure
// that it can be found in a picture and carry a correction: Lab or XYZ of 24
// patches, row by row, at least FewestNeutrals of them greys, no two alike. The
// error goes on after "the file can't be used:".
func ReadOwn(text, name string) (Reference, error) {
	if len(text) > mostOwn {
		return Reference{}, fmt.Errorf("it has %d kB, and a target's file of values has at most %d", len(text)>>10, mostOwn>>10)
	}
	if text == "" {
		return Reference{}, errors.New("it is empty")
	}
	tables, err := ReadCGATS(text)
	if err != nil {
		return Reference{}, fmt.Errorf("it is no CGATS text that can be read (%w)", err)
	}
	var ref Reference
	found := false
	for _, t := range tables { // a file may hold raw readings first
		if ref, err = t.Reference(name, "own values"); err == nil && len(ref.Patches) > 0 {
			found = true
			break
		}
	}
	if !found {
		if err == nil {
			err = errors.New("its tables are empty")
		}
		return Reference{}, fmt.Errorf("it holds no values that can be used (%w); the columns LAB_L, LAB_A and LAB_B, or XYZ, under D50 are needed", err)
	}
	if n := len(ref.Patches); n != Columns*Rows {
		return Reference{}, fmt.Errorf("it has %d patches, and only targets of %d (6 by 4) are found in a picture", n, Columns*Rows)
	}
	greys := 0
	for i, p := range ref.Patches {
		if p.Neutral {
			greys++
		}
		for _, q := range ref.Patches[:i] {
			if d := apart(p.Lab, q.Lab); d < leastApart {
				return Reference{}, fmt.Errorf("its patches %s and %s are alike (%.1f CIELAB units apart; at least %.0f are needed to tell them apart)", q.ID, p.ID, d, leastApart)
			}
		}
	}
	if greys < FewestNeutrals {
		return Reference{}, fmt.Errorf("only %d of its patches are greys, and at least %d are needed, since the tone is read from them", greys, FewestNeutrals)
	}
	return ref, nil
}

func apart(a, b colour.Lab) float64 {
	return math.Hypot(math.Hypot(a.L-b.L, a.A-b.A), a.B-b.B)
}
