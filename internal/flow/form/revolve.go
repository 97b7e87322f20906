package form

import "math"

// Revolved is a turned form, such as a bowl, vase or bell: Profile is its outside
// as radius (X) against height (Y), from one end to the other; straight lines join
// the points. An end on the axis (radius 0) is closed, any other is open.
//
// The metal goes from the profile towards the axis. A curve is drawn as enough
// points: with N lines round a quarter circle the area is short by (pi/2)²/(8 N²),
// 0.1 % at 18. [Smooth] draws one through few points.
type Revolved struct {
	Profile []Point
	ThickMM float64
}

// Surfaces is the exact sum of the frusta pi (r1 + r2) s that the profile's lines
// sweep out (Pappus's first theorem); the inside is the profile set off by the
// thickness, with sharp corners. A thickness that does not go round a bend is
// refused.
func (v Revolved) Surfaces() (Surfaces, error) {
	const most = 5000
	if n := len(v.Profile); n < 2 || n > most {
		return Surfaces{}, bad("profile", "A profile has 2 to %d points; here are %d.", most, n)
	}
	var turn float64
	for i, p := range v.Profile {
		if !(p.X >= 0 && p.X <= longestMM && math.Abs(p.Y) <= longestMM) {
			return Surfaces{}, bad("profile", "Point %d of the profile has radius %.4g mm and height %.4g mm; the radius has to be 0 to %g mm, the height within %g mm.", i+1, p.X, p.Y, longestMM, longestMM)
		}
		if i > 0 && i < len(v.Profile)-1 && p.X == 0 {
			return Surfaces{}, bad("profile", "Point %d of the profile lies on the axis; only the first and the last point may.", i+1)
		}
		if i > 0 {
			q := v.Profile[i-1]
			if p == q {
				return Surfaces{}, bad("profile", "Points %d and %d of the profile are the same.", i, i+1)
			}
			// twice the area between the line and the axis, signed: its side of the axis
			turn += (q.X + p.X) * (q.Y - p.Y)
		}
	}
	if !(v.ThickMM >= 0 && v.ThickMM <= longestMM) {
		return Surfaces{}, bad("thickness", "The thickness is %.4g mm; it has to be 0 or more.", v.ThickMM)
	}
	left := turn < 0 // going up, the axis is on the left
	if turn == 0 {
		left = v.Profile[0].X < v.Profile[len(v.Profile)-1].X // a flat floor, seen from below
	}
	t := v.ThickMM
	if !left {
		t = -t
	}
	inside, err := offset(v.Profile, t)
	if err != nil {
		return Surfaces{}, err
	}
	middle, err := offset(v.Profile, t/2)
	if err != nil {
		return Surfaces{}, err
	}
	s := Surfaces{OutsideMM2: frusta(v.Profile), InsideMM2: frusta(inside), SheetMM2: frusta(middle)}
	s.Blank = raised(s.SheetMM2)
	last := len(v.Profile) - 1
	for _, i := range []int{0, last} {
		if v.Profile[i].X > 0 {
			s.EdgeMM2 += math.Pi * (v.Profile[i].X + inside[i].X) * v.ThickMM
		}
	}
	return s, nil
}

// frusta is the area that a line of points sweeps round the axis.
func frusta(line []Point) float64 {
	var a float64
	for i := 1; i < len(line); i++ {
		a += math.Pi * (line[i-1].X + line[i].X) * line[i-1].to(line[i])
	}
	return a
}

// offset sets a profile off by t to its left, with mitred corners. An end on the
// axis stays on it, as if the line went on mirrored.
func offset(line []Point, t float64) ([]Point, error) {
	if t == 0 {
		return line, nil
	}
	unit := func(i int) Point { // direction of the line after point i
		a, b := line[i], line[i+1]
		s := a.to(b)
		return Point{(b.X - a.X) / s, (b.Y - a.Y) / s}
	}
	out := make([]Point, len(line))
	last := len(line) - 1
	for i, p := range line {
		var before, after Point
		switch i {
		case 0:
			after = unit(0)
			before = after
			if p.X == 0 {
				before = Point{after.X, -after.Y}
			}
		case last:
			before = unit(last - 1)
			after = before
			if p.X == 0 {
				after = Point{before.X, -before.Y}
			}
		default:
			before, after = unit(i-1), unit(i)
		}
		// mitre: the normals' sum, as long as brings both lines t away
		cos := before.X*after.X + before.Y*after.Y
		if cos < -0.99 {
			return nil, bad("profile", "The profile doubles back at point %d; take that corner less sharp.", i+1)
		}
		out[i] = Point{p.X - t*(before.Y+after.Y)/(1+cos), p.Y + t*(before.X+after.X)/(1+cos)}
	}
	for i := range out {
		if out[i].X < -1e-9 {
			return nil, bad("thickness", "Metal this thick leaves no room inside at point %d of the profile, %.4g mm from the axis.", i+1, line[i].X)
		}
		out[i].X = max(out[i].X, 0)
		if i == 0 {
			continue
		}
		u := unit(i - 1)
		if (out[i].X-out[i-1].X)*u.X+(out[i].Y-out[i-1].Y)*u.Y <= 0 {
			return nil, bad("thickness", "Metal this thick does not go round the bend between points %d and %d of the profile.", i, i+1)
		}
	}
	return out, nil
}

// Smooth draws a smooth curve through the points of a profile, steps lines from
// each to the next: a centripetal Catmull-Rom curve, which makes no loops and passes
// through every point. Radii stay at 0 or above.
//
// Source: Yuksel, C., Schaefer, S. and Keyser, J., Parameterization and
// Applications of Catmull-Rom Curves, Computer-Aided Design 43(7):747-755, 2011.
func Smooth(profile []Point, steps int) []Point {
	n := len(profile)
	if n < 3 || steps < 2 {
		return profile
	}
	at := func(i int) Point {
		switch {
		case i < 0: // mirrored at the ends: on the axis across it, else straight on
			if profile[0].X == 0 {
				return Point{-profile[1].X, profile[1].Y}
			}
			return Point{2*profile[0].X - profile[1].X, 2*profile[0].Y - profile[1].Y}
		case i >= n:
			if profile[n-1].X == 0 {
				return Point{-profile[n-2].X, profile[n-2].Y}
			}
			return Point{2*profile[n-1].X - profile[n-2].X, 2*profile[n-1].Y - profile[n-2].Y}
		}
		return profile[i]
	}
	out := []Point{profile[0]}
	for i := 0; i+1 < n; i++ {
		p := [4]Point{at(i - 1), at(i), at(i + 1), at(i + 2)}
		var k [4]float64
		for j := 1; j < 4; j++ {
			k[j] = k[j-1] + max(math.Sqrt(p[j-1].to(p[j])), 1e-9)
		}
		for s := 1; s < steps; s++ {
			t := k[1] + (k[2]-k[1])*float64(s)/float64(steps)
			q := catmull(p, k, t)
			out = append(out, Point{max(q.X, 0), q.Y})
		}
		out = append(out, p[2])
	}
	return out
}

// catmull evaluates the curve by the pyramid of Barry and Goldman.
func catmull(p [4]Point, k [4]float64, t float64) Point {
	mix := func(a, b Point, ka, kb float64) Point {
		w := (t - ka) / (kb - ka)
		return Point{a.X + w*(b.X-a.X), a.Y + w*(b.Y-a.Y)}
	}
	a1, a2, a3 := mix(p[0], p[1], k[0], k[1]), mix(p[1], p[2], k[1], k[2]), mix(p[2], p[3], k[2], k[3])
	return mix(mix(a1, a2, k[0], k[2]), mix(a2, a3, k[1], k[3]), k[1], k[2])
}
