package store

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"github.com/shopspring/decimal"

	"aerugo/internal/studio"
)

const packColumns = `id, supply_id, size, unit, price, grade, keep, made_at, by`

func scanPack(r scanner) (p studio.PackPrice, err error) {
	return p, r.Scan(&p.ID, &p.Supply, &p.Size, &p.Unit, &p.Price, &p.Grade, &p.Keep, intoTime{&p.Made}, &p.By)
}

// AddPackPrice keeps how a supply is sold from now on. Made is set to now.
func (s *Store) AddPackPrice(ctx context.Context, p studio.PackPrice) (studio.PackPrice, error) {
	if err := p.Check(); err != nil {
		return p, err
	}
	p.Made = s.now()
	err := s.change(ctx, func(tx *sql.Tx) (err error) {
		if err := needs(ctx, tx, "supply", p.Supply); err != nil {
			return err
		}
		p, err = scanPack(tx.QueryRowContext(ctx, `INSERT INTO pack_price (supply_id, size, unit, price, grade, keep, made_at, by)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?) RETURNING `+packColumns, p.Supply, p.Size, p.Unit, p.Price.String(), p.Grade, p.Keep, stamp(p.Made), p.By))
		return err
	})
	return p, fault(err, "add price of supply %d", p.Supply)
}

// needs is [mustBeThere] for what can't be left out.
func needs(ctx context.Context, tx *sql.Tx, what string, id int64) error {
	if id == 0 {
		return missing(what, id)
	}
	return mustBeThere(ctx, tx, what, id)
}

// PackPrices returns how each supply is sold now, by supply.
func (s *Store) PackPrices(ctx context.Context) (map[int64]studio.PackPrice, error) {
	all, err := list(ctx, s.read, scanPack, `SELECT `+packColumns+` FROM pack_price WHERE id IN (SELECT max(id) FROM pack_price GROUP BY supply_id)`)
	out := map[int64]studio.PackPrice{}
	for _, p := range all {
		out[p.Supply] = p
	}
	return out, fault(err, "list prices of supplies")
}

const metalPriceColumns = `id, metal_id, per, price, width_mm, height_mm, loss, made_at, by`

func scanMetalPrice(r scanner) (p studio.MetalPrice, err error) {
	var loss decimal.NullDecimal
	err = r.Scan(&p.ID, &p.Metal, &p.Per, &p.Price, &p.WidthMM, &p.HeightMM, &loss, intoTime{&p.Made}, &p.By)
	if loss.Valid {
		p.Loss = &loss.Decimal
	}
	return p, err
}

// AddMetalPrice keeps how a metal is sold from now on. Made is set to now.
func (s *Store) AddMetalPrice(ctx context.Context, p studio.MetalPrice) (studio.MetalPrice, error) {
	if err := p.Check(); err != nil {
		return p, err
	}
	p.Made = s.now()
	var loss any
	if p.Loss != nil {
		loss = p.Loss.String()
	}
	err := s.change(ctx, func(tx *sql.Tx) (err error) {
		if err := needs(ctx, tx, "metal", p.Metal); err != nil {
			return err
		}
		p, err = scanMetalPrice(tx.QueryRowContext(ctx, `INSERT INTO metal_price (metal_id, per, price, width_mm, height_mm, loss, made_at, by)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?) RETURNING `+metalPriceColumns, p.Metal, p.Per, p.Price.String(), p.WidthMM, p.HeightMM, loss, stamp(p.Made), p.By))
		return err
	})
	return p, fault(err, "add price of metal %d", p.Metal)
}

// MetalPrices returns how each metal is sold now, by metal.
func (s *Store) MetalPrices(ctx context.Context) (map[int64]studio.MetalPrice, error) {
	all, err := list(ctx, s.read, scanMetalPrice, `SELECT `+metalPriceColumns+` FROM metal_price WHERE id IN (SELECT max(id) FROM metal_price GROUP BY metal_id)`)
	out := map[int64]studio.MetalPrice{}
	for _, p := range all {
		out[p.Metal] = p
	}
	return out, fault(err, "list prices of metals")
}

const moveColumns = `id, supply_id, client, kind, amount, unit, lot, at, recorded_at, by, corrects, note, expires_on`

func scanMove(r scanner) (m studio.StockMove, err error) {
	return m, r.Scan(&m.ID, &m.Supply, &m.Client, &m.Kind, &m.Amount, &m.Unit, &m.Lot, intoTime{&m.At}, intoTime{&m.Recorded}, &m.By, intoRef{&m.Corrects}, &m.Note, intoDay{&m.Expires})
}

// AddStockMove keeps what happened to the stock of a supply and returns it as
// kept. One whose Client key is there already is not kept a second time: the one
// that is there comes back. Recorded is set to now.
func (s *Store) AddStockMove(ctx context.Context, m studio.StockMove) (studio.StockMove, error) {
	m.Recorded = s.now()
	if err := m.Check(m.Recorded); err != nil {
		return m, err
	}
	if m.Kind == studio.Uncounted {
		m.Amount, m.Unit, m.Lot = 0, "", ""
	} else {
		m.Corrects = 0
	}
	if m.Kind != studio.Bought && m.Kind != studio.Counted {
		m.Expires = time.Time{}
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		there, err := scanMove(tx.QueryRowContext(ctx, `SELECT `+moveColumns+` FROM stock_move WHERE client = ?`, m.Client))
		if err == nil {
			if there.Supply != m.Supply || there.Kind != m.Kind {
				return studio.Problemf(studio.Conflict, "client", "That key was used for another record; reload the page and try again.")
			}
			m = there
			return nil
		}
		if !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		if err := needs(ctx, tx, "supply", m.Supply); err != nil {
			return err
		}
		if m.Corrects != 0 {
			of, err := number(ctx, tx, `SELECT supply_id FROM stock_move WHERE id = ? AND kind <> 'taken back'`, m.Corrects)
			if errors.Is(err, sql.ErrNoRows) || (err == nil && of != m.Supply) {
				return studio.Problemf(studio.Conflict, "corrects", "Record %d is not one of this supply's; choose the record to take back again.", m.Corrects)
			}
			if err != nil {
				return err
			}
		}
		m, err = scanMove(tx.QueryRowContext(ctx, `INSERT INTO stock_move (supply_id, client, kind, amount, unit, lot, at, recorded_at, by, corrects, note, expires_on)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING `+moveColumns,
			m.Supply, m.Client, m.Kind, m.Amount, m.Unit, m.Lot, stamp(m.At), stamp(m.Recorded), m.By, ref(m.Corrects), m.Note, day(m.Expires)))
		return err
	})
	return m, fault(err, "add to the stock of supply %d", m.Supply)
}

// StockMoves returns what happened to the stock of every supply, by supply, each
// in order of time, with what was taken back and the taking back.
func (s *Store) StockMoves(ctx context.Context) (map[int64][]studio.StockMove, error) {
	all, err := list(ctx, s.read, scanMove, `SELECT `+moveColumns+` FROM stock_move ORDER BY at, id`)
	out := map[int64][]studio.StockMove{}
	for _, m := range all {
		out[m.Supply] = append(out[m.Supply], m)
	}
	return out, fault(err, "list movements of stock")
}
