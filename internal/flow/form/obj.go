package form

import (
	"math"
	"strconv"
	"strings"
)

// OBJ: Wavefront, Advanced Visualizer Manual, appendix B1, as given in the Library
// of Congress's format description fdd000507. Corners and faces are read, curves
// and everything that is looks are not.
const (
	mostSides = 2000        // of one face
	cutWork   = 200_000_000 // corners looked at to cut a model's faces into triangles
)

// readOBJ reads an OBJ file.
func readOBJ(data []byte) (*Mesh, error) {
	b := newBuilder(len(data) / 80)
	b.m.Assumed = true
	var place [][3]float64
	var number []int32 // of each place in the mesh
	seen, faces, curves, work := false, int64(0), 0, cutWork
	line := 0
	text := string(data)
	for text != "" {
		var l string
		l, text, _ = strings.Cut(text, "\n")
		line++
		for strings.HasSuffix(strings.TrimRight(l, "\r"), "\\") && text != "" { // goes on
			var more string
			more, text, _ = strings.Cut(text, "\n")
			line++
			l = strings.TrimSuffix(strings.TrimRight(l, "\r"), "\\") + " " + more
			if len(l) > 1<<20 {
				return nil, bad("model", "Line %d of the model is longer than a model's lines can be.", line)
			}
		}
		l, _, _ = strings.Cut(l, "#")
		word, rest, _ := strings.Cut(strings.TrimSpace(l), " ")
		switch word {
		case "v":
			seen = true
			f := fields(rest, 4)
			var v [3]float64
			if len(f) < 3 {
				return nil, bad("model", "Line %d of the OBJ model has no three numbers after 'v'.", line)
			}
			for k := range v {
				x, err := strconv.ParseFloat(f[k], 64)
				if err != nil {
					return nil, bad("model", "Line %d of the OBJ model: %q is no number.", line, cut(f[k]))
				}
				v[k] = x
			}
			n, ok := b.corner(float32(v[0]), float32(v[1]), float32(v[2]))
			if !ok {
				return nil, bad("model", "Line %d of the OBJ model is no place; the file may be damaged.", line)
			}
			place, number = append(place, v), append(number, n)
		case "f", "fo":
			f := fields(rest, mostSides+1)
			if len(f) < 3 || len(f) > mostSides {
				return nil, bad("model", "The face in line %d of the OBJ model has %d corners; a face has 3 to %d.", line, len(f), mostSides)
			}
			at := make([]int, len(f))
			for i, w := range f {
				w, _, _ = strings.Cut(w, "/")
				n, err := strconv.Atoi(w)
				if n < 0 {
					n += len(place) + 1
				}
				if err != nil || n < 1 || n > len(place) {
					return nil, bad("model", "The face in line %d of the OBJ model names corner %q; there are %d corners so far.", line, cut(w), len(place))
				}
				at[i] = n - 1
			}
			if faces += int64(len(f) - 2); faces > mostTriangles {
				return nil, tooMany(faces)
			}
			cutFace(at, place, &work, func(i, j, k int) { b.triangle(number[i], number[j], number[k]) })
			if work < 0 {
				return nil, bad("model", "The faces of the OBJ model have too many corners to be cut into triangles here; save it as triangles.")
			}
		case "curv", "curv2", "surf":
			curves++
		}
	}
	if !seen {
		return nil, bad("model", "The file is none of the models that are read here: STL, OBJ and 3MF.")
	}
	if curves > 0 {
		b.m.Notes = append(b.m.Notes, "Curved surfaces in the OBJ model are not measured; save it as triangles.")
	}
	return b.mesh(), nil
}

// fields cuts a line into at most n words.
func fields(s string, n int) []string {
	var out []string
	for len(out) < n {
		s = strings.TrimLeft(s, " \t\r\v\f")
		if s == "" {
			break
		}
		i := strings.IndexAny(s, " \t\r\v\f")
		if i < 0 {
			i = len(s)
		}
		out = append(out, s[:i])
		s = s[i:]
	}
	return out
}

// cutFace cuts a face into triangles, corner by corner (the ear method of Meisters,
// G. H., Polygons Have Ears, American Mathematical Monthly 82(6):648-651, 1975), on
// the plane that the face is nearest to. A face that crosses itself is cut as a fan.
func cutFace(at []int, place [][3]float64, work *int, triangle func(i, j, k int)) {
	if len(at) == 3 {
		triangle(at[0], at[1], at[2])
		return
	}
	// Newell's normal: which axis the face looks along most
	var n Vec
	for i := range at {
		p, q := place[at[i]], place[at[(i+1)%len(at)]]
		n.X += (p[1] - q[1]) * (p[2] + q[2])
		n.Y += (p[2] - q[2]) * (p[0] + q[0])
		n.Z += (p[0] - q[0]) * (p[1] + q[1])
	}
	x, y, sign := 0, 1, n.Z
	switch ax, ay, az := math.Abs(n.X), math.Abs(n.Y), math.Abs(n.Z); {
	case ax >= ay && ax >= az:
		x, y, sign = 1, 2, n.X
	case ay >= az:
		x, y, sign = 2, 0, n.Y
	}
	flat := func(i int) Point {
		p := Point{place[i][x], place[i][y]}
		if sign < 0 {
			p.X = -p.X
		}
		return p
	}
	turn := func(a, b, c Point) float64 { return (b.X-a.X)*(c.Y-a.Y) - (c.X-a.X)*(b.Y-a.Y) }
	left := append([]int(nil), at...)
	for len(left) > 3 {
		ear := -1
		for i := range left {
			a, b, c := flat(left[(i+len(left)-1)%len(left)]), flat(left[i]), flat(left[(i+1)%len(left)])
			if turn(a, b, c) <= 0 {
				continue
			}
			free := true
			*work -= len(left)
			for j := range left {
				if j == i || j == (i+1)%len(left) || j == (i+len(left)-1)%len(left) {
					continue
				}
				if p := flat(left[j]); p != a && p != b && p != c && turn(a, b, p) >= 0 && turn(b, c, p) >= 0 && turn(c, a, p) >= 0 {
					free = false
					break
				}
			}
			if free {
				ear = i
				break
			}
		}
		if ear < 0 || *work < 0 { // crosses itself, or the rest lies on a line
			for i := 1; i+1 < len(left); i++ {
				triangle(left[0], left[i], left[i+1])
			}
			return
		}
		triangle(left[(ear+len(left)-1)%len(left)], left[ear], left[(ear+1)%len(left)])
		left = append(left[:ear], left[ear+1:]...)
	}
	triangle(left[0], left[1], left[2])
}
