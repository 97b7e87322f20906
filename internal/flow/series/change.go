package series

import (
	"fmt"
	"math"
	"slices"

	"aerugo/internal/science/colour"
)

// compare says what changed since the first photograph of each kind.
func (s *Series) compare() {
	ref := s.reference()
	long := float64(max(s.crop.Dx(), s.crop.Dy()))
	w := max(1, int(math.Round(partsAlong*float64(s.crop.Dx())/long)))
	h := max(1, int(math.Round(partsAlong*float64(s.crop.Dy())/long)))
	s.Map = Map{W: w, H: h, At: make([]int, w*h)}
	for i := range s.Map.At {
		s.Map.At[i] = -1
	}
	if s.size.WidthMM > 0 {
		s.Map.PartMM = s.size.WidthMM * float64(s.crop.Dx()) / float64(ref.W) / float64(w)
	}
	parts := map[int][]part{}
	for _, i := range s.good() {
		parts[i] = s.parts(&s.Photos[i], w, h)
	}
	first := map[int]bool{}
	for _, lid := range []bool{false, true} {
		var kind []int
		for _, i := range s.good() {
			if s.Photos[i].ThroughLid == lid {
				kind = append(kind, i)
			}
		}
		if len(kind) > 0 {
			for _, i := range s.follow(kind, parts) {
				first[i] = true
			}
		}
	}
	s.onset(first)
	s.Rule = fmt.Sprintf("A part of the face counts as changed when it differs from the first photograph of its kind by more than the light (1 to %g ΔE00, by the first two photographs; %g without a grey card) and %.1f times the usual noise can do; a photograph shows change when %.0f %% of the face has and the next one agrees. Photographs through the lid are compared with each other only.", lightGrey, lightNone, noiseTimes, 100*changedShare)
}

// part is the mean of a part of the face.
type part struct {
	lab colour.Lab
	ok  bool
}

// parts cuts a photograph into w x h parts of the reference's crop, and takes
// its mean colour on the way.
func (s *Series) parts(p *Photo, w, h int) []part {
	ref := s.reference()
	sum, n := make([]colour.XYZ, w*h), make([]float64, w*h)
	size := make([]float64, w*h)
	var all colour.XYZ
	var count float64
	for y := s.crop.Min.Y; y < s.crop.Max.Y; y++ {
		for x := s.crop.Min.X; x < s.crop.Max.X; x++ {
			k := (y-s.crop.Min.Y)*h/s.crop.Dy()*w + (x-s.crop.Min.X)*w/s.crop.Dx()
			size[k]++
			c, ok := p.at((float64(x)+0.5)/float64(ref.W), (float64(y)+0.5)/float64(ref.H))
			if !ok {
				continue
			}
			sum[k].X, sum[k].Y, sum[k].Z, n[k] = sum[k].X+c.X, sum[k].Y+c.Y, sum[k].Z+c.Z, n[k]+1
			all.X, all.Y, all.Z, count = all.X+c.X, all.Y+c.Y, all.Z+c.Z, count+1
		}
	}
	out := make([]part, w*h)
	for k := range out {
		if n[k] > 0 && 2*n[k] >= size[k] {
			out[k] = part{colour.XYZ{X: sum[k].X / n[k], Y: sum[k].Y / n[k], Z: sum[k].Z / n[k]}.Lab(colour.D50), true}
		}
	}
	if count > 0 {
		p.Lab = colour.XYZ{X: all.X / count, Y: all.Y / count, Z: all.Z / count}.Lab(colour.D50)
	}
	return out
}

// apart is how two photographs differ: by the shift that the middle part has, and
// by the median dE00 that is left of the parts once that is taken out.
func apart(a, b []part) (light, noise float64) {
	var d [3][]float64
	for k := range a {
		if a[k].ok && b[k].ok {
			d[0] = append(d[0], b[k].lab.L-a[k].lab.L)
			d[1] = append(d[1], b[k].lab.A-a[k].lab.A)
			d[2] = append(d[2], b[k].lab.B-a[k].lab.B)
		}
	}
	if len(d[0]) == 0 {
		return 0, 0
	}
	m := [3]float64{median(d[0]), median(d[1]), median(d[2])}
	var lights, rest []float64
	for k := range a {
		if a[k].ok && b[k].ok {
			moved := colour.Lab{L: a[k].lab.L + m[0], A: a[k].lab.A + m[1], B: a[k].lab.B + m[2]}
			lights = append(lights, colour.Difference(a[k].lab, moved))
			rest = append(rest, colour.Difference(moved, b[k].lab))
		}
	}
	return median(lights), median(rest)
}

func median(v []float64) float64 {
	v = slices.Clone(v)
	slices.Sort(v)
	if n := len(v); n%2 == 0 {
		return (v[n/2-1] + v[n/2]) / 2
	}
	return v[len(v)/2]
}

// follow compares the photographs of one kind, and returns those that show change.
func (s *Series) follow(kind []int, parts map[int][]part) (changed []int) {
	s.Photos[kind[0]].First = true
	if len(kind) < 2 {
		return nil
	}
	light, noise := apart(parts[kind[0]], parts[kind[1]])
	for j := 2; j < len(kind); j++ {
		_, n := apart(parts[kind[j-1]], parts[kind[j]])
		noise = min(noise, n)
	}
	light = max(lightLeast, min(lightGrey, 2*light))
	if len(kind) == 2 {
		light = lightGrey
	}
	for _, i := range kind {
		if !s.Photos[i].face.Calibrated {
			light = lightNone
		}
	}
	floor := light + noiseTimes*noise
	base := parts[kind[0]]
	differs := func(i, k int) bool {
		return base[k].ok && parts[i][k].ok && colour.Difference(base[k].lab, parts[i][k].lab) > floor
	}
	for j, i := range kind {
		p := &s.Photos[i]
		p.Floor = floor
		if j == 0 {
			continue
		}
		seen, hits := 0, 0
		for k := range base {
			if base[k].ok && parts[i][k].ok {
				seen++
				if differs(i, k) {
					hits++
				}
			}
		}
		if seen > 0 {
			p.Changed = float64(hits) / float64(seen)
		}
		allow := func(d, over float64) Range {
			return Range{d / over, math.Max(0, d-light) / over, (d + light) / over}
		}
		p.FromFirst = allow(colour.Difference(s.Photos[kind[0]].Lab, p.Lab), 1)
		last := s.Photos[kind[j-1]]
		if hours := p.Taken.Sub(last.Taken).Hours(); hours > 0 {
			r := allow(colour.Difference(last.Lab, p.Lab), hours)
			p.PerHour = &r
		}
	}
	for j := 1; j < len(kind); j++ {
		if s.Photos[kind[j]].Changed >= changedShare && (j+1 == len(kind) || s.Photos[kind[j+1]].Changed >= changedShare) {
			changed = append(changed, kind[j])
			for k := range base {
				lasts := j+1 == len(kind) || differs(kind[j+1], k)
				if at := s.Map.At[k]; differs(kind[j], k) && lasts && (at < 0 || at > kind[j]) {
					s.Map.At[k] = kind[j]
				}
			}
		}
	}
	return changed
}

// onset finds the first photograph with change and the last of its kind before.
func (s *Series) onset(changed map[int]bool) {
	good := s.good()
	for _, i := range good {
		if !changed[i] {
			continue
		}
		s.First.Seen, s.First.With, s.First.Changed = true, s.Photos[i].Taken, i
		for _, j := range good {
			if j < i && s.Photos[j].ThroughLid == s.Photos[i].ThroughLid && !changed[j] {
				s.First.Without, s.First.LastPlain = s.Photos[j].Taken, j
			}
		}
		return
	}
	last := good[len(good)-1]
	s.First.Without, s.First.LastPlain = s.Photos[last].Taken, last
}
