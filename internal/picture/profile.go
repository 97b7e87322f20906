package picture

import (
	"bytes"
	"fmt"
	"math"
	"strings"

	"aerugo/internal/science/colour"
)

// Colour spaces a container can name by itself.
const (
	spaceSRGB  = "sRGB"
	spaceP3    = "Display P3"
	spaceHDR   = "HDR"
	spaceOther = "other"
)

// spaceFromCodes names the space of a pair of ITU-T H.273 code points.
// Transfer 1 (BT.709) and 6 are read with the sRGB curve, as pictures marked so
// are made to be seen.
func spaceFromCodes(primaries, transfer int) string {
	switch {
	case transfer == 16 || transfer == 18:
		return spaceHDR
	case primaries == 2 && (transfer == 2 || transfer == 13):
		return "" // unspecified
	case transfer != 13 && transfer != 1 && transfer != 6 && transfer != 2:
		return spaceOther
	case primaries == 1 || primaries == 2:
		return spaceSRGB
	case primaries == 12:
		return spaceP3
	}
	return spaceOther
}

// knownAs puts the name people know before a profile's own name, where its
// primaries are those of a known space and its own name does not say so.
func knownAs(space colour.Space, name string) string {
	for _, k := range []struct {
		name  string
		space colour.Space
	}{{spaceSRGB, colour.SRGB}, {spaceP3, colour.DisplayP3}, {"Adobe RGB", colour.AdobeRGB}} {
		far := 0.0
		a, b := space.Matrix(), k.space.Matrix()
		for i := range a {
			for j := range a[i] {
				far = math.Max(far, math.Abs(a[i][j]-b[i][j]))
			}
		}
		if far < 0.002 && !strings.Contains(name, k.name) { // profiles are written to a few parts in ten thousand
			return k.name + " (" + name + ")"
		}
	}
	return name
}

// chooseSpace decides the colour space: the ICC profile first, since phones
// write EXIF "sRGB" into Display P3 files; then what the container says; then
// EXIF; and when nothing is said, sRGB as an assumption that is told.
func chooseSpace(h head, x exif, info *Info) (colour.Space, error) {
	if h.icc != nil {
		space, name, err := colour.ParseICC(h.icc)
		if err != nil {
			if len(h.icc) >= 20 && bytes.Equal(h.icc[16:20], []byte("CMYK")) {
				return space, refuse("A CMYK picture is made for printing; export it as sRGB JPEG.")
			}
			return space, refuse("The colour profile in this picture cannot be used: %v. Export it with an sRGB or Display P3 profile.", err)
		}
		if name == "" {
			name = "profile without a name"
		}
		info.Profile, info.ProfileKind = knownAs(space, name), ProfileICC
		return space, nil
	}
	switch h.fileSpace {
	case spaceSRGB:
		info.Profile, info.ProfileKind = spaceSRGB, ProfileFile
		return colour.SRGB, nil
	case spaceP3:
		info.Profile, info.ProfileKind = spaceP3, ProfileFile
		return colour.DisplayP3, nil
	case spaceHDR:
		return colour.Space{}, refuse("This is an HDR picture, whose tones are meant for bright screens. Switch HDR off in the camera, or export it as sRGB or Display P3.")
	case spaceOther:
		return colour.Space{}, refuse("The picture's colour space is neither sRGB nor Display P3. Export it as one of these.")
	}
	switch {
	case x.colourSpace == colourSpaceAdobe || x.adobeRGB && x.colourSpace != colourSpaceSRGB:
		info.Profile, info.ProfileKind = "Adobe RGB", ProfileEXIF
		return colour.AdobeRGB, nil
	case x.colourSpace == colourSpaceSRGB:
		info.Profile, info.ProfileKind = spaceSRGB, ProfileEXIF
		return colour.SRGB, nil
	}
	info.Profile, info.ProfileKind = "sRGB (assumed)", ProfileAssumed
	why := "does not say its colour space"
	if x.colourSpace == colourSpaceUnsaid {
		why = "says that its colour space is not sRGB, but not which it is"
	}
	info.Warnings = append(info.Warnings, fmt.Sprintf("The picture %s; sRGB was assumed. If it was Display P3, colours are off by 1 to 4 ΔE00.", why))
	return colour.SRGB, nil
}
