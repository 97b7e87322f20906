package web

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"net/http"
)

func (s *Server) timerRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /timers", s.timers)
	s.on(mux, "GET /timers/board", s.timersBoard)
	s.on(mux, "GET /clock", s.clock)
	s.on(mux, "GET /away", s.away)
	s.on(mux, "GET /worker.js", s.worker)
}

// timersPage is read across the room: the next timer as large as it goes, and
// the three after it.
type timersPage struct {
	Frame
	Tasks  []taskView
	Shape  taskView
	Studio string
}

func (s *Server) fillTimers(r *http.Request) (timersPage, error) {
	p := timersPage{Frame: s.frame(r, "Timers", "today"), Shape: cardShape, Studio: s.mark()}
	b, err := s.benchNow(r.Context())
	p.Tasks = b.tasks
	return p, err
}

func (s *Server) timers(w http.ResponseWriter, r *http.Request) error {
	p, err := s.fillTimers(r)
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "timers", p)
	return nil
}

func (s *Server) timersBoard(w http.ResponseWriter, r *http.Request) error {
	p, err := s.fillTimers(r)
	if err != nil {
		return err
	}
	return s.part(w, "timers", "board", p)
}

// clock is GET /clock: the studio's time in ms. A phone that halves the round
// trip knows its own clock's error to within that half. The studio's mark keeps
// one studio's late taps from going to another that is opened at its address.
func (s *Server) clock(w http.ResponseWriter, r *http.Request) error {
	writeJSON(w, http.StatusOK, map[string]any{"now": s.now().UnixMilli(), "studio": s.mark()})
	return nil
}

// mark tells this studio from others that may be opened at the same address.
func (s *Server) mark() string {
	h := sha256.Sum256([]byte(s.store.Dir()))
	return hex.EncodeToString(h[:6])
}

// away is GET /away: what the worker shows in the place of a page it does not keep, asked
// for while the laptop can still say it in the device's language.
func (s *Server) away(w http.ResponseWriter, r *http.Request) error {
	return s.part(w, "away", "away", nil)
}

// worker is GET /worker.js: the script that keeps Today and the timers at hand
// while the laptop is away. It lies at the top, since a worker may only see to
// pages below its own address.
func (s *Server) worker(w http.ResponseWriter, r *http.Request) error {
	b, err := staticFiles.ReadFile("static/worker.js")
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/javascript; charset=utf-8")
	w.Header().Set("Cache-Control", "no-cache")
	_, err = bytes.NewReader(b).WriteTo(w)
	return err
}
