package fume

import (
	"math"
	"time"

	"aerugo/internal/science/chamber"
	"aerugo/internal/studio"
)

// Exposure is what a face meets in a chamber, in hours: how long its salt needs to
// dissolve (a day past its stay at most), how long it is wet by the end, and the
// ammonia it meets while wet, in ppm h.
type Exposure struct{ TakesH, WetH, PPMH float64 }

// Expose reckons the exposure of one face of a planned treatment as [Foretell] does,
// but once and without bounds, for the many settings that a search looks at. False
// where it is not in this chamber or can't be reckoned.
func Expose(b Bench, t studio.Treatment, sw studio.Swatch, face studio.Face, temp *float64) (e Exposure, ok bool) {
	start := time.Date(2000, 1, 1, 8, 0, 0, 0, time.UTC) // any: only spans are read
	for _, st := range StaysOf(Job{Treatment: t, Swatch: sw}, b.Supplies, start) {
		if st.Chamber != b.Chamber.ID || st.Face != face {
			continue
		}
		if st.Unknown {
			return Exposure{}, false
		}
		st.Began, st.Going = true, true
		s := State{At: st.Out}
		c := charge{at: st.In, grams: b.Chamber.PadML, strength: st.Strength / 100}
		if c.grams == 0 {
			c.grams = chamber.DefaultSolutionG
		}
		if c.strength == 0 {
			c.strength = chamber.DefaultStrength
		}
		x, _ := s.prepare(b, c, studio.Standing(b.Log), []Stay{st}, temp)
		x.step = rough
		if st.SaltGPerM2 == 0 {
			x.hours = st.Out.Sub(st.In).Hours() // nothing to wait for
		}
		r, err := x.run()
		if err != nil || len(r.Pieces) == 0 {
			return Exposure{}, false
		}
		f := r.Pieces[0].Faces[0]
		stay := st.Out.Sub(st.In)
		from := time.Duration(0)
		switch {
		case st.SaltGPerM2 == 0:
		case f.Dissolved:
			from = f.DissolvedAt
			e.TakesH += (f.DissolvedAt - max(f.In, f.Salted)).Hours()
		default:
			from = x.end()
			e.TakesH += (x.end() - max(f.In, f.Salted)).Hours()
		}
		if st.SaltGPerM2 > 0 || st.WaterGPerM2 > 0 {
			e.WetH += max(0, (stay - from).Hours())
			e.PPMH += doseOf(r.Series, from, stay)
		}
		ok = true
	}
	return e, ok && !math.IsNaN(e.PPMH)
}

func (x setting) end() time.Duration { return time.Duration(x.hours * float64(time.Hour)) }

// doseOf adds up ppm over hours between two times.
func doseOf(series []Air, from, to time.Duration) float64 {
	sum := 0.0
	for i := 1; i < len(series); i++ {
		a, b := max(series[i-1].At, from), min(series[i].At, to)
		if b > a {
			sum += (b - a).Hours() * (series[i-1].PPM() + series[i].PPM()) / 2
		}
	}
	return sum
}
