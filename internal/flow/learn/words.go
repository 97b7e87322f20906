package learn

import (
	"math"
	"sort"
	"strings"

	"aerugo/internal/science/colour"
)

// Direction says in words how the look to differs from the look from: "bluer
// and darker". Smaller parts than 1 CIELAB unit, and parts of the hue below a
// third of its main one, are not named. It is empty when nothing is left.
//
// a* falling is greener, b* falling bluer; a move towards the neutral axis is
// greyer if it keeps its hue or ends near grey, one straight away from it more vivid.
func Direction(from, to colour.Lab) string {
	const least, share, straight, grey, sameHue = 1.0, 1.0 / 3, 0.85, 5.0, 40.0
	type part struct {
		size float64
		word string
	}
	var parts []part
	add := func(v, floor float64, up, down string) {
		switch {
		case v >= floor:
			parts = append(parts, part{v, up})
		case -v >= floor:
			parts = append(parts, part{-v, down})
		}
	}
	da, db := to.A-from.A, to.B-from.B
	move, chroma := math.Hypot(da, db), from.Chroma()
	cos := 0.0
	if move > 0 && chroma > 0 {
		cos = (da*from.A + db*from.B) / (move * chroma)
	}
	switch {
	case move >= least && chroma >= grey && cos < -straight && to.Chroma() < chroma && (to.Chroma() < grey || turned(from, to) < sameHue):
		parts = append(parts, part{move, "greyer"})
	case move >= least && chroma >= 5 && cos > straight:
		parts = append(parts, part{move, "more vivid"})
	default:
		floor := max(least, share*max(math.Abs(da), math.Abs(db)))
		add(da, floor, "redder", "greener")
		add(db, floor, "yellower", "bluer")
	}
	add(to.L-from.L, least, "lighter", "darker")
	sort.SliceStable(parts, func(i, j int) bool { return parts[i].size > parts[j].size })
	var words []string
	for _, p := range parts {
		words = append(words, p.word)
	}
	return join(words)
}

// turned returns how far apart two hues are, in degrees from 0 to 180.
func turned(a, b colour.Lab) float64 {
	d := math.Abs(a.Hue() - b.Hue())
	return math.Min(d, 360-d)
}

// join writes a list: "a", "a and b", "a, b and c".
func join(words []string) string {
	if n := len(words); n > 1 {
		return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
	}
	return strings.Join(words, "")
}

// upper returns s with its first letter raised, if that is a plain letter.
func upper(s string) string {
	if s != "" && s[0] >= 'a' && s[0] <= 'z' {
		return string(s[0]-'a'+'A') + s[1:]
	}
	return s
}
