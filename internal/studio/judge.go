package studio

import (
	"math"
	"slices"
	"time"

	"aerugo/internal/science/colour"
)

// The classes a place of a face can be painted as. Patina is any of the last
// four, left to the fixed limits of hue.
const (
	ClassBare   = "bare"
	ClassPatina = "patina"
	ClassBrown  = "brown"
	ClassGreen  = "green"
	ClassBlue   = "blue"
	ClassViolet = "violet-dark"
)

// PaintClasses lists the classes that can be painted, in the order shown.
var PaintClasses = []string{ClassBare, ClassPatina, ClassBrown, ClassGreen, ClassBlue, ClassViolet}

// A Spread is a covariance in CIELAB: LL, La, Lb, aa, ab, bb, in squared units.
type Spread [6]float64

// A BareReference is what a metal lot looks like bare: the mean colour of a
// photograph's bare area, and its spread. It is never changed; another is kept
// beside it.
type BareReference struct {
	ID        int64
	Metal     int64
	Photo     int64  // 0 when the photograph is gone
	Of        string // the photograph in words
	Method    string
	Made      time.Time
	Lab       colour.Lab // D50, of the mean light
	Cov       Spread
	N         int     // places read
	SpreadDE  float64 // dE00 from Lab that holds 95 % of the places
	Corrected string  // how the photograph's colours were set right
	Whole     bool    // the whole face was bare, not a marked spot
}

// A Stroke is one pull of the brush over a face: points in mm from the face's top
// left corner, and the brush's radius in mm.
type Stroke struct {
	Class    string
	Points   []Point
	RadiusMM float64
}

// Limits of what can be painted on one photograph.
const (
	mostStrokes = 200
	mostPoints  = 20000
)

// CheckStrokes reports a Problem when strokes cannot be kept.
func CheckStrokes(strokes []Stroke) error {
	if len(strokes) > mostStrokes {
		return Problemf(Invalid, "strokes", "%d strokes are too many; %d are the most. Undo some, or start again with a larger brush.", len(strokes), mostStrokes)
	}
	points := 0
	for i, s := range strokes {
		if !slices.Contains(PaintClasses, s.Class) {
			return Problemf(Invalid, "strokes", "Stroke %d is painted as %q; choose bare, patina, brown, green, blue or violet-dark.", i+1, s.Class)
		}
		if !(s.RadiusMM > 0 && s.RadiusMM <= 500) {
			return Problemf(Invalid, "strokes", "Stroke %d has a brush of radius %v mm; choose one above 0 and up to 500 mm.", i+1, s.RadiusMM)
		}
		if len(s.Points) == 0 {
			return Problemf(Invalid, "strokes", "Stroke %d has no place on the face; paint it again.", i+1)
		}
		for _, p := range s.Points {
			if !(math.Abs(p.X) <= 10000 && math.Abs(p.Y) <= 10000) {
				return Problemf(Invalid, "strokes", "Stroke %d reaches to %v, %v mm, which is on no swatch; paint it again.", i+1, p.X, p.Y)
			}
		}
		points += len(s.Points)
	}
	if points > mostPoints {
		return Problemf(Invalid, "strokes", "The strokes have %d points; %d are the most. Undo some, or use a larger brush.", points, mostPoints)
	}
	return nil
}

// A Painting is the strokes painted on one photograph, with the rule trained from
// them. It is never changed; the newest counts.
type Painting struct {
	ID      int64
	Photo   int64 // 0 when the photograph is gone
	Of      string
	Made    time.Time
	Strokes []Stroke
	Rule    TrainedRule
}

// A ColourGroup is the colours of one class: their mean in CIELAB (D50), their
// covariance, and from how many places.
type ColourGroup struct {
	Class     string
	Reference bool // from the metal's bare reference, not painted
	N         int
	Lab       colour.Lab
	Cov       Spread
}

// ClassError is the share of one class's examples that a rule trained without
// them told wrong.
type ClassError struct {
	Class string
	N     int
	Wrong float64
}

// A TrainedRule tells the classes apart by regularised discriminant analysis in
// CIELAB. Lambda draws each class's spread to the common one, Gamma to a ball.
// Wrong is the mean over classes of the errors on examples left out patch by
// patch, WrongStroke by whole strokes, and -1 when no class has two.
type TrainedRule struct {
	Of          string // whose examples, in words
	Reference   string // which bare reference went in; empty for none
	Groups      []ColourGroup
	Lambda      float64
	Gamma       float64
	Patches     int
	Wrong       float64
	WrongStroke float64
	Errors      []ClassError
	Calibrated  bool // the painted photograph had a grey card or a colour target
}

// A SetJudge says by what the photographs of a set are judged: the bare
// reference, and the painted examples if they are used for the whole set. The
// newest counts. Ids are 0 for none.
type SetJudge struct {
	ID        int64
	Set       int64
	Made      time.Time
	Reference int64
	Painting  int64
}

// A GrainReading is what was counted on a salted face.
type GrainReading struct {
	ID           int64
	Photo        int64
	Method       string
	Made         time.Time
	Marks        Marks
	Count        int
	Low, High    float64 // 95 %
	CoveredShare float64
	ReadShare    float64
	PerCM2       float64
	PerCM2Read   float64
	TypicalMM    float64
	Clumped      int
	ShineShare   float64
	Rule         string
	Warnings     []string
}

// A WeighedSalt is a salted face whose salt was weighed: the reference by which
// other faces' grains become a loading. MassG lay on AreaCM2; SDG is the spread
// of the weighing in grams.
type WeighedSalt struct {
	ID           int64
	Photo        int64 // 0 when the photograph is gone
	Of           string
	Material     string
	Made         time.Time
	MassG        float64
	SDG          float64
	AreaCM2      float64
	Count        int
	CoveredShare float64
	PerCM2       float64
}

// Check reports a Problem when w's weighing cannot be kept.
func (w WeighedSalt) Check() error {
	if !(w.MassG > 0 && w.MassG <= 1000) {
		return Problemf(Invalid, "mass", "A weight of %v g can't be right; write what the salt weighed, more than 0 and up to 1000 g.", w.MassG)
	}
	if !(w.SDG >= 0 && w.SDG <= w.MassG) {
		return Problemf(Invalid, "sd", "The weighing can't be good to %v g of %v g; write what the balance shows, from 0 up to the weight.", w.SDG, w.MassG)
	}
	if !(w.AreaCM2 > 0 && w.AreaCM2 <= 10000) {
		return Problemf(Invalid, "area", "An area of %v cm² can't be right; write the area the salt lay on, more than 0 and up to 10000 cm².", w.AreaCM2)
	}
	if w.Count < 1 || !(w.CoveredShare > 0 && w.CoveredShare <= 1) || !(w.PerCM2 >= 0) {
		return Problemf(Invalid, "mass", "The weighed face needs the count of its grains; count its photograph first.")
	}
	return nil
}

// GramPerM2 returns what was weighed, over its area, and its spread.
func (w WeighedSalt) GramPerM2() (loading, sd float64) {
	return w.MassG / w.AreaCM2 * 1e4, w.SDG / w.AreaCM2 * 1e4
}
