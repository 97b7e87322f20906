package shape

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"aerugo/internal/flow/form"
	"aerugo/internal/studio"
)

// A Dim is one size of a shape. A Count is no length.
type Dim struct {
	Key, Label string
	Letter     string // beside it in the drawing
	Optional   bool
	Count      bool
}

// A Kind is a shape known by its sizes.
type Kind struct {
	Key, Name string
	Dims      []Dim
	Profile   bool // drawn by a profile of radii and heights
}

// Turned is the key of the shape that is drawn by a profile.
const Turned = "turned"

// The keys that every shape has besides its sizes.
const (
	Thickness = "thickness" // of the metal, mm
	Rounded   = "rounded"   // 1: a smooth curve goes through the points of a profile
)

// Kinds are the shapes in the order in which they are offered. Their sizes are
// taken outside, over the metal.
func Kinds() []Kind {
	return []Kind{
		{Key: "rectangle", Name: "flat sheet", Dims: []Dim{{Key: "length", Label: "Length", Letter: "L"}, {Key: "width", Label: "Width", Letter: "W"}}},
		{Key: "disc", Name: "disc or ring", Dims: []Dim{{Key: "diameter", Label: "Diameter", Letter: "D"}, {Key: "hole", Label: "Hole across, empty for none", Letter: "d", Optional: true}}},
		{Key: "dome", Name: "dome or bowl", Dims: []Dim{{Key: "diameter", Label: "Diameter at the rim", Letter: "D"}, {Key: "height", Label: "Height", Letter: "H"}}},
		{Key: Turned, Name: "turned form, by its profile", Profile: true},
		{Key: "tube", Name: "tube", Dims: []Dim{{Key: "diameter", Label: "Diameter", Letter: "D"}, {Key: "length", Label: "Length", Letter: "L"}, {Key: "ends", Label: "Closed ends: 0, 1 or 2", Optional: true, Count: true}}},
		{Key: "cone", Name: "cone or taper", Dims: []Dim{{Key: "base", Label: "Diameter below", Letter: "D"}, {Key: "top", Label: "Diameter above, empty for a point", Letter: "d", Optional: true}, {Key: "height", Label: "Height", Letter: "H"}}},
		{Key: "sphere", Name: "ball", Dims: []Dim{{Key: "diameter", Label: "Diameter", Letter: "D"}}},
		{Key: "box", Name: "box", Dims: []Dim{{Key: "length", Label: "Length", Letter: "L"}, {Key: "width", Label: "Width", Letter: "W"}, {Key: "height", Label: "Height", Letter: "H"}, {Key: "lid", Label: "Lids: 0 or 1", Optional: true, Count: true}}},
		{Key: "cuff", Name: "cuff", Dims: []Dim{{Key: "diameter", Label: "Diameter", Letter: "D"}, {Key: "width", Label: "Width", Letter: "W"}, {Key: "gap", Label: "Opening", Letter: "G"}}},
	}
}

// KindOf finds a shape by its key.
func KindOf(key string) (Kind, bool) {
	i := slices.IndexFunc(Kinds(), func(k Kind) bool { return k.Key == key })
	if i < 0 {
		return Kind{}, false
	}
	return Kinds()[i], true
}

// By is how the areas of shapes, and of drawings and models, are reckoned.
const (
	byShape   = "computed from its sizes"
	byDrawing = "computed from the drawing"
	byModel   = "computed from the model's triangles"
)

// Of returns the form of a shape with its areas, from its sizes in mm by their key:
// as good as the sizes. A size that can't be is a [studio.Problem] at its key.
func Of(kind string, dims map[string]float64) (studio.Form, error) {
	s, err := solid(kind, dims)
	if err != nil {
		return studio.Form{}, err
	}
	a, err := s.Surfaces()
	if err != nil {
		return studio.Form{}, err
	}
	f := studio.Form{Kind: kind, DimsMM: dims, Up: [3]float64{0, 0, 1}, OutsideMM2: a.OutsideMM2, InsideMM2: a.InsideMM2, SheetMM2: a.SheetMM2, By: byShape}
	b, err := bodyOf(kind, dims)
	if err != nil {
		return f, err
	}
	size := b.Mesh.Box().Size()
	f.SizeMM = [3]float64{size.X, size.Y, max(size.Z, dims[Thickness])}
	return f, f.Check()
}

// BlankOf says what to cut for a shape.
func BlankOf(kind string, dims map[string]float64) (form.Blank, error) {
	s, err := solid(kind, dims)
	if err != nil {
		return form.Blank{}, err
	}
	a, err := s.Surfaces()
	return a.Blank, err
}

// solid is a shape with its sizes.
func solid(kind string, d map[string]float64) (form.Shape, error) {
	t := d[Thickness]
	switch kind {
	case "rectangle":
		return form.Rectangle{LengthMM: d["length"], WidthMM: d["width"], ThickMM: t}, nil
	case "disc":
		return form.Disc{DiameterMM: d["diameter"], HoleMM: d["hole"], ThickMM: t}, nil
	case "tube":
		return form.Tube{DiameterMM: d["diameter"], LengthMM: d["length"], ThickMM: t, Ends: int(d["ends"])}, nil
	case "cone":
		return form.Cone{BaseMM: d["base"], TopMM: d["top"], HeightMM: d["height"], ThickMM: t}, nil
	case "dome":
		return form.Dome{DiameterMM: d["diameter"], HeightMM: d["height"], ThickMM: t}, nil
	case "sphere":
		return form.Sphere{DiameterMM: d["diameter"], ThickMM: t}, nil
	case "box":
		return form.Box{LengthMM: d["length"], WidthMM: d["width"], HeightMM: d["height"], ThickMM: t, Lid: d["lid"] > 0}, nil
	case "cuff":
		return form.Cuff{DiameterMM: d["diameter"], WidthMM: d["width"], GapMM: d["gap"], ThickMM: t}, nil
	case Turned:
		return form.Revolved{Profile: profileOf(d), ThickMM: t}, nil
	}
	return nil, studio.Problemf(studio.Invalid, "kind", "%q is not a shape that can be reckoned; choose one from the list, or send a drawing or model.", kind)
}

// mostProfile is how many points of a profile are kept.
const mostProfile = 200

// Dims puts a profile's points among the sizes of a shape: r1, h1, r2, h2 ...
func Dims(profile []form.Point) map[string]float64 {
	d := map[string]float64{}
	for i, p := range profile {
		d[fmt.Sprintf("r%d", i+1)], d[fmt.Sprintf("h%d", i+1)] = p.X, p.Y
	}
	return d
}

// Profile returns the points that a turned form was drawn by.
func Profile(d map[string]float64) (out []form.Point) {
	for i := 1; i <= mostProfile; i++ {
		r, ok := d[fmt.Sprintf("r%d", i)]
		if !ok {
			break
		}
		out = append(out, form.Point{X: r, Y: d[fmt.Sprintf("h%d", i)]})
	}
	return out
}

// profileOf is the profile as it is reckoned: smooth where that was asked for.
func profileOf(d map[string]float64) []form.Point {
	p := Profile(d)
	if d[Rounded] > 0 && len(p) > 2 {
		return form.Smooth(p, max(2, min(16, 400/len(p))))
	}
	return p
}

// ReadProfile reads the points of a profile as people write them: on each line a
// radius and a height in mm. Number reads one number.
func ReadProfile(text string, number func(string) (float64, error)) ([]form.Point, error) {
	bad := func(format string, args ...any) error {
		return studio.Problemf(studio.Invalid, "profile", format, args...)
	}
	var out []form.Point
	for i, line := range strings.Split(text, "\n") {
		words := strings.FieldsFunc(line, func(r rune) bool { return r == ' ' || r == '\t' || r == ';' || r == '\r' })
		if len(words) == 0 {
			continue
		}
		if len(words) != 2 {
			return nil, bad("Line %d of the profile is %q; write a radius and a height in mm, like 45 120.", i+1, strings.TrimSpace(line))
		}
		var v [2]float64
		for k, w := range words {
			x, err := number(w)
			if err != nil || math.Abs(x) > 1e5 {
				return nil, bad("%q in line %d of the profile is not a length in mm; write a radius and a height, like 45 120.", w, i+1)
			}
			v[k] = x
		}
		if len(out) == mostProfile {
			return nil, bad("A profile has at most %d points.", mostProfile)
		}
		out = append(out, form.Point{X: v[0], Y: v[1]})
	}
	if len(out) < 2 {
		return nil, bad("Write at least two points of the profile: on each line a radius and a height in mm.")
	}
	return out, nil
}
