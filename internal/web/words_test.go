package web_test

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"maps"
	"net/url"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode"
	"unicode/utf16"

	"github.com/google/go-cmp/cmp"
)

// A sheetRow is a sheet that the pages offer as a PDF. from are the pages that lead to it,
// each to the next: the last of them has the link or the button that asks for the sheet
// as a page. ask is what a person writes in the form there, over what stands in it; see is
// who looks, nil for the laptop.
//
// A new function of package print that writes a sheet needs its row: TestEverySheetIsAPageToo
// names it.
type sheetRow struct {
	function string
	pdf      string
	from     []string
	ask      url.Values
	see      func(t testing.TB, path string) answer
}

func sheetRows(t *testing.T, s *classroom) []sheetRow {
	of := func(format string, args ...any) string { return fmt.Sprintf(format, args...) }
	s.begin(t, "begin", s.planned[0].ID).to(t)
	for step := range s.planned[0].Steps { // a care sheet is of something finished
		s.post(t, "/taps", url.Values{"client": {fmt.Sprint("a", step)}, "kind": {"done"}, "of": {fmt.Sprintf("%d:%d", s.planned[0].ID, step)}}).to(t)
	}
	priced(t, s.stock)
	quote := quoted(t, s.stock)
	lamp := s.lamp(t)
	batch, _ := s.batchOf(t, lamp.ID, "pieces", "8", "spares", "2")
	day := examplesDay(t, s.bench)
	set, recipe, swatch := of("/sets/%d", s.set), of("/recipes/%d", s.recipe), of("/swatches/%d", s.planned[0].Swatch)
	lesson := of("/classes/%d", lessonOf(t, s.bench, s.version, s.metal).ID)
	mix := "/mix?material=ammonia-water&strength=28&unit=wt%25&to=10&amount=1000&amountunit=mL"
	ana := s.sits(t, 1, "Ana")
	s.give(t, 0, 1)
	return []sheetRow{
		{"Labels", set + "/labels.pdf", []string{set}, nil, nil},
		{"Stickers", "/labels.pdf", []string{set, "/labels"}, url.Values{"set": {fmt.Sprint(s.set)}}, nil},
		{"StickerTest", "/labels/test.pdf", []string{set, "/labels"}, nil, nil},
		{"SwatchBoard", "/board.pdf", []string{of("/board?set=%d", s.set)}, nil, nil},
		{"BenchSheet", set + "/bench.pdf", []string{set, set + "/bench"}, nil, nil},
		{"RecipeCard", recipe + "/card.pdf", []string{recipe, recipe + "/card"}, nil, nil},
		{"MixCard", "/mix/card.pdf", []string{mix}, nil, nil},
		{"CareSheet", swatch + "/care.pdf", []string{swatch + "/care"}, nil, nil},
		{"Mat", "/mat.pdf", []string{"/photos/new", "/mat"}, nil, nil},
		{"CountdownSheet", day + "/countdown.pdf", []string{day}, nil, nil},
		{"BottleLabels", of("/shelf/supplies/%d/bottle.pdf", s.ammonia), []string{of("/shelf/supplies/%d/stock", s.ammonia)}, url.Values{"mixed": {"2026-03-02"}, "strong": {"5"}, "copies": {"2"}}, nil},
		{"QuoteSheet", quote + "/quote.pdf", []string{quote}, nil, nil},
		{"KitList", lesson + "/kit.pdf", []string{lesson + "/kit"}, nil, nil},
		{"RiskDraft", lesson + "/risk.pdf", []string{lesson + "/risk"}, nil, nil},
		{"HandoutSheet", lesson + "/handout.pdf", []string{lesson + "/handout"}, nil, nil},
		{"TeacherSheet", lesson + "/teacher.pdf", []string{lesson + "/teacher"}, nil, nil},
		{"ShoppingList", "/shopping.pdf", []string{of("/shopping?set=%d", s.set)}, nil, nil},
		{"Cutting", of("/batches/%d/cutting.pdf", batch.ID), []string{of("/batches/%d", batch.ID)},
			url.Values{"sheetw": {"400"}, "sheeth": {"300"}, "width": {"120"}, "height": {"120"}, "kerf": {"1"}, "edge": {"5"}}, nil},
		{"StudentCard", "/seat/card.pdf", []string{"/seat/card"}, nil, func(t testing.TB, path string) answer { return ana.ask(t, "GET", path, nil) }},
	}
}

// TestEverySheetIsAPageToo: a PDF from here has no structure that a screen reader could
// follow, so each has its page: reached from where the PDF is offered, with its language,
// one main heading, further headings or a table, and every word of the PDF, which is read
// from the file itself.
func TestEverySheetIsAPageToo(t *testing.T) {
	t.Parallel()
	s := classroomOf(t, 2)
	rows := sheetRows(t, s)
	var have []string
	for _, row := range rows {
		have = append(have, row.function)
		t.Run(row.function, func(t *testing.T) {
			var link string
			see := row.see
			if see == nil {
				see = func(t testing.TB, path string) answer { return s.see(t, path) }
			}
			for i, from := range row.from {
				page := see(t, from)
				if page.code != 200 {
					t.Fatalf("%s: status %d: %s", from, page.code, page.problem())
				}
				if i+1 < len(row.from) {
					if !slices.ContainsFunc(page.doc(t).all("main a[href]"), func(a *node) bool { u, err := url.Parse(a.attr["href"]); return err == nil && u.Path == row.from[i+1] }) {
						t.Errorf("%s does not lead to %s", from, row.from[i+1])
					}
					continue
				}
				link = pageOf(page.doc(t), row)
			}
			if link == "" {
				t.Fatalf("%s offers %s, but not as a page", row.from[len(row.from)-1], row.pdf)
			}
			for _, way := range [][2]string{{"a4", ""}, {"letter", ""}, {"a4", "de"}} {
				q, err := url.Parse(link)
				if err != nil {
					t.Fatal(err)
				}
				v := q.Query()
				v.Set("sheet", way[0])
				if way[1] != "" {
					v.Set("in", way[1])
				}
				page := see(t, row.pdf+"?"+v.Encode())
				if page.code != 200 {
					t.Fatalf("%s: status %d: %s", page.what, page.code, page.problem())
				}
				v.Del("as")
				file := see(t, row.pdf+"?"+v.Encode())
				if file.code != 200 || !bytes.HasPrefix(file.body, []byte("%PDF-")) {
					t.Fatalf("%s: status %d: %s", file.what, file.code, file.problem())
				}
				doc := page.doc(t)
				holdPage(t, page.what, doc)
				if len(doc.all("main h2, main table")) == 0 && row.function != "Mat" { // a few words round a drawing
					t.Errorf("%s has neither a heading nor a table", page.what)
				}
				if way[1] == "de" {
					holdGermanSheet(t, s.bench, page.what, page.body)
				}
				said := solid(doc.one("main").words())
				texts := textsOf(t, file.body)
				if len(texts) < 10 {
					t.Errorf("%s has only %d texts", file.what, len(texts))
				}
				for _, text := range texts {
					if !strings.Contains(said, solid(strings.TrimSuffix(text, "…"))) {
						t.Errorf("%s prints %q, its page does not say it", file.what, text)
					}
				}
			}
		})
	}
	slices.Sort(have)
	if diff := cmp.Diff(sheetsCalled(t), have); diff != "" {
		t.Errorf("the pages print (-) and the table holds (+):\n%s", diff)
	}
}

// pageOf finds the link or the button that asks for a row's sheet as a page, and returns
// where it leads, "" when there is none.
func pageOf(doc *node, row sheetRow) string {
	for _, a := range doc.all("main a[href]") {
		if u, err := url.Parse(a.attr["href"]); err == nil && u.Path == row.pdf && u.Query().Get("as") == "page" {
			return a.attr["href"]
		}
	}
	for _, f := range doc.all("main form") {
		for _, b := range f.all(`button[name=as][value=page]`) {
			action := f.attr["action"]
			if b.attr["formaction"] != "" {
				action = b.attr["formaction"]
			}
			if action == row.pdf {
				v := submitted(f)
				maps.Copy(v, row.ask)
				v.Set("as", "page")
				return action + "?" + v.Encode()
			}
		}
	}
	return ""
}

// sheetsCalled are the functions of package print that write a sheet and that the pages
// name.
func sheetsCalled(t *testing.T) (out []string) {
	t.Helper()
	writes := map[string]bool{}
	eachFile(t, "../print/*.go", func(n ast.Node) bool {
		if f, ok := n.(*ast.FuncDecl); ok && f.Recv == nil && f.Type.Params.NumFields() > 0 {
			first, ok := f.Type.Params.List[0].Type.(*ast.SelectorExpr)
			writes[f.Name.Name] = f.Name.IsExported() && ok && first.Sel.Name == "Writer"
		}
		return true
	})
	eachFile(t, "*.go", func(n ast.Node) bool {
		if f, ok := n.(*ast.SelectorExpr); ok && writes[f.Sel.Name] && !slices.Contains(out, f.Sel.Name) {
			if pkg, ok := f.X.(*ast.Ident); ok && pkg.Name == "print" {
				out = append(out, f.Sel.Name)
			}
		}
		return true
	})
	slices.Sort(out)
	return out
}

// eachFile shows every part of the files that are no tests.
func eachFile(t *testing.T, glob string, see func(ast.Node) bool) {
	t.Helper()
	files, err := filepath.Glob(glob)
	if err != nil || len(files) == 0 {
		t.Fatal(files, err)
	}
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, see)
	}
}

var (
	packed  = regexp.MustCompile(`/Length (\d+)[^>]*>>\nstream\n`)
	shownAs = regexp.MustCompile(`(?s)\(((?:\\.|[^\\)])*)\) Tj`)
)

// textsOf reads every text that a PDF from here shows (ISO 32000-1, 9.4.3, Tj), each in
// UTF-16 with the high byte first.
func textsOf(t *testing.T, pdf []byte) (out []string) {
	t.Helper()
	for _, at := range packed.FindAllSubmatchIndex(pdf, -1) {
		r, err := zlib.NewReader(bytes.NewReader(pdf[at[1]:]))
		if err != nil {
			continue // a stream that is not packed shows no text
		}
		stream, err := io.ReadAll(r)
		if err != nil || !bytes.Contains(stream, []byte(" Tj ET")) {
			continue
		}
		for _, m := range shownAs.FindAllSubmatch(stream, -1) {
			var raw []byte
			for i := 0; i < len(m[1]); i++ {
				c := m[1][i]
				if c == '\\' {
					i++
					switch c = m[1][i]; c {
					case 'r':
						c = '\r'
					case 'n':
						c = '\n'
					}
				}
				raw = append(raw, c)
			}
			units := make([]uint16, len(raw)/2)
			for i := range units {
				units[i] = uint16(raw[2*i])<<8 | uint16(raw[2*i+1])
			}
			out = append(out, string(utf16.Decode(units)))
		}
	}
	return out
}

// solid leaves only what is seen of a text.
func solid(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return -1
		}
		return r
	}, text)
}
