package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"aerugo/internal/studio"
)

const measurementColumns = `m.id, m.photo_id, m.method, m.made_at, m.marks, m.calibrated, m.lab_l, m.lab_a, m.lab_b, m.spread_lab, m.colour_name,
	m.palette, m.coverage, m.coverage_low, m.coverage_high, m.coverage_rule, m.glare, m.detail, m.warnings`

// measurementFields returns where the measurementColumns go, all of which may be
// NULL where a photograph has no measurement, and what makes one of them.
func measurementFields() (into []any, finish func() *studio.Measurement) {
	var (
		id, photo                               int64
		method, name, rule                      string
		made                                    time.Time
		marks                                   marksDoc
		calibrated                              sql.NullBool
		l, a, b, sd, coverage, low, high, glare sql.NullFloat64
		palette                                 []patchDoc
		warnings                                []string
		detail                                  detailDoc
	)
	into = []any{intoRef{&id}, intoRef{&photo}, intoWords{&method}, intoTime{&made}, intoJSON{&marks}, &calibrated, &l, &a, &b, &sd, intoWords{&name},
		intoJSON{&palette}, &coverage, &low, &high, intoWords{&rule}, &glare, intoJSON{&detail}, intoJSON{&warnings}}
	return into, func() *studio.Measurement {
		if id == 0 {
			return nil
		}
		m := &studio.Measurement{ID: id, Photo: photo, Method: method, Made: made, Marks: marks.marks(), Calibrated: calibrated.Bool,
			SD: sd.Float64, Name: name, Palette: paletteOf(palette), GlareShare: glare.Float64}
		m.Lab.L, m.Lab.A, m.Lab.B = l.Float64, a.Float64, b.Float64
		if len(warnings) > 0 {
			m.Warnings = warnings
		}
		if coverage.Valid {
			m.Coverage = &studio.Coverage{Value: coverage.Float64, Low: low.Float64, High: high.Float64, Rule: rule}
		}
		detail.into(m)
		return m
	}
}

func scanMeasurement(r scanner) (studio.Measurement, error) {
	into, finish := measurementFields()
	if err := r.Scan(into...); err != nil {
		return studio.Measurement{}, err
	}
	return *finish(), nil
}

// AddMeasurement keeps what was read from a photograph, beside what was read
// before; the newest counts. A zero Made becomes now.
func (s *Store) AddMeasurement(ctx context.Context, m studio.Measurement) (studio.Measurement, error) {
	marks, err := asJSON(marksToDoc(m.Marks))
	if err != nil {
		return studio.Measurement{}, fmt.Errorf("write marks on photograph %d: %w", m.Photo, err)
	}
	palette, err := asJSON(paletteToDoc(m.Palette))
	if err != nil {
		return studio.Measurement{}, fmt.Errorf("write palette of photograph %d: %w", m.Photo, err)
	}
	warnings, err := asJSON(append([]string{}, m.Warnings...))
	if err != nil {
		return studio.Measurement{}, err
	}
	detail, err := asJSON(detailOf(m))
	if err != nil {
		return studio.Measurement{}, fmt.Errorf("write texture of photograph %d: %w", m.Photo, err)
	}
	if m.Made.IsZero() {
		m.Made = s.now()
	}
	var coverage, low, high, rule any
	if c := m.Coverage; c != nil {
		coverage, low, high, rule = c.Value, c.Low, c.High, c.Rule
	}
	err = s.change(ctx, func(tx *sql.Tx) error {
		if _, err := number(ctx, tx, `SELECT id FROM photo WHERE id = ?`, m.Photo); errors.Is(err, sql.ErrNoRows) {
			return missing("photograph", m.Photo)
		} else if err != nil {
			return err
		}
		id, err := number(ctx, tx, `INSERT INTO measurement (photo_id, method, made_at, marks, calibrated, lab_l, lab_a, lab_b, spread_lab,
			colour_name, palette, coverage, coverage_low, coverage_high, coverage_rule, glare, detail, warnings)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id`,
			m.Photo, m.Method, stamp(m.Made), marks, m.Calibrated, m.Lab.L, m.Lab.A, m.Lab.B, m.SD, m.Name, palette, coverage, low, high, rule, m.GlareShare, detail, warnings)
		if err != nil {
			return err
		}
		m, err = scanMeasurement(tx.QueryRowContext(ctx, `SELECT `+measurementColumns+` FROM measurement m WHERE m.id = ?`, id))
		return err
	})
	return m, fault(err, "add measurement of photograph %d", m.Photo)
}

// Measurements returns everything read from a photograph, newest first.
func (s *Store) Measurements(ctx context.Context, photoID int64) ([]studio.Measurement, error) {
	out, err := list(ctx, s.read, scanMeasurement, `SELECT `+measurementColumns+` FROM measurement m WHERE m.photo_id = ? ORDER BY m.id DESC`, photoID)
	return out, fault(err, "list measurements of photograph %d", photoID)
}

// Looks returns each measured face as last seen: of its photographs with a
// measurement, the newest finished one, else the newest under way, else the
// newest bare. What is in the bin is left out.
func (s *Store) Looks(ctx context.Context) ([]studio.Look, error) {
	photos, err := list(ctx, s.read, scanPhoto, `WITH best AS (SELECT id FROM (
		SELECT p.id, row_number() OVER (PARTITION BY p.swatch_number, p.face ORDER BY
			CASE p.moment WHEN 'finished' THEN 0 WHEN 'under way' THEN 1 ELSE 2 END, p.taken_at DESC, p.id DESC) AS place
		FROM photo p JOIN swatch w ON w.number = p.swatch_number JOIN swatch_set x ON x.id = w.set_id
		WHERE p.binned_at IS NULL AND `+listed+` AND EXISTS (SELECT 1 FROM measurement WHERE photo_id = p.id)) WHERE place = 1)
		`+selectPhoto+` WHERE p.id IN (SELECT id FROM best) ORDER BY p.swatch_number, p.face DESC`)
	if err != nil {
		return nil, fault(err, "list looks")
	}
	var out []studio.Look
	for _, p := range photos {
		out = append(out, studio.Look{Swatch: p.Swatch, Face: p.Face, Photo: p.ID, Taken: p.Taken, Moment: p.Moment, Measurement: p.Measurement})
	}
	return out, nil
}
