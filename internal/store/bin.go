package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"slices"
	"sort"
	"strings"
	"time"

	"aerugo/internal/studio"
)

// binDays is how long things stay in the bin before [Store.PurgeBin] takes them.
const binDays = 30

// A BinEntry is one thing in the bin. Kind and ID are as [Store.BinItem] takes them.
type BinEntry struct {
	Kind     string
	ID       int64
	Name     string
	BinnedAt time.Time
}

// binKind is a kind of thing that can go into the bin: its table, its key, and
// what it is called there, in SQL.
type binKind struct{ name, table, key, called string }

var binKinds = []binKind{
	{"photo", "photo", "id", `face || ' of swatch ' || swatch_number || ', ' || substr(taken_at, 1, 10)`},
	{"set", "swatch_set", "id", "name"},
	{"swatch", "swatch", "number", "number"},
	{"piece", "piece", "id", "name"},
	{"class", "class", "id", "name"},
	{"recipe", "recipe", "id", "name"},
	{"version", "recipe_version", "id", `(SELECT name FROM recipe WHERE id = recipe_id) || ', version ' || number`},
	{"metal", "metal", "id", "name"},
	{"supply", "supply", "id", "name"},
	{"chamber", "chamber", "id", "name"},
	{"room", "room", "id", "name"},
	{"setup", "setup", "id", "name"},
	{"target", "target_file", "id", "name"},
}

func binKindOf(kind string) (binKind, error) {
	for _, k := range binKinds {
		if k.name == kind {
			return k, nil
		}
	}
	return binKind{}, studio.Problemf(studio.Invalid, "kind", "A %q can't go into the bin.", kind)
}

// BinItem puts a thing into the bin: a photo, set (with its swatches), swatch,
// recipe, metal, supply or chamber. It vanishes from lists, and stays wherever a
// record uses it. A version of a recipe that anything uses is a Problem that says what.
func (s *Store) BinItem(ctx context.Context, kind string, id int64) error {
	return s.setBinned(ctx, kind, id, s.now())
}

// RestoreItem takes a thing back out of the bin.
func (s *Store) RestoreItem(ctx context.Context, kind string, id int64) error {
	return s.setBinned(ctx, kind, id, time.Time{})
}

func (s *Store) setBinned(ctx context.Context, kind string, id int64, at time.Time) error {
	k, err := binKindOf(kind)
	if err != nil {
		return err
	}
	err = s.change(ctx, func(tx *sql.Tx) error {
		if kind == "version" && !at.IsZero() {
			if err := mayBinVersion(ctx, tx, id); err != nil {
				return err
			}
		}
		// A thing binned twice stays binned since the first time.
		return changeOne(ctx, tx, kind, id, `UPDATE `+k.table+` SET binned_at = CASE WHEN ?1 IS NULL THEN NULL ELSE coalesce(binned_at, ?1) END WHERE `+k.key+` = ?2`, stamp(at), id)
	})
	return fault(err, "bin or restore %s %d", kind, id)
}

// Binned returns what is in the bin, the latest first.
func (s *Store) Binned(ctx context.Context) ([]BinEntry, error) {
	var out []BinEntry
	for _, k := range binKinds {
		entries, err := list(ctx, s.read, func(r scanner) (BinEntry, error) {
			e := BinEntry{Kind: k.name}
			return e, r.Scan(&e.ID, &e.Name, intoTime{&e.BinnedAt})
		}, `SELECT `+k.key+`, `+k.called+`, binned_at FROM `+k.table+` WHERE binned_at IS NOT NULL`)
		if err != nil {
			return nil, fault(err, "list %ss in the bin", k.name)
		}
		out = append(out, entries...)
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].BinnedAt.After(out[j].BinnedAt) })
	return out, nil
}

// What uses a bench thing or a recipe, in SQL on the row named by its table.
const (
	usesMetal = `EXISTS (SELECT 1 FROM swatch WHERE metal_id = metal.id) OR EXISTS (SELECT 1 FROM swatch_set WHERE metal_id = metal.id) OR EXISTS (SELECT 1 FROM piece WHERE metal_id = metal.id)
		OR EXISTS (SELECT 1 FROM class, json_each(recipes) j WHERE j.value ->> 'metal_id' = metal.id)`
	usesSupply = `EXISTS (SELECT 1 FROM recipe_version, json_each(steps) j WHERE j.value ->> 'supply_id' = supply.id)
		OR EXISTS (SELECT 1 FROM treatment, json_each(steps) j WHERE j.value ->> 'supply_id' = supply.id)
		OR EXISTS (SELECT 1 FROM treatment, json_each(settings) j WHERE j.value ->> '$.level.supply_id' = supply.id)
		OR EXISTS (SELECT 1 FROM swatch_set, json_each(factors) f, json_each(f.value -> 'levels') j WHERE j.value ->> 'supply_id' = supply.id)
		OR EXISTS (SELECT 1 FROM chamber_log WHERE supply_id = supply.id)`
	usesChamber = `EXISTS (SELECT 1 FROM swatch_set WHERE chamber_id = chamber.id)
		OR EXISTS (SELECT 1 FROM recipe_version, json_each(steps) j WHERE j.value ->> 'chamber_id' = chamber.id)
		OR EXISTS (SELECT 1 FROM treatment, json_each(steps) j WHERE j.value ->> 'chamber_id' = chamber.id)`
	usesRoom = `EXISTS (SELECT 1 FROM chamber WHERE room_id = room.id) OR EXISTS (SELECT 1 FROM swatch_set WHERE room_id = room.id)
		OR EXISTS (SELECT 1 FROM class WHERE room_id = room.id)`
	usesPiece  = `EXISTS (SELECT 1 FROM swatch_set WHERE piece_id = piece.id)`
	usesRecipe = `EXISTS (SELECT 1 FROM recipe_version v WHERE v.recipe_id = recipe.id AND (` + usesVersion + `
		OR EXISTS (SELECT 1 FROM recipe_version o WHERE o.over_id = v.id AND o.recipe_id <> recipe.id)))`
)

// lightUses pairs kept setups and targets with the readings that used them, which
// are read again with them.
var lightUses = [][2]string{
	{"setup", `EXISTS (SELECT 1 FROM measurement WHERE marks ->> 'setup_id' = setup.id)`},
	{"target_file", `EXISTS (SELECT 1 FROM measurement WHERE marks ->> 'target' = 'file-' || target_file.id)`},
}

// ownsSupply is what a person kept about a supply, in SQL: then it is no example
// any more that may be removed with the rest.
const ownsSupply = `EXISTS (SELECT 1 FROM data_sheet WHERE supply_id = supply.id) OR EXISTS (SELECT 1 FROM sheet_check WHERE supply_id = supply.id)
	OR EXISTS (SELECT 1 FROM pack_price WHERE supply_id = supply.id) OR EXISTS (SELECT 1 FROM stock_move WHERE supply_id = supply.id)`

// ownsMetal is the same of a metal.
const ownsMetal = `EXISTS (SELECT 1 FROM metal_price WHERE metal_id = metal.id) OR EXISTS (SELECT 1 FROM sheet_move WHERE metal_id = metal.id)`

// staysInvented says, in SQL, which invented rows of the bench stay when the
// example is removed.
func staysInvented(table, uses string) string {
	switch table {
	case "supply":
		return uses + ` OR ` + ownsSupply
	case "metal":
		return uses + ` OR ` + ownsMetal
	}
	return uses
}

// benchUses pairs the bench's tables with what uses them. A chamber goes with its
// log, which may free a supply and the room.
var benchUses = [][2]string{{"chamber", usesChamber}, {"metal", usesMetal}, {"supply", usesSupply}, {"room", usesRoom}}

// PurgeBin removes for good what has been in the bin for more than 30 days, with
// the photographs' files, and returns how many things went. A recipe, metal,
// supply, chamber, setup or target that a record still uses stays.
func (s *Store) PurgeBin(ctx context.Context) (int, error) {
	before := stamp(s.now().AddDate(0, 0, -binDays))
	removed := 0
	err := s.removing(ctx, func(tx *sql.Tx) error {
		old := func(table, key string) ([]int64, error) {
			return list(ctx, tx, scanID, `SELECT `+key+` FROM `+table+` WHERE binned_at < ?`, before)
		}
		photos, err := old("photo", "id")
		if err != nil {
			return err
		}
		if err := deletePhotos(ctx, tx, photos); err != nil {
			return err
		}
		sets, err := old("swatch_set", "id")
		if err != nil {
			return err
		}
		for _, id := range sets {
			if err := deleteSet(ctx, tx, id); err != nil {
				return err
			}
		}
		swatches, err := old("swatch", "number")
		if err != nil {
			return err
		}
		if err := deleteSwatches(ctx, tx, swatches); err != nil {
			return err
		}
		removed = len(photos) + len(sets) + len(swatches)
		pieces, err := deletePieces(ctx, tx, `binned_at < ?`, before)
		if err != nil {
			return err
		}
		classes, err := deleteClasses(ctx, tx, `binned_at < ?`, before)
		if err != nil {
			return err
		}
		removed += pieces + classes
		n, err := deleteRecipes(ctx, tx, `binned_at < ?`, before)
		if err != nil {
			return err
		}
		removed += n
		if n, err = deleteVersions(ctx, tx, before); err != nil {
			return err
		}
		removed += n
		for _, b := range slices.Concat(benchUses, lightUses) {
			done, err := tx.ExecContext(ctx, `DELETE FROM `+b[0]+` WHERE binned_at < ? AND NOT (`+b[1]+`)`, before)
			if err != nil {
				return err
			}
			n, err := done.RowsAffected()
			if err != nil {
				return err
			}
			removed += int(n)
		}
		return nil
	})
	if err != nil {
		return 0, fault(err, "purge the bin")
	}
	return removed, nil
}

func scanID(r scanner) (id int64, err error) { return id, r.Scan(&id) }

// removing runs do in one transaction, then removes the files of photographs,
// data sheets and pieces that no record names any more. A crash in between leaves files that the next
// opening puts aside.
func (s *Store) removing(ctx context.Context, do func(tx *sql.Tx) error) error {
	s.files.Lock()
	defer s.files.Unlock()
	type file struct{ sha, format string }
	scan := func(r scanner) (f file, err error) { return f, r.Scan(&f.sha, &f.format) }
	const all = `SELECT sha256, format FROM photo UNION SELECT sha256, 'PDF' FROM data_sheet UNION SELECT sha256, format FROM (` + pieceFiles + `)`
	var before, after []file
	err := s.change(ctx, func(tx *sql.Tx) (err error) {
		if before, err = list(ctx, tx, scan, all); err != nil {
			return err
		}
		if err = do(tx); err != nil {
			return err
		}
		after, err = list(ctx, tx, scan, all)
		return err
	})
	if err != nil {
		return err
	}
	stay := make(map[file]bool, len(after))
	for _, f := range after {
		stay[f] = true
	}
	made, err := os.ReadDir(s.path("photos", ".made"))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("look into photos/.made: %w", err)
	}
	for _, f := range before {
		if stay[f] {
			continue
		}
		for _, m := range made {
			if strings.HasPrefix(m.Name(), f.sha[:16]) {
				_ = os.Remove(s.path("photos", ".made", m.Name())) // may be lost, may stay
			}
		}
		if err := os.Remove(s.path(filePath(f.sha, f.format))); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("remove file %s: %w", f.sha, err)
		}
	}
	return nil
}

func deletePhotos(ctx context.Context, tx *sql.Tx, ids []int64) error {
	for _, id := range ids {
		for _, q := range []string{`DELETE FROM measurement WHERE photo_id = ?`, `DELETE FROM photo_change WHERE photo_id = ?`, `DELETE FROM photo WHERE id = ?`} {
			if _, err := tx.ExecContext(ctx, q, id); err != nil {
				return fmt.Errorf("photograph %d: %w", id, err)
			}
		}
	}
	return nil
}

func deleteSwatches(ctx context.Context, tx *sql.Tx, numbers []int64) error {
	for _, n := range numbers {
		photos, err := list(ctx, tx, scanID, `SELECT id FROM photo WHERE swatch_number = ?`, n)
		if err != nil {
			return err
		}
		if err := deletePhotos(ctx, tx, photos); err != nil {
			return err
		}
		for _, q := range []string{
			`INSERT INTO purging (swatch_number) VALUES (?)`, // lets its events go
			`DELETE FROM event WHERE treatment_id IN (SELECT id FROM treatment WHERE swatch_number = ?)`,
			`DELETE FROM treatment WHERE swatch_number = ?`,
			`UPDATE piece SET reference = NULL WHERE reference = ?`,
			`DELETE FROM swatch WHERE number = ?`,
			`DELETE FROM purging WHERE swatch_number = ?`,
		} {
			if _, err := tx.ExecContext(ctx, q, n); err != nil {
				return fmt.Errorf("swatch %d: %w", n, err)
			}
		}
	}
	return nil
}

func deleteSet(ctx context.Context, tx *sql.Tx, id int64) error {
	swatches, err := list(ctx, tx, scanID, `SELECT number FROM swatch WHERE set_id = ?`, id)
	if err != nil {
		return err
	}
	if err := deleteSwatches(ctx, tx, swatches); err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, `DELETE FROM swatch_set WHERE id = ?`, id)
	return err
}

// deletePieces removes the pieces chosen by a condition that no batch was made of.
func deletePieces(ctx context.Context, tx *sql.Tx, where string, args ...any) (int, error) {
	done, err := tx.ExecContext(ctx, `DELETE FROM piece WHERE `+where+` AND NOT (`+usesPiece+`)`, args...)
	if err != nil {
		return 0, fmt.Errorf("pieces: %w", err)
	}
	n, err := done.RowsAffected()
	return int(n), err
}

// deleteRecipes removes the recipes chosen by a condition that nothing uses.
// One that lay over another frees that one, so it goes round until none is left.
func deleteRecipes(ctx context.Context, tx *sql.Tx, where string, args ...any) (int, error) {
	removed := 0
	for {
		ids, err := list(ctx, tx, scanID, `SELECT id FROM recipe WHERE `+where+` AND NOT (`+usesRecipe+`)`, args...)
		if err != nil || len(ids) == 0 {
			return removed, err
		}
		for _, id := range ids {
			for _, q := range []string{`DELETE FROM recipe_version WHERE recipe_id = ?`, `DELETE FROM recipe WHERE id = ?`} {
				if _, err := tx.ExecContext(ctx, q, id); err != nil {
					return removed, fmt.Errorf("recipe %d: %w", id, err)
				}
			}
		}
		removed += len(ids)
	}
}

// HasInvented reports whether there is example data that [Store.RemoveInvented]
// would take out.
func (s *Store) HasInvented(ctx context.Context) (bool, error) {
	query := `SELECT EXISTS (SELECT 1 FROM swatch_set WHERE invented) OR EXISTS (SELECT 1 FROM class WHERE invented) OR EXISTS (SELECT 1 FROM recipe WHERE invented AND NOT (` + usesRecipe + `))`
	for _, b := range benchUses {
		query += ` OR EXISTS (SELECT 1 FROM ` + b[0] + ` WHERE invented AND NOT (` + staysInvented(b[0], b[1]) + `))`
	}
	n, err := number(ctx, s.read, query)
	return n != 0, fault(err, "look for the example")
}

// inventedDay holds for a bench day that was planned of the example's swatches alone.
const inventedDay = `(SELECT min(coalesce(x.invented, 0)) FROM bench_plan p, json_each(p.ask, '$.treatment_ids') j
	JOIN treatment t ON t.id = j.value JOIN swatch w ON w.number = t.swatch_number LEFT JOIN swatch_set x ON x.id = w.set_id
	WHERE p.day_id = bench_day.id) = 1`

// RemoveInvented takes the example data out, in one transaction: its sets with
// their swatches, everything on those and the bench days of nothing else, its classes,
// recipes, metals, supplies and chambers. Of the last four, what the person's own records use stays, still
// marked invented.
func (s *Store) RemoveInvented(ctx context.Context) error {
	err := s.removing(ctx, func(tx *sql.Tx) error {
		sets, err := list(ctx, tx, scanID, `SELECT id FROM swatch_set WHERE invented`)
		if err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `DELETE FROM bench_day WHERE `+inventedDay); err != nil {
			return fmt.Errorf("bench days: %w", err)
		}
		for _, id := range sets {
			if err := deleteSet(ctx, tx, id); err != nil {
				return err
			}
		}
		if _, err := deleteClasses(ctx, tx, `invented`); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `DELETE FROM place WHERE invented AND NOT (`+usesPlace+`)`); err != nil {
			return fmt.Errorf("places: %w", err)
		}
		if _, err := deletePieces(ctx, tx, `invented`); err != nil {
			return err
		}
		if _, err := deleteRecipes(ctx, tx, `invented`); err != nil {
			return err
		}
		for _, b := range benchUses {
			if _, err := tx.ExecContext(ctx, `DELETE FROM `+b[0]+` WHERE invented AND NOT (`+staysInvented(b[0], b[1])+`)`); err != nil {
				return err
			}
		}
		return nil
	})
	return fault(err, "remove the example")
}
