package demo

import (
	"context"
	"fmt"
	"time"

	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// savePlaces puts the example's swatches away: into the two drawers of a cabinet,
// some on the wall, some in the class box, one lent and overdue, one given away; the
// last few have no place yet.
func savePlaces(ctx context.Context, s *store.Store, now time.Time) error {
	swatches, err := s.Swatches(ctx)
	if err != nil {
		return fmt.Errorf("look for swatches to put away: %w", err)
	}
	places := []studio.Place{
		{Name: "Cabinet by the door", Kind: studio.Keeps, Note: "Dry, away from the fumes."},
		{Name: "Drawer 1", Kind: studio.Keeps, Rows: 3, Columns: 5},
		{Name: "Drawer 2", Kind: studio.Keeps, Rows: 3, Columns: 5},
		{Name: "On the wall", Kind: studio.Keeps},
		{Name: "In the class box", Kind: studio.Keeps},
		{Name: "Lent to Odile", Kind: studio.Lent},
		{Name: "Given away", Kind: studio.Gone},
	}
	for i, p := range places {
		p.Client, p.Made, p.Invented = fmt.Sprintf("invented-place-%d", i), now.Add(-30*time.Hour), true
		if p.Rows > 0 {
			p.Parent = places[0].ID
		}
		if places[i], err = s.SavePlace(ctx, p); err != nil {
			return fmt.Errorf("save place %s: %w", p.Name, err)
		}
	}
	var moves []studio.SwatchMove
	for i, w := range swatches {
		m := studio.SwatchMove{Client: fmt.Sprintf("invented-move-%d", i), Swatch: w.Number, At: now.Add(-25 * time.Hour), By: maren}
		switch {
		case i < 12:
			m.Place, m.Row, m.Column = places[1].ID, i/5+1, i%5+1
		case i < 20:
			m.Place, m.Row, m.Column = places[2].ID, (i-12)/5+1, (i-12)%5+1
		case i < 24:
			m.Place = places[3].ID
		case i < 28:
			m.Place = places[4].ID
		case i == 28:
			m.Place, m.Due, m.Note = places[5].ID, now.AddDate(0, 0, -1), "to show a customer"
		case i == 29:
			m.Place = places[6].ID
		default:
			continue
		}
		moves = append(moves, m)
	}
	if _, err := s.AddSwatchMoves(ctx, moves); err != nil {
		return fmt.Errorf("put the example's swatches away: %w", err)
	}
	return nil
}
