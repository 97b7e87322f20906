package film

import (
	"fmt"

	"aerugo/internal/science"
	"aerugo/internal/science/solution"
)

// Water is pure water at 0 to 60 °C.
func Water(t science.Celsius) (Liquid, error) {
	if !(t >= 0 && t <= 60) {
		return Liquid{}, &science.RangeError{What: "temperature of the liquid", Got: float64(t), Min: 0, Max: 60, Unit: "°C"}
	}
	tension, err := solution.WaterTension(t)
	if err != nil {
		return Liquid{}, err
	}
	density, err := solution.WaterDensity(t)
	return Liquid{Name: "water", TensionNPerM: float64(tension), DensityKgPerM3: float64(density)}, err
}

// SoapyWater is water with a trace of detergent, at 0 to 60 °C.
func SoapyWater(t science.Celsius) (Liquid, error) {
	l, err := Water(t)
	l.Name, l.TensionNPerM = "water with detergent", DetergentTension
	return l, err
}

// Ammonia is ammonia water of a strength by mass, 0 to 0.30, at 0 to 40 °C.
func Ammonia(strength float64, t science.Celsius) (Liquid, error) {
	tension, err := solution.AmmoniaTension(strength, t)
	if err != nil {
		return Liquid{}, err
	}
	density, err := solution.AmmoniaDensity(strength, t)
	return Liquid{Name: fmt.Sprintf("ammonia water of %.3g %%", 100*strength), TensionNPerM: float64(tension), DensityKgPerM3: float64(density)}, err
}
