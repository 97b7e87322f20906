package cli

import (
	"fmt"
	"math"
	"strings"
	"time"

	"aerugo/internal/science"
	"aerugo/internal/science/matter"
	workroom "aerugo/internal/science/room"
	"aerugo/internal/studio"
)

type airVerb struct {
	NH3G     float64  `name:"nh3-g" required:"" placeholder:"G" help:"Grams of ammonia gas let out each time."`
	RoomM3   float64  `name:"room-m3" required:"" placeholder:"M3" help:"Volume of the room in cubic metres."`
	ACH      *float64 `name:"ach" placeholder:"N" help:"Fresh air: how often an hour the room's air is changed."`
	Mixing   *float64 `name:"mixing" placeholder:"K" help:"How badly the air mixes: 1 perfectly, 3 in a common room, 10 poorly."`
	Openings string   `name:"openings" default:"0" placeholder:"MIN,MIN,.." help:"Minutes at which the lid is opened; MIN:G for other grams than --nh3-g."`
	OverMin  float64  `name:"over-min" default:"0" placeholder:"MIN" help:"Let each out evenly over so many minutes, such as a spill that dries; 0 is all at once."`
	TempC    *float64 `name:"temp-c" placeholder:"C" help:"The room's temperature."`
	JSON     bool     `name:"json" help:"Answer in JSON."`
}

// Help is shown below the verb's usage.
func (airVerb) Help() string {
	return `What an opened lid or a full spill does to a room's air: one well-mixed box, V dC/dt = G - (Q/K) C. It says nothing of the air at the lid itself, which is far stronger. For a spill give all the ammonia in the liquid: 100 mL of 10 % hold about 9.6 g.

Without --ach 0.5 air changes an hour are assumed (windows shut), without --mixing 3, without --temp-c 20.

` + exits
}

// What is assumed when nobody says; common practice, no source.
const (
	shutWindows  = 0.5
	commonMixing = 3.0
	commonTemp   = 20.0
)

// assumed is one value that nobody gave, as the verbs report it.
type assumed struct {
	What   string `json:"what"`
	Value  string `json:"value"`
	Source string `json:"source"`
}

// airLimit is how the room stands against one published limit.
type airLimit struct {
	Agency   string  `json:"agency"`
	Kind     string  `json:"kind"`
	PPM      float64 `json:"ppm"`
	Year     int     `json:"year,omitempty"`
	Worst    float64 `json:"worst_ppm"`
	Over     bool    `json:"over"`
	Source   string  `json:"source"`
	Standing string  `json:"standing"`
}

// airFound is what air reports. Minutes are null when the room never clears.
type airFound struct {
	PeakPPM      float64    `json:"peak_ppm"`
	PeakAtMin    float64    `json:"peak_at_min"`
	MinutesTo25  *float64   `json:"minutes_to_25ppm"`
	MinutesRange []*float64 `json:"minutes_to_25ppm_range"`
	RangeRule    string     `json:"range_rule"`
	Above25Min   float64    `json:"minutes_above_25ppm_in_24h"`
	Worst15      float64    `json:"worst_15min_ppm"`
	Worst8h      float64    `json:"worst_8h_ppm"`
	NeededACH    *float64   `json:"ach_for_35ppm_15min"`
	NeededM3     float64    `json:"room_m3_for_peak_35ppm"`
	ACH          float64    `json:"ach"`
	Mixing       float64    `json:"mixing"`
	TempC        float64    `json:"temp_c"`
	Limits       []airLimit `json:"limits"`
	Actions      []string   `json:"actions"`
	Cautions     []string   `json:"cautions"`
	Assumed      []assumed  `json:"assumed"`
}

// Run works out the room's air.
func (v airVerb) Run(t *term) error {
	f := airFound{ACH: shutWindows, Mixing: commonMixing, TempC: commonTemp, Assumed: []assumed{}}
	assume := func(given *float64, into *float64, what, unit string) {
		if given != nil {
			*into = *given
			return
		}
		f.Assumed = append(f.Assumed, assumed{what, fmt.Sprintf("%g%s", *into, unit), "common practice, no source"})
	}
	assume(v.ACH, &f.ACH, "air changes", " an hour")
	assume(v.Mixing, &f.Mixing, "mixing factor K", "")
	assume(v.TempC, &f.TempC, "temperature of the room", " °C")
	releases, err := v.releases()
	if err != nil {
		return err
	}
	r := workroom.Room{VolumeM3: v.RoomM3, AirChangesPerH: f.ACH, Mixing: f.Mixing, Temp: science.Celsius(f.TempC)}
	course, err := r.Run(workroom.AmmoniaMolarMass, releases)
	if err != nil {
		return outside(err)
	}
	gas, _ := matter.Lookup("ammonia-gas")
	peak, at := course.Peak()
	f.PeakPPM, f.PeakAtMin = round4(float64(peak)), round4(at.Minutes())
	f.MinutesTo25 = waiting(course)
	f.Above25Min = round4(course.Above(25, 24*time.Hour).Minutes())
	f.Worst15, f.Worst8h = round4(float64(course.Worst(15*time.Minute))), round4(float64(course.Worst(8*time.Hour)))
	low, high := 1.0, 10.0
	f.RangeRule = "K from 1 to 10, as nobody gave it"
	if v.Mixing != nil {
		low, high = max(1, f.Mixing/1.5), min(10, f.Mixing*1.5)
		f.RangeRule = "K half as much again either way"
	}
	for _, k := range []float64{low, high} {
		r.Mixing = k
		other, err := r.Run(workroom.AmmoniaMolarMass, releases)
		if err != nil {
			return outside(err)
		}
		f.MinutesRange = append(f.MinutesRange, waiting(other))
	}
	r.Mixing = f.Mixing
	ach, ok, err := r.ChangesToStayBelow(35, 15*time.Minute, workroom.AmmoniaMolarMass, releases)
	if err != nil {
		return outside(err)
	}
	if ok {
		ach = round4(ach)
		f.NeededACH = &ach
	}
	f.NeededM3 = round4(v.RoomM3 * f.PeakPPM / 35)
	for _, s := range course.Against(gas.Limits) {
		f.Limits = append(f.Limits, airLimit{s.Agency, s.Kind, s.Value, s.Year, round4(float64(s.Worst)), s.Over, s.Limit.Source, s.Limit.Standing})
	}
	for _, a := range course.Actions(gas.Limits) {
		f.Actions = append(f.Actions, a.Text)
	}
	f.Cautions = []string{
		"This is the room's average. At the gap of the lid the air is hundreds of times stronger for a while, whatever the room.",
		"Ammonia burns in air from 15 to 28 % by volume: no flame or spark near a lid.",
		"Check today's limits where you live; the label and the safety data sheet of your own bottle come first.",
	}
	if v.JSON {
		return t.asJSON(f)
	}
	f.tell(t, v)
	return nil
}

// waiting is how long to wait after the last opening for 25 ppm, nil for ever.
func waiting(c workroom.Course) *float64 {
	wait, ok := c.ClearAfter(25)
	if !ok {
		return nil
	}
	m := round4(wait.Minutes())
	return &m
}

// releases reads --openings.
func (v airVerb) releases() ([]workroom.Release, error) {
	var out []workroom.Release
	over := v.OverMin
	if !(over >= 0 && over <= 40000) {
		return nil, studio.Problemf(studio.Invalid, "over-min", "--over-min can't be %g; it is a number of minutes from 0 to 40000", over)
	}
	for _, part := range strings.Split(v.Openings, ",") {
		when, grams, other := strings.Cut(part, ":")
		minute, ok := number(when)
		if !ok || minute < 0 || minute > 40000 {
			return nil, studio.Problemf(studio.Invalid, "openings", "--openings: %q is no minute from 0 to 40000; write it like --openings 0,60,120 or 0:7.3,60:5", strings.TrimSpace(part))
		}
		e := workroom.Release{At: minutes(minute), Grams: v.NH3G, Over: minutes(over)}
		if other {
			if e.Grams, ok = number(grams); !ok {
				return nil, studio.Problemf(studio.Invalid, "openings", "--openings: %q is no number of grams; write it like --openings 0:7.3,60:5", strings.TrimSpace(grams))
			}
		}
		out = append(out, e)
	}
	return out, nil
}

func minutes(m float64) time.Duration { return time.Duration(math.Round(m * float64(time.Minute))) }

// tell writes the answer for people: what to do, then what the air does.
func (f airFound) tell(t *term, v airVerb) {
	for i, a := range f.Actions {
		t.printf("%d. %s\n", i+1, a)
	}
	t.printf("\nThe room's air rises to %s ppm on average", sized(f.PeakPPM))
	switch {
	case f.PeakPPM <= 25:
		t.printf(", at or below the 25 ppm of a working day.\n")
	case f.MinutesTo25 == nil:
		t.printf(" and does not clear, as no air is changed: open up and leave.\n")
	default:
		t.printf("; %s after the last opening it is at 25 ppm", spoken(*f.MinutesTo25))
		if a, b := f.MinutesRange[0], f.MinutesRange[1]; a != nil && b != nil {
			t.printf(" (%s to %s: %s)", spoken(*a), spoken(*b), f.RangeRule)
		}
		t.printf(".\n")
	}
	t.printf("Worst 15 minutes %s ppm, worst 8 hours %s ppm.\n", sized(f.Worst15), sized(f.Worst8h))
	for _, l := range f.Limits {
		if l.Over {
			t.printf("  over the %s of %g ppm, %s (%s)\n", l.Agency, l.PPM, l.Kind, dated(l))
		}
	}
	switch {
	case f.Worst15 <= 35:
	case f.NeededACH == nil:
		t.printf("No fan brings the worst 15 minutes down to 35 ppm here: let out less, or work outdoors.\n")
	default:
		t.printf("To hold the worst 15 minutes at 35 ppm it would take %s air changes an hour (now %g).\n", sized(*f.NeededACH), f.ACH)
	}
	for _, a := range f.Assumed {
		t.printf("Assumed: %s %s (%s).\n", a.What, a.Value, a.Source)
	}
	for _, c := range f.Cautions {
		t.printf("- %s\n", c)
	}
}

// dated is where a limit comes from.
func dated(l airLimit) string {
	if l.Year == 0 {
		return l.Standing
	}
	return fmt.Sprintf("%s, %d", l.Standing, l.Year)
}

// sized writes a number with three digits.
func sized(v float64) string {
	if v >= 100 {
		return fmt.Sprintf("%.0f", v)
	}
	return fmt.Sprintf("%.3g", v)
}

// spoken writes minutes as hours and minutes.
func spoken(m float64) string {
	switch {
	case m >= 48*60:
		return fmt.Sprintf("%.0f days", m/60/24)
	case m >= 60:
		whole := int(math.Round(m))
		return fmt.Sprintf("%d h %d min", whole/60, whole%60)
	}
	return fmt.Sprintf("%.0f min", m)
}
