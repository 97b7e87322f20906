package colour

import (
	"math"

	"aerugo/internal/science"
)

// The published methods behind the numbers of this package.
const (
	SourceLab        science.Ref = "iso-cie-11664-4-2019" // CIELAB
	SourceDifference science.Ref = "sharma-2005"          // Difference
	SourceName       science.Ref = "nbs-sp440-1976"       // Name
	SourceCentroids  science.Ref = "kelly-1958"           // the centroids Name was checked with
	SourceSRGB       science.Ref = "iec-61966-2-1-1999"   // SRGB
	SourceProfile    science.Ref = "icc-1-2022"           // ParseICC, D50 and the Bradford matrix
)

// DifferenceTerms holds the steps of the CIEDE2000 formula, named as in the
// source: primes as P, angles in degrees.
type DifferenceTerms struct {
	A1P, C1P, H1P, A2P, C2P, H2P float64
	HMean, G, T, SL, SC, SH, RT  float64
	DE                           float64
}

// Difference returns the CIEDE2000 colour difference of a and b with
// kL = kC = kH = 1. It is 0 for equal colours, the same both ways, and about 1
// for the smallest difference that is plain side by side. It was fitted to
// differences below about 5 under D65; larger ones only rank.
//
// Source: Sharma, Wu and Dalal 2005, whose 34 pairs it meets to 4 decimals.
func Difference(a, b Lab) float64 { return Terms(a, b).DE }

// Difference76 returns the CIE 1976 difference, the distance in Lab.
func Difference76(a, b Lab) float64 {
	return math.Sqrt((a.L-b.L)*(a.L-b.L) + (a.A-b.A)*(a.A-b.A) + (a.B-b.B)*(a.B-b.B))
}

// pow25of7 is 25 to the 7th power.
const pow25of7 = 6103515625

// Terms returns the CIEDE2000 difference of a and b with its steps.
func Terms(a, b Lab) DifferenceTerms {
	var t DifferenceTerms
	t.G = 0.5 * (1 - math.Sqrt(share7((a.Chroma()+b.Chroma())/2)))
	t.A1P, t.A2P = (1+t.G)*a.A, (1+t.G)*b.A
	t.C1P, t.C2P = math.Hypot(t.A1P, a.B), math.Hypot(t.A2P, b.B)
	t.H1P, t.H2P = hueDegrees(a.B, t.A1P), hueDegrees(b.B, t.A2P)

	// A colour without chroma has no hue: the hue difference is then zero and the
	// mean hue is that of the other colour.
	turn := 0.0
	t.HMean = t.H1P + t.H2P
	if t.C1P*t.C2P != 0 {
		turn = t.H2P - t.H1P
		t.HMean /= 2
		// Hues exactly 180 degrees apart, as in pair 10 of the source (a* and b* of
		// opposite sign), have two equally good means, and rounding must not choose
		// between them: the source takes the plain mean, so a turn within rounding of
		// 180 counts as not more than 180.
		if math.Abs(turn) > 180+1e-9 {
			turn -= math.Copysign(360, turn)
			if t.HMean < 180 {
				t.HMean += 180
			} else {
				t.HMean -= 180
			}
		}
	}
	dL, dC := b.L-a.L, t.C2P-t.C1P
	dH := 2 * math.Sqrt(t.C1P*t.C2P) * math.Sin(radians(turn)/2)

	t.T = 1 - 0.17*math.Cos(radians(t.HMean-30)) + 0.24*math.Cos(radians(2*t.HMean)) +
		0.32*math.Cos(radians(3*t.HMean+6)) - 0.20*math.Cos(radians(4*t.HMean-63))
	off := (a.L+b.L)/2 - 50
	cMean := (t.C1P + t.C2P) / 2
	t.SL = 1 + 0.015*off*off/math.Sqrt(20+off*off)
	t.SC = 1 + 0.045*cMean
	t.SH = 1 + 0.015*cMean*t.T
	blue := (t.HMean - 275) / 25
	t.RT = -2 * math.Sqrt(share7(cMean)) * math.Sin(radians(60*math.Exp(-blue*blue)))

	l, c, h := dL/t.SL, dC/t.SC, dH/t.SH
	t.DE = math.Sqrt(max(0, l*l+c*c+h*h+t.RT*c*h)) // never below 0 but for rounding
	return t
}

// share7 is c⁷/(c⁷+25⁷), written so that no chroma overflows.
func share7(c float64) float64 {
	if c > 1e6 {
		return 1
	}
	c2 := c * c
	c7 := c2 * c2 * c2 * c
	return c7 / (c7 + pow25of7)
}

func radians(degrees float64) float64 { return degrees * (math.Pi / 180) }
