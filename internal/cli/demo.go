package cli

import (
	"context"
	"fmt"
	"os"
	"time"

	"aerugo/internal/demo"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

type demoVerb struct {
	Studio string `placeholder:"DIR" help:"Keep the invented studio in this folder; without it, it goes into a temporary folder that is removed at the end."`
	Addr   string `placeholder:"HOST:PORT" help:"Where to serve; without it at 127.0.0.1, port 8737 or the next free one."`
	NoOpen bool   `help:"Do not open the browser."`
	JSON   bool   `name:"json" help:"Say the address in JSON."`
}

// Help is shown below the verb's usage.
func (demoVerb) Help() string {
	return `Everything in it is invented and marked so. The pages are there at once; the photographs are drawn meanwhile. Ctrl-C ends it.

` + exits
}

// Run serves the invented studio until the program is stopped.
func (v demoVerb) Run(ctx context.Context, t *term) error { return untilStopped(ctx, v.show(ctx, t)) }

func (v demoVerb) show(ctx context.Context, t *term) (err error) {
	dir := v.Studio
	if dir == "" {
		if dir, err = os.MkdirTemp("", "aerugo-demo-"); err != nil {
			return studio.Problemf(studio.Machine, "studio", "no temporary folder can be made (%s); name a folder with --studio", plainly(err))
		}
		defer func() {
			if rerr := os.RemoveAll(dir); err == nil && rerr != nil {
				err = fmt.Errorf("remove the temporary folder: %w", rerr)
			}
		}()
	}
	l, err := listen(v.Addr)
	if err != nil {
		return err
	}
	defer l.Close()
	s, err := store.Open(ctx, dir, store.Options{})
	if err != nil {
		return err
	}
	defer func() { err = closed(s, err) }()
	if err := filled(ctx, s); err != nil {
		return err
	}
	h, err := newHost(ctx, s, l, t.stderr, false)
	if err != nil {
		return err
	}
	where := place{Address: h.address, Studio: fullPath(dir)}
	if !ownMachineOnly(l) {
		where.Join = h.address + "join?code=" + h.server.JoinCode()
	}
	return h.run(l, func() {
		t.announce(v.JSON, where, fmt.Sprintf("Aerugo shows an invented studio at %s (Ctrl-C ends it)", where.Address))
		h.draw()
		if !v.NoOpen {
			openBrowser(where.open())
		}
	})
}

// filled fills the example in unless it is there from before.
func filled(ctx context.Context, s *store.Store) error {
	has, err := s.HasInvented(ctx)
	if err != nil {
		return fmt.Errorf("look for the example: %w", err)
	}
	if has {
		return nil
	}
	return demo.Fill(ctx, s, time.Now())
}
