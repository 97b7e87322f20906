package web

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	exact "github.com/shopspring/decimal"

	"aerugo/internal/flow/batch"
	"aerugo/internal/flow/cost"
	"aerugo/internal/flow/run"
	"aerugo/internal/print"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

func (s *Server) costRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /costs", s.costs)
	s.on(mux, "POST /costs", s.saveCosts)
	s.on(mux, "GET /sets/{id}/cost", s.setCost)
	s.on(mux, "POST /sets/{id}/quote", s.addQuote)
	s.on(mux, "GET /quotes/{id}", s.quote)
	s.on(mux, "GET /quotes/{id}/quote.pdf", s.quotePDF)
	s.on(mux, "GET /quotes/{id}/quote.csv", s.quoteCSV)
}

// costsPage asks what the studio reckons with, and leads to prices and quotes.
type costsPage struct {
	Frame
	*form
	Rates  []rateField
	Sets   []studio.Set
	Quotes []quoteRow
	Saved  bool
}

type rateField struct{ Name, Label, Hint string }

// rateFields are the rates after the currency, in the order asked.
var rateFields = []rateField{
	{"hour", "An hour of work", ""},
	{"chamberhour", "An hour of a chamber", "what its place and air cost; 0 if nothing"},
	{"sealm2", "Sealing a square metre", "wax or lacquer that has no price on the shelf"},
	{"overhead", "Overhead, %", "rent, light, tools: on top of all that is counted"},
	{"margin", "Margin, % of the price", "what is left of the price when all is paid"},
	{"loss", "Cut away, % of a sheet", "a metal may have its own"},
}

type quoteRow struct {
	studio.Quote
	Total string
}

func (s *Server) fillCosts(r *http.Request, f *form) (costsPage, error) {
	p := costsPage{Frame: s.frame(r, "Costs and quotes", "shelf"), form: f, Rates: rateFields}
	rates, set, err := s.store.Rates(r.Context())
	if err != nil {
		return p, err
	}
	p.Saved = set
	if set {
		for name, v := range map[string]string{"currency": string(rates.Currency), "hour": rates.Hour.String(), "chamberhour": rates.ChamberHour.String(), "sealm2": rates.SealM2.String(), "overhead": rates.Overhead.String(), "margin": rates.Margin.String(), "loss": rates.Loss.String()} {
			if !f.values.Has(name) {
				f.set(name, v)
			}
		}
	}
	if p.Sets, err = s.store.Sets(r.Context()); err != nil {
		return p, err
	}
	slices.Reverse(p.Sets)
	quotes, err := s.store.Quotes(r.Context())
	if err != nil {
		return p, err
	}
	for _, q := range quotes {
		p.Quotes = append(p.Quotes, quoteRow{q, q.Currency.Write(cost.TotalsOf(q).Total)})
	}
	return p, nil
}

func (s *Server) costs(w http.ResponseWriter, r *http.Request) error {
	p, err := s.fillCosts(r, readForm(r))
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "costs", p)
	return nil
}

func (s *Server) saveCosts(w http.ResponseWriter, r *http.Request) error {
	f := readForm(r)
	rates := studio.Rates{Hour: f.money("hour", "price of an hour"), ChamberHour: f.money("chamberhour", "price of a chamber's hour"), SealM2: f.money("sealm2", "price of sealing"),
		Overhead: f.money("overhead", "overhead"), Margin: f.money("margin", "margin"), Loss: f.money("loss", "cutting loss")}
	fields := []string{"currency", "hour", "chamberhour", "sealm2", "overhead", "margin", "loss"}
	var err error
	rates.Currency, err = studio.ReadCurrency(f.Val("currency"))
	if err := f.blame(err, fields...); err != nil {
		return err
	}
	if f.ok() {
		if err := f.blame(s.store.SaveRates(r.Context(), rates), fields...); err != nil {
			return err
		}
	}
	if !f.ok() {
		f.onTop(fields...)
		p, err := s.fillCosts(r, f)
		if err != nil {
			return err
		}
		s.show(w, http.StatusUnprocessableEntity, "costs", p)
		return nil
	}
	s.live.changed()
	return backSaying(w, r, "/costs", "These rates are kept.")
}

// costPage is what a set or batch costs and could sell for.
type costPage struct {
	Frame
	*form
	Set       studio.Set
	Name      string // of the piece, or of the set
	Priced    bool
	Price     cost.Price
	Rows      []costRow
	Sums      []costSum
	Missing   []string
	Uncertain string
	Printed   string
	Lines     []int // rows of the quote's form
	Today     string
	Client    string
	Why       string // why nothing can be reckoned
}

type costRow struct {
	What, How, Amount, From, Why string
	Range                        string // of the amount; empty when it is sure
	Guess, Open                  bool
}

type costSum struct{ Label, Text, Hint string }

// quoteRows is how many lines the quote's form has.
const quoteRows = 4

// askOf gathers what the price of a set rests on.
func (s *Server) askOf(ctx context.Context, set studio.Set, f *form) (cost.Ask, studio.Piece, error) {
	var piece studio.Piece
	x, err := s.shelfStock(ctx)
	if err != nil {
		return cost.Ask{}, piece, err
	}
	a := cost.Ask{Rates: x.rates, Packs: x.packs, People: int(f.whole("people", "number of people", 0))}
	if set.PieceID != 0 {
		if piece, err = s.store.Piece(ctx, set.PieceID); err != nil {
			return a, piece, err
		}
	}
	swatches, err := s.store.SwatchesOf(ctx, set.ID)
	if err != nil {
		return a, piece, err
	}
	area, bySwatch := 0.0, map[int64]studio.Swatch{}
	for _, w := range swatches {
		bySwatch[w.Number] = w
		if !w.Blank {
			a.Pieces++
		}
		if piece.Form.SheetMM2 > 0 {
			area += piece.Form.SheetMM2 * 1e-6
		} else {
			area += w.AreaM2()
		}
	}
	if set.MetalID != 0 {
		m, err := s.store.Metal(ctx, set.MetalID)
		if err != nil {
			return a, piece, err
		}
		prices, err := s.store.MetalPrices(ctx)
		if err != nil {
			return a, piece, err
		}
		a.Metal = &cost.MetalNeed{Name: m.Name, Alloy: m.Alloy, ThicknessMM: m.ThicknessMM, AreaM2: area}
		if price, ok := prices[m.ID]; ok {
			a.Metal.Price = &price
		}
	}
	if a.Metal != nil && len(swatches) > 0 {
		if err := s.sheetsOf(ctx, x, set, a.Metal, len(swatches)); err != nil {
			return a, piece, err
		}
	}
	ts, err := s.store.Treatments(ctx, store.TreatmentFilter{Set: set.ID})
	if err != nil {
		return a, piece, err
	}
	versions := map[int64]bool{}
	priced := func(step studio.Step) bool {
		_, ok := x.packs[step.SupplyID]
		return ok && step.SupplyID != 0 && !step.Amount.IsZero()
	}
	var taking []studio.Treatment
	for _, t := range ts {
		if t.VersionID != 0 {
			versions[t.VersionID] = true
		}
		w := bySwatch[t.Swatch]
		c := t
		c.Steps = nil
		for _, step := range t.Steps {
			if step.Kind == studio.Seal && !priced(step) {
				faces := t.Faces
				if step.Faces != "" && t.Faces == studio.OnBoth {
					faces = step.Faces
				}
				a.SealM2 += w.FacesM2(faces)
				continue
			}
			c.Steps = append(c.Steps, step)
		}
		taking = append(taking, c)
	}
	for _, n := range x.shelf.Needs(taking, bySwatch) {
		if _, ok := x.packs[n.Supply]; !ok && n.Material == "water" {
			continue // from the tap
		}
		n.Name = capital(n.Name)
		a.Needs = append(a.Needs, n)
	}
	a.Fillings = x.shelf.Fillings(ts)

	finished, same := map[int64][]run.Entry{}, []run.Entry{}
	batches := map[int64]bool{}
	for _, e := range x.entries {
		// other recipes too: hands that were busy with them were not busy with this one
		finished[e.Treatment.VersionID] = append(finished[e.Treatment.VersionID], e)
		if versions[e.Treatment.VersionID] {
			same = append(same, e)
			batches[e.Treatment.SetID] = true
		}
	}
	kin := map[int64][]int64{}
	for v := range versions {
		own, err := s.store.Version(ctx, v)
		if err != nil {
			return a, piece, err
		}
		others, err := s.store.Versions(ctx, own.RecipeID)
		if err != nil {
			return a, piece, err
		}
		for _, o := range others {
			if o.ID != v {
				kin[v] = append(kin[v], o.ID)
			}
		}
	}
	a.Hands = cost.HandsOf(ts, a.Pieces, finished, kin)
	var verdicts []studio.Verdict
	for id := range batches {
		some, err := s.store.Verdicts(ctx, id)
		if err != nil {
			return a, piece, err
		}
		verdicts = append(verdicts, some...)
	}
	good, made := cost.CountYield(same, studio.StandingVerdicts(verdicts))
	from := cost.Recorded
	if f.Val("made") != "" {
		good, made, from = int(f.whole("good", "number of good ones", 0)), int(f.whole("made", "number made", 0)), cost.Entered
	}
	a.Yield, err = cost.YieldOf(good, made, from)
	return a, piece, err
}

// sheetsOf moves what was cut, or will be cut, from priced sheets of the shelf out of
// the area that is priced as metal is sold.
func (s *Server) sheetsOf(ctx context.Context, x shelfStock, set studio.Set, m *cost.MetalNeed, pieces int) error {
	covered := 0
	u := cost.SheetCost(x.sheets[set.MetalID], set.ID)
	if n := min(u.Priced, pieces); n > 0 {
		covered = n
		m.Sheets = append(m.Sheets, cost.SheetPart{Pieces: n, Amount: u.Amount, From: cost.Recorded})
	}
	b, _, err := s.stillToCut(ctx, x, set)
	if err != nil {
		return err
	}
	if b.Pieces = min(b.Pieces, pieces-max(covered, u.Pieces)); b.Pieces > 0 {
		a, err := s.waitingPlans(ctx, x)
		if err != nil {
			return err
		}
		prices := map[int64]exact.Decimal{}
		for _, st := range cost.StacksOf(x.sheets[set.MetalID]) {
			if st.Price != nil {
				prices[st.ID()] = *st.Price
			}
		}
		left, _ := x.sheetsLeft(set.MetalID, a.before(set.ID))
		cut, err := batch.CutFrom(b, left)
		if err != nil {
			return err
		}
		part := cost.SheetPart{From: cost.Reckoned}
		for _, t := range cut.Takings {
			price, ok := prices[t.Sheet.ID]
			if !ok {
				continue // nobody knows what that sheet cost
			}
			part.Pieces += t.Pieces()
			part.Amount = part.Amount.Add(cost.CutUp(price, t.Count, t.Sheet.WMM, t.Sheet.HMM, t.RestW, t.RestH))
		}
		if part.Pieces > 0 {
			covered += part.Pieces
			m.Sheets = append(m.Sheets, part)
		}
	}
	m.AreaM2 *= float64(pieces-covered) / float64(pieces)
	return nil
}

func (s *Server) fillCost(r *http.Request, set studio.Set, f *form) (costPage, error) {
	p := costPage{Frame: s.frame(r, "What it costs: "+set.Name, "plan"), form: f, Set: set, Name: set.Name, Today: s.now().Local().Format("2006-01-02"), Client: random(12)}
	for i := range quoteRows {
		p.Lines = append(p.Lines, i)
	}
	a, piece, err := s.askOf(r.Context(), set, f)
	if piece.Name != "" {
		p.Name = piece.Name
	}
	if err := f.blame(err, "good", "made", "people"); err != nil {
		return p, err
	}
	p.Priced = a.Rates.Currency != ""
	if !p.Priced {
		p.Why = "Choose your currency and rates first."
		return p, nil
	}
	if !f.ok() {
		return p, nil
	}
	price, err := cost.Reckon(a)
	if err != nil {
		return p, f.blame(err, "people")
	}
	p.Price, p.Missing = price, price.Missing
	c := price.Currency
	for i, l := range price.Lines {
		row := costRow{What: l.What, How: l.How, Amount: c.Number(price.PrintedLines[i]), From: string(l.From), Why: l.Why, Guess: l.From == cost.Assumed, Open: l.Open}
		if !l.Low.Equal(l.High) {
			row.Range = fmt.Sprintf("from %s to %s", c.Number(l.Low), c.Number(l.High))
		}
		p.Rows = append(p.Rows, row)
	}
	p.Printed = c.Number(price.PrintedSale)
	p.Uncertain = strings.Join(price.UncertainFrom, " and ")
	each := fmt.Sprintf("cost %s", c.Write(price.EachCost))
	if !price.EachLow.Equal(price.EachHigh) {
		each = fmt.Sprintf("from %s to %s; cost %s", c.Number(price.EachLow), c.Number(price.EachHigh), c.Write(price.EachCost))
	}
	p.Sums = []costSum{
		{fmt.Sprintf("All %d", price.Pieces), c.Write(price.PrintedSale), fmt.Sprintf("cost %s", c.Write(price.Cost))},
		{"Each piece", c.Write(price.EachSale), each},
	}
	if price.People > 0 {
		p.Sums = append(p.Sums, costSum{fmt.Sprintf("Each of %d people", price.People), c.Write(price.PerPerson), "a share of the cost, without margin"})
	}
	for name, v := range map[string]string{"text0": p.Name, "quantity0": strconv.Itoa(price.Pieces), "each0": c.Round(price.EachSale).StringFixed(c.Digits()), "day": p.Today, "valid": "30",
		"care": "Dust with a soft dry cloth. No polish, no cleaner, no water left standing. The colour goes on changing slowly."} {
		if !f.values.Has(name) {
			f.set(name, v)
		}
	}
	return p, nil
}

func (s *Server) setCost(w http.ResponseWriter, r *http.Request) error {
	set, err := s.setIn(r)
	if err != nil {
		return err
	}
	f := readForm(r)
	p, err := s.fillCost(r, set, f)
	if err != nil {
		return err
	}
	code := http.StatusOK
	if !f.ok() {
		f.onTop("good", "made", "people")
		code = http.StatusUnprocessableEntity
	}
	s.show(w, code, "cost", p)
	return nil
}

// addQuote is POST /sets/{id}/quote.
func (s *Server) addQuote(w http.ResponseWriter, r *http.Request) error {
	set, err := s.setIn(r)
	if err != nil {
		return err
	}
	f := readForm(r)
	rates, priced, err := s.store.Rates(r.Context())
	if err != nil {
		return err
	}
	if !priced {
		return studio.Problemf(studio.Conflict, "currency", "Choose your currency first, under Costs and quotes.")
	}
	q := studio.Quote{Client: f.Val("client"), SetID: set.ID, By: s.who(r), Currency: rates.Currency, Day: f.date("day"), ValidDays: int(f.whole("valid", "number of days", 30)),
		Customer: strings.ReplaceAll(f.Val("customer"), "\r\n", "\n"), Tax: f.money("tax", "tax"), Care: strings.ReplaceAll(f.Val("care"), "\r\n", "\n"), Note: strings.ReplaceAll(f.Val("words"), "\r\n", "\n")}
	for i := range quoteRows {
		n := strconv.Itoa(i)
		if f.Val("text"+n) == "" {
			continue
		}
		q.Lines = append(q.Lines, studio.QuoteLine{Text: f.Val("text" + n), Quantity: f.money("quantity"+n, "quantity"), Each: f.money("each"+n, "price of one")})
	}
	fields := []string{"customer", "day", "valid", "tax", "care", "words", "text0"}
	for i := range quoteRows {
		fields = append(fields, "quantity"+strconv.Itoa(i), "each"+strconv.Itoa(i))
	}
	if f.ok() {
		// How the price came about goes with it, from what is known now.
		if a, _, err := s.askOf(r.Context(), set, &form{values: map[string][]string{}, wrong: map[string]string{}}); err == nil {
			if price, err := cost.Reckon(a); err == nil {
				for i, l := range price.Lines {
					q.Basis = append(q.Basis, fmt.Sprintf("%s: %s (%s; %s)", l.What, rates.Currency.Write(price.PrintedLines[i]), l.How, l.From))
				}
			}
		}
		q, err = s.store.AddQuote(r.Context(), q)
		if err := f.blame(err, fields...); err != nil {
			return err
		}
	}
	if !f.ok() {
		wrong := f.wrong
		f.wrong = map[string]string{}
		p, err := s.fillCost(r, set, f)
		if err != nil {
			return err
		}
		for name, text := range wrong {
			f.say(name, "%s", text)
		}
		f.onTop(fields...)
		s.show(w, http.StatusUnprocessableEntity, "cost", p)
		return nil
	}
	s.live.changed()
	return backSaying(w, r, fmt.Sprintf("/quotes/%d", q.ID), fmt.Sprintf("Quote %d is kept.", q.Number))
}

// quotePage shows one quote as it was kept.
type quotePage struct {
	Frame
	Q        studio.Quote
	Print    print.Quote
	Customer []string
	SetName  string
}

func (s *Server) quoteIn(r *http.Request) (studio.Quote, error) {
	id, err := idIn(r, "id")
	if err != nil {
		return studio.Quote{}, err
	}
	return s.store.Quote(r.Context(), id)
}

// onPaper writes a quote's sums once for page, PDF and table.
func (s *Server) onPaper(ctx context.Context, q studio.Quote) (print.Quote, studio.Set, error) {
	t := cost.TotalsOf(q)
	p := print.Quote{Studio: s.studioName(), Number: q.Number, Day: q.Day, Until: q.Until(), Customer: q.Customer, Currency: string(q.Currency),
		Net: q.Currency.Number(t.Net), TaxRate: q.Tax.String(), Tax: q.Currency.Number(t.Tax), Total: q.Currency.Number(t.Total), Care: q.Care, Note: q.Note}
	for i, l := range q.Lines {
		p.Lines = append(p.Lines, print.QuoteLine{Text: l.Text, Quantity: l.Quantity.String(), Each: eachText(q.Currency, l.Each), Amount: q.Currency.Number(t.Lines[i])})
	}
	var set studio.Set
	if q.SetID != 0 {
		var err error
		if set, err = s.store.Set(ctx, q.SetID); err != nil {
			return p, set, err
		}
		p.Invented = set.Invented
	}
	return p, set, nil
}

// eachText writes a price as it was typed, with the currency's digits at least.
func eachText(c studio.Currency, d exact.Decimal) string {
	if c.Round(d).Equal(d) {
		return c.Number(d)
	}
	return d.String()
}

func (s *Server) quote(w http.ResponseWriter, r *http.Request) error {
	q, err := s.quoteIn(r)
	if err != nil {
		return err
	}
	onPaper, set, err := s.onPaper(r.Context(), q)
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "cost_quote", quotePage{Frame: s.frame(r, fmt.Sprintf("Quote %d", q.Number), "shelf"), Q: q, Print: onPaper, Customer: strings.Split(q.Customer, "\n"), SetName: set.Name})
	return nil
}

func (s *Server) quotePDF(w http.ResponseWriter, r *http.Request) error {
	q, err := s.quoteIn(r)
	if err != nil {
		return err
	}
	p, _, err := s.onPaper(r.Context(), q)
	if err != nil {
		return err
	}
	p.Paper = paper(r)
	return s.sendPDF(w, fmt.Sprintf("quote-%d.pdf", q.Number), func(w io.Writer) error { return print.QuoteSheet(w, p) })
}

// quoteCSV is the quote as a table, its numbers plain for other programs.
func (s *Server) quoteCSV(w http.ResponseWriter, r *http.Request) error {
	q, err := s.quoteIn(r)
	if err != nil {
		return err
	}
	t, digits := cost.TotalsOf(q), q.Currency.Digits()
	date := func(at time.Time) string { return at.Format("2006-01-02") }
	rows := [][]string{{"quote", "day", "until", "customer", "currency", "line", "quantity", "each", "sum"}}
	head := []string{strconv.FormatInt(q.Number, 10), date(q.Day), date(q.Until()), q.Customer, string(q.Currency)}
	for i, l := range q.Lines {
		rows = append(rows, append(slices.Clone(head), l.Text, l.Quantity.String(), l.Each.String(), t.Lines[i].StringFixed(digits)))
	}
	for _, x := range []struct{ what, sum string }{{"net", t.Net.StringFixed(digits)}, {"tax " + q.Tax.String() + " %", t.Tax.StringFixed(digits)}, {"total", t.Total.StringFixed(digits)}} {
		rows = append(rows, append(slices.Clone(head), x.what, "", "", x.sum))
	}
	return sendCSV(w, fmt.Sprintf("quote-%d.csv", q.Number), rows)
}
