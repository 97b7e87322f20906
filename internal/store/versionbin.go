package store

import (
	"context"
	"database/sql"
	"errors"
	"strings"

	"aerugo/internal/studio"
)

// usesVersion is what uses one version of a recipe, in SQL on the row named v.
const usesVersion = `EXISTS (SELECT 1 FROM treatment WHERE version_id = v.id)
	OR EXISTS (SELECT 1 FROM swatch_set WHERE front_id = v.id OR back_id = v.id)
	OR EXISTS (SELECT 1 FROM piece WHERE outside_id = v.id OR inside_id = v.id)
	OR EXISTS (SELECT 1 FROM class, json_each(recipes) j WHERE j.value ->> 'version_id' = v.id)
	OR EXISTS (SELECT 1 FROM class, json_each(parts) j WHERE j.value ->> 'version_id' = v.id)`

// keepsVersion is usesVersion with what else a version must not be taken from: what
// lies over it, the file it came in, and its recipe when it is the last one there.
const keepsVersion = usesVersion + `
	OR EXISTS (SELECT 1 FROM recipe_version o WHERE o.over_id = v.id)
	OR EXISTS (SELECT 1 FROM recipe_origin o, json_each(o.versions) j WHERE j.value = v.id)
	OR NOT EXISTS (SELECT 1 FROM recipe_version o WHERE o.recipe_id = v.recipe_id AND o.id <> v.id AND o.binned_at IS NULL)`

// VersionHeld says in sentences what a version of a recipe can't be put into the bin
// for; none when it can.
func (s *Store) VersionHeld(ctx context.Context, id int64) ([]string, error) {
	out, err := versionHeld(ctx, s.read, id)
	return out, fault(err, "look for what uses recipe version %d", id)
}

// mostNamed is how many things of one kind are named that hold a version.
const mostNamed = 5

func versionHeld(ctx context.Context, q querier, id int64) ([]string, error) {
	var out []string
	say := func(p *studio.Problem) { out = append(out, p.Text) }
	for _, h := range []struct {
		query     string
		one, more func(name string, rest int) *studio.Problem
	}{
		{`SELECT DISTINCT x.name FROM swatch_set x WHERE x.front_id = ?1 OR x.back_id = ?1
			OR x.id IN (SELECT w.set_id FROM treatment t JOIN swatch w ON w.number = t.swatch_number WHERE t.version_id = ?1) ORDER BY x.id`,
			func(n string, _ int) *studio.Problem {
				return studio.Problemf(studio.Conflict, "", "The set %s uses it.", n)
			},
			func(_ string, r int) *studio.Problem {
				return studio.Problemf(studio.Conflict, "", "%d more sets use it.", r)
			}},
		{`SELECT DISTINCT w.number FROM treatment t JOIN swatch w ON w.number = t.swatch_number WHERE t.version_id = ?1 AND w.set_id IS NULL ORDER BY w.number`,
			func(n string, _ int) *studio.Problem {
				return studio.Problemf(studio.Conflict, "", "Swatch %s was made with it.", n)
			},
			func(_ string, r int) *studio.Problem {
				return studio.Problemf(studio.Conflict, "", "%d more swatches were made with it.", r)
			}},
		{`SELECT x.name FROM piece x WHERE x.outside_id = ?1 OR x.inside_id = ?1 ORDER BY x.id`,
			func(n string, _ int) *studio.Problem {
				return studio.Problemf(studio.Conflict, "", "The piece %s gets it.", n)
			},
			func(_ string, r int) *studio.Problem {
				return studio.Problemf(studio.Conflict, "", "%d more pieces get it.", r)
			}},
		{`SELECT x.name FROM class x WHERE EXISTS (SELECT 1 FROM json_each(x.recipes) j WHERE j.value ->> 'version_id' = ?1)
			OR EXISTS (SELECT 1 FROM json_each(x.parts) j WHERE j.value ->> 'version_id' = ?1) ORDER BY x.id`,
			func(n string, _ int) *studio.Problem {
				return studio.Problemf(studio.Conflict, "", "The class %s teaches it.", n)
			},
			func(_ string, r int) *studio.Problem {
				return studio.Problemf(studio.Conflict, "", "%d more classes teach it.", r)
			}},
		{`SELECT x.number FROM quote x JOIN swatch_set b ON b.id = x.set_id WHERE b.front_id = ?1 OR b.back_id = ?1
			OR b.id IN (SELECT w.set_id FROM treatment t JOIN swatch w ON w.number = t.swatch_number WHERE t.version_id = ?1) ORDER BY x.number`,
			func(n string, _ int) *studio.Problem {
				return studio.Problemf(studio.Conflict, "", "Quote %s was reckoned from it.", n)
			},
			func(_ string, r int) *studio.Problem {
				return studio.Problemf(studio.Conflict, "", "%d more quotes were reckoned from it.", r)
			}},
		{`SELECT x.name FROM recipe_version o JOIN recipe x ON x.id = o.recipe_id WHERE o.over_id = ?1 GROUP BY x.id ORDER BY x.id`,
			func(n string, _ int) *studio.Problem {
				return studio.Problemf(studio.Conflict, "", "The recipe %s lies over it.", n)
			},
			func(_ string, r int) *studio.Problem {
				return studio.Problemf(studio.Conflict, "", "%d more recipes lie over it.", r)
			}},
		{`SELECT o.file_name FROM recipe_origin o, json_each(o.versions) j WHERE j.value = ?1`,
			func(n string, _ int) *studio.Problem {
				return studio.Problemf(studio.Conflict, "", "It came in the file %s, which stays whole.", n)
			}, nil},
		{`SELECT x.name FROM recipe_version v JOIN recipe x ON x.id = v.recipe_id WHERE v.id = ?1
			AND NOT EXISTS (SELECT 1 FROM recipe_version o WHERE o.recipe_id = v.recipe_id AND o.id <> v.id AND o.binned_at IS NULL)`,
			func(string, int) *studio.Problem {
				return studio.Problemf(studio.Conflict, "", "It is the only version; put the whole recipe into the bin.")
			}, nil},
	} {
		names, err := list(ctx, q, func(r scanner) (n string, err error) { return n, r.Scan(&n) }, h.query, id)
		if err != nil {
			return nil, err
		}
		for i, n := range names {
			if i == mostNamed && h.more != nil && len(names) > mostNamed {
				say(h.more(n, len(names)-i))
				break
			}
			say(h.one(n, 0))
		}
	}
	return out, nil
}

// mayBinVersion reports a Problem that names what holds a version.
func mayBinVersion(ctx context.Context, tx *sql.Tx, id int64) error {
	n, err := number(ctx, tx, `SELECT number FROM recipe_version WHERE id = ?`, id)
	if errors.Is(err, sql.ErrNoRows) {
		return missing("recipe version", id)
	}
	if err != nil {
		return err
	}
	held, err := versionHeld(ctx, tx, id)
	if err != nil || len(held) == 0 {
		return err
	}
	return studio.Problemf(studio.Conflict, "", "Version %d can't go into the bin. %s", n, strings.Join(held, " "))
}

// deleteVersions removes versions that went into the bin before a time and that
// nothing has come to use since. Their numbers never come up again.
func deleteVersions(ctx context.Context, tx *sql.Tx, before any) (int, error) {
	ids, err := list(ctx, tx, scanID, `SELECT v.id FROM recipe_version v WHERE v.binned_at < ? AND NOT (`+keepsVersion+`)`, before)
	if err != nil {
		return 0, err
	}
	for _, id := range ids {
		for _, q := range []string{
			`UPDATE recipe SET last_number = max(last_number, (SELECT number FROM recipe_version WHERE id = ?1)) WHERE id = (SELECT recipe_id FROM recipe_version WHERE id = ?1)`,
			`DELETE FROM recipe_version WHERE id = ?1`,
		} {
			if _, err := tx.ExecContext(ctx, q, id); err != nil {
				return 0, err
			}
		}
	}
	return len(ids), nil
}
