// Package series follows one face through photographs of it: it lays them on
// each other, and says how far the face has changed, where, and since when.
//
// Each photograph is placed by its corners and then by the pattern on the face,
// against the photograph before it (see [Photo.Placed]). Photographs through the
// chamber's lid are compared only with others through the lid: what a lid does to
// colours can't be told from what the face does, so no offset is guessed.
package series

import (
	"fmt"
	"image"
	"math"
	"slices"
	"sort"
	"time"

	"aerugo/internal/flow/measure"
	"aerugo/internal/picture"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// Places is how many places a straightened face needs along its long side: 0.2 mm
// each on a face of 50 mm.
const Places = 256

// A Shot is one photograph of the face, straightened.
type Shot struct {
	Name       string // in words, for what is said about it
	Taken      time.Time
	ThroughLid bool
	Face       measure.Straight
	Coverage   *studio.Coverage // nil where it was not measured
}

// A Range is a value that can be as low as Low and as high as High.
type Range struct{ Value, Low, High float64 }

// A Photo is what the series says of one photograph.
type Photo struct {
	Name       string
	Taken      time.Time
	ThroughLid bool
	Problem    error   // a *studio.Problem: why it can't be laid on the others; all below is then empty
	Placed     string  // "pattern", or "corners" where the face has too little pattern in common with the photograph before
	Match      float64 // correlation (-1 to 1) of its pattern with that of the photograph before; 0 for the first
	ShiftMM    float64 // how far the pattern moved a corner at most from where the marks had it; 0 when the real size is not known
	Lab        colour.Lab
	Coverage   *studio.Coverage
	First      bool    // the first of its kind, to which the others are compared
	FromFirst  Range   // dE00 of the mean colour from the first of its kind
	Changed    float64 // share of the face, 0 to 1, that differs from the first of its kind by more than Floor
	Floor      float64 // dE00 that no more than one place in a thousand would reach by noise
	PerHour    *Range  // dE00 per hour since the photograph of its kind before; nil for the first, or at the same time

	move affine // from the reference's face to this one's
	face measure.Straight
}

// A Change is when the face was first seen changed.
type Change struct {
	Seen      bool
	Without   time.Time // the last photograph of its kind without change; with Seen false, the last of all
	With      time.Time // the first with it
	LastPlain int       // their places in Photos
	Changed   int
}

// A Map says, for parts of the face of about PartMM, which photograph first shows
// them changed: its place in Photos, or -1.
type Map struct {
	W, H   int
	PartMM float64 // 0 when the real size is not known
	At     []int
}

// A Series is one face through time, in order of time.
type Series struct {
	Photos []Photo
	First  Change
	Map    Map
	Rule   string // how change was told from noise, in words
	size   measure.Size
	crop   image.Rectangle // of the reference, in places
}

// Constants of the rules, from renderings and from GreyError's measured range.
const (
	partsAlong   = 24   // parts along the long side
	noiseTimes   = 4.9  // 99.9 % of normal noise, as a multiple of its median size: 3.29 / 0.674
	changedShare = 0.02 // share of the parts from which a photograph counts as changed
	lightLeast   = 1.0  // dE00 allowed for the light at least
	lightGrey    = 5.0  // with a grey card or target: the middle of measure.GreyError's range
	lightNone    = 14.0 // without: the upper end of what uncalibrated photographs differ by
	matchSure    = 0.6
	matchLeast   = 0.6  // correlation from which a pattern places a photograph, and from which nobody doubts it
	shiftMost    = 0.06 // of a side: more than careless marks
	turnedMore   = 0.15 // by how much a turned face must fit better
	shapeMost    = 1.08 // ratio of two aspects
)

// Run lays the photographs on each other and compares them. size is the face's
// real size; zero leaves out lengths. Two photographs or more that can be laid
// on each other are needed; errors are *studio.Problem. A single photograph
// that can't be aligned has its Problem, and the others go on without it.
//
// Change is told from noise so: the face is cut in parts, and a part has changed
// when it is farther from the first photograph of its kind (dE00) than Floor,
// which is what the light is allowed (twice the difference of the first two
// photographs' middle part, between 1 and 5; 5 with two photographs only; 14
// where one has no grey card) plus 4.9 times the median difference left between
// parts of the quietest two neighbouring photographs. A photograph shows change
// when 2 % of the parts or more have changed and the next one shows it too.
func Run(shots []Shot, size measure.Size) (Series, error) {
	if len(shots) < 2 {
		return Series{}, studio.Problemf(studio.Invalid, "photo", "A series needs two photographs or more of the face; there are %d.", len(shots))
	}
	shots = slices.Clone(shots)
	sort.SliceStable(shots, func(i, j int) bool { return shots[i].Taken.Before(shots[j].Taken) })
	s := Series{size: size}
	for _, x := range shots {
		s.Photos = append(s.Photos, Photo{Name: x.Name, Taken: x.Taken, ThroughLid: x.ThroughLid, Coverage: x.Coverage, face: x.Face})
	}
	if err := s.align(); err != nil {
		return Series{}, err
	}
	s.compare()
	return s, nil
}

// good returns the places in Photos of those that were aligned.
func (s *Series) good() (out []int) {
	for i, p := range s.Photos {
		if p.Problem == nil {
			out = append(out, i)
		}
	}
	return out
}

// align finds each photograph's place on the reference, the first that is whole.
func (s *Series) align() error {
	type seen struct{ flat, edges plane }
	looks := make([]seen, len(s.Photos))
	before, first := -1, -1
	for i := range s.Photos {
		p := &s.Photos[i]
		if n := len(p.face.XYZ); n == 0 || n != p.face.W*p.face.H || n != len(p.face.Usable) || min(p.face.W, p.face.H) < 20 || !slices.Contains(p.face.Usable, true) {
			p.Problem = studio.Problemf(studio.Invalid, "photo", "%s can't be laid on the others: its face is not marked, or too small. Mark its four corners.", p.Name)
			continue
		}
		looks[i].flat = lightness(p.face)
		looks[i].edges = looks[i].flat.edges()
		p.move, p.Placed = still, "corners"
		if first < 0 {
			first, before = i, i
			continue
		}
		ref := s.Photos[first].face
		if r := float64(ref.W) / float64(ref.H) * float64(p.face.H) / float64(p.face.W); r > shapeMost || r < 1/shapeMost {
			p.Problem = studio.Problemf(studio.Invalid, "photo", "%s can't be laid on the others: its face has another shape (%.2f times as wide for its height). Is it the same face, with the corners in the same order?", p.Name, 1/r)
			continue
		}
		a, rho := best(looks[before], looks[i])
		other := 0.0
		if rho < matchSure {
			_, other = best(looks[before], seen{looks[i].flat.turned(), looks[i].edges.turned()})
		}
		if other > matchSure && other > rho+turnedMore {
			p.Problem = studio.Problemf(studio.Invalid, "photo", "%s can't be laid on the others: its pattern fits only when the face is turned by half. Mark its corners beginning with the face's own top left one.", p.Name)
			continue
		}
		p.Match = rho
		// the marks of the photograph before are as good a start as any pattern
		p.move = s.Photos[before].move
		if rho >= matchLeast {
			far := shift(a)
			if far > shiftMost {
				p.Problem = studio.Problemf(studio.Invalid, "photo", "%s can't be laid on the others: its pattern lies %.0f %% of the face's side away from where its corners put it. Mark the corners again.", p.Name, 100*far)
				continue
			}
			p.move, p.Placed = a.after(s.Photos[before].move), "pattern"
		} else {
			p.move = still
		}
		if long := math.Max(s.size.WidthMM, s.size.HeightMM); long > 0 {
			p.ShiftMM = shift(p.move) * long
		}
		before = i
	}
	if first < 0 || len(s.good()) < 2 {
		for _, p := range s.Photos {
			if p.Problem != nil {
				return p.Problem
			}
		}
	}
	s.Photos[first].Placed = "corners"
	ref := s.Photos[first].face
	m := max(2, int(math.Ceil(0.03*float64(max(ref.W, ref.H)))))
	s.crop = image.Rect(m, m, ref.W-m, ref.H-m)
	return nil
}

// best aligns by what is broader or by the edges, whichever fits better.
func best(ref, photo struct{ flat, edges plane }) (a affine, rho float64) {
	a, rho, ok := refine(ref.flat, photo.flat)
	if !ok {
		a, rho = still, 0
	}
	if b, r, ok := refine(ref.edges, photo.edges); ok && r > rho {
		a, rho = b, r
	}
	return a, rho
}

// shift is how far a map moves a corner at most, in sides of the face.
func shift(a affine) (far float64) {
	for _, c := range [4][2]float64{{0, 0}, {1, 0}, {1, 1}, {0, 1}} {
		x, y := a.to(c[0], c[1])
		far = math.Max(far, math.Hypot(x-c[0], y-c[1]))
	}
	return far
}

// at is the colour of the photograph at a place of the reference, from 0 to 1;
// ok is false outside what can be read.
func (p *Photo) at(u, v float64) (c colour.XYZ, ok bool) {
	u, v = p.move.to(u, v)
	x, y := u*float64(p.face.W)-0.5, v*float64(p.face.H)-0.5
	i, j := int(math.Floor(x)), int(math.Floor(y))
	if i < 0 || j < 0 || i+1 >= p.face.W || j+1 >= p.face.H {
		return c, false
	}
	fx, fy := x-float64(i), y-float64(j)
	k := j*p.face.W + i
	for _, n := range [4]struct {
		k int
		w float64
	}{{k, (1 - fx) * (1 - fy)}, {k + 1, fx * (1 - fy)}, {k + p.face.W, (1 - fx) * fy}, {k + p.face.W + 1, fx * fy}} {
		if !p.face.Usable[n.k] {
			return c, false
		}
		q := p.face.XYZ[n.k]
		c.X, c.Y, c.Z = c.X+n.w*q.X, c.Y+n.w*q.Y, c.Z+n.w*q.Z
	}
	return c, true
}

// Portrait is an aligned photograph as an sRGB JPEG, all of one series with the
// same crop and scale. i is a place in Photos; it is nil for one not aligned.
func (s Series) Portrait(i, longSide int) []byte {
	if i < 0 || i >= len(s.Photos) || s.Photos[i].Problem != nil || s.Photos[i].face.XYZ == nil {
		return nil
	}
	p, ref := &s.Photos[i], s.reference()
	w, h := s.crop.Dx(), s.crop.Dy()
	if long := max(w, h); long > longSide {
		w, h = max(1, w*longSide/long), max(1, h*longSide/long)
	}
	return picture.ScreenJPEG(w, h, colour.SRGB, func(x, y int) [3]float32 {
		u := (float64(s.crop.Min.X) + (float64(x)+0.5)*float64(s.crop.Dx())/float64(w)) / float64(ref.W)
		v := (float64(s.crop.Min.Y) + (float64(y)+0.5)*float64(s.crop.Dy())/float64(h)) / float64(ref.H)
		c, _ := p.at(u, v) // black beyond what was photographed
		r, g, b := colour.SRGB.FromXYZ(c)
		return [3]float32{float32(r), float32(g), float32(b)}
	})
}

// Forget lets go of the photographs' places, which take some MB each; Portrait
// has none to give afterwards.
func (s *Series) Forget() {
	for i := range s.Photos {
		s.Photos[i].face = measure.Straight{}
	}
}

func (s *Series) reference() measure.Straight { return s.Photos[s.good()[0]].face }

// Sentence says when change was first seen; clock writes a time.
func (s Series) Sentence(clock func(time.Time) string) string {
	if !s.First.Seen {
		return fmt.Sprintf("No change yet by %s.", clock(s.First.Without))
	}
	return fmt.Sprintf("First change seen between %s and %s.", clock(s.First.Without), clock(s.First.With))
}
