package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
)

// Check looks the whole studio over: the database's structure, its references,
// and that every photograph's and data sheet's file is there and is, byte for byte, what was
// kept. It returns a sentence for each fault; none means that all is sound.
func (s *Store) Check(ctx context.Context) ([]string, error) {
	var faults []string
	structure, err := list(ctx, s.read, func(r scanner) (line string, err error) { return line, r.Scan(&line) }, `PRAGMA integrity_check`)
	if err != nil {
		return nil, fault(err, "check studio.db")
	}
	for _, line := range structure {
		if line != "ok" {
			faults = append(faults, "studio.db is damaged: "+line+".")
		}
	}
	lost, err := list(ctx, s.read, func(r scanner) (string, error) {
		var table, parent string
		var row sql.NullInt64
		var n int
		err := r.Scan(&table, &row, &parent, &n)
		return fmt.Sprintf("In studio.db, row %d of %s refers to a %s that is not there.", row.Int64, table, parent), err
	}, `PRAGMA foreign_key_check`)
	if err != nil {
		return nil, fault(err, "check references in studio.db")
	}
	faults = append(faults, lost...)
	type file struct{ sha, format, of string }
	files, err := list(ctx, s.read, func(r scanner) (f file, err error) { return f, r.Scan(&f.sha, &f.format, &f.of) },
		`SELECT sha256, format, 'swatch ' || min(swatch_number) FROM photo GROUP BY sha256, format
		UNION ALL SELECT sha256, 'PDF', 'data sheet of supply ' || min(supply_id) FROM data_sheet GROUP BY sha256
		UNION ALL SELECT form ->> 'sha256', form ->> 'format', 'piece ' || min(name) FROM piece WHERE form ->> 'sha256' <> '' GROUP BY 1, 2 ORDER BY sha256`)
	if err != nil {
		return nil, fault(err, "list photographs")
	}
	for _, f := range files {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		name := filepath.ToSlash(filePath(f.sha, f.format))
		sha, _, err := fileHash(s.path(name))
		switch {
		case errors.Is(err, fs.ErrNotExist):
			faults = append(faults, fmt.Sprintf("The file %s (%s) is missing.", name, f.of))
		case err != nil:
			faults = append(faults, fmt.Sprintf("The file %s (%s) can't be read: %v.", name, f.of, reason(err)))
		case sha != f.sha:
			faults = append(faults, fmt.Sprintf("The file %s (%s) is not what was kept: it has changed.", name, f.of))
		}
	}
	return faults, nil
}
