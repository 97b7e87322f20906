package benchday

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
	property := regexp.MustCompile(`^([A-Z-]+):(.*)$`)
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

func TestCalendarKeepsTheRules(t *testing.T) {
	a := few()
	a.Now = a.Now.In(time.FixedZone("here", 3*3600+1800))
	a.Chambers[0].Name = "Grüne Wanne, hinten; beim \\ Tor: 青銅の大きな箱とその蓋"
	s, err := Make(a)
	if err != nil {
		t.Fatal(err)
	}
	events := readCalendar(t, Calendar(s, 7, "Blue, green; and brown"))
	if len(events) != len(s.Next()) {
		t.Fatalf("%d events for %d actions", len(events), len(s.Next()))
	}
	utcForm := regexp.MustCompile(`^\d{8}T\d{6}Z$`)
	uids := map[string]string{}
	for i, e := range events {
		act := s.Next()[i]
		for _, p := range []string{"DTSTAMP", "DTSTART", "DTEND"} {
			if !utcForm.MatchString(e[p]) {
				t.Errorf("%s is %q, not UTC (3.3.5, form 2)", p, e[p])
			}
		}
		from, _ := time.Parse("20060102T150405Z", e["DTSTART"])
		till, _ := time.Parse("20060102T150405Z", e["DTEND"])
		if !from.Equal(act.Start) || !till.After(from) {
			t.Errorf("%v to %v for an action at %v", from, till, act.Start)
		}
		if e["SUMMARY"] != act.Title || !strings.Contains(e["DESCRIPTION"], act.Miss) || e["CATEGORIES"] != "Blue, green; and brown" {
			t.Errorf("it reads back as %q, %q", e["SUMMARY"], e["DESCRIPTION"])
		}
		if e["ALARM-ACTION"] != "DISPLAY" || e["ALARM-TRIGGER"] == "" || e["ALARM-DESCRIPTION"] == "" {
			t.Errorf("its alarm lacks something (3.6.6): %v", e)
		}
		if e["UID"] == "" || uids[e["UID"]] != "" {
			t.Errorf("UID %q is empty or another's", e["UID"])
		}
		uids[e["UID"]] = act.Title
	}
	// twenty minutes later the same work has the same UIDs
	a.Now = a.Now.Add(20 * time.Minute)
	moved, err := Again(a, s.Starts)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range readCalendar(t, Calendar(moved, 7, "x")) {
		if uids[e["UID"]] == "" {
			t.Errorf("%q has the new UID %q", e["SUMMARY"], e["UID"])
		}
	}
}

func FuzzFold(f *testing.F) {
	f.Add("SUMMARY:" + strings.Repeat("ä青x", 60))
	f.Fuzz(func(t *testing.T, text string) {
		text = strings.ToValidUTF8(strings.NewReplacer("\r", "", "\n", "").Replace(text), "?")
		out := fold(text)
		for _, l := range strings.Split(strings.TrimSuffix(out, "\r\n"), "\r\n") {
			if len(l) > 75 || !utf8.ValidString(l) {
				t.Errorf("%q", l)
			}
		}
		if got := strings.TrimSuffix(strings.ReplaceAll(out, "\r\n ", ""), "\r\n"); got != text {
			t.Errorf("%q unfolds to %q", text, got)
		}
	})
}
