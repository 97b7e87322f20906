package demo

import (
	"fmt"
	"math"
	"sort"

	"aerugo/internal/flow/measure"
	"aerugo/internal/picture"
	"aerugo/internal/studio"
)

// roll is one face's photographs in the order they were taken: the first, bare,
// is what the later ones are measured against.
type roll struct {
	swatch studio.Swatch
	shots  []Shot
	moment []studio.Moment
}

// rolls returns the chapter's photographs by face.
func (c *chapter) rolls(swatches []studio.Swatch) []roll {
	type side struct {
		piece int
		face  studio.Face
	}
	shots := append([]shot(nil), c.shots...)
	sort.SliceStable(shots, func(i, j int) bool { return shots[i].taken.Before(shots[j].taken) })
	var order []side
	of := map[side]*roll{}
	count := map[side]uint64{}
	for _, sh := range shots {
		k := side{sh.piece, sh.face}
		if of[k] == nil {
			of[k] = &roll{swatch: swatches[sh.piece]}
			order = append(order, k)
		}
		count[k]++
		n := uint64(c.piece(sh.piece))
		r := of[k]
		r.shots = append(r.shots, shotOf(swatches[sh.piece], sh, n, count[k]))
		r.moment = append(r.moment, sh.moment)
	}
	var rolls []roll
	for _, k := range order {
		rolls = append(rolls, *of[k])
	}
	return rolls
}

// shotOf returns the Shot of one photograph of piece n, the nth of its face.
func shotOf(sw studio.Swatch, sh shot, n, nth uint64) Shot {
	chance := chanceOf(n, sideOf(sh.face), nth, 9)
	return Shot{
		Number: sw.Number, Face: sh.face, Look: sh.look, WidthMM: sw.WidthMM, HeightMM: sw.HeightMM,
		Taken: sh.taken, Light: lightOf(sh.session), Upright: chance.Float64() < 0.2,
		Piece: chanceOf(n, sideOf(sh.face), 10).Uint64(), Chance: chance.Uint64(),
	}
}

// lightOf returns the lamp of a session.
func lightOf(session uint64) Light {
	rng := chanceOf(session, 11)
	warm := 0.06 * rng.NormFloat64() // above 0 a warm lamp
	warm = max(-0.09, min(0.12, warm+0.02))
	return Light{
		Cast:     [3]float64{1 + warm, 1, 1 - 1.25*warm},
		Exposure: 0.86 + 0.18*rng.Float64(),
		Slope:    0.02 + 0.03*rng.Float64(),
		From:     6.28 * rng.Float64(),
	}
}

// client is the key a photograph is kept under, so that it is kept once.
func (s Shot) client() string {
	return fmt.Sprintf("demo-photo-%d-%s-%d", s.Number, s.Face, s.Taken.Unix())
}

// measure reads the photograph the way a careful person would have it read:
// with the corners and the grey card marked, against the same face when bare; a
// bare face against its own middle.
func (s Shot) measure(data []byte, bare *studio.Measurement) (studio.Measurement, error) {
	img, err := picture.Decode(data)
	if err != nil {
		return studio.Measurement{}, err
	}
	marks := s.Marks()
	if bare != nil {
		lab := bare.Lab
		marks.BareLab, marks.BareOf = &lab, "the same face before anything was put on"
	} else {
		marks.Bare = middle(*marks.Corners)
	}
	return measure.Measure(img, marks, measure.Size{WidthMM: s.WidthMM, HeightMM: s.HeightMM})
}

// middle returns the upright rectangle about the middle of a face that takes
// four fifths of each of its sides.
func middle(corners [4]studio.Point) *studio.Rect {
	var x, y float64
	for _, c := range corners {
		x, y = x+c.X/4, y+c.Y/4
	}
	w, h := 0.8*(corners[1].X-corners[0].X), 0.8*(corners[3].Y-corners[0].Y)
	return &studio.Rect{X: math.Round(x - w/2), Y: math.Round(y - h/2), W: math.Round(w), H: math.Round(h)}
}
