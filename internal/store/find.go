package store

import (
	"context"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// Words is what is written about one swatch, for finding it.
type Words struct {
	Swatch, Set                            int64
	SetName, Metal, Note                   string
	Recipes, Materials, Supplies, Settings string
}

// Written returns what is written about each swatch that is not in the bin, by number:
// its set, metal and note, and of what was done to it the recipes, the materials' keys,
// the supplies' names and the settings. It reads no photographs, so that it is quick
// with thousands of swatches.
func (s *Store) Written(ctx context.Context) ([]Words, error) {
	out, err := list(ctx, s.read, func(r scanner) (w Words, err error) {
		return w, r.Scan(&w.Swatch, &w.Set, &w.SetName, &w.Metal, &w.Note, &w.Recipes, &w.Materials, &w.Supplies, &w.Settings)
	}, `WITH step AS (
			SELECT t.swatch_number AS n, j.value ->> 'material' AS material, p.name AS supply
			FROM treatment t, json_each(t.steps) j LEFT JOIN supply p ON p.id = j.value ->> 'supply_id'),
		used AS (SELECT n, group_concat(DISTINCT material) AS materials, group_concat(DISTINCT supply) AS supplies FROM step GROUP BY n),
		done AS (SELECT t.swatch_number AS n, group_concat(DISTINCT r.name) AS recipes,
				group_concat(DISTINCT (SELECT group_concat(j.value ->> '$.factor' || ' ' || (j.value ->> '$.level.label'), ', ') FROM json_each(t.settings) j)) AS settings
			FROM treatment t LEFT JOIN recipe_version v ON v.id = t.version_id LEFT JOIN recipe r ON r.id = v.recipe_id GROUP BY t.swatch_number)
		SELECT w.number, w.set_id, x.name, coalesce(m.name || ' ' || m.alloy, ''), w.note, coalesce(d.recipes, ''), coalesce(u.materials, ''), coalesce(u.supplies, ''), coalesce(d.settings, '')
		FROM swatch w JOIN swatch_set x ON x.id = w.set_id LEFT JOIN metal m ON m.id = w.metal_id LEFT JOIN used u ON u.n = w.number LEFT JOIN done d ON d.n = w.number
		WHERE `+listed+` ORDER BY w.number`)
	return out, fault(err, "read what is written about swatches")
}

// FaceLook is what is measured of a face, in short.
type FaceLook struct {
	Swatch   int64
	Face     studio.Face
	Photo    int64
	Lab      colour.Lab
	Name     string
	Coverage float64 // a fraction; below 0 when not known
	Glare    float64 // a fraction of the photograph
}

// FaceLooks returns the newest measurement of each face in short, those that
// [Store.Looks] returns whole: a tenth of its work.
func (s *Store) FaceLooks(ctx context.Context) ([]FaceLook, error) {
	out, err := list(ctx, s.read, func(r scanner) (l FaceLook, err error) {
		return l, r.Scan(&l.Swatch, &l.Face, &l.Photo, &l.Lab.L, &l.Lab.A, &l.Lab.B, &l.Name, &l.Coverage, &l.Glare)
	}, faceLooks)
	return out, fault(err, "list looks in short")
}

// faceLooks chooses photographs as [Store.Looks] does.
const faceLooks = `WITH best AS (SELECT id, swatch_number, face FROM (
		SELECT p.id, p.swatch_number, p.face, row_number() OVER (PARTITION BY p.swatch_number, p.face ORDER BY
			CASE p.moment WHEN 'finished' THEN 0 WHEN 'under way' THEN 1 ELSE 2 END, p.taken_at DESC, p.id DESC) AS place
		FROM photo p JOIN swatch w ON w.number = p.swatch_number JOIN swatch_set x ON x.id = w.set_id
		WHERE p.binned_at IS NULL AND ` + listed + ` AND EXISTS (SELECT 1 FROM measurement WHERE photo_id = p.id)) WHERE place = 1)
	SELECT b.swatch_number, b.face, b.id, m.lab_l, m.lab_a, m.lab_b, m.colour_name, coalesce(m.coverage, -1), m.glare
	FROM best b JOIN measurement m ON m.id = (SELECT max(id) FROM measurement WHERE photo_id = b.id)
	ORDER BY b.swatch_number, b.face DESC`
