package demo

import (
	"context"
	"fmt"
	"time"

	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// saveClass keeps the class that Maren holds next: three hours for eight adults on
// copper, a brown that is done in them and a green of which they see the first look.
func (b *bench) saveClass(ctx context.Context, s *store.Store, now time.Time) error {
	days := 9
	for now.AddDate(0, 0, days).Weekday() != time.Saturday {
		days++
	}
	y, m, d := now.AddDate(0, 0, days).Date()
	metal := b.metals[copper].ID
	_, err := s.SaveClass(ctx, studio.Class{
		Name: "Brown and green in a morning", Teacher: maren, Made: now.Add(-3 * time.Hour), Invented: true,
		Aim:    "Name two hazards of the day, get metal so clean that water runs over it without a break, and say what wetting first changes.",
		Skill:  "They have held a file and a hammer; nobody has coloured metal.",
		Starts: time.Date(y, m, d, 10, 0, 0, 0, now.Location()), Minutes: 180, Heads: 8, Who: studio.ForAdults, Where: studio.Outdoors,
		Recipes: []studio.ClassRecipe{
			{VersionID: b.versions[baseBrown].ID, PerHead: 1, MetalID: metal},
			{VersionID: b.versions[wettedLonger].ID, PerHead: 1, MetalID: metal},
			{VersionID: b.versions[saltSponge].ID, Shown: 1, MetalID: metal},
		}})
	if err != nil {
		return fmt.Errorf("save the class: %w", err)
	}
	return nil
}
