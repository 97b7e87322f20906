package web

import (
	"context"
	"fmt"
	"html/template"
	"math"
	"net/http"
	"strconv"
	"time"

	"aerugo/internal/flow/batch"
	"aerugo/internal/flow/plan"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

func (s *Server) batchRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /pieces/{id}/batches/new", s.newBatch)
	s.on(mux, "POST /pieces/{id}/batches", s.makeBatch)
	s.on(mux, "GET /batches/{set}", s.batch)
	s.on(mux, "GET /batches/{set}/cutting.pdf", s.cuttingPDF)
	s.on(mux, "POST /batches/{set}/verdicts", s.giveVerdict)
}

// batchForm asks for a batch of a piece.
type batchForm struct {
	Frame
	*form
	Piece     studio.Piece
	Chambers  []studio.Chamber
	ChamberID int64
	Place     placeForm
	Yield     batch.Yield
	Seen      *batchSeen
}

// batchSeen is a batch laid out, before it is made.
type batchSeen struct {
	Words    string
	Notes    []string
	Cautions []string
	Fillings []batch.Filling
	Cut      *cutView
	Shelf    shelfAnswer
	layout   plan.Layout
}

// cutView is a cutting list on a page.
type cutView struct {
	Words    string
	Drawings []template.HTML
}

// pieceYield adds up the verdicts on all batches of a piece.
func (s *Server) pieceYield(ctx context.Context, piece int64) (batch.Yield, error) {
	sum := batch.Yield{}.Plus(batch.Yield{})
	sets, err := s.store.Batches(ctx, piece)
	if err != nil {
		return sum, err
	}
	for _, set := range sets {
		y, err := s.setYield(ctx, set.ID)
		if err != nil {
			return sum, err
		}
		sum = sum.Plus(y)
	}
	return sum, nil
}

func (s *Server) setYield(ctx context.Context, set int64) (batch.Yield, error) {
	swatches, err := s.store.SwatchesOf(ctx, set)
	if err != nil {
		return batch.Yield{}, err
	}
	verdicts, err := s.store.Verdicts(ctx, set)
	if err != nil {
		return batch.Yield{}, err
	}
	var numbers []int64
	for _, x := range swatches {
		numbers = append(numbers, x.Number)
	}
	return batch.YieldOf(numbers, verdicts), nil
}

func (s *Server) fillBatchForm(r *http.Request) (p batchForm, err error) {
	ctx := r.Context()
	p.form = readForm(r)
	if p.Piece, err = s.pieceIn(r); err != nil {
		return p, err
	}
	p.Frame = s.frame(r, "A batch of "+p.Piece.Name, "pieces")
	if p.Chambers, err = s.store.Chambers(ctx); err != nil {
		return p, err
	}
	if p.Place.Rooms, err = s.store.Rooms(ctx); err != nil {
		return p, err
	}
	if p.Yield, err = s.pieceYield(ctx, p.Piece.ID); err != nil {
		return p, err
	}
	before, err := s.store.Batches(ctx, p.Piece.ID)
	if err != nil {
		return p, err
	}
	start := func(name, text string) {
		if !p.values.Has(name) {
			p.set(name, text)
		}
	}
	start("name", fmt.Sprintf("%s, batch %d", p.Piece.Name, len(before)+1))
	start("pieces", "30")
	start("seed", strconv.Itoa(1+int(s.now().Unix()%9999)))
	if len(p.Chambers) > 0 {
		start("chamber", strconv.FormatInt(p.Chambers[0].ID, 10))
	}
	blankStart(p.form, p.Piece.Form)
	p.ChamberID = p.whole("chamber", "chamber", 0)
	p.Place.Room, p.Place.Class = p.whole("room", "room", 0), studio.ClassOf(p.Val("class"))
	return p, nil
}

func (s *Server) newBatch(w http.ResponseWriter, r *http.Request) error {
	p, err := s.fillBatchForm(r)
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "batch_new", p)
	return nil
}

// batchFields are the fields a problem can stand beside.
var batchFields = []string{"name", "pieces", "spares", "chamber", "seed", "width", "height", "disc", "sheetw", "sheeth", "kerf", "edge"}

// makeBatch is POST /pieces/{id}/batches: it shows the batch, or makes it.
func (s *Server) makeBatch(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	p, err := s.fillBatchForm(r)
	if err != nil {
		return err
	}
	code := http.StatusUnprocessableEntity
	if p.ok() {
		p.Seen, err = s.layBatch(ctx, &p)
		if pr := studio.ProblemIn(err); pr != nil {
			code = status(pr.Kind)
		}
		if err := p.blame(err, batchFields...); err != nil {
			return err
		}
	}
	if !p.ok() {
		p.onTop(batchFields...)
		s.show(w, code, "batch_new", p)
		return nil
	}
	if p.Val("do") != "make" {
		s.show(w, http.StatusOK, "batch_new", p)
		return nil
	}
	lay := p.Seen.layout
	lay.Set.Made = s.now().UTC()
	pieces := make([]store.NewSwatch, len(lay.Pieces))
	for i, x := range lay.Pieces {
		x.Swatch.Made = lay.Set.Made
		pieces[i] = store.NewSwatch{Swatch: x.Swatch, Treatments: x.Treatments}
	}
	set, made, err := s.store.AddSet(ctx, lay.Set, pieces)
	if err != nil {
		return err
	}
	s.live.changed()
	return backSaying(w, r, fmt.Sprintf("/batches/%d", set.ID), fmt.Sprintf("Pieces %d to %d are planned. Print their labels, then start.", made[0].Number, made[len(made)-1].Number))
}

// layBatch lays a batch out: its treatments by the same rules as any set's, its
// fillings, and its cutting list when a sheet was typed.
func (s *Server) layBatch(ctx context.Context, p *batchForm) (*batchSeen, error) {
	x := p.Piece
	if x.OutsideID == 0 {
		return nil, studio.Problemf(studio.Conflict, "", "%s has no recipe yet; change the piece and choose one for its outside first.", x.Name)
	}
	if x.MetalID == 0 {
		return nil, studio.Problemf(studio.Conflict, "", "%s has no metal yet; change the piece and choose one first.", x.Name)
	}
	want := int(p.whole("pieces", "number of pieces", 0))
	total, assumed, err := batch.Spares(want, p.Yield)
	typed := p.Val("spares") != ""
	if typed {
		total = want + int(p.whole("spares", "number of spares", 0))
		if want >= 1 && total >= want {
			err = nil
		} else if want >= 1 {
			err = studio.Problemf(studio.Invalid, "spares", "There can't be %d spares; write 0 or more.", total-want)
		}
	}
	if err != nil {
		return nil, err
	}
	if total > batch.MaxPieces {
		return nil, studio.Problemf(studio.Invalid, "pieces", "%d pieces with %d spares are more than one batch holds; write %d or fewer in all.", want, total-want, batch.MaxPieces)
	}
	seed, err := strconv.ParseUint(p.Val("seed"), 10, 64)
	if err != nil {
		return nil, studio.Problemf(studio.Invalid, "seed", "%q is not a whole number; write one like 4711.", p.Val("seed"))
	}
	a := plan.Ask{Name: p.Val("name"), Shape: studio.Loose, Replicates: 1, Seed: seed, WidthMM: x.Form.SizeMM[0], HeightMM: x.Form.SizeMM[1], SameFaces: x.SameFaces}
	if p.ChamberID != 0 {
		if a.Chamber, err = s.store.Chamber(ctx, p.ChamberID); err != nil {
			return nil, err
		}
	}
	if a.Front, err = s.store.Version(ctx, x.OutsideID); err != nil {
		return nil, err
	}
	if a.FrontBelow, err = s.below(ctx, a.Front); err != nil {
		return nil, err
	}
	if x.InsideID != 0 {
		v, err := s.store.Version(ctx, x.InsideID)
		if err != nil {
			return nil, err
		}
		a.Back = &v
		if a.BackBelow, err = s.below(ctx, v); err != nil {
			return nil, err
		}
	}
	supplies, err := s.store.Supplies(ctx)
	if err != nil {
		return nil, err
	}
	hands, err := s.store.HandAmounts(ctx)
	if err != nil {
		return nil, err
	}
	metal, err := s.store.Metal(ctx, x.MetalID)
	if err != nil {
		return nil, err
	}
	lay, err := plan.LayProposed(a, nil, make([][]int, total), supplies, hands, metal)
	if err != nil {
		return nil, err
	}
	lay.Set.Shape, lay.Set.Design, lay.Set.PieceID = studio.Loose, studio.Full, x.ID
	lay.Set.Class, lay.Set.RoomID, lay.Set.Invented = p.Place.Class, p.Place.Room, x.Invented
	if err := lay.Set.Class.Check(); err != nil {
		return nil, err
	}
	var problem *studio.Problem
	if lay.Clashes, problem = plan.PlaceOf(lay.Set, p.Place.Rooms).AllowSet(lay.Treatments(), supplies, metal); problem != nil {
		return nil, problem
	}
	if problem, err = s.inRightHands(ctx, lay.Set.Class, lay.Treatments()); err != nil {
		return nil, err
	} else if problem != nil {
		return nil, problem
	}
	out := &batchSeen{Cautions: clashTexts(lay.Clashes)}
	out.Words = fmt.Sprintf("%d pieces: %d wanted and %d spare.", total, want, total-want)
	switch {
	case typed:
	case assumed:
		out.Notes = append(out.Notes, "One spare in ten is assumed: no piece of this kind is accepted or rejected yet.")
	default:
		out.Notes = append(out.Notes, fmt.Sprintf("So many spares leave %d good pieces nine times in ten, by what came out so far: %s", want, p.Yield.Words))
	}
	if a.Chamber.ID != 0 && a.Chamber.Places > 0 && fumes(a) {
		out.Fillings, err = batch.Fillings(total, []batch.Place{{Chamber: a.Chamber.ID, Name: a.Chamber.Name, Holds: a.Chamber.Places}}, s.now(), fumingTime(a), turnaround)
		if err != nil {
			return nil, err
		}
		out.Notes = append(out.Notes, "Places in the chamber are those for swatches; a larger piece takes more than one.")
	}
	for i := range lay.Pieces {
		q := &lay.Pieces[i].Swatch
		q.OutsideMM2, q.InsideMM2 = x.Form.OutsideMM2, x.Form.InsideMM2
		for k := range lay.Pieces[i].Treatments {
			for _, f := range out.Fillings {
				if i+1 >= f.First && i+1 <= f.Last {
					lay.Pieces[i].Treatments[k].Block = f.N
				}
			}
		}
	}
	out.layout = lay
	if out.Shelf, err = s.layoutAtShelf(ctx, lay, blankOf(lay.Set, x.Form)); err != nil {
		return nil, err
	}
	if p.Val("sheetw") != "" || p.Val("sheeth") != "" {
		blank := readBlank(p.form, total)
		if !p.ok() {
			return out, nil
		}
		cut, err := batch.Cut(blank)
		if err != nil {
			return nil, err
		}
		out.Cut = viewCut(blank, cut)
	}
	return out, nil
}

// turnaround is what emptying and filling a chamber takes.
const turnaround = 30 * time.Minute

func fumes(a plan.Ask) bool { return fumingTime(a) > 0 }

// fumingTime is how long a piece lies in the chamber.
func fumingTime(a plan.Ask) time.Duration {
	sum := time.Duration(0)
	for _, v := range append(append([]studio.Version{}, a.FrontBelow...), a.Front) {
		for _, st := range v.Steps {
			if st.Kind == studio.Fume {
				sum += st.Duration
			}
		}
	}
	return sum
}

// blankStart fills in what a piece is cut from, as far as its form tells.
func blankStart(f *form, x studio.Form) {
	if f.values.Has("width") {
		return
	}
	w, h, disc := blankSize(x)
	if disc > 0 {
		f.set("disc", number(disc, 1))
	}
	f.set("width", number(w, 1))
	f.set("height", number(h, 1))
	f.set("kerf", number(usualKerfMM, 1))
	f.set("edge", number(usualEdgeMM, 1))
	f.set("across", "yes")
}

// blankSize is what a piece is cut from, as far as its form tells: a rectangle, or a
// disc where it is as wide as long and another area than the square.
func blankSize(x studio.Form) (w, h, disc float64) {
	w, h = x.SizeMM[0], x.SizeMM[1]
	if w > 0 && w == h && x.SheetMM2 > 0 && math.Abs(x.SheetMM2-w*h) > 0.05*w*h {
		disc = 2 * math.Sqrt(x.SheetMM2/math.Pi)
	}
	return w, h, disc
}

// readBlank reads what is cut from what.
func readBlank(f *form, pieces int) batch.Blank {
	b := batch.Blank{Pieces: pieces, WidthMM: f.number("width", "width", "mm", 0), HeightMM: f.number("height", "height", "mm", 0), DiscMM: f.number("disc", "disc", "mm", 0),
		SheetWMM: f.number("sheetw", "width of the sheet", "mm", 0), SheetHMM: f.number("sheeth", "height of the sheet", "mm", 0),
		KerfMM: f.number("kerf", "width of the cut", "mm", 0), EdgeMM: f.number("edge", "edge", "mm", 0), Turn: f.Val("across") != ""}
	if b.DiscMM < 0 {
		f.say("disc", "A disc of %v mm can't be cut; write its width, or leave it empty.", b.DiscMM)
	}
	return b
}

func viewCut(b batch.Blank, p batch.CutPlan) *cutView {
	v := &cutView{Words: p.Words}
	for i, spots := range p.Sheets {
		if i > 0 && i < len(p.Sheets)-1 && len(spots) == len(p.Sheets[0]) {
			continue // drawn already
		}
		what := fmt.Sprintf("Sheet %d of %d: %d pieces", i+1, len(p.Sheets), len(spots))
		v.Drawings = append(v.Drawings, drawSheet(b, spots, what))
	}
	return v
}
