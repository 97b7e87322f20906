package web

import (
	"context"
	"fmt"
	"net/http"
	"strconv"
	"sync"
	"time"

	"aerugo/internal/studio"
)

// live tells open pages that the studio changed. It sends no data: a page
// fetches what it shows, so a missed message is mended by the next one.
type live struct {
	mu      sync.Mutex
	version uint64
	waiting map[chan uint64]bool
	closed  chan struct{}
	once    sync.Once
}

func newLive() *live {
	return &live{waiting: map[chan uint64]bool{}, closed: make(chan struct{})}
}

func (l *live) changed() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.version++
	for c := range l.waiting {
		select {
		case c <- l.version:
		default: // it has one message waiting already, which is enough
		}
	}
}

func (l *live) join() (chan uint64, uint64) {
	c := make(chan uint64, 1)
	l.mu.Lock()
	defer l.mu.Unlock()
	l.waiting[c] = true
	return c, l.version
}

func (l *live) now() uint64 {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.version
}

func (l *live) leave(c chan uint64) {
	l.mu.Lock()
	defer l.mu.Unlock()
	delete(l.waiting, c)
}

// editionKey is where a request keeps which version of the studio it is answered from.
type editionKey struct{}

// noting notes the version before anything is read for an answer: a page that hears of
// another one when its stream opens fetches its live parts again.
func (s *Server) noting(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		next.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), editionKey{}, s.live.now())))
	})
}

func editionOf(r *http.Request) string {
	v, _ := r.Context().Value(editionKey{}).(uint64)
	return strconv.FormatUint(v, 10)
}

func (l *live) close() { l.once.Do(func() { close(l.closed) }) }

// liveStream is GET /live: server-sent events 'now' (the server's clock in ms,
// by which a phone corrects its own) and 'changed'.
func (s *Server) liveStream(w http.ResponseWriter, r *http.Request) error {
	rc := http.NewResponseController(w)
	_ = rc.SetWriteDeadline(time.Time{}) // a stream has no end to be late for
	h := w.Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("Cache-Control", "no-store")
	c, version := s.live.join()
	defer s.live.leave(c)
	seat, seated := r.Context().Value(seatKey{}).(studio.Seat)
	if seated { // a student's phone hears only of its own
		mark, there, err := s.newsOf(r.Context(), seat, version)
		if err != nil || !there {
			return err
		}
		version = mark
	}
	send := func(event string, v any) bool {
		_, err := fmt.Fprintf(w, "event: %s\ndata: %v\n\n", event, v)
		return err == nil && rc.Flush() == nil
	}
	if !send("now", s.now().UnixMilli()) || !send("version", version) {
		return nil
	}
	beat := time.NewTicker(20 * time.Second)
	defer beat.Stop()
	for {
		select {
		case <-r.Context().Done():
			return nil
		case <-s.live.closed:
			return nil
		case v := <-c:
			if seated {
				mark, there, err := s.newsOf(r.Context(), seat, s.live.now()) // v may be older than what was left out while it waited
				if err != nil || !there {
					return nil // it connects again, and is told
				}
				if mark == version {
					continue
				}
				v, version = mark, mark
			}
			if !send("changed", v) {
				return nil
			}
		case <-beat.C:
			if !send("now", s.now().UnixMilli()) {
				return nil
			}
		}
	}
}
