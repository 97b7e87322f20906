package demo

import (
	"context"
	"fmt"
	"strings"
	"time"

	"aerugo/internal/flow/shape"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// lampProfile is the invented lamp's shade, from the middle of its back to its rim:
// radius and height in mm.
const lampProfile = "0 0\n30 0\n62 8\n84 30\n92 62\n90 96"

// savePiece keeps the wall lamp that the two makers are after: a bowl of their brass,
// to be coloured outside and inside in one run by the recipe that the sets try. Of its
// chambers the tub's inside is measured, the bucket's is not.
func (b *bench) savePiece(ctx context.Context, s *store.Store, now time.Time) error {
	profile, err := shape.ReadProfile(lampProfile, func(text string) (v float64, err error) {
		_, err = fmt.Fscan(strings.NewReader(text), &v)
		return v, err
	})
	if err != nil {
		return fmt.Errorf("draw the lamp: %w", err)
	}
	metal := b.metals[0]
	dims := shape.Dims(profile)
	dims[shape.Rounded], dims[shape.Thickness] = 1, metal.ThicknessMM
	made, err := shape.Of(shape.Turned, dims)
	if err != nil {
		return fmt.Errorf("reckon the lamp: %w", err)
	}
	made.Up = [3]float64{0, 0, -1} // the shade lies with its opening down, or liquid stands in it
	version := int64(0)
	for _, v := range b.versions {
		if v.OverID == 0 && v.Number > 1 {
			version = v.ID
		}
	}
	if version == 0 {
		return fmt.Errorf("choose the lamp's recipe: none has a second version")
	}
	_, err = s.SavePiece(ctx, studio.Piece{Name: "Wall lamp for the library", Form: made, MetalID: metal.ID, OutsideID: version, SameFaces: true,
		Note: "One of twelve, each side of the reading room.", Made: now.Add(-20 * time.Hour), Invented: true})
	if err != nil {
		return fmt.Errorf("save the lamp: %w", err)
	}
	return nil
}
