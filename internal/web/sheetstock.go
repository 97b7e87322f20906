package web

import (
	"context"
	"fmt"
	"html/template"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"aerugo/internal/flow/batch"
	"aerugo/internal/flow/cost"
	"aerugo/internal/print"
	"aerugo/internal/studio"
)

func (s *Server) sheetStockRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /shelf/metals/{id}/sheets", s.sheetStock)
	s.on(mux, "POST /shelf/metals/{id}/sheets", s.addSheets)
	s.on(mux, "GET /sets/{id}/cutting", s.setCutting)
	s.on(mux, "POST /sets/{id}/cutting", s.cutSet)
	s.on(mux, "GET /sets/{id}/cutting.pdf", s.setCuttingPDF)
}

// sheetsPage shows the sheets of one metal, what happened to them and what plans take.
type sheetsPage struct {
	Frame
	*form
	M        studio.Metal
	Known    bool
	Stacks   []stackRow
	Promised []promisedRow
	Moves    []sheetMoveRow
	Worth    string
	States   []studio.SheetState
	Currency studio.Currency
	Today    string
	Client   string
	Kinds    []studio.SheetKind
}

// stackRow is sheets alike.
type stackRow struct {
	ID                     int64
	What, Size, Price, Lot string
	State                  studio.SheetState
	Count                  int
	Since                  string
	Doubt                  string
}

type sheetMoveRow struct {
	studio.SheetMove
	Of   string // the size
	Gone bool
	Name string // of the set it was cut for
}

// sizeText writes the size of a sheet.
func sizeText(w, h float64) string { return fmt.Sprintf("%s × %s mm", number(w, 1), number(h, 1)) }

// stackKind says what a stack is.
func stackKind(s cost.Stack) string {
	if s.Offcut() {
		return "offcut"
	}
	return "sheet"
}

// sheetsText says how many sheets and offcuts of a metal are there.
func (x shelfStock) sheetsText(metal int64) string {
	if _, known := cost.Counted(x.sheets[metal]); !known {
		return "not counted"
	}
	sheets, offcuts := 0, 0
	for _, s := range x.sheetsThere(metal) {
		if s.Offcut {
			offcuts += s.Count
		} else {
			sheets += s.Count
		}
	}
	parts := slices.DeleteFunc([]string{batch.SheetsText(sheets), batch.OffcutsText(offcuts)}, func(t string) bool { return t == "" })
	if len(parts) == 0 {
		return "none left"
	}
	return strings.Join(parts, ", ")
}

func (s *Server) sheetStock(w http.ResponseWriter, r *http.Request) error {
	m, err := s.metalIn(r)
	if err != nil {
		return err
	}
	p, err := s.fillSheets(r, m, readForm(r))
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "stock_sheets", p)
	return nil
}

func (s *Server) fillSheets(r *http.Request, m studio.Metal, f *form) (sheetsPage, error) {
	ctx := r.Context()
	p := sheetsPage{Frame: s.frame(r, "Sheets of "+m.Name, "shelf"), form: f, M: m, States: studio.SheetStates, Today: s.now().Local().Format("2006-01-02"), Client: random(12),
		Kinds: []studio.SheetKind{studio.SheetBought, studio.SheetFound, studio.SheetOffcut}}
	x, a, err := s.shelfAndPlans(ctx)
	if err != nil {
		return p, err
	}
	p.Currency = x.rates.Currency
	moves := x.sheets[m.ID]
	_, p.Known = cost.Counted(moves)
	worth, priced := cost.Quantity(0), false
	stacks := cost.StacksOf(moves)
	lives := map[int64]bool{}
	for _, st := range stacks {
		lives[st.ID()] = true
		for _, h := range st.Happened {
			lives[h.ID] = true
		}
		if st.Count == 0 && st.Doubt == "" {
			continue
		}
		row := stackRow{ID: st.ID(), What: stackKind(st), Size: sizeText(st.Put.WidthMM, st.Put.HeightMM), Count: st.Count, State: st.Put.State, Since: st.Put.At.Local().Format("2 Jan 2006"), Doubt: st.Doubt}
		row.Lot = strings.Trim(st.Put.Lot+", "+st.Put.Supplier, ", ")
		if st.Price != nil {
			row.Price = p.Currency.Write(*st.Price)
			worth, priced = worth.Add(st.Price.Mul(cost.Quantity(float64(st.Count)))), true
		}
		p.Stacks = append(p.Stacks, row)
	}
	if priced {
		p.Worth = p.Currency.Write(worth)
	}
	for _, c := range a.cuts {
		if c.metal == m.ID {
			p.Promised = append(p.Promised, promisedRow{c.set, c.name, fmt.Sprintf("%d pieces", c.blank.Pieces)})
		}
	}
	sets, err := s.store.Sets(ctx)
	if err != nil {
		return p, err
	}
	puts := map[int64]studio.SheetMove{}
	for _, mv := range moves {
		puts[mv.ID] = mv
	}
	for _, mv := range slices.Backward(moves) {
		if mv.Kind == studio.SheetUndone {
			continue
		}
		row := sheetMoveRow{SheetMove: mv, Gone: !lives[mv.ID]}
		of := mv
		if !mv.Kind.Puts() {
			of = puts[mv.Stack]
		}
		row.Of = sizeText(of.WidthMM, of.HeightMM)
		for _, set := range sets {
			if set.ID == mv.SetID && mv.SetID != 0 {
				row.Name = set.Name
			}
		}
		p.Moves = append(p.Moves, row)
	}
	prices, err := s.store.MetalPrices(ctx)
	if err != nil {
		return p, err
	}
	if price, ok := prices[m.ID]; ok && price.WidthMM > 0 && !f.values.Has("sheetwidth") {
		f.set("sheetwidth", number(price.WidthMM, 1))
		f.set("sheetheight", number(price.HeightMM, 1))
		if price.Per == studio.BySheet && !f.values.Has("price") {
			f.set("price", price.Price.String())
		}
	}
	return p, nil
}

// sheetFields are the fields of the page of sheets that a problem can stand beside.
var sheetFields = []string{"count", "sheetwidth", "sheetheight", "price", "lot", "supplier", "day", "note"}

// addSheets is POST /shelf/metals/{id}/sheets.
func (s *Server) addSheets(w http.ResponseWriter, r *http.Request) error {
	m, err := s.metalIn(r)
	if err != nil {
		return err
	}
	f := readForm(r)
	mv := studio.SheetMove{Metal: m.ID, Client: f.Val("client"), Kind: studio.SheetKind(f.Val("kind")), Stack: f.whole("stack", "stack", 0), Of: f.whole("of", "record", 0),
		Count: int(f.whole("count", "number of sheets", 0)), WidthMM: f.number("sheetwidth", "width", "mm", 0), HeightMM: f.number("sheetheight", "length", "mm", 0),
		Lot: f.Val("lot"), Supplier: f.Val("supplier"), State: studio.SheetState(f.Val("state")), At: s.dayAt(f.date("day")), By: s.who(r), Note: f.Val("note")}
	if mv.Of < 0 || mv.Kind == studio.SheetCut {
		return studio.Problemf(studio.Invalid, "kind", "What is cut is recorded with the set or batch it is cut for.")
	}
	if f.Val("price") != "" && mv.Kind.Puts() {
		price := f.money("price", "price of a sheet")
		mv.Price = &price
		if _, priced, err := s.store.Rates(r.Context()); err != nil {
			return err
		} else if !priced {
			f.say("price", "Choose your currency first, under Costs and quotes.")
		}
	}
	if f.ok() {
		_, err := s.store.AddSheetMoves(r.Context(), []studio.SheetMove{mv})
		if err := f.blame(err, sheetFields...); err != nil {
			return err
		}
	}
	if !f.ok() {
		f.onTop(sheetFields...)
		p, err := s.fillSheets(r, m, f)
		if err != nil {
			return err
		}
		s.show(w, http.StatusUnprocessableEntity, "stock_sheets", p)
		return nil
	}
	s.live.changed()
	return backSaying(w, r, fmt.Sprintf("/shelf/metals/%d/sheets", m.ID), "That is kept.")
}

// cuttingPage shows which sheets on the shelf a set or batch is cut from.
type cuttingPage struct {
	Frame
	*form
	Set      studio.Set
	M        studio.Metal
	Known    bool
	Pieces   int
	Done     int // cut already
	Words    string
	After    string // the plans that come first
	Takes    []takeView
	Left     []string
	Missing  int
	Shelf    shelfAnswer
	Client   string
	Today    string
	Cost     string
	MayNot   string
	Unpriced bool
}

// Kept are the fields that the way it is laid out rests on.
func (p cuttingPage) Kept() []string { return append(slices.Clone(cutFields), "across") }

// Again asks for the same list in another form.
func (p cuttingPage) Again() template.URL {
	q := url.Values{"laid": {"yes"}}
	for _, name := range p.Kept() {
		if v := p.Val(name); v != "" {
			q.Set(name, v)
		}
	}
	return template.URL(q.Encode())
}

// takeView is one taking of the shelf's sheets.
type takeView struct {
	N            int
	Stack        int64
	What, Where  string
	Count, Each  int
	Drawing      template.HTML
	RestW, RestH string
}

// cutPlan is a cutting list from the shelf.
type cutPlan struct {
	metal  studio.Metal
	blank  batch.Blank
	cut    batch.StockCut
	stacks map[int64]cost.Stack
	total  int
	by     []string
}

// planCut lays a set's pieces on what the shelf has left after the plans made before.
func (s *Server) planCut(ctx context.Context, set studio.Set, f *form) (c cutPlan, x shelfStock, a ahead, err error) {
	if set.MetalID == 0 {
		return c, x, a, studio.Problemf(studio.Conflict, "", "%s has no metal, so nothing can be cut for it.", set.Name)
	}
	if c.metal, err = s.store.Metal(ctx, set.MetalID); err != nil {
		return c, x, a, err
	}
	if x, a, err = s.shelfAndPlans(ctx); err != nil {
		return c, x, a, err
	}
	if c.blank, c.total, err = s.stillToCut(ctx, x, set); err != nil {
		return c, x, a, err
	}
	for name, v := range map[string]*float64{"width": &c.blank.WidthMM, "height": &c.blank.HeightMM, "disc": &c.blank.DiscMM, "kerf": &c.blank.KerfMM, "edge": &c.blank.EdgeMM} {
		if f.values.Has(name) {
			*v = f.number(name, name, "mm", 0)
		} else if *v > 0 || name != "disc" {
			f.set(name, number(*v, 1))
		}
	}
	if f.Val("laid") != "" {
		c.blank.Turn = f.Val("across") != ""
	} else if c.blank.Turn {
		f.set("across", "yes")
	}
	var left []batch.Sheet
	left, c.by = x.sheetsLeft(set.MetalID, a.before(set.ID))
	c.stacks = map[int64]cost.Stack{}
	for _, st := range cost.StacksOf(x.sheets[set.MetalID]) {
		c.stacks[st.ID()] = st
	}
	if c.blank.Pieces == 0 || !f.ok() {
		return c, x, a, nil
	}
	c.cut, err = batch.CutFrom(c.blank, left)
	return c, x, a, err
}

// where says where the sheets of a stack come from.
func (c cutPlan) where(id int64) string {
	st, ok := c.stacks[id]
	if !ok {
		return ""
	}
	var parts []string
	if st.Put.Lot != "" {
		parts = append(parts, "lot "+st.Put.Lot)
	}
	if st.Put.Supplier != "" {
		parts = append(parts, st.Put.Supplier)
	}
	if st.Put.State != "" {
		parts = append(parts, string(st.Put.State))
	}
	return strings.Join(parts, ", ")
}

// cutFields are the fields of the cutting page that a problem can stand beside.
var cutFields = []string{"width", "height", "disc", "kerf", "edge"}

func (s *Server) fillCutting(r *http.Request, set studio.Set, f *form) (cuttingPage, error) {
	ctx := r.Context()
	p := cuttingPage{Frame: s.frame(r, "Cut from the shelf: "+set.Name, "plan"), form: f, Set: set, Client: random(12), Today: s.now().Local().Format("2006-01-02")}
	c, x, a, err := s.planCut(ctx, set, f)
	if err := f.blame(err, cutFields...); err != nil {
		return p, err
	}
	p.M, p.Pieces, p.Words, p.Missing = c.metal, c.blank.Pieces, c.cut.Words, c.cut.Missing
	p.Done = max(0, c.total-c.blank.Pieces)
	_, p.Known = cost.Counted(x.sheets[set.MetalID])
	if len(c.by) > 0 {
		p.After = afterText(c.by)
	}
	for i, t := range c.cut.Takings {
		v := takeView{N: i, Stack: t.Sheet.ID, What: fmt.Sprintf("%d × sheet of %s", t.Count, sizeText(t.Sheet.WMM, t.Sheet.HMM)), Where: c.where(t.Sheet.ID), Count: t.Count, Each: len(t.Spots)}
		if t.Sheet.Offcut {
			v.What = fmt.Sprintf("%d × offcut of %s", t.Count, sizeText(t.Sheet.WMM, t.Sheet.HMM))
		}
		if t.RestW > 0 {
			v.RestW, v.RestH = number(t.RestW, 0), number(t.RestH, 0)
		}
		if name := fmt.Sprintf("restw%d", i); f.values.Has(name) { // what was typed and refused
			v.RestW, v.RestH = f.Val(name), f.Val(fmt.Sprintf("resth%d", i))
		}
		b := c.blank
		b.SheetWMM, b.SheetHMM = t.Sheet.WMM, t.Sheet.HMM
		v.Drawing = drawSheet(b, t.Spots, fmt.Sprintf("%s: %d pieces", v.What, v.Each))
		p.Takes = append(p.Takes, v)
	}
	for _, l := range c.cut.Left {
		kind := "sheet"
		if l.Offcut {
			kind = "offcut"
		}
		p.Left = append(p.Left, fmt.Sprintf("%d × %s of %s", l.Count, kind, sizeText(l.WMM, l.HMM)))
	}
	if u := cost.SheetCost(x.sheets[set.MetalID], set.ID); u.Sheets > 0 && x.priced {
		p.Cost, p.Unpriced = x.rates.Currency.Write(u.Amount), u.Unpriced > 0
	}
	if c.cut.Missing > 0 && f.ok() {
		if p.Shelf, err = s.atShelf(x, a, shelfPlan{set: set.ID, name: set.Name, metal: set.MetalID, blank: c.blank}); err != nil {
			return p, err
		}
		p.Shelf.Notes = nil
	}
	if _, _, problem, err := s.setSafety(ctx, set); err != nil {
		return p, err
	} else if problem != nil {
		p.MayNot = problem.Text
	}
	return p, nil
}

// drawSheet draws how pieces lie on a sheet.
func drawSheet(b batch.Blank, spots []batch.Spot, what string) template.HTML {
	var d strings.Builder
	what = template.HTMLEscapeString(what)
	fmt.Fprintf(&d, `<svg viewBox="0 0 %.0f %.0f" role="img" aria-label="%s"><title>%s</title><rect x="0" y="0" width="%.0f" height="%.0f" fill="none" stroke="#000" stroke-width="%.1f"/>`,
		b.SheetWMM, b.SheetHMM, what, what, b.SheetWMM, b.SheetHMM, b.SheetWMM/200)
	for _, s := range spots {
		if b.DiscMM > 0 {
			fmt.Fprintf(&d, `<circle cx="%.1f" cy="%.1f" r="%.1f" fill="#000" fill-opacity=".12" stroke="#000" stroke-width="%.1f"/>`, s.X+s.W/2, s.Y+s.H/2, s.W/2, b.SheetWMM/400)
			continue
		}
		fmt.Fprintf(&d, `<rect x="%.1f" y="%.1f" width="%.1f" height="%.1f" fill="#000" fill-opacity=".12" stroke="#000" stroke-width="%.1f"/>`, s.X, s.Y, s.W, s.H, b.SheetWMM/400)
	}
	d.WriteString(`</svg>`)
	return template.HTML(d.String())
}

func (s *Server) setCutting(w http.ResponseWriter, r *http.Request) error {
	set, err := s.setIn(r)
	if err != nil {
		return err
	}
	f := readForm(r)
	p, err := s.fillCutting(r, set, f)
	if err != nil {
		return err
	}
	f.onTop(cutFields...)
	s.show(w, f.code(), "stock_cutting", p)
	return nil
}

// cutSet is POST /sets/{id}/cutting: it is cut as the page said. What is left of each
// sheet is as the person writes it; the takings are worked out again, so that sheets
// that went elsewhere meanwhile are not taken twice.
func (s *Server) cutSet(w http.ResponseWriter, r *http.Request) error {
	set, err := s.setIn(r)
	if err != nil {
		return err
	}
	if _, _, err := s.mayPrint(r.Context(), set); err != nil {
		return err
	}
	f := readForm(r)
	c, _, _, err := s.planCut(r.Context(), set, f)
	if err := f.blame(err, cutFields...); err != nil {
		return err
	}
	var moves []studio.SheetMove
	at := s.dayAt(f.date("day"))
	for i, t := range c.cut.Takings {
		n := strconv.Itoa(i)
		if f.Val("stack"+n) != strconv.FormatInt(t.Sheet.ID, 10) || f.Val("count"+n) != strconv.Itoa(t.Count) {
			f.say("", "The sheets on the shelf have changed since this page was made. Look at the list again, then record it.")
			break
		}
		moves = append(moves, studio.SheetMove{Metal: set.MetalID, Client: f.Val("client") + "-" + n, Kind: studio.SheetCut, Stack: t.Sheet.ID, Count: t.Count, SetID: set.ID, Pieces: t.Pieces(), At: at, By: s.who(r)})
		restW, restH := f.number("restw"+n, "width", "mm", 0), f.number("resth"+n, "length", "mm", 0)
		if restW == 0 && restH == 0 {
			continue
		}
		if used := float64(len(t.Spots)) * pieceM2(c.blank) * 1e6; restW*restH > t.Sheet.WMM*t.Sheet.HMM-used+1e-6 {
			f.say("", "What is left, %s, is more than the sheet of %s has besides its %d pieces.", sizeText(restW, restH), sizeText(t.Sheet.WMM, t.Sheet.HMM), len(t.Spots))
		}
		put := c.stacks[t.Sheet.ID].Put
		moves = append(moves, studio.SheetMove{Metal: set.MetalID, Client: f.Val("client") + "-" + n + "o", Kind: studio.SheetOffcut, Of: -1, Count: t.Count, WidthMM: restW, HeightMM: restH, Lot: put.Lot, Supplier: put.Supplier, State: put.State, At: at, By: s.who(r)})
	}
	if f.ok() && len(moves) == 0 {
		f.say("", "There is nothing to cut from the shelf for %s.", set.Name)
	}
	if f.ok() {
		_, err := s.store.AddSheetMoves(r.Context(), moves)
		if err := f.blame(err); err != nil {
			return err
		}
	}
	if !f.ok() {
		wrong := f.wrong
		f.wrong = map[string]string{}
		p, err := s.fillCutting(r, set, f)
		if err != nil {
			return err
		}
		for name, text := range wrong {
			f.say(name, "%s", text)
		}
		f.onTop(cutFields...)
		s.show(w, http.StatusUnprocessableEntity, "stock_cutting", p)
		return nil
	}
	s.live.changed()
	return backSaying(w, r, fmt.Sprintf("/sets/%d/cutting", set.ID), fmt.Sprintf("%d pieces are cut; what is left is on the shelf.", c.cut.Pieces))
}

// setCuttingPDF is the cutting list from the shelf on paper.
func (s *Server) setCuttingPDF(w http.ResponseWriter, r *http.Request) error {
	set, err := s.setIn(r)
	if err != nil {
		return err
	}
	if _, _, err := s.mayPrint(r.Context(), set); err != nil {
		return err
	}
	f := readForm(r)
	c, _, _, err := s.planCut(r.Context(), set, f)
	if err != nil {
		return err
	}
	for field, text := range f.wrong {
		return studio.Problemf(studio.Invalid, field, "%s", text)
	}
	list := print.CuttingList{Paper: paper(r), Date: s.now(), Studio: s.studioName(), Name: set.Name, Metal: c.metal.Name, Blank: c.blank, Stock: c.cut, Invented: set.Invented}
	for _, t := range c.cut.Takings {
		list.Places = append(list.Places, c.where(t.Sheet.ID))
	}
	return s.sendPDF(w, fmt.Sprintf("cutting-set-%d.pdf", set.ID), func(w io.Writer) error { return print.Cutting(w, list) })
}
