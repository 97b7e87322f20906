package print

import (
	"strconv"
	"strings"
)

// A statement is the words of a hazard code and its signal word.
type statement struct{ text, signal string }

const (
	danger  = "Danger"
	warning = "Warning"
)

// statements are the words of the hazard codes that matter's tables use: UN GHS
// (rev. 9), annex 3, and Regulation (EC) 1272/2008, annex III, English; the signal
// word is that of the gravest category a code stands for here (from memory).
var statements = map[string]statement{
	"H220": {"Extremely flammable gas.", danger}, "H221": {"Flammable gas.", warning},
	"H225": {"Highly flammable liquid and vapour.", danger}, "H226": {"Flammable liquid and vapour.", warning}, "H228": {"Flammable solid.", danger},
	"H270": {"May cause or intensify fire; oxidiser.", danger}, "H271": {"May cause fire or explosion; strong oxidiser.", danger}, "H272": {"May intensify fire; oxidiser.", danger},
	"H280": {"Contains gas under pressure; may explode if heated.", warning}, "H290": {"May be corrosive to metals.", warning},
	"H300": {"Fatal if swallowed.", danger}, "H301": {"Toxic if swallowed.", danger}, "H302": {"Harmful if swallowed.", warning},
	"H304": {"May be fatal if swallowed and enters airways.", danger},
	"H310": {"Fatal in contact with skin.", danger}, "H311": {"Toxic in contact with skin.", danger}, "H312": {"Harmful in contact with skin.", warning},
	"H314": {"Causes severe skin burns and eye damage.", danger}, "H315": {"Causes skin irritation.", warning}, "H317": {"May cause an allergic skin reaction.", warning},
	"H318": {"Causes serious eye damage.", danger}, "H319": {"Causes serious eye irritation.", warning},
	"H330": {"Fatal if inhaled.", danger}, "H331": {"Toxic if inhaled.", danger}, "H332": {"Harmful if inhaled.", warning},
	"H334": {"May cause allergy or asthma symptoms or breathing difficulties if inhaled.", danger},
	"H335": {"May cause respiratory irritation.", warning}, "H336": {"May cause drowsiness or dizziness.", warning},
	"H341": {"Suspected of causing genetic defects.", warning}, "H350": {"May cause cancer.", danger}, "H351": {"Suspected of causing cancer.", warning},
	"H360": {"May damage fertility or the unborn child.", danger}, "H360D": {"May damage the unborn child.", danger},
	"H361": {"Suspected of damaging fertility or the unborn child.", warning}, "H361d": {"Suspected of damaging the unborn child.", warning},
	"H370": {"Causes damage to organs.", danger}, "H372": {"Causes damage to organs through prolonged or repeated exposure.", danger}, "H373": {"May cause damage to organs through prolonged or repeated exposure.", warning},
	"H400": {"Very toxic to aquatic life.", warning}, "H410": {"Very toxic to aquatic life with long lasting effects.", warning},
	"H411": {"Toxic to aquatic life with long lasting effects.", ""}, "H412": {"Harmful to aquatic life with long lasting effects.", ""},
	"EUH031": {"Contact with acids liberates toxic gas.", ""}, "EUH032": {"Contact with acids liberates very toxic gas.", ""},
	"EUH066": {"Repeated exposure may cause skin dryness or cracking.", ""}, "EUH071": {"Corrosive to the respiratory tract.", ""},
}

// signalOf returns the gravest signal word of the codes, "" when they have none.
func signalOf(codes []string) string {
	word := ""
	for _, c := range codes {
		switch s := statements[c].signal; {
		case s == danger:
			return danger
		case s != "":
			word = s
		}
	}
	return word
}

// A stroke is one part of a sign: a path filled black or white.
type stroke struct {
	path  string
	white bool
}

// signs are the hazard pictograms, drawn here after the symbols of the UN GHS,
// annex 1, in a square diamond from 0 to 100. A path has M, L, C and Z as in SVG,
// and O for a disc: centre and radius.
var signs = map[string][]stroke{
	"GHS01": {{path: "O 50 46 11 M 36 24 L 42 33 L 38 35 Z M 52 18 L 55 31 L 50 31 Z M 68 26 L 63 37 L 60 34 Z M 74 44 L 63 48 L 63 44 Z M 26 42 L 37 46 L 36 50 Z M 34 64 L 41 56 L 44 60 Z M 64 66 L 57 57 L 61 54 Z M 48 74 L 48 60 L 53 60 Z"}},
	"GHS02": {
		{path: "M 51 15 C 55 29 67 35 67 51 C 67 62 60 68 50 68 C 40 68 33 62 33 51 C 33 43 38 38 40 31 C 42 37 43 40 46 40 C 50 34 49 24 51 15 Z M 35 73 L 65 73 L 65 77.5 L 35 77.5 Z"},
		{path: "M 50 45 C 52 52 58 54 58 60 C 58 65.5 54 67.5 50 67.5 C 46 67.5 42 65.5 42 60 C 42 55 47 53 50 45 Z", white: true},
	},
	"GHS03": {
		{path: "O 50 61 14.5 M 39 77.5 L 61 77.5 L 61 81 L 39 81 Z"},
		{path: "O 50 61 9.5", white: true},
		{path: "M 51 13 C 54 24 63 28 63 40 C 63 47 58 51 50 51 C 42 51 37 47 37 40 C 37 34 41 31 42.5 26 C 44 30 45 32.5 47 32.5 C 50 28 49.5 20 51 13 Z"},
		{path: "M 50 36 C 51.5 41 55 42 55 46 C 55 49 53 50.5 50 50.5 C 47 50.5 45 49 45 46 C 45 43 48 41 50 36 Z", white: true},
	},
	"GHS04": {{path: "M 25 58 C 22 55 22 50 26 48 L 59 34 C 63 32.5 66 34 67.5 36 L 73 33.5 L 75.5 39 L 70 41.5 C 70.5 44.5 70 47 66 49 L 33 63 C 29 64.5 26.5 61.5 25 58 Z"}},
	"GHS05": {
		{path: "M 26 37 L 29 31.5 L 46 38 L 44 43 Z M 74 37 L 71 31.5 L 54 38 L 56 43 Z"},
		{path: "M 45 46 C 47 49 47.5 50 46 51.5 C 44 52 43 50 45 46 Z M 45 53 C 47 56 47.5 57 46 58.5 C 44 59 43 57 45 53 Z M 56 46 C 58 49 58.5 50 57 51.5 C 55 52 54 50 56 46 Z M 56 53 C 58 56 58.5 57 57 58.5 C 55 59 54 57 56 53 Z"},
		{path: "M 26 63 L 40 63 L 43 67 L 46 65 L 48 63 L 49 63 L 49 70 L 30.5 70 Z"},
		{path: "M 53 66 L 55 63.5 L 57 66.5 L 60 62 C 64 60.5 67 61 70 62 L 74 63.5 C 76 64.5 75 67 73 67 L 68 71 L 54 71 C 52.5 70 52.5 68 53 66 Z"},
	},
	"GHS06": {
		{path: "M 50 20 C 62 20 68 28 68 36.5 C 68 42.5 65 46.5 61 48.5 L 61 55 L 39 55 L 39 48.5 C 35 46.5 32 42.5 32 36.5 C 32 28 38 20 50 20 Z"},
		{path: "O 43 38 4.6 O 57 38 4.6 M 50 43 L 52.6 48 L 47.4 48 Z M 44.2 50.5 L 45.2 50.5 L 45.2 55 L 44.2 55 Z M 49.5 50.5 L 50.5 50.5 L 50.5 55 L 49.5 55 Z M 54.8 50.5 L 55.8 50.5 L 55.8 55 L 54.8 55 Z", white: true},
		{path: "M 35 57 L 66.5 69.3 L 65 73.5 L 33.5 61.2 Z O 33.4 57.6 2.9 O 32.4 61.6 2.9 O 65.8 69.4 2.9 O 64 73 2.9 M 65 57 L 33.5 69.3 L 35 73.5 L 66.5 61.2 Z O 66.6 57.6 2.9 O 67.6 61.6 2.9 O 34.2 69.4 2.9 O 36 73 2.9"},
	},
	"GHS07": {{path: "M 43.5 24 C 43.5 16.5 56.5 16.5 56.5 24 L 53.2 57 C 52.8 62 47.2 62 46.8 57 Z O 50 73 6"}},
	"GHS08": {
		{path: "O 50 26 8 M 33 73 L 33 48 C 33 40 40 37 50 37 C 60 37 67 40 67 48 L 67 73 L 50 88 Z"},
		{path: "M 50 39 L 53 49 L 62 44.5 L 57 53 L 67 56 L 57 59 L 62 67.5 L 53 63 L 50 73 L 47 63 L 38 67.5 L 43 59 L 33 56 L 43 53 L 38 44.5 L 47 49 Z", white: true},
	},
	"GHS09": {
		{path: "M 37 61 L 39.5 45 L 31 35 L 33.5 33 L 40.5 40.5 L 41.5 24 L 44.5 24 L 45 39 L 52.5 29 L 55 31 L 47.5 44 L 48.5 54 L 55 50 L 70 50 L 70 54 L 56 55 L 49 61 Z M 22 58 L 40 58 L 46 61.5 L 25.5 61.5 Z"},
		{path: "M 39 70 C 46 61.5 56 61.5 61 68 L 68 63 L 68 74 L 61 71.5 C 56 78 46 78 39 70 Z"},
		{path: "O 45.5 68.5 1.5", white: true},
	},
}

// signWords are what the signs are called (Regulation (EC) 1272/2008, annex V), for those
// who can't see them.
var signWords = map[string]string{
	"GHS01": "Hazard sign: exploding bomb",
	"GHS02": "Hazard sign: flame",
	"GHS03": "Hazard sign: flame over circle",
	"GHS04": "Hazard sign: gas cylinder",
	"GHS05": "Hazard sign: corrosion",
	"GHS06": "Hazard sign: skull and crossbones",
	"GHS07": "Hazard sign: exclamation mark",
	"GHS08": "Hazard sign: health hazard",
	"GHS09": "Hazard sign: environment",
}

// sign draws a pictogram whose diamond is as wide and high as diagonal mm, with
// its upper left corner at x, y: the symbol black on white in a red frame, which
// is thick enough to be told where there is no colour.
func (c *canvas) sign(code string, x, y, diagonal float64) {
	if c.dry {
		return
	}
	c.say(signWords[code], box{x: x, y: y, w: diagonal, h: diagonal}, style{})
	k := diagonal / 100
	pen := 4.6 * k
	edge := pen / 1.41421356 // the pen's half width, measured along the diagonal
	mid := diagonal / 2
	c.pdf.SetFillColor(255, 255, 255)
	c.pdf.SetDrawColor(218, 41, 28)
	c.pdf.SetLineWidth(pen)
	c.pdf.MoveTo(x+mid, y+edge)
	c.pdf.LineTo(x+diagonal-edge, y+mid)
	c.pdf.LineTo(x+mid, y+diagonal-edge)
	c.pdf.LineTo(x+edge, y+mid)
	c.pdf.ClosePath()
	c.pdf.DrawPath("B")
	for _, part := range signs[code] {
		grey := 0
		if part.white {
			grey = 255
		}
		c.pdf.SetFillColor(grey, grey, grey)
		c.trace(part.path, x, y, k)
	}
}

// trace fills a path given in hundredths.
func (c *canvas) trace(path string, x, y, k float64) {
	words := strings.Fields(path)
	at := func(i int) float64 {
		v, _ := strconv.ParseFloat(words[i], 64) // the paths are ours; a test reads them all
		return v * k
	}
	open := false
	for i := 0; i < len(words); {
		switch words[i] {
		case "M":
			c.pdf.MoveTo(x+at(i+1), y+at(i+2))
			i += 3
			open = true
		case "L":
			c.pdf.LineTo(x+at(i+1), y+at(i+2))
			i += 3
		case "C":
			c.pdf.CurveBezierCubicTo(x+at(i+1), y+at(i+2), x+at(i+3), y+at(i+4), x+at(i+5), y+at(i+6))
			i += 7
		case "Z":
			c.pdf.ClosePath()
			i++
			if i == len(words) || words[i] == "O" {
				c.pdf.DrawPath("F")
				open = false
			}
		case "O":
			c.pdf.Circle(x+at(i+1), y+at(i+2), at(i+3), "F")
			i += 4
		default:
			i++
		}
	}
	if open {
		c.pdf.DrawPath("F")
	}
}
