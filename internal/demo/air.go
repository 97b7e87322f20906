package demo

import (
	"context"
	"fmt"
	"time"

	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// saveAir writes the workshop's yard and back room, where its chambers stand,
// and the log of the tub: a cap of salt weighed some days ago, today's charge,
// temperatures, and salt looked at through the lid.
func (b *bench) saveAir(ctx context.Context, s *store.Store) error {
	rooms := []studio.Room{
		{Name: "Yard", Outdoors: true, Invented: true},
		{Name: "Back room", VolumeM3: 46, ACH: 2, Mixing: 3, Invented: true},
	}
	for i := range rooms {
		var err error
		if rooms[i], err = s.SaveRoom(ctx, rooms[i]); err != nil {
			return fmt.Errorf("save room %s: %w", rooms[i].Name, err)
		}
	}
	for i := range b.chambers {
		// The tub is carried out to be opened; the bucket stays in the back room.
		b.chambers[i].RoomID = rooms[min(i, 1)].ID
		var err error
		if b.chambers[i], err = s.SaveChamber(ctx, b.chambers[i]); err != nil {
			return fmt.Errorf("save chamber %s: %w", b.chambers[i].Name, err)
		}
	}
	return nil
}

// saveLog writes the tub's log, once there are treatments to look at. None of
// it happens after now.
func (b *bench) saveLog(ctx context.Context, s *store.Store, now time.Time) error {
	temp := func(c float64) *float64 { return &c }
	ago := func(minutes float64) time.Time { return now.Add(-seconds(60 * minutes)).UTC() }
	id, bottle := b.chambers[tub].ID, b.supplies[ammonia].ID
	before := time.Duration(3*24) * time.Hour
	log := []studio.ChamberLog{
		{Kind: studio.PadCharged, At: now.Add(-before).UTC(), SupplyID: bottle, SolutionG: 90, By: odile, Note: "Only for weighing salt."},
		{Kind: studio.AirRead, At: now.Add(-before + 20*time.Minute).UTC(), TempC: temp(19), PieceC: temp(19.5), By: odile},
		{Kind: studio.CapWeighed, At: now.Add(-before + 4*time.Hour).UTC(), By: odile, Cap: &studio.CapWeighing{Salt: "sodium-chloride", AreaCM2: 19.6, SaltG: 14.8, BeforeG: 20.31, AfterG: 20.38, Hours: 3.8}},
		{Kind: studio.AiredOut, At: now.Add(-before + 5*time.Hour).UTC(), By: odile},
		{Kind: studio.PadCharged, At: ago(262), SupplyID: bottle, SolutionG: 90, By: maren},
		{Kind: studio.AirRead, At: ago(200), TempC: temp(19), PieceC: temp(19), By: maren},
	}
	running, err := s.Treatments(ctx, store.TreatmentFilter{})
	if err != nil {
		return fmt.Errorf("look for what runs: %w", err)
	}
	for i := len(running) - 1; i >= 0; i-- { // the longest of the running ladder
		t := running[i]
		if len(t.Settings) > 0 && t.Settings[0].Level.Label == "300 min" && t.Replicate == 1 {
			log = append(log, studio.ChamberLog{Kind: studio.SaltSeen, At: ago(64), Treatment: t.ID, Face: studio.Front, Saw: studio.Dissolved, By: odile})
			break
		}
	}
	for i, l := range log {
		l.Chamber, l.Client = id, fmt.Sprintf("demo-air-%d", i)
		if _, err := s.AddChamberLog(ctx, l); err != nil {
			return fmt.Errorf("save the log of %s: %w", b.chambers[tub].Name, err)
		}
	}
	return nil
}
