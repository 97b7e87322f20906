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
	if w.PondMM3 > 500 {
		n := len(w.Ponds)
		where := "in 1 hollow"
		if n > 1 {
			where = fmt.Sprintf("in %d hollows", n)
		}
		if best := o.Ways[0]; best.PondMM3 < w.PondMM3 {
			out = append(out, fmt.Sprintf("Up to %s pools %s. Tip it out, or lay the piece %s, where less is held.", liquid(w.PondMM3), where, best.Name))
		} else {
			out = append(out, fmt.Sprintf("Up to %s pools %s, and no other way up holds less. Use little liquid as a fine mist, and soak up what gathers.", liquid(w.PondMM3), where))
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

// liquid writes a volume of liquid.
func liquid(mm3 float64) string {
	if mm3 < 999.5e3 {
		return fmt.Sprintf("%.3g mL", mm3/1000)
	}
	return fmt.Sprintf("%.3g L", mm3/1e6)
}

// WaySays says what becomes of liquid one way up.
func WaySays(w form.Way) string {
	pools := "nothing pools"
	if w.PondMM3 > 0 {
		pools = "up to " + liquid(w.PondMM3) + " pools"
	}
	return fmt.Sprintf("%s; %.0f %% lies level, %.0f %% faces down", pools, 100*w.Slopes.Flat, 100*w.Slopes.Under)
}

// PoolSays says what a pool holds.
func PoolSays(p form.Pond) string {
	return fmt.Sprintf("A pool up to %.3g mm deep holds up to %s and wets %.3g cm².", p.DeepestMM, liquid(p.VolumeMM3), p.WetMM2/100)
}
