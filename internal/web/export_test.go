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

// Patterns returns every route of the mux as it was registered.
func (s *Server) Patterns() []string { return s.patterns }

// TakeSeat takes one of the places for photographs in memory.
func (s *Server) TakeSeat(ctx context.Context) (func(), error) { return s.takeSeat(ctx) }

// HoldPlans keeps bench days from being planned again until it is let go.
func (s *Server) HoldPlans() (letGo func()) {
	s.days.work.Lock()
	return s.days.work.Unlock
}

// Settle waits for what was begun in the background.
func (s *Server) Settle() { s.background.Wait() }
