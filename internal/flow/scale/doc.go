// Package scale carries a recipe from the swatch it was tried on to a real
// piece: how much of everything it takes, and what is no longer the same because
// the piece is larger, thicker, not flat or stands in another chamber.
//
//	Reckon          a piece, its recipe and its chamber -> [Takes]
//	Takes.StepsFor  the recipe's steps as they are to be done on the piece
//
// A recipe's loadings stay what they are; their amounts go with the area. In the
// chamber what is held is the mean pressure of the ammonia over the stay and the
// time that the face is wet. For the swatch itself in its own chamber everything
// comes back as it was.
package scale

import (
	"fmt"
	"math"
	"strings"

	"aerugo/internal/flow/form"
	"aerugo/internal/flow/fume"
	"aerugo/internal/science/film"
	"aerugo/internal/studio"
)

// Span, Assumption and Bench are those of the packages below, so that a page
// needs no second word for them.
type (
	Span       = film.Span
	Assumption = film.Assumption
	Bench      = fume.Bench
)

// What is taken where nothing is known, and what bounds the work.
const (
	// usualSideMM is the side of the swatch that a recipe counts as tried on when
	// nobody says (common practice, no source).
	usualSideMM = 50.0
	// DefaultSpare is the share that is made besides what is reckoned.
	DefaultSpare = 0.15
	// mostPieces and mostFaceM2 are the most that is reckoned at once.
	mostPieces = 500
	mostFaceM2 = 10.0
)

// A Part is one treatment of the piece: its steps and the faces it touches, the
// outside as the front. Swatch is what the recipe was tried on; the zero one is
// assumed.
type Part struct {
	Name   string
	Faces  studio.Faces
	Steps  []studio.Step
	Swatch studio.Swatch
}

// A Hand is one step that was done by hand and how long it took, in minutes.
type Hand struct {
	Kind    studio.StepKind
	AreaM2  float64
	Minutes float64
}

// An Ask is what to make, where and of what.
//
// Count is the number of pieces, 1 to 500. Together is how many go into the
// chamber at once, 0 for as many as fit. From is the chamber that the recipe was
// tried in and To the one for the piece; a chamber of ID 0 is not known, and the
// usual one is assumed. Room is where To stands, the zero one not known. TempC is
// the room's, ColderC how much colder than it the metal goes in; nil where nobody
// read them. Spare is a share, 0 to 1; negative for the usual. Lie is how the
// piece's faces lie, from a drawing or model; nil where it isn't known.
type Ask struct {
	Form     studio.Form
	Count    int
	Together int
	Parts    []Part
	Metal    studio.Metal // zero: not said
	Tried    studio.Metal // what the swatch was cut from; zero: not said
	From, To Bench
	Room     studio.Room
	Open     bool // lids are lifted outdoors or under a hood, whatever the room has
	TempC    *float64
	ColderC  *float64
	Spare    float64
	Hands    []Hand
	Supplies []studio.Supply
	Lie      *Lie
	Upright  bool // this recipe was done on an upright or curved face before
}

// A Lie is how the faces of a piece lie as it stands in the chamber.
type Lie struct {
	Slopes form.Slopes
	Ponds  []form.Pond
}

// Takes is the answer. Wants are what a person should try first, Doubts what
// nobody can promise.
type Takes struct {
	Ask
	PieceM2  [2]float64 // of one piece, outside and inside
	Lines    []Line
	Stock    []Stock
	Hand     []HandLine
	Hands    Span // minutes, all pieces
	Waits    float64
	Full     Full
	Stays    []Stay
	Warm     *Warming
	Lying    []Lying
	Safe     Safety
	Doubts   []Doubt
	Wants    []Trial
	Assumed  []Assumption
	Cautions []string
}

// Check reports a Problem when a can't be reckoned.
func (a Ask) Check() error {
	bad := func(field, format string, args ...any) error {
		return studio.Problemf(studio.Invalid, field, format, args...)
	}
	switch {
	case a.Count < 1 || a.Count > mostPieces:
		return bad("count", "%d pieces can't be reckoned; write a number from 1 to %d.", a.Count, mostPieces)
	case a.Together < 0 || a.Together > a.Count:
		return bad("together", "%d at once can't be; write 1 to %d, or leave it empty for as many as fit.", a.Together, a.Count)
	case len(a.Parts) == 0:
		return bad("recipe", "No recipe was chosen; choose one for the outside, the inside or both.")
	case math.IsNaN(a.Spare) || a.Spare > 1:
		return bad("spare", "A spare of %.4g %% can't be right; write 0 to 100.", 100*a.Spare)
	case a.TempC != nil && !(*a.TempC >= 0 && *a.TempC <= 40):
		return bad("temp", "A room of %.4g °C can't be reckoned; write 0 to 40.", *a.TempC)
	case a.ColderC != nil && !(*a.ColderC >= 0 && *a.ColderC <= 40):
		return bad("colder", "Metal %.4g °C colder than the chamber can't be reckoned; write 0 to 40.", *a.ColderC)
	}
	if err := a.Form.Check(); err != nil {
		return err
	}
	for _, p := range a.Parts {
		if len(p.Steps) == 0 {
			return bad("recipe", "The recipe %q has no steps; write them first.", p.Name)
		}
		for i, s := range p.Steps {
			if err := s.Check(i + 1); err != nil {
				return err
			}
			if err := p.perArea(s).Check("recipe"); err != nil {
				return bad("recipe", "Step %d puts %v on a swatch of %s, more to the square metre than can be right; look at the amount and at the swatch's size.", i+1, s.Amount, Area(p.size().AreaM2()))
			}
		}
		if m2 := a.faceM2(p.Faces); m2 == 0 {
			return bad("outside", "%s is to be treated, but that side of the piece has no area; write its sizes.", capital(sideWords(p.Faces)))
		}
	}
	for _, mm2 := range []float64{a.Form.OutsideMM2, a.Form.InsideMM2} {
		if n := float64(max(a.Together, 1)); mm2*1e-6*n > mostFaceM2 {
			return bad("count", "%.3g m² of one face in a chamber at once can't be reckoned; %g m² is the most. Put in fewer.", mm2*1e-6*n, mostFaceM2)
		}
	}
	return nil
}

// faceM2 is the area that some faces of one piece have.
func (a Ask) faceM2(f studio.Faces) float64 {
	return studio.Swatch{OutsideMM2: a.Form.OutsideMM2, InsideMM2: a.Form.InsideMM2}.FacesM2(f)
}

// tried is the swatch of a part, and whether it had to be assumed.
func (p Part) tried() (studio.Swatch, bool) {
	if p.Swatch.FaceM2(studio.Front) > 0 {
		return p.Swatch, false
	}
	return studio.Swatch{WidthMM: usualSideMM, HeightMM: usualSideMM}, true
}

func (p Part) size() studio.Swatch {
	x, _ := p.tried()
	return x
}

// perArea is an amount as a loading: grams or millilitres said for a swatch go by
// the face they were put on.
func (p Part) perArea(s studio.Step) studio.Amount {
	a := s.Amount
	if a.Unit.PerArea() || a.IsZero() {
		return a
	}
	x, _ := p.tried()
	m2 := x.AreaM2()
	a.Value, a.SD = a.Value/m2, a.SD/m2
	if a.Unit == studio.Millilitre {
		a.Unit = studio.MLPerM2
	} else {
		a.Unit = studio.GramPerM2
	}
	return a
}

// on is the faces that a step of the part touches.
func (p Part) on(s studio.Step) studio.Faces {
	if s.Faces != "" && p.Faces == studio.OnBoth {
		return s.Faces
	}
	return p.Faces
}

// Reckon works out what a piece takes.
func Reckon(a Ask) (Takes, error) {
	if a.Spare < 0 {
		a.Spare = DefaultSpare
	}
	if err := a.Check(); err != nil {
		return Takes{}, err
	}
	t := Takes{Ask: a, PieceM2: [2]float64{a.Form.OutsideMM2 * 1e-6, a.Form.InsideMM2 * 1e-6}}
	for _, p := range a.Parts {
		if _, assumed := p.tried(); assumed {
			t.assume("the swatch that "+named(p.Name)+" was tried on", fmt.Sprintf("%.0f × %.0f mm", usualSideMM, usualSideMM))
		}
	}
	t.fill()
	t.take()
	t.stock()
	t.hands()
	if err := t.fume(); err != nil {
		return Takes{}, err
	}
	t.warm()
	t.lie()
	t.safety()
	t.doubt()
	return t, nil
}

func (t *Takes) assume(what, value string) {
	for _, x := range t.Assumed {
		if x.What == what && x.Value == value {
			return
		}
	}
	t.Assumed = append(t.Assumed, Assumption{What: what, Value: value, Source: film.NoSource})
}

func (t *Takes) caution(text string) {
	for _, x := range t.Cautions {
		if x == text {
			return
		}
	}
	t.Cautions = append(t.Cautions, text)
}

func named(recipe string) string {
	if recipe == "" {
		return "the recipe"
	}
	return recipe
}

func sideWords(f studio.Faces) string {
	switch f {
	case studio.OnFront:
		return "the outside"
	case studio.OnBack:
		return "the inside"
	}
	return "outside and inside"
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
