package web

import (
	"context"
	"sync"
	"sync/atomic"
	"time"
)

// thoughts keep what took long to work out, by what it was worked out from.
type thoughts struct {
	mu  sync.Mutex
	got map[string]*thought
}

// thought is one answer being worked out, or worked out.
type thought struct {
	done  chan struct{}
	told  atomic.Bool // a page says that it is being worked out
	value any
	err   error
	took  time.Time
}

// How many answers stay in memory, and how long a page waits for one before it says
// that it is being worked out.
const (
	mostThoughts = 24
	thoughtWait  = time.Second
)

// think returns the answer kept under a key, begun in the background if it is not
// there. An answer that failed is worked out again the next time.
func (s *Server) think(key string, work func() (any, error)) *thought {
	s.thoughts.mu.Lock()
	defer s.thoughts.mu.Unlock()
	if t, ok := s.thoughts.got[key]; ok {
		t.took = s.now()
		return t
	}
	if s.thoughts.got == nil {
		s.thoughts.got = map[string]*thought{}
	}
	for len(s.thoughts.got) >= mostThoughts {
		oldest := ""
		for k, t := range s.thoughts.got {
			if oldest == "" || t.took.Before(s.thoughts.got[oldest].took) {
				oldest = k
			}
		}
		delete(s.thoughts.got, oldest)
	}
	t := &thought{done: make(chan struct{}), took: s.now()}
	s.thoughts.got[key] = t
	s.background.Go(func() {
		defer func() {
			close(t.done)
			if t.told.Load() {
				s.live.changed() // the pages that wait look again
			}
		}()
		if t.value, t.err = work(); t.err != nil {
			s.thoughts.mu.Lock()
			delete(s.thoughts.got, key)
			s.thoughts.mu.Unlock()
		}
	})
	return t
}

// ready reports whether the answer is there, after a short wait.
func (t *thought) ready(ctx context.Context) bool {
	wait, stop := context.WithTimeout(ctx, thoughtWait)
	defer stop()
	select {
	case <-t.done:
		return true
	case <-wait.Done():
		t.told.Store(true)
		return false
	}
}
