package room

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"aerugo/internal/science"
)

func anyRoom() *rapid.Generator[Room] {
	return rapid.Custom(func(t *rapid.T) Room {
		r := Room{
			VolumeM3:       rapid.Float64Range(1, 1e5).Draw(t, "volume"),
			AirChangesPerH: rapid.Float64Range(0, 1000).Draw(t, "air changes"),
			Mixing:         rapid.Float64Range(1, 10).Draw(t, "mixing"),
			Temp:           science.Celsius(rapid.Float64Range(0, 40).Draw(t, "temperature")),
		}
		if rapid.Bool().Draw(t, "calm") {
			r.AirChangesPerH = rapid.SampledFrom([]float64{0, 1e-9, 0.3, 2, 6}).Draw(t, "calm air changes")
		}
		return r
	})
}

func anyReleases() *rapid.Generator[[]Release] {
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Release {
		e := Release{
			At:    time.Duration(rapid.IntRange(0, 600).Draw(t, "minute")) * time.Minute,
			Grams: rapid.Float64Range(0.01, 1000).Draw(t, "grams"),
		}
		if rapid.Bool().Draw(t, "slowly") {
			e.Over = time.Duration(rapid.IntRange(1, 300).Draw(t, "over")) * time.Minute
		}
		return e
	}), 1, 6)
}

// course draws a room and what is let into it.
func course(t *rapid.T) (Room, []Release, Course) {
	r, es := anyRoom().Draw(t, "room"), anyReleases().Draw(t, "releases")
	c, err := r.Run(AmmoniaMolarMass, es)
	if err != nil {
		t.Fatal(err)
	}
	return r, es, c
}

// What was let in is in the room or has left with the air: no gram is lost.
func TestGramsAreKept(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, es, c := course(t)
		h := time.Duration(rapid.IntRange(0, 1200).Draw(t, "minute")) * time.Minute
		in := 0.0
		for _, e := range es {
			switch since := h - e.At; {
			case since < 0:
			case e.Over == 0:
				in += e.Grams
			default:
				in += e.Grams * min(1, since.Hours()/e.Over.Hours())
			}
		}
		there := c.at(h.Hours()) / c.perGram
		gone := r.Rate() * c.total(h.Hours()) / c.perGram
		if math.Abs(there+gone-in) > 1e-9*(1+in) {
			t.Fatalf("%v g let in, %v in the room and %v gone", in, there, gone)
		}
	})
}

// The course solves V dC/dt = G - (Q/K) C: against steps of a second by the
// midpoint rule, whose error falls with the square of the step.
func TestCourseSolvesTheRoomsEquation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := Room{
			VolumeM3: rapid.Float64Range(10, 200).Draw(t, "volume"), AirChangesPerH: rapid.Float64Range(0, 20).Draw(t, "air changes"),
			Mixing: rapid.Float64Range(1, 10).Draw(t, "mixing"), Temp: 20,
		}
		e := Release{Grams: rapid.Float64Range(1, 100).Draw(t, "grams"), Over: time.Duration(rapid.IntRange(1, 60).Draw(t, "over")) * time.Minute}
		c, err := r.Run(AmmoniaMolarMass, []Release{e})
		if err != nil {
			t.Fatal(err)
		}
		const dt = 1.0 / 3600
		v := 0.0
		for i := range 2 * 3600 {
			feed := 0.0
			if time.Duration(i)*time.Second < e.Over {
				feed = e.Grams / e.Over.Hours() * c.perGram
			}
			half := v + dt/2*(feed-r.Rate()*v)
			v += dt * (feed - r.Rate()*half)
		}
		if got := float64(c.At(2 * time.Hour)); math.Abs(got-v) > 1e-4*v+1e-6 {
			t.Fatalf("%v ppm, stepping gives %v", got, v)
		}
	})
}

func TestPeakAndWorstBoundEveryMoment(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		_, _, c := course(t)
		peak, at := c.Peak()
		if got := c.At(at); math.Abs(float64(got-peak)) > 1e-6*float64(peak) {
			t.Fatalf("peak %v, but %v at its time", peak, got)
		}
		span := time.Duration(rapid.IntRange(1, 480).Draw(t, "span")) * time.Minute
		worst := c.Worst(span)
		if worst > peak*(1+1e-9) {
			t.Fatalf("mean %v above the peak %v", worst, peak)
		}
		for range 20 {
			from := time.Duration(rapid.IntRange(0, 1000).Draw(t, "from")) * time.Minute
			if v := c.At(from); v > peak*(1+1e-9) {
				t.Fatalf("%v at %v is above the peak %v", v, from, peak)
			}
			if v := c.Average(from, span); v > worst*(1+1e-7)+1e-9 {
				t.Fatalf("mean %v from %v is above the worst %v", v, from, worst)
			}
		}
		if longer := c.Worst(2 * span); longer > worst*(1+1e-7) {
			t.Fatalf("mean over twice the time %v is above %v", longer, worst)
		}
	})
}

// After the wait the room stands at the limit; a minute earlier above it.
func TestRoomIsClearWhenItSaysSo(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		_, _, c := course(t)
		last := hours(c.breaks[len(c.breaks)-1])
		limit := PPM(rapid.Float64Range(0.1, 300).Draw(t, "limit"))
		wait, ok := c.ClearAfter(limit)
		if !ok {
			if c.rate != 0 {
				t.Fatalf("never clears at rate %v", c.rate)
			}
			return
		}
		if wait.Hours() > 800000 { // the air is changed once in a thousand years
			return
		}
		if v := c.At(last + wait + time.Second); v > limit*(1+1e-6) {
			t.Fatalf("%v ppm after the wait for %v", v, limit)
		}
		if wait > time.Minute {
			if v := c.At(last + wait - time.Minute); v < limit {
				t.Fatalf("%v ppm a minute before the wait for %v is over", v, limit)
			}
		}
	})
}

// More gas, a smaller room, less fresh air or worse mixing never help.
func TestWorseIsNeverBetter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, es, c := course(t)
		worse := r
		switch rapid.IntRange(0, 3).Draw(t, "which") {
		case 0:
			worse.VolumeM3 = max(1, r.VolumeM3/2)
		case 1:
			worse.AirChangesPerH = r.AirChangesPerH / 2
		case 2:
			worse.Mixing = min(10, r.Mixing*2)
		default:
			es = append(es, Release{At: time.Hour, Grams: 5})
		}
		w, err := worse.Run(AmmoniaMolarMass, es)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range []time.Duration{0, 15 * time.Minute, 8 * time.Hour} {
			if w.Worst(m) < c.Worst(m)*(1-1e-7) {
				t.Fatalf("worst mean over %v: %v, better than %v", m, w.Worst(m), c.Worst(m))
			}
		}
		day := 24 * time.Hour
		if w.Above(25, day) < c.Above(25, day)-time.Second {
			t.Fatalf("above 25 ppm for %v, less than %v", w.Above(25, day), c.Above(25, day))
		}
	})
}

func TestVentilationFoundIsEnoughAndNotMore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, es := anyRoom().Draw(t, "room"), anyReleases().Draw(t, "releases")
		limit := PPM(rapid.Float64Range(1, 300).Draw(t, "limit"))
		ach, ok, err := r.ChangesToStayBelow(limit, 15*time.Minute, AmmoniaMolarMass, es)
		if err != nil {
			t.Fatal(err)
		}
		worst := func(ach float64) PPM {
			r.AirChangesPerH = ach
			c, err := r.Run(AmmoniaMolarMass, es)
			if err != nil {
				t.Fatal(err)
			}
			return c.Worst(15 * time.Minute)
		}
		if !ok {
			if w := worst(mostChanges); w <= limit {
				t.Fatalf("%v air changes give %v, below %v", mostChanges, w, limit)
			}
			return
		}
		if w := worst(ach); w > limit*(1+1e-7) {
			t.Fatalf("%v air changes give %v, above %v", ach, w, limit)
		}
		if ach > 0.02 && worst(ach-0.02) < limit*(1-1e-9) {
			t.Fatalf("%v air changes are more than it takes", ach)
		}
	})
}

func TestPPMGoesThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := rapid.Float64Range(1, 1000).Draw(t, "molar mass")
		temp := science.Celsius(rapid.Float64Range(-40, 60).Draw(t, "temperature"))
		p := rapid.Float64Range(50, 110).Draw(t, "pressure")
		c := PPM(rapid.Float64Range(0, 1e6).Draw(t, "ppm"))
		mg, err := ToMgPerM3(c, m, temp, p)
		if err != nil {
			t.Fatal(err)
		}
		back, err := ToPPM(mg, m, temp, p)
		if err != nil || math.Abs(float64(back-c)) > 1e-9*float64(c) {
			t.Fatalf("%v came back as %v, %v", c, back, err)
		}
	})
}
