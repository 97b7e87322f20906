package cli

import (
	"context"

	"aerugo/internal/store"
)

type restoreVerb struct {
	Backup string `arg:"" name:"backup" help:"The backup's folder."`
	Studio string `default:"studio" placeholder:"DIR" help:"Where the studio goes (${default})."`
	JSON   bool   `name:"json" help:"Answer in JSON."`
}

// Help is shown below the verb's usage.
func (restoreVerb) Help() string {
	return `Into a new or empty folder, or over a studio: its present state is first moved into its backups, so that nothing is lost.

` + exits
}

// restored is what restore reports.
type restored struct {
	Studio string `json:"studio"`
	Backup string `json:"backup"`
}

// Run brings the backup back.
func (v restoreVerb) Run(ctx context.Context, t *term) error {
	if err := store.Restore(ctx, v.Backup, v.Studio); err != nil {
		return err
	}
	if v.JSON {
		return t.asJSON(restored{fullPath(v.Studio), fullPath(v.Backup)})
	}
	t.printf("The studio in %s is as it was in %s\n", v.Studio, v.Backup)
	return nil
}
