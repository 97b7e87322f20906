package web

import (
	"html/template"
	"testing"

	"github.com/google/go-cmp/cmp"

	"aerugo/internal/language"
)

// TestScriptsAreHandedTheirLanguage: what is marked is said, wherever it stands, and the rest
// and what it was copied from stay as they are.
func TestScriptsAreHandedTheirLanguage(t *testing.T) {
	po := "msgid \"\"\nmsgstr \"Language: nl\\n\"\n\nmsgid \"front\"\nmsgstr \"voor\"\n\nmsgid \"both faces\"\nmsgstr \"beide kanten\"\n"
	l, err := language.Read([]byte(po))
	if err != nil {
		t.Fatal(err)
	}
	type kind string
	type part struct {
		Key   string        `json:"key"`
		Faces kind          `json:"faces" say:"yes"`
		Lines []string      `json:"lines" say:"yes"`
		Drawn template.HTML `json:"drawn" say:"yes"`
		Next  *part         `json:"next,omitempty"`
	}
	in := map[string]any{"parts": []part{{Key: "front", Faces: "both faces", Lines: []string{"front", "3 g"}, Drawn: `<b id="front">front</b>`, Next: &part{Key: "front", Faces: "front"}}}, "front": "front", "none": nil}
	before := forScript{in}.String()
	want := `{"front":"front","none":null,"parts":[{"key":"front","faces":"beide kanten","lines":["voor","3 g"],"drawn":"\u003cb id=\"front\"\u003evoor\u003c/b\u003e","next":{"key":"front","faces":"voor","lines":null,"drawn":""}}]}`
	if diff := cmp.Diff(want, forScript{in}.in(l)); diff != "" {
		t.Error(diff)
	}
	if after := (forScript{in}).String(); after != before {
		t.Errorf("it changed what it was given to %s", after)
	}
}
