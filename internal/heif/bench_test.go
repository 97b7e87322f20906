package heif

import "testing"

// twelveMpx is a grid as a telephone's: 48 tiles of 512 by 512.
func twelveMpx(b *testing.B) []byte {
	tile := coded(read(b, "tile.heic"))
	var tiles []muxItem
	for range 48 {
		tiles = append(tiles, tile)
	}
	return muxGrid(tiles, 8, 4032, 3024)
}

func BenchmarkDecode12Mpx(b *testing.B) {
	file := twelveMpx(b)
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := Decode(file, 50e6); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkRGB12Mpx(b *testing.B) {
	p, _, err := Decode(twelveMpx(b), 50e6)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		p.RGB()
	}
}
