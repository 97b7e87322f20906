package web

import (
	"context"
	"errors"
	"fmt"
	"sync/atomic"
	"testing"
	"time"
)

// An answer is worked out once, however many ask; a page that does not wait for it is
// told when it is there; one that failed is worked out anew; few are kept.
func TestThoughtsAreWorkedOutOnce(t *testing.T) {
	s := &Server{now: time.Now, live: newLive()}
	t.Cleanup(s.live.close)
	var times atomic.Int64
	release := make(chan struct{})
	work := func() (any, error) {
		times.Add(1)
		<-release
		return 42, nil
	}
	gone, stop := context.WithCancel(t.Context())
	stop() // a page that does not wait at all
	a, b := s.think("one", work), s.think("one", work)
	if a != b || a.ready(gone) || !a.told.Load() {
		t.Fatal("an answer still being worked out is taken for ready, or nobody is told of it")
	}
	close(release)
	<-a.done
	if got := s.think("one", work); !got.ready(t.Context()) || got.value != 42 || times.Load() != 1 {
		t.Errorf("answer %v after %d times", got.value, times.Load())
	}
	fail := func() (any, error) { times.Add(1); return nil, errors.New("no") }
	for range 2 {
		x := s.think("two", fail)
		<-x.done
		if x.err == nil {
			t.Error("a failure is lost")
		}
		s.background.Wait()
	}
	if times.Load() != 3 {
		t.Errorf("a failure is kept: %d times", times.Load())
	}
	for i := range 2 * mostThoughts {
		<-s.think(fmt.Sprint("more", i), func() (any, error) { return i, nil }).done
	}
	if n := len(s.thoughts.got); n > mostThoughts {
		t.Errorf("%d answers are kept, %d are meant", n, mostThoughts)
	}
}
