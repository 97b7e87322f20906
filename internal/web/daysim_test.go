package web_test

import (
	"encoding/json"
	"flag"
	"fmt"
	"math/rand/v2"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"aerugo/internal/flow/benchday"
	"aerugo/internal/flow/run"
	"aerugo/internal/store"
	"aerugo/internal/studio"
	"aerugo/internal/web"
)

var (
	simDays  = flag.Int("days", 4, "how many bench days TestSimulatedBenchDays lives through")
	simFirst = flag.Uint64("first", 1, "the seed of the first of them")
)

// A lived day is lived through by people who are late, forget to tap, tap on
// phones that are out of reach, and by a laptop that is switched off at the worst
// moment. The people and the metal are true here; the studio only hears of them.
type livedDay struct {
	t     *testing.T
	seed  uint64
	rng   *rand.Rand
	clock atomic.Int64
	dir   string
	*bench
	stop func()

	people []*livedPerson
	places map[int64]int // of chambers
	works  map[int64][]livedWork
	steps  map[int64][]studio.Step
	all    map[int64]studio.Treatment
	next   map[int64]int             // the next work of each treatment
	ended  map[int64]time.Time       // when its last work was over
	inside map[int64]int             // swatches in each chamber
	late   map[int64][]livedTap      // forgotten taps that will be made
	tapped map[string]time.Time      // "treatment:step" to the time that was tapped
	never  map[string]bool           // never tapped
	keys   map[string]map[int64]bool // taps made, and of what
	plan   studio.BenchPlan          // the last the studio kept
	n      int                       // taps made
	kill   int                       // the tap after which the laptop dies
	f      livedFigures
}

type livedPerson struct {
	name     string
	free     time.Time
	then     []livedAct // what the hands are at
	with     int64      // the treatment it is of
	busy     time.Time  // till when, as planned
	from, to time.Time  // without the laptop
	offset   time.Duration
	queue    []livedTap
	seen     *studio.BenchPlan // the plan on the phone while the laptop is away
}

// A livedAct happens when its time comes.
type livedAct struct {
	at time.Time
	do func()
}

// due is when a person acts next.
func (p *livedPerson) due() time.Time {
	if len(p.then) > 0 {
		return p.then[0].at
	}
	return p.free
}

type livedWork struct {
	step    int
	what    string
	minutes int
}

type livedTap struct {
	path, key string
	form      url.Values
	at        time.Time
	treatment int64
	typed     bool
}

type livedFigures struct {
	steps, taps, lateTaps, neverTaps, away, twice int
	plans, moved, movedBy                         int
	slips                                         int // actions that began over 5 min late
	foretold, unavoidable                         int // limits broken by a new plan; of them shown to be beyond help
	broken, brokenByHand                          int // limits broken at the bench; of them by coming later than the plan on the screen
	unfinished                                    int
	took                                          []time.Duration
	doubtful                                      []string
}

const day0 = 8 // the hour at which people come

// simStudio is a studio to live a day in: twelve swatches, two chambers.
func simStudio(t *testing.T) *stock {
	t.Helper()
	s := stocked(t)
	ctx := t.Context()
	c, err := s.store.Chamber(ctx, s.chamber)
	if err != nil {
		t.Fatal(err)
	}
	c.PadML, c.Places = 60, 4
	if _, err = s.store.SaveChamber(ctx, c); err != nil {
		t.Fatal(err)
	}
	c.ID, c.Name, c.Places = 0, "Bucket", 2
	b, err := s.store.SaveChamber(ctx, c)
	if err != nil {
		t.Fatal(err)
	}
	s.plan(t, s.setForm(map[string][]string{"name": {"Longer"}, "levels0": {"120, 200"}, "do": {"make"}}))
	s.post(t, "/recipes", recipeForm("Brushed", line{kind: "degrease"}, line{kind: "abrade"}, line{kind: "sprinkle", supply: id(s.salt), amount: "light"},
		line{kind: "fume", supply: id(s.ammonia), time: "1 h", where: id(b.ID), late: "10 min"}, line{kind: "rest", time: "30 min", late: "30 min"}, line{kind: "brush out"}, line{kind: "rinse"})).to(t)
	recipes, err := s.store.Recipes(ctx)
	if err != nil {
		t.Fatal(err)
	}
	version := slices.MaxFunc(recipes, func(x, y studio.Recipe) int { return int(x.ID - y.ID) }).Latest.ID
	s.plan(t, s.setForm(map[string][]string{"name": {"Brushed"}, "front": {id(version)}, "chamber": {id(b.ID)}, "step0": {"3"}, "levels0": {"90, 150"}, "do": {"make"}}))
	if s.planned, err = s.store.Treatments(ctx, store.TreatmentFilter{}); err != nil {
		t.Fatal(err)
	}
	s.planned = slices.DeleteFunc(s.planned, func(x studio.Treatment) bool { return x.Blank || len(x.Steps) == 0 })
	if len(s.planned) != 12 {
		t.Fatalf("%d treatments", len(s.planned))
	}
	return s
}

// TestSimulatedBenchDays lives through days of twelve hours with fixed seeds and
// holds the studio to what happened in each: every step accounted for, every tap
// once, and no limit broken by a new plan unless it was past help when the plan
// was made. That is counted by matching what is due to minutes of hands: a largest
// matching (Berge 1957, Proc. Natl. Acad. Sci. USA 43, 842) keeps as many limits as
// anyone could, whatever else the day holds.
func TestSimulatedBenchDays(t *testing.T) {
	t.Parallel()
	s := simStudio(t)
	s.web.Settle()
	var all livedFigures
	for seed := range uint64(*simDays) {
		f := liveDay(t, s, seed+*simFirst)
		all.add(f)
	}
	t.Log(all.words(*simDays))
	for _, text := range all.doubtful {
		t.Error(text)
	}
	if all.taps == 0 || all.plans == 0 || all.away == 0 || all.twice == 0 {
		t.Error("the days were too quiet to show anything")
	}
}

func liveDay(t *testing.T, s *stock, seed uint64) livedFigures {
	t.Helper()
	d := &livedDay{t: t, seed: seed, rng: rand.New(rand.NewPCG(seed, 12)), dir: filepath.Join(t.TempDir(), "studio"), places: map[int64]int{}, works: map[int64][]livedWork{}, steps: map[int64][]studio.Step{}, all: map[int64]studio.Treatment{}, next: map[int64]int{},
		ended: map[int64]time.Time{}, inside: map[int64]int{}, late: map[int64][]livedTap{}, tapped: map[string]time.Time{}, never: map[string]bool{}, keys: map[string]map[int64]bool{}}
	copyStudio(t, s.store.Dir(), d.dir)
	real := s.now().Local()
	d.at(time.Date(real.Year(), real.Month(), real.Day()+1, day0, 0, 0, 0, time.Local))
	d.open()
	defer func() { d.stop() }()
	start := d.now()
	chambers, err := d.store.Chambers(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range chambers {
		d.places[c.ID] = c.Places
	}
	form := url.Values{"date": {start.Format("2006-01-02")}, "days": {"1"}}
	for i := range 1 + seed%2 {
		n := fmt.Sprint(i + 1)
		p := &livedPerson{name: []string{"Maren", "Odile"}[i], free: start, offset: time.Duration(d.rng.IntN(80)-40) * time.Second}
		if i == 0 {
			p.from = start.Add(time.Duration(30+d.rng.IntN(400)) * time.Minute)
			p.to = p.from.Add(50 * time.Minute)
		}
		d.people = append(d.people, p)
		for k, v := range map[string]string{"name": p.name, "from": "08:00", "till": "20:00", "breakfrom": "12:00", "breaktill": "12:30"} {
			form.Set(k+n, v)
		}
	}
	for _, x := range s.planned {
		form.Add("t", id(x.ID))
		d.steps[x.ID], d.all[x.ID] = x.Steps, x
	}
	if a := d.post(t, "/day", form); a.code != 303 {
		t.Fatalf("seed %d: the day is not planned: status %d: %s", seed, a.code, a.problem())
	}
	d.plan = d.lastPlan()
	for _, x := range d.plan.Starts {
		if x.What != "on" && x.What != "off" {
			d.works[x.Treatment] = append(d.works[x.Treatment], livedWork{x.Step, x.What, x.Minutes})
			d.f.steps++
		}
	}
	d.kill = 5 + d.rng.IntN(25)
	d.live(start.Add(14 * time.Hour))
	d.account()
	return d.f
}

func (d *livedDay) at(t time.Time) { d.clock.Store(max(d.clock.Load(), t.UnixNano())) }

func (d *livedDay) open() {
	d.t.Helper()
	now := func() time.Time { return time.Unix(0, d.clock.Load()) }
	st, err := store.Open(d.t.Context(), d.dir, store.Options{Now: now})
	if err != nil {
		d.t.Fatal(err)
	}
	srv, err := web.New(web.Config{Store: st, Now: now, Version: "test"})
	if err != nil {
		d.t.Fatal(err)
	}
	ts := httptest.NewServer(srv)
	d.bench = &bench{store: st, web: srv, url: ts.URL}
	d.stop = func() {
		srv.Close()
		ts.Close()
		if err := st.Close(); err != nil {
			d.t.Error(err)
		}
	}
}

// now is the day's own clock.
func (d *livedDay) now() time.Time { return time.Unix(0, d.clock.Load()) }

func copyStudio(t *testing.T, from, to string) {
	t.Helper()
	if err := os.CopyFS(to, os.DirFS(from)); err != nil {
		t.Fatal(err)
	}
}

func (d *livedDay) lastPlan() studio.BenchPlan {
	d.t.Helper()
	p, err := d.store.LastBenchPlan(d.t.Context(), 1)
	if err != nil {
		d.t.Fatal(err)
	}
	return p
}

// live lets time pass until all is done, or until the night.
func (d *livedDay) live(night time.Time) {
	for {
		p := slices.MinFunc(d.people, func(a, b *livedPerson) int { return a.due().Compare(b.due()) })
		now := p.due()
		if now.After(night) && len(p.then) == 0 {
			return
		}
		d.at(now)
		for _, q := range d.people {
			if len(q.queue) > 0 && !now.Before(q.to) {
				d.comesBack(q)
			}
			if q.seen == nil && d.away(q, now) {
				plan := d.plan
				q.seen = &plan
			}
		}
		if len(p.then) > 0 {
			act := p.then[0]
			p.then = p.then[1:]
			act.do()
			continue
		}
		if h := now.Hour()*60 + now.Minute(); h >= 12*60 && h < 12*60+30 {
			p.free = now.Add(time.Duration(12*60+30-h) * time.Minute)
			continue
		}
		t, w, begins, ok := d.choose(p, now)
		switch {
		case !ok && begins.IsZero():
			p.free = now.Add(10 * time.Minute) // another's hands are at it, or all is done
			if d.over() {
				return
			}
		case !ok:
			p.free = now.Add(min(begins.Sub(now), 5*time.Minute))
			if !p.free.After(now) {
				p.free = now.Add(30 * time.Second)
			}
		default:
			d.do(p, t, w, now)
		}
	}
}

func (d *livedDay) over() bool {
	for t, works := range d.works {
		if d.next[t] < len(works) {
			return false
		}
	}
	return true
}

func (d *livedDay) away(p *livedPerson, now time.Time) bool {
	return !now.Before(p.from) && now.Before(p.to)
}

func (d *livedDay) starts(p *livedPerson) map[string]time.Time {
	plan := d.plan
	if p.seen != nil {
		plan = *p.seen
	}
	out := map[string]time.Time{}
	for _, x := range plan.Starts {
		out[fmt.Sprint(x.Treatment, x.Step, x.What)] = x.At
	}
	return out
}

// choose takes what the screen says is next, or says when something begins.
func (d *livedDay) choose(p *livedPerson, now time.Time) (int64, livedWork, time.Time, bool) {
	starts := d.starts(p)
	var best int64
	var at, first time.Time
	for t, works := range d.works {
		n := d.next[t]
		if n < 0 || n >= len(works) { // in another's hands, or done
			continue
		}
		w := works[n]
		begins := starts[fmt.Sprint(t, w.step, w.what)]
		if ready := d.ready(t, n); ready.After(begins) {
			begins = ready
		}
		if c := d.steps[t][w.step].ChamberID; w.what == benchday.PutIn && d.inside[c] >= d.places[c] {
			continue
		}
		if first.IsZero() || begins.Before(first) {
			first = begins
		}
		if !begins.After(now) && (best == 0 || begins.Before(at) || begins.Equal(at) && t < best) {
			best, at = t, begins
		}
	}
	if best == 0 {
		return 0, livedWork{}, first, false
	}
	if now.Sub(starts[fmt.Sprint(best, d.works[best][d.next[best]].step, d.works[best][d.next[best]].what)]) > 5*time.Minute {
		d.f.slips++
	}
	return best, d.works[best][d.next[best]], first, true
}

// ready is when a wait before a work is long enough by the kitchen clock.
func (d *livedDay) ready(t int64, n int) time.Time {
	if n == 0 {
		return time.Time{}
	}
	if i := d.waits(t, n); i >= 0 {
		return d.ended[t].Add(d.steps[t][i].Duration - d.steps[t][i].Early)
	}
	return d.ended[t]
}

// waits is the step that runs by itself before a work of a treatment, or -1.
func (d *livedDay) waits(t int64, n int) int {
	w := d.works[t][n]
	switch {
	case w.what == benchday.TakeOut || w.what == benchday.SeeTo:
		return w.step
	case w.step > 0 && d.steps[t][w.step-1].Kind.Dwell() && w.what != benchday.Begin:
		return w.step - 1
	}
	return -1
}

// most is the longest a wait may last; 0 for no limit. Where a recipe gives no
// tolerance the page says that a tenth, 5 min at least, is assumed.
func most(s studio.Step) time.Duration {
	switch {
	case s.Kind == studio.Dry && s.Late == 0:
		return 0
	case s.Early == 0 && s.Late == 0:
		return s.Duration + max(5*time.Minute, s.Duration/10)
	}
	return s.Duration + s.Late
}

// do is one piece of work, with the taps it makes or does not make.
func (d *livedDay) do(p *livedPerson, t int64, w livedWork, now time.Time) {
	n := d.next[t]
	d.next[t] = -1
	planned := d.starts(p)[fmt.Sprint(t, w.step, w.what)]
	begun := now
	if d.rng.Float64() < 0.08 { // the telephone
		begun = begun.Add(time.Duration(3*60+d.rng.IntN(12*60)) * time.Second)
	}
	end := begun.Add(time.Duration(float64(max(1, w.minutes)) * (0.6 + 0.7*d.rng.Float64()) * float64(time.Minute)))
	wait := d.waits(t, n)
	c := d.steps[t][w.step].ChamberID
	if w.what == benchday.PutIn {
		d.inside[c]++
	}
	p.free, p.busy, p.with = end, now.Add(time.Duration(w.minutes)*time.Minute), t
	p.then = []livedAct{{begun, func() {
		if n == 0 {
			d.tap(p, livedTap{path: "/begin", form: url.Values{"t": {id(t)}}, at: begun, treatment: t}, -1)
		} else if wait >= 0 && wait != w.step {
			d.tap(p, livedTap{path: "/taps", form: url.Values{"kind": {"done"}, "of": {fmt.Sprintf("%d:%d", t, wait)}}, at: begun, treatment: t}, wait)
		}
	}}, {end, func() {
		over := begun
		if wait == w.step {
			over = end
		}
		if wait >= 0 && most(d.steps[t][wait]) > 0 && over.Sub(d.ended[t]) > most(d.steps[t][wait]) {
			d.f.broken++
			if by := planned.Add(time.Duration(w.minutes) * time.Minute); !by.After(d.ended[t].Add(most(d.steps[t][wait]) + time.Minute)) {
				d.f.brokenByHand++
			}
		}
		d.ended[t] = end
		confirms := w.step
		switch w.what {
		case benchday.PutIn:
			confirms = w.step - 1
		case benchday.TakeOut:
			d.inside[c]--
		case benchday.Begin:
			confirms = -1
		default:
			if n+1 < len(d.works[t]) && d.works[t][n+1].what == benchday.PutIn {
				confirms = -1 // the tap that follows says it
			}
		}
		d.next[t] = n + 1
		if confirms >= 0 {
			d.tap(p, livedTap{path: "/taps", form: url.Values{"kind": {"done"}, "of": {fmt.Sprintf("%d:%d", t, confirms)}}, at: end, treatment: t}, confirms)
		}
	}}}
}

// tap makes a tap, or forgets it for now or for good.
func (d *livedDay) tap(p *livedPerson, tap livedTap, step int) {
	d.f.taps++
	tap.key = fmt.Sprintf("s%d-%d", d.seed, d.f.taps)
	if step >= 0 {
		name := fmt.Sprintf("%d:%d", tap.treatment, step)
		switch chance := d.rng.Float64(); {
		case chance < 0.02 && step < len(d.steps[tap.treatment])-1:
			d.never[name] = true
			d.f.neverTaps++
			return
		case chance < 0.08:
			tap.typed = d.rng.IntN(2) == 0
			d.late[tap.treatment] = append(d.late[tap.treatment], tap)
			d.f.lateTaps++
			return
		}
	}
	d.forgotten(p, tap.treatment, tap.at)
	d.send(p, tap)
}

// forgotten makes the taps that were forgotten of a treatment, just before the next one.
func (d *livedDay) forgotten(p *livedPerson, t int64, now time.Time) {
	for _, x := range d.late[t] {
		if !x.typed {
			x.at = now
		}
		d.send(p, x)
	}
	delete(d.late, t)
}

// send brings a tap to the studio, or keeps it on the phone while the laptop is away.
func (d *livedDay) send(p *livedPerson, tap livedTap) {
	if of := tap.form.Get("of"); of != "" {
		d.tapped[of] = tap.at
	}
	d.keys[tap.key] = map[int64]bool{tap.treatment: true}
	if d.away(p, d.now()) {
		p.queue = append(p.queue, tap)
		d.f.away++
		return
	}
	d.at(tap.at)
	d.arrive(p, tap, false)
}

func (d *livedDay) comesBack(p *livedPerson) {
	queue := p.queue
	p.queue, p.seen = nil, nil
	for _, tap := range queue {
		d.arrive(p, tap, true)
	}
}

// arrive is a tap that reaches the laptop, now and then twice.
func (d *livedDay) arrive(p *livedPerson, tap livedTap, away bool) {
	d.t.Helper()
	form := url.Values{"client": {tap.key}}
	for k, v := range tap.form {
		form[k] = v
	}
	switch at := tap.at; {
	case away:
		form.Set("away", "1")
		form.Set("at", at.Add(p.offset).UTC().Format(time.RFC3339Nano))
	case tap.typed && tap.path == "/taps":
		form.Set("atlocal", at.Local().Format("2006-01-02T15:04:05"))
	default:
		form.Set("at", at.UTC().Format(time.RFC3339Nano))
	}
	d.n++
	letGo := func() {}
	if d.n == d.kill {
		letGo = d.web.HoldPlans()
	}
	times := 1
	if d.rng.Float64() < 0.15 {
		times = 2
		d.f.twice++
	}
	for range times {
		began := time.Now()
		a := d.post(d.t, tap.path, form, "Accept", "application/json")
		var said struct {
			Became []struct {
				How   string
				Words []string
			}
		}
		if err := json.Unmarshal(a.body, &said); err != nil || a.code != 200 {
			d.t.Errorf("seed %d: a tap is not taken: status %d: %s: %v", d.seed, a.code, a.body, form)
		}
		for _, b := range said.Became {
			if b.How == "refused" {
				d.t.Errorf("seed %d: a tap is refused: %s: %v", d.seed, b.Words, form)
			}
		}
		if d.n == d.kill {
			off := d.dies()
			letGo()
			off() // out of sight of the new one
			if a := d.post(d.t, tap.path, form, "Accept", "application/json"); a.code != 200 {
				d.t.Errorf("seed %d: sent again after the laptop died: status %d: %s", d.seed, a.code, a.body)
			}
			d.n++
		}
		d.web.Settle()
		d.f.took = append(d.f.took, time.Since(began))
		d.replanned()
	}
	if d.n%15 == 0 {
		if a := d.see(d.t, "/day/1/now"); a.code != 200 {
			d.t.Errorf("seed %d: the timetable: status %d", d.seed, a.code)
		}
		d.web.Settle()
		d.replanned()
	}
}

// dies ends the laptop after it kept a tap and before it planned again: what
// lies on its disk then is opened by the next program.
func (d *livedDay) dies() (off func()) {
	d.t.Helper()
	next := d.dir + "-after"
	copyStudio(d.t, d.dir, next)
	off = d.stop
	d.dir = next
	d.open()
	return off
}

// replanned looks at a plan that is new.
func (d *livedDay) replanned() {
	d.t.Helper()
	plan := d.lastPlan()
	if plan.ID == d.plan.ID {
		return
	}
	d.plan = plan
	d.f.plans++
	d.f.moved += plan.Moved
	d.f.movedBy = max(d.f.movedBy, plan.MovedMin)
	jobs, foretold := d.due(plan)
	if len(foretold) == 0 {
		return
	}
	d.f.foretold += len(foretold)
	lost := len(jobs) - d.canKeep(jobs)
	if len(foretold) > lost {
		lost = len(jobs) - d.canKeepWhole(jobs)
	}
	d.f.unavoidable += min(lost, len(foretold))
	if len(foretold) > lost {
		if testing.Verbose() {
			d.tell(plan, jobs)
		}
		d.f.doubtful = append(d.f.doubtful, fmt.Sprintf("seed %d at %s: the plan breaks %d limits, %d must be: %s", d.seed, d.now().Format("15:04:05"), len(foretold), lost, strings.Join(foretold, "; ")))
	}
}

// tell writes down what is due and what a plan makes of it.
func (d *livedDay) tell(plan studio.BenchPlan, jobs []dueJob) {
	for _, j := range jobs {
		d.t.Logf("due from %s till %s", j.from.Format("15:04:05"), j.till.Format("15:04:05"))
	}
	for _, x := range plan.Starts {
		if by := x.At.Sub(d.now()); by > -20*time.Minute && by < 20*time.Minute {
			d.t.Logf("%s treatment %d, step %d: %s, %d min", x.At.Local().Format("15:04"), x.Treatment, x.Step, x.What, x.Minutes)
		}
	}
}

// A dueJob needs a pair of hands for so many minutes without a break; its first
// minute is not before from, and over by till.
type dueJob struct {
	treatment  int64
	from, till time.Time
	minutes    int
}

// stands is how long a face may wait for the next step after s; 0 for no limit.
// Where a recipe gives no tolerance the page says which is assumed.
func stands(s studio.Step) time.Duration {
	switch {
	case s.Kind != studio.Wet && s.Kind != studio.Sprinkle:
		return 0
	case s.Late > 0:
		return s.Late
	case s.Kind == studio.Wet:
		return 10 * time.Minute
	}
	return 15 * time.Minute
}

// due lists what has a deadline that follows from what the studio knows, and
// which of it a plan breaks: the ends of what fumes and rests, and the next step
// of a face that is wetted or salted.
func (d *livedDay) due(plan studio.BenchPlan) (jobs []dueJob, broken []string) {
	d.t.Helper()
	now := d.now()
	starts := map[int64][]studio.BenchStart{}
	for _, x := range plan.Starts {
		if x.What != "on" && x.What != "off" {
			starts[x.Treatment] = append(starts[x.Treatment], x)
		}
	}
	records := d.records()
	// The next work is the first that no tap tells of and that was not to be done by now.
	next := map[int64]int{}
	for t, works := range starts {
		r := records[t]
		next[t] = slices.IndexFunc(works, func(x studio.BenchStart) bool {
			known := r.Status == run.Finished || r.Status == run.Running && (x.Step < r.Current || x.Step == r.Current && (x.What == benchday.PutIn || x.What == benchday.Begin))
			return !known && !x.At.Before(now)
		})
	}
	for t, r := range records {
		n := next[t]
		if n <= 0 || r.Status != run.Running {
			continue
		}
		works, steps := starts[t], d.steps[t]
		x, before := works[n], works[n-1]
		j := dueJob{treatment: t, from: now, minutes: max(1, x.Minutes)}
		var since time.Time
		var what studio.StepKind
		rec := r.Steps[r.Current]
		switch s := steps[r.Current]; {
		case before.What == benchday.Do && stands(steps[before.Step]) > 0:
			what, since = steps[before.Step].Kind, before.At.Add(time.Duration(before.Minutes)*time.Minute)
			if before.Step < r.Current {
				since = r.Steps[before.Step].Ended
			}
			j.till = since.Add(stands(steps[before.Step]) + time.Minute)
		case rec.Began.IsZero():
			continue
		case s.Kind == studio.Fume && most(s) > 0 && x.What == benchday.TakeOut:
			what, since = s.Kind, rec.Began
			j.from, j.till = since.Add(s.Duration-s.Early), since.Add(most(s))
		case s.Kind == studio.Rest:
			what, since = s.Kind, rec.Began
			j.from, j.till = since.Add(s.Duration-s.Early), since.Add(most(s)+time.Minute)
		default:
			continue
		}
		if x.What == benchday.PutIn {
			j.from = d.mayGoIn(t, starts, next, records)
		}
		if j.from.Before(now) {
			j.from = now
		}
		jobs = append(jobs, j)
		if ends := x.At.Add(time.Minute); ends.After(j.till.Add(time.Minute)) { // plans go by whole minutes
			broken = append(broken, fmt.Sprintf("treatment %d (%s since %s) ends at %s, by %s at the latest", t, what, since.Format("15:04:05"), ends.Format("15:04"), j.till.Format("15:04:05")))
		}
	}
	return jobs, broken
}

// mayGoIn is before when no plan puts a treatment into its chamber. What the set's
// random order has before it in its filling goes in first, each by somebody's hands,
// the rest of the filling is ready soon after, and the filling before it is out. As
// many as are in then and one more find a place, or some have been taken out.
func (d *livedDay) mayGoIn(t int64, starts map[int64][]studio.BenchStart, next map[int64]int, records map[int64]run.Record) time.Time {
	from := d.now()
	wait := func(at time.Time) {
		if at.After(from) {
			from = at
		}
	}
	me := d.all[t]
	c := me.Steps[starts[t][next[t]].Step].ChamberID
	set := func(x studio.Treatment) bool {
		return me.SetID != 0 && me.Order > 0 && x.Order > 0 && x.SetID == me.SetID && x.Layer == me.Layer && x.Faces == me.Faces
	}
	var outs []time.Time // of all that are in by then
	work := time.Duration(0)
	filling, before := map[int][]livedStay{}, 0
	for u, works := range starts {
		x := d.all[u]
		put := slices.IndexFunc(works, func(w studio.BenchStart) bool { return w.What == benchday.PutIn })
		if put < 0 {
			continue
		}
		stay := d.stay(works, put, next[u], x, records[u])
		if set(x) {
			filling[x.Block] = append(filling[x.Block], stay)
			if x.Block < me.Block {
				before = max(before, x.Block)
			}
			if u != t && x.Block == me.Block && x.Order < me.Order {
				wait(stay.ready)
				if !stay.ready.IsZero() {
					work += stay.ready.Sub(d.now()) + time.Minute
					if stay.chamber == c {
						outs = append(outs, stay.out)
					}
				}
			}
		}
		if u != t && stay.in && stay.chamber == c {
			outs = append(outs, stay.out)
		}
	}
	if n := len(outs) - d.places[c]; d.places[c] > 0 && n >= 0 {
		slices.SortFunc(outs, time.Time.Compare)
		wait(outs[n])
		work += time.Duration(n+1) * time.Minute // to take them out
	}
	// Of those before it one less than there are people can go in beside it.
	people := time.Duration(len(d.people))
	wait(d.now().Add((work - (people-1)*time.Minute) / people))
	together := func(f []livedStay) bool {
		return len(f) > 1 && !slices.ContainsFunc(f, func(s livedStay) bool { return s.chamber != c }) && (d.places[c] == 0 || len(f) <= d.places[c])
	}
	if mine := filling[me.Block]; me.Block > 0 && together(mine) {
		for _, s := range mine {
			wait(s.ready.Add(-time.Duration(len(mine)+2) * time.Minute)) // a minute each, and two
		}
		if last := filling[before]; before > 0 && together(last) {
			for _, s := range last {
				wait(s.out)
			}
		}
	}
	return from
}

// A livedStay is a treatment's stay in a chamber as the studio knows it: when it is
// ready to go in and when it is out, each at the earliest; no time is in the past.
type livedStay struct {
	chamber    int64
	in         bool
	ready, out time.Time
}

// stay is the stay that begins with works[put]; works[next] is next of all.
func (d *livedDay) stay(works []studio.BenchStart, put, next int, t studio.Treatment, r run.Record) livedStay {
	s := t.Steps[works[put].Step]
	out := livedStay{chamber: s.ChamberID}
	if next < 0 || next > put+1 {
		return out // it is out
	}
	now := d.now()
	least := s.Duration - s.Early
	if next <= put {
		out.ready = now
		for _, w := range works[next:put] {
			out.ready = out.ready.Add(time.Duration(w.Minutes) * time.Minute)
		}
		out.out = out.ready.Add(least + 2*time.Minute)
		return out
	}
	out.in, out.out = true, now
	if began := r.Steps[works[put].Step].Began; began.Add(least).After(now) {
		out.out = began.Add(least)
	}
	out.out = out.out.Add(time.Minute)
	return out
}

// canKeep is how many of jobs of a minute can be kept together, with as many
// hands as are free in each minute and none at lunch: jobs are matched to minutes
// of hands, one more by each augmenting path, until there is none (Berge 1957).
func (d *livedDay) canKeep(jobs []dueJob) int {
	type hand struct {
		minute int64
		who    int
	}
	first := d.now().Truncate(time.Minute).Add(time.Minute)
	holds := map[hand]int{}
	var place func(j int, tried map[hand]bool) bool
	place = func(j int, tried map[hand]bool) bool {
		minute := first
		for minute.Before(jobs[j].from) {
			minute = minute.Add(time.Minute)
		}
		for ; !minute.Add(time.Minute).After(jobs[j].till); minute = minute.Add(time.Minute) {
			if h := minute.Hour()*60 + minute.Minute(); h >= 12*60 && h < 12*60+30 || h >= 20*60 {
				continue
			}
			for i, p := range d.people {
				at := hand{minute.Unix(), i}
				if tried[at] || d.busy(p, jobs[j], minute) {
					continue
				}
				tried[at] = true
				if k, taken := holds[at]; !taken || place(k, tried) {
					holds[at] = j
					return true
				}
			}
		}
		return false
	}
	kept := 0
	for j := range jobs {
		if place(j, map[hand]bool{}) {
			kept++
		}
	}
	return kept
}

// busy reports whether a person's hands are at something other than j in a minute.
func (d *livedDay) busy(p *livedPerson, j dueJob, minute time.Time) bool {
	return len(p.then) > 0 && p.with != j.treatment && p.busy.After(minute)
}

// canKeepWhole is canKeep with each work as long as it is and done without a
// pause: every order of those that can get in each other's way is tried on every
// pair of hands, each as early as it can be. Of all ways to keep a number of limits,
// one is of that kind, since to begin earlier breaks none.
func (d *livedDay) canKeepWhole(jobs []dueJob) int {
	first := d.now().Truncate(time.Minute).Add(time.Minute)
	type stretch struct{ from, till time.Time }
	taken := make([][]stretch, len(d.people))
	start := func(j, who int) (time.Time, bool) {
		p, long := d.people[who], time.Duration(jobs[j].minutes)*time.Minute
	minutes:
		for minute := first; !minute.Add(time.Minute).After(jobs[j].till); minute = minute.Add(time.Minute) {
			end := minute.Add(long)
			h := minute.Hour()*60 + minute.Minute()
			if minute.Before(jobs[j].from) || h < 12*60+30 && h+jobs[j].minutes > 12*60 || h+jobs[j].minutes > 20*60 || d.busy(p, jobs[j], minute) {
				continue
			}
			for _, s := range taken[who] {
				if s.from.Before(end) && minute.Before(s.till) {
					continue minutes
				}
			}
			return minute, true
		}
		return time.Time{}, false
	}
	// Those whose times touch belong together; others can't get in their way.
	slices.SortFunc(jobs, func(a, b dueJob) int { return a.from.Compare(b.from) })
	kept := 0
	for n := 0; n < len(jobs); {
		end, over := n, jobs[n].till
		for end < len(jobs) && (end == n || !jobs[end].from.After(over)) {
			if last := jobs[end].till.Add(time.Duration(jobs[end].minutes) * time.Minute); last.After(over) {
				over = last
			}
			end++
		}
		best := 0
		used := make([]bool, end)
		var try func(so int)
		try = func(so int) {
			best = max(best, so)
			left := 0
			for j := n; j < end; j++ {
				if !used[j] {
					left++
				}
			}
			for j := n; j < end && best < so+left; j++ {
				for who := range d.people {
					if used[j] {
						continue
					}
					if at, ok := start(j, who); ok {
						used[j] = true
						taken[who] = append(taken[who], stretch{at, at.Add(time.Duration(jobs[j].minutes) * time.Minute)})
						try(so + 1)
						taken[who] = taken[who][:len(taken[who])-1]
						used[j] = false
					}
				}
			}
		}
		try(0)
		kept += best
		n = end
	}
	return kept
}

func (d *livedDay) records() map[int64]run.Record {
	d.t.Helper()
	out := map[int64]run.Record{}
	for t := range d.works {
		x, err := d.store.Treatment(d.t.Context(), t)
		if err != nil {
			d.t.Fatal(err)
		}
		out[t] = run.Fold(x, d.events(d.t, t))
	}
	return out
}

// account holds what the studio kept against what was done and tapped.
func (d *livedDay) account() {
	d.t.Helper()
	for _, p := range d.people {
		d.comesBack(p)
	}
	for t := range d.late {
		d.forgotten(&livedPerson{}, t, d.now())
	}
	for t, r := range d.records() {
		last := -1
		for i := range d.steps[t] {
			if _, ok := d.tapped[fmt.Sprintf("%d:%d", t, i)]; ok {
				last = i
			}
		}
		for i, rec := range r.Steps {
			name := fmt.Sprintf("%d:%d", t, i)
			at, ok := d.tapped[name]
			want := run.Waiting
			switch {
			case ok:
				want = run.Done
			case i < last:
				want = run.Unconfirmed
			case i == last+1 && (i > 0 || d.next[t] != 0):
				want = run.Current
			}
			if rec.State != want {
				d.t.Errorf("seed %d: step %d of treatment %d is %q, want %q", d.seed, i, t, rec.State, want)
			}
			if ok && rec.Ended.Sub(at).Abs() > 41*time.Second {
				d.t.Errorf("seed %d: step %d of treatment %d ended at %v, tapped at %v", d.seed, i, t, rec.Ended, at)
			}
		}
		if d.next[t] < len(d.works[t]) {
			d.f.unfinished += len(d.works[t]) - d.next[t]
		}
		seen := map[string]int{}
		for _, e := range d.events(d.t, t) {
			key, _, _ := strings.Cut(e.Client, "/")
			seen[key]++
			if !d.keys[key][t] {
				d.t.Errorf("seed %d: nobody tapped %q of treatment %d", d.seed, e.Client, t)
			}
		}
		for key, of := range d.keys {
			if of[t] && seen[key] != 1 {
				d.t.Errorf("seed %d: tap %s of treatment %d counts %d times", d.seed, key, t, seen[key])
			}
		}
	}
}

func (f *livedFigures) add(g livedFigures) {
	f.steps += g.steps
	f.taps += g.taps
	f.lateTaps += g.lateTaps
	f.neverTaps += g.neverTaps
	f.away += g.away
	f.twice += g.twice
	f.plans += g.plans
	f.moved += g.moved
	f.movedBy = max(f.movedBy, g.movedBy)
	f.slips += g.slips
	f.foretold += g.foretold
	f.unavoidable += g.unavoidable
	f.broken += g.broken
	f.brokenByHand += g.brokenByHand
	f.unfinished += g.unfinished
	f.took = append(f.took, g.took...)
	f.doubtful = append(f.doubtful, g.doubtful...)
}

func (f *livedFigures) words(days int) string {
	slices.Sort(f.took)
	at := func(p float64) time.Duration {
		if len(f.took) == 0 {
			return 0
		}
		return f.took[int(p*float64(len(f.took)-1))].Round(time.Millisecond)
	}
	return strconv.Itoa(days) + fmt.Sprintf(` days: %d pieces of work, %d left undone at night; %d taps, %d late, %d never made, %d from a phone that was away, %d sent twice;
%d slips of over 5 min; %d new plans, %.1f moved in each, the most by %d min;
limits broken by a new plan %d, of them past help %d; broken at the bench %d, of them by coming later than the screen said %d;
from a tap to its plan: median %v, nine of ten %v, longest %v`,
		f.steps, f.unfinished, f.taps, f.lateTaps, f.neverTaps, f.away, f.twice, f.slips, f.plans, float64(f.moved)/float64(max(1, f.plans)), f.movedBy,
		f.foretold, f.unavoidable, f.broken, f.brokenByHand, at(0.5), at(0.9), at(1))
}
