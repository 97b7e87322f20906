package store

import "context"

// Names returns the names that people gave to what they keep, each once. They
// are a person's own words, which no other language changes.
func (s *Store) Names(ctx context.Context) ([]string, error) {
	return s.texts(ctx, "read names", `SELECT name FROM metal UNION SELECT name FROM supply UNION SELECT name FROM room UNION SELECT name FROM chamber
		UNION SELECT name FROM recipe UNION SELECT name FROM piece UNION SELECT name FROM swatch_set UNION SELECT name FROM device
		UNION SELECT name FROM class UNION SELECT teacher FROM class WHERE teacher <> '' UNION SELECT name FROM place UNION SELECT name FROM seat WHERE name <> ''
		UNION SELECT name FROM setup UNION SELECT name FROM target_file UNION SELECT customer FROM quote WHERE customer <> ''
		UNION SELECT supplier FROM sheet_move WHERE supplier <> '' UNION SELECT lot FROM sheet_move WHERE lot <> '' UNION SELECT lot FROM stock_move WHERE lot <> ''`)
}

// OwnWords returns the other short texts that people wrote beside names, each once:
// tools, places, lots, notes and questions. They are their own words too, where they
// took none of those that Aerugo offers.
func (s *Store) OwnWords(ctx context.Context) ([]string, error) {
	return s.texts(ctx, "read what people wrote", `SELECT word FROM (SELECT lot AS word FROM metal UNION SELECT temper FROM metal UNION SELECT gauge_words FROM metal UNION SELECT note FROM metal
		UNION SELECT lot FROM supply UNION SELECT note FROM supply UNION SELECT pad FROM chamber UNION SELECT note FROM chamber
		UNION SELECT why FROM recipe_version UNION SELECT question FROM swatch_set UNION SELECT note FROM swatch UNION SELECT note FROM piece
		UNION SELECT note FROM place UNION SELECT question FROM sitting UNION SELECT name FROM bench_day UNION SELECT site FROM wear_test UNION SELECT conditions FROM wear_test
		UNION SELECT lamp FROM setup UNION SELECT note FROM event UNION SELECT note FROM chamber_log UNION SELECT note FROM swatch_move UNION SELECT grade FROM pack_price
		UNION SELECT j.value ->> 'text' FROM quote, json_each(quote.lines) j UNION SELECT care FROM quote UNION SELECT aim FROM class UNION SELECT skill FROM class
		UNION SELECT j.value ->> 'words' FROM class, json_each(class.parts) j UNION SELECT j.value ->> 'what' FROM class, json_each(class.kit) j
		UNION SELECT j.value ->> 'tool' FROM recipe_version v, json_each(v.steps) j UNION SELECT j.value ->> 'place' FROM recipe_version v, json_each(v.steps) j
		UNION SELECT j.value ->> 'note' FROM recipe_version v, json_each(v.steps) j) WHERE word <> ''`)
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
