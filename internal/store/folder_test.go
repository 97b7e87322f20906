package store

import (
	"bytes"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"aerugo/internal/studio"
)

func TestNewFolderBecomesStudio(t *testing.T) {
	home := t.TempDir()
	for _, name := range []string{"not there/yet", "empty", "odd name ?#%41 é & 'x'"} {
		dir := filepath.Join(home, name)
		if name == "empty" {
			os.Mkdir(dir, 0o755)
			os.WriteFile(filepath.Join(dir, ".DS_Store"), nil, 0o644)
		}
		s := mustOpen(t, dir, nil)
		for _, part := range []string{"studio.db", "studio.lock", "photos", "backups"} {
			if !exists(s.path(part)) {
				t.Errorf("%s: there is no %s", name, part)
			}
		}
		if c := must[Counts](t)(s.Seen(ctx)); !c.Empty {
			t.Errorf("%s: a new studio is not empty: %+v", name, c)
		}
		wantSound(t, s)
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		for _, left := range []string{"studio.db-wal", "studio.db-shm"} {
			if exists(s.path(left)) {
				t.Errorf("%s: after closing, %s is still there", name, left)
			}
		}
	}
}

func TestFoldersThatAreNoStudioAreRefused(t *testing.T) {
	home := t.TempDir()
	file := filepath.Join(home, "file")
	os.WriteFile(file, []byte("words"), 0o644)
	full := filepath.Join(home, "full")
	os.Mkdir(full, 0o755)
	os.WriteFile(filepath.Join(full, "thesis.txt"), []byte("words"), 0o644)
	lost := filepath.Join(home, "lost")
	os.MkdirAll(filepath.Join(lost, "photos", "ab"), 0o755)
	os.WriteFile(filepath.Join(lost, "photos", "ab", "x.jpg"), []byte("x"), 0o644)

	cases := []struct {
		dir  string
		kind studio.Kind
		says string
	}{
		{file, studio.Invalid, "is a file"},
		{filepath.Join(file, "below"), studio.Machine, "not a directory"},
		{full, studio.Conflict, `"thesis.txt"`},
		{lost, studio.Machine, "studio.db is missing"},
	}
	if runtime.GOOS == "linux" { // where no one may make a folder, not even root
		cases = append(cases, struct {
			dir  string
			kind studio.Kind
			says string
		}{"/proc/aerugo", studio.Machine, "can't be written to"})
	}
	for _, c := range cases {
		s, err := Open(ctx, c.dir, Options{})
		if s != nil {
			s.Close()
			t.Errorf("%s was opened", c.dir)
			continue
		}
		wantProblem(t, err, c.kind, c.says)
	}
	if left, _ := os.ReadDir(full); len(left) != 1 {
		t.Errorf("a refused folder has now %d entries", len(left))
	}
}

// Root may write anywhere, so this is for everyone else; for root there is a
// disk mounted read-only (TestReadOnlyDiskIsRefused).
func TestFolderThatMayNotBeWrittenIsRefused(t *testing.T) {
	s := fresh(t)
	s.Close()
	for _, path := range []string{s.path("studio.lock"), s.Dir()} {
		os.Chmod(path, 0o555)
		defer os.Chmod(path, 0o755)
	}
	again, err := Open(ctx, s.Dir(), Options{})
	if os.Geteuid() == 0 {
		if err != nil {
			t.Fatal(err)
		}
		again.Close()
		return
	}
	wantProblem(t, err, studio.Machine, "can't be written to")
}

func TestRestoreCutShortIsSaid(t *testing.T) {
	dir := t.TempDir()
	os.MkdirAll(filepath.Join(dir, ".restoring"), 0o755)
	_, err := Open(ctx, dir, Options{})
	wantProblem(t, err, studio.Machine, "Restore it once more")
	s := fresh(t)
	from := must[string](t)(s.Backup(ctx, ""))
	if err := Restore(ctx, from, dir); err != nil {
		t.Fatal(err)
	}
	wantSound(t, mustOpen(t, dir, nil))
}

func TestSecondOpeningIsRefused(t *testing.T) {
	s := fresh(t)
	_, err := Open(ctx, s.Dir(), Options{})
	wantProblem(t, err, studio.Conflict, fmt.Sprintf("(process %d)", os.Getpid()))
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	mustOpen(t, s.Dir(), nil)
}

func TestDamagedDatabasesAreRefusedUntouched(t *testing.T) {
	s := fresh(t)
	furnish(t, s, false)
	s.Close()
	whole := must[[]byte](t)(os.ReadFile(s.path("studio.db")))
	for name, spoil := range map[string]func() []byte{
		"words":    func() []byte { return bytes.Repeat([]byte("no database "), 1000) },
		"cut":      func() []byte { return whole[:len(whole)/2/4096*4096+100] },
		"overlaid": func() []byte { b := bytes.Clone(whole); copy(b[4096:], bytes.Repeat([]byte{0xa5}, 5*4096)); return b },
	} {
		bad := spoil()
		os.WriteFile(s.path("studio.db"), bad, 0o644)
		_, err := Open(ctx, s.Dir(), Options{})
		wantProblem(t, err, studio.Machine, "damaged")
		if now, _ := os.ReadFile(s.path("studio.db")); !bytes.Equal(now, bad) {
			t.Errorf("%s: the refused file was changed", name)
		}
	}
}

func TestAnotherProgramsDatabaseIsRefused(t *testing.T) {
	dir := t.TempDir()
	db := must[*sql.DB](t)(connect(filepath.Join(dir, "studio.db"), 1))
	if _, err := db.Exec(`CREATE TABLE film (title TEXT)`); err != nil {
		t.Fatal(err)
	}
	db.Close()
	_, err := Open(ctx, dir, Options{})
	wantProblem(t, err, studio.Conflict, "another program")
}

func TestOpeningSweepsWhatACrashLeft(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	kept := addPhoto(t, s, shot(b.pieces[0].Number, studio.Front, studio.Bare, noon))
	s.Close()
	stray := hashOf([]byte("stray"))
	for path, body := range map[string]string{
		"photos/.arriving/arriving-1":                      "half",
		"photos/.arriving/intake-1/x":                      "half",
		"photos/" + stray[:2] + "/" + stray + ".jpg":       "stray",
		"photos/" + kept.SHA256[:2] + "/notes-of-mine.txt": "mine",
		"photos/holiday.jpg":                               "mine",
		"backups/.making-x/studio.db":                      "half",
		".export-1.zip":                                    "half",
	} {
		path = s.path(filepath.FromSlash(path))
		os.MkdirAll(filepath.Dir(path), 0o755)
		os.WriteFile(path, []byte(body), 0o644)
		old := time.Now().Add(-time.Hour)
		os.Chtimes(path, old, old)
		os.Chtimes(filepath.Dir(path), old, old)
	}
	s = mustOpen(t, s.Dir(), nil)
	for path, want := range map[string]bool{
		"photos/.arriving/arriving-1":                      false,
		"photos/.arriving/intake-1":                        false,
		"photos/" + stray[:2] + "/" + stray + ".jpg":       false,
		"photos/.stray/" + stray + ".jpg":                  true,
		"photos/" + photoPath(kept.SHA256, "JPEG"):         true,
		"photos/" + kept.SHA256[:2] + "/notes-of-mine.txt": true,
		"photos/holiday.jpg":                               true,
		"backups/.making-x":                                false,
		".export-1.zip":                                    false,
	} {
		if got := exists(s.path(filepath.FromSlash(path))); got != want {
			t.Errorf("%s: there %v, want %v", path, got, want)
		}
	}
	wantSound(t, s)
}
