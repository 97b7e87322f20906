package colour

import (
	_ "embed"
	"fmt"
	"math"
	"strconv"
	"strings"
	"sync"
)

//go:embed data/centroids.tsv
var centroidText string

// centroid stands for one of the 267 blocks of the ISCC-NBS method.
type centroid struct {
	number        int
	name, munsell string
	lab           Lab
}

var centroids = sync.OnceValue(func() []centroid {
	var all []centroid
	for line := range strings.Lines(centroidText) {
		field := strings.Split(strings.TrimSpace(line), "\t")
		if strings.HasPrefix(line, "#") || field[0] == "number" {
			continue
		}
		c, err := readCentroid(field)
		if err != nil {
			panic(fmt.Sprintf("colour: data/centroids.tsv: %q: %v", line, err))
		}
		all = append(all, c)
	}
	return all
})

func readCentroid(field []string) (c centroid, err error) {
	if len(field) != 7 {
		return centroid{}, fmt.Errorf("%d fields, want 7", len(field))
	}
	if c.number, err = strconv.Atoi(field[0]); err != nil {
		return centroid{}, err
	}
	c.name, c.munsell = field[1], field[2]
	for i, v := range []*float64{&c.lab.L, &c.lab.A, &c.lab.B} {
		if *v, err = strconv.ParseFloat(field[3+i], 64); err != nil {
			return centroid{}, err
		}
	}
	return c, nil
}

// Name returns the plain name of a colour by the ISCC-NBS method, spelled out,
// such as "moderate bluish green"; empty if l is not a number.
//
// Source: Kelly and Judd, NBS Special Publication 440, 1976, with the centroids of
// Kelly 1958. The method cuts the Munsell solid into 267 blocks; here the block is
// the one whose centroid is nearest by CIEDE2000, so that near the wall between two
// blocks the neighbour's name may come out. The method is for daylight of
// illuminant C; the centroids are adapted to D50.
func Name(l Lab) string {
	nearest, least := "", math.Inf(1)
	for _, c := range centroids() {
		if d := Difference(notBelowBlack(l), notBelowBlack(c.lab)); d < least {
			nearest, least = c.name, d
		}
	}
	return nearest
}

// blackL is the lightness of the centroid of black, Munsell N 1.25. The blocks of
// the blacks all reach down to lightness 0 although their centroids differ by 5, so
// below blackL only hue and chroma tell them apart.
const blackL = 12.9

func notBelowBlack(l Lab) Lab {
	l.L = max(l.L, blackL)
	return l
}

// Family returns the last word of the colour's name, by which swatches are
// grouped: pink, red, orange, brown, yellow, olive, green, blue, violet, purple,
// white, grey or black.
func Family(l Lab) string {
	name := Name(l)
	return name[strings.LastIndexByte(name, ' ')+1:]
}
