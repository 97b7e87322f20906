package picture

import (
	"encoding/binary"
	"math"
	"strings"
	"time"
)

// TIFF tags used here (EXIF 2.32, JEITA CP-3451; TIFF 6.0; DNG 1.4).
const (
	tagMake           = 0x010f
	tagModel          = 0x0110
	tagOrientation    = 0x0112
	tagSubIFDs        = 0x014a
	tagExposureTime   = 0x829a
	tagFNumber        = 0x829d
	tagExifIFD        = 0x8769
	tagGPSIFD         = 0x8825
	tagISO            = 0x8827
	tagTaken          = 0x9003
	tagOffset         = 0x9010
	tagOffsetTaken    = 0x9011
	tagExposureBias   = 0x9204
	tagSubSecTaken    = 0x9291
	tagColourSpace    = 0xa001
	tagInteropIFD     = 0xa005
	tagDNGVersion     = 0xc612
	tagInteropIndex   = 0x0001
	maxDirectories    = 32
	maxEntriesPerIFD  = 1024
	colourSpaceSRGB   = 1
	colourSpaceAdobe  = 2      // written by some cameras, not in the standard
	colourSpaceUnsaid = 0xffff // "uncalibrated"
)

// tiffSizes are the bytes per value of each TIFF type.
var tiffSizes = [...]int{0, 1, 1, 2, 4, 8, 1, 1, 2, 4, 8, 4, 8, 4}

// exif is what is wanted of a picture's EXIF data.
type exif struct {
	orientation int // 0 when not said
	colourSpace int // 0 when not said
	adobeRGB    bool
	make, model string
	taken       string // "2018:03:03 10:06:52"
	subSec      string
	offset      string // "+01:00"
	exposure    Exposure
	gps         bool
	dng         bool
	subImages   bool
}

// tiff is a TIFF structure held in memory: EXIF data without its "Exif\0\0".
type tiff struct {
	b     []byte
	order binary.ByteOrder
}

func openTIFF(b []byte) (tiff, bool) {
	if len(b) < 8 {
		return tiff{}, false
	}
	switch string(b[:4]) {
	case "II*\x00":
		return tiff{b, binary.LittleEndian}, true
	case "MM\x00*":
		return tiff{b, binary.BigEndian}, true
	}
	return tiff{}, false
}

// entry is one line of a directory. at is where the line itself stands, value
// where its value does.
type entry struct {
	tag, kind, count int
	at, value, size  int
}

// directory returns the entries of the directory at off whose values lie
// inside the data, and the offset of the next directory.
func (t tiff) directory(off int) (entries []entry, next int, ok bool) {
	if off < 8 || off+2 > len(t.b) {
		return nil, 0, false
	}
	n := int(t.order.Uint16(t.b[off:]))
	if n > maxEntriesPerIFD || off+2+12*n > len(t.b) {
		return nil, 0, false
	}
	for i := 0; i < n; i++ {
		at := off + 2 + 12*i
		e := entry{
			tag:   int(t.order.Uint16(t.b[at:])),
			kind:  int(t.order.Uint16(t.b[at+2:])),
			count: int(t.order.Uint32(t.b[at+4:])),
			at:    at, value: at + 8,
		}
		if e.kind < 1 || e.kind >= len(tiffSizes) || e.count > len(t.b) {
			continue
		}
		e.size = e.count * tiffSizes[e.kind]
		if e.size > 4 {
			e.value = int(t.order.Uint32(t.b[at+8:]))
			if e.value < 8 || e.value > len(t.b)-e.size {
				continue
			}
		}
		entries = append(entries, e)
	}
	if end := off + 2 + 12*n; end+4 <= len(t.b) {
		next = int(t.order.Uint32(t.b[end:]))
	}
	return entries, next, true
}

// text returns an ASCII value without its padding.
func (t tiff) text(e entry) string {
	if e.kind != 2 && e.kind != 7 {
		return ""
	}
	s := string(t.b[e.value : e.value+min(e.size, 256)])
	if i := strings.IndexByte(s, 0); i >= 0 {
		s = s[:i]
	}
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		if r < ' ' || r == '\ufffd' {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "")))
}

// number returns the first value as a float; fractions with a zero below are 0.
func (t tiff) number(e entry) float64 {
	if e.count < 1 {
		return 0
	}
	v := t.b[e.value:]
	switch e.kind {
	case 1, 7:
		return float64(v[0])
	case 3:
		return float64(t.order.Uint16(v))
	case 4, 13:
		return float64(t.order.Uint32(v))
	case 9:
		return float64(int32(t.order.Uint32(v)))
	case 5:
		if d := t.order.Uint32(v[4:]); d != 0 {
			return float64(t.order.Uint32(v)) / float64(d)
		}
	case 10:
		if d := int32(t.order.Uint32(v[4:])); d != 0 {
			return float64(int32(t.order.Uint32(v))) / float64(d)
		}
	}
	return 0
}

// offsets returns the directory offsets an entry points to.
func (t tiff) offsets(e entry) []int {
	if e.kind != 4 && e.kind != 13 {
		return nil
	}
	var out []int
	for i := 0; i < min(e.count, maxDirectories); i++ {
		out = append(out, int(t.order.Uint32(t.b[e.value+4*i:])))
	}
	return out
}

// walk calls visit once for each directory that can be reached. visit gets the
// tag the directory hangs on: 0 for the first, 1 for those chained to it.
func (t tiff) walk(visit func(parent, off int, entries []entry)) {
	type dir struct{ parent, off int }
	queue := []dir{{0, int(t.order.Uint32(t.b[4:]))}}
	seen := map[int]bool{}
	for len(queue) > 0 && len(seen) < maxDirectories {
		d := queue[0]
		queue = queue[1:]
		if seen[d.off] {
			continue
		}
		seen[d.off] = true
		entries, next, ok := t.directory(d.off)
		if !ok {
			continue
		}
		visit(d.parent, d.off, entries)
		for _, e := range entries {
			switch e.tag {
			case tagExifIFD, tagGPSIFD, tagInteropIFD, tagSubIFDs:
				for _, off := range t.offsets(e) {
					queue = append(queue, dir{e.tag, off})
				}
			}
		}
		if next != 0 && d.parent <= 1 {
			queue = append(queue, dir{1, next})
		}
	}
}

// readExif reads what is wanted from TIFF-formed EXIF data; damaged parts are
// passed over, since a photograph with broken notes is still a photograph.
func readExif(b []byte) exif {
	var x exif
	t, ok := openTIFF(b)
	if !ok {
		return x
	}
	t.walk(func(parent, _ int, entries []entry) {
		for _, e := range entries {
			switch {
			case parent == 0 && e.tag == tagMake:
				x.make = t.text(e)
			case parent == 0 && e.tag == tagModel:
				x.model = t.text(e)
			case parent == 0 && e.tag == tagOrientation:
				if o := int(t.number(e)); o >= 1 && o <= 8 {
					x.orientation = o
				}
			case parent == 0 && e.tag == tagDNGVersion:
				x.dng = true
			case parent == 0 && e.tag == tagSubIFDs:
				x.subImages = true
			case e.tag == tagGPSIFD:
				x.gps = true
			case parent == tagInteropIFD && e.tag == tagInteropIndex:
				x.adobeRGB = t.text(e) == "R03"
			case parent != tagExifIFD:
			case e.tag == tagColourSpace:
				x.colourSpace = int(t.number(e))
			case e.tag == tagTaken:
				x.taken = t.text(e)
			case e.tag == tagSubSecTaken:
				x.subSec = t.text(e)
			case e.tag == tagOffsetTaken, e.tag == tagOffset && x.offset == "":
				x.offset = t.text(e)
			case e.tag == tagExposureTime:
				x.exposure.Seconds = t.number(e)
			case e.tag == tagFNumber:
				x.exposure.FNumber = t.number(e)
			case e.tag == tagISO:
				x.exposure.ISO = t.number(e)
			case e.tag == tagExposureBias:
				x.exposure.BiasEV = t.number(e)
			}
		}
	})
	return x
}

// camera joins make and model, which often repeats the make.
func (x exif) camera() string {
	if strings.HasPrefix(strings.ToLower(x.model), strings.ToLower(x.make)) {
		return x.model
	}
	return strings.TrimSpace(x.make + " " + x.model)
}

// when returns the time the picture was taken, and whether the camera said its
// time zone. Without a zone the clock reading is returned as if in UTC.
func (x exif) when() (t time.Time, zoned bool) {
	t, err := time.Parse("2006:01:02 15:04:05", x.taken)
	if err != nil || t.Year() < 1900 {
		return time.Time{}, false
	}
	if x.subSec != "" && len(x.subSec) <= 9 {
		frac, digits := 0.0, true
		for i, c := range x.subSec {
			if c < '0' || c > '9' {
				digits = false
				break
			}
			frac += float64(c-'0') * math.Pow10(-i-1)
		}
		if digits {
			t = t.Add(time.Duration(math.Round(frac*1e3)) * time.Millisecond)
		}
	}
	zone, err := time.Parse("-07:00", x.offset)
	if err != nil {
		return t, false
	}
	_, seconds := zone.Zone()
	return time.Date(t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute(), t.Second(), t.Nanosecond(),
		time.FixedZone(x.offset, seconds)), true
}
