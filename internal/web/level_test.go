package web_test

import (
	"fmt"
	"strings"
	"testing"
)

// lying tells the page how the phone lies, as its sensor would.
func (tb *tab) lying(beta, gamma float64) {
	tb.t.Helper()
	js[bool](tb, fmt.Sprintf(`(() => { for (let i = 0; i < 25; i++) dispatchEvent(new DeviceOrientationEvent('deviceorientation', {alpha: 0, beta: %v, gamma: %v})); return true })()`, beta, gamma))
}

// The tilt of a plane turned by small angles b and g about two axes at right
// angles is acos(cos b cos g): 3° and 4° make 5.0°.
func TestPhoneTellsTheTilt(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	wetSet(t, s)
	ana := join(t, s.bench, "Ana", 390)
	ana.visit(fmt.Sprintf("/chambers/%d/level", s.chamber))
	ana.wait("the button", `!document.getElementById('tilt-read').hidden`)
	says := func() string { return js[string](ana, `document.getElementById('tilt-says').textContent`) }

	ana.press("Read the tilt")
	ana.wait("the sensor is listened to", `document.getElementById('tilt-read').disabled`)
	ana.lying(3, 4)
	ana.wait("the reading", `document.getElementById('tilt').value !== ''`)
	if got := js[string](ana, `document.getElementById('tilt').value`); got != "5.0" || !strings.Contains(says(), "low at the phone’s right") {
		t.Errorf("3° and 4° read %q: %s", got, says())
	}
	ana.shot("level")

	ana.press("Read the tilt")
	ana.wait("the sensor is listened to", `document.getElementById('tilt-read').disabled`)
	ana.lying(80, 0)
	ana.wait("an answer", `!document.getElementById('tilt-read').disabled`)
	if got := js[string](ana, `document.getElementById('tilt').value`); got != "5.0" || !strings.Contains(says(), "80° is no floor") {
		t.Errorf("held upright: %q, %s", got, says())
	}

	ana.pressThrough("Keep this tilt")
	if c, err := s.store.Chamber(t.Context(), s.chamber); err != nil || c.TiltDeg != 5 {
		t.Errorf("kept %v, %v", c.TiltDeg, err)
	}
	ana.wait("what was kept", `document.querySelector('.said')?.innerText.includes('kept as tilted by 5°')`)
}

// A phone that may not tell, or is reached without a secure connection, is told
// why, and the number can be typed.
func TestPhoneThatMayNotTellTheTiltSaysWhy(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	ana := join(t, s.bench, "Ana", 390)
	page := fmt.Sprintf("/chambers/%d/level", s.chamber)
	ana.visit(page)
	ana.wait("the button", `!document.getElementById('tilt-read').hidden`)
	js[bool](ana, `(() => { DeviceOrientationEvent.requestPermission = () => Promise.resolve('denied'); return true })()`)
	ana.press("Read the tilt")
	ana.wait("the refusal", `document.getElementById('tilt-says').textContent.includes('not allowed to tell its tilt')`)

	ana.visit(page)
	js[bool](ana, `(async () => { document.getElementById('tilt-read').hidden = true; Object.defineProperty(window, 'isSecureContext', {value: false}); await import('/static/level.js?again'); return true })()`)
	ana.wait("the reason", `document.getElementById('tilt-says').textContent.includes('only over a secure connection')`)
	if !js[bool](ana, `document.getElementById('tilt-read').hidden`) {
		t.Error("a button that can't work is shown")
	}
	ana.fill("tilt", "1,5")
	ana.pressThrough("Keep this tilt")
	if c, err := s.store.Chamber(t.Context(), s.chamber); err != nil || c.TiltDeg != 1.5 {
		t.Errorf("typed: kept %v, %v", c.TiltDeg, err)
	}
}
