package pool

import (
	"fmt"
	"slices"
	"strings"

	"aerugo/internal/science/film"
	"aerugo/internal/science/solution"
	"aerugo/internal/studio"
)

// A Lay is the wettest moment of a face, and whether its liquid stays where it
// was put. Step counts from 0; Words says what lies there; Place where it lies
// then, and TiltDeg how that is tilted. Unknown says why it can't be reckoned;
// the judgement is then zero.
type Lay struct {
	Faces      studio.Faces
	Step       int
	Kind       studio.StepKind
	Words      string
	Place      string
	ChamberID  int64
	TiltDeg    float64
	LengthMM   float64
	FilmGPerM2 float64
	Unknown    string
	film.Pooled
	Doubt   []string
	Assumed []string
}

// Short is the answer in a few words.
func (l Lay) Short() string {
	switch {
	case l.Unknown != "":
		return "Can't be reckoned"
	case l.Cause == film.Gravity:
		return "It runs to the low side"
	case l.Cause == film.Cohesion && l.Nearly:
		return "It beads, and nearly runs"
	case l.Cause == film.Cohesion:
		return "It draws into islands"
	case l.Nearly:
		return "It stays, but the tilt is near its limit"
	}
	return "It stays"
}

// Act reports whether something should be done about it.
func (l Lay) Act() bool { return l.Cause == film.Gravity || l.Cause == film.Cohesion || l.Nearly }

// Lays returns the wettest moment of each face that is ever wet, both faces as
// one where they are alike.
func Lays(j Job) []Lay {
	var out []Lay
	for _, face := range studio.BothFaces {
		if !j.Treatment.Faces.Has(face) {
			continue
		}
		l, ok := j.wettest(face)
		if !ok {
			continue
		}
		if n := len(out); n > 0 && out[n-1].Words == l.Words && out[n-1].Step == l.Step && out[n-1].Unknown == l.Unknown {
			out[n-1].Faces = studio.OnBoth
			continue
		}
		out = append(out, l)
	}
	return out
}

// wettest finds and judges the moment at which most liquid lies on a face. What
// a rinse leaves does not count: it is blotted or dried.
func (j Job) wettest(face studio.Face) (Lay, bool) {
	var best coat
	step, most := -1, 0.0
	unknown := -1
	j.walk(face, func(i int, c coat) bool {
		if i == 0 || c.rinse {
			return true
		}
		if c.unknown != "" && unknown < 0 {
			unknown, best = i-1, c
			return true
		}
		if v := c.liquid(j.temp()); v > most && unknown < 0 {
			best, step, most = c, i-1, v
		}
		return true
	})
	w, h, assumed := j.sides()
	l := Lay{Faces: studio.Faces(face), LengthMM: max(w, h)}
	if unknown >= 0 {
		l.Step, l.Kind = unknown, j.Treatment.Steps[unknown].Kind
		l.Unknown = best.unknown
		return l, true
	}
	if step < 0 {
		return l, false
	}
	l.Step, l.Kind, l.Words, l.Doubt, l.Assumed, l.FilmGPerM2 = step, j.Treatment.Steps[step].Kind, strings.Join(best.words, " and "), best.doubt, best.assumed, most
	if j.Treatment.Layer > 1 && !best.met {
		l.Doubt = append(l.Doubt, "it lies on a patina, which drinks liquid and is wetted better than the bare metal reckoned with: it will spread further than this says")
	}
	if assumed {
		l.Assumed = append(l.Assumed, fmt.Sprintf("a swatch of %.0f × %.0f mm", w, h))
	}
	l.Place = "on the bench"
	if c, ok := j.chamber(j.liesIn(step)); ok {
		l.Place, l.ChamberID, l.TiltDeg = "in "+c.Name, c.ID, c.TiltDeg
	}
	if l.TiltDeg == 0 {
		l.Assumed = append(l.Assumed, "tilt "+l.Place+": level")
	}
	lay := film.Lay{FilmGPerM2: min(most, film.MostGPerM2), LengthMM: l.LengthMM, TiltDeg: l.TiltDeg, ContactDeg: handledContact, ContactSpread: handledSpread}
	how := "no degreasing just before"
	if best.met {
		lay.ContactDeg, lay.ContactSpread, how = cleanContact, cleanSpread, "freshly degreased"
	}
	l.Assumed = append(l.Assumed, fmt.Sprintf("contact angle, %s: %.0f ± %.0f° (from memory)", how, lay.ContactDeg, lay.ContactSpread))
	var err error
	if lay.Liquid, err = j.liquidOf(best); err == nil {
		l.Pooled, err = film.Judge(lay)
	}
	if err != nil {
		l.Unknown = "it lies outside what the formulas hold for: " + err.Error()
	}
	return l, true
}

// liesIn returns the chamber in which the liquid of a step lies, 0 for the bench.
func (j Job) liesIn(step int) int64 {
	for _, s := range j.Treatment.Steps[step:] {
		switch s.Kind {
		case studio.Fume:
			return s.ChamberID
		case studio.Dry, studio.Rinse, studio.Heat, studio.Rest, studio.Bury, studio.Degrease, studio.Pickle, studio.Neutralise, studio.Seal:
			return s.ChamberID
		}
	}
	return 0
}

// liquidOf is the liquid of a coat as far as its shape goes. Salt raises water's
// tension by a few percent, which is left out.
func (j Job) liquidOf(c coat) (film.Liquid, error) {
	if c.ammonia > 0 && c.salt == 0 {
		return film.Ammonia(c.ammonia, j.temp())
	}
	l, err := film.Water(j.temp())
	if err != nil || c.salt == 0 {
		return l, err
	}
	all := c.liquid(j.temp())
	l.Name, l.DensityKgPerM3 = "brine", brineDensity
	if d, err := solution.Density(c.key, (all-c.water)/all, j.temp()); err == nil {
		l.DensityKgPerM3 = float64(d)
	}
	return l, nil
}

// Strictest returns the least tilt in degrees within which every lay must be
// level, and the rise in mm of one end over the other; false when there is none.
func Strictest(lays []Lay) (Lay, bool) {
	known := slices.DeleteFunc(slices.Clone(lays), func(l Lay) bool { return l.Unknown != "" || l.LevelDeg == 0 })
	if len(known) == 0 {
		return Lay{}, false
	}
	return slices.MinFunc(known, func(a, b Lay) int {
		switch {
		case a.LevelDeg < b.LevelDeg:
			return -1
		case a.LevelDeg > b.LevelDeg:
			return 1
		}
		return 0
	}), true
}
