package cli

import (
	"context"
	"io"

	"aerugo/internal/archive"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

type exportVerb struct {
	Studio string `default:"studio" placeholder:"DIR" help:"The studio's folder (${default})."`
	To     string `required:"" placeholder:"FILE.zip" help:"The archive to write, '-' for standard output."`
	JSON   bool   `name:"json" help:"Answer in JSON (not together with --to -)."`
}

// Help is shown below the verb's usage.
func (exportVerb) Help() string {
	return `The archive holds every record as JSON and as tables (CSV), and the photographs. It is written beside its final name and gets that name when it is whole; a file of that name is then replaced.

` + exits
}

// exported is what export reports.
type exported struct {
	Studio   string `json:"studio"`
	File     string `json:"file"`
	Bytes    int64  `json:"bytes"`
	Swatches int    `json:"swatches"`
	Photos   int    `json:"photos"`
}

// Run writes the archive.
func (v exportVerb) Run(ctx context.Context, t *term) (err error) {
	if v.To == "-" && v.JSON {
		return studio.Problemf(studio.Invalid, "json", "--json and --to - both write to standard output; name a file with --to, or leave --json out")
	}
	if err := studioIn(v.Studio); err != nil {
		return err
	}
	s, err := store.Open(ctx, v.Studio, store.Options{})
	if err != nil {
		return err
	}
	defer func() { err = closed(s, err) }()
	if v.To == "-" {
		return fullDisk("the archive", archive.Export(ctx, s, t.stdout))
	}
	counts, err := s.Seen(ctx)
	if err != nil {
		return err
	}
	size, err := writeFile(v.To, func(w io.Writer) error { return archive.Export(ctx, s, w) })
	if err != nil {
		return err
	}
	if v.JSON {
		return t.asJSON(exported{fullPath(v.Studio), fullPath(v.To), size, counts.Swatches, counts.Photos})
	}
	t.printf("%s holds the whole studio: %d swatches, %d photographs, %.1f MB\n", v.To, counts.Swatches, counts.Photos, float64(size)/1e6)
	return nil
}
