package cli

import (
	"context"
	"errors"
	"io/fs"
	"os"

	"aerugo/internal/store"
	"aerugo/internal/studio"
)

type backupVerb struct {
	Studio string `default:"studio" placeholder:"DIR" help:"The studio's folder (${default})."`
	To     string `placeholder:"DIR" help:"A new folder for the copy; without it, one named after the time in the studio's backups."`
	JSON   bool   `name:"json" help:"Answer in JSON."`
}

// Help is shown below the verb's usage.
func (backupVerb) Help() string {
	return `The copy is a whole studio and can be opened by itself. A copy on another disk is the one that helps when this disk breaks.

` + exits
}

// backedUp is what backup reports.
type backedUp struct {
	Studio   string `json:"studio"`
	Backup   string `json:"backup"`
	Swatches int    `json:"swatches"`
	Photos   int    `json:"photos"`
}

// Run makes the copy.
func (v backupVerb) Run(ctx context.Context, t *term) (err error) {
	if err := studioIn(v.Studio); err != nil {
		return err
	}
	if v.To != "" {
		if err := newFolder(v.To); err != nil {
			return err
		}
	}
	s, err := store.Open(ctx, v.Studio, store.Options{})
	if err != nil {
		return err
	}
	defer func() { err = closed(s, err) }()
	counts, err := s.Seen(ctx)
	if err != nil {
		return err
	}
	where, err := s.Backup(ctx, v.To)
	if err != nil {
		return err
	}
	if v.JSON {
		return t.asJSON(backedUp{fullPath(v.Studio), fullPath(where), counts.Swatches, counts.Photos})
	}
	t.printf("The backup is in %s: %d swatches, %d photographs\n", where, counts.Swatches, counts.Photos)
	return nil
}

// newFolder refuses what can't become the folder of a backup.
func newFolder(path string) error {
	info, err := os.Stat(path)
	switch {
	case err == nil && !info.IsDir():
		return studio.Problemf(studio.Conflict, "to", "%s is a file; name a new folder for the backup", path)
	case err == nil || errors.Is(err, fs.ErrNotExist):
		return nil
	}
	return studio.Problemf(studio.Machine, "to", "%s can't be made (%s); name a new folder for the backup in one that is there", path, plainly(err))
}
