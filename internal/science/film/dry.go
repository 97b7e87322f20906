package film

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/integrate/quad"

	"aerugo/internal/science"
	"aerugo/internal/science/solution"
)

const (
	// RoomK is the mass transfer coefficient in m/s between a small plate lying
	// face up and the still air of a room. Free convection over a plate of 10 cm
	// (Lloyd and Moran 1974, Sh = 0.54 Ra^(1/4), from memory) gives about 0.0035;
	// the evaporation of still pools (Carrier's formula as ASHRAE prints it, from
	// memory) about 0.005.
	RoomK = 0.0035
	// RoomKFactor is the factor either way within which an uncalibrated RoomK
	// is taken to lie.
	RoomKFactor = 2.0
	// tooClose is how near a room may be to a salt's deliquescence humidity before
	// no one can tell whether it dries (the accuracy of hygrometers and of
	// Wexler's humidities).
	tooClose = 0.02
	// humiditySpread is the uncertainty of a room's humidity as typed.
	humiditySpread = 0.05
)

// Outlook says what becomes of a wet face in a room.
type Outlook int

// The outlooks of Drying.
const (
	Dries   Outlook = iota + 1 // to crystals, or to bare metal
	Never                      // the room is damper than the salt's own humidity
	Unclear                    // too close to that humidity to tell
)

// String returns the outlook in words.
func (o Outlook) String() string {
	switch o {
	case Dries:
		return "dries"
	case Never:
		return "will not dry"
	case Unclear:
		return "too close to tell"
	}
	return "unknown"
}

// Wet is a wet face in a room. The ammonia is taken to have left.
type Wet struct {
	Salt                    string // key of a salt; empty for none
	SaltGPerM2, WaterGPerM2 float64
	Temperature             science.Celsius // of the room and the metal
	RoomRH                  float64         // 0 to 1
	K                       float64         // m/s; 0 for RoomK
}

// Dried is what becomes of it.
type Dried struct {
	Outlook       Outlook
	Hours         Span    // until dry; all +Inf if it will not dry
	Deliquescence float64 // humidity (0 to 1) above which it stays wet; 1 without salt
	StaysGPerM2   float64 // water that stays for good where it will not dry
	Assumed       []Assumption
	Cautions      []string
}

// Drying returns when a face has dried in a room: dW/dt = k c (RH - a), with
// c the vapour density over water, and Pitzer's activity a drawn to the published
// deliquescence humidity at saturation. Range: 0 to 40 °C.
func Drying(w Wet) (Dried, error) {
	d := Dried{Deliquescence: 1}
	if err := w.check(); err != nil {
		return d, err
	}
	k := w.K
	if k == 0 {
		k = RoomK
		d.Assumed = append(d.Assumed, Assumption{"how fast still room air takes water up", fmt.Sprintf("%.4g m/s, within a factor of %.0f", RoomK, RoomKFactor), "free convection over a small plate (Lloyd and Moran 1974), from memory"})
	}
	d.Assumed = append(d.Assumed,
		Assumption{"the metal's temperature", "that of the room", NoSource},
		Assumption{"the room's humidity", fmt.Sprintf("as given, ±%.0f %%", 100*humiditySpread), NoSource})
	b, err := NewBrine(w.Salt, w.Temperature)
	if err != nil {
		return d, err
	}
	if b.Salt.Key != "" && w.SaltGPerM2 > 0 {
		if d.Deliquescence, err = deliquescence(b, &d); err != nil {
			return d, err
		}
		d.Cautions = append(d.Cautions, "What the liquid has dissolved, copper salts and several salts together, holds water down to a lower humidity than the salt alone: a face may stay damp where this says it dries.")
	}
	l := dryingLine{b, w.SaltGPerM2, math.Log(d.Deliquescence) - b.lnSaturated}
	never := Span{math.Inf(1), math.Inf(1), math.Inf(1)}
	switch {
	case w.WaterGPerM2 == 0:
		d.Outlook = Dries
		if w.SaltGPerM2 > 0 && w.RoomRH > d.Deliquescence {
			d.Outlook, d.Hours, d.StaysGPerM2 = Never, never, l.stays(w.RoomRH)
		}
		return d, nil
	case w.RoomRH >= d.Deliquescence+tooClose, w.RoomRH >= 1:
		d.Outlook, d.Hours, d.StaysGPerM2 = Never, never, l.stays(w.RoomRH)
		return d, nil
	case w.SaltGPerM2 > 0 && w.RoomRH > d.Deliquescence-tooClose:
		d.Outlook, d.Hours = Unclear, never
		d.Hours.Low = l.hours(w.WaterGPerM2, w.RoomRH-2*tooClose, k)
		return d, nil
	}
	d.Outlook = Dries
	others := []float64{
		l.hours(w.WaterGPerM2, max(w.RoomRH-humiditySpread, 0), k),
		l.hours(w.WaterGPerM2, w.RoomRH+humiditySpread, k),
	}
	if w.K == 0 {
		others = append(others, l.hours(w.WaterGPerM2, w.RoomRH, k/RoomKFactor), l.hours(w.WaterGPerM2, w.RoomRH, k*RoomKFactor))
	}
	d.Hours = Combine(l.hours(w.WaterGPerM2, w.RoomRH, k), others...)
	return d, nil
}

// deliquescence is the published humidity of the salt, or where none is Pitzer's
// at saturation.
func deliquescence(b *Brine, d *Dried) (float64, error) {
	rh, err := b.Salt.Deliquescence(b.Temperature)
	if err != nil {
		rh = math.Exp(b.lnSaturated)
		d.Assumed = append(d.Assumed, Assumption{"the humidity above which " + b.Salt.Name + " stays wet", fmt.Sprintf("%.0f %%", 100*rh), "its computed activity at saturation"})
		return rh, nil
	}
	if b.Salt.Memory {
		d.Assumed = append(d.Assumed, Assumption{"the humidity above which " + b.Salt.Name + " stays wet", fmt.Sprintf("%.0f %%", 100*rh), "from memory"})
	}
	return rh, nil
}

func (w Wet) check() error {
	for _, v := range []struct {
		what          string
		got, min, max float64
		unit          string
	}{
		{"salt", w.SaltGPerM2, 0, MostGPerM2, "g/m²"},
		{"water", w.WaterGPerM2, 0, MostGPerM2, "g/m²"},
		{"humidity of the room", w.RoomRH, 0, 1, ""},
		{"mass transfer coefficient", w.K, 0, 1, "m/s"},
	} {
		if !(v.got >= v.min && v.got <= v.max) {
			return &science.RangeError{What: v.what, Got: v.got, Min: v.min, Max: v.max, Unit: v.unit}
		}
	}
	if w.SaltGPerM2 > 0 {
		if _, ok := solution.SaltOf(w.Salt); !ok {
			return fmt.Errorf("no salt is called %q", w.Salt)
		}
	}
	return nil
}

// dryingLine is a drying film: a brine whose activity is drawn by shift (in ln a, at
// saturation) to the published humidity, as the cube of the molality, so that
// dilute brine, where Pitzer is at its best, keeps its own.
type dryingLine struct {
	*Brine
	salt, shift float64
}

func (l dryingLine) activityOf(water float64) float64 {
	if l.salt <= 0 {
		return 1
	}
	m := l.Molality(l.salt, water)
	return math.Exp(l.lnPitzer(m) + l.shift*math.Pow(m/l.Saturated, 3))
}

// hours is the time from so much water to none; +Inf if it never comes.
func (l dryingLine) hours(water, rh, k float64) float64 {
	perHour := 3600 * k * l.VapourGPerM3
	crystals := min(water, l.Needs(l.salt))
	// The activity falls as the film dries: the last step is the slowest.
	last := l.activityOf(0)
	if rh >= last {
		return math.Inf(1)
	}
	t := crystals / (perHour * (last - rh))
	if l.salt <= 0 {
		return water / (perHour * (1 - rh))
	}
	if water > crystals {
		t += quad.Fixed(func(u float64) float64 {
			w := math.Exp(u)
			return w / (perHour * (l.activityOf(w) - rh))
		}, math.Log(crystals), math.Log(water), 48, nil, 0)
	}
	return t
}

// stays is the water in g/m² whose film is at rest with the room.
func (l dryingLine) stays(rh float64) float64 {
	if rh >= 1 {
		return math.Inf(1)
	}
	low, high := l.Needs(l.salt), l.Needs(l.salt)
	for l.activityOf(high) < rh && high < 1e9 {
		high *= 2
	}
	for range 100 {
		mid := (low + high) / 2
		if l.activityOf(mid) < rh {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}
