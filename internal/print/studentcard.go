package print

import (
	"io"
	"strconv"

	"aerugo/internal/language"
)

// A Student is the card of one seat of a class: what they made and what they saw. Seat
// is as the class calls it, "Seat 5" or "Seat 5, Ada". Steps say what was done and when,
// one sentence each; Words are their own.
type Student struct {
	ClassPaper
	Seat     string
	Swatches []StudentSwatch
	Note     string
	Care     []string // what to mind at home: no food, no skin
}

// A StudentSwatch is one swatch of theirs.
type StudentSwatch struct {
	Number int64
	Recipe string
	Steps  []string
	Words  []string
	Faces  []CardFace // at most two
}

// StudentCard writes the card, on as many pages as it needs. Bad input is a
// *studio.Problem, and nothing is written.
func StudentCard(w io.Writer, s Student) error {
	c, err := drawStudent(languageOf(w), s)
	if err != nil {
		return err
	}
	return c.write(w, "student's card")
}

func drawStudent(in *language.Language, s Student) (*canvas, error) {
	var faces []CardFace
	for i := range s.Swatches {
		s.Swatches[i].Faces = s.Swatches[i].Faces[:min(len(s.Swatches[i].Faces), maxCardFaces)]
		faces = append(faces, s.Swatches[i].Faces...)
	}
	photos, err := readPhotos(faces)
	if err != nil {
		return nil, err
	}
	s.Under = append([]string{s.Seat}, s.Under...)
	l := leaf{ClassPaper: s.ClassPaper, kind: "My card", free: len(s.Swatches) > 2}
	l.sides = func(size float64) [][]block {
		var out []block
		at := 0
		for _, x := range s.Swatches {
			out = append(out, headBlock("Swatch "+strconv.FormatInt(x.Number, 10), size))
			if x.Recipe != "" {
				out = append(out, paraBlocks(x.Recipe, size, false)...)
			}
			shown := photos[at : at+len(x.Faces)]
			if len(shown) > 0 {
				out = append(out, faceRow(shown, at, size))
			}
			at += len(x.Faces)
			for i, step := range x.Steps {
				out = append(out, paraBlocks(strconv.Itoa(i+1)+". "+step, size, false)...)
			}
			words := ClassField{Word: "In my words"}
			for i, word := range x.Words {
				if i > 0 {
					words.Text += ", "
				}
				words.Text += word
			}
			out = append(out, fieldBlocks(words, size)...)
		}
		out = append(out, fieldBlocks(ClassField{Word: "What I noticed", Text: s.Note, Own: true}, size)...)
		if len(s.Care) > 0 {
			out = append(out, sectionBlocks([]ClassSection{{Head: "Please mind", Lines: s.Care}}, size)...)
		}
		return [][]block{out}
	}
	return l.draw(in)
}

// faceRow sets pictures beside each other with what they show below.
func faceRow(photos []photo, from int, size float64) block {
	return block{what: "photographs", put: func(c *canvas, x, y, w float64) float64 {
		const side, gap = 52.0, 6.0
		st := style{size: size, least: 8}
		for i, p := range photos {
			at := x + float64(i)*(side+gap)
			b := box{at, y + 1, side, side}
			if p.w > 0 {
				c.picture(b, "face"+strconv.Itoa(from+i), p.jpeg, p.w, p.h)
			} else {
				c.frame(b, 0.25, 120)
				c.text(box{at + 2, y + side/2, side - 4, st.line()}, p.why, st)
			}
			name := string(p.face.Face)
			if p.face.Measured != nil && p.face.Measured.Name != "" {
				name += ": " + p.face.Measured.Name
			}
			c.text(box{at, y + side + 1.4, side, st.line()}, capital(name), st)
		}
		return side + 2.6 + st.line()
	}}
}
