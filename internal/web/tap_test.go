package web_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// tapForm is a tap as the bench pages send it.
func tapForm(client, kind string, treatment int64, step int, more ...string) url.Values {
	f := url.Values{"client": {client}, "kind": {kind}, "of": {fmt.Sprintf("%d:%d", treatment, step)}}
	for i := 0; i+1 < len(more); i += 2 {
		f.Set(more[i], more[i+1])
	}
	return f
}

// record folds what is recorded of a treatment.
func (s *stock) record(t testing.TB, treatment int64) run.Record {
	t.Helper()
	x, err := s.store.Treatment(t.Context(), treatment)
	if err != nil {
		t.Fatal(err)
	}
	return run.Fold(x, s.events(t, treatment))
}

func kinds(events []studio.Event) []studio.EventKind {
	var out []studio.EventKind
	for _, e := range events {
		out = append(out, e.Kind)
	}
	return out
}

func TestATapSentTwiceCountsOnce(t *testing.T) {
	s := stocked(t)
	x := s.planned[0].ID
	for range 2 {
		s.begin(t, "b", x).to(t)
	}
	for range 3 {
		s.post(t, "/taps", tapForm("d0", "done", x, 0)).to(t)
	}
	// a phone may send an old tap after the bench went on
	s.post(t, "/taps", tapForm("d1", "done", x, 1, "amount", "12,5", "unit", "g/m2")).to(t)
	s.post(t, "/taps", tapForm("d0", "done", x, 0)).to(t)
	s.post(t, "/taps", tapForm("d1", "done", x, 1, "amount", "12,5", "unit", "g/m2")).to(t)
	got := kinds(s.events(t, x))
	slices.Sort(got)
	if want := []studio.EventKind{studio.Began, studio.Changed, studio.Done, studio.Done}; !slices.Equal(got, want) {
		t.Errorf("recorded %v, want %v", got, want)
	}
	r := s.record(t, x)
	if r.Current != 2 || len(r.Repeats) != 0 || r.Steps[1].Amount.Value != 12.5 {
		t.Errorf("step %d is under way, repeats %v, amount %v", r.Current+1, r.Repeats, r.Steps[1].Amount)
	}
	// the key belongs to what it was made for
	if a := s.post(t, "/taps", tapForm("d0", "done", x, 2)); a.code != http.StatusConflict {
		t.Errorf("the same key for another step: status %d, want 409", a.code)
	}
	// the same key on several at once makes one record for each
	for range 2 {
		s.begin(t, "both", s.planned[1].ID, s.planned[2].ID).to(t)
	}
	for range 2 {
		f := tapForm("together", "done", s.planned[1].ID, 0)
		f.Add("of", fmt.Sprintf("%d:0", s.planned[2].ID))
		s.post(t, "/taps", f).to(t)
	}
	for _, x := range s.planned[1:3] {
		if got := kinds(s.events(t, x.ID)); !slices.Equal(got, []studio.EventKind{studio.Began, studio.Done}) {
			t.Errorf("swatch %d: recorded %v", x.Swatch, got)
		}
	}
}

// TestFiftyAtOnceCountOnce posts one tap from fifty places at the same moment.
func TestFiftyAtOnceCountOnce(t *testing.T) {
	s := stocked(t)
	x := s.planned[0].ID
	s.begin(t, "b", x).to(t)
	at := s.now().Format(time.RFC3339Nano)
	codes := make([]int, 50)
	var wg sync.WaitGroup
	start := make(chan struct{})
	for i := range codes {
		r := request(t, "POST", s.url+"/taps", strings.NewReader(tapForm("one", "done", x, 0, "at", at).Encode()), "Content-Type", "application/x-www-form-urlencoded")
		wg.Go(func() {
			<-start
			if a, err := sent(r); err == nil {
				codes[i] = a.code
			}
		})
	}
	close(start)
	wg.Wait()
	for i, c := range codes {
		if c != http.StatusSeeOther {
			t.Errorf("tap %d: status %d, want 303", i, c)
		}
	}
	if got := kinds(s.events(t, x)); !slices.Equal(got, []studio.EventKind{studio.Began, studio.Done}) {
		t.Errorf("recorded %v", got)
	}
}

// TestTwoPhonesConfirmOneStep: both taps are kept, one counts, and it is the
// earlier; the two hands are named.
func TestTwoPhonesConfirmOneStep(t *testing.T) {
	s := stocked(t)
	x := s.planned[0].ID
	s.begin(t, "b", x).to(t)
	cookie := map[string]*http.Cookie{}
	tap := func(name string, f url.Values) int {
		r := httptest.NewRequest("POST", "http://192.0.2.7:8737/taps", strings.NewReader(f.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.RemoteAddr = "192.0.2.9:5000"
		r.AddCookie(cookie[name])
		w := httptest.NewRecorder()
		s.web.ServeHTTP(w, r)
		return w.Code
	}
	for _, name := range []string{"Ana", "Ben"} {
		r := httptest.NewRequest("POST", "http://192.0.2.7:8737/join", strings.NewReader(url.Values{"code": {s.web.JoinCode()}, "name": {name}}.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.RemoteAddr = "192.0.2.9:5000"
		w := httptest.NewRecorder()
		s.web.ServeHTTP(w, r)
		cookie[name] = w.Result().Cookies()[0]
	}
	for name, key := range map[string]string{"Ana": "tap-ana", "Ben": "tap-ben"} {
		if code := tap(name, tapForm(key, "done", x, 0)); code != http.StatusSeeOther {
			t.Fatalf("%s: status %d", name, code)
		}
	}
	r := s.record(t, x)
	if r.Current != 1 || len(r.Repeats) != 1 || r.Repeats[0].By == r.Steps[0].By || r.Repeats[0].At.Before(r.Steps[0].Ended) {
		t.Errorf("step %d is under way, by %s at %v; repeats %+v", r.Current+1, r.Steps[0].By, r.Steps[0].Ended, r.Repeats)
	}
	whole := s.see(t, fmt.Sprintf("/swatches/%d", s.planned[0].Swatch)).doc(t).one("main").words()
	for _, name := range []string{"Ana", "Ben"} {
		if !strings.Contains(whole, name) {
			t.Errorf("the swatch's record does not name %s", name)
		}
	}
}

// TestATapIsRecordedAtItsOwnTime: a phone that lost the network sends its tap
// later, with the time it was made.
func TestATapIsRecordedAtItsOwnTime(t *testing.T) {
	s := stocked(t)
	x := s.planned[0].ID
	s.begin(t, "b", x).to(t)
	s.pass(30 * time.Minute)
	at := s.now().Add(-10 * time.Minute).UTC().Truncate(time.Millisecond)
	s.post(t, "/taps", tapForm("late", "done", x, 0, "at", at.Format("2006-01-02T15:04:05.000Z"))).to(t)
	r := s.record(t, x)
	if got := r.Steps[0].Ended; !got.Equal(at) || r.Current != 1 {
		t.Errorf("recorded at %v, want %v; step %d is under way", got, at, r.Current+1)
	}
	e := s.events(t, x)[1]
	if wait := e.Recorded.Sub(e.At); wait < 10*time.Minute || wait > 11*time.Minute {
		t.Errorf("it says it reached the studio %v later, want 10 min", wait)
	}
	for name, c := range map[string]struct {
		field, value string
		code         int
		says         string
	}{
		"five minutes ahead":        {"at", s.now().Add(5 * time.Minute).UTC().Format(time.RFC3339), 422, "future"},
		"no time":                   {"at", "noon", 422, `"noon"`},
		"before it began":           {"at", s.now().Add(-24 * time.Hour).UTC().Format(time.RFC3339), 422, "before the treatment"},
		"a clock of no hours":       {"clock", "25:00", 422, `"25:00"`},
		"words for a local time":    {"atlocal", "yesterday", 422, `"yesterday"`},
		"a room like a kiln":        {"temp", "900", 422, "900"},
		"words for the room":        {"temp", "warm", 422, `"warm"`},
		"humid beyond the possible": {"rh", "140", 422, "140"},
		"words for the amount":      {"amount", "some", 422, `"some"`},
	} {
		f := tapForm(name, "done", x, 1, c.field, c.value)
		if c.field == "amount" {
			f.Set("unit", "g/m2")
		}
		a := s.post(t, "/taps", f, "Accept", "application/json")
		if a.code != c.code || !strings.Contains(string(a.body), strings.Trim(c.says, `"`)) {
			t.Errorf("%s: status %d: %s", name, a.code, a.body)
		}
	}
	if n := len(s.events(t, x)); n != 2 {
		t.Errorf("refused taps left records: %d, want 2", n)
	}
	// a clock a little fast is taken as now
	s.post(t, "/taps", tapForm("fast", "done", x, 1, "at", s.now().Add(90*time.Second).UTC().Format(time.RFC3339Nano))).to(t)
	if got := s.record(t, x).Steps[1].Ended; got.After(s.now()) {
		t.Errorf("a clock a little fast put the tap at %v, after now", got)
	}
	// a time of day later than now was yesterday's
	s.begin(t, "b2", s.planned[1].ID)
	clock := s.now().Add(10 * time.Minute).Local().Format("15:04")
	s.post(t, "/taps", tapForm("note", "noted", s.planned[1].ID, 0, "clock", clock, "note", "seen")).to(t)
	noted := s.record(t, s.planned[1].ID).Notes
	if len(noted) != 1 || noted[0].At.After(s.now()) || noted[0].At.Before(s.now().Add(-24*time.Hour)) {
		t.Errorf("a note at %s is kept as %v", clock, noted)
	}
}

// TestTakingBackBringsTheStepBack: the first line stays in the record.
func TestTakingBackBringsTheStepBack(t *testing.T) {
	s := stocked(t)
	x, swatch := s.planned[0].ID, s.planned[0].Swatch
	s.begin(t, "b", x).to(t)
	s.post(t, "/taps", tapForm("d0", "done", x, 0)).to(t)
	events := s.events(t, x)
	done := events[1]
	if s.record(t, x).Current != 1 {
		t.Fatal("the step did not count")
	}
	s.post(t, "/taps", tapForm("v", "voided", x, 0, "corrects", id(done.ID))).to(t)
	r := s.record(t, x)
	if r.Current != 0 || r.Status != run.Running {
		t.Errorf("after taking it back step %d is under way, %s", r.Current+1, r.Status)
	}
	events = s.events(t, x)
	if len(events) != 3 || events[1] != done {
		t.Errorf("the record is %v; the first line must stay", kinds(events))
	}
	if task := s.see(t, "/").doc(t).one("ol.tasks h3").words(); !strings.Contains(task, "Degrease") {
		t.Errorf("the bench asks for %q, want the degreasing again", task)
	}
	whole := s.see(t, fmt.Sprintf("/swatches/%d", swatch)).doc(t).one("main").words()
	for _, want := range []string{fmt.Sprintf("%d. degrease (step 1) done", done.ID), fmt.Sprintf("takes record %d back", done.ID)} {
		if !strings.Contains(whole, want) {
			t.Errorf("the swatch's record does not say %q", want)
		}
	}
	// beginning is taken back the same way
	s.post(t, "/taps", tapForm("v2", "voided", x, 0, "corrects", id(events[0].ID))).to(t)
	if got := s.record(t, x).Status; got != run.Planned {
		t.Errorf("after taking the start back it is %s", got)
	}
	// what belongs to another treatment, or is not there, is not taken back
	for _, n := range []string{id(events[0].ID), "99999", "0", "-1", ""} {
		if a := s.post(t, "/taps", tapForm("w"+n, "voided", s.planned[1].ID, 0, "corrects", n)); a.code != 409 && a.code != 422 {
			t.Errorf("taking back %q: status %d", n, a.code)
		}
	}
}

func TestACorrectionAddsALineAndCounts(t *testing.T) {
	s := stocked(t)
	x := s.planned[0].ID
	s.begin(t, "b", x).to(t)
	s.pass(time.Hour)
	s.post(t, "/taps", tapForm("d0", "done", x, 0)).to(t)
	done := s.events(t, x)[1]
	at := s.now().Add(-20 * time.Minute).Truncate(time.Second)
	s.post(t, "/taps", tapForm("c", "corrected", x, 0, "corrects", id(done.ID), "atlocal", at.Local().Format("2006-01-02T15:04:05"), "back", "/swatches/1")).to(t)
	events := s.events(t, x)
	if len(events) != 3 || !slices.Contains(events, done) {
		t.Errorf("the record is %v, and must hold the first line", kinds(events))
	}
	if got := s.record(t, x).Steps[0].Ended; !got.Equal(at) {
		t.Errorf("the step ended at %v, want %v", got, at)
	}
	if a := s.post(t, "/taps", tapForm("c2", "corrected", x, 0, "corrects", id(done.ID), "atlocal", s.now().Add(time.Hour).Local().Format("2006-01-02T15:04:05"))); a.code != 422 {
		t.Errorf("a correction into the future: status %d, want 422", a.code)
	}
}

func TestSeveralBeginTogetherOrNotAtAll(t *testing.T) {
	s := stocked(t)
	a, b := s.planned[0].ID, s.planned[1].ID
	for name, bad := range map[string]string{"not there": "99999", "no number": "x", "nothing": ""} {
		if got := s.post(t, "/begin", url.Values{"client": {name}, "t": {id(a), bad, id(b)}}); got.code != 404 && got.code != 422 {
			t.Errorf("%s: status %d: %s", name, got.code, got.problem())
		}
	}
	if got := s.post(t, "/begin", url.Values{"client": {"none"}}); got.code != 422 || !strings.Contains(got.problem(), "Tick at least one") {
		t.Errorf("nothing ticked: status %d: %s", got.code, got.problem())
	}
	if got := s.post(t, "/begin", url.Values{"t": {id(a)}}); got.code != 422 {
		t.Errorf("without a key: status %d", got.code)
	}
	// one that is begun already spoils the start of the others
	s.begin(t, "first", a).to(t)
	if got := s.begin(t, "second", b, a); got.code != http.StatusConflict || !strings.Contains(got.problem(), "started already") {
		t.Errorf("one started already: status %d: %s", got.code, got.problem())
	}
	if got := kinds(s.events(t, a)); !slices.Equal(got, []studio.EventKind{studio.Began}) {
		t.Errorf("the first has %v", got)
	}
	if got := s.events(t, b); len(got) != 0 {
		t.Errorf("the other began by itself: %v", kinds(got))
	}
	s.begin(t, "third", b, s.planned[2].ID, b).to(t)
	for _, x := range []int64{b, s.planned[2].ID} {
		if got := kinds(s.events(t, x)); !slices.Equal(got, []studio.EventKind{studio.Began}) {
			t.Errorf("treatment %d has %v", x, got)
		}
	}
}

// TestATapThatCantBeTrueIsRefused: each with a sentence, as a page and as JSON.
func TestATapThatCantBeTrueIsRefused(t *testing.T) {
	s := stocked(t)
	x, y := s.planned[0].ID, s.planned[1].ID
	s.begin(t, "b", x).to(t)
	for step := range s.planned[0].Steps {
		s.post(t, "/taps", tapForm(fmt.Sprint("d", step), "done", x, step)).to(t)
	}
	for name, c := range map[string]struct {
		form url.Values
		code int
		says string
	}{
		"not started":          {tapForm("1", "done", y, 0), 409, "start it first"},
		"finished already":     {tapForm("2", "done", x, 1), 409, "finished"},
		"given up when over":   {tapForm("3", "stopped", x, 1), 409, "finished"},
		"no such step":         {tapForm("4", "done", y, 40), 422, "no step 41"},
		"no such treatment":    {tapForm("5", "done", 9999, 0), 404, "9999"},
		"nothing that is":      {tapForm("6", "painted", y, 0), 422, "painted"},
		"no key":               {tapForm("", "done", x, 1), 422, "reload the page"},
		"an endless key":       {tapForm(strings.Repeat("k", 200), "done", x, 1), 422, "reload the page"},
		"an empty note":        {tapForm("8", "noted", x, 1), 422, "nothing to keep"},
		"no amount":            {tapForm("9", "changed", x, 1), 422, "amount"},
		"about nothing":        {url.Values{"client": {"10"}, "kind": {"done"}}, 422, "reload the page"},
		"about what is unsaid": {url.Values{"client": {"11"}, "kind": {"done"}, "of": {"1"}}, 422, "reload the page"},
		"one of two":           {url.Values{"client": {"12"}, "kind": {"done"}, "of": {fmt.Sprintf("%d:0", y), "9999:0"}}, 404, "9999"},
	} {
		page := s.post(t, "/taps", c.form)
		if page.code != c.code || !strings.Contains(page.problem(), c.says) {
			t.Errorf("%s: status %d, want %d: %s", name, page.code, c.code, page.problem())
		}
		holdPage(t, name, page.doc(t))
		data := s.post(t, "/taps", c.form, "Accept", "application/json")
		var said struct{ Problem, Field string }
		if err := json.Unmarshal(data.body, &said); err != nil || data.code != c.code || !strings.Contains(said.Problem, c.says) {
			t.Errorf("%s as JSON: status %d: %s (%v)", name, data.code, data.body, err)
		}
		if !strings.HasPrefix(data.header.Get("Content-Type"), "application/json") {
			t.Errorf("%s as JSON has the type %q", name, data.header.Get("Content-Type"))
		}
	}
	if n, m := len(s.events(t, x)), len(s.events(t, y)); n != 1+len(s.planned[0].Steps) || m != 0 {
		t.Errorf("refused taps left %d and %d records", n, m)
	}
	// taken, a tap answers a form with a page to go to, and a script with JSON
	s.begin(t, "b2", y).to(t)
	if to := s.post(t, "/taps", tapForm("form", "done", y, 0)).to(t); to != "/" {
		t.Errorf("the form leads to %q", to)
	}
	a := s.post(t, "/taps", tapForm("script", "done", y, 1), "Accept", "application/json")
	var ok struct {
		OK bool
		Go string
	}
	if err := json.Unmarshal(a.body, &ok); err != nil || a.code != 200 || !ok.OK || ok.Go != "/" {
		t.Errorf("the script got status %d: %s (%v)", a.code, a.body, err)
	}
}

// TestAStartIsCheckedOnceMore: a supply changed since the plan stops the start
// of what would now bring together what must never meet.
func TestAStartIsCheckedOnceMore(t *testing.T) {
	s := stocked(t)
	s.post(t, "/recipes", recipeForm("Two washes", line{kind: "wet", supply: id(s.sulfide), amount: "20"}, line{kind: "rinse"}, line{kind: "wet", supply: id(s.vinegar), amount: "20"})).to(t)
	swatches, err := s.store.SwatchesOf(t.Context(), s.set)
	if err != nil {
		t.Fatal(err)
	}
	steps := []studio.Step{{Kind: studio.Wet, SupplyID: s.sulfide, Material: "liver-of-sulfur", Amount: studio.Amount{Value: 20, Unit: studio.MLPerM2}},
		{Kind: studio.Wet, SupplyID: s.vinegar, Material: "vinegar", Amount: studio.Amount{Value: 20, Unit: studio.MLPerM2}}}
	var blank int64
	for _, x := range swatches {
		if x.Blank {
			blank = x.Number
		}
	}
	x, err := s.store.AddTreatment(t.Context(), studio.Treatment{Swatch: blank, Faces: studio.OnFront, Steps: steps})
	if err != nil {
		t.Fatal(err)
	}
	a := s.begin(t, "unsafe", s.planned[0].ID, x.ID)
	if a.code != 422 || !strings.Contains(a.problem(), "hydrogen sulfide") {
		t.Errorf("status %d: %s", a.code, a.problem())
	}
	ts, err := s.store.Treatments(t.Context(), store.TreatmentFilter{})
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range ts {
		if n := len(s.events(t, x.ID)); n != 0 {
			t.Errorf("swatch %d began all the same", x.Swatch)
		}
	}
}
