package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"

	"github.com/alecthomas/kong"

	"aerugo/internal/studio"
)

// The exit statuses.
const (
	exitFine = 0
	exitOurs = 1 // a fault of the program or the machine, or it was stopped
	exitMend = 2 // something the person can mend
)

const exits = `Exit status: 0 all went well; 2 something you can mend, said on standard error in a line that starts with "aerugo: "; 1 a fault of Aerugo's or of this machine's, or it was stopped.`

const description = `Plan, run, measure and learn from patina swatches on copper, brass and bronze.

` + exits

// grammar is what can be typed.
type grammar struct {
	Demo    demoVerb    `cmd:"" help:"Show an invented studio in the browser, to look around in."`
	Serve   serveVerb   `cmd:"" help:"Serve your own studio to this machine's browser and to phones you let in."`
	Measure measureVerb `cmd:"" help:"Read colour, palette and coverage from photographs."`
	Grains  grainsVerb  `cmd:"" help:"Count salt grains in a photograph, and tell their loading by a weighed face."`
	Air     airVerb     `cmd:"" help:"Say what an opened lid or a spill of ammonia does to a room's air."`
	Chamber chamberVerb `cmd:"" help:"Say what the air under the lid does, and when the salt on a face has dissolved."`
	Dry     dryVerb     `cmd:"" help:"Say when a wet face has dried in a room, or that it will not."`
	Pool    poolVerb    `cmd:"" help:"Say whether liquid stays where it was put, or beads or runs."`
	Scale   scaleVerb   `cmd:"" help:"Say what a real piece takes of a recipe that was tried on a swatch."`
	Dilute  diluteVerb  `cmd:"" help:"Say what to weigh to let a bottle down or to dissolve a salt."`
	Day     dayVerb     `cmd:"" name:"timetable" help:"Plan a bench day: when each step starts, with your hands, places, waits and hours."`
	Meet    meetVerb    `cmd:"" help:"Say whether substances may meet: mixed, on a shelf or in a room."`
	Predict predictVerb `cmd:"" help:"Say what colour a swatch not yet made should come out, from those that were."`
	Next    nextVerb    `cmd:"" help:"Say which swatches to make next: toward a colour, or to learn what a factor does."`
	Design  designVerb  `cmd:"" help:"Plan swatches that can answer a question, and say what they can't tell."`
	Mat     matVerb     `cmd:"" help:"Print the mat that photographs are taken on (PDF)."`
	Colour  colourVerb  `cmd:"" help:"Colour sums."`
	Effects effectsVerb `cmd:"" help:"Say what causes what in a table of swatches."`
	Curve   curveVerb   `cmd:"" help:"Say when something began to grow, was half way, and where it ends."`
	Rank    rankVerb    `cmd:"" help:"Rank looks by choices between two."`
	Recipe  recipeVerb  `cmd:"" help:"Hand recipes on, and take in those of others."`
	Publish publishVerb `cmd:"" help:"Make a small website of recipes and swatches."`
	Export  exportVerb  `cmd:"" help:"Write a whole studio into one open archive (ZIP)."`
	Import  importVerb  `cmd:"" help:"Take such an archive into a new studio."`
	Backup  backupVerb  `cmd:"" help:"Make a complete copy of a studio."`
	Restore restoreVerb `cmd:"" help:"Bring a backup back."`
	Version versionVerb `cmd:"" help:"Say which Aerugo this is."`
}

// term is where a verb reads and writes.
type term struct {
	stdin  io.Reader
	stdout *answer
	stderr io.Writer
}

// answer remembers the first write that failed, so that an answer that did not
// arrive is not taken for one that did.
type answer struct {
	w   io.Writer
	err error
}

// Write writes b unless an earlier write failed.
func (a *answer) Write(b []byte) (int, error) {
	if a.err != nil {
		return 0, a.err
	}
	var n int
	n, a.err = a.w.Write(b)
	return n, a.err
}

// silent ends the program with a status when all has been said.
type silent struct{ status int }

// Error says so, should anyone ask.
func (s silent) Error() string { return fmt.Sprintf("ended with status %d", s.status) }

// helpShown unwinds the parser once a help text has been printed.
type helpShown struct{}

// Main runs the command line args (without the program's name) and returns the
// exit status.
func Main(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	// A second Ctrl-C ends the program at once.
	context.AfterFunc(ctx, stop)

	t := &term{stdin: stdin, stdout: &answer{w: stdout}, stderr: stderr}
	err := run(ctx, t, args)
	if t.stdout.err != nil {
		err = fullDisk("the answer", fmt.Errorf("write the answer: %w", t.stdout.err))
	}
	return report(ctx, stderr, err)
}

// run parses args and runs the verb they name.
func run(ctx context.Context, t *term, args []string) (err error) {
	var g grammar
	parser, err := kong.New(&g,
		kong.Name("aerugo"),
		kong.Description(description),
		kong.Writers(t.stdout, t.stderr),
		kong.Exit(func(int) { panic(helpShown{}) }),
		kong.ConfigureHelp(kong.HelpOptions{WrapUpperBound: 100, NoExpandSubcommands: true}),
		kong.BindTo(ctx, (*context.Context)(nil)),
		kong.Bind(t),
	)
	if err != nil {
		return fmt.Errorf("read the grammar: %w", err)
	}
	defer func() {
		if v := recover(); v != nil {
			if _, ok := v.(helpShown); !ok {
				panic(v)
			}
			err = nil
		}
	}()
	if len(args) > 0 && args[0] == "help" {
		args = append(args[1:len(args):len(args)], "--help")
	}
	parsed, err := parser.Parse(args)
	if err != nil {
		return misread(parser, args, err)
	}
	return parsed.Run()
}

// report says what went wrong, if anything did, and returns the exit status.
func report(ctx context.Context, stderr io.Writer, err error) int {
	if err == nil {
		return exitFine
	}
	var said silent
	if errors.As(err, &said) {
		return said.status
	}
	if p := studio.ProblemIn(err); p != nil {
		say(stderr, p.Text)
		return exitMend
	}
	if ctx.Err() != nil && errors.Is(err, context.Canceled) {
		say(stderr, "stopped before it was done; nothing was half-written")
		return exitOurs
	}
	say(stderr, fmt.Sprintf("this is a fault of Aerugo's or of this machine, not yours: %v", err))
	return exitOurs
}

// say writes one line for the person, whatever line breaks text has.
func say(stderr io.Writer, text string) {
	fmt.Fprintf(stderr, "aerugo: %s\n", strings.Join(strings.Fields(text), " "))
}
