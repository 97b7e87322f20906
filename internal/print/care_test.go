package print

import (
	"bytes"
	"image/color"
	"strings"
	"testing"
	"time"

	"aerugo/internal/studio"
)

func sampleCare(t testing.TB) Care {
	return Care{Date: sampleDay, Studio: "The Yard", Title: "Bowl with a blue rim", Photo: &CardFace{Swatch: 12, Face: studio.Front, JPEG: samplePicture(t, 300, 300, color.RGBA{70, 140, 130, 255})},
		Sections: []CareSection{
			{Head: "What it is", Lines: []string{"This piece is made of brass. Its colour is no paint: it is a thin layer that was grown on the metal with salts and vapours, so no two pieces are alike. In this piece it is blue-green.", "Made 1 March 2026, number 12.", "The colour is covered with wax."}},
			{Head: "How to keep it", Lines: []string{"Dust it with a soft, dry brush or cloth.", "Once a year put on very little clear paste wax with a soft cloth, let it set, and buff it."}},
			{Head: "Please mind", Strong: true, Lines: []string{"Not for food or drink. The colour is made of copper salts, which are poisonous.", "If it is worn: the side on the skin should be bare metal or sealed."}},
			{Head: "What was tested", Lines: []string{"This colour has not been tested.", "Not tested, so nothing is promised: tape; rubbing, dry."}},
		}}
}

func extremeCare(t testing.TB) Care {
	s := sampleCare(t)
	long := strings.Repeat("Très longue série d'essais à l'ammoniaque ", 8)
	s.Title, s.Studio, s.Invented = long, long, true
	for range 25 {
		s.Sections[3].Lines = append(s.Sections[3].Lines, long)
	}
	return s
}

func TestCareSheetIsOnePageAndSaysItAll(t *testing.T) {
	for _, paper := range Papers {
		s := sampleCare(t)
		s.Paper = paper
		for range 6 { // as many findings as there are tests
			s.Sections[3].Lines = append(s.Sections[3].Lines, "Not this piece but test swatch 12, of the same metal and recipe: hung in a window with one half covered, for 6 months, looked at 30 August 2026: a slight change, that is, seen side by side. By its photographs: it became greyer: the colour moved by 8 (2 to 14).")
		}
		c, err := drawCare(nil, s)
		pages := pagesOf(t, c, err)
		if len(pages) != 1 {
			t.Fatalf("%s: %d pages", paper, len(pages))
		}
		all := pages[0].all()
		for _, want := range []string{"Bowl with a blue rim", "grown on the metal", "Not for food or drink", "has not been tested", "The Yard", "2 March 2026", "moved by 8"} {
			if !strings.Contains(all, want) {
				t.Errorf("%s: the sheet does not say %q", paper, want)
			}
		}
	}
}

func TestCareSheetIsNotWrittenOnBadInput(t *testing.T) {
	for name, change := range map[string]func(*Care){
		"no date":  func(s *Care) { s.Date = time.Time{} },
		"no name":  func(s *Care) { s.Title = " " },
		"no paper": func(s *Care) { s.Paper = "A5" },
	} {
		s := sampleCare(t)
		change(&s)
		var buf bytes.Buffer
		if err := CareSheet(&buf, s); studio.ProblemIn(err) == nil || buf.Len() > 0 {
			t.Errorf("%s: %v, %d bytes", name, err, buf.Len())
		}
	}
}
