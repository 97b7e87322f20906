package store

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/pressly/goose/v3"
	sqlite3 "modernc.org/sqlite/lib"

	"aerugo/internal/studio"
)

//go:embed migrations/*.sql
var embedded embed.FS

func ownMigrations() fs.FS {
	sub, err := fs.Sub(embedded, "migrations")
	if err != nil {
		panic(err) // the folder is compiled in
	}
	return sub
}

// applicationID marks a studio.db as ours ("AERU"), so that another program's
// database of that name is not written to.
const applicationID = 0x41455255

// historyTable is where the migrations done are recorded.
const historyTable = "schema_history"

// known returns the newest schema among migrations, whose files begin with
// their number.
func known(migrations fs.FS) (int64, error) {
	names, err := fs.Glob(migrations, "*.sql")
	if err != nil {
		return 0, err
	}
	var newest int64
	for _, name := range names {
		n, err := goose.NumericComponent(name)
		if err != nil {
			return 0, err
		}
		newest = max(newest, n)
	}
	return newest, nil
}

// inspect returns the schema of a database file, 0 for one that has none yet.
// It changes nothing, so that what is refused stays as it is.
func inspect(ctx context.Context, path string) (int64, error) {
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) || (err == nil && info.Size() == 0) {
		return 0, nil
	}
	if err != nil {
		return 0, err
	}
	// Looked at first: opening what is no database would do away with the
	// write-ahead log beside it, which may be all that is left of some records.
	head := make([]byte, len(magic))
	f, err := os.Open(path)
	if err != nil {
		return 0, err
	}
	_, err = io.ReadFull(f, head)
	if errors.Join(err, f.Close()) != nil || string(head) != magic {
		return 0, damaged(path, "it is no database")
	}
	schema, err := schemaOf(ctx, path, "mode=ro")
	if code := sqliteCode(err) & 0xff; code == sqlite3.SQLITE_READONLY || code == sqlite3.SQLITE_CANTOPEN {
		// A half-done change must be rolled back before it can be read.
		schema, err = schemaOf(ctx, path, "mode=rw")
	}
	if code := sqliteCode(err) & 0xff; code == sqlite3.SQLITE_CORRUPT || code == sqlite3.SQLITE_NOTADB {
		return 0, damaged(path, err.Error())
	}
	return schema, err
}

// magic is how every SQLite database begins (SQLite, Database File Format, 1.3).
const magic = "SQLite format 3\x00"

func schemaOf(ctx context.Context, path, mode string) (int64, error) {
	db, err := connect(path, 1, mode)
	if err != nil {
		return 0, err
	}
	defer db.Close()
	id, err := number(ctx, db, `PRAGMA application_id`)
	if err != nil {
		return 0, err
	}
	tables, err := number(ctx, db, `SELECT count(*) FROM sqlite_schema WHERE name NOT IN (?, 'sqlite_sequence')`, historyTable)
	if err != nil {
		return 0, err
	}
	if tables == 0 {
		return 0, nil
	}
	if id != applicationID {
		return 0, studio.Problemf(studio.Conflict, "", "%s is a database of another program, not a studio; choose another folder. Nothing was changed.", path)
	}
	var verdict string
	if err := db.QueryRowContext(ctx, `PRAGMA quick_check(1)`).Scan(&verdict); err != nil {
		return 0, err
	}
	if verdict != "ok" {
		return 0, damaged(path, verdict)
	}
	return number(ctx, db, `SELECT coalesce(max(version_id), 0) FROM `+historyTable+` WHERE is_applied`)
}

func damaged(path, why string) error {
	return studio.Problemf(studio.Machine, "", "%s is damaged (%s); nothing was changed. Restore the newest backup from the folder %s.",
		path, why, filepath.Join(filepath.Dir(path), "backups"))
}

// migrate brings the database up to date, after a backup if it held an older
// schema, and refuses one that is newer, damaged or another program's.
func (s *Store) migrate(ctx context.Context, migrations fs.FS) error {
	path := s.path("studio.db")
	newest, err := known(migrations)
	if err != nil {
		return fmt.Errorf("read migrations: %w", err)
	}
	have, err := inspect(ctx, path)
	if err != nil {
		return fault(err, "look at %s", path)
	}
	if have > newest {
		return studio.Problemf(studio.Machine, "", "This studio was last used by a newer Aerugo (schema %d); this one knows up to %d. Use the newer program; nothing was changed.", have, newest)
	}
	if have == newest {
		return nil
	}
	db, err := connect(path, 1, "_pragma=journal_mode(WAL)", "_txlock=immediate")
	if err != nil {
		return err
	}
	defer db.Close()
	if have > 0 {
		if _, err := s.backup(ctx, db, s.path("backups", s.stampName()+fmt.Sprintf("-schema-%d", have))); err != nil {
			return err
		}
	}
	if err := up(ctx, db, migrations); err != nil {
		return fault(err, "bring %s from schema %d to %d", path, have, newest)
	}
	return nil
}

// up runs the migrations that db has not had.
func up(ctx context.Context, db *sql.DB, migrations fs.FS) error {
	p, err := goose.NewProvider(goose.DialectSQLite3, db, migrations,
		goose.WithTableName(historyTable), goose.WithDisableGlobalRegistry(true), goose.WithLogger(goose.NopLogger()))
	if err != nil {
		return err
	}
	_, err = p.Up(ctx)
	return err
}
