package measure

import (
	"math"
	"slices"
	"strings"
	"testing"

	"aerugo/internal/studio"
)

// Spots over copper, with a known share; a bare strip beside the face.
func spotted(share float64) func(u, v float64) [3]float64 {
	// One spot in each of 5 x 5 squares, its area the share of the square.
	side := math.Sqrt(share)
	return func(u, v float64) [3]float64 {
		fu, fv := math.Mod(u*5, 1), math.Mod(v*5, 1)
		if math.Max(math.Abs(fu-0.5), math.Abs(fv-0.5)) < side/2 {
			return verdigris
		}
		return copperish
	}
}

// innerShare is the share of the spots on the face less the band along its
// edges, which is never measured.
func innerShare(share float64) float64 {
	const n = 1000
	face, spots := spotted(share), 0
	for i := range n * n {
		u, v := edgeBand+(1-2*edgeBand)*(float64(i%n)+0.5)/n, edgeBand+(1-2*edgeBand)*(float64(i/n)+0.5)/n
		if face(u, v) == verdigris {
			spots++
		}
	}
	return float64(spots) / (n * n)
}

func TestKnownCoverageLiesInTheRange(t *testing.T) {
	for _, drawn := range []float64{0, 0.1, 0.3, 0.6, 0.9, 1} {
		share := innerShare(drawn)
		for _, light := range [][3]float64{{1, 1, 1}, {1.2, 1, 0.7}} {
			if light[0] == 1 && drawn != 0.3 && drawn != 1 {
				continue
			}
			s := desk(spotted(drawn))
			s.cast, s.noise = light, 2
			s.bare, s.bareRGB = &studio.Rect{X: 520, Y: 250, W: 90, H: 90}, copperish
			m := measured(t, s.take(t), s.marks())
			c := m.Coverage
			if c == nil {
				t.Fatalf("no coverage: %q", m.Warnings)
			}
			t.Logf("true %.3f: %.3f (%.3f to %.3f)", share, c.Value, c.Low, c.High)
			if c.Low > share+0.005 || c.High < share-0.005 || math.Abs(c.Value-share) > 0.01 {
				t.Errorf("true share %.2f: %+v", share, *c)
			}
			if c.High-c.Low > 0.35 || c.Low > c.Value || c.High < c.Value || c.Rule == "" {
				t.Errorf("true share %.2f: %+v", share, *c)
			}
			if r := c.Rules; r == nil || r.Low < c.Low || r.High > c.High || r.Low > c.Value || r.High < c.Value {
				t.Errorf("true share %.2f: rules give %+v within %+v", share, r, *c)
			}
			if p := c.Sampling; p == nil || p.Low > c.Value || p.High < c.Value || p.Low < 0 || p.High > 1 || drawn == 0.3 && p.Low == p.High {
				t.Errorf("true share %.2f: sampling gives %+v about %.3f", share, p, c.Value)
			}
		}
	}
}

func TestCoverageNeedsBareMetal(t *testing.T) {
	s := desk(spotted(0.4))
	img := s.take(t)
	marks := s.marks()
	if m := measured(t, img, marks); m.Coverage != nil || !anyHas(m.Warnings, "mark a spot of bare metal") {
		t.Errorf("no bare metal: %+v, %q", m.Coverage, m.Warnings)
	}
	blank := labOfLinear(t, copperish)
	marks.BareLab, marks.BareOf = &blank, "the bare blank of set 3"
	m := measured(t, img, marks)
	if m.Coverage == nil || !strings.Contains(m.Coverage.Rule, "the bare blank of set 3") || math.Abs(m.Coverage.Value-0.4) > 0.05 {
		t.Errorf("with the blank: %+v", m.Coverage)
	}
	marks.Grey = nil
	if m := measured(t, img, marks); m.Coverage != nil || !anyHas(m.Warnings, "only when a grey patch is marked") {
		t.Errorf("uncalibrated against another photograph: %+v, %q", m.Coverage, m.Warnings)
	}
	given := measured(t, img, studio.Marks{Corners: marks.Corners}).Palette
	lab := given[0].Lab
	for _, p := range given { // the copper is the redder of the two colours
		if p.Lab.A > lab.A {
			lab = p.Lab
		}
	}
	marks.BareLab, marks.BareOf = &lab, ""
	if m := measured(t, img, marks); m.Coverage == nil || !strings.Contains(m.Coverage.Rule, "taken as read in the same light") || math.Abs(m.Coverage.Value-0.4) > 0.06 {
		t.Errorf("a colour given by hand, no grey: %+v, %q", m.Coverage, m.Warnings)
	}
}

func TestUnevenOrBurntBareSpotGivesNoCoverage(t *testing.T) {
	s := desk(spotted(0.4))
	img := s.take(t)
	marks := s.marks()
	marks.Bare = &studio.Rect{X: 100, Y: 100, W: 200, H: 200} // on the spots
	if m := measured(t, img, marks); m.Coverage != nil || !anyHas(m.Warnings, "differs within itself") {
		t.Errorf("uneven: %+v, %q", m.Coverage, m.Warnings)
	}
	s.bare, s.bareRGB = &studio.Rect{X: 520, Y: 250, W: 90, H: 90}, [3]float64{1.2, 0.8, 0.7}
	if m := measured(t, s.take(t), s.marks()); m.Coverage != nil || !anyHas(m.Warnings, "burnt out") {
		t.Errorf("burnt out: %+v, %q", m.Coverage, m.Warnings)
	}
}

// Turquoise spots on the blade of a red-brown axe: with the red-brown marked as
// the ground, the spots are a part but far from half, and one of the colours.
func TestSpotsOnARealBronzeAreFound(t *testing.T) {
	img := photo(t, "yue_wzhou1000.jpg")
	corners := [4]studio.Point{{X: 180, Y: 840}, {X: 310, Y: 840}, {X: 310, Y: 960}, {X: 180, Y: 960}}
	m := measured(t, img, studio.Marks{Corners: &corners, Bare: &studio.Rect{X: 420, Y: 830, W: 45, H: 60}})
	if m.Coverage == nil {
		t.Fatalf("%q", m.Warnings)
	}
	t.Logf("%.3f (%.3f to %.3f), %s; %v", m.Coverage.Value, m.Coverage.Low, m.Coverage.High, m.Coverage.Rule, m.Palette)
	if c := m.Coverage; c.Value < 0.05 || c.Value > 0.5 || c.Low > c.Value || c.High < c.Value || c.Low < 0 || c.High > 1 {
		t.Errorf("%+v", *c)
	}
	if !slices.ContainsFunc(m.Palette, func(p studio.PaletteEntry) bool { return isGreen(p.Lab) && p.Share > 0.05 && p.Share < 0.3 }) {
		t.Errorf("no turquoise among %v", m.Palette)
	}
}
