package archive

import (
	"encoding/json"
	"maps"
	"os"
	"path/filepath"
	"testing"

	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// checkTaken imports data into s, an empty studio whose state is before. A
// refusal must be a Problem and change nothing; what is taken must be sound, and
// pack to an archive that can be taken again. It reports whether it was taken.
func checkTaken(t *testing.T, s *store.Store, before string, data []byte) bool {
	_, err := take(s, data)
	if err != nil {
		if studio.ProblemIn(err) == nil {
			t.Fatalf("a fault, not a Problem: %v", err)
		}
		if now := state(t, s); now != before {
			t.Fatalf("a refused archive changed the studio:\n%s\nwas\n%s", now, before)
		}
		return false
	}
	if faults, err := s.Check(ctx); err != nil || len(faults) > 0 {
		t.Fatalf("the studio taken in is not sound: %q, %v", faults, err)
	}
	if _, err := take(fresh(t), export(t, s)); err != nil {
		t.Fatalf("what was taken cannot be taken again: %v", err)
	}
	return true
}

// empties returns a maker of empty studios, all at one path, one at a time.
func empties(f *testing.F) func() *store.Store {
	dir := filepath.Join(f.TempDir(), "studio")
	var s *store.Store
	f.Cleanup(func() { s.Close() })
	return func() *store.Store {
		if s != nil {
			s.Close()
		}
		var err error
		if err = os.RemoveAll(dir); err == nil {
			s, err = store.Open(ctx, dir, store.Options{})
		}
		if err != nil {
			panic(err)
		}
		return s
	}
}

func FuzzImport(f *testing.F) {
	whole := export(f, filled(f))
	names, files := contents(f, whole)
	f.Add(whole)
	f.Add(repack(f, names, files))
	f.Add(whole[:len(whole)-30])
	f.Add([]byte("PK\x05\x06" + string(make([]byte, 18))))
	another := empties(f)
	s := another()
	before := state(f, s)
	f.Fuzz(func(t *testing.T, data []byte) {
		if checkTaken(t, s, before, data) {
			s = another()
		}
	})
}

// FuzzRecords puts other JSON in place of one kind of record in an archive that
// is sound otherwise.
func FuzzRecords(f *testing.F) {
	_, files := contents(f, export(f, filled(f)))
	names, bare := contents(f, export(f, fresh(f))) // without photographs
	kinds := store.RecordKinds()
	for i, kind := range kinds {
		f.Add(uint8(i), files["records/"+kind+".json"])
		f.Add(uint8(i), bare["records/"+kind+".json"])
	}
	f.Add(uint8(0), []byte("null"))
	f.Add(uint8(4), []byte(`[{"id":1,"name":"x","invented":false}]`))
	another := empties(f)
	s := another()
	before := state(f, s)
	f.Fuzz(func(t *testing.T, kind uint8, rows []byte) {
		spoilt := maps.Clone(bare)
		name := "records/" + kinds[int(kind)%len(kinds)] + ".json"
		spoilt[name] = rows
		if !json.Valid(rows) {
			return // refused as a file; the other records would hide it
		}
		resign(t, spoilt)
		if checkTaken(t, s, before, repack(t, names, spoilt)) {
			s = another()
		}
	})
}
