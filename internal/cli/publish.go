package cli

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"aerugo/internal/language"
	"aerugo/internal/site"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

type publishVerb struct {
	Recipe      []int64 `placeholder:"ID" help:"A recipe, by the number in its address; can be given several times."`
	Set         []int64 `placeholder:"ID" help:"A set with its swatches; can be given several times."`
	Out         string  `required:"" placeholder:"DIR" help:"The new folder to make, or a file that ends in .zip."`
	Title       string  `default:"Patinas" help:"The site's title (${default})."`
	Date        string  `placeholder:"2026-11-25" help:"The day to date it with; without it, today."`
	HideAmounts bool    `help:"Words instead of amounts, strengths and times, everywhere."`
	Language    string  `default:"en" placeholder:"TAG" help:"The site's language, such as de; the studio's own are there too (${default})."`
	Notes       bool    `help:"Show also what was written freely: notes of swatches and steps."`
	Studio      string  `default:"studio" placeholder:"DIR" help:"The studio's folder (${default})."`
	JSON        bool    `name:"json" help:"Answer in JSON."`
	makerFlags  `embed:""`
}

// Help is shown below the verb's usage.
func (publishVerb) Help() string {
	return `The site opens from its folder in any browser, without the internet and without scripts. Students, customers, addresses and what a camera notes never get into it. It is made beside its place and gets its name when it is whole; the same studio and the same date give the same files.

` + exits
}

// published is what publish reports.
type published struct {
	Out   string `json:"out"`
	Files int    `json:"files"`
	Bytes int64  `json:"bytes"`
}

// languageIn finds a language of the studio by its tag, and tells it the names that people
// gave there.
func languageIn(ctx context.Context, s *store.Store, tag string, t *term) (*language.Language, error) {
	all, err := s.Languages(func(file string, err error) { fmt.Fprintf(t.stderr, "%s is left out: %v.\n", file, err) })
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(all, func(l *language.Language) bool { return l.Tag == tag })
	if i < 0 {
		var tags []string
		for _, l := range all {
			tags = append(tags, l.Tag)
		}
		return nil, studio.Problemf(studio.Invalid, "language", "%q is no language here; choose one of %s", tag, strings.Join(tags, ", "))
	}
	names, err := s.Names(ctx)
	if err != nil {
		return nil, err
	}
	words, err := s.OwnWords(ctx)
	if err != nil {
		return nil, err
	}
	return all[i].Knowing(all[i].Own(names, words)), nil
}

// Run makes the site.
func (v publishVerb) Run(ctx context.Context, t *term) (err error) {
	if err := studioIn(v.Studio); err != nil {
		return err
	}
	if v.Date == "" {
		v.Date = time.Now().Format("2006-01-02")
	} else if _, err := time.Parse("2006-01-02", v.Date); err != nil {
		return studio.Problemf(studio.Invalid, "date", "%q is no day; write --date like 2026-11-25", v.Date)
	}
	s, err := store.Open(ctx, v.Studio, store.Options{})
	if err != nil {
		return err
	}
	defer func() { err = closed(s, err) }()
	ask := site.Ask{Title: v.Title, Day: v.Date, Recipes: v.Recipe, Sets: v.Set, Maker: v.maker(), Hide: v.HideAmounts, Notes: v.Notes}
	if ask.Language, err = languageIn(ctx, s, v.Language, t); err != nil {
		return err
	}
	done := published{Out: fullPath(v.Out)}
	build := func(put func(string, []byte) error) error {
		return site.Build(ctx, s, ask, func(name string, data []byte) error {
			done.Files++
			done.Bytes += int64(len(data))
			return put(name, data)
		}, nil)
	}
	if strings.EqualFold(filepath.Ext(v.Out), ".zip") {
		_, err = writeFile(v.Out, func(w io.Writer) error { return site.Zip(w, build) })
	} else {
		err = fullDisk(v.Out, site.Folder(v.Out, build))
	}
	if err != nil {
		return err
	}
	if v.JSON {
		return t.asJSON(done)
	}
	t.printf("The site is in %s: %d files, %.1f MB. Open index.html in a browser.\n", v.Out, done.Files, float64(done.Bytes)/1e6)
	return nil
}
