package picture

import (
	"bytes"
	"encoding/binary"
	"errors"
	"slices"
)

// maxScans bounds the passes over a JPEG: real progressive files have about
// ten, and each pass over a large picture costs time however few bytes it has.
const maxScans = 100

const (
	exifHeader     = "Exif\x00\x00"
	iccHeader      = "ICC_PROFILE\x00"
	xmpHeader      = "http://ns.adobe.com/xap/1.0/\x00"
	xmpMoreHeader  = "http://ns.adobe.com/xmp/extension/\x00"
	photoshopStart = "Photoshop 3.0\x00"
)

// segment is one marker segment of a JPEG; data lies between from and to.
type segment struct {
	marker   byte
	from, to int
}

// jpegFile is the layout of a JPEG (ITU-T T.81 annex B): what stands in front
// of the picture data, without decoding it.
type jpegFile struct {
	segments      []segment
	width, height int
	components    int
	precision     int
	progressive   bool
	frame         byte  // the SOF marker's second byte
	shares        []int // samples of each component in one block of the grid, relative
	scans         int
	end           int // just after the end marker of the first picture
	whole         bool
}

var errNotJPEG = errors.New("not a JPEG")

// layJPEG walks the markers of the JPEG that begins at b[0]. whole is false
// when the file breaks off before its end marker or lacks a colour component.
func layJPEG(b []byte) (jpegFile, error) {
	var f jpegFile
	if !bytes.HasPrefix(b, []byte("\xff\xd8")) {
		return f, errNotJPEG
	}
	var ids, shown []byte
	for i := 2; ; {
		if i+2 > len(b) {
			return f, nil
		}
		if b[i] != 0xff {
			return f, errNotJPEG
		}
		marker := b[i+1]
		switch {
		case marker == 0xff: // fill byte
			i++
			continue
		case marker == 0xd9:
			f.end = i + 2
			f.whole = f.scans > 0 && len(ids) > 0 && coversAll(ids, shown)
			return f, nil
		case marker == 0x01 || marker >= 0xd0 && marker <= 0xd7:
			i += 2
			continue
		}
		if i+4 > len(b) {
			return f, nil
		}
		n := int(binary.BigEndian.Uint16(b[i+2:]))
		if n < 2 {
			return f, errNotJPEG
		}
		s := segment{marker, i + 4, i + 2 + n}
		if s.to > len(b) {
			return f, nil
		}
		f.segments = append(f.segments, s)
		data := b[s.from:s.to]
		switch {
		case marker >= 0xc0 && marker <= 0xcf && marker != 0xc4 && marker != 0xc8 && marker != 0xcc:
			if len(data) < 6 || len(data) < 6+3*int(data[5]) || f.components != 0 {
				return f, errNotJPEG
			}
			f.frame = marker
			f.precision = int(data[0])
			f.height = int(binary.BigEndian.Uint16(data[1:]))
			f.width = int(binary.BigEndian.Uint16(data[3:]))
			f.components = int(data[5])
			f.progressive = marker == 0xc2
			for c := 0; c < f.components; c++ {
				ids = append(ids, data[6+3*c])
				f.shares = append(f.shares, int(data[7+3*c]>>4)*int(data[7+3*c]&15))
			}
		case marker == 0xda:
			if len(data) < 1 || len(data) < 1+2*int(data[0]) {
				return f, errNotJPEG
			}
			f.scans++
			for c := 0; c < int(data[0]); c++ {
				shown = append(shown, data[1+2*c])
			}
			if len(shown) > 4*maxScans {
				return f, errNotJPEG
			}
			i = skipScan(b, s.to)
			continue
		}
		i = s.to
	}
}

func coversAll(ids, shown []byte) bool {
	for _, id := range ids {
		if !bytes.Contains(shown, []byte{id}) {
			return false
		}
	}
	return true
}

// skipScan returns the place of the first marker after the entropy-coded data
// at i, passing stuffed bytes and restart markers.
func skipScan(b []byte, i int) int {
	for {
		j := bytes.IndexByte(b[i:], 0xff)
		if j < 0 || i+j+1 >= len(b) {
			return len(b)
		}
		i += j
		if m := b[i+1]; m != 0 && m != 0xff && (m < 0xd0 || m > 0xd7) {
			return i
		}
		i++
	}
}

// head is what a container says about its picture before any decoding.
type head struct {
	format        string
	width, height int // as stored
	depth         int // bits per sample
	channels      int
	icc           []byte
	exif          []byte // TIFF structure
	fileSpace     string // colour space named by the container itself
	cost          int64  // bytes of memory a decode needs, beside the file
	warnings      []string
}

// headJPEG reads and judges a JPEG's head.
func headJPEG(b []byte) (head, error) {
	f, err := layJPEG(b)
	if err != nil {
		return head{}, refuse("The JPEG is damaged: its parts do not follow one another. Send the photograph again.")
	}
	h := head{format: "JPEG", width: f.width, height: f.height, depth: f.precision, channels: f.components}
	if f.components > 0 {
		if err := checkSize(f.width, f.height); err != nil {
			return h, err
		}
	}
	switch {
	case f.components == 4:
		return h, refuse("A CMYK picture is made for printing; export it as sRGB JPEG.")
	case f.components == 0 || f.scans == 0 || !f.whole:
		return h, errTruncated
	case f.components != 1 && f.components != 3:
		return h, refuse("The JPEG has %d colour channels; a photograph has 3. Export it as sRGB JPEG.", f.components)
	case f.precision != 8 || f.frame > 0xc2:
		return h, refuse("This is an unusual kind of JPEG (%d bits, coding %d) that cannot be read. Export it as an ordinary JPEG.", f.precision, f.frame-0xc0)
	case f.scans > maxScans:
		return h, refuse("The JPEG is built from %d passes; the most is %d. Export it as an ordinary JPEG.", f.scans, maxScans)
	}
	h.icc = joinICC(b, f.segments)
	for _, s := range f.segments {
		if s.marker == 0xe1 && bytes.HasPrefix(b[s.from:s.to], []byte(exifHeader)) {
			h.exif = b[s.from+len(exifHeader) : s.to]
			break
		}
	}
	px := int64(f.width) * int64(f.height)
	sum := 0
	for _, n := range f.shares {
		sum += n
	}
	samples := px * int64(sum) / int64(max(1, slices.Max(f.shares)))
	if 8*int64(len(b)) < samples/64 { // each block takes a bit at least, in any coding
		return h, errTruncated
	}
	h.cost = samples + 3*px
	if f.progressive {
		h.cost += 4 * samples
	}
	return h, nil
}

// joinICC joins the pieces of a profile spread over APP2 segments (ICC.1
// annex B.4); a profile with a missing piece is none.
func joinICC(b []byte, segments []segment) []byte {
	var pieces [256][]byte
	count := 0
	for _, s := range segments {
		data := b[s.from:s.to]
		if s.marker != 0xe2 || len(data) < len(iccHeader)+2 || !bytes.HasPrefix(data, []byte(iccHeader)) {
			continue
		}
		pieces[data[len(iccHeader)]] = data[len(iccHeader)+2:]
		count = int(data[len(iccHeader)+1])
	}
	var icc []byte
	for i := 1; i <= count; i++ {
		if pieces[i] == nil {
			return nil
		}
		icc = append(icc, pieces[i]...)
	}
	return icc
}
