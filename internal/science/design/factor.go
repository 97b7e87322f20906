package design

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
)

// ErrAsk is wrapped by every error that says what is wrong with what was asked
// for; the words are for a person.
var ErrAsk = errors.New("this plan can't be made")

// askf is a sentence about the asking.
func askf(format string, args ...any) error { return &askError{fmt.Sprintf(format, args...)} }

type askError struct{ text string }

func (e *askError) Error() string { return e.text }
func (e *askError) Unwrap() error { return ErrAsk }

// Limits of one plan.
const (
	MaxRuns    = 200
	MaxFactors = 16
	MaxLevels  = 12
)

// Factor is something that is varied: a category when Levels is set, otherwise
// continuous from Low to High.
//
// Settings lists the values of a continuous factor that can be made; empty
// leaves eleven, evenly spaced. HeldIn names the group within which it stays the
// same, such as a chamber run whose hours all its swatches share.
type Factor struct {
	Name      string
	Levels    []string
	Low, High float64
	Settings  []float64
	HeldIn    string
}

// Category says whether f has named levels.
func (f Factor) Category() bool { return len(f.Levels) > 0 }

// Code returns the code of the value v of a continuous factor.
func (f Factor) Code(v float64) float64 { return (2*v - f.Low - f.High) / (f.High - f.Low) }

// Value returns the value a code stands for in a continuous factor.
func (f Factor) Value(code float64) float64 {
	v := (f.Low + f.High + code*(f.High-f.Low)) / 2
	// Away with the last bits that coding and back have put on.
	scale := math.Pow(10, 12-math.Ceil(math.Log10(math.Max(math.Abs(f.Low), math.Abs(f.High)))))
	return math.Round(v*scale) / scale
}

// Says names the setting a code stands for.
func (f Factor) Says(code float64) string {
	if f.Category() {
		return f.Levels[int(code)]
	}
	return fmt.Sprintf("%.6g", f.Value(code))
}

// codes lists the codes that may be tried.
func (f Factor) codes() []float64 {
	var out []float64
	switch {
	case f.Category():
		for i := range f.Levels {
			out = append(out, float64(i))
		}
	case len(f.Settings) > 0:
		for _, v := range f.Settings {
			out = append(out, f.Code(v))
		}
		slices.Sort(out)
	default:
		for i := range 11 {
			out = append(out, float64(i-5)/5)
		}
	}
	return out
}

// width is the number of columns its main effect takes.
func (f Factor) width() int {
	if f.Category() {
		return len(f.Levels) - 1
	}
	return 1
}

// columns appends the main effect's columns at a code: sum-to-zero contrasts for
// a category, of which the last level is -1 everywhere, and the code otherwise.
func (f Factor) columns(out []float64, code float64) []float64 {
	if !f.Category() {
		return append(out, code)
	}
	last := len(f.Levels) - 1
	for i := range last {
		v := 0.0
		switch int(code) {
		case i:
			v = 1
		case last:
			v = -1
		}
		out = append(out, v)
	}
	return out
}

// TwoLevels returns k factors named A, B, C and so on (without I, which is the
// mean), continuous from -1 to 1 with just these two settings.
func TwoLevels(k int) []Factor {
	out := make([]Factor, k)
	for i := range out {
		out[i] = Factor{Name: letter(i), Low: -1, High: 1, Settings: []float64{-1, 1}}
	}
	return out
}

func letter(i int) string { return string("ABCDEFGHJKLMNOPQRSTUVWXYZ"[i%25]) }

// checkFactors refuses factors no plan can be made of.
func checkFactors(fs []Factor) error {
	if len(fs) == 0 || len(fs) > MaxFactors {
		return askf("a plan varies 1 to %d things, not %d", MaxFactors, len(fs))
	}
	seen := map[string]bool{}
	for _, f := range fs {
		switch {
		case strings.TrimSpace(f.Name) == "":
			return askf("a factor has no name; say what is varied, such as liquid")
		case seen[f.Name]:
			return askf("%s is there twice; each factor has its own name", f.Name)
		case f.Category() && (len(f.Levels) < 2 || len(f.Levels) > MaxLevels):
			return askf("%s has %d level(s); a factor that is varied has 2 to %d", f.Name, len(f.Levels), MaxLevels)
		}
		seen[f.Name] = true
		if f.Category() {
			levels := map[string]bool{}
			for _, l := range f.Levels {
				if strings.TrimSpace(l) == "" || levels[l] {
					return askf("%s has the level %q twice or without a name; each level has its own", f.Name, l)
				}
				levels[l] = true
			}
			continue
		}
		if most := math.Max(math.Abs(f.Low), math.Abs(f.High)); !(f.High-f.Low > 1e-9*most && most > 1e-12 && most < 1e12) {
			return askf("%s goes from %g to %g; the low end must be clearly below the high end, and both ordinary numbers", f.Name, f.Low, f.High)
		}
		if len(f.Settings) == 1 || len(f.Settings) > 101 {
			return askf("%s has %d setting(s); it takes 2 to 101", f.Name, len(f.Settings))
		}
		settings := map[float64]bool{}
		for _, v := range f.Settings {
			if !(v >= f.Low && v <= f.High) || settings[v] {
				return askf("%s can't be set to %g here; its settings differ and lie from %g to %g", f.Name, v, f.Low, f.High)
			}
			settings[v] = true
		}
	}
	return nil
}
