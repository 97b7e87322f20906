package cli

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"

	"aerugo/internal/store"
)

type serveVerb struct {
	Studio      string `default:"studio" placeholder:"DIR" help:"The studio's folder; it is made if it is not there (${default})."`
	Addr        string `placeholder:"HOST:PORT" help:"Where to serve; without it at 127.0.0.1, port 8737 or the next free one."`
	AskEveryone bool   `help:"Let nobody in without a code, not even this machine's own browser."`
	NoOpen      bool   `help:"Do not open the browser."`
	JSON        bool   `name:"json" help:"Say the address in JSON."`
}

// Help is shown below the verb's usage.
func (serveVerb) Help() string {
	return `Ctrl-C ends it. What is in the studio's bin for more than 30 days is removed at the start.

` + exits
}

// place is what serve and demo say once they serve.
type place struct {
	Address string `json:"address"`
	Studio  string `json:"studio"`
	Join    string `json:"join,omitempty"`
}

// Run serves the studio until the program is stopped.
func (v serveVerb) Run(ctx context.Context, t *term) error { return untilStopped(ctx, v.serve(ctx, t)) }

func (v serveVerb) serve(ctx context.Context, t *term) (err error) {
	s, err := store.Open(ctx, v.Studio, store.Options{})
	if err != nil {
		return err
	}
	defer func() { err = closed(s, err) }()
	if _, err := s.PurgeBin(ctx); err != nil {
		return fmt.Errorf("empty the bin: %w", err)
	}
	l, err := listen(v.Addr)
	if err != nil {
		return err
	}
	defer l.Close()
	h, err := newHost(ctx, s, l, t.stderr, v.AskEveryone)
	if err != nil {
		return err
	}
	where := place{Address: h.address, Studio: fullPath(v.Studio)}
	if v.AskEveryone || !ownMachineOnly(l) {
		where.Join = h.address + "join?code=" + h.server.JoinCode()
	}
	return h.run(l, func() {
		t.announce(v.JSON, where, fmt.Sprintf("Aerugo serves the studio in %s at %s (Ctrl-C ends it)", v.Studio, where.Address))
		if !v.NoOpen {
			openBrowser(where.open())
		}
	})
}

// open is the address the browser starts at.
func (p place) open() string {
	if p.Join != "" {
		return p.Join
	}
	return p.Address
}

// announce says where the pages are.
func (t *term) announce(json bool, where place, sentence string) {
	if json {
		_ = t.asJSON(where) // the failure is kept in t.stdout
		return
	}
	t.printf("%s\n", sentence)
	if where.Join != "" {
		t.printf("Let this machine's own browser in, once, within ten minutes: %s\n", where.Join)
	}
}

// closed closes the studio; a failure to do so counts if nothing else failed.
func closed(s *store.Store, err error) error {
	if cerr := s.Close(); err == nil && cerr != nil {
		return fmt.Errorf("close the studio: %w", cerr)
	}
	return err
}

// untilStopped takes an end that was asked for as none of the faults, also
// where it came before the pages were there.
func untilStopped(ctx context.Context, err error) error {
	if ctx.Err() != nil && errors.Is(err, context.Canceled) {
		return nil
	}
	return err
}

// fullPath returns dir from the root of the disk, as scripts need it.
func fullPath(dir string) string {
	if full, err := filepath.Abs(dir); err == nil {
		return full
	}
	return dir
}
