package cli

import (
	"encoding/json"
	"fmt"
)

// asJSON writes v as indented JSON, without the escapes meant for web pages.
func (t *term) asJSON(v any) error {
	e := json.NewEncoder(t.stdout)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(v)
}

// printf writes one piece of an answer meant to be read.
func (t *term) printf(format string, args ...any) { fmt.Fprintf(t.stdout, format, args...) }
