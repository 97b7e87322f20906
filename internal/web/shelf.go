package web

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

func (s *Server) shelfRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /shelf", s.shelf)
	s.on(mux, "GET /shelf/metals/{id}", s.metal)
	s.on(mux, "POST /shelf/metals", s.saveMetal)
	s.on(mux, "GET /shelf/supplies/{id}", s.supply)
	s.on(mux, "POST /shelf/supplies", s.saveSupply)
	s.on(mux, "GET /shelf/chambers/{id}", s.chamber)
	s.on(mux, "POST /shelf/chambers", s.saveChamber)
	s.on(mux, "POST /shelf/hands", s.weighHand)
	s.on(mux, "GET /shelf/rooms/{id}", s.room)
	s.on(mux, "POST /shelf/rooms", s.saveRoom)
}

// shelfPage lists what the bench is made of.
type shelfPage struct {
	Frame
	Metals    []metalRow
	Supplies  []supplyRow
	Apart     []matter.Clash // what must not stand together
	Chambers  []studio.Chamber
	Rooms     []studio.Room
	Hands     []handRow
	Words     []string
	Materials []matter.Substance

	HandProblem, HandWord, HandMaterial, HandState, HandArea, HandWeighings string
}

type supplyRow struct {
	Supply   studio.Supply
	What     string
	Strength string
	Stock    stockColumns
}

type metalRow struct {
	studio.Metal
	Price string
	There string // sheets and offcuts
}

type handRow struct {
	studio.HandAmount
	Of     string
	Amount string
}

// substanceName says what a material key means.
func substanceName(key string) string {
	if sub, ok := matter.Lookup(key); ok {
		return sub.Name
	}
	if key == "" {
		return "anything else"
	}
	return key
}

// strengthText writes a supply's strength as on its label.
func strengthText(s studio.Supply) string {
	switch {
	case s.StrengthUnit == studio.Pure:
		return "pure"
	case s.Strength == 0:
		return "not known"
	case s.StrengthUnit == studio.WtPercent:
		return number(s.Strength, 2) + " % by mass"
	case s.StrengthUnit == studio.VolPercent:
		return number(s.Strength, 2) + " % by volume"
	}
	return number(s.Strength, 2) + " " + string(s.StrengthUnit)
}

func (s *Server) fillShelf(r *http.Request) (shelfPage, error) {
	ctx := r.Context()
	p := shelfPage{Frame: s.frame(r, "Shelf", "shelf"), Words: studio.HandWords, HandMaterial: "sodium-chloride"}
	stock, err := s.shelfStock(ctx)
	if err != nil {
		return p, err
	}
	metals, err := s.store.Metals(ctx)
	if err != nil {
		return p, err
	}
	prices, err := s.store.MetalPrices(ctx)
	if err != nil {
		return p, err
	}
	for _, m := range metals {
		row := metalRow{Metal: m, There: stock.sheetsText(m.ID)}
		if price, ok := prices[m.ID]; ok {
			row.Price = metalPriceText(stock.rates.Currency, price)
		}
		p.Metals = append(p.Metals, row)
	}
	var stand []matter.Use
	for _, x := range stock.shelf.Supplies {
		p.Supplies = append(p.Supplies, supplyRow{x, substanceName(x.Material), strengthText(x), stock.columns(x, s.now())})
		stand = append(stand, matter.Use{Key: x.Material, WtPercent: x.WtPercent(), Step: 1})
	}
	p.Apart = matter.MeetOnShelf(stand)
	if p.Chambers, err = s.store.Chambers(ctx); err != nil {
		return p, err
	}
	if p.Rooms, err = s.store.Rooms(ctx); err != nil {
		return p, err
	}
	hands, err := s.store.HandAmounts(ctx)
	if err != nil {
		return p, err
	}
	for _, h := range hands {
		a := studio.Amount{Value: h.Mean, SD: h.SD, Unit: h.Unit}
		p.Hands = append(p.Hands, handRow{h, substanceName(h.Material), a.String()})
	}
	p.Materials = ownable()
	return p, nil
}

func (s *Server) shelf(w http.ResponseWriter, r *http.Request) error {
	p, err := s.fillShelf(r)
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "shelf", p)
	return nil
}

// weighHand is POST /shelf/hands: weighings on a plate become a hand amount.
func (s *Server) weighHand(w http.ResponseWriter, r *http.Request) error {
	f := readForm(r)
	area := f.number("area", "plate's area", "cm²", 0)
	var loads []float64
	for _, t := range strings.FieldsFunc(f.Val("weighings"), func(c rune) bool { return c == ';' || c == ' ' || c == '\n' || c == '\t' || c == '\r' }) {
		v, err := decimal(t)
		if err != nil {
			f.say("", "%q among the weighings is not a number; write them like 0.12; 0.15; 0.11.", t)
			break
		}
		loads = append(loads, v)
	}
	if f.ok() && !(area > 0 && area <= 1e5) {
		f.say("", "The plate's area must be above 0 cm², so that grams become grams on a square metre.")
	}
	if !f.ok() {
		return s.handRefused(w, r, f)
	}
	for i := range loads {
		loads[i] /= area * 1e-4
	}
	unit := studio.GramPerM2
	if f.Val("state") == "liquid" {
		unit = studio.MLPerM2 // of water-like liquids 1 g is 1 mL within a few percent
	}
	h, err := studio.Weighed(f.Val("word"), f.Val("material"), unit, loads)
	if err == nil {
		err = s.store.SaveHandAmount(r.Context(), h)
	}
	if err != nil {
		if err := f.blame(err); err != nil {
			return err
		}
		return s.handRefused(w, r, f)
	}
	s.live.changed()
	return backSaying(w, r, "/shelf", fmt.Sprintf("'%s' now means %s in your hand.", h.Word, studio.Amount{Value: h.Mean, SD: h.SD, Unit: h.Unit}))
}

func (s *Server) handRefused(w http.ResponseWriter, r *http.Request, f *form) error {
	p, err := s.fillShelf(r)
	if err != nil {
		return err
	}
	for _, text := range f.wrong {
		p.HandProblem = text
	}
	p.HandWord, p.HandMaterial, p.HandState, p.HandArea, p.HandWeighings = f.Val("word"), f.Val("material"), f.Val("state"), f.Val("area"), f.Val("weighings")
	s.show(w, http.StatusUnprocessableEntity, "shelf", p)
	return nil
}

// metalPage shows or asks for one metal.
type metalPage struct {
	Frame
	*form
	M        studio.Metal
	Alloys   []matter.Metal
	Cautions []string
}

func (s *Server) metal(w http.ResponseWriter, r *http.Request) error {
	p := metalPage{Frame: s.frame(r, "Add a metal", "shelf"), form: readForm(r), Alloys: matter.Alloys()}
	if r.PathValue("id") != "new" {
		id, err := idIn(r, "id")
		if err != nil {
			return err
		}
		if p.M, err = s.store.Metal(r.Context(), id); err != nil {
			return err
		}
		p.Title = p.M.Name
		p.set("name", p.M.Name)
		p.set("alloy", p.M.Alloy)
		p.set("temper", p.M.Temper)
		p.set("thickness", number(p.M.ThicknessMM, 3))
		p.set("gauge", p.M.GaugeWords)
		p.set("lot", p.M.Lot)
		p.set("note", p.M.Note)
		p.Cautions = alloyCautions(p.M)
	}
	s.show(w, http.StatusOK, "metal", p)
	return nil
}

// alloyCautions are what to mind about this metal near ammonia.
func alloyCautions(m studio.Metal) []string {
	var out []string
	for _, c := range matter.Clashes([]matter.Use{{Key: "ammonia-gas", Form: "fume"}}, m.Alloy) {
		if c.Level == matter.Product {
			out = append(out, c.What+". "+c.Do+".")
		}
	}
	return out
}

// thickness reads millimetres, or a gauge as sold: "22 ga", "16 oz".
func thickness(f *form) float64 {
	text := strings.ToLower(f.Val("thickness"))
	for _, suffix := range []string{"gauge", "ga", "b&s", "awg"} {
		t, ok := strings.CutSuffix(text, suffix)
		if !ok {
			continue
		}
		n, err := strconv.Atoi(strings.TrimSpace(t))
		if err != nil {
			break
		}
		mm, err := matter.GaugeMM(n)
		if err != nil {
			f.say("thickness", "A gauge of %d is outside the table; write the thickness in mm.", n)
		}
		if f.Val("gauge") == "" {
			f.set("gauge", strconv.Itoa(n)+" gauge")
		}
		return mm
	}
	if f.Val("thickness") == "" {
		f.say("thickness", "Write the thickness in mm, like 0.8, or a gauge like 20 ga.")
	}
	return f.number("thickness", "thickness", "mm", 0)
}

func (s *Server) saveMetal(w http.ResponseWriter, r *http.Request) error {
	f := readForm(r)
	id := f.whole("id", "number", 0)
	m := studio.Metal{}
	if id != 0 {
		var err error
		if m, err = s.store.Metal(r.Context(), id); err != nil {
			return err
		}
	}
	m.ThicknessMM = thickness(f)
	m.Name, m.Alloy, m.Temper, m.GaugeWords, m.Lot, m.Note = f.Val("name"), f.Val("alloy"), f.Val("temper"), f.Val("gauge"), f.Val("lot"), f.Val("note")
	if f.ok() {
		err := m.Check()
		if err == nil {
			_, err = s.store.SaveMetal(r.Context(), m)
		}
		if err := f.blame(err, "name", "thickness"); err != nil {
			return err
		}
	}
	if !f.ok() {
		f.onTop("name", "thickness")
		s.show(w, http.StatusUnprocessableEntity, "metal", metalPage{Frame: s.frame(r, "A metal", "shelf"), form: f, M: m, Alloys: matter.Alloys()})
		return nil
	}
	s.live.changed()
	return backSaying(w, r, "/shelf", m.Name+" is on the shelf.")
}

// supplyPage shows or asks for one supply.
type supplyPage struct {
	Frame
	*form
	S          studio.Supply
	Substances []matter.Substance
	Units      []studio.StrengthUnit
	About      *aboutSubstance
	Rows       []sheetRow
	Sheets     []studio.DataSheet
	Apart      []matter.Clash

	SheetProblem string
}

// aboutSubstance is what is known about a material, with its sources.
type aboutSubstance struct {
	Name  string
	Facts []fact
}

type fact struct{ Label, Text, Source string }

// about gathers the cautions of a supply at its strength.
func about(sup studio.Supply) *aboutSubstance {
	sub, ok := matter.Lookup(sup.Material)
	if !ok {
		return nil
	}
	a := &aboutSubstance{Name: sub.Name}
	put := func(label, text, source, standing string) {
		if text == "" || text == "-" {
			return
		}
		a.Facts = append(a.Facts, fact{label, text, cite(source, standing)})
	}
	if band, err := matter.At(sub.Key, sup.WtPercent()); err == nil {
		if band.Assumed {
			put("Strength", "not on the label: it counts as "+band.Name, "", "")
		}
	}
	for _, l := range sub.Limits {
		year := ""
		if l.Year > 0 && !strings.Contains(l.Source, strconv.Itoa(l.Year)) {
			year = ", " + strconv.Itoa(l.Year)
		}
		put("Limit in air", fmt.Sprintf("%s, %s: %s %s", l.Agency, l.Kind, number(l.Value, 3), l.Unit), l.Source+year, l.Standing)
	}
	put("Smell", sub.Odour, sub.Source, sub.Standing)
	put("Fire", sub.Flammable, sub.Source, sub.Standing)
	return a
}

// ownable are the substances a person may have on the shelf.
func ownable() []matter.Substance {
	var out []matter.Substance
	for _, sub := range matter.Substances() {
		if sub.Kind == "supply" {
			out = append(out, sub)
		}
	}
	return out
}

func (s *Server) supply(w http.ResponseWriter, r *http.Request) error {
	if r.PathValue("id") == "new" {
		s.show(w, http.StatusOK, "supply", supplyPage{Frame: s.frame(r, "Add a supply", "shelf"), form: readForm(r), Substances: ownable(), Units: studio.StrengthUnits})
		return nil
	}
	x, err := s.supplyIn(r)
	if err != nil {
		return err
	}
	p, err := s.fillSupply(r, x)
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "supply", p)
	return nil
}

// fillSupply gathers what is known of a supply that is kept.
func (s *Server) fillSupply(r *http.Request, x studio.Supply) (supplyPage, error) {
	ctx := r.Context()
	p := supplyPage{Frame: s.frame(r, x.Name, "shelf"), form: &form{values: url.Values{}, wrong: map[string]string{}}, S: x, Substances: ownable(), Units: studio.StrengthUnits, About: about(x)}
	p.set("name", x.Name)
	p.set("material", x.Material)
	if x.Strength != 0 {
		p.set("strength", number(x.Strength, 3))
	}
	p.set("strengthunit", string(x.StrengthUnit))
	p.set("lot", x.Lot)
	p.set("note", x.Note)
	if !x.Opened.IsZero() {
		p.set("opened", x.Opened.Format("2006-01-02"))
	}
	if !x.Expires.IsZero() {
		p.set("expires", x.Expires.Format("2006-01-02"))
	}
	checks, err := s.store.SheetChecks(ctx, x.ID)
	if err != nil {
		return p, err
	}
	p.Rows = sheetRows(x, checks)
	if p.Sheets, err = s.store.Sheets(ctx, x.ID); err != nil {
		return p, err
	}
	others, err := s.store.Supplies(ctx)
	if err != nil {
		return p, err
	}
	own := matter.Use{Key: x.Material, WtPercent: x.WtPercent(), Step: 1}
	for _, o := range others {
		if o.ID == x.ID {
			continue
		}
		for _, c := range matter.MeetOnShelf([]matter.Use{own, {Key: o.Material, WtPercent: o.WtPercent(), Step: 2}}) {
			if c.B != "" && !slices.ContainsFunc(p.Apart, func(have matter.Clash) bool { return have.ID == c.ID && have.A == c.A && have.B == c.B }) {
				p.Apart = append(p.Apart, c)
			}
		}
	}
	return p, nil
}

func (s *Server) saveSupply(w http.ResponseWriter, r *http.Request) error {
	f := readForm(r)
	id := f.whole("id", "number", 0)
	x := studio.Supply{}
	if id != 0 {
		var err error
		if x, err = s.store.Supply(r.Context(), id); err != nil {
			return err
		}
	}
	x.Name, x.Material, x.Lot, x.Note = f.Val("name"), f.Val("material"), f.Val("lot"), f.Val("note")
	x.StrengthUnit = studio.StrengthUnit(f.Val("strengthunit"))
	x.Strength = f.number("strength", "strength", string(x.StrengthUnit), 0)
	x.Opened, x.Expires = f.date("opened"), f.date("expires")
	if x.Opened.After(s.now()) {
		f.say("opened", "%s is in the future; write the day the bottle was opened, or leave it empty.", f.Val("opened"))
	}
	if f.ok() {
		err := x.Check()
		if err == nil {
			_, err = s.store.SaveSupply(r.Context(), x)
		}
		if err := f.blame(err, "name", "material", "strength"); err != nil {
			return err
		}
	}
	if !f.ok() {
		f.onTop("name", "material", "strength", "opened")
		s.show(w, http.StatusUnprocessableEntity, "supply", supplyPage{Frame: s.frame(r, "A supply", "shelf"), form: f, S: x, Substances: ownable(), Units: studio.StrengthUnits})
		return nil
	}
	s.live.changed()
	return backSaying(w, r, "/shelf", x.Name+" is on the shelf.")
}

// chamberPage shows or asks for one chamber.
type chamberPage struct {
	Frame
	*form
	C       studio.Chamber
	Numbers []numberField
	Rooms   []studio.Room
}

type numberField struct{ Name, Label string }

var chamberNumbers = []numberField{
	{"volume", "Inner volume, litres"}, {"padml", "Solution on the pad, mL"}, {"gap", "Gap from pad to piece, mm"},
	{"tilt", "Floor tilt, degrees"}, {"places", "Places for swatches"},
	{"innerlength", "Free length inside, mm (empty: not measured)"}, {"innerwidth", "Free width inside, mm"}, {"innerheight", "Free height inside, from pad or rack to lid, mm"},
	{"leak", "Air changed through the closed lid, times an hour (empty: not known)"}, {"openloss", "Share of its air that one lifting of the lid lets go, % (empty: not known)"},
}

func (s *Server) chamber(w http.ResponseWriter, r *http.Request) error {
	p := chamberPage{Frame: s.frame(r, "Add a chamber", "shelf"), form: readForm(r), Numbers: chamberNumbers}
	var err error
	if p.Rooms, err = s.store.Rooms(r.Context()); err != nil {
		return err
	}
	if r.PathValue("id") != "new" {
		id, err := idIn(r, "id")
		if err != nil {
			return err
		}
		if p.C, err = s.store.Chamber(r.Context(), id); err != nil {
			return err
		}
		p.Title = p.C.Name
		for name, v := range map[string]float64{"volume": p.C.VolumeL, "padml": p.C.PadML, "gap": p.C.GapMM, "tilt": p.C.TiltDeg, "places": float64(p.C.Places)} {
			p.set(name, number(v, 2))
		}
		for name, v := range map[string]float64{"innerlength": p.C.LengthMM, "innerwidth": p.C.WidthMM, "innerheight": p.C.HeightMM} {
			if v > 0 {
				p.set(name, number(v, 1))
			}
		}
		if p.C.LeakPerH > 0 {
			p.set("leak", number(p.C.LeakPerH, 3))
		}
		if p.C.OpenLoss > 0 {
			p.set("openloss", number(100*p.C.OpenLoss, 1))
		}
		p.set("room", strconv.FormatInt(p.C.RoomID, 10))
		p.set("name", p.C.Name)
		p.set("pad", p.C.Pad)
		p.set("note", p.C.Note)
	}
	s.show(w, http.StatusOK, "chamber", p)
	return nil
}

func (s *Server) saveChamber(w http.ResponseWriter, r *http.Request) error {
	f := readForm(r)
	id := f.whole("id", "number", 0)
	c := studio.Chamber{}
	if id != 0 {
		var err error
		if c, err = s.store.Chamber(r.Context(), id); err != nil {
			return err
		}
	}
	c.Name, c.Pad, c.Note = f.Val("name"), f.Val("pad"), f.Val("note")
	c.VolumeL = f.number("volume", "volume", "litres", 0)
	c.PadML = f.number("padml", "pad's solution", "mL", 0)
	c.GapMM = f.number("gap", "gap", "mm", 0)
	c.TiltDeg = f.number("tilt", "tilt", "degrees", 0)
	c.Places = int(f.whole("places", "number of places", 1))
	c.LeakPerH = f.number("leak", "leak", "times an hour", 0)
	c.OpenLoss = f.number("openloss", "share", "%", 0) / 100
	c.LengthMM = f.number("innerlength", "free length", "mm", 0)
	c.WidthMM = f.number("innerwidth", "free width", "mm", 0)
	c.HeightMM = f.number("innerheight", "free height", "mm", 0)
	c.RoomID = f.whole("room", "room", 0)
	rooms, err := s.store.Rooms(r.Context())
	if err != nil {
		return err
	}
	if f.ok() {
		err := c.Check()
		if err == nil {
			_, err = s.store.SaveChamber(r.Context(), c)
		}
		if err := f.blame(err, "name", "volume", "padml", "gap", "tilt", "places", "leak", "openloss", "innerlength", "innerwidth", "innerheight"); err != nil {
			return err
		}
	}
	if !f.ok() {
		f.onTop("name", "volume", "padml", "gap", "tilt", "places", "leak", "openloss", "innerlength", "innerwidth", "innerheight")
		s.show(w, http.StatusUnprocessableEntity, "chamber", chamberPage{Frame: s.frame(r, "A chamber", "shelf"), form: f, C: c, Numbers: chamberNumbers, Rooms: rooms})
		return nil
	}
	s.live.changed()
	return backSaying(w, r, "/shelf", c.Name+" is on the shelf.")
}

// roomPage shows or asks for one room.
type roomPage struct {
	Frame
	*form
	R studio.Room
}

func (s *Server) room(w http.ResponseWriter, r *http.Request) error {
	p := roomPage{Frame: s.frame(r, "Add a room", "shelf"), form: readForm(r)}
	if r.PathValue("id") != "new" {
		id, err := idIn(r, "id")
		if err != nil {
			return err
		}
		if p.R, err = s.store.Room(r.Context(), id); err != nil {
			return err
		}
		p.Title = p.R.Name
		p.set("name", p.R.Name)
		if p.R.VolumeM3 > 0 {
			p.set("roomvolume", number(p.R.VolumeM3, 1))
		}
		p.set("ach", number(p.R.ACH, 2))
		p.set("mixing", number(p.R.Mixing, 1))
		switch {
		case p.R.Outdoors:
			p.set("where", "outdoors")
		case p.R.Hood:
			p.set("where", "hood")
		}
	}
	s.show(w, http.StatusOK, "room", p)
	return nil
}

func (s *Server) saveRoom(w http.ResponseWriter, r *http.Request) error {
	f := readForm(r)
	id := f.whole("id", "number", 0)
	x := studio.Room{}
	if id != 0 {
		var err error
		if x, err = s.store.Room(r.Context(), id); err != nil {
			return err
		}
	}
	x.Name, x.Outdoors, x.Hood = f.Val("name"), f.Val("where") == "outdoors", f.Val("where") == "hood"
	x.VolumeM3 = f.number("roomvolume", "room's volume", "m³", 0)
	x.ACH = f.number("ach", "air changes", "an hour", 0)
	x.Mixing = f.number("mixing", "mixing factor", "", 3)
	if f.ok() {
		err := x.Check()
		if err == nil {
			_, err = s.store.SaveRoom(r.Context(), x)
		}
		if err := f.blame(err, "name", "roomvolume", "ach", "mixing"); err != nil {
			return err
		}
	}
	if !f.ok() {
		f.onTop("name", "roomvolume", "ach", "mixing")
		s.show(w, http.StatusUnprocessableEntity, "room", roomPage{Frame: s.frame(r, "A room", "shelf"), form: f, R: x})
		return nil
	}
	s.live.changed()
	return backSaying(w, r, "/shelf", x.Name+" is kept.")
}
