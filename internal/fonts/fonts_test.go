package fonts

import (
	"bytes"
	"strings"
	"testing"

	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

func parsed(t *testing.T, file []byte) *sfnt.Font {
	t.Helper()
	f, err := sfnt.Parse(file)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func TestFilesAreTheFamilyTheLicenceNames(t *testing.T) {
	for weight, file := range map[string][]byte{"Regular": Regular, "Bold": Bold} {
		f := parsed(t, file)
		var buf sfnt.Buffer
		full, err := f.Name(&buf, sfnt.NameIDFull)
		if err != nil || !strings.HasPrefix(full, "Source Sans 3") {
			t.Errorf("%s is %q, %v; want Source Sans 3", weight, full, err)
		}
		if weight == "Bold" != strings.Contains(full, "Bold") {
			t.Errorf("%s is %q", weight, full)
		}
	}
	for name, file := range map[string][]byte{"Latin": Latin, "LatinExt": LatinExt} {
		// signature: W3C, WOFF File Format 2.0, section 4.1
		if !bytes.HasPrefix(file, []byte("wOF2")) {
			t.Errorf("%s is no WOFF2 file", name)
		}
	}
	for _, want := range []string{"SIL OPEN FONT LICENSE Version 1.1", "Reserved Font Name 'Source'"} {
		if !strings.Contains(Licence, want) {
			t.Errorf("the licence does not say %q", want)
		}
	}
}

func TestSignsOfTheBenchHaveAShape(t *testing.T) {
	const signs = "°²³µ·→±×−–…≤≥Δ½¼⅛□ÄÖÜäöüßÅåÆæØøÉéÈèÊêËëÇçÑñŁłŐőŘřŠšŽž‘’“”€%"
	for weight, file := range map[string][]byte{"Regular": Regular, "Bold": Bold} {
		f := parsed(t, file)
		var buf sfnt.Buffer
		for _, r := range signs {
			if g, err := f.GlyphIndex(&buf, r); err != nil || g == 0 {
				t.Errorf("%s has no %q", weight, r)
			}
		}
	}
}

func TestFiguresAreTabular(t *testing.T) {
	for weight, file := range map[string][]byte{"Regular": Regular, "Bold": Bold} {
		f := parsed(t, file)
		var buf sfnt.Buffer
		var width fixed.Int26_6
		for _, r := range "0123456789" {
			g, err := f.GlyphIndex(&buf, r)
			if err != nil {
				t.Fatal(err)
			}
			a, err := f.GlyphAdvance(&buf, g, fixed.I(1000), font.HintingNone)
			if err != nil {
				t.Fatal(err)
			}
			if width == 0 {
				width = a
			}
			if a != width {
				t.Errorf("%s: %q is %v wide, 0 is %v", weight, r, a, width)
			}
		}
	}
}
