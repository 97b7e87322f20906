package form

import (
	"encoding/binary"
	"math"
	"strconv"
	"strings"
)

// STL: 3D Systems, StereoLithography Interface Specification, 1989, as given in the
// Library of Congress's format description fdd000504 (binary) and fdd000506 (ASCII).
const (
	stlHead = 84
	stlFace = 50
)

// binarySTL reports whether a file is binary STL: its length says so, since the
// head of a binary file may begin with "solid" too.
func binarySTL(data []byte) bool {
	if len(data) < stlHead {
		return false
	}
	n := int64(binary.LittleEndian.Uint32(data[80:]))
	want := stlHead + stlFace*n
	if int64(len(data)) == want {
		return true
	}
	// cut off, or with something after it: binary unless it reads as text
	for _, c := range data[:min(len(data), 1000)] {
		if c == 0 || c >= 0x80 {
			return n <= 1<<31
		}
	}
	return false
}

func readBinarySTL(data []byte) (*Mesh, error) {
	n := int64(binary.LittleEndian.Uint32(data[80:]))
	if have := int64(len(data)-stlHead) / stlFace; have < n {
		return nil, bad("model", "The STL model says it has %d triangles, but the file ends after %d; it may be cut off.", n, have)
	}
	if n > mostTriangles {
		return nil, tooMany(n)
	}
	b := newBuilder(int(n))
	b.m.Assumed = true
	for i := range int(n) {
		f := data[stlHead+stlFace*i+12 : stlHead+stlFace*(i+1)]
		var c [3]int32
		for k := range c {
			g := f[12*k : 12*k+12]
			v, ok := b.corner(float(g[0:]), float(g[4:]), float(g[8:]))
			if !ok {
				return nil, bad("model", "Triangle %d of the STL model has a corner that is no place; the file may be damaged.", i+1)
			}
			c[k] = v
		}
		b.triangle(c[0], c[1], c[2])
	}
	return b.mesh(), nil
}

func float(b []byte) float32 { return math.Float32frombits(binary.LittleEndian.Uint32(b)) }

func tooMany(n int64) error {
	return bad("model", "The model has %d triangles; it can have %d. Save it coarser: a tenth of a millimetre is fine enough.", n, mostTriangles)
}

func readASCIISTL(data []byte) (*Mesh, error) {
	b := newBuilder(len(data) / 250)
	b.m.Assumed = true
	words := wordReader{s: string(data), line: 1}
	var c [3]int32
	n, faces := 0, int64(0)
	ended := false
	for {
		w := words.next()
		if w == "" {
			break
		}
		switch strings.ToLower(w) {
		case "vertex":
			var v [3]float32
			for k := range v {
				f, err := strconv.ParseFloat(words.next(), 32)
				if err != nil {
					return nil, bad("model", "Line %d of the STL model has no three numbers after 'vertex'.", words.line)
				}
				v[k] = float32(f)
			}
			if n == 3 {
				return nil, bad("model", "Line %d of the STL model gives a face a fourth corner; faces are triangles.", words.line)
			}
			k, ok := b.corner(v[0], v[1], v[2])
			if !ok {
				return nil, bad("model", "Line %d of the STL model is no place; the file may be damaged.", words.line)
			}
			c[n] = k
			n++
		case "endloop", "endfacet":
			if n == 3 {
				if faces++; faces > mostTriangles {
					return nil, tooMany(faces)
				}
				b.triangle(c[0], c[1], c[2])
			} else if n != 0 {
				return nil, bad("model", "The face that ends in line %d of the STL model has %d corners instead of 3.", words.line, n)
			}
			n = 0
		case "endsolid":
			ended = true
		case "solid":
			ended = false
		}
	}
	if n != 0 || !ended {
		return nil, bad("model", "The STL model is cut off at line %d.", words.line)
	}
	return b.mesh(), nil
}

// wordReader cuts a text into words and counts lines.
type wordReader struct {
	s    string
	i    int
	line int
}

func (r *wordReader) next() string {
	for r.i < len(r.s) && r.s[r.i] <= ' ' {
		if r.s[r.i] == '\n' {
			r.line++
		}
		r.i++
	}
	start := r.i
	for r.i < len(r.s) && r.s[r.i] > ' ' {
		r.i++
	}
	return r.s[start:r.i]
}
