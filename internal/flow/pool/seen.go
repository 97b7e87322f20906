package pool

import (
	"fmt"
	"math"

	"aerugo/internal/science/film"
	"aerugo/internal/studio"
)

// Bounds from which on the numbers of one photograph say something; ours, no
// source. Off is a share of half the face, the edges are edge ratios.
const (
	offCentre = 0.10
	edgeRich  = 1.25
	edgePoor  = 0.80
	someSpots = 3
	// byChance over the root of their number is how far off centre, as a share of
	// half the face, the middle of islands strewn at random lies in one case of
	// twenty: 2.45, Rayleigh's, times 1/sqrt(3), the deviation of one place.
	byChance = 1.41
	// onePool is the share of the largest island from which it is one pool.
	onePool = 0.6
	// along is how near in degrees the deposit must lie to the low side to fit the
	// tilt, and how near to the high side to speak against it.
	along = 45.0
)

// CantTell says that the numbers fit more than one cause.
const CantTell = "can't tell"

// A Shown is what a photograph shows of one face, with what is known of how it
// lay. LowDeg is the side that lay lowest, in the piece's own frame (0 right, 90
// top, anticlockwise), nil when nobody said. Level says that it lay level.
type Shown struct {
	Pooling  studio.Pooling
	WidthMM  float64
	HeightMM float64
	Covered  float64 // share that is no longer bare; 0 when not known
	LowDeg   *float64
	Level    bool
	Lay      *Lay // what was put on; nil when not known
}

// A Verdict is the cause that the numbers of a photograph fit. Cause is one of
// package film's, or [CantTell]; Side says in words where the deposit lies, empty
// in the middle. Turn says that turning the piece would tell.
type Verdict struct {
	Cause string
	Short string
	Why   []string
	Side  string
	Turn  bool
	Do    []film.Advice
}

// sideNames go anticlockwise from the right.
var sideNames = [8]string{"the right", "the upper right", "the top", "the upper left", "the left", "the lower left", "the bottom", "the lower right"}

// SideName names the side that lies in a direction in degrees, 0 right, 90 top.
func SideName(deg float64) string {
	n := int(math.Round(deg/45)) % 8
	return sideNames[(n+8)%8]
}

// apart is the angle between two directions, 0 to 180 degrees.
func apart(a, b float64) float64 {
	d := math.Mod(math.Abs(a-b), 360)
	return min(d, 360-d)
}

// alike is how many islands of one size would be as uneven as these: with the
// share of the largest, the rest taken as alike. It is 0 when the largest is as
// good as all of it, a pool with crumbs.
func (s Shown) alike() float64 {
	n := float64(s.Pooling.Islands)
	all := s.Covered * s.WidthMM * s.HeightMM
	if all <= 0 {
		return n
	}
	most := min(1, max(1/n, math.Pi/4*s.Pooling.LargestMM*s.Pooling.LargestMM/all))
	if most >= onePool {
		return 0
	}
	return 1 / (most*most + (1-most)*(1-most)/(n-1))
}

// Read says which cause the numbers of a photograph fit: direction against the
// low side, edge ratio, and islands. They see where the deposit lies, not the
// liquid, so that salt strewn unevenly can look the same.
func Read(s Shown) Verdict {
	p := s.Pooling
	v := Verdict{Cause: film.Neither, Short: "No pooling to speak of"}
	why := func(format string, args ...any) { v.Why = append(v.Why, fmt.Sprintf(format, args...)) }
	do := func(source, text string) { v.Do = append(v.Do, film.Advice{Text: text, Source: source}) }
	spots := p.Islands >= someSpots && s.Covered < 0.9
	off := p.Offset >= offCentre
	if spots {
		if n := s.alike(); n > 0 {
			off = p.Offset >= max(offCentre, byChance/math.Sqrt(n))
		}
	}
	switch {
	case off:
		v.Side = SideName(p.OffsetDeg)
		why("its middle lies %.0f %% of the way from the centre to %s", 100*p.Offset, v.Side)
		s.sided(&v, why)
	case spots:
		v.Cause, v.Short = film.Cohesion, "It fits beading: islands all over"
		why("%d islands, the largest as wide as a disc of %.1f mm, favour no side more than chance would", p.Islands, p.LargestMM)
	case p.EdgeRatio >= edgeRich:
		v.Cause, v.Short = film.Cohesion, "It fits liquid held by the edges"
		why("the outer fifth holds %.2g times what the rest does, all round", p.EdgeRatio)
	case p.EdgeRatio <= edgePoor:
		v.Cause, v.Short = film.Cohesion, "It fits liquid drawn together in the middle"
		why("the outer fifth holds only %.2g times what the rest does, all round", p.EdgeRatio)
	default:
		why("its middle lies within %.0f %% of the centre, the outer fifth holds %.2g times what the rest does", 100*max(p.Offset, 0.01), p.EdgeRatio)
	}
	if off && spots {
		why("it lies in %d islands, which beading makes", p.Islands)
	}
	switch v.Cause {
	case film.Gravity:
		text := "Level the place it lies in; a sheet of paper under one side already matters."
		if s.Lay != nil && s.Lay.LevelDeg > 0 {
			text = fmt.Sprintf("Level it to within %.1f°: one end no more than %.1f mm above the other.", s.Lay.LevelDeg, s.Lay.RiseMM)
		}
		do("derived: L tan(tilt) against the puddle height (de Gennes, Brochard-Wyart and Quéré 2004)", text)
		do(film.Practice, "Put less liquid on it, and turn it half round midway.")
	case film.Cohesion:
		do("ASTM F22, water-break test", "Degrease until a sheet of rinse water stays whole for a minute; no finger on the face afterwards.")
		if p.EdgeRatio >= edgeRich && !spots {
			do("Deegan and others 1997", "Blot the rim before it dries: a pool that dries where it stands leaves most of what it holds there.")
		} else {
			do(film.Practice, "Brush it out while wet, and again when it draws back.")
		}
		do(film.Practice, "Less liquid at a time: several thin coats, each dry before the next.")
	case CantTell:
		do(film.Practice, "Next time turn the piece half round where it lies, while it is wet, and photograph it before and after: the two tell tilt from beading.")
	}
	if p.Of != "coverage" {
		why("it was read from darkness, since no bare metal was known; coverage would be surer")
	}
	return v
}

// sided compares a deposit that lies to one side with the side that lay low.
func (s Shown) sided(v *Verdict, why func(string, ...any)) {
	switch {
	case s.Level:
		v.Cause, v.Short = film.Cohesion, "It lies to "+v.Side+", and the tilt is ruled out"
		why("it lay level, so the metal holds it there: a greasy patch opposite, an edge, or liquid put on unevenly")
	case s.LowDeg == nil:
		v.Cause, v.Short, v.Turn = CantTell, "It lies to "+v.Side+", by tilt or by beading", true
		why("a tilt would do that, and so would grease on the other side; say which side lay low, or turn the piece")
	default:
		switch d := apart(s.Pooling.OffsetDeg, *s.LowDeg); {
		case d <= along:
			v.Cause, v.Short, v.Turn = film.Gravity, "It fits the tilt", true
			why("%s lay low", SideName(*s.LowDeg))
		case d >= 180-along:
			v.Cause, v.Short = film.Cohesion, "Not the tilt: it lies on the high side"
			why("%s lay low, and liquid does not run uphill: the metal holds it", SideName(*s.LowDeg))
		default:
			v.Cause, v.Short, v.Turn = CantTell, "It lies across the slope", true
			why("%s lay low, and it lies %.0f° from that: the tilt alone does not do it", SideName(*s.LowDeg), d)
		}
	}
}
