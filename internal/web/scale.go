package web

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/flow/scale"
	"aerugo/internal/flow/shape"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

func (s *Server) scaleRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /pieces/{id}/takes", s.takes)
	s.on(mux, "POST /pieces/{id}/takes", s.takeInto)
}

// takesPage says what a piece takes.
type takesPage struct {
	Frame
	*form
	Piece    studio.Piece
	Chambers []studio.Chamber
	Chamber  int64
	Takes    *scale.Takes
	Working  bool // how the piece lies is still being looked at
	None     bool // it has no recipe yet
	Stock    []takesStock
	Stays    []takesStay
	Lines    []takesLine
	Hands    string
	Waits    string
	Took     string // the recipes these figures are written into already
	Batch    string // where a batch is made; empty where there is no such page
}

type takesStock struct {
	scale.Stock
	Amount, What, Needed string
}

type takesStay struct {
	scale.Stay
	Recipe string
	Was    string // the swatch's pad
	WasIn  string
}

type takesLine struct {
	Recipe, Step, Loading, On, Take, Why string
	Assumed                              bool
}

// carried marks a version whose steps were carried to a piece: it names the version it
// came from, so that it is not carried a second time.
const carried = "Carried to the piece from version no. "

var carriedFrom = regexp.MustCompile(`^` + regexp.QuoteMeta(carried) + `(\d+)\b`)

// pieceLayer is one recipe version of a piece, as it was tried.
type pieceLayer struct {
	version studio.Version
	name    string
	faces   studio.Faces
	taken   bool
}

// carriedLayers returns the versions that the piece gets, the lowest first.
func (s *Server) carriedLayers(ctx context.Context, x studio.Piece) ([]pieceLayer, error) {
	var out []pieceLayer
	outside := studio.OnFront
	if x.SameFaces {
		outside = studio.OnBoth
	}
	for _, side := range []struct {
		id    int64
		faces studio.Faces
	}{{x.OutsideID, outside}, {x.InsideID, studio.OnBack}} {
		var chain []pieceLayer
		for id, n := side.id, 0; id != 0; n++ {
			if n > 20 {
				return nil, studio.Problemf(studio.Invalid, "recipe", "More than 20 recipes lie over each other on this piece; choose one with fewer below it.")
			}
			v, err := s.store.Version(ctx, id)
			if err != nil {
				return nil, err
			}
			l := pieceLayer{version: v, faces: side.faces}
			if m := carriedFrom.FindStringSubmatch(v.Why); m != nil {
				from, _ := strconv.ParseInt(m[1], 10, 64)
				was, err := s.store.Version(ctx, from)
				switch p := studio.ProblemIn(err); {
				case err == nil:
					l.version, l.taken = was, true
				case p == nil || p.Kind != studio.NotFound:
					return nil, err
				}
			}
			r, err := s.store.Recipe(ctx, l.version.RecipeID)
			if err != nil {
				return nil, err
			}
			l.name = fmt.Sprintf("%s, version %d", r.Name, l.version.Number)
			chain = append(chain, l)
			id = l.version.OverID
		}
		slices.Reverse(chain)
		out = append(out, chain...)
	}
	return out, nil
}

// done is what was done with recipes before.
type doneBefore struct {
	treatments []folded
	swatches   map[int64]studio.Swatch
}

func (s *Server) doneBefore(ctx context.Context) (d doneBefore, err error) {
	if d.treatments, err = s.treatments(ctx, store.TreatmentFilter{}); err != nil {
		return d, err
	}
	all, err := s.store.Swatches(ctx)
	d.swatches = map[int64]studio.Swatch{}
	for _, x := range all {
		d.swatches[x.Number] = x
	}
	return d, err
}

// tried is the swatch that a version was tried on: the piece's reference where it was,
// else the newest; and the chamber it was fumed in.
func (d doneBefore) tried(version, reference int64) (x studio.Swatch, chamber int64) {
	for _, f := range d.treatments {
		sw := d.swatches[f.Treatment.Swatch]
		if f.Treatment.VersionID != version || sw.OutsideMM2 > 0 || sw.InsideMM2 > 0 || x.Number == reference && reference != 0 {
			continue
		}
		x = sw
		if c := fumedIn(f.Treatment.Steps); c != 0 {
			chamber = c
		}
	}
	return x, chamber
}

func fumedIn(steps []studio.Step) int64 {
	for _, s := range steps {
		if s.Kind == studio.Fume && s.ChamberID != 0 {
			return s.ChamberID
		}
	}
	return 0
}

// hands are the steps that were done by hand, where their times can be meant: one that
// took many times as long as its recipe says was tapped late, or done to many at once.
func (d doneBefore) hands() (out []scale.Hand) {
	for _, f := range d.treatments {
		for i, step := range f.Treatment.Steps {
			if i >= len(f.Record.Steps) || step.Kind.Dwell() {
				continue
			}
			r := f.Record.Steps[i]
			took := r.Ended.Sub(r.Began)
			if r.Began.IsZero() || r.Ended.IsZero() || took < 10*time.Second || step.Duration == 0 || took > 3*step.Duration {
				continue
			}
			faces := f.Treatment.Faces
			if step.Faces != "" && faces == studio.OnBoth {
				faces = step.Faces
			}
			out = append(out, scale.Hand{Kind: step.Kind, AreaM2: d.swatches[f.Treatment.Swatch].FacesM2(faces), Minutes: took.Minutes()})
		}
	}
	return out
}

// upright reports whether a version was finished on a piece of a form like this.
func (s *Server) upright(ctx context.Context, x studio.Piece, d doneBefore) (bool, error) {
	batches, err := s.store.Batches(ctx, x.ID)
	if err != nil {
		return false, err
	}
	for _, f := range d.treatments {
		if f.Record.Status == run.Finished && slices.ContainsFunc(batches, func(b studio.Set) bool { return b.ID == f.Treatment.SetID }) {
			return true, nil
		}
	}
	return false, nil
}

// fillTakes reckons what a piece takes, as the form asks.
func (s *Server) fillTakes(r *http.Request) (p takesPage, layers []pieceLayer, err error) {
	ctx := r.Context()
	x, err := s.pieceIn(r)
	if err != nil {
		return p, nil, err
	}
	p = takesPage{Frame: s.frame(r, "What it takes: "+x.Name, "pieces"), form: readForm(r), Piece: x}
	if slices.Contains(s.patterns, "GET /pieces/{id}/batches/new") {
		p.Batch = fmt.Sprintf("/pieces/%d/batches/new", x.ID)
	}
	f, err := s.fuming(ctx)
	if err != nil {
		return p, nil, err
	}
	p.Chambers = f.chambers
	if layers, err = s.carriedLayers(ctx, x); err != nil {
		return p, nil, err
	}
	if p.None = len(layers) == 0; p.None {
		return p, nil, nil
	}
	d, err := s.doneBefore(ctx)
	if err != nil {
		return p, nil, err
	}
	a := scale.Ask{Form: x.Form, Supplies: f.supplies, Hands: d.hands(), Open: p.Val("open") == "yes", Spare: -1}
	from := int64(0)
	for _, l := range layers {
		sw, chamber := d.tried(l.version.ID, x.Reference)
		if a.Tried.ID == 0 && sw.MetalID != 0 {
			if a.Tried, err = s.store.Metal(ctx, sw.MetalID); err != nil {
				return p, nil, err
			}
		}
		if in := fumedIn(l.version.Steps); in != 0 && chamber == 0 {
			chamber = in
		}
		if from == 0 {
			from = chamber
		}
		a.Parts = append(a.Parts, scale.Part{Name: l.name, Faces: l.faces, Steps: l.version.Steps, Swatch: sw})
		if l.taken {
			p.Took = "These figures are written into the piece's recipe already."
		}
	}
	if x.MetalID != 0 {
		if a.Metal, err = s.store.Metal(ctx, x.MetalID); err != nil {
			return p, nil, err
		}
	}
	if mm := x.Form.DimsMM[shape.Thickness]; mm > 0 {
		a.Metal.ThicknessMM = mm
	}
	if a.Upright, err = s.upright(ctx, x, d); err != nil {
		return p, nil, err
	}
	p.read(&a, f.chambers, from)
	for _, c := range f.chambers {
		if c.ID == from {
			if a.From, _, err = s.bench(ctx, f, c); err != nil {
				return p, nil, err
			}
		}
		if c.ID == p.Chamber {
			if a.To, _, err = s.bench(ctx, f, c); err != nil {
				return p, nil, err
			}
		}
	}
	a.Room = f.rooms[a.To.Chamber.RoomID]
	if !scale.Flat(x.Form) {
		if err := s.lieOf(ctx, x, f.chambers, &a, &p); err != nil {
			return p, nil, err
		}
	}
	if !p.ok() {
		return p, layers, nil
	}
	got, err := scale.Reckon(a)
	if err := p.blame(err, "count", "together", "temp", "colder", "spare", "chamber"); err != nil {
		return p, nil, err
	}
	if p.ok() {
		p.show(got)
	}
	return p, layers, nil
}

// read takes what the form asks into a.
func (p *takesPage) read(a *scale.Ask, chambers []studio.Chamber, from int64) {
	a.Count = int(p.whole("count", "number of pieces", 1))
	a.Together = int(p.whole("together", "number at once", 0))
	if p.Val("temp") != "" {
		c := p.number("temp", "temperature", "°C", 0)
		a.TempC = &c
	}
	if p.Val("colder") != "" {
		c := p.number("colder", "difference", "°C", 0)
		a.ColderC = &c
	}
	if p.Val("spare") != "" {
		if a.Spare = p.number("spare", "spare", "%", 0) / 100; a.Spare < 0 {
			p.say("spare", "A spare below nothing can't be; write 0 to 100.")
		}
	}
	if p.Chamber = p.whole("chamber", "chamber", 0); p.Chamber == 0 {
		p.Chamber = usualChamber(chambers, from, a.Form.SizeMM)
	}
	if p.Chamber != 0 && !slices.ContainsFunc(chambers, func(c studio.Chamber) bool { return c.ID == p.Chamber }) {
		p.say("chamber", "There is no chamber with the number %d; choose one from the list.", p.Chamber)
	}
}

// usualChamber is the swatch's where the piece fits into it, else the smallest that it
// fits into, else the largest; 0 where there is none.
func usualChamber(chambers []studio.Chamber, from int64, size [3]float64) int64 {
	sorted := slices.Clone(chambers)
	slices.SortStableFunc(sorted, func(a, b studio.Chamber) int {
		switch {
		case a.ID == from && b.ID != from:
			return -1
		case b.ID == from && a.ID != from:
			return 1
		case a.VolumeL < b.VolumeL:
			return -1
		case a.VolumeL > b.VolumeL:
			return 1
		}
		return 0
	})
	for _, c := range sorted {
		if scale.Fits(c, size) {
			return c.ID
		}
	}
	if len(chambers) == 0 {
		return 0
	}
	return slices.MaxFunc(chambers, func(a, b studio.Chamber) int { return int(a.VolumeL - b.VolumeL) }).ID
}

// lieOf adds how the piece's faces lie, when that has been looked at.
func (s *Server) lieOf(ctx context.Context, x studio.Piece, chambers []studio.Chamber, a *scale.Ask, p *takesPage) error {
	t := s.lookOver(x.Form, chambers)
	if p.Working = !t.ready(ctx); p.Working {
		return nil
	}
	if t.err != nil {
		var problem *studio.Problem
		if errors.As(t.err, &problem) {
			return nil // the form can't be drawn; it is then not known how it lies
		}
		return t.err
	}
	o := t.value.(lookedOver).over.Standing
	a.Lie = &scale.Lie{Slopes: o.Slopes, Ponds: o.Ponds}
	return nil
}

// show puts the answer into words.
func (p *takesPage) show(t scale.Takes) {
	p.Takes = &t
	for _, x := range t.Stock {
		v := takesStock{Stock: x, Amount: scale.Amount(x.Make, x.Unit), What: x.Name, Needed: scale.Range(x.Need, x.Unit)}
		if x.Strength > 0 && x.Strength < 100 {
			v.What = fmt.Sprintf("%s, %s %%", x.Name, number(x.Strength, 1))
		}
		p.Stock = append(p.Stock, v)
	}
	for _, x := range t.Stays {
		p.Stays = append(p.Stays, takesStay{Stay: x, Recipe: t.Parts[x.Part].Name,
			Was: fmt.Sprintf("%s of %s %%", scale.Amount(x.PadWas.SolutionG, studio.Gram), number(100*x.PadWas.Strength, 1)), WasIn: studio.Span(time.Duration(x.WasH * float64(time.Hour)))})
	}
	for _, l := range t.Lines {
		v := takesLine{Recipe: t.Parts[l.Part].Name, Step: fmt.Sprintf("%d. %s", l.Step+1, capital(string(l.Kind))), Loading: l.Loading.String(), Assumed: l.Assumed}
		if l.Material != "" {
			v.Step += ", " + strings.ReplaceAll(l.Material, "-", " ")
		}
		if l.Unknown != "" {
			v.Why = capital(l.Unknown) + "."
		} else {
			v.On = fmt.Sprintf("%s (%s)", scale.Amount(l.On.Value, l.Unit), scale.Range(l.On, l.Unit))
			v.Take = fmt.Sprintf("%s (%s)", scale.Amount(l.Take.Value, l.Unit), scale.Range(l.Take, l.Unit))
			v.Why = fmt.Sprintf("%s %% %s", number(100*l.Lost.Value, 0), l.Why)
		}
		p.Lines = append(p.Lines, v)
	}
	if t.Hands.Value > 0 {
		min := func(m float64) string { return studio.Span(time.Duration(m * float64(time.Minute)).Round(time.Minute)) }
		p.Hands = fmt.Sprintf("%s (%s to %s)", min(t.Hands.Value), min(t.Hands.Low), min(t.Hands.High))
	}
	if t.Waits > 0 {
		p.Waits = studio.Span(time.Duration(t.Waits * float64(time.Hour)).Round(time.Minute))
	}
}

// MayTake reports whether the page can take its figures into the piece's recipe.
func (p takesPage) MayTake() bool {
	return p.Takes != nil && p.Takes.Safe.Refused == "" && p.Took == ""
}

// Fields are the form's values, to be sent again with the figures.
func (p takesPage) Fields() [][2]string {
	var out [][2]string
	for _, name := range []string{"count", "together", "temp", "colder", "spare", "open"} {
		if v := p.Val(name); v != "" {
			out = append(out, [2]string{name, v})
		}
	}
	return append(out, [2]string{"chamber", strconv.FormatInt(p.Chamber, 10)})
}

func (s *Server) takes(w http.ResponseWriter, r *http.Request) error {
	p, _, err := s.fillTakes(r)
	if err != nil {
		return err
	}
	return s.showTakes(w, p)
}

func (s *Server) showTakes(w http.ResponseWriter, p takesPage) error {
	code := http.StatusOK
	if !p.ok() {
		p.onTop("count", "together", "temp", "colder", "spare", "chamber")
		code = http.StatusUnprocessableEntity
	}
	s.show(w, code, "scale", p)
	return nil
}

// takeInto is POST /pieces/{id}/takes: the figures become recipes of the piece's own.
func (s *Server) takeInto(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	p, layers, err := s.fillTakes(r)
	if err != nil {
		return err
	}
	if p.None {
		return studio.Problemf(studio.Invalid, "recipe", "%s has no recipe yet; choose one on its page first.", p.Piece.Name)
	}
	if p.ok() && p.Took != "" {
		p.say("", "%s Choose the recipe that was tried on the swatch on the piece's page, to reckon afresh.", p.Took)
	}
	if p.ok() && p.Takes.Safe.Refused != "" {
		p.say("", "%s", p.Takes.Safe.Refused)
	}
	if !p.ok() {
		return s.showTakes(w, p)
	}
	x := p.Piece
	below := map[studio.Faces]int64{}
	for i, l := range layers {
		steps, _ := p.Takes.StepsFor(i)
		v := studio.Version{Steps: steps, OverID: below[l.faces], Source: l.version.Source, Why: fmt.Sprintf("%s%d (%s), for %s.", carried, l.version.ID, l.name, x.Name)}
		if v.OverID != 0 {
			v.Over = l.version.Over
		}
		kept, err := s.keepCarried(ctx, l, x, v)
		if err != nil {
			return err
		}
		below[l.faces] = kept
	}
	for faces, id := range below {
		if faces == studio.OnBack {
			x.InsideID = id
		} else {
			x.OutsideID = id
		}
	}
	if _, err := s.store.SavePiece(ctx, x); err != nil {
		return err
	}
	s.live.changed()
	to := p.Batch
	if to == "" {
		to = fmt.Sprintf("/pieces/%d/takes", x.ID)
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}

// keepCarried keeps a version under the piece's own recipe, made at need, and returns
// its number.
func (s *Server) keepCarried(ctx context.Context, l pieceLayer, x studio.Piece, v studio.Version) (int64, error) {
	base, _, _ := strings.Cut(l.name, ", version ")
	name := fmt.Sprintf("%s, for %s", base, x.Name)
	if l.faces == studio.OnBack && x.OutsideID != 0 {
		name += " inside"
	}
	if r := []rune(name); len(r) > 120 {
		name = string(r[:120])
	}
	all, err := s.store.Recipes(ctx)
	if err != nil {
		return 0, err
	}
	for _, r := range all {
		if r.Name == name {
			kept, err := s.store.AddVersion(ctx, r.ID, v)
			return kept.ID, err
		}
	}
	kept, err := s.store.AddRecipe(ctx, studio.Recipe{Name: name, Invented: x.Invented}, v)
	return kept.Latest.ID, err
}
