package web

import (
	"html/template"
	"testing"

	"aerugo/internal/language"
)

func TestDrawingsAreSaidAndStayDrawings(t *testing.T) {
	all, err := language.Shipped()
	if err != nil {
		t.Fatal(err)
	}
	var german *language.Language
	for _, l := range all {
		if l.Tag == "de" {
			german = l
		}
	}
	for _, c := range []struct{ drawn, want template.HTML }{
		{`<svg aria-label="Coverage"><text x="1">Coverage</text><path d="M1 2"/></svg>`, `<svg aria-label="Deckung"><text x="1">Deckung</text><path d="M1 2"/></svg>`},
		{`<text>Odile &lt;3 &amp; more</text>`, `<text>Odile &lt;3 &amp; more</text>`},
		{`<text>Photograph</text>`, `<text>Fotografieren</text>`},
	} {
		if got := sayDrawn(german, c.drawn); got != c.want {
			t.Errorf("%s became %s, want %s", c.drawn, got, c.want)
		}
	}
}
