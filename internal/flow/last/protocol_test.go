package last_test

import (
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"aerugo/internal/calendar"
	"aerugo/internal/flow/last"
	"aerugo/internal/studio"
)

// The classes of ASTM D3359 method B by the share of the area affected: table of the
// Polymer Science Learning Center (pslc.ws, adtable) and D3359-09, figure 1: 5B none,
// 4B less than 5 %, 3B 5 to 15 %, 2B 15 to 35 %, 1B 35 to 65 %, 0B more than 65 %.
func TestTapeClassesAreThoseOfTheStandard(t *testing.T) {
	for _, x := range []struct {
		percent float64
		class   string
	}{{0, "5B"}, {0.1, "4B"}, {4.9, "4B"}, {5, "3B"}, {10, "3B"}, {14.9, "3B"}, {15.1, "2B"}, {34, "2B"}, {36, "1B"}, {64, "1B"}, {66, "0B"}, {100, "0B"}} {
		g, ok := last.TapeClass(x.percent / 100)
		if !ok || g.Key != x.class {
			t.Errorf("%v %% is %s, want %s", x.percent, g.Key, x.class)
		}
	}
	for _, bad := range []float64{-0.1, 1.1} {
		if g, ok := last.TapeClass(bad); ok {
			t.Errorf("a share of %v has class %s", bad, g.Key)
		}
	}
}

// ISO 105-A02:1993, clause 2.4 (as EN 20105-A02:1994, iTeh preview): CIELAB
// differences 0, 0.8, 1.7, 2.5, 3.4, 4.8, 6.8, 9.6 and 13.6.
func TestGreyStepsAreThoseOfTheStandard(t *testing.T) {
	steps := []string{"5", "4-5", "4", "3-4", "3", "2-3", "2", "1-2", "1"}
	for i, de := range []float64{0, 0.8, 1.7, 2.5, 3.4, 4.8, 6.8, 9.6, 13.6} {
		if got := last.GreyStep(de); got != steps[i] {
			t.Errorf("%v is step %s, want %s", de, got, steps[i])
		}
	}
	// ISO 105-A05 gives the borders 0.40, 1.25, 2.10, 2.95, 4.10, 5.80, 8.20, 11.60 (from memory).
	for i, border := range []float64{0.40, 1.25, 2.10, 2.95, 4.10, 5.80, 8.20, 11.60} {
		if a, b := last.GreyStep(border-0.011), last.GreyStep(border+0.011); a != steps[i] || b != steps[i+1] {
			t.Errorf("about %v the steps are %s and %s, want %s and %s", border, a, b, steps[i], steps[i+1])
		}
	}
	if last.GreyStep(80) != "1" {
		t.Error("a huge difference is not step 1")
	}
}

// ISO 9223:2012, table 2, copper, first year (from memory): the classes meet without
// a gap, and double or more from C2 on.
func TestCorrosivityClassesMeet(t *testing.T) {
	if len(last.Sites) != len(studio.Sites) {
		t.Fatal("the classes are not those that can be kept")
	}
	for i, s := range last.Sites {
		if s.Class != studio.Sites[i] {
			t.Errorf("class %d is %s, want %s", i, s.Class, studio.Sites[i])
		}
		if i > 0 && last.Sites[i-1].High != s.Low {
			t.Errorf("between %s and %s there is a gap", last.Sites[i-1].Class, s.Class)
		}
		if got, ok := last.SiteOf(s.Class); !ok || got != s {
			t.Errorf("%s is not found again", s.Class)
		}
	}
	if c3, _ := last.SiteOf("C3"); c3.Low != 0.6 || c3.High != 1.3 {
		t.Errorf("C3 is %v to %v, want 0.6 to 1.3", c3.Low, c3.High)
	}
	if _, ok := last.SiteOf("C9"); ok {
		t.Error("there is no C9")
	}
}

func TestGradesRoundTrip(t *testing.T) {
	keys := map[string]bool{}
	for _, p := range last.Protocols {
		if keys[p.Key] {
			t.Errorf("two protocols are %q", p.Key)
		}
		keys[p.Key] = true
		got, ok := last.ProtocolOf(p.Key, p.Version)
		if !ok || got.Name != p.Name {
			t.Errorf("%s is not found again", p.Key)
		}
		if _, ok := last.ProtocolOf(p.Key, p.Version+1); ok {
			t.Errorf("%s has a version that was never made", p.Key)
		}
		seen := map[string]bool{}
		for i, g := range p.Grades {
			if got, ok := p.Grade(g.Key); !ok || got != g {
				t.Errorf("%s: grade %s comes back as %v", p.Key, g.Key, got)
			}
			if seen[g.Key] || g.Word == "" || g.Means == "" {
				t.Errorf("%s: grade %q is not one of its own, in words", p.Key, g.Key)
			}
			seen[g.Key] = true
			if i > 0 && p.Grades[i-1].Value <= g.Value {
				t.Errorf("%s: %s is not worse than the one above", p.Key, g.Word)
			}
		}
		if len(p.Steps) == 0 || len(p.Needs) == 0 || p.Look == "" || p.Asks == "" || p.Did == "" || p.Manner == "" || len(p.After) == 0 {
			t.Errorf("%s is not said in full", p.Key)
		}
		if p.Standard != "" && !contains(p.Manner, "bought") {
			t.Errorf("%s names a standard but not that its text must be bought", p.Key)
		}
		if p.Standard != "" && !contains(p.Manner, "conform") {
			t.Errorf("%s does not say that it does not conform", p.Key)
		}
	}
	if _, ok := last.ProtocolOf("no such", 0); ok {
		t.Error("a protocol of no name is there")
	}
}

var start = time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)

func testOf(key string) studio.WearTest {
	return studio.WearTest{ID: 7, Client: "t", Face: studio.FaceOf{Swatch: 12, Face: studio.Front}, Protocol: key, Version: 1, Sealer: "wax", Start: start, By: "Ana"}
}

func read(id int64, at time.Time, grade string) studio.WearReading {
	return studio.WearReading{ID: id, Test: 7, Client: "r", Kind: studio.WearRead, At: at, Grade: grade}
}

func days(n float64) time.Time { return start.Add(time.Duration(n * 24 * float64(time.Hour))) }

func TestRemindersComeInTheirTurn(t *testing.T) {
	light := testOf("light")
	for _, x := range []struct {
		name     string
		readings []studio.WearReading
		now      float64
		due      float64
		isNow    bool
	}{
		{"nothing read", nil, 1, 7, false},
		{"a week on", nil, 7, 7, true},
		{"read on the day", []studio.WearReading{read(1, days(7), "same")}, 8, 30, false},
		{"read half a day early", []studio.WearReading{read(1, days(6.5), "same")}, 8, 30, false},
		{"read too early to count", []studio.WearReading{read(1, days(3), "same")}, 8, 7, true},
		{"first look skipped", []studio.WearReading{read(1, days(31), "same")}, 32, 90, false},
		{"a year read", []studio.WearReading{read(1, days(366), "same")}, 400, 730, false},
		{"a reading voided", []studio.WearReading{read(1, days(7), "same"), {ID: 2, Kind: studio.WearVoided, Voids: 1, At: days(8)}}, 9, 7, true},
	} {
		d, ok := last.DueOf(light, x.readings, days(x.now))
		if !ok || !d.At.Equal(days(x.due)) || d.Now != x.isNow {
			t.Errorf("%s: due %v (%v), now %v; want day %v, %v", x.name, d.At, ok, d.Now, x.due, x.isNow)
		}
	}
	if _, ok := last.DueOf(testOf("tape"), []studio.WearReading{read(1, days(0), "5B")}, days(1)); ok {
		t.Error("a tape test is due again after its reading")
	}
	if _, ok := last.DueOf(light, []studio.WearReading{{ID: 1, Kind: studio.WearEnded, At: days(2)}}, days(30)); ok {
		t.Error("an ended test is due")
	}
	if d, ok := last.DueOf(testOf("rewax"), []studio.WearReading{read(1, days(100), "dull")}, days(101)); !ok || !d.At.Equal(days(465)) {
		t.Errorf("waxed on day 100, due %v; want a year later", d.At)
	}
}

func TestReadingWhatIsDueMovesTheReminderOn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.SampledFrom(last.Protocols).Draw(t, "protocol")
		test := testOf(p.Key)
		var readings []studio.WearReading
		was := time.Time{}
		for i := range rapid.IntRange(1, 12).Draw(t, "looks") {
			d, ok := last.DueOf(test, readings, days(5000))
			if !ok {
				if p.Again != 0 {
					t.Fatalf("%s stops asking after %d looks", p.Key, i)
				}
				return
			}
			if !d.At.After(was) {
				t.Fatalf("%s: after a look at %v it is due at %v", p.Key, was, d.At)
			}
			was = d.At
			readings = append(readings, read(int64(i+1), d.At, p.Grades[0].Key))
		}
	})
}

func TestCalendarHasADayForEachDue(t *testing.T) {
	due := last.DueList([]studio.WearTest{testOf("outdoors"), testOf("rewax")}, nil, days(40))
	entries := last.Calendar(due, time.UTC)
	if len(entries) != 2 {
		t.Fatalf("%d entries of two tests", len(entries))
	}
	for i, e := range entries {
		if !e.Day || !e.From.Equal(due[i].At) || e.Bell != 9*time.Hour || e.Text != due[i].Protocol.Look {
			t.Errorf("entry %d is %+v", i, e)
		}
	}
	if entries[0].From.Format("20060102") != "20260331" || !slices.ContainsFunc(entries, func(e calendar.Entry) bool { return e.What == "Wax again: swatch 12, front" }) {
		t.Errorf("%+v", entries)
	}
}
