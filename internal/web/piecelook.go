package web

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"html/template"
	"image/png"
	"math"
	"math/rand/v2"
	"net/http"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"aerugo/internal/flow/shape"
	"aerugo/internal/science/colour"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// piecePage is one piece: its areas, how it lies, whether it fits, how it may look.
type piecePage struct {
	Frame
	Piece           studio.Piece
	Facts           []fact
	Metal           studio.Metal
	Outside, Inside faceGuess
	SameLook        bool
	Working         bool
	Over            *shape.Over
	Lies            []lieView
	Ways            []wayView
	MoreWays        []wayView
	Advice          []string
	Fits            []fitView
	Links           []pieceLink
	Batches         [][]pieceLink
	Show            string // "look" or "slope"
	Turn            int
	Luck            int
	Picture         string
	Up              string
	Pools           []string
	Dark, Missed    float64
	LikelyName      string
	LowName, HiName string
	LowWord, HiWord string
	LikelyPic       template.HTML
	LowPic, HiPic   template.HTML
	GuessFrom       string
}

// faceGuess is the look to expect of one face, and why there is none.
type faceGuess struct {
	Recipe string
	Of     *shape.Expected
	Why    string   // there is none
	Notes  []string // what to know about it
}

type lieView struct {
	Sign        template.HTML
	Share       float64
	Label, Does string
}

type wayView struct {
	Name, Up, Says string
	Best, Chosen   bool
	Picture        string
}

type fitView struct {
	Chamber studio.Chamber
	Sign    string
	Words   []string
}

type pieceLink struct{ Href, Label string }

// drawn is a piece ready to be looked at: its body, and a thinned one for pictures.
type drawn struct {
	body, small shape.Body
	blob        []byte
}

// Triangles up to which a piece is drawn as it is.
const mostDrawn = 16_000

// bodyKey names what a piece's body is made of.
func bodyKey(f studio.Form) string {
	dims, _ := json.Marshal(f.DimsMM) // a map of numbers always can be
	return fmt.Sprintf("piece %s %s %s %v %s", f.Kind, f.SHA256, f.Format, f.UnitMM, dims)
}

// drawnPiece returns a piece's body, from memory if it was there lately.
func (s *Server) drawnPiece(f studio.Form) *thought {
	return s.think(bodyKey(f), func() (any, error) {
		data, err := s.pieceData(f)
		if err != nil {
			return nil, err
		}
		b, err := shape.Again(f, data)
		if err != nil {
			return nil, err
		}
		small, err := shape.Thin(b.Mesh, mostDrawn)
		if err != nil {
			return nil, err
		}
		d := &drawn{body: b, small: shape.Body{Mesh: small, Both: b.Both}}
		d.blob = meshBlob(d.small)
		return d, nil
	})
}

// lookedOver is what is known of how a piece lies and fits.
type lookedOver struct {
	over shape.Over
	fits []fitView
}

func (s *Server) lookOver(f studio.Form, chambers []studio.Chamber) *thought {
	key := bodyKey(f) + fmt.Sprint(" over ", f.Up)
	for _, c := range chambers {
		key += fmt.Sprint(" ", c.ID, c.Name, c.VolumeL, c.LengthMM, c.WidthMM, c.HeightMM)
	}
	return s.think(key, func() (any, error) {
		t := s.drawnPiece(f)
		<-t.done
		if t.err != nil {
			return nil, t.err
		}
		d := t.value.(*drawn)
		var out lookedOver
		var err error
		up := shape.UpOf(f)
		if out.over, err = shape.LookOver(d.body, up, rand.New(rand.NewPCG(1, 2))); err != nil {
			return nil, err
		}
		for _, c := range chambers {
			v := fitView{Chamber: c, Sign: "?"}
			if c.LengthMM > 0 && c.WidthMM > 0 && c.HeightMM > 0 {
				stand := shape.Stands(d.body, up, c)
				v.Words = []string{stand.Words()}
				if v.Sign = "●"; !stand.Fits {
					words, err := shape.AnyWay(d.body, c)
					if studio.ProblemIn(err) != nil { // the chamber is smaller than the gap
						words = err.Error()
					} else if err != nil {
						return nil, err
					}
					v.Sign, v.Words = "○", append(v.Words, words)
				}
			} else {
				v.Words = []string{shape.ByVolume(f, c)}
			}
			out.fits = append(out.fits, v)
		}
		return out, nil
	})
}

// meshBlob is a body for the page's own renderer: for each corner of each triangle
// three 32-bit floats of its place in mm and four bytes of the direction it faces.
func meshBlob(b shape.Body) []byte {
	tris, normals := shape.Corners(b)
	out := make([]byte, 0, len(tris)*48)
	for i, t := range tris {
		for k, c := range t {
			for _, v := range []float64{c.X, c.Y, c.Z} {
				out = binary.LittleEndian.AppendUint32(out, math.Float32bits(float32(v)))
			}
			n := normals[i][k]
			for _, v := range []float64{n.X, n.Y, n.Z, 0} {
				out = append(out, byte(int8(math.Round(127*max(-1, min(1, v))))))
			}
		}
	}
	return out
}

func (s *Server) pieceMesh(w http.ResponseWriter, r *http.Request) error {
	x, err := s.pieceIn(r)
	if err != nil {
		return err
	}
	t := s.drawnPiece(x.Form)
	<-t.done
	if t.err != nil {
		return t.err
	}
	w.Header().Set("Content-Type", "application/octet-stream")
	_, _ = w.Write(t.value.(*drawn).blob)
	return nil
}

// madeBy gathers the measured faces made by a recipe's version: of the metal of the piece
// where there are such, and with the steps of its reference swatch, else of the
// recipe, where there are such.
func (s *Server) madeBy(ctx context.Context, x studio.Piece, version int64, face studio.Face) (looks []studio.Look, notes []string, err error) {
	all, err := s.store.Looks(ctx)
	if err != nil {
		return nil, nil, err
	}
	ts, err := s.store.Treatments(ctx, store.TreatmentFilter{})
	if err != nil {
		return nil, nil, err
	}
	swatches, err := s.store.Swatches(ctx)
	if err != nil {
		return nil, nil, err
	}
	metals, err := s.store.Metals(ctx)
	if err != nil {
		return nil, nil, err
	}
	alloyOf := map[int64]string{}
	for _, m := range metals {
		alloyOf[m.ID] = m.Alloy
	}
	alloy := map[int64]string{}
	for _, w := range swatches {
		alloy[w.Number] = alloyOf[w.MetalID]
	}
	type spot struct {
		swatch int64
		face   studio.Face
	}
	last := map[spot]studio.Treatment{} // what was laid on a face last
	for _, t := range ts {
		for _, f := range studio.BothFaces {
			k := spot{t.Swatch, f}
			if t.Faces.Has(f) && !t.Blank && t.Layer >= last[k].Layer {
				last[k] = t
			}
		}
	}
	v, err := s.store.Version(ctx, version)
	if err != nil {
		return nil, nil, err
	}
	steps := v.Steps
	for _, f := range []studio.Face{face, studio.Front, studio.Back} {
		if t, ok := last[spot{x.Reference, f}]; ok && t.VersionID == version {
			steps = t.Steps
			notes = append(notes, fmt.Sprintf("Goes by swatches made as swatch %d was.", x.Reference))
			break
		}
	}
	for _, l := range all {
		if t, ok := last[spot{l.Swatch, l.Face}]; ok && t.VersionID == version && l.Measurement != nil && l.Moment != studio.Bare {
			looks = append(looks, l)
		}
	}
	narrow := func(keep func(studio.Look) bool, otherwise string) {
		var fewer []studio.Look
		for _, l := range looks {
			if keep(l) {
				fewer = append(fewer, l)
			}
		}
		switch {
		case len(fewer) > 0:
			looks = fewer
		case len(looks) > 0:
			notes = append(notes, otherwise)
		}
	}
	if want := alloyOf[x.MetalID]; want != "" {
		narrow(func(l studio.Look) bool { return alloy[l.Swatch] == want }, "No measured swatch of this recipe is of the piece's metal: other metals colour otherwise.")
	}
	narrow(func(l studio.Look) bool { return reflect.DeepEqual(last[spot{l.Swatch, l.Face}].Steps, steps) }, "No measured swatch was made with just these settings: these are of the same recipe with others.")
	narrow(func(l studio.Look) bool { return l.Measurement.Calibrated }, "None of these photographs had a grey card: the colours are only as good as their light.")
	return looks, notes, nil
}

// guess reckons the look of one face.
func (s *Server) guess(ctx context.Context, x studio.Piece, version int64, face studio.Face) (g faceGuess, err error) {
	if version == 0 {
		g.Why = "No recipe is chosen."
		return g, nil
	}
	if g.Recipe, err = s.versionName(ctx, version); err != nil {
		return g, err
	}
	looks, notes, err := s.madeBy(ctx, x, version, face)
	if err != nil {
		return g, err
	}
	e, err := shape.Guess(looks)
	if p := studio.ProblemIn(err); p != nil {
		g.Why = p.Text
		return g, nil
	}
	if err != nil {
		return g, err
	}
	g.Of, g.Notes = &e, notes
	return g, nil
}

// guesses reckons the look of both faces of a piece.
func (s *Server) guesses(ctx context.Context, x studio.Piece) (outside, inside faceGuess, err error) {
	if outside, err = s.guess(ctx, x, x.OutsideID, studio.Front); err != nil {
		return
	}
	if x.SameFaces {
		return outside, outside, nil
	}
	inside, err = s.guess(ctx, x, x.InsideID, studio.Back)
	return
}

// How a picture was asked for.
type pictureAsk struct {
	show       string
	turn, luck int
	up         shape.Vec
	width      int
}

func readPictureAsk(f *form, x studio.Piece, otherwise string) pictureAsk {
	a := pictureAsk{show: f.Val("show"), up: shape.UpOf(x.Form), turn: 30, width: 640}
	if a.show != "look" && a.show != "slope" {
		a.show = otherwise
	}
	if n, err := strconv.Atoi(f.Val("turn")); err == nil {
		a.turn = ((n % 360) + 360) % 360
	}
	if n, err := strconv.Atoi(f.Val("luck")); err == nil {
		a.luck = max(-100, min(100, n))
	}
	if up, ok := upFrom(f.Val("up")); ok {
		a.up = up
	}
	if f.Val("size") == "small" {
		a.width = 176
	}
	return a
}

// piecePicture is GET /pieces/{id}/picture.png: the piece drawn here, for pages without
// script and screens without a renderer of their own.
func (s *Server) piecePicture(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	x, err := s.pieceIn(r)
	if err != nil {
		return err
	}
	a := readPictureAsk(readForm(r), x, "slope")
	t := s.drawnPiece(x.Form)
	select {
	case <-t.done:
	case <-ctx.Done():
		return ctx.Err()
	}
	if t.err != nil {
		return t.err
	}
	paint := shape.BySlope
	if a.show == "look" {
		outside, inside, err := s.guesses(ctx, x)
		if err != nil {
			return err
		}
		paint = shape.AsExpected(outside.Of, inside.Of, float64(a.luck)/100)
	}
	leave, err := s.takeSeat(ctx)
	if err != nil {
		return err
	}
	v := shape.Usual(a.up, a.width, a.width*3/4)
	v.TurnDeg = float64(a.turn)
	img := shape.Draw(t.value.(*drawn).small, v, a.show == "slope", paint)
	leave()
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		return fmt.Errorf("draw piece %d: %w", x.ID, err)
	}
	w.Header().Set("Content-Type", "image/png")
	_, _ = w.Write(b.Bytes())
	return nil
}

// pieceLook is GET /pieces/{id}/look: for the page's own renderer, the palette of each
// face in screen colours at 21 places from one end of the range to the other.
func (s *Server) pieceLook(w http.ResponseWriter, r *http.Request) error {
	x, err := s.pieceIn(r)
	if err != nil {
		return err
	}
	outside, inside, err := s.guesses(r.Context(), x)
	if err != nil {
		return err
	}
	type face struct {
		Colours  [][]string `json:"colours"` // by place in the range
		Shares   []float64  `json:"shares"`  // summed up
		MottleMM float64    `json:"mottle_mm"`
		Ordered  bool       `json:"ordered"`
	}
	of := func(g faceGuess) *face {
		if g.Of == nil {
			return nil
		}
		out := &face{MottleMM: g.Of.MottleMM, Ordered: g.Of.Ordered}
		total := 0.0
		for _, p := range g.Of.Palette {
			total += p.Share
			out.Shares = append(out.Shares, total)
		}
		for i := -10; i <= 10; i++ {
			var row []string
			for _, p := range g.Of.At(float64(i) / 10) {
				hex, _ := colour.ToScreen(p.Lab)
				row = append(row, hex)
			}
			out.Colours = append(out.Colours, row)
		}
		return out
	}
	t := s.drawnPiece(x.Form)
	<-t.done
	if t.err != nil {
		return t.err
	}
	writeJSON(w, http.StatusOK, map[string]any{"outside": of(outside), "inside": of(inside), "both": t.value.(*drawn).body.Both,
		"ranks": shape.Ranks(), "shift": shape.LieShift, "greys": shape.Greys})
	return nil
}

// piece is GET /pieces/{id}.
func (s *Server) piece(w http.ResponseWriter, r *http.Request) error {
	p, err := s.fillPiece(r)
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "piece", p)
	return nil
}

// pieceLies is GET /pieces/{id}/lies: what of the page waits for a large model.
func (s *Server) pieceLies(w http.ResponseWriter, r *http.Request) error {
	p, err := s.fillPiece(r)
	if err != nil {
		return err
	}
	return s.part(w, "piece", "over", p)
}

func (s *Server) fillPiece(r *http.Request) (p piecePage, err error) {
	ctx := r.Context()
	x, err := s.pieceIn(r)
	if err != nil {
		return p, err
	}
	p = piecePage{Frame: s.frame(r, x.Name, "pieces"), Piece: x, Up: upText(shape.UpOf(x.Form))}
	if x.MetalID != 0 {
		if p.Metal, err = s.store.Metal(ctx, x.MetalID); err != nil {
			return p, err
		}
	}
	if p.Outside, p.Inside, err = s.guesses(ctx, x); err != nil {
		return p, err
	}
	p.SameLook = x.SameFaces
	p.fillGuess()
	otherwise := "slope"
	if p.Outside.Of != nil || p.Inside.Of != nil {
		otherwise = "look"
	}
	a := readPictureAsk(readForm(r), x, otherwise)
	p.Show, p.Turn, p.Luck = a.show, a.turn, a.luck
	p.Picture = fmt.Sprintf("/pieces/%d/picture.png?show=%s&turn=%d&luck=%d&up=%s", x.ID, a.show, a.turn, a.luck, p.Up)
	chambers, err := s.store.Chambers(ctx)
	if err != nil {
		return p, err
	}
	batches, err := s.store.Batches(ctx, x.ID)
	if err != nil {
		return p, err
	}
	for _, b := range batches {
		p.Batches = append(p.Batches, s.batchLinks(b))
	}
	p.Links = s.pieceLinks(x)
	t := s.lookOver(x.Form, chambers)
	if p.Working = !t.ready(ctx); !p.Working {
		if t.err != nil {
			return p, t.err
		}
		got := t.value.(lookedOver)
		p.Over, p.Fits = &got.over, got.fits
		p.fillOver(x)
	}
	body := s.drawnPiece(x.Form)
	var d *drawn
	if body.ready(ctx) && body.err == nil {
		d = body.value.(*drawn)
	}
	p.Facts, err = pieceFacts(x, d, p.Metal)
	return p, err
}

func (p *piecePage) fillGuess() {
	g := p.Outside
	if g.Of == nil {
		g = p.Inside
	}
	if g.Of == nil {
		return
	}
	e := g.Of
	p.LikelyName, p.LowName, p.HiName = colour.Name(e.Mean), colour.Name(e.Colour(-1)), colour.Name(e.Colour(1))
	p.LowWord, p.HiWord = e.Toward(-1), e.Toward(1)
	p.LikelyPic, p.LowPic, p.HiPic = chip(e.Mean), chip(e.Colour(-1)), chip(e.Colour(1))
	n := "1 swatch"
	if len(e.Swatches) != 1 {
		n = fmt.Sprintf("%d swatches", len(e.Swatches))
	}
	p.GuessFrom = n
}

func (p *piecePage) fillOver(x studio.Piece) {
	s := p.Over.Standing.Slopes
	p.Lies = []lieView{
		{lieSign(shape.Flat), s.Flat, "Level, facing up", "liquid stays and pools"},
		{lieSign(shape.Sloping), s.Sloping, "Slanting", "liquid runs slowly"},
		{lieSign(shape.Steep), s.Steep, "Steep", "liquid runs off"},
		{lieSign(shape.Under), s.Under, "Facing down", "drops hang, spray from above misses"},
	}
	p.Advice = p.Over.Advice()
	for i, pool := range p.Over.Standing.Ponds {
		if i == 4 {
			break
		}
		p.Pools = append(p.Pools, shape.PoolSays(pool))
	}
	p.Dark, p.Missed = p.Over.Shade.Dark, p.Over.Shade.Missed
	up := shape.UpOf(x.Form)
	for i, w := range p.Over.Ways {
		v := wayView{Name: w.Name, Up: upText(w.Up), Best: i == 0}
		l := math.Sqrt(w.Up.X*w.Up.X + w.Up.Y*w.Up.Y + w.Up.Z*w.Up.Z)
		v.Chosen = (w.Up.X*up.X+w.Up.Y*up.Y+w.Up.Z*up.Z)/l > 1-1e-6
		v.Says = shape.WaySays(w)
		v.Picture = fmt.Sprintf("/pieces/%d/picture.png?show=slope&size=small&up=%s", x.ID, v.Up)
		alike := slices.ContainsFunc(p.Ways, func(o wayView) bool { return o.Says == v.Says })
		if len(p.Ways) < 4 && !alike || v.Chosen {
			p.Ways = append(p.Ways, v)
		} else {
			p.MoreWays = append(p.MoreWays, v)
		}
	}
}

// pieceFacts are the areas, the metal and the size, with where they come from.
func pieceFacts(x studio.Piece, d *drawn, m studio.Metal) ([]fact, error) {
	f := x.Form
	out := []fact{{"Outside", areaWords(f.OutsideMM2), f.By}}
	switch {
	case f.InsideMM2 > 0:
		out = append(out, fact{"Inside", areaWords(f.InsideMM2), f.By}, fact{"Both", areaWords(f.OutsideMM2 + f.InsideMM2), f.By})
	case f.Kind == shape.Model:
		out = append(out, fact{"Inside", "none of its own: the model's skin is closed, and all of it counts as outside", f.By})
	}
	out = append(out, fact{"Size", fmt.Sprintf("%s (%s × %s × %s in)", sizeWords(f), figures3(f.SizeMM[0]/25.4), figures3(f.SizeMM[1]/25.4), figures3(f.SizeMM[2]/25.4)), "as drawn"})
	if f.SheetMM2 > 0 {
		out = append(out, fact{"Sheet in it", areaWords(f.SheetMM2), f.By + "; off-cuts and seams come on top"})
	}
	if f.Format == "" {
		b, err := shape.BlankOf(f.Kind, f.DimsMM)
		if err != nil {
			return nil, err
		}
		out = append(out, fact{"To cut", fmt.Sprintf("%s, from %s × %s mm", b.Cut, number(b.LengthMM, 0), number(b.WidthMM, 0)), "common practice: sheet keeps its area when it is raised, folded or rolled"})
	}
	thick := f.DimsMM[shape.Thickness]
	if x.MetalID == 0 {
		out = append(out, fact{"Mass", "not known: choose its metal", "–"})
		return out, nil
	}
	if d == nil {
		return out, nil
	}
	g, err := shape.MassG(f, d.body, m.Alloy, thick)
	switch {
	case studio.ProblemIn(err) != nil:
		out = append(out, fact{"Mass", "not known: " + err.Error(), "–"})
	case err != nil:
		return nil, err
	case g == 0:
		out = append(out, fact{"Mass", "not known: write how thick its metal is", "–"})
	default:
		of := fmt.Sprintf("density of %s × its volume", m.Alloy)
		if f.SheetMM2 > 0 {
			of = fmt.Sprintf("density of %s × %s mm × the sheet in it", m.Alloy, number(thick, 2))
		}
		out = append(out, fact{"Mass", massWords(g), of})
	}
	return out, nil
}

// massWords writes a mass in grams or kilograms, and in ounces or pounds (1 lb =
// 453.59237 g).
func massWords(g float64) string {
	const lb = 453.59237
	if g < 1000 {
		return fmt.Sprintf("%s g (%s oz)", figures3(g), figures3(g/lb*16))
	}
	return fmt.Sprintf("%s kg (%s lb)", figures3(g/1000), figures3(g/lb))
}

// pieceLinks lead to what else is done with a piece, where this Aerugo has a page
// for it.
func (s *Server) pieceLinks(x studio.Piece) (out []pieceLink) {
	for _, l := range []struct{ pattern, label string }{
		{"GET /pieces/{id}/takes", "What it takes"},
		{"GET /pieces/{id}/batches/new", "Make a batch"},
		{"GET /pieces/{id}/care", "Care sheet"},
	} {
		if slices.Contains(s.patterns, l.pattern) {
			out = append(out, pieceLink{strings.Replace(strings.TrimPrefix(l.pattern, "GET "), "{id}", strconv.FormatInt(x.ID, 10), 1), l.label})
		}
	}
	return out
}

// batchLinks lead to a batch, and to its cost where this Aerugo has a page for it.
func (s *Server) batchLinks(x studio.Set) []pieceLink {
	out := []pieceLink{{fmt.Sprintf("/sets/%d", x.ID), x.Name}}
	if slices.Contains(s.patterns, "GET /batches/{set}") {
		out[0].Href = fmt.Sprintf("/batches/%d", x.ID)
	}
	if slices.Contains(s.patterns, "GET /sets/{id}/cost") {
		out = append(out, pieceLink{fmt.Sprintf("/sets/%d/cost", x.ID), "what it cost"})
	}
	return out
}
