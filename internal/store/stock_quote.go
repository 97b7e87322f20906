package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"

	"github.com/shopspring/decimal"

	"aerugo/internal/studio"
)

// quoteLineDoc is one line of a quote; its numbers are text, as everywhere money is.
type quoteLineDoc struct {
	Text     string          `json:"text"`
	Quantity decimal.Decimal `json:"quantity"`
	Each     decimal.Decimal `json:"each"`
}

const quoteColumns = `id, number, client, set_id, made_at, by, currency, day, valid_days, customer, lines, tax, care, note, basis`

func scanQuote(r scanner) (q studio.Quote, err error) {
	var lines []quoteLineDoc
	err = r.Scan(&q.ID, &q.Number, &q.Client, intoRef{&q.SetID}, intoTime{&q.Made}, &q.By, &q.Currency, intoDay{&q.Day}, &q.ValidDays, &q.Customer,
		intoJSON{&lines}, &q.Tax, &q.Care, &q.Note, intoJSON{&q.Basis})
	for _, l := range lines {
		q.Lines = append(q.Lines, studio.QuoteLine(l))
	}
	return q, err
}

// AddQuote keeps a quote, gives it the next number and returns it as kept. One
// whose Client key is there already is not kept a second time: the one that is
// there comes back. Made is set to now.
func (s *Store) AddQuote(ctx context.Context, q studio.Quote) (studio.Quote, error) {
	if err := q.Check(); err != nil {
		return q, err
	}
	q.Made = s.now()
	docs := make([]quoteLineDoc, len(q.Lines))
	for i, l := range q.Lines {
		docs[i] = quoteLineDoc(l)
	}
	lines, err := asJSON(docs)
	if err != nil {
		return q, fmt.Errorf("write lines of a quote: %w", err)
	}
	if q.Basis == nil {
		q.Basis = []string{}
	}
	basis, err := asJSON(q.Basis)
	if err != nil {
		return q, fmt.Errorf("write basis of a quote: %w", err)
	}
	err = s.change(ctx, func(tx *sql.Tx) error {
		there, err := scanQuote(tx.QueryRowContext(ctx, `SELECT `+quoteColumns+` FROM quote WHERE client = ?`, q.Client))
		if err == nil {
			q = there
			return nil
		}
		if !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		if err := mustBeThere(ctx, tx, "set", q.SetID); err != nil {
			return err
		}
		q, err = scanQuote(tx.QueryRowContext(ctx, `INSERT INTO quote (number, client, set_id, made_at, by, currency, day, valid_days, customer, lines, tax, care, note, basis)
			VALUES ((SELECT coalesce(max(number), 0) + 1 FROM quote), ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING `+quoteColumns,
			q.Client, ref(q.SetID), stamp(q.Made), q.By, q.Currency, day(q.Day), q.ValidDays, q.Customer, lines, q.Tax.String(), q.Care, q.Note, basis))
		return err
	})
	return q, fault(err, "add quote")
}

// Quote returns one quote.
func (s *Store) Quote(ctx context.Context, id int64) (studio.Quote, error) {
	q, err := scanQuote(s.read.QueryRowContext(ctx, `SELECT `+quoteColumns+` FROM quote WHERE id = ?`, id))
	return q, found(err, "quote", id)
}

// Quotes returns every quote, newest first.
func (s *Store) Quotes(ctx context.Context) ([]studio.Quote, error) {
	out, err := list(ctx, s.read, scanQuote, `SELECT `+quoteColumns+` FROM quote ORDER BY number DESC`)
	return out, fault(err, "list quotes")
}

// ratesKey is where the studio's rates are kept.
const ratesKey = "money.rates"

// ratesDoc are the rates as kept.
type ratesDoc struct {
	Currency    studio.Currency `json:"currency"`
	Hour        decimal.Decimal `json:"hour"`
	ChamberHour decimal.Decimal `json:"chamber_hour"`
	SealM2      decimal.Decimal `json:"seal_m2"`
	Overhead    decimal.Decimal `json:"overhead_percent"`
	Margin      decimal.Decimal `json:"margin_percent"`
	Loss        decimal.Decimal `json:"loss_percent"`
}

// Rates returns what prices are reckoned with; set is false until they are saved.
func (s *Store) Rates(ctx context.Context) (r studio.Rates, set bool, err error) {
	text, err := s.Setting(ctx, ratesKey)
	if err != nil || text == "" {
		return r, false, err
	}
	var doc ratesDoc
	// What can't be used came with an archive made by hand: it is asked for again.
	if json.Unmarshal([]byte(text), &doc) != nil || studio.Rates(doc).Check() != nil {
		return r, false, nil
	}
	return studio.Rates(doc), true, nil
}

// SaveRates keeps rates in place of those that were kept.
func (s *Store) SaveRates(ctx context.Context, r studio.Rates) error {
	if err := r.Check(); err != nil {
		return err
	}
	text, err := asJSON(ratesDoc(r))
	if err != nil {
		return fmt.Errorf("write rates: %w", err)
	}
	return s.SaveSetting(ctx, ratesKey, text)
}
