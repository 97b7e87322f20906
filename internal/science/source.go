package science

import (
	_ "embed"
	"strings"
	"sync"
)

// Ref is the key of a published source, such as "sharma-2005". [Source] gives
// the full citation.
type Ref string

//go:embed sources.txt
var sourceText string

// sources maps each key of sources.txt to its citation. A line holds a key, a
// tab and the citation.
var sources = sync.OnceValue(func() map[Ref]string {
	m := map[Ref]string{}
	for line := range strings.Lines(sourceText) {
		if key, citation, ok := strings.Cut(strings.TrimSpace(line), "\t"); ok {
			m[Ref(key)] = citation
		}
	}
	return m
})

// Source returns the full citation of a key, and false for a key that is not in
// the list.
func Source(key Ref) (string, bool) {
	citation, ok := sources()[key]
	return citation, ok
}
