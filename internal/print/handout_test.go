package print

import (
	"bytes"
	"fmt"
	"image/color"
	"io"
	"strings"
	"testing"
	"time"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// The samples are invented.

func sampleClass() ClassPaper {
	return ClassPaper{Date: sampleDay, Studio: "Studio Verdigris", Title: "Blue from salt and fume", Invented: true,
		Under: []string{"7 March 2026, 10:00 to 13:00", "Teacher: Ada Verdi", "8 students, adults. Under a hood."}}
}

func sampleHandout(t testing.TB) Handout {
	h := Handout{ClassPaper: sampleClass(),
		Used:   []string{"Salt (sodium chloride).", "Household ammonia, 5 % by mass: ammonia water, 5 to 10 %."},
		Signs:  []string{"GHS05", "GHS07"},
		Safety: []string{"Household ammonia, 5 %: causes severe skin burns and eye damage (H314); may irritate the nose and throat (H335).", "Goggles and gloves on before a bottle is opened; hands washed before food.", "Only the teacher opens a tub, under the hood, face away.", "Sting, cough or headache: say so, out into fresh air. Eyes: rinse 15 minutes."},
		Steps: []ClassSection{{Head: "Salt and fume, version 3", Lines: []string{"1. Abrade with a grey pad, about 3 min.", "2. Rinse until water stands as a film, about 1 min.", "3. Wet with water, 40 mL/m².", "4. Sprinkle salt, 11 g/m².",
			"5. Fume over household ammonia, 4 h; in class the first hour only. The teacher.", "6. Dry, 12 h, on a rack."}}},
		Care:     []string{"The colour is made of copper salts: not for food or drink, not for the skin side of jewellery.", "Dust it with a soft dry brush; no polish, no water left standing.", "Do not do this at home alone."},
		Leftover: []string{"Copper and ammonia: into the jar of that name. Nothing goes down the drain.", "Rags: damp, into the lidded bin."},
		Read:     []string{"GisChem data sheet (German statutory accident insurers).", "The data sheet that came with the bottle comes first."},
	}
	lab := []colour.Lab{{L: 54, A: -22, B: -4}, {L: 41, A: 18, B: 25}, {L: 70, A: -18, B: 2}}
	for i := range 6 {
		o := Outcome{Number: int64(42 + i), Words: []string{"blue-green, powdery, 4 h", "brown, even, 1 h", "pale green, in islands, 24 h"}[i%3]}
		if i < 3 {
			o.JPEG = samplePicture(t, 120+i, 90, color.RGBA{40, uint8(100 + 15*i), 110, 255})
		} else {
			o.Lab = &lab[i%3]
		}
		h.Outcomes = append(h.Outcomes, o)
	}
	return h
}

func sampleTeacher() Teacher {
	return Teacher{ClassPaper: sampleClass(), Sections: []ClassSection{
		{Head: "Aim", Lines: []string{"Each student makes two swatches and can say what changed between them."}},
		{Head: "Timed steps", Fields: []ClassField{{Word: "10:00, 10 min", Text: "Welcome."}, {Word: "10:10, 15 min", Text: "Safety: where the eyewash is, what the signs mean."}, {Word: "10:25, 15 min", Text: "Why it colours."}}},
		{Head: "Questions and answers", Fields: []ClassField{{Word: "Why does the wet half go bluer?", Text: "Salt must dissolve before it works; on the wet half it has."}}},
		{Head: "Assessment", Ticks: []string{"Names two hazards of the day.", "Passes the water-break test.", "Fills the card without help.", "Keeps times within 10 %.", "Predicts one change and then checks it."}},
		{Head: "What surprised them", Write: 3},
	}}
}

func sampleRisk() Risk {
	return Risk{ClassPaper: sampleClass(), Sections: []ClassSection{
		{Head: "1. Hazards", Lines: []string{"They are listed from the recipes of the class and from what is done there."}, Table: &ClassTable{
			Heads: []string{"Hazard", "Who and how", "Already doing", "More needed", "Who", "Done"}, Shares: []float64{0.2, 0.2, 0.3, 0.14, 0.08, 0.08},
			Rows: [][]string{{"Splash of household ammonia", "Students and teacher: eyes and skin, when it is poured.", "Goggles, gloves, poured by the teacher. [1]", "", "", ""}, {"Glass bowls", "All: cuts.", "Plastic where it will do. [1]", "More plastic bowls.", "Maren", "7 March"}}}},
		{Head: "Substances", Table: &ClassTable{Heads: []string{"Substance", "Household ammonia", "Salt"}, Shares: []float64{0.2, 0.4, 0.4},
			Rows: [][]string{{"CAS", "1336-21-6", "7647-14-5"}, {"Hazards", "H314 severe burns; H335 irritates the airways", "No hazard code at this strength."}, {"Supplier", "", ""}}}},
		{Head: "4. Record, 5. Review", Fields: []ClassField{{Word: "Adequate?", Text: ""}, {Word: "Signed", Text: ""}, {Word: "Review on", Text: ""}}},
	}}
}

func sampleKit() Kit {
	return Kit{ClassPaper: sampleClass(), Sections: []ClassSection{
		{Head: "Metal", Ticks: []string{"29 × copper swatch, 50 × 75 mm, 0.55 mm", "10 × brass swatch, 50 × 75 mm, 0.55 mm"}},
		{Head: "To wear", Ticks: []string{"20 × pair of nitrile gloves, three sizes", "9 × splash goggles"}},
	}}
}

func sampleStudent(t testing.TB) Student {
	return Student{ClassPaper: sampleClass(), Seat: "Seat 5", Swatches: []StudentSwatch{{Number: 61, Recipe: "Salt and fume, version 3, on copper.",
		Steps: []string{"Abraded, 10:41.", "Wetted, 11:20.", "In the tub 11:35 to 12:34, 59 min."}, Words: []string{"teal", "mottled", "powdery"},
		Faces: []CardFace{{Swatch: 61, Face: studio.Front, JPEG: samplePicture(t, 120, 120, color.RGBA{40, 130, 120, 255}), Measured: sampleMeasurement(colour.Lab{L: 54, A: -22, B: -4}, "blue-green", true)}, {Swatch: 61, Face: studio.Back}}}},
		Care: []string{"Not for food or drink.", "Do not do this at home alone."}}
}

func TestHandoutKeepsToTwoSides(t *testing.T) {
	for _, paper := range Papers {
		h := sampleHandout(t)
		h.Paper = paper
		c, err := drawHandout(nil, h)
		pages := pagesOf(t, c, err)
		if len(pages) != 2 {
			t.Fatalf("%s: %d pages", paper, len(pages))
		}
		if !strings.Contains(pages[0].all(), "H314") || !strings.Contains(pages[1].all(), "No. 47") || !strings.Contains(pages[1].all(), "at home alone") {
			t.Errorf("%s: a part stands on the wrong side", paper)
		}
	}
}

// Large print has 16 points or more: the least that the UK Association for Accessible
// Formats calls large print, from memory.
func TestLargePrintIsLargeEverywhere(t *testing.T) {
	h, student := sampleHandout(t), sampleStudent(t)
	h.Large, student.Large = true, true
	for name, draw := range map[string]func() (*canvas, error){
		"handout": func() (*canvas, error) { return drawHandout(nil, h) },
		"card":    func() (*canvas, error) { return drawStudent(nil, student) },
	} {
		c, err := draw()
		for i, p := range pagesOf(t, c, err) {
			for _, r := range p.texts {
				if r.size < 15.99 {
					t.Errorf("%s, page %d: %q has %.1f points", name, i+1, r.text, r.size)
				}
			}
		}
	}
}

// What must never meet stops the papers that would teach it, and every page of a risk
// assessment says that it is a draft.
func TestNoPaperTeachesWhatMustNeverMeet(t *testing.T) {
	stop := studio.Problemf(studio.Unsafe, "", "This must not be done: bleach would meet ammonia.")
	h, s, k := sampleHandout(t), sampleTeacher(), sampleKit()
	h.Stop, s.Stop, k.Stop = stop, stop, stop
	for name, write := range map[string]func(io.Writer) error{
		"handout": func(w io.Writer) error { return HandoutSheet(w, h) },
		"teacher": func(w io.Writer) error { return TeacherSheet(w, s) },
		"kit":     func(w io.Writer) error { return KitList(w, k) },
	} {
		var buf bytes.Buffer
		p := studio.ProblemIn(write(&buf))
		if p == nil || p.Kind != studio.Unsafe || buf.Len() > 0 {
			t.Errorf("%s: %v, %d bytes", name, p, buf.Len())
		}
	}
	r := sampleRisk()
	hazards := r.Sections[0].Table
	for i := range 40 {
		hazards.Rows = append(hazards.Rows, []string{fmt.Sprint("Hazard ", i), strings.Repeat("a student who leans over ", 8), "", "", "", ""})
	}
	c, err := drawRisk(nil, r)
	pages := pagesOf(t, c, err)
	if len(pages) < 3 {
		t.Fatalf("%d pages", len(pages))
	}
	for i, p := range pages {
		if !strings.Contains(p.all(), "DRAFT for the responsible person to complete and sign under local rules. Not legal advice.") {
			t.Errorf("page %d does not say that it is a draft", i+1)
		}
		if i > 0 && i < len(pages)-1 && !strings.Contains(p.all(), "Already doing") {
			t.Errorf("page %d goes on with the table without its heads", i+1)
		}
	}
}

func TestClassPapersAreNotWrittenOnBadInput(t *testing.T) {
	for name, change := range map[string]func(*ClassPaper){
		"no date":  func(p *ClassPaper) { p.Date = time.Time{} },
		"no name":  func(p *ClassPaper) { p.Title = " " },
		"no paper": func(p *ClassPaper) { p.Paper = "A5" },
	} {
		s := sampleTeacher()
		change(&s.ClassPaper)
		var buf bytes.Buffer
		if err := TeacherSheet(&buf, s); studio.ProblemIn(err) == nil || buf.Len() > 0 {
			t.Errorf("%s: %v, %d bytes", name, err, buf.Len())
		}
	}
	var buf bytes.Buffer
	if err := KitList(&buf, Kit{ClassPaper: sampleClass()}); studio.ProblemIn(err) == nil || buf.Len() > 0 {
		t.Errorf("an empty kit: %v", err)
	}
}
