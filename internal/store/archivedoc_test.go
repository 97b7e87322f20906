package store

import (
	"os"
	"strings"
	"testing"
)

// Another program reads archives by doc/archive.md alone.
func TestArchiveDocumentNamesEveryField(t *testing.T) {
	doc, err := os.ReadFile("../../doc/archive.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range tables {
		var names []string
		for _, c := range k.columns {
			names = append(names, c.name)
		}
		if row := "| `" + k.kind + "` | `" + strings.Join(names, " ") + "`"; !strings.Contains(string(doc), row) {
			t.Errorf("doc/archive.md has no row that begins %s", row)
		}
	}
}
