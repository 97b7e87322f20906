package demo

import (
	"fmt"
	"strings"
	"time"

	"aerugo/internal/flow/plan"
	"aerugo/internal/studio"
)

// hands is what the workshop's hand words weigh, invented weighings.
var hands = []studio.HandAmount{
	{Word: studio.Light, Material: "sodium-chloride", Mean: 11, SD: 2.1, Unit: studio.GramPerM2, N: 10},
	{Word: studio.Medium, Material: "sodium-chloride", Mean: 25, SD: 4.4, Unit: studio.GramPerM2, N: 10},
	{Word: studio.Heavy, Material: "sodium-chloride", Mean: 80, SD: 13, Unit: studio.GramPerM2, N: 10},
	{Word: studio.Light, Material: "distilled-water", Mean: 40, SD: 9, Unit: studio.MLPerM2, N: 5},
}

// A chapter is one set with all that happened to it and every photograph taken.
type chapter struct {
	layout plan.Layout
	first  int // the running number of its first piece, from 1 through all chapters
	runs   map[spot]ran
	extra  []deed
	shots  []shot
}

// spot names one treatment of a chapter: the piece and the treatment on it.
type spot struct{ piece, treatment int }

// deed is a record beyond the plain taps; corrects is the Client key of the
// record it corrects, if any.
type deed struct {
	spot
	event    studio.Event
	corrects string
}

// shot is one photograph to be taken: of what, when, and what it shows.
type shot struct {
	piece   int
	face    studio.Face
	moment  studio.Moment
	taken   time.Time
	session uint64 // photographs of one session share the lamp
	look    Look
}

// story tells all chapters of the example for a bench whose things have IDs.
// now must be a whole second; the chapters differ between two nows only by the
// shift in time.
func story(b *bench, now time.Time) ([]*chapter, error) {
	y, m, d := now.Date()
	day := func(ago int, hour, minute int) time.Time {
		return time.Date(y, m, d-ago, hour, minute, 0, 0, now.Location())
	}
	var all []*chapter
	first := 1
	begin := func(metal int, ask plan.Ask, made time.Time) (*chapter, error) {
		ask.Chamber = b.chambers[tub]
		lay, err := plan.Lay(ask, b.supplies, hands, b.metals[metal])
		if err != nil {
			return nil, fmt.Errorf("lay out %s: %w", ask.Name, err)
		}
		lay.Set.Made, lay.Set.Invented = made.UTC(), true
		for i := range lay.Pieces {
			lay.Pieces[i].Swatch.Made = made.UTC()
		}
		c := &chapter{layout: lay, first: first, runs: map[spot]ran{}}
		first += len(lay.Pieces)
		all = append(all, c)
		return c, nil
	}
	fume := stepOf(b.versions[wettedLonger].Steps, studio.Fume)
	wet := stepOf(b.versions[wettedLonger].Steps, studio.Wet)
	sprinkle := stepOf(b.versions[wettedLonger].Steps, studio.Sprinkle)

	hours, err := begin(brass, plan.Ask{
		Name: "Hours over ammonia, brass", Question: "How long must the shades' brass stay in the tub before the blue-green stops getting more?",
		Shape:   studio.Ladder,
		Factors: []studio.Factor{{Name: "fuming time", Kind: studio.ByMinutes, Step: fume, Levels: minutes(30, 60, 120, 240, 480)}}, Replicates: 2, Blanks: 1,
		Seed: 114, WidthMM: 60, HeightMM: 40, Front: b.versions[wettedLonger], SameFaces: true,
	}, day(20, 17, 30))
	if err != nil {
		return nil, err
	}
	hours.tellHours(b, day)

	salt, err := begin(copper, plan.Ask{
		Name: "Salt and wetting, copper", Question: "Is it the amount of salt, or whether the face is wet when the salt goes on?",
		Shape: studio.Grid,
		Factors: []studio.Factor{
			{Name: "salt", Kind: studio.ByLoading, Step: sprinkle, Levels: []studio.Level{{Label: studio.Light}, {Label: studio.Medium}, {Label: studio.Heavy}}},
			{Name: "wetting", Kind: studio.ByWetting, Step: wet, Levels: []studio.Level{{Label: "dry"}, {Label: "wetted", Yes: true}}},
		}, Replicates: 2, Blanks: 1,
		Seed: 98, WidthMM: 60, HeightMM: 40, Front: b.versions[wettedLonger], SameFaces: true,
	}, day(14, 18, 5))
	if err != nil {
		return nil, err
	}
	salt.tellSalt(b, day)

	back := b.versions[saltSponge]
	liquids, err := begin(brass, plan.Ask{
		Name: "Three liquids under the salt, brass", Question: "Water, vinegar or sal ammoniac under the same salt: which is nearest to the blue of the old gate? And what does salt water do to the backs without ammonia?",
		Shape: studio.Ladder,
		Factors: []studio.Factor{{Name: "liquid", Kind: studio.ByLiquid, Step: wet, Levels: []studio.Level{
			{Label: "distilled water", SupplyID: b.supplies[water].ID},
			{Label: "vinegar", SupplyID: b.supplies[vinegar].ID},
			{Label: "sal ammoniac", SupplyID: b.supplies[salAmmoniac].ID},
		}}}, Replicates: 3, Blanks: 1,
		Seed: 121, WidthMM: 50, HeightMM: 50, Front: b.versions[brushed], Back: &back,
	}, day(12, 16, 40))
	if err != nil {
		return nil, err
	}
	liquids.tellLiquids(b, day)

	layered, err := begin(bronze, plan.Ask{
		Name: "Green over brown, bronze", Question: "Does the green hold on a brown ground, and does the brown show between?",
		Shape: studio.Loose, Replicates: 3,
		Seed: 5, WidthMM: 50, HeightMM: 50, Front: b.versions[overBrown], FrontBelow: []studio.Version{b.versions[baseBrown]}, SameFaces: true,
	}, day(7, 15, 20))
	if err != nil {
		return nil, err
	}
	layered.tellLayered(b, day)

	today, err := begin(bronze, plan.Ask{
		Name: "Hours over ammonia, bronze", Question: "Do the bronze back plates take the same hours as the brass shades?",
		Shape:   studio.Ladder,
		Factors: []studio.Factor{{Name: "fuming time", Kind: studio.ByMinutes, Step: fume, Levels: minutes(90, 180, 300)}}, Replicates: 4, Blanks: 1,
		Seed: 77, WidthMM: 60, HeightMM: 40, Front: b.versions[wettedLonger], SameFaces: true,
	}, day(1, 18, 15))
	if err != nil {
		return nil, err
	}
	today.tellToday(b, now)

	dry := stepOf(b.versions[wettedLonger].Steps, studio.Dry)
	if _, err = begin(copper, plan.Ask{
		Name: "Four things at once, copper", Question: "Which of the four matters at all: hours, salt, wetting, or how dry the sheet was?",
		Shape: studio.Grid, Design: studio.Fraction,
		Factors: []studio.Factor{
			{Name: "fuming time", Kind: studio.ByMinutes, Step: fume, Levels: minutes(60, 180)},
			{Name: "salt", Kind: studio.ByLoading, Step: sprinkle, Levels: []studio.Level{{Label: studio.Light}, {Label: studio.Heavy}}},
			{Name: "wetting", Kind: studio.ByWetting, Step: wet, Levels: []studio.Level{{Label: "dry"}, {Label: "wetted", Yes: true}}},
			{Name: "drying time", Kind: studio.ByMinutes, Step: dry, Levels: minutes(10, 30)},
		}, UsualReplicates: true, UsualBlanks: true,
		Seed: 63, WidthMM: 60, HeightMM: 40, Front: b.versions[wettedLonger], SameFaces: true,
	}, day(1, 19, 10)); err != nil {
		return nil, err
	}
	return all, nil
}

// minutes returns the levels of a ladder of times.
func minutes(of ...float64) (levels []studio.Level) {
	for _, m := range of {
		levels = append(levels, studio.Level{Number: m})
	}
	return levels
}

// treatment returns the treatment at s.
func (c *chapter) treatment(s spot) studio.Treatment {
	return c.layout.Pieces[s.piece].Treatments[s.treatment]
}

// piece returns the running number of piece i through all chapters.
func (c *chapter) piece(i int) int { return c.first + i }

// find returns the piece whose first treatment has these level labels and this
// replicate; it must be there, the chapters being written for their own sets.
func (c *chapter) find(replicate int, labels ...string) int {
	for i, p := range c.layout.Pieces {
		for _, t := range p.Treatments {
			match := t.Replicate == replicate && len(t.Settings) == len(labels)
			for k := range labels {
				match = match && t.Settings[k].Level.Label == labels[k]
			}
			if match && len(labels) > 0 {
				return i
			}
		}
	}
	panic(fmt.Sprintf("demo: no piece %v, replicate %d, in %s", labels, replicate, c.layout.Set.Name))
}

// carryOut runs treatment number t of every piece that has one, from start.
func (c *chapter) carryOut(t int, start time.Time) {
	var spots []spot
	var ts []studio.Treatment
	for i, p := range c.layout.Pieces {
		if t < len(p.Treatments) {
			spots = append(spots, spot{i, t})
			ts = append(ts, p.Treatments[t])
		}
	}
	for i, r := range work(ts, start, chanceOf(uint64(c.first), uint64(t), 6)) {
		c.runs[spots[i]] = r
	}
}

// key returns the Client key of the tap that ended a step.
func (c *chapter) key(s spot, step int) string {
	return tapKey(c.piece(s.piece), c.treatment(s), "done", step)
}

// note adds words to a treatment, with the room's temperature and humidity if
// they were read (temp not 0).
func (c *chapter) note(s spot, step int, at time.Time, by, words string, temp, rh float64) {
	e := studio.Event{Kind: studio.Noted, Step: step, At: at.UTC(), By: by, Note: words,
		Client: fmt.Sprintf("demo-%d-note-%d", c.piece(s.piece), len(c.extra))}
	if temp != 0 {
		e.TempC, e.RH = &temp, &rh
	}
	c.extra = append(c.extra, deed{spot: s, event: e})
}

// photograph adds a photograph of one face.
func (c *chapter) photograph(i int, f studio.Face, m studio.Moment, at time.Time, session int, l Look) {
	c.shots = append(c.shots, shot{piece: i, face: f, moment: m, taken: at.Truncate(time.Second), session: uint64(c.first*100 + session), look: l})
}

// round photographs faces one after the other, a little under a minute each.
func (c *chapter) round(faces []studio.Face, m studio.Moment, start time.Time, session int, look func(i int, f studio.Face) (Look, bool)) {
	at := start
	rng := chanceOf(uint64(c.first), uint64(session), 7)
	for i := range c.layout.Pieces {
		for _, f := range faces {
			if l, ok := look(i, f); ok {
				at = at.Add(seconds(25 + 30*rng.Float64()))
				c.photograph(i, f, m, at, session, l)
			}
		}
	}
}

// alloy returns the metal of the chapter.
func (c *chapter) alloy(b *bench) string {
	for _, m := range b.metals {
		if m.ID == c.layout.Set.MetalID {
			return m.Alloy
		}
	}
	return ""
}

// done returns what was really done to a face by treatment s up to a moment.
func (c *chapter) done(b *bench, s spot, until time.Time) conditions {
	t, r := c.treatment(s), c.runs[s]
	out := conditions{alloy: c.alloy(b), liquid: "distilled-water", brown: t.Layer > 1}
	for k, step := range t.Steps {
		if k > len(r.ended) {
			break
		}
		end := until
		if k < len(r.ended) && r.ended[k].Before(until) {
			end = r.ended[k]
		}
		if end.Before(r.start(k)) {
			break
		}
		switch step.Kind {
		case studio.Wet:
			out.wetted = true
			out.liquid = step.Material
			if step.Material == "sodium-chloride" {
				out.liquid = "salt water"
				out.loading = step.Amount.Value * step.Strength / 100 // g/m2, water taken as 1 g/mL
			}
		case studio.Sprinkle:
			out.loading = step.Amount.Value
		case studio.Fume:
			out.fumed = true
			out.minutes = end.Sub(r.start(k)).Minutes()
			out.wet = true
		case studio.Rest:
			if !out.fumed {
				out.minutes = end.Sub(r.start(k)).Minutes()
			}
		case studio.Rinse:
			out.wet = false
		}
	}
	for _, d := range c.extra {
		if d.spot == s && d.event.Kind == studio.Changed && t.Steps[d.event.Step].Kind == studio.Sprinkle {
			out.loading = d.event.Amount.Value
		}
	}
	return out
}

// after returns the look of a face after treatment s, as it was at a moment.
func (c *chapter) after(b *bench, s spot, f studio.Face, at time.Time) Look {
	return lookOf(c.done(b, s, at), c.piece(s.piece), f)
}

// tapKey is the Client key of a tap on a treatment of piece n.
func tapKey(n int, t studio.Treatment, what string, step int) string {
	return fmt.Sprintf("demo-%d-%s-%d-%s-%d", n, t.Faces, t.Layer, strings.ReplaceAll(what, " ", ""), step)
}
