package store

import (
	"context"
	"database/sql"
	"errors"

	"aerugo/internal/studio"
)

const roomColumns = `id, name, volume_m3, ach, mixing, hood, outdoors, invented, binned_at`

func scanRoom(r scanner) (x studio.Room, err error) {
	return x, r.Scan(&x.ID, &x.Name, &x.VolumeM3, &x.ACH, &x.Mixing, &x.Hood, &x.Outdoors, &x.Invented, intoTime{&x.BinnedAt})
}

// Rooms returns the rooms that are not in the bin, by name.
func (s *Store) Rooms(ctx context.Context) ([]studio.Room, error) {
	out, err := list(ctx, s.read, scanRoom, `SELECT `+roomColumns+` FROM room WHERE binned_at IS NULL ORDER BY name, id`)
	return out, fault(err, "list rooms")
}

// Room returns one room, also from the bin.
func (s *Store) Room(ctx context.Context, id int64) (studio.Room, error) {
	x, err := scanRoom(s.read.QueryRowContext(ctx, `SELECT `+roomColumns+` FROM room WHERE id = ?`, id))
	return x, found(err, "room", id)
}

// SaveRoom keeps x: as a new room if its ID is 0, else over the one it names.
func (s *Store) SaveRoom(ctx context.Context, x studio.Room) (studio.Room, error) {
	if err := x.Check(); err != nil {
		return studio.Room{}, err
	}
	id, err := s.save(ctx, "room", x.ID,
		`INSERT INTO room (name, volume_m3, ach, mixing, hood, outdoors, invented) VALUES (?, ?, ?, ?, ?, ?, ?)`,
		`UPDATE room SET name = ?, volume_m3 = ?, ach = ?, mixing = ?, hood = ?, outdoors = ?, invented = ? WHERE id = ?`,
		x.Name, x.VolumeM3, x.ACH, x.Mixing, x.Hood, x.Outdoors, x.Invented)
	if err != nil {
		return studio.Room{}, err
	}
	return s.Room(ctx, id)
}

// capDoc is a weighed cap of salt as kept.
type capDoc struct {
	Salt    string  `json:"salt"`
	AreaCM2 float64 `json:"area_cm2"`
	BeforeG float64 `json:"before_g"`
	AfterG  float64 `json:"after_g"`
	SaltG   float64 `json:"salt_g"`
	Hours   float64 `json:"hours"`
}

const logColumns = `id, chamber_id, client, kind, at, recorded_at, by, corrects, supply_id, strength_wt, solution_g, pad_c, piece_c, treatment_id, face, saw, cap, note`

func scanLog(r scanner) (l studio.ChamberLog, err error) {
	var weighed *capDoc
	var face, saw string
	err = r.Scan(&l.ID, &l.Chamber, &l.Client, &l.Kind, intoTime{&l.At}, intoTime{&l.Recorded}, &l.By, intoRef{&l.Corrects}, intoRef{&l.SupplyID},
		&l.Strength, &l.SolutionG, &l.TempC, &l.PieceC, intoRef{&l.Treatment}, intoWords{&face}, intoWords{&saw}, intoJSON{&weighed}, &l.Note)
	l.Face, l.Saw = studio.Face(face), studio.Sight(saw)
	if weighed != nil {
		c := studio.CapWeighing(*weighed)
		l.Cap = &c
	}
	return l, err
}

// AddChamberLog keeps one record of a chamber and returns it as kept. One whose
// Client key is there already is not kept a second time: the one that is there
// comes back. Recorded is set to now.
func (s *Store) AddChamberLog(ctx context.Context, l studio.ChamberLog) (studio.ChamberLog, error) {
	l.Recorded = s.now()
	if err := l.Check(l.Recorded); err != nil {
		return l, err
	}
	err := s.change(ctx, func(tx *sql.Tx) (err error) {
		l, err = addLog(ctx, tx, l)
		return err
	})
	return l, fault(err, "add to the log of chamber %d", l.Chamber)
}

func addLog(ctx context.Context, tx *sql.Tx, l studio.ChamberLog) (studio.ChamberLog, error) {
	there, err := scanLog(tx.QueryRowContext(ctx, `SELECT `+logColumns+` FROM chamber_log WHERE client = ?`, l.Client))
	if err == nil {
		if there.Chamber != l.Chamber || there.Kind != l.Kind {
			return l, studio.Problemf(studio.Conflict, "client", "That tap's key was used for another record; reload the page and tap again.")
		}
		return there, nil
	}
	if !errors.Is(err, sql.ErrNoRows) {
		return l, err
	}
	if _, err := number(ctx, tx, `SELECT id FROM chamber WHERE id = ?`, l.Chamber); errors.Is(err, sql.ErrNoRows) {
		return l, missing("chamber", l.Chamber)
	} else if err != nil {
		return l, err
	}
	if l.Corrects != 0 {
		of, err := number(ctx, tx, `SELECT chamber_id FROM chamber_log WHERE id = ? AND kind <> 'taken back'`, l.Corrects)
		if errors.Is(err, sql.ErrNoRows) || (err == nil && of != l.Chamber) {
			return l, studio.Problemf(studio.Conflict, "corrects", "Record %d is not one of this chamber's; choose the record to take back again.", l.Corrects)
		}
		if err != nil {
			return l, err
		}
	}
	if l.Treatment != 0 {
		if _, err := number(ctx, tx, `SELECT id FROM treatment WHERE id = ?`, l.Treatment); errors.Is(err, sql.ErrNoRows) {
			return l, missing("treatment", l.Treatment)
		} else if err != nil {
			return l, err
		}
	}
	if l.SupplyID != 0 {
		if _, err := number(ctx, tx, `SELECT id FROM supply WHERE id = ?`, l.SupplyID); errors.Is(err, sql.ErrNoRows) {
			return l, missing("supply", l.SupplyID)
		} else if err != nil {
			return l, err
		}
	}
	var weighed any
	if l.Cap != nil {
		if weighed, err = asJSON(capDoc(*l.Cap)); err != nil {
			return l, err
		}
	}
	return scanLog(tx.QueryRowContext(ctx, `INSERT INTO chamber_log (chamber_id, client, kind, at, recorded_at, by, corrects, supply_id, strength_wt, solution_g, pad_c, piece_c, treatment_id, face, saw, cap, note)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING `+logColumns,
		l.Chamber, l.Client, l.Kind, stamp(l.At), stamp(l.Recorded), l.By, ref(l.Corrects), ref(l.SupplyID), l.Strength, l.SolutionG, l.TempC, l.PieceC,
		ref(l.Treatment), words(string(l.Face)), words(string(l.Saw)), weighed, l.Note))
}

// ChamberLog returns what was done to and seen in a chamber, in order of time,
// with what was taken back and the taking back.
func (s *Store) ChamberLog(ctx context.Context, chamber int64) ([]studio.ChamberLog, error) {
	out, err := list(ctx, s.read, scanLog, `SELECT `+logColumns+` FROM chamber_log WHERE chamber_id = ? ORDER BY at, id`, chamber)
	return out, fault(err, "list the log of chamber %d", chamber)
}
