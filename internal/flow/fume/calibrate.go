package fume

import (
	"errors"
	"fmt"
	"math"
	"time"

	"aerugo/internal/science"
	"aerugo/internal/science/chamber"
	"aerugo/internal/science/film"
	"aerugo/internal/studio"
)

// A Watch is forecast against what was seen of one face's salt: it was not
// dissolved at NotYet and was at By, hours after it went in; By is +Inf when
// that was never seen. Forecast is what the model says at the K in use.
type Watch struct {
	Stay
	NotYet, By float64
	Forecast   float64
}

// A Calibration is how fast water travels in one chamber, as a multiplier of
// what the model takes by itself, with its 95 % interval. How says from what.
type Calibration struct {
	K       Span
	How     string
	Watches []Watch
	Refused []string // weighings and watched faces that could not be used, and why
}

// Calibrate reads the speed of water in a chamber from its log. Of a weighed cap
// and watched faces the narrower interval is used. K is the zero Span when there
// is nothing to read it from.
func Calibrate(b Bench, jobs []Job, now time.Time) Calibration {
	var c Calibration
	log := studio.Standing(b.Log)
	b.K = Span{}
	c.weigh(b, jobs, log, now)
	watched := c.watch(b, jobs, log, now)
	for i, w := range watched {
		at := c.K.Value
		if at == 0 {
			at = 1
		}
		h, err := w.Takes(at)
		if err != nil {
			h = math.NaN()
		}
		c.Watches[i].Forecast = h
	}
	if len(watched) > 0 {
		k, err := film.KFromDissolving(watched, film.Scatter)
		switch {
		case err != nil:
			c.Refused = append(c.Refused, err.Error())
		case c.K.Value == 0 || k.High/k.Low < c.K.High/c.K.Low:
			c.K, c.How = Span{Value: k.K, Low: k.Low, High: k.High}, k.How
		}
	}
	return c
}

// weigh reads the caps of salt. The air is what the model says of those hours.
func (c *Calibration) weigh(b Bench, jobs []Job, log []studio.ChamberLog, now time.Time) {
	for _, l := range log {
		if l.Kind != studio.CapWeighed || l.Cap == nil {
			continue
		}
		when := l.At.Local().Format("2 Jan 15:04")
		s := Look(b, jobs, l.At)
		if !s.Live {
			c.Refused = append(c.Refused, fmt.Sprintf("the cap of %s: nothing is known of the air it stood in", when))
			continue
		}
		mean, ok := s.mean(l.At.Add(-time.Duration(l.Cap.Hours*float64(time.Hour))), l.At)
		if !ok {
			c.Refused = append(c.Refused, fmt.Sprintf("the cap of %s stood there before the pad was wetted", when))
			continue
		}
		k, err := film.KFromWeighing(film.Weighing{
			Salt: l.Cap.Salt, SaltG: l.Cap.SaltG, BeforeG: l.Cap.BeforeG, AfterG: l.Cap.AfterG, BalanceG: 0.01, AreaM2: l.Cap.AreaCM2 * 1e-4, AreaShare: 0.1, Hours: l.Cap.Hours,
			Air: mean, AirTemperature: s.Temp, Temperature: s.Temp + s.Offset,
		})
		if err != nil {
			c.Refused = append(c.Refused, fmt.Sprintf("the cap of %s: %v", when, err))
			continue
		}
		box := s.boxOf(b)
		by, err := box.K()
		if err != nil {
			c.Refused = append(c.Refused, because(err))
			continue
		}
		if n := (Span{Value: k.K / by, Low: k.Low / by, High: k.High / by}); c.K.Value == 0 || n.High/n.Low <= c.K.High/c.K.Low {
			c.K, c.How = n, k.How
		}
	}
}

// mean returns the mean air between two times.
func (s State) mean(from, to time.Time) (a film.Air, ok bool) {
	var n float64
	for _, m := range s.Series {
		if m.At.Before(from) || m.At.After(to) {
			continue
		}
		a.NH3 += m.NH3
		a.H2O += m.H2O
		n++
	}
	if n == 0 || from.Before(s.Charged.Add(-time.Minute)) {
		return a, false
	}
	a.NH3, a.H2O = science.Pascal(float64(a.NH3)/n), science.Pascal(float64(a.H2O)/n)
	return a, true
}

// watch joins what was seen of each face into one interval.
func (c *Calibration) watch(b Bench, jobs []Job, log []studio.ChamberLog, now time.Time) []film.Seen {
	type key struct {
		treatment int64
		face      studio.Face
	}
	seen := map[key][]studio.ChamberLog{}
	var order []key
	for _, l := range log {
		if l.Kind != studio.SaltSeen {
			continue
		}
		k := key{l.Treatment, l.Face}
		if len(seen[k]) == 0 {
			order = append(order, k)
		}
		seen[k] = append(seen[k], l)
	}
	var out []film.Seen
	for _, k := range order {
		for _, j := range jobs {
			if j.Treatment.ID != k.treatment {
				continue
			}
			for _, st := range StaysOf(j, b.Supplies, now) {
				if st.Face != k.face || st.Chamber != b.Chamber.ID || !st.Began {
					continue
				}
				from := st.In
				if !st.Salted.IsZero() {
					from = st.Salted
				}
				w := Watch{Stay: st, By: math.Inf(1)}
				for _, l := range seen[k] {
					h := l.At.Sub(from).Hours()
					if h < 0 || (!st.Going && l.At.After(st.Out.Add(together))) {
						continue
					}
					if l.Saw == studio.Grains {
						w.NotYet = max(w.NotYet, h)
					} else {
						w.By = min(w.By, h)
					}
				}
				switch {
				case w.NotYet == 0 && math.IsInf(w.By, 1):
					continue
				case w.NotYet >= w.By:
					c.Refused = append(c.Refused, fmt.Sprintf("swatch %d %s: grains were seen after all was dissolved", st.Swatch, st.Face))
					continue
				case st.Unknown || st.SaltGPerM2 == 0:
					c.Refused = append(c.Refused, fmt.Sprintf("swatch %d %s: how much salt lies on it is not known", st.Swatch, st.Face))
					continue
				}
				x, ok := b.alone(jobs, st, now)
				if !ok {
					c.Refused = append(c.Refused, fmt.Sprintf("swatch %d %s: nothing is known of the air it lay in", st.Swatch, st.Face))
					continue
				}
				takes := func(times float64) (float64, error) {
					v := x
					v.k, v.step = times, rough
					r, err := v.run()
					if errors.Is(err, chamber.ErrPadTooSmall) {
						return math.Inf(1), nil
					}
					if err != nil {
						return 0, err
					}
					f := r.Pieces[0].Faces[0]
					if !f.Dissolved {
						return math.Inf(1), nil
					}
					return (f.DissolvedAt - max(f.In, f.Salted)).Hours(), nil
				}
				c.Watches = append(c.Watches, w)
				out = append(out, film.Seen{NotYet: w.NotYet, By: w.By, Takes: takes})
			}
		}
	}
	return out
}

// alone returns the run that one stay had, with the openings of all.
func (b Bench) alone(jobs []Job, st Stay, now time.Time) (setting, bool) {
	s := State{At: st.Out}
	if st.Going {
		s.At = now
	}
	log := studio.Standing(b.Log)
	stays := begun(b, jobs, now)
	c, ok := s.charged(b, log, stays)
	if !ok {
		return setting{}, false
	}
	x, _ := s.prepare(b, c, log, stays, roomRead(jobs, s.At))
	if x.hours <= 0 {
		return x, false
	}
	x.pieces = []chamber.Piece{piece(st, c.at, s.Offset, 1)}
	x.pieces[0].Faces[0].Out = 0 // followed on, to tell when it would have dissolved
	return x, true
}
