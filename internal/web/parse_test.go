package web

import (
	"math"
	"net/url"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"aerugo/internal/studio"
)

func TestTimesAreReadAsPeopleWriteThem(t *testing.T) {
	for text, want := range map[string]time.Duration{
		"": 0, " ": 0, "90": 90 * time.Minute, "90 min": 90 * time.Minute, "4 h": 4 * time.Hour, "1 h 30 min": 90 * time.Minute, "1h30min": 90 * time.Minute,
		"45 s": 45 * time.Second, "2 d": 48 * time.Hour, "2 Days 3 Hours": 51 * time.Hour, "1,5 h": 90 * time.Minute, "0.5 min": 30 * time.Second, "0": 0,
		"1 hr": time.Hour, "12 HOURS": 12 * time.Hour, "30m": 30 * time.Minute, "1 min 30 sec": 90 * time.Second,
	} {
		if got, err := span(text); err != nil || got != want {
			t.Errorf("span(%q) = %v, %v; want %v", text, got, err, want)
		}
	}
	for _, text := range []string{"soon", "-5", "−5 min", "4 weeks", "h", "1 h 30", "1..5 h", "1,2,3 h", "NaN", "Inf", "1e9", "1e3 h", "1000001", "999999 d", "700 d", "400 d 400 d", "4 hh", "4 h!", "٣ h", "1 h min"} {
		if got, err := span(text); err == nil {
			t.Errorf("span(%q) = %v, want it refused", text, got)
		} else if !strings.Contains(err.Error(), "90 min") {
			t.Errorf("span(%q): %v does not say what would be right", text, err)
		}
	}
}

// TestATimeReadsBackAsItIsWritten: what studio.Span writes into a form, span
// reads out of it again.
func TestATimeReadsBackAsItIsWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := time.Duration(rapid.Int64Range(0, 60*24*60).Draw(t, "minutes")) * time.Minute
		text := studio.Span(d)
		if got, err := span(text); err != nil || studio.Span(got) != text {
			t.Fatalf("%v is written %q and read as %v, %v", d, text, got, err)
		}
	})
}

func TestNumbersAreReadAsPeopleWriteThem(t *testing.T) {
	for text, want := range map[string]float64{"12": 12, "12.5": 12.5, "12,5": 12.5, " 12 ": 12, "−3": -3, "-3": -3, "1 000": 1000, "1\u00a0000,5": 1000.5, "1e3": 1000, ".5": .5, "0": 0} {
		if got, err := decimal(text); err != nil || got != want {
			t.Errorf("decimal(%q) = %v, %v; want %v", text, got, err, want)
		}
	}
	for _, text := range []string{"", "a", "1.2.3", "1,2,3", "1,000.5", "NaN", "Inf", "-inf", "1e13", "-1e13", "1e999", "12 mm", "½"} {
		if got, err := decimal(text); err == nil {
			t.Errorf("decimal(%q) = %v, want it refused", text, got)
		}
	}
}

// TestANumberReadsBackAsItIsShown: what number writes into a form, decimal reads.
func TestANumberReadsBackAsItIsShown(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(-1e6, 1e6).Draw(t, "v")
		if got, err := decimal(number(v, 3)); err != nil || math.Abs(got-v) > 0.0005001 {
			t.Fatalf("%v is written %q and read as %v, %v", v, number(v, 3), got, err)
		}
	})
}

func TestOnlyThisMachineIsLocal(t *testing.T) {
	for host, want := range map[string]bool{
		"localhost": true, "LocalHost:8737": true, "127.0.0.1": true, "127.0.0.1:8737": true, "127.8.9.1:80": true, "[::1]:8737": true, "[::1]": true, "::1": true,
		"": false, "evil.example": false, "evil.example:8737": false, "127.0.0.1.evil.example": false, "localhost.evil.example": false, "192.168.1.2:8737": false,
		"0.0.0.0": false, "[::]:80": false, "2130706433": false, "[::ffff:10.0.0.1]:80": false,
	} {
		if got := localName(host); got != want {
			t.Errorf("localName(%q) = %v, want %v", host, got, want)
		}
	}
}

func TestOnlyOwnPathsAreFollowed(t *testing.T) {
	for p, want := range map[string]string{
		"/": "/", "/sets/3?x=1#y": "/sets/3?x=1#y", "": "/", "sets": "/", "//evil.example/a": "/", `/\evil.example`: "/", "http://evil.example": "/",
		"mailto:a@b.example": "/", "/%": "/", "/\x00": "/", "/\n/evil.example": "/", "/\t/evil.example": "/", "/a//evil.example": "/a//evil.example",
	} {
		if got := ownPath(p); got != want {
			t.Errorf("ownPath(%q) = %q, want %q", p, got, want)
		}
	}
}

func FuzzSpan(f *testing.F) {
	for _, s := range []string{"", "90", "1 h 30 min", "2d3h", "-5", "1,5 h", "1e9 s", "h", "9999999999999999999 h", "60 min soon", "999999 d", "600 d 600 d"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		d, err := span(text)
		if err != nil {
			if d != 0 || err.Error() == "" {
				t.Errorf("span(%q) = %v, %v", text, d, err)
			}
			return
		}
		if d < 0 || d > longest {
			t.Errorf("span(%q) = %v, below nothing or beyond %v", text, d, longest)
		}
		if again, err := span(strings.ToUpper(" " + text + " ")); err == nil && again != d {
			t.Errorf("span(%q) = %v, in capitals %v", text, d, again)
		}
	})
}

func FuzzDecimal(f *testing.F) {
	for _, s := range []string{"", "12,5", "−3", "1 000", "NaN", "1e400", "0x1p-2", "1_000", ".", ","} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		v, err := decimal(text)
		if err != nil {
			if v != 0 {
				t.Errorf("decimal(%q) = %v beside %v", text, v, err)
			}
			return
		}
		if math.IsNaN(v) || math.Abs(v) > 1e12 {
			t.Errorf("decimal(%q) = %v", text, v)
		}
	})
}

func FuzzOwnPath(f *testing.F) {
	for _, s := range []string{"/", "//a", `/\a`, "/\t/a", "http:/a", "/a?b#c"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, p string) {
		got := ownPath(p)
		base := &url.URL{Scheme: "http", Host: "127.0.0.1:8737", Path: "/lightness"}
		u, err := base.Parse(got)
		if err != nil || u.Host != base.Host || u.Scheme != base.Scheme {
			t.Errorf("ownPath(%q) = %q leads to %v, %v", p, got, u, err)
		}
		if len(got) > 1 && (got[1] == '/' || got[1] == '\\') || strings.ContainsAny(got, "\t\r\n") {
			t.Errorf("ownPath(%q) = %q, which a browser reads as another host", p, got)
		}
	})
}
