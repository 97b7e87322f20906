package picture

import (
	"bytes"
	"encoding/binary"
	"regexp"
	"slices"
)

// placeNames are the local names of XMP properties that tell a place: exif:GPS*,
// photoshop:City, Iptc4xmpCore:Location, Iptc4xmpExt:LocationCreated and so on
// (XMP part 2; IPTC Photo Metadata Standard), and makers' own spellings.
var placeNames = regexp.MustCompile(`(?i)[:"'](gps\w*|(gps)?(latitude|longitude)\w*|city|state|country\w*|province\w*|(sub)?location\w*|worldregion|iso6709)["'\s=>/]`)

// placeInXMP reports whether an XMP packet, in UTF-8 or UTF-16, names a place.
func placeInXMP(packet []byte) bool {
	if bytes.IndexByte(packet, 0) >= 0 {
		packet = bytes.ReplaceAll(packet, []byte{0}, nil)
	}
	return placeNames.Match(packet)
}

const emptyXMP = `<x:xmpmeta xmlns:x="adobe:ns:meta/"/>`

// xmp empties the XMP packet in b[from:to] if it names a place.
func (s *scrub) xmp(from, to int) {
	if !placeInXMP(s.b[from:to]) {
		return
	}
	s.blank(from, to, ' ')
	if s.write && to-from >= len(emptyXMP) {
		copy(s.b[from:], emptyXMP)
	}
}

// iptcPlaces are the IPTC-IIM 4.2 record 2 data sets that tell a place: content
// location code and name, city, sublocation, province, country code and name.
var iptcPlaces = []byte{26, 27, 90, 92, 95, 100, 101}

// photoshop treats the image resource blocks in b[from:to].
func (s *scrub) photoshop(from, to int) {
	for i := from; i+12 <= to && string(s.b[i:i+4]) == "8BIM"; {
		id := binary.BigEndian.Uint16(s.b[i+4:])
		name := (int(s.b[i+6]) + 2) &^ 1 // a length byte and the name, padded to even
		at := i + 6 + name
		if at+4 > to {
			return
		}
		n := int(binary.BigEndian.Uint32(s.b[at:]))
		at += 4
		if n > to-at {
			return
		}
		switch id {
		case 0x0404:
			s.iptc(at, at+n)
		case 0x0422, 0x0423:
			s.exif(at, at+n)
		case 0x0424:
			s.xmp(at, at+n)
		}
		i = at + (n+1)&^1
	}
}

// iptc overwrites the places among the data sets in b[from:to] with spaces.
func (s *scrub) iptc(from, to int) {
	for i := from; i+5 <= to && s.b[i] == 0x1c; {
		record, set := s.b[i+1], s.b[i+2]
		n := int(binary.BigEndian.Uint16(s.b[i+3:]))
		at := i + 5
		if n&0x8000 != 0 { // extended: the next n bytes hold the length
			digits := n & 0x7fff
			if digits > 4 || at+digits > to {
				return
			}
			n = 0
			for _, d := range s.b[at : at+digits] {
				n = n<<8 | int(d)
			}
			at += digits
		}
		if n > to-at {
			return
		}
		if record == 2 && slices.Contains(iptcPlaces, set) && len(bytes.TrimSpace(s.b[at:at+n])) > 0 {
			s.blank(at, at+n, ' ')
		}
		i = at + n
	}
}

// png treats the notes of a PNG.
func (s *scrub) png() {
	chunks, _ := layPNG(s.b)
	for _, c := range chunks {
		was := s.found
		s.found = false
		switch c.name {
		case "eXIf":
			skip := 0
			if bytes.HasPrefix(s.b[c.from:c.to], []byte(exifHeader)) {
				skip = len(exifHeader)
			}
			s.exif(c.from+skip, c.to)
		case "tEXt", "zTXt", "iTXt":
			s.pngText(c)
		}
		if s.found && s.write {
			sealChunk(s.b, c)
		}
		s.found = s.found || was
	}
}

// pngText empties a text chunk that tells a place. A chunk that holds a
// packed profile of another format is unpacked to look, and emptied whole.
func (s *scrub) pngText(c chunk) {
	data := s.b[c.from:c.to]
	key, rest, ok := bytes.Cut(data, []byte{0})
	if !ok {
		return
	}
	text := rest
	switch {
	case c.name == "zTXt" && len(rest) > 1:
		text = inflate(rest[1:])
	case c.name == "iTXt" && len(rest) > 2:
		packed := rest[0] == 1
		_, tail, _ := bytes.Cut(rest[2:], []byte{0})
		_, tail, _ = bytes.Cut(tail, []byte{0})
		if text = tail; packed {
			text = inflate(tail)
		}
	}
	named := placeNames.MatchString(":" + string(key) + " ")
	if !named && !placeInXMP(text) && !placeInRaw(key, text) {
		return
	}
	s.found = true
	if !s.write {
		return
	}
	copy(s.b[c.from-4:], "tEXt")
	for i := c.from; i < c.to; i++ {
		s.b[i] = ' '
	}
	if n := copy(s.b[c.from:c.to], "Comment"); n < c.to-c.from {
		s.b[c.from+n] = 0
	}
}

// placeInRaw looks into the "Raw profile type" notes some programs write:
// a name, a byte count and the bytes in hexadecimal.
func placeInRaw(key, text []byte) bool {
	if !bytes.HasPrefix(key, []byte("Raw profile type")) {
		return false
	}
	fields := bytes.Fields(text)
	if len(fields) < 3 {
		return false
	}
	raw := make([]byte, 0, len(text)/2)
	var high byte
	odd := false
	for _, c := range bytes.Join(fields[2:], nil) {
		d := bytes.IndexByte([]byte("0123456789abcdef"), c|0x20)
		if c >= '0' && c <= '9' {
			d = int(c - '0')
		}
		if d < 0 {
			return false
		}
		if odd {
			raw = append(raw, high<<4|byte(d))
		}
		high, odd = byte(d), !odd
	}
	look := scrub{b: raw}
	if i := bytes.Index(raw, []byte(exifHeader)); i >= 0 {
		look.exif(i+len(exifHeader), len(raw))
	} else {
		look.exif(0, len(raw))
	}
	look.photoshop(0, len(raw))
	look.iptc(0, len(raw))
	return look.found || placeInXMP(raw)
}

// webp treats the notes of a WebP.
func (s *scrub) webp() {
	chunks, _ := layWebP(s.b)
	for _, c := range chunks {
		switch c.name {
		case "EXIF":
			skip := 0
			if bytes.HasPrefix(s.b[c.from:c.to], []byte(exifHeader)) {
				skip = len(exifHeader)
			}
			s.exif(c.from+skip, c.to)
		case "XMP ":
			s.xmp(c.from, c.to)
		}
	}
}

// iso6709 is a position as films store it: +52.5200+013.4050+034/
var iso6709 = regexp.MustCompile(`[+-]\d{2,6}(\.\d+)?[+-]\d{3,7}(\.\d+)?([+-]\d+(\.\d+)?)?(CRS\w+)?/`)

// film treats a film stored behind the photograph (a motion photo): its
// position atoms become free space, and any position text becomes spaces.
func (s *scrub) film(from int) {
	b := s.b[from:]
	if !bytes.Contains(b, []byte("ftyp")) {
		return
	}
	for _, name := range []string{"\xa9xyz", "loci"} {
		for i := 0; ; {
			j := bytes.Index(b[i:], []byte(name))
			if j < 0 {
				break
			}
			i += j + 4
			if i < 8 {
				continue
			}
			n := int(binary.BigEndian.Uint32(b[i-8:]))
			if n < 8 || n > 1<<16 || n-8 > len(b)-i {
				continue
			}
			s.blank(from+i, from+i+n-8, 0)
			if s.write {
				copy(b[i-4:], "free")
			}
		}
	}
	for _, at := range iso6709.FindAllIndex(b, -1) {
		s.blank(from+at[0], from+at[1], ' ')
	}
}

// heic treats the Exif and XMP items of a HEIC, and a film behind them.
func (s *scrub) heic() {
	items, whole := layHEIC(s.b)
	if !whole {
		s.found = true // what cannot be followed cannot be shown to be clean
	}
	for _, it := range items {
		switch it.kind {
		case "Exif":
			// Four bytes say how far on the TIFF structure starts.
			if it.to-it.from < 8 {
				continue
			}
			skip := int(binary.BigEndian.Uint32(s.b[it.from:]))
			if skip <= it.to-it.from-12 {
				s.exif(it.from+4+skip, it.to)
			}
		case "mime":
			s.xmp(it.from, it.to)
		}
	}
	s.film(min(16, len(s.b)))
}
