package store

import (
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"aerugo/internal/studio"
)

func pdf(text string) []byte { return []byte("%PDF-1.7 " + text) }

func TestSheetIsKeptAsItCame(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	data := append(pdf("salt"), picture(5000)...)
	d, err := s.AddSheet(ctx, studio.DataSheet{Supply: b.salt.ID, Name: `C:\Users\ann\..\salt "2024".pdf`, By: "Ann"}, data)
	if err != nil {
		t.Fatal(err)
	}
	if d.Name != "salt 2024.pdf" || d.Bytes != int64(len(data)) || d.SHA256 != hashOf(data) || !d.Added.Equal(noon) {
		t.Errorf("kept as %+v", d)
	}
	again := must[studio.DataSheet](t)(s.AddSheet(ctx, studio.DataSheet{Supply: b.salt.ID, Name: "other.pdf"}, data))
	if again != d {
		t.Errorf("sent again it is %+v", again)
	}
	newer := must[studio.DataSheet](t)(s.AddSheet(ctx, studio.DataSheet{Supply: b.salt.ID, Name: "/"}, pdf("newer")))
	if all := must[[]studio.DataSheet](t)(s.Sheets(ctx, b.salt.ID)); len(all) != 2 || all[0] != newer || newer.Name != "data sheet.pdf" {
		t.Errorf("sheets are %+v", all)
	}
	f := must[io.ReadCloser](t)(s.OpenSheet(d.SHA256))
	got := must[[]byte](t)(io.ReadAll(f))
	f.Close()
	same(t, "the file", got, data)
	wantSound(t, s)

	backup := must[string](t)(s.Backup(ctx, ""))
	copied := must[[]byte](t)(os.ReadFile(filepath.Join(backup, "sheets", d.SHA256[:2], d.SHA256+".pdf")))
	same(t, "in the backup", copied, data)
	s.Close()
	dest := filepath.Join(t.TempDir(), "restored")
	if err := Restore(ctx, backup, dest); err != nil {
		t.Fatal(err)
	}
	r := mustOpen(t, dest, nil)
	wantSound(t, r)
	if all := must[[]studio.DataSheet](t)(r.Sheets(ctx, b.salt.ID)); len(all) != 2 {
		t.Errorf("restored sheets are %+v", all)
	}
	if err := os.WriteFile(r.path(filePath(d.SHA256, "PDF")), []byte("rot"), 0o644); err != nil {
		t.Fatal(err)
	}
	faults := must[[]string](t)(r.Check(ctx))
	if len(faults) != 1 || !strings.Contains(faults[0], "data sheet of supply") {
		t.Errorf("a changed sheet gives %q", faults)
	}
}

func TestSheetsThatCannotBeKept(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	for says, data := range map[string][]byte{"Choose": nil, "no PDF": []byte("<html>%PDF-"), "at most 25 MB": append(pdf(""), make([]byte, studio.MaxSheet)...)} {
		_, err := s.AddSheet(ctx, studio.DataSheet{Supply: b.salt.ID, Name: "x.pdf"}, data)
		wantProblem(t, err, studio.Invalid, says)
	}
	_, err := s.AddSheet(ctx, studio.DataSheet{Supply: 99, Name: "x.pdf"}, pdf("x"))
	wantProblem(t, err, studio.NotFound, "99")
	if left := must[[]string](t)(filepath.Glob(s.path("sheets", "*", "*"))); len(left) != 0 {
		t.Errorf("refused sheets left %q", left)
	}
}

// A sheet goes with its supply, once that has been in the bin for 30 days, and a
// file that no record names is put aside.
func TestSheetGoesWithItsSupply(t *testing.T) {
	c := &clock{noon}
	s := mustOpen(t, filepath.Join(t.TempDir(), "studio"), c)
	x := must[studio.Supply](t)(s.SaveSupply(ctx, studio.Supply{Name: "Vinegar", Material: "vinegar", Strength: 5, StrengthUnit: studio.WtPercent}))
	d := must[studio.DataSheet](t)(s.AddSheet(ctx, studio.DataSheet{Supply: x.ID, Name: "v.pdf"}, pdf("v")))
	must[studio.SheetCheck](t)(s.AddSheetCheck(ctx, studio.SheetCheck{Supply: x.ID, Row: "gloves", Text: "nitrile", Checked: true, By: "Ann"}))
	if err := s.BinItem(ctx, "supply", x.ID); err != nil {
		t.Fatal(err)
	}
	c.t = noon.Add(31 * 24 * time.Hour)
	if n := must[int](t)(s.PurgeBin(ctx)); n != 1 {
		t.Fatalf("%d things were purged", n)
	}
	if exists(s.path(filePath(d.SHA256, "PDF"))) {
		t.Error("the sheet's file is still there")
	}
	stray := s.path("sheets", "ab", strings.Repeat("ab", 32)+".pdf")
	os.MkdirAll(filepath.Dir(stray), 0o755)
	os.WriteFile(stray, pdf("stray"), 0o644)
	old := time.Now().Add(-time.Hour)
	os.Chtimes(stray, old, old)
	s.Close()
	s = mustOpen(t, s.Dir(), c)
	if exists(stray) || !exists(s.path("sheets", ".stray", filepath.Base(stray))) {
		t.Error("a file that no record names was not put aside")
	}
}

// A person's own sheet on a bottle of the example is not removed with the example.
func TestOwnSheetOutlivesTheExample(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, true)
	d := must[studio.DataSheet](t)(s.AddSheet(ctx, studio.DataSheet{Supply: b.salt.ID, Name: "salt.pdf"}, pdf("salt")))
	if err := s.RemoveInvented(ctx); err != nil {
		t.Fatal(err)
	}
	same(t, "the supply", must[studio.Supply](t)(s.Supply(ctx, b.salt.ID)), b.salt)
	if !exists(s.path(filePath(d.SHA256, "PDF"))) || must[bool](t)(s.HasInvented(ctx)) {
		t.Error("the sheet went with the example, or the example did not go")
	}
	wantSound(t, s)
}

func TestTheLastTickCounts(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	for _, checked := range []bool{true, false, true} {
		must[studio.SheetCheck](t)(s.AddSheetCheck(ctx, studio.SheetCheck{Supply: b.salt.ID, Row: "gloves", Text: "none", Checked: checked, By: "Ann"}))
		if got := must[map[string]studio.SheetCheck](t)(s.SheetChecks(ctx, b.salt.ID)); got["gloves"].Checked != checked {
			t.Errorf("after %v: %+v", checked, got)
		}
	}
	if got := must[map[string]studio.SheetCheck](t)(s.SheetChecks(ctx, b.salt.ID))["gloves"]; got.By != "Ann" || !got.At.Equal(noon) || got.Text != "none" {
		t.Errorf("the tick is %+v", got)
	}
	_, err := s.AddSheetCheck(ctx, studio.SheetCheck{Supply: 99, Row: "gloves"})
	wantProblem(t, err, studio.NotFound, "99")
}

func TestSetIsForAClassInARoom(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	room := must[studio.Room](t)(s.SaveRoom(ctx, studio.Room{Name: "Yard", Outdoors: true}))
	if err := s.SaveSetPlace(ctx, b.set.ID, studio.ForTeens, room.ID); err != nil {
		t.Fatal(err)
	}
	if got := must[studio.Set](t)(s.Set(ctx, b.set.ID)); got.Class != studio.ForTeens || got.RoomID != room.ID {
		t.Errorf("the set is %+v", got)
	}
	wantProblem(t, s.SaveSetPlace(ctx, b.set.ID, "toddlers", 0), studio.Invalid, "toddlers")
	wantProblem(t, s.SaveSetPlace(ctx, b.set.ID, studio.NoClass, 99), studio.NotFound, "99")
	wantProblem(t, s.SaveSetPlace(ctx, 99, studio.NoClass, 0), studio.NotFound, "99")
}
