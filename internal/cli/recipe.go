package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"aerugo/internal/recipefile"
	"aerugo/internal/site"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

type recipeVerb struct {
	Export recipeExportVerb `cmd:"" help:"Write recipes into one open file (*.patina.json)."`
	Import recipeImportVerb `cmd:"" help:"Take the recipes of such a file into a studio."`
	Check  recipeCheckVerb  `cmd:"" help:"Say what is in such a file, and what could hurt."`
}

// makerFlags are how whoever hands on wishes to be named, and what they allow.
type makerFlags struct {
	By      string `placeholder:"NAME" help:"Who the recipes are by, as they wish to be named."`
	From    string `placeholder:"NAME" help:"The studio's name, as it is to be shown."`
	Licence string `default:"all-rights-reserved" placeholder:"CODE" help:"What others may do: CC-BY-4.0, CC-BY-SA-4.0, CC-BY-NC-4.0, CC0-1.0 or all-rights-reserved (${default})."`
}

func (m makerFlags) maker() site.Maker {
	return site.Maker{Name: m.By, Studio: m.From, Licence: m.Licence}
}

type recipeExportVerb struct {
	IDs        []int64 `arg:"" name:"id" help:"The recipes, by the number in their address (/recipes/3 is 3)."`
	Studio     string  `default:"studio" placeholder:"DIR" help:"The studio's folder (${default})."`
	To         string  `default:"-" placeholder:"FILE" help:"The file to write; - is standard output (the default)."`
	NoPictures bool    `help:"Leave the pictures out."`
	NoNotes    bool    `help:"Leave out what was written freely."`
	HideAmount bool    `name:"hide-amounts" help:"Words instead of amounts, strengths and times. Such a file can be read, not made."`
	makerFlags `embed:""`
}

// Help is shown below the verb's usage.
func (recipeExportVerb) Help() string {
	return `What a recipe lies over comes with it. A recipe that came from elsewhere and was not changed goes on as it came, with its maker and licence. The same recipes always give the same bytes.

` + exits
}

// Run writes the file.
func (v recipeExportVerb) Run(ctx context.Context, t *term) (err error) {
	if err := studioIn(v.Studio); err != nil {
		return err
	}
	s, err := store.Open(ctx, v.Studio, store.Options{})
	if err != nil {
		return err
	}
	defer func() { err = closed(s, err) }()
	r, err := site.Gather(ctx, s)
	if err != nil {
		return err
	}
	what := site.What{Recipes: v.IDs, Maker: v.maker(), Hide: v.HideAmount, Notes: !v.NoNotes}
	if !v.NoPictures {
		what.Pictures = s.PhotoData
	}
	f, err := r.RecipeFile(ctx, what)
	if err != nil {
		return err
	}
	if v.To == "-" {
		return f.Write(t.stdout)
	}
	_, err = writeFile(v.To, f.Write)
	return err
}

// recipeOffer is what recipe import and check say of one recipe.
type recipeOffer struct {
	ID       string   `json:"id"`
	Name     string   `json:"name"`
	By       string   `json:"by"`
	Licence  string   `json:"licence"`
	Versions int      `json:"versions"`
	State    string   `json:"state"`
	Why      string   `json:"why,omitempty"`
	Unknown  []string `json:"unknown_substances,omitempty"`
	Assumed  []string `json:"assumed,omitempty"`
	Cautions []string `json:"cautions,omitempty"`
}

func offersOf(in site.Incoming) []recipeOffer {
	out := []recipeOffer{}
	for _, o := range in.Offers {
		x := o.Recipe
		out = append(out, recipeOffer{x.ID, x.Name, site.MakerWords(x.By, x.Studio), x.Licence, len(x.Versions), o.State, o.Why, o.Unknown, o.Assumed, o.Cautions})
	}
	return out
}

// readRecipes reads a recipe file, and its bytes for their SHA-256.
func readRecipes(t *term, path string) (recipefile.File, []byte, error) {
	var from io.Reader = t.stdin
	if path != "-" {
		f, err := openFile(path, "a recipe file (*.patina.json)")
		if err != nil {
			return recipefile.File{}, nil, err
		}
		defer f.Close()
		from = f
	}
	data, err := io.ReadAll(io.LimitReader(from, recipefile.MaxBytes+1))
	if err != nil {
		return recipefile.File{}, nil, fmt.Errorf("read %s: %w", path, err)
	}
	f, err := recipefile.Read(bytes.NewReader(data))
	return f, data, err
}

type recipeImportVerb struct {
	File   string `arg:"" name:"file" help:"The recipe file; - reads standard input."`
	Studio string `default:"studio" placeholder:"DIR" help:"The studio's folder; it is made if it is not there (${default})."`
	By     string `placeholder:"NAME" help:"Who takes it in; kept with the recipe."`
	JSON   bool   `name:"json" help:"Answer in JSON."`
}

// Help is shown below the verb's usage.
func (recipeImportVerb) Help() string {
	return `Every recipe is checked as one that is planned here. What must never meet is not taken in, nor what lies over it, nor a recipe whose maker keeps the amounts back. What is here already is not added again.

` + exits
}

// Run takes the recipes in.
func (v recipeImportVerb) Run(ctx context.Context, t *term) (err error) {
	f, data, err := readRecipes(t, v.File)
	if err != nil {
		return err
	}
	_, err = os.Lstat(v.Studio)
	fresh := errors.Is(err, os.ErrNotExist)
	s, err := store.Open(ctx, v.Studio, store.Options{})
	if err != nil {
		return err
	}
	in, err := takeRecipes(ctx, s, f, filepath.Base(v.File), data, v.By)
	if err = closed(s, err); err != nil {
		if fresh {
			_ = os.RemoveAll(v.Studio) // it was made for this alone
		}
		return err
	}
	if v.JSON {
		return t.asJSON(map[string]any{"studio": fullPath(v.Studio), "added": in.Count(site.New), "here": in.Count(site.Here), "refused": in.Count(site.Refused), "recipes": offersOf(in)})
	}
	t.sayOffers(in, "taken in")
	return nil
}

func takeRecipes(ctx context.Context, s *store.Store, f recipefile.File, name string, data []byte, by string) (site.Incoming, error) {
	r, err := site.Gather(ctx, s)
	if err != nil {
		return site.Incoming{}, err
	}
	in := r.Look(f, name, data)
	if in.Count(site.Refused) == len(in.Offers) {
		return in, studio.Problemf(studio.Unsafe, "file", "nothing was taken in. %s: %s", in.Offers[0].Recipe.Name, in.Offers[0].Why)
	}
	_, err = r.TakeIn(ctx, s, in, by)
	return in, err
}

type recipeCheckVerb struct {
	File string `arg:"" name:"file" help:"The recipe file; - reads standard input."`
	JSON bool   `name:"json" help:"Answer in JSON."`
}

// Help is shown below the verb's usage.
func (recipeCheckVerb) Help() string {
	return `Reads the file as import would, without a studio, and says what it holds.

` + exits
}

// Run checks the file.
func (v recipeCheckVerb) Run(t *term) error {
	f, data, err := readRecipes(t, v.File)
	if err != nil {
		return err
	}
	in := new(site.Records).Look(f, filepath.Base(v.File), data)
	if v.JSON {
		return t.asJSON(map[string]any{"schema": f.Schema, "sha256": in.SHA256, "recipes": offersOf(in)})
	}
	t.sayOffers(in, "can be taken in")
	return nil
}

// sayOffers writes what became, or would become, of the recipes of a file.
func (t *term) sayOffers(in site.Incoming, done string) {
	for _, o := range in.Offers {
		state := o.State
		if state == site.New {
			state = done
		}
		x := o.Recipe
		t.printf("%s, by %s: %s\n", x.Name, site.MakerWords(x.By, x.Studio), state)
		t.printf("  %s\n", recipefile.LicenceWords(x.Licence))
		if o.Why != "" {
			t.printf("  %s\n", o.Why)
		}
		if len(o.Unknown) > 0 {
			t.printf("  Not known here, so read its data sheet: %s\n", strings.Join(o.Unknown, ", "))
		}
		for _, text := range o.Assumed {
			t.printf("  Assumed: %s\n", text)
		}
	}
}
