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

	lesson "aerugo/internal/flow/class"
	"aerugo/internal/flow/classkit"
	"aerugo/internal/flow/cost"
	"aerugo/internal/flow/evidence"
	"aerugo/internal/print"
	"aerugo/internal/studio"
)

func (s *Server) classPaperRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /classes/{id}/kit", s.classKit)
	s.on(mux, "POST /classes/{id}/kit", s.saveClassKit)
	s.on(mux, "GET /classes/{id}/kit.pdf", s.classKitPDF)
	s.on(mux, "GET /classes/{id}/shopping.pdf", s.classShoppingPDF)
	s.on(mux, "GET /classes/{id}/risk", s.classRisk)
	s.on(mux, "POST /classes/{id}/risk", s.saveClassRisk)
	s.on(mux, "GET /classes/{id}/risk.pdf", s.classRiskPDF)
	s.on(mux, "GET /classes/{id}/handout", s.classHandout)
	s.on(mux, "GET /classes/{id}/handout.pdf", s.classHandoutPDF)
	s.on(mux, "GET /classes/{id}/teacher", s.classTeacher)
	s.on(mux, "GET /classes/{id}/teacher.pdf", s.classTeacherPDF)
}

// The size of a class's swatch in mm where its own set says no other: common practice,
// no source.
const classSwatchW, classSwatchH = 50, 75

// classPapers gathers what the papers of a class rest on, and its plan where it has one.
func (s *Server) classPapers(r *http.Request) (classkit.Ask, *lesson.Plan, error) {
	ctx := r.Context()
	c, err := s.classIn(r)
	if err != nil {
		return classkit.Ask{}, nil, err
	}
	from, err := s.classAsk(ctx, c)
	if err != nil {
		return classkit.Ask{}, nil, err
	}
	a := classkit.Ask{Class: from.Class, Supplies: from.Supplies, Sheets: map[int64]studio.DataSheet{}, WidthMM: classSwatchW, HeightMM: classSwatchH}
	for i, x := range from.Recipes {
		a.Lessons = append(a.Lessons, classkit.Lesson{Name: x.Name, Version: x.Version, Below: x.Below, Metal: x.Metal, PerHead: c.Recipes[i].PerHead, Shown: c.Recipes[i].Shown})
	}
	if c.RoomID != 0 {
		room, err := s.store.Room(ctx, c.RoomID)
		if err != nil {
			return a, nil, err
		}
		a.Room = &room
	}
	if c.SetID != 0 {
		swatches, err := s.store.SwatchesOf(ctx, c.SetID)
		if err != nil {
			return a, nil, err
		}
		if len(swatches) > 0 && swatches[0].WidthMM > 0 {
			a.WidthMM, a.HeightMM = swatches[0].WidthMM, swatches[0].HeightMM
		}
	}
	for _, sup := range a.Supplies {
		sheets, err := s.store.Sheets(ctx, sup.ID)
		if err != nil {
			return a, nil, err
		}
		if len(sheets) > 0 {
			a.Sheets[sup.ID] = sheets[0]
		}
	}
	if classkit.Stop(a) != nil {
		return a, nil, nil
	}
	p, err := lesson.Make(from)
	if studio.ProblemIn(err) != nil {
		return a, nil, nil // its papers can be drawn up without its hours
	}
	if err != nil {
		return a, nil, err
	}
	for _, x := range p.Ahead {
		a.Ahead += x.Count
	}
	return a, &p, nil
}

// classHead is what stands at the head of a class's papers.
func (s *Server) classHead(r *http.Request, a classkit.Ask) print.ClassPaper {
	c := a.Class
	ends := c.Starts.Add(time.Duration(c.Minutes) * time.Minute)
	p := print.ClassPaper{Paper: paper(r), Date: s.now(), Studio: s.studioName(), Title: c.Name, Invented: c.Invented, Large: r.FormValue("large") != "",
		Under: []string{fmt.Sprintf("%s to %s", c.Starts.Format("2 January 2006, 15:04"), ends.Format("15:04"))}}
	if c.Teacher != "" {
		p.Under = append(p.Under, fmt.Sprintf("Teacher: %s", c.Teacher))
	}
	p.Under = append(p.Under, fmt.Sprintf("%d students, %s.", c.Heads, c.Who.Words()))
	return p
}

// printed turns the sections of a sheet into those that are printed.
func printed(all []classkit.Section) []print.ClassSection {
	var out []print.ClassSection
	for _, x := range all {
		y := print.ClassSection{Head: x.Head, Lines: x.Lines, Ticks: x.Ticks, Write: x.Write}
		y.Fields = printedFields(x.Fields)
		out = append(out, y)
	}
	return out
}

func printedFields(all []classkit.Field) []print.ClassField {
	var out []print.ClassField
	for _, f := range all {
		text := f.Text
		if f.From != "" && text != "" {
			text = fmt.Sprintf("%s [%s]", text, f.From)
		}
		out = append(out, print.ClassField{Word: f.Word, Text: text})
	}
	return out
}

// classKitPage is the kit: what to bring, what to buy, what it costs.
type classKitPage struct {
	Frame
	*form
	Class   studio.Class
	Groups  []kitGroup
	Priced  bool
	Sum     string
	Each    string
	Loss    string
	Missing string
	Buy     []print.ShoppingRow
	Total   string
	Open    string
	Print   sheetLinks
	Shop    sheetLinks
}

type kitGroup struct {
	Name string
	Rows []kitRow
}

// A kitRow is a line with the number its fields carry.
type kitRow struct {
	classkit.Line
	N      int
	Bought string // what is on the shelf of it
	Count  string
	Spare  string
	Cost   string
}

func (s *Server) classKit(w http.ResponseWriter, r *http.Request) error {
	return s.showClassKit(w, r, readForm(r), http.StatusOK)
}

func (s *Server) showClassKit(w http.ResponseWriter, r *http.Request, f *form, code int) error {
	a, _, err := s.classPapers(r)
	if err != nil {
		return err
	}
	lines, err := classkit.KitOf(a)
	if err != nil {
		return err
	}
	p := classKitPage{Frame: s.frame(r, fmt.Sprintf("Kit: %s", a.Class.Name), "classes"), form: f, Class: a.Class,
		Print: linksTo(fmt.Sprintf("/classes/%d/kit.pdf", a.Class.ID), nil), Shop: linksTo(fmt.Sprintf("/classes/%d/shopping.pdf", a.Class.ID), nil)}
	x, err := s.shelfStock(r.Context())
	if err != nil {
		return err
	}
	metals, err := s.store.MetalPrices(r.Context())
	if err != nil {
		return err
	}
	costs := map[string]string{}
	if p.Priced = x.priced; p.Priced {
		sum, err := classkit.CostOf(a, lines, x.rates, x.packs, metals)
		if err != nil {
			return err
		}
		p.Sum, p.Each, p.Loss = x.rates.Currency.Write(sum.Class), x.rates.Currency.Write(sum.Each), x.rates.Currency.Write(sum.Breakage)
		if len(sum.Missing) > 0 {
			p.Missing = fmt.Sprintf("Without a price here, and so not counted: %s.", strings.Join(sum.Missing, "; "))
		}
		for _, row := range sum.Rows {
			if !row.Open {
				costs[row.What] = x.rates.Currency.Write(row.Amount)
			}
		}
	}
	there := map[int64]string{}
	for _, sup := range x.shelf.Supplies {
		if st := x.stockOf(sup); st.Known {
			there[sup.ID] = x.amountText(sup, st.G)
		}
	}
	for _, name := range classkit.Groups {
		g := kitGroup{Name: name}
		for i, l := range lines {
			if l.Group != name {
				continue
			}
			row := kitRow{Line: l, N: i, Count: strconv.FormatFloat(round2(l.Count), 'f', -1, 64), Spare: strconv.FormatFloat(l.Spare, 'f', -1, 64), Cost: costs[l.What]}
			if l.Material != "" {
				if row.Bought = there[l.Supply]; row.Bought == "" {
					row.Bought = "not counted"
				}
			}
			g.Rows = append(g.Rows, row)
		}
		if len(g.Rows) > 0 {
			p.Groups = append(p.Groups, g)
		}
	}
	p.Buy, p.Total, p.Open = s.classBuys(a, lines, x)
	s.show(w, code, "class_kit", p)
	return nil
}

// round2 keeps two digits behind the point: no scale here shows more.
func round2(v float64) float64 {
	text := strconv.FormatFloat(v, 'f', 2, 64)
	out, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return v
	}
	return out
}

// classBuys is what must be bought for a kit, less what is on the shelf.
func (s *Server) classBuys(a classkit.Ask, lines []classkit.Line, x shelfStock) (rows []print.ShoppingRow, total, open string) {
	stock := map[int64]cost.Stock{}
	for _, sup := range x.shelf.Supplies {
		stock[sup.ID] = x.stockOf(sup)
	}
	list, sum := cost.Shop(classkit.WantsOf(a, lines, stock, x.packs))
	var missing []string
	for _, b := range list {
		row := print.ShoppingRow{Name: b.Name, Grade: b.Grade, Why: fmt.Sprintf("needed %s %s, to keep %s %s, there %s %s", stockNumber(b.Need), b.Unit, stockNumber(b.Keep), b.Unit, stockNumber(b.Have), b.Unit)}
		row.Packs = fmt.Sprintf("%s %s", stockNumber(b.Short), b.Unit)
		if b.Packs > 0 && x.priced {
			row.Packs = fmt.Sprintf("%d packs of %s %s", b.Packs, stockNumber(b.Size), b.Unit)
			if b.Packs == 1 {
				row.Packs = fmt.Sprintf("1 pack of %s %s", stockNumber(b.Size), b.Unit)
			}
			row.Each, row.Cost = x.rates.Currency.Write(b.Each), x.rates.Currency.Write(b.Cost)
		} else {
			missing = append(missing, b.Name)
		}
		rows = append(rows, row)
	}
	if x.priced {
		total = x.rates.Currency.Write(sum)
	}
	if len(missing) > 0 {
		open = fmt.Sprintf("Without a price here: %s.", strings.Join(missing, ", "))
	}
	return rows, total, open
}

// saveClassKit keeps what the teacher changed, struck out and added.
func (s *Server) saveClassKit(w http.ResponseWriter, r *http.Request) error {
	f := readForm(r)
	a, _, err := s.classPapers(r)
	if err != nil {
		return err
	}
	shown, err := classkit.KitOf(a)
	if err != nil {
		return err
	}
	a.Class.Kit = nil
	reckoned, err := classkit.KitOf(a)
	if err != nil {
		return err
	}
	var kept []studio.KitLine
	for i := range 200 {
		key := strconv.Itoa(i)
		if !f.values.Has("what" + key) {
			continue
		}
		at := slices.IndexFunc(shown, func(l classkit.Line) bool {
			return l.What == f.Val("what"+key) && l.Own == (f.Val("own"+key) != "")
		})
		if at < 0 {
			continue // it belongs to a recipe that was taken out meanwhile
		}
		l := shown[at]
		// a number that was left as it stood is not rounded to what the field shows
		if text := f.Val("count" + key); text != strconv.FormatFloat(round2(l.Count), 'f', -1, 64) {
			l.Count = f.number("count"+key, "number", "", l.Count)
		}
		l.Spare = f.number("spare"+key, "spare", "", l.Spare)
		l.Left = f.Val("bring"+key) == ""
		was := slices.IndexFunc(reckoned, func(x classkit.Line) bool { return x.What == l.What && !l.Own })
		if was < 0 || reckoned[was].Count != l.Count || reckoned[was].Spare != l.Spare || l.Left {
			kept = classkit.Change(kept, l)
		}
	}
	if what := f.Val("addwhat"); what != "" {
		l := classkit.Line{What: what, Count: f.number("addcount", "number", "", 1), Unit: f.Val("addunit"), Per: int(f.whole("addper", "number of students", 0)), Spare: 1, Own: true}
		kept = classkit.Change(kept, l)
	}
	if f.ok() {
		_, err := s.store.ChangeClass(r.Context(), a.Class.ID, func(c *studio.Class) error {
			c.Kit = kept
			return nil
		})
		if err := f.blame(err); err != nil {
			return err
		}
	}
	if !f.ok() {
		var shown []string
		for name := range f.wrong {
			if strings.HasPrefix(name, "count") || strings.HasPrefix(name, "spare") {
				shown = append(shown, name)
			}
		}
		f.onTop(shown...)
		return s.showClassKit(w, r, f, http.StatusUnprocessableEntity)
	}
	s.live.changed()
	return backSaying(w, r, fmt.Sprintf("/classes/%d/kit", a.Class.ID), "This kit is kept.")
}

func (s *Server) classKitPDF(w http.ResponseWriter, r *http.Request) error {
	a, _, err := s.classPapers(r)
	if err != nil {
		return err
	}
	lines, err := classkit.KitOf(a)
	if err != nil {
		return err
	}
	k := print.Kit{ClassPaper: s.classHead(r, a)}
	for _, name := range classkit.Groups {
		x := print.ClassSection{Head: name}
		for _, l := range lines {
			if l.Group == name && !l.Left {
				x.Ticks = append(x.Ticks, l.Text())
			}
		}
		if len(x.Ticks) > 0 {
			k.Sections = append(k.Sections, x)
		}
	}
	return s.sendPDF(w, fmt.Sprintf("kit-class-%d.pdf", a.Class.ID), func(w io.Writer) error { return print.KitList(w, k) })
}

func (s *Server) classShoppingPDF(w http.ResponseWriter, r *http.Request) error {
	a, _, err := s.classPapers(r)
	if err != nil {
		return err
	}
	lines, err := classkit.KitOf(a)
	if err != nil {
		return err
	}
	x, err := s.shelfStock(r.Context())
	if err != nil {
		return err
	}
	rows, total, open := s.classBuys(a, lines, x)
	list := print.Shopping{Paper: paper(r), Studio: s.studioName(), Date: s.now(), For: fmt.Sprintf("For the class %s", a.Class.Name), Rows: rows, Total: total, Open: open}
	return s.sendPDF(w, fmt.Sprintf("shopping-class-%d.pdf", a.Class.ID), func(w io.Writer) error { return print.ShoppingList(w, list) })
}

// classRiskPage is the draft of the risk assessment, each row with its form.
type classRiskPage struct {
	Frame
	*form
	Class studio.Class
	Risk  classkit.Risk
	Draft string
	Print sheetLinks
	NewID string
}

func (s *Server) classRisk(w http.ResponseWriter, r *http.Request) error {
	return s.showClassRisk(w, r, readForm(r), http.StatusOK)
}

func (s *Server) showClassRisk(w http.ResponseWriter, r *http.Request, f *form, code int) error {
	a, _, err := s.classPapers(r)
	if err != nil {
		return err
	}
	p := classRiskPage{Frame: s.frame(r, fmt.Sprintf("Risk assessment: %s", a.Class.Name), "classes"), form: f, Class: a.Class, Draft: classkit.Draft, NewID: "own-" + random(8),
		Print: linksTo(fmt.Sprintf("/classes/%d/risk.pdf", a.Class.ID), nil)}
	if p.Risk, err = classkit.RiskOf(a); err != nil {
		return err
	}
	s.show(w, code, "class_risk", p)
	return nil
}

// saveClassRisk keeps what the responsible person wrote to one row.
func (s *Server) saveClassRisk(w http.ResponseWriter, r *http.Request) error {
	f := readForm(r)
	a, _, err := s.classPapers(r)
	if err != nil {
		return err
	}
	line := studio.RiskLine{Key: f.Val("key"), Hazard: f.Val("hazard"), WhoHow: f.Val("whohow"), Now: f.Val("now"), More: f.Val("more"), By: f.Val("by"), Till: f.Val("till"), DoneWhen: f.Val("done")}
	own := strings.HasPrefix(line.Key, "own-")
	if own && line.Hazard == "" && f.Val("take") == "" {
		f.say("hazard", "Say what the hazard is.")
	}
	if !own {
		line.Hazard = ""
		a.Class.Risks = nil
		draft, err := classkit.RiskOf(a)
		if err != nil {
			return err
		}
		rows := append(slices.Clone(draft.People), draft.Hazards...)
		at := slices.IndexFunc(rows, func(h classkit.Hazard) bool { return h.Key == line.Key })
		if at < 0 {
			return studio.Problemf(studio.NotFound, "", "That hazard is not in this draft any more; its recipe was taken out. Reload the page.")
		}
		// what is as drafted stays the draft's, and changes with it
		if line.WhoHow == rows[at].WhoHow {
			line.WhoHow = ""
		}
		if line.Now == rows[at].Now {
			line.Now = ""
		}
	}
	if f.ok() {
		_, err := s.store.ChangeClass(r.Context(), a.Class.ID, func(c *studio.Class) error {
			i := slices.IndexFunc(c.Risks, func(k studio.RiskLine) bool { return k.Key == line.Key })
			switch {
			case f.Val("take") != "":
				c.Risks = slices.DeleteFunc(c.Risks, func(k studio.RiskLine) bool { return k.Key == line.Key })
			case i >= 0:
				c.Risks[i] = line
			default:
				c.Risks = append(c.Risks, line)
			}
			return nil
		})
		if err := f.blame(err, "hazard"); err != nil {
			return err
		}
	}
	if !f.ok() {
		f.onTop("hazard")
		return s.showClassRisk(w, r, f, http.StatusUnprocessableEntity)
	}
	s.live.changed()
	return backSaying(w, r, fmt.Sprintf("/classes/%d/risk", a.Class.ID), "That row is kept.")
}

func (s *Server) classRiskPDF(w http.ResponseWriter, r *http.Request) error {
	a, _, err := s.classPapers(r)
	if err != nil {
		return err
	}
	risk, err := classkit.RiskOf(a)
	if err != nil {
		return err
	}
	p := print.Risk{ClassPaper: s.classHead(r, a), Sections: riskSections(risk)}
	return s.sendPDF(w, fmt.Sprintf("risk-class-%d.pdf", a.Class.ID), func(w io.Writer) error { return print.RiskDraft(w, p) })
}

// riskSections are the five steps as they are printed.
func riskSections(r classkit.Risk) []print.ClassSection {
	var out []print.ClassSection
	if r.Stop != "" {
		out = append(out, print.ClassSection{Head: "This class must not be held as it is", Lines: []string{r.Stop}})
	}
	out = append(out, print.ClassSection{Head: "What is assessed", Fields: printedFields(r.Activity)})
	var sources []string
	from := func(text, source string) string {
		if text == "" || source == "" {
			return text
		}
		at := slices.Index(sources, source)
		if at < 0 {
			at = len(sources)
			sources = append(sources, source)
		}
		return fmt.Sprintf("%s [%d]", text, at+1)
	}
	rows := func(all []classkit.Hazard) *print.ClassTable {
		t := &print.ClassTable{Heads: []string{"Hazard", "Who and how", "Already doing", "More needed", "Who", "By when", "Done"}, Shares: []float64{0.16, 0.17, 0.3, 0.17, 0.07, 0.07, 0.06}}
		for _, h := range all {
			t.Rows = append(t.Rows, []string{h.Hazard, h.WhoHow, from(h.Now, restsOn(h)), h.More, h.By, h.Till, h.Done})
		}
		return t
	}
	out = append(out, print.ClassSection{Head: "Steps 1 and 3: hazards, and what is done about them", Lines: []string{"Read each row, change it, and fill in what is empty."}, Table: rows(r.Hazards)})
	if len(r.Room) > 0 {
		out = append(out, print.ClassSection{Head: "The air of the room", Fields: printedFields(r.Room)})
	}
	out = append(out, print.ClassSection{Head: "Step 2: who may be harmed, and how", Lines: []string{"Ask in general and in private; nobody has to say."}, Table: rows(r.People)})
	out = append(out, print.ClassSection{Head: "Substances", Lines: []string{"Every substance that the recipes use. The sheet that came with your bottle comes first."}})
	for some := range slices.Chunk(r.Substances, 3) {
		out = append(out, print.ClassSection{Table: substanceTable(some, from)})
	}
	out = append(out, print.ClassSection{Head: "Steps 4 and 5: record and review", Fields: printedFields(r.Review)})
	if len(sources) > 0 {
		var lines []string
		for i, source := range sources {
			lines = append(lines, fmt.Sprintf("[%d] %s", i+1, source))
		}
		out = append(out, print.ClassSection{Head: "What this rests on", Lines: lines})
	}
	return out
}

// substanceTable sets substances beside each other, a row for each field of any.
func substanceTable(some []classkit.Substance, from func(text, source string) string) *print.ClassTable {
	const name = 0.13
	t := &print.ClassTable{Heads: []string{"Substance"}, Shares: []float64{name}}
	at := map[string]int{}
	for k, x := range some {
		t.Heads, t.Shares = append(t.Heads, x.Name), append(t.Shares, (1-name)/float64(len(some)))
		for _, f := range x.Fields {
			i, ok := at[f.Word]
			if !ok {
				i = len(t.Rows)
				at[f.Word] = i
				t.Rows = append(t.Rows, append([]string{f.Word}, make([]string, len(some))...))
			}
			t.Rows[i][k+1] = from(f.Text, f.From)
		}
	}
	return t
}

// restsOn says what a row rests on.
func restsOn(h classkit.Hazard) string {
	switch {
	case h.Source == "":
		return h.Standing
	case h.Standing == "":
		return h.Source
	}
	return fmt.Sprintf("%s; %s", h.Source, h.Standing)
}

// classHandoutPage is the handout before it is printed.
type classHandoutPage struct {
	Frame
	Class    studio.Class
	Handout  classkit.Handout
	Signs    []string // what the signs on the bottles are called
	Outcomes []handoutOutcome
	Print    sheetLinks
	Large    sheetLinks
	In       []sheetTongue
}

// A handoutOutcome is a finished swatch of one of the recipes.
type handoutOutcome struct {
	Swatch int64
	Words  string
	Photo  int64
}

// outcomes are finished swatches of the class's recipes, the newest of each look first,
// by turns so that no recipe fills the sheet.
func (s *Server) outcomes(ctx context.Context, a classkit.Ask) ([]handoutOutcome, error) {
	t, err := s.triedWith(ctx)
	if err != nil {
		return nil, err
	}
	var by [][]madeFace
	for _, l := range a.Lessons {
		faces := slices.Clone(t.faces[l.Version.ID])
		slices.SortStableFunc(faces, func(x, y madeFace) int { return y.At.Compare(x.At) })
		by = append(by, faces)
	}
	var out []handoutOutcome
	seen, taken := map[string]bool{}, map[int64]bool{}
	for _, alike := range []bool{false, true} { // first those that look different
		for i := 0; len(out) < print.MostOutcomes; i++ {
			more := false
			for _, faces := range by {
				if i >= len(faces) || len(out) >= print.MostOutcomes {
					continue
				}
				more = true
				m := faces[i]
				if taken[m.Swatch] || seen[m.Name] && !alike {
					continue
				}
				taken[m.Swatch], seen[m.Name] = true, true
				out = append(out, handoutOutcome{Swatch: m.Swatch, Words: m.Name, Photo: m.Photo})
			}
			if !more {
				break
			}
		}
	}
	return out, nil
}

func (s *Server) classHandout(w http.ResponseWriter, r *http.Request) error {
	a, _, err := s.classPapers(r)
	if err != nil {
		return err
	}
	path := fmt.Sprintf("/classes/%d/handout.pdf", a.Class.ID)
	p := classHandoutPage{Frame: s.frame(r, fmt.Sprintf("Handout: %s", a.Class.Name), "classes"), Class: a.Class, Print: linksTo(path, nil), Large: linksTo(path, map[string][]string{"large": {"1"}})}
	p.In = s.sheetTongues(path, nil, printedIn(w))
	if p.Handout, err = classkit.HandoutOf(a); err != nil {
		return err
	}
	for _, code := range p.Handout.Signs {
		p.Signs = append(p.Signs, print.SignName(code))
	}
	if p.Outcomes, err = s.outcomes(r.Context(), a); err != nil {
		return err
	}
	s.show(w, http.StatusOK, "class_handout", p)
	return nil
}

func (s *Server) classHandoutPDF(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	a, _, err := s.classPapers(r)
	if err != nil {
		return err
	}
	x, err := classkit.HandoutOf(a)
	if err != nil {
		return err
	}
	h := print.Handout{ClassPaper: s.classHead(r, a), Used: x.Used, Safety: x.Safety, Signs: x.Signs, Steps: printed(x.Steps), Care: x.Care, Leftover: x.Leftover, Read: x.Read}
	all, err := s.outcomes(ctx, a)
	if err != nil {
		return err
	}
	for _, o := range all {
		photo, err := s.store.Photo(ctx, o.Photo)
		if err != nil {
			return err
		}
		one := print.Outcome{Number: o.Swatch, Words: o.Words}
		if photo.Measurement != nil {
			one.Lab = &photo.Measurement.Lab
		}
		if one.JPEG, err = s.made(ctx, photo, "face"); err != nil {
			return err
		}
		h.Outcomes = append(h.Outcomes, one)
	}
	return s.sendPDF(w, fmt.Sprintf("handout-class-%d.pdf", a.Class.ID), func(w io.Writer) error { return print.HandoutSheet(w, h) })
}

// classTeacherPage is the teacher's sheet before it is printed.
type classTeacherPage struct {
	Frame
	Class    studio.Class
	Sections []classkit.Section
	Print    sheetLinks
}

// teachersSheet gathers the teacher's sheet of a class.
func (s *Server) teachersSheet(r *http.Request) (classkit.Ask, []classkit.Section, error) {
	ctx := r.Context()
	a, p, err := s.classPapers(r)
	if err != nil {
		return a, nil, err
	}
	var lead classkit.Lead
	if p != nil {
		for _, x := range p.Parts {
			title := x.Title
			if x.Words != "" {
				title = fmt.Sprintf("%s: %s", x.Title, x.Words)
			}
			lead.Parts = append(lead.Parts, classkit.Timed{Start: x.Start, Minutes: x.Minutes, Title: asSentence(title), Teacher: asSentence(x.Teacher), Students: asSentence(x.Students)})
		}
		for _, x := range p.Ahead {
			lead.AheadBy = append(lead.AheadBy, fmt.Sprintf("%d × %s: %s", x.Count, x.Name, x.What))
		}
		lead.PlanB = p.PlanB.Notes
	}
	t, err := s.triedWith(ctx)
	if err != nil {
		return a, nil, err
	}
	for _, l := range a.Lessons {
		versions, err := s.store.Versions(ctx, l.Version.RecipeID)
		if err != nil {
			return a, nil, err
		}
		known, err := s.evidenceOf(ctx, t, l.Version, versions)
		if err != nil {
			return a, nil, err
		}
		for _, line := range []string{known.Tried, known.Line, evidence.CareLine(known.cares)} {
			if line != "" {
				lead.Known = append(lead.Known, fmt.Sprintf("%s: %s", l.Name, line))
			}
		}
	}
	sections, err := classkit.TeacherOf(a, lead)
	return a, sections, err
}

// asSentence ends text with a full stop, and leaves nothing as nothing.
func asSentence(text string) string {
	text = strings.TrimSpace(text)
	if text == "" || strings.HasSuffix(text, ".") {
		return text
	}
	return text + "."
}

func (s *Server) classTeacher(w http.ResponseWriter, r *http.Request) error {
	a, sections, err := s.teachersSheet(r)
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "class_teacher", classTeacherPage{Frame: s.frame(r, fmt.Sprintf("Teacher’s sheet: %s", a.Class.Name), "classes"), Class: a.Class, Sections: sections,
		Print: linksTo(fmt.Sprintf("/classes/%d/teacher.pdf", a.Class.ID), nil)})
	return nil
}

func (s *Server) classTeacherPDF(w http.ResponseWriter, r *http.Request) error {
	a, sections, err := s.teachersSheet(r)
	if err != nil {
		return err
	}
	t := print.Teacher{ClassPaper: s.classHead(r, a), Sections: printed(sections)}
	return s.sendPDF(w, fmt.Sprintf("teacher-class-%d.pdf", a.Class.ID), func(w io.Writer) error { return print.TeacherSheet(w, t) })
}
