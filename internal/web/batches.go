package web

import (
	"context"
	"fmt"
	"html/template"
	"io"
	"math"
	"net/http"
	"slices"
	"strings"
	"time"

	"aerugo/internal/flow/batch"
	"aerugo/internal/flow/learn"
	"aerugo/internal/flow/run"
	"aerugo/internal/print"
	"aerugo/internal/science/colour"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// batchPage shows a batch: how far it is, each piece beside its reference, what drifts.
type batchPage struct {
	Frame
	*form
	Set       studio.Set
	Piece     studio.Piece
	Progress  string
	Yield     batch.Yield
	Reference *batchFace
	NoRef     string // why pieces can't be held against a reference
	Limits    []limitLine
	LimitNote string
	Promise   string
	Which     string
	Every     string
	Pieces    []batchPiece
	Charts    []batchChartView
	Drift     *batch.Drift
	Meanwhile []batch.Coincidence
	Fillings  []batchFilling
	Treatment []int64 // still to begin
	Shelf     shelfAnswer
	Cut       *cutView
}

// batchFace is a face with its picture.
type batchFace struct {
	Swatch int64
	Photo  int64
	Lab    colour.Lab
	Name   string
}

type limitLine struct{ Aspect, Max, From string }

// batchPiece is one piece with what its photograph says and what a person decided.
type batchPiece struct {
	Number   int64
	Place    int // in the order made, from 1
	Standing string
	Look     *batchFace
	Asked    bool // it is to be photographed
	Answer   *batch.Answer
	Sign     string
	Light    string // how the two were photographed
	Verdict  *studio.Verdict
	Before   []studio.Verdict
	Problem  string
	Why      string
	Who      string
}

type batchChartView struct {
	Picture template.HTML
	Words   string
}

type batchFilling struct {
	N              int
	Pieces         []int64
	Began          string
	Waiting, Ended int
}

// signs of what a photograph says, beside its words.
var adviceSigns = map[batch.Advice]string{batch.Accept: "✓", batch.Look: "?", batch.Reject: "▲"}

func (s *Server) batch(w http.ResponseWriter, r *http.Request) error {
	p, err := s.fillBatch(r)
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "batch", p)
	return nil
}

func (s *Server) batchIn(r *http.Request) (studio.Set, studio.Piece, error) {
	id, err := idIn(r, "set")
	if err != nil {
		return studio.Set{}, studio.Piece{}, err
	}
	set, err := s.store.Set(r.Context(), id)
	if err != nil {
		return set, studio.Piece{}, err
	}
	if set.PieceID == 0 {
		return set, studio.Piece{}, studio.Problemf(studio.NotFound, "", "The set %s is no batch of a piece; its own page is under Plan.", set.Name)
	}
	piece, err := s.store.Piece(r.Context(), set.PieceID)
	return set, piece, err
}

// madePiece is a piece of a batch with all that is known of its making.
type madePiece struct {
	swatch studio.Swatch
	top    *folded // the treatment on its outside that lies on top
	look   studio.Look
	photos []studio.Photo
}

func (m madePiece) measured() bool {
	return m.look.Measurement != nil && m.look.Measurement.Calibrated && m.look.Moment == studio.Finished
}

func (s *Server) fillBatch(r *http.Request) (p batchPage, err error) {
	ctx := r.Context()
	set, piece, err := s.batchIn(r)
	if err != nil {
		return p, err
	}
	p = batchPage{Frame: s.frame(r, set.Name, "pieces"), form: readForm(r), Set: set, Piece: piece}
	folds, err := s.treatments(ctx, store.TreatmentFilter{})
	if err != nil {
		return p, err
	}
	looks, err := s.looksByFace(ctx)
	if err != nil {
		return p, err
	}
	made, err := s.madePieces(ctx, set, folds, looks)
	if err != nil {
		return p, err
	}
	verdicts, err := s.store.Verdicts(ctx, set.ID)
	if err != nil {
		return p, err
	}
	var numbers []int64
	for _, m := range made {
		numbers = append(numbers, m.swatch.Number)
		if m.top != nil && m.top.Record.Status == run.Planned {
			p.Treatment = append(p.Treatment, m.top.Treatment.ID)
		}
	}
	p.Yield = batch.YieldOf(numbers, verdicts)
	p.Fillings = batchFillings(made)
	blankStart(p.form, piece.Form)
	if p.Val("sheetw") != "" {
		p.fillCut(len(made))
	}
	reference, photos, err := s.fillReference(ctx, &p, looks)
	if err != nil {
		return p, err
	}
	var limits batch.Limits
	if reference != nil {
		if limits, err = batch.LimitsOf(batch.FaceOf(*reference), madeBefore(set, piece, folds, looks), batchSure); err != nil {
			return p, err
		}
		p.fillLimits(limits)
	}
	chosen, err := p.sample(len(made))
	if err != nil {
		return p, err
	}
	decided := studio.StandingVerdicts(verdicts)
	photographed := 0
	for i, m := range made {
		x := batchPiece{Number: m.swatch.Number, Place: i + 1, Asked: slices.Contains(chosen, i), Standing: "not planned", Who: p.Frame.Who}
		if m.top != nil {
			x.Standing = standing(*m.top, s.now())
		}
		if m.look.Measurement != nil {
			x.Look = &batchFace{m.swatch.Number, m.look.Photo, m.look.Measurement.Lab, m.look.Measurement.Name}
		}
		if m.measured() {
			photographed++
		}
		if reference != nil {
			judgePiece(&x, m, *reference, photos, limits)
		}
		for _, v := range verdicts {
			if v.Swatch == x.Number {
				x.Before = append(x.Before, v)
			}
			if x.Who == "" || p.Frame.Who == "" {
				x.Who = v.By
			}
		}
		if v, ok := decided[x.Number]; ok {
			x.Verdict, x.Before = &v, x.Before[:len(x.Before)-1]
		}
		p.Pieces = append(p.Pieces, x)
	}
	p.Progress = progressWords(made, photographed, p.Yield)
	p.promise(made, chosen, decided)
	if len(p.Treatment) > 0 {
		if p.Shelf, err = s.setAtShelf(ctx, set); err != nil {
			return p, err
		}
	}
	return p, s.fillDrift(ctx, &p, made)
}

// batchSure is how sure the limits are to let 95 % of good pieces pass.
const batchSure = 0.9

// madePieces returns the pieces of a batch in the order they were made, those not
// begun after them in the order planned.
func (s *Server) madePieces(ctx context.Context, set studio.Set, folds []folded, looks map[faceKey]studio.Look) ([]madePiece, error) {
	swatches, err := s.store.SwatchesOf(ctx, set.ID)
	if err != nil {
		return nil, err
	}
	tops := topFronts(folds)
	var out []madePiece
	for _, x := range swatches {
		m := madePiece{swatch: x, top: tops[x.Number], look: looks[faceKey{x.Number, studio.Front}]}
		if m.photos, err = s.store.PhotosOf(ctx, x.Number); err != nil {
			return nil, err
		}
		out = append(out, m)
	}
	slices.SortStableFunc(out, func(a, b madePiece) int {
		x, y := a.top, b.top
		switch {
		case x == nil || y == nil:
			return 0
		case x.Record.Began.IsZero() != y.Record.Began.IsZero():
			if x.Record.Began.IsZero() {
				return 1
			}
			return -1
		case !x.Record.Began.Equal(y.Record.Began):
			return x.Record.Began.Compare(y.Record.Began)
		}
		return x.Treatment.Order - y.Treatment.Order
	})
	return out, nil
}

// topFronts returns for each swatch the uppermost treatment of its front.
func topFronts(folds []folded) map[int64]*folded {
	out := map[int64]*folded{}
	for i, f := range folds {
		if !f.Treatment.Faces.Has(studio.Front) || f.Treatment.Blank {
			continue
		}
		if have := out[f.Treatment.Swatch]; have == nil || have.Treatment.Layer < f.Treatment.Layer {
			out[f.Treatment.Swatch] = &folds[i]
		}
	}
	return out
}

// madeBefore returns the measured faces that were made like the batch or like its
// reference, outside the batch itself. A run is a day in one chamber.
func madeBefore(set studio.Set, piece studio.Piece, folds []folded, looks map[faceKey]studio.Look) (out []batch.Made) {
	like := func(t studio.Treatment) string { return fmt.Sprint(t.VersionID, settingsText(t.Settings)) }
	tops := topFronts(folds)
	want := map[string]bool{fmt.Sprint(set.FrontID): true}
	if ref := tops[piece.Reference]; ref != nil {
		want[like(ref.Treatment)] = true
	}
	for _, f := range folds {
		n := f.Treatment.Swatch
		if f.Treatment.SetID == set.ID || n == piece.Reference || tops[n] == nil || tops[n].Treatment.ID != f.Treatment.ID || !want[like(f.Treatment)] {
			continue
		}
		look := looks[faceKey{n, studio.Front}]
		if f.Record.Status != run.Finished || look.Measurement == nil || !look.Measurement.Calibrated || look.Moment != studio.Finished {
			continue
		}
		out = append(out, batch.Made{Run: f.Record.Began.Local().Format("2006-01-02") + fmt.Sprint(" ", chamberOf(f.Treatment)), Face: batch.FaceOf(*look.Measurement)})
	}
	return out
}

// chamberOf is the chamber a treatment fumes in, 0 for none.
func chamberOf(t studio.Treatment) int64 {
	for _, st := range t.Steps {
		if st.ChamberID != 0 {
			return st.ChamberID
		}
	}
	return 0
}

func (s *Server) fillReference(ctx context.Context, p *batchPage, looks map[faceKey]studio.Look) (*studio.Measurement, []studio.Photo, error) {
	n := p.Piece.Reference
	if n == 0 {
		p.NoRef = "This piece has no reference swatch. Change the piece and name the swatch it is to look like; then each piece can be held against it."
		return nil, nil, nil
	}
	look := looks[faceKey{n, studio.Front}]
	if look.Measurement == nil {
		p.NoRef = fmt.Sprintf("The reference, swatch %d, is not measured on its front. Photograph it with the grey card; then each piece can be held against it.", n)
		return nil, nil, nil
	}
	p.Reference = &batchFace{n, look.Photo, look.Measurement.Lab, look.Measurement.Name}
	photos, err := s.store.PhotosOf(ctx, n)
	return look.Measurement, photos, err
}

func (p *batchPage) fillLimits(l batch.Limits) {
	words := map[learn.Aspect]func(v float64) string{
		learn.OfColour:   func(v float64) string { return "ΔE00 " + number(v, 1) },
		learn.OfCoverage: func(v float64) string { return number(100*v, 0) + " % of the face" },
		learn.OfTexture:  func(v float64) string { return "L* " + number(v, 1) },
		learn.OfPooling:  func(v float64) string { return "a factor of " + number(math.Exp(v), 1) },
	}
	for _, x := range l.All {
		from := "assumed: too few faces were made like this"
		if !x.Assumed {
			from = fmt.Sprintf("from %d faces of %d runs", x.Faces, x.Runs)
			if x.OneRun() {
				from += "; too few to tell how one run differs from the next"
			}
		}
		p.Limits = append(p.Limits, limitLine{capital(string(x.Aspect)), words[x.Aspect](x.Max), from})
	}
	p.LimitNote = fmt.Sprintf("Where limits come from faces made before, they let %.0f in 100 good pieces pass; such limits keep that promise %.0f times in 100.", 100*batch.Share, 100*l.Confidence)
}

// judgePiece puts what the newest photograph of a piece says beside it. Where the
// reference lies in it too, that reading of the reference counts.
func judgePiece(x *batchPiece, m madePiece, reference studio.Measurement, photos []studio.Photo, limits batch.Limits) {
	answer := func(face, ref studio.Measurement, half float64, light string) {
		a := batch.Judge(batch.FaceOf(face), batch.FaceOf(ref), half, limits)
		x.Answer, x.Sign, x.Light = &a, adviceSigns[a.Advice], light
	}
	for _, a := range m.photos {
		for _, b := range photos {
			if a.ID != m.look.Photo || a.Moment != studio.Finished || b.Face != studio.Front {
				continue // an older photograph shows the piece as it was before it was reworked
			}
			if d, same, why := together(b, a); same && why == "" {
				answer(*a.Measurement, *b.Measurement, d.High-d.DE00, "in one photograph with the reference")
				return
			}
		}
	}
	switch {
	case m.look.Measurement == nil || m.look.Moment != studio.Finished:
	case !m.measured() || !reference.Calibrated:
		x.Light = "No difference can be given: a photograph without a grey card shows its lamp as much as the metal."
	default:
		half := learn.PhotoHigh
		a, b := m.look.Measurement.Correction, reference.Correction
		if a != nil && b != nil && a.LOOP95 > 0 && b.LOOP95 > 0 {
			half = min(half, math.Hypot(a.LOOP95, b.LOOP95))
		}
		answer(*m.look.Measurement, reference, half, fmt.Sprintf("from two photographs, which may be ΔE00 %s apart by themselves; lay both on one mat to know better", number(half, 0)))
	}
}

// sample reads which pieces are to be photographed.
func (p *batchPage) sample(n int) ([]int, error) {
	p.Which, p.Every = p.Val("which"), p.Val("every")
	if p.Which == "" {
		p.Which = string(batch.All)
	}
	if p.Every == "" {
		p.Every = "5"
		p.set("every", "5")
	}
	out, err := batch.Pick(n, batch.Which(p.Which), int(p.whole("every", "number", 5)))
	if err := p.blame(err, "every", "which"); err != nil {
		return nil, err
	}
	return out, nil
}

// promise says what verdicts on the pieces chosen to be photographed tell of all.
func (p *batchPage) promise(made []madePiece, chosen []int, standing map[int64]studio.Verdict) {
	if len(chosen) == 0 || len(chosen) == len(made) {
		return
	}
	bad, open := 0, 0
	for _, i := range chosen {
		switch standing[made[i].swatch.Number].Outcome {
		case studio.Accepted:
		case studio.Rejected:
			bad++
		default:
			open++
		}
	}
	pr, err := batch.PromiseOf(len(made), len(chosen), bad, batchSure)
	if err != nil {
		return
	}
	p.Promise = pr.Words
	if open > 0 {
		p.Promise = "If those still open turn out good: " + p.Promise
	}
}

func progressWords(made []madePiece, photographed int, y batch.Yield) string {
	tally := map[run.Status]int{}
	for _, m := range made {
		if m.top != nil {
			tally[m.top.Record.Status]++
		}
	}
	far := tallyWords(tally)
	if far == "" {
		far = "nothing planned for them"
	}
	return fmt.Sprintf("%d pieces: %s. %d photographed with a grey card, %d accepted, %d rejected.", len(made), far, photographed, y.Good, y.Made-y.Good)
}

func batchFillings(made []madePiece) (out []batchFilling) {
	at := map[int]int{}
	for _, m := range made {
		if m.top == nil || m.top.Treatment.Block == 0 {
			continue
		}
		n := m.top.Treatment.Block
		i, ok := at[n]
		if !ok {
			i = len(out)
			at[n] = i
			out = append(out, batchFilling{N: n})
		}
		f := &out[i]
		f.Pieces = append(f.Pieces, m.swatch.Number)
		switch m.top.Record.Status {
		case run.Planned:
			f.Waiting++
		case run.Finished, run.Stopped:
			f.Ended++
		}
		if f.Began == "" && !m.top.Record.Began.IsZero() {
			f.Began = localTime(m.top.Record.Began)
		}
	}
	slices.SortFunc(out, func(a, b batchFilling) int { return a.N - b.N })
	return out
}

func (p *batchPage) fillCut(pieces int) {
	blank := readBlank(p.form, pieces)
	if !p.ok() {
		return
	}
	cut, err := batch.Cut(blank)
	if p.blame(err, batchFields...) == nil && p.ok() {
		p.Cut = viewCut(blank, cut)
	}
}

// fillDrift charts the measured pieces and says what changed where they drift.
func (s *Server) fillDrift(ctx context.Context, p *batchPage, made []madePiece) error {
	made = slices.DeleteFunc(slices.Clone(made), func(m madePiece) bool { return !m.measured() })
	all := []batch.Series{{Name: "L*", Up: "lighter", Down: "darker"}, {Name: "a*", Up: "redder", Down: "greener"}, {Name: "b*", Up: "yellower", Down: "bluer"}, {Name: "Coverage", Unit: "%", Up: "more covered", Down: "less covered"}}
	for _, m := range made {
		x := *m.look.Measurement
		for k, v := range []float64{x.Lab.L, x.Lab.A, x.Lab.B} {
			all[k].Values = append(all[k].Values, v)
		}
		if x.Coverage != nil {
			all[3].Values = append(all[3].Values, 100*x.Coverage.Value)
		}
	}
	if len(all[3].Values) != len(made) {
		all = all[:3]
	}
	charts, drift := batch.Watch(all)
	for _, c := range charts {
		p.Charts = append(p.Charts, batchChartView{controlChart(c, made), chartWords(c, made)})
	}
	if p.Drift = drift; drift == nil {
		return nil
	}
	circumstances, err := s.circumstances(ctx, made)
	p.Meanwhile = batch.Meanwhile(drift.From, circumstances)
	return err
}

func chartWords(c batch.Chart, made []madePiece) string {
	var alone []string
	for _, i := range c.Alone {
		alone = append(alone, fmt.Sprint(made[i].swatch.Number))
	}
	if len(alone) > 5 {
		alone = append(alone[:5], fmt.Sprintf("and %d more", len(alone)-5))
	}
	switch {
	case c.Drifts: // the limits lie between before and after then, so that single pieces mean little
		return "The moving mean leaves its limits: the pieces drift."
	case len(alone) > 0:
		return "Pieces outside the limits by themselves: " + strings.Join(alone, ", ") + "."
	}
	return "Within its limits."
}

// circumstances gathers what was so at the making of each piece.
func (s *Server) circumstances(ctx context.Context, made []madePiece) ([]batch.Circumstance, error) {
	supplies, err := s.store.Supplies(ctx)
	if err != nil {
		return nil, err
	}
	logs := map[int64][]studio.ChamberLog{}
	words := map[string][]string{}
	var order []string
	put := func(i int, name, word string) {
		if words[name] == nil {
			words[name] = make([]string, len(made))
			order = append(order, name)
		}
		words[name][i] = word
	}
	temp, rh, age := make([]float64, len(made)), make([]float64, len(made)), make([]float64, len(made))
	for i, m := range made {
		temp[i], rh[i], age[i] = math.NaN(), math.NaN(), math.NaN()
		if m.top == nil {
			continue
		}
		t, rec := m.top.Treatment, m.top.Record
		for _, st := range t.Steps {
			for _, x := range supplies {
				if x.ID == st.SupplyID && st.SupplyID != 0 {
					lot := x.Name
					if x.Lot != "" {
						lot = "lot " + x.Lot
					}
					put(i, capital(substanceName(st.Material)), lot)
				}
			}
		}
		for _, reading := range rec.Room {
			if reading.TempC != nil && math.IsNaN(temp[i]) {
				temp[i] = *reading.TempC
			}
			if reading.RH != nil && math.IsNaN(rh[i]) {
				rh[i] = 100 * *reading.RH
			}
		}
		if t.Block > 0 {
			put(i, "Filling", fmt.Sprintf("filling %d", t.Block))
		}
		for _, e := range m.top.Events {
			if e.Kind == studio.Began && e.By != "" {
				put(i, "Who began it", e.By)
			}
		}
		c := chamberOf(t)
		if c == 0 || rec.Began.IsZero() {
			continue
		}
		if _, ok := logs[c]; !ok {
			if logs[c], err = s.store.ChamberLog(ctx, c); err != nil {
				return nil, err
			}
		}
		if pad, ok := padBefore(logs[c], rec.Began); ok {
			age[i] = rec.Began.Sub(pad.At).Hours()
			for _, x := range supplies {
				if x.ID == pad.SupplyID && x.Lot != "" {
					put(i, "Liquid on the pad", "lot "+x.Lot)
				}
			}
		}
	}
	var out []batch.Circumstance
	for _, name := range order {
		out = append(out, batch.Circumstance{Name: name, Words: words[name]})
	}
	return append(out, batch.Circumstance{Name: "Room", Unit: "°C", Numbers: temp}, batch.Circumstance{Name: "Humidity of the room", Unit: "%", Numbers: rh},
		batch.Circumstance{Name: "Age of the pad", Unit: "h", Numbers: age}), nil
}

// padBefore is the last charging of the pad before a time, of those not taken back.
func padBefore(log []studio.ChamberLog, at time.Time) (pad studio.ChamberLog, ok bool) {
	back := map[int64]bool{}
	for _, l := range log {
		if l.Kind == studio.TakenBack {
			back[l.Corrects] = true
		}
	}
	for _, l := range log {
		if l.Kind == studio.PadCharged && !back[l.ID] && !l.At.After(at) {
			pad, ok = l, true
		}
	}
	return pad, ok
}

// controlChart draws a chart of pieces in the order made, each in its own colour, with
// the limits of single pieces and the moving mean.
func controlChart(x batch.Chart, made []madePiece) template.HTML {
	v := x.Series.Values
	lo, hi := min(slices.Min(v), x.Singles.Low[0]), max(slices.Max(v), x.Singles.High[0])
	ticks := niceTicks(lo, hi, 5)
	c := &chart{x0: 70, x1: chartWidth - 16, y0: chartHeight - 52, y1: 36, lo: min(lo, ticks[0]), hi: max(hi, ticks[len(ticks)-1])}
	at := func(i int) float64 { return c.x0 + 14 + (c.x1-c.x0-28)*float64(i)/float64(max(1, len(v)-1)) }
	unit := ""
	if x.Series.Unit != "" {
		unit = " " + x.Series.Unit
	}
	title := x.Series.Name + " in the order made"
	says := fmt.Sprintf("%d pieces, mean %s%s, limits %s to %s.", len(v), number(x.Singles.Centre, 1), unit, number(x.Singles.Low[0], 1), number(x.Singles.High[0], 1))
	fmt.Fprintf(&c.b, `<svg viewBox="0 0 %d %d" role="img" aria-label="%s" font-family="'Source Sans 3', sans-serif" font-size="17"><title>%s</title><desc>%s</desc>`, chartWidth, chartHeight, title, title, says)
	c.text(8, 20, "start", x.Series.Name+unit, true)
	for _, t := range ticks {
		fmt.Fprintf(&c.b, `<line x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f" stroke="#000" stroke-opacity=".25"/>`, c.x0, c.x1, c.y(t), c.y(t))
		c.text(c.x0-8, c.y(t)+6, "end", number(t, 1), false)
	}
	for _, y := range []float64{x.Singles.Low[0], x.Singles.High[0]} {
		fmt.Fprintf(&c.b, `<line x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f" stroke="#000" stroke-width="2" stroke-dasharray="8 5"/>`, c.x0, c.x1, c.y(y), c.y(y))
	}
	fmt.Fprintf(&c.b, `<line x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f" stroke="#000"/>`, c.x0, c.x1, c.y(x.Singles.Centre), c.y(x.Singles.Centre))
	line := func(ys []float64, how string) {
		var path []string
		for i, w := range ys {
			path = append(path, fmt.Sprintf("%.1f,%.1f", at(i), c.y(w)))
		}
		fmt.Fprintf(&c.b, `<polyline points="%s" fill="none" stroke="#000" %s/>`, strings.Join(path, " "), how)
	}
	line(x.Weighted.Low, `stroke-dasharray="1 5" stroke-width="2"`)
	line(x.Weighted.High, `stroke-dasharray="1 5" stroke-width="2"`)
	last := math.Inf(-1)
	for i, m := range made {
		c.square(at(i), c.y(v[i]), learn.Point{Swatch: m.swatch.Number, Face: studio.Front, Lab: m.look.Measurement.Lab, Calibrated: true})
		if word := fmt.Sprint(m.swatch.Number); at(i) > last+float64(len(word))*9+8 {
			c.text(at(i), c.y0+22, "middle", word, false)
			last = at(i)
		}
	}
	line(x.Weighted.Points, `stroke-width="1.5"`)
	c.text((c.x0+c.x1)/2, chartHeight-8, "middle", "Pieces in the order made", true)
	c.b.WriteString(`</svg>`)
	return template.HTML(c.b.String())
}

// giveVerdict is POST /batches/{set}/verdicts.
func (s *Server) giveVerdict(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	set, _, err := s.batchIn(r)
	if err != nil {
		return err
	}
	f := readForm(r)
	v := studio.Verdict{Client: f.Val("client"), Swatch: f.whole("piece", "piece", 0), Outcome: studio.VerdictOn(f.Val("verdict")), Why: f.Val("why"), By: f.Val("who"), At: s.now()}
	mine, err := s.store.SwatchesOf(ctx, set.ID)
	if err != nil {
		return err
	}
	if !slices.ContainsFunc(mine, func(x studio.Swatch) bool { return x.Number == v.Swatch }) {
		return studio.Problemf(studio.NotFound, "", "Piece %d is not in the batch %s.", v.Swatch, set.Name)
	}
	_, err = s.store.AddVerdict(ctx, v)
	problem := studio.ProblemIn(err)
	if err != nil && problem == nil {
		return err
	}
	if problem == nil {
		s.live.changed()
		said := map[studio.VerdictOn]string{studio.Accepted: "accepted", studio.Reworked: "to be reworked", studio.Rejected: "rejected"}[v.Outcome]
		return back(w, r, fmt.Sprintf("/batches/%d?said=Piece+%d+is+%s.#piece-%d", set.ID, v.Swatch, strings.ReplaceAll(said, " ", "+"), v.Swatch))
	}
	p, err := s.fillBatch(r)
	if err != nil {
		return err
	}
	for i := range p.Pieces {
		if p.Pieces[i].Number == v.Swatch {
			p.Pieces[i].Problem, p.Pieces[i].Why, p.Pieces[i].Who = problem.Text, v.Why, v.By
		}
	}
	s.show(w, status(problem.Kind), "batch", p)
	return nil
}

// cuttingPDF is the cutting list of a batch on paper.
func (s *Server) cuttingPDF(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	set, piece, err := s.batchIn(r)
	if err != nil {
		return err
	}
	swatches, err := s.store.SwatchesOf(ctx, set.ID)
	if err != nil {
		return err
	}
	metal, err := s.metalOf(ctx, set.MetalID)
	if err != nil {
		return err
	}
	f := readForm(r)
	blankStart(f, piece.Form)
	blank := readBlank(f, len(swatches))
	for field, text := range f.wrong {
		return studio.Problemf(studio.Invalid, field, "%s", text)
	}
	cut, err := batch.Cut(blank)
	if err != nil {
		return err
	}
	list := print.CuttingList{Paper: paper(r), Date: s.now(), Studio: s.studioName(), Name: set.Name, Metal: metal.Name, Blank: blank, Plan: cut, Invented: set.Invented}
	return s.sendPDF(w, fmt.Sprintf("cutting-batch-%d.pdf", set.ID), func(w io.Writer) error { return print.Cutting(w, list) })
}
