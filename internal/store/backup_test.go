package store

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"aerugo/internal/studio"
)

// filled returns a studio with records and two photographs.
func filled(t *testing.T) (*Store, bench, []studio.Photo) {
	s := fresh(t)
	b := furnish(t, s, false)
	photos := []studio.Photo{addPhoto(t, s, shot(1, studio.Front, studio.Bare, noon)), addPhoto(t, s, shot(2, studio.Back, studio.Finished, noon))}
	must[studio.Measurement](t)(s.AddMeasurement(ctx, reading(photos[0].ID)))
	must[[]studio.Event](t)(s.AddEvents(ctx, []studio.Event{began(treatmentOf(t, s, 1).ID, "k")}))
	return s, b, photos
}

// state is everything that is kept, for comparing.
func state(t *testing.T, s *Store) string {
	t.Helper()
	var out strings.Builder
	err := s.Snapshot(ctx, func(all Records) error {
		for _, k := range all {
			fmt.Fprintf(&out, "%s\n", k.Name)
			for _, r := range k.Rows {
				fmt.Fprintf(&out, "  %s\n", r)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out.String()
}

func TestBackupIsAStudio(t *testing.T) {
	s, _, photos := filled(t)
	before := state(t, s)
	inside := must[string](t)(s.Backup(ctx, ""))
	second := must[string](t)(s.Backup(ctx, ""))
	outside := must[string](t)(s.Backup(ctx, filepath.Join(t.TempDir(), "copy")))
	same(t, "backups", must[[]string](t)(s.Backups()), []string{second, inside})
	if filepath.Base(inside) != "2026-03-14T12-00-00Z" || filepath.Base(second) != "2026-03-14T12-00-00Z-2" {
		t.Errorf("they are called %s and %s", inside, second)
	}
	addPhoto(t, s, shot(3, studio.Front, studio.Bare, noon)) // not in the backups
	if err := s.UpdateSwatchNote(ctx, 1, "later"); err != nil {
		t.Fatal(err)
	}
	for _, dir := range []string{inside, outside} {
		b := mustOpen(t, dir, nil)
		same(t, dir, state(t, b), before)
		wantSound(t, b)
		must[[]byte](t)(b.PhotoData(ctx, photos[1].ID))
	}
	_, err := s.Backup(ctx, outside)
	wantProblem(t, err, studio.Conflict, "not empty")
	_, err = s.Backup(ctx, filepath.Join(s.path("studio.db"), "below"))
	if err == nil {
		t.Error("a backup was made below a file")
	}
}

func TestBackupOutlivesAPurge(t *testing.T) {
	s, b, photos := filled(t)
	dir := must[string](t)(s.Backup(ctx, ""))
	c := &clock{noon}
	s.now = c.now
	if err := s.BinItem(ctx, "set", b.set.ID); err != nil {
		t.Fatal(err)
	}
	c.t = c.t.AddDate(0, 0, 31)
	must[int](t)(s.PurgeBin(ctx))
	if n := len(files(t, s)); n != 0 {
		t.Fatalf("%d files are left", n)
	}
	old := mustOpen(t, dir, nil)
	must[[]byte](t)(old.PhotoData(ctx, photos[0].ID))
	wantSound(t, old)
}

func TestLostFileDoesNotStopABackup(t *testing.T) {
	s, _, photos := filled(t)
	os.Remove(s.path("photos", photoPath(photos[0].SHA256, "JPEG")))
	b := mustOpen(t, must[string](t)(s.Backup(ctx, "")), nil)
	must[[]byte](t)(b.PhotoData(ctx, photos[1].ID))
}

func TestRestoreIntoANewFolder(t *testing.T) {
	s, _, _ := filled(t)
	want := state(t, s)
	dir := must[string](t)(s.Backup(ctx, ""))
	target := filepath.Join(t.TempDir(), "new")
	if err := Restore(ctx, dir, target); err != nil {
		t.Fatal(err)
	}
	r := mustOpen(t, target, nil)
	same(t, "restored", state(t, r), want)
	wantSound(t, r)
	if left := must[[]string](t)(r.Backups()); len(left) != 0 {
		t.Errorf("restoring into a new folder made backups %q", left)
	}
}

func TestRestoreOverAStudioKeepsWhatWasThere(t *testing.T) {
	s, _, photos := filled(t)
	old := state(t, s)
	dir := must[string](t)(s.Backup(ctx, ""))
	later := addPhoto(t, s, shot(3, studio.Front, studio.Bare, noon))
	recent := state(t, s)
	os.Remove(s.path("photos", photoPath(photos[0].SHA256, "JPEG"))) // and one file is lost

	wantProblem(t, Restore(ctx, dir, s.Dir()), studio.Conflict, "has this studio open")
	s.Close()
	if err := Restore(ctx, dir, s.Dir()); err != nil {
		t.Fatal(err)
	}
	s = mustOpen(t, s.Dir(), nil)
	same(t, "restored", state(t, s), old)
	wantSound(t, s)
	backups := must[[]string](t)(s.Backups())
	if len(backups) != 2 {
		t.Fatalf("backups are %q", backups)
	}
	b := mustOpen(t, backups[0], nil) // by its name the newest
	same(t, "what was there", state(t, b), recent)
	must[[]byte](t)(b.PhotoData(ctx, later.ID))
}

func TestRestoreOverADamagedStudio(t *testing.T) {
	s, _, photos := filled(t)
	want := state(t, s)
	dir := must[string](t)(s.Backup(ctx, ""))
	s.Close()
	bad := bytes.Repeat([]byte("rotten "), 2000)
	os.WriteFile(s.path("studio.db"), bad, 0o644)
	os.WriteFile(s.path("studio.db-wal"), bad, 0o644)
	if err := Restore(ctx, dir, s.Dir()); err != nil {
		t.Fatal(err)
	}
	s = mustOpen(t, s.Dir(), nil)
	same(t, "restored", state(t, s), want)
	wantSound(t, s)
	kept := must[[]string](t)(filepath.Glob(s.path("backups", "*-damaged")))
	if len(kept) != 1 {
		t.Fatalf("the damaged studio is kept in %q", kept)
	}
	for _, name := range []string{"studio.db", "studio.db-wal"} {
		if got, _ := os.ReadFile(filepath.Join(kept[0], name)); !bytes.Equal(got, bad) {
			t.Errorf("the damaged %s is not kept", name)
		}
	}
	if !exists(filepath.Join(kept[0], "photos", photoPath(photos[0].SHA256, "JPEG"))) {
		t.Error("its photographs are not kept")
	}
}

func TestRestoreRefusesWhatIsNoBackup(t *testing.T) {
	s, _, _ := filled(t)
	before := state(t, s)
	dir := must[string](t)(s.Backup(ctx, filepath.Join(t.TempDir(), "copy")))
	s.Close()
	bad := t.TempDir()
	os.WriteFile(filepath.Join(bad, "studio.db"), bytes.Repeat([]byte("no "), 3000), 0o644)
	wantProblem(t, Restore(ctx, bad, s.Dir()), studio.Machine, "damaged or is no studio")
	wantProblem(t, Restore(ctx, t.TempDir(), s.Dir()), studio.NotFound, "no backup")
	wantProblem(t, Restore(ctx, dir, dir), studio.Conflict, "onto itself")
	full := t.TempDir()
	os.WriteFile(filepath.Join(full, "thesis.txt"), nil, 0o644)
	wantProblem(t, Restore(ctx, dir, full), studio.Conflict, "thesis.txt")
	wantProblem(t, Restore(ctx, dir, s.path("studio.db")), studio.Machine, "not a directory")

	newer, err := open(ctx, dir, Options{}, withMore(t, "CREATE TABLE added (id INTEGER PRIMARY KEY) STRICT;"))
	if err != nil {
		t.Fatal(err)
	}
	newer.Close()
	wantProblem(t, Restore(ctx, dir, s.Dir()), studio.Machine, "newer Aerugo (schema")
	s = mustOpen(t, s.Dir(), nil)
	same(t, "the studio after refusals", state(t, s), before)
}

// A backup never takes the place of somebody's file.
func TestBackupSparesAFileOfThatName(t *testing.T) {
	s := fresh(t)
	dest := filepath.Join(t.TempDir(), "letters.txt")
	if err := os.WriteFile(dest, []byte("dear Odile"), 0o644); err != nil {
		t.Fatal(err)
	}
	_, err := s.Backup(t.Context(), dest)
	if p := studio.ProblemIn(err); p == nil || p.Kind != studio.Conflict {
		t.Errorf("Backup over a file: %v, want a Conflict", err)
	}
	if b, err := os.ReadFile(dest); err != nil || string(b) != "dear Odile" {
		t.Errorf("the file is now %q, %v", b, err)
	}
}
