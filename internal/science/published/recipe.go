package published

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"
)

// A Use is who may carry out a recipe.
type Use string

// The uses, the most open first.
const (
	ForClass  Use = "class"
	ByTeacher Use = "teacher only"
	ForRecord Use = "for the record only"
)

// Uses lists the uses, the most open first.
var Uses = []Use{ForClass, ByTeacher, ForRecord}

// uses reads the column class_use.
var uses = map[string]Use{"yes": ForClass, "demo": ByTeacher, "reference": ForRecord}

// Stricter reports whether u lets fewer people do it than v.
func (u Use) Stricter(v Use) bool { return slices.Index(Uses, u) > slices.Index(Uses, v) }

// Heats, the coldest first.
const (
	Cold    = "cold"
	Warm    = "warm"
	Hot     = "hot"
	Boiling = "boiling"
	Torch   = "torch"
)

// A Recipe is one published recipe.
//
// Name, Look, Colours and Steps are our words; the fields from Metal to Note are
// the source's facts. Taken says what was taken, or could not be put into steps.
// FileUse is what the file allows, Use what it comes to here, never less strict;
// Why is the reason. Standing is how far the source was read.
type Recipe struct {
	Key         string // "R14"
	Name        string
	Look        string
	Colours     []string
	Metals      []string // of copper, brass and bronze
	Heat        string
	Steps       []Step
	Taken       string
	Ingredients []Ingredient

	Metal, Method, Time, Temperature string
	Quantities, Basis, Colour        string
	Source, Page, Standing, Note     string
	FileUse, Use                     Use
	Why                              string
}

// HowKnown says how far the source was read, in words.
func (r Recipe) HowKnown() string {
	if w, ok := standings[r.Standing]; ok {
		return w
	}
	return r.Standing
}

var standings = map[string]string{
	"seen":            "read in the source",
	"seen (quoted)":   "read as another source quotes it",
	"seen (anecdote)": "read as one person's account, untested",
	"seen (weak)":     "read, but the page names no source of its own",
	"part seen":       "only part of it could be read",
	"from memory":     "from memory, not checked against the source",
}

// A Step is one step of the way of working. Kind is a word of the bench
// ("wet", "fume"). Taken marks a time that the source does not say; Again a
// coat that was said before.
type Step struct {
	Kind, Tool, Note string
	Minutes          float64
	Taken, Again     bool
}

// library is the recipes in the order of the file and the way to them by key.
type library struct {
	all   []Recipe
	byKey map[string]int
}

// shelf is the library, read once. The tables are part of the program: a broken
// one stops it at once, in the first test.
var shelf = sync.OnceValue(func() library {
	must := func(rows []Row, err error) []Row {
		if err != nil {
			panic(err)
		}
		return rows
	}
	l := library{byKey: map[string]int{}}
	for _, row := range must(ReadRows(recipesCSV)) {
		l.byKey[row["id"]] = len(l.all)
		l.all = append(l.all, recipeOf(row))
	}
	for _, row := range must(tabbed(wordsTSV)) {
		r := &l.all[l.byKey[row["id"]]]
		r.Name, r.Look, r.Heat, r.Taken = row["name"], row["look"], row["heat"], row["taken"]
		switch r.Why = row["reason"]; r.Why {
		case "":
			r.Why = r.Note
		case "none":
			r.Why = ""
		}
		r.Colours = strings.Fields(row["colours"])
		steps, err := ReadSteps(row["steps"])
		if err != nil {
			panic(fmt.Errorf("recipe %s: %w", r.Key, err))
		}
		r.Steps = steps
	}
	for _, row := range must(tabbed(ingredientsTSV)) {
		i, err := ingredientOf(row)
		if err != nil {
			panic(fmt.Errorf("recipe %s: %w", row["id"], err))
		}
		r := &l.all[l.byKey[row["id"]]]
		r.Ingredients = append(r.Ingredients, i)
	}
	for i := range l.all {
		l.all[i].judge()
	}
	return l
})

// All returns every recipe in the order of the file. Inner slices are shared and
// must not be changed.
func All() []Recipe { return slices.Clone(shelf().all) }

// ByKey finds a recipe by its key, "R14".
func ByKey(key string) (Recipe, bool) {
	i, ok := shelf().byKey[key]
	if !ok {
		return Recipe{}, false
	}
	return shelf().all[i], true
}

// tableRow is a note's pointer to the never-meet table, whose row is shown itself.
var tableRow = regexp.MustCompile(` \((see )?X\d+\)`)

var metalWord = regexp.MustCompile(`copper|brass|bronze`)

func recipeOf(row Row) Recipe {
	r := Recipe{Key: row["id"], Metal: row["metal"], Method: row["method"], Time: row["time"], Temperature: row["temperature"], Quantities: row["original_quantities"],
		Basis: row["basis"], Colour: row["colour"], Source: row["source"], Page: row["page"], Standing: row["seen"], Note: tableRow.ReplaceAllString(row["note"], ""), FileUse: uses[row["class_use"]]}
	for _, m := range metalWord.FindAllString(row["metal"], -1) {
		if !slices.Contains(r.Metals, m) {
			r.Metals = append(r.Metals, m)
		}
	}
	return r
}
