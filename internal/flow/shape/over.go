package shape

import (
	"fmt"
	"math/rand/v2"

	"aerugo/internal/flow/form"
)

// Over is a piece looked over: every way up, the best first, and how it lies the way
// it stands.
type Over struct {
	Ways     []form.Way
	Standing form.Way
	Shade    form.Shade
	Thinned  int // triangles that were looked at, where the model has too many; 0: all
}

// most are the triangles up to which a model is looked over as it is.
const most = 40_000

// LookOver judges a piece in every way up and as it stands with up to the sky. Slopes
// as it stands are of the whole mesh; the rest is of a thinned one where it is large.
// The same dice give the same answer.
func LookOver(b Body, up form.Vec, dice *rand.Rand) (Over, error) {
	var o Over
	small, err := Thin(b.Mesh, most)
	if err != nil {
		return o, err
	}
	if small != b.Mesh {
		o.Thinned = small.Triangles()
	}
	if o.Ways, err = small.Ways(b.Both); err != nil {
		return o, err
	}
	o.Standing = form.Way{Name: "as it stands", Up: up}
	for _, w := range o.Ways {
		if dot(norm(w.Up), norm(up)) > 1-1e-9 {
			o.Standing.Name = w.Name
		}
	}
	if o.Standing.Slopes, err = b.Mesh.Slopes(up, b.Both); err != nil {
		return o, err
	}
	if o.Standing.Ponds, err = small.Ponds(up); err != nil {
		return o, err
	}
	for _, p := range o.Standing.Ponds {
		o.Standing.PondMM3 += p.VolumeMM3
		o.Standing.PondMM2 += p.WetMM2
	}
	o.Shade, err = small.Shade(up, b.Both, 800, dice)
	return o, err
}

// Advice says what to do about how a piece lies, each as a short sentence (common
// practice, no source).
func (o Over) Advice() (out []string) {
	w := o.Standing
	if w.PondMM3 > 50 {
		n := len(w.Ponds)
		where := "in 1 hollow"
		if n > 1 {
			where = fmt.Sprintf("in %d hollows", n)
		}
		out = append(out, fmt.Sprintf("Up to %.3g mL pools %s. Tip it out, or lay the piece %s, where less is held.", w.PondMM3/1000, where, o.Ways[0].Name))
		if o.Ways[0].PondMM3 >= w.PondMM3 {
			out[len(out)-1] = fmt.Sprintf("Up to %.3g mL pools %s, and no other way up holds less. Use little liquid as a fine mist, and soak up what gathers.", w.PondMM3/1000, where)
		}
	}
	if w.Slopes.Flat > 0.1 {
		out = append(out, fmt.Sprintf("%.0f %% lies level: liquid stays there longest. Mist it thinner there, or turn the piece half way through.", 100*w.Slopes.Flat))
	}
	if w.Slopes.Steep > 0.25 {
		out = append(out, fmt.Sprintf("From %.0f %% liquid runs off. Spray several thin mists and let each dry, or thicken the liquid to a gel, or lay side after side level in turn.", 100*w.Slopes.Steep))
	}
	if w.Slopes.Under > 0.15 {
		out = append(out, fmt.Sprintf("%.0f %% faces down: drops hang there and spray from above misses it. Spray it from below, or turn it over for a second go.", 100*w.Slopes.Under))
	}
	if o.Shade.Dark > 0.03 {
		out = append(out, fmt.Sprintf("%.0f %% lies in deep hollows, where fumes come slowly. Turn openings towards the pad and leave room before them; expect less colour there.", 100*o.Shade.Dark))
	}
	return out
}
