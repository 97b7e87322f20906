package store

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"io"
	"time"
)

// timeLayout is how times stand in the database: UTC, three digits of a second,
// so that text order is time order.
const timeLayout = "2006-01-02T15:04:05.000Z"

const dayLayout = "2006-01-02"

// querier is what reading needs: the reading pool, the writing pool or a transaction.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

type scanner interface{ Scan(...any) error }

// list returns every row of a query.
func list[T any](ctx context.Context, q querier, scan func(scanner) (T, error), query string, args ...any) ([]T, error) {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []T
	for rows.Next() {
		v, err := scan(rows)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, rows.Err()
}

// number returns the one number a query answers.
func number(ctx context.Context, q querier, query string, args ...any) (int64, error) {
	var n int64
	err := q.QueryRowContext(ctx, query, args...).Scan(&n)
	return n, err
}

// stamp writes a time for the database; the zero time is NULL.
func stamp(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return t.UTC().Format(timeLayout)
}

// day writes a day for the database; the zero time is NULL. A day is the one
// that t's own zone shows.
func day(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return t.Format(dayLayout)
}

// ref writes an id that may be 0, which is NULL.
func ref(id int64) any {
	if id == 0 {
		return nil
	}
	return id
}

// yes writes a mark that is either there or NULL.
func yes(b bool) any {
	if !b {
		return nil
	}
	return true
}

// intoYes reads such a mark.
type intoYes struct{ b *bool }

func (i intoYes) Scan(v any) error {
	n, ok := v.(int64)
	*i.b = ok && n != 0
	if !ok && v != nil {
		return fmt.Errorf("a mark is kept as %T", v)
	}
	return nil
}

// words writes a text that may be empty, which is NULL.
func words(s string) any {
	if s == "" {
		return nil
	}
	return s
}

// intoTime reads a time; NULL is the zero time.
type intoTime struct{ t *time.Time }

func (i intoTime) Scan(v any) (err error) {
	switch v := v.(type) {
	case nil:
		*i.t = time.Time{}
	case string:
		*i.t, err = time.Parse(timeLayout, v)
	default:
		err = fmt.Errorf("a time is kept as %T", v)
	}
	return err
}

// intoDay reads a day as midnight of this machine's zone, so that it is shown
// as the same day; NULL is the zero time.
type intoDay struct{ t *time.Time }

func (i intoDay) Scan(v any) (err error) {
	switch v := v.(type) {
	case nil:
		*i.t = time.Time{}
	case string:
		*i.t, err = time.ParseInLocation(dayLayout, v, time.Local)
	default:
		err = fmt.Errorf("a day is kept as %T", v)
	}
	return err
}

// intoRef reads an id; NULL is 0.
type intoRef struct{ id *int64 }

func (i intoRef) Scan(v any) error {
	switch v := v.(type) {
	case nil:
		*i.id = 0
	case int64:
		*i.id = v
	default:
		return fmt.Errorf("an id is kept as %T", v)
	}
	return nil
}

// intoWords reads a text; NULL is empty.
type intoWords struct{ s *string }

func (i intoWords) Scan(v any) error {
	switch v := v.(type) {
	case nil:
		*i.s = ""
	case string:
		*i.s = v
	default:
		return fmt.Errorf("words are kept as %T", v)
	}
	return nil
}

// intoJSON reads a JSON column; NULL leaves the value alone.
type intoJSON struct{ v any }

func (i intoJSON) Scan(v any) error {
	switch v := v.(type) {
	case nil:
		return nil
	case string:
		return readJSON([]byte(v), i.v)
	default:
		return fmt.Errorf("JSON is kept as %T", v)
	}
}

// readJSON reads one JSON value and nothing after it; a field that is not known
// is refused, since dropping it would lose what someone kept.
func readJSON(data []byte, v any) error {
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		return err
	}
	if _, err := d.Token(); err != io.EOF {
		return fmt.Errorf("more text after the JSON value")
	}
	return nil
}

// asJSON writes v for a JSON column.
func asJSON(v any) (string, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return "", err
	}
	return string(bytes.TrimRight(b.Bytes(), "\n")), nil
}
