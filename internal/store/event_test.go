package store

import (
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"

	"aerugo/internal/studio"
)

func TestEventsAreKeptAsGiven(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	tr := treatmentOf(t, s, b.pieces[0].Number)
	warm, damp := 19.5, 0.55
	e := studio.Event{Treatment: tr.ID, Client: "k1", Kind: studio.Changed, Step: 1, At: noon.Add(-time.Minute), By: "Ann", Note: "a <lot> of \"it\"",
		Amount: &studio.Amount{Value: 30, SD: 2, Unit: studio.GramPerM2, Hand: "heavy"}, TempC: &warm, RH: &damp}
	got := must[[]studio.Event](t)(s.AddEvents(ctx, []studio.Event{e}))
	e.ID, e.Recorded = got[0].ID, noon
	same(t, "event", got, []studio.Event{e})
	fix := studio.Event{Treatment: tr.ID, Client: "k2", Kind: studio.Corrected, Step: 1, At: noon.Add(-2 * time.Minute), Corrects: e.ID}
	fix = must[[]studio.Event](t)(s.AddEvents(ctx, []studio.Event{fix}))[0]
	all := must[map[int64][]studio.Event](t)(s.Events(ctx, []int64{tr.ID, 99}))
	same(t, "events by time", all, map[int64][]studio.Event{tr.ID: {fix, e}})
}

func TestEventsThatCannotBeAreRefusedTogether(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	one, two := treatmentOf(t, s, b.pieces[0].Number), treatmentOf(t, s, b.pieces[1].Number)
	first := must[[]studio.Event](t)(s.AddEvents(ctx, []studio.Event{began(one.ID, "k0")}))[0]
	future := began(one.ID, "k2")
	future.At = noon.Add(3 * time.Minute)
	for _, tc := range []struct {
		bad  studio.Event
		kind studio.Kind
		says string
	}{
		{future, studio.Invalid, "in the future"},
		{began(99, "k3"), studio.NotFound, "no treatment 99"},
		{studio.Event{Treatment: two.ID, Client: "k4", Kind: studio.Voided, At: noon, Corrects: first.ID}, studio.Conflict, "not one of this treatment's"},
		{studio.Event{Treatment: two.ID, Client: "k5", Kind: studio.Voided, At: noon, Corrects: 99}, studio.Conflict, "not one of this treatment's"},
		{began(two.ID, "k0"), studio.Conflict, "key was used"},
		{began(two.ID, ""), studio.Invalid, "without its key"},
	} {
		_, err := s.AddEvents(ctx, []studio.Event{began(two.ID, "k1"), tc.bad})
		wantProblem(t, err, tc.kind, tc.says)
		if got := must[map[int64][]studio.Event](t)(s.Events(ctx, []int64{two.ID})); len(got) != 0 {
			t.Errorf("%s: half of what was refused is there: %+v", tc.says, got)
		}
	}
}

// Whatever is sent, in whatever batches and however often, each key is kept once,
// as it first came, and every answer is what is kept.
func TestEventsSentAgainCountOnce(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	round := 0
	rapid.Check(t, func(rt *rapid.T) {
		round++
		tr := must[studio.Treatment](t)(s.AddTreatment(ctx, studio.Treatment{Swatch: b.pieces[round%3].Number, Faces: studio.OnFront, Layer: 0}))
		if tr.Layer > 40 { // make a new piece rather than a tower
			_, w, err := s.AddSet(ctx, studio.Set{Name: "more", Shape: studio.Loose}, []NewSwatch{{Swatch: studio.Swatch{WidthMM: 1, HeightMM: 1}}})
			if err != nil {
				rt.Fatal(err)
			}
			b.pieces[round%3] = w[0]
		}
		first := map[string]studio.Event{}
		for range rapid.IntRange(1, 4).Draw(rt, "batches") {
			var batch []studio.Event
			for range rapid.IntRange(0, 5).Draw(rt, "events") {
				n := rapid.IntRange(0, 6).Draw(rt, "key")
				batch = append(batch, studio.Event{Treatment: tr.ID, Client: fmt.Sprintf("round %d key %d", round, n), Kind: studio.Done, Step: n,
					At: noon.Add(-time.Duration(rapid.IntRange(0, 1e6).Draw(rt, "ms")) * time.Millisecond), By: rapid.SampledFrom([]string{"Ann", "Bo"}).Draw(rt, "by")})
			}
			got, err := s.AddEvents(ctx, batch)
			if err != nil {
				rt.Fatal(err)
			}
			for i, e := range got {
				if old, ok := first[e.Client]; ok {
					same(rt, "answer to a repeat", e, old)
				} else {
					want := batch[i]
					want.ID, want.Recorded = e.ID, noon
					same(rt, "answer to what is new", e, want)
					first[e.Client] = e
				}
			}
		}
		kept, err := s.Events(ctx, []int64{tr.ID})
		if err != nil {
			rt.Fatal(err)
		}
		if len(kept[tr.ID]) != len(first) {
			rt.Fatalf("%d events are kept, want %d", len(kept[tr.ID]), len(first))
		}
		for i, e := range kept[tr.ID] {
			same(rt, "kept event", e, first[e.Client])
			if i > 0 && e.At.Before(kept[tr.ID][i-1].At) {
				rt.Error("events are not in order of time")
			}
		}
	})
}

func TestEventsAreNeverChangedOrRemoved(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	tr := treatmentOf(t, s, b.pieces[0].Number)
	must[[]studio.Event](t)(s.AddEvents(ctx, []studio.Event{began(tr.ID, "k")}))
	for _, q := range []string{`UPDATE event SET note = 'x'`, `DELETE FROM event`} {
		if _, err := s.write.Exec(q); err == nil {
			t.Errorf("%s went through", q)
		}
	}
}
