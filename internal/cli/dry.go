package cli

import (
	"fmt"

	"aerugo/internal/science"
	"aerugo/internal/science/chamber"
	"aerugo/internal/science/film"
	"aerugo/internal/science/solution"
	"aerugo/internal/studio"
)

type dryVerb struct {
	RoomRH   *float64 `name:"room-rh" required:"" placeholder:"RH" help:"The room's humidity: 50 or 0.5 for 50 %."`
	TempC    *float64 `name:"temp-c" placeholder:"C" help:"Temperature of the room and the metal."`
	WaterGM2 float64  `name:"water-g-m2" required:"" placeholder:"G" help:"Water on the face, g/m2."`
	Salt     string   `name:"salt" default:"sodium-chloride" placeholder:"KEY" help:"The salt in it."`
	SaltGM2  float64  `name:"salt-g-m2" default:"0" placeholder:"G" help:"How much salt, g/m2."`
	KMMS     *float64 `name:"k-mm-s" placeholder:"K" help:"How fast the room takes water up, mm/s, where you have measured it."`
	JSON     bool     `name:"json" help:"Answer in JSON."`
}

// Help is shown below the verb's usage.
func (dryVerb) Help() string {
	return `When a wet face has dried in a room, or that it will not: above a salt's own humidity (75 % for common salt) its liquid stays. The ammonia is taken to have left. In JSON humidities are fractions, and a time that is never reached is null.

` + exits
}

// dryFound is what dry reports.
type dryFound struct {
	Outlook       string    `json:"outlook"`
	DryAtH        *float64  `json:"dry_at_h"`
	DryLow        *float64  `json:"dry_low_h"`
	DryHigh       *float64  `json:"dry_high_h"`
	Deliquescence float64   `json:"deliquescence_rh"`
	StaysGM2      *float64  `json:"stays_g_m2"`
	RoomRH        float64   `json:"room_rh"`
	Assumed       []assumed `json:"assumed"`
	Cautions      []string  `json:"cautions"`
}

// Run works out the drying.
func (v dryVerb) Run(t *term) error {
	f := dryFound{Assumed: []assumed{}}
	w := film.Wet{Salt: v.Salt, SaltGPerM2: v.SaltGM2, WaterGPerM2: v.WaterGM2, Temperature: chamber.DefaultTemp}
	var err error
	if w.RoomRH, err = fraction("room-rh", 0, v.RoomRH, 100); err != nil {
		return err
	}
	if _, ok := solution.SaltOf(v.Salt); !ok {
		return studio.Problemf(studio.Invalid, "salt", "--salt: no salt here is called %q; these are: %s", v.Salt, saltKeys())
	}
	if v.TempC != nil {
		w.Temperature = science.Celsius(*v.TempC)
	} else {
		f.Assumed = append(f.Assumed, assumed{"the temperature", fmt.Sprintf("%g °C", float64(w.Temperature)), film.NoSource})
	}
	if v.KMMS != nil {
		if !(*v.KMMS >= 0.01 && *v.KMMS <= 1000) {
			return studio.Problemf(studio.Invalid, "k-mm-s", "--k-mm-s can't be %g; rooms take water up at 0.01 to 1000 mm/s, still ones at about %g", *v.KMMS, 1000*film.RoomK)
		}
		w.K = *v.KMMS / 1000
	}
	d, err := film.Drying(w)
	if err != nil {
		return outside(err)
	}
	f.Outlook, f.Deliquescence, f.RoomRH = d.Outlook.String(), round4(d.Deliquescence), w.RoomRH
	f.DryAtH, f.DryLow, f.DryHigh = timeOrNever(d.Hours.Value), timeOrNever(d.Hours.Low), timeOrNever(d.Hours.High)
	f.StaysGM2 = timeOrNever(d.StaysGPerM2)
	for _, a := range d.Assumed {
		f.Assumed = append(f.Assumed, assumed(a))
	}
	f.Cautions = append([]string{}, d.Cautions...)
	if v.JSON {
		return t.asJSON(f)
	}
	said := func(h float64) string { return chamber.Spoken(hours(h)) }
	switch d.Outlook {
	case film.Dries:
		t.printf("It will be dry after %s", said(*f.DryAtH))
		if f.DryHigh != nil {
			t.printf(" (between %s and %s).\n", said(*f.DryLow), said(*f.DryHigh))
		} else {
			t.printf(" (not before %s, and not at all if the room is a little damper).\n", said(*f.DryLow))
		}
	case film.Never:
		if f.StaysGM2 != nil {
			t.printf("It will not dry: above %.0f %% humidity this salt keeps its liquid, here %.0f g/m² of water. Warm or dry the room, or rinse the salt off.\n", 100*d.Deliquescence, *f.StaysGM2)
		} else {
			t.printf("It will not dry: the air is full of water. Warm or dry the room.\n")
		}
	default:
		t.printf("No one can tell whether it dries: the room is within 2 %% of the %.0f %% above which this salt stays wet. Warm or dry the room a little.\n", 100*d.Deliquescence)
	}
	for _, c := range f.Cautions {
		t.printf("caution: %s\n", c)
	}
	t.printf("\nassumed:\n")
	for _, a := range f.Assumed {
		t.printf("  %s: %s (%s)\n", a.What, a.Value, a.Source)
	}
	return nil
}
