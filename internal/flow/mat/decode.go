package mat

import (
	"math"

	"github.com/makiuchi-d/gozxing/datamatrix/decoder"

	"aerugo/internal/studio"
)

// sighting is one corner mark as seen: its frame in the order of the mat's own
// corners, and what its code says.
type sighting struct {
	frame  quad
	layout Layout
	corner int
}

// read reads the code inside a frame, whichever way round it lies.
func (p *plane) read(q quad) (sighting, bool) {
	square := [][2]float64{{0, 0}, {MarkSide, 0}, {MarkSide, MarkSide}, {0, MarkSide}}
	h, ok := fitHomography(square, points(q[:]))
	if !ok {
		return sighting{}, false
	}
	// light in the middle of a spot of the mark, in mm
	spot := func(x, y, r float64) float64 {
		sum := 0.0
		for _, d := range [5][2]float64{{0, 0}, {-1, -1}, {1, -1}, {-1, 1}, {1, 1}} {
			u, v := h.at(x+r*d[0], y+r*d[1])
			sum += p.at(u, v) / 5
		}
		return sum
	}
	var cells [modules][modules]float64
	for y := range cells {
		for x := range cells[y] {
			cells[y][x] = spot(codeInset+module*(float64(x)+0.5), codeInset+module*(float64(y)+0.5), module/5)
		}
	}
	black, white := 0.0, 0.0
	const n = 12
	for i := range n {
		s := 1 + (MarkSide-2)*float64(i)/(n-1)
		t := frameWidth + module/2 + (MarkSide-2*frameWidth-module)*float64(i)/(n-1)
		near, far := frameWidth/2, MarkSide-frameWidth/2
		black += (spot(s, near, 0.3) + spot(s, far, 0.3) + spot(near, s, 0.3) + spot(far, s, 0.3)) / (4 * n)
		near, far = frameWidth+module/2, MarkSide-frameWidth-module/2
		white += (spot(t, near, 0.2) + spot(t, far, 0.2) + spot(near, t, 0.2) + spot(far, t, 0.2)) / (4 * n)
	}
	if white < 1.4*black || white-black < 0.02 {
		return sighting{}, false
	}
	even := func(_, _ int) float64 { return math.Sqrt(white * black) }
	middle := func(_, _ int) float64 { return (white + black) / 2 }
	// under the edge of a shadow each part has a threshold of its own
	local := func(x, y int) float64 {
		low, high := math.Inf(1), 0.0
		for j := max(0, y-2); j <= min(modules-1, y+2); j++ {
			for i := max(0, x-2); i <= min(modules-1, x+2); i++ {
				low, high = math.Min(low, cells[j][i]), math.Max(high, cells[j][i])
			}
		}
		return (low + high) / 2
	}
	for _, level := range []func(x, y int) float64{middle, local, even} {
		var dark [modules][modules]bool
		for y := range cells {
			for x := range cells[y] {
				dark[y][x] = cells[y][x] < level(x, y)
			}
		}
		for turn := range 4 {
			grid := make([][]bool, modules)
			for y := range grid {
				grid[y] = make([]bool, modules)
				for x := range grid[y] {
					sx, sy := x, y
					for range turn { // what is right in the picture is down in the code, and so on
						sx, sy = modules-1-sy, sx
					}
					grid[y][x] = dark[sy][sx]
				}
			}
			if finderFaults(grid) > 6 {
				continue
			}
			text, ok := decode(grid)
			if !ok {
				continue
			}
			l, corner, ok := readCode(text)
			if !ok {
				continue
			}
			// grid's top left came from the frame's corner number turn
			s := sighting{layout: l, corner: corner}
			for i := range q {
				s.frame[i] = q[(i+turn)%4]
			}
			return s, true
		}
	}
	return sighting{}, false
}

// finderFaults counts modules of the code's border that are not as ISO/IEC
// 16022 has them: solid left and below, alternating above and right.
func finderFaults(grid [][]bool) int {
	n, faults := len(grid), 0
	for i := range n {
		for _, wrong := range [4]bool{
			!grid[i][0], !grid[n-1][i],
			grid[0][i] != (i%2 == 0), grid[i][n-1] != (i%2 == 1),
		} {
			if wrong {
				faults++
			}
		}
	}
	return faults
}

// decode returns what a Data Matrix says, its errors corrected.
func decode(grid [][]bool) (string, bool) {
	r, err := decoder.NewDecoder().DecodeBoolMap(grid)
	if err != nil || r == nil {
		return "", false
	}
	return r.GetText(), true
}

func points(p []studio.Point) [][2]float64 {
	out := make([][2]float64, len(p))
	for i, q := range p {
		out[i] = [2]float64{q.X, q.Y}
	}
	return out
}
