package colour

import (
	"encoding/binary"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf16"
)

var (
	errCut      = errors.New("it is cut short or damaged")
	errLUT      = errors.New("it works by look-up tables; only profiles made of a matrix and tone curves can be read")
	errWhite    = errors.New("its white is not the D50 that profiles must use")
	errSingular = errors.New("its red, green and blue are not three different colours")
)

// iccSpaces names the device colour spaces that cannot be read (ICC.1:2022, table 19).
var iccSpaces = map[string]string{
	"CMYK": "CMYK printing inks", "CMY ": "CMY printing inks", "Lab ": "CIELAB", "XYZ ": "CIE XYZ",
	"YCbr": "YCbCr", "HSV ": "HSV", "HLS ": "HLS", "Luv ": "CIELUV", "Yxy ": "CIE Yxy",
}

// ParseICC reads an ICC profile, version 2 or 4, that is made of a matrix and tone
// curves for RGB, or of one tone curve for grey (read as R = G = B). It returns
// the space and the name the profile gives itself, which may be empty.
//
// Profiles with look-up tables, for inks and of other kinds are refused, as are
// damaged ones; the error completes the sentence "The colour profile can't be
// used: ...". It takes less than 3 MB of memory, whatever b holds.
// Source: ICC.1:2022; the section numbers quoted in this file are from memory.
func ParseICC(b []byte) (s Space, name string, err error) {
	p, err := readProfile(b)
	if err != nil {
		return Space{}, "", err
	}
	name = p.name()
	var d *spaceData
	switch kind := string(b[16:20]); {
	case kind == "RGB ":
		d, err = p.rgb()
	case kind == "GRAY":
		d, err = p.grey()
	default:
		what, ok := iccSpaces[kind]
		if !ok {
			what = fmt.Sprintf("the colour space %q", strings.TrimSpace(printable(kind)))
		}
		err = fmt.Errorf("it is for %s; only RGB and grey can be read", what)
	}
	if err != nil {
		return Space{}, name, err
	}
	return Space{d}, name, nil
}

// profile is an ICC file whose header and tag table have been checked.
type profile struct {
	b    []byte
	tags []byte // the tag table: 12 bytes each of signature, offset, size
}

func readProfile(b []byte) (*profile, error) {
	if len(b) < 132 || string(b[36:40]) != "acsp" {
		return nil, errors.New("it is not an ICC profile")
	}
	if v := b[8]; v != 2 && v != 4 {
		return nil, fmt.Errorf("it is of version %d; versions 2 and 4 can be read", v)
	}
	count := uint64(binary.BigEndian.Uint32(b[128:]))
	if count > uint64(len(b)-132)/12 {
		return nil, errCut
	}
	p := &profile{b: b, tags: b[132 : 132+12*count]}
	for _, tag := range []string{"A2B0", "A2B1", "A2B2", "D2B0", "D2B1", "D2B2", "D2B3"} {
		if _, ok := p.find(tag); ok && (string(b[16:20]) == "RGB " || string(b[16:20]) == "GRAY") {
			return nil, errLUT // where both are there, the tables come first (ICC.1:2022, 8.10)
		}
	}
	return p, nil
}

// part is where in the file the data of a tag lies.
type part struct{ offset, size uint64 }

func (p *profile) find(signature string) (at part, ok bool) {
	for t := p.tags; len(t) >= 12; t = t[12:] {
		if string(t[:4]) == signature {
			return part{uint64(binary.BigEndian.Uint32(t[4:])), uint64(binary.BigEndian.Uint32(t[8:]))}, true
		}
	}
	return part{}, false
}

// tag returns the data of a tag, which starts with its 4-byte type and 4 zeros.
func (p *profile) tag(signature string) ([]byte, error) {
	at, ok := p.find(signature)
	if !ok {
		return nil, fmt.Errorf("its part %s is missing", signature)
	}
	if at.size < 8 || at.offset > uint64(len(p.b)) || at.size > uint64(len(p.b))-at.offset {
		return nil, errCut
	}
	return p.b[at.offset : at.offset+at.size], nil
}

func (p *profile) rgb() (*spaceData, error) {
	if pcs := string(p.b[20:24]); pcs != "XYZ " {
		return nil, errLUT
	}
	var m Matrix
	var t [3]*tone
	curves := map[part]*tone{} // most profiles point all three channels at the same bytes
	for i, c := range []string{"r", "g", "b"} {
		column, err := p.tag(c + "XYZ")
		if err != nil {
			return nil, err
		}
		if string(column[:4]) != "XYZ " || len(column) < 20 {
			return nil, errCut
		}
		for row := range 3 {
			m[row][i] = fixed16(column[8+4*row:])
		}
		if t[i], err = p.curve(c+"TRC", curves); err != nil {
			return nil, err
		}
	}
	return newSpaceData(m, t)
}

func (p *profile) grey() (*spaceData, error) {
	if pcs := string(p.b[20:24]); pcs != "XYZ " {
		return nil, errors.New("its grey is not measured in CIE XYZ")
	}
	t, err := p.curve("kTRC", map[part]*tone{})
	if err != nil {
		return nil, err
	}
	// Any matrix whose white is D50 gives the same greys.
	return newSpaceData(SRGB.Matrix(), [3]*tone{t, t, t})
}

// curve reads a tone curve, looking first among those already read.
func (p *profile) curve(signature string, seen map[part]*tone) (*tone, error) {
	b, err := p.tag(signature)
	if err != nil {
		return nil, err
	}
	at, _ := p.find(signature)
	if t, ok := seen[at]; ok {
		return t, nil
	}
	if len(b) < 12 {
		return nil, errCut
	}
	var t tone
	switch kind := string(b[:4]); kind {
	case "curv":
		t, err = sampledTone(b)
	case "para":
		t, err = parametricTone(b)
	default:
		err = fmt.Errorf("its tone curve is of the unknown kind %q", printable(kind))
	}
	if err != nil {
		return nil, err
	}
	made, err := newTone(t)
	if err != nil {
		return nil, err
	}
	seen[at] = made
	return made, nil
}

// sampledTone reads a curveType (ICC.1:2022, 10.6): no sample means identity, one
// is a gamma, more are equally spaced.
func sampledTone(b []byte) (tone, error) {
	n := uint64(binary.BigEndian.Uint32(b[8:]))
	if n > uint64(len(b)-12)/2 {
		return tone{}, errCut
	}
	switch n {
	case 0:
		return tone{g: 1, a: 1}, nil
	case 1:
		g := float64(binary.BigEndian.Uint16(b[12:])) / 256
		if g == 0 {
			return tone{}, errToneWild
		}
		return tone{g: g, a: 1}, nil
	}
	if n > 65536 {
		return tone{}, errors.New("its tone curve has more samples than a 16-bit value can tell apart")
	}
	t := tone{table: make([]float64, n)}
	for i := range t.table {
		t.table[i] = float64(binary.BigEndian.Uint16(b[12+2*i:])) / 65535
	}
	return t, nil
}

// parametricTone reads a parametricCurveType (ICC.1:2022, 10.18).
func parametricTone(b []byte) (tone, error) {
	counts := []int{1, 3, 4, 5, 7}
	kind := int(binary.BigEndian.Uint16(b[8:]))
	if kind >= len(counts) {
		return tone{}, fmt.Errorf("its tone curve is of the unknown parametric kind %d", kind)
	}
	var v [7]float64
	if len(b) < 12+4*counts[kind] {
		return tone{}, errCut
	}
	for i := range counts[kind] {
		v[i] = fixed16(b[12+4*i:])
	}
	t := tone{g: v[0], a: v[1], b: v[2]}
	switch kind {
	case 0:
		t.a, t.b = 1, 0
	case 1, 2:
		t.e, t.f = v[3], v[3]
		if t.a != 0 {
			t.d = -t.b / t.a
		}
	case 3, 4:
		t.c, t.d, t.e, t.f = v[3], v[4], v[5], v[6]
	}
	if t.g <= 0 || t.a <= 0 {
		return tone{}, errToneWild
	}
	return t, nil
}

// fixed16 reads an s15Fixed16Number.
func fixed16(b []byte) float64 { return float64(int32(binary.BigEndian.Uint32(b))) / 65536 }

// name returns the profile's description, in English if it has several.
func (p *profile) name() string {
	b, err := p.tag("desc")
	if err != nil || len(b) < 16 {
		return ""
	}
	n := uint64(binary.BigEndian.Uint32(b[8:]))
	switch string(b[:4]) {
	case "desc": // version 2: a count and ASCII
		if n > uint64(len(b)-12) {
			return ""
		}
		return printable(string(b[12 : 12+n]))
	case "mluc": // version 4: records of language, country, length, offset, and UTF-16
		if n > uint64(len(b)-16)/12 {
			return ""
		}
		best := ""
		for i := range int(n) {
			r := b[16+12*i:]
			size, offset := uint64(binary.BigEndian.Uint32(r[4:])), uint64(binary.BigEndian.Uint32(r[8:]))
			if offset > uint64(len(b)) || size > uint64(len(b))-offset {
				continue
			}
			text := b[offset : offset+min(size, 2*maxName)]
			var u []uint16
			for ; len(text) >= 2; text = text[2:] {
				u = append(u, binary.BigEndian.Uint16(text))
			}
			if s := printable(string(utf16.Decode(u))); s != "" && (best == "" || string(r[:2]) == "en") {
				best = s
				if string(r[:2]) == "en" {
					break
				}
			}
		}
		return best
	}
	return ""
}

// maxName is the most characters kept of a profile's name.
const maxName = 80

// printable keeps the characters of s that can be shown on one line.
func printable(s string) string {
	r := []rune(strings.ToValidUTF8(s, ""))
	r = slices.DeleteFunc(r, func(c rune) bool { return !unicode.IsPrint(c) })
	return strings.TrimSpace(string(r[:min(len(r), maxName)]))
}
