package cli

import (
	"errors"
	"fmt"

	"aerugo/internal/science"
	"aerugo/internal/studio"
)

// outside turns a number outside the range of a formula into a Problem for the
// person who typed it; any other error passes through.
func outside(err error) error {
	var r *science.RangeError
	if !errors.As(err, &r) {
		return err
	}
	unit := ""
	if r.Unit != "" {
		unit = " " + r.Unit
	}
	bounds := fmt.Sprintf("it must lie from %.6g to %.6g%s", r.Min, r.Max, unit)
	if r.Max > 1e100 {
		bounds = fmt.Sprintf("it must be %.6g%s or more", r.Min, unit)
	}
	return studio.Problemf(studio.Invalid, "", "the %s can't be %.6g%s; %s", r.What, r.Got, unit, bounds)
}
