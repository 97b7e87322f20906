package store

import (
	"context"
	"database/sql"
	"errors"
	"strings"

	"aerugo/internal/studio"
)

const versionColumns = `v.id, v.recipe_id, v.number, v.steps, v.over_id, v.over_state, v.why, v.made_at, v.source_key, v.binned_at`

// versionFields returns where the versionColumns go, and what to do afterwards.
func versionFields(v *studio.Version) (into []any, finish func()) {
	var steps []stepDoc
	return []any{&v.ID, &v.RecipeID, &v.Number, intoJSON{&steps}, intoRef{&v.OverID}, &v.Over, &v.Why, intoTime{&v.Made}, &v.Source, intoTime{&v.BinnedAt}},
		func() { v.Steps = stepsOf(steps) }
}

func scanVersion(r scanner) (v studio.Version, err error) {
	into, finish := versionFields(&v)
	err = r.Scan(into...)
	finish()
	return v, err
}

func scanRecipe(r scanner) (x studio.Recipe, err error) {
	into, finish := versionFields(&x.Latest)
	err = r.Scan(append([]any{&x.ID, &x.Name, &x.Invented, intoTime{&x.BinnedAt}}, into...)...)
	finish()
	return x, err
}

const selectRecipe = `SELECT r.id, r.name, r.invented, r.binned_at, ` + versionColumns + `
	FROM recipe r JOIN recipe_version v ON v.recipe_id = r.id AND v.number = coalesce(
		(SELECT max(number) FROM recipe_version WHERE recipe_id = r.id AND binned_at IS NULL), (SELECT max(number) FROM recipe_version WHERE recipe_id = r.id))`

// Recipes returns the recipes that are not in the bin, by name, with the latest
// version of each.
func (s *Store) Recipes(ctx context.Context) ([]studio.Recipe, error) {
	out, err := list(ctx, s.read, scanRecipe, selectRecipe+` WHERE r.binned_at IS NULL ORDER BY r.name, r.id`)
	return out, fault(err, "list recipes")
}

// Recipe returns one recipe with its latest version, also from the bin.
func (s *Store) Recipe(ctx context.Context, id int64) (studio.Recipe, error) {
	r, err := scanRecipe(s.read.QueryRowContext(ctx, selectRecipe+` WHERE r.id = ?`, id))
	return r, found(err, "recipe", id)
}

// Version returns one version of a recipe by its own id, also from the bin.
func (s *Store) Version(ctx context.Context, id int64) (studio.Version, error) {
	v, err := scanVersion(s.read.QueryRowContext(ctx, `SELECT `+versionColumns+` FROM recipe_version v WHERE v.id = ?`, id))
	return v, found(err, "recipe version", id)
}

// Versions returns the versions of a recipe that are not in the bin, oldest first.
func (s *Store) Versions(ctx context.Context, recipeID int64) ([]studio.Version, error) {
	out, err := list(ctx, s.read, scanVersion, `SELECT `+versionColumns+` FROM recipe_version v WHERE v.recipe_id = ? AND v.binned_at IS NULL ORDER BY v.number`, recipeID)
	return out, fault(err, "list versions of recipe %d", recipeID)
}

// AddRecipe keeps a new recipe (its Name and Invented count) with v as its
// version 1. Version.Made, if zero, becomes now.
func (s *Store) AddRecipe(ctx context.Context, r studio.Recipe, v studio.Version) (studio.Recipe, error) {
	if err := checkRecipeName(r.Name); err != nil {
		return studio.Recipe{}, err
	}
	if err := v.Check(); err != nil {
		return studio.Recipe{}, err
	}
	var id int64
	err := s.change(ctx, func(tx *sql.Tx) error {
		done, err := tx.ExecContext(ctx, `INSERT INTO recipe (name, invented) VALUES (?, ?)`, r.Name, r.Invented)
		if err != nil {
			return err
		}
		if id, err = done.LastInsertId(); err != nil {
			return err
		}
		_, err = s.insertVersion(ctx, tx, id, v)
		return err
	})
	if err != nil {
		return studio.Recipe{}, fault(err, "add recipe %s", r.Name)
	}
	return s.Recipe(ctx, id)
}

// AddVersion keeps v as the next version of a recipe; the earlier ones stay as
// they are.
func (s *Store) AddVersion(ctx context.Context, recipeID int64, v studio.Version) (studio.Version, error) {
	if err := v.Check(); err != nil {
		return studio.Version{}, err
	}
	var id int64
	err := s.change(ctx, func(tx *sql.Tx) error {
		if _, err := number(ctx, tx, `SELECT id FROM recipe WHERE id = ?`, recipeID); errors.Is(err, sql.ErrNoRows) {
			return missing("recipe", recipeID)
		} else if err != nil {
			return err
		}
		var err error
		id, err = s.insertVersion(ctx, tx, recipeID, v)
		return err
	})
	if err != nil {
		return studio.Version{}, fault(err, "add a version to recipe %d", recipeID)
	}
	return s.Version(ctx, id)
}

func (s *Store) insertVersion(ctx context.Context, tx *sql.Tx, recipeID int64, v studio.Version) (int64, error) {
	steps, err := asJSON(stepsToDoc(v.Steps))
	if err != nil {
		return 0, err
	}
	if v.Made.IsZero() {
		v.Made = s.now()
	}
	done, err := tx.ExecContext(ctx, `INSERT INTO recipe_version (recipe_id, number, steps, over_id, over_state, why, made_at, source_key)
		VALUES (?1, (SELECT max(r.last_number, coalesce((SELECT max(number) FROM recipe_version WHERE recipe_id = ?1), 0)) + 1 FROM recipe r WHERE r.id = ?1), ?2, ?3, ?4, ?5, ?6, ?7)`,
		recipeID, steps, ref(v.OverID), v.Over, v.Why, stamp(v.Made), v.Source)
	if err != nil {
		return 0, err
	}
	return done.LastInsertId()
}

// RenameRecipe gives a recipe another name.
func (s *Store) RenameRecipe(ctx context.Context, id int64, name string) error {
	if err := checkRecipeName(name); err != nil {
		return err
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		return changeOne(ctx, tx, "recipe", id, `UPDATE recipe SET name = ? WHERE id = ?`, name, id)
	})
	return fault(err, "rename recipe %d", id)
}

func checkRecipeName(name string) error {
	return checkName(name, "recipe")
}

func checkName(name, what string) error {
	if strings.TrimSpace(name) == "" {
		return studio.Problemf(studio.Invalid, "name", "Give the %s a name, so that it can be found again.", what)
	}
	if n := len([]rune(name)); n > 120 {
		return studio.Problemf(studio.Invalid, "name", "That name has %d letters; 120 are the most.", n)
	}
	return nil
}
