package calendar

import (
	"bytes"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode/utf8"
)

// readCalendar reads a file as RFC 5545 says: content lines end with CRLF (3.1),
// are no longer than 75 octets and are unfolded; text is unescaped (3.3.11).
func readCalendar(t *testing.T, file []byte) []map[string]string {
	t.Helper()
	if !bytes.HasSuffix(file, []byte("\r\n")) || bytes.Count(file, []byte("\n")) != bytes.Count(file, []byte("\r\n")) || bytes.Count(file, []byte("\r")) != bytes.Count(file, []byte("\r\n")) {
		t.Fatal("a line does not end with CRLF")
	}
	for _, l := range strings.Split(strings.TrimSuffix(string(file), "\r\n"), "\r\n") {
		if len(l) > 75 {
			t.Errorf("%d octets in %q; 75 are the most", len(l), l)
		}
		if !utf8.ValidString(l) {
			t.Errorf("%q is cut inside a character", l)
		}
	}
	lines := strings.Split(strings.TrimSuffix(strings.ReplaceAll(string(file), "\r\n ", ""), "\r\n"), "\r\n")
	var events []map[string]string
	var open []string
	property := regexp.MustCompile(`^([A-Z-]+)(?:;VALUE=DATE)?:(.*)$`)
	for _, l := range lines {
		m := property.FindStringSubmatch(l)
		if m == nil {
			t.Fatalf("%q is no content line", l)
		}
		switch m[1] {
		case "BEGIN":
			open = append(open, m[2])
			if m[2] == "VEVENT" {
				events = append(events, map[string]string{})
			}
			continue
		case "END":
			if len(open) == 0 || open[len(open)-1] != m[2] {
				t.Fatalf("END:%s ends nothing", m[2])
			}
			open = open[:len(open)-1]
			continue
		}
		text := strings.NewReplacer(`\\`, `\`, `\;`, ";", `\,`, ",", `\n`, "\n").Replace(m[2])
		where := strings.Join(open, "/")
		switch where {
		case "VCALENDAR":
		case "VCALENDAR/VEVENT":
			if _, twice := events[len(events)-1][m[1]]; twice {
				t.Errorf("%s stands twice in an event", m[1])
			}
			events[len(events)-1][m[1]] = text
		case "VCALENDAR/VEVENT/VALARM":
			events[len(events)-1]["ALARM-"+m[1]] = text
		default:
			t.Errorf("%q stands in %q", l, where)
		}
	}
	if len(open) > 0 {
		t.Errorf("%v is not ended", open)
	}
	for _, must := range []string{"VERSION:2.0", "PRODID:"} {
		if !strings.Contains(string(file), "\r\n"+must) {
			t.Errorf("no %s (3.6 asks for it)", must)
		}
	}
	return events
}

func TestFileKeepsTheRules(t *testing.T) {
	made := time.Date(2026, 3, 1, 9, 0, 0, 0, time.FixedZone("here", 3*3600+1800))
	events := readCalendar(t, File("Bench day", made, []Entry{
		{UID: "day-7-1-2-put-in", What: "Open Grüne Wanne, hinten; beim \\ Tor: 青銅の大きな箱とその蓋 " + strings.Repeat("once ", 20), Text: "Take out 3.\nOr they are past their limit.", Category: "Blue, green; and brown", From: made, Till: made.Add(10 * time.Minute), Bell: -5 * time.Minute},
		{UID: "night", What: "Swatch 1 is fumed overnight", Text: "It runs by itself.", From: made, Till: made.Add(-time.Hour), Free: true},
		{UID: "wear-3", What: "Rubbing, dry", From: made, Day: true, Bell: 9 * time.Hour},
	}))
	want := []map[string]string{
		{"DTSTART": "20260301T053000Z", "DTEND": "20260301T054000Z", "DTSTAMP": "20260301T053000Z", "CATEGORIES": "Blue, green; and brown", "DESCRIPTION": "Take out 3.\nOr they are past their limit.", "ALARM-TRIGGER": "-PT5M", "ALARM-ACTION": "DISPLAY"},
		{"DTSTART": "20260301T053000Z", "DTEND": "20260301T053100Z", "TRANSP": "TRANSPARENT", "SUMMARY": "Swatch 1 is fumed overnight", "ALARM-TRIGGER": "PT0M"},
		{"DTSTART": "20260301", "DTEND": "20260302", "SUMMARY": "Rubbing, dry", "ALARM-TRIGGER": "PT540M", "ALARM-DESCRIPTION": "Rubbing, dry"},
	}
	if len(events) != len(want) {
		t.Fatalf("%d events of %d entries", len(events), len(want))
	}
	for i, w := range want {
		for k, v := range w {
			if events[i][k] != v {
				t.Errorf("event %d: %s is %q, want %q", i, k, events[i][k], v)
			}
		}
	}
	if !strings.Contains(events[0]["SUMMARY"], "beim \\ Tor: 青銅の大きな箱とその蓋") {
		t.Errorf("it reads back as %q", events[0]["SUMMARY"])
	}
}

func FuzzFile(f *testing.F) {
	f.Add("SUMMARY:"+strings.Repeat("ä青x", 60), "a;b,c\\d\ne")
	f.Fuzz(func(t *testing.T, what, text string) {
		at := time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)
		events := readCalendar(t, File("x", at, []Entry{{UID: "1", What: what, Text: text, From: at}}))
		if len(events) != 1 {
			t.Fatalf("%d events", len(events))
		}
		if got := events[0]["SUMMARY"]; got != plain(what) {
			t.Errorf("%q reads back as %q", plain(what), got)
		}
		if got := events[0]["DESCRIPTION"]; got != plain(text) {
			t.Errorf("%q reads back as %q", plain(text), got)
		}
	})
}
