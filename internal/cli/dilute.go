package cli

import (
	"errors"
	"fmt"
	"strings"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

type diluteVerb struct {
	Stock    string   `required:"" placeholder:"NAME:STRENGTH" help:"What you have: ammonia:28 (percent by mass), ammonia:26be (degrees Baumé), ammonia:0.9sg (specific gravity), a dry salt by its name (sodium-chloride) or its crystals (copper-sulfate-pentahydrate)."`
	To       float64  `required:"" placeholder:"PERCENT" help:"What you want, in percent by mass; of crystals it counts the salt without their water."`
	MassG    *float64 `name:"mass-g" placeholder:"G" help:"How much of it, in grams."`
	VolumeML *float64 `name:"volume-ml" placeholder:"ML" help:"How much of it, in millilitres at 20 °C."`
	JSON     bool     `name:"json" help:"Answer in JSON."`
}

// Help is shown below the verb's usage.
func (diluteVerb) Help() string {
	return `Weighing is right; volumes are beside it where a density is known (20 °C) and do not add up. Without --mass-g and --volume-ml it answers for 1000 g.

` + exits
}

// diluted is what dilute reports. A volume is null where no density is known.
type diluted struct {
	Substance  string    `json:"substance"`
	Crystals   string    `json:"crystals,omitempty"`
	FromWt     float64   `json:"from_wt"`
	ToWt       float64   `json:"to_wt"`
	StockG     float64   `json:"stock_g"`
	StockML    *float64  `json:"stock_ml"`
	WaterG     float64   `json:"water_g"`
	WaterML    float64   `json:"water_ml"`
	TotalG     float64   `json:"total_g"`
	TotalML    *float64  `json:"total_ml"`
	CheckG     float64   `json:"check_weight_g"`
	Check100ML *float64  `json:"check_100ml_g"`
	ToRange    []float64 `json:"to_wt_range"`
	RangeRule  string    `json:"range_rule,omitempty"`
	First      []string  `json:"first"`
	Cautions   []string  `json:"cautions"`
	Assumed    []assumed `json:"assumed"`
}

// Run works out what to weigh.
func (v diluteVerb) Run(t *term) error {
	if v.MassG != nil && v.VolumeML != nil {
		return studio.Problemf(studio.Invalid, "mass-g", "--mass-g and --volume-ml both say how much; write one of them")
	}
	d := diluted{ToWt: v.To, Assumed: []assumed{}, ToRange: []float64{}}
	key, from, solid, err := stockIn(v.Stock)
	if err != nil {
		return err
	}
	if !(v.To > 0 && v.To <= 100*from) {
		return studio.Problemf(studio.Invalid, "to", "--to can't be %g; it lies above 0 and at most at the stock's %.4g %% by mass", v.To, 100*from)
	}
	var m matter.Mix
	switch {
	case v.VolumeML != nil:
		m, err = matter.MixML(key, from, v.To/100, *v.VolumeML)
	case v.MassG != nil:
		m, err = matter.MixGrams(key, from, v.To/100, *v.MassG)
	default:
		m, err = matter.MixGrams(key, from, v.To/100, 1000)
		d.Assumed = append(d.Assumed, assumed{"amount", "1000 g", "nobody said how much"})
	}
	if errors.Is(err, matter.ErrNoDensity) {
		return studio.Problemf(studio.Invalid, "volume-ml", "no density of %s at %g %% is known here, so a volume can't be told; give --mass-g instead", key, v.To)
	}
	if err != nil {
		return outside(err)
	}
	known := func(v float64) *float64 {
		if v == 0 {
			return nil
		}
		v = round4(v)
		return &v
	}
	s, _ := matter.Lookup(key)
	d.Substance, d.FromWt = s.Name, round4(100*from)
	d.StockG, d.WaterG, d.TotalG, d.CheckG = round4(m.StockG), round4(m.WaterG), round4(m.TotalG), round4(m.TotalG)
	d.StockML, d.WaterML, d.TotalML, d.Check100ML = known(m.StockML), round4(m.WaterML), known(m.TotalML), known(m.CheckG)
	if solid {
		d.StockML = nil
		if c, ok := matter.CrystalOf(strings.TrimSpace(v.Stock)); ok {
			d.Crystals = c.Words
		}
	} else if from < 1 {
		d.ToRange = []float64{round4(v.To * max(0, 100*from-1) / (100 * from)), round4(v.To * (100*from + 1) / (100 * from))}
		d.RangeRule = "the bottle's strength one percent either way"
	}
	d.First = firsts(s, from)
	stock, water := matter.Use{Key: key, WtPercent: 100 * from, Step: 1}, matter.Use{Key: "water", Step: 1}
	for _, c := range matter.Meet([]matter.Use{stock, water}) {
		if c.Level == matter.Stop {
			return studio.Problemf(studio.Unsafe, "stock", "%s of %.4g %% is not let down here, for what it does with water (%s). %s", s.Name, 100*from, c.What, c.Instead)
		}
		d.First = append([]string{strings.ToUpper(c.Level) + ": " + c.String()}, d.First...)
	}
	for _, c := range matter.Cautions([]matter.Use{stock}, "copper") {
		d.Cautions = append(d.Cautions, c.Text)
	}
	if v.JSON {
		return t.asJSON(d)
	}
	d.tell(t)
	return nil
}

// firsts is what stands before the weighing.
func firsts(s matter.Substance, from float64) []string {
	var out []string
	for _, g := range s.Groups {
		switch {
		case g == "AMM" && from >= 0.03:
			out = append(out, "Outdoors or under a hood, goggles on, bottle and water cool; the water goes in first.")
		case (g == "ACD" || g == "OXA") && from > 0.25:
			out = append(out, "Acid into water, never water into acid; goggles on.")
		case g == "BAS":
			out = append(out, "It heats up: a little at a time into cold water, goggles on.")
		}
	}
	return append(out, "Label it at once: what it is, its strength, the date and who mixed it.")
}

// stockIn reads a stock and its strength as a mass fraction; solid is a dry salt.
func stockIn(text string) (key string, from float64, solid bool, err error) {
	name, strength, given := strings.Cut(strings.TrimSpace(text), ":")
	bad := func(format string, args ...any) (string, float64, bool, error) {
		return "", 0, false, studio.Problemf(studio.Invalid, "stock", "--stock: "+format, args...)
	}
	if c, ok := matter.CrystalOf(name); ok && !given {
		return c.Key, c.Anhydrous, true, nil
	}
	s, ok := matter.Lookup(name)
	if !ok {
		return bad("%q is not known here; name a supply such as ammonia:28 or copper-sulfate-pentahydrate", name)
	}
	if !given {
		if len(s.Bands) > 1 || s.AssumedWtPercent > 0 {
			return bad("how strong is the %s? Read it off the bottle and write it in percent, as in %s:%g", s.Name, s.Key, s.Bands[len(s.Bands)-1].FromWtPercent)
		}
		return s.Key, 1, true, nil
	}
	strength = strings.ToLower(strings.TrimSpace(strength))
	ammonia := s.Key == "ammonia-water"
	for suffix, convert := range map[string]func(float64) (float64, error){"be": matter.AmmoniaOfBaume, "sg": matter.AmmoniaOfGravity} {
		if digits, found := strings.CutSuffix(strength, suffix); found {
			v, ok := number(digits)
			if !ok || !ammonia {
				return bad("%q: degrees Baumé and specific gravity are read for ammonia, as in ammonia:26be or ammonia:0.9sg", strength)
			}
			w, err := convert(v)
			if err != nil {
				return "", 0, false, outside(err)
			}
			if w <= 0 {
				return bad("%q is water", text)
			}
			return s.Key, w, false, nil
		}
	}
	wt, ok := number(strings.TrimSuffix(strength, "%"))
	if !ok || wt <= 0 {
		return bad("%q is no strength; write percent by mass above 0, as in %s:5", strength, s.Key)
	}
	if _, err := matter.At(s.Key, wt); err != nil {
		return "", 0, false, outside(err)
	}
	return s.Key, wt / 100, false, nil
}

// stock names what is weighed.
func (d diluted) stock() string {
	switch {
	case d.FromWt == 100:
		return d.Substance
	case d.Crystals != "":
		return fmt.Sprintf("%s (%.4g %% of them is the salt)", d.Crystals, d.FromWt)
	}
	return fmt.Sprintf("%s of %.4g %%", d.Substance, d.FromWt)
}

// tell writes the answer for people: what comes first, then what to weigh.
func (d diluted) tell(t *term) {
	for i, f := range d.First {
		t.printf("%d. %s\n", i+1, f)
	}
	measure := func(g float64, ml *float64) string {
		if ml == nil {
			return fmt.Sprintf("%.2f g", g)
		}
		return fmt.Sprintf("%.2f g (%.1f mL)", g, *ml)
	}
	t.printf("\nWeigh %s of %s and %s of water.\n", measure(d.StockG, d.StockML), d.stock(), measure(d.WaterG, &d.WaterML))
	t.printf("That makes %s of %.4g %% by mass.\n", measure(d.TotalG, d.TotalML), d.ToWt)
	t.printf("Check: without its jar it weighs %.1f g", d.CheckG)
	if d.Check100ML != nil {
		t.printf(", and 100 mL of it weigh %.1f g at 20 °C", *d.Check100ML)
	}
	t.printf(".\n")
	if len(d.ToRange) == 2 {
		t.printf("It may be %.3g to %.3g %%: %s.\n", d.ToRange[0], d.ToRange[1], d.RangeRule)
	}
	if d.StockML != nil {
		t.printf("Volumes do not add up; trust the scale.\n")
	}
	for _, a := range d.Assumed {
		t.printf("Assumed: %s %s (%s).\n", a.What, a.Value, a.Source)
	}
	for _, c := range d.Cautions {
		t.printf("- %s\n", c)
	}
}
