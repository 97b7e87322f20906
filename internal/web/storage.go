package web

import (
	"context"
	"fmt"
	"html/template"
	"io"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/flow/find"
	"aerugo/internal/flow/scene"
	"aerugo/internal/picture"
	"aerugo/internal/studio"
)

func (s *Server) storageRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /storage", s.storage)
	s.on(mux, "POST /storage", s.addPlace)
	s.on(mux, "GET /storage/{id}", s.place)
	s.on(mux, "POST /storage/{id}", s.changePlace)
	s.on(mux, "GET /storage/{id}/put", s.putPage)
	s.on(mux, "POST /storage/{id}/put", s.putAway)
	s.on(mux, "POST /storage/{id}/scan", s.scanAway)
	s.on(mux, "POST /storage/out", s.takeOut)
	s.on(mux, "POST /storage/{id}/rounds", s.beginRound)
	s.on(mux, "GET /rounds/{id}", s.roundPage)
	s.on(mux, "POST /rounds/{id}/seen", s.seenInRound)
	s.on(mux, "POST /rounds/{id}/scan", s.scanInRound)
	s.on(mux, "POST /rounds/{id}/end", s.endRound)
	s.findRoutes(mux)
	s.labelRoutes(mux)
}

// storageMap reads where everything is.
func (s *Server) storageMap(ctx context.Context) (*find.Map, []studio.Place, map[int64]studio.SwatchMove, error) {
	places, err := s.store.Places(ctx)
	if err != nil {
		return nil, nil, nil, err
	}
	where, err := s.store.WhereSwatches(ctx)
	return find.NewMap(places, where), places, where, err
}

// placeFields are the fields a place is described by.
type placeFields struct {
	*form
	Kinds []placeKind
	Tree  []find.Branch
	Own   int64 // the place itself, which can't stand in itself
	// Refused says that the fields were sent and can't be kept.
	Refused bool
}

type placeKind struct {
	Key   studio.PlaceKind
	Label string
}

var placeKinds = []placeKind{{studio.Keeps, "here: a cabinet, drawer, box, wall"}, {studio.Lent, "with somebody, to come back"}, {studio.Gone, "given away or sold"}}

// storagePage shows every place.
type storagePage struct {
	Frame
	placeFields
	Loans   []find.Loan
	Without []int64
	More    int // of them, not shown
	Rounds  []roundLine
}

type roundLine struct {
	studio.Round
	Name string
}

// withoutShown is how many swatches without a place the page names.
const withoutShown = 60

func (s *Server) storage(w http.ResponseWriter, r *http.Request) error {
	return s.showStorage(w, r, readForm(r))
}

func (s *Server) showStorage(w http.ResponseWriter, r *http.Request, f *form) error {
	ctx := r.Context()
	m, _, where, err := s.storageMap(ctx)
	if err != nil {
		return err
	}
	p := storagePage{Frame: s.frame(r, "Where things are", "swatches"), placeFields: placeFields{form: f, Kinds: placeKinds, Tree: m.Tree()}, Loans: m.Loans(s.now())}
	if p.Without, err = s.withoutPlace(ctx, where); err != nil {
		return err
	}
	if n := len(p.Without); n > withoutShown {
		p.More, p.Without = n-withoutShown, p.Without[:withoutShown]
	}
	rounds, err := s.store.Rounds(ctx)
	if err != nil {
		return err
	}
	for _, x := range rounds {
		if x.Ended.IsZero() {
			p.Rounds = append(p.Rounds, roundLine{x, m.Path(x.Place)})
		}
	}
	p.Refused = !f.ok()
	s.show(w, f.code(), "storage", p)
	return nil
}

// withoutPlace returns the swatches nobody said a place of.
func (s *Server) withoutPlace(ctx context.Context, where map[int64]studio.SwatchMove) (out []int64, err error) {
	all, err := s.store.Swatches(ctx)
	for _, x := range all {
		if _, ok := where[x.Number]; !ok {
			out = append(out, x.Number)
		}
	}
	return out, err
}

// readPlace fills p with what was typed.
func readPlace(f *form, p studio.Place) studio.Place {
	p.Name, p.Note, p.Kind = f.Val("name"), f.Val("note"), studio.PlaceKind(f.Val("kind"))
	p.Parent = f.whole("parent", "place", 0)
	p.Rows, p.Columns = int(f.whole("rows", "rows", 0)), int(f.whole("columns", "columns", 0))
	return p
}

func (s *Server) addPlace(w http.ResponseWriter, r *http.Request) error {
	f := readForm(r)
	p := readPlace(f, studio.Place{Client: f.Val("client")})
	if f.ok() {
		kept, err := s.store.SavePlace(r.Context(), p)
		if err == nil {
			s.Changed()
			return backSaying(w, r, fmt.Sprintf("/storage/%d", kept.ID), fmt.Sprintf("%s is kept. Its label says %s.", kept.Name, studio.PlaceCode(kept.ID)))
		}
		if err := f.blame(err, "name", "kind", "parent", "rows", "note"); err != nil {
			return err
		}
	}
	return s.showStorage(w, r, f)
}

// placePage shows one place.
type placePage struct {
	Frame
	placeFields
	Place  studio.Place
	Within string
	Label  string
	Rows   []gridRow
	Heads  []int
	Loose  []putLine // what stands in no cell
	Inside []find.Branch
	Count  int
	Rounds []roundLine
}

type gridRow struct {
	Letter string
	Cells  []gridCell
}

type gridCell struct {
	Name     string
	Swatches []int64
	Colour   template.HTML
}

type putLine struct {
	studio.SwatchMove
	Colour template.HTML
	Name   string
}

func (s *Server) place(w http.ResponseWriter, r *http.Request) error {
	return s.showPlace(w, r, nil)
}

// showPlace shows a place; f is a form that was refused, nil for none.
func (s *Server) showPlace(w http.ResponseWriter, r *http.Request, f *form) error {
	ctx := r.Context()
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	x, err := s.store.Place(ctx, id)
	if err != nil {
		return err
	}
	m, _, _, err := s.storageMap(ctx)
	if err != nil {
		return err
	}
	if f == nil {
		f = readForm(r)
		for name, value := range map[string]string{"name": x.Name, "note": x.Note, "kind": string(x.Kind), "parent": strconv.FormatInt(x.Parent, 10)} {
			f.set(name, value)
		}
		if x.HasGrid() {
			f.set("rows", strconv.Itoa(x.Rows))
			f.set("columns", strconv.Itoa(x.Columns))
		}
	}
	p := placePage{Frame: s.frame(r, m.Path(id), "swatches"), placeFields: placeFields{form: f, Kinds: placeKinds, Tree: m.Tree(), Own: id}, Place: x, Within: m.Path(x.Parent), Label: studio.PlaceCode(id)}
	looks, err := s.chips(ctx)
	if err != nil {
		return err
	}
	all := m.In(id)
	p.Count = len(all)
	for row := 1; row <= x.Rows; row++ {
		line := gridRow{Letter: string(rune('A' + row - 1))}
		for column := 1; column <= x.Columns; column++ {
			cell := gridCell{Name: studio.Cell(row, column)}
			for _, o := range all {
				if o.Row == row && o.Column == column {
					cell.Swatches = append(cell.Swatches, o.Swatch)
					cell.Colour = looks[o.Swatch].chip
				}
			}
			line.Cells = append(line.Cells, cell)
		}
		p.Rows = append(p.Rows, line)
	}
	for column := 1; column <= x.Columns; column++ {
		p.Heads = append(p.Heads, column)
	}
	for _, o := range all {
		if o.Row == 0 {
			p.Loose = append(p.Loose, putLine{o, looks[o.Swatch].chip, looks[o.Swatch].name})
		}
	}
	under := m.Under(id)
	for _, b := range m.Tree() {
		if b.Parent == id && slices.Contains(under, b.ID) {
			p.Inside = append(p.Inside, b)
		}
	}
	rounds, err := s.store.Rounds(ctx)
	if err != nil {
		return err
	}
	for _, o := range rounds {
		if o.Place == id && len(p.Rounds) < 5 {
			p.Rounds = append(p.Rounds, roundLine{o, x.Name})
		}
	}
	p.Refused = !f.ok()
	s.show(w, f.code(), "storage_place", p)
	return nil
}

// chipOf is a swatch's look in short: the front's, else the back's.
type chipOf struct {
	chip template.HTML
	name string
}

func (s *Server) chips(ctx context.Context) (map[int64]chipOf, error) {
	looks, err := s.store.FaceLooks(ctx)
	out := map[int64]chipOf{}
	for _, l := range looks {
		if _, ok := out[l.Swatch]; !ok || l.Face == studio.Front {
			out[l.Swatch] = chipOf{chip(l.Lab), l.Name}
		}
	}
	return out, err
}

func (s *Server) changePlace(w http.ResponseWriter, r *http.Request) error {
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	x, err := s.store.Place(r.Context(), id)
	if err != nil {
		return err
	}
	f := readForm(r)
	switch f.Val("do") {
	case "close":
		x.Closed = s.now()
	case "open":
		x.Closed = time.Time{}
	default:
		x = readPlace(f, x)
	}
	if f.ok() {
		kept, err := s.store.SavePlace(r.Context(), x)
		if err == nil {
			s.Changed()
			return backSaying(w, r, fmt.Sprintf("/storage/%d", id), fmt.Sprintf("%s is kept as it is now.", kept.Name))
		}
		if err := f.blame(err, "name", "kind", "parent", "rows", "note"); err != nil {
			return err
		}
	}
	if f.Val("do") != "" { // a button alone: the fields are as kept
		text := f.Wrong("")
		f = &form{values: map[string][]string{}, wrong: map[string]string{"": text}}
		for name, value := range map[string]string{"name": x.Name, "note": x.Note, "kind": string(x.Kind), "parent": strconv.FormatInt(x.Parent, 10), "rows": strconv.Itoa(x.Rows), "columns": strconv.Itoa(x.Columns)} {
			f.set(name, value)
		}
	}
	return s.showPlace(w, r, f)
}

// putPage puts one swatch after another into a place, on the phone.
type putPage struct {
	Frame
	*form
	Place   studio.Place
	Within  string
	Free    string // the next free cell
	Last    []putLine
	Without []int64
	Lent    bool
}

// lastShown is how many swatches put away last the page shows.
const lastShown = 8

func (s *Server) putPage(w http.ResponseWriter, r *http.Request) error {
	return s.showPut(w, r, readForm(r))
}

func (s *Server) showPut(w http.ResponseWriter, r *http.Request, f *form) error {
	ctx := r.Context()
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	x, err := s.store.Place(ctx, id)
	if err != nil {
		return err
	}
	m, _, where, err := s.storageMap(ctx)
	if err != nil {
		return err
	}
	p := putPage{Frame: s.frame(r, fmt.Sprintf("Put away: %s", x.Name), "swatches"), form: f, Place: x, Within: m.Path(id), Free: studio.Cell(m.Free(id)), Lent: x.Kind == studio.Lent}
	if p.Without, err = s.withoutPlace(ctx, where); err != nil {
		return err
	}
	p.Without = p.Without[:min(len(p.Without), withoutShown)]
	looks, err := s.chips(ctx)
	if err != nil {
		return err
	}
	all := slices.Clone(m.In(id))
	slices.SortFunc(all, func(a, b studio.SwatchMove) int { return int(b.ID - a.ID) })
	for _, o := range all[:min(len(all), lastShown)] {
		p.Last = append(p.Last, putLine{o, looks[o.Swatch].chip, looks[o.Swatch].name})
	}
	s.show(w, f.code(), "storage_put", p)
	return nil
}

// mostAtOnce bounds the swatches put away or ticked off by one tap.
const mostAtOnce = 200

// swatchNumbers reads numbers, labels and ranges: "14 15, 20-24 S0042F3". A place's
// label is returned apart.
func swatchNumbers(text string) (numbers []int64, place int64, err error) {
	bad := func(word string) error {
		return studio.Problemf(studio.Invalid, "numbers", "%q is no swatch; write numbers or labels, like 14 15 20-24.", word)
	}
	add := func(n int64) {
		if !slices.Contains(numbers, n) {
			numbers = append(numbers, n)
		}
	}
	for _, word := range strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == ',' || r == ';' || r == '\n' || r == '\r' || r == '\t' }) {
		if id, err := studio.ReadPlaceCode(word); err == nil {
			place = id
			continue
		}
		if n, _, err := studio.ReadCode(word); err == nil {
			add(n)
			continue
		}
		from, to, isRange := strings.Cut(strings.ReplaceAll(word, "–", "-"), "-")
		first, err1 := strconv.ParseInt(from, 10, 64)
		last := first
		var err2 error
		if isRange {
			last, err2 = strconv.ParseInt(to, 10, 64)
		}
		if err1 != nil || err2 != nil || first < 1 || last < first {
			return nil, 0, bad(word)
		}
		if last-first >= mostAtOnce || len(numbers) > mostAtOnce {
			return nil, 0, studio.Problemf(studio.Invalid, "numbers", "More than %d swatches at once can't be taken; send them in parts.", mostAtOnce)
		}
		for n := first; n <= last; n++ {
			add(n)
		}
	}
	if len(numbers) == 0 && place == 0 {
		return nil, 0, studio.Problemf(studio.Invalid, "numbers", "Write a swatch's number or scan its label first.")
	}
	return numbers, place, nil
}

// movesFor are the moves of numbers into the place a form is about: the cell that was
// typed for the first, the next free ones for the others where the place has a grid.
func (s *Server) movesFor(r *http.Request, f *form, x studio.Place, numbers []int64) ([]studio.SwatchMove, error) {
	m, _, _, err := s.storageMap(r.Context())
	if err != nil {
		return nil, err
	}
	row, column, err := studio.ReadCell(f.Val("cell"))
	if err != nil {
		return nil, err
	}
	free := m.FreeCells(x.ID)
	due := f.date("due")
	var moves []studio.SwatchMove
	for i, n := range numbers {
		mv := studio.SwatchMove{Client: fmt.Sprintf("%s-%d", f.Val("client"), i), Swatch: n, Place: x.ID, Due: due, At: s.now(), By: s.who(r), Note: f.Val("note")}
		if f.Val("client") == "" {
			mv.Client = ""
		}
		switch {
		case row > 0 && i == 0:
			mv.Row, mv.Column = row, column
		case x.HasGrid() && f.Val("loose") == "":
			free = slices.DeleteFunc(free, func(c [2]int) bool { return c == [2]int{row, column} })
			if len(free) > 0 {
				mv.Row, mv.Column = free[0][0], free[0][1]
				free = free[1:]
			}
		}
		moves = append(moves, mv)
	}
	return moves, nil
}

func (s *Server) putAway(w http.ResponseWriter, r *http.Request) error {
	return s.put(w, r, readForm(r))
}

// put keeps what a form of the page says, and comes back for the next swatch.
func (s *Server) put(w http.ResponseWriter, r *http.Request, f *form) error {
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	x, err := s.store.Place(r.Context(), id)
	if err != nil {
		return err
	}
	numbers, other, err := swatchNumbers(f.Val("numbers"))
	if err == nil && other != 0 { // a place's label: go on there
		if x, err = s.store.Place(r.Context(), other); err == nil && len(numbers) == 0 {
			return backSaying(w, r, fmt.Sprintf("/storage/%d/put", x.ID), fmt.Sprintf("Now into %s.", x.Name))
		}
	}
	var moves []studio.SwatchMove
	if err == nil {
		moves, err = s.movesFor(r, f, x, numbers)
	}
	if err == nil && f.ok() {
		var kept []studio.SwatchMove
		if kept, err = s.store.AddSwatchMoves(r.Context(), moves); err == nil {
			s.Changed()
			to := ownPath(f.Val("back"))
			if f.Val("back") == "" {
				to = fmt.Sprintf("/storage/%d/put", x.ID)
			}
			return backSaying(w, r, to, putWords(kept, x))
		}
	}
	if err := f.blame(err, "numbers", "cell", "due"); err != nil {
		return err
	}
	return s.showPut(w, r, f)
}

// putWords says what was put where.
func putWords(moves []studio.SwatchMove, x studio.Place) string {
	if len(moves) == 1 {
		if cell := studio.Cell(moves[0].Row, moves[0].Column); cell != "" {
			return fmt.Sprintf("%d is in %s, cell %s.", moves[0].Swatch, x.Name, cell)
		}
		return fmt.Sprintf("%d is in %s.", moves[0].Swatch, x.Name)
	}
	return fmt.Sprintf("%d swatches are in %s.", len(moves), x.Name)
}

// maxScan bounds a photograph of labels, in bytes.
const maxScan = 40 << 20

// scanned reads the labels in a photograph that a form sends, as one text.
func (s *Server) scanned(w http.ResponseWriter, r *http.Request) (*form, error) {
	r.Body = http.MaxBytesReader(w, r.Body, maxScan)
	f := &form{values: map[string][]string{}, wrong: map[string]string{}}
	if err := r.ParseMultipartForm(8 << 20); err != nil {
		f.say("photo", "That was no photograph; take one of the labels.")
		return f, nil
	}
	for name, v := range r.MultipartForm.Value {
		f.values[name] = v
	}
	file, _, err := r.FormFile("photo")
	if err != nil {
		f.say("photo", "Take a photograph of the labels first.")
		return f, nil
	}
	defer file.Close()
	data, err := io.ReadAll(file)
	if err != nil {
		return f, err
	}
	leave, err := s.takeSeat(r.Context())
	if err != nil {
		return f, err
	}
	defer leave()
	if _, err := picture.Inspect(data); err != nil {
		return f, f.blame(renamed(err, "photo"), "photo")
	}
	img, err := picture.Decode(data)
	if err != nil {
		return f, f.blame(renamed(err, "photo"), "photo")
	}
	codes := scene.Codes(img)
	if len(codes) == 0 {
		f.say("photo", "No label could be read in that photograph; hold the camera nearer, or type the number.")
		return f, nil
	}
	f.set("numbers", strings.Join(codes, " "))
	return f, nil
}

func (s *Server) scanAway(w http.ResponseWriter, r *http.Request) error {
	f, err := s.scanned(w, r)
	if err != nil {
		return err
	}
	if !f.ok() {
		return s.showPut(w, r, f)
	}
	return s.put(w, r, f)
}

// takeOut is POST /storage/out: a swatch leaves its place.
func (s *Server) takeOut(w http.ResponseWriter, r *http.Request) error {
	f := readForm(r)
	n := f.whole("swatch", "swatch", 0)
	if !f.ok() {
		return studio.Problemf(studio.Invalid, "swatch", "%s", f.Wrong("swatch"))
	}
	if _, err := s.store.AddSwatchMoves(r.Context(), []studio.SwatchMove{{Client: f.Val("client"), Swatch: n, At: s.now(), By: s.who(r)}}); err != nil {
		return err
	}
	s.Changed()
	return backSaying(w, r, ownPath(f.Val("back")), fmt.Sprintf("%d has no place now.", n))
}

// roundView is a round through a place.
type roundView struct {
	Frame
	*form
	Round   studio.Round
	Name    string
	Place   studio.Place
	Through find.LookThrough
	Strange []strangeLine
	Ended   bool
	Score   string
}

type strangeLine struct {
	Swatch int64
	Where  string
}

func (s *Server) beginRound(w http.ResponseWriter, r *http.Request) error {
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	x, err := s.store.AddRound(r.Context(), studio.Round{Client: readForm(r).Val("client"), Place: id, By: s.who(r)})
	if err != nil {
		return err
	}
	s.Changed()
	return back(w, r, fmt.Sprintf("/rounds/%d", x.ID))
}

func (s *Server) roundPage(w http.ResponseWriter, r *http.Request) error {
	return s.showRound(w, r, readForm(r))
}

func (s *Server) showRound(w http.ResponseWriter, r *http.Request, f *form) error {
	ctx := r.Context()
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	x, err := s.store.Round(ctx, id)
	if err != nil {
		return err
	}
	m, _, _, err := s.storageMap(ctx)
	if err != nil {
		return err
	}
	seen, err := s.store.Sightings(ctx, id)
	if err != nil {
		return err
	}
	var numbers []int64
	for _, o := range seen {
		numbers = append(numbers, o.Swatch)
	}
	p := roundView{Frame: s.frame(r, fmt.Sprintf("What is missing: %s", m.Path(x.Place)), "swatches"), form: f, Round: x, Name: m.Path(x.Place), Through: m.Through(x.Place, numbers), Ended: !x.Ended.IsZero()}
	p.Score = fmt.Sprintf("%d seen, %d missing.", len(p.Through.Found), len(p.Through.Missing))
	if !p.Ended {
		p.Score = fmt.Sprintf("%d seen, %d still to see.", len(p.Through.Found), len(p.Through.Missing))
	}
	if p.Place, err = s.store.Place(ctx, x.Place); err != nil {
		return err
	}
	for _, n := range p.Through.Strange {
		line, ok := m.Where(n)
		if !ok {
			line = "nowhere yet."
		}
		p.Strange = append(p.Strange, strangeLine{n, line})
	}
	s.show(w, f.code(), "storage_round", p)
	return nil
}

func (s *Server) seenInRound(w http.ResponseWriter, r *http.Request) error {
	return s.tickOff(w, r, readForm(r))
}

func (s *Server) scanInRound(w http.ResponseWriter, r *http.Request) error {
	f, err := s.scanned(w, r)
	if err != nil {
		return err
	}
	if !f.ok() {
		return s.showRound(w, r, f)
	}
	return s.tickOff(w, r, f)
}

func (s *Server) tickOff(w http.ResponseWriter, r *http.Request, f *form) error {
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	numbers, _, err := swatchNumbers(f.Val("numbers"))
	if err == nil && len(numbers) == 0 {
		err = studio.Problemf(studio.Invalid, "numbers", "That is the label of a place; scan a swatch.")
	}
	for i, n := range numbers {
		if err != nil {
			break
		}
		key := f.Val("client")
		if key != "" {
			key = fmt.Sprintf("%s-%d", key, i)
		}
		_, err = s.store.AddSighting(r.Context(), studio.Sighting{Client: key, Round: id, Swatch: n, By: s.who(r)})
	}
	if err != nil {
		if err := f.blame(err, "numbers"); err != nil {
			return err
		}
		return s.showRound(w, r, f)
	}
	s.Changed()
	return back(w, r, fmt.Sprintf("/rounds/%d", id))
}

func (s *Server) endRound(w http.ResponseWriter, r *http.Request) error {
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	if err := s.store.EndRound(r.Context(), id); err != nil {
		return err
	}
	s.Changed()
	return back(w, r, fmt.Sprintf("/rounds/%d", id))
}

// loansDue are the loans to be back within three days, and those overdue.
func (s *Server) loansDue(ctx context.Context) ([]find.Loan, error) {
	m, _, _, err := s.storageMap(ctx)
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(m.Loans(s.now()), func(l find.Loan) bool { return !l.Dated || l.Days < -3 }), nil
}
