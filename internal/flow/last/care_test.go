package last_test

import (
	"regexp"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"aerugo/internal/flow/last"
	"aerugo/internal/studio"
)

func contains(text, part string) bool { return strings.Contains(text, part) }

func whole(c last.Care) string {
	var b strings.Builder
	for _, s := range c.Sections() {
		b.WriteString(s.Head + "\n" + strings.Join(s.Lines, "\n") + "\n")
	}
	return b.String()
}

// promising are words that say a colour lasts.
var promising = regexp.MustCompile(`(?i)\b(lasts?|lasting|durable|durability|fast|permanent|resists?|resistant|withstands?|guarantee\w*|proof|never fades?|for years|stays as)\b`)

func TestWithoutATestNothingIsPromised(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := last.Subject{Number: 12, Name: "Lamp", Metal: rapid.SampledFrom([]string{"", "copper", "brass"}).Draw(t, "metal"), Look: rapid.SampledFrom([]string{"", "blue-green"}).Draw(t, "look"),
			Sealer: rapid.SampledFrom([]string{"", "none", "wax", "oil", "lacquer"}).Draw(t, "sealer"), Made: start, Ammonia: rapid.Bool().Draw(t, "ammonia")}
		var trials []last.Trial
		for _, p := range last.Protocols {
			if rapid.Bool().Draw(t, p.Key) { // begun, nothing read
				trials = append(trials, last.Trial{Test: testOf(p.Key), Same: rapid.Bool().Draw(t, "same")})
			}
		}
		c := last.CareOf(s, trials, days(10), time.UTC)
		if len(c.Found) != 0 {
			t.Fatalf("found without a reading: %q", c.Found)
		}
		text := whole(c)
		if m := promising.FindString(text); m != "" {
			t.Fatalf("it says %q:\n%s", m, text)
		}
		if !contains(text, "has not been tested") {
			t.Fatalf("it does not say that nothing was tested:\n%s", text)
		}
		for _, p := range last.Protocols {
			if !p.Upkeep && !contains(c.Untested, strings.ToLower(p.Name[:1])+p.Name[1:]) {
				t.Fatalf("%q is not among what was not tested: %s", p.Name, c.Untested)
			}
		}
	})
}

func TestOnlyWhatWasReadIsTold(t *testing.T) {
	tape, rub, light := testOf("tape"), testOf("rub"), testOf("light")
	rub.Sealer = "none"
	trials := []last.Trial{
		{Test: tape, Same: true, Readings: []studio.WearReading{read(1, days(0), "4B")}},
		{Test: rub, Readings: []studio.WearReading{read(2, days(1), "smear"), {ID: 3, Kind: studio.WearVoided, Voids: 2, At: days(2)}}},
		{Test: light, Readings: []studio.WearReading{read(4, days(7), "same"), read(5, days(182), "slight")}, Change: &last.Change{Words: "It became greyer: the colour moved by 8 (2 to 14)."}},
	}
	c := last.CareOf(last.Subject{Number: 3, Name: "Bowl", Metal: "brass", Sealer: "wax", Made: start, Ammonia: true}, trials, days(200), time.UTC)
	want := []string{
		"This piece: sticky tape pressed on and pulled off, looked at 1 March 2026: a few flakes, that is, less than 5 % of the area came off.",
		"Not this piece but test swatch 12, of the same metal and recipe: hung in a window with one half covered, for 6 months, looked at 30 August 2026: a slight change, that is, seen side by side. By its photographs: it became greyer: the colour moved by 8 (2 to 14).",
	}
	if len(c.Found) != 2 || c.Found[0] != want[0] || c.Found[1] != want[1] {
		t.Errorf("found %q,\nwant %q", c.Found, want)
	}
	if !contains(c.Untested, "rubbing, dry (begun") || contains(c.Untested, "tape") {
		t.Errorf("not tested: %s", c.Untested)
	}
	text := whole(c)
	for _, w := range []string{"poisonous", "Not for food", "skin", "brass", "wax", "Outdoors"} {
		if !contains(text, w) {
			t.Errorf("the sheet does not say %q", w)
		}
	}
	if contains(text, "crack") || len(c.Maker) == 0 || !contains(c.Maker[0], "season cracking") {
		t.Error("season cracking is for the maker alone")
	}
}

func TestAnotherSealerIsTold(t *testing.T) {
	tape := testOf("tape")
	tape.Sealer = "lacquer"
	c := last.CareOf(last.Subject{Number: 3, Sealer: "wax"}, []last.Trial{{Test: tape, Readings: []studio.WearReading{read(1, days(0), "5B")}}}, days(1), time.UTC)
	if len(c.Found) != 1 || !contains(c.Found[0], "sealed with lacquer and so not as this piece is") {
		t.Errorf("found %q", c.Found)
	}
}

func TestWaxingIsRemembered(t *testing.T) {
	c := last.CareOf(last.Subject{Number: 3, Sealer: "wax"}, []last.Trial{{Test: testOf("rewax"), Same: true, Readings: []studio.WearReading{read(1, days(0), "sound")}}}, days(1), time.UTC)
	if text := whole(c); !contains(text, "Last waxed 1 March 2026; next by 1 March 2027.") || len(c.Found) != 0 {
		t.Errorf("%s", text)
	}
}
