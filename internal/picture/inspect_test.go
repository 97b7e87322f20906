package picture

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"aerugo/internal/studio"
)

func wantRefusal(t *testing.T, what string, b []byte, words ...string) {
	t.Helper()
	for name, f := range map[string]func([]byte) error{
		"Inspect": func(b []byte) error { _, err := Inspect(b); return err },
		"Decode":  func(b []byte) error { _, err := Decode(b); return err },
	} {
		var p *studio.Problem
		if err := f(b); !errors.As(err, &p) {
			t.Errorf("%s took %s: %v", name, what, err)
			continue
		}
		if p.Kind != studio.Invalid {
			t.Errorf("%s: kind %d", what, p.Kind)
		}
		for _, w := range words {
			if !strings.Contains(p.Text, w) {
				t.Errorf("%s: %q does not say %q", what, p.Text, w)
			}
		}
	}
}

// withSize returns a JPEG or PNG that claims another size.
func withSize(t testing.TB, b []byte, w, h int) []byte {
	t.Helper()
	b = slices.Clone(b)
	if bytes.HasPrefix(b, []byte(pngMagic)) {
		binary.BigEndian.PutUint32(b[16:], uint32(w))
		binary.BigEndian.PutUint32(b[20:], uint32(h))
		sealChunk(b, chunk{"IHDR", 16, 29})
		return b
	}
	f, err := layJPEG(b)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range f.segments {
		if s.marker == 0xc0 {
			binary.BigEndian.PutUint16(b[s.from+1:], uint16(h))
			binary.BigEndian.PutUint16(b[s.from+3:], uint16(w))
		}
	}
	return b
}

func pngChunk(name string, data []byte) []byte {
	out := binary.BigEndian.AppendUint32(nil, uint32(len(data)))
	out = append(append(out, name...), data...)
	out = append(out, 0, 0, 0, 0)
	sealChunk(out, chunk{name, 8, 8 + len(data)})
	return out
}

// withChunk puts a chunk just after the PNG's head.
func withChunk(b []byte, name string, data []byte) []byte {
	return slices.Concat(b[:33], pngChunk(name, data), b[33:])
}

func pack(data []byte) []byte {
	var b bytes.Buffer
	w := zlib.NewWriter(&b)
	w.Write(data)
	w.Close()
	return b.Bytes()
}

// lutProfile is the head of an ICC profile (ICC.1:2010) whose colours are in a
// table, with one A2B0 tag and no matrix.
func lutProfile(space string) []byte {
	p := make([]byte, 128+4+12+32)
	binary.BigEndian.PutUint32(p, uint32(len(p)))
	p[8] = 2
	copy(p[12:], "mntr"+space+"Lab ")
	copy(p[36:], "acsp")
	binary.BigEndian.PutUint32(p[128:], 1)
	copy(p[132:], "A2B0")
	binary.BigEndian.PutUint32(p[136:], 144)
	binary.BigEndian.PutUint32(p[140:], 32)
	copy(p[144:], "mft2")
	return p
}

func TestUnusablePicturesAreRefusedInWords(t *testing.T) {
	jpg, png := read(t, "p8_srgb.jpg"), read(t, "p8_srgb.png")
	webp := []byte("RIFF\x16\x00\x00\x00WEBPVP8X\x0a\x00\x00\x00\x02\x00\x00\x00\x9f\x00\x00\x77\x00\x00")
	deep := withSize(t, read(t, "p8_srgb_16bit.png"), 8000, 7000)
	scans := slices.Clone(jpg)
	if f, err := layJPEG(jpg); err != nil {
		t.Fatal(err)
	} else {
		last := f.segments[len(f.segments)-1] // the only scan
		for range maxScans {
			scans = slices.Concat(scans[:len(scans)-2], jpg[last.from-4:f.end])
		}
	}
	for _, c := range []struct {
		what  string
		b     []byte
		words []string
	}{
		{"nothing", nil, []string{"empty"}},
		{"text", []byte("Dear diary, today I fumed three swatches."), []string{"not a picture"}},
		{"JPEG of 108 megapixels", withSize(t, jpg, 12000, 9000), []string{"is 12000 x 9000 = 108 megapixels; the most is 60"}},
		{"PNG of 108 megapixels", withSize(t, png, 12000, 9000), []string{"is 12000 x 9000 = 108 megapixels; the most is 60"}},
		{"PNG of no size", withSize(t, png, 0, 9000), []string{"0 x 9000"}},
		{"deep interlaced giant", deep, []string{"MB of memory"}},
		{"CMYK JPEG", read(t, "p8_cmyk.jpg"), []string{"CMYK", "made for printing", "sRGB JPEG"}},
		{"animated WebP", webp, []string{"animated WebP", "still"}},
		{"animated PNG", withChunk(png, "acTL", make([]byte, 8)), []string{"animated PNG", "still"}},
		{"GIF", []byte("GIF89a\x01\x00\x01\x00\x00\x00\x00"), []string{"GIF", "256 colours"}},
		{"TIFF", []byte("II*\x00\x08\x00\x00\x00\x00\x00\x00\x00\x00\x00"), []string{"TIFF", "JPEG"}},
		{"DNG", []byte("II*\x00\x08\x00\x00\x00\x01\x00\x12\xc6\x01\x00\x04\x00\x00\x00\x01\x04\x00\x00\x00\x00\x00\x00"), []string{"DNG", "JPEG"}},
		{"Canon raw", []byte("II*\x00\x10\x00\x00\x00CR\x02\x00"), []string{"raw camera file"}},
		{"AVIF", []byte("\x00\x00\x00\x1cftypavif\x00\x00\x00\x00avifmif1miaf"), []string{"AVIF", "HEIC"}},
		{"film", []byte("\x00\x00\x00\x18ftypmp42\x00\x00\x00\x00isommp42"), []string{"film"}},
		{"HEIC sequence", []byte("\x00\x00\x00\x18ftyphevc\x00\x00\x00\x00mif1heic"), []string{"sequence", "still"}},
		{"HEIC of nothing", []byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"), []string{"HEIC"}},
		{"PDF", []byte("%PDF-1.7\n"), []string{"PDF"}},
		{"HDR PNG", withChunk(stripped(png, "iCCP", "sRGB"), "cICP", []byte{9, 16, 0, 1}), []string{"HDR"}},
		{"PNG of another gamma", withChunk(stripped(png, "iCCP", "sRGB", "cHRM"), "gAMA", []byte{0, 1, 0x86, 0xa0}), []string{"gamma of 1"}},
		{"profile in a table", withChunk(stripped(png, "iCCP", "sRGB"), "iCCP", append([]byte("p\x00\x00"), pack(lutProfile("RGB "))...)), []string{"profile", "sRGB or Display P3"}},
		{"profile for print", withChunk(stripped(png, "iCCP", "sRGB"), "iCCP", append([]byte("p\x00\x00"), pack(lutProfile("CMYK"))...)), []string{"printing"}},
		{"profile that is a bomb", withChunk(stripped(png, "iCCP", "sRGB"), "iCCP", append([]byte("p\x00\x00"), pack(make([]byte, 64<<20))...)), []string{"profile"}},
		{"JPEG of many passes", scans, []string{"101 passes"}},
	} {
		wantRefusal(t, c.what, c.b, c.words...)
	}
}

// stripped returns a PNG without the named chunks.
func stripped(b []byte, names ...string) []byte {
	out := slices.Clone(b[:8])
	chunks, _ := layPNG(b)
	for _, c := range chunks {
		if !slices.Contains(names, c.name) {
			out = append(out, b[c.from-8:c.to+4]...)
		}
	}
	return out
}

func TestEveryBeginningOfAPictureIsRefused(t *testing.T) {
	for _, name := range []string{"p8_srgb.jpg", "p8_srgb.png", "p8_lossy.webp"} {
		b := read(t, name)
		for n := range b {
			if _, err := Inspect(b[:n]); err == nil {
				t.Errorf("%s: the first %d of %d bytes were taken", name, n, len(b))
			} else if studio.ProblemIn(err) == nil {
				t.Errorf("%s: %d bytes: %v is not for a person", name, n, err)
			}
		}
	}
}

// A HEIC's head may be whole while its picture is cut: decoding finds it.
func TestEveryBeginningOfAHEICIsRefused(t *testing.T) {
	b := read(t, "p8_p3.heic")
	for n := range b {
		if _, err := Decode(b[:n]); studio.ProblemIn(err) == nil {
			t.Errorf("the first %d of %d bytes: %v", n, len(b), err)
		}
	}
}

func TestJPEGCutInsideItsScanIsRefused(t *testing.T) {
	b := read(t, "p8_srgb.jpg")
	f, err := layJPEG(b)
	if err != nil {
		t.Fatal(err)
	}
	scan := f.segments[len(f.segments)-1].to
	for n := scan; n < f.end-10; n++ {
		closed := append(slices.Clone(b[:n]), 0xff, 0xd9)
		if _, err := Decode(closed); err == nil {
			t.Errorf("cut %d bytes before its end and closed, it was taken", f.end-n)
		}
	}
}

func TestFilesSayWhatTheyAre(t *testing.T) {
	for _, c := range []struct {
		file, format, profile string
		kind                  ProfileKind
		depth                 int
	}{
		{"p8_srgb.jpg", "JPEG", "sRGB", ProfileICC, 8},
		{"p8_p3_v2.jpg", "JPEG", "Display P3 (uP3)", ProfileICC, 8},
		{"p8_p3_v4.jpg", "JPEG", "Display P3 (sP3)", ProfileICC, 8},
		{"p8_p3_exif_says_srgb.jpg", "JPEG", "Display P3 (sP3)", ProfileICC, 8},
		{"p8_p3_trailing_second_jpeg.jpg", "JPEG", "Display P3 (sP3)", ProfileICC, 8},
		{"p8_untagged.jpg", "JPEG", "sRGB (assumed)", ProfileAssumed, 8},
		{"p8_grey.jpg", "JPEG", "sRGB (assumed)", ProfileAssumed, 8},
		{"p8_p3.png", "PNG", "Display P3 (sP3)", ProfileICC, 8},
		{"p8_srgb_16bit.png", "PNG", "sRGB (assumed)", ProfileAssumed, 16},
		{"p8_lossy.webp", "WebP", "sRGB (uRGB)", ProfileICC, 8},
		{"p8_p3.heic", "HEIC", "Display P3 (sP3)", ProfileICC, 8},
	} {
		i, err := Inspect(read(t, c.file))
		if err != nil {
			t.Errorf("%s: %v", c.file, err)
			continue
		}
		if i.Format != c.format || i.Profile != c.profile || i.ProfileKind != c.kind || i.BitDepth != c.depth ||
			i.Width != 160 || i.Height != 120 {
			t.Errorf("%s: %+v", c.file, i)
		}
	}
}

// What exiftool 12.57 wrote into the file, and reads back from it.
func TestCameraAndTimeAreRead(t *testing.T) {
	i, err := Inspect(read(t, "place_all.jpg"))
	if err != nil {
		t.Fatal(err)
	}
	want := time.Date(2026, 3, 4, 11, 11, 12, 250e6, time.FixedZone("", 3600))
	if !i.Taken.Equal(want) || !i.TakenZone || !i.TakenIn(time.UTC).Equal(want) {
		t.Errorf("taken %v, zoned %v", i.Taken, i.TakenZone)
	}
	if i.Camera != "Bench Phone 1" || !i.GPS {
		t.Errorf("camera %q, GPS %v", i.Camera, i.GPS)
	}
	if e := i.Exposure; e.Seconds != 1.0/125 || e.FNumber != 1.8 || e.ISO != 64 || e.BiasEV != -0.5 {
		t.Errorf("exposure %+v", e)
	}
}

func TestClockWithoutZoneIsLocal(t *testing.T) {
	x := exif{taken: "2018:03:03 10:06:52"}
	at, zoned := x.when()
	info := Info{Taken: at, TakenZone: zoned}
	berlin := time.FixedZone("CET", 3600)
	if want := time.Date(2018, 3, 3, 9, 6, 52, 0, time.UTC); zoned || !info.TakenIn(berlin).Equal(want) {
		t.Errorf("%v, zoned %v", info.TakenIn(berlin), zoned)
	}
	for _, bad := range []string{"", "0000:00:00 00:00:00", "2018:13:03 10:06:52", "yesterday"} {
		if at, _ := (exif{taken: bad}).when(); !at.IsZero() {
			t.Errorf("%q gave %v", bad, at)
		}
	}
}

func TestCameraNamesItsMakerOnce(t *testing.T) {
	for _, c := range []struct{ make, model, want string }{
		{"Apple", "iPhone 6s", "Apple iPhone 6s"},
		{"Canon", "Canon EOS DIGITAL REBEL XT", "Canon EOS DIGITAL REBEL XT"},
		{"", "", ""},
	} {
		if got := (exif{make: c.make, model: c.model}).camera(); got != c.want {
			t.Errorf("%q", got)
		}
	}
}
