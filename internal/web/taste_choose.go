package web

import (
	"context"
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"

	"aerugo/internal/flow/taste"
	"aerugo/internal/studio"
)

// pairsKept is how many pairs a phone gets at once, to go on with while the laptop
// can't be reached.
const pairsKept = 8

// screens remembers which pairs are on people's screens, so that others who choose at
// the same time get other ones. It lives in memory: it only makes choices tell more.
type screens struct {
	mu    sync.Mutex
	shown map[int64]map[string]onScreen
}

type onScreen struct {
	pairs []taste.Pair
	at    time.Time
}

// onScreenFor is how long a pair nobody tapped counts as looked at.
const onScreenFor = 2 * time.Minute

// others returns what other people look at now.
func (x *screens) others(sitting int64, who string, now time.Time) []taste.Pair {
	x.mu.Lock()
	defer x.mu.Unlock()
	var out []taste.Pair
	for name, s := range x.shown[sitting] {
		if now.Sub(s.at) > onScreenFor {
			delete(x.shown[sitting], name)
		} else if name != who {
			out = append(out, s.pairs...)
		}
	}
	return out
}

func (x *screens) show(sitting int64, who string, pairs []taste.Pair, now time.Time) {
	x.mu.Lock()
	defer x.mu.Unlock()
	if x.shown == nil {
		x.shown = map[int64]map[string]onScreen{}
	}
	if x.shown[sitting] == nil {
		x.shown[sitting] = map[string]onScreen{}
	}
	x.shown[sitting][who] = onScreen{pairs, now}
}

// choosePage shows two faces, of which one is tapped.
type choosePage struct {
	Frame
	Sitting  studio.Sitting
	Chooser  string
	Known    []string // who chose before
	Problem  string
	Pair     *shownPair
	Enough   int
	LastPair *shownPair // what this person chose last, to undo
	Gone     bool       // too few faces are left to choose between
}

// shownPair is two faces side by side; N counts a person's pairs from 1.
type shownPair struct {
	Left  shownFace `json:"left"`
	Right shownFace `json:"right"`
	N     int       `json:"n"`
}

func (s *Server) chooseBetween(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	x, err := s.store.Sitting(ctx, id)
	if err != nil {
		return err
	}
	p := choosePage{Frame: s.frame(r, x.Question, "findings"), Sitting: x, Enough: taste.Enough(len(x.Faces)), Chooser: s.chooser(r), Gone: len(x.Faces) < 2}
	all, err := s.store.Choices(ctx, id)
	if err != nil {
		return err
	}
	for _, c := range all {
		if !slices.Contains(p.Known, c.Who) {
			p.Known = append(p.Known, c.Who)
		}
	}
	slices.Sort(p.Known)
	code := http.StatusOK
	if p.Chooser != "" {
		if err := studio.CheckWho(p.Chooser); err != nil {
			p.Problem, code, p.Chooser = err.Error(), http.StatusUnprocessableEntity, ""
		}
	}
	if r.FormValue("someone") != "" {
		p.Chooser = ""
	}
	if p.Chooser != "" && !p.Gone && x.Closed.IsZero() {
		s.keepChooser(w, p.Chooser)
		pairs, last, err := s.nextPairs(r, x, p.Chooser, nil, 1)
		if err != nil {
			return err
		}
		if len(pairs) > 0 {
			p.Pair = &pairs[0]
		}
		p.LastPair = last
	}
	s.show(w, code, "taste_choose", p)
	return nil
}

// nextPairs returns the next pairs for one person, and the one that person chose last.
// shown are pairs on that person's screen already, whose answers may still be on the
// way.
func (s *Server) nextPairs(r *http.Request, x studio.Sitting, who string, shown []taste.Pair, count int) ([]shownPair, *shownPair, error) {
	ctx := r.Context()
	all, err := s.store.Choices(ctx, x.ID)
	if err != nil {
		return nil, nil, err
	}
	shows, err := s.showing(ctx, x.Measured)
	if err != nil {
		return nil, nil, err
	}
	namer := taste.NamerOf(x.Faces)
	view := func(p taste.Pair, n int) shownPair {
		left, right := "the left one", "the right one"
		if !x.Blind {
			left, right = "swatch "+namer.Name(p.Left), "swatch "+namer.Name(p.Right)
		}
		return shownPair{shows.face(p.Left, left), shows.face(p.Right, right), n}
	}
	standing := studio.StandingChoices(all)
	var last *shownPair
	mine := 0
	answered := map[taste.Pair]bool{}
	for _, c := range standing {
		if c.Who != who {
			continue
		}
		mine++
		answered[taste.Pair{Left: c.Left, Right: c.Right}] = true
		v := view(taste.Pair{Left: c.Left, Right: c.Right}, mine)
		last = &v
	}
	shown = slices.DeleteFunc(shown, func(p taste.Pair) bool { return answered[p] })
	// the dice fall the same when the page is only loaded again
	h := fnv.New64a()
	fmt.Fprint(h, who, " ", mine)
	a := taste.Ask{Faces: x.Faces, Choices: standing, Who: who, Shown: shown, Waiting: s.screens.others(x.ID, who, s.now()), Rand: rand.New(rand.NewPCG(x.Seed, h.Sum64()))}
	a.Faces = slices.DeleteFunc(slices.Clone(a.Faces), func(f studio.FaceOf) bool { return !shows.can(f) })
	pairs := taste.Ahead(a, count)
	on := append(slices.Clone(shown), pairs...)
	s.screens.show(x.ID, who, on[:min(len(on), 2)], s.now())
	var out []shownPair
	for i, p := range pairs {
		out = append(out, view(p, mine+len(shown)+i+1))
	}
	return out, last, nil
}

// pairsAhead is GET /taste/{id}/ahead: the next pairs as JSON. 'shown' names, once for
// each, the pairs that are on the screen already.
func (s *Server) pairsAhead(w http.ResponseWriter, r *http.Request) error {
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	x, err := s.store.Sitting(r.Context(), id)
	if err != nil {
		return err
	}
	f := readForm(r)
	who := f.Val("who")
	if err := studio.CheckWho(who); err != nil {
		return err
	}
	shown, err := shownPairs(f.values["shown"])
	if err != nil {
		return err
	}
	pairs := []shownPair{}
	if x.Closed.IsZero() {
		more, _, err := s.nextPairs(r, x, who, shown, pairsKept)
		if err != nil {
			return err
		}
		pairs = append(pairs, more...)
	}
	writeJSON(w, http.StatusOK, map[string]any{"pairs": pairs, "enough": taste.Enough(len(x.Faces))})
	return nil
}

// choose is POST /taste/{id}/choices: one tap on one of two faces.
func (s *Server) choose(w http.ResponseWriter, r *http.Request) error {
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	f := readForm(r)
	c, err := s.choiceIn(f, id)
	if err != nil {
		return err
	}
	if c.Chosen = studio.Outcome(f.Val("chosen")); c.Chosen == studio.Undone {
		return studio.Problemf(studio.Invalid, "chosen", "Take the left one, the right one or neither.")
	}
	if _, err := s.store.AddChoice(r.Context(), c); err != nil {
		return err
	}
	s.keepChooser(w, c.Who)
	s.live.changed()
	return back(w, r, fmt.Sprintf("/taste/%d", id))
}

func (s *Server) choiceIn(f *form, sitting int64) (studio.Choice, error) {
	c := studio.Choice{Sitting: sitting, Client: f.Val("client"), Who: f.Val("who"), Took: time.Duration(f.whole("took", "time it took", 0)) * time.Millisecond}
	for field, text := range f.wrong {
		return c, studio.Problemf(studio.Invalid, field, "%s", text)
	}
	c.Took = min(c.Took, time.Hour) // looked away
	var err error
	if c.Left, err = faceFrom(f.Val("left")); err != nil {
		return c, err
	}
	if c.Right, err = faceFrom(f.Val("right")); err != nil {
		return c, err
	}
	c.At, err = s.when(f)
	return c, err
}

// unchoose is POST /taste/{id}/undo: a person's newest choice between two faces is
// taken back. It names the faces and not the choice, since the phone may have made it
// before the laptop heard of it.
func (s *Server) unchoose(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	f := readForm(r)
	c, err := s.choiceIn(f, id)
	if err != nil {
		return err
	}
	if err := s.takeChoiceBack(ctx, c); err != nil {
		return err
	}
	s.live.changed()
	return back(w, r, fmt.Sprintf("/taste/%d", id))
}

// takeChoiceBack takes a person's newest choice between two faces back; sent twice, it
// does so once.
func (s *Server) takeChoiceBack(ctx context.Context, c studio.Choice) error {
	there, err := s.store.ChoiceByClient(ctx, c.Client)
	if p := studio.ProblemIn(err); err != nil && (p == nil || p.Kind != studio.NotFound) {
		return err
	}
	if err == nil && there.Chosen == studio.Undone { // sent twice
		return nil
	}
	all, err := s.store.Choices(ctx, c.Sitting)
	if err != nil {
		return err
	}
	c.Chosen = studio.Undone
	for _, x := range studio.StandingChoices(all) {
		if x.Who == c.Who && x.Left == c.Left && x.Right == c.Right {
			c.Undoes = x.ID
		}
	}
	if c.Undoes == 0 {
		return studio.Problemf(studio.Conflict, "", "There is no choice of %s between these two to take back.", c.Who)
	}
	_, err = s.store.AddChoice(ctx, c)
	return err
}

// closeSitting is POST /taste/{id}/close: it ends a sitting, or opens it again.
func (s *Server) closeSitting(w http.ResponseWriter, r *http.Request) error {
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	at := s.now()
	if r.FormValue("do") == "open" {
		at = time.Time{}
	}
	if err := s.store.CloseSitting(r.Context(), id, at); err != nil {
		return err
	}
	s.live.changed()
	return back(w, r, fmt.Sprintf("/taste/%d/order", id))
}

// shownPairs reads the pairs that a phone holds already, as "3-front~7-back".
func shownPairs(texts []string) ([]taste.Pair, error) {
	var shown []taste.Pair
	for _, text := range texts {
		l, r, _ := strings.Cut(text, "~")
		left, err := faceFrom(l)
		if err != nil {
			return nil, err
		}
		right, err := faceFrom(r)
		if err != nil {
			return nil, err
		}
		if len(shown) < 2*pairsKept {
			shown = append(shown, taste.Pair{Left: left, Right: right})
		}
	}
	return shown, nil
}
