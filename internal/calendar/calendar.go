// Package calendar writes what is due as an iCalendar file (RFC 5545), for any calendar
// that reads one. The same entries make the same file.
package calendar

import (
	"cmp"
	"fmt"
	"strings"
	"time"
	"unicode"

	ics "github.com/arran4/golang-ical"
)

// An Entry is one thing that is due. Its UID stays when its time moves, so that a file read
// again moves it.
type Entry struct {
	UID      string // without its domain
	What     string
	Text     string
	Category string // may be empty
	From     time.Time
	Till     time.Time     // ignored for a day
	Day      bool          // it takes the whole day that From's own clock shows
	Free     bool          // nobody is busy with it
	Bell     time.Duration // when it rings, from its beginning: less than nothing is before
}

// File writes entries; made is when, and product names what they are for.
func File(product string, made time.Time, entries []Entry) []byte {
	c := ics.NewCalendar()
	c.SetProductId("-//Aerugo//" + product + "//EN")
	c.SetCalscale("GREGORIAN")
	for _, x := range entries {
		e := c.AddEvent(x.UID + "@aerugo.invalid") // a domain that RFC 2606 keeps free
		e.SetDtStampTime(made.UTC())
		if x.Day {
			e.SetAllDayStartAt(x.From)
			e.SetAllDayEndAt(x.From.AddDate(0, 0, 1))
		} else {
			if !x.Till.After(x.From) {
				x.Till = x.From.Add(time.Minute) // an event ends after it begins (3.8.2.2)
			}
			e.SetStartAt(x.From.UTC())
			e.SetEndAt(x.Till.UTC())
		}
		e.SetSummary(plain(x.What))
		e.SetDescription(plain(x.Text))
		if x.Category != "" {
			e.AddCategory(plain(x.Category))
		}
		if x.Free {
			e.SetTimeTransparency(ics.TransparencyTransparent)
		}
		a := e.AddAlarm()
		a.SetAction(ics.ActionDisplay)
		a.SetDescription(cmp.Or(plain(x.What), product))
		a.SetTrigger(duration(x.Bell))
	}
	return []byte(c.Serialize(ics.WithNewLineWindows))
}

// duration writes d as 3.3.6 has it, in whole minutes.
func duration(d time.Duration) string {
	sign := ""
	if d < 0 {
		sign, d = "-", -d
	}
	return fmt.Sprintf("%sPT%dM", sign, d/time.Minute)
}

// plain is a text as a calendar can keep it: whole characters, lines parted by line feeds,
// and no other control characters (3.1, 3.3.11).
func plain(text string) string {
	text = strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(strings.ToValidUTF8(text, "�"))
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\n' && r != '\t' {
			return -1
		}
		return r
	}, text)
}
