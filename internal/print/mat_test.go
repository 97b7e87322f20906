package print

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"aerugo/internal/flow/mat"
	pictures "aerugo/internal/picture"
	"aerugo/internal/studio"
)

// matFile is where the printed sample of a mat is kept: the PDF by the table of sheets,
// and its picture.
func matFile(l mat.Layout) string {
	kind := map[mat.Kind]string{mat.OneSwatch: "one", mat.TwoSwatches: "two"}[l.Kind]
	return filepath.Join("testdata", "mat-"+kind+"-"+strings.ToLower(l.Paper))
}

func TestMatTextStaysOnItsPageAndOffThePlacesThatAreMeasured(t *testing.T) {
	for _, l := range mat.Layouts {
		c, err := drawMat(nil, l, sampleDay)
		pages := pagesOf(t, c, err)
		if len(pages) != 1 {
			t.Fatalf("%s has %d pages", l.Name(), len(pages))
		}
		for _, fault := range pages[0].faults() {
			t.Errorf("%s: %s", l.Name(), fault)
		}
		for _, word := range []string{"TOP", "100 %", "100 mm exactly", "Grey card", "24-patch target", "label", "four black squares"} {
			if !strings.Contains(pages[0].all(), word) {
				t.Errorf("%s does not say %q", l.Name(), word)
			}
		}
		var bare []mat.Area
		bare = append(bare, l.Fields...)
		bare = append(bare, l.Swatches...)
		for _, m := range l.Marks {
			bare = append(bare, m.Inset(-2))
		}
		for _, a := range bare {
			for _, r := range pages[0].texts {
				if r.x0 < a.X+a.W && r.x1 > a.X && r.top < a.Y+a.H && r.end > a.Y {
					t.Errorf("%s: %q stands in a place that is measured (%.0f, %.0f)", l.Name(), r.text, a.X, a.Y)
				}
			}
		}
	}
}

// A line of 100 mm in the file is 100 mm of the default user space of
// ISO 32000-1 (1/72 inch), so the ruler is right when printed at 100 %.
func TestMatRulerIs100mmInTheFile(t *testing.T) {
	for _, l := range mat.Layouts {
		c, err := drawMat(nil, l, sampleDay)
		page := pagesOf(t, c, err)[0]
		found := false
		for _, f := range page.fills {
			found = found || math.Abs(f.w-100) < 0.01 && f.h < 0.5 && math.Abs(f.x-l.Ruler.X) < 0.01
		}
		if !found {
			t.Errorf("%s has no line of 100 mm", l.Name())
		}
	}
}

// The PNG files are the kept PDF files as Poppler 22.12's pdftoppm draws them at
// the number of dots to the inch named here, so another program has read the PDF.
func TestMatIsFoundInItsPrint(t *testing.T) {
	const perInch = 100.0
	for _, l := range mat.Layouts {
		t.Run(l.Name(), func(t *testing.T) {
			b, err := os.ReadFile(matFile(l) + ".png")
			if err != nil {
				t.Fatal(err)
			}
			img, err := pictures.Decode(b)
			if err != nil {
				t.Fatal(err)
			}
			f, err := mat.Find(img)
			if err != nil {
				t.Fatal(err)
			}
			if f.Layout.Name() != l.Name() || f.MarksSeen != 4 || f.UpsideDown {
				t.Errorf("found %s with %d marks, upside down %v", f.Layout.Name(), f.MarksSeen, f.UpsideDown)
			}
			for _, c := range l.Page.Corners() {
				got, x, y := f.Pixel(c), c.X*perInch/25.4, c.Y*perInch/25.4
				// Poppler sets edges on whole dots: half a dot is 0.127 mm
				if off := math.Hypot(got.X-x, got.Y-y) * 25.4 / perInch; off > 0.127 {
					t.Errorf("the page's corner %v is %.2f mm off", c, off)
				}
			}
			if off := math.Abs(f.MMPerPx/(25.4/perInch) - 1); off > 0.001 {
				t.Errorf("the scale is %.2f %% off", 100*off)
			}
		})
	}
}

func TestMatRefusesWhatItCannotPrint(t *testing.T) {
	var buf bytes.Buffer
	for name, err := range map[string]error{
		"unknown layout": Mat(&buf, mat.Layout{Paper: "A3", Kind: mat.OneSwatch}, sampleDay),
		"no date":        Mat(&buf, mat.Layouts[0], time.Time{}),
	} {
		if p := studio.ProblemIn(err); p == nil || p.Kind != studio.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
	if buf.Len() > 0 {
		t.Error("something was written all the same")
	}
}
