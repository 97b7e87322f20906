package store

import (
	"context"
	"database/sql"
	"fmt"

	"aerugo/internal/studio"
)

// formDoc is the shape of a piece. What is in mm or mm2 says so; unit_mm is the
// file's own unit.
type formDoc struct {
	Kind       string             `json:"kind"`
	DimsMM     map[string]float64 `json:"dims_mm,omitempty"`
	SHA256     string             `json:"sha256,omitempty"`
	FileName   string             `json:"file_name,omitempty"`
	Format     string             `json:"format,omitempty"`
	Bytes      int64              `json:"bytes,omitempty"`
	UnitMM     float64            `json:"unit_mm,omitempty"`
	Up         [3]float64         `json:"up"`
	OutsideMM2 float64            `json:"outside_mm2"`
	InsideMM2  float64            `json:"inside_mm2"`
	SheetMM2   float64            `json:"sheet_mm2,omitempty"`
	SizeMM     [3]float64         `json:"size_mm"`
	By         string             `json:"by,omitempty"`
	Doubts     []string           `json:"doubts,omitempty"`
}

const pieceColumns = `id, name, form, metal_id, outside_id, inside_id, same_faces, reference, note, made_at, invented, binned_at`

func scanPiece(r scanner) (p studio.Piece, err error) {
	var form formDoc
	err = r.Scan(&p.ID, &p.Name, intoJSON{&form}, intoRef{&p.MetalID}, intoRef{&p.OutsideID}, intoRef{&p.InsideID}, &p.SameFaces,
		intoRef{&p.Reference}, &p.Note, intoTime{&p.Made}, &p.Invented, intoTime{&p.BinnedAt})
	p.Form = studio.Form(form)
	return p, err
}

// Pieces returns the pieces that are not in the bin, oldest first.
func (s *Store) Pieces(ctx context.Context) ([]studio.Piece, error) {
	out, err := list(ctx, s.read, scanPiece, `SELECT `+pieceColumns+` FROM piece WHERE binned_at IS NULL ORDER BY id`)
	return out, fault(err, "list pieces")
}

// Piece returns one piece, also from the bin.
func (s *Store) Piece(ctx context.Context, id int64) (studio.Piece, error) {
	p, err := scanPiece(s.read.QueryRowContext(ctx, `SELECT `+pieceColumns+` FROM piece WHERE id = ?`, id))
	return p, found(err, "piece", id)
}

// SavePiece keeps a piece: a new one when its ID is 0, else in place of what was
// kept. A zero Made becomes now.
func (s *Store) SavePiece(ctx context.Context, p studio.Piece) (studio.Piece, error) {
	if err := p.Check(); err != nil {
		return p, err
	}
	form, err := asJSON(formDoc(p.Form))
	if err != nil {
		return p, fmt.Errorf("write form of piece %s: %w", p.Name, err)
	}
	if p.Made.IsZero() {
		p.Made = s.now()
	}
	err = s.change(ctx, func(tx *sql.Tx) error {
		for _, x := range []struct {
			what string
			id   int64
		}{{"metal", p.MetalID}, {"recipe version", p.OutsideID}, {"recipe version", p.InsideID}, {"swatch", p.Reference}} {
			if err := mustBeThere(ctx, tx, x.what, x.id); err != nil {
				return err
			}
		}
		if p.ID != 0 {
			return changeOne(ctx, tx, "piece", p.ID, `UPDATE piece SET name = ?, form = ?, metal_id = ?, outside_id = ?, inside_id = ?, same_faces = ?, reference = ?, note = ? WHERE id = ?`,
				p.Name, form, ref(p.MetalID), ref(p.OutsideID), ref(p.InsideID), p.SameFaces, ref(p.Reference), p.Note, p.ID)
		}
		done, err := tx.ExecContext(ctx, `INSERT INTO piece (name, form, metal_id, outside_id, inside_id, same_faces, reference, note, made_at, invented)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`, p.Name, form, ref(p.MetalID), ref(p.OutsideID), ref(p.InsideID), p.SameFaces, ref(p.Reference), p.Note, stamp(p.Made), p.Invented)
		if err != nil {
			return err
		}
		p.ID, err = done.LastInsertId()
		return err
	})
	if err != nil {
		return p, fault(err, "save piece %s", p.Name)
	}
	return s.Piece(ctx, p.ID)
}

// Batches returns the sets made of a piece that are not in the bin, oldest first.
func (s *Store) Batches(ctx context.Context, piece int64) ([]studio.Set, error) {
	out, err := list(ctx, s.read, scanSet, `SELECT `+setColumns+` FROM swatch_set WHERE binned_at IS NULL AND piece_id = ? ORDER BY id`, piece)
	return out, fault(err, "list batches of piece %d", piece)
}
