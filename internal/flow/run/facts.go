package run

import (
	"cmp"
	"slices"
	"sort"
	"time"

	"aerugo/internal/studio"
)

// A fact is an event as it really was, after corrections.
type fact struct{ studio.Event }

// distinct returns the events of a treatment, each tap once, in an order that
// does not depend on the order given.
func distinct(treatment int64, events []studio.Event) []studio.Event {
	var all []studio.Event
	for _, e := range events {
		if e.Treatment == treatment {
			all = append(all, e)
		}
	}
	sort.SliceStable(all, func(i, j int) bool { return order(all[i], all[j]) < 0 })
	keys, ids := map[string]bool{}, map[int64]bool{}
	kept := all[:0]
	for _, e := range all {
		if e.Client != "" && keys[e.Client] || e.ID != 0 && ids[e.ID] {
			continue
		}
		if e.Client == "" && e.ID == 0 && len(kept) > 0 && order(kept[len(kept)-1], e) == 0 {
			continue
		}
		keys[e.Client], ids[e.ID] = true, true
		kept = append(kept, e)
	}
	return kept
}

// order sorts by what an event says, every field counted, so that two events
// are level only when they say the same. Stored ones come before those that
// have no number yet, so that a tap's stored row is the one that is kept.
func order(a, b studio.Event) int {
	return cmp.Or(
		cmp.Compare(unstored(a), unstored(b)),
		a.At.Compare(b.At),
		cmp.Compare(a.ID, b.ID),
		cmp.Compare(a.Client, b.Client),
		cmp.Compare(a.Kind, b.Kind),
		cmp.Compare(a.Step, b.Step),
		cmp.Compare(a.Corrects, b.Corrects),
		a.Recorded.Compare(b.Recorded),
		cmp.Compare(a.By, b.By),
		cmp.Compare(a.Note, b.Note),
		comparePtr(a.TempC, b.TempC),
		comparePtr(a.RH, b.RH),
		compareAmount(a.Amount, b.Amount),
	)
}

func unstored(e studio.Event) int {
	if e.ID == 0 {
		return 1
	}
	return 0
}

func comparePtr(a, b *float64) int {
	switch {
	case a == nil && b == nil:
		return 0
	case a == nil:
		return -1
	case b == nil:
		return 1
	}
	return cmp.Compare(*a, *b)
}

func compareAmount(a, b *studio.Amount) int {
	switch {
	case a == nil && b == nil:
		return 0
	case a == nil:
		return -1
	case b == nil:
		return 1
	}
	return cmp.Or(cmp.Compare(a.Value, b.Value), cmp.Compare(a.SD, b.SD), cmp.Compare(a.Unit, b.Unit), cmp.Compare(a.Hand, b.Hand), boolOrder(a.Assumed, b.Assumed))
}

func boolOrder(a, b bool) int {
	switch {
	case a == b:
		return 0
	case b:
		return -1
	}
	return 1
}

// facts returns what happened, after corrections and voids, in the order of the
// taps as they were first made: a corrected time must not turn a second tap
// into the first.
//
// A correction or void can only name an event recorded before it, one with a
// smaller number; so going from the newest to the oldest settles each before
// what it acts on, and no circle is possible.
func facts(all []studio.Event) []fact {
	byNumber := slices.Clone(all)
	sort.SliceStable(byNumber, func(i, j int) bool { return newer(byNumber[i], byNumber[j]) })
	voided := map[int64]bool{}
	fixes := map[int64][]studio.Event{} // newest first
	var live []studio.Event
	for _, e := range byNumber {
		if e.ID != 0 && voided[e.ID] {
			continue
		}
		if e.ID != 0 {
			e = corrected(e, fixes[e.ID])
		}
		acts := e.Corrects != 0 && (e.ID == 0 || e.Corrects < e.ID)
		switch e.Kind {
		case studio.Voided:
			if acts {
				voided[e.Corrects] = true
			}
		case studio.Corrected:
			if acts {
				fixes[e.Corrects] = append(fixes[e.Corrects], e)
			}
		default:
			live = append(live, e)
		}
	}
	firstAt := map[int64]time.Time{}
	for _, e := range all {
		if e.ID != 0 {
			firstAt[e.ID] = e.At
		}
	}
	tapped := func(e studio.Event) time.Time {
		if at, ok := firstAt[e.ID]; ok {
			return at
		}
		return e.At
	}
	sort.SliceStable(live, func(i, j int) bool {
		a, b := live[i], live[j]
		return cmp.Or(tapped(a).Compare(tapped(b)), order(a, b)) < 0
	})
	out := make([]fact, len(live))
	for i, e := range live {
		out[i] = fact{e}
	}
	return out
}

// newer puts events that have no number yet first, then the highest number.
func newer(a, b studio.Event) bool {
	if unstored(a) != unstored(b) {
		return unstored(a) > unstored(b)
	}
	if a.ID != b.ID {
		return a.ID > b.ID
	}
	return order(a, b) > 0
}

// corrected returns e with the fixes applied, the newest (first) winning.
func corrected(e studio.Event, fixes []studio.Event) studio.Event {
	for i := len(fixes) - 1; i >= 0; i-- {
		f := fixes[i]
		if !f.At.IsZero() {
			e.At = f.At
		}
		if f.Amount != nil {
			e.Amount = f.Amount
		}
		if f.Note != "" {
			e.Note = f.Note
		}
		if f.TempC != nil {
			e.TempC = f.TempC
		}
		if f.RH != nil {
			e.RH = f.RH
		}
	}
	return e
}
