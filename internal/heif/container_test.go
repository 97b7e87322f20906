package heif

import (
	"bytes"
	"crypto/md5"
	"encoding/csv"
	"encoding/hex"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func hexMD5(b []byte) string {
	sum := md5.Sum(b)
	return hex.EncodeToString(sum[:])
}

func decoded(t testing.TB, file []byte) (*Picture, Info) {
	t.Helper()
	p, info, err := Decode(file, 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	return p, info
}

// TestFlatPatchesHaveTheirColours decodes a Display P3 picture of eight patches
// and compares with the 8-bit values it was made from (testdata/expected.csv).
// The encoder's loss and the step to YCbCr and back leave 2 code values.
func TestFlatPatchesHaveTheirColours(t *testing.T) {
	p, info := decoded(t, read(t, "p8_p3.heic"))
	if info.Width != 160 || info.Height != 120 {
		t.Fatalf("size %d by %d", info.Width, info.Height)
	}
	if len(info.ICC) != 480 || string(info.ICC[36:40]) != "acsp" {
		t.Errorf("the colour profile is not handed over: %d bytes", len(info.ICC))
	}
	r := csv.NewReader(bytes.NewReader(read(t, "expected.csv")))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	rgb := p.RGB()
	for i, row := range rows[1:] {
		// Patches of 40 by 60 pixels, four across; the middle 20 by 40 counts.
		var sum [3]int
		n := 0
		for y := i/4*60 + 10; y < i/4*60+50; y++ {
			for x := i%4*40 + 10; x < i%4*40+30; x++ {
				for c := range 3 {
					sum[c] += int(rgb[3*(y*160+x)+c])
				}
				n++
			}
		}
		for c := range 3 {
			want, err := strconv.Atoi(row[7+c]) // columns pR, pG, pB
			if err != nil {
				t.Fatal(err)
			}
			if got := float64(sum[c]) / float64(n); got < float64(want)-2 || got > float64(want)+2 {
				t.Errorf("patch %s channel %d is %.2f, want %d", row[0], c, got, want)
			}
		}
	}
}

func irot(quarters int) []byte { return mkbox("irot", []byte{byte(quarters)}) }
func imir(axis int) []byte     { return mkbox("imir", []byte{byte(axis)}) }

// clap is a clean aperture of 51 by 70 whose middle lies 3.5 left of and 4 below
// the picture's.
var clap = mkbox("clap", u32(51), u32(1), u32(70), u32(1), u32(-7), u32(2), u32(4), u32(1))

// TestTurningAsLibheif compares turned, mirrored and cropped pictures with what
// libheif 1.15.1 makes of the same files (MD5 of its grey plane).
func TestTurningAsLibheif(t *testing.T) {
	const (
		plain     = "284cad2cb244cc098b240dd18e69c062"
		upDown    = "714311c3b43f66cf852e9fcec732cfec"
		leftRight = "a79d177a2d6ff90b6963f788a5805730"
		half      = "b67d6789bcae26cb332dfe73b1a9f468"
		quarter   = "2162c06f4c1108c629cd2ba8aa1090c8"
		threeQ    = "3de90ba3f4d41aaf39d512e89ebd2fc4"
		diagonalA = "e3a5a1b62b232bcabb6be444e8583a03"
		diagonalB = "1936e97d2822f4c2fedd1aaddd0d02b8"
	)
	tile := coded(read(t, "grey.heic"))
	for _, c := range []struct {
		props  [][]byte
		want   string
		w, h   int
		rotate int
		mirror bool
	}{
		{nil, plain, 128, 96, 0, false},
		{[][]byte{irot(0)}, plain, 128, 96, 0, false},
		{[][]byte{irot(1)}, quarter, 96, 128, 1, false},
		{[][]byte{irot(2)}, half, 128, 96, 2, false},
		{[][]byte{irot(3)}, threeQ, 96, 128, 3, false},
		{[][]byte{imir(0)}, upDown, 128, 96, 2, true},
		{[][]byte{imir(1)}, leftRight, 128, 96, 0, true},
		{[][]byte{irot(1), imir(0)}, diagonalA, 96, 128, 3, true},
		{[][]byte{imir(0), irot(1)}, diagonalB, 96, 128, 1, true},
		{[][]byte{irot(1), imir(1)}, diagonalB, 96, 128, 1, true},
		{[][]byte{imir(1), irot(1)}, diagonalA, 96, 128, 3, true},
		{[][]byte{irot(2), imir(0)}, leftRight, 128, 96, 0, true},
		{[][]byte{irot(3), imir(1)}, diagonalA, 96, 128, 3, true},
		{[][]byte{clap}, "8ac0459db06d8b85a069a7e06e8f9f63", 51, 70, 0, false},
		{[][]byte{clap, irot(1)}, "61ed1f62fa2655e38d0baaebee627f40", 70, 51, 1, false},
	} {
		it := tile
		it.props = append([][]byte{tile.props[0]}, c.props...)
		p, info := decoded(t, mux([]muxItem{it}))
		if info.Width != c.w || info.Height != c.h || info.Rotate != c.rotate || info.Mirror != c.mirror {
			t.Errorf("%q: info %+v", c.props, info)
		}
		var grey []byte
		for i, v := range p.RGB() {
			if i%3 == 0 {
				grey = append(grey, v)
			}
		}
		if got := hexMD5(grey); got != c.want {
			t.Errorf("%q: MD5 %s, want %s", c.props, got, c.want)
		}
	}
}

func gridTiles(t testing.TB) (tiles []muxItem) {
	for _, n := range []string{"q30", "q60", "q90", "q90", "offsets", "q30"} {
		it := coded(read(t, n+".heic"))
		it.props = append(it.props, fullbox("ispe", 0, u32(128), u32(96)))
		tiles = append(tiles, it)
	}
	return tiles
}

// TestGridAsLibheif compares a turned grid of six colour tiles, cut at the right
// and the bottom, with the pixels libheif 1.15.1 makes of it.
func TestGridAsLibheif(t *testing.T) {
	file := muxGrid(gridTiles(t), 3, 300, 150, fullbox("ispe", 0, u32(300), u32(150)), irot(1))
	p, info := decoded(t, file)
	if info.Width != 150 || info.Height != 300 || info.Rotate != 1 {
		t.Errorf("info %+v", info)
	}
	if got := hexMD5(p.RGB()); got != "ff49f292fb22c5a1c56fc9d1a44f9b9f" {
		t.Errorf("pixels have MD5 %s", got)
	}
}

// TestGridEqualsItsTiles decodes the tiles one by one.
func TestGridEqualsItsTiles(t *testing.T) {
	tiles := gridTiles(t)
	p, _ := decoded(t, muxGrid(tiles, 3, 384, 192))
	all := p.RGB()
	for i, it := range tiles {
		q, _ := decoded(t, mux([]muxItem{it}))
		one := q.RGB()
		for y := range 96 {
			at := 3 * ((i/3*96+y)*384 + i%3*128)
			if !bytes.Equal(all[at:at+3*128], one[3*128*y:][:3*128]) {
				t.Fatalf("tile %d differs in row %d", i, y)
			}
		}
	}
}

func TestBadGridsAreRefused(t *testing.T) {
	tiles := gridTiles(t)
	odd := append([]muxItem(nil), tiles...)
	odd[4] = coded(read(t, "s444.heic"))
	turned := append([]muxItem(nil), tiles...)
	turned[2].props = append([][]byte{irot(1)}, turned[2].props...)
	missing := muxGrid(tiles, 3, 384, 192)
	missing = bytes.Replace(missing, []byte("dimg\x00\x01\x00\x06\x00\x02"), []byte("dimg\x00\x01\x00\x06\x00\x63"), 1)
	for name, c := range map[string]struct {
		file []byte
		want string
	}{
		"too wide":      {muxGrid(tiles, 3, 385, 192), "do not make a picture"},
		"unused tiles":  {muxGrid(tiles, 3, 256, 192), "do not make a picture"},
		"another kind":  {muxGrid(odd, 3, 384, 192), "not all alike"},
		"a turned tile": {muxGrid(turned, 3, 384, 192), "turned tiles"},
		"a lost tile":   {missing, "missing"},
	} {
		if _, _, err := Decode(c.file, 1<<20); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.want)
		}
	}
}

func TestInfoAgreesWithDecode(t *testing.T) {
	for _, name := range []string{"p8_p3", "odd", "ten", "s422", "grey", "random_tiles_1"} {
		file := read(t, name+".heic")
		a, err := ReadInfo(file)
		if err != nil {
			t.Fatal(err)
		}
		p, b := decoded(t, file)
		if a.Width != b.Width || a.Height != b.Height || p.Width != a.Width || p.Height != a.Height || p.BitDepth != a.BitDepth {
			t.Errorf("%s: %+v and %+v", name, a, b)
		}
		if got := len(p.RGB()); got != 3*a.Width*a.Height {
			t.Errorf("%s: %d bytes of pixels", name, got)
		}
	}
	// The picture heif-enc was given has 75 by 53 pixels; what is coded is even.
	if a, err := ReadInfo(read(t, "odd.heic")); err != nil || a.Width != 75 || a.Height != 53 {
		t.Errorf("odd picture: %+v, %v", a, err)
	}
}

// TestColourComesFromTheFile checks which of the descriptions of colour counts.
func TestColourComesFromTheFile(t *testing.T) {
	tile := coded(read(t, "q60.heic"))
	nclx := mkbox("colr", []byte("nclx"), u16(9), u16(16), u16(9), []byte{0})
	prof := mkbox("colr", []byte("prof"), []byte("a profile"))

	// x265 writes matrix 6 and full range into the bitstream here.
	_, info := decoded(t, mux([]muxItem{tile}))
	if info.HasNCLX || info.Matrix != 6 || !info.FullRange || info.ICC != nil {
		t.Errorf("without colour boxes: %+v", info)
	}
	// This file's says BT.709 in limited range.
	_, info = decoded(t, read(t, "limited709.heic"))
	if info.HasNCLX || info.Matrix != 1 || info.Primaries != 1 || info.Transfer != 1 || info.FullRange {
		t.Errorf("BT.709 in the bitstream: %+v", info)
	}
	both := tile
	both.props = append([][]byte{nclx, prof}, tile.props...)
	_, info = decoded(t, mux([]muxItem{both}))
	if !info.HasNCLX || info.Primaries != 9 || info.Transfer != 16 || info.Matrix != 9 || info.FullRange || string(info.ICC) != "a profile" {
		t.Errorf("with both boxes: %+v", info)
	}
	// A grid without boxes takes its tiles'; its own come first.
	_, info = decoded(t, muxGrid([]muxItem{both}, 1, 128, 96))
	if string(info.ICC) != "a profile" {
		t.Errorf("grid of a tile with a profile: %+v", info)
	}
	_, info = decoded(t, muxGrid([]muxItem{both}, 1, 128, 96, mkbox("colr", []byte("prof"), []byte("its own"))))
	if string(info.ICC) != "its own" {
		t.Errorf("grid with a profile: %q", info.ICC)
	}
	strange := tile
	strange.props = append([][]byte{mkbox("colr", []byte("nclx"), u16(9), u16(16), u16(14), []byte{0})}, tile.props...)
	if _, _, err := Decode(mux([]muxItem{strange}), 1<<20); err == nil {
		t.Error("ICtCp (matrix 14) is decoded as if it were YCbCr")
	}
}

func TestExifIsFoundBehindItsOffset(t *testing.T) {
	tile := coded(read(t, "grey.heic"))
	tiff := []byte("II*\x00\x08\x00\x00\x00\x00\x00\x00\x00\x00\x00")
	for name, c := range map[string]struct {
		data []byte
		to   int
		want []byte
	}{
		"plain":             {join(u32(0), tiff), 0, tiff},
		"after a header":    {join(u32(6), []byte("Exif\x00\x00"), tiff), 0, tiff},
		"past the end":      {join(u32(1<<31), tiff), 0, nil},
		"of another item":   {join(u32(0), tiff), 1, nil},
		"shorter than that": {[]byte{0, 0}, 0, nil},
	} {
		file := mux([]muxItem{tile, {kind: "Exif", data: c.data, refs: map[string][]int{"cdsc": {c.to}}}})
		info, err := ReadInfo(file)
		if err != nil || !bytes.Equal(info.Exif, c.want) {
			t.Errorf("%s: %q, %v", name, info.Exif, err)
		}
	}
}

// TestOtherItemsAreIgnored adds what telephones add: a thumbnail, a gain map
// and an unknown property that is not essential.
func TestOtherItemsAreIgnored(t *testing.T) {
	tile := coded(read(t, "grey.heic"))
	want, _ := decoded(t, mux([]muxItem{tile}))
	main := tile
	main.props = append([][]byte{mkbox("hvcX", []byte{1})}, tile.props...)
	items := []muxItem{
		main,
		{kind: "hvc1", data: []byte("junk"), refs: map[string][]int{"thmb": {0}}},
		{kind: "hvc1", data: []byte("junk"), props: [][]byte{fullbox("auxC", 0, []byte("urn:com:apple:photo:2020:aux:hdrgainmap\x00"))}, refs: map[string][]int{"auxl": {0}}},
		{kind: "tmap", refs: map[string][]int{"dimg": {0, 2}}},
	}
	file := mux(items)
	// mux marks all properties as essential; take the mark off the unknown one.
	at := bytes.Index(file, []byte("ipma"))
	entry := bytes.Index(file[at:], []byte{0x80, 1}) + at
	if _, _, err := Decode(file, 1<<20); err == nil {
		t.Error("a picture with an unknown essential property is decoded")
	}
	file[entry] = 0
	got, _ := decoded(t, file)
	if !bytes.Equal(got.RGB(), want.RGB()) {
		t.Error("the other items change the picture")
	}
}

func TestIdentityDerivationIsFollowed(t *testing.T) {
	tile := coded(read(t, "grey.heic"))
	want, _ := decoded(t, mux([]muxItem{{kind: tile.kind, data: tile.data, props: [][]byte{tile.props[0], irot(2)}}}))
	got, info := decoded(t, mux([]muxItem{
		{kind: "iden", props: [][]byte{irot(1)}, refs: map[string][]int{"dimg": {1}}},
		{kind: tile.kind, data: tile.data, props: [][]byte{tile.props[0], irot(1)}},
	}))
	if info.Rotate != 2 || !bytes.Equal(got.RGB(), want.RGB()) {
		t.Error("two quarter turns on top of each other are not a half turn")
	}
	ring := []muxItem{{kind: "iden", refs: map[string][]int{"dimg": {1}}}, {kind: "iden", refs: map[string][]int{"dimg": {0}}}}
	if _, _, err := Decode(mux(ring), 1<<20); err == nil {
		t.Error("a ring of derivations is decoded")
	}
}

func TestSniffKnowsTheBrands(t *testing.T) {
	for brands, want := range map[string]bool{
		"heic\x00\x00\x00\x00mif1heic":         true, // iPhone
		"mif1\x00\x00\x00\x00mif1heic":         true,
		"heix\x00\x00\x00\x00mif1":             true,
		"msf1\x00\x00\x00\x00hevc":             true,
		"mif1\x00\x00\x00\x00miaf":             true, // may hold anything
		"avif\x00\x00\x00\x00mif1miaf":         false,
		"mif1\x00\x00\x00\x00avifmiaf":         false,
		"isom\x00\x00\x00\x00isomavc1":         false,
		"qt  \x00\x00\x00\x00qt  \x00\x00\x00": false,
	} {
		if got := Sniff(mkbox("ftyp", []byte(brands))); got != want {
			t.Errorf("brands %q: %v", brands, got)
		}
	}
	if Sniff(nil) || Sniff([]byte("\xff\xd8\xff\xe0 a JPEG file")) {
		t.Error("not a HEIF file")
	}
}

func TestOtherCodecsAreNamed(t *testing.T) {
	_, err := ReadInfo(mux([]muxItem{{kind: "av01"}}))
	if err == nil || !strings.Contains(err.Error(), "AVIF") {
		t.Errorf("error %v", err)
	}
}

// TestTurnsMakeAGroup checks the view's arithmetic by what must hold of it.
func TestTurnsMakeAGroup(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(1, 9).Draw(t, "w"), rapid.IntRange(1, 9).Draw(t, "h")
		v := newView(w, h)
		for range rapid.IntRange(0, 6).Draw(t, "steps") {
			kind, n := "irot", rapid.IntRange(0, 3).Draw(t, "n")
			if n > 1 && rapid.Bool().Draw(t, "mirror") {
				kind, n = "imir", n-2
			}
			if err := v.apply([]property{{box{kind, []byte{byte(n)}}, true}}); err != nil {
				t.Fatal(err)
			}
		}
		seen := map[vec]bool{}
		for y := range v.h {
			for x := range v.w {
				s := v.at(x, y)
				if s.x < 0 || s.y < 0 || s.x >= w || s.y >= h || seen[s] {
					t.Fatalf("%+v: sample %v is shown twice or lies outside", v, s)
				}
				seen[s] = true
			}
		}
		// Turning and mirroring as the view says leads to the same view.
		q, m := v.turned()
		again := newView(w, h)
		for range q {
			again.turn()
		}
		if m {
			if err := again.apply([]property{{box{"imir", []byte{1}}, true}}); err != nil {
				t.Fatal(err)
			}
		}
		if again != v {
			t.Fatalf("%+v is said to be %d turns, mirrored %v, which is %+v", v, q, m, again)
		}
	})
}
