package science

import (
	"fmt"
	"strings"
)

// RangeError says that a number lies outside the range in which the formula or
// table it was meant for holds. The packages of science return it as
// *RangeError; nothing is extrapolated.
type RangeError struct {
	What          string  // what the number is, such as "temperature"
	Got, Min, Max float64 // in Unit; Min and Max are allowed
	Unit          string  // empty for a pure number
	Ref           Ref     // whose range it is; empty when it follows from the definition
}

// Error returns one sentence without a full stop, such as "temperature 20 K is
// outside 273.15 to 647.096 K, the range of iapws-if97-2007".
func (e *RangeError) Error() string {
	unit := ""
	if e.Unit != "" {
		unit = " " + e.Unit
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s %v%s is outside %v to %v%s", e.What, e.Got, unit, e.Min, e.Max, unit)
	if e.Ref != "" {
		fmt.Fprintf(&b, ", the range of %s", e.Ref)
	}
	return b.String()
}
