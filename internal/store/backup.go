package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"strings"

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
		if what, err := os.Lstat(dest); err == nil && !what.IsDir() {
			return "", studio.Problemf(studio.Conflict, "", "%s is a file, not a folder; choose a new name for the backup.", dest)
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
	for _, sub := range []string{"photos", "sheets", "pieces"} {
		if err := os.MkdirAll(filepath.Join(tmp, sub), 0o755); err != nil {
			return "", err
		}
	}
	copied := filepath.Join(tmp, "studio.db")
	if _, err := db.ExecContext(ctx, `VACUUM INTO ?`, copied); err != nil {
		return "", err
	}
	files, err := filesOf(ctx, copied)
	if err != nil {
		return "", err
	}
	for _, name := range files {
		if err := ctx.Err(); err != nil {
			return "", err
		}
		err := linkOrCopy(s.path(name), filepath.Join(tmp, name))
		// A record whose file is lost must not keep the rest from being saved.
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

// filesOf returns the paths, in a studio's folder, of the files a database names.
func filesOf(ctx context.Context, path string) ([]string, error) {
	db, err := connect(path, 1)
	if err != nil {
		return nil, err
	}
	defer db.Close()
	query := `SELECT sha256, format FROM photo`
	if n, err := number(ctx, db, `SELECT count(*) FROM sqlite_schema WHERE name = 'data_sheet'`); err != nil {
		return nil, err
	} else if n > 0 { // a studio not yet brought up to date has none
		query += ` UNION SELECT sha256, 'PDF' FROM data_sheet`
	}
	if n, err := number(ctx, db, `SELECT count(*) FROM sqlite_schema WHERE name = 'piece'`); err != nil {
		return nil, err
	} else if n > 0 {
		query += ` UNION SELECT sha256, format FROM (` + pieceFiles + `)`
	}
	return list(ctx, db, func(r scanner) (string, error) {
		var sha, format string
		err := r.Scan(&sha, &format)
		if err == nil && format != "PDF" && extensions[format] == "" && studio.FormFormats[format] == "" {
			err = fmt.Errorf("photograph %s is of the unknown format %q", sha, format)
		}
		if err != nil {
			return "", err
		}
		return filePath(sha, format), nil
	}, `SELECT DISTINCT sha256, format FROM (`+query+`) ORDER BY sha256`)
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
