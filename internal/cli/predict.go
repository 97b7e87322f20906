package cli

import (
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"strings"

	"aerugo/internal/science"
	"aerugo/internal/science/chamber"
	"aerugo/internal/science/colour"
	"aerugo/internal/science/guess"
	"aerugo/internal/studio"
)

type predictVerb struct {
	Data string  `arg:"" name:"DATA.csv" help:"Swatches that were made: one a line below a line of names."`
	Spec string  `arg:"" name:"SPEC.json" help:"What the columns are."`
	At   string  `arg:"" name:"AT.csv" help:"Settings to predict, in the same columns, without the colours."`
	Conf float64 `default:"0.9" placeholder:"SHARE" help:"How often the intervals hold a new swatch: 0.5 to 0.99."`
	Seed uint64  `default:"1" help:"Number that chance starts from; the same gives the same answer."`
	JSON bool    `name:"json" help:"Answer in JSON."`
}

// Help is shown below the verb's usage.
func (predictVerb) Help() string {
	return `Says what colour a swatch not yet made should come out, from those that were, with an interval that one new swatch on a day of its own falls into. Each swatch made is also predicted from the others, so that you see how far to trust it.

` + specHelp + `
` + exits
}

// trained is a model with what it was made from.
type trained struct {
	spec    *spec
	factors []guess.Factor // with the computed ones
	set     []guess.Factor
	rows    []guess.Row
	model   *guess.Model
	chance  *rand.Rand
}

// train reads a table and its spec and fits the model.
func train(data, specPath string, seed uint64) (*trained, error) {
	t := &trained{chance: rand.New(rand.NewPCG(seed, 0))}
	err := withFile(specPath, "a JSON file", func(r io.Reader) (err error) {
		t.spec, t.set, err = readSpec(r)
		return err
	})
	if err != nil {
		return nil, err
	}
	if t.rows, err = t.read(data, "DATA.csv", true); err != nil {
		return nil, err
	}
	t.factors = t.set
	if t.spec.Wet != nil {
		t.factors = append(append([]guess.Factor{}, t.set...), wetFactors...)
	}
	opt := guess.Options{RepeatSD: 1.5}
	if t.spec.RepeatSD != nil {
		opt.RepeatSD = *t.spec.RepeatSD
	} else if !t.lab() {
		opt.RepeatSD = 0
	}
	if t.model, err = guess.Fit(t.factors, t.rows, opt, t.chance); err != nil {
		return nil, fmt.Errorf("fit the swatches: %w", err)
	}
	return t, nil
}

// withFile opens a file for as long as use takes.
func withFile(path, what string, use func(io.Reader) error) error {
	f, err := openFile(path, what)
	if err != nil {
		return err
	}
	defer f.Close()
	return use(f)
}

// read reads swatches and computes what the spec asks for.
func (t *trained) read(path, what string, withOut bool) (rows []guess.Row, err error) {
	err = withFile(path, "a CSV file", func(r io.Reader) (err error) {
		rows, err = t.spec.swatchesIn(r, what, t.set, withOut)
		return err
	})
	if err != nil || t.spec.Wet == nil {
		return rows, err
	}
	for i := range rows {
		more, err := t.spec.Wet.compute(t.set, rows[i].At)
		if err != nil {
			return nil, studio.Problemf(studio.Invalid, what, "%s, swatch %d: %s", what, i+1, cannotRun(err))
		}
		rows[i].At = append(rows[i].At, more...)
	}
	return rows, nil
}

// cannotRun says why a chamber can't be computed.
func cannotRun(err error) string {
	var r *science.RangeError
	switch {
	case errors.As(err, &r):
		return outside(err).Error()
	case errors.Is(err, chamber.ErrBoils), errors.Is(err, chamber.ErrPadTooSmall):
		return errors.Unwrap(err).Error()
	}
	return err.Error()
}

// lab says whether the outputs are a colour.
func (t *trained) lab() bool {
	return len(t.spec.Outputs) == 3 && strings.EqualFold(strings.Join(t.spec.Outputs, ","), "L,a,b")
}

// named returns a setting by the names of its factors.
func (t *trained) named(at []float64) map[string]any {
	out := map[string]any{}
	for i, f := range t.set {
		if len(f.Levels) > 0 {
			out[f.Name] = f.Levels[int(at[i])]
		} else {
			out[f.Name] = round4(at[i])
		}
	}
	return out
}

// inWords says a setting in one line.
func (t *trained) inWords(at []float64) string {
	var parts []string
	for i, f := range t.set {
		if len(f.Levels) > 0 {
			parts = append(parts, f.Name+" "+f.Levels[int(at[i])])
		} else {
			parts = append(parts, fmt.Sprintf("%s %.3g", f.Name, at[i]))
		}
	}
	return strings.Join(parts, ", ")
}

// beyond names the numbers that lie outside what the spec says.
func (t *trained) beyond(at []float64) []string {
	out := []string{}
	for i, f := range t.set {
		if len(f.Levels) == 0 && (at[i] < f.Low || at[i] > f.High) {
			out = append(out, f.Name)
		}
	}
	return out
}

// predicted is one answer of predict. Numbers are in the order of the outputs.
type predicted struct {
	At      map[string]any `json:"at"`
	Mean    []float64      `json:"mean"`
	SD      []float64      `json:"sd_of_truth"`
	Swatch  []float64      `json:"sd_of_swatch"`
	Low     []float64      `json:"low"`
	High    []float64      `json:"high"`
	Name    string         `json:"name,omitempty"`
	Outside []string       `json:"outside_range"`
}

func round4s(xs []float64) []float64 {
	out := make([]float64, len(xs))
	for i, x := range xs {
		out[i] = round4(x)
	}
	return out
}

func (t *trained) answer(at []float64, p guess.Prediction) predicted {
	out := predicted{At: t.named(at), Mean: round4s(p.Mean), SD: round4s(p.SD), Swatch: round4s(p.SwatchSD), Low: round4s(p.Low), High: round4s(p.High), Outside: t.beyond(at)}
	if t.lab() {
		out.Name = colour.Name(colour.Lab{L: p.Mean[0], A: p.Mean[1], B: p.Mean[2]})
	}
	return out
}

// trust is how well each swatch is predicted from the others.
type trust struct {
	Swatches int         `json:"swatches"`
	RMS      []float64   `json:"rms_miss"`
	Inside   float64     `json:"share_within_2_sd"`
	Misses   [][]float64 `json:"misses"`
	RepeatSD []float64   `json:"repeat_sd"`
}

func (t *trained) trust() trust {
	out := trust{Swatches: len(t.rows), RMS: make([]float64, len(t.spec.Outputs)), RepeatSD: round4s(t.model.RepeatSD())}
	within := 0
	left := t.model.LeaveOneOut()
	for _, l := range left {
		out.Misses = append(out.Misses, round4s(l.Miss))
		for a, miss := range l.Miss {
			out.RMS[a] += miss * miss / float64(len(left))
			if math.Abs(miss) <= 2*l.SD[a] {
				within++
			}
		}
	}
	for a := range out.RMS {
		out.RMS[a] = round4(math.Sqrt(out.RMS[a]))
	}
	out.Inside = round4(float64(within) / float64(len(left)*len(out.RMS)))
	return out
}

func (f trust) tell(t *term, outputs []string) {
	var parts []string
	for a, name := range outputs {
		parts = append(parts, fmt.Sprintf("%s by %.1f", name, f.RMS[a]))
	}
	t.printf("\nEach of the %d swatches predicted from the others misses %s (root mean square); %.0f %% lie within two standard deviations.\n", f.Swatches, strings.Join(parts, ", "), 100*f.Inside)
}

// Run predicts.
func (v predictVerb) Run(t *term) error {
	if !(v.Conf >= 0.5 && v.Conf <= 0.99) {
		return studio.Problemf(studio.Invalid, "conf", "--conf can't be %v; write a share from 0.5 to 0.99, such as 0.9", v.Conf)
	}
	from, err := train(v.Data, v.Spec, v.Seed)
	if err != nil {
		return err
	}
	at, err := from.read(v.At, "AT.csv", false)
	if err != nil {
		return err
	}
	for i, row := range at {
		if why := from.spec.stopped(from.set, row.At); why != "" {
			return studio.Problemf(studio.Unsafe, "at", "AT.csv, swatch %d (%s) must not be made: %s", i+1, from.inWords(row.At), why)
		}
	}
	found := struct {
		Outputs []string    `json:"outputs"`
		Conf    float64     `json:"conf"`
		Rows    []predicted `json:"rows"`
		Left    trust       `json:"leave_one_out"`
	}{Outputs: from.spec.Outputs, Conf: v.Conf, Left: from.trust()}
	for _, row := range at {
		p, err := from.model.At(row.At, v.Conf)
		if err != nil {
			return fmt.Errorf("predict a swatch: %w", err)
		}
		found.Rows = append(found.Rows, from.answer(row.At, p))
	}
	if v.JSON {
		return t.asJSON(found)
	}
	for i, row := range found.Rows {
		t.printf("%s\n", from.inWords(at[i].At))
		if row.Name != "" {
			t.printf("  %s\n", row.Name)
		}
		for a, name := range found.Outputs {
			t.printf("  %s %s, a new swatch %s to %s\n", name, decimals(row.Mean[a]), decimals(row.Low[a]), decimals(row.High[a]))
		}
		if len(row.Outside) > 0 {
			t.printf("  careful: %s outside what was tried or named\n", strings.Join(row.Outside, ", "))
		}
	}
	t.printf("\nThe ranges hold %.0f new swatches in 100.\n", 100*v.Conf)
	found.Left.tell(t, found.Outputs)
	return nil
}
