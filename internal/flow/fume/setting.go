package fume

import (
	"fmt"
	"slices"
	"time"

	"aerugo/internal/science"
	"aerugo/internal/science/chamber"
	"aerugo/internal/studio"
)

// charge is how the pad was last wetted.
type charge struct {
	at       time.Time
	grams    float64
	strength float64 // fraction
	unsure   bool    // the strength is assumed
}

// charged finds the pad's last charge: as logged, else by the first face that
// went in. False when the chamber is empty or was aired since.
func (s *State) charged(b Bench, log []studio.ChamberLog, stays []Stay) (c charge, ok bool) {
	var aired time.Time
	for _, l := range log {
		switch {
		case l.At.After(s.At):
		case l.Kind == studio.AiredOut:
			ok, aired, s.aired = false, l.At, l.At
		case l.Kind == studio.PadCharged:
			c, ok = charge{at: l.At, grams: l.SolutionG, strength: l.Strength / 100}, true
			for _, x := range b.Supplies {
				if c.strength == 0 && x.ID == l.SupplyID {
					c.strength = x.WtPercent() / 100
				}
			}
		}
	}
	said := 0.0 // strength as the steps say
	for _, st := range stays {
		if st.In.After(aired) && (said == 0 || c.at.IsZero()) && st.Strength > 0 {
			said = st.Strength / 100
		}
	}
	if !ok {
		first, last, inside := lastUse(stays, aired)
		if first.IsZero() {
			return c, false
		}
		if !inside && s.At.Sub(last) > forgotten {
			s.Why = fmt.Sprintf("Nothing is in it. It was last used on %s, and nobody said whether the pad was taken out.", last.Local().Format("2 January"))
			return c, false
		}
		c, ok = charge{at: first, grams: b.Chamber.PadML}, true // about 1 g to the mL
		s.assume("the pad was wetted", "when the first swatch went in")
		if c.grams == 0 {
			c.grams = chamber.DefaultSolutionG
			s.assume("solution on the pad", fmt.Sprintf("%.0f g", c.grams))
		}
	}
	if c.strength == 0 {
		c.strength = said
	}
	if c.strength == 0 {
		c.strength, c.unsure = chamber.DefaultStrength, true
		s.assume("strength of the ammonia", fmt.Sprintf("%.0f %% by mass", 100*c.strength))
	}
	return c, true
}

// lastUse returns when the chamber last went from empty to used, after it was
// aired, when the last face came out since, and whether one is inside still.
func lastUse(stays []Stay, aired time.Time) (first, last time.Time, inside bool) {
	sorted := slices.Clone(stays)
	slices.SortFunc(sorted, func(a, b Stay) int { return a.In.Compare(b.In) })
	for _, st := range sorted {
		if !st.In.After(aired) {
			continue
		}
		if first.IsZero() || st.In.Sub(last) > forgotten {
			first = st.In
		}
		if st.Out.After(last) {
			last = st.Out
		}
		inside = inside || st.Going
	}
	return first, last, inside
}

// boxOf puts the chamber into the model's terms, noting what is assumed.
func (s *State) boxOf(b Bench) chamber.Box {
	box := chamber.Box{VolumeL: b.Chamber.VolumeL, LeakPerH: b.Chamber.LeakPerH, Temp: s.Temp, GapMM: b.Chamber.GapMM, RoomRH: chamber.DefaultRoomRH}
	if box.LeakPerH == 0 {
		box.LeakPerH = chamber.DefaultLeakPerH
		s.assume("air changed through the closed lid", fmt.Sprintf("%.2g of it an hour", box.LeakPerH))
	}
	if box.GapMM == 0 {
		box.GapMM = chamber.DefaultGapMM
		s.assume("gap from pad to piece", fmt.Sprintf("%.0f mm", box.GapMM))
	}
	s.assume("humidity of the room's air that comes in", fmt.Sprintf("%.0f %%", 100*box.RoomRH))
	return box
}

// temperatures finds the last ones read.
func (s *State) temperatures(log []studio.ChamberLog, room *float64) {
	known := false
	for _, l := range log {
		if l.Kind != studio.AirRead || l.At.After(s.At) {
			continue
		}
		if l.TempC != nil {
			s.Temp, known = science.Celsius(*l.TempC), true
		}
		if l.PieceC != nil && l.TempC != nil {
			s.Offset = science.Celsius(*l.PieceC - *l.TempC)
		}
	}
	switch {
	case known:
	case room != nil:
		s.Temp = science.Celsius(*room)
		s.assume("temperature at the pad", fmt.Sprintf("%.1f °C, as the room was read", *room))
	default:
		s.Temp = chamber.DefaultTemp
		s.assume("temperature at the pad", fmt.Sprintf("%.0f °C", float64(s.Temp)))
	}
	if s.Offset == 0 {
		s.assume("the metal is as warm as the pad", "0 °C apart")
	}
}

// openings joins every way in and out, and every lid lifted by itself.
func openings(b Bench, c charge, log []studio.ChamberLog, stays []Stay, lost float64, until time.Time) (out []chamber.Opening, at []time.Time) {
	var all []time.Time
	for _, l := range log {
		if l.Kind == studio.LidOpened {
			all = append(all, l.At)
		}
	}
	for _, st := range stays {
		all = append(all, st.In, st.Out)
		if !st.Salted.IsZero() {
			all = append(all, st.Salted)
		}
	}
	slices.SortFunc(all, time.Time.Compare)
	for _, t := range all {
		d := t.Sub(c.at)
		if d < together || !t.Before(until) { // the charging itself is no opening
			continue
		}
		if n := len(at); n > 0 && t.Sub(at[n-1]) < together {
			continue
		}
		at = append(at, t)
		out = append(out, chamber.Opening{At: d, Lost: lost})
	}
	return out, at
}

// setting is one run's inputs.
type setting struct {
	box      chamber.Box
	pad      chamber.Pad
	openings []chamber.Opening
	pieces   []chamber.Piece
	hours    float64
	k        float64
	lost     float64
	step     time.Duration // 0 for the model's own
}

func (x setting) run() (chamber.Result, error) {
	return chamber.Run(x.box, x.pad, x.openings, x.pieces, x.hours, chamber.Options{K: x.k, Step: x.step})
}

// prepare puts a charge of the pad and the stays in it into the model's terms,
// followed to a day past the last way out. The stays that can be reckoned come
// back in the order of the pieces; the others are kept as faces.
func (s *State) prepare(b Bench, c charge, log []studio.ChamberLog, stays []Stay, readings *float64) (setting, []Stay) {
	s.Charged, s.StartStrength, s.SolutionG = c.at, c.strength, c.grams
	s.temperatures(log, readings)
	last := s.At
	for _, st := range stays {
		if st.Out.After(last) {
			last = st.Out
		}
	}
	until := last.Add(ahead)
	if until.Sub(c.at) > longest {
		until = c.at.Add(longest)
	}
	x := setting{box: s.boxOf(b), pad: chamber.Pad{SolutionG: c.grams, Strength: c.strength}, hours: until.Sub(c.at).Hours(), k: 1, lost: b.Chamber.OpenLoss}
	if x.lost == 0 {
		x.lost = chamber.DefaultLost
		s.assume("air that one lifting of the lid lets go", fmt.Sprintf("%.0f %% of it", 100*x.lost))
	}
	if s.K = b.K; s.K.Value == 0 {
		s.K = Span{Value: 1, Low: 1 / chamber.KFactor, High: chamber.KFactor}
		s.assume("speed of water from pad to metal", fmt.Sprintf("diffusion over the gap, within a factor %.1f", chamber.KFactor))
	}
	x.k = s.K.Value
	x.openings, s.Lifted = openings(b, c, log, stays, x.lost, until)
	var reckoned []Stay
	for _, st := range stays {
		if !st.Going && st.Out.Before(c.at) {
			continue // gone before this charge
		}
		if st.Unknown {
			s.Faces = append(s.Faces, Face{Stay: st})
			continue
		}
		reckoned = append(reckoned, st)
		x.pieces = append(x.pieces, piece(st, c.at, s.Offset, 1))
	}
	return x, reckoned
}

// relative is the spread of a stay's salt as a share of it: that of the hand, or
// a fifth where an amount was only assumed.
func relative(st Stay) float64 {
	if st.SaltGPerM2 == 0 {
		return 0
	}
	r := st.SaltSD / st.SaltGPerM2
	if r == 0 && st.Assumed {
		r = 0.2
	}
	return min(r, 0.9)
}

// piece puts a stay into the model's terms. A face that is still in stays in, so
// that its salt can be followed past the planned time.
func piece(st Stay, start time.Time, offset science.Celsius, salt float64) chamber.Piece {
	f := chamber.Face{Salt: st.Salt, SaltGPerM2: st.SaltGPerM2 * salt, WaterGPerM2: st.WaterGPerM2, AreaM2: st.AreaM2, In: max(st.In.Sub(start), 0)}
	if !st.Going {
		f.Out = st.Out.Sub(start)
	}
	if !st.Salted.IsZero() {
		f.Salted = max(st.Salted.Sub(start), f.In)
	}
	return chamber.Piece{Name: fmt.Sprint(st.Swatch), Offset: offset, Faces: []chamber.Face{f}}
}

// roomRead returns the last room temperature noted with a tap.
func roomRead(jobs []Job, now time.Time) *float64 {
	var at time.Time
	var t *float64
	for _, j := range jobs {
		for _, r := range j.Record.Room {
			if r.TempC != nil && r.At.After(at) && !r.At.After(now) {
				at, t = r.At, r.TempC
			}
		}
	}
	return t
}
