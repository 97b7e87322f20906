package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"aerugo/internal/flow/find"
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
	s.timerRoutes(mux)
}

// todayPage says what the hands do next.
type todayPage struct {
	Frame
	Day     *dayView         // the bench day that is on, nil for none
	Air     []matter.Caution // before a lid is lifted, in plain words
	AirMore []matter.Caution // the limits behind them
	Apart   []string         // of today's work and what is ready: never in one room
	Benches []string         // the same, where benches apart are enough
	Live    []chamberCard    // chambers that hold ammonia
	Tasks   []taskView
	Shape   taskView // an empty card, which the page's script fills when the laptop is out of reach
	Studio  string   // its mark, which a kept tap carries
	Ready   []readySet
	Loans   []find.Loan // to be back within three days, or overdue
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
	Ring      int64     // when it calls, in ms: the end of a dwell, or when a step of the hands is late; 0 for never
	Ahead     forScript // its treatments and their steps from here on, as JSON
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
	Ahead             forScript // its steps, as JSON
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

// benchNow is what is under way, read at one moment.
type benchNow struct {
	folds     []folded
	sets      []studio.Set
	supplies  []studio.Supply
	bySwatch  map[int64]studio.Swatch
	onSwatch  map[int64][]folded
	tasks     []taskView
	chambers  []studio.Chamber
	fumingNow []matter.Use
}

func (s *Server) benchNow(ctx context.Context) (benchNow, error) {
	b := benchNow{bySwatch: map[int64]studio.Swatch{}, onSwatch: map[int64][]folded{}}
	now := s.now()
	var err error
	if b.folds, err = s.treatments(ctx, store.TreatmentFilter{}); err != nil {
		return b, err
	}
	swatches, err := s.store.Swatches(ctx)
	if err != nil {
		return b, err
	}
	if b.chambers, err = s.store.Chambers(ctx); err != nil {
		return b, err
	}
	if b.sets, err = s.store.Sets(ctx); err != nil {
		return b, err
	}
	if b.supplies, err = s.store.Supplies(ctx); err != nil {
		return b, err
	}
	for _, x := range swatches {
		b.bySwatch[x.Number] = x
	}
	var entries []run.Entry
	for _, f := range b.folds {
		b.onSwatch[f.Treatment.Swatch] = append(b.onSwatch[f.Treatment.Swatch], f)
		if f.Record.Status == run.Running {
			entries = append(entries, run.Entry{Treatment: f.Treatment, Swatch: b.bySwatch[f.Treatment.Swatch], Record: f.Record})
		}
	}
	byID := map[int64]run.Entry{}
	for _, e := range entries {
		byID[e.Treatment.ID] = e
	}
	wet := wetBench{supplies: b.supplies, chambers: b.chambers, room: s.roomNow(b.folds)}
	for _, t := range run.Board(now, entries, b.chambers) {
		v := viewTask(t)
		if t.Kind == studio.Dry {
			v.Lines = append(v.Lines, wet.dryLines(t, b.folds, b.bySwatch, now)...)
		}
		v.Ahead = aheadOf(t, byID, b.chambers, now)
		b.tasks = append(b.tasks, v)
		if t.Kind == studio.Fume || t.Next == studio.Fume {
			key := t.Material
			if t.Kind != studio.Fume || key == "" {
				key = "ammonia-water"
			}
			b.fumingNow = append(b.fumingNow, matter.Use{Key: key, Form: "fume"})
		}
	}
	return b, nil
}

func (s *Server) fillToday(r *http.Request) (todayPage, error) {
	ctx := r.Context()
	p := todayPage{Frame: s.frame(r, "Today", "today"), Shape: cardShape, Studio: s.mark()}
	b, err := s.benchNow(ctx)
	if err != nil {
		return p, err
	}
	if p.Loans, err = s.loansDue(ctx); err != nil {
		return p, err
	}
	folds, onSwatch := b.folds, b.onSwatch
	p.Tasks = b.tasks
	cards, err := s.chamberCards(ctx)
	if err != nil {
		return p, err
	}
	for _, c := range cards {
		if c.Live {
			p.Live = append(p.Live, c)
		}
	}
	if len(b.fumingNow) > 0 {
		p.Air, p.AirMore = splitCautions(matter.Cautions(b.fumingNow, ""))
	}
	for _, set := range b.sets {
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
			_, _, problem, err := s.setSafety(ctx, set)
			if err != nil {
				return p, err
			}
			refused := ""
			if problem != nil {
				refused = problem.Text
			}
			for i, item := range ready.Items {
				f := folds[slices.IndexFunc(folds, func(f folded) bool { return f.Treatment.ID == item.Treatment })]
				if ready.Items[i].Ahead, err = s.aheadOfReady(ctx, f, refused, b); err != nil {
					return p, err
				}
			}
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
	if p.Apart, p.Benches, err = s.dayCautions(ctx, folds, begin, b.supplies); err != nil {
		return p, err
	}
	if p.Unseen, err = s.unseenFaces(ctx, folds); err != nil {
		return p, err
	}
	p.Recent = recent(folds, 8)
	p.Day, err = s.dayNext(ctx, p.Who)
	return p, err
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
	switch {
	case t.Dwell:
		v.Ring = t.Due.UnixMilli()
	case !t.Latest.IsZero():
		v.Ring = t.Latest.UnixMilli()
	}
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
	for i := range out {
		if r := []rune(out[i].What); len(r) > 90 { // the swatch's own page has all of it
			out[i].What = string(r[:88]) + " …"
		}
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
