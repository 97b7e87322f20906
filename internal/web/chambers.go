package web

import (
	"context"
	"fmt"
	"html/template"
	"math"
	"net/http"
	"slices"
	"strings"
	"time"

	"aerugo/internal/flow/fume"
	"aerugo/internal/science/matter"
	"aerugo/internal/science/solution"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

func (s *Server) chamberRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /chambers", s.chambers)
	s.on(mux, "GET /chambers/{id}", s.chamberAir)
	s.on(mux, "GET /chambers/{id}/now", s.chamberNow)
	s.on(mux, "POST /chambers/{id}/log", s.logChamber)
}

// chambersPage lists the chambers, each with what to know before touching it.
type chambersPage struct {
	Frame
	Chambers []chamberCard
}

// chamberCard is a chamber in three short answers.
type chamberCard struct {
	Chamber studio.Chamber
	fume.Answers
	Live bool
}

// airPage is one chamber's air: what to do now, what is inside, and what the
// numbers rest on.
type airPage struct {
	Frame
	*form
	Chamber  studio.Chamber
	In       studio.Room
	Answers  fume.Answers
	State    fume.State
	Faces    []faceLine
	Facts    []fact
	Cases    []fume.RoomCase
	Limits   []matter.Limit
	Chart    template.HTML
	Series   []fume.Moment
	Cal      fume.Calibration
	Watches  []watchLine
	Log      []logLine
	Ammonias []studio.Supply
	Salts    []solution.Salt
}

// faceLine is one face in the chamber, in words.
type faceLine struct {
	fume.Face
	Lies, Doubt, Dissolved, When, Wet, Film string
}

type watchLine struct {
	fume.Watch
	Seen, Said string
}

type logLine struct {
	studio.ChamberLog
	What    string
	CanUndo bool
}

// fuming is what the chambers' pages need to know of the studio.
type fuming struct {
	chambers []studio.Chamber
	rooms    map[int64]studio.Room
	supplies []studio.Supply
	jobs     []fume.Job
}

func (s *Server) fuming(ctx context.Context) (f fuming, err error) {
	if f.chambers, err = s.store.Chambers(ctx); err != nil {
		return f, err
	}
	rooms, err := s.store.Rooms(ctx)
	if err != nil {
		return f, err
	}
	f.rooms = map[int64]studio.Room{}
	for _, x := range rooms {
		f.rooms[x.ID] = x
	}
	if f.supplies, err = s.store.Supplies(ctx); err != nil {
		return f, err
	}
	f.jobs, err = s.fumeJobs(ctx, store.TreatmentFilter{})
	return f, err
}

// fumeJobs returns the treatments that have a fume step and have begun, or all
// of a set.
func (s *Server) fumeJobs(ctx context.Context, filter store.TreatmentFilter) ([]fume.Job, error) {
	folds, err := s.treatments(ctx, filter)
	if err != nil {
		return nil, err
	}
	swatches, err := s.store.Swatches(ctx)
	if err != nil {
		return nil, err
	}
	by := map[int64]studio.Swatch{}
	for _, x := range swatches {
		by[x.Number] = x
	}
	var out []fume.Job
	for _, f := range folds {
		if slices.ContainsFunc(f.Treatment.Steps, func(x studio.Step) bool { return x.Kind == studio.Fume }) {
			out = append(out, fume.Job{Treatment: f.Treatment, Swatch: by[f.Treatment.Swatch], Record: f.Record})
		}
	}
	return out, nil
}

// bench puts together what is known of a chamber, its own speed of water included.
func (s *Server) bench(ctx context.Context, f fuming, c studio.Chamber) (fume.Bench, fume.Calibration, error) {
	log, err := s.store.ChamberLog(ctx, c.ID)
	if err != nil {
		return fume.Bench{}, fume.Calibration{}, err
	}
	b := fume.Bench{Chamber: c, Log: log, Supplies: f.supplies}
	cal := s.airs.calibrated(b, f.jobs, s.now())
	b.K = cal.K
	return b, cal, nil
}

func (s *Server) chambers(w http.ResponseWriter, r *http.Request) error {
	p := chambersPage{Frame: s.frame(r, "Chambers", "chambers")}
	cards, err := s.chamberCards(r.Context())
	if err != nil {
		return err
	}
	p.Chambers = cards
	s.show(w, http.StatusOK, "chambers", p)
	return nil
}

func (s *Server) chamberCards(ctx context.Context) ([]chamberCard, error) {
	f, err := s.fuming(ctx)
	if err != nil {
		return nil, err
	}
	var out []chamberCard
	for _, c := range f.chambers {
		b, _, err := s.bench(ctx, f, c)
		if err != nil {
			return nil, err
		}
		state := s.airs.look(b, f.jobs, s.now())
		out = append(out, chamberCard{Chamber: c, Answers: state.Answers(f.rooms[c.RoomID]), Live: state.Live})
	}
	return out, nil
}

func (s *Server) fillAir(r *http.Request) (airPage, error) {
	ctx := r.Context()
	p := airPage{form: readForm(r)}
	id, err := idIn(r, "id")
	if err != nil {
		return p, err
	}
	if p.Chamber, err = s.store.Chamber(ctx, id); err != nil {
		return p, err
	}
	p.Frame = s.frame(r, p.Chamber.Name, "chambers")
	f, err := s.fuming(ctx)
	if err != nil {
		return p, err
	}
	p.In = f.rooms[p.Chamber.RoomID]
	b, cal, err := s.bench(ctx, f, p.Chamber)
	if err != nil {
		return p, err
	}
	p.Cal, p.State = cal, s.airs.look(b, f.jobs, s.now())
	p.Answers = p.State.Answers(p.In)
	for _, x := range p.State.Faces {
		if x.Going {
			p.Faces = append(p.Faces, viewFace(x, p.State))
		}
	}
	p.Facts = airFacts(p.State)
	if p.Cases, err = p.State.RoomAir(p.In); err != nil {
		return p, err
	}
	if gas, ok := matter.Lookup("ammonia-gas"); ok {
		p.Limits = gas.Limits
	}
	p.Series = hourly(p.State)
	p.Chart = airChart(p.State)
	for _, w := range cal.Watches {
		p.Watches = append(p.Watches, viewWatch(w))
	}
	p.Log = viewLog(b.Log)
	for _, x := range f.supplies {
		if x.Material == "ammonia-water" {
			p.Ammonias = append(p.Ammonias, x)
		}
	}
	for _, x := range solution.Salts() {
		if !x.Memory {
			p.Salts = append(p.Salts, x)
		}
	}
	return p, nil
}

func (s *Server) chamberAir(w http.ResponseWriter, r *http.Request) error {
	p, err := s.fillAir(r)
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "chamber_air", p)
	return nil
}

func (s *Server) chamberNow(w http.ResponseWriter, r *http.Request) error {
	p, err := s.fillAir(r)
	if err != nil {
		return err
	}
	return s.part(w, "chamber_air", "now", p)
}

// viewFace puts what the reckoning says of a face into a line of the table.
func viewFace(f fume.Face, s fume.State) faceLine {
	v := faceLine{Face: f, Lies: f.Words, Doubt: strings.Join(f.Doubt, "; ")}
	if v.Lies == "" {
		v.Lies = "nothing"
	}
	if f.Assumed {
		v.Lies += " (assumed)"
	}
	if f.Unknown {
		v.Dissolved, v.When, v.Wet, v.Film = "can't be reckoned", "–", "–", "–"
		return v
	}
	v.Film = figures(f.FilmUM) + " µm"
	if f.None {
		v.Dissolved, v.When, v.Wet = "no salt", "–", "–"
		return v
	}
	v.Dissolved = number(100*f.Share, 0) + " %"
	v.Wet = "not yet"
	if f.WetFor > 0 {
		v.Wet = studio.Span(f.WetFor.Round(time.Minute))
	}
	latest := "or never"
	if !f.Latest.IsZero() {
		latest = "to " + dayClock(f.Latest, s.At)
	}
	switch {
	case !f.DissolvedAt.IsZero() && f.DissolvedAt.Sub(f.In) < time.Minute:
		v.When = "at once"
	case f.DissolvedAt.IsZero() && f.Soonest.IsZero():
		v.When = "not within a day"
	case f.DissolvedAt.IsZero():
		v.When = fmt.Sprintf("not within a day (%s at the soonest)", dayClock(f.Soonest, s.At))
	default:
		v.When = fmt.Sprintf("%s (%s %s)", dayClock(f.DissolvedAt, s.At), dayClock(f.Soonest, s.At), latest)
	}
	return v
}

// dayClock writes a time of day, with the day's name when it is not today.
func dayClock(t, now time.Time) string {
	t, now = t.Local(), now.Local()
	if t.YearDay() == now.YearDay() && t.Year() == now.Year() {
		return t.Format("15:04")
	}
	return t.Format("Mon 15:04")
}

// airFacts are the numbers behind the answers.
func airFacts(s fume.State) []fact {
	if !s.Live {
		return nil
	}
	const how = "computed: Clegg and Brimblecombe 1989, one balance of pad, air and films"
	out := []fact{
		{"Ammonia under the lid", fmt.Sprintf("%s ppm (%s to %s), %s %% by volume, %s kPa", fume.PPM(s.Now.PPM()), fume.PPM(s.LowPPM), fume.PPM(s.HighPPM), number(100*s.Now.Share(), 1), number(float64(s.Now.NH3)/1000, 2)), how},
		{"On the pad", fmt.Sprintf("%s g of %s %% left of %s g of %s %%, wetted %s", number(s.Now.PadG, 0), number(100*s.Now.Strength, 1), number(s.SolutionG, 0), number(100*s.StartStrength, 1), localTime(s.Charged)), how},
		{"Humidity at the piece", number(100*s.Now.RH, 0) + " %" + dewWord(s), how},
	}
	if s.Halved.IsZero() {
		out = append(out, fact{"Ammonia falls to half", "not within the time looked at", how})
	} else {
		out = append(out, fact{"Ammonia falls to half", localTime(s.Halved) + "; wet the pad afresh before, if a set is to be even", how})
	}
	if s.NeedG > 0 {
		out = append(out, fact{"Enough for all of this", fmt.Sprintf("about %s g of %s %% on the pad would keep half the ammonia until the last swatch is out", figures(math.Ceil(s.NeedG)), number(100*s.StartStrength, 1)), how})
	}
	out = append(out, fact{"Can burn", fmt.Sprintf("at %s °C the air over %s to %s %% ammonia lies within 15 to 28 %% by volume; stronger baths pass through that whenever the lid is lifted", number(float64(s.Temp), 0), number(100*s.FlammableFrom, 1), number(100*s.FlammableTo, 1)), "computed from the range of NIOSH and CRC"})
	if len(s.Lifted) > 0 {
		out = append(out, fact{"Lid lifted", times(len(s.Lifted)) + " reckoned with, past and to come", "the taps, and the plan"})
	}
	return out
}

func dewWord(s fume.State) string {
	if s.Now.RH >= 1 {
		return ": dew falls, also beside the salt"
	}
	return ""
}

func viewWatch(w fume.Watch) watchLine {
	v := watchLine{Watch: w, Said: hoursWord(w.Forecast)}
	switch {
	case math.IsInf(w.By, 1):
		v.Seen = "not yet at " + hoursWord(w.NotYet)
	case w.NotYet == 0:
		v.Seen = "before " + hoursWord(w.By)
	default:
		v.Seen = hoursWord(w.NotYet) + " to " + hoursWord(w.By)
	}
	return v
}

func hoursWord(h float64) string {
	if math.IsInf(h, 0) || math.IsNaN(h) {
		return "never"
	}
	return studio.Span(time.Duration(h * float64(time.Hour)).Round(time.Minute))
}

// viewLog lists the newest records first.
func viewLog(log []studio.ChamberLog) []logLine {
	gone := map[int64]bool{}
	for _, l := range log {
		if l.Kind == studio.TakenBack {
			gone[l.Corrects] = true
		}
	}
	var out []logLine
	for _, l := range slices.Backward(log) {
		v := logLine{ChamberLog: l, What: logWords(l), CanUndo: l.Kind != studio.TakenBack && !gone[l.ID]}
		if gone[l.ID] {
			v.What += " (taken back)"
		}
		out = append(out, v)
	}
	if len(out) > 30 {
		out = out[:30]
	}
	return out
}

func logWords(l studio.ChamberLog) string {
	text := ""
	switch l.Kind {
	case studio.PadCharged:
		text = fmt.Sprintf("pad wetted with %s g", number(l.SolutionG, 0))
		if l.Strength > 0 {
			text += fmt.Sprintf(" of %s %%", number(l.Strength, 1))
		}
	case studio.LidOpened:
		text = "lid lifted"
	case studio.AiredOut:
		text = "pad taken out, chamber aired"
	case studio.AirRead:
		text = "read:"
		if l.TempC != nil {
			text += fmt.Sprintf(" %s °C at the pad", number(*l.TempC, 1))
		}
		if l.PieceC != nil {
			text += fmt.Sprintf(" %s °C at the metal", number(*l.PieceC, 1))
		}
	case studio.SaltSeen:
		text = fmt.Sprintf("salt seen on the %s: %s", l.Face, l.Saw)
	case studio.CapWeighed:
		text = "cap of salt weighed"
		if l.Cap != nil {
			text = fmt.Sprintf("cap of salt weighed: %s g gained in %s", number(l.Cap.Gained(), 2), hoursWord(l.Cap.Hours))
		}
	case studio.TakenBack:
		text = fmt.Sprintf("takes record %d back", l.Corrects)
	}
	if l.Note != "" {
		text += "; " + l.Note
	}
	return text
}

// logChamber is POST /chambers/{id}/log: one thing done to, or seen in, a chamber.
func (s *Server) logChamber(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	f := readForm(r)
	at, err := s.when(f)
	if err != nil {
		return err
	}
	l := studio.ChamberLog{Chamber: id, Client: f.Val("client"), Kind: studio.LogKind(f.Val("kind")), At: at, By: s.who(r), Note: f.Val("note"),
		Corrects: f.whole("corrects", "record's number", 0), SupplyID: f.whole("supply", "bottle", 0), Strength: f.number("strength", "strength", "%", 0),
		SolutionG: f.number("solution", "solution on the pad", "g", 0), Treatment: f.whole("treatment", "treatment", 0), Face: studio.Face(f.Val("face")), Saw: studio.Sight(f.Val("saw"))}
	if f.Val("temp") != "" {
		v := f.number("temp", "temperature at the pad", "°C", 0)
		l.TempC = &v
	}
	if f.Val("piecetemp") != "" {
		v := f.number("piecetemp", "temperature at the metal", "°C", 0)
		l.PieceC = &v
	}
	if l.Kind == studio.CapWeighed {
		l.Cap = &studio.CapWeighing{Salt: f.Val("salt"), AreaCM2: f.number("caparea", "salt's surface", "cm²", 0), SaltG: f.number("capsalt", "salt", "g", 0),
			BeforeG: f.number("capbefore", "weight before", "g", 0), AfterG: f.number("capafter", "weight after", "g", 0), Hours: f.number("caphours", "time", "hours", 0)}
	}
	if f.ok() {
		if _, err = s.store.AddChamberLog(ctx, l); err == nil {
			s.live.changed()
			return back(w, r, fmt.Sprintf("/chambers/%d", id))
		}
		fields := []string{"solution", "strength", "temp", "piecetemp", "caparea", "capsalt", "capbefore", "capafter", "caphours"}
		if err := f.blame(err, fields...); err != nil {
			return err
		}
	}
	if wantsJSON(r) {
		writeJSON(w, http.StatusUnprocessableEntity, f.refusal())
		return nil
	}
	p, err := s.fillAir(r)
	if err != nil {
		return err
	}
	p.form = f
	s.show(w, http.StatusUnprocessableEntity, "chamber_air", p)
	return nil
}

// hourly thins a run to one row an hour, for the table beside the chart.
func hourly(s fume.State) []fume.Moment {
	var out []fume.Moment
	for _, m := range s.Series {
		if len(out) == 0 || m.At.Sub(out[len(out)-1].At) >= time.Hour {
			out = append(out, m)
		}
	}
	return out
}

// capFields are what a weighed cap of salt needs.
var capFields = []numberField{
	{"caparea", "Salt's open surface, cm²"}, {"capsalt", "Salt in it, g"}, {"capbefore", "Cap and salt before, g"}, {"capafter", "Cap and salt after, g"}, {"caphours", "Hours in the chamber"},
}

// CapFields lists them for the page.
func (airPage) CapFields() []numberField { return capFields }

// times says how often.
func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}
