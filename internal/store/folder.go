package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"

	"github.com/gofrs/flock"

	"aerugo/internal/studio"
)

// ours are the names a studio's folder may hold before it has a database: what
// a first opening leaves when it is cut short, and what file managers leave.
var ours = map[string]bool{
	"studio.lock": true, "studio.db": true, "studio.db-wal": true, "studio.db-shm": true, "studio.db-journal": true,
	"photos": true, "sheets": true, "pieces": true, "backups": true,
	".DS_Store": true, "desktop.ini": true, "Thumbs.db": true, ".directory": true, "lost+found": true,
}

// prepare makes sure that dir is a studio, or may become one.
func prepare(dir string) error {
	info, err := os.Stat(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if err := os.MkdirAll(dir, 0o755); err != nil {
			return unwritable(dir, err)
		}
		return nil
	case err != nil:
		return studio.Problemf(studio.Machine, "", "The folder %s can't be looked into (%v); choose another, or allow reading it.", dir, reason(err))
	case !info.IsDir():
		return studio.Problemf(studio.Invalid, "", "%s is a file; a studio is a folder. Choose a folder, or a name that is not taken.", dir)
	}
	db, err := os.Stat(filepath.Join(dir, "studio.db"))
	if err == nil && db.Size() > 0 {
		return nil
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return studio.Problemf(studio.Machine, "", "The file studio.db in %s can't be looked at: %v.", dir, reason(err))
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return studio.Problemf(studio.Machine, "", "The folder %s can't be looked into (%v); choose another, or allow reading it.", dir, reason(err))
	}
	for _, e := range entries {
		if e.Name() == ".restoring" {
			return studio.Problemf(studio.Machine, "", "A backup was being restored into the folder %s, and that was cut short. Restore it once more.", dir)
		}
		if !ours[e.Name()] {
			return studio.Problemf(studio.Conflict, "", "The folder %s is not a studio and is not empty (there is %q in it). Choose an empty folder, or one that does not exist yet.", dir, e.Name())
		}
	}
	if has, err := holdsFiles(dir); err != nil {
		return fmt.Errorf("look into %s: %w", dir, err)
	} else if has {
		return studio.Problemf(studio.Machine, "", "The folder %s has photographs or backups but its studio.db is missing or empty. Restore its newest backup, or put studio.db back.", dir)
	}
	return nil
}

// holdsFiles reports whether any file lies under dir's photos, sheets, pieces or backups.
func holdsFiles(dir string) (bool, error) {
	has := false
	for _, sub := range []string{"photos", "sheets", "pieces", "backups"} {
		err := filepath.WalkDir(filepath.Join(dir, sub), func(_ string, d fs.DirEntry, err error) error {
			if errors.Is(err, fs.ErrNotExist) {
				return nil
			}
			if err != nil {
				return err
			}
			if !d.IsDir() && !strings.HasPrefix(d.Name(), ".DS_") {
				has = true
				return filepath.SkipAll
			}
			return nil
		})
		if err != nil {
			return false, err
		}
	}
	return has, nil
}

func unwritable(dir string, err error) error {
	if isDiskFull(err) {
		return studio.Problemf(studio.Machine, "", "The disk is full: the studio in %s can't be opened; free some space and try again.", dir)
	}
	return studio.Problemf(studio.Machine, "", "The folder %s can't be written to (%v); choose another folder, or allow writing to it.", dir, reason(err))
}

// reason is what the system said, without the path, which the sentence has.
func reason(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}

// takeLock takes the studio's lock and writes this program's number into it.
func takeLock(dir string) (*flock.Flock, error) {
	path := filepath.Join(dir, "studio.lock")
	lock := flock.New(path, flock.SetFlag(os.O_CREATE|os.O_RDWR), flock.SetPermissions(0o644))
	ok, err := lock.TryLock()
	if err != nil {
		return nil, unwritable(dir, err)
	}
	if !ok {
		who := ""
		if text, err := os.ReadFile(path); err == nil { // Windows does not let others read a locked file
			if n, err := strconv.Atoi(strings.TrimSpace(string(text))); err == nil {
				who = fmt.Sprintf(" (process %d)", n)
			}
		}
		return nil, studio.Problemf(studio.Conflict, "", "Another Aerugo has this studio open%s. Use that one, or close it first.", who)
	}
	// The number only helps people; the lock itself is the system's.
	if err := os.WriteFile(path, []byte(strconv.Itoa(os.Getpid())+"\n"), 0o644); err != nil {
		_ = lock.Unlock()
		return nil, unwritable(dir, err)
	}
	return lock, nil
}

// makeFolders makes the folders a studio has.
func makeFolders(dir string) error {
	for _, sub := range []string{"backups", "photos/.arriving", "photos/.made", "sheets", "pieces"} {
		if err := os.MkdirAll(filepath.Join(dir, filepath.FromSlash(sub)), 0o755); err != nil {
			return unwritable(dir, err)
		}
	}
	return nil
}

// photoFile matches the path of a photograph below photos/.
var photoFile = regexp.MustCompile(`^([0-9a-f]{2})/([0-9a-f]{64})\.(jpg|png|webp|heic)$`)

// sheetFile matches the path of a data sheet below sheets/.
var sheetFile = regexp.MustCompile(`^([0-9a-f]{2})/([0-9a-f]{64})\.(pdf)$`)

// formFile matches the path of a piece's drawing or model below pieces/.
var formFile = regexp.MustCompile(`^([0-9a-f]{2})/([0-9a-f]{64})\.(svg|dxf|stl|obj|3mf)$`)

// keptFiles are the folders of files that records name, with what they hold.
var keptFiles = map[string]*regexp.Regexp{"photos": photoFile, "sheets": sheetFile, "pieces": formFile}

// sweep clears away what a crash may have left: uploads, backups and archives
// half written, and files that no record names, which are put aside and
// not removed. Only what is older than this opening is touched.
func (s *Store) sweep(ctx context.Context, opened time.Time) error {
	older := func(d fs.DirEntry) bool {
		info, err := d.Info()
		return err == nil && info.ModTime().Before(opened)
	}
	clear := func(folder, prefix string) error {
		entries, err := os.ReadDir(s.path(folder))
		if err != nil {
			return fmt.Errorf("look into %s: %w", folder, err)
		}
		for _, e := range entries {
			if strings.HasPrefix(e.Name(), prefix) && older(e) {
				if err := os.RemoveAll(s.path(folder, e.Name())); err != nil {
					return fmt.Errorf("clear %s: %w", folder, err)
				}
			}
		}
		return nil
	}
	for _, c := range [][2]string{{"photos/.arriving", ""}, {"backups", ".making-"}, {".", ".export-"}, {".", ".import-"}, {".", ".restoring"}} {
		if err := clear(filepath.FromSlash(c[0]), c[1]); err != nil {
			return err
		}
	}
	for sub, query := range map[string]string{"photos": `SELECT DISTINCT sha256 FROM photo`, "sheets": `SELECT DISTINCT sha256 FROM data_sheet`,
		"pieces": `SELECT DISTINCT sha256 FROM (` + pieceFiles + `)`} {
		names, err := list(ctx, s.read, func(r scanner) (name string, err error) { return name, r.Scan(&name) }, query)
		if err != nil {
			return fault(err, "list files of %s", sub)
		}
		if err := s.putAside(sub, names, older); err != nil {
			return err
		}
	}
	return nil
}

// putAside moves files that are not named out of the way, not away.
func (s *Store) putAside(sub string, names []string, older func(fs.DirEntry) bool) error {
	named := make(map[string]bool, len(names))
	for _, n := range names {
		named[n] = true
	}
	shelves, err := os.ReadDir(s.path(sub))
	if err != nil {
		return fmt.Errorf("look into %s: %w", sub, err)
	}
	for _, shelf := range shelves {
		if len(shelf.Name()) != 2 || !shelf.IsDir() {
			continue
		}
		files, err := os.ReadDir(s.path(sub, shelf.Name()))
		if err != nil {
			return fmt.Errorf("look into %s/%s: %w", sub, shelf.Name(), err)
		}
		for _, f := range files {
			m := keptFiles[sub].FindStringSubmatch(shelf.Name() + "/" + f.Name())
			if m == nil || named[m[2]] || !older(f) {
				continue
			}
			if err := os.MkdirAll(s.path(sub, ".stray"), 0o755); err != nil {
				return unwritable(s.dir, err)
			}
			if err := os.Rename(s.path(sub, shelf.Name(), f.Name()), s.path(sub, ".stray", f.Name())); err != nil {
				return fmt.Errorf("put aside %s: %w", f.Name(), err)
			}
		}
	}
	return nil
}
