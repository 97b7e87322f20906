package cli

import (
	"fmt"
	"math"
	"strings"
	"time"

	"aerugo/internal/flow/scale"
	"aerugo/internal/science/chamber"
	"aerugo/internal/science/solution"
	"aerugo/internal/studio"
)

type scaleVerb struct {
	OutsideCM2 float64  `name:"outside-cm2" required:"" placeholder:"CM2" help:"Area of the piece's outside."`
	InsideCM2  float64  `name:"inside-cm2" default:"0" placeholder:"CM2" help:"Area of its inside, where that is treated too."`
	SizeMM     string   `name:"size-mm" placeholder:"L,W,H" help:"Length, width and height of the piece as it stands."`
	Count      int      `name:"count" default:"1" placeholder:"N" help:"How many pieces."`
	Together   int      `name:"together" default:"0" placeholder:"N" help:"How many go into the chamber at once; 0 for as many as fit."`
	MetalMM    float64  `name:"metal-mm" default:"0" placeholder:"MM" help:"How thick its metal is."`
	SwatchMM   string   `name:"swatch-mm" default:"50,50" placeholder:"W,H" help:"The swatch that the recipe was tried on."`
	WetMLM2    float64  `name:"wet-ml-m2" default:"0" placeholder:"ML" help:"Water put on first, mL/m2."`
	Tool       string   `name:"tool" default:"spray" placeholder:"T" help:"What puts it on: spray or brush."`
	Salt       string   `name:"salt" default:"sodium-chloride" placeholder:"KEY" help:"The salt sprinkled on it."`
	SaltGM2    float64  `name:"salt-g-m2" default:"0" placeholder:"G" help:"How much of it, g/m2."`
	Hours      float64  `name:"hours" required:"" placeholder:"H" help:"How long the swatch was fumed."`
	AmmoniaWt  *float64 `name:"ammonia-wt" placeholder:"W" help:"Strength of its ammonia by weight: 9 or 0.09 for 9 %."`
	FromL      float64  `name:"from-l" default:"0" placeholder:"L" help:"Litres of air under the lid of the swatch's chamber."`
	FromPadG   float64  `name:"from-pad-g" default:"0" placeholder:"G" help:"Grams of solution on its pad."`
	FromLeak   float64  `name:"from-leak-per-h" default:"0" placeholder:"N" help:"How often an hour its closed lid lets all its air be changed."`
	ToL        float64  `name:"to-l" default:"0" placeholder:"L" help:"Litres of air under the lid of the piece's chamber; left out, it is the swatch's."`
	ToMostG    float64  `name:"to-pad-most-g" default:"0" placeholder:"G" help:"What its pad can hold at most; 0 for no bound."`
	ToLeak     float64  `name:"to-leak-per-h" default:"0" placeholder:"N" help:"How often an hour its closed lid lets all its air be changed."`
	ToInnerMM  string   `name:"to-inner-mm" placeholder:"L,W,H" help:"Its inner length, width and height."`
	BottleWt   *float64 `name:"bottle-wt" placeholder:"W" help:"Strength of the ammonia bottle that the pad's solution is made of."`
	TempC      *float64 `name:"temp-c" placeholder:"C" help:"Temperature of the room."`
	ColderC    *float64 `name:"colder-c" placeholder:"C" help:"How much colder than the room the metal goes in."`
	RoomM3     float64  `name:"room-m3" default:"0" placeholder:"M3" help:"Volume of the room where the lid is lifted."`
	ACH        float64  `name:"ach" default:"0" placeholder:"N" help:"How often an hour that room's air is changed."`
	Mixing     float64  `name:"mixing" default:"3" placeholder:"K" help:"By what factor it mixes worse than perfectly, 1 to 10."`
	Outdoors   bool     `name:"outdoors" help:"The lid is lifted outdoors or under a hood."`
	Spare      *float64 `name:"spare" placeholder:"S" help:"What is made besides: 15 or 0.15 for 15 %."`
	JSON       bool     `name:"json" help:"Answer in JSON."`
}

// Help is shown below the verb's usage.
func (scaleVerb) Help() string {
	return `What a piece takes of a recipe tried on a swatch: liquid, salt and time by its area, and how much solution its chamber's pad takes so that the ammonia is as strong and the face as long wet as they were. What is not given is assumed, and said; what nobody can promise is listed, with what to try first.

In JSON strengths are fractions; a bound that is never reached is null. Where the ammonia may not be let out in the room nothing is said but that (--outdoors says that it won't be).

` + exits
}

// scaleSpan is a value with its bounds.
type scaleSpan struct {
	Value *float64 `json:"value"`
	Low   *float64 `json:"low"`
	High  *float64 `json:"high"`
}

func boundsOf(s scale.Span) scaleSpan {
	return scaleSpan{timeOrNever(s.Value), timeOrNever(s.Low), timeOrNever(s.High)}
}

// scaleFound is what scale reports.
type scaleFound struct {
	AreaM2      float64      `json:"treated_m2"`
	Lines       []scaleLine  `json:"steps"`
	Stock       []scaleStock `json:"make"`
	PadG        scaleSpan    `json:"pad_g"`
	PadWasG     float64      `json:"pad_was_g"`
	StrengthWt  float64      `json:"strength_wt"`
	WasWt       float64      `json:"strength_was_wt"`
	Charges     int          `json:"charges"`
	FumeH       scaleSpan    `json:"hours"`
	MeanPPM     float64      `json:"mean_ppm"`
	MeanWasPPM  float64      `json:"mean_was_ppm"`
	MeanKeptPPM float64      `json:"mean_if_nothing_changed_ppm"`
	Dissolves   scaleSpan    `json:"dissolves_h"`
	WetH        scaleSpan    `json:"wet_h"`
	NH3         scaleLedger  `json:"nh3_g"`
	HandsMin    scaleSpan    `json:"hands_min"`
	Loads       int          `json:"fillings"`
	Together    int          `json:"together"`
	Same        bool         `json:"nothing_changes"`
	Why         []string     `json:"why"`
	Open        string       `json:"lifting_the_lid"`
	Doubts      []scaleDoubt `json:"not_promised"`
	Trials      []scaleTrial `json:"try_first"`
	Assumed     []assumed    `json:"assumed"`
	Cautions    []string     `json:"cautions"`
}

type scaleLine struct {
	Step    string    `json:"step"`
	Unit    string    `json:"unit"`
	On      scaleSpan `json:"on_the_metal"`
	Take    scaleSpan `json:"taken"`
	Lost    float64   `json:"lost"`
	LostHow string    `json:"lost_as"`
}

type scaleStock struct {
	Name string    `json:"name"`
	Unit string    `json:"unit"`
	Need scaleSpan `json:"need"`
	Make float64   `json:"make"`
	Of   string    `json:"weigh,omitempty"`
}

type scaleLedger struct {
	Start  float64 `json:"start"`
	Air    float64 `json:"air"`
	Films  float64 `json:"films"`
	Leaked float64 `json:"leaked"`
}

type scaleDoubt struct {
	What string `json:"what"`
	Done string `json:"done"`
}

type scaleTrial struct {
	Piece string   `json:"piece"`
	Do    string   `json:"do"`
	Look  []string `json:"look_for"`
}

// Run reckons the piece.
func (v scaleVerb) Run(t *term) error {
	a, err := v.ask()
	if err != nil {
		return err
	}
	x, err := scale.Reckon(a)
	if err != nil {
		return v.named(err)
	}
	if x.Safe.Refused != "" {
		return studio.Problemf(studio.Unsafe, "room", "%s Then add --outdoors.", x.Safe.Refused)
	}
	f := v.found(x)
	if v.JSON {
		return t.asJSON(f)
	}
	v.tell(t, x, f)
	return nil
}

// named puts the option before a refusal.
func (v scaleVerb) named(err error) error {
	p := studio.ProblemIn(err)
	if p == nil {
		return outside(err)
	}
	option := map[string]string{"count": "count", "together": "together", "outside": "outside-cm2", "spare": "spare", "temp": "temp-c", "colder": "colder-c", "size": "size-mm", "inside": "inside-cm2"}[p.Field]
	if option == "" {
		return err
	}
	return studio.Problemf(p.Kind, option, "--%s: %s", option, strings.TrimSuffix(p.Text, "."))
}

// three reads sizes written like 300,200,120.
func three(option, text string, n int) (out [3]float64, err error) {
	if strings.TrimSpace(text) == "" {
		return out, nil
	}
	parts := strings.Split(text, ",")
	bad := studio.Problemf(studio.Invalid, option, "--%s: %q is not %d sizes in mm; write them like %s", option, text, n, strings.TrimSuffix(strings.Repeat("50,", n), ","))
	if len(parts) != n {
		return out, bad
	}
	for i, p := range parts {
		mm, ok := number(p)
		if !ok || !(mm > 0 && mm <= 1e5) {
			return out, bad
		}
		out[i] = mm
	}
	return out, nil
}

// ask reads the options.
func (v scaleVerb) ask() (scale.Ask, error) {
	a := scale.Ask{Count: v.Count, Together: v.Together, TempC: v.TempC, ColderC: v.ColderC, Open: v.Outdoors, Spare: -1, Metal: studio.Metal{ThicknessMM: v.MetalMM}}
	size, err := three("size-mm", v.SizeMM, 3)
	if err != nil {
		return a, err
	}
	side, err := three("swatch-mm", v.SwatchMM, 2)
	if err != nil {
		return a, err
	}
	inner, err := three("to-inner-mm", v.ToInnerMM, 3)
	if err != nil {
		return a, err
	}
	if v.Spare != nil {
		if a.Spare, err = fraction("spare", 0, v.Spare, 100); err != nil {
			return a, err
		}
	}
	if _, ok := solution.SaltOf(v.Salt); !ok {
		return a, studio.Problemf(studio.Invalid, "salt", "--salt: no salt here is called %q; these are: %s", v.Salt, saltKeys())
	}
	if !(v.Hours > 0 && v.Hours <= 1416) {
		return a, studio.Problemf(studio.Invalid, "hours", "--hours can't be %g; write a time above 0 and at most 1416 (59 days)", v.Hours)
	}
	strength, err := fraction("ammonia-wt", 0, v.AmmoniaWt, 30)
	if err != nil {
		return a, err
	}
	a.Form = studio.Form{Kind: "given by its areas", OutsideMM2: v.OutsideCM2 * 100, InsideMM2: v.InsideCM2 * 100, SizeMM: size}
	if size == [3]float64{} {
		a.Form.Kind = "sheet"
	}
	for _, c := range []struct {
		option    string
		got, most float64
	}{{"from-l", v.FromL, 5000}, {"to-l", v.ToL, 5000}, {"from-pad-g", v.FromPadG, 1e5}, {"to-pad-most-g", v.ToMostG, 1e5}, {"from-leak-per-h", v.FromLeak, 10}, {"to-leak-per-h", v.ToLeak, 10}, {"metal-mm", v.MetalMM, 50}, {"wet-ml-m2", v.WetMLM2, 2000}, {"salt-g-m2", v.SaltGM2, 2000}, {"room-m3", v.RoomM3, 1e5}, {"ach", v.ACH, 200}} {
		if !(c.got >= 0 && c.got <= c.most) {
			return a, studio.Problemf(studio.Invalid, c.option, "--%s can't be %g; write a number from 0 to %g", c.option, c.got, c.most)
		}
	}
	a.Room = studio.Room{VolumeM3: v.RoomM3, ACH: v.ACH, Mixing: v.Mixing}
	a.From.Chamber = studio.Chamber{ID: 1, Name: "the swatch's chamber", VolumeL: v.FromL, PadML: v.FromPadG, LeakPerH: v.FromLeak}
	a.To.Chamber = a.From.Chamber
	if v.ToL > 0 || v.ToMostG > 0 || v.ToLeak > 0 {
		a.To.Chamber = studio.Chamber{ID: 2, Name: "the piece's chamber", VolumeL: v.ToL, PadML: v.ToMostG, LeakPerH: v.ToLeak}
	}
	a.To.Chamber.LengthMM, a.To.Chamber.WidthMM, a.To.Chamber.HeightMM = inner[0], inner[1], inner[2]
	if v.BottleWt != nil {
		w, err := fraction("bottle-wt", 0, v.BottleWt, 30)
		if err != nil {
			return a, err
		}
		a.Supplies = append(a.Supplies, studio.Supply{ID: 1, Name: "ammonia", Material: "ammonia-water", Strength: 100 * w, StrengthUnit: studio.WtPercent})
	}
	p := scale.Part{Name: "the recipe", Faces: studio.OnFront, Swatch: studio.Swatch{Number: 1, WidthMM: side[0], HeightMM: side[1]}}
	if v.InsideCM2 > 0 {
		p.Faces = studio.OnBoth
	}
	if v.WetMLM2 > 0 {
		p.Steps = append(p.Steps, studio.Step{Kind: studio.Wet, Material: "water", Tool: v.Tool, Amount: studio.Amount{Value: v.WetMLM2, Unit: studio.MLPerM2}, Duration: time.Minute})
	}
	if v.SaltGM2 > 0 {
		p.Steps = append(p.Steps, studio.Step{Kind: studio.Sprinkle, Material: v.Salt, Amount: studio.Amount{Value: v.SaltGM2, Unit: studio.GramPerM2}, Duration: 2 * time.Minute})
	}
	p.Steps = append(p.Steps, studio.Step{Kind: studio.Fume, ChamberID: 1, Material: "ammonia-water", Strength: 100 * strength, Duration: hours(v.Hours)})
	a.Parts = []scale.Part{p}
	return a, nil
}

// found fills in the answer.
func (v scaleVerb) found(x scale.Takes) scaleFound {
	f := scaleFound{AreaM2: round4(float64(x.Count) * (x.PieceM2[0] + x.PieceM2[1])), Loads: x.Full.Loads, Together: x.Full.Together, HandsMin: boundsOf(x.Hands), Open: x.Safe.Short,
		Lines: []scaleLine{}, Stock: []scaleStock{}, Why: []string{}, Doubts: []scaleDoubt{}, Trials: []scaleTrial{}, Assumed: []assumed{}, Cautions: append([]string{}, x.Cautions...)}
	for _, l := range x.Lines {
		f.Lines = append(f.Lines, scaleLine{fmt.Sprintf("%s %s", l.Kind, l.Material), string(l.Unit), boundsOf(l.On), boundsOf(l.Take), round4(l.Lost.Value), l.Why})
	}
	for _, s := range x.Stock {
		k := scaleStock{Name: s.Name, Unit: string(s.Unit), Need: boundsOf(s.Need), Make: round4(s.Make)}
		if s.Strength > 0 {
			k.Name = fmt.Sprintf("%s, %.3g %%", s.Name, s.Strength)
		}
		if s.Mix != nil {
			k.Of = fmt.Sprintf("%.1f g of water, then %.1f g of the bottle", s.Mix.Mix.WaterG, s.Mix.Mix.StockG)
		}
		f.Stock = append(f.Stock, k)
	}
	s := x.Stays[0] // there is one fume step
	f.PadG, f.PadWasG, f.StrengthWt, f.WasWt, f.Charges = boundsOf(s.Solution), round4(s.PadWas.SolutionG), round6(s.Pad.Strength), round6(s.PadWas.Strength), s.Pad.Charges
	f.FumeH, f.MeanPPM, f.MeanWasPPM, f.MeanKeptPPM = boundsOf(s.H), math.Round(s.Is.PPM), math.Round(s.Was.PPM), math.Round(s.Kept.PPM)
	f.Dissolves, f.WetH, f.Same = boundsOf(s.Is.TakesH), boundsOf(s.Is.WetH), s.Same()
	f.NH3 = scaleLedger{round4(s.Is.Ammonia.Start), round4(s.Is.Ammonia.Air), round4(s.Is.Ammonia.Films), round4(s.Is.Ammonia.Leaked)}
	f.Why = append(f.Why, s.Why...)
	for _, d := range x.Doubts {
		f.Doubts = append(f.Doubts, scaleDoubt(d))
	}
	for _, w := range x.Wants {
		f.Trials = append(f.Trials, scaleTrial{w.Piece, w.Do, w.Look})
	}
	for _, a := range x.Assumed {
		f.Assumed = append(f.Assumed, assumed(a))
	}
	return f
}

// tell writes the answer for people.
func (v scaleVerb) tell(t *term, x scale.Takes, f scaleFound) {
	t.printf("Have ready:\n")
	for i, s := range x.Stock {
		t.printf("  %s of %s (needed: %s)\n", scale.Amount(s.Make, s.Unit), f.Stock[i].Name, scale.Range(s.Need, s.Unit))
		if f.Stock[i].Of != "" {
			t.printf("    weigh %s\n", f.Stock[i].Of)
		}
	}
	s := x.Stays[0]
	t.printf("\nOn the pad: %s", s.PadWords())
	if r := s.PadRange(); r != "" {
		t.printf(" (%s)", r)
	}
	t.printf("; the swatch had %s of %.3g %%.\n", scale.Amount(s.PadWas.SolutionG, studio.Gram), 100*s.PadWas.Strength)
	t.printf("In the chamber: %s", s.TimeWords())
	if r := s.TimeRange(); r != "" {
		t.printf(" (%s)", r)
	}
	t.printf("; the swatch stayed %s.\n", chamber.Spoken(hours(s.WasH)))
	t.printf("The face: %s; the swatch: %s.\n", s.Is.SaltWords(), s.Was.SaltWords())
	t.printf("%s\n", x.Full.Words)
	for _, w := range s.Why {
		t.printf("  %s.\n", w)
	}
	t.printf("Lifting the lid: %s. %s\n", x.Safe.Short, x.Safe.More)
	if h := x.Hands; h.Value > 0 {
		t.printf("Hands: about %.0f min (%.0f to %.0f).\n", h.Value, h.Low, h.High)
	}
	if x.Warm != nil {
		t.printf("%s\n", x.Warm.Words())
	}
	for _, l := range x.Lying {
		t.printf("%s\n", l.Says)
	}
	if len(x.Wants) > 0 {
		t.printf("\ntry first:\n")
		for _, w := range x.Wants {
			t.printf("  %s. %s\n    look for: %s\n", w.Piece, w.Do, strings.Join(w.Look, "; "))
		}
	}
	t.printf("\nnot promised:\n")
	for _, d := range x.Doubts {
		t.printf("  %s So: %s.\n", d.What, d.Done)
	}
	for _, c := range f.Cautions {
		t.printf("caution: %s\n", c)
	}
	t.printf("\nassumed:\n")
	for _, a := range f.Assumed {
		t.printf("  %s: %s (%s)\n", a.What, a.Value, a.Source)
	}
}
