// Package internal holds no code; this test is the map of who may import whom.
package internal

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// houseMap is a statement of policy: do not change it to make a build pass.
// A package may import what stands after its colon, and only packages on lines
// above it, so a cycle cannot be written. "pure" bars I/O, the clock and
// unseeded chance.
const houseMap = `
fonts             pure:
language          pure:
calendar          pure:
science           pure:
science/matter    pure: science
science/published pure: science science/matter
science/solution  pure: science
science/room      pure: science science/matter
science/colour    pure: science
science/stat      pure: science
science/guess     pure: science science/colour science/stat
science/design    pure: science science/stat
science/film      pure: science science/solution science/stat
science/chamber   pure: science science/solution science/film science/stat
science/target    pure: science science/colour science/stat
science/texture   pure: science science/colour
heif              pure:
studio            pure: science science/colour
recipefile        pure: studio science science/matter science/colour
picture/jpeg      pure:
picture           pure: science science/colour heif studio picture/jpeg
flow              pure:
flow/plan         pure: studio science science/matter science/film science/colour science/stat science/design science/published
flow/run          pure: studio science science/matter
flow/timetable    pure: studio science
flow/cost         pure: studio flow/run science science/matter science/solution science/stat
flow/benchday     pure: calendar studio flow/run flow/timetable
flow/fume         pure: studio flow/run science science/matter science/solution science/film science/chamber science/room
flow/pool         pure: studio flow/run science science/solution science/film science/chamber
flow/target       pure: studio picture science science/colour science/stat science/target
flow/measure      pure: studio picture science science/colour science/stat science/texture
flow/series       pure: studio picture science science/colour science/stat flow/measure
flow/mat          pure: studio picture science science/colour
flow/scene        pure: studio picture science/colour science/target flow/mat flow/measure flow/target
flow/form         pure: studio science science/matter
flow/shape        pure: studio science/colour flow/form
flow/learn        pure: studio science science/matter science/colour science/stat science/texture flow/plan
flow/propose      pure: studio science/colour science/guess flow/plan flow/fume flow/learn
flow/taste        pure: studio science/stat
flow/last         pure: calendar studio science/colour science/stat flow/run flow/measure flow/learn
flow/evidence     pure: studio science/matter science/colour science/stat flow/run flow/learn
flow/find         pure: studio science/colour
flow/batch        pure: studio science science/colour science/stat flow/learn
flow/classkit     pure: studio science science/matter science/solution science/room science/published flow/plan flow/run flow/cost
flow/class        pure: studio science science/matter science/solution science/published science/room flow/plan flow/run flow/timetable flow/benchday flow/cost
flow/scale        pure: studio science science/matter science/solution science/film science/chamber science/room flow/plan flow/fume flow/pool flow/form
print                 : language flow/batch studio science science/matter science/colour fonts flow/run flow/mat
store                 : language studio science science/colour
archive               : studio store science science/colour
site                  : language recipefile studio store fonts picture science science/colour science/matter science/published flow/plan flow/run
demo                  : flow/benchday flow/shape studio store picture science science/matter science/colour flow/plan flow/run flow/measure fonts
web                   : calendar flow/class flow/classkit language flow/find recipefile site flow/shape flow/scale flow/evidence flow/batch flow/last flow/cost flow/benchday flow/timetable flow/taste flow/pool science/solution science/film science/chamber science/room flow/fume studio store archive print picture fonts science science/matter science/colour science/stat flow/plan flow/run flow/measure flow/series flow/mat flow/scene flow/learn science/target flow/propose science/published
cli                   : language recipefile site flow/scale studio store archive print picture fonts science science/matter science/colour science/stat flow/plan flow/run flow/measure flow/series flow/mat flow/scene flow/learn science/target demo web science/room science/film science/solution science/chamber science/guess science/design flow/timetable
`

// barred are the imports a pure package may not have.
var barred = map[string]string{
	"os": "the disk", "net": "the network", "net/http": "the network", "database/sql": "the database",
	"html/template": "pages", "log/slog": "logging", "math/rand": "unseeded chance", "io/fs": "the disk",
	"os/exec": "other programs", "path/filepath": "the disk",
}

type line struct {
	pure    bool
	imports map[string]bool
}

func readMap(t *testing.T) (map[string]line, []string) {
	t.Helper()
	lines := map[string]line{}
	var order []string
	for _, text := range strings.Split(strings.TrimSpace(houseMap), "\n") {
		left, right, ok := strings.Cut(text, ":")
		if !ok {
			t.Fatalf("the map's line %q has no colon", text)
		}
		words := strings.Fields(left)
		l := line{pure: len(words) == 2 && words[1] == "pure", imports: map[string]bool{}}
		for _, name := range strings.Fields(right) {
			l.imports[name] = true
		}
		lines[words[0]] = l
		order = append(order, words[0])
	}
	return lines, order
}

func TestMapOfImportsHolds(t *testing.T) {
	lines, _ := readMap(t)
	seen := map[string]bool{}
	err := filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && d.Name() == "testdata" {
			return filepath.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return nil
		}
		pkg := filepath.ToSlash(filepath.Dir(path))
		if pkg == "." {
			return nil
		}
		l, ok := lines[pkg]
		if !ok {
			t.Errorf("package %s is not on the map; add a line with what it may import, and why it is a package", pkg)
			return nil
		}
		seen[pkg] = true
		src, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, src, parser.ImportsOnly)
		if err != nil {
			return err
		}
		for _, spec := range file.Imports {
			name, _ := strconv.Unquote(spec.Path.Value)
			if ours, ok := strings.CutPrefix(name, "aerugo/internal/"); ok {
				if !l.imports[ours] {
					t.Errorf("%s imports %s, which its line on the map does not allow", path, ours)
				}
				continue
			}
			if l.pure && barred[name] != "" {
				t.Errorf("%s imports %q, but a pure package does not touch %s", path, name, barred[name])
			}
		}
		if l.pure {
			for _, clock := range []string{"time.Now(", "time.Since(", "time.Until("} {
				if strings.Contains(string(src), clock) {
					t.Errorf("%s calls %s...): a pure package is given the time", path, clock)
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for name := range lines {
		if !seen[name] {
			t.Errorf("the map names %s, which is not there", name)
		}
	}
}

func TestMapNamesOnlyLinesAbove(t *testing.T) {
	lines, order := readMap(t)
	above := map[string]bool{}
	for _, name := range order {
		for next := range lines[name].imports {
			if !above[next] {
				t.Errorf("%s may import %s, which is not on a line above it", name, next)
			}
		}
		above[name] = true
	}
}
