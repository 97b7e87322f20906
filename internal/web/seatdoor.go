package web

import (
	"context"
	"crypto/rand"
	"fmt"
	"hash/fnv"
	"math/big"
	"net"
	"net/http"
	"net/netip"
	"strings"
	"sync"
	"time"

	"aerugo/internal/studio"
)

// seatCookie keeps a student's phone at its seat.
const seatCookie = "aerugo_seat"

type seatKey struct{}

// seatOf returns the seat whose cookie the request carries.
func (s *Server) seatOf(r *http.Request) (studio.Seat, bool) {
	if x, ok := r.Context().Value(seatKey{}).(studio.Seat); ok {
		return x, true
	}
	c, err := r.Cookie(seatCookie)
	if err != nil || c.Value == "" {
		return studio.Seat{}, false
	}
	x, err := s.store.SeatByToken(r.Context(), tokenHash(c.Value))
	return x, err == nil
}

// seatMay reports whether a student's phone may ask for this at all: its own pages, the
// stream, the studio's clock, and its own surround and language. What of a page is its own
// the page's handler looks after.
func seatMay(r *http.Request) bool {
	switch {
	case r.URL.Path == "/seat", strings.HasPrefix(r.URL.Path, "/seat/"):
		return true
	case r.Method == http.MethodGet || r.Method == http.MethodHead:
		return r.URL.Path == "/live" || r.URL.Path == "/clock" || r.URL.Path == wordsPath
	}
	return r.URL.Path == "/lightness" || r.URL.Path == "/language"
}

// seatGuard sees to a request that no device of the studio made: it reports whether it
// answered. A student's phone goes on to its own pages, and a stranger to the page that
// asks for a class's code.
func (s *Server) seatGuard(next http.Handler, w http.ResponseWriter, r *http.Request) bool {
	if r.URL.Path == "/seat" || r.URL.Path == "/seat/join" {
		next.ServeHTTP(w, r)
		return true
	}
	x, ok := s.seatOf(r)
	if !ok {
		return false
	}
	if seatMay(r) {
		next.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), seatKey{}, x)))
		return true
	}
	const text = "Your phone is at a seat in the class and shows the class only; the rest of the studio is your teacher’s."
	if wantsJSON(r) || r.Method != http.MethodGet {
		writeJSON(w, http.StatusForbidden, map[string]any{"problem": text})
		return true
	}
	s.show(w, http.StatusForbidden, "fail", failPage{Frame: s.seatFrame(r, "Not for this seat", x), Text: text})
	return true
}

// onLocalNetwork reports whether a request came from this machine or the network it is
// on. A class's code is of no use from elsewhere.
func onLocalNetwork(r *http.Request) bool {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return false
	}
	ip, err := netip.ParseAddr(host)
	if err != nil {
		return false
	}
	ip = ip.Unmap()
	if ip.IsLoopback() || ip.IsPrivate() || ip.IsLinkLocalUnicast() {
		return true
	}
	own, err := net.InterfaceAddrs() // some schools give every device a public address
	if err != nil {
		return false
	}
	for _, a := range own {
		if n, ok := a.(*net.IPNet); ok && n.Contains(net.IP(ip.AsSlice())) {
			return true
		}
	}
	return false
}

// How often one address may try a wrong code before it has to wait.
const (
	wrongCodes = 10
	wrongFor   = 10 * time.Minute
)

// tries counts wrong codes by address. With 20 letters in six places, a network of 254
// addresses that all try as often as they may for four hours has one chance in a
// thousand.
type tries struct {
	mu   sync.Mutex
	made map[string][]time.Time
}

func addressOf(r *http.Request) string {
	host, _, _ := net.SplitHostPort(r.RemoteAddr)
	return host
}

// wait is how long an address has to wait; 0 when it may try.
func (t *tries) wait(address string, now time.Time) time.Duration {
	t.mu.Lock()
	defer t.mu.Unlock()
	var recent []time.Time
	for _, at := range t.made[address] {
		if now.Sub(at) < wrongFor {
			recent = append(recent, at)
		}
	}
	if len(recent) == 0 {
		delete(t.made, address)
		return 0
	}
	t.made[address] = recent
	if len(recent) < wrongCodes {
		return 0
	}
	return wrongFor - now.Sub(recent[0])
}

func (t *tries) wrong(address string, now time.Time) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.made == nil {
		t.made = map[string][]time.Time{}
	}
	t.made[address] = append(t.made[address], now)
}

// doorCode makes a fresh code.
func doorCode() string {
	var b strings.Builder
	for range studio.DoorLength {
		n, err := rand.Int(rand.Reader, big.NewInt(int64(len(studio.DoorLetters))))
		if err != nil {
			panic(err) // by its documentation the reader never fails
		}
		b.WriteByte(studio.DoorLetters[n.Int64()])
	}
	return b.String()
}

// moves are one-time codes that bring another phone to a seat. They live in memory.
type moves struct {
	mu   sync.Mutex
	made map[string]move
}

type move struct {
	seat int64
	at   time.Time
}

func (m *moves) issue(seat int64, now time.Time) string {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.made == nil {
		m.made = map[string]move{}
	}
	for code, x := range m.made {
		if x.seat == seat || now.Sub(x.at) > codeLife {
			delete(m.made, code)
		}
	}
	code := doorCode()
	m.made[code] = move{seat, now}
	return code
}

// seat returns the seat a code leads to, 0 for none; spend uses it up.
func (m *moves) seat(code string, now time.Time, spend bool) int64 {
	m.mu.Lock()
	defer m.mu.Unlock()
	x, ok := m.made[code]
	if !ok || now.Sub(x.at) > codeLife {
		return 0
	}
	if spend {
		delete(m.made, code)
	}
	return x.seat
}

// seatNews keeps what there is to tell each seat, read once for every change of the
// studio however many phones listen.
type seatNews struct {
	mu   sync.Mutex
	made map[int64]newsOf
}

type newsOf struct {
	version uint64
	seats   map[int64]uint64
}

// of returns a number that changes when a seat's pages do, and false once the seat is
// gone.
func (s *Server) newsOf(ctx context.Context, seat studio.Seat, version uint64) (uint64, bool, error) {
	n := &s.news
	n.mu.Lock()
	defer n.mu.Unlock()
	have, ok := n.made[seat.Class]
	if !ok || have.version < version {
		texts, err := s.store.SeatNews(ctx, seat.Class)
		if err != nil {
			return 0, false, err
		}
		have = newsOf{version, map[int64]uint64{}}
		for id, text := range texts {
			h := fnv.New64a()
			fmt.Fprint(h, text)
			have.seats[id] = h.Sum64() >> 12 // a script's number holds 53 bits
		}
		if n.made == nil {
			n.made = map[int64]newsOf{}
		}
		n.made[seat.Class] = have
	}
	mark, there := have.seats[seat.ID]
	return mark, there, nil
}

// eraseDue erases students whose time is up. It looks once an hour, when somebody asks
// for anything.
func (s *Server) eraseDue(ctx context.Context) {
	now := s.now()
	last := s.erased.Load()
	if last != 0 && now.Sub(time.UnixMilli(last)).Abs() < time.Hour || !s.erased.CompareAndSwap(last, now.UnixMilli()) {
		return
	}
	n, err := s.store.EraseDueSeats(ctx)
	if err != nil {
		s.log.Error("students whose time is up not erased", "err", err)
	}
	if n > 0 {
		s.live.changed()
	}
}
