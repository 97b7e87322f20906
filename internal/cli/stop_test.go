package cli

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// The command line prints the mat, on which no recipe stands, and records nothing
// that a bench would: so there is no way past a stop here. What would open one
// is named by this test, and asks first.
func TestCommandLinePrintsNoRecipeAndBeginsNothing(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil || len(files) < 20 {
		t.Fatal(files, err)
	}
	prints := regexp.MustCompile(`\bprint\.(\w+)\(`)
	records := regexp.MustCompile(`\.(AddEvents|AddTreatment|AddSet|StartTogether|ConfirmTogether)\(`)
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		src, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range prints.FindAllStringSubmatch(string(src), -1) {
			if m[1] != "Mat" && m[1] != "Paper" {
				t.Errorf("%s calls print.%s: ask what must never meet first", name, m[1])
			}
		}
		for _, m := range records.FindAllStringSubmatch(string(src), -1) {
			t.Errorf("%s calls %s: ask what must never meet first", name, m[1])
		}
	}
}
