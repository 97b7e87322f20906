package web

import (
	"context"
	"encoding/csv"
	"fmt"
	"html/template"
	"io"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	exact "github.com/shopspring/decimal"

	"aerugo/internal/flow/cost"
	"aerugo/internal/flow/run"
	"aerugo/internal/print"
	"aerugo/internal/science/matter"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

func (s *Server) stockRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /shelf/supplies/{id}/stock", s.stockPageOf)
	s.on(mux, "POST /shelf/supplies/{id}/stock", s.addStock)
	s.on(mux, "POST /shelf/supplies/{id}/price", s.pricePack)
	s.on(mux, "GET /shelf/supplies/{id}/bottle.pdf", s.bottlePDF)
	s.on(mux, "GET /shelf/metals/{id}/price", s.metalPrice)
	s.on(mux, "POST /shelf/metals/{id}/price", s.priceMetal)
	s.on(mux, "GET /shopping", s.shopping)
	s.on(mux, "GET /shopping.pdf", s.shoppingPDF)
	s.on(mux, "GET /shopping.csv", s.shoppingCSV)
}

// money reads a field as an exact number from 0.
func (f *form) money(name, what string) exact.Decimal {
	d, err := studio.ReadDecimal(name, what, f.Val(name))
	if p := studio.ProblemIn(err); p != nil {
		f.say(name, "%s", p.Text)
	}
	return d
}

// shelfStock is the shelf with what is there and what it costs.
type shelfStock struct {
	shelf    cost.Shelf
	entries  []run.Entry
	uses     map[int64][]cost.Use
	moves    map[int64][]studio.StockMove
	packs    map[int64]studio.PackPrice
	rates    studio.Rates
	priced   bool // a currency was chosen
	swatches map[int64]studio.Swatch
	sheets   map[int64][]studio.SheetMove // by metal
	metals   []studio.Metal
}

func (s *Server) shelfStock(ctx context.Context) (shelfStock, error) {
	x := shelfStock{uses: map[int64][]cost.Use{}, swatches: map[int64]studio.Swatch{}}
	var err error
	if x.rates, x.priced, err = s.store.Rates(ctx); err != nil {
		return x, err
	}
	if x.shelf.Supplies, err = s.store.Supplies(ctx); err != nil {
		return x, err
	}
	if x.shelf.Chambers, err = s.store.Chambers(ctx); err != nil {
		return x, err
	}
	if x.packs, err = s.store.PackPrices(ctx); err != nil {
		return x, err
	}
	if x.moves, err = s.store.StockMoves(ctx); err != nil {
		return x, err
	}
	if x.sheets, err = s.store.SheetMoves(ctx); err != nil {
		return x, err
	}
	if x.metals, err = s.store.Metals(ctx); err != nil {
		return x, err
	}
	swatches, err := s.store.Swatches(ctx)
	if err != nil {
		return x, err
	}
	for _, w := range swatches {
		x.swatches[w.Number] = w
	}
	folds, err := s.treatments(ctx, store.TreatmentFilter{})
	if err != nil {
		return x, err
	}
	for _, f := range folds {
		if w, ok := x.swatches[f.Treatment.Swatch]; ok {
			x.entries = append(x.entries, run.Entry{Treatment: f.Treatment, Swatch: w, Record: f.Record})
		}
	}
	var logs []studio.ChamberLog
	for _, c := range x.shelf.Chambers {
		log, err := s.store.ChamberLog(ctx, c.ID)
		if err != nil {
			return x, err
		}
		logs = append(logs, log...)
	}
	for _, u := range x.shelf.BenchUses(x.entries, logs) {
		x.uses[u.Supply] = append(x.uses[u.Supply], u)
	}
	return x, nil
}

// unitOf is the unit a supply is counted in.
func (x shelfStock) unitOf(sup studio.Supply) studio.Unit {
	if p, ok := x.packs[sup.ID]; ok {
		return p.Unit
	}
	for _, m := range x.moves[sup.ID] {
		if m.Unit != "" {
			return m.Unit
		}
	}
	if _, liquid := cost.DensityOf(sup); liquid {
		return studio.Millilitre
	}
	return studio.Gram
}

func (x shelfStock) stockOf(sup studio.Supply) cost.Stock {
	density, _ := cost.DensityOf(sup)
	return cost.StockOf(x.moves[sup.ID], x.uses[sup.ID], density)
}

// amountText writes what is there in a supply's own unit.
func (x shelfStock) amountText(sup studio.Supply, g float64) string {
	density, _ := cost.DensityOf(sup)
	unit := x.unitOf(sup)
	v := g
	if unit == studio.Millilitre {
		v /= density
	}
	return stockNumber(v) + " " + string(unit)
}

// stockNumber writes an amount as a kitchen scale would.
func stockNumber(v float64) string {
	switch a := math.Abs(v); {
	case a >= 100:
		return number(v, 0)
	case a >= 10:
		return number(v, 1)
	}
	return number(v, 2)
}

// stockColumns are what the shelf says of one supply besides its label.
type stockColumns struct {
	There, Low, Price, Age string
	Counted                bool
}

func (x shelfStock) columns(sup studio.Supply, now time.Time) stockColumns {
	var c stockColumns
	st := x.stockOf(sup)
	c.There, c.Counted = "not counted", st.Known
	density, _ := cost.DensityOf(sup)
	pack, priced := x.packs[sup.ID]
	if st.Known {
		c.There = x.amountText(sup, st.G)
		if priced && st.In(pack.Unit, density) < pack.Keep {
			c.Low = "below " + stockNumber(pack.Keep) + " " + string(pack.Unit)
		}
	}
	if priced && x.priced {
		c.Price = fmt.Sprintf("%s for %s %s", x.rates.Currency.Write(pack.Price), stockNumber(pack.Size), pack.Unit)
	}
	c.Age = strings.Join(ageOf(sup, now), "; ")
	return c
}

// ageOf says what time has done to a supply.
func ageOf(sup studio.Supply, now time.Time) []string {
	var out []string
	if !sup.Expires.IsZero() && sup.Expires.Before(now.AddDate(0, 0, -1)) {
		out = append(out, "past its day")
	}
	if sup.Opened.IsZero() || sup.Opened.After(now) {
		return out
	}
	days := now.Sub(sup.Opened).Hours() / 24
	out = append(out, fmt.Sprintf("open %.0f days", math.Floor(days)))
	if sup.Material == "ammonia-water" && sup.WtPercent() > 0 {
		if likely, low, high, err := cost.Aged(sup.WtPercent()/100, days); err == nil && likely < 0.995*sup.WtPercent()/100 {
			out = append(out, fmt.Sprintf("perhaps %s %% now, %s to %s (assumed)", number(likely*100, 1), number(low*100, 1), number(high*100, 1)))
		}
	}
	return out
}

// stockPage shows what is there of one supply, what happened to it, how it is sold,
// and its labels.
type stockPage struct {
	Frame
	*form
	S          studio.Supply
	Unit       studio.Unit
	Stock      cost.Stock
	There      string
	Used       string
	Lots       []lotRow
	Promised   []promisedRow
	Free       string // what no plan takes
	Moves      []moveRow
	Age        []string
	AgeGuess   bool
	Pack       *studio.PackPrice
	PriceText  string
	KeepText   string
	Currency   studio.Currency
	Apart      []string
	Storage    string
	Kinds      []studio.MoveKind
	Discard    string
	Today      string
	Client     string
	PriceWrong string
}

type lotRow struct {
	Name, There string
	Until       time.Time
	Past        bool
}

// promisedRow is a plan that takes of a supply, and how much.
type promisedRow struct {
	Set          int64
	Name, Amount string
}

type moveRow struct {
	studio.StockMove
	Text string
	Gone bool
}

func (s *Server) stockPageOf(w http.ResponseWriter, r *http.Request) error {
	x, err := s.supplyIn(r)
	if err != nil {
		return err
	}
	p, err := s.fillStock(r, x, readForm(r))
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "stock", p)
	return nil
}

func (s *Server) fillStock(r *http.Request, sup studio.Supply, f *form) (stockPage, error) {
	p := stockPage{Frame: s.frame(r, "Stock: "+sup.Name, "shelf"), form: f, S: sup, Kinds: studio.MoveKinds, Today: s.now().Local().Format("2006-01-02"), Client: random(12)}
	x, err := s.shelfStock(r.Context())
	if err != nil {
		return p, err
	}
	p.Unit, p.Stock, p.Age = x.unitOf(sup), x.stockOf(sup), ageOf(sup, s.now())
	p.There, p.Used = x.amountText(sup, p.Stock.G), x.amountText(sup, p.Stock.Bench)
	p.AgeGuess = sup.Material == "ammonia-water" && len(p.Age) > 1
	usable, _, old := cost.Usable(sup, p.Stock, s.now())
	for _, l := range p.Stock.Lots {
		if len(p.Stock.Lots) > 1 || l.Name != "" || !l.Expires.IsZero() {
			name := l.Name
			if name == "" {
				name = "no lot named"
			}
			past := slices.ContainsFunc(old, func(o cost.Lot) bool { return o.Name == l.Name })
			p.Lots = append(p.Lots, lotRow{name, x.amountText(sup, l.G), l.Expires, past})
		}
	}
	waiting, err := s.waitingPlans(r.Context(), x)
	if err != nil {
		return p, err
	}
	promised := 0.0
	for _, c := range waiting.claims {
		for _, n := range c.Needs {
			if n.Supply == sup.ID && n.G > 0 {
				promised += n.G
				p.Promised = append(p.Promised, promisedRow{c.Set, c.Name, x.amountText(sup, n.G)})
			}
		}
	}
	p.Free = x.amountText(sup, max(0, usable-promised))
	gone := map[int64]bool{}
	for _, m := range x.moves[sup.ID] {
		if m.Kind == studio.Uncounted {
			gone[m.Corrects] = true
		}
	}
	for _, m := range x.moves[sup.ID] {
		if m.Kind == studio.Uncounted {
			continue
		}
		p.Moves = append(p.Moves, moveRow{m, fmt.Sprintf("%s %s", stockNumber(m.Amount), m.Unit), gone[m.ID]})
	}
	slices.Reverse(p.Moves)
	if pack, ok := x.packs[sup.ID]; ok {
		p.Pack = &pack
		p.PriceText = fmt.Sprintf("%s for %s %s", x.rates.Currency.Write(pack.Price), stockNumber(pack.Size), pack.Unit)
		p.KeepText = fmt.Sprintf("%s %s", stockNumber(pack.Keep), pack.Unit)
		for name, v := range map[string]string{"size": strconv.FormatFloat(pack.Size, 'f', -1, 64), "price": pack.Price.String(), "keep": strconv.FormatFloat(pack.Keep, 'f', -1, 64), "grade": pack.Grade, "packunit": string(pack.Unit)} {
			if !f.values.Has(name) {
				f.set(name, v)
			}
		}
	}
	p.Currency = x.rates.Currency
	p.Apart, p.Storage = apartWords(sup, x.shelf.Supplies), storageWords(sup)
	return p, nil
}

// apartWords names what on this shelf a supply must be kept away from.
func apartWords(sup studio.Supply, others []studio.Supply) []string {
	var out []string
	add := func(text string) {
		if text = strings.TrimSpace(strings.TrimSuffix(text, ".")); text != "" && text != "-" && !slices.Contains(out, text) {
			out = append(out, text)
		}
	}
	own := matter.Use{Key: sup.Material, WtPercent: sup.WtPercent(), Step: 1}
	for _, o := range others {
		if o.ID == sup.ID {
			continue
		}
		for _, c := range matter.MeetOnShelf([]matter.Use{own, {Key: o.Material, WtPercent: o.WtPercent(), Step: 2}}) {
			if c.B != "" {
				add(o.Name)
			}
		}
	}
	return out
}

// storageWords says how a supply is kept.
func storageWords(sup studio.Supply) string {
	if sub, ok := matter.Lookup(sup.Material); ok && sub.Storage != "-" {
		return sub.Storage
	}
	return ""
}

// dayAt is the time of something that happened on a day: now where it is today.
func (s *Server) dayAt(day time.Time) time.Time {
	now := s.now()
	if day.IsZero() || day.Format("2006-01-02") == now.Local().Format("2006-01-02") {
		return now.UTC()
	}
	return day.Add(12 * time.Hour).UTC()
}

// addStock is POST /shelf/supplies/{id}/stock.
func (s *Server) addStock(w http.ResponseWriter, r *http.Request) error {
	sup, err := s.supplyIn(r)
	if err != nil {
		return err
	}
	f := readForm(r)
	m := studio.StockMove{Supply: sup.ID, Client: f.Val("client"), Kind: studio.MoveKind(f.Val("kind")), Unit: studio.Unit(f.Val("unit")), Lot: f.Val("lot"), By: s.who(r), Note: f.Val("note"),
		At: s.dayAt(f.date("day")), Expires: f.date("expires"), Corrects: f.whole("corrects", "record", 0), Amount: f.number("amount", "amount", "g or mL", 0)}
	if f.ok() {
		_, err := s.store.AddStockMove(r.Context(), m)
		if err := f.blame(err, "amount", "day", "lot", "note", "expires"); err != nil {
			return err
		}
	}
	if !f.ok() {
		f.onTop("amount", "day", "lot", "note", "expires")
		return s.stockRefused(w, r, sup, f)
	}
	s.live.changed()
	return backSaying(w, r, fmt.Sprintf("/shelf/supplies/%d/stock", sup.ID), "That is kept.")
}

func (s *Server) stockRefused(w http.ResponseWriter, r *http.Request, sup studio.Supply, f *form) error {
	p, err := s.fillStock(r, sup, f)
	if err != nil {
		return err
	}
	s.show(w, http.StatusUnprocessableEntity, "stock", p)
	return nil
}

// pricePack is POST /shelf/supplies/{id}/price.
func (s *Server) pricePack(w http.ResponseWriter, r *http.Request) error {
	sup, err := s.supplyIn(r)
	if err != nil {
		return err
	}
	f := readForm(r)
	p := studio.PackPrice{Supply: sup.ID, Size: f.number("size", "size of a pack", "g or mL", 0), Unit: studio.Unit(f.Val("packunit")), Price: f.money("price", "price of a pack"), Grade: f.Val("grade"), Keep: f.number("keep", "amount to keep", "g or mL", 0), By: s.who(r)}
	if _, priced, err := s.store.Rates(r.Context()); err != nil {
		return err
	} else if !priced {
		f.say("price", "Choose your currency first, under Costs and quotes.")
	}
	if f.ok() {
		_, err := s.store.AddPackPrice(r.Context(), p)
		if err := f.blame(err, "size", "price", "grade", "keep"); err != nil {
			return err
		}
	}
	if !f.ok() {
		f.onTop("size", "price", "grade", "keep")
		return s.stockRefused(w, r, sup, f)
	}
	s.live.changed()
	return backSaying(w, r, fmt.Sprintf("/shelf/supplies/%d/stock", sup.ID), "The price is kept.")
}

// bottlePDF is the label of a bottle that this was poured into or let down for.
func (s *Server) bottlePDF(w http.ResponseWriter, r *http.Request) error {
	sup, err := s.supplyIn(r)
	if err != nil {
		return err
	}
	others, err := s.store.Supplies(r.Context())
	if err != nil {
		return err
	}
	f := readForm(r)
	b := print.Bottle{Name: f.Val("bottle"), Key: sup.Material, By: f.Val("by"), Mixed: f.date("mixed"), Discard: f.date("discard"), Apart: apartWords(sup, others), Note: strings.TrimSpace(storageWords(sup) + " " + f.Val("words")), Invented: sup.Invented}
	if b.Name == "" {
		b.Name = sup.Name
	}
	b.WtPercent, b.Strength = sup.WtPercent(), strengthText(sup)
	if f.Val("strong") != "" {
		b.WtPercent = f.number("strong", "strength", "% by mass", 0)
		b.Strength = number(b.WtPercent, 2) + " % by mass"
		if b.WtPercent <= 0 || b.WtPercent > 100 {
			f.say("strong", "A strength of %s %% can't be right; write a number above 0 and up to 100.", f.Val("strong"))
		}
	}
	copies := int(f.whole("copies", "number of labels", 1))
	if copies < 1 || copies > 60 {
		f.say("copies", "%d labels can't be printed; choose 1 to 60.", copies)
	}
	sheet := print.BottleSheet{Paper: paper(r), Start: int(f.whole("start", "first label", 1)), Studio: s.studioName(), Date: s.now()}
	for field, text := range f.wrong {
		return studio.Problemf(studio.Invalid, field, "%s", text)
	}
	return s.sendPDF(w, fmt.Sprintf("bottle-%d.pdf", sup.ID), func(w io.Writer) error {
		return print.BottleLabels(w, slices.Repeat([]print.Bottle{b}, copies), sheet)
	})
}

// metalPricePage asks how a metal is sold.
type metalPricePage struct {
	Frame
	*form
	M        studio.Metal
	Last     string
	Loss     string
	Currency studio.Currency
}

func (s *Server) metalIn(r *http.Request) (studio.Metal, error) {
	id, err := idIn(r, "id")
	if err != nil {
		return studio.Metal{}, err
	}
	return s.store.Metal(r.Context(), id)
}

func (s *Server) metalPrice(w http.ResponseWriter, r *http.Request) error {
	m, err := s.metalIn(r)
	if err != nil {
		return err
	}
	return s.showMetalPrice(w, r, m, readForm(r), http.StatusOK)
}

func (s *Server) showMetalPrice(w http.ResponseWriter, r *http.Request, m studio.Metal, f *form, code int) error {
	rates, _, err := s.store.Rates(r.Context())
	if err != nil {
		return err
	}
	prices, err := s.store.MetalPrices(r.Context())
	if err != nil {
		return err
	}
	p := metalPricePage{Frame: s.frame(r, "Price of "+m.Name, "shelf"), form: f, M: m, Currency: rates.Currency, Loss: rates.Loss.String()}
	if kept, ok := prices[m.ID]; ok {
		p.Last = metalPriceText(rates.Currency, kept)
		values := map[string]string{"price": kept.Price.String(), "per": string(kept.Per), "sheetwidth": "", "sheetheight": "", "loss": ""}
		if kept.WidthMM > 0 {
			values["sheetwidth"], values["sheetheight"] = number(kept.WidthMM, 1), number(kept.HeightMM, 1)
		}
		if kept.Loss != nil {
			values["loss"] = kept.Loss.String()
		}
		for name, v := range values {
			if !f.values.Has(name) {
				f.set(name, v)
			}
		}
	}
	s.show(w, code, "stock_metal", p)
	return nil
}

// metalPriceText writes how a metal is sold.
func metalPriceText(c studio.Currency, p studio.MetalPrice) string {
	if p.Per == studio.ByKilogram {
		return c.Write(p.Price) + " a kg"
	}
	return fmt.Sprintf("%s for a sheet of %s × %s mm", c.Write(p.Price), number(p.WidthMM, 0), number(p.HeightMM, 0))
}

func (s *Server) priceMetal(w http.ResponseWriter, r *http.Request) error {
	m, err := s.metalIn(r)
	if err != nil {
		return err
	}
	f := readForm(r)
	p := studio.MetalPrice{Metal: m.ID, Per: studio.SheetUnit(f.Val("per")), Price: f.money("price", "price"), WidthMM: f.number("sheetwidth", "width of a sheet", "mm", 0), HeightMM: f.number("sheetheight", "length of a sheet", "mm", 0), By: s.who(r)}
	if f.Val("loss") != "" {
		loss := f.money("loss", "cutting loss")
		p.Loss = &loss
	}
	if _, priced, err := s.store.Rates(r.Context()); err != nil {
		return err
	} else if !priced {
		f.say("price", "Choose your currency first, under Costs and quotes.")
	}
	fields := []string{"price", "sheetwidth", "sheetheight", "loss"}
	if f.ok() {
		_, err := s.store.AddMetalPrice(r.Context(), p)
		if err := f.blame(err, fields...); err != nil {
			return err
		}
	}
	if !f.ok() {
		f.onTop(fields...)
		return s.showMetalPrice(w, r, m, f, http.StatusUnprocessableEntity)
	}
	s.live.changed()
	return backSaying(w, r, "/shelf", "The price of "+m.Name+" is kept.")
}

// shoppingPage lists what to buy for chosen sets and batches.
type shoppingPage struct {
	Frame
	Sets     []setChoice
	Rows     []print.ShoppingRow
	Total    string
	Open     string
	Query    url.Values
	Priced   bool
	Anything bool
	For      string // a plan that is not made yet, and what it takes
	Extra    []extraField
}

// extraField is one thing that a plan that is not made yet takes, as it is sent.
type extraField struct{ Name, Value string }

// Again asks for the same list in another form. It is a template.URL so that "set=1" is
// not taken for the name of a field and escaped.
func (p shoppingPage) Again() template.URL {
	return template.URL(p.Query.Encode()) // encoded just now, by numbers of our own
}

type setChoice struct {
	ID      int64
	Name    string
	Ticked  bool
	Waiting int // treatments not ended
}

// shoppingList works out what to buy: what the chosen sets still need, and what
// is below its minimum.
func (s *Server) shoppingList(r *http.Request) (shoppingPage, []cost.Buy, error) {
	ctx := r.Context()
	p := shoppingPage{Frame: s.frame(r, "Shopping list", "shelf"), Query: url.Values{}}
	x, err := s.shelfStock(ctx)
	if err != nil {
		return p, nil, err
	}
	p.Priced = x.priced
	sets, err := s.store.Sets(ctx)
	if err != nil {
		return p, nil, err
	}
	waiting := map[int64][]studio.Treatment{}
	for _, t := range cost.Ahead(x.entries) {
		waiting[t.SetID] = append(waiting[t.SetID], t)
	}
	var chosen []studio.Treatment
	var ticked []studio.Set
	for _, set := range sets {
		c := setChoice{ID: set.ID, Name: set.Name, Waiting: len(waiting[set.ID])}
		if c.Waiting == 0 {
			continue
		}
		c.Ticked = slices.Contains(r.Form["set"], strconv.FormatInt(set.ID, 10))
		if c.Ticked {
			// nothing is bought for what may not be made
			if _, _, err := s.mayPrint(ctx, set); err != nil {
				return p, nil, err
			}
			p.Query.Add("set", strconv.FormatInt(set.ID, 10))
			chosen = append(chosen, waiting[set.ID]...)
			ticked = append(ticked, set)
		}
		p.Sets = append(p.Sets, c)
	}
	extra, cuts, err := unmadePlan(r.Form)
	if err != nil {
		return p, nil, err
	}
	if len(extra) > 0 || len(cuts) > 0 {
		if p.For = r.FormValue("for"); len([]rune(p.For)) > 120 {
			p.For = string([]rune(p.For)[:120])
		}
		for _, name := range []string{"for", "need", "cut"} {
			for _, v := range r.Form[name] {
				p.Query.Add(name, v)
				p.Extra = append(p.Extra, extraField{name, v})
			}
		}
	}
	needs := cost.Together(append(x.shelf.Needs(chosen, x.swatches), x.known(extra)...))
	var wants []cost.Want
	for _, sup := range x.shelf.Supplies {
		w := cost.Want{Name: sup.Name, Stock: x.usableStock(sup, s.now()), Grade: strengthGrade(sup)}
		w.Need.GPerML, _ = cost.DensityOf(sup)
		for _, n := range needs {
			if n.Supply == sup.ID {
				w.Need = n
			}
		}
		if pack, ok := x.packs[sup.ID]; ok {
			w.Pack = &pack
			w.Grade = strings.Trim(pack.Grade+", "+w.Grade, ", ")
		}
		if w.Need.G > 0 || w.Pack != nil {
			wants = append(wants, w)
		}
	}
	for _, n := range needs {
		if n.Supply == 0 {
			n.Doubts = append([]string{"none of it is on the shelf"}, n.Doubts...)
			wants = append(wants, cost.Want{Name: capital(n.Name), Need: n, Stock: cost.Stock{Known: true}})
		}
	}
	list, total := cost.Shop(wants)
	var open []string
	for _, b := range list {
		row := print.ShoppingRow{Name: b.Name, Grade: b.Grade, Why: fmt.Sprintf("needed %s %s, to keep %s %s, there %s %s", stockNumber(b.Need), b.Unit, stockNumber(b.Keep), b.Unit, stockNumber(b.Have), b.Unit)}
		if len(b.Why) > 0 {
			row.Why += "; " + strings.Join(b.Why, "; ")
		}
		row.Packs = fmt.Sprintf("%s %s", stockNumber(b.Short), b.Unit)
		if b.Packs > 0 {
			row.Packs = fmt.Sprintf("%d packs of %s %s", b.Packs, stockNumber(b.Size), b.Unit)
			if b.Packs == 1 {
				row.Packs = fmt.Sprintf("1 pack of %s %s", stockNumber(b.Size), b.Unit)
			}
			row.Each, row.Cost = x.rates.Currency.Write(b.Each), x.rates.Currency.Write(b.Cost)
		} else {
			open = append(open, b.Name)
		}
		p.Rows = append(p.Rows, row)
	}
	prices, err := s.store.MetalPrices(ctx)
	if err != nil {
		return p, nil, err
	}
	rows, sum, missing, err := s.sheetsToBuy(ctx, x, prices, ticked, cuts)
	if err != nil {
		return p, nil, err
	}
	p.Rows, total, open = append(p.Rows, rows...), total.Add(sum), append(open, missing...)
	p.Total = x.rates.Currency.Write(total)
	if len(open) > 0 {
		p.Open = "Without a price here: " + strings.Join(open, ", ") + "."
	}
	p.Anything = len(p.Rows) > 0
	return p, list, nil
}

// strengthGrade is the strength to ask for in the shop.
func strengthGrade(sup studio.Supply) string {
	if text := strengthText(sup); text != "pure" && text != "not known" {
		return text
	}
	return ""
}

func (s *Server) shopping(w http.ResponseWriter, r *http.Request) error {
	readForm(r)
	p, _, err := s.shoppingList(r)
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "stock_shopping", p)
	return nil
}

func (p shoppingPage) forWords() string {
	var names []string
	for _, c := range p.Sets {
		if c.Ticked {
			names = append(names, c.Name)
		}
	}
	if p.For != "" {
		names = append(names, p.For)
	}
	if len(names) == 0 {
		return "What is below its minimum"
	}
	return "For " + strings.Join(names, "; ") + ", and what is below its minimum"
}

func (s *Server) shoppingPDF(w http.ResponseWriter, r *http.Request) error {
	readForm(r)
	p, _, err := s.shoppingList(r)
	if err != nil {
		return err
	}
	list := print.Shopping{Paper: paper(r), Studio: s.studioName(), Date: s.now(), For: p.forWords(), Rows: p.Rows, Total: p.Total, Open: p.Open}
	return s.sendPDF(w, "shopping.pdf", func(w io.Writer) error { return print.ShoppingList(w, list) })
}

func (s *Server) shoppingCSV(w http.ResponseWriter, r *http.Request) error {
	readForm(r)
	p, _, err := s.shoppingList(r)
	if err != nil {
		return err
	}
	rows := [][]string{{"what", "grade", "buy", "why", "each", "sum"}}
	for _, x := range p.Rows {
		rows = append(rows, []string{x.Name, x.Grade, x.Packs, x.Why, x.Each, x.Cost})
	}
	return sendCSV(w, "shopping.csv", append(rows, []string{"together", "", "", p.Open, "", p.Total}))
}

// sendCSV sends a table (RFC 4180) whose cells no spreadsheet takes for a formula.
func sendCSV(w http.ResponseWriter, name string, rows [][]string) error {
	w.Header().Set("Content-Type", "text/csv; charset=utf-8")
	w.Header().Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", name))
	out := csv.NewWriter(w)
	out.UseCRLF = true
	for _, row := range rows {
		cells := slices.Clone(row)
		for i, c := range cells {
			if c != "" && strings.ContainsRune("=+-@\t\r", rune(c[0])) {
				cells[i] = "'" + c
			}
		}
		_ = out.Write(cells) // the reader may have gone; nothing is lost
	}
	out.Flush()
	return nil
}
