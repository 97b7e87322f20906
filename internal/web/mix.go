package web

import (
	"errors"
	"fmt"
	"html/template"
	"io"
	"net/http"
	"net/url"
	"strings"

	"aerugo/internal/flow/plan"
	"aerugo/internal/print"
	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

func (s *Server) mixRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /mix", s.mixPage)
	s.on(mux, "GET /mix/card.pdf", s.mixPDF)
}

// mixPageData asks what is to be mixed, and says what to weigh.
type mixPageData struct {
	Frame
	*form
	Supplies   []studio.Supply
	Substances []matter.Substance
	Units      []plan.StockUnit
	Hydrates   []matter.Crystal
	Supply     int64
	Card       *plan.MixCard
	Name       string
	Faces      string
	NeedML     float64      // what the faces take, 0 if nobody asked
	Query      template.URL // the same mix again, for the PDF
}

// mixFields are the fields that make a mix.
var mixFields = []string{"supply", "material", "strength", "unit", "to", "amount", "amountunit", "loading", "facewidth", "faceheight", "faces"}

// CheckML is the volume whose weight checks the mix.
func (mixPageData) CheckML() int { return matter.CheckML }

// errNotAsked says that the form was opened, and nothing asked yet.
var errNotAsked = errors.New("nothing asked")

// readMix reads the form and reckons the mix; what is wrong lands beside its field.
func (s *Server) readMix(r *http.Request) (mixPageData, error) {
	ctx := r.Context()
	p := mixPageData{Frame: s.frame(r, "Mix a solution", "shelf"), form: readForm(r), Substances: ownable(), Units: plan.StockUnits, Hydrates: matter.Crystals()}
	var err error
	if p.Supplies, err = s.store.Supplies(ctx); err != nil {
		return p, err
	}
	for _, name := range []string{"unit", "amountunit"} {
		if !p.values.Has(name) {
			p.set(name, map[string]string{"unit": string(plan.ByWeight), "amountunit": "g"}[name])
		}
	}
	p.Supply = p.whole("supply", "supply", 0)
	if !p.values.Has("to") {
		return p, errNotAsked
	}
	stock := p.stock(r, s)
	to := p.number("to", "strength wanted", "% by mass", 0)
	if p.Val("to") == "" {
		p.say("to", "Write the strength you want, in %% by mass, like 5.")
	}
	amount, byML := p.amountAsked()
	if !p.ok() {
		return p, nil
	}
	card, err := plan.MixOf(stock, to, amount, byML)
	if err := p.blame(err, "to", "amount", "strength", "material"); err != nil {
		return p, err
	}
	if !p.ok() {
		return p, nil
	}
	p.Card, p.Name = &card, fmt.Sprintf("%s %.3g %%", stock.Substance.Name, to)
	again := url.Values{}
	for _, name := range mixFields {
		if v := p.Val(name); v != "" {
			again.Set(name, v)
		}
	}
	p.Query = template.URL(again.Encode()) // encoded just now, by fields of our own
	return p, nil
}

// stock reads what the mix is made of: a supply, or what is typed.
func (p *mixPageData) stock(r *http.Request, s *Server) plan.Stock {
	var stock plan.Stock
	var err error
	unit := plan.StockUnit(p.Val("unit"))
	if p.Supply != 0 {
		var x studio.Supply
		if x, err = s.store.Supply(r.Context(), p.Supply); err == nil && (p.Val("strength") != "" || unit == plan.Dry || unit == plan.Crystals) {
			// what is typed comes before what the shelf says
			if stock, err = plan.StockOf(x.Material, p.number("strength", "strength", "", 0), unit); err == nil {
				stock = stock.Named(x)
			}
		} else if err == nil {
			stock, err = plan.SupplyStock(x)
		}
	} else {
		if p.Val("strength") == "" && unit != plan.Dry && unit != plan.Crystals {
			p.say("strength", "Write how strong the bottle is, as on its label, like 28.")
		}
		v := p.number("strength", "strength", "", 0)
		if p.ok() {
			stock, err = plan.StockOf(p.Val("material"), v, unit)
		}
	}
	if q := studio.ProblemIn(err); q != nil {
		field := q.Field
		if field != "material" && field != "strength" {
			field = "supply"
		}
		p.say(field, "%s", q.Text)
	} else if err != nil {
		p.say("supply", "That supply can't be read; choose another.")
	}
	return stock
}

// amountAsked reads how much is wanted: an amount, or what some faces take.
func (p *mixPageData) amountAsked() (amount float64, byML bool) {
	if p.Val("loading") != "" {
		loading := p.number("loading", "loading", "mL/m²", 0)
		w, h := p.number("facewidth", "width", "mm", 0), p.number("faceheight", "height", "mm", 0)
		n := p.whole("faces", "number of faces", 0)
		if p.ok() && !(loading > 0 && loading <= 5000 && w > 0 && w <= 5000 && h > 0 && h <= 5000 && n > 0 && n <= 5000) {
			p.say("loading", "Write the loading in mL/m² and the width, height and number of the faces, all above 0 and at most 5000.")
		}
		p.NeedML = plan.FaceML(loading, w, h, int(n))
		p.Faces = fmt.Sprintf("For %d faces of %s × %s mm at %s mL/m²: %s mL lie on them", n, number(w, 1), number(h, 1), number(loading, 1), figures(p.NeedML))
	}
	if p.Val("amount") != "" {
		return p.number("amount", "amount", p.Val("amountunit"), 0), p.Val("amountunit") == "mL"
	}
	if p.NeedML > 0 {
		return p.NeedML, true
	}
	p.say("amount", "Write how much you want, or the faces it is for.")
	return 0, false
}

func (s *Server) mixPage(w http.ResponseWriter, r *http.Request) error {
	p, err := s.readMix(r)
	if errors.Is(err, errNotAsked) {
		s.show(w, http.StatusOK, "mix", p)
		return nil
	}
	if err != nil {
		return err
	}
	code := http.StatusOK
	if !p.ok() {
		p.onTop("supply", "material", "strength", "to", "amount", "loading")
		code = http.StatusUnprocessableEntity
	}
	s.show(w, code, "mix", p)
	return nil
}

func (s *Server) mixPDF(w http.ResponseWriter, r *http.Request) error {
	p, err := s.readMix(r)
	if errors.Is(err, errNotAsked) {
		return studio.Problemf(studio.NotFound, "", "No mix was asked for. Ask for one on the page Mix a solution.")
	}
	if err != nil {
		return err
	}
	if !p.ok() {
		var texts []string
		for _, text := range p.wrong {
			texts = append(texts, text)
		}
		return studio.Problemf(studio.Invalid, "", "%s", strings.Join(texts, " "))
	}
	c := p.Card
	use := matter.Use{Key: c.Stock.Substance.Key, WtPercent: 100 * c.Stock.Strength, Step: 1}
	m := print.Mix{Paper: paper(r), Date: s.now(), Studio: s.studioName(), Name: p.Name, Stock: c.Stock.Words, Mix: c.Mix, Low: c.Low, High: c.High, Assumed: c.Stock.Assumed, Volumes: c.Volumes(),
		Order: c.Order, Cautions: c.Cautions, Measures: c.Measures, Uses: []matter.Use{use}, Label: c.Label, Faces: p.Faces}
	return s.sendPDF(w, "mix-card.pdf", func(w io.Writer) error { return print.MixCard(w, m) })
}
