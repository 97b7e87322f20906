package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"

	"aerugo/internal/studio"
)

// Check looks the whole studio over: the database's structure, its references,
// and that every photograph's file is there and is, byte for byte, what was
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
	files, err := list(ctx, s.read, func(r scanner) (p studio.Photo, err error) {
		return p, r.Scan(&p.SHA256, &p.Format, &p.Swatch)
	}, `SELECT sha256, format, min(swatch_number) FROM photo GROUP BY sha256, format ORDER BY sha256`)
	if err != nil {
		return nil, fault(err, "list photographs")
	}
	for _, p := range files {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		name := photoPath(p.SHA256, p.Format)
		sha, _, err := fileHash(s.path("photos", name))
		switch {
		case errors.Is(err, fs.ErrNotExist):
			faults = append(faults, fmt.Sprintf("The file photos/%s (swatch %d) is missing.", name, p.Swatch))
		case err != nil:
			faults = append(faults, fmt.Sprintf("The file photos/%s (swatch %d) can't be read: %v.", name, p.Swatch, reason(err)))
		case sha != p.SHA256:
			faults = append(faults, fmt.Sprintf("The file photos/%s (swatch %d) is not what was kept: it has changed.", name, p.Swatch))
		}
	}
	return faults, nil
}
