package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"github.com/shopspring/decimal"

	"aerugo/internal/studio"
)

const sheetMoveColumns = `id, metal_id, client, kind, stack_id, of_id, count, width_mm, height_mm, price, lot, supplier, state, set_id, pieces, at, recorded_at, by, note`

func scanSheetMove(r scanner) (m studio.SheetMove, err error) {
	var price decimal.NullDecimal
	err = r.Scan(&m.ID, &m.Metal, &m.Client, &m.Kind, intoRef{&m.Stack}, intoRef{&m.Of}, &m.Count, &m.WidthMM, &m.HeightMM, &price, &m.Lot, &m.Supplier, &m.State,
		intoRef{&m.SetID}, &m.Pieces, intoTime{&m.At}, intoTime{&m.Recorded}, &m.By, &m.Note)
	if price.Valid {
		m.Price = &price.Decimal
	}
	return m, err
}

// AddSheetMoves keeps what happened to the sheet of a metal, all or nothing, and
// returns it as kept. One whose Client key is there already is not kept a second
// time: the one that is there comes back. An offcut whose Of is below 0 fell from
// the move that stands so many places before it. Recorded is set to now.
func (s *Store) AddSheetMoves(ctx context.Context, moves []studio.SheetMove) ([]studio.SheetMove, error) {
	out := make([]studio.SheetMove, len(moves))
	err := s.change(ctx, func(tx *sql.Tx) error {
		for i, m := range moves {
			if m.Of < 0 {
				if int64(i)+m.Of < 0 {
					return fmt.Errorf("offcut %d fell from move %d of the same call", i, int64(i)+m.Of)
				}
				m.Of = out[int64(i)+m.Of].ID
			}
			kept, err := s.addSheetMove(ctx, tx, m)
			if err != nil {
				return err
			}
			out[i] = kept
		}
		return nil
	})
	return out, fault(err, "add to the sheets on the shelf")
}

func (s *Store) addSheetMove(ctx context.Context, tx *sql.Tx, m studio.SheetMove) (studio.SheetMove, error) {
	m.Recorded = s.now()
	if err := m.Check(m.Recorded); err != nil {
		return m, err
	}
	if !m.Kind.Puts() {
		m.WidthMM, m.HeightMM, m.Price, m.Lot, m.Supplier, m.State = 0, 0, nil, "", "", ""
	}
	switch m.Kind {
	case studio.SheetCut:
		m.Of = 0
	case studio.SheetUndone:
		m.Stack, m.Count, m.SetID, m.Pieces = 0, 0, 0, 0
	case studio.SheetOffcut:
		m.Stack, m.SetID, m.Pieces = 0, 0, 0
	default:
		m.Of, m.SetID, m.Pieces = 0, 0, 0
		if m.Kind.Puts() {
			m.Stack = 0
		}
	}
	there, err := scanSheetMove(tx.QueryRowContext(ctx, `SELECT `+sheetMoveColumns+` FROM sheet_move WHERE client = ?`, m.Client))
	if err == nil {
		if there.Metal != m.Metal || there.Kind != m.Kind {
			return m, studio.Problemf(studio.Conflict, "client", "That key was used for another record; reload the page and try again.")
		}
		return there, nil
	}
	if !errors.Is(err, sql.ErrNoRows) {
		return m, err
	}
	if err := needs(ctx, tx, "metal", m.Metal); err != nil {
		return m, err
	}
	if err := mustBeThere(ctx, tx, "set", m.SetID); err != nil {
		return m, err
	}
	if err := sheetRefs(ctx, tx, m); err != nil {
		return m, err
	}
	var price any
	if m.Price != nil {
		price = m.Price.String()
	}
	return scanSheetMove(tx.QueryRowContext(ctx, `INSERT INTO sheet_move (metal_id, client, kind, stack_id, of_id, count, width_mm, height_mm, price, lot, supplier, state, set_id, pieces, at, recorded_at, by, note)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING `+sheetMoveColumns,
		m.Metal, m.Client, m.Kind, ref(m.Stack), ref(m.Of), m.Count, m.WidthMM, m.HeightMM, price, m.Lot, m.Supplier, m.State, ref(m.SetID), m.Pieces, stamp(m.At), stamp(m.Recorded), m.By, m.Note))
}

// sheetRefs reports a Problem when what m names is not the same metal's, or is no
// record of that kind.
func sheetRefs(ctx context.Context, q querier, m studio.SheetMove) error {
	for _, x := range []struct {
		field string
		id    int64
		kinds string
	}{{"stack", m.Stack, `'bought', 'found', 'offcut'`}, {"of", m.Of, map[bool]string{true: `'bought', 'found', 'offcut', 'cut', 'thrown away', 'counted'`, false: `'cut'`}[m.Kind == studio.SheetUndone]}} {
		if x.id == 0 {
			continue
		}
		of, err := number(ctx, q, `SELECT metal_id FROM sheet_move WHERE id = ? AND kind IN (`+x.kinds+`)`, x.id)
		if errors.Is(err, sql.ErrNoRows) || (err == nil && of != m.Metal) {
			return studio.Problemf(studio.Conflict, x.field, "Record %d is not one of this metal's sheets; choose again.", x.id)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// SheetMoves returns what happened to the sheet of every metal, by metal, each in
// order of time, with what was taken back and the taking back.
func (s *Store) SheetMoves(ctx context.Context) (map[int64][]studio.SheetMove, error) {
	all, err := list(ctx, s.read, scanSheetMove, `SELECT `+sheetMoveColumns+` FROM sheet_move ORDER BY at, id`)
	out := map[int64][]studio.SheetMove{}
	for _, m := range all {
		out[m.Metal] = append(out[m.Metal], m)
	}
	return out, fault(err, "list movements of sheets")
}
