package store

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"io"
	"io/fs"
	"os"
	"path"
	"strings"

	"aerugo/internal/studio"
)

const sheetColumns = `id, supply_id, name, sha256, size_bytes, added_at, by`

func scanSheet(r scanner) (d studio.DataSheet, err error) {
	return d, r.Scan(&d.ID, &d.Supply, &d.Name, &d.SHA256, &d.Bytes, intoTime{&d.Added}, &d.By)
}

// AddSheet keeps a supply's data sheet. The file is safe on the disk before the
// record is written; the same file sent again for the same supply is kept once,
// and the record that is there comes back.
func (s *Store) AddSheet(ctx context.Context, d studio.DataSheet, data []byte) (studio.DataSheet, error) {
	if err := studio.CheckSheet(data); err != nil {
		return d, err
	}
	d.Name = sheetName(d.Name)
	d.SHA256, d.Bytes, d.Added = hashOf(data), int64(len(data)), s.now()
	s.files.RLock()
	_, err := s.Supply(ctx, d.Supply)
	if err == nil {
		place := s.path(filePath(d.SHA256, "PDF"))
		if sha, _, lost := fileHash(place); lost != nil || sha != d.SHA256 {
			err = fileFault(putFile(s.path("photos", ".arriving"), place, bytes.NewReader(data)), "keep data sheet %s", d.SHA256)
		}
	}
	if err == nil {
		err = s.change(ctx, func(tx *sql.Tx) error {
			there, err := scanSheet(tx.QueryRowContext(ctx, `SELECT `+sheetColumns+` FROM data_sheet WHERE supply_id = ? AND sha256 = ?`, d.Supply, d.SHA256))
			if err == nil {
				d = there
				return nil
			}
			if !errors.Is(err, sql.ErrNoRows) {
				return err
			}
			d, err = scanSheet(tx.QueryRowContext(ctx, `INSERT INTO data_sheet (supply_id, name, sha256, size_bytes, added_at, by) VALUES (?, ?, ?, ?, ?, ?) RETURNING `+sheetColumns,
				d.Supply, d.Name, d.SHA256, d.Bytes, stamp(d.Added), d.By))
			return err
		})
	}
	s.files.RUnlock()
	if err != nil && !inDoubt(err) {
		s.dropUnnamedSheet(d.SHA256)
	}
	return d, fault(err, "add data sheet of supply %d", d.Supply)
}

// sheetName is the last part of a name as it was sent: no path, no control
// characters, at most 120 letters.
func sheetName(name string) string {
	name = path.Base(strings.ReplaceAll(name, "\\", "/"))
	name = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || r == '"' {
			return -1
		}
		return r
	}, strings.ToValidUTF8(name, ""))
	if r := []rune(name); len(r) > 120 {
		name = string(r[:120])
	}
	if name == "" || name == "." || name == "/" {
		return "data sheet.pdf"
	}
	return name
}

// dropUnnamedSheet removes the file of a sheet that could not be recorded.
func (s *Store) dropUnnamedSheet(sha string) {
	if sha == "" || !s.files.TryLock() {
		return
	}
	defer s.files.Unlock()
	if n, err := number(context.Background(), s.read, `SELECT count(*) FROM data_sheet WHERE sha256 = ?`, sha); err == nil && n == 0 {
		_ = os.Remove(s.path(filePath(sha, "PDF")))
	}
}

// Sheets returns the data sheets of a supply, the newest first.
func (s *Store) Sheets(ctx context.Context, supply int64) ([]studio.DataSheet, error) {
	out, err := list(ctx, s.read, scanSheet, `SELECT `+sheetColumns+` FROM data_sheet WHERE supply_id = ? ORDER BY id DESC`, supply)
	return out, fault(err, "list data sheets of supply %d", supply)
}

// Sheet returns one data sheet's record.
func (s *Store) Sheet(ctx context.Context, id int64) (studio.DataSheet, error) {
	d, err := scanSheet(s.read.QueryRowContext(ctx, `SELECT `+sheetColumns+` FROM data_sheet WHERE id = ?`, id))
	return d, found(err, "data sheet", id)
}

// OpenSheet opens the file of a data sheet by its SHA-256.
func (s *Store) OpenSheet(sha string) (io.ReadCloser, error) {
	if len(sha) != 64 {
		return nil, errors.New("open data sheet: not the name of one")
	}
	f, err := os.Open(s.path(filePath(sha, "PDF")))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, studio.Problemf(studio.Machine, "", "The file sheets/%s/%s.pdf is missing from the studio's folder; copy it back from the newest backup.", sha[:2], sha)
	}
	return f, err
}

const checkColumns = `id, supply_id, row, text, checked, at, by`

func scanCheck(r scanner) (c studio.SheetCheck, err error) {
	return c, r.Scan(&c.ID, &c.Supply, &c.Row, &c.Text, &c.Checked, intoTime{&c.At}, &c.By)
}

// AddSheetCheck keeps that a row was held against the sheet, or that this is
// taken back, now.
func (s *Store) AddSheetCheck(ctx context.Context, c studio.SheetCheck) (studio.SheetCheck, error) {
	if err := c.Check(); err != nil {
		return c, err
	}
	err := s.change(ctx, func(tx *sql.Tx) (err error) {
		if err := mustBeThere(ctx, tx, "supply", c.Supply); err != nil {
			return err
		}
		c, err = scanCheck(tx.QueryRowContext(ctx, `INSERT INTO sheet_check (supply_id, row, text, checked, at, by) VALUES (?, ?, ?, ?, ?, ?) RETURNING `+checkColumns,
			c.Supply, c.Row, c.Text, c.Checked, stamp(s.now()), c.By))
		return err
	})
	return c, fault(err, "keep a tick of supply %d", c.Supply)
}

// SheetChecks returns the ticks that stand for a supply, by row: the last of each.
func (s *Store) SheetChecks(ctx context.Context, supply int64) (map[string]studio.SheetCheck, error) {
	all, err := list(ctx, s.read, scanCheck, `SELECT `+checkColumns+` FROM sheet_check WHERE supply_id = ? ORDER BY id`, supply)
	out := map[string]studio.SheetCheck{}
	for _, c := range all {
		if out[c.Row] = c; !c.Checked {
			delete(out, c.Row)
		}
	}
	return out, fault(err, "list ticks of supply %d", supply)
}
