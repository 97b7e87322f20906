package chamber

import (
	"errors"
	"fmt"
	"math"
	"time"

	"aerugo/internal/science"
	"aerugo/internal/science/film"
)

// MeanAir returns the mean air under the lid between two times.
func MeanAir(box Box, pad Pad, openings []Opening, from, to time.Duration) (film.Air, error) {
	if !(from >= 0 && to > from) {
		return film.Air{}, fmt.Errorf("a mean from %v to %v needs its end after its start", from, to)
	}
	r, err := Run(box, pad, openings, nil, to.Hours(), Options{})
	if err != nil {
		return film.Air{}, err
	}
	if r.PadDry {
		return film.Air{}, errors.New("the pad ran dry before the cap was weighed again")
	}
	// The air changes by straight pieces between the entries.
	var nh3, h2o float64
	for i := 1; i < len(r.Series); i++ {
		a, b := r.Series[i-1], r.Series[i]
		start := max(a.At, from)
		if b.At <= start {
			continue
		}
		at := func(x, y science.Pascal, t time.Duration) float64 {
			return float64(x) + float64(y-x)*float64(t-a.At)/float64(b.At-a.At)
		}
		h := (b.At - start).Hours()
		nh3 += h * (at(a.NH3, b.NH3, start) + float64(b.NH3)) / 2
		h2o += h * (at(a.H2O, b.H2O, start) + float64(b.H2O)) / 2
	}
	h := (to - from).Hours()
	return film.Air{NH3: science.Pascal(nh3 / h), H2O: science.Pascal(h2o / h)}, nil
}

// KFromCap returns the multiplier of D/gap that a weighed cap of dry salt tells,
// put in at a time after the lid closed, with its 95 % interval. The cap's Air,
// AirTemperature and Temperature are filled in here; a strength off by
// StrengthSpread joins the interval.
func KFromCap(box Box, pad Pad, openings []Opening, in time.Duration, w film.Weighing) (film.Transfer, error) {
	own, err := box.K()
	if err != nil {
		return film.Transfer{}, err
	}
	w.AirTemperature, w.Temperature = box.Temp, box.Temp
	out := in + time.Duration(w.Hours*float64(time.Hour))
	with := func(strength float64) (film.Transfer, error) {
		p := pad
		p.Strength = strength
		var err error
		if w.Air, err = MeanAir(box, p, openings, in, out); err != nil {
			return film.Transfer{}, err
		}
		return film.KFromWeighing(w)
	}
	t, err := with(pad.Strength)
	if err != nil {
		return t, err
	}
	weaker, err := with(max(pad.Strength-2*StrengthSpread, 0))
	if err != nil {
		return t, err
	}
	stronger, err := with(min(pad.Strength+2*StrengthSpread, 0.30))
	if err != nil {
		return t, err
	}
	s := film.Combine(t.K, t.Low, t.High, weaker.K, stronger.K)
	return film.Transfer{K: s.Value / own, Low: s.Low / own, High: s.High / own, How: t.How}, nil
}

// Watched is one face whose salt was looked at.
type Watched struct {
	Piece, Face int     // which of the pieces
	NotYetH     float64 // h since the lid closed when crystals were still seen; 0 if it was not looked at before
	ByH         float64 // when none were left; +Inf if that was never seen
}

// KFromWatched returns the most likely multiplier of D/gap from faces watched in
// one run of a chamber; see [film.KFromDissolving] for the method. Use scatter 0
// for [film.Scatter].
func KFromWatched(box Box, pad Pad, openings []Opening, pieces []Piece, watched []Watched, scatter float64) (film.Transfer, error) {
	if scatter == 0 {
		scatter = film.Scatter
	}
	last := 1.0
	for _, w := range watched {
		if w.Piece < 0 || w.Piece >= len(pieces) || w.Face < 0 || w.Face >= len(pieces[w.Piece].Faces) {
			return film.Transfer{}, fmt.Errorf("face %d of piece %d was watched, and is not among the pieces", w.Face, w.Piece)
		}
		last = max(last, w.NotYetH)
		if !math.IsInf(w.ByH, 1) {
			last = max(last, w.ByH)
		}
	}
	// Three times as long tells slow faces apart as far as their scatter matters.
	hours := min(3*last, mostHours)
	runs := map[float64]Result{}
	// Times scatter as a share of what a face has spent since it was salted.
	salted := func(w Watched) float64 {
		return pieces[w.Piece].Faces[w.Face].salted().Hours()
	}
	takes := func(w Watched) func(float64) (float64, error) {
		return func(times float64) (float64, error) {
			r, ok := runs[times]
			if !ok {
				var err error
				if r, err = Run(box, pad, openings, pieces, hours, Options{Step: 10 * time.Minute, K: times}); err != nil {
					return 0, err
				}
				for i := range r.Pieces {
					for j := range r.Pieces[i].Faces {
						r.Pieces[i].Faces[j].Series = nil
					}
				}
				r.Series = nil
				runs[times] = r
			}
			return dissolvedH(r.Pieces[w.Piece].Faces[w.Face]) - salted(w), nil
		}
	}
	seen := make([]film.Seen, len(watched))
	for i, w := range watched {
		seen[i] = film.Seen{NotYet: max(w.NotYetH-salted(w), 0), By: w.ByH - salted(w), Takes: takes(w)}
	}
	return film.KFromDissolving(seen, scatter)
}
