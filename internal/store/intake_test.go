package store

import (
	"encoding/json"
	"slices"
	"testing"

	"aerugo/internal/studio"
)

// An archive holds every column of every table, but those of the list below:
// a new table or column fails here until someone decides where it goes.
func TestRecordsHoldEverything(t *testing.T) {
	s := fresh(t)
	left := []string{"device", "seat_key", "class_door", "purging", historyTable, "sqlite_sequence"}
	names := must[[]string](t)(list(ctx, s.read, func(r scanner) (n string, err error) { return n, r.Scan(&n) }, `SELECT name FROM sqlite_schema WHERE type = 'table'`))
	for _, name := range names {
		if slices.Contains(left, name) {
			continue
		}
		var have []string
		for _, k := range tables {
			if k.table == name {
				for _, c := range k.columns {
					have = append(have, c.name)
				}
			}
		}
		want := must[[]string](t)(list(ctx, s.read, func(r scanner) (n string, err error) { return n, r.Scan(&n) }, `SELECT name FROM pragma_table_info(?)`, name))
		same(t, "columns of "+name, have, want)
	}
	if len(tables) != len(names)-len(left) {
		t.Errorf("%d kinds of record for %d tables", len(tables), len(names)-len(left))
	}
}

// all returns the records of s.
func all(t *testing.T, s *Store) Records {
	t.Helper()
	var out Records
	if err := s.Snapshot(ctx, func(r Records) error { out = r; return nil }); err != nil {
		t.Fatal(err)
	}
	return out
}

func TestIntakeMovesTheBenchAside(t *testing.T) {
	from, b, photos := filled(t)
	s := fresh(t)
	mine := must[studio.Metal](t)(s.SaveMetal(ctx, studio.Metal{Name: "My copper", ThicknessMM: 1}))
	must[studio.Metal](t)(s.SaveMetal(ctx, studio.Metal{Name: "My brass", ThicknessMM: 1}))
	in := must[*Intake](t)(s.BeginIntake(ctx))
	defer in.Abort()
	for _, p := range photos {
		f := must[interface {
			Read([]byte) (int, error)
			Close() error
		}](t)(from.OpenPhoto(p.SHA256, p.Format))
		if err := in.AddFile(p.SHA256, "jpg", f, p.Bytes); err != nil {
			t.Fatal(err)
		}
		f.Close()
	}
	if err := in.Commit(ctx, all(t, from)); err != nil {
		t.Fatal(err)
	}
	metals := must[[]studio.Metal](t)(s.Metals(ctx))
	if len(metals) != 3 || metals[0] != b.metal || metals[1].Name != "My brass" || metals[2].Name != mine.Name {
		t.Errorf("metals are %+v", metals)
	}
	wantSound(t, s)
	_, w, err := s.AddSet(ctx, studio.Set{Name: "next", Shape: studio.Loose}, []NewSwatch{{Swatch: studio.Swatch{WidthMM: 1, HeightMM: 1, MetalID: metals[2].ID}}})
	if err != nil || w[0].Number != 4 {
		t.Errorf("the next swatch is %+v, %v", w, err)
	}
	_, err = s.BeginIntake(ctx)
	wantProblem(t, err, studio.Conflict, "of its own")
}

func TestIntakeRefusesWeighings(t *testing.T) {
	s := fresh(t)
	if err := s.SaveHandAmount(ctx, studio.HandAmount{Word: "light", Material: "water", Mean: 1, Unit: studio.Gram, N: 3}); err != nil {
		t.Fatal(err)
	}
	_, err := s.BeginIntake(ctx)
	wantProblem(t, err, studio.Conflict, "weighings")
}

func TestIntakeOfUnusableRecordsChangesNothing(t *testing.T) {
	from, _, _ := filled(t)
	s := fresh(t)
	before := state(t, s)
	for _, tc := range []struct{ kind, row, says string }{
		{"metals", `{"id":9,"name":"x","alloy":"","temper":"","thickness_mm":90,"gauge_words":"","lot":"","note":"","invented":false}`, "thick"},
		{"metals", `{"id":9,"name":"x","alloy":"","temper":"","thickness_mm":1,"gauge_words":"","lot":"","note":"","invented":false,"colour":"red"}`, `no field "colour"`},
		{"metals", `{"id":9,"name":"x"}`, "NOT NULL"},
		{"metals", `{"id":0,"name":"x"}`, "no usable id"},
		{"metals", `7`, "no usable id"},
		{"recipes", `{"id":9,"name":"x","invented":false}`, "no version"},
		{"recipes", `{"id":-9,"name":"x","invented":false}`, "out of range"},
		{"recipes", `{"id":9,"name":"x","invented":"no"}`, "invented"},
		{"recipe_versions", `{"id":9,"recipe_id":1,"number":2,"steps":[{"kind":"dance"}],"over_state":"","why":"","made_at":"2026-01-01T00:00:00.000Z"}`, "dance"},
		{"recipe_versions", `{"id":9,"recipe_id":1,"number":2,"steps":[{"kind":"rinse","speed_m_per_s":1}],"over_state":"","why":"","made_at":"2026-01-01T00:00:00.000Z"}`, "speed_m_per_s"},
		{"recipe_versions", `{"id":9,"recipe_id":7,"number":2,"steps":[{"kind":"rinse"}],"over_state":"","why":"","made_at":"2026-01-01T00:00:00.000Z"}`, "refers to something"},
		{"recipe_versions", `{"id":9,"recipe_id":1,"number":2,"steps":[{"kind":"rinse"}],"over_state":"","why":"","made_at":"1 January"}`, "CHECK"},
		{"events", `{"id":9,"treatment_id":1,"client":"z","kind":"noted","step":0,"at":"2046-01-01T00:00:00.000Z","recorded_at":"2026-01-01T00:00:00.000Z","by":"","note":""}`, "in the future"},
		{"events", `{"id":9,"treatment_id":2,"client":"z","kind":"voided","step":0,"at":"2026-01-01T00:00:00.000Z","recorded_at":"2026-01-01T00:00:00.000Z","by":"","corrects":1,"note":""}`, "another treatment"},
		{"settings", `{"key":"","value":"x"}`, "CHECK"},
		{"counters", `{"name":"cats","next":1}`, "CHECK"},
		{"photos", `{"id":9,"swatch_number":1,"face":"front","moment":"bare","taken_at":"2026-01-01T00:00:00.000Z","taken_from":"photo","sha256":"` + hashOf(nil) + `","format":"JPEG","size_bytes":1,"width_px":1,"height_px":1,"profile":"","camera":"","gps_removed":false,"added_at":"2026-01-01T00:00:00.000Z","note":""}`, "is missing"},
	} {
		records := all(t, from)
		for i := range records {
			if records[i].Name == tc.kind {
				records[i].Rows = append(slices.Clone(records[i].Rows), json.RawMessage(tc.row))
			}
		}
		in := must[*Intake](t)(s.BeginIntake(ctx))
		wantProblem(t, in.Commit(ctx, records), studio.Invalid, tc.says)
		in.Abort()
		same(t, "the studio after refusing "+tc.row, state(t, s), before)
	}
	if left := files(t, s); len(left) > 0 {
		t.Errorf("left are %q", left)
	}
}
