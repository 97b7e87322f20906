package store

import "context"

// Names returns the names that people gave to what they keep, each once. They
// are a person's own words, which no other language changes.
func (s *Store) Names(ctx context.Context) ([]string, error) {
	return s.texts(ctx, "read names", `SELECT name FROM metal UNION SELECT name FROM supply UNION SELECT name FROM room UNION SELECT name FROM chamber
		UNION SELECT name FROM recipe UNION SELECT name FROM piece UNION SELECT name FROM swatch_set UNION SELECT name FROM device
		UNION SELECT name FROM class UNION SELECT name FROM place UNION SELECT supplier FROM sheet_move WHERE supplier <> ''
		UNION SELECT lot FROM sheet_move WHERE lot <> '' UNION SELECT lot FROM stock_move WHERE lot <> ''`)
}

// StepWords returns the tools and places that people wrote into the steps of recipes, each
// once: their own words too, where they took none of those that Aerugo offers.
func (s *Store) StepWords(ctx context.Context) ([]string, error) {
	return s.texts(ctx, "read words of steps", `SELECT value ->> 'tool' AS word FROM recipe_version, json_each(steps) WHERE word <> ''
		UNION SELECT value ->> 'place' AS word FROM recipe_version, json_each(steps) WHERE word <> ''`)
}

// texts reads a column of texts.
func (s *Store) texts(ctx context.Context, what, query string) ([]string, error) {
	rows, err := s.read.QueryContext(ctx, query)
	if err != nil {
		return nil, fault(err, what)
	}
	defer rows.Close()
	var out []string
	for rows.Next() {
		var text string
		if err := rows.Scan(&text); err != nil {
			return nil, fault(err, what)
		}
		out = append(out, text)
	}
	return out, fault(rows.Err(), what)
}
