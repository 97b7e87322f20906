package room

import (
	"math"
	"slices"
	"time"

	"aerugo/internal/science"
)

// A Room is a workroom. VolumeM3 is 1 to 100 000; AirChangesPerH is fresh air
// over volume, 0 to 1000; Mixing is K, 1 (perfect) to 10 (poor), by which the
// air changes count for less (CDC 1994); Temp is 0 to 40 °C.
type Room struct {
	VolumeM3       float64
	AirChangesPerH float64
	Mixing         float64
	Temp           science.Celsius
}

// A Release is gas let into the room: Grams at once, or evenly Over a time.
type Release struct {
	At    time.Duration
	Grams float64
	Over  time.Duration
}

// A Course is what the releases make of the room's air, which was clean before.
type Course struct {
	room     Room
	releases []Release
	breaks   []float64 // hours at which something starts or ends, rising
	rate     float64   // per hour
	perGram  float64   // ppm
}

// longest is how far ahead a course can be asked about.
const longest = 30 * 24 * time.Hour

// Check returns a [science.RangeError] for a room outside its range.
func (r Room) Check() error {
	for _, c := range []struct {
		what     string
		got      float64
		min, max float64
		unit     string
	}{
		{"volume of the room", r.VolumeM3, 1, 1e5, "m³"},
		{"air changes", r.AirChangesPerH, 0, 1000, "an hour"},
		{"mixing factor", r.Mixing, 1, 10, ""},
		{"temperature of the room", float64(r.Temp), 0, 40, "°C"},
	} {
		if !(c.got >= c.min && c.got <= c.max) {
			return &science.RangeError{What: c.what, Got: c.got, Min: c.min, Max: c.max, Unit: c.unit, Ref: refRoom}
		}
	}
	return nil
}

// Rate is the share of the gas that leaves, per hour: air changes over K.
func (r Room) Rate() float64 { return r.AirChangesPerH / r.Mixing }

// Run returns the course of a gas of the given molar mass (g/mol). Releases lie
// within 30 days and hold 0 to a million grams each; there may be none.
//
// The sum is exact for the well-mixed room: each release adds its own
// exponential, V dC/dt = G - (Q/K) C.
func (r Room) Run(molarMass float64, releases []Release) (Course, error) {
	if err := r.Check(); err != nil {
		return Course{}, err
	}
	per, err := massOf(molarMass, r.Temp, AtmosphereKPa)
	if err != nil {
		return Course{}, err
	}
	c := Course{room: r, releases: slices.Clone(releases), rate: r.Rate(), perGram: 1000 / r.VolumeM3 / per}
	for _, e := range releases {
		if !(e.Grams >= 0 && e.Grams <= 1e6) {
			return Course{}, &science.RangeError{What: "gas let out", Got: e.Grams, Min: 0, Max: 1e6, Unit: "g"}
		}
		for _, d := range []time.Duration{e.At, e.Over} {
			if d < 0 || d > longest {
				return Course{}, &science.RangeError{What: "time of a release", Got: d.Hours(), Min: 0, Max: longest.Hours(), Unit: "h"}
			}
		}
		c.breaks = append(c.breaks, e.At.Hours(), (e.At + e.Over).Hours())
	}
	slices.Sort(c.breaks)
	c.breaks = slices.Compact(c.breaks)
	return c, nil
}

// At returns the room's average at a time; a release at that very moment counts.
func (c Course) At(t time.Duration) PPM { return PPM(c.at(t.Hours())) }

func (c Course) at(h float64) float64 {
	sum := 0.0
	for _, e := range c.releases {
		since := h - e.At.Hours()
		if since < 0 {
			continue
		}
		sum += e.Grams * c.perGram * c.left(since, e.Over.Hours())
	}
	return sum
}

// left is the share of a release that is in the room so long after it began.
func (c Course) left(since, over float64) float64 {
	if over == 0 {
		return math.Exp(-c.rate * since)
	}
	fed := min(since, over)
	return grown(c.rate, fed) / over * math.Exp(-c.rate*(since-fed))
}

// grown is (1 - exp(-rate h))/rate, h when nothing leaves.
func grown(rate, h float64) float64 {
	if rate*h < 1e-12 {
		return h
	}
	return -math.Expm1(-rate*h) / rate
}

// total is the concentration summed from the start to hour h, in ppm h.
func (c Course) total(h float64) float64 {
	sum := 0.0
	for _, e := range c.releases {
		since := h - e.At.Hours()
		if since <= 0 {
			continue
		}
		part, over := 0.0, e.Over.Hours()
		if over == 0 {
			part = grown(c.rate, since)
		} else {
			fed := min(since, over)
			part = fedTotal(c.rate, fed)/over + grown(c.rate, fed)/over*grown(c.rate, since-fed)
		}
		sum += e.Grams * c.perGram * part
	}
	return sum
}

// fedTotal is the integral of grown from 0 to h. Below rate h = 1e-4 the exact
// form loses digits to cancellation, and the series is used.
func fedTotal(rate, h float64) float64 {
	if x := rate * h; x < 1e-4 {
		return h * h * (0.5 - x/6 + x*x/24)
	}
	return (h - grown(rate, h)) / rate
}

// Peak returns the highest average of the room and when it stands there first.
// Between two breaks the course moves one way only, so a break holds the peak.
func (c Course) Peak() (peak PPM, at time.Duration) {
	for _, h := range c.breaks {
		if v := PPM(c.at(h)); v > peak {
			peak, at = v, hours(h)
		}
	}
	return peak, at
}

// Average returns the mean over a time of length span, over 0, from a moment on.
func (c Course) Average(from, span time.Duration) PPM {
	a, b := from.Hours(), (from + span).Hours()
	if !(b > a) {
		return c.At(from)
	}
	return PPM((c.total(b) - c.total(a)) / (b - a))
}

// Worst returns the highest mean over any stretch of the given length, at least
// a second: 15 minutes or 8 hours for a workplace limit. Air before the first
// release counts as clean.
func (c Course) Worst(span time.Duration) PPM {
	w := max(span, time.Second).Hours()
	mean := func(end float64) float64 { return (c.total(end) - c.total(end-w)) / w }
	ends := make([]float64, 0, 2*len(c.breaks))
	for _, h := range c.breaks {
		ends = append(ends, h, h+w)
	}
	slices.Sort(ends)
	worst := 0.0
	for i, end := range ends {
		worst = max(worst, mean(end))
		if i == 0 {
			continue
		}
		// Within a piece both ends of the stretch follow one exponential, so that
		// the mean turns at most once: where C(end) = C(end - w).
		worst = max(worst, mean(turn(func(h float64) float64 { return c.at(h) - c.at(h-w) }, ends[i-1], end)))
	}
	return PPM(worst)
}

// turn finds where f changes sign between a and b, or returns b.
func turn(f func(float64) float64, a, b float64) float64 {
	// The ends themselves belong to the neighbouring pieces.
	inset := (b - a) * 1e-9
	lo, hi := a+inset, b-inset
	if f(lo) <= 0 || f(hi) >= 0 {
		return b
	}
	for range 80 {
		mid := (lo + hi) / 2
		if f(mid) > 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// ClearAfter returns how long after the end of the last release the room stays
// at or below a limit: 0 when it does so at once, and false when it never does
// because no air is changed.
func (c Course) ClearAfter(limit PPM) (wait time.Duration, ok bool) {
	if len(c.breaks) == 0 {
		return 0, true
	}
	last := c.at(c.breaks[len(c.breaks)-1])
	if last <= float64(limit) {
		return 0, true
	}
	if c.rate == 0 || limit <= 0 {
		return 0, false
	}
	return Clearing(PPM(last), limit, c.room.AirChangesPerH, c.room.Mixing)
}

// Above returns how long the room's average stands above a limit within the
// first hours of the course.
func (c Course) Above(limit PPM, within time.Duration) time.Duration {
	end := within.Hours()
	edges := append([]float64{0}, c.breaks...)
	edges = append(edges, end)
	slices.Sort(edges)
	sum := 0.0
	over := func(h float64) float64 { return c.at(h) - float64(limit) }
	for i := 1; i < len(edges); i++ {
		a, b := edges[i-1], min(edges[i], end)
		if b <= a {
			continue
		}
		// At a break the gas of the next release is counted already; the piece
		// before it ends just short of it.
		first, last := over(a), over(b-(b-a)*1e-9)
		switch {
		case first > 0 && last > 0:
			sum += b - a
		case first > 0:
			sum += turn(over, a, b) - a
		case last > 0:
			sum += b - turn(func(h float64) float64 { return -over(h) }, a, b)
		}
	}
	return hours(sum)
}

// hours makes a duration; beyond 100 years it says 100 years.
func hours(h float64) time.Duration {
	return time.Duration(math.Round(min(h, 876600) * float64(time.Hour)))
}
