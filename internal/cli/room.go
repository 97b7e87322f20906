package cli

import "sync"

// room hands out a fixed amount of memory. One that asks for more than there is
// gets all of it, alone.
type room struct {
	mu   sync.Mutex
	more *sync.Cond
	all  int64
	free int64
}

func newRoom(all int64) *room {
	r := &room{all: all, free: all}
	r.more = sync.NewCond(&r.mu)
	return r
}

// take waits until n bytes are free and returns how many were taken.
func (r *room) take(n int64) int64 {
	r.mu.Lock()
	defer r.mu.Unlock()
	n = min(n, r.all)
	for r.free < n {
		r.more.Wait()
	}
	r.free -= n
	return n
}

// give returns n bytes.
func (r *room) give(n int64) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.free += n
	r.more.Broadcast()
}
