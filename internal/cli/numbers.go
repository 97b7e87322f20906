package cli

import (
	"math"
	"strconv"
	"strings"

	"aerugo/internal/studio"
)

// numbers reads the value of an option as so many numbers with commas between;
// like is an example to show.
func numbers(option, text string, count int, like string) ([]float64, error) {
	fields := strings.Split(text, ",")
	if len(fields) != count {
		return nil, studio.Problemf(studio.Invalid, option, "--%s takes %d numbers with commas between, and %q has %d; write it like --%s %s", option, count, text, len(fields), option, like)
	}
	out := make([]float64, count)
	for i, f := range fields {
		v, ok := number(f)
		if !ok {
			return nil, studio.Problemf(studio.Invalid, option, "--%s: %q is not a number; write it like --%s %s", option, strings.TrimSpace(f), option, like)
		}
		out[i] = v
	}
	return out, nil
}

// number reads one finite number; a true minus sign may stand for the hyphen.
func number(text string) (float64, bool) {
	v, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(text), "−", "-", 1), 64)
	return v, err == nil && !math.IsNaN(v) && !math.IsInf(v, 0)
}
