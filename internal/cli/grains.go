package cli

import (
	"fmt"

	"aerugo/internal/flow/measure"
	"aerugo/internal/flow/scene"
	"aerugo/internal/picture"
	"aerugo/internal/studio"
)

type grainsVerb struct {
	Photo            string   `arg:"" name:"photograph" help:"A photograph of the salted face before it is fumed: JPEG, PNG, WebP or HEIC."`
	Corners          *string  `placeholder:"X,Y,X,Y,X,Y,X,Y" help:"The face's corners in pixels from the top left: top left, top right, bottom right, bottom left. Without them the whole picture is the face."`
	Size             *string  `placeholder:"W,H" help:"The face's real width and height in mm; the weighed face's too."`
	Mat              bool     `help:"The faces lie on Aerugo's printed mat: find corners and sizes by it."`
	ReferencePhoto   *string  `placeholder:"FILE" help:"A photograph, taken from as far, of a face whose salt was weighed."`
	ReferenceCorners *string  `placeholder:"X,Y,X,Y,X,Y,X,Y" help:"The corners of the weighed face in its photograph; those of --corners if nothing is said."`
	ReferenceGM2     *float64 `name:"reference-g-m2" placeholder:"G" help:"What was weighed, in grams a square metre of the face."`
	ReferenceSD      *float64 `name:"reference-sd" placeholder:"G" help:"The spread (standard deviation) of that weighing, in g/m2; 0 if nothing is said."`
	JSON             bool     `name:"json" help:"Answer in JSON."`
}

// Help is shown below the verb's usage.
func (grainsVerb) Help() string {
	return `It counts grains that are lighter than the metal, lie in one layer and cover at most about a third of the face. Intervals are 95 %. The loading (g/m2) holds for the weighed salt only: another grain size weighs otherwise for the area it covers.

` + exits
}

// grainsFound is what grains reports.
type grainsFound struct {
	File      string       `json:"file"`
	Count     int          `json:"count"`
	Low       float64      `json:"low"`
	High      float64      `json:"high"`
	Covered   float64      `json:"covered"`
	ReadShare float64      `json:"read_share"`
	PerCM2    *float64     `json:"per_cm2,omitempty"`
	TypicalMM *float64     `json:"typical_mm,omitempty"`
	Clumped   int          `json:"clumped"`
	Shine     float64      `json:"shine"`
	Rule      string       `json:"rule"`
	Loading   *loadingRead `json:"loading,omitempty"`
	Warnings  []string     `json:"warnings"`
}

type loadingRead struct {
	Value float64     `json:"value"`
	Low   float64     `json:"low"`
	High  float64     `json:"high"`
	Unit  studio.Unit `json:"unit"`
	Rule  string      `json:"rule"`
}

// Run counts the grains.
func (v grainsVerb) Run(t *term) error {
	if (v.ReferencePhoto == nil) != (v.ReferenceGM2 == nil) {
		return studio.Problemf(studio.Invalid, "reference-photo", "--reference-photo and --reference-g-m2 belong together: the photograph of the weighed face and what it holds; write both or neither")
	}
	if v.ReferencePhoto == nil && (v.ReferenceCorners != nil || v.ReferenceSD != nil) {
		return studio.Problemf(studio.Invalid, "reference-photo", "--reference-corners and --reference-sd say more of a weighed face; name its photograph with --reference-photo, or leave them out")
	}
	if v.Mat && (v.Corners != nil || v.Size != nil || v.ReferenceCorners != nil) {
		return studio.Problemf(studio.Invalid, "mat", "--mat finds corners and sizes itself; leave --corners, --reference-corners and --size out, or --mat")
	}
	var size measure.Size
	var marks studio.Marks
	var err error
	if v.Size != nil {
		if size, err = realSize(*v.Size); err != nil {
			return err
		}
	}
	if v.Corners != nil {
		if marks.Corners, err = corners("corners", *v.Corners); err != nil {
			return err
		}
	}
	weighed := marks
	if v.ReferenceCorners != nil {
		if weighed.Corners, err = corners("reference-corners", *v.ReferenceCorners); err != nil {
			return err
		}
	}
	g, err := v.count(v.Photo, marks, size)
	if err != nil {
		return err
	}
	found := grainsFound{File: v.Photo, Count: g.Count, Low: round4(g.Low), High: round4(g.High), Covered: round4(g.CoveredShare),
		ReadShare: round4(g.ReadShare), Clumped: g.Clumped, Shine: round4(g.ShineShare), Rule: g.Rule, Warnings: append([]string{}, g.Warnings...)}
	if g.PerCM2Read > 0 {
		per, width := round4(g.PerCM2), round4(g.TypicalMM)
		found.PerCM2, found.TypicalMM = &per, &width
	}
	if v.ReferencePhoto != nil {
		if found.Loading, err = v.loading(g, weighed, size); err != nil {
			return err
		}
	}
	if v.JSON {
		return t.asJSON(found)
	}
	found.tell(t)
	return nil
}

// loading tells the loading by the weighed face.
func (v grainsVerb) loading(g measure.GrainCount, marks studio.Marks, size measure.Size) (*loadingRead, error) {
	on, err := v.count(*v.ReferencePhoto, marks, size)
	if err != nil {
		return nil, err
	}
	sd := 0.0
	if v.ReferenceSD != nil {
		sd = *v.ReferenceSD
	}
	ref, err := on.Weighed(*v.ReferenceGM2, sd)
	if err != nil {
		return nil, err
	}
	l, err := ref.Loading(g)
	if err != nil {
		return nil, err
	}
	return &loadingRead{round4(l.Value), round4(l.Low), round4(l.High), l.Unit, l.Rule}, nil
}

// count counts the grains in one file.
func (v grainsVerb) count(file string, marks studio.Marks, size measure.Size) (g measure.GrainCount, err error) {
	err = withPicture(file, newRoom(mostAtOnce), func(img *picture.Image) error {
		s, err := scene.Look(img, scene.Want{Mat: v.Mat})
		if err != nil {
			return err
		}
		if v.Mat {
			var ok bool
			if marks, size, ok = s.Face(0); !ok {
				return s.Swatches[0].Problem
			}
		}
		g, err = measure.Grains(img, marks, size, s.Under())
		return err
	})
	if err != nil && studio.ProblemIn(err) == nil {
		return g, fmt.Errorf("count grains in %s: %w", file, err)
	}
	return g, err
}

// tell writes the answer for people.
func (r grainsFound) tell(t *term) {
	t.printf("%s: %d grains (%.0f to %.0f), covering %.1f %% of the face\n", r.File, r.Count, r.Low, r.High, 100*r.Covered)
	if r.PerCM2 != nil {
		t.printf("  %.1f a square centimetre, each about %.2f mm across\n", *r.PerCM2, *r.TypicalMM)
	}
	if l := r.Loading; l != nil {
		t.printf("  loading %.3g g/m² (%.3g to %.3g), %s\n", l.Value, l.Low, l.High, l.Rule)
	}
	t.printf("  grain: %s\n", r.Rule)
	for _, w := range r.Warnings {
		t.printf("  note: %s\n", w)
	}
}
