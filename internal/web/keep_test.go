package web_test

import (
	"archive/zip"
	"bytes"
	"context"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"aerugo/internal/demo"
	"aerugo/internal/store"
	"aerugo/internal/web"
)

// TestAnArchiveMovesAStudio exports a studio and takes it into an empty one,
// which then shows the same; into one that holds something it is refused.
func TestAnArchiveMovesAStudio(t *testing.T) {
	t.Parallel()
	from, photos := lived(t)
	a := from.see(t, "/export.zip")
	if a.code != 200 || a.header.Get("Content-Type") != "application/zip" || !strings.Contains(a.header.Get("Content-Disposition"), "attachment") {
		t.Fatalf("status %d, %v", a.code, a.header)
	}
	z, err := zip.NewReader(bytes.NewReader(a.body), int64(len(a.body)))
	if err != nil {
		t.Fatal(err)
	}
	if len(z.File) < 5 {
		t.Errorf("the archive holds %d files", len(z.File))
	}
	to := serve(t)
	// what pages say of ages is of one moment
	from.stand()
	to.stood.Store(from.stood.Load())
	to.ahead.Store(from.ahead.Load())
	where := to.upload(t, "/import", "archive", a.body, nil).to(t)
	if said := to.see(t, where).doc(t).one(".said").words(); !strings.Contains(said, "5 swatches and 3 photographs") {
		t.Errorf("it says %q", said)
	}
	was, err := from.store.Seen(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	is, err := to.store.Seen(t.Context())
	if err != nil || is != was {
		t.Errorf("the studio held %+v, the new one %+v (%v)", was, is, err)
	}
	for _, path := range []string{fmt.Sprintf("/swatches/%d", from.planned[0].Swatch), fmt.Sprintf("/sets/%d", from.set), fmt.Sprintf("/recipes/%d", from.recipe), "/shelf", fmt.Sprintf("/photos/%d", photos[0])} {
		// the key of every form is made anew each time, and is no text
		if a, b := from.see(t, path).doc(t).one("main").words(), to.see(t, path).doc(t).one("main").words(); a != b {
			t.Errorf("%s reads\n%.500s\nand after the move\n%.500s", path, a, b)
		}
	}
	for _, p := range photos {
		path := fmt.Sprintf("/photos/%d/original", p)
		if !bytes.Equal(from.see(t, path).body, to.see(t, path).body) {
			t.Errorf("the photograph %d changed on the way", p)
		}
	}
	full := stocked(t)
	before, err := full.store.Seen(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for name, refuse := range map[string]answer{
		"into a full studio": full.upload(t, "/import", "archive", a.body, nil),
		"once more":          to.upload(t, "/import", "archive", a.body, nil),
	} {
		if refuse.code != 422 || !strings.Contains(refuse.problem(), "empty") {
			t.Errorf("%s: status %d: %s", name, refuse.code, refuse.problem())
		}
		holdPage(t, name, refuse.doc(t))
	}
	empty := serve(t)
	damaged := slices.Clone(a.body)
	for i := len(damaged) / 3; i < len(damaged)/3+400; i++ {
		damaged[i] ^= 0x55
	}
	for name, data := range map[string][]byte{"half an archive": a.body[:len(a.body)/2], "a damaged one": damaged, "words": []byte("not an archive"), "nothing": nil} {
		refuse := empty.upload(t, "/import", "archive", data, nil)
		if refuse.code != 422 || refuse.problem() == "" {
			t.Errorf("%s: status %d: %s", name, refuse.code, refuse.problem())
		}
	}
	if seen, err := empty.store.Seen(t.Context()); err != nil || !seen.Empty {
		t.Errorf("after refused archives the empty studio holds %+v (%v)", seen, err)
	}
	if after, err := full.store.Seen(t.Context()); err != nil || after != before {
		t.Errorf("the full studio held %+v and holds %+v (%v)", before, after, err)
	}
	if n := len(empty.files(t)); n != 0 {
		t.Errorf("refused archives left %d photographs", n)
	}
	for _, b := range []*bench{from.bench, to, full.bench, empty} {
		left, err := filepath.Glob(filepath.Join(b.store.Dir(), ".*port-*"))
		if err != nil || len(left) != 0 {
			t.Errorf("archives were left lying in the studio: %v (%v)", left, err)
		}
	}
}

// TestTheBinGivesBack puts one of each kind into the bin and takes it back.
func TestTheBinGivesBack(t *testing.T) {
	s, photos := lived(t)
	list := map[string]func() bool{ // whether the thing is in its list
		"metal": func() bool {
			return s.see(t, "/shelf").doc(t).one(fmt.Sprintf("[href='/shelf/metals/%d']", s.metal)) != nil
		},
		"supply":  func() bool { return strings.Contains(s.see(t, "/shelf").doc(t).words(), "Copper nitrate 20 %") },
		"chamber": func() bool { return strings.Contains(s.see(t, "/shelf").doc(t).words(), "Chamber A") },
		"recipe":  func() bool { return strings.Contains(s.see(t, "/recipes").doc(t).words(), "Salt and fumes") },
		"set":     func() bool { return strings.Contains(s.see(t, "/sets").doc(t).words(), "How long") },
		"swatch": func() bool {
			return s.see(t, "/swatches").doc(t).one(fmt.Sprintf("[href='/swatches/%d']", s.blank)) != nil
		},
		"photo": func() bool {
			return s.see(t, fmt.Sprintf("/swatches/%d", s.planned[0].Swatch)).doc(t).one(fmt.Sprintf("[href='/photos/%d']", photos[0])) != nil
		},
	}
	for kind, n := range map[string]int64{"metal": s.metal, "supply": s.nitrate, "chamber": s.chamber, "recipe": s.recipe, "set": s.set, "swatch": s.blank, "photo": photos[0]} {
		form := url.Values{"kind": {kind}, "id": {id(n)}}
		if !list[kind]() {
			t.Errorf("the %s is not in its list", kind)
		}
		said := s.see(t, s.post(t, "/bin", form).to(t)).doc(t).one(".said").words()
		if !strings.Contains(said, "30 days") {
			t.Errorf("the %s: it says %q", kind, said)
		}
		if list[kind]() {
			t.Errorf("the %s is in the bin and still in its list", kind)
		}
		var back *node
		for _, f := range s.see(t, "/studio").doc(t).all("form[action='/bin/back']") {
			if v := submitted(f); v.Get("kind") == kind && v.Get("id") == id(n) {
				back = f
			}
		}
		if back == nil {
			t.Errorf("the bin has no button to take the %s back", kind)
			continue
		}
		// a binned thing's own page stays readable wherever a record leads to it
		for _, path := range []string{"/", "/sets", "/swatches", "/findings", fmt.Sprintf("/swatches/%d", s.planned[0].Swatch), fmt.Sprintf("/sets/%d", s.set), fmt.Sprintf("/recipes/%d/card", s.recipe)} {
			if a := s.see(t, path); a.code != 200 {
				t.Errorf("with the %s in the bin %s has the status %d: %s", kind, path, a.code, a.problem())
			}
		}
		s.post(t, "/bin/back", submitted(back)).to(t)
		if !list[kind]() {
			t.Errorf("the %s was taken back and is not in its list", kind)
		}
	}
	for name, f := range map[string]url.Values{"nothing": {}, "not a number": {"kind": {"set"}, "id": {"x"}}, "not there": {"kind": {"set"}, "id": {"999"}}, "no such kind": {"kind": {"device"}, "id": {"1"}}} {
		for _, path := range []string{"/bin", "/bin/back"} {
			if a := s.post(t, path, f); a.code != 404 && a.code != 422 {
				t.Errorf("%s %s: status %d", path, name, a.code)
			}
		}
	}
}

// TestABackupIsAWholeStudio opens the backup made through the page.
func TestABackupIsAWholeStudio(t *testing.T) {
	s, photos := lived(t)
	said := s.see(t, s.post(t, "/backup", url.Values{}).to(t)).doc(t).one(".said").words()
	_, dir, _ := strings.Cut(strings.TrimSuffix(said, "."), "The backup is in ")
	if filepath.Dir(filepath.Dir(dir)) != s.store.Dir() {
		t.Fatalf("it says %q", said)
	}
	if listed := s.see(t, "/studio").doc(t).one("[aria-labelledby=keep]").words(); !strings.Contains(listed, filepath.Base(dir)) {
		t.Error("the studio's page does not list the backup")
	}
	copied := filepath.Join(t.TempDir(), "copy") // as from another disk
	if err := os.CopyFS(copied, os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}
	other, err := store.Open(t.Context(), copied, store.Options{Now: s.now})
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	was, err := s.store.Seen(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if is, err := other.Seen(t.Context()); err != nil || is != was {
		t.Errorf("the studio holds %+v, its backup %+v (%v)", was, is, err)
	}
	for _, p := range photos {
		a, err := s.store.PhotoData(t.Context(), p)
		if err != nil {
			t.Fatal(err)
		}
		if b, err := other.PhotoData(t.Context(), p); err != nil || !bytes.Equal(a, b) {
			t.Errorf("the photograph %d differs in the backup (%v)", p, err)
		}
	}
}

// TestTheExampleComesAndGoes fills the example in and takes it out again, with
// the person's own things left as they are.
func TestTheExampleComesAndGoes(t *testing.T) {
	b := benchWith(t, func(b *bench, c *web.Config) {
		c.Example = func(ctx context.Context) error { return demo.Fill(ctx, b.store, b.now()) }
	})
	b.post(t, "/example", url.Values{}).to(t)
	page := b.see(t, "/").doc(t)
	if page.one("aside.invented") == nil {
		t.Error("the page does not say that what it shows is invented")
	}
	if a := b.post(t, "/example", url.Values{}); a.code != 409 || a.problem() == "" {
		t.Errorf("filled in twice: status %d: %s", a.code, a.problem())
	}
	b.post(t, "/shelf/metals", url.Values{"name": {"My own sheet"}, "alloy": {"C26000"}, "thickness": {"1"}}).to(t)
	b.post(t, "/example/remove", url.Values{}).to(t)
	counts, err := b.store.Seen(t.Context())
	if err != nil || counts.Metals != 1 || counts.Swatches != 0 || counts.Recipes != 0 {
		t.Errorf("left over: %+v (%v)", counts, err)
	}
	page = b.see(t, "/shelf").doc(t)
	if page.one("aside.invented") != nil || !strings.Contains(page.words(), "My own sheet") {
		t.Error("after taking it out the shelf is not the person's own")
	}
	if a := serve(t).post(t, "/example", url.Values{}); a.code != 404 || a.problem() == "" {
		t.Errorf("where there is none: status %d: %s", a.code, a.problem())
	}
}
