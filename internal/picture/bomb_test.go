package picture

import (
	"bytes"
	"encoding/binary"
	"errors"
	"runtime"
	"slices"
	"testing"

	"aerugo/internal/studio"
)

// bomb is a small file that claims a huge picture.
type bomb struct {
	name string
	file []byte
}

// bombs claims, in each format, a picture larger than any that is read, and one
// that is small enough but far more than its bytes can hold.
func bombs(t testing.TB) []bomb {
	t.Helper()
	jpeg, png := read(t, "p8_srgb.jpg"), read(t, "p8_srgb.png")
	progressive := bytes.Clone(jpeg)
	f, err := layJPEG(jpeg)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range f.segments {
		if s.marker == 0xc0 {
			progressive[s.from-3] = 0xc2
		}
	}
	lossless := bytes.Clone(read(t, "p8_lossless.webp"))
	lossy := bytes.Clone(read(t, "p8_lossy.webp"))
	for _, b := range [][]byte{lossless, lossy} {
		chunks, _ := layWebP(b)
		for _, c := range chunks {
			switch c.name { // 14 bits each
			case "VP8L":
				binary.LittleEndian.PutUint32(b[c.from+1:], 1<<28-1)
			case "VP8 ":
				binary.LittleEndian.PutUint16(b[c.from+6:], 1<<14-1)
				binary.LittleEndian.PutUint16(b[c.from+8:], 1<<14-1)
			}
		}
	}
	// a small canvas (RFC 9649, VP8X) round a huge picture
	canvas := slices.Concat([]byte("VP8X\x0a\x00\x00\x00\x00\x00\x00\x00\x07\x00\x00\x07\x00\x00"), lossless[12:])
	canvas = slices.Concat([]byte("RIFF"), binary.LittleEndian.AppendUint32(nil, uint32(4+len(canvas))), []byte("WEBP"), canvas)
	// TIFF 6.0: one directory with width and height
	tiff := []byte("II*\x00\x08\x00\x00\x00\x02\x00\x00\x01\x04\x00\x01\x00\x00\x00\xff\xff\xff\x00\x01\x01\x04\x00\x01\x00\x00\x00\xff\xff\xff\x00\x00\x00\x00\x00")
	return []bomb{
		{"JPEG of 65535 x 65535", withSize(t, jpeg, 65535, 65535)},
		{"JPEG of 7500 x 7500", withSize(t, jpeg, 7500, 7500)},
		{"progressive JPEG of 65535 x 65535", progressiveSize(progressive, 65535)},
		{"progressive JPEG of 7500 x 7500", progressiveSize(progressive, 7500)},
		{"PNG of 2 thousand million squared", withSize(t, png, 1<<31-1, 1<<31-1)},
		{"PNG of 7500 x 7500", withSize(t, png, 7500, 7500)},
		{"lossless WebP of 16384 x 16384", lossless},
		{"lossy WebP of 16383 x 16383", lossy},
		{"WebP with a picture larger than its canvas", canvas},
		{"HEIC of 30000 x 30000", read(t, "huge.heic")},
		{"TIFF of 16 million squared", tiff},
	}
}

// progressiveSize sets the size of a JPEG whose frame is progressive.
func progressiveSize(b []byte, side uint16) []byte {
	b = bytes.Clone(b)
	i := bytes.Index(b, []byte{0xff, 0xc2})
	binary.BigEndian.PutUint16(b[i+5:], side)
	binary.BigEndian.PutUint16(b[i+7:], side)
	return b
}

// What a bomb may cost, all that is ever allocated counted together.
const mostForBomb = 200 << 20

func TestBombsAreRefusedBeforeMemoryIsTaken(t *testing.T) {
	for _, c := range bombs(t) {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, err := Decode(c.file)
		runtime.ReadMemStats(&after)
		var p *studio.Problem
		if !errors.As(err, &p) || p.Kind != studio.Invalid {
			t.Errorf("%s: %v, want a refusal", c.name, err)
		}
		// the refusals come from the head alone, so they cost next to nothing
		if took := after.TotalAlloc - before.TotalAlloc; took > mostForBomb/100 {
			t.Errorf("%s: %d kB were allocated before it was refused", c.name, took>>10)
		}
		if _, err := Inspect(c.file); err == nil {
			t.Errorf("%s: Inspect took it", c.name)
		}
	}
}

// BenchmarkBombs times the refusals, which must stay far below a second.
func BenchmarkBombs(b *testing.B) {
	for _, c := range bombs(b) {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Decode(c.file); err == nil {
					b.Fatal("it was read")
				}
			}
		})
	}
}
