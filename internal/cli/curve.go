package cli

import (
	"errors"
	"strings"

	"aerugo/internal/science/stat"
	"aerugo/internal/studio"
)

type curveVerb struct {
	Table  string  `arg:"" placeholder:"DATA.csv" help:"Table with one row a look."`
	Time   string  `placeholder:"COLUMN" help:"Column of times; the first one if not said."`
	Value  string  `placeholder:"COLUMN" help:"Column of what grew (coverage, colour difference); the second one if not said."`
	Model  string  `default:"logistic" enum:"logistic,avrami" help:"Shape: logistic, or avrami (islands that appear and spread until they meet)."`
	Logit  bool    `help:"The values are shares from 0 to 1, such as coverage: judge their scatter on the logit scale and keep the plateau below 1."`
	Points float64 `default:"100" placeholder:"N" help:"With --logit: from how many independent places a share was counted."`
	Conf   float64 `default:"0.95" placeholder:"SHARE" help:"Confidence of the intervals."`
	JSON   bool    `name:"json" help:"Answer in JSON."`
}

// Help is shown below the verb's usage.
func (curveVerb) Help() string {
	return `Says when something began to grow (a tenth of its plateau), when it was half way, and where it ends, each with a profile likelihood interval; or that these looks can't tell. ` + sheetHelp + `

` + exits
}

type landmarkFound struct {
	Value float64  `json:"value"`
	Low   *float64 `json:"low"`  // null: not bounded by the data
	High  *float64 `json:"high"` // null: not bounded by the data
}

func landmark(l stat.Landmark) landmarkFound {
	return landmarkFound{l.Value, maybe(l.Low), maybe(l.High)}
}

// curveFound is what curve reports.
type curveFound struct {
	Model       string        `json:"model"`
	Time        string        `json:"time"`
	Value       string        `json:"value"`
	Onset       landmarkFound `json:"onset"`
	HalfTime    landmarkFound `json:"half_time"`
	Plateau     landmarkFound `json:"plateau"`
	Rate        float64       `json:"rate"`
	Exponent    *float64      `json:"exponent,omitempty"`
	Sigma       float64       `json:"sigma"`
	DF          int           `json:"df"`
	PlateauSeen bool          `json:"plateau_seen"`
	Doubt       string        `json:"doubt,omitempty"`
	Conf        float64       `json:"confidence"`
	Fitted      []float64     `json:"fitted"`
}

// Run fits the curve.
func (v curveVerb) Run(t *term) error {
	s, err := openSheet(t, v.Table)
	if err != nil {
		return err
	}
	at := []int{0, 1}
	for i, name := range []string{v.Time, v.Value} {
		if name != "" {
			if at[i], err = s.find([]string{"time", "value"}[i], name); err != nil {
				return err
			}
		}
	}
	if len(s.heads) < 2 || at[0] == at[1] {
		return studio.Problemf(studio.Invalid, "time", "%s needs a column of times and another of values; name them with --time and --value", s.name)
	}
	s, _ = s.without(at[1])
	g := stat.Growth{Shape: stat.GrowthShape(v.Model), Logit: v.Logit, Points: v.Points, Conf: v.Conf}
	if g.Time, err = s.numbers(at[0]); err != nil {
		return err
	}
	if g.Value, err = s.numbers(at[1]); err != nil {
		return err
	}
	fit, err := stat.FitGrowth(g)
	if errors.Is(err, stat.ErrNoFit) {
		_, why, _ := strings.Cut(err.Error(), ": ")
		return studio.Problemf(studio.Invalid, "table", "%s can't tell onset, half-time and plateau: %s; look earlier, later and more often", s.name, why)
	}
	if err != nil {
		return statProblem(outside(err), s.name)
	}
	f := curveFound{Model: v.Model, Time: s.heads[at[0]], Value: s.heads[at[1]], Onset: landmark(fit.Onset), HalfTime: landmark(fit.Half), Plateau: landmark(fit.Plateau),
		Rate: fit.Rate, Sigma: fit.Sigma, DF: fit.DF, PlateauSeen: fit.PlateauSeen, Doubt: fit.Doubt, Conf: v.Conf, Fitted: []float64{}}
	if v.Model == "avrami" {
		f.Exponent = maybe(fit.Exponent)
	}
	for _, x := range g.Time {
		f.Fitted = append(f.Fitted, fit.At(x))
	}
	if v.JSON {
		return t.asJSON(f)
	}
	f.tell(t)
	return nil
}

// tell writes the answer for people.
func (f curveFound) tell(t *term) {
	say := func(what string, l landmarkFound) {
		switch {
		case l.Low != nil && l.High != nil:
			t.printf("%s: %.4g (%.4g to %.4g)\n", what, l.Value, *l.Low, *l.High)
		case l.Low != nil:
			t.printf("%s: %.4g or more, no upper bound from these looks\n", what, *l.Low)
		case l.High != nil:
			t.printf("%s: %.4g or less, no lower bound from these looks\n", what, *l.High)
		default:
			t.printf("%s: can't tell from these looks\n", what)
		}
	}
	say("Onset (a tenth of the plateau), "+f.Time, f.Onset)
	say("Half-time, "+f.Time, f.HalfTime)
	say("Plateau, "+f.Value, f.Plateau)
	if f.Exponent != nil {
		t.printf("Avrami exponent: %.3g\n", *f.Exponent)
	}
	if f.Doubt != "" {
		t.printf("Mind: %s\n", f.Doubt)
	}
}
