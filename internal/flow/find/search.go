package find

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// An Entry is one swatch as it is looked for by words.
type Entry struct {
	Swatch int64
	Set    int64
	Fields []Field
}

// A Field is one thing that is known of a swatch, as "recipe" or "place".
type Field struct{ Name, Text string }

// A Hit is a swatch that fits, and why, in words.
type Hit struct {
	Swatch   int64
	Face     studio.Face // empty: either
	Why      string
	Distance float64 // of a look: ΔE00, without what was added for coverage and shine
}

// Words returns the swatches in which every word stands somewhere, those where whole
// words fit first, then by number.
func Words(entries []Entry, words []string) []Hit {
	type found struct {
		Hit
		score int
	}
	var all []found
	lower := make([]string, len(words))
	for i, w := range words {
		lower[i] = strings.ToLower(w)
	}
	for _, e := range entries {
		var why []string
		score := 0
		for _, w := range lower {
			best, in := 0, ""
			for _, f := range e.Fields {
				text := strings.ToLower(f.Text)
				at := strings.Index(text, w)
				if at < 0 {
					continue
				}
				got := 1
				if at == 0 || !letter(text[at-1]) {
					got = 2
					if end := at + len(w); end == len(text) || !letter(text[end]) {
						got = 3
					}
				}
				if got > best {
					best, in = got, f.Name
				}
			}
			if best == 0 {
				score = 0
				break
			}
			score += best
			if !slices.Contains(why, in) {
				why = append(why, in)
			}
		}
		if score > 0 {
			all = append(all, found{Hit{Swatch: e.Swatch, Why: "in its " + strings.Join(why, ", ")}, score})
		}
	}
	slices.SortFunc(all, func(a, b found) int {
		return cmp.Or(cmp.Compare(b.score, a.score), cmp.Compare(a.Swatch, b.Swatch))
	})
	out := make([]Hit, len(all))
	for i, f := range all {
		out[i] = f.Hit
	}
	return out
}

// letter reports whether c is of a word; a byte above ASCII is.
func letter(c byte) bool {
	return c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || c >= 0x80
}

// A Face is what is measured of one face.
type Face struct {
	Swatch   int64
	Face     studio.Face
	Lab      colour.Lab
	Name     string
	Coverage float64 // a fraction; below 0 when not known
	Glare    float64 // a fraction of its photograph
}

// How much is added for a look that is another in coverage or shine, in ΔE00, so that
// a close colour with the wrong coverage still comes, but later: our own choice, common
// practice, no source. Of what is not known half is added.
const (
	otherCovered = 12
	otherShine   = 6
)

// Looks returns the faces that look like l, the nearest first, with at most most of them.
func Looks(faces []Face, l Look, most int) []Hit {
	type near struct {
		Hit
		rank float64
	}
	all := make([]near, 0, len(faces))
	for _, f := range faces {
		de := colour.Difference(f.Lab, l.Lab)
		rank := de
		why := DistanceWords(de)
		if l.Covered != "" {
			switch is := coveredWord(f.Coverage); {
			case is == "":
				rank += otherCovered / 2.
				why += "; its coverage is not known"
			case is != l.Covered:
				rank += otherCovered
				why += "; but it is " + is
			default:
				why += "; " + is
			}
		}
		if l.Shine != "" {
			is := "matte"
			if f.Glare > 0.02 {
				is = "shiny"
			}
			if is != l.Shine {
				rank += otherShine
				why += "; but " + is + ", by the glare in its photograph"
			} else {
				why += "; " + is + ", by the glare in its photograph"
			}
		}
		all = append(all, near{Hit{Swatch: f.Swatch, Face: f.Face, Why: why, Distance: de}, rank})
	}
	slices.SortFunc(all, func(a, b near) int {
		return cmp.Or(cmp.Compare(a.rank, b.rank), cmp.Compare(a.Swatch, b.Swatch), cmp.Compare(b.Face, a.Face))
	})
	out := make([]Hit, min(most, len(all)))
	for i := range out {
		out[i] = all[i].Hit
	}
	return out
}

// coveredWord names a coverage; "" when it is not known.
func coveredWord(c float64) string {
	switch {
	case c < 0:
		return ""
	case c < 0.25:
		return Covers[0]
	case c <= 0.75:
		return Covers[1]
	}
	return Covers[2]
}

// DistanceWords says what a ΔE00 means to the eye. The limits are common practice, no
// source: 1 is about what can just be seen side by side.
func DistanceWords(de float64) string {
	switch {
	case de < 1:
		return fmt.Sprintf("the same to the eye (%.1f ΔE00)", de)
	case de < 2.5:
		return fmt.Sprintf("nearly the same (%.1f ΔE00)", de)
	case de < 6:
		return fmt.Sprintf("close (%.1f ΔE00)", de)
	case de < 12:
		return fmt.Sprintf("of the same kind (%.1f ΔE00)", de)
	}
	return fmt.Sprintf("far off (%.0f ΔE00)", de)
}
