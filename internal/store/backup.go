package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"time"

	"aerugo/internal/studio"
)

// Backup makes a complete studio of the present state and returns its folder.
// An empty dest means a folder under backups named by the time; otherwise dest
// must not exist, or be empty. Photographs share their bytes with the studio
// where the disk allows it: such a backup guards against mistakes; one on
// another disk also against losing this one.
func (s *Store) Backup(ctx context.Context, dest string) (string, error) {
	if dest == "" {
		dest = s.path("backups", s.stampName())
	} else {
		var err error
		if dest, err = filepath.Abs(dest); err != nil {
			return "", fmt.Errorf("find folder %s: %w", dest, err)
		}
		if entries, err := os.ReadDir(dest); err == nil && len(entries) > 0 {
			return "", studio.Problemf(studio.Conflict, "", "The folder %s is not empty; choose a new one for the backup.", dest)
		}
	}
	return s.backup(ctx, s.write, dest)
}

// stampName returns a name under backups that is not taken: the time, and a
// count if there are several in one second.
func (s *Store) stampName() string {
	name := s.now().UTC().Format("2006-01-02T15-04-05Z")
	for n := 1; ; n++ {
		try := name
		if n > 1 {
			try = fmt.Sprintf("%s-%d", name, n)
		}
		if _, err := os.Lstat(s.path("backups", try)); err != nil {
			return try
		}
	}
}

// backup writes the studio whose database is db into dest, under another name
// until it is whole.
func (s *Store) backup(ctx context.Context, db *sql.DB, dest string) (_ string, err error) {
	s.files.RLock()
	defer s.files.RUnlock()
	defer func() {
		if err != nil && isDiskFull(err) {
			err = studio.Problemf(studio.Machine, "", "The disk is full: the backup %s was not made; free some space and try again.", dest)
		} else if errors.Is(err, fs.ErrPermission) {
			err = unwritable(filepath.Dir(dest), err)
		} else {
			err = fault(err, "back up into %s", dest)
		}
	}()
	tmp := filepath.Join(filepath.Dir(dest), ".making-"+filepath.Base(dest))
	if err := os.RemoveAll(tmp); err != nil {
		return "", err
	}
	defer os.RemoveAll(tmp)
	if err := os.MkdirAll(filepath.Join(tmp, "photos"), 0o755); err != nil {
		return "", err
	}
	copied := filepath.Join(tmp, "studio.db")
	if _, err := db.ExecContext(ctx, `VACUUM INTO ?`, copied); err != nil {
		return "", err
	}
	photos, err := photoFilesOf(ctx, copied)
	if err != nil {
		return "", err
	}
	for _, name := range photos {
		if err := ctx.Err(); err != nil {
			return "", err
		}
		err := linkOrCopy(s.path("photos", name), filepath.Join(tmp, "photos", name))
		// A photograph whose file is lost must not keep the rest from being saved.
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return "", err
		}
	}
	if err := syncTree(tmp); err != nil {
		return "", err
	}
	if err := os.Remove(dest); err != nil && !errors.Is(err, fs.ErrNotExist) { // an empty folder
		return "", err
	}
	if err := os.Rename(tmp, dest); err != nil {
		return "", err
	}
	return dest, syncFolder(filepath.Dir(dest))
}

// photoFilesOf returns the paths, below photos, of the files a database names.
func photoFilesOf(ctx context.Context, path string) ([]string, error) {
	db, err := connect(path, 1)
	if err != nil {
		return nil, err
	}
	defer db.Close()
	return list(ctx, db, func(r scanner) (string, error) {
		var sha, format string
		err := r.Scan(&sha, &format)
		if err == nil && extensions[format] == "" {
			err = fmt.Errorf("photograph %s is of the unknown format %q", sha, format)
		}
		if err != nil {
			return "", err
		}
		return photoPath(sha, format), nil
	}, `SELECT DISTINCT sha256, format FROM photo ORDER BY sha256`)
}

// syncTree makes the database and all names below a folder safe. Photographs are
// safe already: they were, or putFile made them so.
func syncTree(dir string) error {
	return filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			return syncFolder(path)
		}
		if filepath.Base(path) != "studio.db" {
			return nil
		}
		f, err := os.OpenFile(path, os.O_RDWR, 0)
		if err != nil {
			return err
		}
		return errors.Join(f.Sync(), f.Close())
	})
}

// Backups returns the folders of the backups kept in the studio, newest first.
func (s *Store) Backups() ([]string, error) {
	entries, err := os.ReadDir(s.path("backups"))
	if err != nil {
		return nil, fmt.Errorf("look into backups: %w", err)
	}
	var out []string
	for _, e := range entries {
		if _, err := os.Stat(s.path("backups", e.Name(), "studio.db")); err == nil && !strings.HasPrefix(e.Name(), ".") {
			out = append(out, s.path("backups", e.Name()))
		}
	}
	sort.Sort(sort.Reverse(sort.StringSlice(out)))
	return out, nil
}

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
	photos, err := photoFilesOf(ctx, staged)
	if err != nil {
		return err
	}
	for _, name := range photos {
		if err := ctx.Err(); err != nil {
			return err
		}
		to := s.path("photos", name)
		if sha, _, err := fileHash(to); err == nil && strings.HasPrefix(filepath.Base(name), sha) {
			continue
		}
		f, err := os.Open(filepath.Join(from, "photos", name))
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
// it, under backups, and every photograph with it.
func (s *Store) setAsideDamaged() error {
	folder := s.path("backups", s.stampName()+"-damaged")
	err := filepath.WalkDir(s.path("photos"), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		name, err := filepath.Rel(s.path("photos"), path)
		if err != nil || !photoFile.MatchString(filepath.ToSlash(name)) {
			return err
		}
		return linkOrCopy(path, filepath.Join(folder, "photos", name))
	})
	if err != nil {
		return err
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
