package recipefile_test

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"io"
	"runtime"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/santhosh-tekuri/jsonschema/v6"
	"pgregory.net/rapid"

	"aerugo/internal/recipefile"
	"aerugo/internal/studio"
)

// schema is the file's own, read by a general validator of JSON Schema 2020-12.
func schema(t testing.TB) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(recipefile.SchemaJSON))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	if err := c.AddResource("urn:patina-recipes:1", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("urn:patina-recipes:1")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func valid(t interface{ Errorf(string, ...any) }, s *jsonschema.Schema, data []byte) {
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(data))
	if err != nil {
		t.Errorf("%v", err)
		return
	}
	if err := s.Validate(doc); err != nil {
		t.Errorf("the schema refuses it: %v", err)
	}
}

func smallJPEG(t testing.TB, w int) string {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, w, 3))
	img.Set(1, 1, color.RGBA{20, 120, 90, 255})
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		t.Fatal(err)
	}
	return base64.StdEncoding.EncodeToString(b.Bytes())
}

// example is a file of two recipes, one over the other, with everything in it.
func example(t testing.TB) recipefile.File {
	base := recipefile.Recipe{ID: "aaaaaaaaaa", Name: "Salt and fumes", By: "Ana", Studio: "Shed", Licence: "CC-BY-4.0", Made: "2026-03-14", Amounts: recipefile.Exact,
		Source:   &recipefile.Source{Text: "a book of 1904", Standing: "from memory"},
		Versions: []recipefile.Version{{Number: 2, Made: "2026-03-14", Why: "12 g/m2 was too much", Steps: []recipefile.Step{{Kind: "sprinkle", Substance: "sodium-chloride", Words: "table salt", Amount: &recipefile.Amount{Value: 12.34, Spread: 4, Unit: "g/m2", Hand: "medium", Assumed: true}}, {Kind: "fume", Substance: "ammonia-water", Strength: 8.76, Duration: 8220, Sooner: 60, Later: 120, Place: "closed chamber of 54 L", Note: "for 137 min"}}}},
		Evidence: &recipefile.Evidence{Swatches: 3, Looks: []recipefile.Look{{Swatch: 12, Face: "front", Metal: "copper", Setting: "137 min", Lab: recipefile.Lab{L: 48.2, A: -12, B: 5}, Spread: 2, Colour: "moderate bluish green", Coverage: &recipefile.Coverage{Value: .9, Low: .8, High: .95}, Method: "m5"}}},
		Cautions: []string{"Ammonia burns eyes."}, Pictures: []recipefile.Picture{{Name: "swatch-12.jpg", Alt: "green", Data: smallJPEG(t, 4)}}}
	over := recipefile.Recipe{ID: "bbbbbbbbbb", Name: "Over it", Licence: "CC0-1.0", Amounts: recipefile.Exact, BasedOn: &recipefile.BasedOn{ID: "cccccccccc", Name: "Older", Licence: "CC-BY-4.0"},
		Versions: []recipefile.Version{{Number: 1, Over: &recipefile.Over{Recipe: "aaaaaaaaaa", Number: 2, State: "dry"}, Steps: []recipefile.Step{{Kind: "wet", Substance: "vinegar", Also: []recipefile.Part{{Substance: "sodium-chloride", Strength: 3}}, Tool: "brush", Faces: "front"}}}}}
	return recipefile.File{Format: recipefile.Format, Schema: recipefile.Schema, Recipes: []recipefile.Recipe{over, base}}
}

func write(t testing.TB, f recipefile.File) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestAFileComesBackAsItWasWritten(t *testing.T) {
	first := write(t, example(t))
	valid(t, schema(t), first)
	back, err := recipefile.Read(bytes.NewReader(first))
	if err != nil {
		t.Fatal(err)
	}
	if again := write(t, back); !bytes.Equal(first, again) {
		t.Error(cmp.Diff(string(first), string(again)))
	}
	turned := example(t)
	turned.Recipes[0], turned.Recipes[1] = turned.Recipes[1], turned.Recipes[0]
	if !bytes.Equal(first, write(t, turned)) {
		t.Error("the same recipes in another order give other bytes")
	}
}

// TestAnyFileComesBack holds drawn files to the writer, the reader and the schema.
func TestAnyFileComesBack(t *testing.T) {
	s := schema(t)
	text := rapid.StringMatching(`[a-zA-Zäöü<>&"' 0-9]{1,40}`)
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 4).Draw(t, "recipes")
		f := recipefile.File{Format: recipefile.Format, Schema: recipefile.Schema}
		for i := range n {
			r := recipefile.Recipe{ID: fmt.Sprintf("%010x", i), Name: text.Draw(t, "name") + "x", By: text.Draw(t, "by"), Licence: rapid.SampledFrom(recipefile.Licences).Draw(t, "licence").Code, Amounts: recipefile.Exact}
			for v := range rapid.IntRange(1, 3).Draw(t, "versions") {
				x := recipefile.Version{Number: v + 1, Why: text.Draw(t, "why")}
				if i > 0 && rapid.Bool().Draw(t, "over") {
					x.Over = &recipefile.Over{Recipe: fmt.Sprintf("%010x", i-1), Number: 1, State: "still wet"}
				}
				for range rapid.IntRange(1, 4).Draw(t, "steps") {
					kind := rapid.SampledFrom(studio.StepKinds).Draw(t, "kind")
					step := recipefile.Step{Kind: string(kind), Substance: "ammonia-water", Strength: rapid.Float64Range(0, 100).Draw(t, "strength"), Duration: rapid.Float64Range(1, 1e5).Draw(t, "duration"), Note: text.Draw(t, "note")}
					if rapid.Bool().Draw(t, "amount") {
						step.Amount = &recipefile.Amount{Value: rapid.Float64Range(0, 1e5).Draw(t, "value"), Unit: string(rapid.SampledFrom(studio.Units).Draw(t, "unit"))}
					}
					x.Steps = append(x.Steps, step)
				}
				r.Versions = append(r.Versions, x)
			}
			f.Recipes = append(f.Recipes, r)
		}
		var b bytes.Buffer
		if err := f.Write(&b); err != nil {
			t.Fatal(err)
		}
		first := bytes.Clone(b.Bytes())
		valid(t, s, first)
		back, err := recipefile.Read(&b)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(f, back); d != "" {
			t.Fatal(d)
		}
	})
}

// TestEveryRefusalSaysWhere sends what people break and what others send on purpose.
func TestEveryRefusalSaysWhere(t *testing.T) {
	good := string(write(t, example(t)))
	swap := func(from, to string) string {
		if !strings.Contains(good, from) {
			t.Fatalf("the example has no %q", from)
		}
		return strings.Replace(good, from, to, 1)
	}
	for name, c := range map[string]struct{ file, says string }{
		"nothing":                 {"", "empty"},
		"a list":                  {"[]", "no recipes"},
		"not JSON":                {"{\n\"format\": oops}", "Line 2"},
		"cut short":               {good[:len(good)/2], "not JSON"},
		"more after it":           {good + "{}", "not JSON"},
		"another format":          {`{"format":"x"}`, "does not say that it is a recipe file"},
		"no version":              {`{"format":"patina-recipes"}`, "does not say its version"},
		"a later version":         {`{"format":"patina-recipes","schema":2,"what":"ever"}`, "version 2 of the format; this program knows up to 1"},
		"a ZIP":                   {"PK\x03\x04", "packed"},
		"gzip":                    {"\x1f\x8b\x08", "packed"},
		"not UTF-8":               {swap("Ana", "A\xffa"), "UTF-8"},
		"half a letter":           {swap("Ana", `A\ud800a`), "recipe 1, by: A text holds letters"},
		"a control character":     {swap("Ana", `A\u0007a`), "recipe 1, by: A text holds a control character (U+0007)"},
		"turned writing":          {swap("Ana", `A\u202ea`), "direction of writing"},
		"a field twice":           {swap(`"by": "Ana"`, `"by": "Ana", "by": "Eve"`), `In recipe 1: The field "by" is there twice`},
		"a field unknown":         {swap(`"by": "Ana"`, `"hy": "Ana"`), `no field "hy"`},
		"a field in capitals":     {swap(`"by": "Ana"`, `"By": "Ana"`), `no field "By"`},
		"a field missing":         {swap(`"amounts": "exact",`, ``), `"amounts" is missing`},
		"null":                    {swap(`"Ana"`, `null`), "Here should be a text, not nothing"},
		"a number for words":      {swap(`"Ana"`, `7`), "should be a text, not a number"},
		"1e999":                   {swap("12.34", "1e999"), "recipe 1, version 1, step 1, amount, value: The number 1e999 is too large"},
		"NaN":                     {swap("12.34", "NaN"), "not JSON"},
		"below zero":              {swap("12.34", "-12.34"), "recipe 1, version 1, step 1, amount"},
		"too strong":              {swap("8.76", "876"), "recipe 1, version 1, step 2, strength: 876 %"},
		"longer than two months":  {swap("8220", "8220000"), "60 days"},
		"no time":                 {swap(`"duration_s": 8220,`, ``), "recipe 1, version 1, step 2"},
		"half a version":          {swap(`"number": 2`, `"number": 2.5`), "whole number"},
		"an unknown unit":         {swap(`"unit": "g/m2"`, `"unit": "oz"`), "should be g/m2"},
		"an unknown step":         {swap(`"sprinkle"`, `"explode"`), "no step known"},
		"an unknown licence":      {swap("CC-BY-4.0", "mine"), "no licence known"},
		"a wrong day":             {swap("2026-03-14", "2026-02-30"), "no day"},
		"a path as a picture":     {swap("swatch-12.jpg", "../../etc/passwd"), "recipe 1, picture 1, name"},
		"a folder as a picture":   {swap("swatch-12.jpg", `a\\b.jpg`), "plain name"},
		"a picture of text":       {swap(smallJPEG(t, 4), "aGVsbG8="), "not a JPEG"},
		"a picture of nothing":    {swap(smallJPEG(t, 4), "%%%"), "not base64"},
		"a huge picture":          {swap(smallJPEG(t, 4), smallJPEG(t, 2500)), "2500 × 3 pixels"},
		"over what is not there":  {swap(`"version": 2`, `"version": 9`), "is not in the file"},
		"over itself":             {swap(`"recipe": "aaaaaaaaaa",`+"\n      \"version\": 2", `"recipe": "bbbbbbbbbb",`+"\n      \"version\": 1"), "over itself"},
		"the same recipe twice":   {swap("bbbbbbbbbb", "aaaaaaaaaa"), "that of an earlier recipe"},
		"amounts hidden and told": {swap(`"exact"`, `"hidden"`), "says that its amounts are hidden"},
		"a very long name":        {swap("Salt and fumes", strings.Repeat("a", 200)), "200 letters"},
		"a very long text":        {swap("a book of 1904", strings.Repeat("a", 5000)), "5000 letters"},
		"deep":                    {swap(`"Ana"`, strings.Repeat("[", 5000)+strings.Repeat("]", 5000)), "nested more than"},
		"deeper than JSON goes":   {strings.Repeat("[", 1<<20), "not JSON"},
		"many":                    {`{"format":"patina-recipes","schema":1,"recipes":[` + strings.Repeat("1,", 300_000) + `1]}`, "more than 200000 values"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := recipefile.Read(strings.NewReader(c.file))
			p := studio.ProblemIn(err)
			if p == nil {
				t.Fatalf("it was not refused in plain words: %v", err)
			}
			if !strings.Contains(p.Text, c.says) || !strings.HasPrefix(p.Text, "The recipe file can't be used. ") {
				t.Errorf("it says %q, want %q in it", p.Text, c.says)
			}
			if len(p.Text) > 400 {
				t.Errorf("the sentence has %d letters", len(p.Text))
			}
		})
	}
}

// TestWhoLiesOverWhomNeverGoesRound draws a circle of three.
func TestWhoLiesOverWhomNeverGoesRound(t *testing.T) {
	f := recipefile.File{Format: recipefile.Format, Schema: recipefile.Schema}
	for i := range 3 {
		f.Recipes = append(f.Recipes, recipefile.Recipe{ID: fmt.Sprintf("%010x", i), Name: "a", Licence: "CC0-1.0", Amounts: recipefile.Exact,
			Versions: []recipefile.Version{{Number: 1, Over: &recipefile.Over{Recipe: fmt.Sprintf("%010x", (i+1)%3), Number: 1, State: "dry"}, Steps: []recipefile.Step{{Kind: "rinse"}}}}})
	}
	if err := f.Check(); err == nil || !strings.Contains(err.Error(), "over itself, by way of") {
		t.Errorf("a circle of three: %v", err)
	}
}

func TestFieldsOfOnesOwnArePassedOver(t *testing.T) {
	good := string(write(t, example(t)))
	f, err := recipefile.Read(strings.NewReader(strings.Replace(good, `"by": "Ana"`, `"x-shelf": {"deep": [1, 2]}, "by": "Ana"`, 1)))
	if err != nil {
		t.Fatal(err)
	}
	if again := string(write(t, f)); again != good {
		t.Error("a field of one's own changed what is read")
	}
}

// endless is a recipe file whose name never ends.
type endless struct{ sent int64 }

func (e *endless) Read(b []byte) (int, error) {
	if e.sent > 1<<30 {
		return 0, io.EOF
	}
	n := 0
	if e.sent == 0 {
		n = copy(b, `{"format":"patina-recipes","schema":1,"recipes":[{"name":"`)
	}
	for i := n; i < len(b); i++ {
		b[i] = 'a'
	}
	e.sent += int64(len(b))
	return len(b), nil
}

// TestAGigabyteIsRefusedInLittleMemory sends 1 GB and counts all that is ever allocated.
func TestAGigabyteIsRefusedInLittleMemory(t *testing.T) {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	e := &endless{}
	_, err := recipefile.Read(e)
	runtime.ReadMemStats(&after)
	if p := studio.ProblemIn(err); p == nil || !strings.Contains(p.Text, "larger than the 8 MB") {
		t.Errorf("%v", err)
	}
	took := after.TotalAlloc - before.TotalAlloc
	t.Logf("allocated %d kB in all, read %d kB", took>>10, e.sent>>10)
	if took > 64<<20 || e.sent > 10<<20 {
		t.Errorf("it took %d MB of memory and read %d MB", took>>20, e.sent>>20)
	}
}

// TestHiddenAmountsAreNowhere looks for the example's figures in what is left.
func TestHiddenAmountsAreNowhere(t *testing.T) {
	f := recipefile.Hide(example(t))
	b := write(t, f)
	valid(t, schema(t), b)
	for _, figure := range []string{"12.34", "8.76", "8220", "137", "54 L", "12 g", "strength_wt_percent"} {
		if strings.Contains(string(b), figure) {
			t.Errorf("%q is still told", figure)
		}
	}
	if !strings.Contains(string(b), `"duration": "hours"`) || !strings.Contains(string(b), "48.2") {
		t.Error("what is not hidden went too")
	}
	for text, want := range map[string]string{"Blue, 3 h": "Blue, some ", "8 % ammonia for 90 min": " some ammonia for some ", "C11000": "C…", "no figure": "no figure"} {
		if got := recipefile.HideIn(text); got != want {
			t.Errorf("%q became %q, want %q", text, got, want)
		}
	}
}

func TestTheSchemaIsOneObject(t *testing.T) {
	var x struct {
		Schema string `json:"$schema"`
	}
	if err := json.Unmarshal(recipefile.SchemaJSON, &x); err != nil || x.Schema != "https://json-schema.org/draft/2020-12/schema" {
		t.Errorf("%q, %v", x.Schema, err)
	}
}

func FuzzRead(f *testing.F) {
	s := schema(f)
	f.Add(write(f, example(f)))
	f.Add(write(f, recipefile.Hide(example(f))))
	for _, seed := range []string{"", "{}", "[[[[", `{"format":"patina-recipes","schema":1,"recipes":[]}`, `{"format":"patina-recipes","schema":1,"x-a":0,"recipes":[{"id":"aaaaaaaa","name":"\u0000"}]}`} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		x, err := recipefile.Read(bytes.NewReader(data))
		if err != nil {
			if studio.ProblemIn(err) == nil {
				t.Fatalf("no plain words: %v", err)
			}
			return
		}
		b := write(t, x)
		valid(t, s, b)
		y, err := recipefile.Read(bytes.NewReader(b))
		if err != nil {
			t.Fatalf("what was read can't be read again: %v", err)
		}
		if again := write(t, y); !bytes.Equal(b, again) {
			t.Fatal("it does not come back the same")
		}
	})
}
