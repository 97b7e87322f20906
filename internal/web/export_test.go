package web

import (
	"context"
	"net/http"
)

// OpenDoor makes the phones' port look open at these addresses, so that a test
// needs no network.
func (s *Server) OpenDoor(addresses ...string) {
	s.share.mu.Lock()
	defer s.share.mu.Unlock()
	s.share.http, s.share.addresses = &http.Server{}, addresses
}

// TakeSeat takes one of the places for photographs in memory.
func (s *Server) TakeSeat(ctx context.Context) (func(), error) { return s.takeSeat(ctx) }
