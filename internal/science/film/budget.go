package film

import (
	"fmt"
	"strings"

	"aerugo/internal/science"
	"aerugo/internal/science/solution"
)

const (
	// SourceHiding is the source of the hiding thickness.
	SourceHiding science.Ref = "leygraf-2019"

	// Clinoatacamite, Cu2Cl(OH)3, is the most basic copper chloride that patinas
	// hold: 2 copper to 1 chloride. Molar masses in g/mol, densities in g/cm³.
	molarMineral   = 213.56
	densityMineral = 3.77 // from memory; atacamite, the same formula, is 3.76
	molarCopper    = 63.546
	densityCopper  = 8.96

	// HidingUM is the thickness in µm at which a green-blue layer hides the brown
	// below it, and HidingSpreadUM its spread (Leygraf and others 2019).
	HidingUM       = 12.0
	HidingSpreadUM = 2.0
)

// Budget is the most colour that the chloride of a loading can make.
type Budget struct {
	ChlorideMolPerM2 float64
	MineralGPerM2    float64 // all of it bound as Cu2Cl(OH)3
	MineralUM        float64 // the same as a dense layer
	CopperGPerM2     float64 // taken from the metal for it
	CopperUM         float64
	HidingSaltGPerM2 float64 // the salt whose layer just hides the metal
	Verdict          string
}

// The verdicts of ChlorideBudget.
const (
	BudgetThin   = "too little salt to hide the metal; more salt can mean more colour"
	BudgetNear   = "about as much salt as it takes to hide the metal"
	BudgetBeyond = "more salt than it takes to hide the metal; still more cannot mean more colour"
)

// ChlorideBudget returns what a loading of salt (0 to 2000 g/m²) could make if all
// its chloride became the most basic copper chloride, against the thickness that
// hides. It is a bound: less reacts, and real layers are porous, so that they
// hide with less or more (no source). A salt without chloride is an error.
func ChlorideBudget(salt string, saltGPerM2 float64) (Budget, error) {
	if !(saltGPerM2 >= 0 && saltGPerM2 <= MostGPerM2) {
		return Budget{}, &science.RangeError{What: "salt", Got: saltGPerM2, Min: 0, Max: MostGPerM2, Unit: "g/m²"}
	}
	s, ok := solution.SaltOf(salt)
	if !ok {
		return Budget{}, fmt.Errorf("no salt is called %q", salt)
	}
	n := chlorides(s.Formula)
	if n == 0 {
		return Budget{}, fmt.Errorf("%s holds no chloride, and only chlorides are budgeted", s.Name)
	}
	b := Budget{ChlorideMolPerM2: float64(n) * saltGPerM2 / s.MolarMass}
	b.MineralGPerM2 = b.ChlorideMolPerM2 * molarMineral
	b.MineralUM = b.MineralGPerM2 / densityMineral
	b.CopperGPerM2 = b.ChlorideMolPerM2 * 2 * molarCopper
	b.CopperUM = b.CopperGPerM2 / densityCopper
	b.HidingSaltGPerM2 = HidingUM * densityMineral / molarMineral * s.MolarMass / float64(n)
	switch {
	case b.MineralUM < HidingUM-HidingSpreadUM:
		b.Verdict = BudgetThin
	case b.MineralUM <= HidingUM+HidingSpreadUM:
		b.Verdict = BudgetNear
	default:
		b.Verdict = BudgetBeyond
	}
	return b, nil
}

// chlorides counts the chlorides in a formula such as NaCl or MgCl2.
func chlorides(formula string) int {
	_, after, ok := strings.Cut(formula, "Cl")
	if !ok || strings.HasPrefix(after, "O") {
		return 0 // none, or a chlorate
	}
	if after != "" && after[0] >= '2' && after[0] <= '9' {
		return int(after[0] - '0')
	}
	return 1
}

// CopperBoundG returns the most copper in g that a face can have given to what is
// rinsed off it: every chloride bound as Cu2Cl(OH)3 and every four molecules of
// ammonia in its film holding one copper as Cu(NH3)4. Air under the lid may keep
// it far below. It is meant for the copper in a waste jar, and errs upwards.
func CopperBoundG(salt string, saltGPerM2, ammoniaGPerM2, areaM2 float64) (float64, error) {
	if !(ammoniaGPerM2 >= 0 && ammoniaGPerM2 <= MostGPerM2) {
		return 0, &science.RangeError{What: "ammonia in the film", Got: ammoniaGPerM2, Min: 0, Max: MostGPerM2, Unit: "g/m²"}
	}
	if !(areaM2 >= 0 && areaM2 <= 10) {
		return 0, &science.RangeError{What: "area", Got: areaM2, Min: 0, Max: 10, Unit: "m²"}
	}
	bound := ammoniaGPerM2 / molarAmmonia / 4 * molarCopper
	if s, ok := solution.SaltOf(salt); saltGPerM2 > 0 && (!ok || chlorides(s.Formula) > 0) {
		b, err := ChlorideBudget(salt, saltGPerM2)
		if err != nil {
			return 0, err
		}
		bound += b.CopperGPerM2
	}
	return bound * areaM2, nil
}

// ThicknessUM returns how thick a level film of so much salt and water is beside
// ammonia at its pressure, in µm. The volumes of brine and of dissolved ammonia
// are added as if each were alone in the water: within about 2 %.
func (b *Brine) ThicknessUM(p science.Pascal, saltGPerM2, waterGPerM2 float64) (float64, error) {
	if waterGPerM2 <= 0 {
		return 0, nil
	}
	water, err := solution.WaterDensity(b.Temperature)
	if err != nil {
		return 0, err
	}
	m := b.Molality(saltGPerM2, waterGPerM2)
	salt := m * b.Salt.MolarMass / 1000 // per g of water
	ammonia := b.Ammonia(p, m) * molarAmmonia / 1000
	volume := 1 / float64(water)
	if salt > 0 {
		rho, err := solution.Density(b.Salt.Key, salt/(1+salt), b.Temperature)
		if err != nil {
			return 0, err
		}
		volume = (1 + salt) / float64(rho)
	}
	if ammonia > 0 {
		rho, err := solution.AmmoniaDensity(ammonia/(1+ammonia), b.Temperature)
		if err != nil {
			return 0, err
		}
		volume += (1+ammonia)/float64(rho) - 1/float64(water)
	}
	return 1000 * waterGPerM2 * volume, nil
}
