package last

import (
	"math"
	"slices"

	"aerugo/internal/flow/measure"
	"aerugo/internal/science/colour"
	"aerugo/internal/science/stat"
	"aerugo/internal/studio"
)

// Conf is the confidence of every interval here.
const Conf = 0.90

// A Cut is the line between the two halves of a face, from A to B in fractions of
// its width and height from the top left, and the side that is sealed: "right",
// "left", "top" or "bottom".
type Cut struct {
	A, B   studio.Point
	Sealed string
}

// MiddleCut is the cut along the middle that makes a half on the named side.
func MiddleCut(sealed string) Cut {
	if sealed == "top" || sealed == "bottom" {
		return Cut{studio.Point{X: 0, Y: 0.5}, studio.Point{X: 1, Y: 0.5}, sealed}
	}
	return Cut{studio.Point{X: 0.5, Y: 0}, studio.Point{X: 0.5, Y: 1}, sealed}
}

// Sides are the halves a face can be sealed on.
var Sides = []string{"right", "left", "top", "bottom"}

// sideMiddle is the middle of each side of a face.
var sideMiddle = map[string]studio.Point{"right": {X: 1, Y: 0.5}, "left": {X: 0, Y: 0.5}, "top": {X: 0.5, Y: 0}, "bottom": {X: 0.5, Y: 1}}

// distance is how far p lies from the line, in fractions of the face; positive on
// one side.
func (c Cut) distance(p studio.Point) float64 {
	dx, dy := c.B.X-c.A.X, c.B.Y-c.A.Y
	return (dx*(p.Y-c.A.Y) - dy*(p.X-c.A.X)) / math.Hypot(dx, dy)
}

// check reports a Problem for a line that does not part the face.
func (c Cut) check() error {
	middle, ok := sideMiddle[c.Sealed]
	if !ok {
		return studio.Problemf(studio.Invalid, "side", "Say which half is sealed: right, left, top or bottom; %q is none.", c.Sealed)
	}
	for _, p := range []studio.Point{c.A, c.B} {
		if !(p.X >= 0 && p.X <= 1 && p.Y >= 0 && p.Y <= 1) {
			return studio.Problemf(studio.Invalid, "line", "The line between the halves leaves the face; both its ends must lie on it.")
		}
	}
	if math.Hypot(c.B.X-c.A.X, c.B.Y-c.A.Y) < 0.3 {
		return studio.Problemf(studio.Invalid, "line", "The line between the halves is too short to part the face; draw it from edge to edge.")
	}
	if math.Abs(c.distance(middle)) < 0.1 {
		return studio.Problemf(studio.Invalid, "line", "The line runs along the %s edge, so that half has no room; draw it nearer the middle.", c.Sealed)
	}
	return nil
}

// A Half is what was read of one half: its mean colour, and the share that shines.
type Half struct {
	Lab   colour.Lab
	Shine float64
}

// Halves are the two halves of one face in one photograph. DE is CIEDE2000 between
// them; Low and High its 90 % interval by the unevenness of this one face. What the
// halves differed by before they were sealed is in it unless [Halves.Since] took it
// out.
type Halves struct {
	Open, Sealed  Half
	DE, Low, High float64
	Calibrated    bool
}

// blocks is how many blocks lie along each side of a face. Neighbouring places are
// alike, so a block counts as one.
const blocks = 6

// margin is how near the line a place may lie and still be read, in fractions of the
// face: wax creeps.
const margin = 0.03

// ReadHalves reads the two halves of a straightened face. Errors are
// *studio.Problem: a line that does not part it, or too little left of a half.
func ReadHalves(face measure.Straight, cut Cut) (Halves, error) {
	out := Halves{Calibrated: face.Calibrated}
	if err := cut.check(); err != nil {
		return out, err
	}
	sign := 1.0
	if cut.distance(sideMiddle[cut.Sealed]) < 0 {
		sign = -1
	}
	type pile struct {
		sum colour.XYZ
		n   int
	}
	var all [2]pile
	var ys [2][]float64
	parts := [2]map[int]*pile{{}, {}}
	for i, xyz := range face.XYZ {
		if !face.Usable[i] {
			continue
		}
		p := studio.Point{X: (float64(i%face.W) + 0.5) / float64(face.W), Y: (float64(i/face.W) + 0.5) / float64(face.H)}
		d := sign * cut.distance(p)
		if math.Abs(d) < margin {
			continue
		}
		side := 0
		if d > 0 {
			side = 1
		}
		block := int(p.Y*blocks)*blocks + int(p.X*blocks)
		if parts[side][block] == nil {
			parts[side][block] = &pile{}
		}
		for _, at := range []*pile{&all[side], parts[side][block]} {
			at.sum.X += xyz.X
			at.sum.Y += xyz.Y
			at.sum.Z += xyz.Z
			at.n++
		}
		ys[side] = append(ys[side], xyz.Y)
	}
	mean := func(p pile) colour.Lab {
		n := float64(p.n)
		return colour.XYZ{X: p.sum.X / n, Y: p.sum.Y / n, Z: p.sum.Z / n}.Lab(colour.D50)
	}
	least := len(face.XYZ) / blocks / blocks / 4
	var labs [2][]colour.Lab
	for side := range labs {
		for b := range blocks * blocks { // in order, so that sums come out the same each time
			if p := parts[side][b]; p != nil && p.n >= max(least, 1) {
				labs[side] = append(labs[side], mean(*p))
			}
		}
		if len(labs[side]) < 4 {
			return out, studio.Problemf(studio.Invalid, "line", "Too little of the %s half can be read; draw the line nearer the middle, or photograph it again without glare.", [2]string{"open", "sealed"}[side])
		}
	}
	out.Open = Half{mean(all[0]), shine(ys[0])}
	out.Sealed = Half{mean(all[1]), shine(ys[1])}
	out.DE = colour.Difference(out.Open.Lab, out.Sealed.Lab)
	along := compass(out.Open.Lab, out.Sealed.Lab)
	var scalars [2][]float64
	for side := range labs {
		for _, l := range labs[side] {
			scalars[side] = append(scalars[side], along(l))
		}
	}
	w, err := stat.WelchDifference(scalars[0], scalars[1])
	if err != nil || w.SE == 0 || math.IsNaN(w.SE) {
		out.Low, out.High = out.DE, out.DE // not a place differs from its half
		return out, nil
	}
	lo, hi, err := w.Interval(Conf)
	if err != nil {
		return out, err
	}
	out.Low, out.High = max(0, out.DE-(hi-lo)/2), out.DE+(hi-lo)/2
	return out, nil
}

// Since returns the shift with what the halves differed by before taken out: the
// open half as it is now, and as it would be sealed.
func (h Halves) Since(before *Halves) (from, to colour.Lab) {
	from, to = h.Open.Lab, h.Sealed.Lab
	if before != nil {
		to = plus(to, minus(before.Open.Lab, before.Sealed.Lab))
		to.L = min(max(to.L, 0), 100)
	}
	return from, to
}

// shine is the share of places far brighter than the half as a whole: glare off a
// gloss.
func shine(ys []float64) float64 {
	sorted := slices.Sorted(slices.Values(ys))
	limit := max(2.5*sorted[len(sorted)/2], 0.3)
	n := 0
	for _, y := range ys {
		if y >= limit {
			n++
		}
	}
	return float64(n) / float64(len(ys))
}

func plus(a, b colour.Lab) colour.Lab  { return colour.Lab{L: a.L + b.L, A: a.A + b.A, B: a.B + b.B} }
func minus(a, b colour.Lab) colour.Lab { return colour.Lab{L: a.L - b.L, A: a.A - b.A, B: a.B - b.B} }

// inTerms turns a shift away from a colour into the parts that CIEDE2000 weighs:
// lightness, chroma and hue, each in dE00 units, at that colour. They are the three
// weighted terms without the turning term RT, which matters for blues alone.
func inTerms(at, to colour.Lab) [3]float64 {
	t := colour.Terms(at, to)
	turn := t.H2P - t.H1P
	switch {
	case turn > 180:
		turn -= 360
	case turn < -180:
		turn += 360
	}
	dh := 2 * math.Sqrt(t.C1P*t.C2P) * math.Sin(turn/2*math.Pi/180)
	return [3]float64{(to.L - at.L) / t.SL, (t.C2P - t.C1P) / t.SC, dh / t.SH}
}

// compass returns how far a colour lies from one colour towards another, in dE00
// units.
func compass(from, to colour.Lab) func(colour.Lab) float64 {
	way := unit(inTerms(from, to))
	return func(l colour.Lab) float64 {
		v := inTerms(from, l)
		return v[0]*way[0] + v[1]*way[1] + v[2]*way[2]
	}
}

// unit is v shortened to length 1; lightness where v is nothing.
func unit(v [3]float64) [3]float64 {
	n := math.Sqrt(v[0]*v[0] + v[1]*v[1] + v[2]*v[2])
	if n < 1e-9 {
		return [3]float64{1, 0, 0}
	}
	return [3]float64{v[0] / n, v[1] / n, v[2] / n}
}
