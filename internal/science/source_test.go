package science

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// citations walks the house and returns where each key is cited: as a constant
// of type Ref in Go code that ships, or as a whole field of a data table. Only
// the constants must be listed: a field of a table may be any word.
func citations(t *testing.T) (constants map[Ref][]string, fields map[Ref]bool) {
	t.Helper()
	constants, fields = map[Ref][]string{}, map[Ref]bool{}
	root := ".."
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && d.Name() == "testdata":
			return filepath.SkipDir
		case d.IsDir() || strings.HasSuffix(path, "_test.go") || d.Name() == "sources.txt":
			return nil
		}
		switch filepath.Ext(path) {
		case ".go":
			file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
			if err != nil {
				return err
			}
			for _, key := range refConstants(file) {
				constants[key] = append(constants[key], path)
			}
		case ".tsv", ".csv":
			text, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			for _, field := range strings.FieldsFunc(string(text), func(r rune) bool { return strings.ContainsRune("\t\n\r,;", r) }) {
				fields[Ref(strings.TrimSpace(field))] = true
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return constants, fields
}

// refConstants returns the values of the constants of type Ref in a file,
// whether the type is written out, converted to, or carried over by a bare name
// in package science itself.
func refConstants(file *ast.File) []Ref {
	isRef := func(e ast.Expr) bool {
		if s, ok := e.(*ast.SelectorExpr); ok {
			x, ok := s.X.(*ast.Ident)
			return ok && x.Name == "science" && s.Sel.Name == "Ref"
		}
		id, ok := e.(*ast.Ident)
		return ok && file.Name.Name == "science" && id.Name == "Ref"
	}
	var keys []Ref
	add := func(e ast.Expr) {
		if lit, ok := e.(*ast.BasicLit); ok && lit.Kind == token.STRING {
			if s, err := strconv.Unquote(lit.Value); err == nil {
				keys = append(keys, Ref(s))
			}
		}
	}
	ast.Inspect(file, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.ValueSpec:
			if n.Type != nil && isRef(n.Type) {
				for _, v := range n.Values {
					add(v)
				}
			}
		case *ast.CallExpr:
			if len(n.Args) == 1 && isRef(n.Fun) {
				add(n.Args[0])
			}
		}
		return true
	})
	return keys
}

func TestEveryCitedSourceIsListed(t *testing.T) {
	constants, _ := citations(t)
	if len(constants) == 0 {
		t.Fatal("no constant of type science.Ref was found; the search itself is broken")
	}
	for key, paths := range constants {
		if _, ok := Source(key); !ok {
			t.Errorf("%s cites %q, which internal/science/sources.txt does not list", strings.Join(paths, ", "), key)
		}
	}
}

func TestEveryListedSourceIsCited(t *testing.T) {
	constants, fields := citations(t)
	for key := range sources() {
		if len(constants[key]) == 0 && !fields[key] {
			t.Errorf("sources.txt lists %q, which nothing cites; take the line out or cite it", key)
		}
	}
}

func TestSourceListIsWellFormed(t *testing.T) {
	key := regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)
	seen := map[string]bool{}
	for i, line := range strings.Split(strings.TrimSuffix(sourceText, "\n"), "\n") {
		k, citation, ok := strings.Cut(line, "\t")
		switch {
		case !ok || strings.Contains(citation, "\t"):
			t.Errorf("line %d is not a key, one tab and a citation: %q", i+1, line)
		case !key.MatchString(k):
			t.Errorf("line %d: the key %q is not lower-case words and numbers joined by hyphens", i+1, k)
		case len(citation) < 20 || strings.TrimSpace(citation) != citation:
			t.Errorf("line %d: %q is not a full citation", i+1, citation)
		case seen[k]:
			t.Errorf("line %d: the key %q is there twice", i+1, k)
		}
		seen[k] = true
	}
}

func TestUnknownSourceIsNotFound(t *testing.T) {
	if got, ok := Source("no-such-source"); ok || got != "" {
		t.Errorf("an unknown key gave %q, %v", got, ok)
	}
}

func TestRefConstantsAreFoundHoweverWritten(t *testing.T) {
	src := `package other
import "aerugo/internal/science"
const a science.Ref = "one"
const ( b, c science.Ref = "two", "three"; d = science.Ref("four") )
const e string = "five"
var f = science.RangeError{What: "six"}
`
	file, err := parser.ParseFile(token.NewFileSet(), "other.go", src, 0)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := refConstants(file), []Ref{"one", "two", "three", "four"}; !slices.Equal(got, want) {
		t.Errorf("found %q, want %q", got, want)
	}
}
