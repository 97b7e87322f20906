package picture

import (
	"bytes"
	"encoding/binary"
	"strings"

	"aerugo/internal/studio"
)

// refuse makes the Problem that turns a picture away.
func refuse(format string, args ...any) *studio.Problem {
	return studio.Problemf(studio.Invalid, "photo", format, args...)
}

// notOurs are formats known by their first bytes that this program does not
// read, with what to do instead.
var notOurs = []struct{ magic, what string }{
	{"GIF87a", "a GIF, which holds only 256 colours"},
	{"GIF89a", "a GIF, which holds only 256 colours and may move"},
	{"BM", "a BMP picture, which does not say its colours exactly"},
	{"8BPS", "a layered picture file (PSD)"},
	{"%PDF", "a PDF document, not a photograph"},
	{"\x00\x00\x00\x0cJXL ", "a JPEG XL picture"},
	{"\xff\x0a", "a JPEG XL picture"},
	{"\x00\x00\x00\x0cjP  ", "a JPEG 2000 picture"},
	{"FUJIFILMCCD-RAW", "a raw camera file"},
	{"FOVb", "a raw camera file"},
	{"\x00MRM", "a raw camera file"},
	{"IIU\x00", "a raw camera file"},
	{"IIRO", "a raw camera file"},
	{"IIRS", "a raw camera file"},
	{"v/1\x01", "an OpenEXR picture"},
	{"<svg", "a drawing (SVG), not a photograph"},
	{"<?xml", "a text file (XML), not a photograph"},
	{"<!DOCTYPE", "a web page, not a photograph"},
	{"<html", "a web page, not a photograph"},
	{"PK\x03\x04", "a zip archive, not a photograph"},
}

// sniff tells the format by content. It returns a Problem for everything that
// is not a JPEG, PNG, WebP or HEIC still.
func sniff(b []byte) (string, *studio.Problem) {
	switch {
	case len(b) == 0:
		return "", refuse("The file is empty. Send the photograph again.")
	case bytes.HasPrefix(b, []byte("\xff\xd8\xff")):
		return "JPEG", nil
	case bytes.HasPrefix(b, []byte(pngMagic)):
		return "PNG", nil
	case len(b) >= 12 && string(b[:4]) == "RIFF" && string(b[8:12]) == "WEBP":
		return "WebP", nil
	case len(b) >= 12 && string(b[4:8]) == "ftyp":
		return sniffBrand(b)
	case bytes.HasPrefix(b, []byte("II*\x00")) || bytes.HasPrefix(b, []byte("MM\x00*")):
		return "", refuse("This is %s. Export it as JPEG or as a 16-bit PNG, in sRGB or Display P3.", tiffKind(b))
	}
	for _, n := range notOurs {
		if bytes.HasPrefix(b, []byte(n.magic)) {
			return "", refuse("This is %s. Send the photograph as JPEG, PNG, WebP or HEIC.", n.what)
		}
	}
	return "", refuse("This is not a picture that can be read. Send a photograph as JPEG, PNG, WebP or HEIC.")
}

// tiffKind tells a raw camera file from a plain TIFF: raw files built on TIFF
// name a camera make or the DNG version in the first directory.
func tiffKind(b []byte) string {
	if len(b) >= 10 && string(b[8:10]) == "CR" {
		return "a raw camera file"
	}
	x := readExif(b)
	if x.dng {
		return "a raw camera file (DNG)"
	}
	if x.make != "" && x.subImages {
		return "a raw camera file"
	}
	return "a TIFF picture"
}

// sniffBrand sorts the files that begin with an ISO media 'ftyp' box
// (ISO/IEC 14496-12; HEIF brands of ISO/IEC 23008-12).
func sniffBrand(b []byte) (string, *studio.Problem) {
	size := int(binary.BigEndian.Uint32(b))
	if size < 16 || size > len(b) || size > 4096 {
		return "", refuse("The picture file is damaged at its very start. Send it again.")
	}
	major := string(b[8:12])
	brands := major
	for i := 16; i+4 <= size; i += 4 {
		brands += " " + string(b[i:i+4])
	}
	has := func(names ...string) bool {
		for _, n := range names {
			if strings.Contains(brands, n) {
				return true
			}
		}
		return false
	}
	switch {
	case major == "hevc" || major == "hevx" || major == "msf1":
		return "", refuse("This HEIC file holds a moving sequence of pictures. Send a single still photograph.")
	case has("avif", "avis", "av01"):
		return "", refuse("This is an AVIF picture. Send the photograph as JPEG, PNG, WebP or HEIC.")
	case has("heic", "heix", "heim", "heis"), major == "mif1":
		return "HEIC", nil
	case major == "crx ":
		return "", refuse("This is a raw camera file. Export it as JPEG or as a 16-bit PNG, in sRGB or Display P3.")
	case has("qt  ", "isom", "mp41", "mp42", "iso2", "M4V "):
		return "", refuse("This is a film, not a photograph. Send a still photograph as JPEG, PNG, WebP or HEIC.")
	}
	return "", refuse("This is not a picture that can be read. Send a photograph as JPEG, PNG, WebP or HEIC.")
}
