package demo

import (
	"bytes"
	_ "embed" // for the colour profile
	"encoding/binary"
	"image"
	"image/jpeg"
	"time"
)

// profile is sRGB-v4.icc of the Compact-ICC-Profiles collection, placed in the
// public domain under CC0 (the licence stands in the profile's copyright tag).
//
//go:embed sRGB-v4.icc
var profile []byte

// Camera is the name the example's photographs carry in their EXIF.
const Camera = "Invented camera"

// encodeJPEG returns img as the file a phone would store: turned if the phone
// was held upright, with EXIF and the colour profile.
func encodeJPEG(s Shot, img *image.RGBA) []byte {
	orientation := uint16(1)
	if s.Upright {
		img = turnLeft(img)
		orientation = 6
	}
	var body bytes.Buffer
	body.Grow(256 << 10)
	if err := jpeg.Encode(&body, img, &jpeg.Options{Quality: 90}); err != nil {
		panic("demo: a bytes.Buffer refused to be written: " + err.Error())
	}
	raw := body.Bytes()
	var out bytes.Buffer
	out.Grow(len(raw) + 1024)
	out.Write(raw[:2]) // start of image
	segment(&out, 0xe1, append([]byte("Exif\x00\x00"), exif(s.Taken, orientation)...))
	segment(&out, 0xe2, append([]byte("ICC_PROFILE\x00\x01\x01"), profile...))
	out.Write(raw[2:])
	return out.Bytes()
}

// turnLeft turns img by a quarter anticlockwise; orientation 6 turns it back.
func turnLeft(img *image.RGBA) *image.RGBA {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	out := image.NewRGBA(image.Rect(0, 0, h, w))
	for y := range h {
		for x := range w {
			copy(out.Pix[(w-1-x)*out.Stride+4*y:][:4], img.Pix[y*img.Stride+4*x:])
		}
	}
	return out
}

// segment writes one JPEG segment.
func segment(out *bytes.Buffer, marker byte, data []byte) {
	out.Write([]byte{0xff, marker, byte((len(data) + 2) >> 8), byte(len(data) + 2)})
	out.Write(data)
}

// exif returns a TIFF block (Exif 2.3 tags) with camera, time and orientation.
func exif(taken time.Time, orientation uint16) []byte {
	const ascii, short, long = 2, 3, 4
	le := binary.LittleEndian
	type entry struct {
		tag, kind uint16
		value     []byte
	}
	text := func(s string) []byte { return append([]byte(s), 0) }
	short1 := func(v uint16) []byte { return le.AppendUint16(nil, v) }
	// ifd lays entries out at offset; values longer than 4 bytes follow them.
	ifd := func(offset int, entries []entry) []byte {
		head := le.AppendUint16(nil, uint16(len(entries)))
		var tail []byte
		after := offset + 2 + 12*len(entries) + 4
		for _, e := range entries {
			size := map[uint16]int{ascii: 1, short: 2, long: 4}[e.kind]
			head = le.AppendUint16(head, e.tag)
			head = le.AppendUint16(head, e.kind)
			head = le.AppendUint32(head, uint32(len(e.value)/size))
			if len(e.value) <= 4 {
				head = append(head, append(e.value, 0, 0, 0, 0)[:4]...)
				continue
			}
			head = le.AppendUint32(head, uint32(after+len(tail)))
			tail = append(tail, e.value...)
			if len(tail)%2 == 1 {
				tail = append(tail, 0)
			}
		}
		head = le.AppendUint32(head, 0) // no next directory
		return append(head, tail...)
	}
	when := text(taken.Format("2006:01:02 15:04:05"))
	zone := text(taken.Format("-07:00"))
	first := []entry{
		{0x0110, ascii, text(Camera)},
		{0x0112, short, short1(orientation)},
		{0x0132, ascii, when},
		{0x8769, long, []byte{0, 0, 0, 0}}, // where the second directory starts, filled in below
	}
	size := len(ifd(8, first))
	first[len(first)-1].value = le.AppendUint32(nil, uint32(8+size))
	second := []entry{
		{0x9003, ascii, when},
		{0x9011, ascii, zone},
		{0xa001, short, short1(1)}, // sRGB
	}
	out := append([]byte("II*\x00"), 8, 0, 0, 0)
	out = append(out, ifd(8, first)...)
	return append(out, ifd(8+size, second)...)
}
