package texture

import (
	"fmt"
	"testing"

	"aerugo/internal/science/colour"
)

// TestIslandsMatchReference checks islands_64.csv, made with scipy.ndimage 1.10.1.
func TestIslandsMatchReference(t *testing.T) {
	g := picture64()
	g.MMPerCell = 0.5
	for _, line := range records(t, "islands_64.csv", 7)[1:] {
		n := map[string]Neighbours{"4": Rook, "8": Queen}[line[1]]
		islands, err := Islands(g, number(t, line[0]), n)
		if err != nil {
			t.Fatal(err)
		}
		var cells, squares, rows, columns, single float64
		for i, land := range islands {
			k := float64(land.Cells)
			cells, squares = cells+k, squares+k*k
			row, col := land.Y/0.5-0.5, land.X/0.5-0.5
			rows, columns = rows+row*row, columns+col*col
			if land.Cells == 1 {
				single++
			}
			if i > 0 && land.Cells > islands[i-1].Cells {
				t.Errorf("island %d is larger than the one before", i)
			}
		}
		for i, got := range []float64{float64(len(islands)), cells, float64(islands[0].Cells), squares, rows, columns, single} {
			near(t, fmt.Sprintf("at least %s, %s neighbours, column %d", line[0], line[1], i+3), got, number(t, line[i+2]), 1e-9)
		}
	}
}

// TestPatternSharesMatchReferenceAtRadii checks lbp_radius_64.csv, made with
// scikit-image 0.19.3 but for one exact tie. It counts the cells at least the radius,
// in whole cells, from the edge.
func TestPatternSharesMatchReferenceAtRadii(t *testing.T) {
	g := picture64()
	g.MMPerCell = 0.25
	for _, line := range records(t, "lbp_radius_64.csv", 5)[1:] {
		radius := number(t, line[0])
		p, err := BinaryPatterns(g, radius*g.MMPerCell)
		if err != nil {
			t.Fatal(err)
		}
		rim := 1
		for float64(rim) < radius {
			rim++
		}
		var bins [10]int
		for i, code := range p.Uniform {
			if r, c := i/64, i%64; r >= rim && r < 64-rim && c >= rim && c < 64-rim {
				bins[code]++
				if !p.Whole[i] {
					t.Errorf("radius %v: row %d, column %d is not whole", radius, r, c)
				}
			}
		}
		for code, got := range bins {
			near(t, fmt.Sprintf("radius %v, code %d", radius, code), float64(got), number(t, line[1+code]), 0)
		}
	}
}

// TestPaletteDistanceMatchesLinearProgramme checks emd_linprog.csv, made with
// scipy 1.10.1 linprog, which is not a network method.
func TestPaletteDistanceMatchesLinearProgramme(t *testing.T) {
	var p, q []Part
	cases := 0
	for _, line := range records(t, "emd_linprog.csv", 98)[1:] {
		if line[1] != "distance" {
			part := Part{colour.Lab{L: number(t, line[2]), A: number(t, line[3]), B: number(t, line[4])}, number(t, line[5])}
			if line[1] == "P" {
				p = append(p, part)
			} else {
				q = append(q, part)
			}
			continue
		}
		got, err := PaletteDistance(p, q, colour.Difference76)
		if err != nil {
			t.Fatal(err)
		}
		near(t, fmt.Sprintf("case %s, %d and %d colours", line[0], len(p), len(q)), got, number(t, line[2]), 1e-9)
		p, q = nil, nil
		cases++
	}
	if cases != 6 {
		t.Errorf("%d cases in the file, want 6", cases)
	}
}

// TestMoranOfResidualsMatchesReference checks moran_plane.csv, made with dense
// matrices in numpy 1.24.2 as in Cliff and Ord 1981, with a mask.
func TestMoranOfResidualsMatchesReference(t *testing.T) {
	g := paint(12, 9, func(r, c int) float64 { return float64((7*c+13*r+c*r)%32 + 2*c - 3*r) })
	g.OK = make([]bool, len(g.V))
	for i := range g.OK {
		r, c := i/12, i%12
		g.OK[i] = (r*r+3*c)%5 != 0
	}
	flat, err := g.WithoutPlane()
	if err != nil {
		t.Fatal(err)
	}
	lines := records(t, "moran_plane.csv", 3)[1:]
	for _, line := range lines {
		n := map[string]Neighbours{"4": Rook, "8": Queen}[line[0]]
		c, err := Moran(g, ClusterOptions{Neighbours: n, Flatten: true}, nil)
		if err != nil {
			t.Fatal(err)
		}
		for i, got := range []float64{float64(c.N), float64(c.Pairs), c.I, c.Expected} {
			near(t, fmt.Sprintf("%s neighbours, column %d", line[0], i+2), got, number(t, line[i+1]), 1e-11)
		}
		c, err = Moran(flat, ClusterOptions{Neighbours: n}, nil)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "I of the grid without its plane", c.I, number(t, line[3]), 1e-11)
	}
}

// TestPoolOnRectangleMatchesReference checks pooling_rectangle.csv, made with numpy
// 1.24.2 and the widths of the bands by scipy 1.10.1 root finding.
func TestPoolOnRectangleMatchesReference(t *testing.T) {
	want := named(t, "pooling_rectangle.csv", 16)
	p, err := Pool(rectangle(), WholeFace(rectangle()), 4)
	if err != nil {
		t.Fatal(err)
	}
	ratio, _ := p.EdgeRatio()
	got := map[string]float64{
		"edge_ratio": ratio, "right_mm": p.RightMM, "up_mm": p.UpMM, "offset": p.Offset, "offset_deg": p.OffsetDeg,
		"harmonic": p.Harmonic, "harmonic_deg": p.HarmonicDeg,
	}
	for k, ring := range p.Rings {
		got[fmt.Sprintf("ring%d", k)] = ring.Mean
		got[fmt.Sprintf("ring%d_cells", k)] = float64(ring.Cells)
	}
	if len(got) != len(want) {
		t.Errorf("%d numbers, and %d in the file", len(got), len(want))
	}
	for name, w := range want {
		near(t, name, got[name], w, 1e-9)
	}
}
