package cli

import (
	"net/http"
	"strings"
	"testing"
	"time"
)

// A page holds a stream open as long as it is shown; the end must not wait for it.
func TestAnOpenPageDoesNotHoldUpTheEnd(t *testing.T) {
	p, err := serve("serve", "--studio", t.TempDir()+"/studio", "--addr", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	res, err := http.Get(p.address + "live")
	if err != nil {
		p.kill()
		t.Fatal(err)
	}
	defer res.Body.Close()
	if kind := res.Header.Get("Content-Type"); kind != "text/event-stream" {
		t.Errorf("the stream is %q", kind)
	}
	ended := make(chan error, 1)
	go func() { ended <- p.stop() }()
	select {
	case err := <-ended:
		if err != nil || p.stderr.Len() > 0 {
			t.Errorf("it ended with %v: %s", err, p.stderr)
		}
	case <-time.After(2*farewell + time.Minute):
		p.kill()
		t.Fatal("it did not end")
	}
}

// The pages are there before the photographs are drawn, and say how far that is.
func TestTheExamplesPhotographsAreDrawnWhileItIsShown(t *testing.T) {
	p, err := serve("demo", "--addr", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	drawing := false
	for giveUp := time.Now().Add(time.Minute); !drawing && time.Now().Before(giveUp); time.Sleep(20 * time.Millisecond) {
		page, status, err := p.get("/")
		if err != nil || status != http.StatusOK {
			p.kill()
			t.Fatalf("status %d, %v", status, err)
		}
		drawing = strings.Contains(page, "Drawing the invented photographs")
	}
	if !drawing {
		t.Error("no page said that photographs are being drawn")
	}
	if err := p.stop(); err != nil || p.stderr.Len() > 0 {
		t.Errorf("it ended with %v: %s", err, p.stderr)
	}
}

// BenchmarkFirstPageOfTheExample is the time from the start of the program
// until the first page of the example is there.
func BenchmarkFirstPageOfTheExample(b *testing.B) {
	if _, err := built(); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		p, err := serve("demo", "--addr", "127.0.0.1:0")
		if err != nil {
			b.Fatal(err)
		}
		if _, status, err := p.get("/"); err != nil || status != http.StatusOK {
			b.Fatalf("status %d, %v", status, err)
		}
		b.StopTimer()
		if err := p.stop(); err != nil {
			b.Fatal(err)
		}
		b.StartTimer()
	}
}
