// Package pool says what becomes of the liquid on a swatch's face in a person's
// words: whether it stays where it is put, what the pools that a photograph shows
// fit, and when the face is dry in this room.
//
//	Lays     a treatment on a swatch -> the wettest moment of each face, judged
//	Read     a measured pooling -> the cause that its numbers fit
//	Turned   two photographs, before and after turning the piece -> was it the tilt
//	Dry      a Dry step and the room -> dry by when, or not today
package pool

import (
	"fmt"
	"math"
	"strings"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/science"
	"aerugo/internal/science/chamber"
	"aerugo/internal/science/solution"
	"aerugo/internal/studio"
)

const (
	// commonTemp and commonRH stand in for a room that nobody read.
	commonTemp = 20.0
	commonRH   = 0.5
	// commonSide is the side of a swatch in mm where none is meant yet.
	commonSide = 50.0
	// cleanContact and handledContact are contact angles in degrees of water on
	// copper alloys: from memory, 10 to 40 freshly degreased and 70 to 90 handled.
	cleanContact, cleanSpread     = 25.0, 15.0
	handledContact, handledSpread = 60.0, 30.0
	// rinsed is the water in g/m² that a rinsed and shaken plate keeps.
	rinsed = 50.0
	// brineDensity is that of a strong brine, in kg/m³.
	brineDensity = 1150.0
)

// A Job is a treatment, planned or begun, with the swatch it is done to and what
// the bench holds. Sides of 0 mm are assumed; the zero Record means not begun.
type Job struct {
	Treatment studio.Treatment
	Swatch    studio.Swatch
	Record    run.Record
	Supplies  []studio.Supply
	Chambers  []studio.Chamber
	TempC     *float64 // of the room, nil when nobody read it
}

func (j Job) temp() science.Celsius {
	if j.TempC != nil {
		return science.Celsius(*j.TempC)
	}
	return commonTemp
}

// sides returns the swatch's sides in mm, and whether they had to be assumed.
func (j Job) sides() (w, h float64, assumed bool) {
	if j.Swatch.WidthMM > 0 && j.Swatch.HeightMM > 0 {
		return j.Swatch.WidthMM, j.Swatch.HeightMM, false
	}
	return commonSide, commonSide, true
}

func (j Job) chamber(id int64) (studio.Chamber, bool) {
	for _, c := range j.Chambers {
		if c.ID == id {
			return c, true
		}
	}
	return studio.Chamber{}, false
}

func (j Job) supply(s studio.Step) studio.Supply {
	for _, x := range j.Supplies {
		if x.ID == s.SupplyID {
			return x
		}
	}
	return studio.Supply{}
}

// coat is what lies on a face at one point of its treatment.
type coat struct {
	water, salt float64 // g/m²
	key         string  // of the salt
	ammonia     float64 // strength of the liquid put on, a fraction
	clean       bool    // degreased, pickled or abraded, and not patinated since
	met         bool    // the metal was so when the first of what lies there was put on
	rinse       bool    // the water is only what a rinse leaves
	words       []string
	doubt       []string
	assumed     []string
	unknown     string // why it can't be reckoned
}

// liquid is the mass of the liquid in g/m²: the water and the salt it dissolves.
func (c coat) liquid(t science.Celsius) float64 {
	if c.salt == 0 || c.water == 0 {
		return c.water
	}
	s, _ := solution.SaltOf(c.key)
	per, err := s.Solubility(t)
	if err != nil {
		return c.water
	}
	return c.water + min(c.salt, c.water*per)
}

func (c coat) say(words string) coat {
	c.words = append(c.words[:len(c.words):len(c.words)], words)
	return c
}

func (c coat) doubts(words string) coat {
	c.doubt = append(c.doubt[:len(c.doubt):len(c.doubt)], words)
	return c
}

func (c coat) assumes(words string) coat {
	c.assumed = append(c.assumed[:len(c.assumed):len(c.assumed)], words)
	return c
}

// emptied is the coat after whatever lay there was taken off.
func (c coat) emptied(clean bool) coat { return coat{clean: clean} }

// walk follows one face through the treatment; at is called before each step
// that touches it, with what lies there, and after the last with i the number of
// steps. It stops when at returns false.
func (j Job) walk(face studio.Face, at func(i int, c coat) bool) {
	var c coat
	for i, s := range j.Treatment.Steps {
		if s.Faces != "" && !s.Faces.Has(face) && s.Kind != studio.Fume && s.Kind != studio.Dry {
			continue
		}
		if !at(i, c) {
			return
		}
		amount, took := s.Amount, s.Duration
		if i < len(j.Record.Steps) {
			r := j.Record.Steps[i]
			if r.AmountNoted {
				amount = r.Amount
			}
			if !r.Began.IsZero() && r.Ended.After(r.Began) {
				took = r.Ended.Sub(r.Began)
			}
		}
		switch s.Kind {
		case studio.Degrease, studio.Pickle, studio.Abrade:
			c = c.emptied(true)
			if s.Kind != studio.Abrade {
				c = c.wetted()
			}
		case studio.Rinse:
			c = c.emptied(c.clean).wetted()
		case studio.Neutralise:
			c = c.emptied(false).wetted()
		case studio.Bury, studio.Seal:
			c = c.emptied(false)
		case studio.Dry, studio.Heat:
			c.water, c.ammonia = 0, 0
		case studio.Wet:
			c = j.wet(c.laid(), s, amount)
		case studio.Sprinkle:
			c = j.sprinkle(c.laid(), s, amount)
		case studio.Fume:
			c = j.fume(c.laid(), s, took)
		}
	}
	at(len(j.Treatment.Steps), c)
}

// wetted is c with the water that a rinse leaves.
func (c coat) wetted() coat {
	c.water, c.rinse = rinsed, true
	return c.assumes(fmt.Sprintf("water left by a rinse and a shake: %.0f g/m²", rinsed))
}

// laid is c as the next thing is put on it: a plate that was only rinsed is
// blotted first.
func (c coat) laid() coat {
	if c.rinse {
		c = c.emptied(c.clean)
	}
	if c.water == 0 && c.salt == 0 {
		c.met = c.clean
	}
	return c
}

// perM2 returns a loading in g/m², mL by the liquid's density in kg/m³.
func perM2(a studio.Amount, areaM2, density float64) float64 {
	v := a.Value
	if !a.Unit.PerArea() {
		v /= areaM2
	}
	if a.Unit == studio.MLPerM2 || a.Unit == studio.Millilitre {
		v *= density / 1000
	}
	return v
}

// plain are liquids that behave as water on metal.
var plain = map[string]bool{"": true, "water": true, "distilled-water": true, "ammonia-water": true}

func name(key string) string { return strings.ReplaceAll(key, "-", " ") }

func (j Job) material(s studio.Step) (key string, strength float64) {
	x := j.supply(s)
	key, strength = s.Material, s.Strength
	if x.Material != "" {
		key = x.Material
	}
	if strength == 0 {
		strength = x.WtPercent()
	}
	return key, strength / 100
}

func (j Job) area() float64 {
	w, h, _ := j.sides()
	return w * h * 1e-6
}

func (j Job) wet(c coat, s studio.Step, a studio.Amount) coat {
	if a.IsZero() {
		c.unknown = "how much liquid goes on is not said"
		return c
	}
	key, strength := j.material(s)
	density := 1000.0
	sol, isSalt := solution.SaltOf(key)
	share := 0.0
	switch {
	case key == "ammonia-water" && strength > 0 && strength <= 0.30:
		if d, err := solution.AmmoniaDensity(strength, j.temp()); err == nil {
			density, c.ammonia = float64(d), strength
		}
	case isSalt && strength > 0 && strength < 1:
		share = strength
		if d, err := solution.Density(key, strength, j.temp()); err == nil {
			density = float64(d)
		}
	case !plain[key]:
		c = c.doubts(name(key) + " is reckoned as water")
	}
	v := perM2(a, j.area(), density)
	c.water += v * (1 - share)
	if share > 0 {
		c = c.put(sol.Key, v*share)
	}
	for _, p := range s.Also {
		switch sol, ok := solution.SaltOf(p.Material); {
		case ok && p.Strength > 0:
			c.water = max(0, c.water-v*p.Strength/100)
			c = c.put(sol.Key, v*p.Strength/100)
		case ok:
			c.unknown = "how much " + sol.Name + " is in the liquid is not said"
			return c
		case !plain[p.Material]:
			c = c.doubts(name(p.Material) + " in the liquid is reckoned as water")
		}
	}
	if a.Assumed {
		c = c.assumes("how much is put on: " + a.String())
	}
	what := "water"
	switch {
	case plain[key] && key != "":
		what = name(key)
	case key != "":
		what = "liquid (" + name(key) + ")"
	}
	return c.say(fmt.Sprintf("%.0f g/m² of %s", v, what))
}

func (j Job) sprinkle(c coat, s studio.Step, a studio.Amount) coat {
	key, _ := j.material(s)
	sol, ok := solution.SaltOf(key)
	switch {
	case a.IsZero():
		c.unknown = "how much is sprinkled is not said"
		return c
	case !ok:
		return c.doubts("how " + name(key) + " takes up water is not known here")
	}
	v := perM2(a, j.area(), 1000)
	if a.Assumed {
		c = c.assumes("how much is put on: " + a.String())
	}
	return c.put(sol.Key, v).say(fmt.Sprintf("%.3g g/m² of %s", v, sol.Name))
}

// put adds salt; of two the heavier stands for both.
func (c coat) put(key string, v float64) coat {
	if c.key != "" && c.key != key {
		c = c.doubts("two salts lie on it; it is reckoned as if all were the one there is more of")
	}
	if c.key == "" || v > c.salt {
		c.key = key
	}
	c.salt += v
	return c
}

// fume lets a face gather water over a freshly wetted pad.
func (j Job) fume(c coat, s studio.Step, took time.Duration) coat {
	c.clean = false
	if c.salt == 0 && c.water == 0 || c.unknown != "" {
		return c
	}
	box := chamber.Box{VolumeL: 20, LeakPerH: chamber.DefaultLeakPerH, Temp: j.temp(), GapMM: chamber.DefaultGapMM, RoomRH: chamber.DefaultRoomRH}
	pad := chamber.Pad{SolutionG: chamber.DefaultSolutionG, Strength: chamber.DefaultStrength}
	room, _ := j.chamber(s.ChamberID)
	for _, v := range []struct {
		into *float64
		from float64
	}{{&box.VolumeL, room.VolumeL}, {&box.LeakPerH, room.LeakPerH}, {&box.GapMM, room.GapMM}, {&pad.SolutionG, room.PadML}} {
		if v.from > 0 {
			*v.into = v.from
		}
	}
	if key, strength := j.material(s); strength > 0 && strength <= 0.30 && key == "ammonia-water" {
		pad.Strength = strength
	} else {
		c = c.assumes(fmt.Sprintf("strength of the ammonia: %.0f %% by mass", 100*pad.Strength))
	}
	h := min(took.Hours(), 14*24)
	r, err := chamber.Run(box, pad, nil, []chamber.Piece{{Faces: []chamber.Face{{Salt: c.key, SaltGPerM2: c.salt, WaterGPerM2: c.water}}}}, h, chamber.Options{})
	if err != nil {
		return c.doubts("what it gathers in the chamber can't be reckoned")
	}
	end := r.Pieces[0].Faces[0].End
	if end.WaterGPerM2 > c.water {
		c = c.say(fmt.Sprintf("%.0f g/m² of water gathered in %s", end.WaterGPerM2-c.water, studio.Span(took)))
	}
	c.water = end.WaterGPerM2
	return c
}

// clock writes a time as a person says it beside now.
func clock(t, now time.Time) string {
	t, now = t.Local(), now.Local()
	y, m, d := t.Date()
	ny, nm, nd := now.Date()
	switch days := math.Round(time.Date(y, m, d, 12, 0, 0, 0, time.UTC).Sub(time.Date(ny, nm, nd, 12, 0, 0, 0, time.UTC)).Hours() / 24); {
	case days == 0:
		return t.Format("15:04")
	case days == 1:
		return "tomorrow " + t.Format("15:04")
	case days > 1 && days < 7:
		return t.Format("Mon 15:04")
	}
	return t.Format("2 Jan 15:04")
}
