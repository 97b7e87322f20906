package benchday

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"
)

// Calendar writes what is still to come of a sheet as an iCalendar file (RFC
// 5545): an event with an alarm for each action, and one for each step that
// runs over midnight. Times are UTC. An event keeps its UID when its time moves,
// so that a file read again moves it.
func Calendar(s Sheet, day int64, name string) []byte {
	var b strings.Builder
	line := func(format string, args ...any) { b.WriteString(fold(fmt.Sprintf(format, args...))) }
	stamp := utc(s.Now)
	line("BEGIN:VCALENDAR")
	line("VERSION:2.0")
	line("PRODID:-//Aerugo//Bench day//EN")
	line("CALSCALE:GREGORIAN")
	event := func(uid, summary, text string, from, till time.Time, busy bool, alarm string) {
		if !till.After(from) {
			till = from.Add(time.Minute) // an event ends after it begins (3.8.2.2)
		}
		line("BEGIN:VEVENT")
		line("UID:day-%d-%s@aerugo.invalid", day, uid)
		line("DTSTAMP:%s", stamp)
		line("DTSTART:%s", utc(from))
		line("DTEND:%s", utc(till))
		line("SUMMARY:%s", escape(summary))
		line("DESCRIPTION:%s", escape(text))
		line("CATEGORIES:%s", escape(name))
		if !busy {
			line("TRANSP:TRANSPARENT")
		}
		line("BEGIN:VALARM")
		line("ACTION:DISPLAY")
		line("DESCRIPTION:%s", escape(summary))
		line("TRIGGER:%s", alarm)
		line("END:VALARM")
		line("END:VEVENT")
	}
	for _, a := range s.Next() {
		first := slices.MinFunc(a.Parts, func(x, y Part) int {
			return cmp.Or(cmp.Compare(x.Treatment, y.Treatment), cmp.Compare(x.Step, y.Step), cmp.Compare(x.What, y.What))
		})
		text := a.Miss
		if a.First != "" {
			text = a.First + "\n" + text
		}
		if len(a.People) > 0 {
			text = "For " + series(a.People) + ".\n" + text
		}
		event(fmt.Sprintf("%d-%d-%s", first.Treatment, first.Step, strings.ReplaceAll(first.What, " ", "-")), a.Title, text, a.Start, a.End, true, "-PT5M")
	}
	zone := s.Now.Location()
	for _, w := range s.Dwells {
		if !w.Till.After(s.Now) || w.From.In(zone).Format("2006-01-02") == w.Till.In(zone).Format("2006-01-02") {
			continue
		}
		event(fmt.Sprintf("%d-%d-night", w.Treatment, w.Step), fmt.Sprintf("Swatch %d %s overnight", w.Swatch, verbs[w.Kind]),
			"It runs by itself. Someone is there when it ends.", w.From, w.Till, false, "PT0M")
	}
	line("END:VCALENDAR")
	return []byte(b.String())
}

func utc(t time.Time) string { return t.UTC().Format("20060102T150405Z") }

// escape writes a TEXT value (3.3.11).
func escape(text string) string {
	return strings.NewReplacer(`\`, `\\`, ";", `\;`, ",", `\,`, "\r\n", `\n`, "\n", `\n`, "\r", "").Replace(text)
}

// fold ends a content line with CRLF and breaks it so that none is longer than
// 75 octets, never inside a character (3.1).
func fold(text string) string {
	var b strings.Builder
	room := 75
	for _, r := range text {
		n := utf8.RuneLen(r)
		if n < 0 {
			r, n = utf8.RuneError, utf8.RuneLen(utf8.RuneError)
		}
		if n > room {
			b.WriteString("\r\n ")
			room = 74
		}
		b.WriteRune(r)
		room -= n
	}
	b.WriteString("\r\n")
	return b.String()
}
