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
	"aerugo/internal/science/matter"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

func (s *Server) todayRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /{$}", s.today)
	s.on(mux, "GET /today/board", s.board)
	s.on(mux, "POST /taps", s.tap)
	s.on(mux, "POST /begin", s.begin)
	s.on(mux, "POST /start", s.startStudio)
}

// todayPage says what the hands do next.
type todayPage struct {
	Frame
	Air     []matter.Caution // before a lid is lifted, in plain words
	AirMore []matter.Caution // the limits behind them
	Apart   []string         // of today's work and what is ready: never in one room
	Benches []string         // the same, where benches apart are enough
	Live    []chamberCard    // chambers that hold ammonia
	Tasks   []taskView
	Ready   []readySet
	Unseen  []unseen
	Recent  []recentView
}

type taskView struct {
	run.Task
	Act       bool
	State     string
	Lines     []string
	HasLatest bool
	Button    string
	Of        []string // "treatment:step", what the tap confirms
	Swatches  []int64
	Amount    string
	Unit      string
	UnitKey   string
}

type readySet struct {
	SetID    int64
	SetName  string
	Invented bool
	Items    []readyItem
}

type readyItem struct {
	Treatment, Swatch int64
	Faces, Settings   string
	Ticked            bool
}

// unseen is a face that is finished and has no photograph since.
type unseen struct {
	Swatch int64
	Face   studio.Face
	Moment studio.Moment
}

type recentView struct {
	ID, Swatch int64
	At         time.Time
	Faces      string
	What, By   string
	Of         string
	CanUndo    bool
}

// takes is how long steps last together as planned.
func takes(steps []studio.Step) time.Duration {
	var d time.Duration
	for _, x := range steps {
		d += x.Duration
	}
	return d
}

// readyShown is how many swatches of a set Today offers to start; the set's own
// page has them all.
const readyShown = 8

func (s *Server) fillToday(r *http.Request) (todayPage, error) {
	ctx := r.Context()
	p := todayPage{Frame: s.frame(r, "Today", "today")}
	now := s.now()
	folds, err := s.treatments(ctx, store.TreatmentFilter{})
	if err != nil {
		return p, err
	}
	swatches, err := s.store.Swatches(ctx)
	if err != nil {
		return p, err
	}
	chambers, err := s.store.Chambers(ctx)
	if err != nil {
		return p, err
	}
	sets, err := s.store.Sets(ctx)
	if err != nil {
		return p, err
	}
	bySwatch := map[int64]studio.Swatch{}
	for _, x := range swatches {
		bySwatch[x.Number] = x
	}
	onSwatch := map[int64][]folded{}
	var entries []run.Entry
	for _, f := range folds {
		onSwatch[f.Treatment.Swatch] = append(onSwatch[f.Treatment.Swatch], f)
		if f.Record.Status == run.Running {
			entries = append(entries, run.Entry{Treatment: f.Treatment, Swatch: bySwatch[f.Treatment.Swatch], Record: f.Record})
		}
	}
	bottles, err := s.store.Supplies(ctx)
	if err != nil {
		return p, err
	}
	wet := wetBench{supplies: bottles, chambers: chambers, room: s.roomNow(folds)}
	var fuming []matter.Use
	for _, t := range run.Board(now, entries, chambers) {
		v := viewTask(t)
		if t.Kind == studio.Dry {
			v.Lines = append(v.Lines, wet.dryLines(t, folds, bySwatch, now)...)
		}
		p.Tasks = append(p.Tasks, v)
		if t.Kind == studio.Fume || t.Next == studio.Fume {
			key := t.Material
			if t.Kind != studio.Fume || key == "" {
				key = "ammonia-water"
			}
			fuming = append(fuming, matter.Use{Key: key, Form: "fume"})
		}
	}
	cards, err := s.chamberCards(ctx)
	if err != nil {
		return p, err
	}
	for _, c := range cards {
		if c.Live {
			p.Live = append(p.Live, c)
		}
	}
	if len(fuming) > 0 {
		p.Air, p.AirMore = splitCautions(matter.Cautions(fuming, ""))
	}
	for _, set := range sets {
		ready := readySet{SetID: set.ID, SetName: set.Name, Invented: set.Invented}
		for _, f := range folds {
			if f.Treatment.SetID == set.ID && f.Record.Status == run.Planned && lowerDone(f, onSwatch[f.Treatment.Swatch]) {
				ready.Items = append(ready.Items, readyItem{Treatment: f.Treatment.ID, Swatch: f.Treatment.Swatch, Faces: facesWord(f.Treatment.Faces), Settings: settingsText(f.Treatment.Settings)})
			}
		}
		slices.SortStableFunc(ready.Items, func(a, b readyItem) int { return orderOf(folds, a.Treatment) - orderOf(folds, b.Treatment) })
		if len(ready.Items) > readyShown {
			ready.Items = ready.Items[:readyShown]
		}
		if len(ready.Items) > 0 {
			p.Ready = append(p.Ready, ready)
		}
	}
	var begin []studio.Treatment
	for _, f := range folds {
		if f.Record.Status == run.Planned && lowerDone(f, onSwatch[f.Treatment.Swatch]) {
			begin = append(begin, f.Treatment)
		}
	}
	supplies, err := s.store.Supplies(ctx)
	if err != nil {
		return p, err
	}
	if p.Apart, p.Benches, err = s.dayCautions(ctx, folds, begin, supplies); err != nil {
		return p, err
	}
	if p.Unseen, err = s.unseenFaces(ctx, folds); err != nil {
		return p, err
	}
	p.Recent = recent(folds, 8)
	return p, nil
}

func orderOf(folds []folded, treatment int64) int {
	for _, f := range folds {
		if f.Treatment.ID == treatment {
			return f.Treatment.Order*100 + f.Treatment.Layer
		}
	}
	return 0
}

// splitCautions keeps what to do in sight and the limits behind it one click away.
func splitCautions(all []matter.Caution) (plain, more []matter.Caution) {
	for i, c := range all {
		if i < 4 {
			plain = append(plain, c)
		} else {
			more = append(more, c)
		}
	}
	return plain, more
}

// viewTask puts a task into the words and buttons of its card.
func viewTask(t run.Task) taskView {
	v := taskView{Task: t, HasLatest: t.Dwell && t.Latest.After(t.Due)}
	v.Act = !t.Dwell || t.Overdue > 0
	switch {
	case t.Dwell && t.Overdue > 0:
		v.State = "▲ NOW: overdue by"
	case t.Dwell:
		v.State = "◔ Time left"
	case t.Missed:
		v.State = "▲ NOW: later than planned"
	default:
		v.State = "▲ NOW"
	}
	line := fmt.Sprintf("Step %d of %d", t.N, t.Of)
	if t.Material != "" && t.Kind != studio.Fume {
		line += ", with " + substanceName(t.Material)
	}
	if !t.Amount.IsZero() {
		line += ", " + t.Amount.String()
	}
	v.Lines = append(v.Lines, line)
	if t.Next != "" {
		v.Lines = append(v.Lines, "Then: "+string(t.Next))
	}
	if t.Doubt != "" {
		v.Lines = append(v.Lines, capital(t.Doubt))
	}
	for _, m := range t.Members {
		v.Of = append(v.Of, fmt.Sprintf("%d:%d", m.Treatment, m.Step))
		if !slices.Contains(v.Swatches, m.Swatch) {
			v.Swatches = append(v.Swatches, m.Swatch)
		}
	}
	if len(t.Members) == 1 && !t.Amount.IsZero() {
		v.Amount, v.Unit, v.UnitKey = number(t.Amount.Value, 3), t.Amount.Unit.Label(), string(t.Amount.Unit)
	}
	v.Button = doneWord(t)
	return v
}

// doneWord is what the button says: it names what begins with the tap, because
// the next step's timer starts there.
func doneWord(t run.Task) string {
	word := "Done"
	if t.Kind == studio.Fume || t.Kind == studio.Bury {
		word = "Out"
	}
	if n := len(t.Members); n > 1 {
		word = fmt.Sprintf("All %d %s", n, strings.ToLower(word))
	}
	switch t.Next {
	case studio.Fume:
		word += ", now in the chamber"
	case studio.Dry:
		word += ", now drying"
	case studio.Rest:
		word += ", now resting"
	case studio.Bury:
		word += ", now buried"
	case studio.Pickle:
		word += ", now in the pickle"
	case "":
		word += ", that was the last step"
	}
	return word
}

// unseenFaces lists faces finished or begun whose photograph is still owed.
func (s *Server) unseenFaces(ctx context.Context, folds []folded) ([]unseen, error) {
	looks, err := s.store.PhotoTimes(ctx)
	if err != nil {
		return nil, err
	}
	var out []unseen
	for _, f := range folds {
		if f.Record.Status != run.Finished {
			continue
		}
		for _, face := range studio.BothFaces {
			if !f.Treatment.Faces.Has(face) {
				continue
			}
			taken := looks[store.FaceKey{Swatch: f.Treatment.Swatch, Face: face}]
			if taken.Before(f.Record.Ended) && len(out) < 12 {
				out = append(out, unseen{f.Treatment.Swatch, face, studio.Finished})
			}
		}
	}
	return out, nil
}

// recent lists the newest events of all treatments.
func recent(folds []folded, n int) []recentView {
	var out []recentView
	for _, f := range folds {
		voided := map[int64]bool{}
		for _, e := range f.Events {
			if e.Kind == studio.Voided {
				voided[e.Corrects] = true
			}
		}
		for _, e := range f.Events {
			v := recentView{ID: e.ID, Swatch: f.Treatment.Swatch, At: e.At, Faces: facesWord(f.Treatment.Faces), What: eventWords(f.Treatment, e), By: e.By,
				Of: fmt.Sprintf("%d:%d", f.Treatment.ID, max(e.Step, 0))}
			switch {
			case voided[e.ID]:
				v.What += " (taken back)"
			case e.Kind == studio.Began || e.Kind == studio.Done || e.Kind == studio.Stopped || e.Kind == studio.Changed:
				v.CanUndo = true
			}
			out = append(out, v)
		}
	}
	slices.SortFunc(out, func(a, b recentView) int { return int(b.ID - a.ID) })
	if len(out) > n {
		out = out[:n]
	}
	return out
}

// eventWords says what an event records.
func eventWords(t studio.Treatment, e studio.Event) string {
	step := ""
	if e.Step >= 0 && e.Step < len(t.Steps) {
		step = fmt.Sprintf("%s (step %d)", t.Steps[e.Step].Kind, e.Step+1)
	}
	var text string
	switch e.Kind {
	case studio.Began:
		text = "started"
	case studio.Done:
		text = step + " done"
	case studio.Changed:
		text = step + ": really used"
		if e.Amount != nil {
			text += " " + e.Amount.String()
		}
	case studio.Noted:
		text = "note"
	case studio.Stopped:
		text = "given up"
	case studio.Corrected:
		text = fmt.Sprintf("corrects record %d: it was %s", e.Corrects, localTime(e.At))
	case studio.Voided:
		text = fmt.Sprintf("takes record %d back", e.Corrects)
	}
	if e.Note != "" {
		text += ": " + e.Note
	}
	if e.TempC != nil {
		text += "; room " + number(*e.TempC, 1) + " °C"
	}
	if e.RH != nil {
		text += fmt.Sprintf("; humidity %s %%", number(*e.RH*100, 0))
	}
	return text
}

// standing says in a few words where a treatment stands.
func standing(f folded, now time.Time) string {
	switch f.Record.Status {
	case run.Planned:
		return "to begin"
	case run.Finished:
		return "finished " + localTime(f.Record.Ended)
	case run.Stopped:
		return "given up " + localTime(f.Record.Ended)
	}
	i := f.Record.Current
	if i >= len(f.Treatment.Steps) {
		return "running"
	}
	step := f.Treatment.Steps[i]
	text := fmt.Sprintf("%s, step %d of %d", step.Kind, i+1, len(f.Treatment.Steps))
	began := f.Record.Steps[i].Began
	if step.Kind.Dwell() && !began.IsZero() {
		left := began.Add(step.Duration).Sub(now)
		if left >= 0 {
			text += ", " + studio.Span(left.Round(time.Minute)) + " left"
		} else {
			text += ", overdue by " + studio.Span((-left).Round(time.Minute))
		}
	}
	return text
}

func (s *Server) today(w http.ResponseWriter, r *http.Request) error {
	counts, err := s.store.Seen(r.Context())
	if err != nil {
		return err
	}
	if counts.Empty {
		return s.welcome(w, r, readForm(r), http.StatusOK)
	}
	p, err := s.fillToday(r)
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "today", p)
	return nil
}

func (s *Server) board(w http.ResponseWriter, r *http.Request) error {
	p, err := s.fillToday(r)
	if err != nil {
		return err
	}
	return s.part(w, "today", "board", p)
}

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
	if t.Kind == studio.Began {
		s.starting.Lock()
		defer s.starting.Unlock()
		if err := s.mayBegin(ctx, entries); err != nil {
			return err
		}
	}
	events, err := run.ConfirmTogether(entries, members, t)
	if err != nil {
		return err
	}
	if _, err := s.store.AddEvents(ctx, events); err != nil {
		return err
	}
	s.live.changed()
	to := "/"
	if b := f.Val("back"); b != "" {
		to = ownPath(b)
	}
	return back(w, r, to)
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
	for _, text := range f.values["t"] {
		id, err := strconv.ParseInt(text, 10, 64)
		if err != nil {
			return studio.Problemf(studio.Invalid, "t", "Tick the swatches that start.")
		}
		e, err := s.entry(ctx, id)
		if err != nil {
			return err
		}
		entries = append(entries, e)
	}
	s.starting.Lock()
	defer s.starting.Unlock()
	if err := s.mayBegin(ctx, entries); err != nil {
		return err
	}
	events, err := run.StartTogether(entries, at, f.Val("client"), s.who(r))
	if err != nil {
		return err
	}
	if _, err := s.store.AddEvents(ctx, events); err != nil {
		return err
	}
	s.live.changed()
	return back(w, r, "/")
}

// safeToBegin refuses a treatment that would bring together, with the layers
// below it on the same swatch, what must never meet.
func (s *Server) safeToBegin(ctx context.Context, e run.Entry, supplies []studio.Supply) error {
	all, err := s.store.Treatments(ctx, store.TreatmentFilter{Swatch: e.Treatment.Swatch})
	if err != nil {
		return err
	}
	ids := make([]int64, len(all))
	for i, t := range all {
		ids[i] = t.ID
	}
	events, err := s.store.Events(ctx, ids)
	if err != nil {
		return err
	}
	all = slices.DeleteFunc(all, func(t studio.Treatment) bool { return t.ID != e.Treatment.ID && len(events[t.ID]) == 0 })
	metal, err := s.metalOf(ctx, e.Swatch.MetalID)
	if err != nil {
		return err
	}
	set, err := s.store.Set(ctx, e.Swatch.SetID)
	if err != nil {
		return err
	}
	place, err := s.placeOf(ctx, set)
	if err != nil {
		return err
	}
	if _, problem := place.Allow(all, supplies, metal); problem != nil {
		return problem
	}
	return nil
}

// welcomePage is shown while the studio is empty.
type welcomePage struct {
	Frame
	Problem                                        string
	Alloys                                         []matter.Metal
	Alloy, Thickness, Volume, Gap, Places, Ammonia string
	Liquids                                        []liquidChoice
}

type liquidChoice struct {
	Key, Name string
	Ticked    bool
}

// startLiquids are what most benches have.
var startLiquids = []string{"ammonia-water", "vinegar", "sodium-chloride", "distilled-water", "ammonium-chloride", "liver-of-sulfur"}

func (s *Server) welcome(w http.ResponseWriter, r *http.Request, f *form, code int) error {
	or := func(name, otherwise string) string {
		if f.values.Has(name) {
			return f.Val(name)
		}
		return otherwise
	}
	p := welcomePage{Frame: s.frame(r, "An empty studio", "today"), Alloys: matter.Alloys(), Alloy: or("alloy", "C11000"),
		Thickness: or("thickness", "0.8"), Volume: or("volume", "20"), Gap: or("gap", "40"), Places: or("places", "6"), Ammonia: f.Val("ammonia")}
	for _, text := range f.wrong {
		p.Problem = text
	}
	for _, key := range startLiquids {
		p.Liquids = append(p.Liquids, liquidChoice{key, substanceName(key), !f.values.Has("alloy") || slices.Contains(f.values["liquid"], key)})
	}
	s.show(w, code, "welcome", p)
	return nil
}

// startStudio is POST /start: the three questions of the first run.
func (s *Server) startStudio(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	f := readForm(r)
	alloy, ok := matter.Alloy(f.Val("alloy"))
	if !ok {
		f.say("", "Choose the metal from the list.")
	}
	metal := studio.Metal{Name: fmt.Sprintf("%s, %s mm", capital(alloy.Name), f.Val("thickness")), Alloy: alloy.UNS, ThicknessMM: f.number("thickness", "thickness", "mm", 0)}
	chamber := studio.Chamber{Name: "Chamber A", VolumeL: f.number("volume", "volume", "litres", 0), GapMM: f.number("gap", "gap", "mm", 0), Places: int(f.whole("places", "number of places", 0))}
	ammonia := f.number("ammonia", "ammonia strength", "%", 0)
	if ammonia < 0 || ammonia > 35 {
		f.say("", "Ammonia water of %s %% can't be right; write the strength on the label, up to 35 %% by mass, or leave it empty.", f.Val("ammonia"))
	}
	if f.ok() {
		for _, err := range []error{metal.Check(), chamber.Check()} {
			if err := f.blame(err); err != nil {
				return err
			}
		}
	}
	if !f.ok() {
		return s.welcome(w, r, f, http.StatusUnprocessableEntity)
	}
	if _, err := s.store.SaveMetal(ctx, metal); err != nil {
		return err
	}
	if _, err := s.store.SaveChamber(ctx, chamber); err != nil {
		return err
	}
	for _, key := range f.values["liquid"] {
		sub, ok := matter.Lookup(key)
		if !ok || !slices.Contains(startLiquids, key) {
			continue
		}
		x := studio.Supply{Name: capital(sub.Name), Material: key, StrengthUnit: studio.Pure}
		switch key {
		case "ammonia-water":
			x.Strength, x.StrengthUnit = ammonia, studio.WtPercent
		case "vinegar":
			x.Strength, x.StrengthUnit = 5, studio.WtPercent
			x.Note = "5 % assumed; check the label"
		}
		if _, err := s.store.SaveSupply(ctx, x); err != nil {
			return err
		}
	}
	s.live.changed()
	return backSaying(w, r, "/recipes/new", "Your studio is there. Next: write the first recipe.")
}
