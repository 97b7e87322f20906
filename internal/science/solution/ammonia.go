package solution

import (
	"math"

	"aerugo/internal/science"
)

const (
	refCB     science.Ref = "clegg-brimblecombe-1989"
	refAqua   science.Ref = "crc-concentrative-properties"
	refBaume  science.Ref = "aqua-ammonia-baume-60f"
	refLimits science.Ref = "nist-niosh-ammonia"
)

// AmmoniaVapour is what stands over aqueous ammonia in equilibrium.
type AmmoniaVapour struct {
	NH3, H2O      science.Pascal
	WaterActivity float64
	Molality      float64 // mol of ammonia per kg of water
}

// henryAt returns the molality over the pressure, in mol/(kg Pa), at vanishing
// strength.
func henryAt(t science.Celsius) float64 {
	k := float64(t.Kelvin())
	return math.Exp(-8.09694+3917.507/k-0.00314*k) / 101325
}

// lambdaAt returns the interaction coefficient of ammonia with itself, in kg/mol.
func lambdaAt(t science.Celsius) float64 {
	k := float64(t.Kelvin())
	return 0.033161 - 21.12816/k + 4665.1461/(k*k)
}

// MolalityOf returns mol of ammonia per kg of water at a mass fraction w below 1.
func MolalityOf(w float64) float64 { return 1000 * w / (molarAmmonia * (1 - w)) }

// StrengthOf is the inverse of [MolalityOf].
func StrengthOf(molality float64) float64 {
	g := molality * molarAmmonia
	return g / (1000 + g)
}

// AmmoniaOver returns the vapour over aqueous ammonia of mass fraction w, 0 to
// 0.30, at 0 to 40 °C.
//
// Source: Clegg and Brimblecombe 1989, Henry's constant and interaction
// coefficient; water's activity follows by Gibbs and Duhem. Ammonia's pressure
// is within 1 % of the classic 20 °C table to 23 % and 2 % at 28.6 %, the total
// within 3 % of IAPWS G4-01 from 15 to 30 %. A bottle 1 % by mass other than its
// label is 8 % off in pressure.
func AmmoniaOver(w float64, t science.Celsius) (AmmoniaVapour, error) {
	if err := within("strength of the ammonia", w, 0, 0.30, "", refCB); err != nil {
		return AmmoniaVapour{}, err
	}
	if err := within("temperature", float64(t), 0, 40, "°C", refCB); err != nil {
		return AmmoniaVapour{}, err
	}
	m, lambda := MolalityOf(w), lambdaAt(t)
	v := AmmoniaVapour{Molality: m, WaterActivity: math.Exp(-molarWater / 1000 * (m + lambda*m*m))}
	v.NH3 = science.Pascal(m / henryAt(t) * math.Exp(2*lambda*m))
	v.H2O = science.Pascal(v.WaterActivity) * waterPressure(t)
	return v, nil
}

// AmmoniaMolalityAt returns the mol of ammonia per kg of water that stand under
// a pressure p of it. It inverts [AmmoniaOver], in the same range.
func AmmoniaMolalityAt(p science.Pascal, t science.Celsius) (float64, error) {
	most, err := AmmoniaOver(0.30, t)
	if err != nil {
		return 0, err
	}
	if err := within("pressure of ammonia", float64(p), 0, float64(most.NH3), "Pa", refCB); err != nil {
		return 0, err
	}
	want, lambda := henryAt(t)*float64(p), lambdaAt(t)
	m := want
	for range 50 { // Newton on m exp(2 lambda m) = want, convex and rising
		e := math.Exp(2 * lambda * m)
		step := (m*e - want) / (e * (1 + 2*lambda*m))
		if m -= step; math.Abs(step) <= 1e-15*(1+m) {
			break
		}
	}
	return m, nil
}

// AmmoniaFlammable returns the strengths between which the air over aqueous
// ammonia holds 15 to 28 % of it by volume at one atmosphere, ammonia's
// flammable range. Stronger solutions pass through it as their vapour thins out.
// Range: 0 to 40 °C; an end that lies above 0.30 is given as 0.30.
func AmmoniaFlammable(t science.Celsius) (from, to float64, err error) {
	if err := within("temperature", float64(t), 0, 40, "°C", refLimits); err != nil {
		return 0, 0, err
	}
	at := func(share float64) float64 {
		lo, hi := 0.0, 0.30
		for range 60 {
			mid := (lo + hi) / 2
			if v, _ := AmmoniaOver(mid, t); float64(v.NH3) < share*101325 {
				lo = mid
			} else {
				hi = mid
			}
		}
		return (lo + hi) / 2
	}
	return at(0.15), at(0.28), nil
}

// AmmoniaDensity returns the density of aqueous ammonia of mass fraction w, 0 to
// 0.30, at 0 to 40 °C: within 0.1 kg/m3 of the handbook's at 20 °C.
//
// Source: a cubic through the concentrative properties table at 20 °C; its
// change with temperature is that of Laliberté 2009, fitted from 20 °C upwards
// and carried on below.
func AmmoniaDensity(w float64, t science.Celsius) (science.KgPerM3, error) {
	if err := within("strength of the ammonia", w, 0, 0.30, "", refAqua); err != nil {
		return 0, err
	}
	if err := within("temperature", float64(t), 0, 40, "°C", refAqua); err != nil {
		return 0, err
	}
	p := 100 * w
	at20 := waterDensity(20) + science.KgPerM3(p*(-4.435037+p*(0.04005038-0.000340493*p)))
	a := apparents()["ammonia-water"]
	return at20 + a.density(w, t) - a.density(w, 20), nil
}

// AmmoniaTension returns the surface tension of aqueous ammonia of mass fraction w,
// 0 to 0.35, at 0 to 40 °C, within 0.2 mN/m at 19 °C.
//
// Source: a trade handbook's table at 19.4 °C, as the drop below water's.
func AmmoniaTension(w float64, t science.Celsius) (science.NPerM, error) {
	if err := within("strength of the ammonia", w, 0, 0.35, "", refBaume); err != nil {
		return 0, err
	}
	if err := within("temperature", float64(t), 0, 40, "°C", refBaume); err != nil {
		return 0, err
	}
	water, err := WaterTension(t)
	p := 100 * w
	return water - science.NPerM(1e-3*0.655*p/(1+0.027*p)), err
}
