// Package target finds the 24-patch colour target in a photograph, or takes it
// from four marks, and reads its patches.
package target

import (
	"math"

	"aerugo/internal/picture"
	"aerugo/internal/science/colour"
	"aerugo/internal/science/target"
	"aerugo/internal/studio"
)

const patches = target.Columns * target.Rows

// Found is a target in a picture.
type Found struct {
	Centres     [patches]studio.Point // picture pixels, in the reference's order
	Mirrored    bool                  // the picture shows it as in a mirror
	Correlation float64               // of the patches with the reference, at most 1
	Readings    []Reading             // one for each patch, in the reference's order
	space       colour.Space
}

// Limits for a target. Common practice, no source.
const (
	// FewestPatches must be readable and of about their colour.
	FewestPatches    = 20
	leastCorrelation = 0.80
	leastLook        = 0.50 // before a closer look
	leastPitch       = 5.0  // picture pixels from patch to patch
)

// Find looks for the whole target at any turn, upside down and mirrored too. It
// refuses with a *studio.Problem when there is none, or when fewer than
// [FewestPatches] patches can be read. ref must have the 24 patches in the order
// of the reference.
func Find(img *picture.Image, ref target.Reference) (*Found, error) {
	if len(ref.Patches) != patches {
		return nil, refuse("The reference has %d patches; only targets of %d (6 by 4) are found. Mark a grey patch instead.", len(ref.Patches), patches)
	}
	sharp := newView(img)
	var best candidate
	for _, v := range []*view{sharp.smooth(), sharp} {
		all := v.squares()
		for _, l := range lattices(all) {
			if c := v.place(all, l, ref); c.score > best.score {
				best = c
			}
		}
		if best.correlation > 0.9 {
			break
		}
	}
	if best.score == 0 {
		return nil, refuse("No 24-patch colour target was found in the picture. Put the whole target in the picture, flat and evenly lit, each patch at least 10 pixels wide, or mark the centres of its four corner patches.")
	}
	s := 1 / sharp.scale
	h := plane{s, 0, 0.5*s - 0.5, 0, s, 0.5*s - 0.5, 0, 0, 1}.times(best.h)
	return read(img, ref, h)
}

// Marked takes the target from the centres of its corner patches, marked in the
// order brown, bluish green, black, white: patches 1, 6, 24 and 19 of the
// reference. It refuses as [Find] does.
func Marked(img *picture.Image, ref target.Reference, corners [4]studio.Point) (*Found, error) {
	if len(ref.Patches) != patches {
		return nil, refuse("The reference has %d patches; only targets of %d (6 by 4) can be marked. Mark a grey patch instead.", len(ref.Patches), patches)
	}
	names := [4]string{"brown", "bluish green", "black", "white"}
	for i, p := range corners {
		if !(p.X >= -0.5 && p.Y >= -0.5 && p.X <= float64(img.Width)-0.5 && p.Y <= float64(img.Height)-0.5) {
			return nil, refuse("The mark on the %s corner patch is at %.0f, %.0f, outside the %d x %d picture. Put it on the patch's centre.", names[i], p.X, p.Y, img.Width, img.Height)
		}
	}
	sign := 0.0
	for i := range corners {
		p, c, n := corners[(i+3)%4], corners[i], corners[(i+1)%4]
		a, b := math.Hypot(c.X-p.X, c.Y-p.Y), math.Hypot(n.X-c.X, n.Y-c.Y)
		sine := ((c.X-p.X)*(n.Y-c.Y) - (c.Y-p.Y)*(n.X-c.X)) / (a * b)
		if !(math.Abs(sine) > 0.25) || sign*sine < 0 {
			return nil, refuse("The four marks do not make a four-sided figure that a target could have. Mark the centres of the brown, bluish green, black and white corner patches, in that order.")
		}
		sign = sine
	}
	last, down := float64(target.Columns-1), float64(target.Rows-1)
	h, ok := fitPlane([]studio.Point{{}, {X: last}, {X: last, Y: down}, {Y: down}}, corners[:])
	if !ok {
		return nil, refuse("The four marks lie in one line. Mark the centres of the four corner patches.")
	}
	return read(img, ref, h)
}

// Samples returns the patches that can be used to fit a correction.
func (f *Found) Samples() []target.Sample {
	var out []target.Sample
	for _, r := range f.Readings {
		if r.Fault == "" {
			out = append(out, target.Sample{Patch: r.Patch, RGB: r.RGB})
		}
	}
	return out
}

// Correction fits a correction to the patches; see [target.Fit].
func (f *Found) Correction() (target.Correction, error) {
	c, err := target.Fit(f.Samples(), f.space)
	if err != nil {
		return c, refuse("The target was found, but its patches cannot carry a correction: too few can be read, or its greys do not rise from dark to light. Expose so that no patch is burnt out, and keep glare off the target.")
	}
	return c, nil
}

func refuse(format string, args ...any) error {
	return studio.Problemf(studio.Invalid, "target", format, args...)
}

// candidate is a way to lay the target on a view.
type candidate struct {
	h           plane
	correlation float64
	score       float64
}

// place lays the target on a lattice in every way there is room for: both ways
// round, four turns, and moved where the lattice is not whole.
func (v *view) place(all []square, l lattice, ref target.Reference) (best candidate) {
	low, high := [2]int{99, 99}, [2]int{-99, -99}
	for c := range l {
		for i := range c {
			low[i], high[i] = min(low[i], c[i]), max(high[i], c[i])
		}
	}
	for _, across := range []bool{false, true} {
		size := [2]int{target.Columns, target.Rows}
		if across {
			size = [2]int{target.Rows, target.Columns}
		}
		for x := low[0] - size[0] + 3; x <= high[0]-2; x++ {
			for y := low[1] - size[1] + 3; y <= high[1]-2; y++ {
				var cells [][2]int
				var to []studio.Point
				for c, i := range l {
					if c[0] >= x && c[0] < x+size[0] && c[1] >= y && c[1] < y+size[1] {
						cells = append(cells, c)
						to = append(to, all[i].at)
					}
				}
				if len(cells) < fewestSquares {
					continue
				}
				for turn := 0; turn < 4; turn++ {
					from := make([]studio.Point, len(cells))
					for i, c := range cells {
						col, row := c[0]-x, c[1]-y
						if across {
							col, row = row, col
						}
						if turn&1 != 0 {
							col = target.Columns - 1 - col
						}
						if turn&2 != 0 {
							row = target.Rows - 1 - row
						}
						from[i] = studio.Point{X: float64(col), Y: float64(row)}
					}
					// A first look without care for strays: most ways end here.
					h, ok := fitPlane(from, to)
					if !ok || v.correlation(h, ref) < leastLook {
						continue
					}
					h, n, ok := steadyPlane(from, to)
					if !ok {
						continue
					}
					c := candidate{h: h, correlation: v.correlation(h, ref)}
					c.score = c.correlation + 0.005*float64(n)
					if c.correlation > leastLook && c.score > best.score {
						best = c
					}
				}
			}
		}
	}
	return best
}

// correlation compares the view at the patches' centres with the reference.
func (v *view) correlation(h plane, ref target.Reference) float64 {
	var seen, want [3][]float64
	for i, p := range ref.Patches {
		at := h.to(float64(i%target.Columns), float64(i/target.Columns))
		x, y := int(math.Round(at.X)), int(math.Round(at.Y))
		if x < 0 || y < 0 || x >= v.w || y >= v.h {
			continue
		}
		r := wanted(p)
		for c := range r {
			seen[c] = append(seen[c], float64(v.px[y*v.w+x][c]))
			want[c] = append(want[c], r[c])
		}
	}
	return correlate(seen, want, FewestPatches)
}
