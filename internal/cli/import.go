package cli

import (
	"context"
	"errors"
	"fmt"
	"os"

	"aerugo/internal/archive"
	"aerugo/internal/store"
)

type importVerb struct {
	File   string `arg:"" name:"archive" help:"The archive, as export wrote it."`
	Studio string `default:"studio" placeholder:"DIR" help:"The new studio's folder; it is made if it is not there (${default})."`
	JSON   bool   `name:"json" help:"Answer in JSON."`
}

// Help is shown below the verb's usage.
func (importVerb) Help() string {
	return `An archive is taken in whole or not at all, and only into a studio that has no swatches or recipes of its own.

` + exits
}

// imported is what import reports.
type imported struct {
	Studio   string `json:"studio"`
	File     string `json:"file"`
	Swatches int    `json:"swatches"`
	Photos   int    `json:"photos"`
}

// Run takes the archive in.
func (v importVerb) Run(ctx context.Context, t *term) (err error) {
	f, err := openFile(v.File, "an archive that export wrote")
	if err != nil {
		return err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return fmt.Errorf("look at %s: %w", v.File, err)
	}
	_, err = os.Lstat(v.Studio)
	fresh := errors.Is(err, os.ErrNotExist)
	s, err := store.Open(ctx, v.Studio, store.Options{})
	if err != nil {
		return err
	}
	report, err := archive.Import(ctx, s, f, info.Size())
	if err = closed(s, err); err != nil {
		if fresh {
			// An archive that was refused leaves no empty studio behind.
			if rerr := os.RemoveAll(v.Studio); rerr != nil {
				say(t.stderr, fmt.Sprintf("the new folder %s could not be removed again: %s", v.Studio, plainly(rerr)))
			}
		}
		return err
	}
	if v.JSON {
		return t.asJSON(imported{fullPath(v.Studio), fullPath(v.File), report.Swatches, report.Photos})
	}
	t.printf("%d swatches and %d photographs were taken into %s\n", report.Swatches, report.Photos, v.Studio)
	return nil
}
