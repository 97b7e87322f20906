package store

import (
	"math"
	"time"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// The JSON documents kept in columns. Fields carry their unit in their name, or
// in a field called unit beside them; a field that is absent is zero.

// amountDoc is the amount of a step or an event; value and sd are in unit.
type amountDoc struct {
	Value   float64 `json:"value"`
	SD      float64 `json:"sd,omitempty"`
	Unit    string  `json:"unit"`
	Hand    string  `json:"hand,omitempty"`
	Assumed bool    `json:"assumed,omitempty"`
}

func amountToDoc(a studio.Amount) *amountDoc {
	if a == (studio.Amount{}) {
		return nil
	}
	return &amountDoc{a.Value, a.SD, string(a.Unit), a.Hand, a.Assumed}
}

func (d *amountDoc) amount() studio.Amount {
	if d == nil {
		return studio.Amount{}
	}
	return studio.Amount{Value: d.Value, SD: d.SD, Unit: studio.Unit(d.Unit), Hand: d.Hand, Assumed: d.Assumed}
}

// stepDoc is one step of a recipe version or of a treatment.
type stepDoc struct {
	Kind      string     `json:"kind"`
	SupplyID  int64      `json:"supply_id,omitempty"`
	Material  string     `json:"material,omitempty"`
	Strength  float64    `json:"strength_wt_percent,omitempty"`
	Also      []partDoc  `json:"also,omitempty"`
	Amount    *amountDoc `json:"amount,omitempty"`
	Tool      string     `json:"tool,omitempty"`
	Faces     string     `json:"faces,omitempty"`
	Duration  float64    `json:"duration_s,omitempty"`
	Early     float64    `json:"early_s,omitempty"`
	Late      float64    `json:"late_s,omitempty"`
	ChamberID int64      `json:"chamber_id,omitempty"`
	Place     string     `json:"place,omitempty"`
	Note      string     `json:"note,omitempty"`
}

// partDoc is one more thing in the liquid of a step.
type partDoc struct {
	Material string  `json:"material"`
	Strength float64 `json:"strength_wt_percent,omitempty"`
}

// span returns s seconds as a duration. Below 60 days a float64 of seconds
// keeps whole nanoseconds.
func span(s float64) time.Duration { return time.Duration(math.Round(s * 1e9)) }

func stepsToDoc(steps []studio.Step) []stepDoc {
	out := make([]stepDoc, len(steps))
	for i, s := range steps {
		var also []partDoc
		for _, p := range s.Also {
			also = append(also, partDoc(p))
		}
		out[i] = stepDoc{string(s.Kind), s.SupplyID, s.Material, s.Strength, also, amountToDoc(s.Amount), s.Tool, string(s.Faces),
			s.Duration.Seconds(), s.Early.Seconds(), s.Late.Seconds(), s.ChamberID, s.Place, s.Note}
	}
	return out
}

func stepsOf(docs []stepDoc) []studio.Step {
	out := make([]studio.Step, len(docs))
	for i, d := range docs {
		out[i] = studio.Step{Kind: studio.StepKind(d.Kind), SupplyID: d.SupplyID, Material: d.Material, Strength: d.Strength,
			Amount: d.Amount.amount(), Tool: d.Tool, Faces: studio.Faces(d.Faces), Duration: span(d.Duration), Early: span(d.Early),
			Late: span(d.Late), ChamberID: d.ChamberID, Place: d.Place, Note: d.Note}
		for _, p := range d.Also {
			out[i].Also = append(out[i].Also, studio.Part(p))
		}
	}
	return out
}

// levelDoc is one level of a factor. Unit is that of number, by the factor's
// kind; it is written for readers of the file and not read back.
type levelDoc struct {
	Label    string  `json:"label"`
	Number   float64 `json:"number,omitempty"`
	Unit     string  `json:"unit,omitempty"`
	SupplyID int64   `json:"supply_id,omitempty"`
	Yes      bool    `json:"yes,omitempty"`
}

func levelToDoc(k studio.FactorKind, l studio.Level) levelDoc {
	return levelDoc{l.Label, l.Number, k.Unit(), l.SupplyID, l.Yes}
}

func (d levelDoc) level() studio.Level {
	return studio.Level{Label: d.Label, Number: d.Number, SupplyID: d.SupplyID, Yes: d.Yes}
}

// settingDoc is the level of one factor that a treatment received.
type settingDoc struct {
	Factor string   `json:"factor"`
	Kind   string   `json:"kind"`
	Level  levelDoc `json:"level"`
}

func settingsToDoc(settings []studio.Setting) []settingDoc {
	out := make([]settingDoc, len(settings))
	for i, s := range settings {
		out[i] = settingDoc{s.Factor, string(s.Kind), levelToDoc(s.Kind, s.Level)}
	}
	return out
}

func settingsOf(docs []settingDoc) []studio.Setting {
	var out []studio.Setting
	for _, d := range docs {
		out = append(out, studio.Setting{Factor: d.Factor, Kind: studio.FactorKind(d.Kind), Level: d.Level.level()})
	}
	return out
}

// factorDoc is one thing a set varies; step counts from 0.
type factorDoc struct {
	Name   string     `json:"name"`
	Kind   string     `json:"kind"`
	Step   int        `json:"step"`
	Levels []levelDoc `json:"levels"`
}

func factorsToDoc(factors []studio.Factor) []factorDoc {
	out := make([]factorDoc, len(factors))
	for i, f := range factors {
		d := factorDoc{f.Name, string(f.Kind), f.Step, make([]levelDoc, len(f.Levels))}
		for j, l := range f.Levels {
			d.Levels[j] = levelToDoc(f.Kind, l)
		}
		out[i] = d
	}
	return out
}

func factorsOf(docs []factorDoc) []studio.Factor {
	var out []studio.Factor
	for _, d := range docs {
		f := studio.Factor{Name: d.Name, Kind: studio.FactorKind(d.Kind), Step: d.Step}
		for _, l := range d.Levels {
			f.Levels = append(f.Levels, l.level())
		}
		out = append(out, f)
	}
	return out
}

// labDoc is a colour in CIELAB under D50.
type labDoc struct {
	L float64 `json:"l"`
	A float64 `json:"a"`
	B float64 `json:"b"`
}

func labToDoc(c colour.Lab) labDoc { return labDoc{c.L, c.A, c.B} }
func (d labDoc) lab() colour.Lab   { return colour.Lab{L: d.L, A: d.A, B: d.B} }

type pointDoc struct {
	X float64 `json:"x_px"`
	Y float64 `json:"y_px"`
}

type rectDoc struct {
	X float64 `json:"x_px"`
	Y float64 `json:"y_px"`
	W float64 `json:"w_px"`
	H float64 `json:"h_px"`
}

func rectToDoc(r *studio.Rect) *rectDoc {
	if r == nil {
		return nil
	}
	return &rectDoc{r.X, r.Y, r.W, r.H}
}

func (d *rectDoc) rect() *studio.Rect {
	if d == nil {
		return nil
	}
	return &studio.Rect{X: d.X, Y: d.Y, W: d.W, H: d.H}
}

// marksDoc is what a person showed on a photograph, in displayed pixels from
// the top left; corners go top left, top right, bottom right, bottom left.
type marksDoc struct {
	Corners *[4]pointDoc `json:"corners,omitempty"`
	Grey    *rectDoc     `json:"grey,omitempty"`
	GreyL   float64      `json:"grey_lab_l,omitempty"`
	Bare    *rectDoc     `json:"bare,omitempty"`
	BareLab *labDoc      `json:"bare_lab,omitempty"`
	BareOf  string       `json:"bare_of,omitempty"`
	OnMat   bool         `json:"on_mat,omitempty"`
	Target  string       `json:"target,omitempty"`
	Setup   int64        `json:"setup_id,omitempty"`
	Place   string       `json:"place,omitempty"`

	Reference  int64       `json:"bare_reference_id,omitempty"`
	BareSpread float64     `json:"bare_spread_de00,omitempty"`
	Trained    *trainedDoc `json:"trained,omitempty"`
}

func marksToDoc(m studio.Marks) marksDoc {
	d := marksDoc{Grey: rectToDoc(m.Grey), GreyL: m.GreyL, Bare: rectToDoc(m.Bare), BareOf: m.BareOf, OnMat: m.OnMat, Target: m.Target, Setup: m.Setup}
	d.Reference, d.BareSpread, d.Place = m.Reference, m.BareSpread, m.Place
	if m.Trained != nil {
		t := trainedToDoc(*m.Trained)
		d.Trained = &t
	}
	if m.Corners != nil {
		d.Corners = new([4]pointDoc)
		for i, p := range m.Corners {
			d.Corners[i] = pointDoc{p.X, p.Y}
		}
	}
	if m.BareLab != nil {
		lab := labToDoc(*m.BareLab)
		d.BareLab = &lab
	}
	return d
}

func (d marksDoc) marks() studio.Marks {
	m := studio.Marks{Grey: d.Grey.rect(), GreyL: d.GreyL, Bare: d.Bare.rect(), BareOf: d.BareOf, OnMat: d.OnMat, Target: d.Target, Setup: d.Setup}
	m.Reference, m.BareSpread, m.Place = d.Reference, d.BareSpread, d.Place
	if d.Trained != nil {
		r := d.Trained.rule()
		m.Trained = &r
	}
	if d.Corners != nil {
		m.Corners = new([4]studio.Point)
		for i, p := range d.Corners {
			m.Corners[i] = studio.Point{X: p.X, Y: p.Y}
		}
	}
	if d.BareLab != nil {
		lab := d.BareLab.lab()
		m.BareLab = &lab
	}
	return m
}

// patchDoc is one colour of a palette; share is a fraction of the face.
type patchDoc struct {
	Lab   labDoc  `json:"lab"`
	Share float64 `json:"share"`
	Name  string  `json:"name"`
}

func paletteToDoc(p []studio.PaletteEntry) []patchDoc {
	out := make([]patchDoc, len(p))
	for i, e := range p {
		out[i] = patchDoc{labToDoc(e.Lab), e.Share, e.Name}
	}
	return out
}

func paletteOf(docs []patchDoc) []studio.PaletteEntry {
	var out []studio.PaletteEntry
	for _, d := range docs {
		out = append(out, studio.PaletteEntry{Lab: d.Lab.lab(), Share: d.Share, Name: d.Name})
	}
	return out
}

// changeDoc is what a photograph's entry said before it was put right.
type changeDoc struct {
	Swatch     int64  `json:"swatch_number"`
	Face       string `json:"face"`
	Moment     string `json:"moment"`
	TakenAt    string `json:"taken_at"`
	TakenFrom  string `json:"taken_from"`
	Note       string `json:"note"`
	Salted     bool   `json:"salted,omitempty"`
	ThroughLid bool   `json:"through_lid,omitempty"`
}
