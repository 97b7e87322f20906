package print

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"strings"
	"testing"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/science/colour"
	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// The samples are invented: they show every part of a page, ordinary and extreme.

var sampleDay = time.Date(2026, time.March, 2, 9, 30, 0, 0, time.UTC)

// samplePicture draws a mottled plate w by h pixels as a JPEG.
func samplePicture(t testing.TB, w, h int, base color.RGBA) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			d := uint8((x*7 + y*13 + x*y/9) % 37)
			img.SetRGBA(x, y, color.RGBA{base.R + d, base.G + d, base.B + d/2, 255})
		}
	}
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, img, &jpeg.Options{Quality: 70}); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

func sampleLabels(n int) []Label {
	var out []Label
	for i := range n {
		for _, f := range studio.BothFaces {
			out = append(out, Label{
				Number: int64(42 + i), Face: f, SetName: "Fuming time, salt", Metal: "copper C11000, 0.6 mm",
				Settings: fmt.Sprintf("%d min · 25 g/m²", 60*(i+1)), Invented: i%5 == 4,
			})
		}
	}
	return out
}

// extremeLabels hold what does not fit: long words, long numbers, every kind of sign.
func extremeLabels() []Label {
	long := strings.Repeat("Très longue série d'essais à l'ammoniaque ", 3)
	return []Label{
		{Number: 1, Face: studio.Front},
		{Number: 9876543210, Face: studio.Back, SetName: long, Metal: long, Settings: long, Invented: true},
		{Number: 12345, Face: studio.Front, SetName: strings.Repeat("X", 90), Metal: "Łódź ° ² → ± ≤ µ", Settings: strings.Repeat("W", 120), Invented: true},
		{Number: 123456, Face: studio.Back, SetName: "銅の緑青 🎨 tab\there\nand there", Metal: "e\u0301 a\u0308", Settings: "wetted → left · 11 ± 4 g/m² · −10 °C"},
	}
}

func ammonia(strength float64) []matter.Use {
	return []matter.Use{
		{Key: "water", Step: 4, Form: "liquid"},
		{Key: "sodium-chloride", Step: 5, Form: "solid"},
		{Key: "ammonia-water", WtPercent: strength, Step: 6, Form: "fume"},
	}
}

// baseSteps are an ordinary fuming recipe.
func baseSteps() []CardStep {
	salt := studio.Amount{Value: 11, SD: 4, Unit: studio.GramPerM2, Hand: studio.Light, Assumed: true}
	return []CardStep{
		{Step: studio.Step{Kind: studio.Degrease, Duration: 2 * time.Minute, Tool: "lint-free cloth", Place: "bench"}, Supply: "Acetone, lot A-7"},
		{Step: studio.Step{Kind: studio.Abrade, Duration: 3 * time.Minute, Tool: "grey pad, 600 grit"}},
		{Step: studio.Step{Kind: studio.Rinse, Duration: time.Minute}, Supply: "Tap water"},
		{Step: studio.Step{Kind: studio.Wet, Duration: 20 * time.Second, Material: "water", Amount: studio.Amount{Value: 40, SD: 8, Unit: studio.MLPerM2}, Tool: "spray bottle"}, Supply: "Distilled water"},
		{Step: studio.Step{Kind: studio.Sprinkle, Amount: salt, Material: "sodium-chloride", Tool: "sieve", Faces: studio.OnFront, Note: "Hold the sieve two hands above the plate."}},
		{Step: studio.Step{Kind: studio.Fume, Duration: 4 * time.Hour, Early: 10 * time.Minute, Late: 20 * time.Minute, Strength: 9.5}, Supply: "Household ammonia (9.5 wt%), lot 12B", Chamber: "the tall box"},
		{Step: studio.Step{Kind: studio.Dry, Duration: 12 * time.Hour, Late: 12 * time.Hour, Place: "rack by the window"}},
		{Step: studio.Step{Kind: studio.BrushOut, Duration: time.Minute, Tool: "soft brass brush", Faces: studio.OnBoth}},
		{Step: studio.Step{Kind: studio.Seal, Duration: 5 * time.Minute, Amount: studio.Amount{Value: 2.5, Unit: studio.Millilitre}}, Supply: "Microcrystalline wax"},
	}
}

func sampleMeasurement(l colour.Lab, name string, calibrated bool) *studio.Measurement {
	return &studio.Measurement{Lab: l, SD: 4.3, Name: name, Calibrated: calibrated}
}

func sampleCard(t testing.TB) Card {
	return Card{
		Date: sampleDay, Studio: "Studio Verdigris", Name: "Salt and fume, four hours", Version: 3,
		Made: time.Date(2026, time.February, 14, 0, 0, 0, 0, time.UTC), Metal: "copper C11000, annealed, 0.6 mm",
		Faces: []CardFace{
			{Swatch: 42, Face: studio.Front, JPEG: samplePicture(t, 120, 120, color.RGBA{40, 130, 120, 255}), Measured: sampleMeasurement(colour.Lab{L: 54.2, A: -22.4, B: -4.1}, "greyish blue-green", true)},
			{Swatch: 42, Face: studio.Back, JPEG: samplePicture(t, 120, 80, color.RGBA{120, 70, 40, 255}), Measured: sampleMeasurement(colour.Lab{L: 41, A: 18.1, B: 24.9}, "brown", false)},
		},
		Steps: baseSteps(), Uses: ammonia(9.5),
		Evidence: []string{"42 front, greyish blue-green", "45 front, blue-green", "51 both faces, pale green"},
		Known: []string{"In ΔE00, two made alike differ by about 2.1 (1.5 to 3.6); 12 swatches of 3 kinds",
			"Keep the fuming time within 10 min: 20 min off is about 3.0 ΔE00 (2.0 to 3.0)."},
		Place:    "Teaching room, under its hood, for a class of adults",
		Invented: true,
	}
}

// longCard has n steps, many of them with notes.
func longCard(t testing.TB, n int, notes bool) Card {
	c := sampleCard(t)
	base := c.Steps
	c.Steps = nil
	for i := range n {
		s := base[i%len(base)]
		if notes && i%2 == 0 {
			s.Step.Note = "Watch the edges: where the film pools the blue comes first, and a drop that runs leaves a streak for good."
		}
		c.Steps = append(c.Steps, s)
	}
	c.Name = fmt.Sprintf("A recipe of %d steps", n)
	return c
}

// extremeCard holds what does not fit anywhere.
func extremeCard(t testing.TB) Card {
	c := longCard(t, 60, true)
	c.Name = "Grün-blaue Patina über Salz, Ölfilm & Ammoniak — dreißig Tage im Kasten, naß → trocken ± “Åsa”"
	c.Over = "Café-crème à l'ammoniaque, une très longue histoire de sel, de cuivre et de patience, version 12"
	c.OverState = studio.OverWet
	c.Metal = strings.Repeat("brass C26000, hard, from the offcuts of the old door ", 4)
	c.Studio = strings.Repeat("Atelier des Verts-de-Gris ", 6)
	c.Paper = Letter
	for i := range c.Steps {
		c.Steps[i].Supply = strings.Repeat("Ammoniumchloridlösung ", 6)
		c.Steps[i].Chamber = strings.Repeat("W", 90)
		c.Steps[i].Step.Tool = strings.Repeat("w ", 60)
		c.Steps[i].Step.Early, c.Steps[i].Step.Late = c.Steps[i].Step.Duration/2, 59*24*time.Hour+23*time.Hour
		if i%7 == 0 {
			c.Steps[i].Step.Note = strings.Repeat("a long note with ° ² → ± in it, ", 120)
		}
	}
	c.Uses = append(c.Uses,
		matter.Use{Key: "copper-sulfate", Step: 7, Form: "liquid"}, matter.Use{Key: "ferric-chloride", Step: 8, Form: "liquid", RinsedBefore: true},
		matter.Use{Key: "acetone", Step: 9, Form: "liquid", RinsedBefore: true}, matter.Use{Key: "something nobody has heard of " + strings.Repeat("x", 90), Step: 10, Form: "liquid"})
	for i := range 60 {
		c.Evidence = append(c.Evidence, fmt.Sprintf("%d front, greyish blue-green", 100+i))
	}
	c.Faces[0].JPEG = []byte("this is no picture")
	c.Faces[0].Measured.Name = strings.Repeat("very dark greyish yellowish green ", 4)
	c.Faces[0].Measured.Lab = colour.Lab{L: 60, A: -120, B: 90}
	c.Faces[1].Measured = nil
	return c
}

// bareCard has one step and nothing else.
func bareCard() Card {
	return Card{Date: sampleDay, Name: "Rinse", Version: 1, Steps: []CardStep{{Step: studio.Step{Kind: studio.Rinse}}}}
}

func sampleSheet(n int) Sheet {
	set := studio.Set{ID: 7, Name: "Fuming time, salt", Question: "Does the blue come from the salt or from the extra three hours?"}
	var swatches []studio.Swatch
	var treatments []studio.Treatment
	for i := range n {
		number := int64(42 + i)
		swatches = append(swatches, studio.Swatch{Number: number, SetID: 7})
		var steps []studio.Step
		for _, s := range baseSteps() {
			step := s.Step
			if step.Kind == studio.Fume {
				step.Material = "ammonia-water"
				step.Duration = time.Duration(i+1) * time.Hour
			}
			steps = append(steps, step)
		}
		treatments = append(treatments, studio.Treatment{
			ID: int64(i + 1), Swatch: number, SetID: 7, Faces: []studio.Faces{studio.OnFront, studio.OnBack, studio.OnBoth}[i%3], Layer: 1,
			Steps: steps, Order: (i*3)%n + 1, Replicate: 1 + i%2,
			Settings: []studio.Setting{{Level: studio.Level{Label: fmt.Sprintf("%d min", 60*(i+1))}}, {Level: studio.Level{Label: "25 g/m²"}}},
		})
	}
	swatches = append(swatches, studio.Swatch{Number: 90, Blank: true}, studio.Swatch{Number: 91, Blank: true})
	return Sheet{Date: sampleDay, Studio: "Studio Verdigris", Run: run.BenchSheet(set, swatches, treatments), Invented: true}
}

// extremeSheet holds what does not fit, one treatment longer than a page.
func extremeSheet(t testing.TB) Sheet {
	s := sampleSheet(2)
	s.Paper = Letter
	s.Studio = strings.Repeat("Atelier des Verts-de-Gris ", 6)
	s.Run.Title = strings.Repeat("Café-crème à l'ammoniaque ", 8)
	s.Run.Question = strings.Repeat("Is it the salt → or the wetting ± the weather? ", 8)
	s.Run.Caution += " " + strings.Repeat("Face turned aside. ", 12)
	row := &s.Run.Rows[0]
	row.Number, row.Settings, row.Layer = 9007199254740993, strings.Repeat("wetted twice · ", 20), 3
	row.Codes = []string{studio.Code(row.Number, studio.Front), studio.Code(row.Number, studio.Back)}
	for range 5 {
		row.Steps = append(row.Steps, row.Steps...)
		if len(row.Steps) > 60 {
			row.Steps = row.Steps[:60]
		}
	}
	for i := range row.Steps {
		row.Steps[i].N = i + 1
		row.Steps[i].Words += ", " + strings.Repeat("with a tool of a very long name ", 9)
		row.Steps[i].Amount = strings.Repeat("heavy, 1234.56789 ± 999 g/m² (assumed) ", 4)
		row.Steps[i].Tolerance = "−23 h 59 min, +59 d 23 h, and then some more of it for good measure"
	}
	for n := range int64(300) {
		s.Run.Blanks = append(s.Run.Blanks, 1000+n)
	}
	return s
}
