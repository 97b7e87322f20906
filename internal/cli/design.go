package cli

import (
	"errors"
	"io"
	"math/rand/v2"
	"os"

	"aerugo/internal/science/design"
)

type designVerb struct {
	Spec string `arg:"" name:"spec" help:"File that says what is asked, in JSON; - reads standard input."`
	JSON bool   `name:"json" help:"Answer in JSON."`
}

// Help is shown below the verb's usage.
func (designVerb) Help() string {
	return `Plans swatches that can answer a question, and says what they can't tell before any metal is cut. SPEC is JSON like

  {"factors": [{"name": "hours", "min": 2, "max": 8, "settings": [2, 5, 8]},
               {"name": "liquid", "levels": ["salt water", "vinegar"]}],
   "runs": 9, "model": ["hours", "hours^2", "liquid", "hours*liquid"],
   "forbidden": [{"liquid": "vinegar", "hours": {"min": 6}}],
   "blocks": [{"name": "day", "sizes": [5, 4]}], "seed": 7}

factors: a name with levels (words), or with min and max (settings are the only values that can be made; without them eleven are tried). kind "continuous" or "categorical" says which where levels are numbers. same_within names blocks within which it can't change, such as the hours of one chamber run.
plan: "optimal" (searched for; the default), "every" (every combination), "fraction", "screening" (Plackett-Burman, 12, 20 or 24 runs), "box-behnken", "composite", "latin", "L9", "L18" or "filling" (no gap left). For "fraction" foldover adds the half turned round; for "box-behnken" and "composite" centre is the number of centre runs, and star is "rotatable", "orthogonal", "faced" or "blocked". A composite plan is drawn in until it keeps within min and max.
model: "main" (the default), "interactions", "quadratic", or a list of terms.
criterion: "D" (effects; the default), "I" (predictions) or "A" (effects on average).
forbidden: combinations never made. Each names factors with a level, a list of levels, or {"min", "max"}.
made: runs that are there already, as {"hours": 2, "liquid": "vinegar"}. They count among runs and come first in the blocks.
blocks: a number of blocks, their sizes, or a list of {"name", "count" or "sizes" or "of": the block of each run from 1, "ratio"}. A ratio takes the shifts between blocks as chance, so many times the variance of swatches made alike. Two faces of one swatch are blocks too: {"name": "swatch", "count": 6, "ratio": 1} for 12 faces.
repeats, blanks: made besides; two repeats, where the plan repeats none itself, and one blank a block unless you say. seed: the same one gives the same plan and order again. see and spread: the difference to be seen and the spread of swatches made alike, in ΔE00 (3 and 2).

In JSON runs[] holds the plan's runs with each factor's setting under its name; order[] says what to make when, repeats and blanks included; confounding[] and cannot_tell[] are sentences. efficiency is the e-Handbook's: D, more is better, 1 the most at two levels; A and I, less is better; G from 0 to 1. It is null when effects can't be told apart.

` + exits
}

// mostDesign is the largest spec read, in bytes.
const mostDesign = 1 << 20

// Run plans and answers.
func (v designVerb) Run(t *term) error {
	data, err := v.read(t.stdin)
	if err != nil {
		return err
	}
	a, err := readDesign(data)
	if err != nil {
		return err
	}
	f, err := v.plan(a)
	if err != nil {
		return err
	}
	if v.JSON {
		return t.asJSON(f)
	}
	f.tell(t)
	return nil
}

// plan answers what was asked; what design refuses becomes a Problem.
func (designVerb) plan(a asked) (designed, error) {
	f, err := a.answer()
	if errors.Is(err, design.ErrAsk) {
		return f, badDesign("%v", err)
	}
	return f, err
}

// read takes in the spec.
func (v designVerb) read(stdin io.Reader) ([]byte, error) {
	from := stdin
	if v.Spec != "-" {
		f, err := os.Open(v.Spec)
		if err != nil {
			return nil, badDesign("%s can't be opened (%s); name a file that is there", v.Spec, plainly(err))
		}
		defer f.Close()
		from = f
	}
	data, err := io.ReadAll(io.LimitReader(from, mostDesign+1))
	if err != nil {
		return nil, badDesign("%s can't be read (%s)", v.Spec, plainly(err))
	}
	if len(data) > mostDesign {
		return nil, badDesign("%s is larger than %d MB; it is a short piece of JSON", v.Spec, mostDesign>>20)
	}
	return data, nil
}

// generator is the seed's chance.
func (a asked) generator() *rand.Rand { return rand.New(rand.NewPCG(a.seed, 0)) }
