package heif

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// bitString packs ones and zeros, spaces left out.
func bitString(s string) *bitReader {
	r := &bitReader{}
	for i, c := range strings.ReplaceAll(s, " ", "") {
		if i%8 == 0 {
			r.b = append(r.b, 0)
		}
		if c == '1' {
			r.b[i/8] |= 0x80 >> (i % 8)
		}
	}
	return r
}

// TestExpGolomb reads the codes of H.265 tables 9-2 and 9-3.
func TestExpGolomb(t *testing.T) {
	r := bitString("1 010 011 00100 00101 00110 00111 0001000 0001001 0001010")
	for want := range uint32(10) {
		if got := r.ue(); got != want {
			t.Errorf("ue %d, want %d", got, want)
		}
	}
	r = bitString("1 010 011 00100 00101 00110 00111")
	for _, want := range []int32{0, 1, -1, 2, -2, 3, -3} {
		if got := r.se(); got != want {
			t.Errorf("se %d, want %d", got, want)
		}
	}
	if r.over {
		t.Error("reads past the end")
	}
	if r.u(9); !r.over {
		t.Error("does not notice the end")
	}
}

// TestReferenceSets works equations 7-61 and 7-62 of H.265 by hand.
func TestReferenceSets(t *testing.T) {
	// Two before (-1, -2) and one after (+1), each in use.
	r := bitString("011 010 1 1 1 1 1 1")
	first, err := parseRefSet(r, 0, 2, nil)
	if err != nil || !slices.Equal(first.before, []int{-1, -2}) || !slices.Equal(first.after, []int{1}) {
		t.Fatalf("%+v, %v", first, err)
	}
	// The same moved by -1, all kept: +1 falls on the picture itself and drops
	// out, and the old picture comes in at -1.
	r = bitString("1 1 1 1 1 1 1")
	second, err := parseRefSet(r, 1, 2, []refSet{first})
	if err != nil || !slices.Equal(second.before, []int{-1, -2, -3}) || len(second.after) != 0 {
		t.Fatalf("%+v, %v", second, err)
	}
	// Moved by +1, without the nearest: -2 becomes -1, +1 becomes +2, and the
	// old picture comes in at +1. -1 would have been the picture itself.
	r = bitString("1 0 1 00 1 1 1")
	third, err := parseRefSet(r, 1, 2, []refSet{first})
	if err != nil || !slices.Equal(third.before, []int{-1}) || !slices.Equal(third.after, []int{1, 2}) {
		t.Fatalf("%+v, %v", third, err)
	}
	if r.over {
		t.Error("reads past the end")
	}
	// Sixteen before and one after are one more than a set may hold.
	for after, ok := range map[string]bool{"1": true, "010": false} {
		_, err := parseRefSet(bitString("000010001"+after+strings.Repeat("11", 17)), 0, 1, nil)
		if (err == nil) != ok {
			t.Errorf("sixteen before, %q after: %v", after, err)
		}
	}
}

// TestDefaultScalingLists checks corners of H.265 table 7-6.
func TestDefaultScalingLists(t *testing.T) {
	l := defaultScaling()
	for size := range 4 {
		n := 4 << size
		for m := range 6 {
			f := l.factor[size][m]
			corner := uint8(16)
			if size > 0 {
				corner = 115
				if m > 2 {
					corner = 91
				}
			}
			if len(f) != n*n || f[0] != 16 || f[n*n-1] != corner {
				t.Errorf("size %d matrix %d: %d to %d", size, m, f[0], f[n*n-1])
			}
			for y := range n {
				for x := range n {
					if f[y*n+x] != f[x*n+y] {
						t.Fatalf("size %d matrix %d is not symmetric", size, m)
					}
				}
			}
		}
	}
}

// TestUnescapeTakesOutWhatEscapingPutsIn follows H.265 clause 7.3.1.1.
func TestUnescapeTakesOutWhatEscapingPutsIn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		raw := rapid.SliceOf(rapid.SampledFrom([]byte{0, 0, 0, 1, 2, 3, 4, 255})).Draw(t, "raw")
		var nal []byte
		zeros := 0
		for _, v := range raw {
			if zeros == 2 && v <= 3 {
				nal = append(nal, 3)
				zeros = 0
			}
			nal = append(nal, v)
			if v == 0 {
				zeros++
			} else {
				zeros = 0
			}
		}
		if got := unescape(nal); !slices.Equal(got, raw) {
			t.Fatalf("%v becomes %v", nal, got)
		}
	})
}

// TestTilesCoverThePicture: every CTB has its turn once, and the order of the
// smallest blocks is one to one (H.265 clause 6.5).
func TestTilesCoverThePicture(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := &sps{log2CTB: rapid.IntRange(4, 6).Draw(t, "ctb"), log2MinTB: rapid.IntRange(2, 3).Draw(t, "tb")}
		s.widthCTB, s.heightCTB = rapid.IntRange(1, 9).Draw(t, "w"), rapid.IntRange(1, 9).Draw(t, "h")
		p := &pps{tileCols: rapid.IntRange(1, s.widthCTB).Draw(t, "cols"), tileRows: rapid.IntRange(1, s.heightCTB).Draw(t, "rows")}
		if rapid.Bool().Draw(t, "own sizes") {
			for i := 1; i < p.tileCols; i++ {
				p.colWidths = append(p.colWidths, 1)
			}
			for i := 1; i < p.tileRows; i++ {
				p.rowHeights = append(p.rowHeights, 1)
			}
		}
		l, err := newLayout(s, p)
		if err != nil {
			t.Fatal(err)
		}
		for rs, ts := range l.toTile {
			if int(l.toRaster[ts]) != rs {
				t.Fatalf("CTB %d", rs)
			}
		}
		seen := make([]bool, len(l.z))
		for _, v := range l.z {
			if seen[v] {
				t.Fatalf("two blocks at place %d", v)
			}
			seen[v] = true
		}
	})
}

// TestTransformMatrix: the basis functions are near orthogonal with norm 64 times
// the square root of 32, as they approximate the cosine transform; the standard's
// rounding by hand leaves at most 0.5 %. The first entries are printed in H.265
// clause 8.6.4.2 (from memory).
func TestTransformMatrix(t *testing.T) {
	for k := range 32 {
		for j := range 32 {
			sum := 0.0
			for i := range 32 {
				sum += float64(dctMatrix[k][i] * dctMatrix[j][i])
			}
			want := 0.0
			if k == j {
				want = 64 * 64 * 32
			}
			if d := (sum - want) / (64 * 64 * 32); d > 0.005 || d < -0.005 {
				t.Errorf("rows %d and %d: %g", k, j, d)
			}
		}
	}
	if got := [4]int32(dctMatrix[1][:4]); got != [4]int32{90, 90, 88, 85} {
		t.Errorf("row 1 begins %v", got)
	}
}
