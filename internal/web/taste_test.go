package web_test

import (
	"cmp"
	"encoding/json"
	"fmt"
	"net/url"
	"slices"
	"strings"
	"sync"
	"testing"

	"aerugo/internal/studio"
)

// tasted starts a sitting about measured faces of a bench, with some choices by two
// people, and returns its number.
func tasted(t *testing.T, b *bench) int64 {
	t.Helper()
	newest, err := b.store.NewestPhotos(t.Context())
	if err != nil || len(newest) < 3 {
		t.Fatalf("%d photographed faces, %v", len(newest), err)
	}
	var faces []studio.FaceOf
	for f := range newest {
		faces = append(faces, studio.FaceOf(f))
	}
	slices.SortFunc(faces, func(a, b studio.FaceOf) int { return cmp.Compare(a.Swatch, b.Swatch) })
	return tastedFaces(t, b, studio.Sitting{From: studio.FromPicked, Faces: faces[:min(len(faces), 6)]})
}

// six is the example with the fronts of its first six swatches photographed.
func six(t *testing.T) (*bench, []studio.FaceOf) {
	t.Helper()
	b := serve(t)
	filled(t, b)
	var faces []studio.FaceOf
	for n := range 6 {
		if n >= 3 {
			b.photograph(t, int64(n+1), studio.Front, n)
		}
		faces = append(faces, studio.FaceOf{Swatch: int64(n + 1), Face: studio.Front})
	}
	return b, faces
}

func keyOf(f studio.FaceOf) string { return fmt.Sprintf("%d-%s", f.Swatch, f.Face) }

func tastedFaces(t *testing.T, b *bench, x studio.Sitting) int64 {
	t.Helper()
	x.Question = "Which would you put on the lamp?"
	x, err := b.store.AddSitting(t.Context(), x)
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for i, left := range x.Faces {
		for _, right := range x.Faces[i+1:] {
			for _, who := range []string{"Ana", "Ben"} {
				n++
				c := studio.Choice{Sitting: x.ID, Client: fmt.Sprintf("%d/%d", x.ID, n), Who: who, Left: left, Right: right, Chosen: []studio.Outcome{studio.ChoseLeft, studio.ChoseLeft, studio.CantChoose, studio.ChoseRight}[n%4], At: b.now()}
				if _, err := b.store.AddChoice(t.Context(), c); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
	return x.ID
}

// tasteVisits are the states of the pages about taste.
func tasteVisits(t *testing.T, empty, full *bench, usual *stock) []visit {
	t.Helper()
	u, of := usual.bench, fmt.Sprintf
	begun := u.post(t, "/taste", url.Values{"question": {"Which one?"}, "numbers": {of("%d, %d back; %d", usual.planned[0].Swatch, usual.planned[0].Swatch, usual.blank)}, "blind": {"yes"}}).to(t)
	sitting := tasted(t, full)
	closed := tasted(t, full)
	full.post(t, of("/taste/%d/close", closed), url.Values{"do": {"close"}}).to(t)
	set, err := full.store.Sets(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	full.post(t, "/taste", url.Values{"question": {"Of the set?"}, "set": {id(set[0].ID)}, "show": {"colours"}}).to(t)
	swatch := usual.planned[0].Swatch
	u.post(t, of("/swatches/%d/score", swatch), url.Values{"client": {"s1"}, "face": {"front"}, "who": {"Ana"}, "score": {"texture:4"}}).to(t)
	return []visit{
		{"taste", "empty", empty, "/taste", nil, 200, "Which is liked better"},
		{"taste", "usual", u, "/taste", nil, 200, "Which is liked better"},
		{"taste", "full", full, "/taste", nil, 200, "Which is liked better"},
		{"taste", "refused", u, "/taste", url.Values{"question": {""}, "numbers": {"3 side"}}, 422, "Which is liked better"},
		{"taste", "nothing chosen", u, "/taste", url.Values{"question": {"?"}}, 422, "Which is liked better"},
		{"taste", "too few", u, "/taste", url.Values{"question": {"?"}, "set": {id(usual.set)}}, 422, "Which is liked better"},
		{"taste", "no such swatch", u, "/taste", url.Values{"question": {"?"}, "numbers": {"4711, 4712, 4713"}}, 422, "Which is liked better"},
		{"taste", "not photographed", u, "/taste", url.Values{"question": {"?"}, "numbers": {of("%d, %d, %d", swatch, usual.blank, usual.planned[1].Swatch)}, "show": {"colours"}}, 422, "Which is liked better"},
		{"taste_choose", "who is asked", u, begun, nil, 200, "Which one?"},
		{"taste_choose", "usual", u, begun + "?who=Ana", nil, 200, "Which one?"},
		{"taste_choose", "someone else", full, of("/taste/%d?someone=else", sitting), nil, 200, "on the lamp"},
		{"taste_choose", "chosen before", full, of("/taste/%d?who=Ana", sitting), nil, 200, "on the lamp"},
		{"taste_choose", "closed", full, of("/taste/%d?who=Ana", closed), nil, 200, "on the lamp"},
		{"taste_choose", "a name too long", u, begun + "?who=" + strings.Repeat("a", 41), nil, 422, "Which one?"},
		{"taste_choose", "not photographed yet", full, "/taste/1?who=Ana", nil, 200, "on the lamp"}, // the example's, before its photographs are drawn
		{"taste_choose", "refused", empty, "/taste/1", nil, 404, "Not here"},
		{"taste_order", "empty", u, begun + "/order", nil, 200, "Which one?"},
		{"taste_order", "full", full, of("/taste/%d/order", sitting), nil, 200, "on the lamp"},
		{"taste_order", "closed", full, of("/taste/%d/order", closed), nil, 200, "on the lamp"},
		{"taste_order", "refused", empty, "/taste/1/order", nil, 404, "Not here"},
		{"swatch", "scored", u, of("/swatches/%d?score=front", swatch), nil, 200, "Swatch"},
	}
}

type pairsAnswer struct {
	Pairs []struct {
		Left, Right struct{ Key, Name, Src, Colour string }
		N           int
	}
	Enough int
}

func (b *bench) pairsAhead(t *testing.T, sitting int64, who string, shown ...string) pairsAnswer {
	t.Helper()
	a := b.see(t, fmt.Sprintf("/taste/%d/ahead?%s", sitting, url.Values{"who": {who}, "shown": shown}.Encode()), "Accept", "application/json")
	var out pairsAnswer
	if err := json.Unmarshal(a.body, &out); err != nil || a.code != 200 {
		t.Fatalf("%d: %s, %v", a.code, a.body, err)
	}
	return out
}

func TestChoosingGivesAnOrder(t *testing.T) {
	t.Parallel()
	b, faces := six(t)
	looks := faces[:4]
	var numbers []string
	for _, f := range looks {
		numbers = append(numbers, fmt.Sprintf("%d %s", f.Swatch, f.Face))
	}
	to := b.post(t, "/taste", url.Values{"question": {"Which one?"}, "numbers": {strings.Join(numbers, ", ")}, "blind": {"yes"}}).to(t)
	var sitting int64
	if _, err := fmt.Sscanf(to, "/taste/%d", &sitting); err != nil {
		t.Fatal(to)
	}
	page := b.see(t, to+"?who=Ana").doc(t)
	if n := len(page.all(".pick")); n != 2 {
		t.Fatalf("%d faces to tap", n)
	}
	for _, x := range page.all(".pick") {
		for _, l := range looks {
			if strings.Contains(x.words(), fmt.Sprint(l.Swatch)) {
				t.Errorf("the sitting is blind, and a face says %q", x.words())
			}
		}
	}
	// whoever sees it choose the face that comes first
	first := func(key string) int {
		for i, l := range looks {
			if key == keyOf(l) {
				return i
			}
		}
		return -1
	}
	for i := range 12 {
		p := b.pairsAhead(t, sitting, "Ana").Pairs[0]
		if p.N != i+1 {
			t.Errorf("pair %d is called %d", i+1, p.N)
		}
		chosen := "left"
		if first(p.Right.Key) < first(p.Left.Key) {
			chosen = "right"
		}
		form := url.Values{"client": {fmt.Sprint("k", i)}, "who": {"Ana"}, "left": {p.Left.Key}, "right": {p.Right.Key}, "chosen": {chosen}, "took": {"900"}}
		for range 2 { // a tap sent twice counts once
			b.post(t, to+"/choices", form).to(t)
		}
	}
	order := b.see(t, to+"/order").doc(t)
	places := order.all(".place .sw")
	if len(places) != 4 || !strings.Contains(order.one("main").words(), "12 choices by Ana") {
		t.Fatalf("%d places: %s", len(places), order.one("main").words())
	}
	for i, p := range places {
		if !strings.HasPrefix(p.words(), fmt.Sprint(looks[i].Swatch)) {
			t.Errorf("place %d is %s, want %d", i+1, p.words(), looks[i].Swatch)
		}
	}
	if !strings.Contains(order.one("main").words(), "no circle in 4 trios") {
		t.Errorf("%s", order.one("main").words())
	}

	// taken back, it is one fewer, however often that is sent
	all, _ := b.store.Choices(t.Context(), sitting)
	last := all[len(all)-1]
	undo := url.Values{"client": {"u"}, "who": {"Ana"}, "left": {keyOf(last.Left)}, "right": {keyOf(last.Right)}}
	for range 2 {
		b.post(t, to+"/undo", undo).to(t)
	}
	if all, _ = b.store.Choices(t.Context(), sitting); len(studio.StandingChoices(all)) != 11 || len(all) != 13 {
		t.Errorf("%d records, %d choices", len(all), len(studio.StandingChoices(all)))
	}
	undo.Set("client", "u2")
	undo.Set("who", "Nobody")
	if a := b.post(t, to+"/undo", undo); a.code != 409 || !strings.Contains(a.problem(), "no choice of Nobody") {
		t.Errorf("%d %s", a.code, a.problem())
	}
	for says, form := range map[string]url.Values{
		"is no choice":          {"client": {"x"}, "who": {"Ana"}, "left": {keyOf(last.Left)}, "right": {keyOf(last.Right)}, "chosen": {"both"}},
		"the right one or":      {"client": {"x"}, "who": {"Ana"}, "left": {keyOf(last.Left)}, "right": {keyOf(last.Right)}, "chosen": {"undone"}},
		"is no face":            {"client": {"x"}, "who": {"Ana"}, "left": {"7"}, "right": {keyOf(last.Right)}, "chosen": {"left"}},
		"not among the faces":   {"client": {"x"}, "who": {"Ana"}, "left": {"1-front"}, "right": {"99-back"}, "chosen": {"left"}},
		"is not a whole number": {"client": {"x"}, "who": {"Ana"}, "left": {keyOf(last.Left)}, "right": {keyOf(last.Right)}, "chosen": {"left"}, "took": {"long"}},
		"Say who is choosing":   {"client": {"x"}, "left": {keyOf(last.Left)}, "right": {keyOf(last.Right)}, "chosen": {"left"}},
	} {
		if a := b.post(t, to+"/choices", form); a.code != 422 || !strings.Contains(a.problem(), says) {
			t.Errorf("%s: %d %s", says, a.code, a.problem())
		}
	}
	b.post(t, to+"/close", url.Values{"do": {"close"}}).to(t)
	if got := b.pairsAhead(t, sitting, "Ana"); len(got.Pairs) != 0 {
		t.Errorf("closed, it still gives %d pairs", len(got.Pairs))
	}
}

// What waits on one phone's screen, and what a phone has shown without an answer so
// far, is not asked again.
func TestPairsOnTheWayAreNotAskedAgain(t *testing.T) {
	t.Parallel()
	b, faces := six(t)
	x, err := b.store.AddSitting(t.Context(), studio.Sitting{Question: "?", From: studio.FromPicked, Faces: faces[:5]})
	if err != nil {
		t.Fatal(err)
	}
	got := b.pairsAhead(t, x.ID, "Ana")
	seen := map[string]bool{}
	var shown []string
	for _, p := range got.Pairs[:6] {
		seen[p.Left.Key+"~"+p.Right.Key], seen[p.Right.Key+"~"+p.Left.Key] = true, true
		shown = append(shown, p.Left.Key+"~"+p.Right.Key)
	}
	more := b.pairsAhead(t, x.ID, "Ana", shown...)
	for i, p := range more.Pairs[:4] { // of ten pairs
		if seen[p.Left.Key+"~"+p.Right.Key] {
			t.Errorf("%v comes again before it was answered", p)
		}
		if p.N != 7+i {
			t.Errorf("after six shown the next is called %d", p.N)
		}
	}
	if a := b.see(t, fmt.Sprintf("/taste/%d/ahead?who=Ana&shown=odd", x.ID)); a.code != 422 {
		t.Errorf("a pair that is none: %d", a.code)
	}
}

func TestScoresAreKeptAndChanged(t *testing.T) {
	s, _ := lived(t)
	path := fmt.Sprintf("/swatches/%d", s.planned[0].Swatch)
	send := func(client, who, score string) answer {
		return s.post(t, path+"/score", url.Values{"client": {client}, "face": {"front"}, "who": {who}, "score": {score}})
	}
	send("a", "Ana", "texture:2").to(t)
	send("b", "Ana", "texture:4").to(t)
	send("b", "Ana", "texture:4").to(t)
	send("c", "Ben", "texture:5").to(t)
	all, err := s.store.ScoresOf(t.Context(), s.planned[0].Swatch)
	if err != nil || len(all) != 3 {
		t.Fatalf("%d scores, %v", len(all), err)
	}
	page := s.see(t, path+"?who=Ana").doc(t)
	pressed := page.all("#score-front button[aria-pressed=true]")
	if len(pressed) != 1 || !strings.HasPrefix(pressed[0].words(), "good") {
		t.Errorf("%d words are pressed", len(pressed))
	}
	if w := page.one("#score-front").words(); !strings.Contains(w, "Texture: good to excellent (2 people)") {
		t.Error(w)
	}
	// the Enter key in the field of the name gives no score
	s.post(t, path+"/score", url.Values{"client": {"e"}, "face": {"front"}, "who": {"Cleo"}, "score": {page.one("#score-front button").attr["value"]}}).to(t)
	if all, _ := s.store.ScoresOf(t.Context(), s.planned[0].Swatch); len(all) != 3 {
		t.Errorf("saying who one is gave a score: %d", len(all))
	}
	for _, bad := range []string{"texture", "texture:6", "smell:3", ""} {
		if a := send("z", "Ana", bad); a.code != 422 {
			t.Errorf("%q: %d", bad, a.code)
		}
	}
}

// A set's findings say what people like in it.
func TestFindingsSayWhatIsLiked(t *testing.T) {
	t.Parallel()
	b := serve(t)
	filled(t, b)
	sets, err := b.store.Sets(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	looks, _ := b.store.Looks(t.Context())
	for _, set := range sets {
		ours := map[int64]bool{}
		swatches, _ := b.store.SwatchesOf(t.Context(), set.ID)
		for _, x := range swatches {
			ours[x.Number] = !x.Blank
		}
		x := studio.Sitting{From: studio.FromSet, Set: set.ID}
		for _, l := range looks {
			if ours[l.Swatch] && len(x.Faces) < 8 {
				x.Faces = append(x.Faces, studio.FaceOf{Swatch: l.Swatch, Face: l.Face})
			}
		}
		if len(x.Faces) < studio.FewestToChoose {
			continue
		}
		n := tastedFaces(t, b, x)
		main := b.see(t, fmt.Sprintf("/findings/%d", set.ID)).doc(t).one("main")
		if !strings.Contains(main.words(), "What people like") || main.one(fmt.Sprintf(`a[href="/taste/%d/order"]`, n)) == nil {
			t.Errorf("the findings of %s do not say what is liked: %s", set.Name, main.words())
		}
		return
	}
	t.Fatal("no set of the example has three measured faces")
}

// Two phones choose at once, one of them without the network for a while: every tap
// counts once, and each phone goes on to its next pair by itself.
func TestTwoPhonesChooseAtOnce(t *testing.T) {
	t.Parallel()
	b, _ := six(t)
	sitting := tasted(t, b)
	before, err := b.store.Choices(t.Context(), sitting)
	if err != nil {
		t.Fatal(err)
	}
	path := fmt.Sprintf("/taste/%d", sitting)
	const taps = 9
	var phones []*tab
	for _, who := range []string{"Cleo", "Dan"} {
		tb := open(t, b.url, "taste "+who, 390)
		tb.script(`window.asking = 0; { const real = window.fetch; window.fetch = async (...a) => { window.asking++; try { const r = await real(...a); if (String(a[0]).includes('/ahead')) await r.clone().text(); return r } finally { window.asking-- } } }`)
		tb.visit(path + "?who=" + who)
		tb.wait("the first pair", `document.querySelector('#pair') && !document.querySelector('#pair').hidden`)
		phones = append(phones, tb)
	}
	for _, tb := range phones {
		tb.shot("choose")
		small := js[string](tb, `[...document.querySelectorAll('#pair button, #undo button')].filter(b => b.offsetParent && (b.offsetHeight < 44 || b.offsetWidth < 48)).map(b => b.innerText).join()`)
		if small != "" {
			t.Errorf("%s: too small to tap: %s", tb.name, small)
		}
	}
	var hands sync.WaitGroup
	for i, tb := range phones {
		hands.Go(func() {
			for n := range taps {
				tb.wait("a pair to tap", `!document.querySelector('#pair').hidden && !document.querySelector('#pair button').disabled`)
				js[bool](tb, fmt.Sprintf(`(() => { document.querySelectorAll('#pair button')[%d].click(); return true })()`, (n+i)%3))
			}
		})
	}
	hands.Wait()
	for _, tb := range phones {
		tb.wait("every tap is answered", `JSON.parse(localStorage.getItem('aerugo.taps') || '[]').length === 0`)
	}
	all, err := b.store.Choices(t.Context(), sitting)
	if err != nil {
		t.Fatal(err)
	}
	count := map[string]int{}
	pairs := map[string]bool{}
	for _, c := range all[len(before):] {
		count[c.Who]++
		key := fmt.Sprint(c.Who, c.Left, c.Right)
		if c.Left.Swatch > c.Right.Swatch || c.Left.Swatch == c.Right.Swatch && c.Left.Face > c.Right.Face {
			key = fmt.Sprint(c.Who, c.Right, c.Left)
		}
		if pairs[key] {
			t.Errorf("%s was asked twice", key)
		}
		pairs[key] = true
		if c.Took <= 0 {
			t.Errorf("a choice by %s took %v", c.Who, c.Took)
		}
	}
	if count["Cleo"] != taps || count["Dan"] != taps || len(all) != len(before)+2*taps {
		t.Errorf("%d taps by each gave %v", taps, count)
	}

	// undone on the phone: the pair is back, and one choice fewer
	tb := phones[0]
	last := all[len(all)-1]
	for _, c := range all {
		if c.Who == "Cleo" {
			last = c
		}
	}
	js[bool](tb, `(() => { document.querySelector('#undo button').click(); return true })()`)
	tb.wait("the pair is back", fmt.Sprintf(`document.querySelector('#pair input[name=left]').value === %q && document.querySelector('#pair input[name=right]').value === %q`, keyOf(last.Left), keyOf(last.Right)))
	tb.wait("it is sent", `JSON.parse(localStorage.getItem('aerugo.taps') || '[]').length === 0`)
	standing := func() int {
		all, err := b.store.Choices(t.Context(), sitting)
		if err != nil {
			t.Fatal(err)
		}
		return len(studio.StandingChoices(all))
	}
	if n := standing(); n != len(before)+2*taps-1 {
		t.Errorf("after undoing %d choices stand, want %d", n, len(before)+2*taps-1)
	}

	// without the network the pairs that are kept go on: once they are there
	js[bool](tb, `(async () => { for (let quiet = 0; quiet < 3; quiet = window.asking ? 0 : quiet + 1) await new Promise(r => setTimeout(r, 100)); return true })()`)
	at := standing()
	js[bool](tb, `(() => { window.realFetch = window.fetch; window.fetch = () => Promise.reject(new TypeError('no network')); return true })()`)
	for range 3 {
		js[bool](tb, `(() => { document.querySelectorAll('#pair button')[0].click(); return true })()`)
	}
	if n := standing(); n != at {
		t.Errorf("without the network %d choices came through", n-at)
	}
	if js[bool](tb, `document.querySelector('#pair').hidden`) {
		t.Error("after three taps without the network no pair is left")
	}
	js[bool](tb, `(() => { window.fetch = window.realFetch; dispatchEvent(new Event('online')); return true })()`)
	tb.wait("they are sent", `JSON.parse(localStorage.getItem('aerugo.taps') || '[]').length === 0`)
	if n := standing(); n != at+3 {
		t.Errorf("with the network again there are %d more choices, want 3", n-at)
	}
}
