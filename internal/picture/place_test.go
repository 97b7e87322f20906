package picture

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/bep/imagemeta"

	"aerugo/internal/studio"
)

func read(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// tagsBySecondReader lists all tags another reader (bep/imagemeta) sees.
func tagsBySecondReader(t *testing.T, b []byte) map[string]string {
	t.Helper()
	format := imagemeta.JPEG
	switch {
	case bytes.HasPrefix(b, []byte(pngMagic)):
		format = imagemeta.PNG
	case bytes.HasPrefix(b, []byte("RIFF")):
		format = imagemeta.WebP
	case string(b[4:8]) == "ftyp":
		format = imagemeta.HEIF
	}
	tags := map[string]string{}
	_, err := imagemeta.Decode(imagemeta.Options{
		R: bytes.NewReader(b), ImageFormat: format,
		Sources:         imagemeta.EXIF | imagemeta.IPTC | imagemeta.XMP,
		ShouldHandleTag: func(imagemeta.TagInfo) bool { return true },
		HandleTag: func(i imagemeta.TagInfo) error {
			tags[fmt.Sprintf("%v %s %s", i.Source, i.Namespace, i.Tag)] = strings.TrimSpace(fmt.Sprint(i.Value))
			return nil
		},
		Warnf: func(string, ...any) {},
	})
	if err != nil {
		t.Fatalf("the second reader: %v", err)
	}
	return tags
}

var places = []string{"gps", "city", "location", "country", "province"}

func placesIn(tags map[string]string) []string {
	var out []string
	for name, value := range tags {
		local := strings.ToLower(name[strings.LastIndexAny(name, " /")+1:])
		for _, p := range places {
			if strings.Contains(local, p) && value != "" {
				out = append(out, name+"="+value)
			}
		}
	}
	slices.Sort(out)
	return out
}

// Files made with exiftool 12.57 and ImageMagick 6.9.11 from the flat-patch
// pictures; see testdata/README.md.
var placed = []string{"p8_with_gps.jpg", "place_all.jpg", "place.png", "place.webp", "place.heic", "place_xmp.heic"}

func TestNoPlaceIsLeftForASecondReader(t *testing.T) {
	for _, name := range placed {
		b := read(t, name)
		before := placesIn(tagsBySecondReader(t, b))
		if len(before) == 0 {
			t.Errorf("%s: the second reader sees no place to begin with", name)
		}
		out, removed, err := WithoutGPS(b)
		if err != nil || !removed {
			t.Fatalf("%s: removed %v, %v", name, removed, err)
		}
		if after := placesIn(tagsBySecondReader(t, out)); len(after) > 0 {
			t.Errorf("%s: still there: %v", name, after)
		}
	}
}

func TestNotesWithoutPlaceStay(t *testing.T) {
	for _, name := range placed {
		b := read(t, name)
		out, _, err := WithoutGPS(b)
		if err != nil {
			t.Fatal(err)
		}
		before, after := tagsBySecondReader(t, b), tagsBySecondReader(t, out)
		for tag, value := range before {
			if strings.HasPrefix(tag, "EXIF") && !strings.Contains(tag, "GPS") && after[tag] != value {
				t.Errorf("%s: %s was %q and is %q", name, tag, value, after[tag])
			}
		}
		x, y := readExifOf(t, b), readExifOf(t, out)
		x.gps = false
		if x != y {
			t.Errorf("%s: our reader saw %+v and sees %+v", name, x, y)
		}
	}
}

func readExifOf(t *testing.T, b []byte) exif {
	t.Helper()
	if string(b[4:8]) == "ftyp" {
		items, whole := layHEIC(b)
		if !whole {
			t.Fatal("the HEIC's notes cannot be found")
		}
		for _, it := range items {
			if it.kind == "Exif" {
				return readExif(b[it.from+4+int(binary.BigEndian.Uint32(b[it.from:])) : it.to])
			}
		}
	}
	h, err := readHead(b)
	if err != nil {
		t.Fatal(err)
	}
	return readExif(h.exif)
}

// The words and numbers of the place, as the files hold them: latitude 52 deg
// 7' 24.44", longitude 13 deg 45' 55.56", Hinterhof in Teststadt, Testland.
func TestPlaceIsGoneFromTheBytes(t *testing.T) {
	for _, name := range placed {
		out, _, err := WithoutGPS(read(t, name))
		if err != nil {
			t.Fatal(err)
		}
		for _, word := range []string{"Hinterhof", "Teststadt", "Testland", "52,7.4", "13,45.9"} {
			if bytes.Contains(out, []byte(word)) {
				t.Errorf("%s still holds %q", name, word)
			}
		}
		for _, order := range []binary.AppendByteOrder{binary.LittleEndian, binary.BigEndian} {
			var degrees []byte
			for _, v := range []uint32{52, 1, 7, 1} {
				degrees = order.AppendUint32(degrees, v)
			}
			if bytes.Contains(out, degrees) {
				t.Errorf("%s still holds the latitude", name)
			}
		}
	}
}

func TestOnlyNotesChange(t *testing.T) {
	for _, name := range placed {
		b := read(t, name)
		out, _, err := WithoutGPS(b)
		if err != nil {
			t.Fatal(err)
		}
		if len(out) != len(b) {
			t.Fatalf("%s: %d bytes became %d", name, len(b), len(out))
		}
		for _, span := range pictureSpans(t, b) {
			if !bytes.Equal(b[span[0]:span[1]], out[span[0]:span[1]]) {
				t.Errorf("%s: bytes %d to %d of the picture changed", name, span[0], span[1])
			}
		}
		if !bytes.Equal(b, read(t, name)) {
			t.Errorf("%s: the input was written on", name)
		}
	}
}

// pictureSpans are the parts that must not change: everything but the notes.
func pictureSpans(t *testing.T, b []byte) [][2]int {
	t.Helper()
	var notes [][2]int
	switch format, _ := sniff(b); format {
	case "JPEG":
		f, err := layJPEG(b)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range f.segments {
			if s.marker == 0xe1 || s.marker == 0xed {
				notes = append(notes, [2]int{s.from, s.to})
			}
		}
	case "PNG":
		chunks, _ := layPNG(b)
		for _, c := range chunks {
			if c.name == "eXIf" || strings.HasSuffix(c.name, "Xt") {
				notes = append(notes, [2]int{c.from - 4, c.to + 4})
			}
		}
	case "WebP":
		chunks, _ := layWebP(b)
		for _, c := range chunks {
			if c.name == "EXIF" || c.name == "XMP " {
				notes = append(notes, [2]int{c.from, c.to})
			}
		}
	case "HEIC":
		items, _ := layHEIC(b)
		for _, it := range items {
			notes = append(notes, [2]int{it.from, it.to})
		}
	}
	slices.SortFunc(notes, func(p, q [2]int) int { return p[0] - q[0] })
	var spans [][2]int
	at := 0
	for _, n := range notes {
		spans = append(spans, [2]int{at, n[0]})
		at = n[1]
	}
	return append(spans, [2]int{at, len(b)})
}

func TestPicturesWithoutPlaceStayAsTheyAre(t *testing.T) {
	for _, name := range []string{"p8_srgb.jpg", "p8_srgb.png", "p8_lossy.webp", "p8_p3.heic", "orient_6.jpg"} {
		b := read(t, name)
		out, removed, err := WithoutGPS(b)
		if err != nil || removed || &out[0] != &b[0] {
			t.Errorf("%s: removed %v, %v", name, removed, err)
		}
	}
}

func TestRemovingTwiceIsRemovingOnce(t *testing.T) {
	for _, name := range append(placed, "place_raw.png") {
		once, _, err := WithoutGPS(read(t, name))
		if err != nil {
			t.Fatal(err)
		}
		if _, removed, err := WithoutGPS(once); removed || err != nil {
			t.Errorf("%s: removed again: %v, %v", name, removed, err)
		}
	}
}

// ImageMagick turns every note into PNG text, some of it packed hexadecimal.
func TestPlaceInPNGTextIsRemoved(t *testing.T) {
	out, removed, err := WithoutGPS(read(t, "place_raw.png"))
	if err != nil || !removed {
		t.Fatal(removed, err)
	}
	chunks, whole := layPNG(out)
	if !whole {
		t.Fatal("the PNG no longer hangs together")
	}
	for _, c := range chunks {
		text := out[c.from:c.to]
		if c.name == "zTXt" {
			_, packed, _ := bytes.Cut(text, []byte{0})
			text = inflate(packed[1:])
		}
		for _, word := range []string{"GPS", "Teststadt"} {
			if bytes.Contains(text, []byte(word)) {
				t.Errorf("chunk %s still says %q", c.name, word)
			}
		}
		if strings.HasSuffix(c.name, "Xt") && bytes.Contains(text, []byte("Raw profile type exif")) {
			t.Error("the packed EXIF with its position is still there")
		}
	}
	if _, err := decodePNG(out); err != nil {
		t.Errorf("the check sums are wrong: %v", err)
	}
}

func TestPlaceBehindThePhotographIsRemoved(t *testing.T) {
	plain := read(t, "p8_srgb.jpg")
	second := append(slices.Clone(plain), read(t, "place_all.jpg")...)
	atom := []byte("\x00\x00\x00\x1e\xa9xyz\x00\x12\x15\xc7+52.1235+013.7654/")
	film := slices.Concat(plain, []byte("\x00\x00\x00\x10ftypmp42\x00\x00\x00\x00"), atom, []byte("....+52.1235+013.7654+077.000/...."))
	for name, b := range map[string][]byte{"second picture": second, "film": film} {
		out, removed, err := WithoutGPS(b)
		if err != nil || !removed {
			t.Fatalf("%s: %v, %v", name, removed, err)
		}
		if !bytes.Equal(out[:len(plain)], plain) || len(out) != len(b) {
			t.Errorf("%s: the first picture changed", name)
		}
		for _, word := range []string{"Teststadt", "+52.1235", "\xa9xyz"} {
			if bytes.Contains(out, []byte(word)) {
				t.Errorf("%s still holds %q", name, word)
			}
		}
	}
}

func TestFilesWithEndlessPicturesBehindAreRefused(t *testing.T) {
	b := append(read(t, "p8_srgb.jpg"), bytes.Repeat([]byte("\xff\xd8\xff\xdb"), 1<<20)...)
	if _, _, err := WithoutGPS(b); studio.ProblemIn(err) == nil {
		t.Errorf("%v", err)
	}
}

func TestDamagedGPSLinesDoNotHurtOtherNotes(t *testing.T) {
	// A big-endian EXIF whose GPS directory claims its latitude lies on top of
	// the first directory.
	b := []byte("MM\x00*\x00\x00\x00\x08" +
		"\x00\x02" + "\x01\x12\x00\x03\x00\x00\x00\x01\x00\x06\x00\x00" + "\x88\x25\x00\x04\x00\x00\x00\x01\x00\x00\x00\x26" + "\x00\x00\x00\x00" +
		"\x00\x01" + "\x00\x02\x00\x05\x00\x00\x00\x03\x00\x00\x00\x08" + "\x00\x00\x00\x00")
	s := scrub{b: b, write: true}
	s.exif(0, len(b))
	x := readExif(b)
	if x.gps || x.orientation != 6 {
		t.Errorf("orientation %d, GPS %v", x.orientation, x.gps)
	}
}
