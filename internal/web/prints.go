package web

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net/http"
	"path/filepath"
	"slices"
	"strings"

	"aerugo/internal/flow/evidence"
	"aerugo/internal/flow/mat"
	"aerugo/internal/flow/plan"
	"aerugo/internal/flow/run"
	"aerugo/internal/print"
	"aerugo/internal/science/matter"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

func (s *Server) printRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /sets/{id}/labels.pdf", s.labelsPDF)
	s.on(mux, "GET /sets/{id}/bench.pdf", s.benchPDF)
	s.on(mux, "GET /mat.pdf", s.matPDF)
	s.on(mux, "GET /sets/{id}/bench", s.benchPage)
	s.on(mux, "GET /recipes/{id}/card.pdf", s.cardPDF)
	s.on(mux, "GET /recipes/{id}/card", s.cardPage)
}

// paper reads ?sheet=a4 or letter.
func paper(r *http.Request) print.Paper {
	if strings.EqualFold(r.FormValue("sheet"), "letter") {
		return print.Letter
	}
	return print.A4
}

// studioName is what stands on printed sheets: the folder's own name.
func (s *Server) studioName() string { return filepath.Base(s.store.Dir()) }

// sendPDF writes a PDF whole, so that a fault shows as a page; or its words as a page,
// when that was asked for.
func (s *Server) sendPDF(w http.ResponseWriter, name string, draw func(io.Writer) error) error {
	if page, ok := w.(onPage); ok {
		return s.showWords(page, draw)
	}
	var buf bytes.Buffer
	if err := draw(print.In(printedIn(w), &buf)); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/pdf")
	w.Header().Set("Content-Disposition", fmt.Sprintf("inline; filename=%q", name))
	_, _ = w.Write(buf.Bytes())
	return nil
}

func (s *Server) setIn(r *http.Request) (studio.Set, error) {
	id, err := idIn(r, "id")
	if err != nil {
		return studio.Set{}, err
	}
	return s.store.Set(r.Context(), id)
}

func (s *Server) labelsPDF(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	set, err := s.setIn(r)
	if err != nil {
		return err
	}
	_, clashes, err := s.mayPrint(ctx, set)
	if err != nil {
		return err
	}
	swatches, err := s.store.SwatchesOf(ctx, set.ID)
	if err != nil {
		return err
	}
	ts, err := s.store.Treatments(ctx, store.TreatmentFilter{Set: set.ID})
	if err != nil {
		return err
	}
	metal, err := s.store.Metal(ctx, set.MetalID)
	if err != nil {
		return err
	}
	var labels []print.Label
	for _, x := range swatches {
		for _, face := range studio.BothFaces {
			l := print.Label{Number: x.Number, Face: face, SetName: set.Name, Metal: metal.Name, Invented: set.Invented}
			for _, t := range ts {
				if t.Swatch == x.Number && t.Faces.Has(face) && len(t.Settings) > 0 {
					l.Settings = settingsText(t.Settings)
				}
			}
			if x.Blank {
				l.Settings = "blank, kept bare"
			}
			labels = append(labels, l)
		}
	}
	f := readForm(r)
	sheet := print.LabelSheet{Paper: paper(r), Start: int(f.whole("start", "first label", 1)), Studio: s.studioName(), Date: s.now(), Clashes: clashes}
	for field, text := range f.wrong {
		return studio.Problemf(studio.Invalid, field, "%s", text)
	}
	return s.sendPDF(w, fmt.Sprintf("labels-set-%d.pdf", set.ID), func(w io.Writer) error { return print.Labels(w, labels, sheet) })
}

func (s *Server) sheet(ctx context.Context, set studio.Set) (run.Sheet, error) {
	swatches, err := s.store.SwatchesOf(ctx, set.ID)
	if err != nil {
		return run.Sheet{}, err
	}
	ts, err := s.store.Treatments(ctx, store.TreatmentFilter{Set: set.ID})
	if err != nil {
		return run.Sheet{}, err
	}
	return run.BenchSheet(set, swatches, ts), nil
}

func (s *Server) benchPDF(w http.ResponseWriter, r *http.Request) error {
	set, err := s.setIn(r)
	if err != nil {
		return err
	}
	place, clashes, err := s.mayPrint(r.Context(), set)
	if err != nil {
		return err
	}
	sheet, err := s.sheet(r.Context(), set)
	if err != nil {
		return err
	}
	p := print.Sheet{Paper: paper(r), Date: s.now(), Studio: s.studioName(), Run: sheet, Place: place.Words(), Clashes: clashes, Invented: set.Invented}
	return s.sendPDF(w, fmt.Sprintf("bench-set-%d.pdf", set.ID), func(w io.Writer) error { return print.BenchSheet(w, p) })
}

// matPDF is the mat photographs are taken on.
func (s *Server) matPDF(w http.ResponseWriter, r *http.Request) error {
	kind := mat.OneSwatch
	if r.FormValue("swatches") == "2" {
		kind = mat.TwoSwatches
	}
	layout, ok := mat.LayoutOf(string(paper(r)), kind)
	if !ok {
		return studio.Problemf(studio.NotFound, "", "There is no mat for that paper.")
	}
	return s.sendPDF(w, "photo-mat.pdf", func(w io.Writer) error { return print.Mat(w, layout, s.now()) })
}

// benchSheetPage is the bench sheet as a page, for those who can't read the PDF.
type benchSheetPage struct {
	Frame
	Set   studio.Set
	Sheet run.Sheet
	Place string
	Minds []string
	Print sheetLinks
}

func (s *Server) benchPage(w http.ResponseWriter, r *http.Request) error {
	set, err := s.setIn(r)
	if err != nil {
		return err
	}
	place, clashes, err := s.mayPrint(r.Context(), set)
	if err != nil {
		return err
	}
	p := benchSheetPage{Frame: s.frame(r, set.Name+", bench sheet", "plan"), Set: set, Place: place.Words(), Minds: clashTexts(clashes), Print: linksTo(fmt.Sprintf("/sets/%d/bench.pdf", set.ID), nil)}
	if p.Sheet, err = s.sheet(r.Context(), set); err != nil {
		return err
	}
	s.show(w, http.StatusOK, "bench_sheet", p)
	return nil
}

// card gathers what a recipe card says.
func (s *Server) card(r *http.Request) (print.Card, error) {
	ctx := r.Context()
	rec, v, err := s.versionAsked(r)
	if err != nil {
		return print.Card{}, err
	}
	c := print.Card{Paper: paper(r), Date: s.now(), Studio: s.studioName(), Name: rec.Name, Version: v.Number, Made: v.Made, OverState: v.Over, Invented: rec.Invented}
	if v.OverID != 0 {
		link, err := s.recipeLink(ctx, v.OverID)
		if err != nil {
			return c, err
		}
		c.Over = link.Name
	}
	supplies, err := s.store.Supplies(ctx)
	if err != nil {
		return c, err
	}
	names, err := s.supplyNames(ctx)
	if err != nil {
		return c, err
	}
	chambers, err := s.chamberNames(ctx)
	if err != nil {
		return c, err
	}
	hands, err := s.store.HandAmounts(ctx)
	if err != nil {
		return c, err
	}
	for _, step := range v.Steps {
		if step.Amount.Hand != "" {
			if a, ok := studio.Resolve(hands, step.Amount.Hand, step.HandKey(step.Material)); ok {
				step.Amount = a
			}
		}
		cs := print.CardStep{Step: step, Supply: names[step.SupplyID], Chamber: chambers[step.ChamberID]}
		if cs.Supply == "" && step.Material != "" {
			cs.Supply = substanceName(step.Material)
		}
		c.Steps = append(c.Steps, cs)
	}
	layers, err := s.below(ctx, v)
	if err != nil {
		return c, err
	}
	layers = append(layers, v)
	c.Uses = plan.Uses(layers, supplies)
	metal, err := s.evidence(ctx, &c, v)
	if err != nil {
		return c, err
	}
	c.Place, err = s.mayHandOut(r, layers, metal, supplies)
	return c, err
}

// cardPlace reads where a card is to be used and for whom.
func (s *Server) cardPlace(r *http.Request) (placeForm, error) {
	f := readForm(r)
	p := placeForm{Room: f.whole("room", "room", 0), Class: studio.ClassOf(f.Val("class"))}
	var err error
	if p.Rooms, err = s.store.Rooms(r.Context()); err != nil {
		return p, err
	}
	if !slices.Contains(studio.Classes, p.Class) {
		return p, studio.Problemf(studio.Invalid, "class", "%q is no class known here; choose one from the list.", string(p.Class))
	}
	if p.Room != 0 && !slices.ContainsFunc(p.Rooms, func(x studio.Room) bool { return x.ID == p.Room }) {
		return p, studio.Problemf(studio.NotFound, "room", "That room is not on the shelf any more; choose another.")
	}
	return p, nil
}

// mayHandOut refuses a card by what refuses the sheets of a set, where it is done and for
// whom, and says these two.
func (s *Server) mayHandOut(r *http.Request, layers []studio.Version, metal studio.Metal, supplies []studio.Supply) (string, error) {
	form, err := s.cardPlace(r)
	if err != nil {
		return "", err
	}
	place := plan.PlaceOf(studio.Set{RoomID: form.Room, Class: form.Class}, form.Rooms)
	var ts []studio.Treatment
	for i, v := range layers {
		ts = append(ts, studio.Treatment{Swatch: 1, Faces: studio.OnFront, Layer: i + 1, Over: v.Over, VersionID: v.ID, Steps: v.Steps})
	}
	_, problem := place.Allow(ts, supplies, metal)
	if problem == nil {
		if problem, err = s.inRightHands(r.Context(), form.Class, ts); err != nil {
			return "", err
		}
	}
	if problem != nil {
		return "", problem
	}
	return place.Words(), nil
}

// evidence adds the swatches made with this version, what they know of it, and the
// photographs of the newest. It returns the metal of the newest.
func (s *Server) evidence(ctx context.Context, c *print.Card, v studio.Version) (metal studio.Metal, err error) {
	t, err := s.triedWith(ctx)
	if err != nil {
		return metal, err
	}
	versions, err := s.store.Versions(ctx, v.RecipeID)
	if err != nil {
		return metal, err
	}
	known, err := s.evidenceOf(ctx, t, v, versions)
	if err != nil {
		return metal, err
	}
	for _, line := range []string{known.Tried, known.Line, evidence.CareLine(known.cares)} {
		if line != "" {
			c.Known = append(c.Known, line)
		}
	}
	best := map[studio.Face]madeFace{}
	for _, m := range t.faces[v.ID] {
		c.Evidence = append(c.Evidence, fmt.Sprintf("%d %s, %s", m.Swatch, m.Face, m.Name))
		if old, ok := best[m.Face]; !ok || m.At.After(old.At) {
			best[m.Face] = m
		}
	}
	var last madeFace
	for _, m := range best {
		if last.metal == 0 || m.At.After(last.At) {
			last = m
		}
	}
	if begun := t.begun[v.ID]; last.metal == 0 && len(begun) > 0 { // not measured yet
		x, err := s.store.Swatch(ctx, begun[len(begun)-1].Treatment.Swatch)
		if err != nil {
			return metal, err
		}
		last.metal = x.MetalID
	}
	if kept, err := s.referenceOf(ctx, v); err != nil {
		return metal, err
	} else if kept != nil && last.metal == 0 { // what it was kept from shows what it is to look like
		x, err := s.store.Swatch(ctx, kept.Swatch)
		if err != nil {
			return metal, err
		}
		last.metal = x.MetalID
		c.Known = append(c.Known, fmt.Sprintf("Kept from swatch %d, %s, as it was run: that is the one in the picture.", kept.Swatch, facesWord(kept.Faces)))
		for _, m := range kept.Photos {
			best[m.Face] = m
		}
	}
	if metal, err = s.metalOf(ctx, last.metal); err != nil {
		return metal, err
	}
	if metal.ID != 0 {
		c.Metal = plan.MetalWords(metal)
	}
	for _, face := range studio.BothFaces {
		look, ok := best[face]
		if !ok {
			continue
		}
		photo, err := s.store.Photo(ctx, look.Photo)
		if err != nil {
			return metal, err
		}
		jpeg, err := s.made(ctx, photo, "face")
		if err != nil {
			return metal, err
		}
		c.Faces = append(c.Faces, print.CardFace{Swatch: look.Swatch, Face: face, JPEG: jpeg, Measured: photo.Measurement})
	}
	return metal, nil
}

func (s *Server) cardPDF(w http.ResponseWriter, r *http.Request) error {
	c, err := s.card(r)
	if err != nil {
		return err
	}
	name := strings.Map(func(c rune) rune {
		if c >= 'a' && c <= 'z' || c >= '0' && c <= '9' {
			return c
		}
		return '-'
	}, strings.ToLower(c.Name))
	return s.sendPDF(w, fmt.Sprintf("recipe-%s-v%d.pdf", strings.Trim(name, "-"), c.Version), func(w io.Writer) error { return print.RecipeCard(w, c) })
}

// cardPageData is the recipe card as a page, for those who can't read the PDF.
type cardPageData struct {
	Frame
	Card     print.Card
	Steps    []cardStepView
	Stops    string
	Cautions []matter.Caution
	Photos   []cardPhoto
	Print    sheetLinks
}

type cardStepView struct {
	What  string
	Lines []string
}

type cardPhoto struct {
	Swatch   int64
	Face     studio.Face
	Photo    int64
	Measured *studio.Measurement
}

func (s *Server) cardPage(w http.ResponseWriter, r *http.Request) error {
	c, err := s.card(r)
	if err != nil {
		return err
	}
	p := cardPageData{Frame: s.frame(r, c.Name+", recipe card", "recipes"), Card: c, Print: linksTo(r.URL.Path+".pdf", r.URL.Query())}
	p.Cautions = matter.Cautions(c.Uses, c.Metal)
	for _, clash := range matter.Clashes(c.Uses, c.Metal) {
		if clash.Level == matter.Stop {
			return studio.Problemf(studio.Unsafe, "", "%s", clash.String())
		}
	}
	for _, step := range c.Steps {
		v := cardStepView{What: capital(string(step.Step.Kind))}
		var with []string
		if step.Supply != "" {
			with = append(with, step.Supply)
		}
		if !step.Step.Amount.IsZero() {
			with = append(with, step.Step.Amount.String()+usAmount(step.Step.Amount))
		}
		if len(with) > 0 {
			v.Lines = append(v.Lines, strings.Join(with, ", "))
		}
		if step.Step.Duration > 0 {
			text := studio.Span(step.Step.Duration)
			if step.Step.Early > 0 || step.Step.Late > 0 {
				text += fmt.Sprintf(", −%s to +%s", studio.Span(step.Step.Early), studio.Span(step.Step.Late))
			}
			v.Lines = append(v.Lines, text)
		}
		for _, text := range []string{step.Chamber, step.Step.Place, step.Step.Tool, step.Step.Note} {
			if text != "" {
				v.Lines = append(v.Lines, text)
			}
		}
		p.Steps = append(p.Steps, v)
	}
	looks, err := s.looksByFace(r.Context())
	if err != nil {
		return err
	}
	for _, f := range c.Faces {
		p.Photos = append(p.Photos, cardPhoto{f.Swatch, f.Face, looks[faceKey{f.Swatch, f.Face}].Photo, f.Measured})
	}
	s.show(w, http.StatusOK, "card", p)
	return nil
}

// usAmount writes an amount once more in US units.
func usAmount(a studio.Amount) string {
	from, to := matter.Unit(""), matter.Unit("")
	switch a.Unit {
	case studio.GramPerM2:
		from, to = matter.GramPerM2, matter.OuncePerFt2
	case studio.MLPerM2:
		from, to = matter.MillilitrePerM2, matter.FluidOunceFt2
	case studio.Gram:
		from, to = matter.Gram, matter.Ounce
	case studio.Millilitre:
		from, to = matter.Millilitre, matter.FluidOunce
	default:
		return ""
	}
	v, err := matter.Convert(a.Value, from, to)
	if err != nil {
		return ""
	}
	return " = " + v.Text
}
