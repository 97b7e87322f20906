package film

import (
	"math"

	"aerugo/internal/science"
)

const refDrop science.Ref = "furmidge-1962"

// FurmidgeSpread is how far the factor of Furmidge's law may lie from 1 with
// the drop's outline: 25 % (a round outline gives pi/4 on the base diameter,
// arXiv 1610.06725).
const FurmidgeSpread = 0.25

// A Drop sits on metal: BaseMM is the width of its base, AdvancingDeg and
// RecedingDeg its contact angles where liquid moves on and where it draws back.
// The base is 0.1 to 30 mm, 1 <= receding <= advancing <= 179 degrees.
type Drop struct {
	Liquid       Liquid
	BaseMM       float64
	AdvancingDeg float64
	RecedingDeg  float64
}

func (d Drop) check() error {
	if err := d.Liquid.check(); err != nil {
		return err
	}
	if !(d.BaseMM >= 0.1 && d.BaseMM <= 30) {
		return &science.RangeError{What: "width of the drop", Got: d.BaseMM, Min: 0.1, Max: 30, Unit: "mm", Ref: refDrop}
	}
	if !(d.AdvancingDeg >= 1 && d.AdvancingDeg <= 179) {
		return &science.RangeError{What: "advancing contact angle", Got: d.AdvancingDeg, Min: 1, Max: 179, Unit: "°", Ref: refDrop}
	}
	if !(d.RecedingDeg >= 1 && d.RecedingDeg <= d.AdvancingDeg) {
		return &science.RangeError{What: "receding contact angle", Got: d.RecedingDeg, Min: 1, Max: d.AdvancingDeg, Unit: "°", Ref: refDrop}
	}
	return nil
}

// VolumeUL is the volume in µL of a drop shaped as the cap of a ball that meets
// the metal at the advancing angle. Drops wider than about two capillary lengths
// (5 mm of water) are flatter and hold less.
func (d Drop) VolumeUL() (float64, error) {
	if err := d.check(); err != nil {
		return 0, err
	}
	c, s := math.Cos(radians(d.AdvancingDeg)), math.Sin(radians(d.AdvancingDeg))
	return math.Pi * (1 - c) * (1 - c) * (2 + c) * d.BaseMM * d.BaseMM * d.BaseMM / (24 * s * s * s), nil
}

// SlideDeg is the tilt in degrees at which the drop begins to slide, from
// m g sin(alpha)/d = sigma (cos theta_r - cos theta_a), with Low and High at the
// factor's 25 % either way. A value of +Inf says that it holds even upright.
//
// Source: Furmidge 1962.
func (d Drop) SlideDeg() (Interval, error) {
	v, err := d.VolumeUL()
	if err != nil {
		return Interval{}, err
	}
	weight := v * 1e-9 * d.Liquid.DensityKgPerM3 * standardGravity
	hold := d.Liquid.TensionNPerM * (math.Cos(radians(d.RecedingDeg)) - math.Cos(radians(d.AdvancingDeg))) * d.BaseMM / 1000
	tilt := func(factor float64) float64 {
		if s := factor * hold / weight; s < 1 {
			return degrees(math.Asin(s))
		}
		return math.Inf(1)
	}
	return Interval{Value: tilt(1), Low: tilt(1 - FurmidgeSpread), High: tilt(1 + FurmidgeSpread)}, nil
}
