package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"aerugo/internal/studio"
)

// seenDoc is what a setup's photograph showed of things that stay the same:
// linear RGB, 1 at full scale.
type seenDoc struct {
	White *[3]float64 `json:"white,omitempty"`
	Grey  *[3]float64 `json:"grey,omitempty"`
	Greys *[3]float64 `json:"greys,omitempty"`
}

const setupColumns = `id, name, camera, lamp, kind, target, photo_id, taken_at, made_at, fit, method, loo_mean_de00, loo_p95_de00, seen, binned_at`

func scanSetup(r scanner) (x studio.Setup, err error) {
	var seen seenDoc
	err = r.Scan(&x.ID, &x.Name, &x.Camera, &x.Lamp, &x.Kind, &x.Target, intoRef{&x.Photo}, intoTime{&x.Taken}, intoTime{&x.Made}, &x.Fit, &x.Method,
		&x.LOOMean, &x.LOOP95, intoJSON{&seen}, intoTime{&x.BinnedAt})
	x.White, x.Grey, x.Greys = seen.White, seen.Grey, seen.Greys
	return x, err
}

// Setups returns the kept setups that are not in the bin, the newest first.
func (s *Store) Setups(ctx context.Context) ([]studio.Setup, error) {
	out, err := list(ctx, s.read, scanSetup, `SELECT `+setupColumns+` FROM setup WHERE binned_at IS NULL ORDER BY id DESC`)
	return out, fault(err, "list setups")
}

// Setup returns one setup, also from the bin.
func (s *Store) Setup(ctx context.Context, id int64) (studio.Setup, error) {
	x, err := scanSetup(s.read.QueryRowContext(ctx, `SELECT `+setupColumns+` FROM setup WHERE id = ?`, id))
	return x, found(err, "setup", id)
}

// AddSetup keeps a setup and returns it as kept. A zero Made becomes now.
func (s *Store) AddSetup(ctx context.Context, x studio.Setup) (studio.Setup, error) {
	if x.Made.IsZero() {
		x.Made = s.now()
	}
	if err := x.Check(); err != nil {
		return studio.Setup{}, err
	}
	seen, err := asJSON(seenDoc{x.White, x.Grey, x.Greys})
	if err != nil {
		return studio.Setup{}, fmt.Errorf("write setup %q: %w", x.Name, err)
	}
	err = s.change(ctx, func(tx *sql.Tx) error {
		if x.Photo != 0 {
			if _, err := number(ctx, tx, `SELECT id FROM photo WHERE id = ?`, x.Photo); errors.Is(err, sql.ErrNoRows) {
				return missing("photograph", x.Photo)
			} else if err != nil {
				return err
			}
		}
		x, err = scanSetup(tx.QueryRowContext(ctx, `INSERT INTO setup (name, camera, lamp, kind, target, photo_id, taken_at, made_at, fit, method, loo_mean_de00, loo_p95_de00, seen)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING `+setupColumns,
			x.Name, x.Camera, x.Lamp, x.Kind, x.Target, ref(x.Photo), stamp(x.Taken), stamp(x.Made), x.Fit, x.Method, x.LOOMean, x.LOOP95, seen))
		return err
	})
	return x, fault(err, "add setup %q", x.Name)
}

const targetColumns = `id, name, text, added_at, binned_at`

func scanTarget(r scanner) (f studio.TargetFile, err error) {
	return f, r.Scan(&f.ID, &f.Name, &f.Text, intoTime{&f.Added}, intoTime{&f.BinnedAt})
}

// TargetFiles returns the person's own targets that are not in the bin, by name.
func (s *Store) TargetFiles(ctx context.Context) ([]studio.TargetFile, error) {
	out, err := list(ctx, s.read, scanTarget, `SELECT `+targetColumns+` FROM target_file WHERE binned_at IS NULL ORDER BY name, id`)
	return out, fault(err, "list targets")
}

// TargetFile returns one of them, also from the bin.
func (s *Store) TargetFile(ctx context.Context, id int64) (studio.TargetFile, error) {
	f, err := scanTarget(s.read.QueryRowContext(ctx, `SELECT `+targetColumns+` FROM target_file WHERE id = ?`, id))
	return f, found(err, "colour target", id)
}

// AddTargetFile keeps a target's values, added now. Two that are not in the bin
// can't have the same name.
func (s *Store) AddTargetFile(ctx context.Context, f studio.TargetFile) (studio.TargetFile, error) {
	if err := f.Check(); err != nil {
		return studio.TargetFile{}, err
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		n, err := number(ctx, tx, `SELECT count(*) FROM target_file WHERE name = ? AND binned_at IS NULL`, f.Name)
		if err != nil {
			return err
		}
		if n > 0 {
			return studio.Problemf(studio.Conflict, "targetname", "There is a target called %q already. Give this one another name.", f.Name)
		}
		f, err = scanTarget(tx.QueryRowContext(ctx, `INSERT INTO target_file (name, text, added_at) VALUES (?, ?, ?) RETURNING `+targetColumns, f.Name, f.Text, stamp(s.now())))
		return err
	})
	return f, fault(err, "add target %q", f.Name)
}

const printColumns = `id, paper, swatches, printed_on, ruler_mm, measured_at`

func scanPrint(r scanner) (p studio.MatPrint, err error) {
	return p, r.Scan(&p.ID, &p.Paper, &p.Swatches, intoDay{&p.Printed}, &p.RulerMM, intoTime{&p.Measured})
}

// MatPrints returns the measured prints of the mat, the last measured first.
// Printed is midnight of that day in this machine's zone.
func (s *Store) MatPrints(ctx context.Context) ([]studio.MatPrint, error) {
	out, err := list(ctx, s.read, scanPrint, `SELECT `+printColumns+` FROM mat_print ORDER BY id DESC`)
	return out, fault(err, "list prints of the mat")
}

// AddMatPrint keeps what a ruler showed on a print, measured now.
func (s *Store) AddMatPrint(ctx context.Context, p studio.MatPrint) (studio.MatPrint, error) {
	if err := p.Check(); err != nil {
		return studio.MatPrint{}, err
	}
	err := s.change(ctx, func(tx *sql.Tx) (err error) {
		p, err = scanPrint(tx.QueryRowContext(ctx, `INSERT INTO mat_print (paper, swatches, printed_on, ruler_mm, measured_at) VALUES (?, ?, ?, ?, ?) RETURNING `+printColumns,
			p.Paper, p.Swatches, day(p.Printed), p.RulerMM, stamp(s.now())))
		return err
	})
	return p, fault(err, "add print of the mat")
}
