package picture

import (
	"bytes"
	"slices"
)

// WithoutGPS returns the photograph without the place it was taken: the GPS
// directory of EXIF, place names and positions in XMP and IPTC, and positions
// in films and pictures stored behind the photograph. Everything is overwritten
// where it stands, so the result has the same length and, outside those notes,
// the same bytes; only check sums of changed PNG chunks change too. An XMP
// packet that names a place is emptied whole. removed reports whether anything
// was taken out; when nothing was, out is b itself.
//
// It refuses, with a *studio.Problem, files Inspect would not take for a
// picture, and any whose place it cannot remove. Notes that only a camera
// maker's own secret format holds are not read.
func WithoutGPS(b []byte) (out []byte, removed bool, err error) {
	format, problem := sniff(b)
	if problem != nil {
		return nil, false, problem
	}
	if !hasPlace(b, format) {
		return b, false, nil
	}
	out = slices.Clone(b)
	eraser := scrub{b: out, write: true}
	eraser.file(format)
	if hasPlace(out, format) {
		return nil, false, refuse("The place where this photograph was taken could not be removed from it. Switch location off in the camera, or export the picture without its location.")
	}
	return out, true, nil
}

// hasPlace reports whether the file says where it was taken.
func hasPlace(b []byte, format string) bool {
	look := scrub{b: b}
	look.file(format)
	return look.found
}

// maxMorePictures bounds the pictures followed behind a JPEG; each may cost a
// pass over the rest of the file.
const maxMorePictures = 64

// scrub finds, and when write is set overwrites, what tells a place.
type scrub struct {
	b     []byte
	write bool
	found bool
}

func (s *scrub) file(format string) {
	switch format {
	case "JPEG":
		end := s.jpeg(0)
		more := 0
		for i := end; i < len(s.b); more++ { // gain maps, second pictures, films
			j := bytes.Index(s.b[i:], []byte("\xff\xd8\xff"))
			if j < 0 {
				break
			}
			if more == maxMorePictures {
				s.found = true // too many to follow, so it cannot be shown to be clean
				break
			}
			i = max(s.jpeg(i+j), i+j+3)
		}
		s.film(end)
	case "PNG":
		s.png()
	case "WebP":
		s.webp()
	case "HEIC":
		s.heic()
	}
}

// blank overwrites b[from:to] with fill.
func (s *scrub) blank(from, to int, fill byte) {
	s.found = true
	if !s.write {
		return
	}
	for i := from; i < to; i++ {
		s.b[i] = fill
	}
}

// jpeg treats the JPEG at offset at and returns the offset just after it, or
// as far as it could be followed.
func (s *scrub) jpeg(at int) int {
	b := s.b[at:]
	f, err := layJPEG(b)
	if err != nil && len(f.segments) == 0 {
		return at
	}
	var more []segment
	for _, seg := range f.segments {
		data := b[seg.from:seg.to]
		switch {
		case seg.marker == 0xe1 && bytes.HasPrefix(data, []byte(exifHeader)):
			s.exif(at+seg.from+len(exifHeader), at+seg.to)
		case seg.marker == 0xe1 && bytes.HasPrefix(data, []byte(xmpHeader)):
			s.xmp(at+seg.from+len(xmpHeader), at+seg.to)
		case seg.marker == 0xe1 && bytes.HasPrefix(data, []byte(xmpMoreHeader)) && len(data) >= len(xmpMoreHeader)+40:
			more = append(more, segment{seg.marker, at + seg.from + len(xmpMoreHeader) + 40, at + seg.to})
		case seg.marker == 0xed && bytes.HasPrefix(data, []byte(photoshopStart)):
			s.photoshop(at+seg.from+len(photoshopStart), at+seg.to)
		case seg.marker == 0xfe && placeInXMP(data):
			s.blank(at+seg.from, at+seg.to, ' ')
		}
	}
	// A name may be cut in two where one segment ends, so they are read joined.
	var joined []byte
	for _, seg := range more {
		joined = append(joined, s.b[seg.from:seg.to]...)
	}
	if placeInXMP(joined) {
		for _, seg := range more {
			s.blank(seg.from, seg.to, ' ')
		}
	}
	if f.end > 0 {
		return at + f.end
	}
	if n := len(f.segments); n > 0 {
		return at + f.segments[n-1].to
	}
	return at
}

// exif takes the GPS directories out of the TIFF structure in b[from:to]:
// their values become zeros, and the lines that point to them are closed up.
func (s *scrub) exif(from, to int) {
	data := s.b[from:to]
	t, ok := openTIFF(data)
	if !ok {
		return
	}
	type span struct{ from, to int }
	var gone []span
	var parents []int
	t.walk(func(parent, off int, entries []entry) {
		for _, e := range entries {
			if e.tag == tagGPSIFD {
				s.found = true
				parents = append(parents, off)
			}
			if parent == tagGPSIFD && e.size > 4 {
				gone = append(gone, span{e.value, e.value + e.size})
			}
		}
		if parent == tagGPSIFD {
			n := int(t.order.Uint16(data[off:]))
			gone = append(gone, span{off, min(off+2+12*n+4, len(data))})
		}
	})
	if !s.write {
		return
	}
	for _, off := range parents {
		t.drop(off, tagGPSIFD)
	}
	// The directories that stay are put back, should a damaged file have laid
	// its GPS values over them.
	var kept []span
	t.walk(func(_, off int, _ []entry) {
		n := int(t.order.Uint16(data[off:]))
		kept = append(kept, span{off, min(off+2+12*n+4, len(data))})
	})
	before := slices.Clone(data)
	for _, g := range gone {
		clear(data[g.from:g.to])
	}
	for _, k := range kept {
		copy(data[k.from:k.to], before[k.from:k.to])
	}
}

// drop removes the entries with a tag from the directory at off. The lines
// after them move up; every offset in a TIFF is absolute, so nothing else does.
func (t tiff) drop(off, tag int) {
	n := int(t.order.Uint16(t.b[off:]))
	end := min(off+2+12*n+4, len(t.b))
	kept := 0
	for i := 0; i < n; i++ {
		at := off + 2 + 12*i
		if int(t.order.Uint16(t.b[at:])) == tag {
			continue
		}
		copy(t.b[off+2+12*kept:], t.b[at:at+12])
		kept++
	}
	next := slices.Clone(t.b[off+2+12*n : end])
	clear(t.b[off+2+12*kept : end])
	copy(t.b[off+2+12*kept:], next)
	t.order.PutUint16(t.b[off:], uint16(kept))
}
