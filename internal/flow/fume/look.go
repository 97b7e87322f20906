package fume

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"aerugo/internal/science"
	"aerugo/internal/science/chamber"
	"aerugo/internal/science/film"
	"aerugo/internal/science/room"
	"aerugo/internal/science/solution"
	"aerugo/internal/studio"
)

const (
	// ahead is how far past the last planned way out a run is followed, to tell
	// when salt would dissolve if it were left in.
	ahead = 24 * time.Hour
	// together is how close two openings of the lid count as one.
	together = 3 * time.Minute
	// rough is the step of the runs that only bound an answer.
	rough = 20 * time.Minute
	// forgotten is how long after it was emptied a chamber whose pad nobody logged
	// counts as not in use any more.
	forgotten = 12 * time.Hour
	// longest is how long one charge of the pad is followed.
	longest = 14 * 24 * time.Hour
)

// A Bench is what is known of one chamber besides the treatments in it. K is the
// multiplier of the model's own speed of water to the metal, with its interval;
// the zero Span means not calibrated.
type Bench struct {
	Chamber  studio.Chamber
	Log      []studio.ChamberLog
	Supplies []studio.Supply
	K        Span
}

// A Face is one stay with what the reckoning says of it.
//
// DissolvedAt is when all its salt will have dissolved, or had, were it left in;
// Soonest and Latest bound it, and are zero where that never comes within the
// time followed. Share is how much has dissolved by now, FilmUM how thick the
// liquid lies in µm, WetFor how long all salt has been dissolved by now, and
// WetAtOut how long it will have been when it comes out. Dew says that water
// gathers even beside the salt. None says that there is no salt to dissolve.
type Face struct {
	Stay
	DissolvedAt, Soonest, Latest time.Time
	Share                        float64
	FilmUM, FilmGPerM2           float64
	WetFor, WetAtOut             time.Duration
	RH                           float64
	Dew, None                    bool
}

// A Moment is the air under the lid at one time.
type Moment struct {
	At time.Time
	Air
	RH float64 // at a piece as warm as Look's Offset says, 0 to 1
}

// A State is a chamber at one time and how it goes on.
//
// Charged is when the pad was last wetted; Live that the chamber holds ammonia.
// Low and High bound the ammonia now. Halved is when its pressure will have
// fallen to half of the freshly charged pad's, zero if not within the time
// followed. Lifted are the openings reckoned with. Flammable is set when the
// air under the lid, or on its way out of it, can burn. Loose is the ammonia in
// the air that one opening lets out, in grams; All what is in pad and air together.
type State struct {
	At, Charged, Halved time.Time
	Live                bool
	Now                 Moment
	LowPPM, HighPPM     float64
	Temp                science.Celsius
	Offset              science.Celsius
	StartStrength       float64
	SolutionG           float64
	Faces               []Face
	Series              []Moment
	Lifted              []time.Time
	Flammable           bool
	FlammableFrom       float64
	FlammableTo         float64
	LooseG, AllG        float64
	NeedG               float64 // solution that keeps half the ammonia until the last swatch is out; 0 not known
	K                   Span
	Assumed             []Assumption
	Why                 string // why nothing can be reckoned; the rest is then zero
	aired               time.Time
	Empty               bool // nothing was put in, as far as was said, since it was made or aired
}

// Look reckons a chamber at the time now. Jobs are all treatments with a step in
// this chamber; those that have not begun are left out.
func Look(b Bench, jobs []Job, now time.Time) State {
	s := State{At: now}
	stays := begun(b, jobs, now)
	log := studio.Standing(b.Log)
	c, ok := s.charged(b, log, stays)
	if !ok {
		if s.Why == "" {
			s.Why, s.Empty = "Nothing was put into it yet.", true
			if !s.aired.IsZero() {
				s.Why = fmt.Sprintf("It was aired on %s, and nothing was put into it since.", s.aired.Local().Format("2 January, 15:04"))
			}
		}
		return s
	}
	s.reckon(b, c, log, stays, roomRead(jobs, now))
	if s.Live {
		again := State{At: now}
		x, inside := again.prepare(b, c, log, stays, roomRead(jobs, now))
		s.NeedG = need(x, c, inside)
	}
	return s
}

// begun returns the stays in this chamber that have begun by a time.
func begun(b Bench, jobs []Job, now time.Time) []Stay {
	var out []Stay
	for _, j := range jobs {
		for _, st := range StaysOf(j, b.Supplies, now) {
			if st.Chamber != b.Chamber.ID || !st.Began || st.In.After(now) {
				continue
			}
			// Looked back at, a face that has come out since was in there still.
			st.Going = st.Going || st.Out.After(now)
			out = append(out, st)
		}
	}
	return out
}

func (s *State) assume(what, value string) {
	s.Assumed = append(s.Assumed, Assumption{What: what, Value: value, Source: film.NoSource})
}

// reckon runs the chamber once as thought and once for each input that may be
// otherwise.
func (s *State) reckon(b Bench, c charge, log []studio.ChamberLog, stays []Stay, readings *float64) {
	x, reckoned := s.prepare(b, c, log, stays, readings)
	if s.At.Sub(c.at) >= longest {
		s.Why = fmt.Sprintf("The pad was last wetted on %s; wet it afresh and say so.", c.at.Local().Format("2 Jan"))
		return
	}
	base, err := x.run()
	if err != nil {
		s.Why = because(err)
		return
	}
	s.Live = true
	s.follow(base, c.at)
	s.LooseG *= b.Chamber.VolumeL / 1000 * x.lost
	s.AllG += s.LooseG / x.lost
	s.flammable()

	if len(x.pieces) == 0 {
		s.spread(x, c)
		return
	}
	others := s.spread(x, c)
	heavier, lighter := x, x
	heavier.step, lighter.step = rough, rough
	heavier.pieces, lighter.pieces = nil, nil
	for _, st := range reckoned {
		heavier.pieces = append(heavier.pieces, piece(st, c.at, s.Offset, 1+relative(st)))
		lighter.pieces = append(lighter.pieces, piece(st, c.at, s.Offset, 1-relative(st)))
	}
	for _, v := range []setting{heavier, lighter} {
		if r, err := v.run(); err == nil {
			others = append(others, r)
		}
	}
	for i, st := range reckoned {
		s.Faces = append(s.Faces, s.face(st, i, base, others, c.at))
	}
	slices.SortStableFunc(s.Faces, func(a, b Face) int { return int(a.Swatch - b.Swatch) })
}

// spread runs the chamber with one input otherwise at a time and bounds the ammonia.
func (s *State) spread(x setting, c charge) []chamber.Result {
	var out []chamber.Result
	by := chamber.StrengthSpread
	if c.unsure {
		by = c.strength / 2
	}
	s.LowPPM, s.HighPPM = s.Now.PPM(), s.Now.PPM()
	add := func(change func(*setting)) {
		v := x
		v.step = rough
		change(&v)
		r, err := v.run()
		if err != nil {
			return
		}
		out = append(out, r)
		ppm := airAt(r.Series, s.At.Sub(c.at)).PPM()
		s.LowPPM, s.HighPPM = min(s.LowPPM, ppm), max(s.HighPPM, ppm)
	}
	add(func(v *setting) { v.k = s.K.Low })
	add(func(v *setting) { v.k = s.K.High })
	add(func(v *setting) { v.pad.Strength = max(v.pad.Strength-by, 0.001) })
	add(func(v *setting) { v.pad.Strength = min(v.pad.Strength+by, 0.30) })
	return out
}

// airAt returns the air of a series at one time, the last before it.
func airAt(series []Air, at time.Duration) Air {
	i, _ := slices.BinarySearchFunc(series, at, func(a Air, d time.Duration) int {
		if a.At <= d {
			return -1
		}
		return 1
	})
	if i == 0 {
		return series[0]
	}
	return series[i-1]
}

// follow keeps the air now and through the run.
func (s *State) follow(r chamber.Result, start time.Time) {
	rh := func(a Air) float64 {
		full, err := solution.WaterPressure(s.Temp + s.Offset)
		if err != nil {
			return math.NaN()
		}
		return float64(a.H2O / full)
	}
	for _, a := range r.Series {
		s.Series = append(s.Series, Moment{At: start.Add(a.At), Air: a, RH: rh(a)})
	}
	a := airAt(r.Series, s.At.Sub(start))
	s.Now = Moment{At: s.At, Air: a, RH: rh(a)}
	if r.Halved {
		s.Halved = start.Add(r.HalvedAt)
	}
	s.AllG = a.PadG * a.Strength
	s.LooseG = float64(a.NH3) * room.AmmoniaMolarMass / (8.314462618 * float64(s.Temp.Kelvin())) // g/m³, as an ideal gas
}

// flammable compares the air under the lid, and what it passes through on its
// way out, with ammonia's flammable range.
func (s *State) flammable() {
	from, to, err := solution.AmmoniaFlammable(s.Temp)
	if err != nil {
		return
	}
	s.FlammableFrom, s.FlammableTo = from, to
	s.Flammable = s.Now.Share() >= 0.15 // richer air is diluted through the range
}

// face reads what became of one face, with its bounds.
func (s *State) face(st Stay, i int, base chamber.Result, others []chamber.Result, start time.Time) Face {
	now := s.At
	r := base.Pieces[i].Faces[0]
	f := Face{Stay: st, Dew: base.Pieces[i].Dew, None: st.SaltGPerM2 == 0, RH: base.Pieces[i].RH(s.Now.Air)}
	at := now.Sub(start)
	if !st.Going {
		at = min(at, st.Out.Sub(start))
	}
	for _, m := range r.Series {
		if m.At > at {
			break
		}
		f.Share, f.FilmGPerM2 = m.Share, m.FilmGPerM2
	}
	f.FilmUM = f.FilmGPerM2 / 1.1 // g/m² of a brine of about 1.1 g/mL is µm
	if f.None {
		return f
	}
	since := func(r chamber.FaceResult) float64 { // h from when it went in, or its salt went on
		if !r.Dissolved {
			return math.Inf(1)
		}
		return (r.DissolvedAt - max(r.In, r.Salted)).Hours()
	}
	value := since(r)
	var all []float64
	for _, o := range others {
		all = append(all, since(o.Pieces[i].Faces[0]))
	}
	from := start.Add(max(r.In, r.Salted))
	when := func(h float64) time.Time {
		if math.IsInf(h, 1) {
			return time.Time{}
		}
		return from.Add(time.Duration(h * float64(time.Hour)))
	}
	span := film.Combine(value, all...)
	f.DissolvedAt, f.Soonest, f.Latest = when(span.Value), when(span.Low), when(span.High)
	if !f.DissolvedAt.IsZero() {
		f.WetFor = max(min(now.Sub(start), outOf(st, now).Sub(start))-f.DissolvedAt.Sub(start), 0)
		f.WetAtOut = max(st.Out.Sub(f.DissolvedAt), 0)
	}
	return f
}

func outOf(st Stay, now time.Time) time.Time {
	if st.Going {
		return now
	}
	return st.Out
}

// because puts a refusal of the model into a person's words.
func because(err error) string {
	var out *science.RangeError
	switch {
	case errors.Is(err, chamber.ErrPadTooSmall):
		return "The pad holds too little even to fill the air under the lid; look at what was written for it."
	case errors.As(err, &out):
		return fmt.Sprintf("It can't be reckoned: the %s is %.3g %s, and the formulas hold from %.3g to %.3g.", out.What, out.Got, out.Unit, out.Min, out.Max)
	}
	return "It can't be reckoned: " + err.Error() + "."
}

// Past returns what became of each face of one treatment in a chamber, as of when
// it came out or now: none if it was never in there, or nothing can be reckoned.
func Past(b Bench, jobs []Job, treatment int64, now time.Time) []Face {
	var out []Face
	for _, j := range jobs {
		if j.Treatment.ID != treatment {
			continue
		}
		done := map[time.Time]bool{}
		for _, st := range StaysOf(j, b.Supplies, now) {
			if st.Chamber != b.Chamber.ID || !st.Began {
				continue
			}
			at := now
			if !st.Going {
				at = st.Out
			}
			if done[at] {
				continue
			}
			done[at] = true
			for _, f := range Look(b, jobs, at).Faces {
				if f.Treatment == treatment && (f.Going == st.Going) && f.In.Equal(st.In) {
					out = append(out, f)
				}
			}
		}
	}
	return out
}

// need returns the solution of the pad's strength that would keep half the
// ammonia's pressure until the last stay ends, with all its openings; 0 if none does.
func need(x setting, c charge, stays []Stay) float64 {
	var last time.Time
	for _, st := range stays {
		if st.Out.After(last) {
			last = st.Out
		}
	}
	hours := last.Sub(c.at).Hours()
	if last.IsZero() || hours <= 0.1 {
		return 0
	}
	var before []chamber.Opening
	for _, o := range x.openings {
		if o.At.Hours() < hours-together.Hours() {
			before = append(before, o)
		}
	}
	g, err := chamber.SolutionFor(x.box, c.strength, before, hours, 0.5)
	if err != nil {
		return 0 // no pad would do
	}
	return g
}
