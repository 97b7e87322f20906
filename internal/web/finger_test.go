package web_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"aerugo/internal/studio"
)

// holding lets the test hold requests of the page for a path back until it says
// window.release().
func holding(path string) string {
	return fmt.Sprintf(`{ const real = window.fetch, held = new Promise(done => window.release = done); window.asked = 0; window.fetch = (u, o) => u === %s ? (window.asked++, held.then(() => real(u, o))) : real(u, o) }`, quote(path))
}

// What changes between the making of a page and its first listening is shown all the
// same.
func TestWhatChangesWhileAPageLoadsIsShown(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	tb := open(t, s.url, "loading", 390)
	tb.script(holding("/clock")) // a page listens once it has compared the clocks
	tb.visit("/")
	s.begin(t, "b", s.planned[0].ID).to(t)
	js[bool](tb, `(window.release(), true)`)
	tb.wait("what began meanwhile", hasCard("Degrease"))
}

// A student's page keeps the same promise, though it counts its own changes only.
func TestWhatChangesWhileAStudentsPageLoadsIsShown(t *testing.T) {
	t.Parallel()
	c := classroomOf(t, 2)
	x := c.give(t, 0, 1)
	phone := open(t, strings.Replace(c.url, "127.0.0.1", "seat.localhost", 1), "student loading", 360)
	phone.visit("/seat?code=" + c.code(t))
	phone.fill("name", "Ana")
	phone.pressThrough("1")
	phone.script(holding("/clock"))
	phone.visit("/seat")
	phone.wait("what is ready", `document.querySelector('#board [data-begin]')`)
	c.begin(t, "b", x.ID).to(t)
	js[bool](phone, `(window.release(), true)`)
	phone.wait("what the teacher began", hasCard("Degrease"))
}

// Between a finger going down and coming up nothing is drawn anew under it: the tap
// would be nobody's.
func TestNothingIsDrawnAnewUnderAFinger(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	x, y := s.planned[0], s.planned[1]
	s.begin(t, "b", x.ID).to(t)
	tb := open(t, s.url, "finger", 390)
	tb.visit("/")
	tb.wait("the card", hasCard("Degrease"))
	js[bool](tb, `(() => { window.button = document.querySelector('.task .buttons .main'); window.button.dispatchEvent(new PointerEvent('pointerdown', { bubbles: true, pointerId: 3 })); return true })()`)
	s.begin(t, "b2", y.ID).to(t)
	tb.wait("word of the change", `document.querySelector('#board').dataset.stale`)
	if !js[bool](tb, `(() => { const there = window.button.isConnected; window.button.dispatchEvent(new PointerEvent('pointerup', { bubbles: true, pointerId: 3 })); window.button.click(); return there })()`) {
		t.Error("the button was drawn anew under the finger")
	}
	tb.wait("both", hasCard(fmt.Sprintf("Sprinkle swatch %d,", x.Swatch))+" && "+hasCard(fmt.Sprintf("Degrease swatch %d,", y.Swatch)))
	tb.settled()
	if n := len(s.events(t, x.ID)); n != 2 {
		t.Errorf("%d records, want the start and the tap", n)
	}
}

// What is ticked while a fresh list is on its way stays ticked.
func TestWhatIsTickedMeanwhileStaysTicked(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	tb := open(t, s.url, "ticking", 390)
	tb.visit("/")
	box := func(x studio.Treatment) string {
		return fmt.Sprintf(`document.querySelector('input[name=t][value="%d"]')`, x.ID)
	}
	js[bool](tb, holding("/today/board")+`; (`+box(s.planned[1])+`.checked = true, `+box(s.planned[2])+`.checked = true)`)
	s.begin(t, "b", s.planned[0].ID).to(t)
	tb.wait("the list to be asked for", `window.asked`)
	js[bool](tb, `(`+box(s.planned[1])+`.checked = false, `+box(s.planned[3])+`.checked = true, window.release(), true)`)
	tb.wait("the fresh list", hasCard("Degrease"))
	if got := js[string](tb, `[...document.querySelectorAll('input[name=t]:checked')].map(b => b.value).join()`); got != fmt.Sprintf("%d,%d", s.planned[2].ID, s.planned[3].ID) {
		t.Errorf("ticked are %s, want %d,%d", got, s.planned[2].ID, s.planned[3].ID)
	}
}

// A tap made before the page knows how far its clock is off waits for that.
func TestATapWaitsForTheClocks(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	x := s.planned[0].ID
	s.begin(t, "b", x).to(t)
	s.pass(time.Hour)
	tb := open(t, s.url, "early tap", 390)
	tb.script(aheadBy7)
	tb.script(holding("/clock"))
	tb.visit("/")
	was := s.now()
	tb.tapCard("Degrease")
	till := s.now()
	js[bool](tb, `(window.release(), true)`)
	tb.settled()
	done := s.events(t, x)
	if len(done) != 2 || done[1].At.Before(was.Add(-3*time.Second)) || done[1].At.After(till.Add(3*time.Second)) || done[1].Note != "" {
		t.Errorf("tapped between %v and %v, kept as %+v", was, till, done)
	}
}
