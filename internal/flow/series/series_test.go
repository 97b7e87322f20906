package series

import (
	"bytes"
	"fmt"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"aerugo/internal/demo"
	"aerugo/internal/flow/measure"
	"aerugo/internal/picture"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

var noon = time.Date(2026, 3, 14, 12, 0, 0, 0, time.UTC)

var faceSize = measure.Size{WidthMM: 60, HeightMM: 40}

// world is a face of 60 x 40 mm known at every place: waves of many directions.
type world struct{ dx, dy, phase, lift []float64 }

func newWorld(seed uint64) world {
	rng := rand.New(rand.NewPCG(seed, 1))
	var w world
	for range 60 {
		long := 2 + 10*rng.Float64() // mm
		turn := 2 * math.Pi * rng.Float64()
		w.dx, w.dy = append(w.dx, math.Cos(turn)/long), append(w.dy, math.Sin(turn)/long)
		w.phase, w.lift = append(w.phase, 2*math.Pi*rng.Float64()), append(w.lift, rng.NormFloat64())
	}
	return w
}

func (w world) at(x, y float64) (v float64) {
	for i := range w.dx {
		v += w.lift[i] * math.Sin(2*math.Pi*(w.dx[i]*x+w.dy[i]*y)+w.phase[i])
	}
	return v
}

// shotOf photographs a world: moved is where a place of the true face (0 to 1)
// lies on the straightened one.
func (w world) shotOf(minute int, moved affine, grow func(x, y float64) float64, noise float64, rng *rand.Rand) Shot {
	const cols, rows = 240, 160
	f := measure.Straight{W: cols, H: rows, XYZ: make([]colour.XYZ, cols*rows), Usable: make([]bool, cols*rows), Calibrated: true}
	det := moved[1]*moved[5] - moved[2]*moved[4]
	for y := range rows {
		for x := range cols {
			u, v := (float64(x)+0.5)/cols-moved[0], (float64(y)+0.5)/rows-moved[3]
			tx, ty := 60*(moved[5]*u-moved[2]*v)/det, 40*(moved[1]*v-moved[4]*u)/det
			g := 0.0
			if grow != nil {
				g = grow(tx, ty)
			}
			lab := colour.Lab{L: 60 + 0.6*w.at(tx, ty) - 20*g + noise*rng.NormFloat64(), A: 12 - 25*g + noise*rng.NormFloat64(), B: 18 - 20*g + noise*rng.NormFloat64()}
			f.XYZ[y*cols+x] = lab.XYZ(colour.D50)
			f.Usable[y*cols+x] = x > 3 && y > 2 && x < cols-4 && y < rows-3
		}
	}
	return Shot{Name: fmt.Sprintf("photograph %d", minute), Taken: noon.Add(time.Duration(minute) * time.Minute), Face: f}
}

// misplaced is a map that a hand's marks would make: shifted and turned.
func misplaced(dxMM, dyMM, deg float64) affine {
	s, c := math.Sincos(deg * math.Pi / 180)
	// turned about the middle, in mm, then as shares of the sides
	return affine{(30 - 30*c + 20*s + dxMM) / 60, c, -s * 40 / 60, (20 - 30*s - 20*c + dyMM) / 40, s * 60 / 40, c}
}

// worst is the largest distance in mm between two maps over the corners.
func worst(a, b affine) (far float64) {
	for _, c := range [4][2]float64{{0, 0}, {1, 0}, {1, 1}, {0, 1}} {
		x, y := a.to(c[0], c[1])
		u, v := b.to(c[0], c[1])
		far = math.Max(far, math.Hypot(60*(x-u), 40*(y-v)))
	}
	return far
}

// The truth is the map the photograph was made with.
func TestAlignmentIsTrueWithinAFifthOfAMillimetre(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.Uint64().Draw(t, "seed")
		rng := rand.New(rand.NewPCG(seed, 2))
		dx, dy := rapid.Float64Range(-1.2, 1.2).Draw(t, "dx"), rapid.Float64Range(-1.2, 1.2).Draw(t, "dy")
		truth := misplaced(dx, dy, rapid.Float64Range(-1.2, 1.2).Draw(t, "turn"))
		w := newWorld(seed)
		s, err := Run([]Shot{w.shotOf(0, still, nil, 1, rng), w.shotOf(10, truth, nil, 1, rng)}, faceSize)
		if err != nil {
			t.Fatal(err)
		}
		p := s.Photos[1]
		if p.Problem != nil || p.Placed != "pattern" {
			t.Fatalf("placed by %q (%v)", p.Placed, p.Problem)
		}
		if d := worst(p.move, truth); d > 0.2 {
			t.Errorf("off by %.3f mm at a corner; match %.2f", d, p.Match)
		}
	})
}

// spot grows from the middle of the face after minute 30.
func spot(minute int) func(x, y float64) float64 {
	r := math.Max(0, float64(minute-30)) * 0.25 // mm
	return func(x, y float64) float64 {
		if math.Hypot(x-30, y-20) < r {
			return 1
		}
		return 0
	}
}

func TestOnsetIsFoundBetweenTheTwoPhotographsAroundIt(t *testing.T) {
	for seed := range uint64(4) {
		rng := rand.New(rand.NewPCG(seed, 3))
		w := newWorld(seed)
		var shots []Shot
		for _, m := range []int{0, 10, 25, 50, 70, 90} { // the spot is 5 mm in radius, 3.3 % of the face, at minute 50
			shots = append(shots, w.shotOf(m, misplaced(rng.NormFloat64()*0.4, rng.NormFloat64()*0.4, 0.3*rng.NormFloat64()), spot(m), 0.8, rng))
		}
		s, err := Run(shots, faceSize)
		if err != nil {
			t.Fatal(err)
		}
		if !s.First.Seen || !s.First.Without.Equal(noon.Add(25*time.Minute)) || !s.First.With.Equal(noon.Add(50*time.Minute)) {
			t.Errorf("seed %d: first change %+v", seed, s.First)
		}
		for i, p := range s.Photos {
			r := math.Max(0, float64([]int{0, 10, 25, 50, 70, 90}[i]-30)) * 0.25
			want := math.Pi * r * r / (60 * 40 * 0.94 * 0.94)
			band := 2 * math.Pi * r * s.Map.PartMM / (60 * 40) // a part counts whole when some of it has changed
			if p.Changed < want-0.02 || p.Changed > want+0.02+0.6*band {
				t.Errorf("seed %d, photograph %d: %.3f of the face changed, and %.3f did", seed, i, p.Changed, want)
			}
		}
		if at := s.Map.At[s.Map.H/2*s.Map.W+s.Map.W/2]; at != 3 {
			t.Errorf("seed %d: the middle changed in photograph %d", seed, at)
		}
		if at := s.Map.At[0]; at != -1 {
			t.Errorf("seed %d: the corner changed in photograph %d", seed, at)
		}
		if got := s.Sentence(func(t time.Time) string { return t.Format("15:04") }); got != "First change seen between 12:25 and 12:50." {
			t.Error(got)
		}
	}
}

// By the rule a part is called changed by noise at most once in a thousand, so
// 2 % of some 380 parts (8) never are: Binomial(380, 0.001) reaches 8 less than
// once in a hundred thousand.
func TestNoiseAloneIsNoChange(t *testing.T) {
	parts, hits := 0, 0.0
	for seed := range uint64(12) {
		rng := rand.New(rand.NewPCG(seed, 4))
		w := newWorld(seed)
		var shots []Shot
		for m := range 4 {
			shots = append(shots, w.shotOf(10*m, misplaced(rng.NormFloat64()*0.4, rng.NormFloat64()*0.4, 0.3*rng.NormFloat64()), nil, 4, rng))
		}
		s, err := Run(shots, faceSize)
		if err != nil {
			t.Fatal(err)
		}
		if s.First.Seen || !s.First.Without.Equal(noon.Add(30*time.Minute)) {
			t.Errorf("seed %d: change out of noise: %+v", seed, s.First)
		}
		for _, p := range s.Photos[1:] {
			parts += len(s.Map.At)
			hits += p.Changed * float64(len(s.Map.At))
		}
		if got := s.Sentence(func(t time.Time) string { return t.Format("15:04") }); got != "No change yet by 12:30." {
			t.Error(got)
		}
	}
	if rate := hits / float64(parts); rate > 0.001 {
		t.Errorf("%.4f of the parts were called changed by noise; 0.001 is the most", rate)
	}
}

// What the lid adds is no change of the face.
func TestPhotographsThroughTheLidAreComparedWithEachOther(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 5))
	w := newWorld(7)
	var shots []Shot
	for m := range 5 {
		x := w.shotOf(10*m, still, nil, 0.5, rng)
		if m > 1 {
			x.ThroughLid = true
			for k, c := range x.Face.XYZ {
				l := c.Lab(colour.D50)
				x.Face.XYZ[k] = colour.Lab{L: 0.8*l.L + 18, A: 0.5 * l.A, B: 0.5*l.B + 1}.XYZ(colour.D50)
			}
		}
		shots = append(shots, x)
	}
	s, err := Run(shots, faceSize)
	if err != nil {
		t.Fatal(err)
	}
	if s.First.Seen {
		t.Errorf("the lid was taken for change: %+v", s.First)
	}
	if !s.Photos[0].First || !s.Photos[2].First || s.Photos[2].PerHour != nil || s.Photos[3].PerHour == nil {
		t.Error("the first through the lid is not the start of its own kind")
	}
	if p := s.Photos[2]; p.Problem != nil || p.Placed != "pattern" {
		t.Errorf("through the lid it was placed by %q (%v)", p.Placed, p.Problem)
	}
}

func TestPhotographThatCannotBeAlignedIsRefusedWithAReason(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 6))
	w := newWorld(3)
	half := affine{1, -1, 0, 1, 0, -1}
	tall := w.shotOf(20, still, nil, 0.5, rng)
	tall.Face.W, tall.Face.H = tall.Face.H, tall.Face.W
	for name, c := range map[string]struct {
		shot Shot
		says string
	}{
		"turned":      {w.shotOf(20, half, nil, 0.5, rng), "turned by half"},
		"shape":       {tall, "another shape"},
		"no face":     {Shot{Name: "photograph 20", Taken: noon.Add(20 * time.Minute)}, "not marked"},
		"wrong marks": {w.shotOf(20, misplaced(3.2, 1.8, 0), nil, 0.5, rng), "Mark the corners again"},
	} {
		s, err := Run([]Shot{w.shotOf(0, still, nil, 0.5, rng), w.shotOf(10, still, nil, 0.5, rng), c.shot}, faceSize)
		if err != nil {
			t.Fatal(name, err)
		}
		p := s.Photos[2]
		if studio.ProblemIn(p.Problem) == nil || !strings.Contains(p.Problem.Error(), c.says) {
			t.Errorf("%s: %v (match %.2f, shift %.2f)", name, p.Problem, p.Match, p.ShiftMM)
		}
		if s.Portrait(2, 100) != nil {
			t.Errorf("%s: it has a portrait all the same", name)
		}
	}
	if _, err := Run([]Shot{w.shotOf(0, still, nil, 0.5, rng)}, faceSize); studio.ProblemIn(err) == nil {
		t.Errorf("one photograph is a series: %v", err)
	}
}

// A face drawn as a camera sees it, with the corners marked beside the truth.
func TestDrawnFaceIsFoundThoughItsCornersAreOff(t *testing.T) {
	truth, ok := demo.TruthOf(3, studio.Front, studio.Finished)
	if !ok {
		t.Fatal("the drawn face is gone")
	}
	var shots []Shot
	for i, off := range []studio.Point{{}, {X: 6, Y: -5}} { // pixels, of about 8.5 a mm
		d := demo.Shot{Number: 3, Face: studio.Front, Look: truth.Look, WidthMM: 60, HeightMM: 40, Taken: noon, Light: demo.Light{Cast: [3]float64{1, 1, 1}, Exposure: 0.9 + 0.1*float64(i)}, Piece: 5, Chance: uint64(i + 1)}
		img, err := picture.Decode(demo.Render(d))
		if err != nil {
			t.Fatal(err)
		}
		marks := d.Marks()
		for k := range marks.Corners {
			marks.Corners[k].X += off.X
			marks.Corners[k].Y += off.Y
		}
		f, err := measure.Straighten(img, marks, faceSize, Places, measure.Under{})
		if err != nil {
			t.Fatal(err)
		}
		shots = append(shots, Shot{Name: "drawn", Taken: noon.Add(time.Duration(i) * time.Hour), Face: f})
		if i == 1 {
			side := math.Hypot(marks.Corners[1].X-marks.Corners[0].X, marks.Corners[1].Y-marks.Corners[0].Y) / 60
			ex := [2]float64{(marks.Corners[1].X - marks.Corners[0].X) / (60 * side), (marks.Corners[1].Y - marks.Corners[0].Y) / (60 * side)}
			across, down := -(off.X*ex[0]+off.Y*ex[1])/side, -(off.Y*ex[0]-off.X*ex[1])/side
			s, err := Run(shots, faceSize)
			if err != nil {
				t.Fatal(err)
			}
			x, y := s.Photos[1].move.to(0.5, 0.5)
			if got := math.Hypot(60*(x-0.5)-across, 40*(y-0.5)-down); got > 0.2 || s.Photos[1].Placed != "pattern" {
				t.Errorf("the middle is off by %.2f mm (placed by %s, match %.2f)", got, s.Photos[1].Placed, s.Photos[1].Match)
			}
			if s.First.Seen {
				t.Errorf("nothing changed, but: %+v", s.First)
			}
			for i := range s.Photos {
				c, err := jpeg.DecodeConfig(bytes.NewReader(s.Portrait(i, 200)))
				if err != nil || c.Width != 200 {
					t.Errorf("portrait %d: %v, %v", i, c, err)
				}
			}
		}
	}
}

func BenchmarkSixPhotographs(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 7))
	w := newWorld(1)
	var shots []Shot
	for m := range 6 {
		shots = append(shots, w.shotOf(10*m, misplaced(0.3, 0.2, 0.2), spot(10*m), 1, rng))
	}
	for b.Loop() {
		if _, err := Run(shots, faceSize); err != nil {
			b.Fatal(err)
		}
	}
}
