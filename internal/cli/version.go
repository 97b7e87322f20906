package cli

import (
	"runtime"
	"runtime/debug"
)

type versionVerb struct {
	JSON bool `name:"json" help:"Answer in JSON."`
}

// Help is shown below the verb's usage.
func (versionVerb) Help() string { return exits }

// build is what the program knows of how it was made.
type build struct {
	Version  string `json:"version"`
	Revision string `json:"revision"`
	Changed  bool   `json:"changed"` // files differed from the revision
	Go       string `json:"go"`
	System   string `json:"system"`
}

func buildOf() build {
	b := build{Version: "unknown", Go: runtime.Version(), System: runtime.GOOS + "/" + runtime.GOARCH}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return b
	}
	if info.Main.Version != "" {
		b.Version = info.Main.Version
	}
	for _, s := range info.Settings {
		switch s.Key {
		case "vcs.revision":
			b.Revision = s.Value
		case "vcs.modified":
			b.Changed = s.Value == "true"
		}
	}
	return b
}

// Run says which Aerugo this is.
func (v versionVerb) Run(t *term) error {
	b := buildOf()
	if v.JSON {
		return t.asJSON(b)
	}
	t.printf("aerugo %s (%s, %s)\n", b.Version, b.Go, b.System)
	return nil
}
