package colour

import (
	"encoding/binary"
	"os"
	"strings"
	"testing"
)

func profileFile(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile("testdata/" + name + ".icc")
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// TestProfilesReadAsLittleCMSReadsThem covers real sRGB and Display P3 profiles of
// versions 2 and 4, and every kind of tone curve.
func TestProfilesReadAsLittleCMSReadsThem(t *testing.T) {
	spaces := map[string]Space{}
	for _, r := range table(t, "icc_lcms.csv", 180) {
		name := r["profile"]
		s, ok := spaces[name]
		if !ok {
			var err error
			if s, _, err = ParseICC(profileFile(t, name)); err != nil {
				t.Errorf("%s: %v", name, err)
				continue
			}
			spaces[name] = s
		}
		rgb := make([]float32, 3)
		s.Decode16(rgb, []uint16{uint16(r.number(t, "red")), uint16(r.number(t, "green")), uint16(r.number(t, "blue"))})
		got := s.Lab(float64(rgb[0]), float64(rgb[1]), float64(rgb[2]))
		// The matrix is rounded to 16 bits, which is taken out here and not there.
		within := 0.005
		if name == "sRGB-v2" || name == "P3-v2" || name == "sampled-v2" {
			within = 0.02 // LittleCMS reads sampled curves in steps of 1/65535, coarse in the darks
		}
		if want := r.lab(t, "L", "a", "b"); !near(got, want, within) {
			t.Errorf("%s %s %s %s: got %.4f, LittleCMS gives %.4f", name, r["red"], r["green"], r["blue"], got, want)
		}
	}
	if len(spaces) != 13 {
		t.Errorf("%d profiles were read", len(spaces))
	}
}

func TestProfileNamesAreRead(t *testing.T) {
	for file, want := range map[string]string{"sRGB-v2": "uRGB", "sRGB-v4": "sRGB", "P3-v2": "uP3", "P3-v4": "sP3",
		"parametric0-v4": "parametric0-v4", "gamma-v2": "gamma-v2", "grey-v2": "grey-v2"} {
		if _, name, err := ParseICC(profileFile(t, file)); name != want || err != nil {
			t.Errorf("%s is named %q (%v), want %q", file, name, err, want)
		}
	}
}

func TestProfilesOfKnownSpacesMatchThem(t *testing.T) {
	for file, want := range map[string]Space{"sRGB-v4": SRGB, "P3-v4": DisplayP3, "gamma-v2": AdobeRGB} {
		got, _, err := ParseICC(profileFile(t, file))
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range [][3]float64{{0.9, 0.3, 0.2}, {0.1, 0.5, 0.4}, {0.02, 0.03, 0.9}, {1, 1, 1}} {
			a, b := got.Lab(got.Decode(c[0], c[1], c[2])), want.Lab(want.Decode(c[0], c[1], c[2]))
			if Difference(a, b) > 0.05 {
				t.Errorf("%s %v: profile %v, space %v", file, c, a, b)
			}
		}
	}
}

func TestProfileCodingGoesThereAndBack(t *testing.T) {
	for _, file := range []string{"sRGB-v2", "sampled-v2", "linear-v2", "parametric1-v4", "parametric2-v4", "parametric4-v4", "grey-v2"} {
		s, _, err := ParseICC(profileFile(t, file))
		if err != nil {
			t.Fatal(err)
		}
		for i := range 101 {
			v := float64(i) / 100
			lr, lg, lb := s.Decode(v, v, v)
			r, g, b := s.Encode(lr, lg, lb)
			// On a flat foot several values give the same light, so light is compared.
			if br, bg, bb := s.Decode(r, g, b); abs(br-lr) > 1e-9 || abs(bg-lg) > 1e-9 || abs(bb-lb) > 1e-9 {
				t.Errorf("%s: %v decodes to %v %v %v and comes back as %v %v %v", file, v, lr, lg, lb, br, bg, bb)
			}
		}
	}
}

func abs(v float64) float64 { return max(v, -v) }

// change returns a copy of a profile with the bytes at an offset replaced.
func change(b []byte, offset int, with string) []byte {
	c := append([]byte(nil), b...)
	copy(c[offset:], with)
	return c
}

// tagEntry returns the offset of a tag's entry in the tag table.
func tagEntry(t *testing.T, b []byte, signature string) int {
	t.Helper()
	for i := range int(binary.BigEndian.Uint32(b[128:])) {
		if at := 132 + 12*i; string(b[at:at+4]) == signature {
			return at
		}
	}
	t.Fatalf("no tag %s", signature)
	return 0
}

func TestProfilesThatCannotBeUsedAreRefusedInWords(t *testing.T) {
	v2, v4 := profileFile(t, "sRGB-v2"), profileFile(t, "sRGB-v4")
	at := func(b []byte, tag string) int { return int(binary.BigEndian.Uint32(b[tagEntry(t, b, tag)+4:])) }
	curve := profileFile(t, "sampled-v2")
	for _, c := range []struct {
		name string
		b    []byte
		want string
	}{
		{"nothing", nil, "not an ICC profile"},
		{"text", []byte(strings.Repeat("not a profile ", 20)), "not an ICC profile"},
		{"version 5", change(v4, 8, "\x05"), "version 5"},
		{"CMYK", change(v2, 16, "CMYK"), "CMYK printing inks"},
		{"Lab", change(v2, 16, "Lab "), "CIELAB"},
		{"unknown space", change(v2, 16, "7CLR"), `the colour space "7CLR"`},
		{"unprintable space", change(v2, 16, "\x00\x01\xff\x02"), "the colour space"},
		{"RGB to Lab", change(v2, 20, "Lab "), "look-up tables"},
		{"with tables", change(v2, tagEntry(t, v2, "wtpt"), "A2B0"), "look-up tables"},
		{"grey to Lab", change(profileFile(t, "grey-v2"), 20, "Lab "), "grey"},
		{"no green", change(v2, tagEntry(t, v2, "gXYZ"), "none"), "its part gXYZ is missing"},
		{"no curve", change(v2, tagEntry(t, v2, "bTRC"), "none"), "its part bTRC is missing"},
		{"cut short", v2[:300], "cut short or damaged"},
		{"too many tags", change(v2, 128, "\xff\xff\xff\xff"), "cut short or damaged"},
		{"offset past the end", change(v2, tagEntry(t, v2, "rXYZ")+4, "\x7f\xff\xff\xff"), "cut short or damaged"},
		{"size past the end", change(v2, tagEntry(t, v2, "rXYZ")+8, "\xff\xff\xff\xff"), "cut short or damaged"},
		{"tiny tag", change(v2, tagEntry(t, v2, "rXYZ")+8, "\x00\x00\x00\x04"), "cut short or damaged"},
		{"short curve", change(v2, tagEntry(t, v2, "rTRC")+8, "\x00\x00\x00\x0a"), "cut short or damaged"},
		{"column of another type", change(v2, at(v2, "rXYZ"), "text"), "cut short or damaged"},
		{"too many samples", change(v2, at(v2, "rTRC")+8, "\x7f\xff\xff\xff"), "cut short or damaged"},
		{"unknown curve", change(v2, at(v2, "rTRC"), "wave"), `unknown kind "wave"`},
		{"unknown parametric kind", change(v4, at(v4, "rTRC")+8, "\x00\x09"), "parametric kind 9"},
		{"longer parametric kind", change(v4, at(v4, "rTRC")+8, "\x00\x04"), "cut short or damaged"},
		{"negative gamma", change(v4, at(v4, "rTRC")+12, "\xff\xff\x00\x00"), "leaves the range"},
		{"steep curve", change(v4, at(v4, "rTRC")+16, "\x00\x03\x00\x00"), "leaves the range"},
		{"gamma 0", change(profileFile(t, "gamma-v2"), at(profileFile(t, "gamma-v2"), "rTRC")+12, "\x00\x00"), "leaves the range"},
		{"falling curve", change(curve, at(curve, "rTRC")+14, "\xff\xff"), "falls"},
		{"flat curve", change(curve, at(curve, "bTRC")+14, "\x00\x00"), "flat"},
		{"no D50 white", change(v2, at(v2, "bXYZ")+8, "\x00\x01\x00\x00"), "white is not"},
		{"two equal columns", equalColumns(v2, at(v2, "rXYZ"), at(v2, "gXYZ")), "not three different colours"},
	} {
		s, _, err := ParseICC(c.b)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want an error with %q", c.name, err, c.want)
		}
		if s != (Space{}) {
			t.Errorf("%s: refused, yet a space came back", c.name)
		}
	}
}

// equalColumns gives two colorants their common mean, which keeps the white.
func equalColumns(b []byte, first, second int) []byte {
	c := append([]byte(nil), b...)
	for i := 8; i < 20; i += 4 {
		x, y := int32(binary.BigEndian.Uint32(b[first+i:])), int32(binary.BigEndian.Uint32(b[second+i:]))
		binary.BigEndian.PutUint32(c[first+i:], uint32((x+y)/2))
		binary.BigEndian.PutUint32(c[second+i:], uint32((x+y)/2))
	}
	return c
}

func TestOddNamesDoNotStopAProfile(t *testing.T) {
	v2, v4 := profileFile(t, "sRGB-v2"), profileFile(t, "sRGB-v4")
	at := func(b []byte) int { return int(binary.BigEndian.Uint32(b[tagEntry(t, b, "desc")+4:])) }
	for name, b := range map[string][]byte{
		"no name":           change(v2, tagEntry(t, v2, "desc"), "none"),
		"long ASCII":        change(v2, at(v2)+8, "\x00\xff\xff\xff"),
		"many records":      change(v4, at(v4)+8, "\x00\xff\xff\xff"),
		"far record":        change(v4, at(v4)+24, "\x7f\xff\xff\xff"),
		"name of no kind":   change(v4, at(v4), "?\x00\x01?"),
		"control letters":   change(v2, at(v2)+12, "\x01\x02\x03"),
		"broken characters": change(v2, at(v2)+12, "\xff\xfe"),
	} {
		_, got, err := ParseICC(b)
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if strings.ContainsFunc(got, func(r rune) bool { return r < ' ' || r == 0xfffd }) {
			t.Errorf("%s: the name %q can't be shown", name, got)
		}
	}
}

// FuzzParseICC: whatever the bytes, no panic, and a space that is given back keeps
// grey neutral, stays within black and white and encodes what it decodes.
func FuzzParseICC(f *testing.F) {
	for _, name := range []string{"sRGB-v2", "sRGB-v4", "P3-v2", "P3-v4", "gamma-v2", "linear-v2", "sampled-v2", "parametric0-v4",
		"parametric1-v4", "parametric2-v4", "parametric3-v4", "parametric4-v4", "grey-v2"} {
		f.Add(profileFile(f, name))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		s, name, err := ParseICC(b)
		if len([]rune(name)) > maxName {
			t.Errorf("a name of %d characters", len([]rune(name)))
		}
		if err != nil {
			return
		}
		rgb := make([]float32, 3)
		last := float32(-1)
		for i := range 256 {
			s.Decode8(rgb, []uint8{uint8(i), uint8(i), uint8(i)})
			if rgb[0] < last-1e-3 || !(rgb[0] >= 0 && rgb[0] <= 1) {
				t.Errorf("byte %d decodes to %v after %v", i, rgb[0], last)
			}
			last = max(last, rgb[0])
		}
		if lab := s.Lab(0.3, 0.3, 0.3); lab.A != 0 || lab.B != 0 || !lab.finite() {
			t.Errorf("grey is %v", lab)
		}
		if r, g, bl := s.Encode(0.2, 0.5, 0.8); !(r >= 0 && r <= 1 && g >= 0 && g <= 1 && bl >= 0 && bl <= 1) {
			t.Errorf("encoded to %v %v %v", r, g, bl)
		}
		if r, g, bl := s.FromLab(Lab{60, 20, 20}); !(Lab{r, g, bl}).finite() {
			t.Errorf("from Lab: %v %v %v", r, g, bl)
		}
	})
}
