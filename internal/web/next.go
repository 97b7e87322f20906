package web

import (
	"context"
	"fmt"
	"html/template"
	"math"
	"math/rand/v2"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/flow/plan"
	"aerugo/internal/flow/propose"
	"aerugo/internal/language"
	"aerugo/internal/science/colour"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

func (s *Server) nextRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /next", s.next)
	s.on(mux, "POST /next", s.planNext)
	s.on(mux, "GET /predict", s.predict)
	s.on(mux, "GET /next/spot", s.spot)
	s.on(mux, "POST /next/reference", s.addReference)
	s.on(mux, "GET /next/reference/{id}", s.sentPicture)
}

// What swatches may be proposed toward.
const (
	towardSwatch   = "swatch"
	towardLike     = "like"
	towardLab      = "lab"
	towardQuestion = "question"
)

// nextPage asks what the next swatches are for, and proposes them.
type nextPage struct {
	Frame
	*form
	Families  []familyChoice
	Set       studio.Set
	Faces     []studio.Face
	Face      studio.Face
	Toward    string
	Factors   []string
	Questions []orderChoice
	Place     placeForm
	Asked     string // the question, as an address
	TooFew    string // why nothing can be predicted here
	Working   bool
	Basis     basis
	Batch     *batchView
	Answer    *propose.Answer
	Proposals []proposalView
	Name      string      // of the set to be
	Shelf     shelfAnswer // of all that is proposed
	LeftOut   string      // what the shelf ruled out
}

// batchView is what is known on the way to a look.
type batchView struct {
	propose.Batch
	Words string // what the target is
	Name  string // of its colour
	Photo int64  // a face that looks like it, 0 for none
	Light string // how good its numbers are, where they are not measured as swatches are
	Seen  float64
}

// proposalView is a proposal to tick.
type proposalView struct {
	propose.Proposal
	N     int
	Code  string
	Pic   template.HTML
	Name  string
	Lacks string // what the shelf lacks for it alone
}

// Resolved reports whether the question that was asked has its answer on the page.
func (p nextPage) Resolved() bool { return p.Batch != nil || p.Answer != nil }

// Enough reports whether more swatches are no use.
func (p nextPage) Enough() bool { return p.Batch != nil && p.Batch.Stop != "" }

// Remarks are what to know about the batch as a whole.
func (p nextPage) Remarks() []string {
	switch {
	case p.Batch != nil:
		return p.Batch.Notes
	case p.Answer != nil:
		return p.Answer.Notes
	}
	return nil
}

// A labField is one of the three numbers of a colour.
type labField struct{ Name, Value, Wrong string }

// LabFields are the fields of a colour in numbers.
func (p nextPage) LabFields() (out []labField) {
	for _, name := range []string{"L", "a", "b"} {
		out = append(out, labField{name, p.Val(name), p.Wrong(name)})
	}
	return out
}

// rangePicture draws a look to expect with the looks that it could have as well: the
// likely one large, the others along its side.
func rangePicture(mean colour.Lab, could []colour.Lab) template.HTML {
	var b strings.Builder
	words := fmt.Sprintf("likely %s", colour.Name(mean))
	var also []string
	for _, c := range could {
		also = append(also, colour.Name(c))
	}
	if len(also) > 0 {
		words = fmt.Sprintf("likely %s; could also be %s", colour.Name(mean), strings.Join(also, ", "))
	}
	fmt.Fprintf(&b, `<svg class="range" viewBox="0 0 100 72" role="img" aria-label="%s">`, template.HTMLEscapeString(words))
	fill, _ := colour.ToScreen(mean)
	fmt.Fprintf(&b, `<rect width="72" height="72" fill="%s"/>`, fill)
	for i, c := range could {
		fill, _ := colour.ToScreen(c)
		h := 72 / float64(len(could))
		fmt.Fprintf(&b, `<rect x="76" y="%.2f" width="24" height="%.2f" fill="%s"/>`, float64(i)*h, h+.2, fill)
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String())
}

// fillNext gives the page its choices; false when there is nothing to ask of.
func (s *Server) fillNext(r *http.Request, f *form, title string) (p nextPage, g gathered, ok bool, err error) {
	ctx := r.Context()
	p = nextPage{Frame: s.frame(r, title, "plan"), form: f, Faces: studio.BothFaces, Face: studio.Face(f.Val("face")), Toward: f.Val("toward")}
	if !slices.Contains(p.Faces, p.Face) {
		p.Face = studio.Front
	}
	if p.Families, p.Set, err = s.families(ctx, f.whole("set", "set", 0)); err != nil {
		return p, g, false, err
	}
	if p.Place.Rooms, err = s.store.Rooms(ctx); err != nil {
		return p, g, false, err
	}
	if p.Set.ID == 0 {
		if f.Val("set") != "" && f.Val("set") != "0" {
			return p, g, false, studio.Problemf(studio.NotFound, "set", "There is no set %s whose swatches could be predicted from; choose one from the list.", f.Val("set"))
		}
		return p, g, false, nil
	}
	p.Place.Room, p.Place.Class = p.Set.RoomID, p.Set.Class
	if f.values.Has("room") {
		p.Place.Room = f.whole("room", "room", 0)
	}
	if f.values.Has("class") {
		p.Place.Class = studio.ClassOf(f.Val("class"))
		if err := f.blame(p.Place.Class.Check()); err != nil {
			return p, g, false, err
		}
	}
	asking := url.Values{}
	for k, v := range f.values {
		if !slices.Contains([]string{"said", "asked", "take", "name", "replicates", "do"}, k) {
			asking[k] = v
		}
	}
	p.Asked = asking.Encode()
	g, err = s.gather(ctx, p.Set, p.Face, p.Place)
	if problem := studio.ProblemIn(err); problem != nil {
		p.TooFew = problem.Text
		return p, g, false, nil
	}
	if err != nil {
		return p, g, false, err
	}
	for i, x := range g.Factors {
		p.Factors = append(p.Factors, x.Name)
		p.Questions = append(p.Questions, questions(i, x)...)
	}
	return p, g, f.ok(), nil
}

// next is GET /next.
func (s *Server) next(w http.ResponseWriter, r *http.Request) error {
	p, code, err := s.proposed(r, readForm(r))
	if err != nil {
		return err
	}
	s.show(w, code, "next", p)
	return nil
}

// proposed answers what the page was asked.
func (s *Server) proposed(r *http.Request, f *form) (nextPage, int, error) {
	ctx := r.Context()
	p, g, ok, err := s.fillNext(r, f, "What to try next")
	if err != nil || !ok || p.Toward == "" {
		return p, f.code(), err
	}
	x, waiting, err := s.shelfAndPlans(ctx)
	if err != nil {
		return p, http.StatusOK, err
	}
	stock, key := s.shelfFor(x, waiting, g)
	if f.Val("shelf") == "" {
		stock, key = nil, ""
	}
	batch := f.count("n", "number of swatches", 3, propose.MostProposed)
	within, err := span(f.typed(f.Val("within"), language.Times))
	if err != nil {
		f.say("within", "%s", capital(err.Error()+"."))
	}
	if p.Toward == towardQuestion {
		if err := s.settled(ctx, &p, g, batch, within, stock, key); err != nil {
			return p, f.code(), err
		}
		return p, f.code(), s.showShelf(&p, g, x, waiting)
	}
	target, view, err := s.wanted(ctx, f, p.Toward)
	if err != nil {
		return p, http.StatusOK, err
	}
	if !f.ok() {
		return p, f.code(), nil
	}
	type answer struct {
		batch propose.Batch
		basis basis
	}
	got, done, err := asked(ctx, s, g, fmt.Sprint("toward ", target, batch, within, key), func(m *propose.Model) (answer, error) {
		b, err := m.Toward(propose.Goal{Target: target, Batch: batch, Within: within, Stock: stock, Seed: modelSeed})
		return answer{b, basisOf(m)}, err
	})
	if err := f.blame(err); err != nil {
		return p, http.StatusOK, err
	}
	if p.Working = !done; done && f.ok() {
		view.Batch, view.Seen, view.Name = got.batch, colour.Difference(got.batch.Best.Lab, target), colour.Name(target)
		p.Batch, p.Basis, p.LeftOut = &view, got.basis, got.batch.LeftOut
		p.show(g, got.batch.Proposals)
		p.Name = "Toward " + view.Words
		if p.Toward == towardLike {
			p.Name = capital(view.Words)
		}
		if r := []rune(p.Name); len(r) > 120 {
			p.Name = string(r[:119]) + "…"
		}
		if err := s.showShelf(&p, g, x, waiting); err != nil {
			return p, http.StatusOK, err
		}
	}
	return p, f.code(), nil
}

// code is the status of a page with this form.
func (f *form) code() int {
	if f.ok() {
		return http.StatusOK
	}
	return http.StatusUnprocessableEntity
}

// count reads how many of something are wanted.
func (f *form) count(name, what string, otherwise, most int64) int {
	n := f.whole(name, what, otherwise)
	if n < 1 || n > most {
		f.say(name, "%d can't be the %s; write a number from 1 to %d.", n, what, most)
	}
	return int(n)
}

func (p *nextPage) show(g gathered, proposals []propose.Proposal) {
	for i, x := range proposals {
		p.Proposals = append(p.Proposals, proposalView{Proposal: x, N: i + 1, Code: g.Code(x.Levels), Pic: rangePicture(x.Mean, x.Could), Name: colour.Name(x.Mean)})
	}
}

// showShelf says of what is proposed, each by itself and all together, whether the
// shelf is enough for it.
func (s *Server) showShelf(p *nextPage, g gathered, x shelfStock, waiting ahead) error {
	if len(p.Proposals) == 0 {
		return nil
	}
	w := studio.Swatch{WidthMM: g.set.WidthMM, HeightMM: g.set.HeightMM}
	lacks, _ := s.shelfFor(x, waiting, g)
	var all [][]studio.Treatment
	for i := range p.Proposals {
		v := &p.Proposals[i]
		ts, err := g.Treatments(v.Levels)
		if err != nil {
			return err
		}
		own := slices.Repeat([][]studio.Treatment{ts}, max(1, v.Times))
		v.Lacks = lacks(own)
		all = append(all, own...)
	}
	plan := shelfPlan{name: p.Name, metal: g.set.MetalID, blank: blankOf(g.set, studio.Form{})}
	plan.treatments, plan.swatches = numbered(all, w)
	plan.blank.Pieces = len(all)
	var err error
	p.Shelf, err = s.atShelf(x, waiting, plan)
	return err
}

// questions are what can be asked about one factor: between its ends, or between any
// two of its kinds.
func questions(i int, x studio.Factor) []orderChoice {
	if x.Kind.Numeric() || len(x.Levels) < 3 {
		return []orderChoice{{strconv.Itoa(i), x.Name}}
	}
	var out []orderChoice
	for to := range x.Levels {
		for from := range to {
			out = append(out, orderChoice{fmt.Sprintf("%d:%d:%d", i, from, to), fmt.Sprintf("%s: %s or %s", x.Name, x.Levels[from].Label, x.Levels[to].Label)})
		}
	}
	return out
}

// wanted reads the look that is wanted; what can't be read is said beside its field.
func (s *Server) wanted(ctx context.Context, f *form, toward string) (target colour.Lab, view batchView, err error) {
	switch toward {
	case towardSwatch:
		var n int64
		if target, n, err = s.wantedLook(ctx, f.Val("swatch")); err != nil {
			return target, view, f.blame(renamed(err, "swatch"), "swatch")
		}
		view.Words = fmt.Sprintf("the look of swatch %d", n)
		view.Photo, err = s.photoOfLook(ctx, n, target)
	case towardLike:
		var looks []colour.Lab
		var numbers []string
		for _, word := range strings.FieldsFunc(f.Val("like"), func(c rune) bool { return c == ',' || c == ';' || c == ' ' }) {
			l, n, err := s.wantedLook(ctx, word)
			if err != nil {
				return target, view, f.blame(renamed(err, "like"), "like")
			}
			looks, numbers = append(looks, l), append(numbers, strconv.FormatInt(n, 10))
		}
		if len(looks) == 0 || len(looks) > 20 {
			f.say("like", "Write the numbers of 1 to 20 swatches, like 12, 15, 18.")
			return target, view, nil
		}
		apart := 0.0
		target, apart = propose.Between(looks)
		view.Words = "more like swatches " + strings.Join(numbers, ", ")
		if apart > 6 {
			view.Light = fmt.Sprintf("These swatches differ much from each other: one lies %.0f from their mean. The mean may be no look that you like.", apart)
		}
	case towardLab:
		for i, x := range []*float64{&target.L, &target.A, &target.B} {
			name := []string{"L", "a", "b"}[i]
			if f.Val(name) == "" {
				f.say(name, "Write %s* as a number.", name)
			}
			if *x = f.number(name, name+"*", "", 0); f.Wrong(name) == "" && (i == 0 && (*x < 0 || *x > 100) || math.Abs(*x) > 130) {
				f.say(name, "%s* can't be %v; L* runs from 0 to 100, a* and b* from about −130 to 130.", name, *x)
			}
		}
		view.Words = "a colour in numbers"
		if from := f.Val("from"); from != "" {
			view.Words = from
		}
		if f.Val("loose") != "" {
			view.Light = "Read from a picture that was not photographed with a grey card as swatches are: only as good as its light."
		}
	default:
		f.say("", "Choose what the next swatches are for.")
	}
	return target, view, err
}

// renamed puts a Problem beside another field.
func renamed(err error, field string) error {
	if p := studio.ProblemIn(err); p != nil {
		return studio.Problemf(p.Kind, field, "%s", p.Text)
	}
	return err
}

// photoOfLook returns the photograph a look of a swatch was read from.
func (s *Server) photoOfLook(ctx context.Context, swatch int64, lab colour.Lab) (int64, error) {
	looks, err := s.store.Looks(ctx)
	for _, l := range looks {
		if l.Swatch == swatch && l.Measurement != nil && l.Measurement.Lab == lab {
			return l.Photo, err
		}
	}
	return 0, err
}

// settled answers a question on factors.
func (s *Server) settled(ctx context.Context, p *nextPage, g gathered, batch int, within time.Duration, stock propose.Stock, key string) error {
	q := propose.Question{A: -1, B: int(p.whole("b1", "choice", -1)), Batch: batch, Within: within, Stock: stock, Seed: modelSeed}
	for i, part := range strings.Split(p.Val("a1"), ":") {
		if n, err := strconv.Atoi(part); err == nil && i < 3 {
			*[]*int{&q.A, &q.FromA, &q.ToA}[i] = n
		}
	}
	if !p.ok() {
		return nil
	}
	type answer struct {
		answer propose.Answer
		basis  basis
	}
	got, done, err := asked(ctx, s, g, fmt.Sprint("question ", q.A, q.B, q.FromA, q.ToA, q.Batch, q.Within, key), func(m *propose.Model) (answer, error) {
		a, err := m.Settle(q)
		return answer{a, basisOf(m)}, err
	})
	if err := p.blame(err); err != nil {
		return err
	}
	if p.Working = !done; done && p.ok() {
		p.Answer, p.Basis, p.LeftOut = &got.answer, got.basis, got.answer.LeftOut
		p.show(g, got.answer.Proposals)
		p.Name = "To learn what " + got.answer.Effects[0].Factor + " does"
	}
	return nil
}

// planNext is POST /next: the ticked proposals become a set.
func (s *Server) planNext(w http.ResponseWriter, r *http.Request) error {
	posted := readForm(r)
	asked, err := url.ParseQuery(posted.Val("asked"))
	if err != nil {
		return studio.Problemf(studio.Invalid, "asked", "The page was sent without its question. Ask again, then plan.")
	}
	for _, k := range []string{"name", "replicates", "room", "class", "take"} {
		asked[k] = posted.values[k]
	}
	f := &form{values: asked, wrong: map[string]string{}, in: posted.in}
	set, err := s.planTaken(r, f)
	if err := f.blame(err, "name", "replicates"); err != nil {
		return err
	}
	if !f.ok() {
		wrong := f.wrong
		again := &form{values: f.values, wrong: map[string]string{}, in: f.in}
		p, _, err := s.proposed(r, again)
		if err != nil {
			return err
		}
		p.form = &form{values: f.values, wrong: wrong, in: f.in}
		p.onTop("name", "replicates")
		p.Name = f.Val("name")
		s.show(w, http.StatusUnprocessableEntity, "next", p)
		return nil
	}
	s.live.changed()
	return backSaying(w, r, fmt.Sprintf("/sets/%d", set.ID), "The proposed swatches are planned. Print their labels, then start.")
}

// planTaken lays out and keeps the ticked proposals of a form, by the same checks as
// any other set.
func (s *Server) planTaken(r *http.Request, f *form) (set studio.Set, err error) {
	ctx := r.Context()
	_, g, ok, err := s.fillNext(r, f, "What to try next")
	if err != nil {
		return set, err
	}
	if !ok {
		return set, studio.Problemf(studio.Conflict, "", "There are no swatches to go by any more. Ask again.")
	}
	var proposals []propose.Proposal
	for _, code := range f.values["take"] {
		code, times, _ := strings.Cut(code, "x")
		levels, err := g.Read(code)
		if err != nil {
			return set, err
		}
		why, err := g.Refused(levels)
		if err != nil {
			return set, err
		}
		if why != "" {
			return set, studio.Problemf(studio.Unsafe, "", "%s can't be planned: %s", capital(g.InWords(levels)), why)
		}
		n, _ := strconv.Atoi(times)
		proposals = append(proposals, propose.Proposal{Look: propose.Look{Levels: levels}, Times: min(2, max(1, n))})
	}
	if len(proposals) == 0 || len(proposals) > propose.MostProposed {
		return set, studio.Problemf(studio.Invalid, "", "Tick the swatches to make.")
	}
	factors, combos := g.Choose(proposals)
	replicates := f.count("replicates", "number of each", 1, plan.MaxReplicates)
	if !f.ok() {
		return set, nil
	}
	question := "Proposed: " + f.Val("name") + "."
	lay, err := plan.LayProposed(g.ask(f.Val("name"), question, replicates, 0, uint64(1+rand.IntN(9999))), factors, combos, g.bench.Supplies, g.bench.Hands, g.bench.Metal)
	if err != nil {
		return set, err
	}
	lay.Set.Class, lay.Set.RoomID, lay.Set.Made = studio.ClassOf(f.Val("class")), f.whole("room", "room", 0), s.now().UTC()
	var all []studio.Treatment
	var pieces []store.NewSwatch
	for i, x := range lay.Pieces {
		x.Swatch.Made = lay.Set.Made
		pieces = append(pieces, store.NewSwatch{Swatch: x.Swatch, Treatments: x.Treatments})
		for _, t := range x.Treatments {
			t.Swatch = int64(i + 1)
			all = append(all, t)
		}
	}
	rooms, err := s.store.Rooms(ctx)
	if err != nil {
		return set, err
	}
	if _, problem := plan.PlaceOf(lay.Set, rooms).AllowSet(all, g.bench.Supplies, g.bench.Metal); problem != nil {
		return set, problem
	}
	set, _, err = s.store.AddSet(ctx, lay.Set, pieces)
	return set, err
}
