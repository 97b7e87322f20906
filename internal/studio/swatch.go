package studio

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Face is one side of a swatch.
type Face string

// The two faces.
const (
	Front Face = "front"
	Back  Face = "back"
)

// BothFaces lists the faces in the order shown.
var BothFaces = []Face{Front, Back}

// Faces says which faces a treatment touches.
type Faces string

// What a treatment may touch.
const (
	OnFront Faces = "front"
	OnBack  Faces = "back"
	OnBoth  Faces = "both"
)

// Has reports whether f includes face.
func (f Faces) Has(face Face) bool { return f == OnBoth || string(f) == string(face) }

// A Swatch is one numbered test piece. Its Number is its own for ever.
type Swatch struct {
	Number   int64 // also its key in the store
	SetID    int64
	MetalID  int64
	WidthMM  float64
	HeightMM float64
	// OutsideMM2 and InsideMM2 are the areas of the front and back of a piece in a
	// batch, whose WidthMM and HeightMM are the size of its outline; 0 for a swatch.
	OutsideMM2, InsideMM2 float64
	Blank                 bool // kept bare, as the reference of its set
	Note                  string
	Made                  time.Time
	BinnedAt              time.Time
}

// AreaM2 returns the area of the front in m2.
func (s Swatch) AreaM2() float64 { return s.FaceM2(Front) }

// FaceM2 returns the area of a face in m2.
func (s Swatch) FaceM2(f Face) float64 {
	switch {
	case s.OutsideMM2 == 0 && s.InsideMM2 == 0:
		return s.WidthMM * s.HeightMM * 1e-6
	case f == Back:
		return s.InsideMM2 * 1e-6
	}
	return s.OutsideMM2 * 1e-6
}

// FacesM2 returns the area of the faces a treatment touches in m2.
func (s Swatch) FacesM2(f Faces) float64 {
	sum := 0.0
	for _, face := range BothFaces {
		if f.Has(face) {
			sum += s.FaceM2(face)
		}
	}
	return sum
}

const checkAlphabet = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"

// checkCharacter returns the check character of text (digits and capitals) by
// ISO/IEC 7064:2003, MOD 37,36: it catches every single wrong character and
// nearly every swap of neighbours.
func checkCharacter(text string) byte {
	p := 36
	for i := 0; i < len(text); i++ {
		s := (p + strings.IndexByte(checkAlphabet, text[i])) % 36
		if s == 0 {
			s = 36
		}
		p = s * 2 % 37
	}
	return checkAlphabet[(37-p)%36]
}

// Code returns what a face's label says to a machine and to a person:
// 'S', the number, 'F' or 'B' for the face, and a check character.
func Code(number int64, face Face) string {
	letter := "F"
	if face == Back {
		letter = "B"
	}
	text := fmt.Sprintf("S%04d%s", number, letter)
	return text + string(checkCharacter(text))
}

// ReadCode takes a label's text apart; small letters, spaces and hyphens are forgiven.
func ReadCode(code string) (number int64, face Face, err error) {
	c := strings.ToUpper(strings.NewReplacer(" ", "", "-", "").Replace(code))
	bad := Problemf(Invalid, "code", "%q is not a swatch label; a label reads like %s.", code, Code(42, Front))
	if len(c) < 7 || len(c) > 21 || c[0] != 'S' {
		return 0, "", bad
	}
	body, check := c[:len(c)-1], c[len(c)-1]
	for i := 0; i < len(body); i++ {
		if strings.IndexByte(checkAlphabet, body[i]) < 0 {
			return 0, "", bad
		}
	}
	if checkCharacter(body) != check {
		return 0, "", Problemf(Invalid, "code", "The label %q does not check: one of its characters was misread. Read it again, or type the swatch's number.", code)
	}
	switch body[len(body)-1] {
	case 'F':
		face = Front
	case 'B':
		face = Back
	default:
		return 0, "", bad
	}
	number, perr := strconv.ParseInt(body[1:len(body)-1], 10, 64)
	if perr != nil || number < 1 {
		return 0, "", bad
	}
	return number, face, nil
}
