package scene

import (
	"math"

	"aerugo/internal/flow/measure"
	"aerugo/internal/flow/target"
	"aerugo/internal/picture"
	"aerugo/internal/studio"
)

// seen reads what of the scene stays the same from one photograph to the next.
func (s Scene) seen(img *picture.Image, marks studio.Marks, camera string) target.Seen {
	out := target.Seen{Camera: camera, Space: img.Space, Target: s.samples, GreyL: marks.GreyL}
	if s.Flat != nil {
		v := s.Flat.Paper(s.from)
		out.White = &v
	}
	if r := marks.Grey; r != nil {
		if v, ok := target.ReadGrey(img, *r); ok {
			if gain := s.gain(); gain != nil {
				g := gain(studio.Point{X: r.X + r.W/2, Y: r.Y + r.H/2})
				v = [3]float64{v[0] * g[0], v[1] * g[1], v[2] * g[2]}
			}
			out.Grey = &v
		}
	}
	return out
}

// Keep makes a setup of the camera and lamp that took a photograph: by the colour
// target in it, else by its grey card. What can't be kept is a *studio.Problem.
func (s Scene) Keep(img *picture.Image, photo studio.Photo, marks studio.Marks, name, lamp string) (studio.Setup, error) {
	which := ""
	if s.note != nil {
		which = s.note.Target
	}
	x, err := target.Keep(name, lamp, s.seen(img, marks, photo.Camera), s.correction, which, photo.Taken)
	x.Photo = photo.ID
	return x, err
}

// UnderSetup is [Scene.Under] for a photograph said to be taken with a kept setup.
// A target of its own still corrects it; else the kept correction does, brought to
// this photograph's light. The Note says which setup, how old, and what has
// drifted. notes says what could not be compared. A setup that can't be used is a
// *studio.Problem.
func (s Scene) UnderSetup(img *picture.Image, photo studio.Photo, marks studio.Marks, x studio.Setup) (u measure.Under, notes []string, err error) {
	u = s.Under()
	reuse, err := target.Use(x, s.seen(img, marks, photo.Camera))
	if s.correction != nil {
		if err != nil {
			return u, []string{"Whether the kept setup has drifted could not be told. " + err.Error()}, nil
		}
		note := *s.note
		note.Setup, note.Age, note.Drift = x.Name, photo.Taken.Sub(x.Taken), reuse.Drift
		u.Note = &note
		return u, nil, nil
	}
	if err != nil {
		return u, nil, err
	}
	u.Correct = reuse.Correct
	u.Note = &studio.Correction{Target: x.Target, Method: x.Method, Patches: reuse.Patches, LOOMean: x.LOOMean, LOOP95: x.LOOP95,
		Setup: x.Name, Age: photo.Taken.Sub(x.Taken), By: reuse.By, Drift: reuse.Drift}
	return u, nil, nil
}

// SizeOf returns the real size of a face on the mat from its corners, by a print
// whose 100 mm line measures rulerMM. ok is false without a mat.
func (s Scene) SizeOf(corners [4]studio.Point, rulerMM float64) (size measure.Size, ok bool) {
	if s.Mat == nil {
		return size, false
	}
	side := func(i, j int) float64 {
		a, b := s.Mat.Page(corners[i]), s.Mat.Page(corners[j])
		return math.Hypot(a.X-b.X, a.Y-b.Y)
	}
	return Scaled(measure.Size{WidthMM: (side(0, 1) + side(3, 2)) / 2, HeightMM: (side(0, 3) + side(1, 2)) / 2}, rulerMM), true
}

// Scaled returns a size read on the mat as it is in truth, by a print whose
// 100 mm line measures rulerMM.
func Scaled(size measure.Size, rulerMM float64) measure.Size {
	k := rulerMM / studio.RulerLineMM
	return measure.Size{WidthMM: size.WidthMM * k, HeightMM: size.HeightMM * k}
}
