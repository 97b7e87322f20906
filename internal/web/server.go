package web

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"runtime/debug"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// Config is what a server needs.
type Config struct {
	Store   *store.Store
	Now     func() time.Time
	Log     *slog.Logger
	Version string
	// AskEveryone lets nobody in without a code, not even this machine's own
	// browser: for a laptop that other people use.
	AskEveryone bool
	// Listen opens a port for phones on an address of this machine; nil where
	// phones can't be let in.
	Listen func(ip string) (net.Listener, error)
	// Example fills the studio with invented records; nil where there are none.
	Example func(context.Context) error
}

// A Server answers the pages of one studio.
type Server struct {
	store   *store.Store
	now     func() time.Time
	log     *slog.Logger
	version string
	asks    bool
	pages   *pages
	tongues *tongues
	live    *live
	codes   codes
	share   share
	example func(context.Context) error
	handler http.Handler
	// patterns are the routes as they were registered
	patterns []string
	// starting is held from asking whether treatments may begin until they have
	starting sync.Mutex
	work     progress
	airs     airs
	// background is long work begun here; it must end before the store is closed
	background sync.WaitGroup
	through    seriesKept
	half       halfKept
	thoughts   thoughts
	references references    // pictures to pick a colour from
	seats      chan struct{} // for photographs in memory, see takeSeat
	screens    screens
	site       siteMade
	incoming   incoming
	days       days
	classSeat  chan struct{} // held while a student's photograph is read
	tries      tries         // of classes' codes
	moves      moves
	news       seatNews
	erased     atomic.Int64 // when students were last looked for whose time is up, ms
}

// progress tells pages how far long work in the background has come.
type progress struct {
	mu          sync.Mutex
	what        string
	done, total int
	stop        context.CancelFunc
	version     atomic.Uint64
}

// New returns a Server; it fails when a page's template does not parse.
func New(c Config) (*Server, error) {
	if c.Now == nil {
		c.Now = time.Now
	}
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	p, err := loadPages()
	if err != nil {
		return nil, fmt.Errorf("load pages: %w", err)
	}
	t, err := readTongues(c.Store, func(file string, err error) { c.Log.Warn("language left out", "file", file, "err", err) })
	if err != nil {
		return nil, fmt.Errorf("read languages: %w", err)
	}
	t.pages = p
	s := &Server{store: c.Store, now: c.Now, log: c.Log, version: c.Version, asks: c.AskEveryone, pages: p, tongues: t, live: newLive(), example: c.Example, seats: make(chan struct{}, 2), classSeat: make(chan struct{}, 1)}
	s.share.listen = c.Listen
	s.share.server = s
	s.handler = s.noting(s.languages(s.headers(s.recovered(s.guard(http.NewCrossOriginProtection().Handler(s.routes()))))))
	return s, nil
}

// ServeHTTP answers one request.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.handler.ServeHTTP(w, r) }

// Close ends the streams to open pages, the phones' port and long work begun
// here; it waits until that has let go of the store.
func (s *Server) Close() {
	s.work.mu.Lock()
	stop := s.work.stop
	s.work.mu.Unlock()
	if stop != nil {
		stop()
	}
	s.share.stop()
	s.live.close()
	s.background.Wait()
	s.site.keep("", 0, time.Time{}, "")
}

// Changed tells every open page that the studio changed.
func (s *Server) Changed() { s.live.changed() }

// Progress shows how far long work has come; done == total ends it. stop, if
// not nil, is what the page's Stop button calls.
func (s *Server) Progress(what string, done, total int, stop context.CancelFunc) {
	s.work.mu.Lock()
	if done >= total {
		what, done, total, stop = "", 0, 0, nil
	}
	s.work.what, s.work.done, s.work.total, s.work.stop = what, done, total, stop
	s.work.mu.Unlock()
	s.live.changed()
}

// handle registers a handler that returns its error.
type handler func(w http.ResponseWriter, r *http.Request) error

func (s *Server) on(mux *http.ServeMux, pattern string, h handler) {
	s.patterns = append(s.patterns, pattern)
	mux.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) {
		answer := w
		if strings.HasSuffix(pattern, ".pdf") && asPage(r) {
			answer = onPage{w, r}
		}
		if err := h(answer, r); err != nil {
			s.fail(w, r, err)
		}
	})
}

// status is the one mapping from a Problem's kind to an HTTP status.
func status(k studio.Kind) int {
	switch k {
	case studio.Invalid, studio.Unsafe:
		return http.StatusUnprocessableEntity
	case studio.NotFound:
		return http.StatusNotFound
	case studio.Conflict:
		return http.StatusConflict
	case studio.Machine:
		return http.StatusInsufficientStorage
	}
	return http.StatusInternalServerError
}

// failPage is shown when a request could not be answered.
type failPage struct {
	Frame
	Text string
}

// fail turns a returned error into a page, or into JSON for the bench pages' scripts.
func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	if errors.Is(err, context.Canceled) && r.Context().Err() != nil {
		return
	}
	p := studio.ProblemIn(err)
	code, text := http.StatusInternalServerError, "Something went wrong inside Aerugo. Nothing was half-saved. The program's own record of it is in the window it was started from."
	var tooBig *http.MaxBytesError
	switch {
	case p != nil:
		code, text = status(p.Kind), p.Text
	case errors.As(err, &tooBig):
		code, text = http.StatusRequestEntityTooLarge, fmt.Sprintf("That is more than the %d MB that can be sent at once.", tooBig.Limit>>20)
	default:
		s.log.Error("request failed", "method", r.Method, "path", r.URL.Path, "err", err)
	}
	if wantsJSON(r) {
		field := ""
		if p != nil {
			field = p.Field
		}
		writeJSON(w, code, map[string]any{"problem": text, "field": field})
		return
	}
	page := failPage{Frame: s.frame(r, "That did not work", ""), Text: text}
	if code == http.StatusNotFound {
		page.Title = "Not here"
	}
	s.show(w, code, "fail", page)
}

// recovered keeps one broken request from ending the program.
func (s *Server) recovered(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			if v := recover(); v != nil {
				if v == http.ErrAbortHandler {
					panic(v)
				}
				s.fail(w, r, fmt.Errorf("handler stopped on %v\n%s", v, debug.Stack()))
			}
		}()
		next.ServeHTTP(w, r)
	})
}

// headers sets what every answer carries: scripts, styles and pictures from
// here alone, and no address leaked to elsewhere.
func (s *Server) headers(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'self'; img-src 'self' data: blob:; object-src 'none'; base-uri 'none'; frame-ancestors 'none'; form-action 'self'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Permissions-Policy", "geolocation=(), microphone=()")
		if !strings.HasPrefix(r.URL.Path, "/static/") {
			h.Set("Cache-Control", "no-store")
		}
		next.ServeHTTP(w, r)
	})
}

func (s *Server) routes() http.Handler {
	mux := http.NewServeMux()
	mux.Handle("GET /static/", s.static())
	s.on(mux, "GET /live", s.liveStream)
	s.on(mux, "GET /join", s.joinForm)
	s.on(mux, "POST /join", s.join)
	s.on(mux, "POST /lightness", s.setLightness)
	s.on(mux, "POST /language", s.setLanguage)
	s.on(mux, "GET "+wordsPath, s.scriptWords)
	s.on(mux, "POST /progress/stop", s.stopWork)

	s.todayRoutes(mux)
	s.dayRoutes(mux)
	s.setRoutes(mux)
	s.recipeRoutes(mux)
	s.recipeFileRoutes(mux)
	s.publishRoutes(mux)
	s.pieceRoutes(mux)
	s.scaleRoutes(mux)
	s.libraryRoutes(mux)
	s.shelfRoutes(mux)
	s.sheetRoutes(mux)
	s.stockRoutes(mux)
	s.sheetStockRoutes(mux)
	s.costRoutes(mux)
	s.mixRoutes(mux)
	s.placeRoutes(mux)
	s.chamberRoutes(mux)
	s.stayRoutes(mux)
	s.studioRoutes(mux)
	s.swatchRoutes(mux)
	s.seriesRoutes(mux)
	s.photoRoutes(mux)
	s.setupRoutes(mux)
	s.redoRoutes(mux)
	s.judgeRoutes(mux)
	s.findingRoutes(mux)
	s.nextRoutes(mux)
	s.tasteRoutes(mux)
	s.batchRoutes(mux)
	s.classRoutes(mux)
	s.classPaperRoutes(mux)
	s.lastRoutes(mux)
	s.seatRoutes(mux)
	s.printRoutes(mux)
	s.storageRoutes(mux)
	s.on(mux, "/", func(w http.ResponseWriter, r *http.Request) error {
		return studio.Problemf(studio.NotFound, "", "There is no page %s here. The pages are listed at the top.", r.URL.Path)
	})
	return mux
}

func (s *Server) stopWork(w http.ResponseWriter, r *http.Request) error {
	s.work.mu.Lock()
	stop := s.work.stop
	s.work.mu.Unlock()
	if stop != nil {
		stop()
	}
	return back(w, r, "/")
}
