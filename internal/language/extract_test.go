package language

import (
	"encoding/csv"
	"flag"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode"

	"aerugo/internal/science/published"
)

var (
	update = flag.Bool("update", false, "write the catalogues anew from the texts in the source, keeping translations")
	parts  = flag.String("parts", "", "with -update, a folder that gets the catalogue in parts, for translators side by side")
	filled = flag.String("filled", "", "with -update, a folder whose .po files hold translations to take over")
)

// spokenBy are the packages whose texts reach pages and paper. The command line
// and the archive's own documents are English.
var spokenBy = []string{"studio", "science/*", "science", "flow/*", "picture", "print", "store", "archive", "recipefile", "site", "web"}

// tables are the columns of data tables that people read. Names of sources are
// not translated: they must be found as they are.
var tables = map[string][]string{
	"science/matter/data/alloys.tsv":         {"name", "note"},
	"science/matter/data/bands.tsv":          {"name", "gloves", "eyes", "first_aid", "disposal"},
	"science/matter/data/cautions.tsv":       {"text"},
	"science/matter/data/clashes.tsv":        {"group_a", "group_b", "what", "do", "instead"},
	"science/matter/data/hazards.tsv":        {"plain"},
	"science/matter/data/hydrates.tsv":       {"name"},
	"science/matter/data/substances.tsv":     {"name", "kind", "odour", "flammable", "storage"},
	"science/published/data/ingredients.tsv": {"name", "note"},
	"science/published/data/recipes.csv":     {"method", "time", "temperature"},
	"science/published/data/words.tsv":       {"name", "look", "taken", "reason", "steps"},
	"science/colour/data/centroids.tsv":      {"name"},
}

// collected gathers the texts of the whole program in the order of the files.
func collected(t testing.TB) []Message {
	t.Helper()
	var out []Message
	at := map[string]int{}
	add := func(id, place string, notes []string) {
		if id == "" {
			return
		}
		i, ok := at[id]
		if !ok {
			i = len(out)
			at[id] = i
			out = append(out, Message{ID: id, Notes: notes})
		}
		if !slices.Contains(out[i].Places, place) {
			out[i].Places = append(out[i].Places, place)
		}
	}
	for _, layout := range append(slices.Clone(layouts), calendar...) {
		add(layout, "calendar", nil)
	}
	for _, file := range append(glob(t, "../web/pages/*.html"), glob(t, "../site/pages/*.html")...) {
		src := string(read(t, file))
		for _, u := range Units(src) {
			add(u.ID, strings.TrimPrefix(file, "../"), u.Notes)
		}
	}
	for _, file := range glob(t, "../web/static/*.js") {
		for _, id := range scriptTexts(string(read(t, file))) {
			add(id, strings.TrimPrefix(file, "../"), nil)
		}
	}
	for _, dir := range spokenBy {
		for _, file := range glob(t, "../"+dir+"/*.go") {
			if strings.HasSuffix(file, "_test.go") {
				continue
			}
			for _, id := range goTexts(t, file) {
				add(id, strings.TrimPrefix(file, "../"), nil)
			}
		}
	}
	for line := range strings.Lines(string(read(t, "composed.txt"))) {
		if line = strings.TrimSpace(line); !strings.HasPrefix(line, "#") {
			add(line, "language/composed.txt", nil)
		}
	}
	for _, set := range slices.Sorted(keys(typedWords())) {
		for _, id := range typedWords()[set] {
			add(id, "language/typed.txt", nil)
		}
	}
	for _, file := range slices.Sorted(keys(tables)) {
		for _, id := range tableTexts(t, "../"+file, tables[file]) {
			add(id, file, nil)
		}
	}
	return out
}

func keys[V any](m map[string]V) func(func(string) bool) {
	return func(yield func(string) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

func glob(t testing.TB, pattern string) []string {
	t.Helper()
	files, err := filepath.Glob(pattern)
	if err != nil || len(files) == 0 {
		t.Fatalf("no files are %s: %v", pattern, err)
	}
	slices.Sort(files)
	return files
}

func read(t testing.TB, file string) []byte {
	t.Helper()
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func tableTexts(t testing.TB, file string, columns []string) []string {
	t.Helper()
	var lines []string
	for _, l := range strings.Split(string(read(t, file)), "\n") {
		if l != "" && !strings.HasPrefix(l, "#") {
			lines = append(lines, l)
		}
	}
	r := csv.NewReader(strings.NewReader(strings.Join(lines, "\n")))
	r.FieldsPerRecord = -1
	if strings.HasSuffix(file, ".tsv") {
		r.Comma, r.LazyQuotes = '\t', true
	}
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", file, err)
	}
	var out []string
	for _, c := range columns {
		i := slices.Index(rows[0], c)
		if i < 0 {
			t.Fatalf("%s has no column %s", file, c)
		}
		for _, row := range rows[1:] {
			if c == "steps" && i < len(row) {
				out = append(out, stepTexts(t, row[i])...)
			} else if i < len(row) && lettered(row[i]) {
				out = append(out, strings.TrimSpace(strings.ReplaceAll(row[i], "{names}", "%s")))
			}
		}
	}
	return out
}

// stepTexts returns the tools and notes of a way of working as the table has it.
func stepTexts(t testing.TB, text string) []string {
	t.Helper()
	if text == "-" || text == "" {
		return nil
	}
	steps, err := published.ReadSteps(text)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, s := range steps {
		for _, x := range []string{s.Tool, s.Note} {
			if x != "" && !slices.Contains(out, x) {
				out = append(out, x)
			}
		}
	}
	return out
}

// scriptTexts returns what a script says through inWords('…', …).
func scriptTexts(src string) []string {
	var out []string
	for _, m := range regexp.MustCompile(`\binWords\(('(?:[^'\\\n]|\\.)*')`).FindAllStringSubmatch(src, -1) {
		q := m[1][1 : len(m[1])-1]
		out = append(out, strings.NewReplacer(`\'`, `'`, `\\`, `\`, `\n`, "\n").Replace(q))
	}
	return out
}

// A script has no words of its own: what reads like a sentence, or stands behind a sign, is
// said by inWords, or is a selector, a path or a shader.
func TestScriptsSayWhatTheyShow(t *testing.T) {
	text := regexp.MustCompile("inWords\\(\\s*'(?:[^'\\\\\n]|\\\\.)*'|'(?:[^'\\\\\n]|\\\\.)*'|`(?:[^`\\\\]|\\\\.)*`|//[^\n]*|/\\*.*?\\*/")
	inside := regexp.MustCompile(`\$\{[^{}]*\}|<[^<>]*>`)
	sentence := regexp.MustCompile(`\pL{2,} \pL{2,} \pL{2,}|[▲✓◔…] *\pL{2,}|^\p{Lu}\p{Ll}+ \p{Ll}+|^\p{Lu}\p{Ll}+[.:!?]`)
	seen := 0
	for _, file := range glob(t, "../web/static/*.js") {
		for _, q := range text.FindAllString(string(read(t, file)), -1) {
			if strings.HasPrefix(q, "inWords") {
				seen++
				continue
			}
			if q[0] == '/' || strings.HasPrefix(q, "`#version") {
				continue
			}
			if q = inside.ReplaceAllString(q[1:len(q)-1], " "); sentence.MatchString(strings.TrimSpace(q)) {
				t.Errorf("%s: %q is English in every language; say it by inWords", filepath.Base(file), q)
			}
		}
	}
	if seen < 100 {
		t.Errorf("only %d texts of scripts were found", seen)
	}
}

// silent are calls whose texts nobody reads.
var silent = map[string]bool{
	"panic": true, "MustCompile": true, "Compile": true, "FormValue": true, "Val": true, "Wrong": true, "set": true, "Getenv": true,
	"HasPrefix": true, "HasSuffix": true, "Contains": true, "ContainsAny": true, "ContainsRune": true, "Cut": true, "CutPrefix": true, "CutSuffix": true, "TrimPrefix": true, "TrimSuffix": true,
	"Trim": true, "TrimLeft": true, "TrimRight": true, "Split": true, "SplitN": true, "Index": true, "LastIndex": true, "Replace": true, "ReplaceAll": true, "EqualFold": true, "Count": true,
	"Error": true, "Info": true, "Warn": true, "Debug": true, "Query": true, "QueryRow": true, "QueryContext": true, "QueryRowContext": true, "Exec": true, "ExecContext": true,
	"Format": true, "Parse": true, "ParseInLocation": true, "PathValue": true, "Set": false, "Get": true, "Has": true, "on": true, "Handle": true, "HandleFunc": true, "cols": true, "idIn": true, "render": true, "NewReplacer": false, "date": true, "Del": true, "Cookie": true, "MustParse": true, "SetProducer": true, "SetLang": true, "AddUTF8FontFromBytes": true, "SetFont": true, "checkEnum": true,
}

// fieldFirst are calls whose first texts are the names of fields.
var fieldFirst = map[string]int{"say": 1, "Problemf": 2, "number": 1, "whole": 1, "money": 1, "whole64": 1, "show": 3, "part": 3, "frame": 0}

var sqlStart = regexp.MustCompile(`^\s*(SELECT|INSERT|UPDATE|DELETE|CREATE|ALTER|PRAGMA|WITH|BEGIN|VACUUM|ATTACH|FROM|WHERE|AND|ORDER|JOIN|LEFT|UNION|REPLACE|DROP|ROLLBACK|COMMIT|SAVEPOINT|RELEASE)\b`)

var notText = regexp.MustCompile(`<(svg|rect|path|g|line|text|circle|polyline|polygon|title|tr|td|li|p|span|em)\b|^[./#?&]|://|^[a-z0-9_]+([./:_-][a-z0-9_%]*)+$|=%|^[a-z-]+="|\\[dswb]|^\w+/\w+|%w|^[MLHVZCQ]%|^GHS|^H\d|^sqlite|^application/|; filename|^v\d|%02x|%x|default-src`)

// leftOut are texts of files and of the wire that pass for people's: headers,
// marks of file formats, keys of other programs' files.
var leftOut = regexp.MustCompile(`^(Accept|Content-|Cache-|Permissions-|Referrer-|Photoshop|Exif|Display P3$|Adobe RGB$|KEYWORD|ILLUMINANT|CIE XYZ$|CIE Yxy$|Etag|Location|Host|geolocation|<x:xmpmeta)|[\x00-\x08]`)

// peoples reports whether a text of Go is one that people read: words with a
// space, or one with a capital.
func peoples(text string) bool {
	s := strings.TrimSpace(verb.ReplaceAllString(text, ""))
	if !lettered(s) || onlyUnits(s) || notText.MatchString(text) || sqlStart.MatchString(text) {
		return false
	}
	if leftOut.MatchString(text) {
		return false
	}
	letters := strings.FieldsFunc(s, func(r rune) bool { return !unicode.IsLetter(r) })
	longest := 0
	for _, w := range letters {
		longest = max(longest, len([]rune(w)))
	}
	if longest < 2 {
		return false
	}
	r := []rune(s)
	if !strings.Contains(strings.TrimSpace(text), " ") {
		// one word: with a capital first and small letters after
		return len(r) > 2 && unicode.IsUpper(r[0]) && unicode.IsLower(r[1]) && !strings.ContainsAny(s, "_=/") && !regexp.MustCompile(`[a-z][A-Z]`).MatchString(s)
	}
	return true
}

// keysOnly are words that only programs read.
var keysOnly = strings.Fields("svg dxf stl obj jpg png webp heic exploit learn file yes backups nosniff avrami read played")

var keyLike = regexp.MustCompile(`^[a-z]{3,}$`)

// goTexts returns the texts of a Go file that people read.
func goTexts(t testing.TB, file string) []string {
	t.Helper()
	f, err := parser.ParseFile(token.NewFileSet(), file, read(t, file), 0)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	// the store's other texts are its queries and what goes wrong inside
	problemsOnly := strings.HasPrefix(file, "../store/")
	refusing := false
	keep := func(text string, single bool) {
		if problemsOnly && !refusing {
			return
		}
		if peoples(text) || single && keyLike.MatchString(text) && !slices.Contains(keysOnly, text) {
			out = append(out, strings.TrimSpace(text))
		}
	}
	var walk func(n ast.Node, single bool)
	visit := func(n ast.Node, single bool) {
		if n != nil && n != ast.Node(nil) {
			walk(n, single)
		}
	}
	walk = func(n ast.Node, single bool) {
		ast.Inspect(n, func(n ast.Node) bool {
			switch x := n.(type) {
			case *ast.ImportSpec:
				return false
			case *ast.Field:
				visit(x.Type, false)
				return false
			case *ast.CallExpr:
				name := ""
				switch fn := x.Fun.(type) {
				case *ast.Ident:
					name = fn.Name
				case *ast.SelectorExpr:
					name = fn.Sel.Name
					visit(fn.X, false)
				default:
					visit(x.Fun, false)
				}
				skip := fieldFirst[name]
				if name == "say" && !strings.HasPrefix(file, "../web/") {
					skip = 0 // there it is no field's
				}
				if was := refusing; name == "Problemf" {
					refusing = true
					defer func() { refusing = was }()
				}
				for i, a := range x.Args {
					if isLiteral(a) && (silent[name] || i < skip) {
						continue
					}
					visit(a, single && name != "Sprintf" || name == "number" || name == "whole" || name == "money" || name == "count" || name == "counted")
				}
				return false
			case *ast.BinaryExpr:
				if x.Op == token.EQL || x.Op == token.NEQ || x.Op == token.LSS || x.Op == token.GTR {
					if !isLiteral(x.X) {
						visit(x.X, false)
					}
					if !isLiteral(x.Y) {
						visit(x.Y, false)
					}
					return false
				}
				if x.Op != token.ADD {
					return true
				}
				if text, ok := joined(x); ok {
					keep(text, false)
					for _, part := range operands(x) {
						if !isLiteral(part) {
							visit(part, single)
						}
					}
					return false
				}
			case *ast.ReturnStmt:
				for _, r := range x.Results {
					visit(r, true)
				}
				return false
			case *ast.CaseClause:
				for _, s := range x.Body {
					visit(s, single)
				}
				return false
			case *ast.IndexExpr:
				visit(x.X, single)
				if !isLiteral(x.Index) {
					visit(x.Index, false)
				}
				return false
			case *ast.CompositeLit:
				_, isMap := x.Type.(*ast.MapType)
				for _, e := range x.Elts {
					if kv, ok := e.(*ast.KeyValueExpr); ok {
						if !isLiteral(kv.Key) {
							visit(kv.Key, false)
						}
						visit(kv.Value, isMap || single)
						continue
					}
					visit(e, single)
				}
				return false
			case *ast.ValueSpec:
				for _, v := range x.Values {
					visit(v, x.Type != nil || strings.HasPrefix(file, "../studio/"))
				}
				return false
			case *ast.BasicLit:
				if x.Kind == token.STRING {
					text, err := strconv.Unquote(x.Value)
					if err == nil {
						keep(text, single)
					}
				}
			}
			return true
		})
	}
	for _, d := range f.Decls {
		walk(d, false)
	}
	return out
}

func isLiteral(e ast.Expr) bool {
	l, ok := e.(*ast.BasicLit)
	return ok && l.Kind == token.STRING
}

func operands(e ast.Expr) []ast.Expr {
	if b, ok := e.(*ast.BinaryExpr); ok && b.Op == token.ADD {
		return append(operands(b.X), operands(b.Y)...)
	}
	if p, ok := e.(*ast.ParenExpr); ok {
		return operands(p.X)
	}
	return []ast.Expr{e}
}

// joined makes one format of texts and values that are added up.
func joined(x *ast.BinaryExpr) (string, bool) {
	var b strings.Builder
	has, formatted := false, false
	parts := operands(x)
	for _, p := range parts {
		if isLiteral(p) {
			text, _ := strconv.Unquote(p.(*ast.BasicLit).Value)
			has = has || lettered(text)
			formatted = formatted || verb.MatchString(text)
		}
	}
	for _, p := range parts {
		if !isLiteral(p) {
			b.WriteString("%s")
			continue
		}
		text, _ := strconv.Unquote(p.(*ast.BasicLit).Value)
		if !formatted && len(parts) > 1 && slices.ContainsFunc(parts, func(e ast.Expr) bool { return !isLiteral(e) }) {
			text = strings.ReplaceAll(text, "%", "%%")
		}
		b.WriteString(text)
	}
	return b.String(), has
}

// keeps reports whether a translation has the marks and verbs of its English.
func (m Message) keeps(text string) bool {
	verbs := func(s string) []string {
		var out []string
		for _, v := range verb.FindAllStringSubmatch(s, -1) {
			out = append(out, v[2])
		}
		slices.Sort(out)
		return out
	}
	if slices.Contains(layouts, m.ID) {
		return true
	}
	made := verbs(m.ID)
	return sameMarks(m.ID, text) && (slices.Equal(made, verbs(text)) || slices.Equal(made, []string{"%"}))
}

// -update writes the catalogues anew from the source and keeps what is translated.
func TestCataloguesAreAsWritten(t *testing.T) {
	want := collected(t)
	for _, file := range glob(t, "catalogues/*.po") {
		c, err := ReadCatalogue(read(t, file))
		if err != nil {
			t.Fatalf("%s: %v", file, err)
		}
		if *filled != "" {
			c = takeOver(t, c)
		}
		merged := merge(c, want)
		if *update {
			if err := os.WriteFile(file, merged.Write(), 0o644); err != nil {
				t.Fatal(err)
			}
			split(t, merged)
			continue
		}
		for _, m := range c.Messages {
			for _, text := range m.Text {
				if text != "" && !m.keeps(text) {
					t.Errorf("%s: %q has other marks than %q", file, text, m.ID)
				}
			}
		}
	}
}

// German is whole: each text of the source is in its catalogue and said, and the
// catalogue holds nothing that the source no longer says.
func TestGermanIsComplete(t *testing.T) {
	c, err := ReadCatalogue(read(t, "catalogues/de.po"))
	if err != nil {
		t.Fatal(err)
	}
	said := map[string]bool{}
	for _, m := range c.Messages {
		said[m.ID] = len(m.Text) > 0 && strings.TrimSpace(m.Text[0]) != ""
	}
	missing := 0
	texts := collected(t)
	for _, m := range texts {
		if !said[m.ID] {
			missing++
			t.Errorf("%s: no German for %q", strings.Join(m.Places, ", "), m.ID)
		}
		delete(said, m.ID)
	}
	for id := range said {
		t.Errorf("the German catalogue holds %q, which nothing says any more", id)
	}
	t.Logf("%d texts, %d without German", len(texts), missing)
}

func merge(c Catalogue, texts []Message) Catalogue {
	have := map[string]Message{}
	contexts := map[string][]Message{}
	for _, m := range c.Messages {
		if m.Context == "" {
			have[m.ID] = m
		} else {
			contexts[m.ID] = append(contexts[m.ID], m)
		}
	}
	out := Catalogue{Header: c.Header}
	for _, m := range texts {
		if old, ok := have[m.ID]; ok {
			m.Text, m.Plural, m.Fuzzy = old.Text, old.Plural, old.Fuzzy
		}
		out.Messages = append(out.Messages, m)
		for _, x := range contexts[m.ID] {
			x.Notes, x.Places = m.Notes, nil
			out.Messages = append(out.Messages, x)
		}
	}
	return out
}

// takeOver adds the translations of filled parts of the same language.
func takeOver(t testing.TB, c Catalogue) Catalogue {
	at := map[string]int{}
	for i, m := range c.Messages {
		at[m.Context+"\x04"+m.ID] = i
	}
	for _, file := range glob(t, filepath.Join(*filled, "*.po")) {
		part, err := ReadCatalogue(read(t, file))
		if err != nil {
			t.Fatalf("%s: %v", file, err)
		}
		if part.Header["Language"] != c.Header["Language"] {
			continue
		}
		for _, m := range part.Messages {
			i, ok := at[m.Context+"\x04"+m.ID]
			if !ok {
				c.Messages = append(c.Messages, m)
			} else if strings.Join(m.Text, "") != "" {
				c.Messages[i].Text, c.Messages[i].Plural = m.Text, m.Plural
			}
		}
	}
	return c
}

// split writes the parts that translators work on side by side, where the
// environment names a folder for them.
func split(t testing.TB, c Catalogue) {
	if *parts == "" {
		return
	}
	byName := map[string]*Catalogue{}
	size := map[string]int{}
	for _, m := range c.Messages {
		name := partOf(m.Places)
		if byName[name] == nil {
			byName[name] = &Catalogue{Header: c.Header}
		}
		byName[name].Messages = append(byName[name].Messages, m)
		size[name] += len(m.ID)
	}
	for name, p := range byName {
		if err := os.WriteFile(filepath.Join(*parts, name+".po"), p.Write(), 0o644); err != nil {
			t.Fatal(err)
		}
		t.Logf("%s: %d messages, %d bytes", name, len(p.Messages), size[name])
	}
}

func partOf(places []string) string {
	p := first(places)
	for _, x := range []struct{ pattern, part string }{
		{`^web/pages/([a-o]|ph|pa)`, "PART-0-pages-a-ph"}, {`^web/pages/`, "PART-1-pages-pi-z"},
		{`^flow/(plan|learn|propose|taste|evidence|find)/`, "PART-2-go-plan-learn"},
		{`^flow/(form|scale|shape|last|batch|cost)/`, "PART-3-go-make"},
		{`^web/`, "PART-4-go-web"},
		{`^science/(matter|published|colour)/data`, "PART-6-tables"},
		{`^flow/`, "PART-7-go-run-measure"}, {`^science/`, "PART-8-go-science"},
	} {
		if regexp.MustCompile(x.pattern).MatchString(p) {
			return x.part
		}
	}
	return "PART-5-go-studio-print-store"
}
