package mat

import (
	"math"
	"strings"
	"testing"

	"aerugo/internal/studio"
)

// sightings are the four marks of a mat exactly as a camera would see them.
func sightings(l Layout, h Homography) (out []sighting) {
	for i, m := range l.Marks {
		s := sighting{layout: l, corner: i}
		for j, c := range m.Corners() {
			u, v := h.at(c.X, c.Y)
			s.frame[j] = studio.Point{X: u, Y: v}
		}
		out = append(out, s)
	}
	return out
}

func TestMarkThatContradictsTheOthersIsLeftOut(t *testing.T) {
	for _, l := range Layouts {
		h := camera(l, 1500, 2000, 20, 50, 8, 0.9, MM{})
		for wrong := range 4 {
			marks := sightings(l, h)
			for j := range marks[wrong].frame {
				marks[wrong].frame[j].X += 25 // about 4 mm, as a folded corner of the paper
			}
			f, err := fromMarks(marks)
			if err != nil {
				t.Fatal(err)
			}
			if f.MarksSeen != 3 || f.Missing != cornerNames[wrong] {
				t.Errorf("%s, %s: %d marks, without the %q", l.Name(), cornerNames[wrong], f.MarksSeen, f.Missing)
			}
			for _, c := range l.Page.Corners() {
				u, v := h.at(c.X, c.Y)
				if p := f.Page(studio.Point{X: u, Y: v}); math.Hypot(p.X-c.X, p.Y-c.Y) > 0.01 {
					t.Errorf("%s, %s: the page's corner %v is seen at %v", l.Name(), cornerNames[wrong], c, p)
				}
			}
			// with one more missing, nobody can tell which is wrong
			rest := append(append([]sighting(nil), marks[:(wrong+1)%4]...), marks[(wrong+1)%4+1:]...)
			if _, err := fromMarks(rest); studio.ProblemIn(err) == nil {
				t.Errorf("%s, %s: three marks that contradict each other gave %v", l.Name(), cornerNames[wrong], err)
			}
		}
	}
}

func TestThreeMarksAreLessSureThanFour(t *testing.T) {
	for _, l := range Layouts {
		marks := sightings(l, camera(l, 1500, 2000, 20, 50, 8, 0.9, MM{}))
		four, err := fromMarks(marks)
		if err != nil {
			t.Fatal(err)
		}
		three, err := fromMarks(marks[1:])
		if err != nil {
			t.Fatal(err)
		}
		if four.Missing != "" || three.Missing != "top left" || !(three.ErrorMM > four.ErrorMM) || !(four.ErrorMM > 0) {
			t.Errorf("%s: %.3f mm with four marks, %.3f without the %q", l.Name(), four.ErrorMM, three.ErrorMM, three.Missing)
		}
	}
}

// A front camera may store what a mirror shows: labels and faces would be read
// the wrong way round, so such a picture is refused.
func TestMirroredMatIsRefused(t *testing.T) {
	l := Layouts[1]
	s := plainScene(t, l)
	s.toPixels = Homography{-1, 0, float64(s.w), 0, 1, 0, 0, 0, 1}.times(s.toPixels)
	_, err := Find(s.photograph(t, newSheet(t, l)))
	if studio.ProblemIn(err) == nil || !strings.Contains(err.Error(), "4 square frames were seen") {
		t.Errorf("the answer is %v", err)
	}
}

func TestBenchWithoutMatIsRefused(t *testing.T) {
	s := plainScene(t, Layouts[0])
	s.toPixels = Homography{1, 0, 5000, 0, 1, 5000, 0, 0, 1}
	_, err := Find(s.photograph(t, newSheet(t, Layouts[0])))
	if studio.ProblemIn(err) == nil || !strings.Contains(err.Error(), "No corner mark") {
		t.Errorf("the answer is %v", err)
	}
	s.w, s.h = 300, 200
	if _, err := Find(s.photograph(t, newSheet(t, Layouts[0]))); studio.ProblemIn(err) == nil || !strings.Contains(err.Error(), "300 x 200") {
		t.Errorf("the answer is %v", err)
	}
}
