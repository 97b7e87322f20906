package form

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"strings"
)

// parseSVG reads the elements of an SVG file.
func parseSVG(data []byte) (*svgNode, error) {
	if len(data) > mostDrawingBytes {
		return nil, bad("drawing", "The drawing is %d MB; a drawing can have %d MB.", len(data)>>20, mostDrawingBytes>>20)
	}
	dec := xml.NewDecoder(bytes.NewReader(data))
	dec.CharsetReader = func(label string, in io.Reader) (io.Reader, error) {
		switch strings.ToLower(label) {
		case "iso-8859-1", "windows-1252", "us-ascii", "ascii", "latin1":
			return latin(in)
		}
		return nil, fmt.Errorf("letters in %q", label)
	}
	var root *svgNode
	var stack []*svgNode
	count := 0
	for {
		tok, err := dec.RawToken()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, bad("drawing", "The file is not a whole SVG drawing: %v.", err)
		}
		switch tok := tok.(type) {
		case xml.Directive:
			if bytes.Contains(bytes.ToUpper(tok), []byte("ENTITY")) {
				return nil, bad("drawing", "The drawing defines shorthands of its own (entities), which are not read here; save it as plain SVG.")
			}
		case xml.StartElement:
			if count++; count > mostElements || len(stack) > mostDepth {
				return nil, bad("drawing", "The drawing has more than %d parts, or groups more than %d deep; take a simpler one.", mostElements, mostDepth)
			}
			n := &svgNode{name: tok.Name.Local, attr: make(map[string]string, len(tok.Attr))}
			for _, a := range tok.Attr {
				if len(a.Name.Local) > 2 && strings.HasPrefix(strings.ToLower(a.Name.Local), "on") && a.Name.Space == "" {
					return nil, bad("drawing", "The drawing carries a script (%s), which a drawing to be cut has no use for; save it as plain SVG.", a.Name.Local)
				}
				if _, ok := n.attr[a.Name.Local]; !ok || a.Name.Space == "" {
					n.attr[a.Name.Local] = a.Value
				}
			}
			if n.name == "script" || n.name == "foreignObject" {
				return nil, bad("drawing", "The drawing carries a script or a foreign part (%s), which a drawing to be cut has no use for; save it as plain SVG.", n.name)
			}
			if len(stack) == 0 {
				if root != nil || n.name != "svg" {
					return nil, bad("drawing", "The file is not an SVG drawing: it begins with %q.", cut(n.name))
				}
				root = n
			} else {
				top := stack[len(stack)-1]
				top.kids = append(top.kids, n)
			}
			stack = append(stack, n)
		case xml.EndElement:
			if len(stack) == 0 || stack[len(stack)-1].name != tok.Name.Local {
				return nil, bad("drawing", "The file is not a whole SVG drawing: %q ends where it did not begin.", cut(tok.Name.Local))
			}
			stack = stack[:len(stack)-1]
		case xml.CharData:
			if len(stack) > 0 && stack[len(stack)-1].name == "style" {
				if n := stack[len(stack)-1]; len(n.text) < mostSheet {
					n.text = append(n.text, tok...)
				}
			}
		}
	}
	if root == nil || len(stack) > 0 {
		return nil, bad("drawing", "The file is not a whole SVG drawing; it may be cut off.")
	}
	return root, nil
}

// latin turns ISO 8859-1 into UTF-8; what differs in Windows-1252 is never in a
// drawing's geometry.
func latin(in io.Reader) (io.Reader, error) {
	b, err := io.ReadAll(io.LimitReader(in, mostDrawingBytes))
	if err != nil {
		return nil, err
	}
	runes := make([]rune, len(b))
	for i, c := range b {
		runes[i] = rune(c)
	}
	return strings.NewReader(string(runes)), nil
}

// cut shortens words from a file for a sentence.
func cut(s string) string {
	if r := []rune(strings.ToValidUTF8(s, "?")); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return strings.ToValidUTF8(s, "?")
}
