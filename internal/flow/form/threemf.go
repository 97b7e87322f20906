package form

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"path"
	"strconv"
	"strings"
)

// 3MF: 3MF Consortium, 3D Manufacturing Format, Core Specification 1.3 (ISO/IEC
// 25422:2025). Meshes, components and their transforms are read; materials, slices
// and lattices are not.
var units3MF = map[string]float64{
	"micron": 0.001, "millimeter": 1, "centimeter": 10, "inch": 25.4, "foot": 304.8, "meter": 1000,
}

const (
	most3MFBytes  = 512 << 20 // of the model unpacked
	most3MFFiles  = 10_000
	mostNested    = 16 // components within components
	refModelType  = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
	usualModel3MF = "3D/3dmodel.model"
)

// read3MF reads a 3MF file and returns it with the length of its unit in mm.
func read3MF(data []byte) (*Mesh, float64, error) {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, 0, bad("model", "The 3MF model can't be unpacked; it may be cut off.")
	}
	if len(z.File) > most3MFFiles {
		return nil, 0, bad("model", "The 3MF model holds %d files; a model has a few.", len(z.File))
	}
	name := usualModel3MF
	if f := find(z, "_rels/.rels"); f != nil && f.UncompressedSize64 < 1<<20 {
		if target := modelTarget(f); target != "" {
			name = target
		}
	}
	f := find(z, name)
	if f == nil {
		return nil, 0, bad("model", "The file is a zip, but no 3MF model is in it (%s).", cut(name))
	}
	if f.UncompressedSize64 > most3MFBytes {
		return nil, 0, bad("model", "The 3MF model unpacks to %d MB; it can have %d MB.", f.UncompressedSize64>>20, most3MFBytes>>20)
	}
	if f.UncompressedSize64 > 16<<20 && f.UncompressedSize64/100 > f.CompressedSize64 {
		return nil, 0, bad("model", "The 3MF model unpacks to over a hundred times its size, which no model of a piece does.")
	}
	r, err := f.Open()
	if err != nil {
		return nil, 0, bad("model", "The 3MF model can't be unpacked: its packing is none that is read here.")
	}
	defer r.Close()
	m := model3MF{objects: map[string]*object3MF{}, unit: 1}
	if err := m.read(io.LimitReader(r, int64(f.UncompressedSize64))); err != nil {
		return nil, 0, err
	}
	mesh, err := m.build()
	return mesh, m.unit, err
}

// find looks a file up as zip and package names may be written.
func find(z *zip.Reader, name string) *zip.File {
	name = strings.TrimPrefix(path.Clean("/"+name), "/")
	for _, f := range z.File {
		if strings.EqualFold(strings.TrimPrefix(path.Clean("/"+f.Name), "/"), name) {
			return f
		}
	}
	return nil
}

// modelTarget reads which file of the package is the model.
func modelTarget(f *zip.File) string {
	r, err := f.Open()
	if err != nil {
		return ""
	}
	defer r.Close()
	dec := xml.NewDecoder(io.LimitReader(r, 1<<20))
	for {
		tok, err := dec.RawToken()
		if err != nil {
			return ""
		}
		if s, ok := tok.(xml.StartElement); ok && s.Name.Local == "Relationship" {
			if a := attributes(s); a["Type"] == refModelType {
				return a["Target"]
			}
		}
	}
}

func attributes(s xml.StartElement) map[string]string {
	m := make(map[string]string, len(s.Attr))
	for _, a := range s.Attr {
		if a.Name.Space == "" {
			m[a.Name.Local] = a.Value
		}
	}
	return m
}

// solid is a map of space: x y z times the rows of m, plus the last row.
type solid [12]float64

var unmovedSolid = solid{1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0}

func (m solid) point(v [3]float64) [3]float64 {
	var out [3]float64
	for k := range out {
		out[k] = v[0]*m[k] + v[1]*m[3+k] + v[2]*m[6+k] + m[9+k]
	}
	return out
}

// after is m applied to what o made.
func (m solid) after(o solid) solid {
	var out solid
	for r := range 3 {
		row := [3]float64{o[3*r], o[3*r+1], o[3*r+2]}
		for k := range 3 {
			out[3*r+k] = row[0]*m[k] + row[1]*m[3+k] + row[2]*m[6+k]
		}
	}
	p := m.point([3]float64{o[9], o[10], o[11]})
	out[9], out[10], out[11] = p[0], p[1], p[2]
	return out
}

// mirrors reports whether m turns left hands into right ones.
func (m solid) mirrors() bool {
	return Vec{m[0], m[1], m[2]}.cross(Vec{m[3], m[4], m[5]}).dot(Vec{m[6], m[7], m[8]}) < 0
}

func readSolid(s string) (solid, error) {
	if strings.TrimSpace(s) == "" {
		return unmovedSolid, nil
	}
	v := numbers(s)
	if len(v) != 12 {
		return unmovedSolid, bad("model", "The 3MF model moves a part by %q, which is not 12 numbers.", cut(s))
	}
	return solid(v), nil
}

type object3MF struct {
	pts   [][3]float64
	tris  [][3]int32
	parts []component3MF
	other bool // supports and such: no metal
}

type component3MF struct {
	id string
	m  solid
}

type model3MF struct {
	objects map[string]*object3MF
	items   []component3MF
	unit    float64
	count   int64 // triangles read
	corners int64
	beams   bool
}

// read reads the model's XML.
func (m *model3MF) read(r io.Reader) error {
	dec := xml.NewDecoder(r)
	var at *object3MF
	depth, began := 0, false
	wrong := func(what string) error {
		return bad("model", "The 3MF model is damaged near byte %d: %s.", dec.InputOffset(), what)
	}
	for {
		tok, err := dec.RawToken()
		if err == io.EOF {
			break
		}
		if err != nil {
			return wrong("it does not read as XML, or is cut off")
		}
		switch tok := tok.(type) {
		case xml.Directive:
			return wrong("a 3MF model has no document type")
		case xml.EndElement:
			depth--
			if tok.Name.Local == "object" {
				at = nil
			}
		case xml.StartElement:
			if depth++; depth > mostDepth {
				return wrong("its parts are nested too deep")
			}
			attr := func(name string) string {
				for _, a := range tok.Attr {
					if a.Name.Space == "" && a.Name.Local == name {
						return a.Value
					}
				}
				return ""
			}
			switch tok.Name.Local {
			case "model":
				began = true
				if u := attr("unit"); u != "" {
					mm, ok := units3MF[u]
					if !ok {
						return bad("model", "The 3MF model's unit is %q, which is none of the standard's.", cut(u))
					}
					m.unit = mm
				}
			case "object":
				at = &object3MF{other: attr("type") == "support" || attr("type") == "other"}
				if len(m.objects) >= mostElements {
					return wrong("it has too many objects")
				}
				m.objects[attr("id")] = at
			case "vertex":
				var v [3]float64
				for k, name := range [3]string{"x", "y", "z"} {
					x, err := strconv.ParseFloat(attr(name), 64)
					if err != nil {
						return wrong(fmt.Sprintf("a corner's %s is %q", name, cut(attr(name))))
					}
					v[k] = x
				}
				if m.corners++; m.corners > 3*mostTriangles {
					return tooMany(m.corners)
				}
				if at != nil {
					at.pts = append(at.pts, v)
				}
			case "triangle":
				var t [3]int32
				for k, name := range [3]string{"v1", "v2", "v3"} {
					n, err := strconv.ParseUint(attr(name), 10, 31)
					if err != nil || at == nil || int(n) >= len(at.pts) {
						return wrong(fmt.Sprintf("a triangle names corner %q", cut(attr(name))))
					}
					t[k] = int32(n)
				}
				if m.count++; m.count > mostTriangles {
					return tooMany(m.count)
				}
				at.tris = append(at.tris, t)
			case "component", "item":
				move, err := readSolid(attr("transform"))
				if err != nil {
					return err
				}
				c := component3MF{attr("objectid"), move}
				if len(m.items) >= mostElements || at != nil && len(at.parts) >= mostElements {
					return wrong("it has too many parts")
				}
				if tok.Name.Local == "item" {
					m.items = append(m.items, c)
				} else if at != nil {
					at.parts = append(at.parts, c)
				}
			case "beamlattice", "slicestack":
				m.beams = true
			}
		}
	}
	if !began || depth != 0 {
		return wrong("it is not a whole model")
	}
	return nil
}

// build places the objects.
func (m *model3MF) build() (*Mesh, error) {
	b := newBuilder(int(m.count))
	var faces, places int64
	var put func(c component3MF, deep int) error
	put = func(c component3MF, deep int) error {
		o := m.objects[c.id]
		if o == nil {
			return bad("model", "The 3MF model places object %q, which is not in it; it may lie in a file of its own, which is not read here.", cut(c.id))
		}
		if places++; deep > mostNested || places > mostElements {
			return bad("model", "The 3MF model nests its parts too deep or too often.")
		}
		if o.other {
			return nil
		}
		if faces += int64(len(o.tris)) + int64(len(o.pts))/3; faces > mostTriangles {
			return tooMany(faces)
		}
		number := make([]int32, len(o.pts))
		for i, p := range o.pts {
			p = c.m.point(p)
			n, ok := b.corner(float32(p[0]), float32(p[1]), float32(p[2]))
			if !ok {
				return bad("model", "Corner %d of object %q in the 3MF model is no place.", i, cut(c.id))
			}
			number[i] = n
		}
		mirrored := c.m.mirrors()
		for _, t := range o.tris {
			if mirrored {
				t[1], t[2] = t[2], t[1]
			}
			b.triangle(number[t[0]], number[t[1]], number[t[2]])
		}
		for _, p := range o.parts {
			if err := put(component3MF{p.id, c.m.after(p.m)}, deep+1); err != nil {
				return err
			}
		}
		return nil
	}
	for _, c := range m.items {
		if err := put(c, 0); err != nil {
			return nil, err
		}
	}
	if m.beams {
		b.m.Notes = append(b.m.Notes, "Lattices and slices in the 3MF model are not measured; save it as triangles.")
	}
	return b.mesh(), nil
}
