package store

import (
	"context"
)

// Counts is what a studio holds, without what is in the bin. Running counts
// treatments that were begun, were not given up, and whose last step is not
// done. Empty says that nothing was ever put into the studio.
type Counts struct {
	Metals, Supplies, Chambers, Recipes, Sets, Swatches, Photos, Measured, Running int
	Empty                                                                          bool
}

// Seen counts what the first page needs to know.
func (s *Store) Seen(ctx context.Context) (Counts, error) {
	var c Counts
	err := s.read.QueryRowContext(ctx, `SELECT
		(SELECT count(*) FROM metal WHERE binned_at IS NULL),
		(SELECT count(*) FROM supply WHERE binned_at IS NULL),
		(SELECT count(*) FROM chamber WHERE binned_at IS NULL),
		(SELECT count(*) FROM recipe WHERE binned_at IS NULL),
		(SELECT count(*) FROM swatch_set WHERE binned_at IS NULL),
		(SELECT count(*) FROM swatch w JOIN swatch_set x ON x.id = w.set_id WHERE `+listed+`),
		(SELECT count(*) FROM photo p JOIN swatch w ON w.number = p.swatch_number JOIN swatch_set x ON x.id = w.set_id WHERE p.binned_at IS NULL AND `+listed+`),
		(SELECT count(*) FROM photo p JOIN swatch w ON w.number = p.swatch_number JOIN swatch_set x ON x.id = w.set_id WHERE p.binned_at IS NULL AND `+listed+`
			AND EXISTS (SELECT 1 FROM measurement WHERE photo_id = p.id)),
		(SELECT count(*) FROM treatment t JOIN swatch w ON w.number = t.swatch_number JOIN swatch_set x ON x.id = w.set_id WHERE `+listed+`
			AND EXISTS (SELECT 1 FROM event e WHERE e.treatment_id = t.id AND e.kind = 'began'
				AND NOT EXISTS (SELECT 1 FROM event v WHERE v.corrects = e.id AND v.kind = 'voided'))
			AND NOT EXISTS (SELECT 1 FROM event e WHERE e.treatment_id = t.id
				AND (e.kind = 'stopped' OR (e.kind = 'done' AND e.step = json_array_length(t.steps) - 1))
				AND NOT EXISTS (SELECT 1 FROM event v WHERE v.corrects = e.id AND v.kind = 'voided'))),
		NOT EXISTS (SELECT 1 FROM metal) AND NOT EXISTS (SELECT 1 FROM supply) AND NOT EXISTS (SELECT 1 FROM chamber)
			AND NOT EXISTS (SELECT 1 FROM recipe) AND NOT EXISTS (SELECT 1 FROM swatch_set)`).
		Scan(&c.Metals, &c.Supplies, &c.Chambers, &c.Recipes, &c.Sets, &c.Swatches, &c.Photos, &c.Measured, &c.Running, &c.Empty)
	return c, fault(err, "count what is in the studio")
}
