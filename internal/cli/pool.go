package cli

import (
	"fmt"
	"math"
	"strings"

	"aerugo/internal/science"
	"aerugo/internal/science/film"
	"aerugo/internal/studio"
)

type poolVerb struct {
	Liquid     string   `default:"water" placeholder:"NAME" help:"What lies on the metal: water, ammonia:10 (percent by mass after the colon) or detergent (water with a trace of it). For another give water and --tension-mn-m."`
	TensionMNM *float64 `name:"tension-mn-m" placeholder:"MN/M" help:"Its surface tension, if you know better."`
	Density    *float64 `name:"density-kg-m3" placeholder:"KG/M3" help:"Its density, if you know better."`
	TempC      *float64 `name:"temp-c" placeholder:"C" help:"Its temperature."`
	ContactDeg *float64 `name:"contact-deg" placeholder:"DEG" help:"Contact angle on this metal: 10 to 40 freshly degreased, 70 to 90 handled, more when oily."`
	FilmGM2    float64  `name:"film-g-m2" required:"" placeholder:"G" help:"Liquid on the face in grams a square metre (100 g/m2 is a film of 0.1 mm)."`
	LengthMM   float64  `name:"length-mm" required:"" placeholder:"MM" help:"Length of the face along the slope."`
	TiltDeg    *float64 `name:"tilt-deg" placeholder:"DEG" help:"Tilt of the face from level."`
	DropMM     *float64 `name:"drop-mm" placeholder:"MM" help:"Say too at which tilt a drop this wide slides; needs --receding-deg."`
	Receding   *float64 `name:"receding-deg" placeholder:"DEG" help:"Contact angle where liquid draws back, 20 to 50 less than --contact-deg."`
	Before     *string  `placeholder:"X,Y" help:"Turned-piece test: where the pool lay off the middle, mm to the right and up in the piece's own frame."`
	After      *string  `placeholder:"X,Y" help:"The same after the piece was turned where it lay."`
	TurnDeg    *float64 `name:"turn-deg" placeholder:"DEG" help:"By how much it was turned, anticlockwise from above."`
	SpreadMM   float64  `name:"spread-mm" default:"1" placeholder:"MM" help:"How far a second reading of the same pool would differ."`
	JSON       bool     `name:"json" help:"Answer in JSON."`
}

// Help is shown below the verb's usage.
func (poolVerb) Help() string {
	return `Says whether liquid stays where it was put: the height at which a puddle stops spreading, the share of the face it draws together over, and the tilt at which it runs to the low side. The cause is cohesion (it beads), gravity (it runs) or neither.

Without --contact-deg 60 ± 30 is assumed, without --tilt-deg level, without --temp-c 20. Edges, grain and greasy patches hold liquid in their own ways: take the numbers as sizes, not as edges.

` + exits
}

// poolFound is what pool reports. A slide angle is null when the drop holds even
// upright.
type poolFound struct {
	Liquid       string       `json:"liquid"`
	Cause        string       `json:"cause"`
	Nearly       bool         `json:"nearly_gravity"`
	Why          string       `json:"why"`
	PuddleMM     float64      `json:"puddle_mm"`
	PuddleRange  []float64    `json:"puddle_mm_range"`
	CapillaryMM  float64      `json:"capillary_mm"`
	FilmUM       float64      `json:"film_um"`
	Share        float64      `json:"island_share"`
	ShareRange   []float64    `json:"island_share_range"`
	CriticalTilt float64      `json:"critical_tilt_deg"`
	TiltRange    []float64    `json:"critical_tilt_deg_range"`
	LevelWithin  float64      `json:"level_within_deg"`
	RiseMM       float64      `json:"level_within_mm"`
	TensionMNM   float64      `json:"tension_mn_m"`
	DensityKgM3  float64      `json:"density_kg_m3"`
	Slide        *slideFound  `json:"drop,omitempty"`
	Turned       *turnedFound `json:"turned,omitempty"`
	Do           []advised    `json:"do"`
	Assumed      []assumed    `json:"assumed"`
}

type advised struct {
	Text   string `json:"text"`
	Source string `json:"source"`
}

type slideFound struct {
	VolumeUL float64    `json:"volume_ul"`
	Slides   *float64   `json:"slides_deg"`
	Range    []*float64 `json:"slides_deg_range"`
}

type turnedFound struct {
	Says    string  `json:"says"`
	Why     string  `json:"why"`
	StayP   float64 `json:"p_stays_with_piece"`
	FollowP float64 `json:"p_runs_to_low_side"`
	Rule    string  `json:"rule"`
}

// Run judges the lay.
func (v poolVerb) Run(t *term) error {
	f := poolFound{Assumed: []assumed{}}
	temp, contact, tilt, spread := commonTemp, 60.0, 0.0, 0.0
	given := func(from *float64, into *float64, what, value, source string) {
		if from != nil {
			*into = *from
			return
		}
		f.Assumed = append(f.Assumed, assumed{what, value, source})
	}
	given(v.TempC, &temp, "temperature", "20 °C", film.Practice)
	if v.ContactDeg == nil {
		spread = 30
	}
	given(v.ContactDeg, &contact, "contact angle", "60 ± 30°", "from memory; measure it from a photograph taken level with the metal")
	given(v.TiltDeg, &tilt, "tilt", "level", film.Practice)
	liquid, notes, err := liquidOf(v.Liquid, science.Celsius(temp))
	if err != nil {
		return err
	}
	f.Assumed = append(f.Assumed, notes...)
	if v.TensionMNM != nil {
		liquid.TensionNPerM = *v.TensionMNM / 1000
	}
	if v.Density != nil {
		liquid.DensityKgPerM3 = *v.Density
	}
	p, err := film.Judge(film.Lay{Liquid: liquid, ContactDeg: contact, ContactSpread: spread, FilmGPerM2: v.FilmGM2, LengthMM: v.LengthMM, TiltDeg: tilt})
	if err != nil {
		return outside(err)
	}
	pair := func(s film.Interval) []float64 { return []float64{round4(s.Low), round4(s.High)} }
	f.Liquid, f.Cause, f.Nearly, f.Why = liquid.Name, p.Cause, p.Nearly, p.Why
	f.PuddleMM, f.PuddleRange, f.CapillaryMM = round4(p.PuddleMM.Value), pair(p.PuddleMM), round4(p.CapillaryMM)
	f.FilmUM, f.Share, f.ShareRange = round4(p.FilmUM), round4(p.Share.Value), pair(p.Share)
	f.CriticalTilt, f.TiltRange = round4(p.CriticalTiltDeg.Value), pair(p.CriticalTiltDeg)
	f.LevelWithin, f.RiseMM = round4(p.LevelDeg), round4(p.RiseMM)
	f.TensionMNM, f.DensityKgM3 = round4(1000*liquid.TensionNPerM), round4(liquid.DensityKgPerM3)
	for _, a := range p.Do {
		f.Do = append(f.Do, advised{a.Text, a.Source})
	}
	for _, a := range p.Assumed {
		f.Assumed = append(f.Assumed, assumed{a.What, a.Value, a.Source})
	}
	if f.Slide, err = v.slide(liquid, contact); err != nil {
		return err
	}
	if f.Turned, err = v.turned(); err != nil {
		return err
	}
	if v.JSON {
		return t.asJSON(f)
	}
	f.tell(t)
	return nil
}

// slide answers --drop-mm.
func (v poolVerb) slide(l film.Liquid, contact float64) (*slideFound, error) {
	if v.DropMM == nil && v.Receding == nil {
		return nil, nil
	}
	if v.DropMM == nil || v.Receding == nil {
		return nil, studio.Problemf(studio.Invalid, "drop-mm", "--drop-mm and --receding-deg belong together: how wide the drop is and the angle where it draws back; write both or neither")
	}
	d := film.Drop{Liquid: l, BaseMM: *v.DropMM, AdvancingDeg: contact, RecedingDeg: *v.Receding}
	s, err := d.SlideDeg()
	if err != nil {
		return nil, outside(err)
	}
	volume, err := d.VolumeUL()
	if err != nil {
		return nil, outside(err)
	}
	end := func(deg float64) *float64 {
		if math.IsInf(deg, 1) {
			return nil
		}
		deg = round4(deg)
		return &deg
	}
	return &slideFound{round4(volume), end(s.Value), []*float64{end(s.Low), end(s.High)}}, nil
}

// turned answers --before, --after and --turn-deg.
func (v poolVerb) turned() (*turnedFound, error) {
	if v.Before == nil && v.After == nil && v.TurnDeg == nil {
		return nil, nil
	}
	if v.Before == nil || v.After == nil || v.TurnDeg == nil {
		return nil, studio.Problemf(studio.Invalid, "turn-deg", "--before, --after and --turn-deg belong together: where the pool lay, where it lies now, and by how much the piece was turned")
	}
	before, err := numbers("before", *v.Before, 2, "8,2")
	if err != nil {
		return nil, err
	}
	after, err := numbers("after", *v.After, 2, "8,2")
	if err != nil {
		return nil, err
	}
	got, err := film.TurnedPiece(film.Offset{RightMM: before[0], UpMM: before[1], SDMM: v.SpreadMM}, film.Offset{RightMM: after[0], UpMM: after[1], SDMM: v.SpreadMM}, *v.TurnDeg)
	if err != nil {
		return nil, outside(err)
	}
	return &turnedFound{got.Says, got.Why, round4(got.StayP), round4(got.FollowP), fmt.Sprintf("a cause with P below 0.05 is ruled out; readings spread by %g mm", v.SpreadMM)}, nil
}

// causeWords begin the answer for people.
var causeWords = map[string]string{
	film.Cohesion: "It beads: the liquid draws itself together.",
	film.Gravity:  "It runs: the tilt gathers the liquid on the low side.",
	film.Neither:  "Neither beading nor tilt should gather it.",
}

// tell writes the answer for people: the cause, what to do, then the numbers.
func (f poolFound) tell(t *term) {
	t.printf("%s\n", causeWords[f.Cause])
	if f.Nearly {
		t.printf("Watch the tilt too: it is more than half of what makes the whole lot run.\n")
	}
	t.printf("Why: %s.\n\n", f.Why)
	for i, a := range f.Do {
		t.printf("%d. %s (%s)\n", i+1, a.Text, strings.TrimSuffix(a.Source, "."))
	}
	t.printf("\nA puddle of %s stands %.2f mm high (%.2f to %.2f); the film is %s µm.\n", f.Liquid, f.PuddleMM, f.PuddleRange[0], f.PuddleRange[1], sized(f.FilmUM))
	t.printf("Drawn together it covers %.0f %% of the face (%.0f to %.0f %%).\n", 100*f.Share, 100*f.ShareRange[0], 100*f.ShareRange[1])
	t.printf("The whole lot runs at a tilt of %.1f° (%.1f to %.1f°); stay within %.1f°, %.1f mm over the face.\n", f.CriticalTilt, f.TiltRange[0], f.TiltRange[1], f.LevelWithin, f.RiseMM)
	if s := f.Slide; s != nil {
		at := "holds even upright"
		if s.Slides != nil {
			at = fmt.Sprintf("slides at %.0f°, give or take a quarter of its hold", *s.Slides)
		}
		t.printf("A drop of %s µL %s.\n", sized(s.VolumeUL), at)
	}
	if r := f.Turned; r != nil {
		t.printf("The turned piece says: %s; %s (P %.2g that it stays with the piece, %.2g that it runs).\n", r.Says, r.Why, r.StayP, r.FollowP)
	}
	for _, a := range f.Assumed {
		t.printf("Assumed: %s %s (%s).\n", a.What, a.Value, a.Source)
	}
}

const liquidForm = "water, detergent or ammonia:10, with percent by mass after the colon"

// liquidOf finds a liquid by its name. What had to be assumed is told beside.
func liquidOf(text string, t science.Celsius) (film.Liquid, []assumed, error) {
	name, strength, given := strings.Cut(strings.ToLower(strings.TrimSpace(text)), ":")
	bad := func(format string, args ...any) (film.Liquid, []assumed, error) {
		return film.Liquid{}, nil, studio.Problemf(studio.Invalid, "liquid", "--liquid: "+format, args...)
	}
	percent, ok := number(strings.TrimSuffix(strings.TrimSpace(strength), "%"))
	if given && (!ok || percent < 0 || percent > 100) {
		return bad("%q is no percent from 0 to 100; write %s", strength, liquidForm)
	}
	ammonia := name == "ammonia" || name == "ammonia-water" || name == "household-ammonia"
	var l film.Liquid
	var notes []assumed
	var err error
	switch {
	case ammonia && !given:
		return bad("how strong is the ammonia? Write it in percent, as in ammonia:10")
	case ammonia && !(percent >= 0 && percent <= 30):
		return bad("ammonia water comes as 0 to 30 %% by mass, not %v", percent)
	case ammonia:
		l, err = film.Ammonia(percent/100, t)
	case given:
		return bad("a strength is read for ammonia only; write %s, or water with --tension-mn-m and --density-kg-m3", liquidForm)
	case name == "water" || name == "distilled-water":
		l, err = film.Water(t)
	case name == "detergent":
		l, err = film.SoapyWater(t)
		notes = []assumed{{"surface tension", "30 mN/m", "0.005 mol/L of sodium dodecyl sulfate (Birdi, as quoted in an abstract)"}}
	default:
		return bad("%q is not known here; write %s, or water with --tension-mn-m and --density-kg-m3", text, liquidForm)
	}
	if err != nil {
		return film.Liquid{}, nil, outside(err)
	}
	return l, notes, nil
}
