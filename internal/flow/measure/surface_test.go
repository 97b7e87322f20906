package measure

import (
	"math"
	"testing"

	"aerugo/internal/studio"
)

// A deposit that lies in the left third of the face and a patch at the top:
// geometry alone says where its centre is and how many islands there are.
func TestPoolingSaysWhereTheDepositLies(t *testing.T) {
	patina := [3]float64{0.05, 0.22, 0.20}
	left := desk(func(u, v float64) [3]float64 {
		if u < 0.3 {
			return patina
		}
		return copperish
	})
	img, marks := left.take(t), left.marks()
	bare := labOfLinear(t, copperish)
	marks.BareLab, marks.BareOf = &bare, "the blank"
	m, err := Measure(img, marks, Size{WidthMM: 60, HeightMM: 60})
	if err != nil {
		t.Fatal(err)
	}
	p := m.Pooling
	if p == nil || p.Of != "coverage" {
		t.Fatalf("pooling = %+v", p)
	}
	// the centre of the strip 0..0.3 lies at 0.15, that is 0.35 of the width left of the middle: 0.7 of half the face
	if math.Abs(p.Offset-0.7) > 0.05 || math.Abs(p.OffsetDeg-180) > 4 {
		t.Errorf("offset %.2f towards %.0f°, want 0.70 towards 180°", p.Offset, p.OffsetDeg)
	}
	if p.Islands != 1 || p.EdgeRatio < 1.2 {
		t.Errorf("%d islands, edge ratio %.2f; want one island that lies along an edge", p.Islands, p.EdgeRatio)
	}
	if p.Clustering < 0.3 {
		t.Errorf("Moran's I %.2f; a single strip is clustered", p.Clustering)
	}
	if m.MMPerPixel <= 0 {
		t.Error("no scale although the size is known")
	}
	if again := measured(t, img, marks); again.Pooling != nil || again.Texture != nil || again.MMPerPixel != 0 {
		t.Error("texture or pooling without the face's real size")
	}
}

// Coarse and fine checks of the same two colours: equal spread cell by cell, but
// the means of wide blocks differ only where the checks are wide.
func TestTextureTellsCoarseFromFine(t *testing.T) {
	checks := func(n float64) *studio.Texture {
		s := desk(func(u, v float64) [3]float64 {
			if (int(u*n)+int(v*n))%2 == 0 {
				return [3]float64{0.35, 0.35, 0.35}
			}
			return [3]float64{0.08, 0.08, 0.08}
		})
		m, err := Measure(s.take(t), s.marks(), Size{WidthMM: 60, HeightMM: 60})
		if err != nil {
			t.Fatal(err)
		}
		return m.Texture
	}
	fine, coarse := checks(60), checks(6) // 1 mm and 10 mm
	last := len(fine.Variance) - 1
	if f, c := fine.Variance[last], coarse.Variance[last]; c.Value < 10*f.Value {
		t.Errorf("variance of %.1f mm blocks: fine %.1f, coarse %.1f", f.MM, f.Value, c.Value)
	}
	if fine.Contrast < 3*coarse.Contrast {
		t.Errorf("contrast of pairs %.1f mm apart: fine %.1f, coarse %.1f", fine.PairMM, fine.Contrast, coarse.Contrast)
	}
	if f, c := fine.Grain[len(fine.Grain)-1].Value, coarse.Grain[len(coarse.Grain)-1].Value; f < 2*c {
		t.Errorf("grain below %.1f mm: fine %.2f, coarse %.2f", fine.Grain[len(fine.Grain)-1].MM, f, c)
	}
}
