package web_test

import (
	"fmt"
	"strings"
	"testing"

	"aerugo/internal/studio"
)

// TestAStudentInABrowser goes the whole way on a phone, with the teacher's page beside
// it: join by the code, tap, photograph, three words, card.
func TestAStudentInABrowser(t *testing.T) {
	t.Parallel()
	c := classroomOf(t, 2)
	x := c.give(t, 0, 2)
	teacher := open(t, c.url, "teacher", 1280)
	teacher.visit(c.at(""))
	code := js[string](teacher, `document.querySelector('.doorcode').textContent`)
	if code != c.code(t) {
		t.Fatalf("the teacher's screen shows %q", code)
	}
	teacher.shot("students")

	// under another name than 127.0.0.1 it comes as a phone does
	phone := open(t, strings.Replace(c.url, "127.0.0.1", "seat.localhost", 1), "student", 360)
	phone.visit("/seat")
	phone.shot("code")
	phone.fill("code", strings.ToLower(code))
	phone.pressThrough("Go on")
	phone.fill("name", "Ana")
	phone.shot("seats")
	phone.pressThrough("2")
	phone.wait("the desk", `document.querySelector('h1').textContent === 'Seat 2, Ana'`)
	phone.shot("desk")
	small := js[string](phone, `[...document.querySelectorAll('main button')].filter(b => b.offsetParent && b.getBoundingClientRect().height < 44).map(b => b.textContent).join(', ')`)
	if small != "" {
		t.Errorf("too small for a thumb: %s", small)
	}
	phone.press("Begin")
	phone.wait("the first step", `document.querySelector('#board .task .buttons .main')`)
	phone.shot("step")
	phone.press("Done")
	phone.wait("the second step", `document.querySelector('#board .task .detail')?.textContent.includes('Step 2 of 4')`)
	phone.wait("the way back", `document.querySelector('.undo button')`)
	phone.settled()
	phone.press("I need help")
	teacher.wait("the student's step", `document.querySelector('.seatgrid')?.innerText.includes('step 2 of 4')`)
	teacher.wait("the student's hand", `document.querySelector('.seatgrid')?.innerText.includes('Needs help')`)
	teacher.shot("hand")
	phone.wait("the page of the hand", `document.querySelector('.hand.up')`)
	phone.press("Done")
	phone.wait("the dwell", `document.querySelector('#board .task .time[data-due]')`)
	phone.settled()
	phone.shot("dwell")

	// out of reach, the phone goes on by itself; back again, the tap counts once
	js[bool](phone, `(window.there = window.fetch, window.fetch = () => Promise.reject(new TypeError('out of reach')), true)`)
	phone.press("Out")
	phone.wait("the last step, kept on the phone", `document.querySelector('#board .task h3')?.textContent.includes('dry') && document.querySelector('#board .task .detail').textContent.includes('not sent yet')`)
	phone.shot("away")
	if n := len(c.events(t, x.ID)); n != 3 {
		t.Errorf("%d taps reached the laptop while it was out of reach, want 3", n)
	}
	js[bool](phone, `(window.fetch = window.there, true)`)
	phone.wait("the tap to be sent", `!document.querySelector('#board')?.innerText.includes('not sent yet') && document.querySelector('#net').hidden`)

	phone.visit(fmt.Sprintf("/seat/swatches/%d", x.Swatch))
	data, _ := sample(x.Swatch, studio.Front, 0)
	phone.attach("photo", "IMG.jpg", data)
	phone.pressThrough("Send it")
	phone.wait("the photograph", `document.querySelector('.pics img')?.naturalWidth > 0`)
	phone.fill("word", "velvety")
	phone.fill("covered", "70")
	phone.fill("note", "like the sea")
	phone.shot("swatch")
	phone.pressThrough("Keep this")
	phone.visit("/seat/card")
	phone.wait("the card", `document.querySelector('.cardface img')?.naturalWidth > 0 && document.querySelector('.card').innerText.includes('velvety')`)
	phone.shot("card")
	phone.visit("/seat/about")
	phone.shot("about")
	phone.visit("/swatches")
	if !js[bool](phone, `document.querySelector('main').innerText.includes('shows the class only')`) {
		t.Error("the student's phone sees the studio's swatches")
	}
	events := c.events(t, x.ID)
	if len(events) != 4 {
		t.Errorf("%d taps are kept, want 4: %+v", len(events), events)
	}
	for _, e := range events {
		if e.By != "seat 2" {
			t.Errorf("a tap by %q", e.By)
		}
	}
}
