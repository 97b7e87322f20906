package web

import (
	"fmt"
	"html/template"

	"aerugo/internal/flow/shape"
)

// kindLines are line drawings of the shapes, in a field of 120 by 90, with the sizes
// lettered as in the form.
var kindLines = map[string]string{
	"rectangle":  `<path d="M20 18h80v44H20z"/>` + dimAcross(20, 100, 76, "L") + dimUp(18, 62, 110, "W"),
	"disc":       `<circle cx="60" cy="38" r="30"/><circle cx="60" cy="38" r="10"/>` + dimAcross(30, 90, 80, "D") + `<text x="60" y="42">d</text>`,
	"dome":       `<path d="M22 62a38 40 0 0 1 76 0z"/><ellipse cx="60" cy="62" rx="38" ry="5"/>` + dimAcross(22, 98, 82, "D") + dimUp(22, 62, 110, "H"),
	shape.Turned: `<path d="M60 12v66" stroke-dasharray="4 3"/><path d="M60 70h14c14-6 8-24 22-50" stroke-width="2.6"/><path d="M60 70H46c-14-6-8-24-22-50" stroke-dasharray="2 3"/><path d="M62 44h20M96 20h10v50"/><text x="72" y="40">r</text><text x="113" y="50">h</text>`,
	"tube":       `<path d="M25 25h70M25 55h70"/><ellipse cx="25" cy="40" rx="6" ry="15"/><path d="M95 25a6 15 0 0 1 0 30"/>` + dimAcross(25, 95, 76, "L") + dimUp(25, 55, 112, "D"),
	"cone":       `<path d="M26 62L46 16h28l20 46z"/><ellipse cx="60" cy="62" rx="34" ry="5"/><ellipse cx="60" cy="16" rx="14" ry="2.5"/>` + dimAcross(26, 94, 82, "D") + dimUp(16, 62, 108, "H") + `<text x="60" y="12">d</text>`,
	"sphere":     `<circle cx="60" cy="38" r="30"/><ellipse cx="60" cy="38" rx="30" ry="7"/>` + dimAcross(30, 90, 82, "D"),
	"box":        `<path d="M18 30h60v34H18zM18 30l18-14h60L78 30M78 64l18-14V16"/>` + dimAcross(18, 78, 80, "L") + dimUp(16, 50, 108, "H") + `<text x="94" y="66">W</text>`,
	"cuff":       `<path d="M44 62a30 26 0 1 1 32 0"/><path d="M44 70a30 26 0 1 1 32 0M44 62v8M76 62v8M30 40v8M90 40v8"/><path d="M46 66h28"/><text x="60" y="82">G</text>` + dimUp(40, 48, 104, "W") + `<path d="M30 34h60"/><text x="60" y="31">D</text>`,
	fromFile:     `<path d="M34 10h38l16 16v54H34zM72 10v16h16"/><path d="M46 62l14-24 16 24zM60 38v24"/>`,
}

func dimAcross(from, to, y float64, letter string) string {
	return fmt.Sprintf(`<path d="M%[1]v %[3]vH%[2]vM%[1]v %[4]vv8M%[2]v %[4]vv8"/><text x="%[5]v" y="%[6]v">%[7]s</text>`, from, to, y, y-4, (from+to)/2, y+11, letter)
}

func dimUp(from, to, x float64, letter string) string {
	return fmt.Sprintf(`<path d="M%[3]v %[1]vV%[2]vM%[4]v %[1]vh8M%[4]v %[2]vh8"/><text x="%[5]v" y="%[6]v">%[7]s</text>`, from, to, x, x-4, x+8, (from+to)/2+4, letter)
}

// kindDrawing draws what each size of a shape means.
func kindDrawing(key string) template.HTML {
	return template.HTML(`<svg class="lines" viewBox="0 0 124 94" aria-hidden="true">` + kindLines[key] + `</svg>`)
}

// FileDrawing is the picture beside a drawing or model.
func (pieceForm) FileDrawing() template.HTML { return kindDrawing(fromFile) }

// lieSign is the key of one grey of the picture by slope, hatched as there.
func lieSign(l shape.Lie) template.HTML {
	g := shape.Greys[l]
	marks := map[shape.Lie]string{
		shape.Flat:    `<path d="M0 4h40M0 10h40M0 16h40M0 22h40" stroke="#a0a0a0"/>`,
		shape.Sloping: `<path d="M-2 12L12 -2M-2 26L26 -2M12 26L40 -2M26 26L42 10" stroke="#dadada"/>`,
		shape.Under:   `<path d="M4 6h2M14 6h2M24 6h2M34 6h2M4 14h2M14 14h2M24 14h2M34 14h2M4 21h2M14 21h2M24 21h2M34 21h2" stroke="#5e5e5e" stroke-width="2"/>`,
	}[l]
	return template.HTML(fmt.Sprintf(`<svg class="lie" viewBox="0 0 40 24" aria-hidden="true"><rect width="40" height="24" fill="#%02x%02x%02x"/>%s</svg>`, g, g, g, marks))
}
