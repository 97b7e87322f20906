package last

import (
	"fmt"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/studio"
)

// A Layer is one treatment on a face, the lowest first, with what was tapped.
// Dry is when its liquid is reckoned to have dried, zero when nobody can tell; Never
// that it does not dry in the room as it is.
type Layer struct {
	Treatment studio.Treatment
	Record    run.Record
	Dry       time.Time
	Never     bool
}

// A Bar is a reason not to seal yet: what is in the way, what goes wrong otherwise,
// and what to do. Stop is false where it is a caution only.
type Bar struct {
	What, Else, Do string
	Stop           bool
}

// dryAtLeast is how long a rinsed face stands before it is sealed where no drying
// was tapped: common practice, no source.
const dryAtLeast = 24 * time.Hour

// What goes wrong (common practice, no source).
const (
	elseWet  = "Water under a seal turns it white and lets it peel."
	elseSalt = "Salt left in the colour goes on working in damp air: it blooms and creeps under the seal."
)

// Gate says what stands in the way of sealing a face, worst first; nothing when it
// may be sealed. It holds no colour to be dry or rinsed that nobody tapped so.
func Gate(face studio.Face, layers []Layer, now time.Time) []Bar {
	var bars []Bar
	wet, salted, known := false, false, false
	var since time.Time
	for _, l := range layers {
		if !l.Treatment.Faces.Has(face) {
			continue
		}
		known = true
		switch l.Record.Status {
		case run.Running:
			return []Bar{{What: "The treatment is still running.", Else: elseWet, Do: "Finish it first.", Stop: true}}
		case run.Planned, "":
			return []Bar{{What: "The treatment has not been started.", Else: "There is no colour to seal yet.", Do: "Start it, or take it off the plan.", Stop: true}}
		}
		for i, step := range l.Treatment.Steps {
			if step.Faces != "" && !step.Faces.Has(face) {
				continue
			}
			if i < len(l.Record.Steps) && l.Record.Steps[i].State == run.Dropped {
				continue
			}
			switch step.Kind {
			case studio.Sprinkle, studio.Bury:
				salted = true
			case studio.Wet:
				wet = true
				salted = salted || step.Material != "" && step.Material != "water"
			case studio.Fume:
				wet = true
			case studio.Rinse, studio.Pickle:
				wet, salted = true, false
			case studio.Dry:
				wet = false
			case studio.Heat:
				wet = false
			case studio.Seal:
				salted = false // it was let through then
			}
		}
		if l.Record.Ended.After(since) {
			since = l.Record.Ended
		}
		switch {
		case l.Never:
			bars = append(bars, Bar{What: "In this room it does not dry, by the reckoning.", Else: elseWet, Do: "Warm or dry the room, or rinse the salt off and dry it.", Stop: true})
		case l.Dry.After(now):
			bars = append(bars, Bar{What: fmt.Sprintf("It is dry in about %s, by the reckoning.", studio.Span(l.Dry.Sub(now).Round(time.Minute))), Else: elseWet, Do: "Wait until two weighings half an hour apart agree within 1 mg.", Stop: true})
		}
	}
	if !known {
		return []Bar{{What: "Nothing was put on this face.", Else: "There is no colour to seal yet.", Do: "Choose the other face.", Stop: true}}
	}
	if wet && len(bars) == 0 {
		if gone := now.Sub(since); gone < dryAtLeast {
			bars = append(bars, Bar{What: fmt.Sprintf("No drying was tapped, and it ended only %s ago.", studio.Span(max(gone, time.Minute))), Else: elseWet, Do: "Let it stand until tomorrow, or until two weighings half an hour apart agree within 1 mg.", Stop: true})
		} else {
			bars = append(bars, Bar{What: "No drying was tapped after it was last wet.", Else: elseWet, Do: "Weigh it twice, half an hour apart: within 1 mg it is dry."})
		}
	}
	if salted {
		bars = append(bars, Bar{What: "Salt was put on and no rinse was tapped since.", Else: elseSalt, Do: "Rinse it in two tubs, then distilled water, and dry it; or try the damp box on one swatch first."})
	}
	return bars
}

// Barred reports whether one of the bars stops it.
func Barred(bars []Bar) bool {
	for _, b := range bars {
		if b.Stop {
			return true
		}
	}
	return false
}

// HalfSteps are the steps that seal one half of a face: place is "right half". Errors
// are *studio.Problem.
func HalfSteps(sealer, side string) ([]studio.Step, error) {
	if MiddleCut(side).check() != nil {
		return nil, studio.Problemf(studio.Invalid, "side", "Say which half is sealed: right, left, top or bottom; %q is none.", side)
	}
	how := map[string]string{
		"wax":     "Cover the other half. Warm the metal to 60-70 °C, not over a flame. Wax thinly, buff cold, and again.",
		"oil":     "Cover the other half. A few drops on a cloth, thin; wipe off what does not sink in. Dry oily cloths flat outdoors: they can catch fire by themselves.",
		"lacquer": "Cover the other half. Two or three thin coats, out of doors or with the air drawn off, no flame near.",
	}[sealer]
	if how == "" {
		return nil, studio.Problemf(studio.Invalid, "sealer", "Choose wax, oil or lacquer; %q can't be put on one half.", sealer)
	}
	return []studio.Step{{Kind: studio.Seal, Tool: sealer, Place: side + " half", Duration: 15 * time.Minute, Note: how}}, nil
}

// HalfSealed returns the sealer and the side of a treatment that sealed one half,
// and false for any other.
func HalfSealed(t studio.Treatment) (sealer, side string, ok bool) {
	for _, s := range t.Steps {
		for _, at := range Sides {
			if s.Kind == studio.Seal && s.Place == at+" half" {
				return s.Tool, at, true
			}
		}
	}
	return "", "", false
}
