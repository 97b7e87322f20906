package scale

import (
	"fmt"
	"math"
	"strings"
	"time"

	"aerugo/internal/flow/fume"
	"aerugo/internal/science"
	"aerugo/internal/science/chamber"
	"aerugo/internal/science/room"
	"aerugo/internal/studio"
)

// A Safety is what the ammonia means for the room. Refused is why the lid must not be
// lifted in it, empty when it may be as Short says. Unknown is set when nobody said in
// which room the chamber stands.
type Safety struct {
	Short, More string
	Act         bool
	Refused     string
	Unknown     bool
	Cases       []fume.RoomCase
	NH3G        float64 // on the pad of one filling
}

// stel and idlh are limits of ammonia in ppm: the 15-minute one (NIOSH REL, 35) and
// what is immediately dangerous (NIOSH, 300).
const (
	stel = 35.0
	idlh = 300.0
)

// safety asks what the same questions as at the bench say to the pad proposed.
func (t *Takes) safety() {
	if len(t.Stays) == 0 {
		t.Safe = Safety{Short: "No ammonia in it"}
		return
	}
	worst := t.Stays[0]
	for _, s := range t.Stays {
		if s.Is.First > worst.Is.First || s.Is.First == worst.Is.First && s.Pad.SolutionG*s.Pad.Strength > worst.Pad.SolutionG*worst.Pad.Strength {
			worst = s
		}
	}
	in := t.Room
	if t.Open && !in.Outdoors {
		in.Hood = true
	}
	state := fume.State{At: time.Date(2000, 1, 1, 8, 0, 0, 0, time.UTC), Live: true, Temp: worst.Temp, SolutionG: worst.Pad.SolutionG, StartStrength: worst.Pad.Strength}
	state.Now.NH3 = pascal(worst.Is.First)
	by := chamber.StrengthSpread / worst.Pad.Strength
	state.LowPPM, state.HighPPM = worst.Is.First*max(0, 1-by), worst.Is.First*(1+by)
	state.Flammable = state.Now.Share() >= 0.15 // richer air is diluted through the range as it leaves
	volume, lost := t.To.Chamber.VolumeL, t.To.Chamber.OpenLoss
	if volume == 0 {
		volume = chamber.DefaultVolumeL
	}
	if lost == 0 {
		lost = chamber.DefaultLost
	}
	air := float64(state.Now.NH3) * room.AmmoniaMolarMass / (8.314462618 * float64(worst.Temp.Kelvin())) * volume / 1000
	state.LooseG = air * lost
	state.AllG = worst.Pad.SolutionG * worst.Pad.Strength
	open := state.Answers(in).Open
	s := Safety{Short: open.Short, More: open.More, Act: open.Act, NH3G: state.AllG, Unknown: !in.Outdoors && !in.Hood && in.VolumeM3 == 0}
	if cases, err := state.RoomAir(in); err == nil {
		s.Cases = cases
	}
	if !in.Outdoors && !in.Hood && len(s.Cases) > 0 {
		lift := s.Cases[0]
		switch {
		case lift.PeakPPM >= idlh:
			s.Refused = fmt.Sprintf("Not in %s: one lifting of the lid lets %.2g g of ammonia out, %s ppm in its air, and %g ppm are a danger to life at once.", roomName(in), lift.Grams, fume.PPM(lift.PeakPPM), idlh)
		case lift.Worst15 > stel:
			s.Refused = fmt.Sprintf("Not in %s: one lifting of the lid lets %.2g g of ammonia out, %s ppm over a quarter of an hour, and %g ppm is the most that may be breathed so long.", roomName(in), lift.Grams, fume.PPM(lift.Worst15), stel)
		}
		if s.Refused != "" {
			s.Refused += " Carry the closed chamber outdoors, or set it under a hood, and say so; or take a smaller chamber."
		}
	}
	t.Safe = s
	if s.Unknown {
		t.caution("Nobody said in which room the chamber stands. Lift its lid outdoors or under a hood only.")
	}
	if state.Flammable {
		t.caution("The air under the lid can burn on its way out: no flame, no spark, no fan that sparks.")
	}
	for _, x := range t.Stays {
		if x.Pad.Strength > x.PadWas.Strength*1.001 {
			t.caution(fmt.Sprintf("The solution is stronger than the recipe's (%.3g %% instead of %.3g %%): read its label and data sheet again.", 100*x.Pad.Strength, 100*x.PadWas.Strength))
		}
	}
	t.caution("Aerugo computes; the label, the safety data sheet and local rules come first.")
	t.pads()
}

// pads adds the chamber's ammonia to what is to be made ready.
func (t *Takes) pads() {
	if t.Safe.Refused != "" {
		return
	}
	need := map[float64]*Stock{}
	var order []float64
	for _, s := range t.Stays {
		x := need[s.Pad.Strength]
		if x == nil {
			x = &Stock{Name: "Ammonia for the pad", Material: "ammonia-water", Strength: round(100*s.Pad.Strength, 2), Unit: studio.Gram, Pad: true}
			need[s.Pad.Strength], order = x, append(order, s.Pad.Strength)
		}
		n := float64(s.Pad.Charges * t.Full.Loads)
		x.Need = Span{Value: x.Need.Value + n*s.Solution.Value, Low: x.Need.Low + n*s.Solution.Low, High: x.Need.High + n*s.Solution.High}
	}
	for _, k := range order {
		x := need[k]
		x.Make = RoundUp(x.Need.Value * (1 + t.Spare))
		t.mix(x)
		t.Stock = append(t.Stock, *x)
	}
}

func pascal(ppm float64) science.Pascal { return science.Pascal(ppm * 1e-6 * atmosphere) }

func roomName(r studio.Room) string {
	if strings.TrimSpace(r.Name) == "" {
		return "this room"
	}
	return r.Name
}

func round(v float64, decimals int) float64 {
	k := math.Pow(10, float64(decimals))
	return math.Round(v*k) / k
}
