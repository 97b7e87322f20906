package store

import "context"

// Names returns the names that people gave to what they keep, each once. They
// are a person's own words, which no other language changes.
func (s *Store) Names(ctx context.Context) ([]string, error) {
	rows, err := s.read.QueryContext(ctx, `SELECT name FROM metal UNION SELECT name FROM supply UNION SELECT name FROM room UNION SELECT name FROM chamber
		UNION SELECT name FROM recipe UNION SELECT name FROM piece UNION SELECT name FROM swatch_set UNION SELECT name FROM device
		UNION SELECT name FROM class UNION SELECT name FROM place`)
	if err != nil {
		return nil, fault(err, "read names")
	}
	defer rows.Close()
	var out []string
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			return nil, fault(err, "read names")
		}
		out = append(out, name)
	}
	return out, fault(rows.Err(), "read names")
}
