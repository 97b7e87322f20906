package store

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"aerugo/internal/studio"
)

// Restore makes targetDir the studio that backupDir is. A target that is a
// studio already is first saved under its own backups; if its database is too
// damaged for that, the files are put there as they are. The studio must not be
// open. Photographs missing from both are left missing; [Store.Check] names them.
func Restore(ctx context.Context, backupDir, targetDir string) error {
	s := &Store{now: time.Now}
	var err error
	if s.dir, err = filepath.Abs(targetDir); err != nil {
		return fmt.Errorf("find folder %s: %w", targetDir, err)
	}
	from, err := filepath.Abs(backupDir)
	if err != nil {
		return fmt.Errorf("find folder %s: %w", backupDir, err)
	}
	if info, err := os.Stat(filepath.Join(from, "studio.db")); err != nil || info.Size() == 0 {
		return studio.Problemf(studio.NotFound, "", "There is no backup in %s; choose a folder that has a studio.db in it.", from)
	}
	if from == s.dir {
		return studio.Problemf(studio.Conflict, "", "%s can't be restored onto itself; choose another folder.", from)
	}
	if err := s.restorable(); err != nil {
		return err
	}
	if s.lock, err = takeLock(s.dir); err != nil {
		return err
	}
	defer s.close()
	if err := makeFolders(s.dir); err != nil {
		return err
	}
	err = s.restore(ctx, from)
	if err != nil && isDiskFull(err) {
		return studio.Problemf(studio.Machine, "", "The disk is full: nothing was restored; free some space and try again.")
	}
	return fault(err, "restore %s into %s", from, s.dir)
}

// restorable makes sure the target is a studio, sound or not, or may become one.
func (s *Store) restorable() error {
	entries, err := os.ReadDir(s.dir)
	if errors.Is(err, fs.ErrNotExist) {
		if err := os.MkdirAll(s.dir, 0o755); err != nil {
			return unwritable(s.dir, err)
		}
		return nil
	}
	if err != nil {
		return studio.Problemf(studio.Machine, "", "The folder %s can't be looked into: %v.", s.dir, reason(err))
	}
	stranger := ""
	for _, e := range entries {
		switch {
		case e.Name() == "studio.db":
			return nil
		case !ours[e.Name()] && e.Name() != ".restoring":
			stranger = e.Name()
		}
	}
	if stranger != "" {
		return studio.Problemf(studio.Conflict, "", "The folder %s is not a studio and is not empty (there is %q in it). Choose an empty folder, or one that does not exist yet.", s.dir, stranger)
	}
	return nil
}

func (s *Store) restore(ctx context.Context, from string) error {
	stage := s.path(".restoring")
	if err := os.RemoveAll(stage); err != nil {
		return err
	}
	defer os.RemoveAll(stage)
	if err := os.MkdirAll(stage, 0o755); err != nil {
		return unwritable(s.dir, err)
	}
	// Copied before it is opened: the backup may be where nothing can be written.
	for _, name := range []string{"studio.db", "studio.db-wal"} {
		if err := copyFile(filepath.Join(from, name), filepath.Join(stage, name)); err != nil && !(name != "studio.db" && errors.Is(err, fs.ErrNotExist)) {
			return err
		}
	}
	staged := filepath.Join(stage, "studio.db")
	newest, err := known(ownMigrations())
	if err != nil {
		return err
	}
	have, err := inspect(ctx, staged)
	if studio.ProblemIn(err) != nil || (err == nil && have == 0) {
		return studio.Problemf(studio.Machine, "", "The backup in %s is damaged or is no studio; choose another. Nothing was changed.", from)
	}
	if err != nil {
		return err
	}
	if have > newest {
		return studio.Problemf(studio.Machine, "", "The backup in %s was made by a newer Aerugo (schema %d); this one knows up to %d. Use the newer program; nothing was changed.", from, have, newest)
	}
	db, err := connect(staged, 1)
	if err != nil {
		return err
	}
	_, err = db.ExecContext(ctx, `PRAGMA wal_checkpoint(TRUNCATE)`)
	if err = errors.Join(err, db.Close()); err != nil {
		return err
	}
	files, err := filesOf(ctx, staged)
	if err != nil {
		return err
	}
	for _, name := range files {
		if err := ctx.Err(); err != nil {
			return err
		}
		to := s.path(name)
		if sha, _, err := fileHash(to); err == nil && strings.HasPrefix(filepath.Base(name), sha) {
			continue
		}
		f, err := os.Open(filepath.Join(from, name))
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return err
		}
		err = putFile(s.path("photos", ".arriving"), to, f)
		if err = errors.Join(err, f.Close()); err != nil {
			return err
		}
	}
	if err := s.setAside(ctx); err != nil {
		return err
	}
	if err := os.RemoveAll(s.path("photos", ".made")); err != nil {
		return err
	}
	return moveFile(staged, s.path("studio.db"))
}

// setAside saves the present state under backups and clears the way for another
// studio.db: what a database leaves beside it must not meet its successor.
func (s *Store) setAside(ctx context.Context) error {
	if info, err := os.Stat(s.path("studio.db")); err == nil && info.Size() > 0 {
		if have, err := inspect(ctx, s.path("studio.db")); err == nil && have > 0 {
			db, err := connect(s.path("studio.db"), 1, "_pragma=journal_mode(WAL)")
			if err != nil {
				return err
			}
			_, err = s.backup(ctx, db, s.path("backups", s.stampName()))
			if err == nil {
				_, err = db.ExecContext(ctx, `PRAGMA wal_checkpoint(TRUNCATE)`)
			}
			if err = errors.Join(err, db.Close()); err != nil {
				return err
			}
		} else if err := s.setAsideDamaged(); err != nil {
			return err
		}
	}
	for _, name := range []string{"studio.db-wal", "studio.db-shm", "studio.db-journal"} {
		if err := os.Remove(s.path(name)); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return nil
}

// setAsideDamaged moves a database that cannot be read, with what lies beside
// it, under backups, and every photograph and data sheet with it.
func (s *Store) setAsideDamaged() error {
	folder := s.path("backups", s.stampName()+"-damaged")
	for sub, ours := range keptFiles {
		err := filepath.WalkDir(s.path(sub), func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			name, err := filepath.Rel(s.path(sub), path)
			if err != nil || !ours.MatchString(filepath.ToSlash(name)) {
				return err
			}
			return linkOrCopy(path, filepath.Join(folder, sub, name))
		})
		if err != nil {
			return err
		}
	}
	for _, name := range []string{"studio.db", "studio.db-wal", "studio.db-shm", "studio.db-journal"} {
		if err := moveFile(s.path(name), filepath.Join(folder, name)); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return nil
}

// copyFile makes a safe copy of a file.
func copyFile(from, to string) error {
	f, err := os.Open(from)
	if err != nil {
		return err
	}
	defer f.Close()
	out, err := os.Create(to)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, f)
	if err == nil {
		err = out.Sync()
	}
	return errors.Join(err, out.Close())
}
