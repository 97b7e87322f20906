package scale

import (
	"fmt"
	"math"
	"slices"

	"aerugo/internal/studio"
)

const (
	// betweenMM is the room left between pieces and to the walls (common practice, no
	// source).
	betweenMM = 20.0
	// crowded is the share of the chamber that the pieces' boxes may take up before air
	// no longer moves freely round them (common practice, no source).
	crowded = 0.5
)

// A Full says how the pieces go into the chamber: Together at once in Loads fillings.
// Most is how many would fit, 0 when none does and -1 when nobody can tell. Share is
// the part of the chamber's room that they take up.
type Full struct {
	Together, Loads, Most int
	Share                 float64
	Fits                  bool
	Words                 string
	Crowded               bool
}

// fill says how many pieces go in at once.
func (t *Takes) fill() {
	c, size := t.To.Chamber, t.Form.SizeMM
	f := Full{Most: most(c, size), Fits: true}
	f.Together = t.Together
	if f.Together == 0 {
		f.Together = t.Count
		if f.Most > 0 {
			f.Together = min(f.Together, f.Most)
		}
	}
	f.Loads = (t.Count + f.Together - 1) / f.Together
	boxL := size[0] * size[1] * size[2] * 1e-6 // mm³ to L
	if c.VolumeL > 0 {
		f.Share = boxL * float64(f.Together) / c.VolumeL
		f.Crowded = f.Share > crowded
	}
	name := c.Name
	if name == "" {
		name = "the chamber"
	}
	switch {
	case f.Most == 0:
		f.Fits = false
		f.Words = fmt.Sprintf("It does not fit into %s: it is %s and there is room for %.0f × %.0f × %.0f mm. Take a larger chamber.", name, sizeWords(size), c.LengthMM, c.WidthMM, c.HeightMM)
	case f.Share > 1:
		f.Fits = false
		f.Words = fmt.Sprintf("%s of %s take up more room than %s has (%.3g L). Take a larger chamber, or fewer at once.", count(f.Together, "piece"), sizeWords(size), name, c.VolumeL)
	case f.Most > 0 && f.Together > f.Most:
		f.Fits = false
		f.Words = fmt.Sprintf("%d at once do not fit into %s side by side; %d do.", f.Together, name, f.Most)
	case f.Crowded:
		f.Words = fmt.Sprintf("They take up %.0f %% of %s: air does not get freely round them. Put in fewer, or turn them half way.", 100*f.Share, name)
	case f.Most < 0:
		f.Words = fmt.Sprintf("Whether it fits nobody can tell: the inner sizes of %s or of the piece are not written down.", name)
	case f.Loads == 1:
		f.Words = fmt.Sprintf("%s in %s at once; it has room for %d.", count(f.Together, "piece"), name, f.Most)
	default:
		f.Words = fmt.Sprintf("%d at once in %s, which has room for %d: %d fillings.", f.Together, name, f.Most, f.Loads)
	}
	if f.Most > 0 {
		t.assume("room between pieces and to the walls", fmt.Sprintf("%.0f mm", betweenMM))
	}
	t.Full = f
}

// most is how many pieces stand side by side, as they stand or turned a quarter; -1
// when a size isn't known.
func most(c studio.Chamber, size [3]float64) int {
	if c.LengthMM == 0 || c.WidthMM == 0 || c.HeightMM == 0 || slices.Max(size[:2]) == 0 {
		return -1
	}
	if size[2]+betweenMM > c.HeightMM {
		return 0
	}
	along := func(room, piece float64) int {
		return max(int(math.Floor((room-betweenMM)/(piece+betweenMM)+1e-9)), 0)
	}
	return min(max(along(c.LengthMM, size[0])*along(c.WidthMM, size[1]), along(c.LengthMM, size[1])*along(c.WidthMM, size[0])), mostPieces)
}

func sizeWords(s [3]float64) string { return fmt.Sprintf("%.0f × %.0f × %.0f mm", s[0], s[1], s[2]) }
