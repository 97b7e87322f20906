package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"runtime"
	"sync"
	"time"

	"aerugo/internal/demo"
	"aerugo/internal/store"
	"aerugo/internal/studio"
	"aerugo/internal/web"
)

// farewell is how long pages still being answered may take at the end.
const farewell = 3 * time.Second

// A host serves one open studio until its context ends.
type host struct {
	studio  *store.Store
	server  *web.Server
	http    *http.Server
	log     *slog.Logger
	address string // for this machine's browser

	background sync.WaitGroup
	ending     context.Context // done when the host ends
	end        context.CancelFunc
	drawing    sync.Mutex // one drawing of the example's photographs at a time
}

// newHost makes a host for s on l. It serves nothing before run.
func newHost(ctx context.Context, s *store.Store, l net.Listener, stderr io.Writer, askEveryone bool) (*host, error) {
	log := slog.New(slog.NewTextHandler(linesTo{stderr}, &slog.HandlerOptions{Level: slog.LevelWarn}))
	h := &host{studio: s, log: log, address: addressOf(l)}
	server, err := web.New(web.Config{
		Store: s, Now: time.Now, Log: log, Version: buildOf().Version,
		AskEveryone: askEveryone, Listen: phonePort(l), Example: h.example,
	})
	if err != nil {
		return nil, fmt.Errorf("make the pages: %w", err)
	}
	h.server = server
	h.ending, h.end = context.WithCancel(ctx)
	// No limit on writing: pages hold a stream open to learn of changes.
	h.http = &http.Server{Handler: server, ReadHeaderTimeout: 10 * time.Second, ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelWarn)}
	return h, nil
}

// run serves on l until the context given to newHost ends, then ends
// gracefully: streams first, then pages under way, then work in the background.
func (h *host) run(l net.Listener, ready func()) error {
	failed := make(chan error, 1)
	go func() { failed <- h.http.Serve(l) }()
	ready()
	var err error
	select {
	case <-h.ending.Done():
	case err = <-failed:
	}
	h.end()
	h.server.Close()
	ctx, cancel := context.WithTimeout(context.Background(), farewell)
	defer cancel()
	if h.http.Shutdown(ctx) != nil {
		_ = h.http.Close() // whoever still waits has had the time agreed on
	}
	h.background.Wait()
	if err != nil && !errors.Is(err, http.ErrServerClosed) {
		return fmt.Errorf("serve %s: %w", h.address, err)
	}
	return nil
}

// example fills in the invented example and draws its photographs in the background.
func (h *host) example(ctx context.Context) error {
	if err := demo.Fill(ctx, h.studio, time.Now()); err != nil {
		return err
	}
	h.draw()
	return nil
}

// draw draws the example's photographs in the background, and tells the pages
// how far it has come. Called again, it takes up what is missing.
func (h *host) draw() {
	h.background.Go(func() {
		h.drawing.Lock()
		defer h.drawing.Unlock()
		ctx, stop := context.WithCancel(h.ending)
		defer stop()
		const what = "Drawing the invented photographs"
		err := demo.Develop(ctx, h.studio, runtime.GOMAXPROCS(0), func(done, total int) {
			h.server.Progress(what, done, total, stop)
		})
		h.server.Progress(what, 1, 1, nil)
		if err != nil && !errors.Is(err, context.Canceled) && studio.ProblemIn(err) == nil {
			h.log.Error("the invented photographs were not all drawn", "err", err)
		}
	})
}

// linesTo puts the program's name before each line of the log.
type linesTo struct{ w io.Writer }

// Write writes one line of the log.
func (l linesTo) Write(b []byte) (int, error) {
	if _, err := fmt.Fprintf(l.w, "aerugo: %s", b); err != nil {
		return 0, err
	}
	return len(b), nil
}
