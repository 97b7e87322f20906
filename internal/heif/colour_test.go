package heif

import (
	"testing"
)

// onePixel is a 4:4:4 picture of a single pixel.
func onePixel(info Info, depth int, y, cb, cr uint16) *Picture {
	p := &Picture{Width: 1, Height: 1, BitDepth: depth, view: newView(1, 1), depth: [3]int{depth, depth, depth}, chroma: 3}
	for i, v := range []uint16{y, cb, cr} {
		p.plane[i] = plane{[]uint16{v}, 1, 1, 1}
	}
	if err := p.setColour(info); err != nil {
		panic(err)
	}
	return p
}

func pixel(p *Picture) [3]uint8 { return [3]uint8(p.RGB()) }

func close3(a, b [3]uint8, by int) bool {
	for i := range a {
		if abs(int(a[i])-int(b[i])) > by {
			return false
		}
	}
	return true
}

// The 100 % colour bars in 8-bit limited range, white to black. BT.601: ITU-R
// BT.601-7 coded values; BT.709: ITU-R BT.709-6 coded values; both from memory
// of the published tables. Rounding of the codes leaves up to 2 code values.
var bars = [8][3]uint8{
	{255, 255, 255}, {255, 255, 0}, {0, 255, 255}, {0, 255, 0}, {255, 0, 255}, {255, 0, 0}, {0, 0, 255}, {0, 0, 0},
}

func TestColourBars(t *testing.T) {
	for matrix, codes := range map[int][8][3]uint16{
		6: {{235, 128, 128}, {210, 16, 146}, {170, 166, 16}, {145, 54, 34}, {106, 202, 222}, {81, 90, 240}, {41, 240, 110}, {16, 128, 128}},
		1: {{235, 128, 128}, {219, 16, 138}, {188, 154, 16}, {173, 42, 26}, {78, 214, 230}, {63, 102, 240}, {32, 240, 118}, {16, 128, 128}},
	} {
		for i, c := range codes {
			for _, depth := range []int{8, 10} {
				s := uint16(1) << (depth - 8)
				got := pixel(onePixel(Info{Matrix: matrix}, depth, c[0]*s, c[1]*s, c[2]*s))
				if !close3(got, bars[i], 2) {
					t.Errorf("matrix %d at %d bits, %v: %v, want %v", matrix, depth, c, got, bars[i])
				}
			}
		}
	}
}

// TestFullRangeAsJFIF checks the equations of JFIF 1.02 (ITU-T T.871 clause 7),
// which are BT.601 in full range: R = Y + 1.402 (Cr-128) and so on.
func TestFullRangeAsJFIF(t *testing.T) {
	for y := 0; y < 256; y += 15 {
		for cb := 0; cb < 256; cb += 15 {
			for cr := 0; cr < 256; cr += 15 {
				b, r := float64(cb)-128, float64(cr)-128
				clip := func(v float64) uint8 { return uint8(min(max(v+0.5, 0), 255)) }
				want := [3]uint8{
					clip(float64(y) + 1.402*r),
					clip(float64(y) - 0.344136286*b - 0.714136286*r),
					clip(float64(y) + 1.772*b),
				}
				got := pixel(onePixel(Info{Matrix: 6, FullRange: true}, 8, uint16(y), uint16(cb), uint16(cr)))
				// A value on the edge between two codes may round either way.
				if !close3(got, want, 1) {
					t.Fatalf("%d %d %d: %v, want %v", y, cb, cr, got, want)
				}
			}
		}
	}
}

// TestIdentityMatrix: with matrix 0 the components are green, blue and red (ITU-T
// H.273 equations 41 to 43).
func TestIdentityMatrix(t *testing.T) {
	if got := pixel(onePixel(Info{Matrix: 0, FullRange: true}, 8, 10, 20, 30)); got != [3]uint8{30, 10, 20} {
		t.Errorf("GBR 10 20 30 is %v", got)
	}
}

func TestEveryMatrixKeepsGreys(t *testing.T) {
	for _, m := range []int{1, 2, 4, 5, 6, 7, 9} {
		for v := range 256 {
			got := pixel(onePixel(Info{Matrix: m, FullRange: true}, 8, uint16(v), 128, 128))
			if got != [3]uint8{uint8(v), uint8(v), uint8(v)} {
				t.Fatalf("matrix %d: grey %d becomes %v", m, v, got)
			}
		}
	}
}

// TestPixelsAsLibheif compares with heif-convert 1.15.1 (MD5 of its RGB bytes),
// which converts BT.601 full range and repeats chroma samples as this package does.
func TestPixelsAsLibheif(t *testing.T) {
	for name, want := range map[string]string{
		"q60":         "ba2f892cf143d5256d07ef73797b747d",
		"s422":        "8212bac3e16b5f3bebfe4004bd821dae",
		"s444":        "d780239f56888bbcf82db87037e10e7d",
		"odd":         "0b6ec8f8cf14d238a765ebd73396791f",
		"p8_p3":       "d50f03592bfaed3377c855752a587128",
		"lossless444": "e2848031f3f40ec9c75cfa7f32cdf88e",
	} {
		p, _ := decoded(t, read(t, name+".heic"))
		if got := hexMD5(p.RGB()); got != want {
			t.Errorf("%s: MD5 %s, want %s", name, got, want)
		}
	}
}
