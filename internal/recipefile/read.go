package recipefile

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"reflect"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"aerugo/internal/studio"
)

// The most that a file may hold.
const (
	MaxBytes  = 8 << 20
	maxDepth  = 12
	maxValues = 200_000
	maxText   = 4000
	maxData   = 700_000 // characters of a picture in base64
)

// wrong is a Problem with the file, at a place in words ("" for the whole file).
func wrong(where, format string, args ...any) *studio.Problem {
	text := fmt.Sprintf(format, args...)
	if where != "" {
		text = fmt.Sprintf("In %s: %s", where, text)
	}
	return studio.Problemf(studio.Invalid, "file", "The recipe file can't be used. %s", text)
}

// Read reads a file that anybody may have sent. It takes no more than MaxBytes
// into memory and refuses, with a Problem that says where, whatever is not as
// the file's description says. Fields whose name begins with "x-" are passed over.
func Read(r io.Reader) (File, error) {
	data, err := io.ReadAll(io.LimitReader(r, MaxBytes+1))
	if err != nil {
		return File{}, fmt.Errorf("read recipe file: %w", err)
	}
	switch {
	case len(data) > MaxBytes:
		return File{}, wrong("", "It is larger than the %d MB a recipe file may have.", MaxBytes>>20)
	case len(bytes.TrimSpace(data)) == 0:
		return File{}, wrong("", "It is empty.")
	case bytes.HasPrefix(data, []byte("PK")) || bytes.HasPrefix(data, []byte{0x1f, 0x8b}):
		return File{}, wrong("", "It is a packed file (ZIP or gzip). Unpack it and choose the file that ends in %s.", Ending)
	case !utf8.Valid(data):
		return File{}, wrong("", "It is not text in UTF-8.")
	}
	root, err := parse(data)
	if err != nil {
		return File{}, err
	}
	if err := known(root); err != nil {
		return File{}, err
	}
	var f File
	if err := fill(reflect.ValueOf(&f).Elem(), root, ""); err != nil {
		return File{}, err
	}
	return f, f.Check()
}

// known refuses what is no recipe file, and a version that came later, before
// its fields are held against those of today.
func known(root node) error {
	if root.kind != '{' {
		return wrong("", "It holds no recipes.")
	}
	format, schema := root.get("format"), root.get("schema")
	if format == nil || format.kind != 's' || format.text != Format {
		return wrong("", "It does not say that it is a recipe file (\"format\": %q).", Format)
	}
	n := 0
	if schema != nil && schema.kind == 'n' {
		n, _ = strconv.Atoi(schema.text)
	}
	switch {
	case n < 1:
		return wrong("", "It does not say its version (\"schema\": %d).", Schema)
	case n > Schema:
		return wrong("", "It was written in version %d of the format; this program knows up to %d. A newer one can read it, or its maker can save it in version %d.", n, Schema, Schema)
	}
	return nil
}

// node is a JSON value: kind is one of { [ s n b 0.
type node struct {
	kind  byte
	text  string // of a string or number, "true" of a boolean
	names []string
	kids  []node
}

func (n node) get(name string) *node {
	for i, x := range n.names {
		if x == name {
			return &n.kids[i]
		}
	}
	return nil
}

// parser walks the tokens and counts what they come to.
type parser struct {
	d      *json.Decoder
	values int
}

func parse(data []byte) (node, error) {
	// the token walk forgives some commas
	if !json.Valid(data) {
		var v json.RawMessage
		var at *json.SyntaxError
		if err := json.Unmarshal(data, &v); errors.As(err, &at) {
			line := 1 + bytes.Count(data[:min(int(at.Offset), len(data))], []byte("\n"))
			return node{}, wrong("", "Line %d is not JSON; the file may be cut short or changed by hand.", line)
		}
		return node{}, wrong("", "It is not JSON.")
	}
	p := parser{d: json.NewDecoder(bytes.NewReader(data))}
	p.d.UseNumber()
	return p.value("", 1)
}

func (p *parser) value(where string, depth int) (node, error) {
	t, err := p.d.Token()
	if err != nil {
		return node{}, wrong(where, "It is not JSON.")
	}
	if p.values++; p.values > maxValues {
		return node{}, wrong("", "It holds more than %d values.", maxValues)
	}
	if depth > maxDepth {
		return node{}, wrong(where, "It is nested more than %d deep.", maxDepth)
	}
	switch t := t.(type) {
	case json.Number:
		return node{kind: 'n', text: string(t)}, nil
	case string:
		return node{kind: 's', text: t}, checkText(where, t)
	case bool:
		return node{kind: 'b', text: strconv.FormatBool(t)}, nil
	case json.Delim:
		n := node{kind: byte(t)}
		seen := map[string]bool{}
		for p.d.More() {
			at := part(where, len(n.kids)+1)
			if n.kind == '{' {
				key, err := p.d.Token()
				if err != nil {
					return node{}, wrong(where, "It is not JSON.")
				}
				name, _ := key.(string)
				if err := checkText(where, name); err != nil {
					return node{}, err
				}
				if len(name) > 80 {
					return node{}, wrong(where, "A field's name has %d letters; 80 are the most.", len(name))
				}
				if seen[name] {
					return node{}, wrong(where, "The field %q is there twice.", name)
				}
				seen[name] = true
				n.names = append(n.names, name)
				at = join(where, name)
			}
			kid, err := p.value(at, depth+1)
			if err != nil {
				return node{}, err
			}
			n.kids = append(n.kids, kid)
		}
		_, err := p.d.Token() // the closing one
		if err != nil {
			return node{}, wrong(where, "It is not JSON.")
		}
		return n, nil
	}
	return node{kind: '0'}, nil
}

// join and part write the way to a place: "recipe 1, version 2, step 3, amount".
func join(where, name string) string {
	name = strings.ReplaceAll(strings.ReplaceAll(name, "_", " "), "\n", " ")
	if where == "" {
		return name
	}
	return where + ", " + name
}

func part(where string, n int) string {
	if list, ok := strings.CutSuffix(where, "s"); ok {
		return fmt.Sprintf("%s %d", list, n)
	}
	return fmt.Sprintf("%s %d", where, n)
}

func checkText(where, s string) error {
	if len(s) > maxData {
		return wrong(where, "A text has %d letters, which is too long.", len(s))
	}
	for _, r := range s {
		switch {
		case r == utf8.RuneError:
			return wrong(where, "A text holds letters that are no letters (broken Unicode).")
		case r == '\n' || r == '\t':
		case unicode.IsControl(r):
			return wrong(where, "A text holds a control character (U+%04X).", r)
		case r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069:
			return wrong(where, "A text holds a mark that turns the direction of writing (U+%04X).", r)
		}
	}
	return nil
}

var kindWords = map[byte]string{'{': "a group of fields", '[': "a list", 's': "a text", 'n': "a number", 'b': "true or false", '0': "nothing (null)"}

// fill puts a node into a value of this package's types, whose tags name the fields.
func fill(v reflect.Value, n node, where string) error {
	want := func(kind byte) error {
		if n.kind == kind {
			return nil
		}
		return wrong(where, "Here should be %s, not %s.", kindWords[kind], kindWords[n.kind])
	}
	switch v.Kind() {
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		return fill(v.Elem(), n, where)
	case reflect.Struct:
		if err := want('{'); err != nil {
			return err
		}
		return fillStruct(v, n, where)
	case reflect.Slice:
		if err := want('['); err != nil {
			return err
		}
		v.Set(reflect.MakeSlice(v.Type(), len(n.kids), len(n.kids)))
		for i, kid := range n.kids {
			if err := fill(v.Index(i), kid, part(where, i+1)); err != nil {
				return err
			}
		}
		return nil
	case reflect.String:
		if err := want('s'); err != nil {
			return err
		}
		if !strings.HasSuffix(where, "jpeg base64") && len(n.text) > maxText {
			return wrong(where, "A text of %d letters is too long; %d are the most.", len(n.text), maxText)
		}
		v.SetString(n.text)
		return nil
	case reflect.Bool:
		if err := want('b'); err != nil {
			return err
		}
		v.SetBool(n.text == "true")
		return nil
	case reflect.Float64:
		if err := want('n'); err != nil {
			return err
		}
		x, err := strconv.ParseFloat(n.text, 64)
		if err != nil {
			return wrong(where, "The number %.30s is too large to be used.", n.text)
		}
		v.SetFloat(x + 0) // no -0
		return nil
	default:
		if err := want('n'); err != nil {
			return err
		}
		x, err := strconv.ParseInt(n.text, 10, 54)
		if err != nil {
			return wrong(where, "%.30s should be a whole number.", n.text)
		}
		v.SetInt(x)
		return nil
	}
}

func fillStruct(v reflect.Value, n node, where string) error {
	at := map[string]int{}
	need := map[string]bool{}
	for i := range v.NumField() {
		name, rest, _ := strings.Cut(v.Type().Field(i).Tag.Get("json"), ",")
		at[name] = i
		need[name] = rest == ""
	}
	for i, name := range n.names {
		if strings.HasPrefix(name, "x-") {
			continue
		}
		field, ok := at[name]
		if !ok {
			return wrong(where, "There is no field %q in version %d of the format. Fields of your own begin with x-.", name, Schema)
		}
		delete(need, name)
		if err := fill(v.Field(field), n.kids[i], join(where, name)); err != nil {
			return err
		}
	}
	for i := range v.NumField() { // in order, so that the same file gives the same sentence
		if name, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("json"), ","); need[name] {
			return wrong(where, "The field %q is missing.", name)
		}
	}
	return nil
}
