package cli

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"aerugo/internal/science/colour"
	"aerugo/internal/science/guess"
	"aerugo/internal/studio"
)

type nextVerb struct {
	Data   string  `arg:"" name:"DATA.csv" help:"Swatches that were made: one a line below a line of names."`
	Spec   string  `arg:"" name:"SPEC.json" help:"What the columns are, and what must not be tried."`
	Target string  `placeholder:"L,A,B" help:"The colour to come to (CIELAB, D50)."`
	Near   float64 `default:"3" placeholder:"DE" help:"How near is near enough, as dE00."`
	Ask    string  `placeholder:"FACTOR" help:"Instead of a colour: the factor whose effect you want to know."`
	From   string  `placeholder:"VALUE" help:"With --ask: from which value or level."`
	To     string  `placeholder:"VALUE" help:"With --ask: to which."`
	Batch  int     `default:"1" placeholder:"N" help:"How many swatches you will make before you look again: 1 to 24."`
	Seed   uint64  `default:"1" help:"Number that chance starts from; the same gives the same answer."`
	JSON   bool    `name:"json" help:"Answer in JSON."`
}

// Help is shown below the verb's usage.
func (nextVerb) Help() string {
	return `Says which swatches to make next: toward a colour (--target), or to learn what a factor does (--ask). Each says why it is proposed, what colour to expect and the chance that it comes within --near. When the best swatch is as near as repeats of one swatch lie to each other, it says that you may stop.

` + specHelp + `
` + exits
}

type proposed struct {
	predicted
	Reason guess.Reason `json:"reason"`
	Loss   float64      `json:"expected_de00"`
	Chance float64      `json:"chance_near"`
	Gain   float64      `json:"expected_gain_de00"`
}

type nextFound struct {
	Target    []float64  `json:"target"`
	Near      float64    `json:"near_de00"`
	Proposals []proposed `json:"proposals"`
	Best      int        `json:"best_row"`
	BestLoss  float64    `json:"best_expected_de00"`
	Spread    float64    `json:"repeat_spread_de00"`
	Stop      bool       `json:"stop"`
	Left      trust      `json:"leave_one_out"`
}

type askFound struct {
	Factor  string           `json:"factor"`
	From    string           `json:"from"`
	To      string           `json:"to"`
	Outputs []string         `json:"outputs"`
	Effect  []float64        `json:"effect"`
	SD      []float64        `json:"sd"`
	Low     []float64        `json:"low"`
	High    []float64        `json:"high"`
	After   []float64        `json:"sd_after"`
	Runs    []map[string]any `json:"runs"`
}

// Run proposes.
func (v nextVerb) Run(t *term) error {
	if v.Batch < 1 || v.Batch > 24 {
		return studio.Problemf(studio.Invalid, "batch", "--batch can't be %d; ask for 1 to 24 swatches", v.Batch)
	}
	if !(v.Near > 0 && v.Near <= 50) {
		return studio.Problemf(studio.Invalid, "near", "--near can't be %v; 3 is near enough for most eyes, 50 the most", v.Near)
	}
	if (v.Target == "") == (v.Ask == "") {
		return studio.Problemf(studio.Invalid, "target", "say what the swatches are for: --target L,a,b for a colour, or --ask FACTOR for what a factor does")
	}
	var target []float64
	if v.Target != "" {
		var err error
		if target, err = numbers("target", v.Target, 3, "48,-12,5"); err != nil {
			return err
		}
		if target[0] < 0 || target[0] > 100 || max(target[1], -target[1], target[2], -target[2]) > 150 {
			return studio.Problemf(studio.Invalid, "target", "--target can't be %s; L* runs from 0 to 100, a* and b* from about -130 to 130", v.Target)
		}
	}
	from, err := train(v.Data, v.Spec, v.Seed)
	if err != nil {
		return err
	}
	if target == nil {
		return v.ask(t, from)
	}
	if !from.lab() {
		return studio.Problemf(studio.Invalid, "target", "a target colour needs the outputs L, a and b; the spec names %s", strings.Join(from.spec.Outputs, ", "))
	}
	plan, err := from.model.Next(guess.Goal{
		Loss: guess.Toward(colour.Lab{L: target[0], A: target[1], B: target[2]}), Target: target, Near: v.Near,
		Allowed: from.allowed, Compute: from.compute, Batch: v.Batch, Effort: 600}, from.chance)
	if err != nil {
		return from.cannot(err)
	}
	found := nextFound{Target: target, Near: v.Near, Best: plan.Best + 1, BestLoss: round4(plan.BestLoss), Spread: round4(plan.Spread), Stop: plan.Stop, Left: from.trust()}
	for _, p := range plan.Proposals {
		found.Proposals = append(found.Proposals, proposed{from.answer(p.At, p.Prediction), p.Reason, round4(p.Loss), round4(p.Chance), round4(p.Gain)})
	}
	if v.JSON {
		return t.asJSON(found)
	}
	t.printf("The best so far is swatch %d (%s): it should lie %.1f dE00 from the target.\n", found.Best, from.inWords(from.rows[plan.Best].At), plan.BestLoss)
	if plan.Stop {
		t.printf("That is within the spread of your own hands (%.1f): you may stop. More trials can't be told from luck.\n", plan.Spread)
	}
	for i, p := range plan.Proposals {
		t.printf("\n%d. %s\n", i+1, from.inWords(p.At))
		t.printf("   %s: L* %s, a* %s, b* %s\n", found.Proposals[i].Name, decimals(p.Mean[0]), decimals(p.Mean[1]), decimals(p.Mean[2]))
		t.printf("   dE00 to expect %.1f; within %g: %.0f in 100\n", p.Loss, v.Near, 100*p.Chance)
		t.printf("   %s\n", map[guess.Reason]string{
			guess.Exploit: "Why: it should come nearer than any so far.",
			guess.Learn:   "Why: little is known there; it may come nearer, and tells much.",
		}[p.Reason])
	}
	found.Left.tell(t, from.spec.Outputs)
	return nil
}

// allowed and compute are what the spec says, for the search.
func (t *trained) allowed(at []float64) bool { return t.spec.allowed(t.set, at) }

func (t *trained) compute(at []float64) ([]float64, bool) {
	if t.spec.Wet == nil {
		return nil, true
	}
	more, err := t.spec.Wet.compute(t.set, at)
	return more, err == nil
}

// cannot says why nothing is proposed.
func (t *trained) cannot(err error) error {
	if errors.Is(err, guess.ErrNothingAllowed) {
		return studio.Problemf(studio.Invalid, "spec", "nothing may be tried: never, at_most, what must not meet and the chamber's limits leave no setting; loosen one of them")
	}
	return fmt.Errorf("choose swatches: %w", err)
}

// ask proposes swatches toward an answer.
func (v nextVerb) ask(t *term, from *trained) error {
	i := factorNamed(from.set, v.Ask)
	if i < 0 {
		return studio.Problemf(studio.Invalid, "ask", "the spec has no factor %q to ask about", v.Ask)
	}
	f := from.set[i]
	end := func(option, text string) (float64, error) {
		if len(f.Levels) > 0 {
			if j := slices.Index(f.Levels, text); j >= 0 {
				return float64(j), nil
			}
			return 0, studio.Problemf(studio.Invalid, option, "--%s can't be %q; %s is one of %s", option, text, f.Name, strings.Join(f.Levels, ", "))
		}
		if text == "" && option == "from" {
			return f.Low, nil
		} else if text == "" {
			return f.High, nil
		}
		if x, ok := number(text); ok && x >= f.Low && x <= f.High {
			return x, nil
		}
		return 0, studio.Problemf(studio.Invalid, option, "--%s can't be %q; %s reaches from %v to %v", option, text, f.Name, f.Low, f.High)
	}
	lo, err := end("from", v.From)
	if err != nil {
		return err
	}
	hi, err := end("to", v.To)
	if err != nil {
		return err
	}
	if lo == hi {
		return studio.Problemf(studio.Invalid, "to", "--from and --to are the same; an effect needs two different values of %s", f.Name)
	}
	got, err := from.model.Ask(guess.Question{Factor: i, From: lo, To: hi, Allowed: from.allowed, Compute: from.compute, Batch: v.Batch, Effort: 600}, from.chance)
	if err != nil {
		return from.cannot(err)
	}
	word := func(x float64) string {
		if len(f.Levels) > 0 {
			return f.Levels[int(x)]
		}
		return strconv.FormatFloat(x, 'g', 4, 64)
	}
	found := askFound{f.Name, word(lo), word(hi), from.spec.Outputs, round4s(got.Now.Mean), round4s(got.Now.SD), round4s(got.Now.Low), round4s(got.Now.High), round4s(got.After), nil}
	for _, at := range got.Runs {
		found.Runs = append(found.Runs, from.named(at))
	}
	if v.JSON {
		return t.asJSON(found)
	}
	t.printf("%s from %s to %s, on average over the rest:\n", f.Name, found.From, found.To)
	for a, name := range found.Outputs {
		t.printf("  %s %s (90 %%: %s to %s); its doubt falls from %.2f to %.2f with these swatches\n", name, decimals(found.Effect[a]), decimals(found.Low[a]), decimals(found.High[a]), found.SD[a], found.After[a])
	}
	for n, at := range got.Runs {
		t.printf("%d. %s\n", n+1, from.inWords(at))
	}
	return nil
}
