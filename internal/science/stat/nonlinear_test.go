package stat

import (
	"errors"
	"fmt"
	"math"
	"testing"
)

// nistCurves are the models of the NIST StRD nonlinear sets, as each file's head
// gives them, with their derivatives worked by hand.
var nistCurves = map[string]struct {
	at    func(p []float64, x float64) float64
	slope func(p []float64, x float64, d []float64)
}{
	"Misra1a": {rising, risingSlope},
	"BoxBOD":  {rising, risingSlope},
	"Chwirut2": {func(p []float64, x float64) float64 { return math.Exp(-p[0]*x) / (p[1] + p[2]*x) },
		func(p []float64, x float64, d []float64) {
			e, g := math.Exp(-p[0]*x), p[1]+p[2]*x
			d[0], d[1], d[2] = -x*e/g, -e/(g*g), -x*e/(g*g)
		}},
	"DanWood": {func(p []float64, x float64) float64 { return p[0] * math.Pow(x, p[1]) },
		func(p []float64, x float64, d []float64) {
			d[0] = math.Pow(x, p[1])
			d[1] = p[0] * d[0] * math.Log(x)
		}},
	"Kirby2": {func(p []float64, x float64) float64 { return (p[0] + x*(p[1]+x*p[2])) / (1 + x*(p[3]+x*p[4])) },
		func(p []float64, x float64, d []float64) {
			g := 1 + x*(p[3]+x*p[4])
			f := (p[0] + x*(p[1]+x*p[2])) / g
			d[0], d[1], d[2], d[3], d[4] = 1/g, x/g, x*x/g, -f*x/g, -f*x*x/g
		}},
	"Thurber": {func(p []float64, x float64) float64 {
		return (p[0] + x*(p[1]+x*(p[2]+x*p[3]))) / (1 + x*(p[4]+x*(p[5]+x*p[6])))
	}, func(p []float64, x float64, d []float64) {
		g := 1 + x*(p[4]+x*(p[5]+x*p[6]))
		f := (p[0] + x*(p[1]+x*(p[2]+x*p[3]))) / g
		d[0], d[1], d[2], d[3] = 1/g, x/g, x*x/g, x*x*x/g
		d[4], d[5], d[6] = -f*x/g, -f*x*x/g, -f*x*x*x/g
	}},
	"MGH09": {func(p []float64, x float64) float64 { return p[0] * (x*x + x*p[1]) / (x*x + x*p[2] + p[3]) },
		func(p []float64, x float64, d []float64) {
			g := x*x + x*p[2] + p[3]
			f := p[0] * (x*x + x*p[1]) / g
			d[0], d[1], d[2], d[3] = (x*x+x*p[1])/g, p[0]*x/g, -f*x/g, -f/g
		}},
	"MGH10": {func(p []float64, x float64) float64 { return p[0] * math.Exp(p[1]/(x+p[2])) },
		func(p []float64, x float64, d []float64) {
			e := math.Exp(p[1] / (x + p[2]))
			d[0], d[1], d[2] = e, p[0]*e/(x+p[2]), -p[0]*e*p[1]/((x+p[2])*(x+p[2]))
		}},
	"Rat42": {func(p []float64, x float64) float64 { return p[0] / (1 + math.Exp(p[1]-p[2]*x)) },
		func(p []float64, x float64, d []float64) {
			e := math.Exp(p[1] - p[2]*x)
			g := 1 + e
			d[0], d[1], d[2] = 1/g, -p[0]*e/(g*g), p[0]*x*e/(g*g)
		}},
	"Eckerle4": {func(p []float64, x float64) float64 {
		z := (x - p[2]) / p[1]
		return p[0] / p[1] * math.Exp(-0.5*z*z)
	}, func(p []float64, x float64, d []float64) {
		z := (x - p[2]) / p[1]
		e := math.Exp(-0.5 * z * z)
		d[0], d[1], d[2] = e/p[1], p[0]*e*(z*z-1)/(p[1]*p[1]), p[0]*e*z/(p[1]*p[1])
	}},
}

func rising(p []float64, x float64) float64 { return p[0] * -math.Expm1(-p[1]*x) }
func risingSlope(p []float64, x float64, d []float64) {
	d[0], d[1] = -math.Expm1(-p[1]*x), p[0]*x*math.Exp(-p[1]*x)
}

// TestCurvesMeetNIST checks the NIST StRD nonlinear sets from both certified starts,
// with slopes by formula and by differences: 10 digits of every coefficient.
func TestCurvesMeetNIST(t *testing.T) {
	for name, model := range nistCurves {
		data := sheet(t, "nist/nls_"+name+".csv")
		x, y := floats(t, data["x"]), floats(t, data["y"])
		want, sd := certified2(t, name)
		for start := 1; start <= 2; start++ {
			for _, formula := range []bool{true, false} {
				c := Curve{At: func(p []float64, i int) float64 { return model.at(p, x[i]) }}
				if formula {
					c.Slope = func(p []float64, i int, out []float64) { model.slope(p, x[i], out) }
				}
				from := want[fmt.Sprint("start", start)]
				for k := range from {
					c.Names = append(c.Names, fmt.Sprintf("b%d", k+1))
				}
				f, err := FitCurve(c, y, from)
				if err != nil {
					t.Errorf("%s from start %d (formula %v): %v", name, start, formula, err)
					continue
				}
				least, leastSD := 11.0, 11.0
				for k, got := range f.Coefficients {
					least = min(least, digits(got.Estimate, want["estimate"][k]))
					leastSD = min(leastSD, digits(got.SE, sd[k]))
				}
				t.Logf("%s start %d formula %v: %.1f digits, sd %.1f, %d steps", name, start, formula, least, leastSD, f.Steps)
				if !(least >= 10) || !(leastSD >= 8.5) {
					t.Errorf("%s from start %d (formula %v): %.1f digits, sd %.1f", name, start, formula, least, leastSD)
				}
				wantDigits(t, name+" RSS", f.RSS, want["rss"][0], 9)
			}
		}
	}
}

func certified2(t *testing.T, name string) (map[string][]float64, []float64) {
	s := sheet(t, "nist/nls_"+name+"_certified.csv")
	out := map[string][]float64{}
	var sd []float64
	for i, p := range s["parameter"] {
		if p == "residual_ss" {
			out["rss"] = floats(t, s["estimate"][i:i+1])
		}
		if s["start1"][i] == "" {
			continue
		}
		for _, k := range []string{"start1", "start2", "estimate"} {
			out[k] = append(out[k], floats(t, s[k][i:i+1])...)
		}
		sd = append(sd, floats(t, s["sd"][i:i+1])...)
	}
	return out, sd
}

func TestCurvesThatCannotBeFittedAreRefused(t *testing.T) {
	x := []float64{1, 2, 3, 4, 5, 6}
	same := Curve{Names: []string{"a", "b"}, At: func(p []float64, i int) float64 { return (p[0] + p[1]) * x[i] }}
	if _, err := FitCurve(same, []float64{1, 2, 3, 4, 5, 7}, []float64{1, 1}); !errors.Is(err, ErrNoFit) {
		t.Errorf("two names for one number: %v", err)
	}
	nowhere := Curve{Names: []string{"a"}, At: func(p []float64, i int) float64 { return math.NaN() }}
	if _, err := FitCurve(nowhere, []float64{1, 2}, []float64{1}); !errors.Is(err, ErrNoFit) {
		t.Errorf("a curve without height: %v", err)
	}
	if _, err := FitCurve(same, []float64{1, 2}, []float64{1, 1}); !errors.Is(err, ErrTooFew) {
		t.Errorf("as many numbers as parameters: %v", err)
	}
}
