package learn

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// Confidence of every interval.
const Confidence = 0.95

// A Finding is what a set's swatches say, for a chart with its sentence above.
//
// Title is one sentence: what changed and how sure, or that these swatches can't
// tell. Sure says whether it states a difference. Effects holds one effect for a
// ladder of numbers, one for each pair of levels otherwise, and for a grid those
// of each factor; the one the title speaks of comes first.
type Finding struct {
	Title   string
	Sure    bool
	Effects []Effect
	Series  []Series
	Notes   []string
	Table   Table
	LeftOut int // points left out of every difference: no grey patch
}

// A Change is a difference and its 95 % interval. Sure is stricter: it allows
// for several channels and pairs being looked at, so that all of them together
// raise a false alarm in at most 5 of 100 sets in which nothing happened.
type Change struct {
	Name      string
	Value     float64
	Low, High float64
	Sure      bool
}

// An Effect is the difference between two levels of a factor, To less From.
//
// DE is the CIEDE2000 difference of the mean looks. Interval is false when there
// are too few replicates for any interval; then the Low and High here and in the
// changes mean nothing. Sure is set when the interval of DE leaves 0 out and at
// least one of the changes is sure. AveragedOver names the factors of a grid the
// effect is averaged over. Coverage is nil when not known, else a fraction.
type Effect struct {
	Factor       string
	From, To     string
	DE           float64
	Low, High    float64
	Interval     bool
	Sure         bool
	Changes      [channels]Change // L*, a*, b*
	FromLook     colour.Lab       // mean looks of the two levels
	ToLook       colour.Lab
	Coverage     *Change
	Direction    string // "bluer and darker"; empty when not sure
	N            int    // swatches behind it
	AveragedOver []string
	Sentence     string
}

// A Series is one quantity along the levels.
type Series struct {
	Name    string // "L*", "a*", "b*", "coverage"
	Factor  string
	Numeric bool // X is a number in Unit, else a place in the list
	Unit    string
	Levels  []LevelMean
	Slope   *Change // per unit of X; nil when there are no numbers or too few swatches
}

// A LevelMean is the mean over the swatches of one level and its 95 % interval.
type LevelMean struct {
	Level     string
	X         float64
	N         int
	Mean      float64
	Low, High float64
	Interval  bool // false when there are too few swatches for an interval
}

// A Table is the same data in rows.
type Table struct {
	Columns []string
	Rows    [][]string
}

// Find reads a ladder or a grid, whichever the set is. Loose swatches have no
// factor; they are compared one by one.
func Find(set studio.Set, points []Point) Finding {
	switch len(set.Factors) {
	case 0:
		return Finding{Title: "Nothing was varied on purpose in this set, so there is no effect to look for; compare its swatches one by one.", Table: table(points)}
	case 1:
		return LadderPlot(set, points)
	}
	return GridPlot(set, points)
}

// split parts the points that may be compared from those that may not.
func split(set studio.Set, points []Point) (used []Point, leftOut int, notes []string) {
	fronts := 0
	for _, p := range points {
		if p.Face == studio.Front {
			fronts++
		}
	}
	backs := 0
	for _, p := range points {
		switch {
		case !set.SameFaces && p.Face == studio.Back && fronts > 0:
			backs++
		case !p.Calibrated:
			leftOut++
		default:
			used = append(used, p)
		}
	}
	if backs > 0 {
		notes = append(notes, fmt.Sprintf("%s of backs %s not counted here: the two faces were treated apart.", count(backs, "look"), isAre(backs)))
	}
	if leftOut > 0 {
		notes = append(notes, fmt.Sprintf("%s without a grey patch %s left out of every difference: %s colours depend on the lamp and the camera.", count(leftOut, "photograph"), isAre(leftOut), itsTheir(leftOut)))
	}
	return used, leftOut, notes
}

// table returns the points as rows, those left out marked.
func table(points []Point) Table {
	t := Table{Columns: []string{"Level", "Swatch", "Face", "Replicate", "L*", "a*", "b*", "Spread over the face", "Coverage", "Counted"}}
	for _, p := range points {
		level := p.Level
		if len(p.Settings) > 1 {
			var all []string
			for _, s := range p.Settings {
				all = append(all, s.Level.Label)
			}
			level = strings.Join(all, " · ")
		}
		cover := "not known"
		if p.Coverage != nil {
			cover = fmt.Sprintf("%s (%s to %s)", percent(p.Coverage.Value), percent(p.Coverage.Low), percent(p.Coverage.High))
		}
		counted := "yes"
		if !p.Calibrated {
			counted = "no grey patch: left out"
		}
		t.Rows = append(t.Rows, []string{
			level, strconv.FormatInt(p.Swatch, 10), string(p.Face), strconv.Itoa(p.Replicate),
			one(p.Lab.L), one(p.Lab.A), one(p.Lab.B), one(p.SD), cover, counted,
		})
	}
	return t
}

// one writes v with one decimal and a true minus sign.
func one(v float64) string {
	v = math.Round(v*10) / 10
	if v == 0 {
		v = 0 // no minus before nought
	}
	return strings.Replace(strconv.FormatFloat(v, 'f', 1, 64), "-", "−", 1)
}

func percent(f float64) string { return strconv.FormatFloat(math.Round(f*100), 'f', 0, 64) + " %" }

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return strconv.Itoa(n) + " " + what + "s"
}

func isAre(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}

func itsTheir(n int) string {
	if n == 1 {
		return "its"
	}
	return "their"
}
