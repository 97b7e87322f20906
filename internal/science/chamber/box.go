// Package chamber computes the air under the lid of a fume chamber: ammonia and
// water over its pad, what leaks and what a lifted lid lets out, and how long
// salt on the pieces takes to dissolve in it.
//
// One inventory of ammonia and one of water are shared by the pad, the air, the
// films on the metal and what has left; nothing is made or lost. Pad and air are
// in equilibrium at the bath's temperature; the way of water from there to the
// metal is one mass transfer coefficient, the diffusivity over the gap unless
// the person has measured their own.
package chamber

import (
	"fmt"
	"time"

	"aerugo/internal/science"
	"aerugo/internal/science/film"
	"aerugo/internal/science/solution"
)

const (
	gas          = 8.314462618 // J/(mol K), exact by definition (BIPM, SI Brochure, 9th edition, 2019)
	atmosphere   = 101325.0    // Pa, the standard atmosphere (same source)
	molarWater   = 18.015268   // g/mol
	molarAmmonia = 17.03026    // g/mol
)

// The values taken where nothing is measured or typed (common practice, no
// source); the comments give the range in which to expect others.
const (
	DefaultVolumeL   = 60.0  // a lidded tub: 20 to 150
	DefaultSolutionG = 250.0 // two or three soaked cloths: 100 to 500
	DefaultStrength  = 0.09  // household to clear ammonia: 0.05 to 0.10
	DefaultTemp      = science.Celsius(20)
	DefaultGapMM     = 40.0 // pad to piece: 20 to 100
	DefaultLeakPerH  = 0.1  // a lid that closes without a seal: 0.02 to 1
	DefaultLost      = 0.5  // of the air under the lid at one opening: 0.2 to 1
	DefaultRoomRH    = 0.5
)

// KFactor is the factor either way within which the transfer coefficient D/gap is
// taken to lie until it is calibrated (common practice, no source).
const KFactor = 1.5

// StrengthSpread is the uncertainty of a strength as the bottle states it, in mass
// fraction, and OffsetSpread that of the piece's temperature against the bath.
const (
	StrengthSpread = 0.01
	OffsetSpread   = science.Celsius(0.5)
)

// Box is a closed chamber.
type Box struct {
	VolumeL  float64         // of air under the lid, 1 to 5000
	LeakPerH float64         // changes of that air an hour, 0 to 10
	Temp     science.Celsius // of bath and air, 0 to 40
	GapMM    float64         // from pad to piece, 2 to 1000
	RoomRH   float64         // humidity of the room's air that comes in, 0 to 1, at Temp
}

// Pad is what holds the ammonia.
type Pad struct {
	SolutionG float64 // 0.1 to 100000
	Strength  float64 // mass fraction of ammonia, 0 to 0.30
}

// Opening is one lifting of the lid: the share Lost (0 to 1) of the air under it
// is changed for the room's.
type Opening struct {
	At   time.Duration
	Lost float64
}

// Face is one face of a piece. Times count from the closing of the lid.
type Face struct {
	Salt        string  // key of a salt; empty for none
	SaltGPerM2  float64 // dry salt put on, 0 to 2000
	WaterGPerM2 float64 // water put on when it goes in, 0 to 2000
	AreaM2      float64 // 0: too small to matter to the pad
	In, Out     time.Duration
	Salted      time.Duration // when the salt is put on; not before In. 0: it goes in with it
}

// Piece is a piece of metal in the chamber.
type Piece struct {
	Name   string
	Offset science.Celsius // its temperature above the bath's
	Faces  []Face
}

// Options of a run.
type Options struct {
	Step time.Duration // longest step; 0 for five minutes
	K    float64       // multiplier of D/gap; 0 for 1
}

func within(what string, got, least, most float64, unit string) error {
	if got >= least && got <= most {
		return nil
	}
	return &science.RangeError{What: what, Got: got, Min: least, Max: most, Unit: unit}
}

// first returns the first error there is.
func first(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

func (b Box) check() error {
	return first(
		within("volume of the chamber", b.VolumeL, 1, 5000, "L"),
		within("air changes", b.LeakPerH, 0, 10, "per hour"),
		within("temperature of the bath", float64(b.Temp), 0, 40, "°C"),
		within("gap from pad to piece", b.GapMM, 2, 1000, "mm"),
		within("humidity of the room", b.RoomRH, 0, 1, ""),
	)
}

func (p Pad) check() error {
	return first(
		within("solution on the pad", p.SolutionG, 0.1, 1e5, "g"),
		within("strength of the solution", p.Strength, 0, 0.30, ""),
	)
}

func (o Opening) check() error {
	return first(
		within("time of an opening", o.At.Hours(), 0, mostHours, "h"),
		within("share of the air lost at an opening", o.Lost, 0, 1, ""),
	)
}

// salted is when all that is put on the face is on it.
func (f Face) salted() time.Duration {
	if f.SaltGPerM2 == 0 {
		return f.In
	}
	return max(f.In, f.Salted)
}

func (f Face) check() error {
	err := first(
		within("salt", f.SaltGPerM2, 0, film.MostGPerM2, "g/m²"),
		within("water", f.WaterGPerM2, 0, film.MostGPerM2, "g/m²"),
		within("area of a face", f.AreaM2, 0, 10, "m²"),
		within("time of going in", f.In.Hours(), 0, mostHours, "h"),
	)
	switch {
	case err != nil:
		return err
	case f.Out != 0 && f.Out <= f.In:
		return fmt.Errorf("a face comes out at %v, which must be later than when it goes in (%v)", f.Out, f.In)
	case f.Salted != 0 && f.Salted < f.In, f.Out != 0 && f.Salted >= f.Out && f.Salted != 0:
		return fmt.Errorf("a face is salted at %v, which must be while it is in the chamber", f.Salted)
	case f.SaltGPerM2 > 0:
		if _, ok := solution.SaltOf(f.Salt); !ok {
			return fmt.Errorf("no salt is called %q", f.Salt)
		}
	}
	return nil
}

// mostHours is the longest run, 60 days.
const mostHours = 1440

// K returns the transfer coefficient in m/s that the box has by itself: the
// diffusivity of water vapour in air (Massman 1998) over the gap. It leaves out
// the stirring that warm or light air does, and so is rather low than high.
func (b Box) K() (float64, error) {
	d, err := solution.WaterInAir(b.Temp)
	if err != nil {
		return 0, err
	}
	return float64(d) / (b.GapMM / 1000), nil
}
