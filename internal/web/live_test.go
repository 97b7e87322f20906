package web_test

import (
	"bufio"
	"bytes"
	"context"
	"net/http"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"
)

// A message is one server-sent event (HTML Living Standard, 9.2).
type message struct {
	event, data string
	at          time.Time
}

// listen opens GET /live and hands out its messages until the test closes it.
func listen(ctx context.Context, client *http.Client, url string) (<-chan message, error) {
	r, err := http.NewRequestWithContext(ctx, "GET", url+"/live", nil)
	if err != nil {
		return nil, err
	}
	resp, err := client.Do(r)
	if err != nil {
		return nil, err
	}
	out := make(chan message, 16)
	go func() {
		defer close(out)
		defer resp.Body.Close()
		var m message
		lines := bufio.NewScanner(resp.Body)
		for lines.Scan() {
			switch text := lines.Text(); {
			case text == "":
				m.at = time.Now()
				out <- m
				m = message{}
			case strings.HasPrefix(text, "event: "):
				m.event = text[7:]
			case strings.HasPrefix(text, "data: "):
				m.data = text[6:]
			}
		}
	}()
	return out, nil
}

// until waits for an event of a kind.
func until(t *testing.T, from <-chan message, event string) message {
	t.Helper()
	limit := time.After(patience)
	for {
		select {
		case m, ok := <-from:
			if !ok {
				t.Fatalf("the stream ended before %q came", event)
			}
			if m.event == event {
				return m
			}
		case <-limit:
			t.Fatalf("no %q within %v", event, patience)
		}
	}
}

func TestOpenPagesHearOfATap(t *testing.T) {
	s := stocked(t)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	s.pass(3 * time.Hour) // so that the studio's clock is not this machine's
	asked := s.now()
	stream, err := listen(ctx, plain, s.url)
	if err != nil {
		t.Fatal(err)
	}
	now := until(t, stream, "now")
	ms, err := strconv.ParseInt(now.data, 10, 64)
	if err != nil {
		t.Fatal(err)
	}
	if at := time.UnixMilli(ms); at.Before(asked.Truncate(time.Millisecond)) || at.After(s.now()) {
		t.Errorf("asked at %v, the stream's clock says %v", asked, at)
	}
	first := until(t, stream, "version")
	began := time.Now()
	s.begin(t, "b", s.planned[0].ID).to(t)
	changed := until(t, stream, "changed")
	t.Logf("a page heard of a start %v after it was sent", changed.at.Sub(began))
	if changed.data == first.data {
		t.Errorf("the version stayed %q", first.data)
	}
	began = time.Now()
	s.post(t, "/taps", tapForm("d", "done", s.planned[0].ID, 0)).to(t)
	changed = until(t, stream, "changed")
	t.Logf("a page heard of a tap %v after it was sent", changed.at.Sub(began))
	if !strings.Contains(s.see(t, "/today/board").doc(t).words(), "Sprinkle swatch") {
		t.Error("the page that heard finds the board as it was")
	}
	// a page opened later hears the version it already shows
	later, err := listen(ctx, plain, s.url)
	if err != nil {
		t.Fatal(err)
	}
	if got := until(t, later, "version").data; got != changed.data {
		t.Errorf("a page opened now hears version %s, want %s", got, changed.data)
	}
	// a refused tap changes nothing, and says nothing
	if a := s.post(t, "/taps", tapForm("x", "done", s.planned[1].ID, 0)); a.code != 409 {
		t.Fatalf("status %d", a.code)
	}
	third, err := listen(ctx, plain, s.url)
	if err != nil {
		t.Fatal(err)
	}
	if got := until(t, third, "version").data; got != changed.data {
		t.Errorf("a refused tap made version %s of %s", got, changed.data)
	}
	s.web.Close()
	for range stream { // ends when the server closes the streams
	}
}

// TestStreamsLeaveNothingBehind opens fifty streams, wakes them, and closes them.
func TestStreamsLeaveNothingBehind(t *testing.T) {
	s := stocked(t)
	transport := &http.Transport{}
	client := &http.Client{Transport: transport}
	before := runtime.NumGoroutine()
	ctx, cancel := context.WithCancel(t.Context())
	var streams []<-chan message
	for range 50 {
		stream, err := listen(ctx, client, s.url)
		if err != nil {
			t.Fatal(err)
		}
		streams = append(streams, stream)
	}
	for _, stream := range streams {
		until(t, stream, "version")
	}
	during := runtime.NumGoroutine()
	if n := streaming(); n != 50 { // goroutines of tests before this one may still end, so the number alone tells nothing
		t.Fatalf("%d goroutines send to 50 streams", n)
	}
	began := time.Now()
	s.begin(t, "b", s.planned[0].ID).to(t)
	var last time.Time
	for _, stream := range streams {
		if m := until(t, stream, "changed"); m.at.After(last) {
			last = m.at
		}
	}
	t.Logf("the last of 50 pages heard of a start %v after it was sent", last.Sub(began))
	cancel()
	var wg sync.WaitGroup
	for _, stream := range streams {
		wg.Go(func() {
			for range stream {
			}
		})
	}
	wg.Wait()
	transport.CloseIdleConnections()
	const slack = 8 // other requests' connections end when they like
	after := runtime.NumGoroutine()
	for end := time.Now().Add(patience); (after > before+slack || streaming() > 0) && time.Now().Before(end); after = runtime.NumGoroutine() {
		time.Sleep(20 * time.Millisecond)
	}
	t.Logf("goroutines: %d before, %d with 50 streams, %d after", before, during, after)
	if n := streaming(); after > before+slack || n > 0 {
		t.Errorf("%d goroutines stayed behind, %d of them streams", after-before, n)
	}
}

// streaming counts the goroutines that send to open pages.
func streaming() int {
	stacks := make([]byte, 16<<20)
	return bytes.Count(stacks[:runtime.Stack(stacks, true)], []byte(".(*Server).liveStream("))
}
