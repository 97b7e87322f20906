package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
	"time"

	"aerugo/internal/science/chamber"
	"aerugo/internal/science/colour"
	"aerugo/internal/science/guess"
)

var (
	metals = []string{"copper", "brass", "bronze"}
	salts  = []string{"sodium-chloride", "ammonium-chloride"}
)

// The settings of the simulated bench, in order.
const (
	metal = iota
	salt
	loading  // g/m² of dry salt
	strength // mass fraction of ammonia in the bath
	gap      // mm from pad to piece
	hours    // under the lid
)

var settings = []guess.Factor{
	metal:    {Name: "metal", Levels: metals},
	salt:     {Name: "salt", Levels: salts},
	loading:  {Name: "loading", Low: 8, High: 120, Log: true},
	strength: {Name: "strength", Low: 0.03, High: 0.2, Log: true},
	gap:      {Name: "gap", Low: 15, High: 80, Log: true},
	hours:    {Name: "hours", Low: 2, High: 48, Log: true},
}

// features are what the physics adds: computed with the chamber as it is taken to
// be, not as it is.
var features = []guess.Factor{
	{Name: "wet time, log h", Low: -1, High: 1.7, Computed: true},
	{Name: "dose, log ppm h", Low: 3, High: 6.7, Computed: true},
	{Name: "dissolved share", Low: 0, High: 1, Computed: true},
}

// tableGap is the gap for which chambers are computed; the time salt takes to
// dissolve goes with the gap.
const tableGap = 40.0

// air is the physics of one chamber, tabulated: when salt has dissolved, and the
// mean ammonia over some hours.
type air struct {
	loads, strengths, times []float64     // in logarithms
	dissolved               [][][]float64 // log h, by salt, load, strength
	ammonia                 [][]float64   // log ppm, by strength, time
}

func logs(low, high float64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = math.Log(low) + math.Log(high/low)*float64(i)/float64(n-1)
	}
	return out
}

// tabulate runs the chamber with k as the multiplier of its transfer.
func tabulate(k, leak, offset float64) (*air, error) {
	a := &air{loads: logs(5, 200, 8), strengths: logs(0.02, 0.25, 6), times: logs(1, 60, 10)}
	for s, key := range salts {
		a.dissolved = append(a.dissolved, make([][]float64, len(a.loads)))
		for i, load := range a.loads {
			for _, strong := range a.strengths {
				out, err := chamber.Run(
					chamber.Box{VolumeL: 60, LeakPerH: leak, Temp: 20, GapMM: tableGap, RoomRH: 0.5},
					chamber.Pad{SolutionG: 400, Strength: math.Exp(strong) * offset}, nil,
					[]chamber.Piece{{Name: "one", Faces: []chamber.Face{{Salt: key, SaltGPerM2: math.Exp(load), Out: 400 * time.Hour}}}},
					400, chamber.Options{Step: 20 * time.Minute, K: k})
				if err != nil {
					return nil, fmt.Errorf("run the chamber: %w", err)
				}
				face, at := out.Pieces[0].Faces[0], 400.0
				if face.Dissolved {
					at = face.DissolvedAt.Hours()
				}
				a.dissolved[s][i] = append(a.dissolved[s][i], math.Log(at))
				if s == 0 && i == 0 {
					a.ammonia = append(a.ammonia, meanAmmonia(out.Series, a.times))
				}
			}
		}
	}
	return a, nil
}

// meanAmmonia returns the logarithms of the mean ppm from 0 to each time.
func meanAmmonia(series []chamber.Air, times []float64) []float64 {
	out := make([]float64, len(times))
	for i, t := range times {
		end, sum := math.Exp(t), 0.0
		for j := 1; j < len(series); j++ {
			from, to := series[j-1].At.Hours(), min(end, series[j].At.Hours())
			if to > from {
				sum += (to - from) * (series[j-1].PPM() + series[j].PPM()) / 2
			}
		}
		out[i] = math.Log(sum / end)
	}
	return out
}

// place returns the cell of x and how far through it x lies.
func place(grid []float64, x float64) (int, float64) {
	i := min(max(sort.SearchFloat64s(grid, x)-1, 0), len(grid)-2)
	return i, (x - grid[i]) / (grid[i+1] - grid[i])
}

func between(grid [][]float64, i int, u float64, j int, v float64) float64 {
	return (1-u)*((1-v)*grid[i][j]+v*grid[i][j+1]) + u*((1-v)*grid[i+1][j]+v*grid[i+1][j+1])
}

// wet returns h with all salt dissolved, the mean ppm of ammonia, and the share of
// the salt that has dissolved.
func (a *air) wet(at []float64) (wetH, ppm, share float64) {
	i, u := place(a.loads, math.Log(at[loading]))
	j, v := place(a.strengths, math.Log(at[strength]))
	k, w := place(a.times, math.Log(at[hours]))
	dissolvedH := math.Exp(between(a.dissolved[int(at[salt])], i, u, j, v)) * at[gap] / tableGap
	return max(0, at[hours]-dissolvedH), math.Exp(between(a.ammonia, j, v, k, w)), min(1, at[hours]/dissolvedH)
}

// compute returns the features of a setting.
func (a *air) compute(at []float64) ([]float64, bool) {
	wetH, ppm, share := a.wet(at)
	return []float64{math.Log10(wetH + 0.2), math.Log10(ppm * (wetH + 0.05)), share}, true
}

// bench is one bench as it truly is. Nothing of it is told to a strategy but the
// colours that its trials give.
type bench struct {
	air                                  *air
	rate, byAmmonia, byTime              float64 // growth of the green layer
	budget, hides, brownH, blueAt        float64
	ofMetal                              [3]float64
	ofSalt                               [2]float64
	bare, brown                          [3]colour.Lab
	green, blue                          colour.Lab
	noise, dayNoise, loadNoise, gapNoise float64
}

// draw makes a hidden bench.
func draw(r *rand.Rand) (*bench, error) {
	within := func(low, high float64) float64 { return low * math.Pow(high/low, r.Float64()) }
	about := func(l colour.Lab, sd float64) colour.Lab {
		return colour.Lab{L: l.L + sd*r.NormFloat64(), A: l.A + sd*r.NormFloat64(), B: l.B + sd*r.NormFloat64()}
	}
	a, err := tabulate(within(1/chamber.KFactor, chamber.KFactor), within(0.03, 0.3), within(0.85, 1.15))
	if err != nil {
		return nil, err
	}
	b := &bench{air: a,
		rate: within(0.6, 1.8), byAmmonia: within(0.4, 1.2), byTime: within(0.5, 1), budget: within(0.15, 0.4),
		hides: within(3, 8), brownH: within(10, 40), blueAt: within(0.15, 0.8),
		green: about(colour.Lab{L: 62, A: -28, B: 8}, 4), blue: about(colour.Lab{L: 52, A: -14, B: -26}, 4),
		noise: 1, dayNoise: 1, loadNoise: 0.06, gapNoise: 0.03}
	for i, l := range []colour.Lab{{L: 64, A: 18, B: 22}, {L: 75, A: 3, B: 32}, {L: 66, A: 9, B: 24}} {
		b.bare[i], b.brown[i] = about(l, 2), about(colour.Lab{L: 32, A: 8, B: 11}, 3)
		b.ofMetal[i] = within(0.6, 1.6)
	}
	for i := range b.ofSalt {
		b.ofSalt[i] = within(0.7, 1.4)
	}
	return b, nil
}

func mix(a, b colour.Lab, share float64) colour.Lab {
	x, y := a.XYZ(colour.D50), b.XYZ(colour.D50)
	return colour.XYZ{X: x.X + share*(y.X-x.X), Y: x.Y + share*(y.Y-x.Y), Z: x.Z + share*(y.Z-x.Z)}.Lab(colour.D50)
}

// look returns the colour a setting truly gives, and how far green hides the metal.
// While it is dry the metal browns; once its salt has dissolved a layer grows, no
// further than its salt carries it, the bluer the more ammonia it had for its salt.
func (b *bench) look(at []float64) (colour.Lab, float64) {
	wetH, ppm, share := b.air.wet(at)
	strong, i := ppm/40000, int(at[metal])
	most := b.budget * at[loading] * b.ofSalt[int(at[salt])]
	grown := b.rate * b.ofMetal[i] * math.Pow(strong, b.byAmmonia) * math.Pow(wetH, b.byTime)
	grown = most * -math.Expm1(-grown/most)
	hidden := -math.Expm1(-grown / b.hides)
	base := mix(b.bare[i], b.brown[i], -math.Expm1(-at[hours]*math.Sqrt(strong)/b.brownH))
	fed := strong * wetH / at[loading]
	layer := mix(b.green, b.blue, fed/(fed+b.blueAt))
	crystals := 0.15 * (1 - share)
	return mix(mix(base, layer, hidden), colour.Lab{L: 92}, crystals), hidden
}

// make returns the colour of one swatch as measured: its settings a little off, its
// day's offset and the reading's noise on it.
func (b *bench) make(at []float64, day [3]float64, r *rand.Rand) []float64 {
	off := append([]float64{}, at...)
	off[loading] *= math.Exp(b.loadNoise * r.NormFloat64())
	off[gap] *= math.Exp(b.gapNoise * r.NormFloat64())
	l, _ := b.look(off)
	out := []float64{l.L, l.A, l.B}
	for a := range out {
		out[a] += day[a] + b.noise*r.NormFloat64()
	}
	return out
}

// newDay draws the offset of a day.
func (b *bench) newDay(r *rand.Rand) [3]float64 {
	return [3]float64{b.dayNoise * r.NormFloat64(), b.dayNoise * r.NormFloat64(), b.dayNoise * r.NormFloat64()}
}

// any returns a setting by chance.
func anySetting(r *rand.Rand) []float64 {
	at := make([]float64, len(settings))
	for i, f := range settings {
		if n := len(f.Levels); n > 0 {
			at[i] = float64(r.IntN(n))
		} else {
			at[i] = f.Low * math.Pow(f.High/f.Low, r.Float64())
		}
	}
	return at
}

// target returns the colour of a setting by chance that is green enough to be worth
// having: half the metal hidden or more. It can be reached, by that setting.
func (b *bench) target(r *rand.Rand) colour.Lab {
	for {
		if l, hidden := b.look(anySetting(r)); hidden >= 0.5 {
			return l
		}
	}
}

// rarity returns the share of settings by chance that come within near of a target.
func (b *bench) rarity(target colour.Lab, r *rand.Rand) float64 {
	const n = 4000
	hits := 0
	for range n {
		if l, _ := b.look(anySetting(r)); colour.Difference(l, target) <= near {
			hits++
		}
	}
	return float64(hits) / n
}
