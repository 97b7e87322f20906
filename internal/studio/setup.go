package studio

import (
	"math"
	"strings"
	"time"
)

// SetupKind says what a kept setup was made by.
type SetupKind string

// The kinds of setup.
const (
	ByTarget SetupKind = "target" // a colour target in the photograph
	ByGrey   SetupKind = "grey"   // a grey card alone
)

// A Setup is a camera and a lamp that stay as they are, kept from one photograph
// so that later ones need no colour target: Fit is the correction fitted to it, as
// text (see science/target), and the readings below are what it showed of things
// that stay the same, by which a later photograph is brought to its light and by
// which drift is seen. All are linear RGB in the fit's own space, 1 at full scale,
// under the light at one place; nil when the thing was not in the picture. A Setup
// is never changed: a new one is kept beside it.
type Setup struct {
	ID       int64
	Name     string
	Camera   string // as the photograph's file says; empty when it does not
	Lamp     string // in the person's words
	Kind     SetupKind
	Target   string    // which target and edition; empty for a grey card
	Photo    int64     // 0 when the photograph is gone for good
	Taken    time.Time // when that photograph was taken
	Made     time.Time // when it was kept
	Fit      string
	Method   string      // the fit's, in words
	LOOMean  float64     // dE00 of patches left out of the fit; 0 for a grey card
	LOOP95   float64     // the same, for the worst in twenty
	White    *[3]float64 // the mat's white border
	Grey     *[3]float64 // a grey card
	Greys    *[3]float64 // the target's grey patches, their geometric mean
	BinnedAt time.Time
}

// Check reports a Problem when s cannot be kept.
func (s Setup) Check() error {
	if err := checkName(s.Name, "setupname"); err != nil {
		return err
	}
	if strings.TrimSpace(s.Lamp) == "" || len(s.Lamp) > 200 {
		return Problemf(Invalid, "lamp", "Say in a few words which lamp or window lit the photograph, like 'two desk lamps, 4000 K': by it you will know it again.")
	}
	if s.Kind != ByTarget && s.Kind != ByGrey {
		return Problemf(Invalid, "kind", "A setup is kept by a colour target or a grey card, not by %q.", string(s.Kind))
	}
	if s.Fit == "" || s.Taken.IsZero() {
		return Problemf(Invalid, "fit", "A setup needs the correction read from its photograph. Measure the photograph with its target or grey card first.")
	}
	for _, v := range []float64{s.LOOMean, s.LOOP95} {
		if !(v >= 0 && v <= 200) {
			return Problemf(Invalid, "fit", "An error of %v ΔE00 can't be right for a correction.", v)
		}
	}
	n := 0
	for _, rgb := range []*[3]float64{s.White, s.Grey, s.Greys} {
		if rgb == nil {
			continue
		}
		n++
		for _, v := range rgb {
			if !(v > 0 && v <= 16) {
				return Problemf(Invalid, "fit", "A white or grey that reads %v of full light can't be used.", v)
			}
		}
	}
	if n == 0 {
		return Problemf(Invalid, "fit", "A setup needs something by which later photographs can be brought to the same light: the mat's white border, a grey card or the target's greys.")
	}
	return nil
}

// A TargetFile is the published or measured colours of a person's own 24-patch
// target, as the CGATS text they gave.
type TargetFile struct {
	ID       int64
	Name     string
	Text     string
	Added    time.Time
	BinnedAt time.Time
}

// Check reports a Problem when f cannot be kept. Whether its text holds a target
// is science/target's to say.
func (f TargetFile) Check() error {
	if err := checkName(f.Name, "targetname"); err != nil {
		return err
	}
	if f.Text == "" {
		return Problemf(Invalid, "file", "The file is empty. Choose the text file with the target's values.")
	}
	return nil
}

// RulerLineMM is how long the line on the mat is when it was printed at 100 %.
const RulerLineMM = 100.0

// The lengths of that line, in mm, that a print may be used with. Common
// practice, no source: beyond them a print was fitted to its page.
const (
	ShortestRulerMM = 98.0
	LongestRulerMM  = 102.0
)

// CheckRuler reports a Problem when a print whose line measures mm can't be used.
func CheckRuler(mm float64) error {
	if mm >= ShortestRulerMM && mm <= LongestRulerMM {
		return nil
	}
	if math.IsNaN(mm) || mm < 20 || mm > 300 {
		return Problemf(Invalid, "ruler", "The line can't measure %.4g mm; write what a ruler shows in millimetres, like 99.5.", mm)
	}
	return Problemf(Invalid, "ruler", "A line of %.4g mm is too far from %.0f: the print was made larger or smaller, and its marks with it. Print the mat again at 100 %%, with 'fit to page' and 'scale to paper' off; %.0f to %.0f mm can be used.", mm, RulerLineMM, ShortestRulerMM, LongestRulerMM)
}

// A MatPrint is one print of the photo mat with its line measured by a ruler.
// A print measured again is kept again; the later one counts.
type MatPrint struct {
	ID       int64
	Paper    string    // "A4" or "Letter"
	Swatches int       // 1 or 2
	Printed  time.Time // the day that stands on the print
	RulerMM  float64
	Measured time.Time
}

// Check reports a Problem when p cannot be kept.
func (p MatPrint) Check() error {
	if p.Paper != "A4" && p.Paper != "Letter" || p.Swatches != 1 && p.Swatches != 2 {
		return Problemf(Invalid, "mat", "Say which mat it is: for one or two swatches, on A4 or Letter.")
	}
	if p.Printed.IsZero() {
		return Problemf(Invalid, "printed", "Write the day that stands on the print, beside its title.")
	}
	return CheckRuler(p.RulerMM)
}

// PrintFor returns the print that a photograph taken at a time was most likely
// made on: of those of that paper and kind printed by then, the latest, and of
// several measurements of it the last. ok is false when none was measured.
func PrintFor(prints []MatPrint, paper string, swatches int, taken time.Time) (p MatPrint, ok bool) {
	for _, x := range prints {
		if x.Paper != paper || x.Swatches != swatches || x.Printed.After(taken) {
			continue
		}
		if !ok || x.Printed.After(p.Printed) || x.Printed.Equal(p.Printed) && x.ID > p.ID {
			p, ok = x, true
		}
	}
	return p, ok
}
