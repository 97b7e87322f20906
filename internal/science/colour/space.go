package colour

// Space is an RGB colour space: a tone curve per channel and a matrix from
// linear light to XYZ under D50, by which R = G = B is always an exact grey
// (a* = b* = 0). Linear light is 1 at full scale. A Space is small, is copied
// freely and may be used by many goroutines; the zero Space is sRGB.
type Space struct{ d *spaceData }

type spaceData struct {
	tone    [3]*tone
	share   Matrix // linear RGB to X, Y, Z as shares of the white; each row sums to 1
	inverse Matrix // of share
}

// The RGB spaces that need no profile. AdobeRGB is Adobe RGB (1998).
var (
	SRGB      = Space{primaries([4][2]float64{{0.64, 0.33}, {0.30, 0.60}, {0.15, 0.06}, {0.3127, 0.3290}}, srgbTone)}
	DisplayP3 = Space{primaries([4][2]float64{{0.68, 0.32}, {0.265, 0.69}, {0.15, 0.06}, {0.3127, 0.3290}}, srgbTone)}
	AdobeRGB  = Space{primaries([4][2]float64{{0.64, 0.33}, {0.21, 0.71}, {0.15, 0.06}, {0.3127, 0.3290}}, adobeTone)}
)

var (
	// IEC 61966-2-1; Display P3 uses the same curve.
	srgbTone = fixedTone(tone{g: 2.4, a: 1 / 1.055, b: 0.055 / 1.055, c: 1 / 12.92, d: 0.04045})
	// Adobe RGB (1998) Color Image Encoding, 2005, 4.3.5.2.
	adobeTone = fixedTone(tone{g: 563.0 / 256, a: 1})
)

func fixedTone(t tone) *tone {
	checked, err := newTone(t)
	if err != nil {
		panic("colour: a built-in tone curve: " + err.Error())
	}
	return checked
}

// primaries builds a space from the x, y of red, green, blue and white, by the
// method of SMPTE RP 177, adapted to D50.
func primaries(xy [4][2]float64, t *tone) *spaceData {
	m, white := primaryMatrix(xy)
	d, err := newSpaceData(BradfordMatrix(white, D50).multiply(m), [3]*tone{t, t, t})
	if err != nil {
		panic("colour: a built-in space: " + err.Error())
	}
	return d
}

// primaryMatrix returns the matrix from linear RGB to XYZ, and its white.
func primaryMatrix(xy [4][2]float64) (m Matrix, white XYZ) {
	for i := range 3 {
		x, y := xy[i][0], xy[i][1]
		m[0][i], m[1][i], m[2][i] = x/y, 1, (1-x-y)/y
	}
	x, y := xy[3][0], xy[3][1]
	white = XYZ{x / y, 1, (1 - x - y) / y}
	inv, _ := m.inverse()
	gain := inv.times(white)
	for i, g := range [3]float64{gain.X, gain.Y, gain.Z} {
		for row := range m {
			m[row][i] *= g
		}
	}
	return m, white
}

// newSpaceData makes a space of a matrix to XYZ under D50. Each row is divided by
// its sum, so that white is D50 to the last bit whatever rounding the matrix has.
func newSpaceData(toD50 Matrix, t [3]*tone) (*spaceData, error) {
	sum := toD50.rowSums()
	for _, off := range [3]float64{sum.X - D50.X, sum.Y - D50.Y, sum.Z - D50.Z} {
		if !(off > -0.02 && off < 0.02) {
			return nil, errWhite
		}
	}
	d := &spaceData{tone: t, share: toD50}
	for i, s := range [3]float64{sum.X, sum.Y, sum.Z} {
		for j := range d.share[i] {
			d.share[i][j] /= s
		}
	}
	var ok bool
	if d.inverse, ok = d.share.inverse(); !ok {
		return nil, errSingular
	}
	return d, nil
}

func (s Space) data() *spaceData {
	if s.d == nil {
		return SRGB.d
	}
	return s.d
}

// Matrix returns the matrix from linear RGB to XYZ under D50.
func (s Space) Matrix() Matrix {
	m := s.data().share
	for j := range 3 {
		m[0][j] *= D50.X
		m[1][j] *= D50.Y
		m[2][j] *= D50.Z
	}
	return m
}

// Decode turns stored channel values, 0 to 1, into linear light. Values outside
// are limited first.
func (s Space) Decode(r, g, b float64) (lr, lg, lb float64) {
	t := &s.data().tone
	return t[0].decode(r), t[1].decode(g), t[2].decode(b)
}

// Encode turns linear light into channel values to store, 0 to 1. Values outside
// are limited first.
func (s Space) Encode(lr, lg, lb float64) (r, g, b float64) {
	t := &s.data().tone
	return t[0].encode(lr), t[1].encode(lg), t[2].encode(lb)
}

// Decode8 turns interleaved 8-bit RGB into linear light; it fills as much of dst
// as src provides.
func (s Space) Decode8(dst []float32, src []uint8) {
	t := &s.data().tone
	r, g, b := &t[0].bytes, &t[1].bytes, &t[2].bytes
	n := min(len(dst), len(src)) / 3 * 3
	dst, src = dst[:n], src[:n]
	for len(src) >= 3 && len(dst) >= 3 {
		dst[0], dst[1], dst[2] = r[src[0]], g[src[1]], b[src[2]]
		dst, src = dst[3:], src[3:]
	}
}

// Decode16 is Decode8 for 16-bit channels.
func (s Space) Decode16(dst []float32, src []uint16) {
	t := &s.data().tone
	r, g, b := t[0].words(), t[1].words(), t[2].words()
	n := min(len(dst), len(src)) / 3 * 3
	dst, src = dst[:n], src[:n]
	for len(src) >= 3 && len(dst) >= 3 {
		dst[0], dst[1], dst[2] = r[src[0]], g[src[1]], b[src[2]]
		dst, src = dst[3:], src[3:]
	}
}

// shares returns linear RGB as shares of the white. Written as green and two
// differences, so that a grey comes out as exactly three equal shares.
func (d *spaceData) shares(r, g, b float64) XYZ {
	m := &d.share
	rg, bg := r-g, b-g
	return XYZ{g + m[0][0]*rg + m[0][2]*bg, g + m[1][0]*rg + m[1][2]*bg, g + m[2][0]*rg + m[2][2]*bg}
}

// XYZ returns the colour of linear RGB, under D50.
func (s Space) XYZ(r, g, b float64) XYZ {
	c := s.data().shares(r, g, b)
	return XYZ{c.X * D50.X, c.Y * D50.Y, c.Z * D50.Z}
}

// FromXYZ returns the linear RGB of a colour under D50. Values outside 0 to 1
// mean that s cannot hold the colour.
func (s Space) FromXYZ(c XYZ) (r, g, b float64) {
	rgb := s.data().inverse.times(XYZ{c.X / D50.X, c.Y / D50.Y, c.Z / D50.Z})
	return rgb.X, rgb.Y, rgb.Z
}

// Lab returns the CIELAB (D50) of linear RGB.
func (s Space) Lab(r, g, b float64) Lab { return labOf(s.data().shares(r, g, b)) }

// FromLab returns the linear RGB of a CIELAB (D50) colour. Values outside 0 to 1
// mean that s cannot hold the colour.
func (s Space) FromLab(l Lab) (r, g, b float64) {
	rgb := s.data().inverse.times(l.shares())
	return rgb.X, rgb.Y, rgb.Z
}
