package cli

import (
	"encoding/json"
	"fmt"
	"math"
	"time"

	"aerugo/internal/science"
	"aerugo/internal/science/chamber"
	"aerugo/internal/science/guess"
	"aerugo/internal/science/solution"
	"aerugo/internal/studio"
)

// specWet says where the chamber's numbers stand.
type specWet struct {
	Hours     source `json:"hours"`
	SaltGM2   source `json:"salt_g_m2"`
	AmmoniaWt source `json:"ammonia_wt"`
	GapMM     source `json:"gap_mm"`
	TempC     source `json:"temp_c"`
	VolumeL   source `json:"volume_l"`
	SolutionG source `json:"solution_g"`
	LeakPerH  source `json:"leak_per_h"`
	Salt      string `json:"salt"`
	salt      int    // factor whose levels are keys; -1: Salt is the key
}

// source is a number, or the factor that holds it.
type source struct {
	name   string
	number *float64
	factor int
}

// UnmarshalJSON reads a number or a name.
func (s *source) UnmarshalJSON(b []byte) error {
	var v float64
	if json.Unmarshal(b, &v) == nil {
		s.number = &v
		return nil
	}
	return json.Unmarshal(b, &s.name)
}

// noSalt is the level of a face without salt.
const noSalt = "none"

// check finds the factors that are named.
func (w *specWet) check(factors []guess.Factor) error {
	if w == nil {
		return nil
	}
	bad := func(format string, args ...any) error {
		return studio.Problemf(studio.Invalid, "spec", "the spec's wet: "+format, args...)
	}
	for _, part := range []struct {
		what   string
		s      *source
		common float64
	}{
		{"hours", &w.Hours, math.NaN()}, {"salt_g_m2", &w.SaltGM2, math.NaN()}, {"ammonia_wt", &w.AmmoniaWt, math.NaN()},
		{"gap_mm", &w.GapMM, chamber.DefaultGapMM}, {"temp_c", &w.TempC, float64(chamber.DefaultTemp)}, {"volume_l", &w.VolumeL, chamber.DefaultVolumeL},
		{"solution_g", &w.SolutionG, chamber.DefaultSolutionG}, {"leak_per_h", &w.LeakPerH, chamber.DefaultLeakPerH},
	} {
		switch {
		case part.s.number != nil:
		case part.s.name != "":
			part.s.factor = factorNamed(factors, part.s.name)
			if part.s.factor < 0 || len(factors[part.s.factor].Levels) > 0 {
				return bad("%s names %q, which is no factor with low and high", part.what, part.s.name)
			}
		case math.IsNaN(part.common):
			return bad("%s is missing; give a number or the name of a factor", part.what)
		default:
			part.s.number = &part.common
		}
	}
	if w.Salt == "" {
		w.Salt = "sodium-chloride"
	}
	keys := []string{w.Salt}
	if w.salt = factorNamed(factors, w.Salt); w.salt >= 0 {
		keys = factors[w.salt].Levels
	}
	for _, key := range keys {
		if _, ok := solution.SaltOf(key); !ok && key != noSalt {
			return bad("%q is no salt known here, nor a factor whose levels are such; known are sodium-chloride, ammonium-chloride, potassium-chloride and none", key)
		}
	}
	return nil
}

func (s source) of(at []float64) float64 {
	if s.number != nil {
		return *s.number
	}
	return at[s.factor]
}

// The least of what is told apart: minutes of wet time, and a trace of ammonia.
const (
	leastWetH = 0.2
	leastPPMH = 10
)

// wetFactors are what compute adds.
var wetFactors = []guess.Factor{
	{Name: "wet time, log h", Low: math.Log10(leastWetH), High: 2, Computed: true},
	{Name: "ammonia met while wet, log ppm h", Low: 2, High: 7, Computed: true},
	{Name: "share of the salt dissolved", Low: 0, High: 1, Computed: true},
}

// compute runs the chamber for a setting.
func (w *specWet) compute(factors []guess.Factor, at []float64) ([]float64, error) {
	hours, strength, load := w.Hours.of(at), w.AmmoniaWt.of(at), w.SaltGM2.of(at)
	if strength > 1 {
		strength /= 100
	}
	face := chamber.Face{Salt: w.Salt, SaltGPerM2: load}
	if w.salt >= 0 {
		face.Salt = factors[w.salt].Levels[int(at[w.salt])]
	}
	if face.Salt == noSalt || load == 0 {
		face = chamber.Face{}
	}
	if !(hours > 0) {
		return nil, &science.RangeError{What: "time under the lid", Got: hours, Min: 0, Max: 1440, Unit: "h"}
	}
	face.Out = time.Duration(min(hours, 1e4) * float64(time.Hour))
	run, err := chamber.Run(
		chamber.Box{VolumeL: w.VolumeL.of(at), LeakPerH: w.LeakPerH.of(at), Temp: science.Celsius(w.TempC.of(at)), GapMM: w.GapMM.of(at), RoomRH: chamber.DefaultRoomRH},
		chamber.Pad{SolutionG: w.SolutionG.of(at), Strength: strength}, nil,
		[]chamber.Piece{{Name: "swatch", Faces: []chamber.Face{face}}}, hours, chamber.Options{Step: 20 * time.Minute})
	if err != nil {
		return nil, fmt.Errorf("run the chamber: %w", err)
	}
	wet, dose, got := 0.0, 0.0, run.Pieces[0].Faces[0]
	if face.Salt != "" {
		wet = got.WetTime.Hours()
		for i := 1; i < len(run.Series); i++ {
			from, to := max(run.Series[i-1].At, got.DissolvedAt), run.Series[i].At
			if got.Dissolved && to > from {
				dose += (to - from).Hours() * (run.Series[i-1].PPM() + run.Series[i].PPM()) / 2
			}
		}
	}
	return []float64{math.Log10(wet + leastWetH), math.Log10(dose + leastPPMH), got.End.Share}, nil
}
