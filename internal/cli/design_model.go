package cli

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"aerugo/internal/science/design"
	"aerugo/internal/science/stat"
)

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
