package texture

import (
	"errors"
	"math"
	"slices"
	"testing"

	"aerugo/internal/science"
	"aerugo/internal/science/colour"
)

func TestBadInputIsRefused(t *testing.T) {
	good := picture64()
	bad := func(change func(*Grid)) Grid {
		g := picture64()
		change(&g)
		return g
	}
	masked := bad(func(g *Grid) { g.OK = make([]bool, len(g.V)) })
	sparse := bad(func(g *Grid) { g.OK = make([]bool, len(g.V)); g.OK[0], g.OK[500], g.OK[1000] = true, true, true })
	var outside *science.RangeError
	try := func(_ any, err error) error { return err }
	for name, c := range map[string]struct {
		err  error
		want error // nil for a RangeError
	}{
		"no width":                 {try(Contrast(bad(func(g *Grid) { g.W = 0 }))), ErrGrid},
		"width that does not fit":  {try(Contrast(bad(func(g *Grid) { g.W = 63 }))), ErrGrid},
		"width and height swapped": {try(Contrast(bad(func(g *Grid) { g.W, g.H = 32, 64 }))), ErrGrid},
		"short mask":               {try(Contrast(bad(func(g *Grid) { g.OK = make([]bool, 3) }))), ErrGrid},
		"nothing counts":           {try(Contrast(masked)), ErrTooFew},
		"no scale":                 {try(Contrast(bad(func(g *Grid) { g.MMPerCell = 0 }))), nil},
		"scale not a number":       {try(Contrast(bad(func(g *Grid) { g.MMPerCell = math.NaN() }))), nil},
		"value not a number":       {try(Contrast(bad(func(g *Grid) { g.V[9] = math.NaN() }))), nil},
		"value infinite":           {try(Contrast(bad(func(g *Grid) { g.V[9] = math.Inf(-1) }))), nil},
		"pairs too near":           {try(Cooccur(good, LightnessLevels, 0.4)), nil},
		"pairs too far":            {try(Cooccur(good, LightnessLevels, 64)), nil},
		"distance not a number":    {try(Cooccur(good, LightnessLevels, math.NaN())), nil},
		"one level":                {try(Cooccur(good, Levels{0, 1, 1}, 1)), nil},
		"levels upside down":       {try(Cooccur(good, Levels{1, 0, 8}, 1)), nil},
		"no pair":                  {try(Cooccur(sparse, LightnessLevels, 1)), ErrTooFew},
		"one row has no diagonal":  {try(Cooccur(Grid{W: 3, H: 1, V: make([]float64, 3), MMPerCell: 1}, LightnessLevels, 1)), ErrTooFew},
		"circle inside its cell":   {try(BinaryPatterns(good, 0.9)), nil},
		"circle off the grid":      {try(BinaryPatterns(good, 33)), nil},
		"no whole circle":          {try(PatternShares(sparse, 1)), ErrTooFew},
		"block too wide":           {try(BlockVariances(good, []float64{65})), nil},
		"one block":                {try(BlockVariances(good, []float64{64})), ErrTooFew},
		"square too wide":          {try(Granularity(good, []float64{66})), nil},
		"negative grain":           {try(Granularity(bad(func(g *Grid) { g.V[0] = -1 }), []float64{3})), nil},
		"no grain":                 {try(Granularity(good.like(func(float64) float64 { return 0 }), []float64{3})), ErrNoSpread},
		"too few to shuffle":       {try(Moran(good, ClusterOptions{Shuffles: -1}, nil)), nil},
		"no cell touches another":  {try(Moran(sparse, ClusterOptions{}, nil)), ErrTooFew},
		"too few for a plane":      {try(Moran(sparse, ClusterOptions{Flatten: true}, nil)), ErrTooFew},
		"one value":                {try(Moran(good.like(func(float64) float64 { return 0.1 }), ClusterOptions{}, nil)), ErrNoSpread},
		"plane through a line":     {try(Grid{W: 1, H: 9, V: make([]float64, 9), MMPerCell: 1}.WithoutPlane()), ErrTooFew},
		"no ring":                  {try(Pool(good, WholeFace(good), 0)), nil},
		"no face":                  {try(Pool(good, Disc(32, 32, 0), 5)), nil},
		"face off the grid":        {try(Pool(good, Disc(-99, 32, 9), 5)), ErrTooFew},
		"face nowhere":             {try(Pool(good, Disc(math.NaN(), 32, 9), 5)), nil},
		"negative deposit":         {try(Pool(good.like(func(v float64) float64 { return -v - 1 }), WholeFace(good), 5)), nil},
		"no deposit":               {try(Pool(good.like(func(float64) float64 { return 0 }), WholeFace(good), 5)), ErrNoSpread},
		"island of no value":       {try(Islands(good, math.NaN(), Rook)), nil},
		"no colour":                {try(PaletteDistance(nil, []Part{{Weight: 1}}, colour.Difference)), ErrNoPalette},
		"no weight":                {try(PaletteDistance([]Part{{Weight: 1}}, []Part{{}}, colour.Difference)), ErrNoPalette},
		"negative weight":          {try(PaletteDistance([]Part{{Weight: -1}}, []Part{{Weight: 1}}, colour.Difference)), nil},
		"weight not a number":      {try(PaletteDistance([]Part{{Weight: math.NaN()}}, []Part{{Weight: 1}}, colour.Difference)), nil},
		"colour not a number":      {try(PaletteDistance([]Part{{Weight: 1, Lab: colour.Lab{L: math.NaN()}}}, []Part{{Weight: 1}}, colour.Difference76)), nil},
		"too many colours":         {try(PaletteDistance(slices.Repeat([]Part{{Weight: 1}}, 257), []Part{{Weight: 1}}, colour.Difference)), nil},
	} {
		if c.want != nil && !errors.Is(c.err, c.want) {
			t.Errorf("%s: got %v, want %v", name, c.err, c.want)
		}
		if c.want == nil && !errors.As(c.err, &outside) {
			t.Errorf("%s: got %v, want a RangeError", name, c.err)
		}
	}
	if _, err := Moran(good, ClusterOptions{Shuffles: 9}, nil); err == nil {
		t.Error("shuffles without a source of chance are not refused")
	}
}
