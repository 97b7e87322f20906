package batch

import (
	"fmt"
	"math"

	"aerugo/internal/studio"
)

// A Blank is what is cut out of a sheet, all sizes in mm: a rectangle, or a disc when
// DiscMM is set. Turn lets rectangles lie across the sheet. KerfMM is what the saw or
// shear takes, EdgeMM what is left along the sheet's edges.
type Blank struct {
	WidthMM, HeightMM  float64
	DiscMM             float64
	Pieces             int
	SheetWMM, SheetHMM float64
	KerfMM, EdgeMM     float64
	Turn               bool
}

// A Spot is where one piece lies on its sheet, in mm from the top left. A disc fills
// its square.
type Spot struct{ X, Y, W, H float64 }

// A CutPlan is the sheets in order, each with its pieces. Waste is the share of all
// sheets that becomes no piece, Kept the share that is left whole below or beside
// the pieces of the last sheet and can be used again.
type CutPlan struct {
	Sheets      [][]Spot
	PerSheet    int
	Waste, Kept float64
	Words       string
}

const (
	maxSheets = 100
	tiny      = 1e-9
)

func (b Blank) check() error {
	if b.DiscMM > 0 {
		b.WidthMM, b.HeightMM = b.DiscMM, b.DiscMM
	}
	for _, x := range []struct {
		field, what string
		v, lo, hi   float64
	}{{"width", "width of a piece", b.WidthMM, 1, 5000}, {"height", "height of a piece", b.HeightMM, 1, 5000}, {"sheetw", "width of the sheet", b.SheetWMM, 1, 10000},
		{"sheeth", "height of the sheet", b.SheetHMM, 1, 10000}, {"kerf", "saw's width", b.KerfMM, 0, 50}, {"edge", "edge left over", b.EdgeMM, 0, 500}} {
		if !(x.v >= x.lo && x.v <= x.hi) {
			return studio.Problemf(studio.Invalid, x.field, "A %s of %v mm can't be cut; write %v to %v mm.", x.what, x.v, x.lo, x.hi)
		}
	}
	if b.Pieces < 1 || b.Pieces > 10*MaxPieces {
		return studio.Problemf(studio.Invalid, "pieces", "%d pieces can't be cut; write 1 to %d.", b.Pieces, 10*MaxPieces)
	}
	return nil
}

// Cut lays pieces on sheets in strips that a shear can cut: each strip goes right
// across what is left, and is then cut into pieces. It holds as many on a sheet as
// strips of the two ways to lie, all along or all across the sheet, can hold (a
// two-stage guillotine pattern: Gilmore and Gomory 1965).
func Cut(b Blank) (CutPlan, error) {
	if err := b.check(); err != nil {
		return CutPlan{}, err
	}
	w, h, area := b.size()
	best := b.layout()
	if len(best) == 0 {
		return CutPlan{}, studio.Problemf(studio.Invalid, "sheetw", "No piece of %v × %v mm fits on a sheet of %v × %v mm; take a larger sheet.", w, h, b.SheetWMM, b.SheetHMM)
	}
	if (b.Pieces-1)/len(best)+1 > maxSheets {
		return CutPlan{}, studio.Problemf(studio.Invalid, "pieces", "%d pieces need %d sheets; at most %d are drawn at once. Take a larger sheet or fewer pieces.", b.Pieces, (b.Pieces-1)/len(best)+1, maxSheets)
	}
	p := CutPlan{PerSheet: len(best)}
	for left := b.Pieces; left > 0; left -= len(best) {
		p.Sheets = append(p.Sheets, best[:min(left, len(best))])
	}
	whole := float64(len(p.Sheets)) * b.SheetWMM * b.SheetHMM
	p.Waste = 1 - float64(b.Pieces)*area/whole
	restW, restH := b.rest(p.Sheets[len(p.Sheets)-1])
	p.Kept = restW * restH / whole
	sheets := "1 sheet"
	if len(p.Sheets) > 1 {
		sheets = fmt.Sprintf("%d sheets", len(p.Sheets))
	}
	p.Words = fmt.Sprintf("%d pieces from %s, up to %d on a sheet. %.0f %% of the metal falls off as scrap, and %.0f %% stays whole as one offcut.", b.Pieces, sheets, p.PerSheet, 100*(p.Waste-p.Kept), 100*p.Kept)
	return p, nil
}

// size is the width, height and area of a piece.
func (b Blank) size() (w, h, area float64) {
	if b.DiscMM > 0 {
		return b.DiscMM, b.DiscMM, math.Pi / 4 * b.DiscMM * b.DiscMM
	}
	return b.WidthMM, b.HeightMM, b.WidthMM * b.HeightMM
}

// layout lays as many pieces on one sheet as it holds.
func (b Blank) layout() []Spot {
	w, h, _ := b.size()
	sheetW, sheetH := b.SheetWMM-2*b.EdgeMM, b.SheetHMM-2*b.EdgeMM
	best := b.strips(sheetW, sheetH, w, h)
	across := b.strips(sheetH, sheetW, h, w)
	if len(across) > len(best) {
		best = across
		for i, s := range best {
			best[i] = Spot{s.Y, s.X, s.H, s.W}
		}
	}
	for i := range best {
		best[i].X += b.EdgeMM
		best[i].Y += b.EdgeMM
	}
	return best
}

// rest is the larger whole rectangle right of or below the pieces on a sheet; no size
// where nothing is left.
func (b Blank) rest(spots []Spot) (w, h float64) {
	right, bottom := 0.0, 0.0
	for _, s := range spots {
		right, bottom = max(right, s.X+s.W), max(bottom, s.Y+s.H)
	}
	beside, below := max(0, b.SheetWMM-right-b.KerfMM), max(0, b.SheetHMM-bottom-b.KerfMM)
	if beside*b.SheetHMM >= below*b.SheetWMM {
		if beside == 0 {
			return 0, 0
		}
		return beside, b.SheetHMM
	}
	return b.SheetWMM, below
}

// strips fills a sheet with level strips, each with pieces lying one way.
func (b Blank) strips(sheetW, sheetH, w, h float64) []Spot {
	ways := [][2]float64{{w, h}}
	if b.Turn && w != h {
		ways = append(ways, [2]float64{h, w})
	}
	fit := func(room, size float64) int { return max(0, int(math.Floor((room+b.KerfMM+tiny)/(size+b.KerfMM)))) }
	var counts []int // strips of each way
	most := 0
	for i := range fit(sheetH, ways[0][1]) + 1 {
		c := []int{i}
		n := i * fit(sheetW, ways[0][0])
		if len(ways) > 1 {
			c = append(c, fit(sheetH-float64(i)*(ways[0][1]+b.KerfMM), ways[1][1]))
			n += c[1] * fit(sheetW, ways[1][0])
		}
		if n > most {
			counts, most = c, n
		}
	}
	var out []Spot
	y := 0.0
	for k, c := range counts {
		for range c {
			for j := range fit(sheetW, ways[k][0]) {
				out = append(out, Spot{float64(j) * (ways[k][0] + b.KerfMM), y, ways[k][0], ways[k][1]})
			}
			y += ways[k][1] + b.KerfMM
		}
	}
	return out
}
