package solution

import (
	_ "embed"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"

	"aerugo/internal/science"
)

const (
	refPitzer     science.Ref = "pitzer-mayorga-1973"
	refGreenspan  science.Ref = "greenspan-1977"
	refWexler     science.Ref = "crc-wexler"
	refSolubility science.Ref = "solubility-handbook"
)

//go:embed data/salts.tsv
var saltTable string

// A Salt is one whose solubility and water activity are known. Key is that of
// package matter where it has one. Memory marks figures that were not seen in a
// source.
type Salt struct {
	Key, Name, Formula string
	MolarMass          float64 // g/mol
	Memory             bool

	nuM, nuX, zM, zX float64
	b0, b1, cphi     float64 // Pitzer, 25 °C
	db0, db1, dcphi  float64 // per kelvin
	solubility       [3]float64
	rhKind           string
	rh               []float64
	lambda           float64 // kg/mol, ammonia with the cation
	most             float64 // mol/kg up to which activity is given
}

var salts = sync.OnceValue(func() []Salt {
	var out []Salt
	var heads []string
	for _, line := range strings.Split(saltTable, "\n") {
		if line == "" || line[0] == '#' {
			continue
		}
		cells := strings.Split(line, "\t")
		if heads == nil {
			heads = cells
			continue
		}
		at := func(name string) string { return cells[slices.Index(heads, name)] }
		num := func(name string) float64 {
			v, err := strconv.ParseFloat(at(name), 64)
			if err != nil {
				panic(fmt.Sprintf("salts.tsv: %s of %s: %v", name, cells[0], err)) // our own table
			}
			return v
		}
		s := Salt{Key: at("key"), Name: at("name"), Formula: at("formula"), MolarMass: num("molar"), Memory: at("memory") == "1",
			nuM: num("nuM"), nuX: num("nuX"), zM: num("zM"), zX: num("zX"), b0: num("b0"), b1: num("b1"), cphi: num("cphi"), db0: num("db0"), db1: num("db1"), dcphi: num("dcphi"),
			solubility: [3]float64{num("s0"), num("s20"), num("s40")}, lambda: num("lambda"), most: num("most")}
		words := strings.Fields(at("rh"))
		s.rhKind = words[0]
		for _, w := range words[1:] {
			v, _ := strconv.ParseFloat(w, 64)
			s.rh = append(s.rh, v)
		}
		out = append(out, s)
	}
	return out
})

// Salts returns the salts that are known, table salt first.
func Salts() []Salt { return slices.Clone(salts()) }

// SaltOf returns the salt of that key.
func SaltOf(key string) (Salt, bool) {
	for _, s := range salts() {
		if s.Key == key {
			return s, true
		}
	}
	return Salt{}, false
}

// Solubility returns grams of anhydrous salt that a gram of water dissolves, 0 to
// 40 °C, by the parabola through the table at 0, 20 and 40 °C; within 1 % of
// table salt's, 5 % of the others'.
func (s Salt) Solubility(t science.Celsius) (gPerG float64, err error) {
	if err := within("temperature", float64(t), 0, 40, "°C", refSolubility); err != nil {
		return 0, err
	}
	x := float64(t) / 20
	a, b, c := s.solubility[0], s.solubility[1], s.solubility[2]
	return (a*(1-x)*(2-x)/2 + b*x*(2-x) + c*x*(x-1)/2) / 100, nil
}

// Deliquescence returns the relative humidity, 0 to 1, above which dry crystals
// take up water and below which their brine dries out.
//
// Source: Greenspan 1977 (within 0.003) where he gives the salt, else Wexler in
// the CRC Handbook (0.02), else from memory, which Memory says. The range is the
// source's, 10 to 40 °C at the least.
func (s Salt) Deliquescence(t science.Celsius) (rh float64, err error) {
	x := float64(t)
	switch s.rhKind {
	case "g":
		if err := within("temperature", x, s.rh[4], s.rh[5], "°C", refGreenspan); err != nil {
			return 0, err
		}
		return (s.rh[0] + x*(s.rh[1]+x*(s.rh[2]+x*s.rh[3]))) / 100, nil
	case "w":
		if err := within("temperature", x, s.rh[2], s.rh[3], "°C", refWexler); err != nil {
			return 0, err
		}
		return s.rh[0] * math.Exp(s.rh[1]/float64(t.Kelvin())) / 100, nil
	}
	if err := within("temperature", x, 0, 40, "°C", ""); err != nil {
		return 0, err
	}
	return s.rh[0] / 100, nil
}

// debyeHueckel returns the slope A for the osmotic coefficient, 0 to 40 °C: the
// parabola through 0.3793 (5 °C), 0.3915 (25 °C) and 0.3985 (35 °C), within
// 0.0003 of the table at 15 °C.
func debyeHueckel(t science.Celsius) float64 {
	x := float64(t)
	return 0.3793*(x-25)*(x-35)/600 - 0.3915*(x-5)*(x-35)/200 + 0.3985*(x-5)*(x-25)/300
}

// WaterActivity returns water's activity over a solution of m mol of salt per kg
// of water, 0 to 40 °C, up to saturation.
//
// Source: Pitzer and Mayorga 1973 with the temperature terms of Silvester and
// Pitzer 1978. Within 0.004 for table salt, 0.017 for the others, up to saturation.
func (s Salt) WaterActivity(m float64, t science.Celsius) (aw float64, err error) {
	if err := within("molality", m, 0, s.most, "mol/kg", refPitzer); err != nil {
		return 0, err
	}
	if err := within("temperature", float64(t), 0, 40, "°C", refPitzer); err != nil {
		return 0, err
	}
	return math.Exp(s.lnActivity(m, t)), nil
}

func (s *Salt) lnActivity(m float64, t science.Celsius) float64 {
	if m == 0 {
		return 0
	}
	d := float64(t) - 25
	b0, b1, c := s.b0+s.db0*d, s.b1+s.db1*d, s.cphi+s.dcphi*d
	nu, pair := s.nuM+s.nuX, s.nuM*s.nuX
	root := math.Sqrt(m * (s.nuM*s.zM*s.zM + s.nuX*s.zX*s.zX) / 2)
	phi := 1 - s.zM*s.zX*debyeHueckel(t)*root/(1+1.2*root) + m*2*pair/nu*(b0+b1*math.Exp(-2*root)) + m*m*2*math.Pow(pair, 1.5)/nu*c
	return -molarWater / 1000 * nu * m * phi
}

// FilmActivity returns water's activity over a liquid with m mol of salt and
// ammonia mol of ammonia per kg of water: Pitzer's for the salt, Clegg and
// Brimblecombe's for ammonia, and their term for ammonia beside the cation where it is
// known. Above 10 mol/kg of ammonia the terms are extrapolated, and only their
// sign is sure. Range: that of [Salt.WaterActivity], and ammonia to 40 mol/kg.
func (s Salt) FilmActivity(m, ammonia float64, t science.Celsius) (aw float64, err error) {
	if err := within("molality", m, 0, s.most, "mol/kg", refPitzer); err != nil {
		return 0, err
	}
	if err := within("molality of ammonia", ammonia, 0, 40, "mol/kg", refCB); err != nil {
		return 0, err
	}
	if err := within("temperature", float64(t), 0, 40, "°C", refPitzer); err != nil {
		return 0, err
	}
	// ln aw of the mixture: each alone, and 2 m n lambda for the pair.
	ln := s.lnActivity(m, t) - molarWater/1000*(ammonia+lambdaAt(t)*ammonia*ammonia+2*s.lambda*s.nuM*m*ammonia)
	return math.Exp(ln), nil
}
