package cli

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"aerugo/internal/science"
	"aerugo/internal/science/chamber"
	"aerugo/internal/science/film"
	"aerugo/internal/science/solution"
	"aerugo/internal/studio"
)

type chamberVerb struct {
	VolumeL      *float64 `name:"volume-l" placeholder:"L" help:"Litres of air under the lid."`
	SolutionG    *float64 `name:"solution-g" placeholder:"G" help:"Grams of ammonia solution on the pad."`
	AmmoniaWt    *float64 `name:"ammonia-wt" placeholder:"W" help:"Its strength by weight: 9 or 0.09 for 9 %."`
	TempC        *float64 `name:"temp-c" placeholder:"C" help:"Temperature of the solution and the air."`
	GapMM        *float64 `name:"gap-mm" placeholder:"MM" help:"From the pad to the piece."`
	Hours        float64  `name:"hours" default:"24" placeholder:"H" help:"How long to look ahead."`
	LeakPerH     *float64 `name:"leak-per-h" placeholder:"N" help:"How often an hour the lid lets all its air be changed."`
	Open         string   `name:"open" placeholder:"H,H,.." help:"Hours at which the lid is lifted; H:0.3 when 0.3 of the air is lost."`
	RoomRH       *float64 `name:"room-rh" placeholder:"RH" help:"Humidity of the room's air that comes in: 50 or 0.5 for 50 %."`
	Salt         string   `name:"salt" default:"sodium-chloride" placeholder:"KEY" help:"The salt on the face, such as sodium-chloride."`
	SaltGM2      float64  `name:"salt-g-m2" default:"0" placeholder:"G" help:"Dry salt on the face, g/m2."`
	WaterGM2     float64  `name:"water-g-m2" default:"0" placeholder:"G" help:"Water on the face when the lid closes, g/m2."`
	AreaCM2      float64  `name:"area-cm2" default:"0" placeholder:"CM2" help:"Area of all such faces together; 0 when it is too small to matter to the pad."`
	PieceOffsetC *float64 `name:"piece-offset-c" placeholder:"C" help:"How much warmer the metal is than the solution; write =-2 for cooler."`
	KTimes       *float64 `name:"k-times" placeholder:"K" help:"Your chamber's calibration: how many times faster water comes than by diffusion over the gap."`
	JSON         bool     `name:"json" help:"Answer in JSON."`
}

// Help is shown below the verb's usage.
func (chamberVerb) Help() string {
	return `What the air under the lid is like, when the salt on a face has dissolved in it, and when to refresh the pad. Times count from the closing of the lid. What is not given is assumed, and said.

In JSON strengths and humidities are fractions (0.09, 0.89); the air's numbers are those just after the lid has closed and series[] follows them; film_g_m2 is the liquid at the end, water, salt and ammonia. A time that is never reached is null.

` + exits
}

// chamberMoment is the chamber at one time.
type chamberMoment struct {
	AtH        float64 `json:"at_h"`
	NH3KPa     float64 `json:"p_nh3_kpa"`
	H2OKPa     float64 `json:"p_h2o_kpa"`
	NH3PPM     float64 `json:"nh3_ppm"`
	NH3VolPct  float64 `json:"nh3_vol_pct"`
	RHAtPiece  float64 `json:"rh_at_piece"`
	StrengthWt float64 `json:"strength_wt"`
	PadG       float64 `json:"pad_g"`
	FilmGM2    float64 `json:"film_g_m2"`
	WaterGM2   float64 `json:"water_g_m2"`
	Dissolved  float64 `json:"dissolved"`
}

// chamberFound is what chamber reports.
type chamberFound struct {
	NH3KPa        float64         `json:"p_nh3_kpa"`
	H2OKPa        float64         `json:"p_h2o_kpa"`
	NH3PPM        float64         `json:"nh3_ppm"`
	NH3VolPct     float64         `json:"nh3_vol_pct"`
	RHAtPiece     float64         `json:"rh_at_piece"`
	StrengthWt    float64         `json:"strength_wt"`
	DissolvedAtH  *float64        `json:"dissolved_at_h"`
	DissolvedLow  *float64        `json:"dissolved_low_h"`
	DissolvedHigh *float64        `json:"dissolved_high_h"`
	Dissolved     float64         `json:"dissolved"`
	WetTimeH      float64         `json:"wet_time_h"`
	FilmGM2       float64         `json:"film_g_m2"`
	FilmUM        *float64        `json:"film_um"`
	Dew           bool            `json:"dew"`
	HalvedAtH     *float64        `json:"halved_at_h"`
	SolutionForG  *float64        `json:"solution_for_hours_g"`
	EndedAtH      float64         `json:"ended_at_h"`
	KMS           float64         `json:"k_m_s"`
	CopperMostG   *float64        `json:"copper_most_g,omitempty"`
	Budget        *chamberBudget  `json:"budget,omitempty"`
	NH3           chamberLedger   `json:"nh3_g"`
	Water         chamberLedger   `json:"water_g"`
	Assumed       []assumed       `json:"assumed"`
	Cautions      []string        `json:"cautions"`
	Series        []chamberMoment `json:"series"`
}

// chamberBudget is the most colour the salt could make.
type chamberBudget struct {
	MineralUM   float64 `json:"mineral_um"`
	HidingUM    float64 `json:"hiding_um"`
	HidingGM2   float64 `json:"salt_that_hides_g_m2"`
	CopperGPerM float64 `json:"copper_g_m2"`
	Verdict     string  `json:"verdict"`
}

// chamberLedger is where a substance went, in grams.
type chamberLedger struct {
	Start  float64 `json:"start"`
	In     float64 `json:"came_in"`
	Pad    float64 `json:"pad"`
	Air    float64 `json:"air"`
	Films  float64 `json:"films"`
	Leaked float64 `json:"leaked"`
	Opened float64 `json:"openings"`
}

// Run works out the chamber.
func (v chamberVerb) Run(t *term) error {
	f := chamberFound{Assumed: []assumed{}}
	or := func(given *float64, otherwise float64, what, unit string) float64 {
		if given != nil {
			return *given
		}
		f.Assumed = append(f.Assumed, assumed{what, fmt.Sprintf("%g%s", otherwise, unit), film.NoSource})
		return otherwise
	}
	box := chamber.Box{
		VolumeL:  or(v.VolumeL, chamber.DefaultVolumeL, "the air under the lid", " L"),
		Temp:     science.Celsius(or(v.TempC, float64(chamber.DefaultTemp), "the temperature", " °C")),
		GapMM:    or(v.GapMM, chamber.DefaultGapMM, "the gap from pad to piece", " mm"),
		LeakPerH: or(v.LeakPerH, chamber.DefaultLeakPerH, "the lid's leak", " changes of air an hour"),
	}
	var err error
	if box.RoomRH, err = fraction("room-rh", 100*or(v.RoomRH, chamber.DefaultRoomRH, "the room's humidity (0 to 1)", ""), v.RoomRH, 100); err != nil {
		return err
	}
	pad := chamber.Pad{SolutionG: or(v.SolutionG, chamber.DefaultSolutionG, "the solution on the pad", " g")}
	if pad.Strength, err = fraction("ammonia-wt", 100*or(v.AmmoniaWt, chamber.DefaultStrength, "the solution's strength (0 to 0.30)", ""), v.AmmoniaWt, 30); err != nil {
		return err
	}
	openings, err := v.openings()
	if err != nil {
		return err
	}
	piece := chamber.Piece{Offset: science.Celsius(or(v.PieceOffsetC, 0, "the metal's temperature above the solution's", " °C"))}
	if _, ok := solution.SaltOf(v.Salt); !ok {
		return studio.Problemf(studio.Invalid, "salt", "--salt: no salt here is called %q; these are: %s", v.Salt, saltKeys())
	}
	piece.Faces = []chamber.Face{{Salt: v.Salt, SaltGPerM2: v.SaltGM2, WaterGPerM2: v.WaterGM2, AreaM2: v.AreaCM2 / 1e4}}
	var doubt chamber.Doubt
	if k := v.KTimes; k != nil {
		if !(*k >= 0.05 && *k <= 20) {
			return studio.Problemf(studio.Invalid, "k-times", "--k-times can't be %g; a chamber brings water 0.05 to 20 times as fast as diffusion over the gap", *k)
		}
		doubt.Calibrated = &film.Transfer{K: *k, Low: *k / 1.1, High: *k * 1.1, How: "as given with --k-times, ±10 %"}
	}
	r, err := chamber.Predict(box, pad, openings, []chamber.Piece{piece}, v.Hours, chamber.Options{}, doubt)
	if err != nil {
		return chamberProblem(err)
	}
	if err := f.take(r, box, pad, openings, piece, v.Hours); err != nil {
		return chamberProblem(err)
	}
	if v.JSON {
		return t.asJSON(f)
	}
	f.tell(t, r, v.Hours)
	return nil
}

// fraction reads what may be typed as percent or as a fraction: below one it is a
// fraction, and one is 1 % where 100 % cannot be.
func fraction(option string, percent float64, given *float64, most float64) (float64, error) {
	if given == nil {
		return percent / 100, nil
	}
	got := *given
	if got > 1 || got == 1 && most < 100 {
		got /= 100
	}
	if !(got >= 0 && 100*got <= most) {
		return 0, studio.Problemf(studio.Invalid, option, "--%s can't be %g; write percent from 0 to %g, or a fraction from 0 to %g", option, *given, most, most/100)
	}
	return got, nil
}

// openings reads --open.
func (v chamberVerb) openings() (out []chamber.Opening, err error) {
	if strings.TrimSpace(v.Open) == "" {
		return nil, nil
	}
	for _, part := range strings.Split(v.Open, ",") {
		when, lost, said := strings.Cut(part, ":")
		h, ok := number(when)
		if !ok || h < 0 || h > 1440 {
			return nil, studio.Problemf(studio.Invalid, "open", "--open: %q is no hour from 0 to 1440; write it like --open 2,4.5 or 2:0.3,4.5", strings.TrimSpace(part))
		}
		o := chamber.Opening{At: hours(h), Lost: chamber.DefaultLost}
		if said {
			if o.Lost, ok = number(lost); !ok || o.Lost < 0 || o.Lost > 1 {
				return nil, studio.Problemf(studio.Invalid, "open", "--open: %q is no share of the air from 0 to 1; write it like --open 2:0.3", strings.TrimSpace(lost))
			}
		}
		out = append(out, o)
	}
	return out, nil
}

func hours(h float64) time.Duration { return time.Duration(math.Round(h * float64(time.Hour))) }

// saltKeys names the salts that can be computed at room temperature.
func saltKeys() string {
	var keys []string
	for _, s := range solution.Salts() {
		if _, err := film.NewBrine(s.Key, chamber.DefaultTemp); err == nil {
			keys = append(keys, s.Key)
		}
	}
	return strings.Join(keys, ", ")
}

// chamberProblem puts what a chamber cannot be into words.
func chamberProblem(err error) error {
	if errors.Is(err, chamber.ErrPadTooSmall) || errors.Is(err, chamber.ErrBoils) {
		return studio.Problemf(studio.Invalid, "", "%v", err)
	}
	return outside(err)
}

// timeOrNever is a pointer to h rounded, nil for never.
func timeOrNever(h float64) *float64 {
	if math.IsInf(h, 1) {
		return nil
	}
	h = round4(h)
	return &h
}

// take fills in the answer.
func (f *chamberFound) take(r chamber.Forecast, box chamber.Box, pad chamber.Pad, openings []chamber.Opening, piece chamber.Piece, last float64) error {
	p := r.Pieces[0]
	face, when := p.Faces[0], r.Dissolves[0][0]
	for i, a := range r.Series {
		m := chamberMoment{
			AtH: round4(a.At.Hours()), NH3KPa: round4(float64(a.NH3) / 1000), H2OKPa: round4(float64(a.H2O) / 1000), NH3PPM: round4(a.PPM()),
			NH3VolPct: round4(100 * a.Share()), RHAtPiece: round4(p.RH(a)), StrengthWt: round6(a.Strength), PadG: round4(a.PadG),
		}
		if i < len(face.Series) {
			x := face.Series[i]
			m.FilmGM2, m.WaterGM2, m.Dissolved = round4(x.FilmGPerM2), round4(x.WaterGPerM2), round4(x.Share)
		}
		f.Series = append(f.Series, m)
	}
	start := f.Series[0]
	f.NH3KPa, f.H2OKPa, f.NH3PPM, f.NH3VolPct, f.RHAtPiece, f.StrengthWt = start.NH3KPa, start.H2OKPa, start.NH3PPM, start.NH3VolPct, start.RHAtPiece, start.StrengthWt
	f.Dissolved, f.WetTimeH, f.FilmGM2, f.Dew = round4(face.End.Share), round4(face.WetTime.Hours()), round4(face.End.FilmGPerM2), p.Dew
	f.EndedAtH, f.KMS = f.Series[len(f.Series)-1].AtH, r.K
	if face.SaltGPerM2 > 0 {
		f.DissolvedAtH, f.DissolvedLow, f.DissolvedHigh = timeOrNever(when.Value), timeOrNever(when.Low), timeOrNever(when.High)
	}
	brine, err := film.NewBrine(face.Salt, box.Temp+piece.Offset)
	if err != nil {
		return err
	}
	end := r.Series[len(r.Series)-1]
	if um, err := brine.ThicknessUM(end.NH3, face.SaltGPerM2, face.End.WaterGPerM2); err == nil {
		um = round4(um)
		f.FilmUM = &um
	}
	if at, ok, err := chamber.Halving(box, pad, openings, []chamber.Piece{piece}, chamber.Options{}); err != nil {
		return err
	} else if ok {
		f.HalvedAtH = timeOrNever(at.Hours())
	}
	if pad.Strength > 0 {
		var out *science.RangeError
		g, err := chamber.SolutionFor(box, pad.Strength, openings, last, 0.5)
		switch {
		case err == nil:
			f.SolutionForG = timeOrNever(g)
		case !errors.As(err, &out):
			return err
		}
	}
	if face.SaltGPerM2 > 0 {
		if b, err := film.ChlorideBudget(face.Salt, face.SaltGPerM2); err == nil {
			f.Budget = &chamberBudget{round4(b.MineralUM), film.HidingUM, round4(b.HidingSaltGPerM2), round4(b.CopperGPerM2), b.Verdict}
		}
	}
	if face.AreaM2 > 0 {
		g, err := film.CopperBoundG(face.Salt, face.SaltGPerM2, face.AmmoniaGM2, face.AreaM2)
		if err != nil {
			return err
		}
		f.CopperMostG = timeOrNever(g)
	}
	ledger := func(l chamber.Ledger) chamberLedger {
		return chamberLedger{round4(l.Start), round4(l.In), round4(l.Pad), round4(l.Air), round4(l.Films), round4(l.Leaked), round4(l.Opened)}
	}
	f.NH3, f.Water = ledger(r.Ammonia), ledger(r.Water)
	for _, a := range r.Assumed {
		f.Assumed = append(f.Assumed, assumed(a))
	}
	if len(openings) > 0 {
		f.Assumed = append(f.Assumed, assumed{"the air lost at an opening", fmt.Sprintf("%g of it where nothing else is said", chamber.DefaultLost), film.NoSource})
	}
	f.Cautions = append([]string{}, r.Cautions...)
	if pad.Strength > 0 {
		f.Cautions = append(f.Cautions, "Aerugo computes; the label, the safety data sheet and local rules come first.")
	}
	return nil
}

func round6(v float64) float64 { return math.Round(v*1e6) / 1e6 }

// tell writes the answer for people: the face first, then the cautions and the air.
func (f chamberFound) tell(t *term, r chamber.Forecast, last float64) {
	face := r.Pieces[0].Faces[0]
	said := func(h float64) string { return chamber.Spoken(hours(h)) }
	span := func() string {
		switch {
		case f.DissolvedHigh == nil && f.DissolvedLow == nil:
			return ""
		case f.DissolvedHigh == nil:
			return fmt.Sprintf(" (it may be %s, or not within %s)", said(*f.DissolvedLow), said(f.EndedAtH))
		}
		return fmt.Sprintf(" (between %s and %s)", said(*f.DissolvedLow), said(*f.DissolvedHigh))
	}
	switch {
	case face.SaltGPerM2 == 0 && f.FilmGM2 > 1:
		t.printf("There is no salt on the face; after %s it carries %.0f g/m² of liquid.\n", said(f.EndedAtH), f.FilmGM2)
	case face.SaltGPerM2 == 0:
		t.printf("There is no salt on the face, and it stays dry.\n")
	case f.DissolvedAtH == nil:
		t.printf("The salt will not have dissolved within %s: %.0f %% of it will%s.\n", said(f.EndedAtH), 100*f.Dissolved, span())
	case *f.DissolvedAtH == 0:
		t.printf("The salt dissolves at once in the water that is there; it is wet for %s.\n", said(f.WetTimeH))
	default:
		t.printf("The salt will have dissolved after %s%s; it is then wet for %s.\n", said(*f.DissolvedAtH), span(), said(f.WetTimeH))
	}
	for _, c := range f.Cautions {
		t.printf("caution: %s\n", c)
	}
	t.printf("\nThe air under the lid: ammonia %.3g kPa, %.3g %% by volume; humidity at the piece %.0f %%.\n", f.NH3KPa, f.NH3VolPct, 100*f.RHAtPiece)
	t.printf("The solution: %.3g wt%% once the air is filled, %.3g wt%% after %s.\n", 100*f.StrengthWt, 100*f.Series[len(f.Series)-1].StrengthWt, said(f.EndedAtH))
	if f.HalvedAtH != nil {
		t.printf("The ammonia has fallen to half after %s.\n", said(*f.HalvedAtH))
	} else {
		t.printf("The ammonia does not fall to half within 60 days.\n")
	}
	if g := f.SolutionForG; g != nil {
		t.printf("To keep at least half of the ammonia for %s it takes %.3g g of this solution.\n", said(last), *g)
	}
	if f.FilmGM2 > 0 && f.FilmUM != nil {
		t.printf("The liquid at the end: %.0f g/m², %.0f µm where it lies evenly.\n", f.FilmGM2, *f.FilmUM)
	}
	if b := f.Budget; b != nil {
		t.printf("The salt could make at most %.0f µm of basic copper chloride, and %.0f µm hide the metal: %s.\n", b.MineralUM, b.HidingUM, b.Verdict)
	}
	if f.CopperMostG != nil {
		t.printf("At most %.2g g of copper can be in what is rinsed off.\n", *f.CopperMostG)
	}
	t.printf("\nassumed:\n")
	for _, a := range f.Assumed {
		t.printf("  %s: %s (%s)\n", a.What, a.Value, a.Source)
	}
}
