package web

import (
	"fmt"
	"io"
	"net/http"
	"net/url"

	"aerugo/internal/language"
	"aerugo/internal/print"
)

// A sheet is a PDF at an address that ends in .pdf. Asked ?as=page there, it comes as a
// page with the same words: for a screen reader, which finds no structure in the PDF, and
// for whoever would rather not open one. on wraps the answer of every such address, so
// that no sheet can be without its page.

// onPage marks an answer that is wanted as a page.
type onPage struct {
	http.ResponseWriter
	r *http.Request
}

// asPage tells whether a sheet is wanted as a page.
func asPage(r *http.Request) bool { return r.FormValue("as") == "page" }

// sheetLinks lead to a sheet on each paper, and to its words.
type sheetLinks struct{ A4, Letter, Words string }

// linksTo are the links to the sheet at path for what q asks.
func linksTo(path string, q url.Values) sheetLinks {
	with := func(key, value string) string {
		out := url.Values{key: {value}}
		for k, v := range q {
			if k != "as" && k != "sheet" {
				out[k] = v
			}
		}
		return path + "?" + out.Encode()
	}
	return sheetLinks{with("sheet", "a4"), with("sheet", "letter"), with("as", "page")}
}

// wordsPage is a printed sheet as a page.
type wordsPage struct {
	Frame
	Sheet print.Words
	Tag   string // of the sheet's language
	Parts []wordsPart
	Links sheetLinks
	In    []sheetTongue // none where there is but one
}

// A sheetTongue leads to a sheet in a language.
type sheetTongue struct {
	Tag, Name string
	Links     sheetLinks
	Now       bool
}

// sheetTongues lead to the sheet at path in each language; now is the one it is in.
func (s *Server) sheetTongues(path string, q url.Values, now *language.Language) (out []sheetTongue) {
	for _, l := range s.tongues.choice() {
		in := url.Values{"in": {l.Tag}}
		for k, v := range q {
			if k != "in" {
				in[k] = v
			}
		}
		out = append(out, sheetTongue{l.Tag, l.Name, linksTo(path, in), l.Tag == now.Tag})
	}
	return out
}

// A wordsPart is a part with the number of its table on the page.
type wordsPart struct {
	print.Part
	Number int
}

// showWords shows what draw would write as a page.
func (s *Server) showWords(w onPage, draw func(io.Writer) error) error {
	var p wordsPage
	l := printedIn(w)
	if err := draw(print.In(l, &p.Sheet)); err != nil {
		return err
	}
	p.Tag = l.Tag
	p.In = s.sheetTongues(w.r.URL.Path, w.r.URL.Query(), l)
	p.Frame = s.frame(w.r, fmt.Sprintf("%s, as a page", p.Sheet.Title), "")
	tables, headed, second := 0, false, false
	for _, part := range p.Sheet.Parts {
		if part.Level == 1 {
			if !headed { // it is the page's own heading
				p.Sheet.Title, headed = part.Text, true
				continue
			}
			part.Level = 2
		}
		second = second || part.Level == 2
		if part.Level == 3 && !second { // no heading is left out on the way down
			part.Level = 2
		}
		if part.Rows != nil {
			tables++
		}
		p.Parts = append(p.Parts, wordsPart{part, tables})
	}
	p.Links = linksTo(w.r.URL.Path, w.r.URL.Query())
	s.show(w.ResponseWriter, http.StatusOK, "words", p)
	return nil
}
