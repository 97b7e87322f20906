package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"aerugo/internal/studio"
)

// grainDoc is what else a count of grains tells; shares are fractions.
type grainDoc struct {
	ReadShare  float64  `json:"read_share"`
	PerCM2Read float64  `json:"per_cm2_for_one"`
	TypicalMM  float64  `json:"typical_mm,omitempty"`
	Clumped    int      `json:"clumped"`
	Shine      float64  `json:"shine"`
	Rule       string   `json:"rule"`
	Warnings   []string `json:"warnings,omitempty"`
}

const grainColumns = `id, photo_id, method, made_at, marks, grains, grains_low, grains_high, covered, per_cm2, detail`

func scanGrains(r scanner) (g studio.GrainReading, err error) {
	var marks marksDoc
	var d grainDoc
	err = r.Scan(&g.ID, &g.Photo, &g.Method, intoTime{&g.Made}, intoJSON{&marks}, &g.Count, &g.Low, &g.High, &g.CoveredShare, &g.PerCM2, intoJSON{&d})
	g.Marks = marks.marks()
	g.ReadShare, g.PerCM2Read, g.TypicalMM, g.Clumped, g.ShineShare, g.Rule, g.Warnings = d.ReadShare, d.PerCM2Read, d.TypicalMM, d.Clumped, d.Shine, d.Rule, d.Warnings
	return g, err
}

// AddGrains keeps a count of grains beside earlier ones; the newest counts. A
// zero Made becomes now.
func (s *Store) AddGrains(ctx context.Context, g studio.GrainReading) (studio.GrainReading, error) {
	marks, err := asJSON(marksToDoc(g.Marks))
	if err != nil {
		return g, fmt.Errorf("write marks on photograph %d: %w", g.Photo, err)
	}
	detail, err := asJSON(grainDoc{g.ReadShare, g.PerCM2Read, g.TypicalMM, g.Clumped, g.ShineShare, g.Rule, g.Warnings})
	if err != nil {
		return g, fmt.Errorf("write grains of photograph %d: %w", g.Photo, err)
	}
	if g.Made.IsZero() {
		g.Made = s.now()
	}
	err = s.change(ctx, func(tx *sql.Tx) error {
		if err := mustBeThere(ctx, tx, "photograph", g.Photo); err != nil {
			return err
		}
		g, err = scanGrains(tx.QueryRowContext(ctx, `INSERT INTO grain_count (photo_id, method, made_at, marks, grains, grains_low, grains_high, covered, per_cm2, detail)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING `+grainColumns,
			g.Photo, g.Method, stamp(g.Made), marks, g.Count, g.Low, g.High, g.CoveredShare, g.PerCM2, detail))
		return err
	})
	return g, fault(err, "add grains of photograph %d", g.Photo)
}

// GrainsOf returns the newest count of grains on a photograph, and false when
// there is none.
func (s *Store) GrainsOf(ctx context.Context, photo int64) (studio.GrainReading, bool, error) {
	g, err := scanGrains(s.read.QueryRowContext(ctx, `SELECT `+grainColumns+` FROM grain_count WHERE photo_id = ? ORDER BY id DESC LIMIT 1`, photo))
	if errors.Is(err, sql.ErrNoRows) {
		return g, false, nil
	}
	return g, err == nil, fault(err, "read grains of photograph %d", photo)
}

const weighedColumns = `id, photo_id, of_what, material, made_at, mass_g, sd_g, area_cm2, grains, covered, per_cm2`

func scanWeighed(r scanner) (w studio.WeighedSalt, err error) {
	return w, r.Scan(&w.ID, intoRef{&w.Photo}, &w.Of, &w.Material, intoTime{&w.Made}, &w.MassG, &w.SDG, &w.AreaCM2, &w.Count, &w.CoveredShare, &w.PerCM2)
}

// AddWeighedSalt keeps a salted face that was weighed. A zero Made becomes now.
func (s *Store) AddWeighedSalt(ctx context.Context, w studio.WeighedSalt) (studio.WeighedSalt, error) {
	if err := w.Check(); err != nil {
		return w, err
	}
	if w.Made.IsZero() {
		w.Made = s.now()
	}
	err := s.change(ctx, func(tx *sql.Tx) (err error) {
		if err := mustBeThere(ctx, tx, "photograph", w.Photo); err != nil {
			return err
		}
		w, err = scanWeighed(tx.QueryRowContext(ctx, `INSERT INTO weighed_salt (photo_id, of_what, material, made_at, mass_g, sd_g, area_cm2, grains, covered, per_cm2)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING `+weighedColumns,
			ref(w.Photo), w.Of, w.Material, stamp(w.Made), w.MassG, w.SDG, w.AreaCM2, w.Count, w.CoveredShare, w.PerCM2))
		return err
	})
	return w, fault(err, "add weighed salt of photograph %d", w.Photo)
}

// WeighedSalts returns the weighed faces, newest first.
func (s *Store) WeighedSalts(ctx context.Context) ([]studio.WeighedSalt, error) {
	out, err := list(ctx, s.read, scanWeighed, `SELECT `+weighedColumns+` FROM weighed_salt ORDER BY id DESC`)
	return out, fault(err, "list weighed salts")
}
