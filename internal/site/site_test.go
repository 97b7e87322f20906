package site_test

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"maps"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/PuerkitoBio/goquery"

	"aerugo/internal/language"
	"aerugo/internal/picture"
	"aerugo/internal/recipefile"
	"aerugo/internal/site"
	"aerugo/internal/studio"
)

// englishWords are words that German has not, or only in other places.
var englishWords = regexp.MustCompile(`(?i)\b(the|and|of|with|without|is|are|not|than|which|how|from|your|this|that|there|what|when|or|to|has|have|been|no|for|by|at|it|they|only)\b`)

// A site is in the language that is asked for, but for what people wrote.
func TestSiteInGerman(t *testing.T) {
	s := photographed(t, 2)
	all, err := language.Shipped()
	if err != nil {
		t.Fatal(err)
	}
	de := all[slices.IndexFunc(all, func(l *language.Language) bool { return l.Tag == "de" })]
	names, err := s.Names(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	words, err := s.OwnWords(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	own := de.Own(names, words)
	a := everything(t, s)
	a.Title, a.Notes, a.Language = "Laternen", false, de.Knowing(own)
	made := files(t, s, a)
	holdLinks(t, made)
	for name, data := range made {
		if !strings.HasSuffix(name, ".html") {
			continue
		}
		doc := must[*goquery.Document](t)(goquery.NewDocumentFromReader(bytes.NewReader(data)))
		if lang, _ := doc.Find("html").Attr("lang"); lang != "de" {
			t.Errorf("%s is in %q", name, lang)
		}
		check := func(text string) {
			for n := range own {
				text = strings.ReplaceAll(text, n, "")
			}
			if m := englishWords.FindString(text); m != "" {
				t.Errorf("%s says %q: %q", name, m, strings.Join(strings.Fields(text), " "))
			}
		}
		doc.Find("h1 + p:not(:has(*))").Remove() // a set's question, which somebody asked
		doc.Find(".entry h3 + p").Each(func(_ int, x *goquery.Selection) {
			if strings.HasSuffix(strings.TrimSpace(x.Text()), "?") {
				x.Remove()
			}
		})
		doc.Find("main, nav").Each(func(_ int, x *goquery.Selection) { check(x.Text()) })
		doc.Find("[alt]").Each(func(_ int, x *goquery.Selection) { check(x.AttrOr("alt", "")) })
		doc.Find("[aria-label]").Each(func(_ int, x *goquery.Selection) { check(x.AttrOr("aria-label", "")) })
	}
}

// holdLinks checks that every link, picture and fragment of a site leads to what is
// in it, and none elsewhere.
func holdLinks(t *testing.T, all map[string][]byte) {
	t.Helper()
	docs := map[string]*goquery.Document{}
	for name, data := range all {
		if strings.HasSuffix(name, ".html") {
			docs[name] = must[*goquery.Document](t)(goquery.NewDocumentFromReader(bytes.NewReader(data)))
		}
	}
	linked := map[string]bool{"index.html": true}
	follow := func(from, link string) {
		u, err := url.Parse(link)
		if err != nil || u.IsAbs() || u.Host != "" || strings.HasPrefix(link, "/") {
			t.Errorf("%s: %q leads elsewhere", from, link)
			return
		}
		to := u.Path
		if to == "" {
			to = from
		}
		linked[to] = true
		if all[to] == nil {
			t.Errorf("%s: %q leads to nothing", from, link)
		} else if u.Fragment != "" && docs[to] != nil && docs[to].Find("#"+u.Fragment).Length() != 1 {
			t.Errorf("%s: %q leads to no place", from, link)
		}
	}
	for name, doc := range docs {
		doc.Find("[href],[src],[srcset],[action]").Each(func(_ int, x *goquery.Selection) {
			for _, a := range []string{"href", "src", "action"} {
				if v, ok := x.Attr(a); ok {
					follow(name, v)
				}
			}
			if v, ok := x.Attr("srcset"); ok {
				for _, one := range strings.Split(v, ",") {
					follow(name, strings.Fields(one)[0])
				}
			}
		})
		if doc.Find("script,[style],[onclick]").Length() > 0 {
			t.Errorf("%s holds a script", name)
		}
		if lang, _ := doc.Find("html").Attr("lang"); lang == "" || doc.Find("h1").Length() != 1 || doc.Find("a.skip").Length() != 1 {
			t.Errorf("%s: no language, heading or way past the menu", name)
		}
		doc.Find("img").Each(func(_ int, x *goquery.Selection) {
			if alt, _ := x.Attr("alt"); !strings.Contains(alt, "Swatch") {
				t.Errorf("%s: a picture says %q", name, alt)
			}
		})
	}
	for _, m := range regexp.MustCompile(`url\(([^)]*)\)`).FindAllStringSubmatch(string(all["site.css"]), -1) {
		follow("site.css", m[1])
	}
	for name, data := range all {
		if !linked[name] && name != "fonts/LICENSE-OFL.txt" && name != "site.css" {
			t.Errorf("nothing leads to %s", name)
		}
		if strings.HasSuffix(name, ".jpg") {
			info := must[picture.Info](t)(picture.Inspect(data))
			if info.GPS || info.Camera != "" || bytes.Contains(data, []byte("Exif")) || max(info.Width, info.Height) > 1280 {
				t.Errorf("%s carries notes, or is large: %+v", name, info)
			}
		} else if name != "fonts/LICENSE-OFL.txt" && !strings.HasSuffix(name, ".woff2") && regexp.MustCompile(`https?:`).Match(data) {
			t.Errorf("%s names an address on the net", name)
		}
	}
}

// TestASiteIsAlwaysTheSame builds one twice, and holds its list of files to the one kept.
func TestASiteIsAlwaysTheSame(t *testing.T) {
	b := own(t)
	first, again := files(t, b.Store, everything(t, b.Store)), files(t, b.Store, everything(t, b.Store))
	for name := range first {
		if !bytes.Equal(first[name], again[name]) {
			t.Errorf("%s is not the same twice", name)
		}
	}
	got := strings.Join(slices.Sorted(maps.Keys(first)), "\n") + "\n"
	if want := string(must[[]byte](t)(os.ReadFile("testdata/files.txt"))); got != want {
		t.Errorf("the files are\n%s\nand not\n%s", got, want)
	}
	holdLinks(t, first)
	for name, data := range first {
		for _, never := range []string{"Zenobia", "Xerxes", "LOT-SECRET", "Anna's chamber", b.Dir(), fmt.Sprintf("swatch-%04d", b.student)} {
			if strings.Contains(string(data), never) || strings.Contains(name, never) {
				t.Errorf("%s tells of %q", name, never)
			}
		}
		if strings.HasSuffix(name, ".html") && strings.Contains(string(data), "<script") {
			t.Errorf("%s holds a script that somebody wrote", name)
		}
	}
	if !bytes.Contains(first["index.html"], []byte("137")) {
		t.Error("without being asked, amounts are hidden")
	}
}

// TestHiddenAmountsAreNowhereInASite greps every file, and every name of one.
func TestHiddenAmountsAreNowhereInASite(t *testing.T) {
	b := own(t)
	a := everything(t, b.Store)
	a.Hide, a.Notes, a.Title = true, true, "Up to 137 min"
	a.Findings = map[int64][]string{b.set.ID: {"137 min is bluer than 45 min."}}
	all := files(t, b.Store, a)
	figure := regexp.MustCompile(`137|12\.34|8\.76|8220|45 min|54 L|2 h 17`)
	for name, data := range all {
		if strings.HasSuffix(name, ".jpg") || strings.HasSuffix(name, ".woff2") {
			data = nil
		}
		if m := figure.FindString(name + "\n" + string(data)); m != "" {
			t.Errorf("%s tells %q", name, m)
		}
	}
	f := must[recipefile.File](t)(recipefile.Read(bytes.NewReader(all["recipe.patina.json"])))
	if f.Recipes[0].Amounts != recipefile.Hidden {
		t.Error("the file does not say that amounts are hidden")
	}
}

// TestASiteIsWholeOrNotThere stops one half way.
func TestASiteIsWholeOrNotThere(t *testing.T) {
	dir := t.TempDir()
	out := filepath.Join(dir, "site")
	half := errors.New("the disk broke")
	if err := site.Folder(out, func(put func(string, []byte) error) error {
		return errors.Join(put("index.html", []byte("a")), put("pictures/a.jpg", []byte("b")), half)
	}); !errors.Is(err, half) {
		t.Errorf("half a site: %v", err)
	}
	if left := must[[]os.DirEntry](t)(os.ReadDir(dir)); len(left) != 0 {
		t.Errorf("half a site is left: %v", left)
	}
	whole := func(put func(string, []byte) error) error { return put("pictures/a.jpg", []byte("b")) }
	if err := site.Folder(out, whole); err != nil {
		t.Fatal(err)
	}
	if p := studio.ProblemIn(site.Folder(out, whole)); p == nil || p.Kind != studio.Conflict {
		t.Errorf("over what is there: %v", p)
	}
	var z bytes.Buffer
	if err := site.Zip(&z, whole); err != nil {
		t.Fatal(err)
	}
	r := must[*zip.Reader](t)(zip.NewReader(bytes.NewReader(z.Bytes()), int64(z.Len())))
	if len(r.File) != 1 || r.File[0].Name != "pictures/a.jpg" {
		t.Errorf("the ZIP holds %v", r.File)
	}
}

func TestWhatCannotBePublishedIsSaid(t *testing.T) {
	s := open(t)
	maker := site.Maker{Licence: "CC0-1.0"}
	for says, a := range map[string]site.Ask{
		"Tick at least one":  {Title: "a", Maker: maker},
		"a title":            {Recipes: []int64{1}, Maker: maker},
		"no recipe 9":        {Title: "a", Recipes: []int64{9}, Maker: maker},
		"no set 9":           {Title: "a", Sets: []int64{9}, Maker: maker},
		"no licence known":   {Title: "a", Recipes: []int64{1}, Maker: site.Maker{Licence: "mine"}},
		"has 130 letters":    {Title: "a", Recipes: []int64{1}, Maker: site.Maker{Name: strings.Repeat("a", 130), Licence: "CC0-1.0"}},
		"has 131 letters; 1": {Title: "a", Recipes: []int64{1}, Maker: site.Maker{Studio: strings.Repeat("a", 131), Licence: "CC0-1.0"}},
	} {
		err := site.Build(t.Context(), s, a, collect(map[string][]byte{}), nil)
		if p := studio.ProblemIn(err); p == nil || !strings.Contains(p.Text, says) {
			t.Errorf("%q: %v", says, err)
		}
	}
}
