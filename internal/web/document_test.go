package web_test

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"

	"github.com/PuerkitoBio/goquery"
)

// A node is an element of a page, with its name and attributes at hand.
type node struct {
	*goquery.Selection
	name string
	attr map[string]string
}

func wrap(s *goquery.Selection) *node {
	n := &node{Selection: s, name: goquery.NodeName(s), attr: map[string]string{}}
	for _, a := range s.Get(0).Attr {
		n.attr[a.Key] = a.Val
	}
	return n
}

// all returns the elements under n that a CSS selector chooses.
func (n *node) all(selector string) []*node {
	var out []*node
	n.Find(selector).Each(func(_ int, s *goquery.Selection) { out = append(out, wrap(s)) })
	return out
}

// one returns the first element chosen, or nil.
func (n *node) one(selector string) *node {
	s := n.Find(selector).First()
	if s.Length() == 0 {
		return nil
	}
	return wrap(s)
}

// within returns the nearest element round n that is called so, or nil.
func (n *node) within(name string) *node {
	s := n.ParentsFiltered(name).First()
	if s.Length() == 0 {
		return nil
	}
	return wrap(s)
}

// up returns the element round n, or nil.
func (n *node) up() *node {
	s := n.Parent()
	if s.Length() == 0 {
		return nil
	}
	return wrap(s)
}

// words returns the text under n, with single spaces; nothing of no element.
func (n *node) words() string {
	if n == nil {
		return ""
	}
	return strings.Join(strings.Fields(n.Text()), " ")
}

// has reports whether the attribute is there.
func (n *node) has(name string) bool { _, ok := n.attr[name]; return ok }

// parse takes a page, or a part of one, apart.
func parse(data []byte) (*node, error) {
	if err := wellMade(data); err != nil {
		return nil, err
	}
	d, err := goquery.NewDocumentFromReader(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	return wrap(d.Selection), nil
}

// void elements have no end tag (HTML Living Standard, 13.1.2).
var void = []string{"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}

// wellMade reports an element left open, closed out of turn, or with an
// attribute twice: what a browser, and goquery, would quietly mend.
func wellMade(data []byte) error {
	d := xml.NewDecoder(bytes.NewReader(data))
	d.Strict = false // attributes may stand without a value
	d.Entity = xml.HTMLEntity
	var open []string
	for {
		tok, err := d.RawToken()
		if err == io.EOF {
			break
		}
		if err != nil {
			return err
		}
		line, _ := d.InputPos()
		switch x := tok.(type) {
		case xml.StartElement:
			seen := map[xml.Name]bool{}
			for _, a := range x.Attr {
				if seen[a.Name] {
					return fmt.Errorf("line %d: <%s> has %s twice", line, x.Name.Local, a.Name.Local)
				}
				seen[a.Name] = true
			}
			if !slices.Contains(void, x.Name.Local) {
				open = append(open, x.Name.Local)
			}
		case xml.EndElement:
			if slices.Contains(void, x.Name.Local) {
				continue
			}
			if len(open) == 0 || open[len(open)-1] != x.Name.Local {
				return fmt.Errorf("line %d: </%s> where %v are open", line, x.Name.Local, open)
			}
			open = open[:len(open)-1]
		}
	}
	if len(open) > 0 {
		return fmt.Errorf("%v are never closed", open)
	}
	return nil
}

// doc takes an answer's page apart.
func (a answer) doc(t testing.TB) *node {
	t.Helper()
	n, err := parse(a.body)
	if err != nil {
		t.Fatalf("%s: %v\n%.400s", a.what, err, a.body)
	}
	return n
}

// TestBadlyMadePagesAreSeen holds the tests' own reader to pages that are broken.
func TestBadlyMadePagesAreSeen(t *testing.T) {
	for _, page := range []string{`<p><b>x</p></b>`, `<ul><li>a<li>b</ul>`, `<div>`, `<p class="a" class="b">x</p>`, `</p>`} {
		if _, err := parse([]byte(page)); err == nil {
			t.Errorf("%s was taken as well made", page)
		}
	}
	n, err := parse([]byte(`<!doctype html><form method="post" class="a b"><label>Name<input name="n" required value="x &lt; y"></label><svg><path d="M0 0"/></svg></form>`))
	if err != nil {
		t.Fatal(err)
	}
	if got := n.one("input").attr["value"]; got != "x < y" {
		t.Errorf("value = %q", got)
	}
}
