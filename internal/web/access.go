package web

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"net"
	"net/http"
	"strings"
	"sync"
	"time"

	"aerugo/internal/studio"
)

const deviceCookie = "aerugo_device"

// codeLife is how long a code shown for a phone can be used.
const codeLife = 10 * time.Minute

// codes are the codes on show that let one device in each. They live in memory:
// a code not used before the program ends is worth nothing after.
type codes struct {
	mu   sync.Mutex
	made map[string]time.Time
}

// random returns n random bytes as text safe in an address.
func random(n int) string {
	b := make([]byte, n)
	rand.Read(b) // never fails, by its documentation
	return base64.RawURLEncoding.EncodeToString(b)
}

// issue returns a fresh code.
func (c *codes) issue(now time.Time) string {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.made == nil {
		c.made = map[string]time.Time{}
	}
	for code, at := range c.made {
		if now.Sub(at) > codeLife {
			delete(c.made, code)
		}
	}
	code := random(16)
	c.made[code] = now
	return code
}

// good reports whether code may be used; spend uses it up.
func (c *codes) good(code string, now time.Time, spend bool) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	at, ok := c.made[code]
	if !ok || now.Sub(at) > codeLife {
		return false
	}
	if spend {
		delete(c.made, code)
	}
	return true
}

// JoinCode returns a fresh code that lets one device in within ten minutes.
func (s *Server) JoinCode() string { return s.codes.issue(s.now()) }

// local reports whether the request comes from this machine's own browser. The
// Host is checked too, so that a page elsewhere can't reach in under a name of
// its own that leads to 127.0.0.1.
func local(r *http.Request) bool {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return false
	}
	ip := net.ParseIP(host)
	if ip == nil || !ip.IsLoopback() {
		return false
	}
	return localName(r.Host)
}

func localName(hostport string) bool {
	name := hostport
	if h, _, err := net.SplitHostPort(hostport); err == nil {
		name = h
	}
	name = strings.Trim(name, "[]")
	if strings.EqualFold(name, "localhost") {
		return true
	}
	ip := net.ParseIP(name)
	return ip != nil && ip.IsLoopback()
}

func tokenHash(token string) []byte {
	h := sha256.Sum256([]byte(token))
	return h[:]
}

// device returns the device whose cookie the request carries.
func (s *Server) device(r *http.Request) (studio.Device, bool) {
	c, err := r.Cookie(deviceCookie)
	if err != nil || c.Value == "" {
		return studio.Device{}, false
	}
	d, err := s.store.DeviceByToken(r.Context(), tokenHash(c.Value))
	if err != nil || d.Revoked {
		return studio.Device{}, false
	}
	return d, true
}

// who names the hand behind a request, for the record.
func (s *Server) who(r *http.Request) string {
	if x, ok := r.Context().Value(seatKey{}).(studio.Seat); ok {
		return x.By()
	}
	if d, ok := s.device(r); ok {
		return d.Name
	}
	return "laptop"
}

// guard lets in this machine's own browser and devices that joined; everyone
// else sees only the page that says how to join.
func (s *Server) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.eraseDue(r.Context())
		open := r.URL.Path == "/join" || r.URL.Path == "/language" && r.FormValue("all") == "" || strings.HasPrefix(r.URL.Path, "/static/")
		if open || (!s.asks && local(r)) {
			next.ServeHTTP(w, r)
			return
		}
		if d, ok := s.device(r); ok {
			if s.now().Sub(d.LastSeen) > time.Minute {
				if err := s.store.TouchDevice(r.Context(), d.ID); err != nil {
					s.log.Warn("device not marked as seen", "device", d.ID, "err", err)
				}
			}
			next.ServeHTTP(w, r)
			return
		}
		if s.seatGuard(next, w, r) {
			return
		}
		if wantsJSON(r) || r.Method != http.MethodGet {
			writeJSON(w, http.StatusForbidden, map[string]any{"problem": "This device has not been let in. Scan the code on the laptop (Studio, 'Let a phone in')."})
			return
		}
		s.show(w, http.StatusForbidden, "join", joinPage{Frame: s.doorFrame(r)})
	})
}

// joinPage asks a new device for its name, or tells it how to get a code.
type joinPage struct {
	Frame
	Code    string // good code it came with; empty: explain only
	Name    string
	Problem string
}

func (s *Server) joinForm(w http.ResponseWriter, r *http.Request) error {
	code := r.FormValue("code")
	page := joinPage{Frame: s.doorFrame(r)}
	if code != "" {
		if s.codes.good(code, s.now(), false) {
			page.Code = code
		} else {
			page.Problem = "That code was used already or is older than ten minutes. Show a fresh one on the laptop and scan it."
		}
	}
	s.show(w, http.StatusOK, "join", page)
	return nil
}

func (s *Server) join(w http.ResponseWriter, r *http.Request) error {
	code, name := r.FormValue("code"), strings.TrimSpace(r.FormValue("name"))
	page := joinPage{Frame: s.doorFrame(r), Code: code, Name: name}
	if name == "" || len([]rune(name)) > 40 {
		page.Problem = "Give this device a name of up to 40 letters, so that the record can say who did what."
		s.show(w, http.StatusUnprocessableEntity, "join", page)
		return nil
	}
	if !s.codes.good(code, s.now(), true) {
		page.Code, page.Problem = "", "That code was used already or is older than ten minutes. Show a fresh one on the laptop and scan it."
		s.show(w, http.StatusForbidden, "join", page)
		return nil
	}
	token := random(32)
	if _, err := s.store.AddDevice(r.Context(), name, tokenHash(token)); err != nil {
		return fmt.Errorf("add device: %w", err)
	}
	http.SetCookie(w, &http.Cookie{Name: deviceCookie, Value: token, Path: "/", HttpOnly: true, SameSite: http.SameSiteLaxMode,
		Expires: s.now().AddDate(1, 0, 0), Secure: r.TLS != nil})
	s.live.changed()
	http.Redirect(w, r, "/", http.StatusSeeOther)
	return nil
}

// share is the phones' port: one listener for each address of this machine on a
// local network, opened only when the person asks for it.
type share struct {
	mu        sync.Mutex
	listen    func(ip string) (net.Listener, error)
	server    *Server
	http      *http.Server
	addresses []string
}

// start opens the port and returns the addresses phones can use.
func (sh *share) start() ([]string, error) {
	sh.mu.Lock()
	defer sh.mu.Unlock()
	if sh.http != nil {
		return sh.addresses, nil
	}
	if sh.listen == nil {
		return nil, studio.Problemf(studio.Machine, "", "This Aerugo was started without a port for phones.")
	}
	var errs []error
	srv := &http.Server{Handler: sh.server, ReadHeaderTimeout: 10 * time.Second}
	var addresses []string
	for _, ip := range lanAddresses() {
		l, err := sh.listen(ip)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		addresses = append(addresses, "http://"+l.Addr().String())
		go srv.Serve(l)
	}
	if len(addresses) == 0 {
		why := "it has no address on one"
		if len(errs) > 0 {
			why = errors.Join(errs...).Error()
		}
		return nil, studio.Problemf(studio.Machine, "", "Phones can't reach this laptop over the local network: %s. Join a Wi-Fi network and try again.", why)
	}
	sh.http, sh.addresses = srv, addresses
	return addresses, nil
}

func (sh *share) stop() {
	sh.mu.Lock()
	defer sh.mu.Unlock()
	if sh.http != nil {
		sh.http.Close()
		sh.http, sh.addresses = nil, nil
	}
}

// open returns the addresses phones can use now; none while the port is closed.
func (sh *share) open() []string {
	sh.mu.Lock()
	defer sh.mu.Unlock()
	return sh.addresses
}

// lanAddresses lists this machine's own IPv4 addresses on local networks; the
// others only where there is none, as some schools give every laptop a public one.
func lanAddresses() []string {
	addrs, err := net.InterfaceAddrs()
	if err != nil {
		return nil
	}
	var private, other []string
	for _, a := range addrs {
		n, ok := a.(*net.IPNet)
		if !ok || n.IP.IsLoopback() || n.IP.To4() == nil {
			continue
		}
		if n.IP.IsPrivate() {
			private = append(private, n.IP.String())
		} else {
			other = append(other, n.IP.String())
		}
	}
	if len(private) > 0 {
		return private
	}
	return other
}
