package studio

import (
	"math"
	"testing"
	"time"
)

// By hand: 2, 4, 4, 4, 5, 5, 7, 9 has mean 5 and sample
// variance 32/7 (textbook example; the population deviation is 2).
func TestWeighedGivesMeanAndSpread(t *testing.T) {
	h, err := Weighed(Light, "sodium-chloride", GramPerM2, []float64{2, 4, 4, 4, 5, 5, 7, 9})
	if err != nil {
		t.Fatal(err)
	}
	if h.Mean != 5 || math.Abs(h.SD-math.Sqrt(32.0/7)) > 1e-12 || h.N != 8 || h.Assumed() {
		t.Errorf("Weighed = %+v", h)
	}
	for _, bad := range [][]float64{nil, {1, 2}, {1, 2, 0}, {1, 2, math.NaN()}, {1, 2, -3}} {
		if _, err := Weighed(Light, "", GramPerM2, bad); ProblemIn(err) == nil {
			t.Errorf("Weighed(%v): %v, want a Problem", bad, err)
		}
	}
}

func TestHandWordsResolve(t *testing.T) {
	hands := []HandAmount{
		{Word: Light, Material: "", Mean: 11, SD: 4, Unit: GramPerM2},
		{Word: Light, Material: "sodium-chloride", Mean: 9, SD: 2, Unit: GramPerM2, N: 10},
		{Word: Light, Material: "water", Mean: 40, SD: 15, Unit: MLPerM2},
	}
	salt, ok := Resolve(hands, Light, "sodium-chloride")
	if !ok || salt.Value != 9 || salt.Assumed || salt.Hand != Light {
		t.Errorf("weighed salt = %+v, %v", salt, ok)
	}
	other, ok := Resolve(hands, Light, "ammonium-chloride")
	if !ok || other.Value != 11 || !other.Assumed {
		t.Errorf("a material never weighed = %+v, %v; want the assumed row", other, ok)
	}
	if _, ok := Resolve(hands, Heavy, "sodium-chloride"); ok {
		t.Error("a word nobody has weighed resolves")
	}
	// sprayed salt water is weighed as a spray, not as dry salt
	step := Step{Kind: Wet, Material: "sodium-chloride"}
	if a, _ := Resolve(hands, Light, step.HandKey(step.Material)); a.Unit != MLPerM2 {
		t.Errorf("a light spray of salt water = %+v", a)
	}
}

func TestAmountsThatCannotBe(t *testing.T) {
	for _, a := range []Amount{{Value: -1, Unit: Gram}, {Value: math.NaN(), Unit: Gram}, {Value: math.Inf(1), Unit: Gram}, {Value: 1, SD: -2, Unit: Gram}, {Value: 1, Unit: "cup"}, {Value: 1}} {
		if p := ProblemIn(a.Check("amount")); p == nil || p.Field != "amount" {
			t.Errorf("%+v passes", a)
		}
	}
	if err := (Amount{}).Check("amount"); err != nil {
		t.Errorf("no amount at all is refused: %v", err)
	}
}

func TestAmountIsWrittenWithItsSpread(t *testing.T) {
	a := Amount{Value: 11, SD: 4, Unit: GramPerM2, Hand: Light, Assumed: true}
	if got, want := a.String(), "light, 11 ± 4 g/m² (assumed)"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

func TestSpanIsSaidAsOnTheBench(t *testing.T) {
	for d, want := range map[time.Duration]string{
		0: "0 s", 45 * time.Second: "45 s", 90 * time.Second: "1 min 30 s", 30 * time.Minute: "30 min", 90 * time.Minute: "1 h 30 min",
		2 * time.Hour: "2 h", 25 * time.Hour: "1 d 1 h", 48 * time.Hour: "2 d", -10 * time.Minute: "−10 min",
	} {
		if got := Span(d); got != want {
			t.Errorf("Span(%v) = %q, want %q", d, got, want)
		}
	}
}

func TestEventsThatCannotBe(t *testing.T) {
	now := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
	hot, wet := 200.0, 1.7
	good := Event{Treatment: 1, Client: "k", Kind: Done, At: now}
	if err := good.Check(now); err != nil {
		t.Fatal(err)
	}
	for name, spoil := range map[string]func(*Event){
		"a future time":               func(e *Event) { e.At = now.Add(time.Hour) },
		"no time":                     func(e *Event) { e.At = time.Time{} },
		"the year 1":                  func(e *Event) { e.At = time.Date(1, 1, 1, 0, 0, 0, 0, time.UTC) },
		"no key":                      func(e *Event) { e.Client = "" },
		"an unknown kind":             func(e *Event) { e.Kind = "danced" },
		"a correction of nothing":     func(e *Event) { e.Kind = Corrected },
		"a room of 200 °C":            func(e *Event) { e.TempC = &hot },
		"a humidity of 170 %":         func(e *Event) { e.RH = &wet },
		"an amount that can't be":     func(e *Event) { e.Amount = &Amount{Value: -1, Unit: Gram} },
		"a note as long as a chapter": func(e *Event) { e.Note = string(make([]byte, 5000)) },
	} {
		e := good
		spoil(&e)
		if p := ProblemIn(e.Check(now)); p == nil || p.Text == "" {
			t.Errorf("%s passes", name)
		}
	}
}

func TestRecipesThatCannotBe(t *testing.T) {
	fume := Step{Kind: Fume, Duration: time.Hour, Early: 5 * time.Minute, Late: 5 * time.Minute}
	if err := (Version{Steps: []Step{fume}}).Check(); err != nil {
		t.Fatal(err)
	}
	for name, v := range map[string]Version{
		"no steps":                  {},
		"a dwell without a time":    {Steps: []Step{{Kind: Fume}}},
		"an unknown step":           {Steps: []Step{{Kind: "polish by moonlight"}}},
		"a time below nought":       {Steps: []Step{{Kind: Rest, Duration: -time.Hour}}},
		"earlier than its own time": {Steps: []Step{{Kind: Rest, Duration: time.Hour, Early: 2 * time.Hour}}},
		"over wet or dry unsaid":    {Steps: []Step{fume}, OverID: 3},
		"a strength of 120 %":       {Steps: []Step{{Kind: Wet, Strength: 120}}},
	} {
		if p := ProblemIn(v.Check()); p == nil {
			t.Errorf("%s passes", name)
		}
	}
}
