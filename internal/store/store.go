package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/gofrs/flock"
	_ "modernc.org/sqlite" // the database
)

// Options change how a studio is opened. The zero Options are the usual ones.
type Options struct {
	Now func() time.Time // the clock; nil means the machine's
}

// A Store is one open studio.
type Store struct {
	dir   string
	now   func() time.Time
	lock  *flock.Flock
	write *sql.DB // one connection, so that writers queue here and not in the file
	read  *sql.DB

	// files is held for reading while photograph files are being added or copied,
	// and for writing while some are removed.
	files sync.RWMutex
}

// Open opens the studio in dir and takes its lock. A folder that is not there,
// or is empty, becomes a new studio; a folder with other things in it is
// refused. A studio last used by an older Aerugo is backed up, then brought up
// to date; one last used by a newer Aerugo is refused and not touched.
func Open(ctx context.Context, dir string, o Options) (*Store, error) {
	s, err := open(ctx, dir, o, ownMigrations())
	if err == nil {
		// a disk that is full must not shut anyone out: it is tried again while the
		// studio is served
		_, _ = s.EraseDueSeats(ctx)
	}
	return s, err
}

func open(ctx context.Context, dir string, o Options, migrations fs.FS) (_ *Store, err error) {
	s := &Store{now: o.Now}
	if s.now == nil {
		s.now = time.Now
	}
	if s.dir, err = filepath.Abs(dir); err != nil {
		return nil, fmt.Errorf("find folder %s: %w", dir, err)
	}
	opened := time.Now() // of files' times, which are the machine's and not o.Now's
	if err := prepare(s.dir); err != nil {
		return nil, err
	}
	if s.lock, err = takeLock(s.dir); err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, s.close())
		}
	}()
	if err := makeFolders(s.dir); err != nil {
		return nil, err
	}
	if err := s.migrate(ctx, migrations); err != nil {
		return nil, err
	}
	if s.write, err = connect(s.path("studio.db"), 1, "_pragma=journal_mode(WAL)", "_pragma=secure_delete(1)", "_txlock=immediate"); err != nil {
		return nil, err
	}
	if s.read, err = connect(s.path("studio.db"), 4, "_query_only=1"); err != nil {
		return nil, err
	}
	// One statement on each, so that a folder that cannot be written shows now.
	if _, err := number(ctx, s.write, `SELECT count(*) FROM counter`); err != nil {
		return nil, fault(err, "open %s", s.dir)
	}
	if err := s.sweep(ctx, opened); err != nil {
		return nil, err
	}
	return s, nil
}

// connect opens a pool of at most size connections on the database file.
func connect(path string, size int, more ...string) (*sql.DB, error) {
	slashed := filepath.ToSlash(path)
	if !strings.HasPrefix(slashed, "/") {
		slashed = "/" + slashed // a Windows drive
	}
	query := append([]string{"_pragma=busy_timeout(5000)", "_pragma=synchronous(FULL)", "_pragma=foreign_keys(1)"}, more...)
	name := (&url.URL{Scheme: "file", Path: slashed}).String() + "?" + strings.Join(query, "&")
	db, err := sql.Open("sqlite", name)
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", path, err)
	}
	db.SetMaxOpenConns(size)
	db.SetMaxIdleConns(size)
	return db, nil
}

// Dir returns the studio's folder, as an absolute path.
func (s *Store) Dir() string { return s.dir }

// Now returns the time by the store's clock.
func (s *Store) Now() time.Time { return s.now() }

// path returns the place of a file in the studio's folder.
func (s *Store) path(parts ...string) string {
	return filepath.Join(append([]string{s.dir}, parts...)...)
}

// Close writes everything into studio.db itself, so that the one file can be
// copied, and gives up the lock.
func (s *Store) Close() error {
	var errs []error
	if s.write != nil {
		if s.read != nil {
			errs = append(errs, s.read.Close())
			s.read = nil
		}
		if _, err := s.write.Exec(`PRAGMA wal_checkpoint(TRUNCATE)`); err != nil {
			errs = append(errs, fmt.Errorf("checkpoint: %w", err))
		}
	}
	return errors.Join(append(errs, s.close())...)
}

// close lets go of whatever is held.
func (s *Store) close() error {
	var errs []error
	for _, db := range []*sql.DB{s.read, s.write} {
		if db != nil {
			errs = append(errs, db.Close())
		}
	}
	if s.lock != nil {
		errs = append(errs, s.lock.Unlock())
	}
	return errors.Join(errs...)
}

// change runs do in one transaction: all of it is kept, or nothing.
func (s *Store) change(ctx context.Context, do func(tx *sql.Tx) error) error {
	tx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	if err := do(tx); err != nil {
		return err
	}
	return tx.Commit()
}

// view runs do on one state of the database, whatever is written meanwhile.
func (s *Store) view(ctx context.Context, do func(q querier) error) error {
	tx, err := s.read.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return err
	}
	defer tx.Rollback()
	return do(tx)
}
