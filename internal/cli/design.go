package cli

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"

	"aerugo/internal/science/design"
	"aerugo/internal/science/stat"
	"aerugo/internal/studio"
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
blocks: a number of blocks, their sizes, or a list of {"name", "count" or "sizes" or "of": the block of each run from 1, "ratio"}. A ratio takes the shifts between blocks as chance, so many times the variance of swatches made alike.
repeats, blanks: made besides; two repeats, where the plan repeats none itself, and one blank a block unless you say. seed: the same one gives the same plan and order again. see and spread: the difference to be seen and the spread of swatches made alike, in ΔE00 (3 and 2).

In JSON runs[] holds the plan's runs with each factor's setting under its name; order[] says what to make when, repeats and blanks included; confounding[] and cannot_tell[] are sentences. efficiency is the e-Handbook's: D, more is better, 1 the most at two levels; A and I, less is better; G from 0 to 1. It is null when effects can't be told apart.

` + exits
}

// mostDesign is the largest spec read, in bytes.
const mostDesign = 1 << 20

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

// modelOf understands a model.
func modelOf(raw json.RawMessage, fs []design.Factor) ([]stat.Term, error) {
	var word string
	if len(raw) == 0 || json.Unmarshal(raw, &word) == nil {
		switch word {
		case "", "main":
			return design.Main(fs), nil
		case "interactions":
			return design.TwoFactor(fs), nil
		case "quadratic":
			return design.Quadratic(fs), nil
		}
		return nil, badDesign("the model %q is none; write main, interactions, quadratic or a list of terms such as [\"time\", \"time^2\"]", word)
	}
	var list []string
	if err := json.Unmarshal(raw, &list); err != nil {
		return nil, badDesign("the model is main, interactions, quadratic or a list of terms such as [\"time\", \"time^2\", \"time*liquid\"]")
	}
	if len(list) > 200 {
		return nil, badDesign("the model has %d terms; a plan answers for up to 200", len(list))
	}
	var out []stat.Term
	for _, text := range list {
		var t stat.Term
		for _, part := range strings.Split(text, "*") {
			name, power, raised := strings.Cut(strings.TrimSpace(part), "^")
			name = strings.TrimSpace(name)
			t = append(t, name)
			switch power = strings.TrimSpace(power); {
			case !raised:
			case power == "2":
				t = append(t, name)
			default:
				return nil, badDesign("the term %q has a power other than 2; write it like time^2", text)
			}
		}
		out = append(out, t)
	}
	return out, nil
}

// codeOf understands one setting of a factor.
func codeOf(f design.Factor, v any) (float64, error) {
	if f.Category() {
		if i := slices.Index(f.Levels, fmt.Sprint(v)); i >= 0 {
			return float64(i), nil
		}
		return 0, badDesign("%s has no level %v; it has %s", f.Name, v, strings.Join(f.Levels, ", "))
	}
	x, ok := v.(float64)
	if !ok {
		return 0, badDesign("%s takes numbers, and %v is none", f.Name, v)
	}
	return f.Code(x), nil
}

// runOf understands a run that is made already.
func runOf(m map[string]any, fs []design.Factor) ([]float64, error) {
	run := make([]float64, len(fs))
	for i, f := range fs {
		v, ok := m[f.Name]
		if !ok {
			return nil, badDesign("a run that is made already says nothing of %s; each names every factor", f.Name)
		}
		var err error
		if run[i], err = codeOf(f, v); err != nil {
			return nil, err
		}
	}
	if len(m) > len(fs) {
		for _, name := range slices.Sorted(maps.Keys(m)) {
			if !slices.ContainsFunc(fs, func(f design.Factor) bool { return f.Name == name }) {
				return nil, badDesign("a run that is made already names %s, which is not among the factors", name)
			}
		}
	}
	return run, nil
}

// forbiddenOf understands the combinations never made; nil when there are none.
func forbiddenOf(rules []map[string]any, fs []design.Factor) (func([]float64) bool, error) {
	type limit struct {
		factor    int
		low, high float64
		of        []float64
	}
	const near = 1e-9
	var all [][]limit
	for _, rule := range rules {
		if len(rule) == 0 {
			return nil, badDesign("a forbidden combination names nothing; write it like {\"liquid\": \"vinegar\"}")
		}
		var limits []limit
		for _, name := range slices.Sorted(maps.Keys(rule)) {
			i := slices.IndexFunc(fs, func(f design.Factor) bool { return f.Name == name })
			if i < 0 {
				return nil, badDesign("a forbidden combination names %s, which is not among the factors", name)
			}
			l := limit{factor: i, low: math.Inf(-1), high: math.Inf(1)}
			switch v := rule[name].(type) {
			case map[string]any:
				for _, end := range slices.Sorted(maps.Keys(v)) {
					x, ok := v[end].(float64)
					if !ok || fs[i].Category() || end != "min" && end != "max" {
						return nil, badDesign("%s is forbidden by {\"min\": number, \"max\": number}, one of them or both, and only where it is continuous", name)
					}
					if code := fs[i].Code(x); end == "min" {
						l.low = code - near
					} else {
						l.high = code + near
					}
				}
				if len(v) == 0 {
					return nil, badDesign("%s is forbidden from nowhere to nowhere; write min, max or both", name)
				}
			case []any:
				for _, one := range v {
					code, err := codeOf(fs[i], one)
					if err != nil {
						return nil, err
					}
					l.of = append(l.of, code)
				}
				if len(v) == 0 {
					return nil, badDesign("%s is forbidden at no level; name some", name)
				}
			default:
				code, err := codeOf(fs[i], v)
				if err != nil {
					return nil, err
				}
				l.of = []float64{code}
			}
			limits = append(limits, l)
		}
		all = append(all, limits)
	}
	if all == nil {
		return nil, nil
	}
	hits := func(l limit, code float64) bool {
		if l.of != nil {
			return slices.ContainsFunc(l.of, func(v float64) bool { return math.Abs(v-code) <= near })
		}
		return code >= l.low && code <= l.high
	}
	return func(run []float64) bool {
		return slices.ContainsFunc(all, func(rule []limit) bool {
			return !slices.ContainsFunc(rule, func(l limit) bool { return !hits(l, run[l.factor]) })
		})
	}, nil
}

// blocksOf understands the blocks in any of their ways of writing.
func blocksOf(raw json.RawMessage) ([]designBlocks, error) {
	if len(raw) == 0 {
		return nil, nil
	}
	var count int
	var sizes []int
	if json.Unmarshal(raw, &count) == nil {
		if count == 0 {
			return nil, nil
		}
		return []designBlocks{{Name: "block", Count: count}}, nil
	}
	if json.Unmarshal(raw, &sizes) == nil {
		if len(sizes) == 0 {
			return nil, nil
		}
		return []designBlocks{{Name: "block", Sizes: sizes}}, nil
	}
	strict := func(into any) error {
		d := json.NewDecoder(bytes.NewReader(raw))
		d.DisallowUnknownFields()
		return d.Decode(into)
	}
	var one designBlocks
	if strict(&one) == nil {
		return []designBlocks{one}, nil
	}
	var list []designBlocks
	if err := strict(&list); err != nil {
		return nil, badDesign("the blocks are a number, a list of sizes, or a list like [{\"name\": \"day\", \"sizes\": [6, 6]}]")
	}
	return list, nil
}

// group deals n runs into the blocks.
func (b designBlocks) group(i, n int) (design.Group, error) {
	if b.Name == "" {
		b.Name = "block"
		if i > 0 {
			b.Name = fmt.Sprintf("block %d", i+1)
		}
	}
	ways := 0
	for _, given := range []bool{b.Count != 0, b.Sizes != nil, b.Of != nil} {
		if given {
			ways++
		}
	}
	if ways != 1 {
		return design.Group{}, badDesign("%s needs one of count, sizes and of", b.Name)
	}
	g := design.Group{Name: b.Name}
	switch {
	case b.Sizes != nil:
		for block, size := range b.Sizes {
			if size < 1 || size > n {
				return g, badDesign("%s %d can't hold %d of the plan's %d runs", b.Name, block+1, size, n)
			}
			g.Of = append(g.Of, slices.Repeat([]int{block}, size)...)
		}
		if len(g.Of) != n {
			return g, badDesign("%s holds %d runs, and the plan has %d", b.Name, len(g.Of), n)
		}
	case b.Of != nil:
		for _, block := range b.Of {
			g.Of = append(g.Of, block-1)
		}
	default:
		if b.Count < 1 || b.Count > n {
			return g, badDesign("%d of %s for %d runs; there is at least one run in each", b.Count, b.Name, n)
		}
		g = design.Evenly(b.Name, n, b.Count)
	}
	if b.Ratio != nil {
		g.Ratio = *b.Ratio
	}
	return g, nil
}

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
