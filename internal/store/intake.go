package store

import (
	"context"
	"database/sql"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"

	"aerugo/internal/studio"
)

// An Intake takes the whole content of another studio into this one: first the
// files, put aside, then in one step all records.
type Intake struct {
	s      *Store
	stage  string
	staged map[string]int64 // name below photos or sheets -> bytes
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
		+ (SELECT count(*) FROM hand_amount WHERE weighings > 0) + (SELECT count(*) FROM quote)`)
	if err != nil {
		return fault(err, "look for records")
	}
	if n > 0 {
		return studio.Problemf(studio.Conflict, "archive", "This studio has recipes, swatches, weighings or quotes of its own (perhaps the example, or in the bin), and an archive can't be mixed with them. Open a new, empty folder as a studio and import there.")
	}
	return nil
}

// AddFile puts one file aside: a photograph's, a data sheet's (extension pdf), or a
// piece's drawing or model. Its bytes must have the SHA-256 sha;
// no more than limit bytes are read.
func (in *Intake) AddFile(sha, extension string, r io.Reader, limit int64) error {
	name := sha[:min(2, len(sha))] + "/" + sha + "." + extension
	if !photoFile.MatchString(name) && !sheetFile.MatchString(name) && !formFile.MatchString(name) {
		return unusable("%q is not the name of a photograph, data sheet, drawing or model.", sha+"."+extension)
	}
	path := filepath.Join(in.stage, sha+"."+extension)
	if err := putFile(in.stage, path, io.LimitReader(r, limit+1)); err != nil {
		if isDiskFull(err) {
			return studio.Problemf(studio.Machine, "archive", "The disk is full: nothing was imported; free some space and try again.")
		}
		return fmt.Errorf("put file %s aside: %w", sha, err)
	}
	got, n, err := fileHash(path)
	if err != nil {
		return fmt.Errorf("read file %s back: %w", sha, err)
	}
	if n > limit {
		return unusable("The file %s is larger than it says.", sha)
	}
	if got != sha {
		return unusable("The file %s is damaged: its bytes are not those it was packed with.", sha)
	}
	in.staged[name] = n
	return nil
}

// Commit keeps the records and moves the files to their places. It is all
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
		if err := in.placeFiles(ctx, tx); err != nil {
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
		case "metal", "supply", "chamber", "room", "chamber_log", "data_sheet", "sheet_check", "setup", "target_file", "mat_print", "bare_reference", "painting", "weighed_salt", "bench_day", "bench_plan", "piece", "class", "seat", "pack_price", "metal_price", "stock_move", "sheet_move", "place", "place_round":
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
			return each(ctx, tx, scanBenchPlan, `SELECT `+benchPlanColumns+` FROM bench_plan`, func(p studio.BenchPlan) error { return bad("plan of a bench day", p.ID, checkBenchPlan(p)) })
		},
		func() error {
			return each(ctx, tx, scanRoom, `SELECT `+roomColumns+` FROM room`, func(x studio.Room) error { return bad("room", x.ID, x.Check()) })
		},
		func() error {
			return each(ctx, tx, scanSheet, `SELECT `+sheetColumns+` FROM data_sheet`, func(d studio.DataSheet) error {
				if d.Name != sheetName(d.Name) || d.Bytes > studio.MaxSheet {
					return unusable("The data sheet %d can't be used.", d.ID)
				}
				return nil
			})
		},
		func() error {
			return each(ctx, tx, scanCheck, `SELECT `+checkColumns+` FROM sheet_check`, func(c studio.SheetCheck) error { return bad("tick", c.ID, c.Check()) })
		},
		func() error {
			return each(ctx, tx, scanLog, `SELECT `+logColumns+` FROM chamber_log`, func(l studio.ChamberLog) error { return bad("record of a chamber", l.ID, l.Check(l.Recorded)) })
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
			return each(ctx, tx, scanPiece, `SELECT `+pieceColumns+` FROM piece`, func(p studio.Piece) error { return bad("piece", p.ID, p.Check()) })
		},
		func() error { return checkClassRefs(ctx, tx) },
		func() error {
			return each(ctx, tx, scanClass, `SELECT `+classColumns+` FROM class`, func(c studio.Class) error { return bad("class", c.ID, c.Check()) })
		},
		func() error { return checkSeats(ctx, tx) },
		func() error { return checkPlaces(ctx, tx) },
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
			return each(ctx, tx, scanBare, `SELECT `+bareColumns+` FROM bare_reference`, func(studio.BareReference) error { return nil })
		},
		func() error {
			return each(ctx, tx, scanPainting, `SELECT `+paintingColumns+` FROM painting`, func(p studio.Painting) error { return bad("painting", p.ID, studio.CheckStrokes(p.Strokes)) })
		},
		func() error {
			return each(ctx, tx, scanGrains, `SELECT `+grainColumns+` FROM grain_count`, func(studio.GrainReading) error { return nil })
		},
		func() error {
			return each(ctx, tx, scanWeighed, `SELECT `+weighedColumns+` FROM weighed_salt`, func(w studio.WeighedSalt) error { return bad("weighed salt", w.ID, w.Check()) })
		},
		func() error {
			return each(ctx, tx, func(r scanner) (d changeDoc, err error) { return d, r.Scan(intoJSON{&d}) }, `SELECT was FROM photo_change`, func(changeDoc) error { return nil })
		},
		func() error {
			return each(ctx, tx, scanSetup, `SELECT `+setupColumns+` FROM setup`, func(x studio.Setup) error { return bad("setup", x.ID, x.Check()) })
		},
		func() error {
			return each(ctx, tx, scanTarget, `SELECT `+targetColumns+` FROM target_file`, func(f studio.TargetFile) error { return bad("colour target", f.ID, f.Check()) })
		},
		func() error {
			return each(ctx, tx, scanPrint, `SELECT `+printColumns+` FROM mat_print`, func(p studio.MatPrint) error { return bad("print of the mat", p.ID, p.Check()) })
		},
		func() error {
			return each(ctx, tx, scanPack, `SELECT `+packColumns+` FROM pack_price`, func(p studio.PackPrice) error { return bad("price", p.ID, p.Check()) })
		},
		func() error {
			return each(ctx, tx, scanMetalPrice, `SELECT `+metalPriceColumns+` FROM metal_price`, func(p studio.MetalPrice) error { return bad("price", p.ID, p.Check()) })
		},
		func() error {
			return each(ctx, tx, scanMove, `SELECT `+moveColumns+` FROM stock_move`, func(m studio.StockMove) error { return bad("movement of stock", m.ID, m.Check(m.Recorded)) })
		},
		func() error {
			return each(ctx, tx, scanSheetMove, `SELECT `+sheetMoveColumns+` FROM sheet_move`, func(m studio.SheetMove) error {
				err := m.Check(m.Recorded)
				if err == nil {
					err = sheetRefs(ctx, tx, m)
				}
				return bad("movement of sheets", m.ID, err)
			})
		},
		func() error {
			return each(ctx, tx, scanQuote, `SELECT `+quoteColumns+` FROM quote`, func(q studio.Quote) error { return bad("quote", q.ID, q.Check()) })
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

// placeFiles moves the files put aside to their places: exactly those the
// records name.
func (in *Intake) placeFiles(ctx context.Context, tx *sql.Tx) error {
	type file struct {
		sha, format string
		bytes       int64
	}
	files, err := list(ctx, tx, func(r scanner) (f file, err error) { return f, r.Scan(&f.sha, &f.format, &f.bytes) },
		`SELECT sha256, format, size_bytes FROM photo UNION SELECT sha256, 'PDF', size_bytes FROM data_sheet UNION SELECT sha256, format, bytes FROM (`+pieceFiles+`) ORDER BY sha256`)
	if err != nil {
		return err
	}
	var come []file // what was here before need not come
	for _, f := range files {
		n, ok := in.staged[f.sha[:2]+"/"+filepath.Base(filePath(f.sha, f.format))]
		if !ok && (f.format == "PDF" || studio.FormFormats[f.format] != "") {
			if sha, _, err := fileHash(in.s.path(filePath(f.sha, f.format))); err == nil && sha == f.sha {
				continue
			}
		}
		switch {
		case !ok:
			return unusable("The file %s is missing from it.", f.sha)
		case n != f.bytes:
			return unusable("The file %s has %d bytes, but its record says %d.", f.sha, n, f.bytes)
		}
		come = append(come, f)
	}
	if len(come) != len(in.staged) {
		return unusable("It has %d files, but records of %d.", len(in.staged), len(come))
	}
	for _, f := range come {
		path := in.s.path(filePath(f.sha, f.format))
		in.placed = append(in.placed, path)
		if err := moveFile(filepath.Join(in.stage, filepath.Base(path)), path); err != nil {
			return fmt.Errorf("place file %s: %w", f.sha, err)
		}
	}
	return nil
}

// Abort clears away what was put aside. After Commit it has nothing left to do.
func (in *Intake) Abort() { _ = os.RemoveAll(in.stage) }
