package cli

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"path/filepath"

	"aerugo/internal/flow/measure"
	"aerugo/internal/flow/scene"
	"aerugo/internal/picture"
	"aerugo/internal/studio"
)

const examplesHelp = `A file of examples is {"unit": "mm", "strokes": [{"class": "bare", "radius": 2, "points": [[5, 10], [12, 10]]}]}: places and radius in mm from the face's top left corner, which needs --size or --mat; or with "unit": "face" from 0 to 1 across and down the face, the radius in widths. The rule is regularised discriminant analysis in CIELAB (Friedman 1989); the answer says how many examples are told wrong when left out. Too few examples, or ones that contradict each other, are refused.`

// mostExamples is the largest file of examples read, in bytes.
const mostExamples = 4 << 20

// examplesFile is what a person painted, outside a studio.
type examplesFile struct {
	Unit    string `json:"unit"`
	Strokes []struct {
		Class  string       `json:"class"`
		Radius float64      `json:"radius"`
		Points [][2]float64 `json:"points"`
	} `json:"strokes"`
}

// examplesUsed is what the answer says of the rule that judged a photograph.
type examplesUsed struct {
	Of            string         `json:"of"`
	Lambda        float64        `json:"lambda"`
	Gamma         float64        `json:"gamma"`
	Patches       int            `json:"patches"`
	Wrong         float64        `json:"wrong"`
	WrongByStroke *float64       `json:"wrong_by_stroke,omitempty"`
	Classes       []exampleClass `json:"classes"`
}

type exampleClass struct {
	Name   string  `json:"name"`
	Places int     `json:"places"`
	Wrong  float64 `json:"wrong"`
}

func usedIn(m studio.Measurement) *examplesUsed {
	r := m.Marks.Trained
	if r == nil {
		return nil
	}
	u := &examplesUsed{Of: r.Of, Lambda: r.Lambda, Gamma: r.Gamma, Patches: r.Patches, Wrong: round4(r.Wrong), Classes: []exampleClass{}}
	if r.WrongStroke >= 0 {
		w := round4(r.WrongStroke)
		u.WrongByStroke = &w
	}
	for _, e := range r.Errors {
		u.Classes = append(u.Classes, exampleClass{e.Class, e.N, round4(e.Wrong)})
	}
	return u
}

// readExamples reads a file of examples as strokes in the unit it names.
func readExamples(data []byte) (unit string, strokes []studio.Stroke, err error) {
	bad := func(format string, args ...any) error {
		return studio.Problemf(studio.Invalid, "examples", "--examples: "+format, args...)
	}
	var f examplesFile
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(&f); err != nil {
		return "", nil, bad("the file can't be read as examples (%v); it reads like %s", err, `{"unit": "mm", "strokes": [{"class": "bare", "radius": 2, "points": [[5, 10]]}]}`)
	}
	if _, err := d.Token(); err != io.EOF {
		return "", nil, bad("there is more in the file after the examples; keep one object in it")
	}
	if f.Unit != "mm" && f.Unit != "face" {
		return "", nil, bad("the unit %q is not one of places on a face; write mm or face", f.Unit)
	}
	for _, s := range f.Strokes {
		x := studio.Stroke{Class: s.Class, RadiusMM: s.Radius}
		for _, p := range s.Points {
			x.Points = append(x.Points, studio.Point{X: p[0], Y: p[1]})
		}
		strokes = append(strokes, x)
	}
	if err := studio.CheckStrokes(strokes); err != nil {
		return "", nil, bad("%v", err)
	}
	return f.Unit, strokes, nil
}

// learn trains the rule from the examples on the first photograph; nil without any.
func (v measureVerb) learn(j job) (*studio.TrainedRule, error) {
	if v.Show == nil {
		return nil, nil
	}
	f, err := openFile(*v.Show, "a file of examples")
	if err != nil {
		return nil, err
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, mostExamples+1))
	if err != nil || len(data) > mostExamples {
		return nil, studio.Problemf(studio.Invalid, "examples", "--examples: %s can't be read as examples; it must be JSON of at most %d MB", *v.Show, mostExamples>>20)
	}
	unit, strokes, err := readExamples(data)
	if err != nil {
		return nil, err
	}
	var rule studio.TrainedRule
	err = withPicture(v.Photos[0], newRoom(mostAtOnce), func(img *picture.Image) error {
		s, err := scene.Look(img, j.want)
		if err != nil {
			return err
		}
		marks, size := j.marks, j.size
		if j.want.Mat {
			var ok bool
			if marks, size, ok = s.Face(0); !ok {
				return s.Swatches[0].Problem
			}
			marks.GreyL = j.marks.GreyL
		}
		known := size != measure.Size{}
		switch {
		case unit == "mm" && !known:
			return studio.Problemf(studio.Invalid, "examples", "--examples: places in mm need the face's size; give it with --size, or write the places with the unit face")
		case unit == "face" && known:
			for i := range strokes {
				strokes[i].RadiusMM *= size.WidthMM
				for k := range strokes[i].Points {
					strokes[i].Points[k].X *= size.WidthMM
					strokes[i].Points[k].Y *= size.HeightMM
				}
			}
		}
		rule, err = measure.Learn(img, marks, size, s.Under(), strokes, nil)
		return err
	})
	if err != nil {
		if p := studio.ProblemIn(err); p != nil {
			return nil, studio.Problemf(p.Kind, "examples", "%s: %s", v.Photos[0], p.Text)
		}
		return nil, fmt.Errorf("learn from examples on %s: %w", v.Photos[0], err)
	}
	rule.Of = filepath.Base(v.Photos[0])
	return &rule, nil
}
