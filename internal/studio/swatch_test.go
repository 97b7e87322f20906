package studio

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// The IFPI's GRid standard (Global Release Identifier, version 2.1) uses
// ISO/IEC 7064 MOD 37,36 and prints A1-2425G-ABC1234002-M as its example.
func TestCheckCharacterOfAPublishedExample(t *testing.T) {
	if got := checkCharacter("A12425GABC1234002"); got != 'M' {
		t.Errorf("check character %c, want M", got)
	}
}

func TestCodeIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number := rapid.Int64Range(1, 1e12).Draw(t, "number")
		face := rapid.SampledFrom(BothFaces).Draw(t, "face")
		n, f, err := ReadCode(Code(number, face))
		if err != nil || n != number || f != face {
			t.Fatalf("ReadCode(%s) = %d, %s, %v", Code(number, face), n, f, err)
		}
	})
}

// ISO/IEC 7064 promises that MOD 37,36 finds every single wrong character.
func TestOneMisreadCharacterIsFound(t *testing.T) {
	for number := int64(1); number < 400; number++ {
		code := Code(number, Front)
		for i := range code {
			for _, c := range checkAlphabet {
				if byte(c) == code[i] {
					continue
				}
				wrong := code[:i] + string(c) + code[i+1:]
				if n, f, err := ReadCode(wrong); err == nil {
					t.Fatalf("%s misread as %s passes as swatch %d %s", code, wrong, n, f)
				}
			}
		}
	}
}

func TestCodeForgivesHowItIsTyped(t *testing.T) {
	code := Code(42, Back)
	typed := " " + strings.ToLower(code[:5]) + "-" + code[5:] + " "
	if n, f, err := ReadCode(typed); err != nil || n != 42 || f != Back {
		t.Errorf("ReadCode(%q) = %d, %s, %v", typed, n, f, err)
	}
}

func TestOddCodesAreRefused(t *testing.T) {
	for _, code := range []string{"", "S", "42", "S0042", "S0042FX", "X0042FK", "S-1FK", "S00é2FK", strings.Repeat("9", 40)} {
		_, _, err := ReadCode(code)
		if p := ProblemIn(err); p == nil || p.Kind != Invalid {
			t.Errorf("ReadCode(%q): %v, want a Problem", code, err)
		}
	}
}

func FuzzReadCode(f *testing.F) {
	f.Add(Code(1, Front))
	f.Add("S0042FX")
	f.Fuzz(func(t *testing.T, text string) {
		n, face, err := ReadCode(text)
		if err != nil {
			return
		}
		if n2, f2, err := ReadCode(Code(n, face)); err != nil || n2 != n || f2 != face {
			t.Errorf("%q reads as %d %s, whose own code reads as %d %s, %v", text, n, face, n2, f2, err)
		}
	})
}
