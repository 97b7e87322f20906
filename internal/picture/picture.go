// Package picture reads photographs safely: bytes in, values out.
//
// Inspect judges a file without decoding it, WithoutGPS takes out where it was
// taken, and Decode gives its colours in the space its profile names, turned
// the right way up. Thumbnail and Preview make sRGB JPEGs for the screen.
//
// A photograph that would mislead a measurement is refused with a
// *studio.Problem that says what would be right.
package picture

import (
	"image"
	"time"

	"aerugo/internal/science/colour"
)

// MaxPixels is the most pixels a photograph may have.
const MaxPixels = 60_000_000

// maxMemory is the most memory, in bytes, that decoding one file may need
// beside the file; turning the picture may take as much as its pixels again.
const maxMemory = 640 << 20

var errTruncated = refuse("The picture breaks off before its end. Send it again, and wait until it has been sent whole.")

// ProfileKind says where the knowledge of a picture's colour space comes from.
type ProfileKind string

// The kinds of knowledge, best first.
const (
	ProfileICC     ProfileKind = "ICC"     // a profile inside the file
	ProfileFile    ProfileKind = "file"    // the file format's own colour code
	ProfileEXIF    ProfileKind = "EXIF"    // EXIF ColorSpace only
	ProfileAssumed ProfileKind = "assumed" // nothing is said: sRGB is assumed
)

// Exposure holds the camera's settings; a value of 0 is not known.
type Exposure struct {
	Seconds float64
	FNumber float64
	ISO     float64
	BiasEV  float64 // exposure compensation in stops
}

// Info is what a photograph's file says about itself.
type Info struct {
	Format        string // "JPEG", "PNG", "WebP" or "HEIC", by content
	Width, Height int    // in pixels, as displayed
	// Orientation is the EXIF turn (1 to 8) from stored to displayed pixels.
	// It is 1 for HEIC, whose turn belongs to the container and is applied there.
	Orientation int
	BitDepth    int    // per channel
	Grey        bool   // one channel only
	Profile     string // "Display P3", "sRGB (assumed)"
	ProfileKind ProfileKind
	// Taken is EXIF DateTimeOriginal; zero when absent. Without TakenZone it
	// is the camera's clock reading, given as if in UTC.
	Taken     time.Time
	TakenZone bool
	Camera    string // make and model; empty when absent
	Exposure  Exposure
	GPS       bool // WithoutGPS has something to remove
	Warnings  []string
}

// TakenIn returns when the picture was taken, reading the camera's clock as
// local time in loc when the file names no zone. It is zero when not known.
func (i Info) TakenIn(loc *time.Location) time.Time {
	t := i.Taken
	if t.IsZero() || i.TakenZone {
		return t
	}
	return time.Date(t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute(), t.Second(), t.Nanosecond(), loc)
}

// Inspect tells what a photograph's bytes hold without decoding the picture.
// It returns a *studio.Problem (Invalid) when the photograph cannot be used.
func Inspect(b []byte) (Info, error) {
	info, _, err := inspect(b)
	return info, err
}

func inspect(b []byte) (Info, colour.Space, error) {
	h, err := readHead(b)
	if err != nil {
		return Info{}, colour.Space{}, err
	}
	if need := h.cost; need > maxMemory {
		return Info{}, colour.Space{}, refuse("Reading this %d x %d picture would take %d MB of memory; the most is %d. Export it smaller, or as an ordinary 8-bit JPEG.",
			h.width, h.height, need>>20, maxMemory>>20)
	}
	x := readExif(h.exif)
	info := Info{
		Format: h.format, Width: h.width, Height: h.height, Orientation: 1,
		BitDepth: h.depth, Grey: h.channels <= 2, Camera: x.camera(), Exposure: x.exposure,
		GPS: hasPlace(b, h.format), Warnings: h.warnings,
	}
	info.Taken, info.TakenZone = x.when()
	if h.format != "HEIC" && x.orientation > 1 {
		info.Orientation = x.orientation
		if x.orientation >= 5 {
			info.Width, info.Height = info.Height, info.Width
		}
	}
	space, err := chooseSpace(h, x, &info)
	if err != nil {
		return Info{}, colour.Space{}, err
	}
	if info.Grey {
		info.Warnings = append(info.Warnings, "The picture has no colours, only lightness.")
	}
	if info.Camera == "" && h.format != "PNG" {
		info.Warnings = append(info.Warnings, "The picture names no camera: a messenger may have squeezed it and changed its colours. Send the original file.")
	}
	return info, space, nil
}

func readHead(b []byte) (head, error) {
	format, problem := sniff(b)
	if problem != nil {
		return head{}, problem
	}
	switch format {
	case "JPEG":
		return headJPEG(b)
	case "PNG":
		return headPNG(b)
	case "WebP":
		return headWebP(b)
	}
	return headHEIC(b)
}

// checkSize refuses pictures with no or too many pixels.
func checkSize(w, h int) error {
	if w <= 0 || h <= 0 {
		return refuse("The picture says it is %d x %d pixels, which is no size. Send the photograph again.", w, h)
	}
	if px := int64(w) * int64(h); px > MaxPixels {
		return refuse("The picture is %d x %d = %d megapixels; the most is %d. Send a smaller copy, or set the camera to fewer pixels.",
			w, h, (px+500_000)/1_000_000, MaxPixels/1_000_000)
	}
	return nil
}

// Decode reads a photograph whole: turned as it is displayed, once, with the
// colour space its profile names. It refuses what Inspect refuses and what
// turns out damaged while decoding, always with a *studio.Problem.
func Decode(b []byte) (*Image, error) { return decode(b, nil) }

// DecodeParts is Decode where only some parts of the displayed picture are
// wanted: pixels outside them may be black, and damage below the last of them may
// go unseen. Pixels inside are exactly those that Decode gives. It saves time with
// JPEGs; other files are decoded whole. With no parts it is Decode.
func DecodeParts(b []byte, parts []image.Rectangle) (*Image, error) {
	if len(parts) == 0 {
		parts = nil
	}
	return decode(b, parts)
}

func decode(b []byte, parts []image.Rectangle) (*Image, error) {
	info, space, err := inspect(b)
	if err != nil {
		return nil, err
	}
	var s *samples
	switch info.Format {
	case "JPEG":
		s, err = decodeJPEG(b, info.Orientation, parts)
	case "PNG":
		s, err = decodePNG(b)
	case "WebP":
		s, err = decodeWebP(b)
	default:
		s, err = decodeHEIC(b)
	}
	if err != nil {
		return nil, err
	}
	if info.Format != "JPEG" {
		s = s.turn(info.Orientation)
	}
	if s.w != info.Width || s.h != info.Height {
		return nil, refuse("The picture says it is %d x %d pixels but holds %d x %d. Send the photograph again.", info.Width, info.Height, s.w, s.h)
	}
	if s.alpha != nil {
		info.Warnings = append(info.Warnings, "Parts of the picture are transparent; they are left out of every measurement.")
	}
	return newImage(s, space, info), nil
}
