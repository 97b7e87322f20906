package target

import (
	"encoding/json"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/science/colour"
)

// What was fitted to real photographs gives, kept and read back, the same colours
// to far below what can be measured.
func TestKeptCorrectionGivesTheSameColours(t *testing.T) {
	for _, name := range []string{"target24_in_case.png", "target24_small_p3.jpg"} {
		for _, space := range []colour.Space{colour.SRGB, colour.DisplayP3} {
			c, err := Fit(realSamples(t, name), space)
			if err != nil {
				t.Fatal(err)
			}
			text, err := json.Marshal(c)
			if err != nil {
				t.Fatal(err)
			}
			var back Correction
			if err := json.Unmarshal(text, &back); err != nil {
				t.Fatal(err)
			}
			if back.Method != c.Method || back.LOOMean != c.LOOMean || back.LOOP95 != c.LOOP95 || len(back.Patches) != len(c.Patches) || len(back.Methods) != len(c.Methods) || back.Patches[3] != c.Patches[3] {
				t.Errorf("%s: what is said of it changed", name)
			}
			rapid.Check(t, func(t *rapid.T) {
				v := rapid.SliceOfN(rapid.Float64Range(0, 1.2), 3, 3).Draw(t, "light")
				rgb := [3]float64{v[0], v[1], v[2]}
				if d := colour.Difference(c.XYZ(rgb).Lab(colour.D50), back.XYZ(rgb).Lab(colour.D50)); d > 1e-6 {
					t.Errorf("%v is %g dE00 off once kept", rgb, d)
				}
			})
		}
	}
}

// By CIE 1976 L*, the grey itself must come out as the neutral it is.
func TestGainMakesTheGreyNeutral(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.SliceOfN(rapid.Float64Range(0.01, 1), 3, 3).Draw(t, "light")
		l := rapid.Float64Range(10, 98).Draw(t, "L")
		rgb := [3]float64{v[0], v[1], v[2]}
		c, err := Gain(rgb, l, colour.DisplayP3)
		if err != nil {
			t.Fatal(err)
		}
		if d := apart(c.XYZ(rgb).Lab(colour.D50), colour.Lab{L: l}); d > 1e-6 {
			t.Errorf("the grey came out %g off", d)
		}
		half := c.XYZ([3]float64{rgb[0] / 2, rgb[1] / 2, rgb[2] / 2}).Lab(colour.D50)
		if half.Chroma() > 1e-6 {
			t.Errorf("half the light is coloured: %v", half)
		}
		text, err := json.Marshal(c)
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(text, &c); err != nil {
			t.Fatal(err)
		}
	})
	for _, c := range []struct {
		rgb [3]float64
		l   float64
	}{{[3]float64{0, 1, 1}, 50}, {[3]float64{1, 1, 1}, 5}, {[3]float64{1, 1, 17}, 50}} {
		if _, err := Gain(c.rgb, c.l, colour.SRGB); err == nil {
			t.Errorf("%v as L* %v was taken", c.rgb, c.l)
		}
	}
}

func kept(t testing.TB) string {
	t.Helper()
	c, err := Fit(seenBy(func(rgb [3]float64) [3]float64 { return [3]float64{0.8 * rgb[0], 0.7 * rgb[1], 0.6 * rgb[2]} }), colour.SRGB)
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(c)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func TestDamagedCorrectionsAreRefused(t *testing.T) {
	good := kept(t)
	for name, bad := range map[string]string{
		"cut short":        good[:len(good)/2],
		"another's":        `{"method":"x"}`,
		"nothing":          `null garbage`,
		"a wild mean":      strings.Replace(good, `"loo_mean_de00":`, `"loo_mean_de00":1e9,"was":`, 1),
		"a field too many": strings.Replace(good, `{"method"`, `{"extra":1,"method"`, 1),
		"no tones":         strings.Replace(good, `"tones"`, `"tunes"`, 1),
		"two rows uneven":  strings.Replace(good, `"add":[[`, `"add":[[1,2,3],[`, 1),
		"more after it":    good + "{}",
	} {
		var c Correction
		if err := c.UnmarshalJSON([]byte(bad)); err == nil {
			t.Errorf("%s: taken", name)
		}
	}
	if _, err := json.Marshal(Correction{}); err == nil {
		t.Error("a correction that was never fitted was kept")
	}
}

// Whatever the text, reading it never panics, and what is taken gives colours.
func FuzzKeptCorrection(f *testing.F) {
	f.Add(kept(f))
	c, err := Gain([3]float64{0.2, 0.18, 0.1}, 49.5, colour.SRGB)
	if err != nil {
		f.Fatal(err)
	}
	text, err := json.Marshal(c)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(string(text))
	f.Fuzz(func(t *testing.T, text string) {
		var c Correction
		if c.UnmarshalJSON([]byte(text)) != nil {
			return
		}
		for _, rgb := range [][3]float64{{}, {1, 1, 1}, {0.2, 0.5, 0.1}} {
			if x := c.XYZ(rgb); x.X != x.X || x.Y < 0 {
				t.Errorf("%v gives %v", rgb, x)
			}
		}
	})
}

// The values are the maker's (see After2014), the file that of WriteCGATS.
func TestOwnTargetFilesAreReadOrRefused(t *testing.T) {
	write := func(change func(*Table)) string {
		table := After2014().Table()
		change(&table)
		text, err := WriteCGATS(table)
		if err != nil {
			t.Fatal(err)
		}
		return text
	}
	ref, err := ReadOwn(write(func(*Table) {}), "mine")
	if err != nil || ref.Name != "mine" || len(ref.Patches) != 24 || ref.Patches[18].Lab != After2014().Patches[18].Lab {
		t.Errorf("read as %v, %v", ref, err)
	}
	for name, c := range map[string]struct{ text, says string }{
		"empty":    {"", "empty"},
		"a letter": {"Dear Sir, please find attached", "no CGATS text"},
		"few":      {write(func(t *Table) { t.Rows = t.Rows[:12] }), "12 patches"},
		"no Lab":   {write(func(t *Table) { t.Fields[2] = "DENSITY" }), "LAB_L"},
		"twins":    {write(func(t *Table) { t.Rows[4][2], t.Rows[4][3], t.Rows[4][4] = t.Rows[3][2], t.Rows[3][3], t.Rows[3][4] }), "alike"},
		"no greys": {write(func(t *Table) {
			for i := 18; i < 24; i++ {
				t.Rows[i][3] = "9.5"
			}
		}), "greys"},
		"huge": {strings.Repeat("x", 2<<20), "at most"},
	} {
		if _, err := ReadOwn(c.text, name); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want one that says %q", name, err, c.says)
		}
	}
}

// The grey a correction would have seen comes out as that grey, of real
// photographs too.
func TestGreyIsWhatTheCorrectionTakesForIt(t *testing.T) {
	for _, name := range []string{"target24_in_case.png", "target24_small_p3.jpg"} {
		c, err := Fit(realSamples(t, name), colour.DisplayP3)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range []float64{25, 49.5, 80} {
			rgb, err := c.Grey(l)
			if err != nil {
				t.Fatal(err)
			}
			if d := colour.Difference(c.XYZ(rgb).Lab(colour.D50), colour.Lab{L: l}); d > 1e-4 {
				t.Errorf("%s: the grey of L* %v comes out %.2f dE00 off", name, l, d)
			}
		}
		if _, err := c.Grey(5); err == nil {
			t.Error("a grey darker than can be used was taken")
		}
	}
}
