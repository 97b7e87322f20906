package benchday

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"aerugo/internal/calendar"
)

// Calendar returns what is still to come of a sheet: an entry for each action, which rings
// five minutes before, and one for each step that runs over midnight, which rings when it
// begins. An entry keeps its UID when its time moves.
func Calendar(s Sheet, day int64, name string) []calendar.Entry {
	var out []calendar.Entry
	uid := func(text string) string { return fmt.Sprintf("day-%d-%s", day, text) }
	for _, a := range s.Next() {
		first := slices.MinFunc(a.Parts, func(x, y Part) int {
			return cmp.Or(cmp.Compare(x.Treatment, y.Treatment), cmp.Compare(x.Step, y.Step), cmp.Compare(x.What, y.What))
		})
		text := a.Miss
		if a.First != "" {
			text = a.First + "\n" + text
		}
		if len(a.People) > 0 {
			text = fmt.Sprintf("For %s.", series(a.People)) + "\n" + text
		}
		out = append(out, calendar.Entry{UID: uid(fmt.Sprintf("%d-%d-%s", first.Treatment, first.Step, strings.ReplaceAll(first.What, " ", "-"))),
			What: a.Title, Text: text, Category: name, From: a.Start, Till: a.End, Bell: -5 * time.Minute})
	}
	zone := s.Now.Location()
	for _, w := range s.Dwells {
		if !w.Till.After(s.Now) || w.From.In(zone).Format("2006-01-02") == w.Till.In(zone).Format("2006-01-02") {
			continue
		}
		out = append(out, calendar.Entry{UID: uid(fmt.Sprintf("%d-%d-night", w.Treatment, w.Step)), What: fmt.Sprintf("Swatch %d %s overnight", w.Swatch, verbs[w.Kind]),
			Text: "It runs by itself. Someone is there when it ends.", Category: name, From: w.From, Till: w.Till, Free: true})
	}
	return out
}
