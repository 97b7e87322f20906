package demo

import (
	"time"

	"aerugo/internal/studio"
)

// calendar returns a time of day some days ago.
type calendar func(ago, hour, minute int) time.Time

// bareRound photographs every face bare, blanks too.
func (c *chapter) bareRound(b *bench, start time.Time, session int) {
	c.round(studio.BothFaces, studio.Bare, start, session, func(i int, f studio.Face) (Look, bool) {
		return bareLook(c.alloy(b), c.piece(i), f), true
	})
}

// finishedRound photographs the faces that treatment number t coloured.
func (c *chapter) finishedRound(b *bench, t int, start time.Time, session int) {
	c.round(studio.BothFaces, studio.Finished, start, session, func(i int, f studio.Face) (Look, bool) {
		p := c.layout.Pieces[i]
		if t >= len(p.Treatments) || !p.Treatments[t].Faces.Has(f) {
			return Look{}, false
		}
		return c.after(b, spot{i, t}, f, start), true
	})
}

// outOfTheTub photographs each face as it comes out of the chamber, still wet.
func (c *chapter) outOfTheTub(b *bench, t, session int) {
	for i, p := range c.layout.Pieces {
		if t >= len(p.Treatments) {
			continue
		}
		s := spot{i, t}
		k := stepOf(p.Treatments[t].Steps, studio.Fume)
		if k < 0 || k >= len(c.runs[s].ended) {
			continue
		}
		at := c.runs[s].ended[k].Add(70 * time.Second)
		for _, f := range studio.BothFaces {
			if p.Treatments[t].Faces.Has(f) {
				c.photograph(i, f, studio.Underway, at, session, c.after(b, s, f, at))
				at = at.Add(35 * time.Second)
			}
		}
	}
}

// throughTheLid photographs both faces of pieces that stayed long, part of the
// way through.
func (c *chapter) throughTheLid(b *bench, t, session int, part float64, pieces ...int) {
	for _, i := range pieces {
		s := spot{i, t}
		k := stepOf(c.treatment(s).Steps, studio.Fume)
		r := c.runs[s]
		at := r.start(k).Add(seconds(part * r.ended[k].Sub(r.start(k)).Seconds()))
		for _, f := range studio.BothFaces {
			c.photograph(i, f, studio.Underway, at, session, c.after(b, s, f, at))
			at = at.Add(40 * time.Second)
		}
	}
}

// tellHours: a ladder of fuming times on brass, both faces, three weeks ago.
func (c *chapter) tellHours(b *bench, day calendar) {
	c.bareRound(b, day(19, 7, 40), 1)
	c.carryOut(0, day(19, 8, 20))
	c.throughTheLid(b, 0, 2, 0.5, c.find(1, "240 min"), c.find(2, "240 min"), c.find(1, "480 min"), c.find(2, "480 min"))
	c.outOfTheTub(b, 0, 2)
	c.finishedRound(b, 0, day(18, 10, 10), 3)

	long, short := spot{c.find(1, "480 min"), 0}, spot{c.find(2, "30 min"), 0}
	fume := stepOf(c.treatment(long).Steps, studio.Fume)
	c.note(long, 0, day(19, 8, 24), maren, "Cool morning. All eleven cut from one strip.", 16.5, 0.61)
	c.note(long, fume, day(19, 13, 15), odile, "Sun on the yard wall; tub moved to the shade.", 20.5, 0.48)
	c.note(short, fume, c.runs[short].ended[fume].Add(2*time.Minute), odile, "Only brown edges so far, no blue anywhere.", 0, 0)
	c.note(long, len(c.runs[long].ended)-1, day(18, 10, 40), maren, "This is the one for the reading room, if it can be done twice.", 0, 0)

	// Odile tapped 'done' only when she was back from the gate: the tap stays,
	// a correction says when it really was.
	late := spot{c.find(1, "120 min"), 0}
	at := c.runs[late].ended[fume].UTC()
	c.extra = append(c.extra, deed{spot: late, corrects: c.key(late, fume), event: studio.Event{
		Kind: studio.Corrected, Step: fume, At: at, By: odile, Client: tapKey(c.piece(late.piece), c.treatment(late), "corrected", fume),
		Note: "Taken out on time, tapped when I was back at the bench.",
	}})
}

// tappedLate is by how much the one corrected tap was late.
const tappedLate = 21 * time.Minute

// tellSalt: a grid of salt and wetting on copper, two weeks ago.
func (c *chapter) tellSalt(b *bench, day calendar) {
	c.bareRound(b, day(13, 8, 5), 1)
	c.carryOut(0, day(13, 8, 50))

	// The strainer tipped over one swatch; what lay on it was weighed.
	tipped := spot{c.find(2, studio.Light, "wetted"), 0}
	k := stepOf(c.treatment(tipped).Steps, studio.Sprinkle)
	c.extra = append(c.extra, deed{spot: tipped, event: studio.Event{
		Kind: studio.Changed, Step: k, At: c.runs[tipped].ended[k].Add(-20 * time.Second).UTC(), By: maren,
		Client: tapKey(c.piece(tipped.piece), c.treatment(tipped), "changed", k),
		Amount: &studio.Amount{Value: 19, SD: 1, Unit: studio.GramPerM2},
		Note:   "The strainer tipped. Brushed into a dish and weighed: 46 mg on the face, put back as it was.",
	}})

	c.outOfTheTub(b, 0, 2)
	c.finishedRound(b, 0, day(12, 9, 45), 3)
	dry, heavy := spot{c.find(1, studio.Light, "dry"), 0}, spot{c.find(1, studio.Heavy, "dry"), 0}
	fume := stepOf(c.treatment(dry).Steps, studio.Fume)
	c.note(dry, 0, day(13, 8, 53), odile, "", 18, 0.55)
	c.note(dry, fume, day(13, 14, 5), maren, "Rain since noon, window shut.", 19, 0.66)
	c.note(heavy, fume, c.runs[heavy].ended[fume].Add(3*time.Minute), odile, "Most of the salt lies there as it was put. Blue only where it got wet from below.", 0, 0)
	c.note(tipped, len(c.runs[tipped].ended)-1, day(12, 10, 20), odile, "Darker than its sister; may be the extra salt.", 0, 0)
}

// tellLiquids: three liquids on the fronts of brass, salt water without
// ammonia on the backs.
func (c *chapter) tellLiquids(b *bench, day calendar) {
	c.bareRound(b, day(11, 8, 15), 1)
	c.carryOut(0, day(11, 9, 0))
	c.outOfTheTub(b, 0, 2)
	c.carryOut(1, day(10, 16, 30))
	c.finishedRound(b, 0, day(10, 9, 30), 3)
	c.finishedRound(b, 1, day(8, 9, 20), 4)

	blue, sour := spot{c.find(1, "sal ammoniac"), 0}, spot{c.find(2, "vinegar"), 0}
	fume := stepOf(c.treatment(blue).Steps, studio.Fume)
	c.note(blue, 0, day(11, 9, 4), maren, "Odd jobs before: started late.", 19.5, 0.5)
	c.note(sour, fume, c.runs[sour].start(fume).Add(time.Minute), odile, "White mist under the lid at once. Face away, lid on.", 0, 0)
	c.note(blue, len(c.runs[blue].ended)-1, day(10, 10, 15), odile, "Nearest to the gate. Bluer than it looked wet.", 21, 0.44)
	c.note(spot{blue.piece, 1}, 0, day(10, 16, 35), maren, "Backs today; fronts lie on felt.", 20, 0.47)
}

// tellLayered: a base brown, then salt and ammonia over it, on bronze.
func (c *chapter) tellLayered(b *bench, day calendar) {
	c.bareRound(b, day(6, 9, 40), 1)
	c.carryOut(0, day(6, 10, 0))
	c.round(studio.BothFaces, studio.Underway, day(6, 14, 30), 2, func(i int, f studio.Face) (Look, bool) {
		return brownLook(c.alloy(b), c.piece(i), f), true
	})
	c.carryOut(1, day(5, 9, 10))
	c.finishedRound(b, 1, day(4, 11, 0), 3)
	c.note(spot{0, 0}, 0, day(6, 10, 3), odile, "Mixed fresh. Door open, fan on.", 18.5, 0.52)
	c.note(spot{1, 0}, len(c.runs[spot{1, 0}].ended)-1, day(6, 14, 20), odile, "Even brown, one fingerprint at the edge.", 0, 0)
	c.note(spot{0, 1}, 1, day(5, 12, 0), maren, "", 20, 0.58)
	c.note(spot{2, 1}, len(c.runs[spot{2, 1}].ended)-1, day(4, 11, 20), maren, "Like lichen on a slate. The librarian will like it.", 0, 0)
}

// tellToday: a ladder of fuming times on bronze that is running at now.
func (c *chapter) tellToday(b *bench, now time.Time) {
	ago := func(m float64) time.Time { return now.Add(-seconds(60 * m)) }
	at := func(level string, replicate int, kind studio.StepKind, since float64) spot {
		s := spot{c.find(replicate, level), 0}
		t := c.treatment(s)
		k := stepOf(t.Steps, kind)
		c.runs[s] = upTo(t, k, ago(since), chanceOf(uint64(c.piece(s.piece)), 8))
		return s
	}
	last := func(level string, replicate int, since float64) spot {
		s := spot{c.find(replicate, level), 0}
		t := c.treatment(s)
		c.runs[s] = upTo(t, len(t.Steps)-1, ago(since), chanceOf(uint64(c.piece(s.piece)), 8))
		return s
	}
	drying := last("90 min", 1, 18)                     // dry in 42 minutes
	brush := at("90 min", 2, studio.BrushOut, 2)        // to brush out now
	resting := at("90 min", 3, studio.Rest, 19)         // 11 minutes of rest left
	overdue := at("180 min", 1, studio.Fume, 187)       // 7 minutes over, 3 left of its tolerance
	hourLeft := at("180 min", 2, studio.Fume, 120)      // an hour left
	longer := at("300 min", 1, studio.Fume, 240)        // an hour left
	at("300 min", 2, studio.Fume, 238.5)                // an hour left
	dropped := at("300 min", 3, studio.Sprinkle, 185.5) // given up

	fume := stepOf(c.treatment(longer).Steps, studio.Fume)
	c.extra = append(c.extra, deed{spot: dropped, event: studio.Event{
		Kind: studio.Stopped, Step: len(c.runs[dropped].ended), At: ago(184).UTC(), By: odile,
		Client: tapKey(c.piece(dropped.piece), c.treatment(dropped), "stopped", 0),
		Note:   "Slipped out of wet gloves onto the stones; corner bent. Cut another one tomorrow.",
	}})
	c.note(longer, 0, c.runs[longer].began.Add(time.Minute), maren, "", 17, 0.58)
	c.note(hourLeft, fume, ago(64), odile, "Opened for 90 s to take out the short ones.", 19.5, 0.53)
	c.note(overdue, fume, ago(30), maren, "Blue along the lower edge, seen through the lid.", 0, 0)
	c.note(brush, fume, ago(34), odile, "More brown than the brass had at this time.", 0, 0)

	first := now
	for _, r := range c.runs {
		if r.began.Before(first) {
			first = r.began
		}
	}
	c.bareRound(b, first.Add(-40*time.Minute), 1)
	for _, s := range []spot{drying, brush, resting} {
		at := c.runs[s].ended[fume].Add(70 * time.Second)
		for _, f := range studio.BothFaces {
			c.photograph(s.piece, f, studio.Underway, at, 2, c.after(b, s, f, at))
			at = at.Add(35 * time.Second)
		}
	}
}
