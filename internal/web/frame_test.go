package web_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"strings"
	"testing"
)

// A page's own field of a name that Frame has hides Frame's from the layout: a page
// with an amount called Bench was always dark.
func TestNoPageHidesItsFrame(t *testing.T) {
	pkgs, err := parser.ParseDir(token.NewFileSet(), ".", func(f fs.FileInfo) bool { return !strings.HasSuffix(f.Name(), "_test.go") }, 0)
	if err != nil {
		t.Fatal(err)
	}
	pages := map[string]*ast.StructType{}
	ast.Inspect(pkgs["web"], func(n ast.Node) bool {
		if spec, ok := n.(*ast.TypeSpec); ok {
			if s, ok := spec.Type.(*ast.StructType); ok {
				pages[spec.Name.Name] = s
			}
		}
		return true
	})
	taken := map[string]bool{}
	for _, f := range pages["Frame"].Fields.List {
		for _, name := range f.Names {
			taken[name.Name] = true
		}
	}
	framed := 0
	for page, s := range pages {
		var own []string
		has := false
		for _, f := range s.Fields.List {
			if id, ok := f.Type.(*ast.Ident); ok && len(f.Names) == 0 && id.Name == "Frame" {
				has = true
			}
			for _, name := range f.Names {
				own = append(own, name.Name)
			}
		}
		if !has {
			continue
		}
		framed++
		for _, name := range own {
			if taken[name] {
				t.Errorf("%s has a field %s of its own, which hides that of its Frame", page, name)
			}
		}
	}
	if framed < 40 {
		t.Errorf("only %d pages were found", framed)
	}
}
