package film

import (
	"fmt"
	"math"

	"aerugo/internal/science"
)

const (
	refTension        science.Ref = "iapws-r1-76-2014"
	refWaterDensity   science.Ref = "kell-1975"
	refAmmoniaDensity science.Ref = "crc-handbook"
)

// Water is pure water at 0 to 60 °C: its tension good to 0.1 %, its density to
// 0.01 %.
//
// Sources: IAPWS R1-76(2014); Kell 1975 (coefficients from memory, held to the
// handbook's values in the tests).
func Water(t science.Celsius) (Liquid, error) {
	if !(t >= 0 && t <= 60) {
		return Liquid{}, &science.RangeError{What: "temperature of the liquid", Got: float64(t), Min: 0, Max: 60, Unit: "°C", Ref: refTension}
	}
	z := 1 - float64(t.Kelvin())/647.096
	c := float64(t)
	return Liquid{
		Name:         "water",
		TensionNPerM: 0.2358 * math.Pow(z, 1.256) * (1 - 0.625*z),
		DensityKgPerM3: (999.83952 + c*(16.945176+c*(-7.9870401e-3+c*(-46.170461e-6+c*(105.56302e-9-c*280.54253e-12))))) /
			(1 + 16.879850e-3*c),
	}, nil
}

// SoapyWater is water with a trace of detergent, at 0 to 60 °C.
func SoapyWater(t science.Celsius) (Liquid, error) {
	l, err := Water(t)
	l.Name, l.TensionNPerM = "water with detergent", DetergentTension
	return l, err
}

// Ammonia is ammonia water of a strength by mass, 0 to 0.30, at 10 to 30 °C.
//
// Tension: that of water less 0.655 W/(1 + 0.027 W) mN/m, W in percent, our fit
// to a trade handbook's rows at 19.4 °C, within 0.2 mN/m. Density: our cubic
// through the CRC table at 20 °C, within 0.1 kg/m3 there, carried to other
// temperatures by a slope that falls from water's own (0) by -0.27 (5 %) to -0.75
// (30 %) kg/m3 a degree (Laliberte 2009), within about 1 kg/m3.
func Ammonia(strength float64, t science.Celsius) (Liquid, error) {
	if !(strength >= 0 && strength <= 0.30) {
		return Liquid{}, &science.RangeError{What: "strength of ammonia", Got: 100 * strength, Min: 0, Max: 30, Unit: "% by mass", Ref: refAmmoniaDensity}
	}
	if !(t >= 10 && t <= 30) {
		return Liquid{}, &science.RangeError{What: "temperature of ammonia water", Got: float64(t), Min: 10, Max: 30, Unit: "°C", Ref: refAmmoniaDensity}
	}
	l, err := Water(t)
	if err != nil {
		return Liquid{}, err
	}
	w := 100 * strength
	l.Name = fmt.Sprintf("ammonia water of %.3g %%", w)
	l.TensionNPerM -= 0.655e-3 * w / (1 + 0.027*w)
	at20 := -4.435037*w + 0.04005038*w*w - 0.000340493*w*w*w
	// beyond water's own slope of -0.21
	slope := -0.012 * min(w, 5)
	if w > 5 {
		slope -= 0.0192 * (w - 5)
	}
	l.DensityKgPerM3 += at20 + slope*(float64(t)-20)
	return l, nil
}
