package form

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Chamber is the room inside a box in mm; Height is upright.
type Chamber struct{ LengthMM, WidthMM, HeightMM float64 }

// Fit says whether and how a piece goes into a chamber.
type Fit struct {
	Fits bool
	// TurnDeg are the turns that bring it there from how the model is drawn, in degrees:
	// about x, then y, then z, by the right hand.
	TurnDeg [3]float64
	Size    Vec     // the box round the piece, turned
	SpareMM float64 // what is left of the tightest side, below 0 by how much it is too large
	Upright bool    // as drawn, turned about the upright only
}

// fitStep is the step in degrees of the turns that are tried about each axis; the best
// few are then turned on by smaller and smaller steps, down to fitFine.
const (
	fitStep = 10.0
	fitFine = 0.2
)

// FitsIn finds how the piece fits a chamber, keeping gapMM free on every side: as
// drawn if it can, else turned about the upright by whole degrees, else any way
// over: in steps of 10 degrees about each axis, and on from the best of them as long
// as it gains room. The box round the turned piece is exact but for rounding, all
// corners looked at; that no other way is better by a little is not proven.
func (m *Mesh) FitsIn(c Chamber, gapMM float64) (Fit, error) {
	if err := sizes(named{"length", "inner length of the chamber", c.LengthMM}, named{"width", "inner width of the chamber", c.WidthMM}, named{"height", "inner height of the chamber", c.HeightMM}); err != nil {
		return Fit{}, err
	}
	room := Vec{c.LengthMM - 2*gapMM, c.WidthMM - 2*gapMM, c.HeightMM - 2*gapMM}
	if !(gapMM >= 0 && min(room.X, room.Y, room.Z) > 0) {
		return Fit{}, bad("gap", "A gap of %.4g mm on every side leaves no room in a chamber %.4g by %.4g by %.4g mm.", gapMM, c.LengthMM, c.WidthMM, c.HeightMM)
	}
	if len(m.pts) == 0 {
		return Fit{}, bad("model", "The model has no corners.")
	}
	h := newHull(m)
	asDrawn := h.best(room, [][3]float64{{0, 0, 0}})
	if asDrawn.Fits {
		return asDrawn, nil
	}
	var turns [][3]float64
	for z := 1.0; z < 180; z++ {
		turns = append(turns, [3]float64{0, 0, z})
	}
	upright := h.best(room, turns)
	if upright.Fits {
		return upright, nil
	}
	fit := h.search(room)
	for _, f := range []Fit{upright, asDrawn} { // no turn that gains nothing
		if f.SpareMM >= fit.SpareMM-1e-9 {
			fit = f
		}
	}
	return fit, nil
}

// Words says how the piece fits.
func (f Fit) Words() string {
	size := fmt.Sprintf("%.0f by %.0f by %.0f mm", f.Size.X, f.Size.Y, f.Size.Z)
	if !f.Fits {
		return fmt.Sprintf("It does not fit: at best it takes %s, %.0f mm too much.", size, math.Ceil(-f.SpareMM))
	}
	how := "as drawn"
	switch t := f.TurnDeg; {
	case f.Upright && t[2] != 0:
		how = fmt.Sprintf("turned %.0f degrees about the upright", t[2])
	case !f.Upright:
		how = fmt.Sprintf("laid over: turned %.0f degrees about x, %.0f about y and %.0f about z", t[0], t[1], t[2])
	}
	return fmt.Sprintf("It fits %s: it takes %s and leaves %.0f mm on the tightest side.", how, size, math.Floor(f.SpareMM))
}

// hull is some outermost corners of a mesh: enough to tell how large the mesh is in
// the directions that were asked for.
type hull struct {
	m   *Mesh
	pts []Vec
}

// newHull takes the outermost corners in some directions.
func newHull(m *Mesh) *hull {
	h := &hull{m: m}
	const n = 192
	dirs := make([]Vec, 0, n)
	for i := range n { // half a sphere, evenly, by the golden angle
		z := (float64(i) + 0.5) / n
		sin, cos := math.Sincos(float64(i) * math.Pi * (3 - math.Sqrt(5)))
		r := math.Sqrt(1 - z*z)
		dirs = append(dirs, Vec{r * cos, r * sin, z})
	}
	h.reach(dirs)
	return h
}

// reach adds the outermost corners both ways in each direction and returns the
// mesh's extent in them.
func (h *hull) reach(dirs []Vec) []float64 {
	type ends struct {
		lo, hi     float32
		least, top int32
	}
	e := make([]ends, len(dirs))
	d32 := make([][3]float32, len(dirs))
	for k, d := range dirs {
		e[k] = ends{math.MaxFloat32, -math.MaxFloat32, 0, 0}
		d32[k] = [3]float32{float32(d.X), float32(d.Y), float32(d.Z)}
	}
	p := h.m.pts
	for i := 0; i+2 < len(p); i += 3 {
		x, y, z := p[i], p[i+1], p[i+2]
		for k := range d32 {
			d := &d32[k]
			v := x*d[0] + y*d[1] + z*d[2]
			if v < e[k].lo {
				e[k].lo, e[k].least = v, int32(i/3)
			}
			if v > e[k].hi {
				e[k].hi, e[k].top = v, int32(i/3)
			}
		}
	}
	out := make([]float64, len(dirs))
	for k, d := range dirs {
		a, b := h.m.at(e[k].least), h.m.at(e[k].top)
		out[k] = b.sub(a).dot(d)
		for _, v := range []Vec{a, b} {
			if !slices.Contains(h.pts, v) {
				h.pts = append(h.pts, v)
			}
		}
	}
	return out
}

// spare is how much of the room is left by the corners kept: no less than the truth.
func (h *hull) spare(room Vec, turn [3]float64) float64 {
	x, y, z := rows(turn)
	lo := Vec{math.Inf(1), math.Inf(1), math.Inf(1)}
	hi := lo.times(-1)
	for _, p := range h.pts {
		q := Vec{p.dot(x), p.dot(y), p.dot(z)}
		lo, hi = lo.least(q), hi.most(q)
	}
	s := room.sub(hi.sub(lo))
	return min(s.X, s.Y, s.Z)
}

// tried is a turn and the room that it seems to leave.
type tried struct {
	turn  [3]float64
	spare float64
}

func sortTried(list []tried) {
	slices.SortStableFunc(list, func(a, b tried) int { return cmp.Compare(b.spare, a.spare) })
}

// best returns the turn of those given that leaves the most room. The best by the
// corners kept is held against all corners, which adds what was lacking, until none
// that is left promises more than a thousandth of the piece's size over it.
func (h *hull) best(room Vec, turns [][3]float64) Fit {
	list := make([]tried, len(turns))
	for i, t := range turns {
		list[i] = tried{t, h.spare(room, t)}
	}
	sortTried(list)
	var best Fit
	const most = 16 // turns held against all corners: a ball lies alike on every side
	close := h.m.Box().Size().length() / 1000
	for i := 0; i < min(len(list), most); i++ {
		if i > 0 && list[i].spare <= best.SpareMM+close {
			break
		}
		if i > 0 && h.spare(room, list[i].turn) <= best.SpareMM {
			continue
		}
		x, y, z := rows(list[i].turn)
		size := h.reach([]Vec{x, y, z})
		f := Fit{TurnDeg: list[i].turn, Size: Vec{size[0], size[1], size[2]}, Upright: list[i].turn[0] == 0 && list[i].turn[1] == 0}
		s := room.sub(f.Size)
		f.SpareMM = min(s.X, s.Y, s.Z)
		f.Fits = f.SpareMM >= 0
		if i == 0 || f.SpareMM > best.SpareMM {
			best = f
		}
	}
	return best
}

// search tries turns about all axes. A box turned half round is the same, so that
// half turns about each cover all boxes.
func (h *hull) search(room Vec) Fit {
	const few, rounds = 12, 3
	var all []tried
	for x := 0.0; x < 180; x += fitStep {
		for y := 0.0; y < 180; y += fitStep {
			for z := 0.0; z < 180; z += fitStep {
				all = append(all, tried{turn: [3]float64{x, y, z}})
			}
		}
	}
	var best Fit
	for round := range rounds { // each knows more corners than the one before
		for i := range all {
			all[i].spare = h.spare(room, all[i].turn)
		}
		sortTried(all)
		var turns [][3]float64
		for _, t := range all[:few] {
			turns = append(turns, t.turn, h.climb(room, t).turn)
		}
		if round > 0 {
			turns = append(turns, best.TurnDeg, h.climb(room, tried{best.TurnDeg, h.spare(room, best.TurnDeg)}).turn)
		}
		if f := h.best(room, turns); round == 0 || f.SpareMM > best.SpareMM {
			best = f
		}
	}
	return best
}

// climb turns on about one axis at a time as long as that leaves more room, by
// halving steps.
func (h *hull) climb(room Vec, t tried) tried {
	for step := fitStep / 2; step >= fitFine; step /= 2 {
		for gained := true; gained; {
			gained = false
			for axis := range 3 {
				for _, by := range [2]float64{-step, step} {
					next := t
					next.turn[axis] += by
					if next.spare = h.spare(room, next.turn); next.spare > t.spare+1e-9 {
						t, gained = next, true
					}
				}
			}
		}
	}
	return t
}

// rows are the axes of the chamber in the model's directions, after turns about x,
// then y, then z.
func rows(deg [3]float64) (x, y, z Vec) {
	sx, cx := sincosDeg(deg[0])
	sy, cy := sincosDeg(deg[1])
	sz, cz := sincosDeg(deg[2])
	return Vec{cz * cy, cz*sy*sx - sz*cx, cz*sy*cx + sz*sx},
		Vec{sz * cy, sz*sy*sx + cz*cx, sz*sy*cx - cz*sx},
		Vec{-sy, cy * sx, cy * cx}
}

// sincosDeg is exact at quarter turns, so that what fits exactly does.
func sincosDeg(deg float64) (sin, cos float64) {
	switch math.Mod(deg, 360) {
	case 0:
		return 0, 1
	case 90:
		return 1, 0
	case 180:
		return 0, -1
	case 270:
		return -1, 0
	}
	return math.Sincos(deg * math.Pi / 180)
}
