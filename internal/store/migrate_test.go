package store

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"

	"aerugo/internal/studio"
)

// dumpSchema writes the statements that make a database's tables.
func dumpSchema(t *testing.T, s *Store) string {
	t.Helper()
	made, err := list(ctx, s.read, func(r scanner) (sql string, err error) { return sql, r.Scan(&sql) },
		`SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL AND name <> 'sqlite_sequence' ORDER BY tbl_name, type DESC, name`)
	if err != nil {
		t.Fatal(err)
	}
	return "-- Made from migrations/ by: go test ./internal/store -run TestSchemaIsAsWritten -update\n\n" + strings.Join(made, ";\n\n") + ";\n"
}

func TestSchemaIsAsWritten(t *testing.T) {
	got := dumpSchema(t, fresh(t))
	if *update {
		if err := os.WriteFile("schema.sql", []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile("schema.sql")
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Error("schema.sql is not what the migrations make; run this test with -update and look at what changed")
	}
}

// newest is the schema this program makes.
func newest(t *testing.T) int64 { return must[int64](t)(known(ownMigrations())) }

// withMore is the migrations of this program and one more.
func withMore(t *testing.T, sql string) fs.FS {
	t.Helper()
	more := fstest.MapFS{}
	names := must[[]string](t)(fs.Glob(ownMigrations(), "*.sql"))
	for _, name := range names {
		more[name] = &fstest.MapFile{Data: must[[]byte](t)(fs.ReadFile(ownMigrations(), name))}
	}
	more[fmt.Sprintf("%04d_more.sql", must[int64](t)(known(ownMigrations()))+1)] = &fstest.MapFile{Data: []byte("-- +goose Up\n" + sql)}
	return more
}

func TestOlderStudioIsBackedUpThenBroughtUpToDate(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	photo := addPhoto(t, s, shot(b.pieces[0].Number, studio.Front, studio.Bare, noon))
	s.Close()
	newer, err := open(ctx, s.Dir(), Options{Now: (&clock{noon}).now}, withMore(t, "CREATE TABLE added (id INTEGER PRIMARY KEY) STRICT;"))
	if err != nil {
		t.Fatal(err)
	}
	if n := must[int64](t)(number(ctx, newer.read, `SELECT count(*) FROM added`)); n != 0 {
		t.Errorf("the new table has %d rows", n)
	}
	backups := must[[]string](t)(newer.Backups())
	newer.Close()
	newest := must[int64](t)(known(ownMigrations()))
	if len(backups) != 1 || !strings.HasSuffix(backups[0], fmt.Sprintf("2026-03-14T12-00-00Z-schema-%d", newest)) {
		t.Fatalf("backups are %q", backups)
	}
	if _, err := os.Stat(filepath.Join(backups[0], "photos", photoPath(photo.SHA256, "JPEG"))); err != nil {
		t.Error(err)
	}
	old := mustOpen(t, backups[0], nil) // this program still knows the old schema
	same(t, "set in the backup", must[studio.Set](t)(old.Set(ctx, b.set.ID)), b.set)
	wantSound(t, old)

	before := must[[]byte](t)(os.ReadFile(s.path("studio.db")))
	_, err = Open(ctx, s.Dir(), Options{})
	wantProblem(t, err, studio.Machine, fmt.Sprintf("This studio was last used by a newer Aerugo (schema %d); this one knows up to %d. Use the newer program; nothing was changed.", newest+1, newest))
	if after := must[[]byte](t)(os.ReadFile(s.path("studio.db"))); !bytes.Equal(before, after) {
		t.Error("the newer studio was changed")
	}
}

// Also when the newer program was killed, and its last records are still in the
// write-ahead log.
func TestNewerStudioIsNotTouchedByLooking(t *testing.T) {
	s := fresh(t)
	s.Close()
	newer, err := open(ctx, s.Dir(), Options{}, withMore(t, "CREATE TABLE added (id INTEGER PRIMARY KEY) STRICT;"))
	if err != nil {
		t.Fatal(err)
	}
	furnish(t, newer, false)
	dir := t.TempDir()
	before := map[string][]byte{}
	for _, name := range []string{"studio.db", "studio.db-wal"} {
		before[name] = must[[]byte](t)(os.ReadFile(newer.path(name)))
		os.WriteFile(filepath.Join(dir, name), before[name], 0o644)
	}
	newer.Close()
	if len(before["studio.db-wal"]) == 0 {
		t.Fatal("there is no write-ahead log to lose")
	}
	_, err = Open(ctx, dir, Options{})
	wantProblem(t, err, studio.Machine, fmt.Sprintf("newer Aerugo (schema %d)", must[int64](t)(known(ownMigrations()))+1))
	for name, want := range before {
		if got, _ := os.ReadFile(filepath.Join(dir, name)); !bytes.Equal(got, want) {
			t.Errorf("%s was changed", name)
		}
	}
}

func TestFailedMigrationLeavesTheStudioAsItWas(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	s.Close()
	if _, err := open(ctx, s.Dir(), Options{}, withMore(t, "CREATE TABLE added (id INTEGER PRIMARY KEY);\nDROP TABLE not_there;")); err == nil {
		t.Fatal("a migration that fails was taken for done")
	}
	s = mustOpen(t, s.Dir(), nil)
	same(t, "set", must[studio.Set](t)(s.Set(ctx, b.set.ID)), b.set)
	if n := must[int64](t)(number(ctx, s.read, `SELECT count(*) FROM sqlite_schema WHERE name = 'added'`)); n != 0 {
		t.Error("half of the failed migration is there")
	}
}

// TestEverySavedVersionOpens opens the small database saved at each schema,
// testdata/vN.db. A new schema's is written with -update.
func TestEverySavedVersionOpens(t *testing.T) {
	last := filepath.Join("testdata", fmt.Sprintf("v%d.db", newest(t)))
	if *update && !exists(last) {
		s := fresh(t)
		b := furnish(t, s, false)
		treatment := treatmentOf(t, s, b.pieces[0].Number)
		must[[]studio.Event](t)(s.AddEvents(ctx, []studio.Event{began(treatment.ID, "saved")}))
		s.Close()
		os.MkdirAll("testdata", 0o755)
		if err := copyFile(s.path("studio.db"), last); err != nil {
			t.Fatal(err)
		}
	}
	if !exists(last) {
		t.Fatalf("%s is not saved; run this test with -update and keep the file", last)
	}
	saved := must[[]string](t)(filepath.Glob(filepath.Join("testdata", "v*.db")))
	for _, path := range saved {
		if !regexp.MustCompile(`^v[0-9]+\.db$`).MatchString(filepath.Base(path)) {
			t.Errorf("%s is no saved version", path)
		}
		dir := t.TempDir()
		if err := copyFile(path, filepath.Join(dir, "studio.db")); err != nil {
			t.Fatal(err)
		}
		s := mustOpen(t, dir, nil)
		wantSound(t, s)
		swatches := must[[]studio.Swatch](t)(s.Swatches(ctx))
		recipes := must[[]studio.Recipe](t)(s.Recipes(ctx))
		if len(swatches) != 3 || len(recipes) != 1 {
			t.Fatalf("%s: %d swatches and %d recipes, want 3 and 1", path, len(swatches), len(recipes))
		}
		same(t, path+": steps", recipes[0].Latest.Steps, steps(1, 1))
		treatment := treatmentOf(t, s, swatches[0].Number)
		events := must[map[int64][]studio.Event](t)(s.Events(ctx, []int64{treatment.ID}))
		if e := events[treatment.ID]; len(e) != 1 || e[0].Client != "saved" || !e[0].At.Equal(noon.Add(-60*60e9)) {
			t.Errorf("%s: events are %+v", path, e)
		}
	}
}
