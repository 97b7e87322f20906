// Package measure reads colour and coverage from a photograph of one face.
//
// The face is straightened by its four corners and resampled in linear light
// to a grid of equal areas. With a grey patch, exposure and colour cast are
// taken out by one gain per channel in linear light; without one the numbers
// are marked uncalibrated and serve for names and order only. No colour
// difference to another photograph is computed here.
//
// All Lab values are CIELAB for D50 and the 2 degree observer. CIE 15 and
// ISO/CIE 11664-4 leave out surfaces that shine like mirrors: the Lab of bright
// bare metal is a note of how it looked, not a property of it.
package measure

import (
	"fmt"
	"math"

	"aerugo/internal/picture"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// Version names the method; it changes whenever the same photograph and marks
// would give other numbers.
const Version = "m2"

// GreyCardL is L* (D50) of the usual 18 % grey card: 116 times the cube root
// of 0.18, less 16.
const GreyCardL = 49.5

// GreyError says, in words, how well colours agree between photographs when a
// grey patch was marked in each: 4.1 to 5.8 dE00 mean over 24 patches of three
// photographs of a target, corrected by one of its greys.
const GreyError = "about 4 to 6 ΔE00 between photographs"

// Limits of use. Where no source is named they are common practice, no source.
const (
	clippedCode   = 253  // code value from which a channel counts as clipped
	glareCode     = 250  // code value from which a channel counts as glare
	glareL        = 95.0 // L* from which a place counts as glare
	clippedWarn   = 0.01 // share of the face
	glareWarn     = 0.05
	glareRefuse   = 0.20
	edgeBand      = 0.015 // share of each dimension left out along every edge
	gridSide      = 600   // cells along the long side, at most
	shortestSide  = 40.0  // picture pixels
	minimumOpaque = 0.5   // share of the face that must not be transparent
)

// Size is the real size of a face in mm; zero when not known. It sets the shape of
// the grid's cells, which hardly moves a colour, and the widths of texture and
// pooling, which are not read without it.
type Size struct{ WidthMM, HeightMM float64 }

// Under is what is known of the light round the face. The zero Under is a
// photograph with no more than a grey patch.
type Under struct {
	// Correct gives the XYZ (D50) of a picture's linear RGB, fitted to a colour
	// target in the same photograph; nil when there is none. It then stands in
	// for the grey patch.
	Correct func(rgb [3]float64) colour.XYZ
	Note    *studio.Correction // what is kept of it
	// Gain is what linear RGB at a place, in pixels, is multiplied by to be under
	// the light that falls on the grey patch or target; nil for even light.
	Gain func(p studio.Point) [3]float64
	// White is the linear RGB of white paper under the light that falls on the grey
	// patch; nil when none was seen. It is not used with Correct.
	White *[3]float64
}

// Measure is [MeasureUnder] with nothing known of the light.
func Measure(img *picture.Image, marks studio.Marks, size Size) (studio.Measurement, error) {
	return MeasureUnder(img, marks, size, Under{})
}

// MeasureUnder reads one face from a photograph. The Measurement's Lab is that of
// the mean XYZ over the face, which is what an instrument with an opening as
// large as the face would read; SD is the root mean square distance (CIELAB
// units) of the grid's cells from it. Photo, ID and Made are left to the caller.
//
// With a grey patch, expect GreyError; without one, 6 to 14 dE00. The range of
// the Coverage holds what the choice of rule and the unevenness of the face do
// to it, not the difference another swatch would show. Errors are
// *studio.Problem: marks that cannot be, or a face too small, too shiny or not
// in the picture.
func MeasureUnder(img *picture.Image, marks studio.Marks, size Size, under Under) (studio.Measurement, error) {
	m := studio.Measurement{Method: Version, Marks: marks, Correction: under.Note}
	quad := wholePicture(img)
	if marks.Corners != nil {
		quad = *marks.Corners
		if err := checkCorners(quad, img.Width, img.Height); err != nil {
			return m, err
		}
	} else if min(img.Width, img.Height) < shortestSide {
		return m, refuse("photo", "The picture is only %d x %d pixels; a face needs at least %.0f along each side.", img.Width, img.Height, shortestSide)
	}
	warn := func(format string, args ...any) {
		m.Warnings = append(m.Warnings, fmt.Sprintf(format, args...))
	}
	if marks.Bare != nil {
		if err := checkRect("bare", "spot of bare metal", *marks.Bare, img); err != nil {
			return m, err
		}
	}
	if ratio := foreshortening(quad); ratio > 1.5 {
		warn("The face was photographed at a steep angle (one side looks %.1f times as long as the other); colours shift with the angle. Hold the camera square to the face.", ratio)
	}

	light := newLight(img)
	light.under(under)
	if under.Correct != nil {
		m.Calibrated = true
	} else if marks.Grey != nil {
		notes, err := light.calibrate(img, *marks.Grey, marks.GreyL)
		if err != nil {
			return m, err
		}
		m.Calibrated = true
		m.Warnings = append(m.Warnings, notes...)
	} else {
		warn("Uncalibrated: no grey patch was marked, so use the colour names and their order only. Mark a grey card in the photograph.")
	}

	f, err := straighten(img, quad, size)
	if err != nil {
		return m, err
	}
	if f.opaque < minimumOpaque {
		return m, refuse("corners", "%.0f %% of the face is transparent in this picture. Send the photograph as it was taken.", 100*(1-f.opaque))
	}
	if under.Gain != nil {
		f.even(quad, under.Gain)
	}
	f.light(light)
	m.GlareShare = f.dropGlare()
	what := "face"
	if marks.Corners == nil {
		what = "picture"
	}
	// of a whole picture nobody said that it is a face: its background may be burnt out
	if m.GlareShare > glareRefuse && marks.Corners != nil {
		return m, refuse("photo", "%.0f %% of the face is glare or burnt out; the most is %.0f %%. Turn the lamp or the face until the shine leaves it, or expose less.", 100*m.GlareShare, 100*glareRefuse)
	}
	if m.GlareShare > glareWarn {
		warn("%.0f %% of the %s is glare and was left out.", 100*m.GlareShare, what)
	}
	if f.clipped > clippedWarn {
		warn("%.1f %% of the %s is burnt out in at least one colour; those places read too pale. Expose less.", 100*f.clipped, what)
	}
	if f.crushed > 0.2 {
		warn("%.0f %% of the %s is nearly black, where colours are lost. Expose more.", 100*f.crushed, what)
	}
	cells := f.valid()
	if len(cells) < 100 {
		return m, refuse("corners", "Only %d places of the face could be read. Mark a larger face, or take the photograph closer.", len(cells))
	}

	m.Lab = meanLab(cells)
	sum := 0.0
	for _, c := range cells {
		sum += squaredDistance(c.lab, m.Lab)
	}
	m.SD = math.Sqrt(sum / float64(len(cells)))
	m.Name = colour.Name(m.Lab)
	m.Palette = palette(cells)
	cover, weights, notes := f.coverage(img, light, marks, m.Calibrated)
	shown := false // by painted examples what is bare
	if marks.Trained != nil {
		var note string
		if shown, note = ruleFits(*marks.Trained, m.Calibrated); shown {
			cover, weights, m.Classes, m.ClassRule, notes = f.trained(*marks.Trained)
		} else {
			notes = append(notes, note)
		}
	}
	m.Coverage = cover
	if size.WidthMM > 0 && size.HeightMM > 0 {
		m.MMPerPixel = size.WidthMM / ((distance(quad[0], quad[1]) + distance(quad[3], quad[2])) / 2)
	}
	m.Texture, m.Pooling = f.texture(size), f.pooling(size, weights)
	bareRule := ""
	if cover != nil {
		bareRule = cover.Rule
	}
	if !shown {
		var note string
		if m.Classes, m.ClassRule, note = f.classes(weights, bareRule); note != "" {
			notes = append(notes, note)
		}
	}
	m.Warnings = append(m.Warnings, notes...)
	return m, nil
}

func distance(a, b studio.Point) float64 { return math.Hypot(b.X-a.X, b.Y-a.Y) }

func refuse(field, format string, args ...any) error {
	return studio.Problemf(studio.Invalid, field, format, args...)
}

// cell is one equal-area part of the face.
type cell struct {
	xyz colour.XYZ
	lab colour.Lab
}

// meanLab is the Lab of the mean XYZ.
func meanLab(cells []cell) colour.Lab {
	var sum colour.XYZ
	for _, c := range cells {
		sum.X += c.xyz.X
		sum.Y += c.xyz.Y
		sum.Z += c.xyz.Z
	}
	n := float64(len(cells))
	return colour.XYZ{X: sum.X / n, Y: sum.Y / n, Z: sum.Z / n}.Lab(colour.D50)
}

func square(x float64) float64 { return x * x }
