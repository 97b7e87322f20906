package colour

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

var builtIn = map[string]Space{"sRGB": SRGB, "DisplayP3": DisplayP3, "AdobeRGB1998": AdobeRGB}

// TestPrimariesMatchPublishedMatrices checks rgb_spaces.csv (12 decimals, and the
// 4 decimals printed in IEC 61966-2-1) under D65, before adapting to D50.
func TestPrimariesMatchPublishedMatrices(t *testing.T) {
	for _, r := range table(t, "rgb_spaces.csv", 4) {
		v := r.numbers(t, "xr", "yr", "xg", "yg", "xb", "yb", "xw", "yw")
		m, white := primaryMatrix([4][2]float64{{v[0], v[1]}, {v[2], v[3]}, {v[4], v[5]}, {v[6], v[7]}})
		within, back := 2e-12, 5e-12
		if r["space"] == "sRGB_IEC_rounded" {
			within, back = 6e-5, 5e-4
		}
		sameMatrix(t, r["space"], m, r.numbers(t, "m11", "m12", "m13", "m21", "m22", "m23", "m31", "m32", "m33"), within)
		inv, ok := m.inverse()
		if !ok {
			t.Fatalf("%s is singular", r["space"])
		}
		sameMatrix(t, r["space"]+" inverse", inv, r.numbers(t, "i11", "i12", "i13", "i21", "i22", "i23", "i31", "i32", "i33"), back)
		if !nearXYZ(white, D65) {
			t.Errorf("%s: white is %v", r["space"], white)
		}
		if s, ok := builtIn[r["space"]]; ok {
			for i, want := range BradfordMatrix(D65, D50).multiply(m) {
				for j := range want {
					if got := s.Matrix()[i][j]; math.Abs(got-want[j]) > 1e-12 {
						t.Errorf("%s: the space's own matrix has %v, want %v", r["space"], got, want[j])
					}
				}
			}
		}
	}
}

// TestSRGBToLabMatchesLittleCMS checks 17 colours against LittleCMS 2.14 at D50,
// and against scikit-image 0.19.3 at D65, whose own white is rounded.
func TestSRGBToLabMatchesLittleCMS(t *testing.T) {
	for _, r := range table(t, "srgb8_to_lab.csv", 17) {
		lr, lg, lb := SRGB.Decode(r.number(t, "R")/255, r.number(t, "G")/255, r.number(t, "B")/255)
		got := SRGB.Lab(lr, lg, lb)
		if want := r.lab(t, "lcms_L", "lcms_a", "lcms_b"); !near(got, want, 0.001) {
			t.Errorf("%s: got %v, LittleCMS gives %v", r["name"], got, want)
		}
		d65 := Adapt(SRGB.XYZ(lr, lg, lb), D50, D65).Lab(D65)
		if want := r.lab(t, "sk_L", "sk_a", "sk_b"); !near(d65, want, 0.012) {
			t.Errorf("%s at D65: got %v, scikit-image gives %v", r["name"], d65, want)
		}
	}
}

func TestGreyIsExactlyNeutral(t *testing.T) {
	for name, s := range builtIn {
		for code := range 256 {
			rgb := make([]float32, 3)
			s.Decode8(rgb, []uint8{uint8(code), uint8(code), uint8(code)})
			if lab := s.Lab(float64(rgb[0]), float64(rgb[1]), float64(rgb[2])); lab.A != 0 || lab.B != 0 {
				t.Errorf("%s grey %d is %v", name, code, lab)
			}
		}
		if lab := s.Lab(1, 1, 1); lab != (Lab{L: 100}) {
			t.Errorf("%s white is %v", name, lab)
		}
	}
}

func TestSpacesGoThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.SampledFrom([]string{"sRGB", "DisplayP3", "AdobeRGB1998"}).Draw(t, "space")
		s := builtIn[name]
		unit := rapid.Float64Range(0, 1)
		r, g, b := unit.Draw(t, "r"), unit.Draw(t, "g"), unit.Draw(t, "b")
		lr, lg, lb := s.Decode(r, g, b)
		same := func(what string, within, x, y, z, wantX, wantY, wantZ float64) {
			if math.Abs(x-wantX) > within || math.Abs(y-wantY) > within || math.Abs(z-wantZ) > within {
				t.Fatalf("%s: %v %v %v came back as %v %v %v", what, wantX, wantY, wantZ, x, y, z)
			}
		}
		er, eg, eb := s.Encode(lr, lg, lb)
		same("coding", 1e-7, er, eg, eb, r, g, b) // near 0 the gamma of Adobe RGB loses digits
		x, y, z := s.FromXYZ(s.XYZ(lr, lg, lb))
		same("XYZ", 1e-12, x, y, z, lr, lg, lb)
		x, y, z = s.FromLab(s.Lab(lr, lg, lb))
		same("Lab", 1e-12, x, y, z, lr, lg, lb)
		if lab := s.Lab(lr, lg, lb); !near(lab, s.XYZ(lr, lg, lb).Lab(D50), 1e-9) {
			t.Fatal("Lab and XYZ of the same colour disagree")
		}
	})
}

// TestSRGBCurveMeetsStandard: values at the joint and in the middle, worked from
// the formula of IEC 61966-2-1 by hand calculator.
func TestSRGBCurveMeetsStandard(t *testing.T) {
	for _, c := range []struct{ stored, linear float64 }{{0, 0}, {0.02, 0.02 / 12.92}, {0.04045, 0.0031308}, {0.5, 0.2140411}, {1, 1}} {
		if got, _, _ := SRGB.Decode(c.stored, 0, 0); math.Abs(got-c.linear) > 5e-8 {
			t.Errorf("%v decodes to %.8f, want %.7f", c.stored, got, c.linear)
		}
		if got, _, _ := SRGB.Encode(c.linear, 0, 0); math.Abs(got-c.stored) > 5e-7 {
			t.Errorf("%v encodes to %.8f, want %.7f", c.linear, got, c.stored)
		}
	}
}

func TestCodingLimitsWildValues(t *testing.T) {
	for _, v := range []float64{-3, math.Inf(-1), math.NaN()} {
		if r, g, b := SRGB.Decode(v, v, v); r != 0 || g != 0 || b != 0 {
			t.Errorf("%v decodes to %v %v %v", v, r, g, b)
		}
		if r, _, _ := SRGB.Encode(v, v, v); r != 0 {
			t.Errorf("%v encodes to %v", v, r)
		}
	}
	if r, _, _ := SRGB.Decode(7, 0, 0); r != 1 {
		t.Errorf("7 decodes to %v", r)
	}
}

func TestTablesAgreeWithCurves(t *testing.T) {
	for name, s := range builtIn {
		for i := range 256 {
			bytes, words := make([]float32, 3), make([]float32, 3)
			c := uint8(i)
			s.Decode8(bytes, []uint8{c, c, c})
			w := uint16(i) * 257
			s.Decode16(words, []uint16{w, w, w})
			want, _, _ := s.Decode(float64(i)/255, 0, 0)
			if math.Abs(float64(bytes[0])-want) > 1e-7 || bytes[0] != words[0] || bytes[1] != bytes[0] || words[2] != words[0] {
				t.Errorf("%s %d: bytes %v, words %v, curve %v", name, i, bytes, words, want)
			}
		}
	}
}

func TestDecodeStopsAtTheShorterSide(t *testing.T) {
	dst := []float32{9, 9, 9, 9}
	SRGB.Decode8(dst, []uint8{255, 0, 255, 255, 255, 255})
	if dst[0] != 1 || dst[1] != 0 || dst[2] != 1 || dst[3] != 9 {
		t.Errorf("got %v", dst)
	}
	SRGB.Decode16(dst, []uint16{0, 65535})
	if dst[0] != 1 {
		t.Errorf("half a pixel was decoded: %v", dst)
	}
}

func TestZeroSpaceIsSRGB(t *testing.T) {
	if got, want := (Space{}).Lab(0.5, 0.2, 0.1), SRGB.Lab(0.5, 0.2, 0.1); got != want {
		t.Errorf("got %v, want %v", got, want)
	}
}

func BenchmarkDecode8Megapixel(b *testing.B) {
	src, dst := make([]uint8, 3<<20), make([]float32, 3<<20)
	for i := range src {
		src[i] = uint8(i * 7)
	}
	b.SetBytes(int64(len(src)))
	for b.Loop() {
		SRGB.Decode8(dst, src)
	}
}

func BenchmarkDecode16Megapixel(b *testing.B) {
	src, dst := make([]uint16, 3<<20), make([]float32, 3<<20)
	for i := range src {
		src[i] = uint16(i * 7)
	}
	b.SetBytes(int64(2 * len(src)))
	for b.Loop() {
		SRGB.Decode16(dst, src)
	}
}

func BenchmarkLabMegapixel(b *testing.B) {
	sum := 0.0
	for b.Loop() {
		for i := range 1 << 20 {
			v := float64(i) / (1 << 20)
			sum += SRGB.Lab(v, 1-v, 0.5).L
		}
	}
	if sum == 0 {
		b.Fatal("nothing was measured")
	}
}
