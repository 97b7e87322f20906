package chamber

import (
	"cmp"
	"errors"
	"math"
	"slices"
	"time"

	"aerugo/internal/science"
	"aerugo/internal/science/film"
)

// ErrPadTooSmall says that the pad holds too little even to fill the air under the
// lid.
var ErrPadTooSmall = errors.New("the solution on the pad is too little to fill the chamber's air with vapour")

// ErrBoils says that the solution's vapour would push the air out of the chamber.
var ErrBoils = errors.New("so strong a solution boils at that temperature; take a weaker one or a cooler place")

// Run computes a chamber from the closing of its lid to some hours later (above 0,
// to 1440). Openings and faces may be in any order.
//
// Totals move by the mean of their rates at both ends of a step, films by
// Alexander's implicit method: second order in the step together. Range: that
// of the fields; salts that package solution knows activities for.
func Run(box Box, pad Pad, openings []Opening, pieces []Piece, hours float64, opt Options) (Result, error) {
	r, err := newRunner(box, pad, openings, pieces, hours, opt)
	if err != nil {
		return Result{}, err
	}
	r.run()
	return r.finish(), nil
}

// wet is the state of one face.
type wet struct {
	brine       *film.Brine
	piece, face int
	salt        float64 // on it by now, g/m²
	water       float64 // g/m²
	area        float64
	next        float64 // water at the end of the step being tried
	ammonia     float64 // mol per kg of its water
	inside      bool
}

// runner is a run under way.
type runner struct {
	box    Box
	volume float64 // m³
	bath   *film.Brine
	k      float64
	step   float64 // s
	end    float64
	room   float64 // g/m³ of water in the room's air

	openings []Opening
	stops    []float64
	faces    []wet

	at float64 // s
	pad
	stock
	out    Result
	halfOf science.Pascal
}

func newRunner(box Box, pad Pad, openings []Opening, pieces []Piece, hours float64, opt Options) (*runner, error) {
	if opt.Step == 0 {
		opt.Step = 5 * time.Minute
	}
	if opt.K == 0 {
		opt.K = 1
	}
	err := first(box.check(), pad.check(),
		within("hours", hours, 1.0/60, mostHours, "h"),
		within("longest step", opt.Step.Seconds(), 1, 7200, "s"),
		within("multiplier of the transfer coefficient", opt.K, 0.001, 1000, ""))
	if err != nil {
		return nil, err
	}
	r := &runner{box: box, volume: box.VolumeL / 1000, end: hours * 3600, step: opt.Step.Seconds(), openings: slices.Clone(openings)}
	if box.LeakPerH > 0 {
		r.step = min(r.step, 0.1*3600/box.LeakPerH)
	}
	if r.k, err = box.K(); err != nil {
		return nil, err
	}
	r.k *= opt.K
	r.out.K = r.k
	if r.bath, err = film.NewBrine("", box.Temp); err != nil {
		return nil, err
	}
	r.room = box.RoomRH * r.bath.VapourGPerM3
	r.stops = append(r.stops, r.end)
	stop := func(d time.Duration) {
		if s := d.Seconds(); s > 0 && s < r.end {
			r.stops = append(r.stops, s)
		}
	}
	for _, o := range openings {
		if err := o.check(); err != nil {
			return nil, err
		}
		stop(o.At)
	}
	slices.SortStableFunc(r.openings, func(a, b Opening) int { return cmp.Compare(a.At, b.At) })
	brines := map[brineKey]*film.Brine{}
	for i, p := range pieces {
		if err := within("temperature of a piece", float64(box.Temp+p.Offset), 0, 40, "°C"); err != nil {
			return nil, err
		}
		res := PieceResult{Piece: p}
		for j, f := range p.Faces {
			if err := f.check(); err != nil {
				return nil, err
			}
			key := brineKey{f.Salt, box.Temp + p.Offset}
			if f.SaltGPerM2 == 0 {
				key.salt = ""
			}
			if brines[key] == nil {
				if brines[key], err = film.NewBrine(key.salt, key.t); err != nil {
					return nil, err
				}
			}
			r.faces = append(r.faces, wet{brine: brines[key], piece: i, face: j, area: f.AreaM2})
			res.Faces = append(res.Faces, FaceResult{Face: f})
			stop(f.In)
			stop(f.Out)
			stop(f.Salted)
		}
		if res.bare, err = film.NewBrine("", box.Temp+p.Offset); err != nil {
			return nil, err
		}
		r.out.Pieces = append(r.out.Pieces, res)
	}
	slices.Sort(r.stops)
	r.stops = slices.Compact(r.stops)

	r.nh3 = pad.SolutionG * pad.Strength / molarAmmonia
	r.h2o = pad.SolutionG*(1-pad.Strength) + r.room*r.volume
	r.molality = 1000 * pad.Strength / (molarAmmonia * (1 - pad.Strength))
	r.out.Ammonia.Start = r.nh3 * molarAmmonia
	r.out.Water.Start = r.h2o
	if !r.settle() {
		return nil, ErrPadTooSmall
	}
	if r.air.NH3+r.air.H2O >= atmosphere {
		return nil, ErrBoils
	}
	r.halfOf = r.air.NH3 / 2
	return r, nil
}

type brineKey struct {
	salt string
	t    science.Celsius
}

// run carries the chamber to its end, or to where the pad is dry.
func (r *runner) run() {
	r.events(0)
	n := int(r.end/r.step) + 2*len(r.stops) + 2
	r.out.Series = make([]Air, 0, n)
	for i := range r.faces {
		r.face(i).Series = make([]Film, 0, n)
	}
	r.record()
	for _, stop := range r.stops {
		if r.out.PadDry || !r.span(stop) {
			r.out.PadDry = true
			return
		}
		if stop < r.end && r.events(stop) {
			r.record()
		}
	}
}

func (r *runner) face(i int) *FaceResult {
	return &r.out.Pieces[r.faces[i].piece].Faces[r.faces[i].face]
}

// events does what happens at one time, and reports whether anything did.
func (r *runner) events(at float64) bool {
	happened := false
	for i := range r.faces {
		f, face := &r.faces[i], r.face(i)
		if !f.inside && face.In.Seconds() == at {
			f.inside, f.water, f.next = true, face.WaterGPerM2, face.WaterGPerM2
			r.h2o += f.area * f.water
			r.brought.h2o += f.area * f.water
			happened = true
		}
		if f.inside && face.salted().Seconds() == at {
			f.salt = face.SaltGPerM2
			happened = true
			if f.water >= f.brine.Needs(f.salt) {
				face.Dissolved, face.DissolvedAt = true, seconds(at)
			}
		}
	}
	for _, o := range r.openings {
		if o.At.Seconds() == at && o.Lost > 0 {
			nh3, h2o := r.inAir()
			fresh := r.room * r.volume
			was := r.stock
			r.nh3 -= o.Lost * nh3
			r.h2o += o.Lost * (fresh - h2o)
			r.opened.nh3 += o.Lost * nh3
			r.opened.h2o += o.Lost * h2o
			r.brought.h2o += o.Lost * fresh
			happened = true
			if !r.settle() {
				r.stock, r.out.PadDry = was, true
				return true
			}
		}
	}
	for i := range r.faces {
		f, face := &r.faces[i], r.face(i)
		if f.inside && face.Out != 0 && face.Out.Seconds() == at {
			nh3 := f.area * f.water / 1000 * r.close(i)
			r.nh3 -= nh3
			r.h2o -= f.area * f.water
			r.taken.nh3 += nh3
			r.taken.h2o += f.area * f.water
			f.inside = false
			happened = true
		}
	}
	if happened && !r.settle() {
		r.out.PadDry = true
	}
	return happened
}

// span goes to the next stop in even steps; false when the pad ran dry.
func (r *runner) span(stop float64) bool {
	n := max(1, int(math.Ceil((stop-r.at)/r.step-1e-9)))
	h := (stop - r.at) / float64(n)
	start := r.at
	var before film.Air
	for i := range n {
		from := r.air
		// The first step of a span is tried with still air and then again; later ones
		// know how the air was changing.
		guess, tries := from, 2
		if i > 0 {
			guess = film.Air{NH3: 2*from.NH3 - before.NH3, H2O: 2*from.H2O - before.H2O}
			tries = 1
		}
		nh3, h2o := r.inAir()
		totalNH3, totalH2O := r.nh3, r.h2o
		// Hold the changes of the air an hour for the mean of the air at both ends.
		changes := r.box.LeakPerH * h / 3600
		var outNH3, outH2O float64
		in := changes * r.room * r.volume
		for range tries {
			if from.NH3 > 0 {
				outNH3 = changes * (1 + float64(guess.NH3/from.NH3)) / 2 * nh3
			}
			outH2O = changes * (1 + float64(guess.H2O/from.H2O)) / 2 * h2o
			r.nh3, r.h2o = totalNH3-outNH3, totalH2O-outH2O+in
			for j := range r.faces {
				if f := &r.faces[j]; f.inside {
					f.next = f.brine.Advance(h, r.k, from, guess, r.box.Temp, f.salt, f.water)
				}
			}
			if !r.settle() {
				r.nh3, r.h2o = totalNH3, totalH2O
				return false
			}
			guess = r.air
		}
		r.leaked.nh3 += outNH3
		r.leaked.h2o += outH2O
		r.brought.h2o += in
		for j := range r.faces {
			r.land(j, h, from)
		}
		if !r.out.Halved && r.air.NH3 <= r.halfOf && r.halfOf > 0 {
			r.out.Halved = true
			after := 0.0 // when an opening did it
			if from.NH3 > r.halfOf {
				after = h * float64((from.NH3-r.halfOf)/(from.NH3-r.air.NH3))
			}
			r.out.HalvedAt = seconds(r.at + after)
		}
		before = from
		r.at = start + float64(i+1)*h
		if i == n-1 {
			r.at = stop
		}
		r.record()
	}
	return true
}

// land takes over what a step made of a face, and sees when its salt dissolved.
func (r *runner) land(i int, h float64, from film.Air) {
	f := &r.faces[i]
	if !f.inside {
		return
	}
	face := r.face(i)
	wetFor := 0.0
	switch {
	case f.salt < face.SaltGPerM2:
	case face.Dissolved:
		if f.next > 0 && f.next >= f.brine.Needs(f.salt) {
			wetFor = h
		}
	default:
		if needs := f.brine.Needs(f.salt); f.next >= needs {
			// Until it dissolves the film grows at a rate that only the air changes.
			rate := f.brine.Flux(from, r.box.Temp, r.k, f.salt, f.water)
			after := (needs - f.water) / rate
			if !(after >= 0 && after <= h) {
				after = h * min(max((needs-f.water)/(f.next-f.water), 0), 1)
			}
			face.Dissolved, face.DissolvedAt = true, seconds(r.at+after)
			wetFor = h - after
		}
	}
	face.WetTime += seconds(wetFor)
	f.water = f.next
}

func seconds(s float64) time.Duration { return time.Duration(math.Round(s * 1e9)) }

// film is the film on a face now.
func (r *runner) film(i int) Film {
	f := &r.faces[i]
	share := 1.0
	if f.salt < r.face(i).SaltGPerM2 {
		share = 0
	} else if needs := f.brine.Needs(f.salt); needs > 0 {
		share = min(1, f.water/needs)
	}
	return Film{At: seconds(r.at), WaterGPerM2: f.water, Share: share, FilmGPerM2: f.brine.FilmGPerM2(r.air.NH3, f.salt, f.water)}
}

// record adds one entry to every series.
func (r *runner) record() {
	padNH3 := r.molality * r.padWater / 1000 * molarAmmonia
	r.out.Series = append(r.out.Series, Air{At: seconds(r.at), NH3: r.air.NH3, H2O: r.air.H2O, Strength: padNH3 / (padNH3 + r.padWater), PadG: padNH3 + r.padWater})
	for i := range r.faces {
		if r.faces[i].inside {
			face := r.face(i)
			face.Series = append(face.Series, r.film(i))
		}
	}
	for i := range r.out.Pieces {
		p := &r.out.Pieces[i]
		if !p.Dew && p.Offset < 0 {
			p.Dew = p.bare.Flux(r.air, r.box.Temp, r.k, 0, 0) > 0
		}
	}
}
