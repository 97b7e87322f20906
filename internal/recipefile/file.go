package recipefile

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"

	"aerugo/internal/studio"
)

// What a file says of itself.
const (
	Format    = "patina-recipes"
	Schema    = 1
	Ending    = ".patina.json"
	MediaType = "application/vnd.patina-recipes+json"
)

// SchemaJSON is the JSON Schema (2020-12) of the file.
//
//go:embed schema.json
var SchemaJSON []byte

// Licences are what a maker may allow, by SPDX identifier (SPDX License List),
// and the one for which there is none. Names are as the licences call themselves.
var Licences = []Licence{
	{"CC-BY-4.0", "CC BY 4.0: anyone may use and change it who names the maker"},
	{"CC-BY-SA-4.0", "CC BY-SA 4.0: the same, and what they make of it stays as free"},
	{"CC-BY-NC-4.0", "CC BY-NC 4.0: the same as CC BY, but not to earn money with"},
	{"CC0-1.0", "CC0 1.0: anyone may do anything with it"},
	{AllRights, "All rights reserved: to read, not to copy"},
}

// AllRights stands where nothing is allowed beyond reading.
const AllRights = "all-rights-reserved"

// A Licence is what a maker allows, in a code and in a sentence.
type Licence struct{ Code, Words string }

// LicenceWords returns what a code means, "" for one that is not known.
func LicenceWords(code string) string {
	for _, l := range Licences {
		if l.Code == code {
			return l.Words
		}
	}
	return ""
}

// A File is what one file holds.
type File struct {
	Format  string   `json:"format"`
	Schema  int      `json:"schema"`
	Recipes []Recipe `json:"recipes"`
}

// A Recipe is one recipe with the versions that were chosen. ID stays the same
// wherever it travels.
type Recipe struct {
	ID       string    `json:"id"`
	Name     string    `json:"name"`
	By       string    `json:"by,omitempty"`
	Studio   string    `json:"studio,omitempty"`
	Licence  string    `json:"licence"`
	Made     string    `json:"made,omitempty"` // a day
	Amounts  string    `json:"amounts"`        // exact or hidden
	Source   *Source   `json:"source,omitempty"`
	BasedOn  *BasedOn  `json:"based_on,omitempty"`
	Versions []Version `json:"versions"`
	Evidence *Evidence `json:"evidence,omitempty"`
	Cautions []string  `json:"cautions,omitempty"` // advice of the writer; a reader reckons its own
	Pictures []Picture `json:"pictures,omitempty"`
}

// What Amounts may say.
const (
	Exact  = "exact"
	Hidden = "hidden"
)

// A Source is where a recipe was printed, and how well that is known.
type Source struct {
	Text     string `json:"text"`
	Standing string `json:"standing,omitempty"`
}

// BasedOn is the recipe that one was made from by changing it.
type BasedOn struct {
	ID      string `json:"id"`
	Name    string `json:"name"`
	By      string `json:"by,omitempty"`
	Studio  string `json:"studio,omitempty"`
	Licence string `json:"licence"`
}

// A Version is one numbered state of a recipe.
type Version struct {
	Number int    `json:"number"`
	Made   string `json:"made,omitempty"`
	Why    string `json:"why,omitempty"`
	Over   *Over  `json:"over,omitempty"`
	Steps  []Step `json:"steps"`
}

// Over says on which version of which recipe of the file a version lies.
type Over struct {
	Recipe string `json:"recipe"`
	Number int    `json:"version"`
	State  string `json:"state"` // dry or still wet
}

// A Step is one line. Substance is a key that programs know, Words how people
// call it there. Rough stands instead of figures where amounts are hidden.
type Step struct {
	Kind      string  `json:"kind"`
	Substance string  `json:"substance,omitempty"`
	Words     string  `json:"words,omitempty"`
	Strength  float64 `json:"strength_wt_percent,omitempty"` // 0: not known
	Also      []Part  `json:"also,omitempty"`
	Amount    *Amount `json:"amount,omitempty"`
	Tool      string  `json:"tool,omitempty"`
	Faces     string  `json:"faces,omitempty"`
	Duration  float64 `json:"duration_s,omitempty"`
	Sooner    float64 `json:"sooner_s,omitempty"`
	Later     float64 `json:"later_s,omitempty"`
	Place     string  `json:"place,omitempty"`
	Note      string  `json:"note,omitempty"`
	Rough     *Rough  `json:"rough,omitempty"`
}

// A Part is one more thing in a liquid.
type Part struct {
	Substance string  `json:"substance"`
	Words     string  `json:"words,omitempty"`
	Strength  float64 `json:"strength_wt_percent,omitempty"`
}

// An Amount is how much goes on. With a unit per m2 it is meant on each treated
// face; Spread is one standard deviation. Hand is the word it was said with.
type Amount struct {
	Value   float64 `json:"value"`
	Spread  float64 `json:"spread,omitempty"`
	Unit    string  `json:"unit"`
	Hand    string  `json:"hand,omitempty"`
	Assumed bool    `json:"assumed,omitempty"`
}

// Rough says in words what figures would.
type Rough struct {
	Amount   string `json:"amount,omitempty"`
	Strength string `json:"strength,omitempty"`
	Duration string `json:"duration,omitempty"`
}

// Evidence is what swatches showed. Swatches counts those behind it.
type Evidence struct {
	Swatches int    `json:"swatches"`
	Looks    []Look `json:"looks,omitempty"`
}

// A Look is one face as measured: CIELAB, D50, 2 degrees.
type Look struct {
	Swatch   int64     `json:"swatch"`
	Face     string    `json:"face"`
	Metal    string    `json:"metal,omitempty"`
	Setting  string    `json:"setting,omitempty"`
	Lab      Lab       `json:"lab"`
	Spread   float64   `json:"spread_lab"`
	Colour   string    `json:"colour,omitempty"`
	Coverage *Coverage `json:"coverage,omitempty"`
	Method   string    `json:"method"`
}

// Lab is a CIELAB colour.
type Lab struct {
	L float64 `json:"l"`
	A float64 `json:"a"`
	B float64 `json:"b"`
}

// Coverage is the share that is no longer bare metal, with its honest range.
type Coverage struct {
	Value float64 `json:"value"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}

// A Picture is a small JPEG. Name is a plain file name, never a path.
type Picture struct {
	Name string `json:"name"`
	Alt  string `json:"alt"`
	Data string `json:"jpeg_base64"`
}

// ID returns the id of a recipe from what it began as.
func ID(began ...string) string {
	h := sha256.Sum256([]byte(strings.Join(began, "\x00")))
	return hex.EncodeToString(h[:10])
}

// Write writes the file: recipes in the order of their ids, so that the same
// recipes always give the same bytes.
func (f File) Write(w io.Writer) error {
	f.Format, f.Schema = Format, Schema
	f.Recipes = slices.Clone(f.Recipes)
	slices.SortFunc(f.Recipes, func(a, b Recipe) int { return strings.Compare(a.ID, b.ID) })
	if err := f.Check(); err != nil {
		return err
	}
	b, err := f.bytes()
	if err != nil {
		return err
	}
	if len(b) > MaxBytes {
		return studio.Problemf(studio.Invalid, "recipe", "These recipes make a file of %d MB; %d MB are the most. Choose fewer, or leave the pictures out.", len(b)>>20, MaxBytes>>20)
	}
	_, err = w.Write(b)
	return err
}

func (f File) bytes() ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	if err := e.Encode(f); err != nil {
		return nil, fmt.Errorf("write recipe file: %w", err)
	}
	return b.Bytes(), nil
}

// Recipe returns the recipe with an id.
func (f File) Recipe(id string) (Recipe, bool) {
	i := slices.IndexFunc(f.Recipes, func(r Recipe) bool { return r.ID == id })
	if i < 0 {
		return Recipe{}, false
	}
	return f.Recipes[i], true
}

// Version returns the version with a number.
func (r Recipe) Version(n int) (Version, bool) {
	i := slices.IndexFunc(r.Versions, func(v Version) bool { return v.Number == n })
	if i < 0 {
		return Version{}, false
	}
	return r.Versions[i], true
}

// Newest returns the last version.
func (r Recipe) Newest() Version { return r.Versions[len(r.Versions)-1] }
