package studio

import (
	"math"
	"strings"
	"time"
)

// A Metal is one lot of sheet the swatches are cut from.
//
// Alloy is a UNS number known to matter ("C26000") or empty; ThicknessMM is the
// real thickness; GaugeWords keeps the seller's own words ("24 gauge").
type Metal struct {
	ID          int64
	Name        string
	Alloy       string
	Temper      string
	ThicknessMM float64
	GaugeWords  string
	Lot         string
	Note        string
	Invented    bool // part of the example data
	BinnedAt    time.Time
}

// Check reports a Problem when m cannot be kept.
func (m Metal) Check() error {
	if err := checkName(m.Name, "name"); err != nil {
		return err
	}
	if !(m.ThicknessMM > 0 && m.ThicknessMM <= 50) {
		return Problemf(Invalid, "thickness", "A sheet %v mm thick can't be right; write the thickness in mm, from 0.01 to 50.", m.ThicknessMM)
	}
	return nil
}

// StrengthUnit is how a supply's strength is written on its bottle.
type StrengthUnit string

// The strength units.
const (
	WtPercent    StrengthUnit = "wt%"
	VolPercent   StrengthUnit = "vol%"
	GramPerLitre StrengthUnit = "g/L"
	Pure         StrengthUnit = "pure" // a solid or an undiluted liquid
)

// StrengthUnits lists the strength units in the order shown.
var StrengthUnits = []StrengthUnit{WtPercent, VolPercent, GramPerLitre, Pure}

// A Supply is one bottle or bag: a material of a strength, from a lot.
//
// Material is a matter key ("ammonia-water"). Strength is in StrengthUnit and is
// 0 when nobody knows it, which is said wherever it matters.
type Supply struct {
	ID           int64
	Name         string
	Material     string
	Strength     float64
	StrengthUnit StrengthUnit
	Lot          string
	Opened       time.Time // day; zero if not opened or not known
	Expires      time.Time // day; zero if not known
	Note         string
	Invented     bool
	BinnedAt     time.Time
}

// WtPercent returns the strength in percent by mass, or 0 when it is unknown or
// written in a unit that needs a density to convert.
func (s Supply) WtPercent() float64 {
	switch s.StrengthUnit {
	case WtPercent:
		return s.Strength
	case Pure:
		return 100
	}
	return 0
}

// Check reports a Problem when s cannot be kept.
func (s Supply) Check() error {
	if err := checkName(s.Name, "name"); err != nil {
		return err
	}
	if s.Material == "" {
		return Problemf(Invalid, "material", "Say what %s is, so that its cautions can be shown.", s.Name)
	}
	top := 100.0
	if s.StrengthUnit == GramPerLitre {
		top = 2000
	}
	if math.IsNaN(s.Strength) || s.Strength < 0 || s.Strength > top {
		return Problemf(Invalid, "strength", "A strength of %v %s can't be right; write a number from 0 to %v, or leave it empty if the label does not say.", s.Strength, s.StrengthUnit, top)
	}
	switch s.StrengthUnit {
	case WtPercent, VolPercent, GramPerLitre, Pure:
	default:
		return Problemf(Invalid, "strengthunit", "%q is not a strength unit used here; choose wt%%, vol%%, g/L or pure.", string(s.StrengthUnit))
	}
	return nil
}

// A Chamber is a closed box for fuming.
//
// VolumeL is its inner volume in litres, PadML what the pad holds in mL, GapMM
// the distance from pad to piece in mm, TiltDeg the slope of its floor in
// degrees, Places how many swatches fit. LeakPerH is how often an hour its air is
// changed through the seams, and OpenLoss which fraction of it a lifted lid lets
// go; 0 means that nobody knows, as no lid is tight.
type Chamber struct {
	ID       int64
	Name     string
	VolumeL  float64
	Pad      string
	PadML    float64
	GapMM    float64
	TiltDeg  float64
	Places   int
	LeakPerH float64
	OpenLoss float64
	RoomID   int64 // 0: not said where it stands
	// LengthMM, WidthMM and HeightMM are the free room inside, over the pad; 0: not said.
	LengthMM float64
	WidthMM  float64
	HeightMM float64
	Note     string
	Invented bool
	BinnedAt time.Time
}

// Check reports a Problem when c cannot be kept.
func (c Chamber) Check() error {
	if err := checkName(c.Name, "name"); err != nil {
		return err
	}
	for _, v := range []bounds{
		{"volume", "volume", c.VolumeL, 0.1, 5000, "litres"},
		{"padml", "pad's solution", c.PadML, 0, 100000, "mL"},
		{"gap", "gap from pad to piece", c.GapMM, 0, 2000, "mm"},
		{"tilt", "floor tilt", c.TiltDeg, 0, 45, "degrees"},
		{"places", "number of places", float64(c.Places), 1, 500, "swatches"},
		{"leak", "number of air changes through the seams", c.LeakPerH, 0, 20, "an hour"},
		{"innerlength", "inner length", c.LengthMM, 0, 10000, "mm"},
		{"innerwidth", "inner width", c.WidthMM, 0, 10000, "mm"},
		{"innerheight", "inner height", c.HeightMM, 0, 10000, "mm"},
		{"openloss", "share of the air that a lifted lid lets go", c.OpenLoss, 0, 1, "(1 is all of it)"},
	} {
		if err := v.check(); err != nil {
			return err
		}
	}
	return nil
}

// checkName reports a Problem when a name is empty or too long.
func checkName(name, field string) error {
	if strings.TrimSpace(name) == "" {
		return Problemf(Invalid, field, "Give it a name, so that it can be found again.")
	}
	if len([]rune(name)) > 120 {
		return Problemf(Invalid, field, "That name has %d letters; 120 are the most.", len([]rune(name)))
	}
	return nil
}
