package archive

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"aerugo/internal/studio"
)

func TestExportImportExportGivesTheSameBytes(t *testing.T) {
	s := filled(t)
	first := export(t, s)
	if again := export(t, s); !bytes.Equal(first, again) {
		t.Error("the same studio was packed to other bytes")
	}
	other := openAt(t, t.TempDir(), noon.Add(time.Hour))
	got, err := take(other, first)
	ok(t, err)
	if want := (Report{Recipes: 2, Sets: 2, Swatches: 5, Treatments: 4, Events: 3, Photos: 5, Measurements: 3}); got != want {
		t.Errorf("report is %+v, want %+v", got, want)
	}
	names, before := contents(t, first)
	namesAfter, after := contents(t, export(t, other))
	if !slices.Equal(names, namesAfter) {
		t.Errorf("files are %q, were %q", namesAfter, names)
	}
	before["manifest.json"] = bytes.Replace(before["manifest.json"], []byte("2026-03-14T12:00:00Z"), []byte("2026-03-14T13:00:00Z"), 1)
	for _, name := range names {
		if !bytes.Equal(before[name], after[name]) {
			t.Errorf("%s was\n%s\nis\n%s", name, before[name], after[name])
		}
	}
	same := openAt(t, t.TempDir(), noon)
	_, err = take(same, first)
	ok(t, err)
	if !bytes.Equal(export(t, same), first) {
		t.Error("at the same time, the archive's bytes differ")
	}
	faults, err := other.Check(ctx)
	if ok(t, err); len(faults) > 0 {
		t.Errorf("the imported studio is not sound: %q", faults)
	}
	if left, _ := os.ReadDir(filepath.Join(other.Dir(), "photos", ".arriving")); len(left) > 0 {
		t.Errorf("%d things are left of the import", len(left))
	}
	if devices, err := other.Devices(ctx); err != nil || len(devices) != 0 {
		t.Errorf("devices travelled: %v, %v", devices, err)
	}
	if _, err := other.SeatByToken(ctx, bytes.Repeat([]byte{7}, 32)); studio.ProblemIn(err) == nil {
		t.Errorf("a student's phone travelled: %v", err)
	}
	if _, there, err := other.DoorByCode(ctx, "ABCDEF"); err != nil || there {
		t.Errorf("the way into a class travelled: %v, %v", there, err)
	}
}

func TestEmptyStudioPacksToo(t *testing.T) {
	s := fresh(t)
	data := export(t, s)
	other := fresh(t)
	_, err := take(other, data)
	ok(t, err)
	if !bytes.Equal(export(t, other), data) {
		t.Error("the empty studio's archive differs after a round")
	}
}

// testdata/v1.zip is what filled gave when archives had version 1, packed by that
// program; its photographs are noise.
func TestArchivesOfTheFirstVersionComeIn(t *testing.T) {
	data, err := os.ReadFile("testdata/v1.zip")
	ok(t, err)
	s := fresh(t)
	got, err := take(s, data)
	ok(t, err)
	if want := (Report{Recipes: 1, Sets: 1, Swatches: 4, Treatments: 4, Events: 3, Photos: 5, Measurements: 2}); got != want {
		t.Errorf("report is %+v, want %+v", got, want)
	}
	faults, err := s.Check(ctx)
	if ok(t, err); len(faults) > 0 {
		t.Errorf("the studio is not sound: %q", faults)
	}
	setups, err := s.Setups(ctx)
	if ok(t, err); len(setups) != 0 {
		t.Errorf("setups came from nowhere: %v", setups)
	}
}

// testdata/v4.zip is what filled gave when archives had version 4: what came later is
// empty, and all else is as it was packed.
func TestArchivesOfTheFourthVersionComeIn(t *testing.T) {
	data, err := os.ReadFile("testdata/v4.zip")
	ok(t, err)
	s := fresh(t)
	_, err = take(s, data)
	ok(t, err)
	faults, err := s.Check(ctx)
	if ok(t, err); len(faults) > 0 {
		t.Errorf("the studio is not sound: %q", faults)
	}
	sheets, err := s.SheetMoves(ctx)
	if ok(t, err); len(sheets) != 0 {
		t.Errorf("sheets came from nowhere: %v", sheets)
	}
	_, before := contents(t, data)
	_, after := contents(t, export(t, s))
	for name, was := range before {
		if name == "manifest.json" || name == "records/recipes.json" {
			continue // the version, and the last_number that recipes have since
		}
		if !bytes.Equal(was, after[name]) {
			t.Errorf("%s was\n%s\nis\n%s", name, was, after[name])
		}
	}
}

func TestManifestHoldsForEveryFile(t *testing.T) {
	names, files := contents(t, export(t, filled(t)))
	var m manifest
	ok(t, json.Unmarshal(files["manifest.json"], &m))
	if m.Format != "aerugo-studio" || m.Version != version || len(m.Files) != len(names)-1 {
		t.Errorf("manifest is %+v", m)
	}
	for i, f := range m.Files {
		if f.Name != names[i+1] || f.SHA256 != sha(files[f.Name]) || f.Size != int64(len(files[f.Name])) {
			t.Errorf("the manifest's %+v is not the file", f)
		}
		if name := strings.TrimPrefix(f.Name, "photos/"); name != f.Name && name[:64] != f.SHA256 {
			t.Errorf("%s is not named by its bytes", f.Name)
		}
	}
}

// The files are CSV by RFC 4180, and no cell of text begins with a character
// that makes a formula; numbers keep their sign.
func TestTablesAreSafeForSpreadsheets(t *testing.T) {
	_, files := contents(t, export(t, filled(t)))
	cell := map[string]map[string]string{}
	for _, name := range tableNames {
		body := files["tables/"+name+".csv"]
		rows, err := csv.NewReader(bytes.NewReader(body)).ReadAll()
		ok(t, err)
		if len(rows) < 2 || bytes.Count(body, []byte("\r\n")) < len(rows) {
			t.Errorf("%s has %d rows, and lines that do not end in CR LF", name, len(rows))
		}
		cell[name] = map[string]string{}
		for i, row := range rows {
			for j, text := range row {
				if text != "" && strings.ContainsRune("=+-@\t\r", rune(text[0])) && !(text[0] == '-' && text[1] >= '0' && text[1] <= '9') {
					t.Errorf("%s, row %d: %q would be taken for a formula", name, i, text)
				}
				if i == 1 {
					cell[name][rows[0][j]] = text
				}
			}
		}
	}
	for _, tc := range []struct{ table, column, want string }{
		{"swatches", "metal", "'=Brass <&> \u2028 Blech"}, {"swatches", "set", "'+How long"}, {"swatches", "width_mm", "50"},
		{"treatments", "fuming (min)", "120.5"}, {"treatments", "'-wetting", "'=wet"}, {"treatments", "recipe", "'@Base"}, {"treatments", "recipe_version", "1"},
		{"events", "room_c", "-2.5"}, {"events", "kind", "began"}, {"events", "at", "2026-03-14T11:00:00.000Z"},
		{"measurements", "lab_a", "-12.25"}, {"measurements", "face", "front"}, {"measurements", "coverage_low", "0.4"},
	} {
		if got := cell[tc.table][tc.column]; got != tc.want {
			t.Errorf("%s, %s: got %q, want %q", tc.table, tc.column, got, tc.want)
		}
	}
}

func TestDamagedPhotoStopsTheExport(t *testing.T) {
	s := filled(t)
	p, err := s.Photo(ctx, 1)
	ok(t, err)
	path := filepath.Join(s.Dir(), "photos", p.SHA256[:2], p.SHA256+".jpg")
	ok(t, os.WriteFile(path, []byte("rot"), 0o644))
	wantProblem(t, Export(ctx, s, &bytes.Buffer{}), studio.Machine, "is damaged")
	ok(t, os.Remove(path))
	wantProblem(t, Export(ctx, s, &bytes.Buffer{}), studio.Machine, "is missing")
}

func TestStudioWithItsOwnRecordsRefusesAnArchive(t *testing.T) {
	s := filled(t)
	data := export(t, s)
	before := state(t, s)
	_, err := take(s, data)
	wantProblem(t, err, studio.Conflict, "new, empty folder")
	if state(t, s) != before {
		t.Error("the studio was changed")
	}
}

func TestArchivePackedAgainByHandIsTaken(t *testing.T) {
	names, files := contents(t, export(t, filled(t)))
	_, err := take(fresh(t), repack(t, names, files))
	ok(t, err)
}

func TestUnusableArchivesChangeNothing(t *testing.T) {
	whole := export(t, filled(t))
	names, files := contents(t, whole)
	var jpeg string
	for _, name := range names {
		if strings.HasSuffix(name, ".jpg") {
			jpeg = name
		}
	}
	replace := func(name, old, new string) func(map[string][]byte) {
		return func(f map[string][]byte) {
			if !bytes.Contains(f[name], []byte(old)) {
				t.Fatalf("%s does not hold %s", name, old)
			}
			f[name] = bytes.Replace(f[name], []byte(old), []byte(new), 1)
		}
	}
	manifestSays := func(old, new string) func(map[string][]byte) { return replace("manifest.json", old, new) }
	add := func(name string) func(map[string][]byte) {
		return func(f map[string][]byte) { f[name] = []byte("x") }
	}
	for _, tc := range []struct {
		says   string
		spoil  func(map[string][]byte)
		resign bool
	}{
		{"newer Aerugo (archive version 6)", manifestSays(`"version": 5`, `"version": 6`), false},
		{"version 0", manifestSays(`"version": 5`, `"version": 0`), false},
		{"not an archive of a studio", manifestSays("aerugo-studio", "another-thing"), false},
		{"not an archive of a studio", func(f map[string][]byte) { f["manifest.json"] = []byte("{") }, false},
		{"manifest can't be read", manifestSays(`"counts": {`, `"counts": [], "x": {`), false},
		{"its manifest says", manifestSays(`"swatches": 5`, `"swatches": 6`), false},
		{"no manifest.json", func(f map[string][]byte) { delete(f, "manifest.json") }, false},
		{"README.txt is missing", func(f map[string][]byte) { delete(f, "README.txt") }, false},
		{"does not name records/sets.json", func(f map[string][]byte) { delete(f, "records/sets.json") }, true},
		{"is missing", func(f map[string][]byte) { delete(f, jpeg) }, false},
		{"is missing from it", func(f map[string][]byte) { delete(f, jpeg) }, true},
		{"does not name", add("../../evil"), false},
		{"does not name", add("/etc/evil"), false},
		{"does not name", add(`photos\..\..\evil.jpg`), false},
		{"does not name", add("photos/" + strings.Repeat("a", 64) + ".jpg"), false},
		{"no file of a studio's archive", manifestSays(`"README.txt"`, `"../README.txt"`), false},
		{"no file of a studio's archive", manifestSays(jpeg, "photos/../"+jpeg[7:]), false},
		{"twice", manifestSays(`"records/metals.json"`, `"README.txt"`), false},
		{"another SHA-256 than its name", manifestSays(jpeg, "photos/"+strings.Repeat("0", 64)+".jpg"), false},
		{"README.txt is damaged", replace("README.txt", "A studio", "B studio"), false},
		{"tables/events.csv is damaged", replace("tables/events.csv", "began", "BEGAN"), false},
		{"records/events.json is damaged", replace("records/events.json", "Ann", "Bob"), false},
		{"is damaged", func(f map[string][]byte) { b := bytes.Clone(f[jpeg]); b[5]++; f[jpeg] = b }, false},
		{"not as large", func(f map[string][]byte) { f[jpeg] = f[jpeg][1:] }, false},
		{"can't be read", replace("records/events.json", "[", "["+"7,]"), true},
		{"refers to something", replace("records/swatches.json", `"set_id":1`, `"set_id":8`), true},
		{"CHECK", replace("records/photos.json", `"face":"front"`, `"face":"edge"`), true},
		{"says 77", replace("records/photos.json", `"size_bytes":3000`, `"size_bytes":77`), true},
		{"UNIQUE", replace("records/events.json", `"client":"b"`, `"client":"a"`), true},
		{"no field", replace("records/metals.json", `"alloy"`, `"allow"`), true},
		{"can't be used", replace("records/metals.json", `"thickness_mm":0.8`, `"thickness_mm":"thick"`), true},
		{"thick", replace("records/metals.json", `"thickness_mm":0.8`, `"thickness_mm":1e300`), true},
		{"can't be used", replace("records/metals.json", `"thickness_mm":0.8`, `"thickness_mm":1e999`), true},
	} {
		spoilt := maps.Clone(files)
		tc.spoil(spoilt)
		if tc.resign {
			resign(t, spoilt)
		}
		order := slices.Sorted(maps.Keys(spoilt))
		s := fresh(t)
		before := state(t, s)
		_, err := take(s, repack(t, order, spoilt))
		wantProblem(t, err, studio.Invalid, tc.says)
		if state(t, s) != before {
			t.Errorf("%s: the studio was changed", tc.says)
		}
		s.Close()
	}

	s := fresh(t)
	before := state(t, s)
	for _, data := range [][]byte{nil, []byte("no zip"), whole[:len(whole)/2], whole[:len(whole)-10], whole[100:]} {
		_, err := take(s, data)
		wantProblem(t, err, studio.Invalid, "can't be imported, and nothing was changed")
	}
	if state(t, s) != before {
		t.Error("the studio was changed")
	}
}

// A file that unpacks to far more than it says, or than there may be, is
// refused before it is unpacked.
func TestBombsAreRefused(t *testing.T) {
	names, files := contents(t, export(t, filled(t)))
	rebuild := func(spoil func(z *zip.Writer, name string) bool) []byte {
		var b bytes.Buffer
		z := zip.NewWriter(&b)
		for _, name := range names {
			if spoil(z, name) {
				continue
			}
			f, err := z.Create(name)
			ok(t, err)
			_, err = f.Write(files[name])
			ok(t, err)
		}
		ok(t, z.Close())
		return b.Bytes()
	}
	zeros := make([]byte, 1<<20)
	deflated := func(mb int) []byte {
		var b bytes.Buffer
		z := zip.NewWriter(&b)
		f, err := z.Create("x")
		ok(t, err)
		for range mb {
			f.Write(zeros)
		}
		ok(t, z.Close())
		r, err := zip.NewReader(bytes.NewReader(b.Bytes()), int64(b.Len()))
		ok(t, err)
		raw, err := r.File[0].OpenRaw()
		ok(t, err)
		var out bytes.Buffer
		_, err = out.ReadFrom(raw)
		ok(t, err)
		return out.Bytes()
	}
	packed := deflated(300)
	lie := func(target string, says uint64) []byte {
		return rebuild(func(z *zip.Writer, name string) bool {
			if name != target {
				return false
			}
			f, err := z.CreateRaw(&zip.FileHeader{Name: name, Method: zip.Deflate, CompressedSize64: uint64(len(packed)), UncompressedSize64: says})
			ok(t, err)
			_, err = f.Write(packed)
			ok(t, err)
			return true
		})
	}
	s := fresh(t)
	before := state(t, s)
	for _, tc := range []struct {
		data []byte
		says string
	}{
		{lie("manifest.json", 300<<20), "256 are the most"},
		{lie("manifest.json", 100), "manifest.json"},
		{lie("records/events.json", uint64(len(files["records/events.json"]))), "records/events.json"},
		{lie(names[len(names)-1], uint64(len(files[names[len(names)-1]]))), names[len(names)-1]},
	} {
		_, err := take(s, tc.data)
		wantProblem(t, err, studio.Invalid, tc.says)
	}
	// Honest sizes, but far too much of it.
	huge := maps.Clone(files)
	var m manifest
	ok(t, json.Unmarshal(huge["manifest.json"], &m))
	for i := range m.Files {
		if strings.HasPrefix(m.Files[i].Name, "photos/") {
			m.Files[i].Size = 200 << 20
		}
	}
	var err error
	files["manifest.json"], err = json.Marshal(m)
	ok(t, err)
	_, err = take(s, rebuild(func(z *zip.Writer, name string) bool {
		if !strings.HasPrefix(name, "photos/") {
			return false
		}
		f, err := z.CreateRaw(&zip.FileHeader{Name: name, Method: zip.Deflate, CompressedSize64: uint64(len(packed)), UncompressedSize64: 200 << 20})
		ok(t, err)
		_, err = f.Write(packed)
		ok(t, err)
		return true
	}))
	wantProblem(t, err, studio.Invalid, "far larger")
	if state(t, s) != before {
		t.Error("the studio was changed")
	}
}

func TestCancelledImportChangesNothing(t *testing.T) {
	data := export(t, filled(t))
	s := fresh(t)
	before := state(t, s)
	for n := 0; n < 20000; n += 1 + n/8 {
		c := &countdown{Context: ctx, left: n}
		if _, err := Import(c, s, bytes.NewReader(data), int64(len(data))); err == nil {
			return // it got through before it was cancelled
		}
		if state(t, s) != before {
			t.Fatalf("cancelled at look %d, the studio is changed", n)
		}
	}
	t.Error("20000 looks at the context were not enough to import")
}
