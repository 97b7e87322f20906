package colour

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// TestToScreenGivesBackSRGBColours: the Lab that LittleCMS 2.14 gives for 17 sRGB
// colours shows as those colours again.
func TestToScreenGivesBackSRGBColours(t *testing.T) {
	for _, r := range table(t, "srgb8_to_lab.csv", 17) {
		want := fmt.Sprintf("#%02x%02x%02x", int(r.number(t, "R")), int(r.number(t, "G")), int(r.number(t, "B")))
		got, in := ToScreen(r.lab(t, "lcms_L", "lcms_a", "lcms_b"))
		if got != want || !in {
			t.Errorf("%s: got %s, in gamut %v, want %s", r["name"], got, in, want)
		}
	}
}

func shownLab(hex string) Lab {
	var r, g, b uint8
	fmt.Sscanf(hex, "#%02x%02x%02x", &r, &g, &b)
	return SRGB.Lab(SRGB.Decode(float64(r)/255, float64(g)/255, float64(b)/255))
}

func TestScreenColourKeepsLightnessAndHue(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := anyLab(t, "lab")
		hex, in := ToScreen(l)
		got := shownLab(hex)
		// Rounding to 8 bits moves a colour by up to about 0.7 in the darks.
		if math.Abs(got.L-l.L) > 1 {
			t.Fatalf("L* %v is shown as %v", l.L, got.L)
		}
		if in && Difference76(got, l) > 3 {
			t.Fatalf("%v is said to be in gamut but is shown as %v", l, got)
		}
		if !in && got.Chroma() > l.Chroma()+3 {
			t.Fatalf("%v gained chroma: %v", l, got)
		}
		// Across the hue, the shown colour may be off only by rounding.
		if off := got.Chroma() * math.Sin(radians(got.Hue()-l.Hue())); math.Abs(off) > 3 {
			t.Fatalf("hue %v is shown as %v, chroma %v", l.Hue(), got.Hue(), got.Chroma())
		}
	})
}

func TestScreenKeepsAllTheChromaItCan(t *testing.T) {
	for _, l := range []Lab{FromLCh(50, 90, 200), FromLCh(60, 120, 160), FromLCh(40, 100, 40), FromLCh(75, 90, 85), FromLCh(30, 100, 250)} {
		hex, in := ToScreen(l)
		got := shownLab(hex)
		if in {
			t.Errorf("%v is said to be on the screen", l)
		}
		if onScreen(FromLCh(l.L, got.Chroma()+1.5, l.Hue())) {
			t.Errorf("%v is shown with chroma %.1f although more would fit", l, got.Chroma())
		}
	}
}

func TestEverySRGBColourIsInGamut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Uint8()
		r, g, b := v.Draw(t, "r"), v.Draw(t, "g"), v.Draw(t, "b")
		want := fmt.Sprintf("#%02x%02x%02x", r, g, b)
		if got, in := ToScreen(shownLab(want)); got != want || !in {
			t.Fatalf("%s came back as %s, in gamut %v", want, got, in)
		}
	})
}

func TestWildLabStillShowsAndIsFlagged(t *testing.T) {
	for l, want := range map[Lab]string{{L: 120}: "#ffffff", {L: -5}: "#000000", {L: 50, A: math.Inf(1)}: "#777777"} {
		if got, in := ToScreen(l); got != want || in {
			t.Errorf("%v is shown as %s, in gamut %v", l, got, in)
		}
	}
	if got, in := ToScreen(Lab{L: math.NaN()}); got != "#777777" || in {
		t.Errorf("not a number is shown as %s, in gamut %v", got, in)
	}
}
