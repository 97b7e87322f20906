package cli

import (
	"io"
	"strings"
	"time"

	"aerugo/internal/flow/mat"
	"aerugo/internal/print"
	"aerugo/internal/studio"
)

type matVerb struct {
	Size     string `default:"A4" placeholder:"PAPER" help:"A4 or Letter (${default})."`
	Swatches int    `default:"1" placeholder:"N" help:"1: one swatch of up to 150 mm; 2: two side by side, of up to 85 mm each (${default})."`
	Out      string `name:"out" short:"o" required:"" placeholder:"FILE.pdf" help:"The file to write, '-' for standard output."`
	JSON     bool   `name:"json" help:"Answer in JSON (not together with -o -)."`
}

// Help is shown below the verb's usage.
func (matVerb) Help() string {
	return `The mat is printed once, at 100 %, and lies under the swatch in every photograph: by it the photograph is found, straightened, scaled and evened. Measure the ruler line on the print: it should be 100 mm long. From 98 to 102 mm, tell measure with --ruler-mm; beyond, print it again with 'fit to page' off.

` + exits
}

// matPrinted is what mat reports.
type matPrinted struct {
	File     string `json:"file"`
	Paper    string `json:"paper"`
	Swatches int    `json:"swatches"`
	Bytes    int64  `json:"bytes"`
}

// Run writes the mat.
func (v matVerb) Run(t *term) error {
	papers := map[string]string{"a4": "A4", "letter": "Letter"}
	paper, ok := papers[strings.ToLower(v.Size)]
	if !ok {
		return studio.Problemf(studio.Invalid, "size", "--size: there is no paper called %q here; write A4 or Letter", v.Size)
	}
	layout, ok := mat.LayoutOf(paper, mat.Kind(v.Swatches))
	if !ok {
		return studio.Problemf(studio.Invalid, "swatches", "--swatches: there is no mat for %d swatches; write 1 or 2", v.Swatches)
	}
	draw := func(w io.Writer) error { return print.Mat(w, layout, time.Now()) }
	if v.Out == "-" {
		if v.JSON {
			return studio.Problemf(studio.Invalid, "json", "--json and -o - both write to standard output; name a file with -o, or leave --json out")
		}
		return fullDisk("the mat", draw(t.stdout))
	}
	size, err := writeFile(v.Out, draw)
	if err != nil {
		return err
	}
	if v.JSON {
		return t.asJSON(matPrinted{fullPath(v.Out), paper, v.Swatches, size})
	}
	t.printf("%s is the %s; print it at 100 %% and check that its ruler line is 100 mm long\n", v.Out, layout.Name())
	return nil
}
