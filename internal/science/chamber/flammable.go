package chamber

import (
	"fmt"

	"aerugo/internal/science/solution"
)

// Ammonia burns in air between these shares by volume (The Engineering ToolBox,
// page on ammonia: 15 to 28 vol %).
const (
	FlammableFrom = 0.15
	FlammableTo   = 0.28
)

// Flammable returns a caution when the air under the lid is, or on being let out
// becomes, a mixture that burns, with the strengths at which it applies at the
// bath's temperature.
func (r Result) Flammable(box Box) (string, bool) {
	var inside, above bool
	var from, to Air
	for _, a := range r.Series {
		switch s := a.Share(); {
		case s > FlammableTo:
			above = true
		case s >= FlammableFrom:
			if !inside {
				from = a
			}
			inside, to = true, a
		}
	}
	if !inside && !above {
		return "", false
	}
	at := ""
	if low, high, err := solution.AmmoniaFlammable(box.Temp); err == nil {
		at = fmt.Sprintf(" At %.3g °C that is so over solutions of %.1f to %.1f wt%%; stronger ones pass through it.", float64(box.Temp), 100*low, 100*high)
	}
	const keep = " Keep flames, sparks, switches and hot things away."
	percent := fmt.Sprintf("%.0f to %.0f vol %%", 100*FlammableFrom, 100*FlammableTo)
	if inside {
		when := "from " + Spoken(from.At) + " to " + Spoken(to.At)
		if from.At == 0 && to.At == r.Series[len(r.Series)-1].At {
			when = "all the time"
		} else if from.At == 0 {
			when = "for the first " + Spoken(to.At)
		}
		return fmt.Sprintf("The air under the lid can burn (%s of ammonia) %s.%s%s", percent, when, at, keep), true
	}
	return fmt.Sprintf("The air under the lid holds more ammonia than burns (%s), so that it passes through what burns each time the lid is lifted.%s%s", percent, at, keep), true
}
