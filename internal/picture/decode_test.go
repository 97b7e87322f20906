package picture

import (
	"bytes"
	"encoding/csv"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"slices"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/science/colour"
)

// patches reads expected.csv: the Lab (D50) that the 8-bit sRGB and Display P3
// values of the eight patches mean, and the Lab the 16-bit file was made for.
func patches(t testing.TB) (aimed, srgb, p3 [8]colour.Lab) {
	t.Helper()
	r := csv.NewReader(bytes.NewReader(read(t, "expected.csv")))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	for i, row := range rows[1:] {
		lab := func(l, a, b string) colour.Lab {
			var v [3]float64
			for j, name := range []string{l, a, b} {
				if v[j], err = strconv.ParseFloat(row[column[name]], 64); err != nil {
					t.Fatal(err)
				}
			}
			return colour.Lab{L: v[0], A: v[1], B: v[2]}
		}
		aimed[i] = lab("L", "a", "b")
		srgb[i] = lab("L_srgb8", "a_srgb8", "b_srgb8")
		p3[i] = lab("L_p38", "a_p38", "b_p38")
	}
	return aimed, srgb, p3
}

// readPatches returns the mean colour of the middle of each patch.
func readPatches(m *Image) (out [8]colour.Lab) {
	for i := range out {
		x0, y0 := i%4*40+8, i/4*60+8
		var sum [3]float64
		for y := y0; y < y0+44; y++ {
			for x := x0; x < x0+24; x++ {
				rgb, _ := m.At(x, y)
				for c, v := range rgb {
					sum[c] += float64(v) / (24 * 44)
				}
			}
		}
		out[i] = m.Space.Lab(sum[0], sum[1], sum[2])
	}
	return out
}

// Limits: what a careful reader reaches on these files (Pillow 9.4 reached
// 0.000 for PNG, 0.60 for sRGB JPEG and 1.14 for P3 JPEG, worst patch).
func TestPatchesComeOutAsTheyWentIn(t *testing.T) {
	aimed, srgb, p3 := patches(t)
	for _, c := range []struct {
		file  string
		want  [8]colour.Lab
		limit float64
	}{
		{"p8_p3.png", p3, 0.01},
		{"p8_srgb_16bit.png", aimed, 0.01},
		// The small profile in these two draws the sRGB curve by 42 points: what
		// it says is 0.05 from sRGB in the darks; see the next test.
		{"p8_srgb.png", srgb, 0.06},
		{"p8_lossless.webp", srgb, 0.06},
		{"p8_srgb.jpg", srgb, 0.7},
		{"p8_untagged.jpg", srgb, 0.7},
		{"p8_with_gps.jpg", srgb, 0.7},
		{"place_all.jpg", srgb, 0.7},
		{"p8_p3_v2.jpg", p3, 1.2},
		{"p8_p3_v4.jpg", p3, 1.2},
		{"p8_p3_exif_says_srgb.jpg", p3, 1.2},
		{"p8_p3_trailing_second_jpeg.jpg", p3, 1.2},
		{"p8_lossy.webp", srgb, 1.2},
		{"p8_p3.heic", p3, 1.2},
	} {
		m, err := Decode(read(t, c.file))
		if err != nil {
			t.Errorf("%s: %v", c.file, err)
			continue
		}
		worst := 0.0
		for i, got := range readPatches(m) {
			worst = math.Max(worst, colour.Difference(got, c.want[i]))
		}
		t.Logf("%-32s worst patch %.4f dE00", c.file, worst)
		if !(worst <= c.limit) {
			t.Errorf("%s: worst patch %.3f dE00, at most %.2f", c.file, worst, c.limit)
		}
	}
}

func TestUntaggedPNGIsReadAsExactSRGB(t *testing.T) {
	_, srgb, _ := patches(t)
	m, err := Decode(stripped(read(t, "p8_srgb.png"), "iCCP"))
	if err != nil {
		t.Fatal(err)
	}
	for i, got := range readPatches(m) {
		if d := colour.Difference(got, srgb[i]); d > 0.01 {
			t.Errorf("patch %d is off by %.4f dE00", i+1, d)
		}
	}
}

// LittleCMS (in ImageMagick 6.9.11: p8_srgb.png through its own profile,
// relative colorimetric, to the Display P3 profile of p8_p3_v4.jpg at 16 bits)
// gives these Display P3 codes for patches 1, 3 and 4.
func TestProfileIsReadAsLittleCMSReadsIt(t *testing.T) {
	m, err := Decode(read(t, "p8_srgb.png"))
	if err != nil {
		t.Fatal(err)
	}
	got := readPatches(m)
	for patch, code := range map[int][3]float64{1: {47841, 35351, 29784}, 3: {29955, 20566, 15812}, 4: {15213, 12941, 11746}} {
		want := colour.DisplayP3.Lab(colour.DisplayP3.Decode(code[0]/65535, code[1]/65535, code[2]/65535))
		if d := colour.Difference(got[patch-1], want); d > 0.01 {
			t.Errorf("patch %d: %v is %.4f dE00 from %v", patch, got[patch-1], d, want)
		}
	}
}

// Reading Display P3 as sRGB costs 3.6 dE00 on the verdigris patch
// (expected.csv), so a reader that believes the EXIF would be found out.
func TestProfileWinsOverEXIF(t *testing.T) {
	_, _, p3 := patches(t)
	b := read(t, "p8_p3_exif_says_srgb.jpg")
	if x := readExifOf(t, b); x.colourSpace != colourSpaceSRGB {
		t.Fatalf("the file's EXIF says %d", x.colourSpace)
	}
	m, err := Decode(b)
	if err != nil {
		t.Fatal(err)
	}
	if d := colour.Difference(readPatches(m)[4], p3[4]); d > 0.7 {
		t.Errorf("verdigris is off by %.2f dE00", d)
	}
}

func TestGreyJPEGIsNeutral(t *testing.T) {
	m, err := Decode(read(t, "p8_grey.jpg"))
	if err != nil {
		t.Fatal(err)
	}
	if !m.Info.Grey {
		t.Error("not known as grey")
	}
	for i, lab := range readPatches(m) {
		if math.Hypot(lab.A, lab.B) > 1e-3 {
			t.Errorf("patch %d: %v", i, lab)
		}
	}
	if l := readPatches(m)[7].L; math.Abs(l-50.034) > 0.7 { // expected.csv, patch 8
		t.Errorf("L* %.2f", l)
	}
}

func TestOrientationsEndInTheSamePicture(t *testing.T) {
	var first [8]colour.Lab
	for o := 1; o <= 8; o++ {
		m, err := Decode(read(t, "orient_"+strconv.Itoa(o)+".jpg"))
		if err != nil {
			t.Fatal(err)
		}
		if m.Width != 160 || m.Height != 120 || m.Info.Orientation != o {
			t.Errorf("%d: %d x %d, orientation %d", o, m.Width, m.Height, m.Info.Orientation)
			continue
		}
		got := readPatches(m)
		if o == 1 {
			first = got
		}
		for i := range got {
			if d := colour.Difference(got[i], first[i]); d > 0.7 {
				t.Errorf("orientation %d: patch %d is off by %.2f dE00", o, i, d)
			}
		}
	}
}

// EXIF 2.32, tag 0x0112: the place of the stored first row and column.
func TestTurnPutsRowsAndColumnsWhereEXIFSays(t *testing.T) {
	s := newSamples(3, 2, false)
	for i := range 6 {
		s.p8[3*i] = uint8('a' + i)
	}
	s.setAlpha(0, 0, 7)
	for o, want := range map[int]string{
		1: "abc/def", 2: "cba/fed", 3: "fed/cba", 4: "def/abc",
		5: "ad/be/cf", 6: "da/eb/fc", 7: "fc/eb/da", 8: "cf/be/ad",
	} {
		got := ""
		turned := s.turn(o)
		for y := range turned.h {
			if y > 0 {
				got += "/"
			}
			for x := range turned.w {
				v := turned.p8[3*(y*turned.w+x)]
				got += string(rune(v))
				if a := turned.alpha[y*turned.w+x]; (a == 7) != (v == 'a') {
					t.Errorf("%d: transparency went elsewhere", o)
				}
			}
		}
		if got != want {
			t.Errorf("orientation %d: %s, want %s", o, got, want)
		}
	}
}

// The reference is libwebp 1.2.4's own decode of the same file.
func TestLossyWebPHasLibwebpsTones(t *testing.T) {
	got, err := decodeWebP(read(t, "p8_lossy.webp"))
	if err != nil {
		t.Fatal(err)
	}
	want, err := decodePNG(read(t, "p8_lossy_libwebp.png"))
	if err != nil {
		t.Fatal(err)
	}
	for i := range 8 { // away from edges, where chroma is smoothed otherwise
		x0, y0 := i%4*40, i/4*60
		for y := y0 + 4; y < y0+56; y++ {
			for x := x0 + 4; x < x0+36; x++ {
				for c := range 3 {
					at := 3*(y*160+x) + c
					if d := int(got.p8[at]) - int(want.p8[at]); d < -1 || d > 1 {
						t.Fatalf("pixel %d, %d: %v and %v", x, y, got.p8[at-c:at-c+3], want.p8[at-c:at-c+3])
					}
				}
			}
		}
	}
}

func encodePNG(t testing.TB, m image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestTransparentPartsAreKnown(t *testing.T) {
	for _, m := range []interface {
		image.Image
		Set(x, y int, c color.Color)
	}{image.NewNRGBA(image.Rect(0, 0, 20, 10)), image.NewNRGBA64(image.Rect(0, 0, 20, 10))} {
		for y := range 10 {
			for x := range 20 {
				m.Set(x, y, color.NRGBA{200, 100, 50, 255})
			}
		}
		m.Set(3, 4, color.NRGBA{200, 100, 50, 0})
		img, err := Decode(encodePNG(t, m))
		if err != nil {
			t.Fatal(err)
		}
		if img.Opaque(3, 4) || !img.Opaque(4, 4) || len(img.Info.Warnings) < 2 {
			t.Errorf("%T: warnings %q", m, img.Info.Warnings)
		}
	}
}

func TestThumbnailOfAP3PictureLooksRight(t *testing.T) {
	_, srgb, p3 := patches(t)
	for file, want := range map[string][8]colour.Lab{"p8_srgb.png": srgb, "p8_p3.png": p3} {
		m, err := Decode(read(t, file))
		if err != nil {
			t.Fatal(err)
		}
		small, err := Decode(Thumbnail(m, 160))
		if err != nil {
			t.Fatal(err)
		}
		worst := 0.0
		for i, got := range readPatches(small) {
			worst = math.Max(worst, colour.Difference(got, want[i]))
		}
		// Quality 85 with halved chroma: one to two code values.
		if worst > 1.5 {
			t.Errorf("%s: a patch of its thumbnail is off by %.2f dE00", file, worst)
		}
	}
}

func TestThumbnailAveragesLight(t *testing.T) {
	m := image.NewGray(image.Rect(0, 0, 400, 300))
	for i := range m.Pix {
		if (i/400+i%400)%2 == 0 {
			m.Pix[i] = 255
		}
	}
	img, err := Decode(encodePNG(t, m))
	if err != nil {
		t.Fatal(err)
	}
	small, err := jpeg.Decode(bytes.NewReader(Thumbnail(img, 100)))
	if err != nil {
		t.Fatal(err)
	}
	// Half the light is 188 in sRGB (IEC 61966-2-1), not half the code, 128.
	if r, _, _, _ := small.At(50, 40).RGBA(); r>>8 < 186 || r>>8 > 190 {
		t.Errorf("a black and white chequer shrinks to %d", r>>8)
	}
	if size := small.Bounds().Size(); size.X != 100 || size.Y != 75 {
		t.Errorf("thumbnail is %v", size)
	}
}

func TestThumbnailNeverEnlarges(t *testing.T) {
	m, err := Decode(read(t, "p8_srgb.jpg"))
	if err != nil {
		t.Fatal(err)
	}
	if c, err := jpeg.DecodeConfig(bytes.NewReader(Preview(m))); err != nil || c.Width != 160 || c.Height != 120 {
		t.Errorf("%+v, %v", c, err)
	}
}

func TestShrinkingKeepsTheLight(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(1, 40).Draw(t, "w"), rapid.IntRange(1, 40).Draw(t, "h")
		s := newSamples(w, h, false)
		copy(s.p8, rapid.SliceOfN(rapid.Byte(), len(s.p8), len(s.p8)).Draw(t, "pixels"))
		m := newImage(s, colour.SRGB, Info{})
		nw, nh := fit(w, h, rapid.IntRange(1, 40).Draw(t, "long"))
		var sum, want [3]float64
		rows := 0
		m.shrink(nw, nh, func(_ int, row []float32) {
			rows++
			for i, v := range row {
				sum[i%3] += float64(v) / float64(nw*nh)
			}
		})
		for y := range h {
			for x := range w {
				rgb, _ := m.At(x, y)
				for c, v := range rgb {
					want[c] += float64(v) / float64(w*h)
				}
			}
		}
		if rows != nh {
			t.Fatalf("%d rows, want %d", rows, nh)
		}
		for c := range sum {
			if math.Abs(sum[c]-want[c]) > 1e-4 {
				t.Fatalf("mean light %v, want %v", sum, want)
			}
		}
	})
}

func TestScreenColoursAreInRangeAndNeutralStaysNeutral(t *testing.T) {
	to := toSRGB(colour.DisplayP3)
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float32Range(0, 1).Draw(t, "v")
		r, g, b := screenPixel(to, []float32{v, v, v})
		if slices.Max([]uint8{r, g, b})-slices.Min([]uint8{r, g, b}) > 1 {
			t.Fatalf("grey %v shows as %d %d %d", v, r, g, b)
		}
	})
	// The greenest green of Display P3 is outside sRGB: it must stay green and
	// keep its luminance, 0.6922 (P3 matrix to D50, SMPTE EG 432-1 primaries).
	r, g, b := screenPixel(to, []float32{0, 1, 0})
	lr, lg, lb := colour.SRGB.Decode(float64(r)/255, float64(g)/255, float64(b)/255)
	if y := colour.SRGB.XYZ(lr, lg, lb).Y; math.Abs(y-0.6922) > 0.01 || g < 240 || r > 20 || b > 120 {
		t.Errorf("P3 green shows as %d %d %d, luminance %.4f", r, g, b, y)
	}
}
