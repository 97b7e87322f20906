package scale

import (
	"fmt"
	"math"
	"time"

	"aerugo/internal/science/chamber"
	"aerugo/internal/science/matter"
	"aerugo/internal/science/solution"
)

const (
	// heatJPerGK is the specific heat of copper and its alloys, 0.37 to 0.39 J/(g K) at
	// room temperature (from memory).
	heatJPerGK = 0.385
	// copperGPerCM3 stands in for an alloy that isn't known.
	copperGPerCM3 = 8.9
	// usualColderC is how much colder than the chamber metal may come from a shelf
	// (common practice, no source).
	usualColderC = 5.0
)

// stillAir is how much heat still air and the walls give to metal, in W/(m² K): free
// convection of a gas is 2 to 25 (Incropera and DeWitt, Fundamentals of Heat and Mass
// Transfer, table 1.1, from memory); bright metal takes up little radiation.
var stillAir = Span{Value: 6, Low: 3, High: 12}

// A Warming is how long cold metal stays cold in the chamber, in minutes. TimeMin is
// the time in which the difference falls to 37 %, DewMin how long plain dew falls on
// it if it goes in ColderC colder than the chamber: not at all up to MarginC.
type Warming struct {
	ThickMM, TriedMM float64
	TimeMin          Span
	ColderC          float64
	MarginC          float64
	DewMin           Span
	Assumed          bool // how cold it goes in
}

// warm says what thick metal does. All of its surface takes heat, so that a sheet warms
// from both faces: time = density × heat × thickness / (2 × stillAir).
func (t *Takes) warm() {
	if t.Metal.ThicknessMM == 0 || len(t.Stays) == 0 {
		return
	}
	w := &Warming{ThickMM: t.Metal.ThicknessMM, TriedMM: t.Tried.ThicknessMM, ColderC: usualColderC, Assumed: t.ColderC == nil}
	if t.ColderC != nil {
		w.ColderC = *t.ColderC
	}
	density := copperGPerCM3
	if a, ok := matter.Alloy(t.Metal.Alloy); ok {
		density = a.DensityGPerCM3
	}
	w.TimeMin = warming(density, w.ThickMM)
	s := t.Stays[0]
	over, err := solution.AmmoniaOver(s.Pad.Strength, s.Temp)
	if err != nil {
		return
	}
	dew, err := solution.DewPoint(over.H2O)
	if err != nil {
		return
	}
	w.MarginC = float64(s.Temp - dew)
	if w.ColderC > w.MarginC {
		w.DewMin = times(w.TimeMin, math.Log(w.ColderC/w.MarginC))
	}
	if w.Assumed {
		t.assume("metal goes in colder than the chamber by", fmt.Sprintf("%.0f °C", w.ColderC))
	}
	t.assume("heat that still air gives to metal", fmt.Sprintf("%.0f W/(m² K), %.0f to %.0f", stillAir.Value, stillAir.Low, stillAir.High))
	t.Warm = w
}

// warming is the time constant of sheet in still air, in minutes.
func warming(gPerCM3, thickMM float64) Span {
	perM2 := gPerCM3 * 1000 * thickMM * heatJPerGK // J/(m² K)
	at := func(h float64) float64 { return perM2 / (2 * h) / 60 }
	return Span{Value: at(stillAir.Value), Low: at(stillAir.High), High: at(stillAir.Low)}
}

// Words says it in sentences.
func (w Warming) Words() string {
	min := func(m float64) string {
		return chamber.Spoken(time.Duration(m * float64(time.Minute)).Round(time.Minute))
	}
	text := fmt.Sprintf("Metal %.3g mm thick needs about %s (%s to %s) to come within a third of the difference to the chamber's warmth.", w.ThickMM, min(w.TimeMin.Value), min(w.TimeMin.Low), min(w.TimeMin.High))
	how := "If it goes in"
	switch {
	case w.DewMin.Value == 0:
		return text + fmt.Sprintf(" Going in %.3g °C colder, it gathers no dew of its own: that needs more than %.1f °C.", w.ColderC, w.MarginC)
	default:
		return text + fmt.Sprintf(" %s %.3g °C colder, dew falls on it for about %s (%s to %s), and thins what lies there. Let it come to within %.1f °C of the chamber first.", how, w.ColderC, min(w.DewMin.Value), min(w.DewMin.Low), min(w.DewMin.High), w.MarginC)
	}
}
