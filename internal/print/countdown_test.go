package print

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"aerugo/internal/flow/run"
	"aerugo/internal/studio"
)

// sampleCountdown is an invented day of two chambers.
func sampleCountdown() Countdown {
	at := func(h, m int) time.Time { return time.Date(2026, time.March, 2, h, m, 0, 0, time.UTC) }
	miss := "Later than 11:20 swatch 41 fumes longer than its tolerance: note it, it still counts as run."
	return Countdown{Date: sampleDay, Studio: "Back shed", Name: "Monday 2 March", Done: 2, Caution: run.OpeningCaution("ammonia-water"), Invented: true, Moments: []Moment{
		{At: at(9, 31), What: "Degrease swatches 41, 42 and 43", Who: "Maren"},
		{At: at(9, 38), What: "Sprinkle swatches 41, 42 and 43"},
		{At: at(9, 45), Latest: at(9, 55), What: "Open Grey tub", Does: []string{"put in 41, 42 and 43"}, Miss: "Later than 09:55 the salt on swatch 41 has drunk up its wetting before it goes in: note it, it still counts as run."},
		{At: at(10, 10), What: "Abrade swatches 44 and 45", Who: "Odile"},
		{At: at(11, 10), Latest: at(11, 20), What: "Open Grey tub", Does: []string{"take out 41 and 42", "flip 43", "put in 44 and 45"}, Miss: miss, Who: "Maren and Odile"},
		{At: at(11, 45), What: "See that it is dry: swatches 41 and 42"},
		{At: at(13, 5), Latest: at(13, 25), What: "Open Grey tub", Does: []string{"take out 43, 44 and 45"}, Miss: strings.ReplaceAll(miss, "11:20", "13:25")},
		{At: at(13, 20), What: "Rinse swatches 43, 44 and 45"},
	}}
}

// extremeCountdown runs over days and nights, with every text too long.
func extremeCountdown() Countdown {
	d := sampleCountdown()
	d.Name, d.Studio = strings.Repeat("Lundi des verts-de-gris ", 8), strings.Repeat("Atelier ", 20)
	d.Caution += " " + strings.Repeat("Face turned aside. ", 12)
	long := "Open " + strings.Repeat("the very wide chamber beside the window ", 6)
	for i := range 40 {
		m := Moment{At: sampleDay.Add(time.Duration(i*97) * time.Minute), What: long, Who: strings.Repeat("Wilhelmina ", 9), Miss: strings.Repeat("Later than that it is spoilt. ", 9)}
		m.Latest = m.At.Add(time.Duration(i) * 3 * time.Hour)
		for n := range i % 4 {
			m.Does = append(m.Does, fmt.Sprintf("take out %s", strings.Repeat(fmt.Sprint(9007199254740000+n, ", "), 9)))
		}
		d.Moments = append(d.Moments, m)
	}
	return d
}

func countdownPages(t testing.TB, d Countdown) []readPage {
	t.Helper()
	c, err := drawCountdown(nil, d)
	return pagesOf(t, c, err)
}

// Times are read from a step away: they are set in 20 points or more, go forward
// through the pages, and none is left out.
func TestTheCountdownGoesByTheClock(t *testing.T) {
	for _, paper := range Papers {
		for _, d := range []Countdown{sampleCountdown(), extremeCountdown()} {
			d.Paper = paper
			got := 0
			for i, p := range countdownPages(t, d) {
				if p.w > p.h {
					t.Errorf("page %d lies on its side", i+1)
				}
				for _, want := range []string{fmt.Sprintf("page %d of ", i+1), "When a chamber is opened: " + strings.Fields(d.Caution)[0]} {
					if !strings.Contains(p.all(), want) {
						t.Errorf("page %d does not say %q", i+1, want)
					}
				}
				for _, r := range p.texts {
					if r.size < 20 {
						continue
					}
					if got < len(d.Moments) && strings.Count(r.text, ":") != 1 {
						t.Errorf("%q is no time", r.text)
					}
					got++
				}
			}
			if got != len(d.Moments) {
				t.Errorf("%s: %d times for %d moments", paper, got, len(d.Moments))
			}
		}
	}
}

func TestTheCountdownSaysWhatAndByWhen(t *testing.T) {
	d := sampleCountdown()
	all := ""
	for _, p := range countdownPages(t, d) {
		all += p.all() + " "
		for _, r := range p.texts {
			if r.size < 9 {
				t.Errorf("%q is set in %v points", r.text, r.size)
			}
		}
		for _, tint := range p.tints {
			if tint[0] != tint[1] || tint[1] != tint[2] {
				t.Errorf("a tint %v is lost on a black and white printer", tint)
			}
		}
	}
	for _, m := range d.Moments {
		for _, want := range append([]string{m.At.Format("15:04"), m.What}, m.Does...) {
			if !strings.Contains(all, want) {
				t.Errorf("the countdown does not say %q", want)
			}
		}
		if !m.Latest.IsZero() && !strings.Contains(all, "latest "+m.Latest.Format("15:04")) {
			t.Errorf("the countdown does not say that %s is the latest", m.Latest.Format("15:04"))
		}
	}
	if n := strings.Count(all, "done at"); n != len(d.Moments) {
		t.Errorf("%d places to write when it was done for %d moments", n, len(d.Moments))
	}
}

func TestACountdownWithoutWorkIsRefused(t *testing.T) {
	for name, change := range map[string]func(*Countdown){
		"no moments": func(d *Countdown) { d.Moments = nil },
		"no date":    func(d *Countdown) { d.Date = time.Time{} },
		"no paper":   func(d *Countdown) { d.Paper = "B7" },
	} {
		d := sampleCountdown()
		change(&d)
		var buf bytes.Buffer
		if err := CountdownSheet(&buf, d); studio.ProblemIn(err) == nil || buf.Len() > 0 {
			t.Errorf("%s: %d bytes, %v", name, buf.Len(), err)
		}
	}
}

func TestAnyCountdownStaysOnItsPages(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := Countdown{Date: sampleDay, Name: rapid.String().Draw(t, "name"), Paper: rapid.SampledFrom(Papers).Draw(t, "paper")}
		for i := range rapid.IntRange(1, 30).Draw(t, "moments") {
			d.Moments = append(d.Moments, Moment{At: sampleDay.Add(time.Duration(i) * time.Hour), What: rapid.String().Draw(t, "what"),
				Does: rapid.SliceOfN(rapid.String(), 0, 3).Draw(t, "does"), Who: rapid.String().Draw(t, "who"), Latest: sampleDay.Add(time.Duration(i) * time.Hour), Miss: rapid.String().Draw(t, "miss")})
		}
		c, err := drawCountdown(nil, d)
		if err != nil {
			t.Fatal(err)
		}
		for _, cell := range c.cells {
			if r := cell.room; r.x < 0 || r.y < 0 || r.x+r.w > c.w+1e-3 || r.y+r.h > c.h+1e-3 {
				t.Fatalf("page %d: the cell of %q leaves the page", cell.page, cell.text)
			}
		}
	})
}
