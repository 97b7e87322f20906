package web

import (
	"cmp"
	"context"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"aerugo/internal/flow/find"
	"aerugo/internal/language"
	"aerugo/internal/science/colour"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

func (s *Server) findRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /find", s.find)
	s.on(mux, "POST /find/scan", s.scanToFind)
	s.on(mux, "GET /swatches/find", func(w http.ResponseWriter, r *http.Request) error {
		http.Redirect(w, r, "/find?q="+url.QueryEscape(r.FormValue("code")), http.StatusSeeOther)
		return nil
	})
}

// findPage is the one box, and what it found.
type findPage struct {
	Frame
	*form
	Q       string
	Asked   bool
	Answer  string // where it is, on one line
	Count   string
	Hits    []hitView
	Look    bool
	Named   []find.NamedLook
	Covers  []string
	Covered string
	Refused bool
}

type hitView struct {
	find.Hit
	Photo int64
	Lab   colour.Lab
	Name  string
	Where string
}

// mostFound is how many swatches the page shows.
const mostFound = 48

func (s *Server) find(w http.ResponseWriter, r *http.Request) error {
	return s.showFind(w, r, readForm(r))
}

func (s *Server) showFind(w http.ResponseWriter, r *http.Request, f *form) error {
	ctx := r.Context()
	p := findPage{Frame: s.frame(r, "Find a swatch", "swatches"), form: f, Q: f.Val("q"), Covered: f.Val("covered"), Named: find.NamedLooks, Covers: find.Covers}
	q, err := s.asked(f)
	if err != nil {
		if err := f.blame(err, "q", "photo"); err != nil {
			return err
		}
	}
	p.Asked = p.Q != "" || q.Look != nil
	p.Look = q.Look != nil
	if p.Asked && f.ok() {
		if err := s.found(ctx, &p, q); err != nil {
			if err := f.blame(renamed(err, "q"), "q"); err != nil {
				return err
			}
		}
	}
	p.Refused = !f.ok()
	s.show(w, f.code(), "find", p)
	return nil
}

// asked reads what the form asks for.
func (s *Server) asked(f *form) (find.Query, error) {
	if f.Val("L") != "" {
		look := find.Look{Lab: colour.Lab{L: f.number("L", "L*", "", 0), A: f.number("a", "a*", "", 0), B: f.number("b", "b*", "", 0)}, From: f.Val("from")}
		if !f.ok() || look.Lab.L < 0 || look.Lab.L > 100 {
			return find.Query{}, studio.Problemf(studio.Invalid, "q", "That is no colour; write L* from 0 to 100, a* and b*, like 50, −20, −5.")
		}
		return find.Query{Look: &look}, nil
	}
	q, err := find.Read(f.Val("q"))
	if err == nil && q.Words != nil {
		// a number or a look; words to look for stay as they are, for people write in their language
		if in, err := find.Read(f.typed(f.Val("q"), language.SwatchWords, language.FaceWords, language.LookWords, language.Numbers)); err == nil && in.Words == nil {
			q = in
		}
	}
	if p := studio.ProblemIn(err); p != nil {
		return q, renamed(err, "q")
	}
	if q.Look != nil && slices.Contains(find.Covers, f.Val("covered")) {
		q.Look.Covered = f.Val("covered")
	}
	return q, err
}

// found fills the page with what fits.
func (s *Server) found(ctx context.Context, p *findPage, q find.Query) error {
	m, places, _, err := s.storageMap(ctx)
	if err != nil {
		return err
	}
	looks, err := s.store.FaceLooks(ctx)
	if err != nil {
		return err
	}
	at := map[faceKey]store.FaceLook{}
	for _, l := range looks {
		at[faceKey{l.Swatch, l.Face}] = l
	}
	var hits []find.Hit
	switch {
	case q.Place != 0:
		x, err := s.store.Place(ctx, q.Place)
		if err != nil {
			return err
		}
		p.Answer = fmt.Sprintf("That is the place %s.", m.Path(x.ID))
		for _, id := range m.Under(x.ID) {
			for _, o := range m.In(id) {
				hits = append(hits, find.Hit{Swatch: o.Swatch, Why: "in that place"})
			}
		}
	case q.Number != 0:
		n, err := s.numberOf(ctx, q)
		if err != nil {
			return err
		}
		if q.Like {
			look, of, err := lookLike(at, n, q.Face)
			if err != nil {
				return err
			}
			p.Look = true
			hits = find.Looks(without(looks, of), look, mostFound)
			break
		}
		why := "by its number"
		if q.Set != 0 {
			why = fmt.Sprintf("of set %d", q.Set)
		}
		hits = []find.Hit{{Swatch: n, Face: q.Face, Why: why}}
		if line, ok := m.Where(n); ok {
			p.Answer = fmt.Sprintf("%d is here: %s", n, line)
		} else {
			p.Answer = fmt.Sprintf("Nobody said where %d is.", n)
		}
	case q.Look != nil:
		hits = find.Looks(without(looks, 0), *q.Look, mostFound)
	default:
		ways := [][]string{q.Words}
		if in, err := find.Read(p.typed(p.Q, language.MetalWords, language.LookWords)); err == nil && in.Words != nil && !slices.Equal(in.Words, q.Words) {
			ways = append(ways, in.Words)
		}
		if hits, err = s.byWords(ctx, cmp.Or(p.form.in, language.English), m, places, ways); err != nil {
			return err
		}
	}
	switch n := len(hits); {
	case n > mostFound:
		p.Count = fmt.Sprintf("%d swatches; the first %d are shown.", n, mostFound)
		hits = hits[:mostFound]
	case p.Look && n > 0:
		p.Count = fmt.Sprintf("The %d nearest faces, the nearest first.", n)
	case n > 1:
		p.Count = fmt.Sprintf("%d swatches.", n)
	}
	for _, h := range hits {
		v := hitView{Hit: h}
		v.Where, _ = m.Where(h.Swatch)
		l, ok := at[faceKey{h.Swatch, h.Face}]
		for _, face := range studio.BothFaces {
			if !ok && h.Face == "" {
				l, ok = at[faceKey{h.Swatch, face}]
			}
		}
		v.Photo, v.Lab, v.Name = l.Photo, l.Lab, l.Name
		p.Hits = append(p.Hits, v)
	}
	return nil
}

// without leaves a swatch out of the looks.
func without(looks []store.FaceLook, swatch int64) []find.Face {
	out := make([]find.Face, 0, len(looks))
	for _, l := range looks {
		if l.Swatch != swatch {
			out = append(out, find.Face{Swatch: l.Swatch, Face: l.Face, Lab: l.Lab, Name: l.Name, Coverage: l.Coverage, Glare: l.Glare})
		}
	}
	return out
}

// lookLike is the look of a swatch's face, the front's where none is named.
func lookLike(at map[faceKey]store.FaceLook, n int64, face studio.Face) (find.Look, int64, error) {
	for _, f := range studio.BothFaces {
		if face != "" && f != face {
			continue
		}
		if l, ok := at[faceKey{n, f}]; ok {
			look := find.Look{Lab: l.Lab, From: fmt.Sprintf("swatch %d, %s", n, f)}
			switch {
			case l.Coverage < 0:
			case l.Coverage < 0.25:
				look.Covered = find.Covers[0]
			case l.Coverage <= 0.75:
				look.Covered = find.Covers[1]
			default:
				look.Covered = find.Covers[2]
			}
			return look, n, nil
		}
	}
	return find.Look{}, 0, studio.Problemf(studio.Conflict, "q", "Swatch %d is not measured yet, so nothing can be compared with it; photograph it first.", n)
}

// numberOf returns the swatch a number means: itself, or with a set the one of that
// number in it, else the one at that place of it.
func (s *Server) numberOf(ctx context.Context, q find.Query) (int64, error) {
	if q.Set == 0 {
		if _, err := s.store.Swatch(ctx, q.Number); err != nil {
			return 0, err
		}
		return q.Number, nil
	}
	of, err := s.store.SwatchesOf(ctx, q.Set)
	if err != nil {
		return 0, err
	}
	for _, x := range of {
		if x.Number == q.Number {
			return x.Number, nil
		}
	}
	if q.Number > int64(len(of)) {
		return 0, studio.Problemf(studio.NotFound, "q", "Set %d has no swatch %d; it has %d swatches.", q.Set, q.Number, len(of))
	}
	return of[q.Number-1].Number, nil
}

// byWords looks in what is written of each swatch and in where it is: as it is kept, and as
// it is read in the language of who asks. Each of ways is one way to say what is looked for.
func (s *Server) byWords(ctx context.Context, in *language.Language, m *find.Map, places []studio.Place, ways [][]string) ([]find.Hit, error) {
	written, err := s.store.Written(ctx)
	if err != nil {
		return nil, err
	}
	where, err := s.store.WhereSwatches(ctx)
	if err != nil {
		return nil, err
	}
	paths := map[int64]string{}
	for _, p := range places {
		paths[p.ID] = m.Path(p.ID)
	}
	read := func(texts ...string) string {
		out := strings.Join(texts, ", ")
		for _, t := range texts {
			if said := in.Say(t); said != t {
				out += ", " + said
			}
		}
		return out
	}
	entries := make([]find.Entry, 0, len(written))
	for _, x := range written {
		var liquids []string
		for _, key := range strings.Split(x.Materials, ",") {
			if key != "" {
				liquids = append(liquids, substanceName(key))
			}
		}
		entries = append(entries, find.Entry{Swatch: x.Swatch, Set: x.Set, Fields: []find.Field{
			{Name: "recipe", Text: x.Recipes}, {Name: "metal", Text: x.Metal}, {Name: "liquid or salt", Text: read(liquids...) + ", " + x.Supplies},
			{Name: "set", Text: x.SetName}, {Name: "note", Text: x.Note}, {Name: "settings", Text: read(x.Settings)}, {Name: "place", Text: paths[where[x.Swatch].Place]}}})
	}
	var hits []find.Hit
	for _, words := range ways {
		for _, h := range find.Words(entries, words) {
			if !slices.ContainsFunc(hits, func(x find.Hit) bool { return x.Swatch == h.Swatch }) {
				hits = append(hits, h)
			}
		}
	}
	return hits, nil
}

// scanToFind is POST /find/scan: the label in a photograph is looked up.
func (s *Server) scanToFind(w http.ResponseWriter, r *http.Request) error {
	f, err := s.scanned(w, r)
	if err != nil {
		return err
	}
	if !f.ok() {
		return s.showFind(w, r, f)
	}
	first, _, _ := strings.Cut(f.Val("numbers"), " ")
	return back(w, r, "/find?q="+url.QueryEscape(first))
}
