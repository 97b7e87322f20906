// Package learn turns looks into sentences: what changed along a ladder or in a
// grid, by how much, and how sure that is.
//
//	Points          looks and treatments -> points
//	Find            points -> Finding (LadderPlot, GridPlot)
//	Rows            looks, treatments, runs, hours -> rows
//	Explain         rows -> claims on every factor at once, with warnings
//	CompareClocks   rows -> which hours count
//	ExplainTimes    what was watched -> how much longer it takes
//	Grow, StopAt    looks after hours -> onset, half-time, plateau; when to stop
//	Compare         looks side by side
//	Sort            the wall, by hue, lightness, metal and so on
//
// A swatch, not a face or a photograph, is what counts as one: two faces of one
// swatch went through the same hands and fumes. Photographs without a grey patch
// show the look but are left out of every difference.
package learn

import (
	"sort"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// A Point is the look of one face at one level.
//
// X places a level on the axis: its number, or its place in the list (from 0)
// where levels are no numbers. Settings holds the levels of every factor, for a
// grid. SD is the spread over the face. Coverage is nil when not known.
type Point struct {
	X          float64
	Level      string
	Settings   []studio.Setting
	Swatch     int64
	Face       studio.Face
	Replicate  int
	Photo      int64
	Lab        colour.Lab
	SD         float64
	Coverage   *studio.Coverage
	Calibrated bool
}

// Points joins the looks of a set's finished faces to what was varied on them.
// Faces on which nothing was varied, blanks and unfinished ones give no point.
func Points(set studio.Set, treatments []studio.Treatment, looks []studio.Look) []Point {
	var ps []Point
	for _, l := range looks {
		if l.Measurement == nil || l.Moment != studio.Finished {
			continue
		}
		t := varied(set, treatments, l)
		if t == nil {
			continue
		}
		p := Point{
			Settings: t.Settings, Swatch: l.Swatch, Face: l.Face, Replicate: t.Replicate, Photo: l.Photo,
			Lab: l.Measurement.Lab, SD: l.Measurement.SD, Coverage: l.Measurement.Coverage, Calibrated: l.Measurement.Calibrated,
		}
		if len(set.Factors) > 0 {
			if i, ok := levelOf(set.Factors[0], t.Settings); ok {
				p.Level, p.X = set.Factors[0].Levels[i].Label, place(set.Factors[0], i)
			}
		}
		ps = append(ps, p)
	}
	sort.SliceStable(ps, func(i, j int) bool {
		if ps[i].X != ps[j].X {
			return ps[i].X < ps[j].X
		}
		if ps[i].Swatch != ps[j].Swatch {
			return ps[i].Swatch < ps[j].Swatch
		}
		return ps[i].Face == studio.Front && ps[j].Face != studio.Front
	})
	return ps
}

// varied returns the treatment on a look's face that carries settings, the
// uppermost if there are several, or nil.
func varied(set studio.Set, treatments []studio.Treatment, l studio.Look) *studio.Treatment {
	var top *studio.Treatment
	for i := range treatments {
		t := &treatments[i]
		if t.SetID == set.ID && t.Swatch == l.Swatch && t.Faces.Has(l.Face) && len(t.Settings) > 0 && (top == nil || t.Layer > top.Layer) {
			top = t
		}
	}
	return top
}

// levelOf returns which level of f the settings name.
func levelOf(f studio.Factor, settings []studio.Setting) (int, bool) {
	for _, s := range settings {
		if s.Factor != f.Name {
			continue
		}
		for i, l := range f.Levels {
			if l == s.Level || l.Label == s.Level.Label {
				return i, true
			}
		}
	}
	return 0, false
}

// place returns where the i-th level of f stands on the axis.
func place(f studio.Factor, i int) float64 {
	if f.Kind.Numeric() {
		return f.Levels[i].Number
	}
	return float64(i)
}

// A unit is one swatch as it counts: the mean of its faces and photographs.
type unit struct {
	swatch   int64
	values   [channels]float64
	covered  float64
	hasCover bool
}

// units makes one unit of the points of each swatch.
func units(ps []Point) []unit {
	at := map[int64]int{}
	var us []unit
	var n, nCover []float64
	for _, p := range ps {
		i, ok := at[p.Swatch]
		if !ok {
			i = len(us)
			at[p.Swatch] = i
			us, n, nCover = append(us, unit{swatch: p.Swatch}), append(n, 0), append(nCover, 0)
		}
		for c, v := range values(p.Lab) {
			us[i].values[c] += v
		}
		n[i]++
		if p.Coverage != nil {
			us[i].covered += p.Coverage.Value
			nCover[i]++
		}
	}
	for i := range us {
		for c := range us[i].values {
			us[i].values[c] /= n[i]
		}
		if nCover[i] > 0 {
			us[i].covered /= nCover[i]
			us[i].hasCover = true
		}
	}
	return us
}

// channels counts L*, a* and b*.
const channels = 3

var channelNames = [channels]string{"L*", "a*", "b*"}

func values(l colour.Lab) [channels]float64 { return [channels]float64{l.L, l.A, l.B} }

func lab(v [channels]float64) colour.Lab { return colour.Lab{L: v[0], A: v[1], B: v[2]} }
