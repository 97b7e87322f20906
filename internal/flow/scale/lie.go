package scale

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"aerugo/internal/flow/pool"
	"aerugo/internal/science"
	"aerugo/internal/science/chamber"
	"aerugo/internal/science/film"
	"aerugo/internal/science/solution"
	"aerugo/internal/studio"
)

// A Lying is the wettest moment of one part on the piece: whether its liquid stays
// where it is put. Flat is set for a flat piece, Was and Is are then the swatch's and
// the piece's lay. On a piece that is not flat KeepsGPerM2 is what an upright side keeps
// of FilmGPerM2 after ten minutes, as a mean over its height, and RunsML what runs down
// from the steep faces of all pieces at once.
type Lying struct {
	Part        int
	Step        int
	Words       string // what lies there
	Flat        bool
	Was, Is     pool.Lay
	FilmGPerM2  float64
	HeightMM    float64
	KeepsGPerM2 Span
	RunsML      Span
	Ponds       []string
	Says        string
	Unknown     string
}

// flatAtMM is the height up to which a piece counts as lying flat.
const flatAtMM = 6.0

// Flat reports whether a form is flat sheet lying down.
func Flat(f studio.Form) bool {
	switch {
	case f.Format == "SVG" || f.Format == "DXF":
		return true
	case f.SizeMM[2] > flatAtMM:
		return false
	case f.SizeMM[0] > 0 && f.SizeMM[1] > 0:
		return true
	}
	return slices.Contains([]string{"rectangle", "disc", "polygon", "sheet"}, strings.ToLower(f.Kind))
}

// lie judges where liquid lies on the piece.
func (t *Takes) lie() {
	for i, p := range t.Parts {
		steps := slices.Clone(p.Steps)
		for k := range steps {
			steps[k].Amount = p.perArea(steps[k])
		}
		tried, _ := p.tried()
		job := func(b Bench, x studio.Swatch) pool.Job {
			s := slices.Clone(steps)
			for k := range s {
				s[k].ChamberID = b.Chamber.ID
			}
			return pool.Job{Treatment: studio.Treatment{Faces: p.Faces, Steps: s}, Swatch: x, Supplies: t.Supplies, Chambers: []studio.Chamber{b.Chamber}, TempC: t.TempC}
		}
		was := pool.Lays(job(t.From, tried))
		if len(was) == 0 {
			continue
		}
		w := was[0]
		l := Lying{Part: i, Step: w.Step, Words: w.Words, Was: w, FilmGPerM2: w.FilmGPerM2, Unknown: w.Unknown, Flat: Flat(t.Form), HeightMM: t.Form.SizeMM[2]}
		switch {
		case l.Unknown != "":
			l.Says = "Where its liquid lies can't be reckoned: " + l.Unknown + "."
		case l.Flat:
			t.flat(&l, job)
		default:
			t.upright(&l, p)
		}
		t.Lying = append(t.Lying, l)
	}
}

// flat compares the lay on the swatch with that on a flat piece: the longer it is, the
// less tilt it takes until all runs to one side.
func (t *Takes) flat(l *Lying, job func(Bench, studio.Swatch) pool.Job) {
	size := t.Form.SizeMM
	if size[0] == 0 || size[1] == 0 {
		side := math.Sqrt(t.Form.OutsideMM2)
		size[0], size[1] = side, side
		t.assume("length and width of the flat piece", fmt.Sprintf("%.0f mm each, as its area", side))
	}
	is := pool.Lays(job(t.To, studio.Swatch{WidthMM: size[0], HeightMM: size[1]}))
	if len(is) == 0 || is[0].Unknown != "" {
		l.Unknown = "its liquid lies outside what the formulas hold for"
		l.Says = capital(l.Unknown) + "."
		return
	}
	l.Is = is[0]
	l.Says = fmt.Sprintf("%s, by the reckoning. It has to lie level within %.2g° (the swatch: %.2g°): one end no more than %.1f mm above the other.", l.Is.Short(), l.Is.LevelDeg, l.Was.LevelDeg, l.Is.RiseMM)
}

const (
	drained = 10 * time.Minute
	soon    = 2 * time.Minute
	late    = time.Hour
	// thick is how much thicker than water a strong brine is.
	thick = 2.0
)

// upright reckons what runs off steep faces: the mean film on an upright side after
// draining (Jeffreys 1930).
func (t *Takes) upright(l *Lying, p Part) {
	for _, pond := range t.ponds() {
		l.Ponds = append(l.Ponds, pond)
	}
	if l.HeightMM == 0 {
		l.HeightMM = math.Sqrt(t.Form.OutsideMM2)
		t.assume("height of the piece", fmt.Sprintf("%.0f mm, as a square of its outside", l.HeightMM))
	}
	temp := chamber.DefaultTemp
	if t.TempC != nil {
		temp = science.Celsius(*t.TempC)
	}
	mu, err := film.WaterViscosity(temp)
	density, derr := solution.WaterDensity(temp)
	if err != nil || derr != nil || l.HeightMM > 5000 {
		l.Unknown = "its sides lie outside what the formulas hold for"
		l.Says = capital(l.Unknown) + "."
		return
	}
	keeps := func(viscosity float64, after time.Duration) float64 {
		um, err := film.Slope{ViscosityPaS: viscosity, DensityKgPerM3: float64(density), TiltDeg: 90}.MeanUM(max(l.HeightMM, 0.001), after)
		if err != nil {
			return math.NaN()
		}
		return um * float64(density) / 1000 // µm are mL/m²
	}
	l.KeepsGPerM2 = Span{Value: keeps(mu, drained), Low: keeps(mu, late), High: keeps(mu*thick, soon)}
	steep := Span{Value: 0.5, Low: 0, High: 1}
	if t.Lie != nil {
		x := t.Lie.Slopes.Steep + t.Lie.Slopes.Under
		steep = Span{Value: x, Low: x, High: x}
	} else {
		t.assume("share of the faces that is steep", "50 % (0 to 100)")
	}
	m2 := t.faceM2(p.Faces) * float64(t.Full.Together)
	runs := func(keeps, share float64) float64 { return max(l.FilmGPerM2-keeps, 0) * share * m2 } // 1 g is about 1 mL
	l.RunsML = Span{Value: runs(l.KeepsGPerM2.Value, steep.Value), Low: runs(l.KeepsGPerM2.High, steep.Low), High: runs(l.KeepsGPerM2.Low, steep.High)}
	if l.FilmGPerM2 <= l.KeepsGPerM2.Low {
		l.Says = fmt.Sprintf("What lies on it (%.0f g/m²) is thin enough to stay on its upright sides too.", l.FilmGPerM2)
		return
	}
	l.Says = fmt.Sprintf("An upright side %.0f mm high keeps about %.0f g/m² of liquid after ten minutes (%.0f to %.0f), and the recipe comes to %.0f: about %.2g mL (%.2g to %.2g) run down and gather at the foot. Mist it on in thin coats, each dry before the next, or turn the piece; put a cloth under it.",
		l.HeightMM, l.KeepsGPerM2.Value, l.KeepsGPerM2.Low, l.KeepsGPerM2.High, l.FilmGPerM2, l.RunsML.Value, l.RunsML.Low, l.RunsML.High)
}

// ponds says where pools stand, the largest three.
func (t *Takes) ponds() (out []string) {
	if t.Lie == nil {
		return nil
	}
	for _, p := range t.Lie.Ponds[:min(3, len(t.Lie.Ponds))] {
		out = append(out, p.Words())
	}
	return out
}
