package find

import (
	"cmp"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// A Query is what was typed into the one box, taken apart.
type Query struct {
	Number int64 // a swatch, 0 for none
	Face   studio.Face
	Set    int64 // with Number: S3-14 is swatch 14 of set 3, or its 14th
	Place  int64
	Words  []string // small letters
	Like   bool     // with Number: swatches that look like it
	Look   *Look
}

// A Look is a wanted look: a colour and, if said, how much is covered and whether its
// photographs show glare.
type Look struct {
	Lab     colour.Lab
	From    string // where the colour came from, in words
	Covered string // "bare", "half covered", "covered" or ""
	Shine   string // "matte", "shiny" or ""
}

// A NamedLook is a colour people name, with the CIELAB it is looked for by: our own
// choice within each word's range, common practice, no source.
type NamedLook struct {
	Name string
	Lab  colour.Lab
}

// NamedLooks are the colours that can be named.
var NamedLooks = []NamedLook{
	{"blue-green", colour.Lab{L: 55, A: -25, B: -8}},
	{"turquoise", colour.Lab{L: 65, A: -28, B: -12}},
	{"green", colour.Lab{L: 50, A: -28, B: 14}},
	{"pale green", colour.Lab{L: 75, A: -18, B: 10}},
	{"blue", colour.Lab{L: 42, A: -4, B: -30}},
	{"brown", colour.Lab{L: 36, A: 12, B: 20}},
	{"red-brown", colour.Lab{L: 38, A: 26, B: 22}},
	{"black", colour.Lab{L: 15, A: 0, B: 0}},
	{"grey", colour.Lab{L: 52, A: 0, B: 0}},
	{"white", colour.Lab{L: 90, A: 0, B: 2}},
	{"golden", colour.Lab{L: 68, A: 5, B: 38}},
	{"copper", colour.Lab{L: 58, A: 22, B: 26}},
}

// Covers are the words for how much is covered: up to a quarter, up to three, more.
var Covers = []string{"bare", "half covered", "covered"}

var (
	numberFace = regexp.MustCompile(`^(?:swatch |nr |no |#)?(\d{1,12}) ?(front|back|f|b)?$`)
	setNumber  = regexp.MustCompile(`^s(\d{1,9})[-/ ](\d{1,12})$`)
	hexColour  = regexp.MustCompile(`^#?([0-9a-f]{6})$`)
	labNumbers = regexp.MustCompile(`^(?:lab|cielab|l\*?)?[ (:=]*(-?\d+(?:\.\d+)?)[ ,;]+(?:a\*?[ :=]*)?(-?\d+(?:\.\d+)?)[ ,;]+(?:b\*?[ :=]*)?(-?\d+(?:\.\d+)?)\)?$`)
	rgbNumbers = regexp.MustCompile(`^s?rgb[ (:=]*(\d{1,3})[ ,;]+(\d{1,3})[ ,;]+(\d{1,3})\)?$`)
)

// Read takes a text apart. Codes come first, then numbers, colours, named looks, and
// what is left is words. It fails with a *studio.Problem on a label that does not check.
func Read(text string) (Query, error) {
	t := strings.Join(strings.Fields(strings.ReplaceAll(strings.ToLower(text), "−", "-")), " ")
	if t == "" {
		return Query{}, nil
	}
	if n, face, err := studio.ReadCode(t); err == nil {
		return Query{Number: n, Face: face}, nil
	}
	if id, err := studio.ReadPlaceCode(t); err == nil {
		return Query{Place: id}, nil
	}
	like, isLike := strings.CutPrefix(t, "like ")
	if m := numberFace.FindStringSubmatch(like); m != nil && isLike {
		q, err := Read(like)
		q.Like = true
		return q, err
	}
	if m := setNumber.FindStringSubmatch(t); m != nil {
		set, _ := strconv.ParseInt(m[1], 10, 64)
		n, _ := strconv.ParseInt(m[2], 10, 64)
		return Query{Set: set, Number: n}, nil
	}
	if m := numberFace.FindStringSubmatch(t); m != nil {
		n, _ := strconv.ParseInt(m[1], 10, 64)
		face := studio.Face("")
		switch m[2] {
		case "front", "f":
			face = studio.Front
		case "back", "b":
			face = studio.Back
		}
		if n > 0 {
			return Query{Number: n, Face: face}, nil
		}
	}
	if labelLike.MatchString(t) {
		_, _, err := studio.ReadCode(t)
		if t[0] == 'p' {
			_, err = studio.ReadPlaceCode(t)
		}
		return Query{}, err
	}
	if look := readLook(t); look != nil {
		return Query{Look: look}, nil
	}
	return Query{Words: strings.FieldsFunc(t, func(r rune) bool { return r == ' ' || r == ',' || r == ';' })}, nil
}

// labelLike is what looks like a label and does not check.
var labelLike = regexp.MustCompile(`^[sp]\d{4,}[a-z0-9]{1,2}$`)

// readLook reads a colour by numbers, or a look by its words; nil when it is none. All
// of the words must be of the look, or a recipe's "blue salt" would be lost.
func readLook(t string) *Look {
	if m := labNumbers.FindStringSubmatch(t); m != nil {
		var v [3]float64
		for i := range v {
			v[i], _ = strconv.ParseFloat(m[i+1], 64)
		}
		if v[0] >= 0 && v[0] <= 100 && math.Abs(v[1]) <= 128 && math.Abs(v[2]) <= 128 {
			return &Look{Lab: colour.Lab{L: v[0], A: v[1], B: v[2]}, From: fmt.Sprintf("L* %g, a* %g, b* %g", v[0], v[1], v[2])}
		}
		return nil
	}
	rgb, ok := [3]float64{}, false
	if m := hexColour.FindStringSubmatch(t); m != nil {
		n, _ := strconv.ParseUint(m[1], 16, 32)
		rgb, ok = [3]float64{float64(n >> 16 & 255), float64(n >> 8 & 255), float64(n & 255)}, true
	} else if m := rgbNumbers.FindStringSubmatch(t); m != nil {
		ok = true
		for i := range rgb {
			rgb[i], _ = strconv.ParseFloat(m[i+1], 64)
			ok = ok && rgb[i] <= 255
		}
	}
	if ok {
		return &Look{Lab: labOf(rgb), From: fmt.Sprintf("sRGB %g, %g, %g", rgb[0], rgb[1], rgb[2])}
	}
	rest := " " + strings.ReplaceAll(t, ",", " ") + " "
	rest = strings.Join(strings.Fields(rest), " ")
	rest = " " + rest + " "
	take := func(word string) bool {
		if !strings.Contains(rest, " "+word+" ") {
			return false
		}
		rest = strings.Replace(rest, " "+word+" ", " ", 1)
		return true
	}
	var look Look
	for _, w := range []string{"half covered", "covered", "bare"} {
		if look.Covered == "" && take(w) {
			look.Covered = w
		}
	}
	for _, w := range []string{"matte", "shiny"} {
		if take(w) {
			look.Shine = w
		}
	}
	names := slices.Clone(NamedLooks)
	slices.SortFunc(names, func(a, b NamedLook) int { return cmp.Compare(len(b.Name), len(a.Name)) })
	named := false
	for _, n := range names {
		if take(n.Name) {
			look.Lab, look.From, named = n.Lab, n.Name, true
			break
		}
	}
	if !named || strings.TrimSpace(rest) != "" {
		return nil
	}
	return &look
}

// labOf returns the CIELAB (D50) of an sRGB colour of 0 to 255 in each channel.
func labOf(rgb [3]float64) colour.Lab {
	return colour.SRGB.Lab(colour.SRGB.Decode(rgb[0]/255, rgb[1]/255, rgb[2]/255))
}
