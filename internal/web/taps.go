package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/studio"
)

// tapped reads what a tap is about: "treatment:step" for each.
func tapped(of []string) ([]run.Member, error) {
	var out []run.Member
	for _, text := range of {
		a, b, ok := strings.Cut(text, ":")
		id, err1 := strconv.ParseInt(a, 10, 64)
		step, err2 := strconv.Atoi(b)
		if !ok || err1 != nil || err2 != nil {
			return nil, studio.Problemf(studio.Invalid, "of", "The tap did not say what it was about; reload the page and tap again.")
		}
		out = append(out, run.Member{Treatment: id, Step: step})
	}
	if len(out) == 0 || len(out) > 400 {
		return nil, studio.Problemf(studio.Invalid, "of", "The tap did not say what it was about; reload the page and tap again.")
	}
	return out, nil
}

// when reads the time of a tap: the moment it was made on the device (a clock
// set right by the stream), a time of day typed in, a local time, or now.
func (s *Server) when(f *form) (time.Time, error) {
	now := s.now()
	if text := f.Val("clock"); text != "" {
		t, err := time.ParseInLocation("15:04", text, time.Local)
		if err != nil {
			return now, studio.Problemf(studio.Invalid, "clock", "%q is not a time of day; write it like 14:30.", text)
		}
		local := now.Local()
		at := time.Date(local.Year(), local.Month(), local.Day(), t.Hour(), t.Minute(), 0, 0, time.Local)
		if at.After(now.Add(time.Minute)) {
			at = at.AddDate(0, 0, -1) // later than now can only mean yesterday
		}
		return at, nil
	}
	if text := f.Val("atlocal"); text != "" {
		at, err := localInput(text)
		if err != nil {
			return now, studio.Problemf(studio.Invalid, "atlocal", "%q is not a time; choose a day and a time.", text)
		}
		return at, nil
	}
	if text := f.Val("at"); text != "" {
		at, err := time.Parse(time.RFC3339Nano, text)
		if err != nil {
			return now, studio.Problemf(studio.Invalid, "at", "%q is not a time.", text)
		}
		if at.After(now) && at.Before(now.Add(2*time.Minute)) {
			return now, nil // the device's clock is a little fast
		}
		return at, nil
	}
	return now, nil
}

// tap is POST /taps: one tap on one or more treatments, made now or kept by a
// phone until the network was back. It counts once however often it is sent.
func (s *Server) tap(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	f := readForm(r)
	members, err := tapped(f.values["of"])
	if err != nil {
		return err
	}
	at, err := s.when(f)
	if err != nil {
		return err
	}
	t := run.Tap{Kind: studio.EventKind(f.Val("kind")), At: at, By: s.who(r), Client: f.Val("client"), Note: f.Val("note"), Corrects: f.whole("corrects", "record's number", 0)}
	if f.Val("amount") != "" {
		t.Amount = &studio.Amount{Value: f.number("amount", "amount", "", 0), Unit: studio.Unit(f.Val("unit"))}
	}
	if f.Val("temp") != "" {
		v := f.number("temp", "room's temperature", "°C", 0)
		t.TempC = &v
	}
	if f.Val("rh") != "" {
		v := f.number("rh", "humidity", "%", 0) / 100
		t.RH = &v
	}
	for field, text := range f.wrong {
		return studio.Problemf(studio.Invalid, field, "%s", text)
	}
	var entries []run.Entry
	for i, m := range members {
		e, err := s.entry(ctx, m.Treatment)
		if err != nil {
			return err
		}
		members[i].Swatch = e.Treatment.Swatch
		entries = append(entries, e)
	}
	to := "/"
	if b := f.Val("back"); b != "" {
		to = ownPath(b)
	}
	confirm := func() ([]studio.Event, error) { return run.ConfirmTogether(entries, members, t) }
	return s.record(w, r, entries, members, t, f.Val("away") != "", confirm, to)
}

// entry reads one treatment with what happened to it.
func (s *Server) entry(ctx context.Context, id int64) (run.Entry, error) {
	t, err := s.store.Treatment(ctx, id)
	if err != nil {
		return run.Entry{}, err
	}
	swatch, err := s.store.Swatch(ctx, t.Swatch)
	if err != nil {
		return run.Entry{}, err
	}
	events, err := s.store.Events(ctx, []int64{id})
	if err != nil {
		return run.Entry{}, err
	}
	return run.Entry{Treatment: t, Swatch: swatch, Record: run.Fold(t, events[id])}, nil
}

// begin is POST /begin: several treatments start together. What must never
// meet is looked for once more, since supplies may have changed since the plan.
func (s *Server) begin(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	f := readForm(r)
	at, err := s.when(f)
	if err != nil {
		return err
	}
	var entries []run.Entry
	var members []run.Member
	for _, text := range f.values["t"] {
		id, err := strconv.ParseInt(text, 10, 64)
		if err != nil {
			return studio.Problemf(studio.Invalid, "t", "Tick the swatches that start.")
		}
		e, err := s.entry(ctx, id)
		if err != nil {
			return err
		}
		if slices.ContainsFunc(members, func(m run.Member) bool { return m.Treatment == id }) {
			continue
		}
		entries = append(entries, e)
		members = append(members, run.Member{Treatment: id, Swatch: e.Treatment.Swatch})
	}
	t := run.Tap{Kind: studio.Began, At: at, By: s.who(r), Client: f.Val("client"), Note: f.Val("note")}
	confirm := func() ([]studio.Event, error) {
		events, err := run.StartTogether(entries, at, t.Client, t.By)
		for i := range events {
			events[i].Note = t.Note
		}
		return events, err
	}
	to := "/"
	if b := f.Val("back"); b != "" {
		to = ownPath(b)
	}
	return s.record(w, r, entries, members, t, f.Val("away") != "", confirm, to)
}

// record keeps what a tap makes and answers it. A tap made while the laptop was
// out of reach (away) is never lost: what can't count of it is kept as a note.
func (s *Server) record(w http.ResponseWriter, r *http.Request, entries []run.Entry, members []run.Member, t run.Tap, away bool, confirm func() ([]studio.Event, error), to string) error {
	ctx := r.Context()
	began := t.Kind == studio.Began
	if began {
		s.starting.Lock()
		defer s.starting.Unlock()
	}
	var events []studio.Event
	var err error
	if began {
		err = s.mayBegin(ctx, entries)
	}
	if err == nil {
		events, err = confirm()
	}
	refused := map[int64]string{}
	if err != nil && away && studio.ProblemIn(err) != nil && t.Client != "" {
		events, refused, err = s.oneByOne(ctx, entries, members, t)
	}
	if err != nil {
		return err
	}
	if _, err := s.store.AddEvents(ctx, events); err != nil {
		return err
	}
	s.live.changed()
	s.dayTapped(ctx)
	if !wantsJSON(r) {
		return back(w, r, to)
	}
	fates, err := s.fates(ctx, members, t, refused)
	if err != nil {
		return err
	}
	writeJSON(w, http.StatusOK, map[string]any{"ok": true, "go": to, "became": fates})
	return nil
}

// oneByOne takes each treatment of a late tap by itself: it was done on the
// bench, so that one which can't count must not undo the others.
func (s *Server) oneByOne(ctx context.Context, entries []run.Entry, members []run.Member, t run.Tap) (events []studio.Event, refused map[int64]string, err error) {
	refused = map[int64]string{}
	var begun []run.Entry
	for i, e := range entries {
		one := t
		one.Step = members[i].Step
		one.Client = keyOf(t, e.Treatment.ID, len(members))
		var err error
		if slices.Contains(e.Record.Keys, one.Client+asNote) {
			err = studio.Problemf(studio.Conflict, "", "It did not count when it was sent first.")
		}
		if err == nil && t.Kind == studio.Began {
			err = s.mayBegin(ctx, append(slices.Clone(begun), e))
		}
		var made []studio.Event
		if err == nil {
			made, err = run.Confirm(e, one)
		}
		p := studio.ProblemIn(err)
		switch {
		case err == nil:
			events, begun = append(events, made...), append(begun, e)
		case p == nil || p.Kind == studio.NotFound || p.Kind == studio.Machine:
			return nil, nil, err
		default:
			refused[e.Treatment.ID] = p.Text
			events = append(events, studio.Event{Treatment: e.Treatment.ID, Client: one.Client + asNote, Kind: studio.Noted, Step: one.Step, At: t.At.UTC(), By: t.By, TempC: t.TempC, RH: t.RH,
				Note: lateNote(e, one, p.Text)})
		}
	}
	return events, refused, nil
}

// asNote ends the key of the note that is kept of a late tap which can't count.
const asNote = "/kept"

// keyOf is the key of one treatment's event, as package run makes it: a start
// and a tap on several carry the treatment's number.
func keyOf(t run.Tap, treatment int64, members int) string {
	if t.Kind == studio.Began || members > 1 {
		return fmt.Sprintf("%s/%d", t.Client, treatment)
	}
	return t.Client
}

// lateNote writes down a late tap that can't count, with all it said.
func lateNote(e run.Entry, t run.Tap, why string) string {
	text := "tapped “" + tapWords(e.Treatment, t.Kind, t.Step) + "” with the laptop out of reach; it does not count: " + why
	if t.Amount != nil {
		text += " Amount really used: " + t.Amount.String() + "."
	}
	if t.Note != "" {
		text += " Note: " + t.Note
	}
	if r := []rune(text); len(r) > 1900 { // an event's note holds 4000 bytes
		text = string(r[:1900])
	}
	return text
}

// tapWords says what a tap meant: "fume (step 3) done".
func tapWords(t studio.Treatment, kind studio.EventKind, step int) string {
	text := eventWords(t, studio.Event{Kind: kind, Step: step})
	return strings.TrimSpace(text)
}

// A fate is what became of a tap on one treatment.
type fate struct {
	Treatment int64    `json:"treatment"`
	Swatch    int64    `json:"swatch"`
	Step      int      `json:"step"`
	How       string   `json:"how"`                       // counted, beside (another's tap counts), first (another's stands beside it), refused
	Of        string   `json:"of" say:"yes"`              // the swatch and the step, as the words begin
	Words     []string `json:"words,omitempty" say:"yes"` // in sentences; empty where there is nothing to say
}

// fates reads from the record what became of a tap that was just kept.
func (s *Server) fates(ctx context.Context, members []run.Member, t run.Tap, refused map[int64]string) ([]fate, error) {
	var out []fate
	now := s.now()
	for _, m := range members {
		e, err := s.entry(ctx, m.Treatment)
		if err != nil {
			return nil, err
		}
		f := fate{Treatment: m.Treatment, Swatch: e.Treatment.Swatch, Step: m.Step, How: "counted"}
		f.Of = fmt.Sprintf("Swatch %d, %s", f.Swatch, strings.TrimSuffix(tapWords(e.Treatment, t.Kind, m.Step), " done"))
		if why, no := refused[m.Treatment]; no {
			f.How, f.Words = "refused", []string{why, fmt.Sprintf("Your tap of %s is kept in the record as a note.", clockOn(t.At, now))}
			if i := m.Step; t.Kind == studio.Done && i < len(e.Record.Steps) && e.Record.Steps[i].State == run.Done {
				counts := e.Record.Steps[i]
				f.Words = []string{twoTaps(counts.By, t.By, counts.Ended, t.At, now), theirsCounts(counts.By, t.By), "Yours is kept beside it as a note."}
			}
			out = append(out, f)
			continue
		}
		key := keyOf(t, m.Treatment, len(members))
		if t.Kind == studio.Done && m.Step < len(e.Record.Steps) {
			counts := e.Record.Steps[m.Step]
			for _, again := range e.Record.Repeats {
				if again.Kind != studio.Done || again.Step != m.Step {
					continue
				}
				if again.Client == key {
					f.How, f.Words = "beside", []string{twoTaps(counts.By, t.By, counts.Ended, again.At, now), theirsCounts(counts.By, t.By), "Yours is kept beside it."}
				} else if f.How == "counted" {
					f.How, f.Words = "first", []string{twoTaps(again.By, t.By, again.At, t.At, now), "Yours counts; the other is kept beside it."}
				}
			}
		}
		if t.Kind == studio.Done && f.How == "counted" && e.Record.Status == run.Finished && m.Step < len(e.Record.Steps)-1 {
			f.Words = []string{fmt.Sprintf("The treatment was finished meanwhile, at %s; your tap of %s counts for this step.", clockOn(e.Record.Ended, now), clockOn(t.At, now))}
		}
		out = append(out, f)
	}
	return out, nil
}

// twoTaps names both hands and both times.
func twoTaps(by, me string, theirs, mine, now time.Time) string {
	a, b := clockOn(theirs, now), clockOn(mine, now)
	if a == b {
		a, b = theirs.Local().Format("15:04:05"), mine.Local().Format("15:04:05")
	}
	switch by {
	case me:
		if theirs.After(mine) {
			a, b = b, a
		}
		return fmt.Sprintf("You tapped it at %s and again at %s.", a, b)
	case "laptop":
		return fmt.Sprintf("The laptop tapped it at %s, you at %s.", a, b)
	}
	return fmt.Sprintf("%s tapped it at %s, you at %s.", by, a, b)
}

// theirsCounts says whose of two taps counts, where it is not the one just made.
func theirsCounts(by, me string) string {
	switch by {
	case me:
		return "The first counts."
	case "laptop":
		return "The laptop’s counts."
	}
	return fmt.Sprintf("That of %s counts.", by)
}

// clockOn is the time of day, with its day when that is not today.
func clockOn(t, now time.Time) string {
	t, now = t.Local(), now.Local()
	if t.YearDay() == now.YearDay() && t.Year() == now.Year() {
		return t.Format("15:04")
	}
	return t.Format("2 Jan, 15:04")
}
