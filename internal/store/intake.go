package store

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"

	sqlite3 "modernc.org/sqlite/lib"

	"aerugo/internal/studio"
)

// Records are all records of a studio, by kind, as they travel in an archive.
type Records []Kind

// A Kind is all records of one kind in the order of their key. Each row is a
// JSON object whose fields are named, and ordered, as in the database.
type Kind struct {
	Name string
	Rows []json.RawMessage
}

// table says how one kind of record stands in the database. Columns after a
// colon hold: json, bool, integer, number; without one, text.
type table struct {
	kind, table, order string
	columns            []column
}

type column struct{ name, holds string }

// tables are the kinds in an order in which each refers only to earlier ones
// (overlays and corrections aside). Devices stay behind: a phone is let in to
// one studio folder. A test holds this list against the database.
var tables = []table{
	{"metals", "metal", "id", cols("id:integer name alloy temper thickness_mm:number gauge_words lot note invented:bool binned_at")},
	{"supplies", "supply", "id", cols("id:integer name material strength:number strength_unit lot opened_on expires_on note invented:bool binned_at")},
	{"chambers", "chamber", "id", cols("id:integer name volume_l:number pad pad_ml:number gap_mm:number tilt_deg:number places:integer note invented:bool binned_at")},
	{"hand_amounts", "hand_amount", "id", cols("id:integer word material mean:number sd:number unit weighings:integer")},
	{"recipes", "recipe", "id", cols("id:integer name invented:bool binned_at")},
	{"recipe_versions", "recipe_version", "id", cols("id:integer recipe_id:integer number:integer steps:json over_id:integer over_state why made_at")},
	{"sets", "swatch_set", "id", cols("id:integer name question shape factors:json replicates:integer blanks:integer seed metal_id:integer width_mm:number height_mm:number chamber_id:integer front_id:integer back_id:integer same_faces:bool made_at invented:bool binned_at")},
	{"counters", "counter", "name", cols("name next:integer")},
	{"swatches", "swatch", "number", cols("number:integer set_id:integer metal_id:integer width_mm:number height_mm:number blank:bool note made_at binned_at")},
	{"treatments", "treatment", "id", cols("id:integer swatch_number:integer faces layer:integer over_state version_id:integer steps:json settings:json run_order:integer replicate:integer blank:bool")},
	{"events", "event", "id", cols("id:integer treatment_id:integer client kind step:integer at recorded_at by corrects:integer amount:json room_c:number room_rh:number note")},
	{"photos", "photo", "id", cols("id:integer swatch_number:integer face moment taken_at taken_from sha256 format size_bytes:integer width_px:integer height_px:integer profile camera gps_removed:bool client added_at note binned_at")},
	{"photo_changes", "photo_change", "id", cols("id:integer photo_id:integer changed_at was:json")},
	{"measurements", "measurement", "id", cols("id:integer photo_id:integer method made_at marks:json calibrated:bool lab_l:number lab_a:number lab_b:number spread_lab:number colour_name palette:json coverage:number coverage_low:number coverage_high:number coverage_rule glare:number warnings:json")},
	{"settings", "setting", "key", cols("key value")},
}

func cols(text string) []column {
	var out []column
	for _, word := range bytes.Fields([]byte(text)) {
		name, holds, _ := bytes.Cut(word, []byte(":"))
		out = append(out, column{string(name), string(holds)})
	}
	return out
}

// RecordKinds returns the names of the kinds, in order.
func RecordKinds() []string {
	out := make([]string, len(tables))
	for i, t := range tables {
		out[i] = t.kind
	}
	return out
}

// Snapshot calls use with every record as of one moment. Until use returns, no
// photograph's file is removed, so [Store.OpenPhoto] finds each.
func (s *Store) Snapshot(ctx context.Context, use func(Records) error) error {
	s.files.RLock()
	defer s.files.RUnlock()
	var all Records
	err := s.view(ctx, func(q querier) error {
		for _, t := range tables {
			k, err := t.dump(ctx, q)
			if err != nil {
				return fmt.Errorf("%s: %w", t.kind, err)
			}
			all = append(all, k)
		}
		return nil
	})
	if err != nil {
		return fault(err, "read all records")
	}
	return use(all)
}

func (t table) names() string {
	var b bytes.Buffer
	for i, c := range t.columns {
		if i > 0 {
			b.WriteString(", ")
		}
		b.WriteString(c.name)
	}
	return b.String()
}

func (t table) dump(ctx context.Context, q querier) (Kind, error) {
	k := Kind{Name: t.kind, Rows: []json.RawMessage{}}
	rows, err := list(ctx, q, func(r scanner) (json.RawMessage, error) {
		values := make([]any, len(t.columns))
		into := make([]any, len(values))
		for i := range values {
			into[i] = &values[i]
		}
		if err := r.Scan(into...); err != nil {
			return nil, err
		}
		var b bytes.Buffer
		b.WriteByte('{')
		for i, c := range t.columns {
			if values[i] == nil {
				continue // absent is NULL
			}
			if b.Len() > 1 {
				b.WriteByte(',')
			}
			fmt.Fprintf(&b, "%q:", c.name)
			v := values[i]
			switch c.holds {
			case "json":
				v = json.RawMessage(v.(string))
			case "bool":
				v = v.(int64) != 0
			}
			text, err := asJSON(v)
			if err != nil {
				return nil, fmt.Errorf("%s: %w", c.name, err)
			}
			b.WriteString(text)
		}
		b.WriteByte('}')
		return b.Bytes(), nil
	}, `SELECT `+t.names()+` FROM `+t.table+` ORDER BY `+t.order)
	if rows != nil {
		k.Rows = rows
	}
	return k, err
}

// load writes the rows of an archive into the table.
func (t table) load(ctx context.Context, tx *sql.Tx, rows []json.RawMessage) error {
	if len(rows) == 0 {
		return nil
	}
	marks := bytes.TrimSuffix(bytes.Repeat([]byte("?, "), len(t.columns)), []byte(", "))
	insert, err := tx.PrepareContext(ctx, `INSERT INTO `+t.table+` (`+t.names()+`) VALUES (`+string(marks)+`)`)
	if err != nil {
		return err
	}
	defer insert.Close()
	for i, row := range rows {
		values, err := t.values(row)
		if err != nil {
			return unusable("Record %d of %s can't be used: %v.", i+1, t.kind, err)
		}
		if _, err := insert.ExecContext(ctx, values...); err != nil {
			if code := sqliteCode(err) & 0xff; code == sqlite3.SQLITE_CONSTRAINT || code == sqlite3.SQLITE_MISMATCH {
				return unusable("Record %d of %s can't be used: %v.", i+1, t.kind, err)
			}
			return fmt.Errorf("record %d of %s: %w", i+1, t.kind, err)
		}
	}
	return nil
}

// values reads one record's fields for the database.
func (t table) values(row json.RawMessage) ([]any, error) {
	var fields map[string]json.RawMessage
	if err := json.Unmarshal(row, &fields); err != nil {
		return nil, err
	}
	if fields == nil {
		return nil, errors.New("it is no object")
	}
	values := make([]any, len(t.columns))
	for i, c := range t.columns {
		raw, ok := fields[c.name]
		delete(fields, c.name)
		if !ok || string(raw) == "null" {
			continue
		}
		var err error
		switch c.holds {
		case "json":
			var b bytes.Buffer
			if err = json.Compact(&b, raw); err == nil {
				values[i] = b.String()
			}
		case "bool":
			values[i], err = readAs[bool](raw)
		case "integer":
			var n int64
			if n, err = readAs[int64](raw); err == nil && (n > maxInteger || n < -maxInteger || (n < 1 && c.name == t.order)) {
				err = fmt.Errorf("%d is out of range", n)
			}
			values[i] = n
		case "number":
			values[i], err = readAs[float64](raw)
		default:
			values[i], err = readAs[string](raw)
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", c.name, err)
		}
	}
	for name := range fields {
		return nil, fmt.Errorf("there is no field %q", name)
	}
	return values, nil
}

// maxInteger bounds whole numbers in an archive: every reader of JSON keeps them
// (RFC 8259, section 6), and keys have room to grow.
const maxInteger = 1 << 53

func readAs[T any](raw json.RawMessage) (v T, err error) { return v, json.Unmarshal(raw, &v) }

func unusable(format string, args ...any) error {
	return studio.Problemf(studio.Invalid, "archive", "The archive can't be imported, and nothing was changed. "+format, args...)
}

// An Intake takes the whole content of another studio into this one: first the
// photographs' files, put aside, then in one step all records.
type Intake struct {
	s      *Store
	stage  string
	staged map[string]int64 // name below photos -> bytes
	placed []string         // paths of files moved to their places
}

// BeginIntake starts taking in another studio. It refuses, with a Problem, a
// studio that has recipes, sets or weighed hand amounts of its own (also in the
// bin). Call Abort when done, whether or not Commit was called.
func (s *Store) BeginIntake(ctx context.Context) (*Intake, error) {
	if err := roomForIntake(ctx, s.read); err != nil {
		return nil, err
	}
	stage, err := os.MkdirTemp(s.path("photos", ".arriving"), "intake-*")
	if err != nil {
		return nil, unwritable(s.dir, err)
	}
	return &Intake{s: s, stage: stage, staged: map[string]int64{}}, nil
}

func roomForIntake(ctx context.Context, q querier) error {
	n, err := number(ctx, q, `SELECT (SELECT count(*) FROM recipe) + (SELECT count(*) FROM swatch_set) + (SELECT count(*) FROM swatch)
		+ (SELECT count(*) FROM hand_amount WHERE weighings > 0)`)
	if err != nil {
		return fault(err, "look for records")
	}
	if n > 0 {
		return studio.Problemf(studio.Conflict, "archive", "This studio has recipes, swatches or weighings of its own (perhaps the example, or in the bin), and an archive can't be mixed with them. Open a new, empty folder as a studio and import there.")
	}
	return nil
}

// AddPhoto puts one photograph's file aside. Its bytes must have the SHA-256 sha;
// no more than limit bytes are read.
func (in *Intake) AddPhoto(sha, extension string, r io.Reader, limit int64) error {
	name := sha[:min(2, len(sha))] + "/" + sha + "." + extension
	if !photoFile.MatchString(name) {
		return unusable("%q is not the name of a photograph.", sha+"."+extension)
	}
	path := filepath.Join(in.stage, sha+"."+extension)
	if err := putFile(in.stage, path, io.LimitReader(r, limit+1)); err != nil {
		if isDiskFull(err) {
			return studio.Problemf(studio.Machine, "archive", "The disk is full: nothing was imported; free some space and try again.")
		}
		return fmt.Errorf("put photograph %s aside: %w", sha, err)
	}
	got, n, err := fileHash(path)
	if err != nil {
		return fmt.Errorf("read photograph %s back: %w", sha, err)
	}
	if n > limit {
		return unusable("The photograph %s is larger than it says.", sha)
	}
	if got != sha {
		return unusable("The photograph %s is damaged: its bytes are not those it was packed with.", sha)
	}
	in.staged[name] = n
	return nil
}

// Commit keeps the records and moves the photographs to their places. It is all
// or nothing, whenever it is cut short: until the last moment, the records are
// not there, and files that no record names are put aside at the next opening.
func (in *Intake) Commit(ctx context.Context, all Records) error {
	s := in.s
	s.files.Lock()
	defer s.files.Unlock()
	err := s.change(ctx, func(tx *sql.Tx) error {
		if err := roomForIntake(ctx, tx); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `PRAGMA defer_foreign_keys = ON`); err != nil { // overlays and corrections may name later rows
			return err
		}
		if err := clearFor(ctx, tx, all); err != nil {
			return err
		}
		for i, t := range tables {
			if i >= len(all) || all[i].Name != t.kind {
				return unusable("Its records are not those of a studio: %s is missing.", t.kind)
			}
			if err := t.load(ctx, tx, all[i].Rows); err != nil {
				return err
			}
		}
		if err := s.checkIntake(ctx, tx); err != nil {
			return err
		}
		if err := in.placePhotos(ctx, tx); err != nil {
			return err
		}
		return ctx.Err()
	})
	if err != nil {
		if !inDoubt(err) {
			for _, path := range in.placed { // no record names them
				_ = os.Remove(path)
			}
		}
		return fault(err, "take in records")
	}
	_ = os.RemoveAll(s.path("photos", ".made")) // may be lost at any time
	return nil
}

// clearFor makes room for the records of an archive: starting amounts give way,
// and what is on the bench already, which nothing refers to yet, moves to
// numbers that the archive does not use.
func clearFor(ctx context.Context, tx *sql.Tx, all Records) error {
	for _, q := range []string{`DELETE FROM hand_amount`, `DELETE FROM counter`} {
		if _, err := tx.ExecContext(ctx, q); err != nil {
			return err
		}
	}
	for i, k := range all {
		if i >= len(tables) {
			break
		}
		switch tables[i].table {
		case "metal", "supply", "chamber":
			var above int64
			for _, row := range k.Rows {
				id, err := readAs[struct{ ID int64 }](row)
				if err != nil || id.ID < 1 || id.ID > maxInteger {
					return unusable("A record of %s has no usable id.", k.Name)
				}
				above = max(above, id.ID)
			}
			if _, err := tx.ExecContext(ctx, `UPDATE `+tables[i].table+` SET id = id + ?1 + (SELECT max(id) FROM `+tables[i].table+`)`, above); err != nil {
				return err
			}
		case "setting":
			for _, row := range k.Rows {
				kept, err := readAs[struct{ Key string }](row)
				if err != nil {
					return unusable("A record of %s has no usable key.", k.Name)
				}
				if _, err := tx.ExecContext(ctx, `DELETE FROM setting WHERE key = ?`, kept.Key); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// checkIntake holds what was loaded to the same rules as what is entered.
func (s *Store) checkIntake(ctx context.Context, tx *sql.Tx) error {
	rows, err := list(ctx, tx, func(r scanner) (table string, err error) {
		var row sql.NullInt64
		var parent string
		var n int
		return table, r.Scan(&table, &row, &parent, &n)
	}, `PRAGMA foreign_key_check`)
	if err != nil {
		return err
	}
	if len(rows) > 0 {
		return unusable("A record of %s refers to something that is not in it.", rows[0])
	}
	bad := func(what string, id int64, err error) error {
		if err == nil {
			return nil
		}
		return unusable("The %s %d can't be used: %v", what, id, err)
	}
	checks := []func() error{
		func() error {
			return each(ctx, tx, scanMetal, `SELECT `+metalColumns+` FROM metal`, func(m studio.Metal) error { return bad("metal", m.ID, m.Check()) })
		},
		func() error {
			return each(ctx, tx, scanSupply, `SELECT `+supplyColumns+` FROM supply`, func(x studio.Supply) error { return bad("supply", x.ID, x.Check()) })
		},
		func() error {
			return each(ctx, tx, scanChamber, `SELECT `+chamberColumns+` FROM chamber`, func(c studio.Chamber) error { return bad("chamber", c.ID, c.Check()) })
		},
		func() error {
			return each(ctx, tx, scanHand, `SELECT `+handColumns+` FROM hand_amount`, func(h studio.HandAmount) error { return bad("hand amount", h.ID, checkHand(h)) })
		},
		func() error {
			return each(ctx, tx, scanVersion, `SELECT `+versionColumns+` FROM recipe_version v`, func(v studio.Version) error { return bad("recipe version", v.ID, v.Check()) })
		},
		func() error {
			return each(ctx, tx, scanSet, `SELECT `+setColumns+` FROM swatch_set`, func(x studio.Set) error { return bad("set", x.ID, checkName(x.Name, "set")) })
		},
		func() error {
			return each(ctx, tx, scanSwatch, selectSwatch, func(studio.Swatch) error { return nil })
		},
		func() error {
			return each(ctx, tx, scanTreatment, selectTreatment, func(t studio.Treatment) error { return bad("treatment", t.ID, checkTreatment(t)) })
		},
		func() error {
			// Against when it was recorded: this machine's clock may be behind.
			return each(ctx, tx, scanEvent, `SELECT `+eventColumns+` FROM event`, func(e studio.Event) error { return bad("event", e.ID, e.Check(e.Recorded)) })
		},
		func() error {
			return each(ctx, tx, scanPhoto, selectPhoto, func(p studio.Photo) error {
				when := p.Added
				if p.Taken.After(when) {
					when = p.Taken
				}
				return bad("photograph", p.ID, checkPhoto(p, when))
			})
		},
		func() error {
			return each(ctx, tx, scanMeasurement, `SELECT `+measurementColumns+` FROM measurement m`, func(studio.Measurement) error { return nil })
		},
		func() error {
			return each(ctx, tx, func(r scanner) (d changeDoc, err error) { return d, r.Scan(intoJSON{&d}) }, `SELECT was FROM photo_change`, func(changeDoc) error { return nil })
		},
		func() error {
			n, err := number(ctx, tx, `SELECT count(*) FROM recipe r WHERE NOT EXISTS (SELECT 1 FROM recipe_version WHERE recipe_id = r.id)`)
			if err == nil && n > 0 {
				err = unusable("%s recipes have no version.", strconv.FormatInt(n, 10))
			}
			return err
		},
		func() error {
			n, err := number(ctx, tx, `SELECT count(*) FROM event e JOIN event of ON of.id = e.corrects WHERE of.treatment_id <> e.treatment_id`)
			if err == nil && n > 0 {
				err = unusable("%s corrections name another treatment's record.", strconv.FormatInt(n, 10))
			}
			return err
		},
		func() error {
			// A number on a label must not come up again, whatever the archive says.
			_, err := tx.ExecContext(ctx, `INSERT INTO counter (name, next) SELECT 'swatch', coalesce(max(number), 0) + 1 FROM swatch WHERE true
				ON CONFLICT (name) DO UPDATE SET next = max(next, excluded.next)`)
			return err
		},
	}
	for _, check := range checks {
		if err := check(); err != nil {
			return err
		}
	}
	return nil
}

// each reads every row of a query, calling check on each. What cannot be read
// back is the archive's fault.
func each[T any](ctx context.Context, q querier, scan func(scanner) (T, error), query string, check func(T) error) error {
	all, err := list(ctx, q, scan, query)
	if err != nil {
		if sqliteCode(err) != 0 || ctx.Err() != nil {
			return err
		}
		return unusable("One of its records can't be read: %v.", err)
	}
	for _, v := range all {
		if err := check(v); err != nil {
			return err
		}
	}
	return nil
}

// placePhotos moves the files put aside to their places: exactly those the
// records name.
func (in *Intake) placePhotos(ctx context.Context, tx *sql.Tx) error {
	type file struct {
		sha, format string
		bytes       int64
	}
	files, err := list(ctx, tx, func(r scanner) (f file, err error) { return f, r.Scan(&f.sha, &f.format, &f.bytes) },
		`SELECT DISTINCT sha256, format, size_bytes FROM photo ORDER BY sha256`)
	if err != nil {
		return err
	}
	for _, f := range files {
		name := f.sha[:2] + "/" + f.sha + "." + extensions[f.format]
		if n, ok := in.staged[name]; !ok {
			return unusable("The photograph %s is missing from it.", f.sha)
		} else if n != f.bytes {
			return unusable("The photograph %s has %d bytes, but its record says %d.", f.sha, n, f.bytes)
		}
	}
	if len(files) != len(in.staged) {
		return unusable("It has %d photographs' files, but records of %d.", len(in.staged), len(files))
	}
	for _, f := range files {
		base := f.sha + "." + extensions[f.format]
		path := in.s.path("photos", f.sha[:2], base)
		in.placed = append(in.placed, path)
		if err := moveFile(filepath.Join(in.stage, base), path); err != nil {
			return fmt.Errorf("place photograph %s: %w", f.sha, err)
		}
	}
	return nil
}

// Abort clears away what was put aside. After Commit it has nothing left to do.
func (in *Intake) Abort() { _ = os.RemoveAll(in.stage) }
