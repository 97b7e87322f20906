package cli

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"aerugo/internal/science/stat"
	"aerugo/internal/studio"
)

type rankVerb struct {
	Table     string  `arg:"" placeholder:"PAIRS.csv" help:"Table of choices between two."`
	Reference string  `placeholder:"NAME" help:"Whose ability is set to 0; the mean of all if not said."`
	Conf      float64 `default:"0.95" placeholder:"SHARE" help:"Confidence of the intervals."`
	JSON      bool    `name:"json" help:"Answer in JSON."`
}

// Help is shown below the verb's usage.
func (rankVerb) Help() string {
	return `Ranks things by taste from choices between two of them (Bradley and Terry 1952; ties by Davidson 1970), and says whether one order explains the choices and how far judges agree (Krippendorff's alpha).

One row a choice: columns "winner" and "loser", or "a", "b" and "choice", in which "tie" stands for neither; a column "judge" may name who chose. Or one row a pair: two columns of names, two of how often each was chosen, and perhaps one named "ties". ` + sheetHelp + `

` + exits
}

type abilityFound struct {
	Name        string  `json:"name"`
	Estimate    float64 `json:"estimate"`
	SE          float64 `json:"se"`
	Low         float64 `json:"low"`
	High        float64 `json:"high"`
	Wins        float64 `json:"wins"` // ties count half
	Comparisons float64 `json:"comparisons"`
	OverMean    float64 `json:"chance_over_mean"`
}

type differenceFound struct {
	A        string   `json:"a"`
	B        string   `json:"b"`
	Estimate float64  `json:"estimate"`
	SE       float64  `json:"se"`
	Low      float64  `json:"low"`
	High     float64  `json:"high"`
	P        *float64 `json:"p"`
}

// rankFound is what rank reports; best first.
type rankFound struct {
	Abilities   []abilityFound    `json:"abilities"`
	Reference   string            `json:"reference"`
	Tie         float64           `json:"tie"`
	Deviance    float64           `json:"deviance"`
	DF          int               `json:"df"`
	P           *float64          `json:"p_one_order"`
	Judges      int               `json:"judges,omitempty"`
	Alpha       *float64          `json:"agreement_alpha,omitempty"`
	Differences []differenceFound `json:"differences"`
	Warnings    []warningFound    `json:"warnings"`
	Conf        float64           `json:"confidence"`
}

// Run ranks.
func (v rankVerb) Run(t *term) error {
	s, err := openSheet(t, v.Table)
	if err != nil {
		return err
	}
	choices, verdicts, err := s.choices()
	if err != nil {
		return err
	}
	r, ds, err := stat.FitChoices(choices, v.Reference, v.Conf)
	if errors.Is(err, stat.ErrNoFit) {
		_, why, _ := strings.Cut(err.Error(), ": ")
		return studio.Problemf(studio.Invalid, "table", "%s can't be ranked: %s", s.name, why)
	}
	if err != nil {
		return statProblem(outside(err), s.name)
	}
	f := rankFound{Abilities: []abilityFound{}, Reference: r.Reference, Tie: r.Tie, Deviance: r.Deviance, DF: r.DF, P: maybe(r.P), Differences: []differenceFound{}, Warnings: []warningFound{}, Conf: v.Conf}
	for _, a := range r.Abilities {
		f.Abilities = append(f.Abilities, abilityFound{a.Name, a.Estimate, a.SE, a.Low, a.High, a.PlainWins, a.Comparisons, a.WinsOverMean})
	}
	for _, d := range ds {
		f.Differences = append(f.Differences, differenceFound{d.A, d.B, d.Estimate, d.SE, d.Low, d.High, maybe(d.P)})
	}
	if r.P < 0.05 {
		f.Warnings = append(f.Warnings, warningFound{"no one order", fmt.Sprintf("One order does not explain these choices (p = %.2g): tastes differ, or what is liked depends on what it stands beside.", r.P), nil})
	}
	if len(verdicts) > 0 {
		judges := map[string]bool{}
		for _, d := range verdicts {
			judges[d.Judge] = true
		}
		f.Judges = len(judges)
		if alpha, err := stat.Krippendorff(verdicts); err == nil && f.Judges > 1 {
			f.Alpha = &alpha
			if alpha < 0.2 {
				f.Warnings = append(f.Warnings, warningFound{"little agreement", fmt.Sprintf("The judges hardly agree (alpha %.2f, where 1 is full agreement and 0 that of chance).", alpha), nil})
			}
		}
	}
	if v.JSON {
		return t.asJSON(f)
	}
	f.tell(t)
	return nil
}

// choices reads the table in whichever of its forms it has.
func (s *sheet) choices() ([]stat.Choice, []stat.Verdict, error) {
	at := func(names ...string) int {
		return slices.IndexFunc(s.heads, func(h string) bool { return slices.Contains(names, strings.ToLower(h)) })
	}
	winner, loser, a, b, choice, judge := at("winner"), at("loser"), at("a"), at("b"), at("choice", "chosen"), at("judge")
	var out []stat.Choice
	var verdicts []stat.Verdict
	one := func(row []string, left, right, chosen string, r int) error {
		c := stat.Choice{A: left, B: right}
		switch {
		case strings.EqualFold(chosen, "tie"):
			c.Ties, chosen = 1, "tie"
		case chosen == left:
			c.WinA = 1
		case chosen == right:
			c.WinB = 1
		default:
			return studio.Problemf(studio.Invalid, "table", "row %d of %s chooses %q, which is neither %q nor %q nor \"tie\"", r+1, s.name, chosen, left, right)
		}
		if left == right || left == "" || right == "" {
			return studio.Problemf(studio.Invalid, "table", "row %d of %s sets %q against %q; a choice needs two different names", r+1, s.name, left, right)
		}
		out = append(out, c)
		if judge >= 0 {
			// by place and both ways round, so that those who choose by chance agree by chance:
			// by name, a pair of which everyone likes one would count as a thing of its own kind
			first, second := min(left, right), max(left, right)
			ways := map[string][2]string{first: {"first", "second"}, second: {"second", "first"}, "tie": {"tie", "tie"}}[chosen]
			verdicts = append(verdicts, stat.Verdict{Judge: row[judge], Thing: first + "\x00" + second, Label: ways[0]}, stat.Verdict{Judge: row[judge], Thing: second + "\x00" + first, Label: ways[1]})
		}
		return nil
	}
	switch {
	case winner >= 0 && loser >= 0:
		for r, row := range s.rows {
			if err := one(row, row[winner], row[loser], row[winner], r); err != nil {
				return nil, nil, err
			}
		}
	case a >= 0 && b >= 0 && choice >= 0:
		for r, row := range s.rows {
			if err := one(row, row[a], row[b], row[choice], r); err != nil {
				return nil, nil, err
			}
		}
	case len(s.heads) >= 4 && s.numeric(2) && s.numeric(3):
		ties := at("ties")
		if ties >= 0 && ties < 4 {
			return nil, nil, studio.Problemf(studio.Invalid, "table", "%s: the column ties must stand after two columns of names and two of counts", s.name)
		}
		for r, row := range s.rows {
			c := stat.Choice{A: row[0], B: row[1]}
			c.WinA, _ = s.number(row[2])
			c.WinB, _ = s.number(row[3])
			if ties >= 0 {
				var ok bool
				if c.Ties, ok = s.number(row[ties]); !ok {
					return nil, nil, studio.Problemf(studio.Invalid, "table", "row %d of %s says %q under ties, which is not a number", r+1, s.name, row[ties])
				}
			}
			if c.A == c.B || c.A == "" || c.B == "" {
				return nil, nil, studio.Problemf(studio.Invalid, "table", "row %d of %s sets %q against %q; a choice needs two different names", r+1, s.name, c.A, c.B)
			}
			out = append(out, c)
		}
	default:
		return nil, nil, studio.Problemf(studio.Invalid, "table", "%s holds no choices that can be read: it needs columns winner and loser, or a, b and choice, or two columns of names and two of counts", s.name)
	}
	return out, verdicts, nil
}

// tell writes the answer for people.
func (f rankFound) tell(t *term) {
	for i, a := range f.Abilities {
		t.printf("%d. %s: chosen over the middling one %.0f %% of the time; ability %+.3g (%+.3g to %+.3g), %g of %g\n", i+1, a.Name, 100*a.OverMean, a.Estimate, a.Low, a.High, a.Wins, a.Comparisons)
	}
	unclear := 0
	for _, d := range f.Differences {
		if d.Low < 0 && d.High > 0 {
			unclear++
		}
	}
	if unclear > 0 {
		t.printf("%d of %d pairs can't be told apart from these choices.\n", unclear, len(f.Differences))
	}
	if f.Alpha != nil {
		t.printf("%d judges agree with alpha %.2f (1 is full agreement, 0 that of chance).\n", f.Judges, *f.Alpha)
	}
	for _, w := range f.Warnings {
		t.printf("Mind: %s\n", w.Text)
	}
}
