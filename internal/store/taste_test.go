package store

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"aerugo/internal/studio"
)

func facesOf(b bench) []studio.FaceOf {
	var out []studio.FaceOf
	for _, p := range b.pieces {
		out = append(out, studio.FaceOf{Swatch: p.Number, Face: studio.Front})
	}
	return out
}

// sat adds a sitting about the bench's set.
func sat(t testing.TB, s *Store, b bench) studio.Sitting {
	t.Helper()
	return must[studio.Sitting](t)(s.AddSitting(ctx, studio.Sitting{Question: "Which would you put on the lamp?", From: studio.FromSet, Set: b.set.ID,
		Faces: facesOf(b), Blind: true, Seed: 1<<64 - 1, By: "laptop", Made: noon}))
}

func tapped(x studio.Sitting, client, who string, left, right int, chosen studio.Outcome) studio.Choice {
	return studio.Choice{Sitting: x.ID, Client: client, Who: who, Left: x.Faces[left], Right: x.Faces[right], Chosen: chosen, Took: 1250 * time.Millisecond, At: noon.Add(-time.Minute)}
}

func TestSittingsComeBackAsKept(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	x := sat(t, s, b)
	same(t, "sitting", must[studio.Sitting](t)(s.Sitting(ctx, x.ID)), x)
	if x.Seed != 1<<64-1 || len(x.Faces) != 3 {
		t.Errorf("kept as %+v", x)
	}
	first := must[studio.Choice](t)(s.AddChoice(ctx, tapped(x, "a", "Ana", 0, 1, studio.ChoseRight)))
	if first.Took != 1250*time.Millisecond || !first.Recorded.Equal(noon) {
		t.Errorf("kept as %+v", first)
	}
	again := must[studio.Choice](t)(s.AddChoice(ctx, tapped(x, "a", "Ana", 0, 1, studio.ChoseRight)))
	same(t, "sent twice", again, first)
	wantProblem(t, errorOf(s.AddChoice(ctx, tapped(x, "a", "Ana", 0, 1, studio.ChoseLeft))), studio.Conflict, "another choice")
	back := tapped(x, "b", "Ana", 0, 1, studio.Undone)
	back.Undoes = first.ID
	back = must[studio.Choice](t)(s.AddChoice(ctx, back))
	second := must[studio.Choice](t)(s.AddChoice(ctx, tapped(x, "c", "Ben", 2, 1, studio.CantChoose)))
	all := must[[]studio.Choice](t)(s.Choices(ctx, x.ID))
	same(t, "choices", all, []studio.Choice{first, back, second})
	same(t, "standing", studio.StandingChoices(all), []studio.Choice{second})
	same(t, "by key", must[studio.Choice](t)(s.ChoiceByClient(ctx, "c")), second)

	of := tapped(x, "d", "Ben", 0, 1, studio.Undone)
	of.Undoes = first.ID
	wantProblem(t, errorOf(s.AddChoice(ctx, of)), studio.Conflict, "none that Ben made")
	strange := tapped(x, "e", "Ben", 0, 1, studio.ChoseLeft)
	strange.Right = studio.FaceOf{Swatch: b.pieces[0].Number, Face: studio.Back}
	wantProblem(t, errorOf(s.AddChoice(ctx, strange)), studio.Invalid, "not among the faces")
	for says, bad := range map[string]studio.Choice{
		"Say who":         tapped(x, "f", " ", 0, 1, studio.ChoseLeft),
		"without its key": tapped(x, "", "Ana", 0, 1, studio.ChoseLeft),
		"is no choice":    tapped(x, "f", "Ana", 0, 1, "both"),
		"two different":   tapped(x, "f", "Ana", 1, 1, studio.ChoseLeft),
	} {
		wantProblem(t, errorOf(s.AddChoice(ctx, bad)), studio.Invalid, says)
	}
	if _, err := s.write.Exec(`UPDATE choice SET chosen = 'left'`); err == nil {
		t.Error("a choice was changed")
	}
	if _, err := s.write.Exec(`UPDATE sitting SET question = 'x'`); err == nil {
		t.Error("a sitting was changed")
	}
	for what, err := range map[string]error{
		"sitting":               errorOf(s.Sitting(ctx, 99)),
		"sitting of no set":     errorOf(s.AddSitting(ctx, studio.Sitting{Question: "?", From: studio.FromSet, Set: 99, Faces: x.Faces})),
		"sitting of no swatch":  errorOf(s.AddSitting(ctx, studio.Sitting{Question: "?", From: studio.FromPicked, Faces: []studio.FaceOf{{Swatch: 97, Face: studio.Front}, {Swatch: 98, Face: studio.Front}, {Swatch: 99, Face: studio.Front}}})),
		"choice of no sitting":  errorOf(s.AddChoice(ctx, studio.Choice{Sitting: 99, Client: "z", Who: "Ana", Left: x.Faces[0], Right: x.Faces[1], Chosen: studio.ChoseLeft, At: noon})),
		"closing of no sitting": s.CloseSitting(ctx, 99, noon),
		"key of no choice":      errorOf(s.ChoiceByClient(ctx, "nobody's")),
	} {
		if p := studio.ProblemIn(err); p == nil || p.Kind != studio.NotFound {
			t.Errorf("%s: %v", what, err)
		}
	}
	if n := len(must[[]studio.Sitting](t)(s.Sittings(ctx))); n != 1 {
		t.Errorf("%d sittings are kept, want 1: one that failed was half kept", n)
	}
}

// A choice made before a sitting was closed is kept when it comes late; one made
// after is not.
func TestClosedSittingTakesWhatWasChosenBefore(t *testing.T) {
	s := fresh(t)
	x := sat(t, s, furnish(t, s, false))
	if err := s.CloseSitting(ctx, x.ID, noon.Add(-30*time.Second)); err != nil {
		t.Fatal(err)
	}
	must[studio.Choice](t)(s.AddChoice(ctx, tapped(x, "a", "Ana", 0, 1, studio.ChoseLeft)))
	late := tapped(x, "b", "Ana", 0, 2, studio.ChoseLeft)
	late.At = noon
	wantProblem(t, errorOf(s.AddChoice(ctx, late)), studio.Conflict, "closed")
	if err := s.CloseSitting(ctx, x.ID, time.Time{}); err != nil {
		t.Fatal(err)
	}
	must[studio.Choice](t)(s.AddChoice(ctx, late))
	if got := must[studio.Sitting](t)(s.Sitting(ctx, x.ID)); !got.Closed.IsZero() || got.Question != x.Question {
		t.Errorf("opened again it is %+v", got)
	}
}

func TestNewestScoreOfEachPersonCounts(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	at := func(client, who string, value int, minutes int) studio.Score {
		return studio.Score{Client: client, Face: studio.FaceOf{Swatch: b.pieces[0].Number, Face: studio.Back}, Of: studio.ScoreTexture, Value: value, Who: who, At: noon.Add(time.Duration(minutes) * time.Minute)}
	}
	first := must[studio.Score](t)(s.AddScore(ctx, at("a", "Ana", 2, -9)))
	same(t, "sent twice", must[studio.Score](t)(s.AddScore(ctx, at("a", "Ana", 2, -9))), first)
	wantProblem(t, errorOf(s.AddScore(ctx, at("a", "Ana", 3, -9))), studio.Conflict, "another score")
	other := must[studio.Score](t)(s.AddScore(ctx, at("b", "Ben", 4, -8)))
	newer := must[studio.Score](t)(s.AddScore(ctx, at("c", "Ana", 5, -7)))
	older := must[studio.Score](t)(s.AddScore(ctx, at("d", "Ana", 1, -20))) // came late
	all := must[[]studio.Score](t)(s.ScoresOf(ctx, b.pieces[0].Number))
	same(t, "all", all, []studio.Score{first, other, newer, older})
	same(t, "of the set", must[[]studio.Score](t)(s.ScoresOfSet(ctx, b.set.ID)), all)
	same(t, "newest", studio.NewestScores(all), []studio.Score{other, newer})
	if newer.Word() != "excellent" || first.Word() != "poor" {
		t.Errorf("5 is %q and 2 is %q; in ITU-R BT.500 excellent and poor", newer.Word(), first.Word())
	}
	wantProblem(t, errorOf(s.AddScore(ctx, at("e", "Ana", 6, 0))), studio.Invalid, "score of 6")
	odd := at("e", "Ana", 3, 0)
	odd.Of = "smell"
	wantProblem(t, errorOf(s.AddScore(ctx, odd)), studio.Invalid, "smell")
	if _, err := s.write.Exec(`UPDATE score SET value = 5`); err == nil {
		t.Error("a score was changed")
	}
}

// A sitting goes with its set, and one about picked swatches with the last of them;
// while they are in the bin nothing is lost.
func TestSittingsGoWithTheirSwatches(t *testing.T) {
	c := &clock{noon}
	s := mustOpen(t, t.TempDir(), c)
	b := furnish(t, s, false)
	x := sat(t, s, b)
	must[studio.Choice](t)(s.AddChoice(ctx, tapped(x, "a", "Ana", 0, 1, studio.ChoseLeft)))
	picked := must[studio.Sitting](t)(s.AddSitting(ctx, studio.Sitting{Question: "?", From: studio.FromPicked, Faces: x.Faces, By: "laptop", Made: noon}))
	must[studio.Choice](t)(s.AddChoice(ctx, tapped(picked, "b", "Ana", 0, 2, studio.ChoseLeft)))
	must[studio.Score](t)(s.AddScore(ctx, studio.Score{Client: "s", Face: x.Faces[0], Of: studio.ScoreWhole, Value: 3, Who: "Ana", At: noon}))
	if err := s.BinItem(ctx, "swatch", b.pieces[0].Number); err != nil {
		t.Fatal(err)
	}
	if got := must[studio.Sitting](t)(s.Sitting(ctx, x.ID)); len(got.Faces) != 2 {
		t.Errorf("with one in the bin it shows %v", got.Faces)
	}
	if err := s.RestoreItem(ctx, "swatch", b.pieces[0].Number); err != nil {
		t.Fatal(err)
	}
	same(t, "out of the bin", must[studio.Sitting](t)(s.Sitting(ctx, x.ID)), x)
	if err := s.BinItem(ctx, "set", b.set.ID); err != nil {
		t.Fatal(err)
	}
	c.t = c.t.Add(40 * 24 * time.Hour)
	must[int](t)(s.PurgeBin(ctx))
	if n := must[int64](t)(number(ctx, s.read, `SELECT (SELECT count(*) FROM sitting) + (SELECT count(*) FROM sitting_face) + (SELECT count(*) FROM choice) + (SELECT count(*) FROM score)`)); n != 0 {
		t.Errorf("%d rows are left of sittings whose swatches are gone", n)
	}
	wantSound(t, s)
}

// Any taps, in any order and any number of times, give each choice once.
func TestChoicesSentAnyNumberOfTimesCountOnce(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	rapid.Check(t, func(rt *rapid.T) {
		x := sat(t, s, b)
		want := map[string]bool{}
		for range rapid.IntRange(1, 12).Draw(rt, "taps") {
			n := rapid.IntRange(0, 4).Draw(rt, "which")
			key := time.Duration(x.ID).String() + keys(n)
			outcome := []studio.Outcome{studio.ChoseLeft, studio.ChoseRight, studio.CantChoose}[n%3]
			if _, err := s.AddChoice(ctx, tapped(x, key, "Ana", n%2, 2, outcome)); err != nil {
				rt.Fatal(err)
			}
			want[key] = true
		}
		all, err := s.Choices(ctx, x.ID)
		if err != nil || len(all) != len(want) || len(studio.StandingChoices(all)) != len(want) {
			rt.Errorf("%d choices for %d taps, %v", len(all), len(want), err)
		}
	})
}
