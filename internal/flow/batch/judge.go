package batch

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"aerugo/internal/flow/learn"
	"aerugo/internal/science/colour"
)

// Advice is what a photograph says of a piece. A person decides.
type Advice string

// What a photograph can say.
const (
	Accept Advice = "accept"
	Look   Advice = "look yourself"
	Reject Advice = "reject"
)

// A Finding is one aspect of a face against its reference, in the units of [Limit].
// Off and Error are the difference, as an amount, and how far it may be wrong.
type Finding struct {
	Aspect     learn.Aspect
	Off, Error float64
	Limit      Limit
	Advice     Advice
	Words      string
}

// An Answer is what the photograph says of one face, the worst finding first said.
type Answer struct {
	Advice   Advice
	Words    string
	Findings []Finding
}

// Judge holds a face against its reference. photoError is half the 95 % interval of
// their ΔE00: small when both lie on one mat in one photograph, [learn.PhotoHigh] for
// two photographs with a grey card. An aspect that either photograph lacks is left out.
//
// A face is accepted when it lies within every limit and no photograph's error is as
// wide as the limit; it is rejected when it lies beyond one by more than the error.
// Texture and pooling change with the light by an amount nobody measured, so they
// never reject by themselves.
func Judge(face, reference Face, photoError float64, limits Limits) Answer {
	out := Answer{Advice: Accept}
	var worst []string
	for _, l := range limits.All {
		f, ok := find(l, face, reference, photoError)
		if !ok {
			continue
		}
		switch {
		case f.Off-f.Error > l.Max && f.Aspect != learn.OfTexture && f.Aspect != learn.OfPooling:
			f.Advice = Reject
		case f.Off > l.Max:
			f.Advice = Look
			if f.Error > 0 {
				f.Words += " The photographs can be wrong by that much."
			}
		case f.Error > l.Max:
			f.Advice = Look
			f.Words += fmt.Sprintf(" The photographs may be wrong by %s, more than that.", amount(f.Aspect, f.Error))
		default:
			f.Advice = Accept
		}
		out.Findings = append(out.Findings, f)
		if rank(f.Advice) > rank(out.Advice) {
			out.Advice, worst = f.Advice, nil
		}
		if f.Advice == out.Advice && f.Advice != Accept {
			worst = append(worst, f.Words)
		}
	}
	switch {
	case len(out.Findings) == 0:
		out.Advice, out.Words = Look, "Nothing of it can be held against the reference."
	case out.Advice == Accept:
		out.Words = "Like the reference, as far as the photographs can tell. " + out.Findings[0].Words
	default:
		out.Words = strings.Join(worst, " ")
	}
	return out
}

func rank(a Advice) int { return map[Advice]int{Accept: 0, Look: 1, Reject: 2}[a] }

func find(l Limit, face, ref Face, photoError float64) (Finding, bool) {
	f := Finding{Aspect: l.Aspect, Limit: l}
	by := ""
	scalar := func(a, b *float64, more, less string) bool {
		if a == nil || b == nil {
			return false
		}
		f.Off = math.Abs(*a - *b)
		by = more
		if *a < *b {
			by = less
		}
		return true
	}
	ok := true
	switch l.Aspect {
	case learn.OfColour:
		f.Off, f.Error = colour.Difference(ref.Lab, face.Lab), photoError
		by = learn.Direction(ref.Lab, face.Lab)
	case learn.OfCoverage:
		ok = scalar(face.Coverage, ref.Coverage, "more covered", "less covered")
		f.Error = math.Hypot(face.CoverageError, ref.CoverageError)
	case learn.OfTexture:
		ok = scalar(face.Mottle, ref.Mottle, "more mottled", "more even")
	case learn.OfPooling:
		ok = scalar(face.Edge, ref.Edge, "stronger at the edges", "weaker at the edges")
	}
	off, most := amount(l.Aspect, f.Off), amount(l.Aspect, l.Max)
	switch {
	case by == "" && l.Assumed:
		f.Words = fmt.Sprintf("Differs from the reference by %s, assumed to be let pass are %s.", off, most)
	case by == "":
		f.Words = fmt.Sprintf("Differs from the reference by %s, the spread of this recipe is %s.", off, most)
	case l.Assumed:
		f.Words = fmt.Sprintf("%s than the reference by %s, assumed to be let pass are %s.", capital(by), off, most)
	default:
		f.Words = fmt.Sprintf("%s than the reference by %s, the spread of this recipe is %s.", capital(by), off, most)
	}
	return f, ok
}

// amount writes a difference in one aspect for people.
func amount(a learn.Aspect, v float64) string {
	switch a {
	case learn.OfCoverage:
		return strconv.FormatFloat(100*v, 'f', 0, 64) + " %"
	case learn.OfTexture:
		return strconv.FormatFloat(v, 'f', 1, 64) + " L*"
	case learn.OfPooling:
		return "a factor of " + strconv.FormatFloat(math.Exp(v), 'f', 1, 64)
	}
	return strconv.FormatFloat(v, 'f', 1, 64)
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
