package measure

import (
	"fmt"
	"math"
	"slices"

	"aerugo/internal/picture"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// Choices of the counting of grains; where none is named, no source.
const (
	grainSide    = 1200.0 // cells along the long side, at most: twice the grid colours are read on
	backBlocks   = 20     // blocks along the long side whose medians are the metal's light
	grainNoise   = 6.0    // standard deviations of the metal's light a grain must stand out by
	grainClear   = 12.0   // the same for a typical grain; below it nothing is counted
	grainBright  = 0.8    // quantile of what stands out that is taken as a whole grain's light
	compact      = 0.20   // second moment over area squared: 0.159 a disc, 0.167 a square, 0.24 two discs that touch
	oneGrain     = 1.4    // typical areas up to which a blob is one grain, whatever its shape
	largestGrain = 3.5    // typical areas up to which a compact blob is one grain
	dustArea     = 0.15   // of a typical area: below it, no grain
	shineArea    = 30.0   // typical areas from which a blob is shine or a heap, and is left out
	scratch      = 6.0    // times as long as wide
	leastNoise   = 1e-3   // of the metal's light: a drawing without noise still has its rounding
	mostGrains   = 0.35   // covered share from which the metal between can't be told
	smallGrain   = 4.0    // cells across: below it the blur of the picture makes grains look larger
)

// GrainCount is the salt on a face, as grains of light on darker metal.
type GrainCount struct {
	Count        int     // grains on the part that was read
	Low, High    float64 // 95 % Poisson interval of Count: what the same hand would give again
	CoveredShare float64 // of the part that was read, 0 to 1
	ReadShare    float64 // of the face: it was read without a band along the edges
	PerCM2       float64 // grains per cm2; 0 when the real size is not known
	PerCM2Read   float64 // what one grain more would add to PerCM2
	TypicalMM    float64 // width of a disc as large as the mean single grain; 0 when the real size is not known
	Clumped      int     // grains of Count that lie in blobs taken for several
	ShineShare   float64 // share left out as shine or heaps
	Rule         string
	Warnings     []string
}

// blob is a connected set of cells that stand out.
type blob struct {
	area                        int
	x, y                        float64 // centre
	xx, yy, xy                  float64 // second moments about the centre, over the area
	cells                       []int
	touchesRight, touchesBottom bool
}

// moment is the blob's second moment over its area, 0.159 for a disc.
func (b blob) moment() float64 { return (b.xx + b.yy) / float64(b.area) }

// stretch is how many times the blob is as long as it is wide.
func (b blob) stretch() float64 {
	mean, half := (b.xx+b.yy)/2, math.Hypot((b.xx-b.yy)/2, b.xy)
	return math.Sqrt((mean + half) / math.Max(mean-half, 1e-9))
}

// Grains counts the bright salt grains on a face before it is fumed. The light
// of the metal is the median of blocks, so neither a lamp's slope nor a cast of
// light needs a grey card; a grain is a blob brighter than half the light of a
// typical grain, and more than six standard deviations of the metal's own light
// (noise and brushing). A blob that is compact is one grain; another is as many
// as mean single grains fill it. Of the blobs on the border of what was read
// those on the right and below are not counted, as in a counting chamber.
//
// On rendered faces of up to 400 grains whose widths spread by up to a quarter
// the count was within 5 %; where they spread by more than a third, large grains
// are taken for two (up to 12 % too many). The covered share was within 5 % for
// grains 4 or more picture pixels across (up to 10 % too small beside shadows),
// and a tenth too large at 3 pixels, two fifths at 2. It is for grains lighter than the metal, lying in one layer and covering
// up to about a third of the face. Errors are *studio.Problem:
// marks that cannot be, or too much salt to tell the metal between.
func Grains(img *picture.Image, marks studio.Marks, size Size, under Under) (GrainCount, error) {
	var g GrainCount
	quad := wholePicture(img)
	if marks.Corners != nil {
		quad = *marks.Corners
	}
	if err := checkCorners(quad, img.Width, img.Height); err != nil {
		return g, err
	}
	f, err := resample(img, quad, size, grainSide)
	if err != nil {
		return g, err
	}
	if f.opaque < minimumOpaque {
		return g, refuse("corners", "%.0f %% of the face is transparent in this picture. Send the photograph as it was taken.", 100*(1-f.opaque))
	}
	if under.Gain != nil {
		f.even(quad, under.Gain)
	}
	over, read := f.overMetal(img.Space)
	g.ReadShare = float64(read) / float64(len(f.usable))
	if f.brightPart(over) > mostGrains {
		return g, tooMuch()
	}
	noise := spreadBelow(over, f.usable)
	bright := f.brightness(over, noise)
	if bright >= grainClear*noise {
		f.count(&g, over, bright, math.Max(grainNoise*noise, bright/2), size)
		g.Rule = fmt.Sprintf("brighter than the metal around by %.0f %%, which is half a typical grain's light or %.0f times the metal's own spread", 100*math.Max(grainNoise*noise, bright/2), grainNoise)
	} else {
		g.Rule = fmt.Sprintf("brighter than the metal around by %.0f %%, %.0f times its own spread", 100*grainNoise*noise, grainNoise)
		g.Warnings = append(g.Warnings, "No grains stand out from the metal. If salt lies there, take the photograph closer, with the lamp from the side.")
	}
	if g.CoveredShare > mostGrains {
		return g, tooMuch()
	}
	g.Low, g.High = poisson(g.Count)
	if size.WidthMM > 0 && size.HeightMM > 0 {
		g.PerCM2Read = 100 / (size.WidthMM * size.HeightMM * g.ReadShare)
		g.PerCM2 = float64(g.Count) * g.PerCM2Read
	}
	if g.ShineShare > 0.01 {
		g.Warnings = append(g.Warnings, fmt.Sprintf("%.0f %% of the face is shine or heaps of salt and was left out of the count.", 100*g.ShineShare))
	}
	if 3*g.Clumped > g.Count {
		g.Warnings = append(g.Warnings, fmt.Sprintf("%d of %d grains touch others, so that the count is an estimate from their area.", g.Clumped, g.Count))
	}
	return g, nil
}

func tooMuch() error {
	return refuse("photo", "There is too much salt, or shine, to tell the grains from the metal between; at most about %.0f %% of the face may be covered. Weigh this amount instead.", 100*mostGrains)
}

// overMetal is each usable cell's light over that of the metal around, less one,
// and how many cells are usable. The metal's light is the median of blocks and
// their neighbours, so that a sheet of shine is not taken for the metal, and is
// interpolated between the blocks' middles.
func (f *face) overMetal(space colour.Space) (over []float64, read int) {
	light := make([]float64, len(f.rgb))
	for i, ok := range f.usable {
		if ok {
			c := f.rgb[i]
			light[i] = space.XYZ(float64(c[0]), float64(c[1]), float64(c[2])).Y
			read++
		}
	}
	side := max(8, (max(f.w, f.h)+backBlocks-1)/backBlocks)
	bw, bh := (f.w+side-1)/side, (f.h+side-1)/side
	medians := make([]float64, bw*bh)
	var all []float64
	for b := range medians {
		var in []float64
		for y := b / bw * side; y < min(f.h, (b/bw+1)*side); y++ {
			for x := b % bw * side; x < min(f.w, (b%bw+1)*side); x++ {
				if f.usable[y*f.w+x] {
					in = append(in, light[y*f.w+x])
				}
			}
		}
		if 4*len(in) > side*side {
			slices.Sort(in)
			medians[b] = in[len(in)/2]
			all = append(all, medians[b])
		}
	}
	usual := 0.0
	if len(all) > 0 {
		slices.Sort(all)
		usual = all[len(all)/2]
	}
	usual = math.Max(usual, 1e-4)
	for b, m := range medians {
		if m <= 0 {
			medians[b] = usual
		}
	}
	medians = medianOf(medians, bw, bh)
	over = make([]float64, len(light))
	for i, ok := range f.usable {
		if ok {
			x := (float64(i%f.w)+0.5)/float64(side) - 0.5
			y := (float64(i/f.w)+0.5)/float64(side) - 0.5
			over[i] = light[i]/between(medians, bw, bh, x, y) - 1
		}
	}
	return over, read
}

// medianOf is a w x h table with each value replaced by the median of those up
// to two places off.
func medianOf(v []float64, w, h int) []float64 {
	const reach = 2
	out := make([]float64, len(v))
	for i := range v {
		// the same reach on both sides, so that a slope stays a slope at the border
		rx := min(reach, i%w, w-1-i%w)
		ry := min(reach, i/w, h-1-i/w)
		var in []float64
		for y := i/w - ry; y <= i/w+ry; y++ {
			in = append(in, v[y*w+i%w-rx:y*w+i%w+rx+1]...)
		}
		slices.Sort(in)
		out[i] = in[len(in)/2]
	}
	return out
}

// between interpolates a w x h table at x, y; beyond its border it goes on level.
func between(v []float64, w, h int, x, y float64) float64 {
	x, y = math.Max(0, math.Min(float64(w-1), x)), math.Max(0, math.Min(float64(h-1), y))
	x0, y0 := int(x), int(y)
	x1, y1 := min(w-1, x0+1), min(h-1, y0+1)
	fx, fy := x-float64(x0), y-float64(y0)
	top := v[y0*w+x0] + fx*(v[y0*w+x1]-v[y0*w+x0])
	bottom := v[y1*w+x0] + fx*(v[y1*w+x1]-v[y1*w+x0])
	return top + fy*(bottom-top)
}

// brightPart is the share of the usable cells beyond Otsu's threshold, 0 when
// they do not stand apart in two groups.
func (f *face) brightPart(over []float64) float64 {
	var all []float64
	for i, ok := range f.usable {
		if ok {
			all = append(all, over[i])
		}
	}
	if len(all) == 0 {
		return 0
	}
	threshold, separation := otsu(all)
	if separation <= separable {
		return 0
	}
	n := 0
	for _, v := range all {
		if v > threshold {
			n++
		}
	}
	return float64(n) / float64(len(all))
}

// spreadBelow is the standard deviation of the metal's light, judged by what is
// darker than the metal's median, which grains do not touch: of a normal spread
// with the same median distance or, for coarse brushing with its long tails, the
// same 80th percentile, whichever is more. Farther out lie the grains' shadows.
func spreadBelow(over []float64, usable []bool) float64 {
	var low []float64
	for i, ok := range usable {
		if ok && over[i] < 0 {
			low = append(low, -over[i])
		}
	}
	if len(low) == 0 {
		return leastNoise
	}
	slices.Sort(low)
	return max(low[len(low)/2]/0.6745, low[len(low)*4/5]/1.2816, leastNoise)
}

// brightness is how far a whole grain stands out; 0 when nothing does.
func (f *face) brightness(over []float64, noise float64) float64 {
	var out []float64
	for i, ok := range f.usable {
		if ok && over[i] > grainNoise*noise {
			out = append(out, over[i])
		}
	}
	if len(out) < 4 {
		return 0
	}
	slices.Sort(out)
	return out[int(grainBright*float64(len(out)))]
}

// count fills in what the blobs over threshold say.
func (f *face) count(g *GrainCount, over []float64, bright, threshold float64, size Size) {
	blobs := f.blobs(func(i int) bool { return over[i] > threshold })
	var areas []float64
	for _, b := range blobs {
		if b.area > 1 && b.stretch() < scratch {
			areas = append(areas, float64(b.area))
		}
	}
	if len(areas) == 0 {
		return
	}
	slices.Sort(areas)
	typical := areas[len(areas)/2]
	single := func(b blob) bool {
		a := float64(b.area)
		return a <= oneGrain*typical || a <= largestGrain*typical && b.moment() < compact
	}
	var kept []blob
	shine, sum, n := 0, 0.0, 0.0
	for _, b := range blobs {
		switch a := float64(b.area); {
		case a < dustArea*typical || b.stretch() >= scratch && !single(b):
		case a > shineArea*typical:
			shine += b.area
		default:
			kept = append(kept, b)
			if single(b) {
				sum, n = sum+a, n+1
			}
		}
	}
	mean := typical
	if n > 0 {
		mean = sum / n
	}
	counted := make([]bool, len(over)) // whose light is already in covered
	covered := 0.0
	for _, b := range kept {
		for _, i := range b.cells {
			// the rim, below the threshold, holds the rest of the grain's light
			for y := max(0, i/f.w-1); y <= min(f.h-1, i/f.w+1); y++ {
				for x := max(0, i%f.w-1); x <= min(f.w-1, i%f.w+1); x++ {
					if j := y*f.w + x; f.usable[j] && !counted[j] {
						counted[j] = true
						covered += math.Max(0, math.Min(1, over[j]/bright))
					}
				}
			}
		}
		if b.touchesRight || b.touchesBottom {
			continue
		}
		if single(b) {
			g.Count++
			continue
		}
		several := max(2, int(math.Round(float64(b.area)/mean)))
		g.Count += several
		g.Clumped += several
	}
	read := g.ReadShare * float64(len(f.usable))
	g.CoveredShare, g.ShineShare = covered/read, float64(shine)/read
	across := math.Sqrt(4 * mean / math.Pi)
	if size.WidthMM > 0 && size.HeightMM > 0 {
		g.TypicalMM = across * size.WidthMM / float64(f.w)
	}
	if across < smallGrain {
		g.Warnings = append(g.Warnings, fmt.Sprintf("A grain is only %.1f places across in this photograph, so that blur makes it look larger: compare it only with a weighed face taken from as far, or take both closer.", across))
	}
}

// blobs finds the sets of usable cells taken that touch by a side or a corner.
func (f *face) blobs(taken func(i int) bool) []blob {
	_, _, right, bottom := f.inner()
	seen := make([]bool, len(f.usable))
	var out []blob
	for start, ok := range f.usable {
		if !ok || seen[start] || !taken(start) {
			continue
		}
		seen[start] = true
		b := blob{cells: []int{start}}
		for k := 0; k < len(b.cells); k++ {
			i := b.cells[k]
			for y := max(0, i/f.w-1); y <= min(f.h-1, i/f.w+1); y++ {
				for x := max(0, i%f.w-1); x <= min(f.w-1, i%f.w+1); x++ {
					if j := y*f.w + x; f.usable[j] && !seen[j] && taken(j) {
						seen[j] = true
						b.cells = append(b.cells, j)
					}
				}
			}
		}
		b.area = len(b.cells)
		n := float64(b.area)
		for _, i := range b.cells {
			b.x += float64(i%f.w) / n
			b.y += float64(i/f.w) / n
			b.touchesRight = b.touchesRight || i%f.w == right-1
			b.touchesBottom = b.touchesBottom || i/f.w == bottom-1
		}
		for _, i := range b.cells {
			dx, dy := float64(i%f.w)-b.x, float64(i/f.w)-b.y
			b.xx += dx * dx / n
			b.yy += dy * dy / n
			b.xy += dx * dy / n
		}
		b.xx += 1.0 / 12 // a cell's own width
		b.yy += 1.0 / 12
		out = append(out, b)
	}
	return out
}
