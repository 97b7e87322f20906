package film

import (
	"fmt"
	"math"

	"aerugo/internal/science"
	"aerugo/internal/science/solution"
)

const (
	// gas is the molar gas constant in J/(mol K), exact by definition (BIPM, SI
	// Brochure, 9th edition, 2019).
	gas = 8.314462618
	// molarWater and molarAmmonia are in g/mol.
	molarWater   = 18.015268
	molarAmmonia = 17.03026
	// SourceSteps is the source of Advance's method: the second-order L-stable
	// diagonally implicit Runge-Kutta method, whose coefficient is gamma.
	SourceSteps science.Ref = "alexander-1977"
	gamma                   = 1 - 1/math.Sqrt2
)

// MostGPerM2 is the most salt or water that a face may carry here, in g/m²:
// 2 mm of water, which no level face holds.
const MostGPerM2 = 2000.0

// Air is the air that a film meets: the partial pressures of ammonia and water.
type Air struct{ NH3, H2O science.Pascal }

// VapourGPerM3 returns the density of water vapour at pressure p and temperature
// t, in g/m³, as an ideal gas (within 0.1 % below 40 °C).
func VapourGPerM3(p science.Pascal, t science.Celsius) float64 {
	return float64(p) * molarWater / (gas * float64(t.Kelvin()))
}

// Brine is the liquid that one salt, or none, makes with water and ammonia on
// metal at one temperature. It is made once and asked often.
type Brine struct {
	Salt          solution.Salt // its Key is empty when there is no salt
	Temperature   science.Celsius
	Solubility    float64 // g of salt per g of water that just dissolve; 0 without salt
	Saturated     float64 // mol of salt per kg of water at saturation; 0 without salt
	VapourGPerM3, // water vapour over pure water at Temperature
	henry, lambda, cross float64 // mol/(kg Pa), kg/mol, kg/mol
	pressure    science.Pascal // over pure water
	lnSaturated float64        // ln of the water activity at saturation without ammonia
}

// NewBrine returns the liquid that the salt of that key makes at temperature t;
// an empty key means no salt. Range: 0 to 40 °C, and salts with a solubility and
// activity terms.
//
// Water's activity is Pitzer's for the salt, with the terms of Clegg and
// Brimblecombe (1989) for ammonia and, where known, for ammonia beside the
// cation; those were fitted to dilute ammonia, so that above 10 mol/kg of it
// only the direction of the flow is sure (it follows from Gibbs and Duhem). The
// salt's solubility is that in plain water: ammonia lowers common salt's by 5 % at
// 10 wt%, which would lengthen its dissolving by about as much.
func NewBrine(key string, t science.Celsius) (*Brine, error) {
	b := &Brine{Temperature: t}
	p, err := solution.WaterPressure(t)
	if err != nil {
		return b, err
	}
	b.pressure = p
	b.VapourGPerM3 = VapourGPerM3(p, t)
	// Any strength gives the two constants of the ammonia terms.
	v, err := solution.AmmoniaOver(0.1, t)
	if err != nil {
		return b, err
	}
	m := v.Molality
	b.lambda = (-math.Log(v.WaterActivity)*1000/molarWater - m) / (m * m)
	b.henry = m * math.Exp(2*b.lambda*m) / float64(v.NH3)
	if key == "" {
		return b, nil
	}
	s, ok := solution.SaltOf(key)
	if !ok {
		return b, fmt.Errorf("no salt is called %q", key)
	}
	b.Salt = s
	if b.Solubility, err = s.Solubility(t); err != nil {
		return b, err
	}
	b.Saturated = 1000 * b.Solubility / s.MolarMass
	alone, err := s.WaterActivity(b.Saturated, t)
	if err != nil {
		return b, err
	}
	both, err := s.FilmActivity(b.Saturated, 1, t)
	if err != nil {
		return b, err
	}
	b.lnSaturated = math.Log(alone)
	b.cross = (-math.Log(both/alone)*1000/molarWater - 1 - b.lambda) / (2 * b.Saturated)
	return b, nil
}

// Over returns the air in equilibrium with a salt-free solution of so many mol of
// ammonia per kg of water.
func (b *Brine) Over(ammonia float64) Air {
	return Air{
		NH3: science.Pascal(ammonia / b.henry * math.Exp(2*b.lambda*ammonia)),
		H2O: science.Pascal(float64(b.pressure) * math.Exp(-molarWater/1000*(ammonia+b.lambda*ammonia*ammonia))),
	}
}

// Rises returns d ln p / d ln n, how steeply ammonia's pressure rises with its
// molality n at a fixed amount of salt.
func (b *Brine) Rises(ammonia float64) float64 { return 1 + 2*b.lambda*ammonia }

// FilmGPerM2 returns the mass of the liquid: water, dissolved salt and the
// ammonia in equilibrium with its pressure.
func (b *Brine) FilmGPerM2(p science.Pascal, saltGPerM2, waterGPerM2 float64) float64 {
	m := b.Molality(saltGPerM2, waterGPerM2)
	return waterGPerM2 * (1 + (m*b.Salt.MolarMass+b.Ammonia(p, m)*molarAmmonia)/1000)
}

// Needs returns the water in g/m² that just dissolves so much salt (g/m²).
func (b *Brine) Needs(saltGPerM2 float64) float64 {
	if saltGPerM2 <= 0 {
		return 0
	}
	return saltGPerM2 / b.Solubility
}

// Molality returns mol of dissolved salt per kg of water; beyond saturation the
// rest lies there as crystals.
func (b *Brine) Molality(saltGPerM2, waterGPerM2 float64) float64 {
	if saltGPerM2 <= 0 {
		return 0
	}
	if waterGPerM2 <= saltGPerM2/b.Solubility {
		return b.Saturated
	}
	return 1000 * saltGPerM2 / (b.Salt.MolarMass * waterGPerM2)
}

// Ammonia returns mol of ammonia per kg of water in a film with m mol of salt
// per kg, in equilibrium with ammonia's pressure.
func (b *Brine) Ammonia(p science.Pascal, m float64) float64 {
	if p <= 0 {
		return 0
	}
	// y exp(y) = z, Lambert's function, for y twice lambda times the answer: from
	// its Padé approximant Halley's cubic steps need two or three rounds.
	z := 2 * b.lambda * b.henry * float64(p) * math.Exp(-2*b.cross*m)
	y := z * (1 + 4.0/3*z) / (1 + z*(7.0/3+5.0/6*z))
	for range 20 {
		e := math.Exp(y)
		miss := y*e - z
		step := miss / (e*(y+1) - miss*(y+2)/(2*y+2))
		if y -= step; math.Abs(step) <= 1e-4*y { // what is left is of its third power
			break
		}
	}
	return y / (2 * b.lambda)
}

// lnPitzer returns the logarithm of water's activity over the salt alone.
func (b *Brine) lnPitzer(m float64) float64 {
	switch {
	case m <= 0:
		return 0
	case m == b.Saturated:
		return b.lnSaturated
	}
	a, err := b.Salt.WaterActivity(m, b.Temperature)
	if err != nil {
		// NewBrine asked at saturation, the far end of the range.
		return b.lnSaturated
	}
	return math.Log(a)
}

// Activity returns the water activity of a film of so much salt and water, in
// g/m², beside ammonia at pressure p.
func (b *Brine) Activity(p science.Pascal, saltGPerM2, waterGPerM2 float64) float64 {
	return b.activity(p, b.Molality(saltGPerM2, waterGPerM2))
}

func (b *Brine) activity(p science.Pascal, m float64) float64 {
	n := b.Ammonia(p, m)
	return math.Exp(b.lnPitzer(m) - molarWater/1000*(n+b.lambda*n*n+2*b.cross*n*m))
}

// Flux returns what a film of so much salt and water takes up from the air
// through a mass transfer coefficient k (m/s), in g of water per m² and second;
// it is negative when the film dries. air is at temperature t.
//
// The drive is the difference of vapour densities. Between a piece and air of
// two temperatures partial pressures would be truer: for a piece 2 °C warmer
// the salt would then take 4 % longer, far within what k is known to.
func (b *Brine) Flux(air Air, t science.Celsius, k, saltGPerM2, waterGPerM2 float64) float64 {
	return k * (VapourGPerM3(air.H2O, t) - b.Activity(air.NH3, saltGPerM2, waterGPerM2)*b.VapourGPerM3)
}

// Advance returns the water in g/m² on a face after h seconds in air that
// changes evenly from one state to another, through k (m/s). It is of second
// order in h; for any h it is stable, never below nought and never past the
// water at which the film would rest.
func (b *Brine) Advance(h, k float64, from, to Air, t science.Celsius, saltGPerM2, waterGPerM2 float64) float64 {
	if h <= 0 {
		return waterGPerM2
	}
	mid := Air{from.NH3 + gamma*(to.NH3-from.NH3), from.H2O + gamma*(to.H2O-from.H2O)}
	first := b.implicit(waterGPerM2, gamma*h*k, mid, t, saltGPerM2, waterGPerM2)
	start := waterGPerM2 + (1-gamma)/gamma*(first-waterGPerM2)
	last := b.implicit(start, gamma*h*k, to, t, saltGPerM2, first)
	// A step much longer than the film takes to come to rest can overshoot: the
	// flux of the second stage then runs against that of the first. Euler's
	// implicit step, of first order, cannot.
	if (first-waterGPerM2)*(last-start) < 0 {
		return b.implicit(waterGPerM2, h*k, to, t, saltGPerM2, first)
	}
	return last
}

// implicit solves x = start + kh (vapour in the air - vapour over the film of x)
// for x >= 0. The right side falls as x grows, so there is one answer.
func (b *Brine) implicit(start, kh float64, air Air, t science.Celsius, salt, guess float64) float64 {
	c := VapourGPerM3(air.H2O, t)
	needs := b.Needs(salt)
	if salt > 0 && guess > needs {
		if x, ok := b.dissolved(start, kh, c, air.NH3, salt, needs, math.Inf(1), guess); ok {
			return x
		}
	}
	// With crystals left, or with no salt at all, the flux does not depend on x.
	m := 0.0
	if salt > 0 {
		m = b.Saturated
	}
	x := start + kh*(c-b.activity(air.NH3, m)*b.VapourGPerM3)
	if salt <= 0 || x <= needs {
		return max(x, 0)
	}
	// Beyond needs the flux is less than that, and so is x.
	x, _ = b.dissolved(start, kh, c, air.NH3, salt, needs, x, x)
	return x
}

// dissolved solves the same for x between low and high, where all salt is
// dissolved, by secants; false when they lead out of there and high has no end.
func (b *Brine) dissolved(start, kh, c float64, p science.Pascal, salt, low, high, x float64) (float64, bool) {
	bounded := !math.IsInf(high, 1)
	var before, missBefore float64
	for i := range 60 {
		miss := x - start - kh*(c-b.activity(p, 1000*salt/(b.Salt.MolarMass*x))*b.VapourGPerM3)
		if miss == 0 {
			return x, true
		}
		if miss > 0 {
			high = x
		} else {
			low = x
		}
		next := x - miss
		if i > 0 && miss != missBefore {
			next = x - miss*(x-before)/(miss-missBefore)
		}
		if !(next > low && next < high) {
			if !bounded {
				return x, false
			}
			next = (low + high) / 2
		}
		// A secant's own error is far less than its last step.
		if math.Abs(next-x) <= 1e-10*x {
			return next, true
		}
		before, missBefore, x = x, miss, next
	}
	return x, true
}

// SaltAssumed lists what is taken for granted of a salt.
func SaltAssumed(key string) []Assumption {
	s, ok := solution.SaltOf(key)
	if !ok || !s.Memory {
		return nil
	}
	return []Assumption{{"what is known of " + s.Name, "its solubility or its humidity", "from memory"}}
}
