package benchday

import (
	"testing"
	"time"

	"aerugo/internal/studio"
)

// A day reckoned by hand: all goes as planned until the taking out, which comes
// twenty minutes late; both are then rinsed with one tap, eight minutes later.
func TestAfterByHand(t *testing.T) {
	a := few()
	a.Wish.Treatments = []int64{1, 2}
	a.Entries = a.Entries[:2]
	s, err := Make(a)
	if err != nil {
		t.Fatal(err)
	}
	var n int64
	ev := func(id int64, kind studio.EventKind, step, h, m int) studio.Event {
		n++
		return studio.Event{ID: n, Treatment: id, Client: string(rune('a' + n)), Kind: kind, Step: step, At: at(h, m), By: "Maren"}
	}
	a.Entries[0] = entry(a.Entries[0].Treatment, ev(1, studio.Began, 0, 9, 0), ev(1, studio.Done, 0, 9, 1), ev(1, studio.Done, 1, 9, 6), ev(1, studio.Done, 2, 10, 22), ev(1, studio.Done, 3, 10, 30))
	a.Entries[1] = entry(a.Entries[1].Treatment, ev(2, studio.Began, 0, 9, 2), ev(2, studio.Done, 0, 9, 3), ev(2, studio.Done, 1, 9, 6), ev(2, studio.Done, 2, 10, 22), ev(2, studio.Done, 3, 10, 30))
	a.Now = at(11, 0)
	r, err := After(a, s.Starts)
	if err != nil {
		t.Fatal(err)
	}
	// wet 1 each, sprinkle 3 min for two, in and out 1 each, rinse 8 min for two
	if want := time.Minute + 90*time.Second + 2*time.Minute + 4*time.Minute; r.HandsOn[1] != want || r.HandsOn[2] != want || r.Work != 2*want {
		t.Errorf("hands on %v, all %v; by hand %v each", r.HandsOn, r.Work, want)
	}
	if r.Openings != 2 || r.Planned != 2 {
		t.Errorf("%d openings, %d planned; there were 2 and 2", r.Openings, r.Planned)
	}
	if want := 90*time.Minute - r.Work; r.Idle < want-time.Minute || r.Idle > want {
		t.Errorf("idle %v between 9:00 and 10:30, want %v", r.Idle, want)
	}
	if l := r.Learnt[studio.Rinse]; l.Median != 4 || l.N != 2 {
		t.Errorf("a rinse took %+v, want 4 min twice", l)
	}
	if _, ok := r.Learnt[studio.Fume]; ok {
		t.Error("how long the hands fume was learnt")
	}
	want := []string{
		"Swatch 1: taking out (fume) was done 21 min late, and what follows with it.",
		"Swatch 2: taking out (fume) was done 20 min late, and what follows with it.",
		"Swatch 1 is fumed for 1 h 16 min, planned 1 h.",
		"Swatch 2 is fumed for 1 h 16 min, planned 1 h.",
	}
	if len(r.Slipped) != len(want) {
		t.Fatalf("slipped: %q, want %q", r.Slipped, want)
	}
	for i := range want {
		if r.Slipped[i] != want[i] {
			t.Errorf("slipped: %q, want %q", r.Slipped[i], want[i])
		}
	}
	for _, row := range r.Rows {
		if row.DoneEnd.IsZero() || row.PlannedAt.IsZero() || row.By == "" {
			t.Errorf("%+v: planned, done, and by whom are all known", row)
		}
	}
}

// Values of R's quantile(x, type = 7), from its documentation's definition:
// for 1, 2, 4, 8 the tenth is 1.3, the median 3, the ninetieth 6.8.
func TestQuantile(t *testing.T) {
	v := []float64{1, 2, 4, 8}
	for p, want := range map[float64]float64{0.1: 1.3, 0.5: 3, 0.9: 6.8, 0: 1, 1: 8} {
		if got := quantile(v, p); got < want-1e-9 || got > want+1e-9 {
			t.Errorf("quantile %v is %v, want %v", p, got, want)
		}
	}
}
