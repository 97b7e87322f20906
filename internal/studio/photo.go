package studio

import (
	"time"

	"aerugo/internal/science/colour"
)

// Moment says what a photograph shows.
type Moment string

// The moments of a face's life a photograph can show.
const (
	Bare     Moment = "bare"      // before anything was put on
	Underway Moment = "under way" // during the treatment
	Finished Moment = "finished"  // dry, after the treatment
)

// Moments lists the moments in order.
var Moments = []Moment{Bare, Underway, Finished}

// A Photo is one photograph of one face. The file is kept as it came, less its
// place (GPS); SHA256 is of the file as kept, and names it in the folder.
type Photo struct {
	ID          int64
	Swatch      int64
	Face        Face
	Moment      Moment
	Taken       time.Time
	TakenFrom   string // "photo", "entered" or "arrival": where the time came from
	SHA256      string
	Format      string // "JPEG", "PNG", "WebP", "HEIC"
	Bytes       int64
	Width       int // as displayed
	Height      int
	Profile     string // "Display P3", "sRGB (assumed)"
	Camera      string
	GPSRemoved  bool
	Client      string // key made where it was sent, so that it is stored once
	Added       time.Time
	Note        string
	Salted      bool // salt lies on the face, before fuming: for counting grains, not for colour
	ThroughLid  bool // taken through the clear lid of the chamber
	BinnedAt    time.Time
	Measurement *Measurement // the newest, if any
}

// Point is a place in a photograph, in displayed pixels from the top left.
type Point struct{ X, Y float64 }

// Rect is an upright rectangle in displayed pixels.
type Rect struct{ X, Y, W, H float64 }

// Marks are what a person showed on a photograph: the face's corners in the
// order top left, top right, bottom right, bottom left (nil: the whole
// picture), a neutral grey patch, and a spot of bare metal.
type Marks struct {
	Corners *[4]Point
	Grey    *Rect
	GreyL   float64 // L* of the grey patch, D50; 0 means the usual grey card
	Bare    *Rect
	BareLab *colour.Lab // bare metal measured elsewhere: the set's blank, or this face before
	OnMat   bool        // it lies on the printed mat: the light is evened by the mat's white border
	Target  string      // 24-patch target in the picture: its edition ("after-2014", "before-2014") or the person's own values ("file-3"); empty for none
	Setup   int64       // the kept camera and lamp it was photographed with; 0 for none
	Place   string      // of two swatches seen on one mat: "left" or "right"; empty otherwise
	BareOf  string      // the photograph BareLab came from, in words; empty: given by hand, read in the same light

	Reference  int64        // the kept bare reference BareLab is of; 0 for another photograph's reading
	BareSpread float64      // dE00 from BareLab that holds 95 % of the reference's places; 0 when not known
	Trained    *TrainedRule // from painted examples; nil for the plain rule
}

// PaletteEntry is one colour of a face with the share of the area it covers.
type PaletteEntry struct {
	Lab   colour.Lab
	Share float64
	Name  string
}

// Coverage is the share of a face that is no longer bare metal: by the first
// rule, and the honest range over rules and what could not be read. Rules and
// Sampling are two different doubts: what is called covered, and how unevenly it
// lies. Both are nil when read before they were kept. All are fractions.
type Coverage struct {
	Value, Low, High float64
	Rule             string
	Rules            *ShareRange // the least and the most that sensible rules give for this face
	Sampling         *ShareRange // 95 % interval, by the unevenness over this face, of a like surface; not that of another swatch
}

// A ShareRange is a range of fractions.
type ShareRange struct{ Low, High float64 }

// ClassShare is the share of a face that one class of surface takes: bare, brown,
// green, blue or violet-dark.
type ClassShare struct {
	Name  string
	Share float64
}

// A Measurement is what one version of the method read from one photograph
// with one set of marks. It is never changed; a better one is added.
type Measurement struct {
	ID         int64
	Photo      int64
	Method     string
	Made       time.Time
	Marks      Marks
	Calibrated bool // a grey patch fixed exposure and cast
	Lab        colour.Lab
	SD         float64 // spread over the face, in CIELAB units (root mean square distance)
	Name       string
	Palette    []PaletteEntry
	Coverage   *Coverage    // nil when no bare metal is known
	Classes    []ClassShare // shares add up to 1; empty when read before there were classes
	ClassRule  string       // how a place's class was decided, in words
	GlareShare float64
	MMPerPixel float64     // how large a picture pixel is on the face; 0 when the face's real size is not known
	ScaleOf    string      // where the scale came from, in words; empty: the swatch's size as entered
	Correction *Correction // nil when only a grey patch, or nothing, was used
	Texture    *Texture    // nil when the real size is not known
	Pooling    *Pooling    // nil when the real size is not known
	Warnings   []string
}

// A Correction says how a colour target set a photograph's colours right, and
// how well: dE00 of patches left out of the fit one by one. The target is in the
// photograph itself, or in the one that a kept setup was made of: then Setup names
// it, Age is how much later this photograph was taken, and By is what brought it
// to the setup's light. Drift says, in sentences, how camera or lamp differ from
// the setup; it is also there when the photograph's own target corrected it.
type Correction struct {
	Target  string // which target, and its edition
	Method  string
	Patches int
	LOOMean float64
	LOOP95  float64
	Setup   string
	Age     time.Duration
	By      string
	Drift   []string
}

// ScaleValue is a number read at a stated width on the face, in mm.
type ScaleValue struct {
	MM    float64
	Value float64
}

// A Texture is the pattern of a face's L*, at stated widths. Contrast (steps of
// L* 3.125, squared), Homogeneity and Entropy (nats) are of pairs of places
// PairMM apart; Variance is that of the means of blocks (L* squared); Grain is
// the share of darkness held by spots narrower than a width.
type Texture struct {
	PairMM      float64
	Contrast    float64
	Homogeneity float64
	Entropy     float64
	Variance    []ScaleValue
	Grain       []ScaleValue
}

// Pooling says where on a face the deposit lies. Of names what counts as the
// deposit. EdgeRatio is its mean in the outer 20 % of the area over that of the
// rest (1 is even, 0 when the rest is bare); Offset is how far its centre lies
// from the face's, relative to half the face, towards OffsetDeg (0 right, 90 to
// the top). Islands counts connected areas, the largest as wide as a disc of
// LargestMM. Clustering is Moran's I of blocks BlockMM wide after a plane fit.
type Pooling struct {
	Of         string
	EdgeRatio  float64
	Offset     float64
	OffsetDeg  float64
	Islands    int
	LargestMM  float64
	Clustering float64
	BlockMM    float64
}

// A Device is a phone or laptop that was let in by scanning the code.
type Device struct {
	ID       int64
	Name     string
	Joined   time.Time
	LastSeen time.Time
	Revoked  bool
}

// Look is one face as last measured, for the wall and for comparing.
type Look struct {
	Swatch      int64
	Face        Face
	Photo       int64
	Taken       time.Time
	Moment      Moment
	Measurement *Measurement
}
