package shape

import (
	"encoding/binary"
	"math"
	"slices"

	"aerugo/internal/flow/form"
)

// A Body is a piece as triangles. Both is set for a skin that stands for sheet, whose
// two faces are both metal that shows.
type Body struct {
	Mesh *form.Mesh
	Both bool
}

// tri is one triangle; seen from outside its corners go round to the left.
type tri [3]form.Vec

// meshOf makes a mesh of triangles, by way of an STL file in memory: so it is held to
// all that a file is held to.
func meshOf(tris []tri) (*form.Mesh, error) {
	data := make([]byte, 84, 84+50*len(tris))
	binary.LittleEndian.PutUint32(data[80:], uint32(len(tris)))
	for _, t := range tris {
		data = append(data, make([]byte, 12)...)
		for _, c := range t {
			for _, v := range []float64{c.X, c.Y, c.Z} {
				data = binary.LittleEndian.AppendUint32(data, math.Float32bits(float32(v)))
			}
		}
		data = append(data, 0, 0)
	}
	return form.ReadMesh(data, form.MeshOptions{UnitMM: 1})
}

// round is how many sides a circle is drawn with.
const round = 72

// bodyOf makes the skin of a shape: its outside.
func bodyOf(kind string, d map[string]float64) (Body, error) {
	var tris []tri
	quad := func(a, b, c, e form.Vec) { tris = append(tris, tri{a, b, c}, tri{a, c, e}) }
	closed := false
	switch kind {
	case "rectangle":
		x, y := d["length"]/2, d["width"]/2
		quad(form.Vec{X: -x, Y: -y}, form.Vec{X: x, Y: -y}, form.Vec{X: x, Y: y}, form.Vec{X: -x, Y: y})
	case "disc":
		tris = revolve([]form.Point{{X: d["diameter"] / 2}, {X: d["hole"] / 2}})
	case "tube":
		r, l := d["diameter"]/2, d["length"]
		p := []form.Point{{X: r}, {X: r, Y: l}}
		if d["ends"] > 0 {
			p = slices.Insert(p, 0, form.Point{})
		}
		if closed = d["ends"] > 1; closed {
			p = append(p, form.Point{Y: l})
		}
		tris = revolve(p)
	case "cone":
		tris = revolve([]form.Point{{X: d["base"] / 2}, {X: d["top"] / 2, Y: d["height"]}})
	case "dome":
		a, h := d["diameter"]/2, d["height"]
		r := (a*a + h*h) / (2 * h)
		var p []form.Point
		to := math.Acos(max(-1, min(1, (r-h)/r)))
		for i := round / 3; i >= 0; i-- {
			w := to * float64(i) / (round / 3)
			p = append(p, form.Point{X: r * math.Sin(w), Y: h - r + r*math.Cos(w)})
		}
		p[len(p)-1].X = 0
		tris = revolve(p)
	case "sphere":
		r := d["diameter"] / 2
		var p []form.Point
		for i := 0; i <= round/2; i++ {
			w := math.Pi * float64(i) / (round / 2)
			p = append(p, form.Point{X: r * math.Sin(w), Y: r - r*math.Cos(w)})
		}
		p[0].X, p[len(p)-1].X = 0, 0
		closed = true
		tris = revolve(p)
	case "box":
		x, y, h := d["length"]/2, d["width"]/2, d["height"]
		at := func(sx, sy, z float64) form.Vec { return form.Vec{X: sx * x, Y: sy * y, Z: z} }
		quad(at(-1, 1, 0), at(1, 1, 0), at(1, -1, 0), at(-1, -1, 0))
		for _, s := range [][4]float64{{-1, -1, 1, -1}, {1, -1, 1, 1}, {1, 1, -1, 1}, {-1, 1, -1, -1}} {
			quad(at(s[0], s[1], 0), at(s[2], s[3], 0), at(s[2], s[3], h), at(s[0], s[1], h))
		}
		if closed = d["lid"] > 0; closed {
			quad(at(-1, -1, h), at(1, -1, h), at(1, 1, h), at(-1, 1, h))
		}
	case "cuff":
		r, w := d["diameter"]/2, d["width"]
		half := math.Asin(max(0, min(1, d["gap"]/d["diameter"])))
		from, to := -math.Pi/2+half, 1.5*math.Pi-half // the opening lies to the front
		for i := range round {
			a, b := from+(to-from)*float64(i)/round, from+(to-from)*float64(i+1)/round
			p, q := form.Vec{X: r * math.Cos(a), Y: r * math.Sin(a)}, form.Vec{X: r * math.Cos(b), Y: r * math.Sin(b)}
			quad(p, q, form.Vec{X: q.X, Y: q.Y, Z: w}, form.Vec{X: p.X, Y: p.Y, Z: w})
		}
	case Turned:
		p := profileOf(d)
		tris = revolve(p)
		if n := len(p); n > 1 {
			closed = p[0].X == 0 && p[n-1].X == 0
		}
	}
	m, err := meshOf(tris)
	return Body{Mesh: m, Both: !closed}, err
}

// revolve sweeps a profile round the upright. Which side is outside follows from the
// profile: the one away from the axis.
func revolve(p []form.Point) (out []tri) {
	var turn float64
	for i := 1; i < len(p); i++ {
		turn += (p[i-1].X + p[i].X) * (p[i].Y - p[i-1].Y)
	}
	if turn < 0 || turn == 0 && len(p) > 0 && p[0].X < p[len(p)-1].X {
		p = slices.Clone(p)
		slices.Reverse(p)
	}
	at := func(q form.Point, i int) form.Vec {
		w := 2 * math.Pi * float64(i%round) / round
		return form.Vec{X: q.X * math.Cos(w), Y: q.X * math.Sin(w), Z: q.Y}
	}
	for i := 1; i < len(p); i++ {
		for k := range round {
			a, b, c, d := at(p[i-1], k), at(p[i-1], k+1), at(p[i], k+1), at(p[i], k)
			if p[i-1].X > 0 {
				out = append(out, tri{a, b, c})
			}
			if p[i].X > 0 {
				out = append(out, tri{a, c, d})
			}
		}
	}
	return out
}

// flat is the metal of an outline as triangles in the plane z = 0: cut into strips at
// every corner of its lines, so that in each the lines run straight through, and what
// lies between an odd and the next even line is metal.
func flat(o form.Outline) []tri {
	type edge struct{ a, b form.Point }
	var edges []edge
	var ys []float64
	tol := max(o.Box.Width(), o.Box.Height()) / 600
	for _, l := range o.Loops {
		pts := simpler(l.Points, tol)
		for i, p := range pts {
			q := pts[(i+1)%len(pts)]
			ys = append(ys, p.Y)
			switch {
			case p.Y < q.Y:
				edges = append(edges, edge{p, q})
			case p.Y > q.Y:
				edges = append(edges, edge{q, p})
			}
		}
	}
	slices.Sort(ys)
	ys = slices.Compact(ys)
	for len(ys) > mostStrips { // every other: drawn a little coarser
		var fewer []float64
		for i := 0; i < len(ys); i += 2 {
			fewer = append(fewer, ys[i])
		}
		if last := ys[len(ys)-1]; fewer[len(fewer)-1] != last {
			fewer = append(fewer, last)
		}
		ys = fewer
	}
	slices.SortFunc(edges, func(a, b edge) int {
		switch {
		case a.a.Y < b.a.Y:
			return -1
		case a.a.Y > b.a.Y:
			return 1
		}
		return 0
	})
	var out []tri
	var active []edge
	next := 0
	for i := 1; i < len(ys) && len(out) < mostFlat; i++ {
		low, high := ys[i-1], ys[i]
		mid := (low + high) / 2
		for next < len(edges) && edges[next].a.Y <= mid {
			active = append(active, edges[next])
			next++
		}
		active = slices.DeleteFunc(active, func(e edge) bool { return e.b.Y <= mid })
		across := func(e edge, y float64) float64 {
			t := max(0, min(1, (y-e.a.Y)/(e.b.Y-e.a.Y)))
			return e.a.X + t*(e.b.X-e.a.X)
		}
		slices.SortFunc(active, func(a, b edge) int {
			if across(a, mid) < across(b, mid) {
				return -1
			}
			return 1
		})
		for k := 0; k+1 < len(active); k += 2 {
			l, r := active[k], active[k+1]
			a, b := form.Vec{X: across(l, low), Y: low}, form.Vec{X: across(r, low), Y: low}
			c, d := form.Vec{X: across(r, high), Y: high}, form.Vec{X: across(l, high), Y: high}
			out = append(out, tri{a, b, c}, tri{a, c, d})
		}
	}
	return out
}

// Limits of a flat outline as it is drawn; its areas come from the outline itself.
const (
	mostStrips = 1500
	mostFlat   = 60_000
)

// simpler leaves out points of a closed line that lie within tol of what stays.
func simpler(p []form.Point, tol float64) []form.Point {
	if len(p) < 8 {
		return p
	}
	out := []form.Point{p[0]}
	for _, q := range p[1:] {
		last := out[len(out)-1]
		if math.Hypot(q.X-last.X, q.Y-last.Y) >= tol {
			out = append(out, q)
		}
	}
	if len(out) < 3 {
		return p
	}
	return out
}

// Thin returns a mesh of about at most so many triangles: corners that lie close
// together become one at their mean, in cubes made larger until it is small enough.
// A mesh that is small enough comes back as it is.
func Thin(m *form.Mesh, most int) (*form.Mesh, error) {
	n := m.Triangles()
	if n <= most {
		return m, nil
	}
	box := m.Box()
	size := box.Size()
	cell := max(size.X, size.Y, size.Z) / math.Sqrt(float64(most)/3)
	type key [3]int32
	type mean struct {
		sum form.Vec
		n   float64
	}
	for range 20 {
		at := func(v form.Vec) key {
			return key{int32((v.X - box.Min.X) / cell), int32((v.Y - box.Min.Y) / cell), int32((v.Z - box.Min.Z) / cell)}
		}
		means := map[key]*mean{}
		kept := map[[3]key]bool{}
		var order [][3]key
		for i := range n {
			t := m.Triangle(i)
			var k [3]key
			for j, c := range t {
				k[j] = at(c)
				if means[k[j]] == nil {
					means[k[j]] = &mean{}
				}
				x := means[k[j]]
				x.sum.X, x.sum.Y, x.sum.Z, x.n = x.sum.X+c.X, x.sum.Y+c.Y, x.sum.Z+c.Z, x.n+1
			}
			if k[0] == k[1] || k[1] == k[2] || k[0] == k[2] || kept[k] || kept[[3]key{k[1], k[2], k[0]}] || kept[[3]key{k[2], k[0], k[1]}] {
				continue
			}
			kept[k] = true
			order = append(order, k)
		}
		if len(order) > most {
			cell *= 1.3
			continue
		}
		var tris []tri
		for _, k := range order {
			var t tri
			for j := range t {
				x := means[k[j]]
				t[j] = form.Vec{X: x.sum.X / x.n, Y: x.sum.Y / x.n, Z: x.sum.Z / x.n}
			}
			tris = append(tris, t)
		}
		if len(tris) == 0 {
			cell /= 2
			continue
		}
		return meshOf(tris)
	}
	return m, nil
}
