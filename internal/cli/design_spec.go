package cli

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"

	"aerugo/internal/science/design"
	"aerugo/internal/studio"
)

// designSpec is the spec as it is written.
type designSpec struct {
	Plan      string           `json:"plan,omitempty"`
	Factors   []designFactor   `json:"factors"`
	Runs      int              `json:"runs,omitempty"`
	Model     json.RawMessage  `json:"model,omitempty"`
	Criterion string           `json:"criterion,omitempty"`
	Forbidden []map[string]any `json:"forbidden,omitempty"`
	Made      []map[string]any `json:"made,omitempty"`
	Blocks    json.RawMessage  `json:"blocks,omitempty"`
	Repeats   *int             `json:"repeats,omitempty"`
	Blanks    *int             `json:"blanks,omitempty"`
	Seed      *uint64          `json:"seed,omitempty"`
	See       *float64         `json:"see,omitempty"`
	Spread    *float64         `json:"spread,omitempty"`
	Foldover  bool             `json:"foldover,omitempty"`
	Centre    *int             `json:"centre,omitempty"`
	Star      string           `json:"star,omitempty"`
}

type designFactor struct {
	Name       string    `json:"name"`
	Kind       string    `json:"kind,omitempty"`
	Levels     []any     `json:"levels,omitempty"`
	Min        *float64  `json:"min,omitempty"`
	Max        *float64  `json:"max,omitempty"`
	Settings   []float64 `json:"settings,omitempty"`
	SameWithin string    `json:"same_within,omitempty"`
}

type designBlocks struct {
	Name  string   `json:"name"`
	Count int      `json:"count"`
	Sizes []int    `json:"sizes"`
	Of    []int    `json:"of"`
	Ratio *float64 `json:"ratio"`
}

// asked is a spec understood.
type asked struct {
	design.Search
	plan     string
	question design.Question
	seed     uint64
	repeats  *int
	blanks   *int
	foldover bool
	centre   int
	star     design.Star
	blocks   bool // some were given
	modelled bool // a model was given
	assumed  []assumed
}

func badDesign(format string, args ...any) error {
	return studio.Problemf(studio.Invalid, "spec", "the spec: "+format, args...)
}

// notDesigned are names that mean something else in an answer's runs.
var notDesigned = []string{"run", "made", "blocks"}

// readDesign reads a spec. Its error is a Problem.
func readDesign(data []byte) (asked, error) {
	var f designSpec
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(&f); err != nil {
		return asked{}, badDesign("it can't be read (%v); aerugo design --help shows what it looks like", err)
	}
	if _, err := d.Token(); err != io.EOF {
		return asked{}, badDesign("there is more after it; keep one object in the file")
	}
	a := asked{plan: f.Plan, foldover: f.Foldover, centre: -1, repeats: f.Repeats, blanks: f.Blanks, question: design.Usual, assumed: []assumed{}}
	assume := func(what, value, source string) { a.assumed = append(a.assumed, assumed{what, value, source}) }
	for _, x := range f.Factors {
		fac, err := x.factor()
		if err != nil {
			return asked{}, err
		}
		if slices.Contains(notDesigned, fac.Name) || strings.ContainsAny(fac.Name, "*^") {
			return asked{}, badDesign("a factor can't be called %q; choose another word, without * and ^", fac.Name)
		}
		a.Factors = append(a.Factors, fac)
	}
	var err error
	if a.Model, err = modelOf(f.Model, a.Factors); err != nil {
		return asked{}, err
	}
	a.modelled = f.Model != nil
	if !a.modelled && (a.plan == "" || a.plan == "optimal") {
		assume("model", "main", "each factor's own effect; nobody said more")
	}
	switch strings.ToUpper(f.Criterion) {
	case "", "D":
	case "I":
		a.Criterion = design.I
	case "A":
		a.Criterion = design.A
	default:
		return asked{}, badDesign("the criterion %q is none; write D, I or A", f.Criterion)
	}
	if a.seed = 1; f.Seed != nil {
		a.seed = *f.Seed
	} else {
		assume("seed", "1", "nobody said; another one gives another order")
	}
	set := func(from *float64, into *float64, what string) {
		if from != nil {
			*into = *from
			return
		}
		assume(what, fmt.Sprintf("%g ΔE00", *into), "common practice, no source")
	}
	set(f.See, &a.question.Difference, "difference to be seen")
	set(f.Spread, &a.question.Spread, "spread of swatches made alike")
	for _, m := range f.Made {
		run, err := runOf(m, a.Factors)
		if err != nil {
			return asked{}, err
		}
		a.Fixed = append(a.Fixed, run)
	}
	if a.Forbidden, err = forbiddenOf(f.Forbidden, a.Factors); err != nil {
		return asked{}, err
	}
	a.Runs = f.Runs
	if f.Runs < 0 || f.Runs > design.MaxRuns {
		return asked{}, badDesign("%d runs; a plan has 1 to %d", f.Runs, design.MaxRuns)
	}
	var blocks []designBlocks
	if blocks, err = blocksOf(f.Blocks); err != nil {
		return asked{}, err
	}
	a.blocks = len(blocks) > 0
	if a.Runs == 0 && (a.plan == "" || a.plan == "optimal" || a.plan == "filling") {
		a.Runs = a.enough(blocks)
		assume("runs", fmt.Sprint(a.Runs), "as many as the effects and the shifts of blocks, and four to judge chance by")
	}
	if a.plan == "" || a.plan == "optimal" {
		for i, b := range blocks {
			g, err := b.group(i, a.Runs)
			if err != nil {
				return asked{}, err
			}
			if b.Ratio == nil && slices.ContainsFunc(a.Factors, func(f design.Factor) bool { return f.HeldIn == g.Name }) {
				g.Ratio = 1
				assume("variance from one "+g.Name+" to the next", "that of swatches made alike", "common practice, no source")
			}
			a.Groups = append(a.Groups, g)
		}
	}
	if f.Centre != nil {
		if a.centre = *f.Centre; a.centre < 0 {
			return asked{}, badDesign("%d centre runs; write 0 or more", a.centre)
		}
	}
	switch strings.ToLower(f.Star) {
	case "", "rotatable":
	case "orthogonal":
		a.star = design.Orthogonal
	case "faced":
		a.star = design.Faced
	case "blocked":
		a.star = design.Blocked
	default:
		return asked{}, badDesign("the star %q is none; write rotatable, orthogonal, faced or blocked", f.Star)
	}
	return a, nil
}

// enough is how many runs answer for the model, with four to spare.
func (a asked) enough(blocks []designBlocks) int {
	n := 1 + 4
	for _, t := range a.Model {
		width := 1
		for _, name := range t {
			for _, f := range a.Factors {
				if f.Name == name && f.Category() {
					width *= len(f.Levels) - 1
				}
			}
		}
		n += width
	}
	for _, b := range blocks {
		switch {
		case b.Sizes != nil:
			total := 0
			for _, s := range b.Sizes {
				total = min(total+max(s, 0), design.MaxRuns)
			}
			return max(total, 1)
		case b.Of != nil:
			return len(b.Of)
		}
		n += max(b.Count-1, 0)
	}
	return min(max(n, len(a.Fixed)+1), design.MaxRuns)
}

// factor understands one factor.
func (x designFactor) factor() (design.Factor, error) {
	f := design.Factor{Name: x.Name, Settings: x.Settings, HeldIn: x.SameWithin}
	numbers, words := []float64{}, []string{}
	for _, l := range x.Levels {
		switch v := l.(type) {
		case string:
			words = append(words, v)
		case float64:
			numbers = append(numbers, v)
		default:
			return f, badDesign("%s has a level that is neither a word nor a number", x.Name)
		}
	}
	bounded := x.Min != nil || x.Max != nil
	if bounded && (x.Min == nil || x.Max == nil) {
		return f, badDesign("%s has one end only; write min and max", x.Name)
	}
	kind := strings.ToLower(x.Kind)
	switch kind {
	case "", "continuous", "categorical":
	default:
		return f, badDesign("%s is of the kind %q; write continuous or categorical", x.Name, x.Kind)
	}
	switch {
	case kind == "categorical" || kind == "" && len(words) > 0:
		if bounded || x.Settings != nil {
			return f, badDesign("%s has named levels and min, max or settings as well; write one of them", x.Name)
		}
		for _, l := range x.Levels {
			f.Levels = append(f.Levels, fmt.Sprint(l))
		}
		if len(f.Levels) == 0 {
			return f, badDesign("%s has no levels; write them, such as [\"water\", \"vinegar\"]", x.Name)
		}
		return f, nil
	case len(words) > 0:
		return f, badDesign("%s is continuous and has the level %q; its levels are numbers", x.Name, words[0])
	case len(numbers) > 0 && x.Settings != nil:
		return f, badDesign("%s has levels and settings; write one of them", x.Name)
	case len(numbers) > 0:
		f.Settings = numbers
	}
	switch {
	case bounded:
		f.Low, f.High = *x.Min, *x.Max
	case len(f.Settings) > 0:
		f.Low, f.High = slices.Min(f.Settings), slices.Max(f.Settings)
	default:
		return f, badDesign("%s has neither levels nor min and max; write one of them", x.Name)
	}
	return f, nil
}
