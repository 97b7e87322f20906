package measure

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"aerugo/internal/picture"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// Choices of the coverage rules.
const (
	leastThreshold = 3.0  // dE00: below it, JPEG noise of an even spot would count
	mostThreshold  = 15.0 // dE00: a bare spot that uneven tells nothing apart
	otherThreshold = 10.0 // dE00 from bare metal of another photograph: twice the 4 to 6 two photographs differ
	looser         = 1.5  // other thresholds tried: so many times the first, and the first through it
	greenLow       = 90.0 // hue in degrees: the class "green to blue"
	greenHigh      = 220.0
	greenChroma    = 6.0
	separable      = 0.75 // Otsu's measure for an even spread without two groups
	tilesWanted    = 36   // at least 30, so that t is near its limit
	rim            = 2    // cells on either side of an edge that may hold both
)

// bareMetal is what bare metal looks like under the picture's light.
type bareMetal struct {
	lab       colour.Lab
	threshold float64 // dE00 from lab beyond which a place is no longer bare
	rule      string
}

// coverage finds the share of the face that is no longer bare metal, as
// measured, and the part of each cell that is; both are nil, with a note saying
// what to mark, when nobody has shown what bare metal looks like.
//
// Value is rule 1: farther than a threshold in dE00 from the bare metal, where
// cells on an edge count by the part of them that is covered. Low and High span
// rule 1 with edge cells counted whole, with a threshold half as large again and
// one smaller by as much, rule 2 (green to blue: hue 90 to 220 degrees, C* over
// 6) where most of what rule 1 found is of that class and the metal is not, and
// rule 3 (Otsu's threshold along the line from metal to patina) where two groups
// stand apart; then they are widened by the 95 % interval of the mean over
// tiles, cut by the root of the share of the face that was not read (the finite
// population correction of Cochran, Sampling Techniques, 1977): what was read is
// known, only the edge and the glare are guessed at. Rules and Sampling keep the two apart: the span over the rules
// alone, and the interval over tiles uncut. On real bronzes the choice of rule
// moves the answer by 0.1 to 0.25.
func (f *face) coverage(img *picture.Image, l light, marks studio.Marks, calibrated bool) (cover *studio.Coverage, weights []float64, notes []string) {
	bare, note := findBare(img, l, marks, calibrated, f.footprint)
	if bare == nil {
		return nil, nil, []string{note}
	}
	apart := make([]float64, len(f.usable)) // dE00 from the bare metal, the dear part, once for all rules
	from := newFrom(bare.lab)
	for i, ok := range f.usable {
		if ok {
			apart[i] = from.difference(f.cells[i].lab)
		}
	}
	over := func(threshold float64) func(int) bool { return func(i int) bool { return apart[i] > threshold } }
	green := func(i int) bool { return isGreen(f.cells[i].lab) }
	first := over(bare.threshold)
	weights = f.weigh(bare.lab, first)
	value := f.meanOf(weights)
	low, high := value, value
	take := func(v float64) { low, high = math.Min(low, v), math.Max(high, v) }
	take(f.share(first)) // an edge cell counted whole
	take(f.share(over(looser * bare.threshold)))
	take(f.share(over(bare.threshold / looser)))
	if !nearGreen(bare.lab) && 2*f.share(func(i int) bool { return first(i) && green(i) }) > f.share(first) {
		take(f.share(green))
	}
	if v, ok := f.otsuShare(bare.lab, first); ok {
		take(v)
	}
	whole := f.tileInterval(weights)
	half := whole * math.Sqrt(1-f.seenShare())
	cover = &studio.Coverage{
		Value:    value,
		Low:      math.Max(0, low-half),
		High:     math.Min(1, high+half),
		Rule:     bare.rule,
		Rules:    &studio.ShareRange{Low: low, High: high},
		Sampling: &studio.ShareRange{Low: math.Max(0, value-whole), High: math.Min(1, value+whole)},
	}
	if cover.High-cover.Low > 0.3 {
		notes = append(notes, fmt.Sprintf("Coverage depends on what is called covered: sensible rules, and what the edge and the glare may hide, give %.0f to %.0f %%.", 100*cover.Low, 100*cover.High))
	}
	return cover, weights, notes
}

// findBare learns the bare metal from the marked spot, or takes it as given.
func findBare(img *picture.Image, l light, marks studio.Marks, calibrated bool, footprint float64) (*bareMetal, string) {
	if marks.Bare == nil && marks.BareLab == nil {
		return nil, "Coverage was not measured: mark a spot of bare metal in the photograph, or measure the set's bare blank with the same grey card."
	}
	if marks.Bare == nil && marks.BareOf == "" {
		// a colour given by hand, of no named photograph, is taken at its word
		return &bareMetal{*marks.BareLab, otherThreshold, fmt.Sprintf("more than %.0f ΔE00 from the bare metal given, taken as read in the same light", otherThreshold)}, ""
	}
	if marks.Bare == nil {
		if !calibrated {
			return nil, "Coverage was not measured: bare metal from another photograph can be compared only when a grey patch is marked in this one. Mark the grey card, or a spot of bare metal here."
		}
		t := math.Max(otherThreshold, marks.BareSpread)
		return &bareMetal{*marks.BareLab, t, fmt.Sprintf("more than %.0f ΔE00 from %s", t, marks.BareOf)}, ""
	}
	spots, clipped := blocks(img, l, *marks.Bare, footprint)
	if len(spots) == 0 || clipped > clippedWarn {
		return nil, fmt.Sprintf("Coverage was not measured: %.0f %% of the spot of bare metal is burnt out, so its colour is not known. Mark a spot without shine.", 100*clipped)
	}
	lab := meanLab(spots)
	apart := make([]float64, len(spots))
	for i, s := range spots {
		apart[i] = colour.Difference(s.lab, lab)
	}
	slices.Sort(apart)
	spread := apart[min(len(apart)-1, int(0.95*float64(len(apart))))]
	if spread > mostThreshold {
		return nil, fmt.Sprintf("Coverage was not measured: the spot of bare metal differs within itself by %.0f ΔE00; the most is %.0f. Mark a smaller, evenly lit spot.", spread, mostThreshold)
	}
	// a twentieth of the bare metal lies beyond the 95 %; of a normal spread, half
	// as far again leaves three in a thousand, so that bare metal is not counted
	t := math.Max(leastThreshold, looser*spread)
	rule := fmt.Sprintf("more than %.1f ΔE00 from the spot of bare metal, half as far again as 95 %% of that spot lie", t)
	return &bareMetal{lab, t, rule}, ""
}

// blocks reads a rectangle in blocks as large as the face's cells, so that the
// spot and the face are equally smooth, and the share of clipped pixels.
func blocks(img *picture.Image, l light, r studio.Rect, footprint float64) ([]cell, float64) {
	x0, y0, x1, y1 := pixels(r, img)
	side := max(1, int(math.Round(footprint)))
	for side > 1 && ((x1-x0)/side)*((y1-y0)/side) < 40 {
		side--
	}
	var out []cell
	seen, clipped := 0, 0
	for y := y0; y+side <= y1; y += side {
		for x := x0; x+side <= x1; x += side {
			var sum [3]float32
			n := float32(0)
			for v := y; v < y+side; v++ {
				for u := x; u < x+side; u++ {
					if !img.Opaque(u, v) {
						continue
					}
					rgb, peak := img.At(u, v)
					seen++
					if peak >= clippedCode {
						clipped++
					}
					for c := range sum {
						sum[c] += rgb[c]
					}
					n++
				}
			}
			if n > 0 {
				rgb := l.evened([3]float64{float64(sum[0] / n), float64(sum[1] / n), float64(sum[2] / n)}, studio.Point{X: float64(x) + float64(side)/2, Y: float64(y) + float64(side)/2})
				out = append(out, l.cell([3]float32{float32(rgb[0]), float32(rgb[1]), float32(rgb[2])}))
			}
		}
	}
	if seen == 0 {
		return nil, 0
	}
	return out, float64(clipped) / float64(seen)
}

// nearGreen reports whether bare metal lies so close to the class that a shadow
// or a trace of mixing brings it in, as with brass (hue 80 to 90).
func nearGreen(c colour.Lab) bool {
	const margin = 15
	h := c.Hue()
	return c.Chroma() > greenChroma-2 && h >= greenLow-margin && h <= greenHigh+margin
}

func isGreen(c colour.Lab) bool {
	h := c.Hue()
	return c.Chroma() > greenChroma && h >= greenLow && h <= greenHigh
}

// weigh gives each usable cell the part of it that is covered: 1 where the rule
// takes it, and on the rim of what the rule takes the part that linear mixing
// of light tells: how far it lies from the bare metal in XYZ towards the farthest
// of the covered cells around, over how far that one lies, or the usual wholly
// covered cell of the face where none is around. Without this every spot would grow by the width of the
// picture's blur, as a trace of patina is enough for the rule.
func (f *face) weigh(bare colour.Lab, rule func(cell int) bool) []float64 {
	metal := bare.XYZ(colour.D50)
	weights := make([]float64, len(f.usable))
	for i, ok := range f.usable {
		if ok && rule(i) {
			weights[i] = 1
		}
	}
	taken := slices.Clone(weights)
	near := func(i, reach int, visit func(j int)) {
		for y := max(0, i/f.w-reach); y <= min(f.h-1, i/f.w+reach); y++ {
			for x := max(0, i%f.w-reach); x <= min(f.w-1, i%f.w+reach); x++ {
				if f.usable[y*f.w+x] {
					visit(y*f.w + x)
				}
			}
		}
	}
	apart := make([]float64, len(taken)) // each is looked at by many cells around
	for i, t := range taken {
		if t == 1 {
			c := f.cells[i].xyz
			apart[i] = math.Sqrt(square(c.X-metal.X) + square(c.Y-metal.Y) + square(c.Z-metal.Z))
		}
	}
	var rims []int
	inner := make([]bool, len(taken)) // wholly covered, as far as can be seen
	var whole []float64
	for i, t := range taken {
		if t == 0 {
			continue
		}
		edge := false
		near(i, rim, func(j int) { edge = edge || taken[j] == 0 })
		if edge {
			rims = append(rims, i)
		} else {
			inner[i] = true
			whole = append(whole, apart[i])
		}
	}
	usual := 0.0
	if len(whole) > 0 {
		slices.Sort(whole)
		usual = whole[len(whole)/2]
	}
	for _, i := range rims {
		most, clear := i, false // apart is 0 where not taken
		near(i, rim+1, func(j int) {
			if apart[j] > apart[most] {
				most = j
			}
			clear = clear || inner[j]
		})
		far := apart[most]
		if !clear { // a spot so small that blur pales even its middle
			far = max(far, usual)
		}
		if far > 0 {
			c, p := f.cells[i].xyz, f.cells[most].xyz
			along := ((c.X-metal.X)*(p.X-metal.X) + (c.Y-metal.Y)*(p.Y-metal.Y) + (c.Z-metal.Z)*(p.Z-metal.Z)) / apart[most]
			weights[i] = max(0, along/far)
		}
	}
	return weights
}

// meanOf is the mean of weights over the usable cells.
func (f *face) meanOf(weights []float64) float64 {
	n, sum := 0.0, 0.0
	for i, ok := range f.usable {
		if ok {
			n++
			sum += weights[i]
		}
	}
	return sum / n
}

// share is the share of usable cells a rule takes.
func (f *face) share(rule func(cell int) bool) float64 {
	n, in := 0, 0
	for i, ok := range f.usable {
		if ok {
			n++
			if rule(i) {
				in++
			}
		}
	}
	return float64(in) / float64(n)
}

// otsuShare is the share beyond Otsu's threshold on the line from the bare
// metal to the mean colour of what the rule took. ok is false when the cells
// do not stand apart in two groups on it.
func (f *face) otsuShare(bare colour.Lab, rule func(cell int) bool) (float64, bool) {
	var sum colour.Lab
	n := 0.0
	for i, ok := range f.usable {
		if ok && rule(i) {
			sum.L += f.cells[i].lab.L
			sum.A += f.cells[i].lab.A
			sum.B += f.cells[i].lab.B
			n++
		}
	}
	if n == 0 {
		return 0, false
	}
	axis := colour.Lab{L: sum.L/n - bare.L, A: sum.A/n - bare.A, B: sum.B/n - bare.B}
	var along []float64
	for i, ok := range f.usable {
		if ok {
			c := f.cells[i].lab
			along = append(along, (c.L-bare.L)*axis.L+(c.A-bare.A)*axis.A+(c.B-bare.B)*axis.B)
		}
	}
	threshold, separation := otsu(along)
	if separation <= separable {
		return 0, false
	}
	over := 0
	for _, v := range along {
		if v > threshold {
			over++
		}
	}
	return float64(over) / float64(len(along)), true
}

// otsu returns the threshold that separates values best into two groups (Otsu
// 1979, IEEE Trans. SMC 9: 62-66), as the centre of one of 256 bins, and the
// variance between the groups over the whole variance: 0.64 for a normal
// spread, 0.75 for an even one, towards 1 for two groups apart.
func otsu(values []float64) (threshold, separation float64) {
	const bins = 256
	low, high := slices.Min(values), slices.Max(values)
	if !(high > low) {
		return low, 0
	}
	var count, sum [bins]float64
	width := (high - low) / bins
	n, total := float64(len(values)), 0.0
	for _, v := range values {
		i := min(bins-1, int((v-low)/width))
		count[i]++
	}
	for i := range count {
		sum[i] = count[i] * (low + (float64(i)+0.5)*width)
		total += sum[i]
	}
	mean, variance := total/n, 0.0
	for i := range count {
		variance += count[i] / n * square(low+(float64(i)+0.5)*width-mean)
	}
	best := -1.0
	below, belowSum := 0.0, 0.0
	for i := 0; i < bins-1; i++ {
		below += count[i]
		belowSum += sum[i]
		if below == 0 || below == n {
			continue
		}
		between := below / n * (1 - below/n) * square(belowSum/below-(total-belowSum)/(n-below))
		if between > best {
			best, threshold = between, low+(float64(i)+0.5)*width
		}
	}
	if variance == 0 {
		return threshold, 0
	}
	return threshold, best / variance
}

// seenShare is the share of the face's cells that were read.
func (f *face) seenShare() float64 {
	n := 0.0
	for _, ok := range f.usable {
		if ok {
			n++
		}
	}
	return n / float64(len(f.usable))
}

// tileInterval is half the 95 % interval of the mean of weights, from the
// spread over tiles by Student's t. Where neighbouring tiles are alike they
// are not independent: the number of tiles is cut by ((1-r)/(1+r)) along each
// direction, r being the correlation of neighbours (Bayley & Hammersley 1946).
// It tells of unevenness over this face, not of the next swatch.
func (f *face) tileInterval(weights []float64) float64 {
	aspect := float64(f.w) / float64(f.h)
	nx := max(1, int(math.Round(math.Sqrt(tilesWanted*aspect))))
	ny := max(1, int(math.Ceil(tilesWanted/float64(nx))))
	in, all := make([]float64, nx*ny), make([]float64, nx*ny)
	for i, ok := range f.usable {
		if !ok {
			continue
		}
		t := (i/f.w*ny/f.h)*nx + i%f.w*nx/f.w
		all[t]++
		in[t] += weights[i]
	}
	// Tiles that lost half their cells to glare say too little.
	full := slices.Max(all)
	shares := make([]float64, nx*ny)
	n, mean := 0.0, 0.0
	for t := range shares {
		shares[t] = math.NaN()
		if 2*all[t] >= full {
			shares[t] = in[t] / all[t]
			mean += shares[t]
			n++
		}
	}
	if n < 4 {
		return 1
	}
	mean /= n
	variance := 0.0
	for _, s := range shares {
		if !math.IsNaN(s) {
			variance += square(s-mean) / (n - 1)
		}
	}
	if variance == 0 {
		return 0
	}
	products, pairs := 0.0, 0.0
	add := func(p, q float64) {
		if v := (p - mean) * (q - mean); !math.IsNaN(v) {
			products += v
			pairs++
		}
	}
	for y := 0; y < ny; y++ {
		for x := 0; x < nx; x++ {
			if x+1 < nx {
				add(shares[y*nx+x], shares[y*nx+x+1])
			}
			if y+1 < ny {
				add(shares[y*nx+x], shares[(y+1)*nx+x])
			}
		}
	}
	r := math.Max(0, math.Min(0.9, products/math.Max(1, pairs)/variance))
	effective := math.Max(4, n*square((1-r)/(1+r)))
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: effective - 1}.Quantile(0.975)
	return t * math.Sqrt(variance/effective)
}
