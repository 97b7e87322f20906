package cli

import (
	"math"
	"strings"

	"aerugo/internal/science/stat"
)

// maybe is a number that may be unknown.
func maybe(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

type termFound struct {
	Name     string   `json:"name"`
	Estimate float64  `json:"estimate"`
	SE       *float64 `json:"se"`
	DF       *float64 `json:"df"`
	T        *float64 `json:"t"`
	P        *float64 `json:"p"`
	Low      *float64 `json:"low"`
	High     *float64 `json:"high"`
}

func termsOf(cs []stat.Coefficient) []termFound {
	out := []termFound{}
	for _, c := range cs {
		out = append(out, termFound{c.Name, c.Estimate, maybe(c.SE), maybe(c.DF), maybe(c.T), maybe(c.P), maybe(c.Low), maybe(c.High)})
	}
	return out
}

type anovaFound struct {
	Term  string   `json:"term"`
	DF    float64  `json:"df"`
	DenDF *float64 `json:"den_df,omitempty"`
	SS    *float64 `json:"ss"`
	MS    *float64 `json:"ms"`
	F     *float64 `json:"f"`
	P     *float64 `json:"p"`
}

type warningFound struct {
	Kind string `json:"kind"`
	Text string `json:"text"`
	Rows []int  `json:"rows,omitempty"` // from 1
}

type meanFound struct {
	Factor   string   `json:"factor"`
	Level    string   `json:"level"`
	Estimate float64  `json:"estimate"`
	SE       *float64 `json:"se"`
	Low      *float64 `json:"low"`
	High     *float64 `json:"high"`
}

type pairFound struct {
	Factor     string   `json:"factor"`
	A          string   `json:"a"`
	B          string   `json:"b"`
	Difference float64  `json:"difference"`
	SE         *float64 `json:"se"`
	P          *float64 `json:"p"`
	Low        *float64 `json:"low"`
	High       *float64 `json:"high"`
}

type scatterFound struct {
	Name  string  `json:"name"`
	SD    float64 `json:"sd"`
	Share float64 `json:"share"`
}

type lackFound struct {
	LackDF int      `json:"lack_df"`
	PureDF int      `json:"pure_df"`
	LackSS float64  `json:"lack_ss"`
	PureSS float64  `json:"pure_ss"`
	F      *float64 `json:"f"`
	P      *float64 `json:"p"`
}

type lenthFound struct {
	PSE float64 `json:"pse"`
	ME  float64 `json:"me"`
	SME float64 `json:"sme"`
}

// effectsFound is what effects reports.
type effectsFound struct {
	Response string         `json:"response"`
	Rows     int            `json:"rows"`
	Terms    []termFound    `json:"terms"`
	Anova    []anovaFound   `json:"anova"`
	Sigma    *float64       `json:"sigma"`
	DF       int            `json:"df"`
	R2       *float64       `json:"r2"`
	Lack     *lackFound     `json:"lack_of_fit,omitempty"`
	Lenth    *lenthFound    `json:"lenth,omitempty"`
	Scatter  []scatterFound `json:"scatter,omitempty"`
	Means    []meanFound    `json:"means"`
	Pairs    []pairFound    `json:"pairs"`
	Needed   int            `json:"swatches_per_level,omitempty"`
	See      float64        `json:"difference_to_see,omitempty"`
	Warnings []warningFound `json:"warnings"`
	Conf     float64        `json:"confidence"`
}

// tell writes the answer for people.
func (f *effectsFound) tell(t *term) {
	t.printf("What moves %s, from %d rows (intervals of %g %%):\n", f.Response, f.Rows, 100*f.Conf)
	for _, c := range f.Terms {
		if c.Name == "intercept" {
			continue
		}
		c.Name = strings.ReplaceAll(c.Name, ":", " × ")
		switch {
		case c.Low == nil && f.Lenth != nil:
			verdict := "can't be told from chance"
			if math.Abs(c.Estimate) > f.Lenth.SME {
				verdict = "stands out"
			} else if math.Abs(c.Estimate) > f.Lenth.ME {
				verdict = "may be more than chance"
			}
			t.printf("  %s: %+.4g, %s\n", c.Name, c.Estimate, verdict)
		case c.Low == nil:
			t.printf("  %s: %+.4g, and nothing to judge chance by\n", c.Name, c.Estimate)
		case *c.Low > 0 || *c.High < 0:
			t.printf("  %s: %+.4g (%+.4g to %+.4g), p = %.2g\n", c.Name, c.Estimate, *c.Low, *c.High, *c.P)
		default:
			t.printf("  %s: can't tell from these swatches (%+.4g to %+.4g)\n", c.Name, *c.Low, *c.High)
		}
	}
	for _, p := range f.Pairs {
		if p.P != nil && *p.P < 1-f.Conf {
			t.printf("  %s: %s less %s is %+.4g (%+.4g to %+.4g, all pairs at once)\n", p.Factor, p.A, p.B, p.Difference, *p.Low, *p.High)
		}
	}
	if f.Sigma != nil {
		t.printf("Swatches made alike scatter by ±%.3g (standard deviation).\n", *f.Sigma)
	}
	for _, s := range f.Scatter {
		if s.Name != "residual" {
			t.printf("Of one row's variance %.0f %% lies between groups of %s.\n", 100*s.Share, s.Name)
		}
	}
	if f.Needed > 0 {
		t.printf("To see a difference of %g four times in five, make %d swatches a level.\n", f.See, f.Needed)
	}
	for _, w := range f.Warnings {
		t.printf("Mind: %s\n", w.Text)
	}
}
