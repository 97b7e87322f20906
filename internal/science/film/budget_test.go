package film

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// TestHidingCoat: 12 µm of clinoatacamite are 45 g/m², hold 27 g/m² of copper (3.0
// µm of metal), 0.21 mol/m² of chloride and 12 g/m² of salt (computed from the
// hiding thickness of Leygraf and others 2019, molar masses of IUPAC).
func TestHidingCoat(t *testing.T) {
	b, err := ChlorideBudget("sodium-chloride", 12.4)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what           string
		got, want, tol float64
	}{
		{"chloride", b.ChlorideMolPerM2, 0.21, 0.005}, {"mineral", b.MineralGPerM2, 45, 0.5}, {"thickness", b.MineralUM, 12, 0.1},
		{"copper", b.CopperGPerM2, 27, 0.5}, {"metal", b.CopperUM, 3.0, 0.05}, {"salt that hides", b.HidingSaltGPerM2, 12.4, 0.1},
	} {
		if math.Abs(c.got-c.want) > c.tol {
			t.Errorf("%s: %v, want %v ± %v", c.what, c.got, c.want, c.tol)
		}
	}
	// Atacamite holds 59.51 % of copper (stoichiometry).
	if share := b.CopperGPerM2 / b.MineralGPerM2; math.Abs(share-0.5951) > 0.0002 {
		t.Errorf("copper %v of the mineral", share)
	}
}

func TestVerdictFollowsTheHidingThickness(t *testing.T) {
	for loading, want := range map[float64]string{2: BudgetThin, 8: BudgetThin, 12: BudgetNear, 15: BudgetBeyond, 80: BudgetBeyond} {
		if b, err := ChlorideBudget("sodium-chloride", loading); err != nil || b.Verdict != want {
			t.Errorf("%v g/m²: %q %v, want %q", loading, b.Verdict, err, want)
		}
	}
}

func TestChloridesAreCounted(t *testing.T) {
	for formula, want := range map[string]int{"NaCl": 1, "NH4Cl": 1, "MgCl2": 2, "CuCl2·2H2O": 2, "CuCl2.2H2O": 2, "FeCl3": 3, "KNO3": 0, "NaClO": 0, "NaClO3": 0, "CuSO4": 0} {
		if got := chlorides(formula); got != want {
			t.Errorf("%s: %d", formula, got)
		}
	}
}

func TestCopperBoundRises(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		salt := rapid.Float64Range(0, 300).Draw(t, "salt")
		nh3 := rapid.Float64Range(0, 300).Draw(t, "nh3")
		area := rapid.Float64Range(0, 1).Draw(t, "area")
		g, err := CopperBoundG("sodium-chloride", salt, nh3, area)
		if err != nil {
			t.Fatal(err)
		}
		b, err := ChlorideBudget("sodium-chloride", salt)
		if err != nil {
			t.Fatal(err)
		}
		if g < area*b.CopperGPerM2 {
			t.Fatalf("%v g, and the mineral alone holds %v", g, area*b.CopperGPerM2)
		}
		more, err := CopperBoundG("sodium-chloride", salt+1, nh3+1, area)
		if err != nil || more < g {
			t.Fatalf("more salt and ammonia: %v after %v (%v)", more, g, err)
		}
	})
	// A salt without chloride leaves the ammonia's share: a mole holds a quarter of 63.546 g.
	if g, err := CopperBoundG("", 0, molarAmmonia, 1); err != nil || math.Abs(g-63.546/4) > 1e-9 {
		t.Errorf("%v %v", g, err)
	}
}

func TestBudgetRefuses(t *testing.T) {
	for _, c := range []struct {
		salt    string
		loading float64
	}{{"dust", 5}, {"sodium-chloride", -1}, {"sodium-chloride", math.NaN()}, {"sodium-chloride", 1e9}} {
		if b, err := ChlorideBudget(c.salt, c.loading); err == nil {
			t.Errorf("%v of %s gave %+v", c.loading, c.salt, b)
		}
	}
}

func TestCombineAddsSquares(t *testing.T) {
	s := Combine(10, 12, 10/1.3, 13, 10/1.1)
	up := math.Hypot(math.Log(1.2), math.Log(1.3))
	down := math.Hypot(math.Log(1.3), math.Log(1.1))
	if math.Abs(s.High-10*math.Exp(up)) > 1e-9 || math.Abs(s.Low-10*math.Exp(-down)) > 1e-9 || s.Value != 10 {
		t.Errorf("%+v", s)
	}
	if s := Combine(10, math.Inf(1), 8); !math.IsInf(s.High, 1) || math.Abs(s.Low-8) > 1e-9 {
		t.Errorf("never on one side: %+v", s)
	}
	if s := Combine(math.Inf(1), 20, math.Inf(1)); s.Low != 20 || !math.IsInf(s.High, 1) {
		t.Errorf("never in the middle: %+v", s)
	}
	if s := Combine(0, 0, 1); s.Low != 0 || s.High != 1 {
		t.Errorf("at once: %+v", s)
	}
}
