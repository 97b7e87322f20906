package plan

import (
	"fmt"

	"aerugo/internal/studio"
)

// An Offer is a way to choose the settings that fits what is varied.
type Offer struct {
	Design          studio.Design
	Plain, Textbook string
	Settings        int    // how many different settings; 0: as many as are asked for
	Tells           string // what it is good for, and its price
	Why             string // why it is the one to take; empty for the others
}

// fewSettings is up to how many settings every combination is the plan to take,
// twice over (common practice, no source).
const fewSettings = 12

// Offers lists the ways to choose settings that fit the factors as they are asked
// for, the recommended one with its reason. Factors that can't be planned at all
// give a *studio.Problem.
func Offers(a Ask, sup []studio.Supply, hands []studio.HandAmount) ([]Offer, error) {
	if len(a.Factors) == 0 {
		return nil, studio.Problemf(studio.Invalid, "factor1", "Choose at least one thing to vary.")
	}
	factors, err := settle(a.Factors, a.Front.Steps, sup, hands)
	if err != nil {
		return nil, err
	}
	a.UsualReplicates = true
	wanted := a.Swatches
	var out []Offer
	add := func(d studio.Design, n int, tells string) {
		plain, textbook := DesignWords(d)
		out = append(out, Offer{Design: d, Plain: plain, Textbook: textbook, Settings: n, Tells: tells})
	}
	a.Design = studio.Full
	all := MaxSwatches + 1
	if wide, err := a.widened(factors); err == nil {
		all = product(wide)
	}
	if all <= MaxSwatches {
		add(studio.Full, all, "Tells everything apart, pairs of things too. Costs the most swatches.")
	}
	if len(factors) > 1 {
		for _, d := range []studio.Design{studio.Fraction, studio.Screening, studio.Curve, studio.Square} {
			a.Design = d
			wide, err := a.widened(factors)
			if err != nil {
				continue
			}
			a.Swatches = wanted
			runs, err := a.textbook(wide)
			if err != nil {
				a.Swatches = 0
				if runs, err = a.textbook(wide); err != nil {
					continue
				}
			}
			add(d, distinct(runs), map[studio.Design]string{
				studio.Fraction:  "Two levels of each thing. What each does by itself stands clear; some pairs can't be told apart, and it says which.",
				studio.Screening: "Two levels of each thing. Finds the few that matter; what two of them do together blurs it a little.",
				studio.Curve:     "Low, middle and high of each number. Shows bends and where the best place lies.",
				studio.Square:    "Several levels of each thing, each pair of levels equally often. What single things do, if pairs don't matter.",
			}[d])
		}
	}
	add(studio.Scattered, 0, "Leaves no part of the settings far from a swatch. For discovering looks; it tells causes apart less well.")
	add(studio.Chosen, 0, "As many swatches as you say, around what you rule out, and on top of swatches made already. Best at one question: single things, pairs or bends.")
	at, why := a.recommend(out, all, wanted)
	for i := range out {
		if out[i].Design == at {
			out[i].Why = why
		}
	}
	return out, nil
}

// recommend picks one of the offers for the number of things and swatches.
func (a Ask) recommend(offers []Offer, all, wanted int) (studio.Design, string) {
	settings := map[studio.Design]int{}
	for _, o := range offers {
		if o.Settings > 0 {
			settings[o.Design] = o.Settings
		}
	}
	fits := func(d studio.Design) bool {
		n := settings[d]
		return n > 0 && (wanted == 0 || n <= wanted)
	}
	k := len(a.Factors)
	switch {
	case k == 1 && all <= MaxSwatches:
		return studio.Full, "One thing is varied, so every level of it is made: a ladder."
	case len(a.Made) > 0:
		return studio.Chosen, "Swatches made already are to count, and this builds on them."
	case a.FacesApart || len(a.Shared) > 0 && all > fewSettings:
		return studio.Chosen, "Some settings are shared by what goes together, and this heeds it with few swatches."
	case all <= fewSettings && (wanted == 0 || 2*all <= wanted):
		return studio.Full, fmt.Sprintf("All %d combinations, each twice, are %d swatches: few enough, and nothing is mixed up.", all, 2*all)
	case len(a.Never) > 0:
		return studio.Chosen, "Something is ruled out, and this works around it."
	case fits(studio.Curve) && a.asksForBends():
		return studio.Curve, fmt.Sprintf("Everything varied is a number with a middle; %d settings show the bends.", settings[studio.Curve])
	case fits(studio.Fraction):
		return studio.Fraction, fmt.Sprintf("%d of the %d combinations show what each of the %d things does by itself.", settings[studio.Fraction], all, k)
	case fits(studio.Screening):
		return studio.Screening, fmt.Sprintf("%d swatches are enough for a first look at %d things.", settings[studio.Screening], k)
	case fits(studio.Square):
		return studio.Square, fmt.Sprintf("%d settings hold each pair of levels equally often, where every combination would be %d.", settings[studio.Square], all)
	case all <= MaxSwatches && wanted >= all:
		return studio.Full, fmt.Sprintf("Your %d swatches hold all %d combinations, and nothing is mixed up.", wanted, all)
	}
	return studio.Chosen, "The things varied have different numbers of levels, and this makes the most of as many swatches as you say."
}

// asksForBends says whether some factor is a range or has three levels.
func (a Ask) asksForBends() bool {
	for i, f := range a.Factors {
		if a.between(i) || len(f.Levels) > 2 {
			return true
		}
	}
	return false
}
