package form

import "math"

// Surfaces is what a shape offers to a patina and what it takes of metal.
//
// Outside and Inside are the two faces of the sheet: front and back of a flat
// one. Edge is the rim of the sheet, 0 where no thickness is given; a loading meant
// for every bit of metal counts it, see [Surfaces.AllMM2].
type Surfaces struct {
	OutsideMM2 float64
	InsideMM2  float64
	EdgeMM2    float64
	// SheetMM2 is the sheet in the shape, measured half way through the thickness:
	// what folding, rolling and, nearly, raising leave as it was (common practice, no
	// source). Off-cuts and seams come on top.
	SheetMM2 float64
	// Blank is the flat piece to cut.
	Blank Blank
}

// Blank is the smallest rectangle with two sides along the pattern that holds the
// flat piece, and in words what to cut from it. A raised form has a round blank of
// the same area as the form (common practice, no source: metal that is raised or
// sunk keeps its area, stretched or spun metal does not).
type Blank struct {
	LengthMM, WidthMM float64
	Cut               string
}

// AllMM2 is all the metal that shows: outside, inside and, when asked, the edges.
func (s Surfaces) AllMM2(edges bool) float64 {
	a := s.OutsideMM2 + s.InsideMM2
	if edges {
		a += s.EdgeMM2
	}
	return a
}

// Shape is a form known by its sizes. Sizes are taken outside, over the metal; a
// thickness goes inward from there and may be 0 when it does not matter.
type Shape interface {
	// Surfaces returns the shape's areas, exact but for rounding, or a
	// [studio.Problem] naming the size that can't be.
	Surfaces() (Surfaces, error)
}

// Rectangle is flat sheet.
type Rectangle struct{ LengthMM, WidthMM, ThickMM float64 }

// Surfaces is length times width on either face.
func (r Rectangle) Surfaces() (Surfaces, error) {
	if err := sizes(named{"length", "length", r.LengthMM}, named{"width", "width", r.WidthMM}); err != nil {
		return Surfaces{}, err
	}
	if err := thin(r.ThickMM, 2*min(r.LengthMM, r.WidthMM)); err != nil {
		return Surfaces{}, err
	}
	return flat(r.LengthMM*r.WidthMM, 2*(r.LengthMM+r.WidthMM), r.ThickMM,
		Blank{r.LengthMM, r.WidthMM, "a rectangle"}), nil
}

// Disc is a flat round sheet; with HoleMM, a ring (washer) round a hole of that
// diameter in its middle.
type Disc struct{ DiameterMM, HoleMM, ThickMM float64 }

// Surfaces is pi/4 (D² - d²) on either face; the edge counts both rims.
func (d Disc) Surfaces() (Surfaces, error) {
	if err := size("diameter", "diameter", d.DiameterMM); err != nil {
		return Surfaces{}, err
	}
	if !(d.HoleMM >= 0 && d.HoleMM < d.DiameterMM) {
		return Surfaces{}, bad("hole", "A hole of %.4g mm does not go into a disc of %.4g mm; it has to be smaller, or 0 for none.", d.HoleMM, d.DiameterMM)
	}
	if err := thin(d.ThickMM, 2*d.DiameterMM); err != nil {
		return Surfaces{}, err
	}
	cut := "a disc"
	if d.HoleMM > 0 {
		cut = "a disc with a hole"
	}
	return flat(math.Pi/4*(d.DiameterMM-d.HoleMM)*(d.DiameterMM+d.HoleMM), math.Pi*(d.DiameterMM+d.HoleMM), d.ThickMM,
		Blank{d.DiameterMM, d.DiameterMM, cut}), nil
}

// Polygon is flat sheet with straight sides; its corners go round in either
// direction and the last joins the first.
type Polygon struct {
	Corners []Point
	ThickMM float64
}

// Surfaces is the area by the surveyor's formula; sides that cross are refused.
func (p Polygon) Surfaces() (Surfaces, error) {
	const most = 2000
	if n := len(p.Corners); n < 3 || n > most {
		return Surfaces{}, bad("corners", "A flat piece with straight sides has 3 to %d corners; here are %d.", most, n)
	}
	for i, c := range p.Corners {
		if !(math.Abs(c.X) <= longestMM && math.Abs(c.Y) <= longestMM) {
			return Surfaces{}, bad("corners", "Corner %d lies at %.4g, %.4g mm; it has to be within %g mm.", i+1, c.X, c.Y, longestMM)
		}
	}
	if i, j, crosses := crossing(p.Corners); crosses {
		return Surfaces{}, bad("corners", "Side %d crosses side %d; give the corners in the order in which one walks round the piece.", i+1, j+1)
	}
	box := boxOf(p.Corners)
	if err := thin(p.ThickMM, 2*max(box.Width(), box.Height())); err != nil {
		return Surfaces{}, err
	}
	return flat(math.Abs(signedArea(p.Corners)), perimeter(p.Corners), p.ThickMM,
		Blank{box.Width(), box.Height(), "the outline"}), nil
}

// Tube is a straight round pipe; Ends counts the ends that a disc closes, 0 to 2.
type Tube struct {
	DiameterMM, LengthMM, ThickMM float64
	Ends                          int
}

// Surfaces is pi D L outside, and for each closed end pi/4 D².
func (t Tube) Surfaces() (Surfaces, error) {
	if err := sizes(named{"diameter", "diameter", t.DiameterMM}, named{"length", "length", t.LengthMM}); err != nil {
		return Surfaces{}, err
	}
	if err := ends(t.Ends); err != nil {
		return Surfaces{}, err
	}
	across := t.DiameterMM
	if t.Ends > 0 {
		across = min(across, 2*t.LengthMM/float64(t.Ends))
	}
	if err := thin(t.ThickMM, across); err != nil {
		return Surfaces{}, err
	}
	layer := func(in float64) float64 { // the wall and ends, in mm below the outside
		d, l := t.DiameterMM-2*in, t.LengthMM-in*float64(t.Ends)
		return math.Pi*d*l + float64(t.Ends)*math.Pi/4*d*d
	}
	mid := t.DiameterMM - t.ThickMM
	s := Surfaces{
		OutsideMM2: layer(0), InsideMM2: layer(t.ThickMM), SheetMM2: layer(t.ThickMM / 2),
		EdgeMM2: float64(2-t.Ends) * math.Pi * mid * t.ThickMM,
		Blank:   Blank{math.Pi * mid, t.LengthMM - t.ThickMM/2*float64(t.Ends), "a strip to roll round"},
	}
	if t.Ends > 0 {
		s.Blank.Cut = "a strip to roll round; the ends are cut apart from it"
	}
	return s, nil
}

// Cone is a straight-sided taper; a top diameter of 0 is a point. It is open at
// both ends.
type Cone struct{ BaseMM, TopMM, HeightMM, ThickMM float64 }

// Surfaces is pi (R + r) s outside, s the slant height.
func (c Cone) Surfaces() (Surfaces, error) {
	if err := sizes(named{"base", "diameter of the base", c.BaseMM}, named{"height", "height", c.HeightMM}); err != nil {
		return Surfaces{}, err
	}
	if !(c.TopMM >= 0 && c.TopMM <= longestMM) {
		return Surfaces{}, bad("top", "The diameter of the top is %.4g mm; it has to be 0, for a point, to %g mm.", c.TopMM, longestMM)
	}
	s, err := Revolved{Profile: []Point{{c.BaseMM / 2, 0}, {c.TopMM / 2, c.HeightMM}}, ThickMM: c.ThickMM}.Surfaces()
	if err != nil {
		return Surfaces{}, err
	}
	big, small := max(c.BaseMM, c.TopMM)/2, min(c.BaseMM, c.TopMM)/2
	s.Blank = sector(big, small, math.Hypot(big-small, c.HeightMM))
	return s, nil
}

// sector is the flat pattern of a cone: part of a ring whose radii are the slants
// from the point of the whole cone and whose angle is 2 pi (R - r)/s.
func sector(big, small, slant float64) Blank {
	if big-small < 1e-9*big {
		return Blank{2 * math.Pi * big, slant, "a strip to roll round"}
	}
	outer := slant * big / (big - small)
	inner := outer - slant
	half := math.Pi * big / outer // half the angle
	width := outer                // across, by the widest ray within the angle
	if half < math.Pi/2 {
		width = outer * math.Sin(half)
	}
	low := inner * math.Cos(half) // along, measured from the point
	if half > math.Pi/2 {
		low = outer * math.Cos(half)
	}
	return Blank{outer - low, 2 * width, "part of a ring to roll round"}
}

// Dome is a cap of a sphere, open below; a height of half the diameter is a
// hemisphere, more is allowed.
type Dome struct{ DiameterMM, HeightMM, ThickMM float64 }

// Surfaces is 2 pi R h, R = (a² + h²)/(2h) with a half the diameter of the opening;
// the rim is square to the sheet, so the inside is the same cap of a smaller sphere.
func (d Dome) Surfaces() (Surfaces, error) {
	if err := sizes(named{"diameter", "diameter", d.DiameterMM}, named{"height", "height", d.HeightMM}); err != nil {
		return Surfaces{}, err
	}
	a := d.DiameterMM / 2
	radius := (a*a + d.HeightMM*d.HeightMM) / (2 * d.HeightMM)
	if err := thin(d.ThickMM, 2*radius); err != nil {
		return Surfaces{}, err
	}
	layer := func(in float64) float64 { return 2 * math.Pi * radius * d.HeightMM * sq((radius-in)/radius) }
	t := d.ThickMM
	return Surfaces{
		OutsideMM2: layer(0), InsideMM2: layer(t), SheetMM2: layer(t / 2),
		EdgeMM2: math.Pi * a * (2 - t/radius) * t, Blank: raised(layer(t / 2)),
	}, nil
}

// Sphere is a hollow ball.
type Sphere struct{ DiameterMM, ThickMM float64 }

// Surfaces is pi D² outside.
func (b Sphere) Surfaces() (Surfaces, error) {
	if err := size("diameter", "diameter", b.DiameterMM); err != nil {
		return Surfaces{}, err
	}
	if err := thin(b.ThickMM, b.DiameterMM); err != nil {
		return Surfaces{}, err
	}
	layer := func(in float64) float64 { return math.Pi * sq(b.DiameterMM-2*in) }
	s := Surfaces{OutsideMM2: layer(0), InsideMM2: layer(b.ThickMM), SheetMM2: layer(b.ThickMM / 2), Blank: raised(layer(b.ThickMM/2) / 2)}
	s.Blank.Cut = "two discs, one for each half"
	return s, nil
}

// Cuff is a strip bent to part of a circle, such as a bracelet: DiameterMM over
// the metal, WidthMM along the arm, GapMM straight across the opening outside.
type Cuff struct{ DiameterMM, WidthMM, GapMM, ThickMM float64 }

// Surfaces is the arc 2 pi - 2 asin(gap/D) times half the diameter times the width.
func (c Cuff) Surfaces() (Surfaces, error) {
	if err := sizes(named{"diameter", "diameter", c.DiameterMM}, named{"width", "width", c.WidthMM}); err != nil {
		return Surfaces{}, err
	}
	if !(c.GapMM >= 0 && c.GapMM < c.DiameterMM) {
		return Surfaces{}, bad("gap", "The opening is %.4g mm and the cuff %.4g mm across; the opening has to be smaller, or 0 for a closed band.", c.GapMM, c.DiameterMM)
	}
	if err := thin(c.ThickMM, c.DiameterMM); err != nil {
		return Surfaces{}, err
	}
	r, t := c.DiameterMM/2, c.ThickMM
	arc := 2*math.Pi - 2*math.Asin(c.GapMM/c.DiameterMM)
	s := Surfaces{
		OutsideMM2: arc * r * c.WidthMM, InsideMM2: arc * (r - t) * c.WidthMM, SheetMM2: arc * (r - t/2) * c.WidthMM,
		EdgeMM2: arc * (2*r - t) * t, Blank: Blank{arc * (r - t/2), c.WidthMM, "a strip to bend"},
	}
	if c.GapMM > 0 {
		s.EdgeMM2 += 2 * t * c.WidthMM
	}
	return s, nil
}

// Box is a box with a floor, with or without a lid.
type Box struct {
	LengthMM, WidthMM, HeightMM, ThickMM float64
	Lid                                  bool
}

// Surfaces is the floor, four walls and, if there is one, the lid.
func (b Box) Surfaces() (Surfaces, error) {
	if err := sizes(named{"length", "length", b.LengthMM}, named{"width", "width", b.WidthMM}, named{"height", "height", b.HeightMM}); err != nil {
		return Surfaces{}, err
	}
	tall, flats := 2*b.HeightMM, 1.0
	if b.Lid {
		tall, flats = b.HeightMM, 2
	}
	if err := thin(b.ThickMM, min(b.LengthMM, b.WidthMM, tall)); err != nil {
		return Surfaces{}, err
	}
	layer := func(in float64) float64 {
		l, w, h := b.LengthMM-2*in, b.WidthMM-2*in, b.HeightMM-flats*in
		return 2*(l+w)*h + flats*l*w
	}
	t := b.ThickMM
	l, w, h := b.LengthMM-t, b.WidthMM-t, b.HeightMM-flats*t/2
	s := Surfaces{
		OutsideMM2: layer(0), InsideMM2: layer(t), SheetMM2: layer(t / 2),
		Blank: Blank{l + 2*h, w + 2*h, "a cross: the floor with a wall on each side"},
	}
	if b.Lid {
		s.Blank = Blank{2*l + 2*h, w + 2*h, "a cross with the lid beyond one wall"}
	} else {
		s.EdgeMM2 = 2 * (l + w) * t
	}
	return s, nil
}

// flat is a flat piece of an area and an outline's length.
func flat(area, edge, thick float64, b Blank) Surfaces {
	return Surfaces{OutsideMM2: area, InsideMM2: area, EdgeMM2: edge * thick, SheetMM2: area, Blank: b}
}

// raised is the round blank of a form raised from one piece.
func raised(areaMM2 float64) Blank {
	d := 2 * math.Sqrt(areaMM2/math.Pi)
	return Blank{d, d, "a disc to raise"}
}

// named is a size with the field and the words for it.
type named struct {
	field, what string
	mm          float64
}

func sizes(all ...named) error {
	for _, n := range all {
		if err := size(n.field, n.what, n.mm); err != nil {
			return err
		}
	}
	return nil
}

func ends(n int) error {
	if n < 0 || n > 2 {
		return bad("ends", "A tube has 0, 1 or 2 closed ends, not %d.", n)
	}
	return nil
}

func sq(x float64) float64 { return x * x }
