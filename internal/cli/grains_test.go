package cli

import (
	"encoding/json"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// saltedPicture draws n x n square grains, 6 pixels wide, evenly over metal of
// 600 x 600 pixels with a slight weave, which stands for its grain.
func saltedPicture(t *testing.T, name string, n int) string {
	t.Helper()
	m := image.NewRGBA(image.Rect(0, 0, 600, 600))
	for y := range 600 {
		for x := range 600 {
			d := uint8((x*7 + y*13) % 5)
			m.SetRGBA(x, y, color.RGBA{150 + d, 105 + d, 85 + d, 255})
			if n > 0 {
				if pitch := 600 / n; (x+pitch/2)%pitch < 6 && (y+pitch/2)%pitch < 6 {
					m.SetRGBA(x, y, color.RGBA{225 + d, 225 + d, 220 + d, 255})
				}
			}
		}
	}
	path := filepath.Join(t.TempDir(), name)
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := png.Encode(f, m); err != nil {
		t.Fatal(err)
	}
	return path
}

// The truth is what was drawn: 100 grains weighed as 8 g/m2, and 225 of the same
// on the other face, so 18 g/m2.
func TestGrainsTellTheLoadingByAWeighedFace(t *testing.T) {
	face, weighed := saltedPicture(t, "face.png", 15), saltedPicture(t, "weighed.png", 10)
	out, errs, status := at("grains", face, "--size", "40,40", "--reference-photo", weighed, "--reference-g-m2", "8", "--json")
	if status != exitFine {
		t.Fatalf("status %d: %s", status, errs)
	}
	var got grainsFound
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}
	if got.Count != 225 || math.Abs(got.Covered/0.0225-1) > 0.1 || got.Loading == nil {
		t.Fatalf("%s", out)
	}
	if l := got.Loading; math.Abs(l.Value-18) > 1.2 || l.Low > 18 || l.High < 18 || l.Unit != "g/m2" {
		t.Errorf("%+v", *l)
	}
	// a square 6/15 mm wide is as large as a disc of 0.45 mm
	if math.Abs(*got.TypicalMM-0.45) > 0.05 {
		t.Errorf("%.3f mm across", *got.TypicalMM)
	}
	out, _, status = at("grains", face)
	if status != exitFine || !strings.Contains(out, "225 grains (") || strings.Contains(out, "loading") {
		t.Errorf("status %d: %s", status, out)
	}
	out, _, status = at("grains", face, "--size", "40,40", "--reference-photo", weighed, "--reference-g-m2", "8", "--reference-sd", "0.5")
	if status != exitFine || !strings.Contains(out, "loading 1") || !strings.Contains(out, "a square centimetre") {
		t.Errorf("status %d: %s", status, out)
	}
}

func TestGrainsRefusesWhatCannotBe(t *testing.T) {
	face, none := saltedPicture(t, "face.png", 15), saltedPicture(t, "none.png", 0)
	for _, c := range []struct {
		args []string
		says string
	}{
		{[]string{face, "--reference-photo", face}, "belong together"},
		{[]string{face, "--reference-g-m2", "8"}, "belong together"},
		{[]string{face, "--reference-sd", "1"}, "name its photograph"},
		{[]string{face, "--size", "1,1"}, "can't be right"},
		{[]string{face, "--corners", "1,2"}, "takes 8 numbers"},
		{[]string{face, "--mat", "--size", "40,40"}, "--mat finds corners and sizes itself"},
		{[]string{face, "--reference-photo", none, "--reference-g-m2", "8"}, "Only 0 grains"},
		{[]string{face, "--reference-photo", face, "--reference-g-m2", "0"}, "more than 0"},
		{[]string{face, "--reference-photo", "gone.png", "--reference-g-m2", "8"}, "there is no file gone.png"},
		{[]string{"gone.png"}, "there is no file gone.png"},
	} {
		out, errs, status := at(append([]string{"grains"}, c.args...)...)
		if status != exitMend || out != "" || !plainLines.MatchString(errs) || !strings.Contains(errs, c.says) {
			t.Errorf("%v: status %d, %q, %q", c.args, status, out, errs)
		}
	}
	if out, _, status := at("grains", none); status != exitFine || !strings.Contains(out, "0 grains (0 to 4)") || !strings.Contains(out, "No grains stand out") {
		t.Errorf("bare metal: status %d, %s", status, out)
	}
}
