package web

import (
	"context"
	"fmt"
	"net/http"
	"runtime"
	"sync"
	"sync/atomic"

	"aerugo/internal/flow/measure"
	"aerugo/internal/studio"
)

func (s *Server) redoRoutes(mux *http.ServeMux) {
	s.on(mux, "POST /remeasure", s.remeasure)
}

// remeasure is POST /remeasure: every photograph that was measured is read once
// more, by today's method and the marks it has; the old readings stay. It goes
// on in the background, can be stopped, and begins where it left off, since
// what today's method has read is passed over.
func (s *Server) remeasure(w http.ResponseWriter, r *http.Request) error {
	photos, err := s.outdated(r.Context(), r.FormValue("all") != "")
	if err != nil {
		return err
	}
	if len(photos) == 0 {
		return backSaying(w, r, "/studio", "Every measured photograph was read by today's method ("+measure.Version+") already.")
	}
	ctx, stop := context.WithCancel(context.Background())
	if !s.beginWork("Measuring photographs again", len(photos), stop) {
		stop()
		return studio.Problemf(studio.Conflict, "", "Other long work is under way; wait for it, or stop it first.")
	}
	s.background.Go(func() { s.measureAgain(ctx, stop, photos) })
	return backSaying(w, r, "/studio", fmt.Sprintf("%d photographs are being measured again. You can go on working.", len(photos)))
}

// beginWork shows long work on every page, unless other work is shown already.
func (s *Server) beginWork(what string, total int, stop context.CancelFunc) bool {
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	if s.work.what != "" {
		return false
	}
	s.work.what, s.work.done, s.work.total, s.work.stop = what, 0, total, stop
	return true
}

// outdated lists the measured photographs that another version of the method
// read, or all of them.
func (s *Server) outdated(ctx context.Context, all bool) ([]studio.Photo, error) {
	swatches, err := s.store.Swatches(ctx)
	if err != nil {
		return nil, err
	}
	var out []studio.Photo
	for _, x := range swatches {
		photos, err := s.store.PhotosOf(ctx, x.Number)
		if err != nil {
			return nil, err
		}
		for _, p := range photos {
			if p.Measurement != nil && (all || p.Measurement.Method != measure.Version) {
				out = append(out, p)
			}
		}
	}
	return out, nil
}

func (s *Server) measureAgain(ctx context.Context, stop context.CancelFunc, photos []studio.Photo) {
	defer stop()
	var done atomic.Int64
	next := make(chan studio.Photo)
	var wait sync.WaitGroup
	for range min(2, runtime.GOMAXPROCS(0)) { // each holds a whole photograph in memory
		wait.Go(func() {
			for p := range next {
				m, err := s.measure(ctx, p, p.Measurement.Marks)
				if err == nil {
					_, err = s.store.AddMeasurement(ctx, m)
				}
				if err != nil && ctx.Err() == nil {
					s.log.Warn("photograph not measured again", "photo", p.ID, "err", err) // its old reading stays
				}
				s.Progress("Measuring photographs again", int(done.Add(1)), len(photos)+1, stop)
			}
		})
	}
feed:
	for _, p := range photos {
		select {
		case next <- p:
		case <-ctx.Done():
			break feed
		}
	}
	close(next)
	wait.Wait()
	s.Progress("", 1, 1, nil)
}
