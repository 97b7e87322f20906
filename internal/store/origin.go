package store

import (
	"context"
	"database/sql"
	"errors"

	"aerugo/internal/studio"
)

const originColumns = `id, recipe_id, origin_id, versions, file_name, file_sha256, document, by, at`

func scanOrigin(r scanner) (o studio.RecipeOrigin, err error) {
	return o, r.Scan(&o.ID, &o.RecipeID, &o.OriginID, intoJSON{&o.Versions}, &o.FileName, &o.FileSHA256, &o.Document, &o.By, intoTime{&o.At})
}

// A TakenIn is a recipe that came in a file, to be kept with where it came from.
// Over says for each version on which version of which recipe taken in together it
// lies, by their places in the list; nil for none.
type TakenIn struct {
	Name     string
	Versions []studio.Version
	Over     []*[2]int
	Origin   studio.RecipeOrigin
}

// TakeIn keeps recipes that came in a file, all of them or none. What one lies over
// must stand before it in the list, or earlier in the same recipe, or be kept
// already: then the version names it itself (OverID). A recipe whose OriginID is
// here is a Problem. It returns the recipes' ids in the order given.
func (s *Store) TakeIn(ctx context.Context, all []TakenIn) ([]int64, error) {
	for _, x := range all {
		if err := checkRecipeName(x.Name); err != nil {
			return nil, err
		}
		for _, v := range x.Versions {
			if err := v.Check(); err != nil {
				return nil, err
			}
		}
	}
	var ids []int64
	err := s.change(ctx, func(tx *sql.Tx) error {
		versions := make([][]int64, len(all))
		for i, x := range all {
			n, err := number(ctx, tx, `SELECT count(*) FROM recipe_origin WHERE origin_id = ?`, x.Origin.OriginID)
			if err != nil {
				return err
			}
			if n > 0 {
				return studio.Problemf(studio.Conflict, "file", "%s is here already.", x.Name)
			}
			done, err := tx.ExecContext(ctx, `INSERT INTO recipe (name, invented) VALUES (?, 0)`, x.Name)
			if err != nil {
				return err
			}
			id, err := done.LastInsertId()
			if err != nil {
				return err
			}
			ids = append(ids, id)
			for j, v := range x.Versions {
				if o := x.Over[j]; o != nil {
					if o[0] > i || o[1] >= len(versions[o[0]]) {
						return errors.New("a recipe stands before what it lies over")
					}
					v.OverID = versions[o[0]][o[1]]
				}
				vid, err := s.insertVersion(ctx, tx, id, v)
				if err != nil {
					return err
				}
				versions[i] = append(versions[i], vid)
			}
			list, err := asJSON(versions[i])
			if err != nil {
				return err
			}
			o := x.Origin
			if _, err := tx.ExecContext(ctx, `INSERT INTO recipe_origin (recipe_id, origin_id, versions, file_name, file_sha256, document, by, at) VALUES (?, ?, ?, ?, ?, ?, ?, ?)`,
				id, o.OriginID, list, o.FileName, o.FileSHA256, o.Document, o.By, stamp(s.now())); err != nil {
				return err
			}
		}
		return nil
	})
	return ids, fault(err, "take in %d recipes", len(all))
}

// RecipeOrigins returns where recipes came from, by recipe, also of those in the bin.
func (s *Store) RecipeOrigins(ctx context.Context) (map[int64]studio.RecipeOrigin, error) {
	all, err := list(ctx, s.read, scanOrigin, `SELECT `+originColumns+` FROM recipe_origin ORDER BY id`)
	out := map[int64]studio.RecipeOrigin{}
	for _, o := range all {
		out[o.RecipeID] = o
	}
	return out, fault(err, "list where recipes came from")
}
