package print

import (
	"fmt"
	"io"
	"strings"
	"time"

	"aerugo/internal/language"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// A Card is what a recipe card says.
//
// Version is the recipe's, Made the day it was saved. Over names the recipe and
// version it lies over, in words, and is empty on bare metal; OverState is then
// dry or still wet. Metal is in words that name the alloy ("brass C26000, hard"):
// cautions depend on it. Uses are those of the recipe and of what lies below it.
// Evidence names the swatches that were made with this version, one entry each
// ("42 front, deep blue-green"), Known says what they know of it, one sentence each: how
// alike they come out, what to keep tight. Place says where it is done and for whom, ""
// when nobody said: then the card says that it was checked for no class.
type Card struct {
	Paper     Paper
	Date      time.Time // of printing
	Studio    string
	Name      string
	Version   int
	Made      time.Time
	Over      string
	OverState studio.LayState
	Metal     string
	Faces     []CardFace
	Steps     []CardStep
	Uses      []matter.Use
	Evidence  []string
	Known     []string
	Place     string
	Invented  bool // part of the example data
}

// A CardFace is the photograph of one face of a swatch the recipe made, and what
// was measured on it. JPEG is upright and sRGB, and may be nil; so may Measured.
type CardFace struct {
	Swatch   int64
	Face     studio.Face
	JPEG     []byte
	Measured *studio.Measurement
}

// A CardStep is a step with the names of what it uses. Supply carries the
// strength and the lot in words: "household ammonia (9.5 wt%), lot 12B". Chamber
// is empty where the step is done in no chamber; Step.Place is then shown.
type CardStep struct {
	Step    studio.Step
	Supply  string
	Chamber string
}

// maxCardFaces is how many photographs a card has room for: front and back.
const maxCardFaces = 2

// RecipeCard writes a recipe on one page. Type shrinks from 9.5 to 7.5 points to
// keep it there; then notes to the steps move overleaf; only what still has no
// room goes on a further page, and the page before says so.
//
// A recipe in which two things would meet that must not is refused with a
// *studio.Problem of kind Unsafe; other bad input is a Problem too, and nothing
// is written.
func RecipeCard(w io.Writer, card Card) error {
	c, err := drawCard(languageOf(w), card)
	if err != nil {
		return err
	}
	return c.write(w, "recipe card")
}

func drawCard(in *language.Language, card Card) (*canvas, error) {
	pw, ph, err := card.Paper.size()
	if err != nil {
		return nil, err
	}
	if err := card.check(); err != nil {
		return nil, err
	}
	s := safetyOf(card.Uses, card.Metal)
	if s.stop != nil {
		return nil, s.stop
	}
	photos, err := readPhotos(card.Faces)
	if err != nil {
		return nil, err
	}
	title := inventedTitle(fmt.Sprintf("%s, version %d", card.Name, card.Version), card.Invented)
	c := newCanvas(in, pw, ph, document{title, card.Studio, card.Date})
	bestLayout(c, card, photos, s).draw(c)
	return c, nil
}

// check reports a Problem when the card can't be printed.
func (card Card) check() error {
	if err := checkDate(card.Date); err != nil {
		return err
	}
	if strings.TrimSpace(card.Name) == "" {
		return studio.Problemf(studio.Invalid, "name", "A recipe card needs the recipe's name.")
	}
	if len(card.Faces) > maxCardFaces {
		return studio.Problemf(studio.Invalid, "faces", "A card has room for %d photographs, not %d; choose one of the front and one of the back.", maxCardFaces, len(card.Faces))
	}
	var steps []studio.Step
	for _, s := range card.Steps {
		steps = append(steps, s.Step)
	}
	return studio.Version{Steps: steps}.Check()
}
