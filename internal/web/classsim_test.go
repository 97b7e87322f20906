package web_test

import (
	"bufio"
	"context"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"aerugo/internal/studio"
)

// A livedClass is what its students did, and how long the laptop took to answer.
type livedClass struct {
	mu    sync.Mutex
	took  map[string][]time.Duration // by kind of request
	wrong []string
}

func (l *livedClass) fail(format string, args ...any) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.wrong = append(l.wrong, fmt.Sprintf(format, args...))
}

// timed asks and keeps how long the answer took.
func (l *livedClass) timed(kind string, want int, ask func() (answer, error)) answer {
	began := time.Now()
	a, err := ask()
	took := time.Since(began)
	l.mu.Lock()
	l.took[kind] = append(l.took[kind], took)
	l.mu.Unlock()
	if err != nil {
		l.fail("%s: %v", kind, err)
	} else if a.code != want {
		l.fail("%s: status %d, want %d: %s", a.what, a.code, want, a.problem())
	}
	return a
}

// listen holds a browser's live stream open and calls changed for every change it hears
// of, one after another, as a page does.
func (l *livedClass) listen(ctx context.Context, address, host string, cookie *http.Cookie, changed func()) {
	r, err := http.NewRequestWithContext(ctx, "GET", address+"/live", nil)
	if err != nil {
		l.fail("%v", err)
		return
	}
	r.Host = host
	if cookie != nil {
		r.AddCookie(cookie)
	}
	resp, err := http.DefaultClient.Do(r)
	if err != nil {
		l.fail("live stream: %v", err)
		return
	}
	defer resp.Body.Close()
	if resp.StatusCode != http.StatusOK {
		l.fail("live stream: status %d", resp.StatusCode)
	}
	heard := make(chan bool, 1)
	go func() {
		defer close(heard)
		for lines := bufio.NewScanner(resp.Body); lines.Scan(); {
			if lines.Text() == "event: changed" {
				select {
				case heard <- true:
				default: // it will fetch what is there then
				}
			}
		}
	}()
	for range heard {
		if ctx.Err() == nil {
			changed()
		}
	}
}

// A pace is how a simulated class is lived.
type pace struct {
	think  time.Duration // the mean time between two things a student does
	photos func(swatch int64, face studio.Face, n int) []byte
	both   bool // photographs of both faces
}

// live lets every seat of a class live through its swatch at once: page, live stream,
// every step, photographs, words and a raised hand, and the teacher's two pages beside
// them. Every third phone is out of reach in the middle and sends what it kept twice.
func (c *classroom) live(t testing.TB, heads int, p pace) *livedClass {
	t.Helper()
	l := &livedClass{took: map[string][]time.Duration{}}
	ctx, stop := context.WithCancel(t.Context())
	var listening, students sync.WaitGroup
	code := c.code(t)
	laptop := strings.TrimPrefix(c.url, "http://")
	see := func(kind, path string) {
		l.timed(kind, 200, func() (answer, error) {
			r, err := http.NewRequest("GET", c.url+path, nil)
			if err != nil {
				return answer{}, err
			}
			return sent(r)
		})
	}
	see("teacher's page", c.at(""))
	listening.Go(func() {
		l.listen(ctx, c.url, laptop, nil, func() { see("teacher's seats", c.at("/board")) })
	})
	listening.Go(func() { l.listen(ctx, c.url, laptop, nil, func() { see("today's board", "/today/board") }) })
	for n := range heads {
		x := c.planned[n]
		students.Go(func() {
			dice := rand.New(rand.NewPCG(7, uint64(n)))
			pause := func() { time.Sleep(time.Duration(float64(p.think) * (.5 + dice.Float64()))) }
			me := &pupil{b: c.bench, number: n + 1}
			post := func(kind, path string, want int, form url.Values) answer {
				return l.timed(kind, want, func() (answer, error) { return me.try("POST", path, form, "Accept", "application/json") })
			}
			get := func(kind, path string) {
				l.timed(kind, 200, func() (answer, error) { return me.try("GET", path, nil) })
			}
			pause()
			get("join page", "/seat?code="+code)
			a := l.timed("sit down", 303, func() (answer, error) {
				return me.try("POST", "/seat/join", url.Values{"code": {code}, "number": {fmt.Sprint(n + 1)}})
			})
			for _, k := range (&http.Response{Header: a.header}).Cookies() {
				if k.Name == "aerugo_seat" {
					me.cookie = k
				}
			}
			if me.cookie == nil {
				l.fail("seat %d was not let in: %s", n+1, a.problem())
				return
			}
			for _, f := range []string{"app.css", "seat.css", "app.js", "taps.js", "clock.js", "kept.js", "bench.js", "signals.js", "screen.js", "seat.js"} {
				get("script or style", "/static/"+f)
			}
			get("my swatches", "/seat")
			listening.Go(func() { l.listen(ctx, c.url, lanName, me.cookie, func() { get("my board", "/seat/board") }) })
			pause()
			post("tap", "/seat/begin", 200, url.Values{"t": {id(x.ID)}, "client": {fmt.Sprintf("s%d-begin", n)}})
			out := n%3 == 2 // its phone walks out of reach after the first step
			var kept []url.Values
			for step := range x.Steps {
				pause()
				form := url.Values{"of": {fmt.Sprintf("%d:%d", x.ID, step)}, "kind": {"done"}, "client": {fmt.Sprintf("s%d-%d", n, step)}, "at": {c.now().UTC().Format(time.RFC3339Nano)}}
				if out && step > 0 {
					form.Set("away", "1")
					kept = append(kept, form)
					continue
				}
				post("tap", "/seat/taps", 200, form)
				if step == 0 {
					post("hand", "/seat/hand", 200, url.Values{"hand": {"up"}})
					get("one swatch", fmt.Sprintf("/seat/swatches/%d", x.Swatch))
				}
			}
			var again sync.WaitGroup
			for range 2 { // back in reach: all of it goes out, and goes out again
				again.Go(func() {
					for _, form := range kept {
						post("tap", "/seat/taps", 200, form)
					}
				})
				if dice.IntN(2) == 0 {
					again.Wait()
				}
			}
			again.Wait()
			faces := []studio.Face{studio.Front}
			if p.both {
				faces = studio.BothFaces
			}
			for i, face := range faces {
				pause()
				data := p.photos(x.Swatch, face, n)
				for range 1 + (n+i)%2 { // every other photograph is sent twice
					l.timed("photograph sent", 200, func() (answer, error) {
						return me.photo(fmt.Sprintf("s%d-photo-%d", n, i), x.Swatch, string(face), data)
					})
				}
				pause()
				for range 2 {
					post("words", fmt.Sprintf("/seat/swatches/%d/words", x.Swatch), 200, url.Values{"face": {string(face)}, "word": {"even", "dry", "blue"}, "covered": {fmt.Sprint(10 + n)}, "client": {fmt.Sprintf("s%d-words-%d", n, i)}})
				}
			}
			post("hand", "/seat/hand", 200, url.Values{"hand": {"down"}})
			get("my swatches", "/seat")
			get("my card", "/seat/card")
			get("what is kept", "/seat/about")
		})
	}
	students.Wait()
	time.Sleep(50 * time.Millisecond) // what the last tap changed is still fetched
	stop()
	listening.Wait()
	return l
}

// holds checks that everything the students did is kept, each once.
func (c *classroom) holds(t testing.TB, heads, photos int) {
	t.Helper()
	words, err := c.store.SeatWords(t.Context(), c.class.ID)
	if err != nil || len(words) != heads*photos {
		t.Errorf("%d words are kept, want %d (%v)", len(words), heads*photos, err)
	}
	for n := range heads {
		x, hand := c.planned[n], fmt.Sprintf("seat %d", n+1)
		var got []string
		for _, e := range c.events(t, x.ID) {
			if e.By != hand {
				t.Errorf("swatch %d: a tap by %q, want %q", x.Swatch, e.By, hand)
			}
			got = append(got, fmt.Sprintf("%s %d", e.Kind, e.Step))
		}
		want := []string{"began 0"}
		for step := range x.Steps {
			want = append(want, fmt.Sprintf("done %d", step))
		}
		slices.Sort(got)
		slices.Sort(want)
		if !slices.Equal(got, want) {
			t.Errorf("seat %d tapped %v, want %v", n+1, got, want)
		}
		kept, err := c.store.SeatPhotos(t.Context(), c.seat(t, n+1).ID)
		if err != nil || len(kept) != photos {
			t.Errorf("seat %d: %d photographs are kept, want %d (%v)", n+1, len(kept), photos, err)
		}
	}
}

// twelve serves a class of twelve, each with a swatch of their own.
func twelve(t testing.TB) *classroom {
	t.Helper()
	c := &classroom{stock: stocked(t)}
	c.set = c.plan(t, c.setForm(map[string][]string{"replicates": {"6"}, "do": {"make"}}))
	c.held(t, 12)
	var err error
	if c.planned, err = c.treatmentsOf(t); err != nil || len(c.planned) != 12 {
		t.Fatalf("%d treatments, %v", len(c.planned), err)
	}
	for i := range c.planned {
		c.give(t, i, i+1)
	}
	return c
}

// TestTwelveStudentsAtOnce lives through a class in a hurry: whatever twelve browsers do
// together, every tap is kept once.
func TestTwelveStudentsAtOnce(t *testing.T) {
	t.Parallel()
	c := twelve(t)
	l := c.live(t, 12, pace{think: 10 * time.Millisecond, photos: func(swatch int64, face studio.Face, _ int) []byte {
		data, _ := sample(c.planned[0].Swatch, studio.Front, 0)
		return data
	}})
	for _, w := range l.wrong {
		t.Error(w)
	}
	c.holds(t, 12, 1)
	if n := len(l.took["my board"]); n == 0 {
		t.Error("no phone heard of a change")
	}
}

// BenchmarkTwelveStudents lives through a class of twelve with phones' photographs and
// prints how long the laptop took to answer, by kind of request.
func BenchmarkTwelveStudents(b *testing.B) {
	for b.Loop() {
		c := twelve(b)
		began := time.Now()
		l := c.live(b, 12, pace{think: 1500 * time.Millisecond, both: true, photos: phonePhoto(b)})
		for _, w := range l.wrong {
			b.Error(w)
		}
		c.holds(b, 12, 2)
		var kinds []string
		for k := range l.took {
			kinds = append(kinds, k)
		}
		slices.Sort(kinds)
		fmt.Printf("\ntwelve students, %.0f s\n%-18s %6s %9s %9s %9s\n", time.Since(began).Seconds(), "", "asked", "p50 ms", "p95 ms", "max ms")
		for _, k := range kinds {
			all := l.took[k]
			slices.Sort(all)
			at := func(share float64) float64 { return float64(all[int(share*float64(len(all)-1))].Microseconds()) / 1000 }
			fmt.Printf("%-18s %6d %9.1f %9.1f %9.1f\n", k, len(all), at(.5), at(.95), at(1))
			b.ReportMetric(at(.95), strings.NewReplacer(" ", "-", "'", "").Replace(k)+"-p95-ms")
		}
	}
}
