package web

import (
	"context"
	"errors"
	"fmt"
	"html/template"
	"io"
	"math"
	"mime"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"aerugo/internal/flow/shape"
	"aerugo/internal/studio"
)

func (s *Server) pieceRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /pieces", s.pieceList)
	s.on(mux, "GET /pieces/new", s.newPiece)
	s.on(mux, "POST /pieces", s.savePiece)
	s.on(mux, "GET /pieces/{id}", s.piece)
	s.on(mux, "GET /pieces/{id}/lies", s.pieceLies)
	s.on(mux, "GET /pieces/{id}/edit", s.editPiece)
	s.on(mux, "POST /pieces/{id}/up", s.turnPiece)
	s.on(mux, "GET /pieces/{id}/file", s.pieceFile)
	s.on(mux, "GET /pieces/{id}/picture.png", s.piecePicture)
	s.on(mux, "GET /pieces/{id}/mesh", s.pieceMesh)
	s.on(mux, "GET /pieces/{id}/look", s.pieceLook)
}

// piecesPage lists the pieces.
type piecesPage struct {
	Frame
	Pieces []pieceCard
}

type pieceCard struct {
	studio.Piece
	Shape, Area, Size string
	Recipes           string
}

// pieceForm asks for one piece: first for its shape, then for the rest.
type pieceForm struct {
	Frame
	*form
	Piece    studio.Piece
	Kinds    []kindView
	Kind     *kindView // nil until a shape or file is chosen
	FromFile bool
	Metals   []studio.Metal
	Recipes  []recipeChoice
	Units    [][2]string
	MaxMB    int
}

// kindView is a shape with its drawing.
type kindView struct {
	shape.Kind
	Drawing template.HTML
}

type recipeChoice struct {
	Version int64
	Name    string
}

// pieceUnits are the units of drawings and models: their length in mm, and their name.
var pieceUnits = [][2]string{{"", "as the file says, else mm"}, {"1", "mm"}, {"10", "cm"}, {"1000", "m"}, {"25.4", "inches"}, {"304.8", "feet"}}

// fromFile is chosen instead of a shape.
const fromFile = "file"

func kindViews() (out []kindView) {
	for _, k := range shape.Kinds() {
		out = append(out, kindView{k, kindDrawing(k.Key)})
	}
	return out
}

// pieceShape names the shape of a piece.
func pieceShape(f studio.Form) string {
	if f.Format != "" {
		return f.Kind + ", " + f.Format
	}
	if k, ok := shape.KindOf(f.Kind); ok {
		return k.Name
	}
	return f.Kind
}

// areaWords writes an area in cm² and square inches (1 in = 25.4 mm).
func areaWords(mm2 float64) string {
	return fmt.Sprintf("%s cm² (%s sq in)", figures3(mm2/100), figures3(mm2/645.16))
}

// figures3 writes a number with three figures, or all before the point.
func figures3(v float64) string {
	if v == 0 || math.IsNaN(v) || math.IsInf(v, 0) {
		return number(v, 0)
	}
	return number(v, max(0, 2-int(math.Floor(math.Log10(math.Abs(v))))))
}

func sizeWords(f studio.Form) string {
	return fmt.Sprintf("%s × %s × %s mm", number(f.SizeMM[0], 1), number(f.SizeMM[1], 1), number(f.SizeMM[2], 1))
}

// recipeChoices are the recipes' newest versions, and keep as well if it is older.
func (s *Server) recipeChoices(ctx context.Context, keep ...int64) ([]recipeChoice, error) {
	all, err := s.store.Recipes(ctx)
	if err != nil {
		return nil, err
	}
	var out []recipeChoice
	for _, r := range all {
		out = append(out, recipeChoice{r.Latest.ID, fmt.Sprintf("%s, version %d", r.Name, r.Latest.Number)})
	}
	for _, id := range keep {
		if id != 0 && !slices.ContainsFunc(out, func(c recipeChoice) bool { return c.Version == id }) {
			name, err := s.versionName(ctx, id)
			if err != nil {
				return nil, err
			}
			out = append(out, recipeChoice{id, name})
		}
	}
	return out, nil
}

// versionName names a recipe's version.
func (s *Server) versionName(ctx context.Context, id int64) (string, error) {
	v, err := s.store.Version(ctx, id)
	if err != nil {
		return "", err
	}
	r, err := s.store.Recipe(ctx, v.RecipeID)
	return fmt.Sprintf("%s, version %d", r.Name, v.Number), err
}

func (s *Server) pieceList(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	all, err := s.store.Pieces(ctx)
	if err != nil {
		return err
	}
	p := piecesPage{Frame: s.frame(r, "Pieces", "pieces")}
	for _, x := range all {
		c := pieceCard{Piece: x, Shape: pieceShape(x.Form), Area: areaWords(x.Form.OutsideMM2 + x.Form.InsideMM2), Size: sizeWords(x.Form)}
		if x.OutsideID != 0 {
			if c.Recipes, err = s.versionName(ctx, x.OutsideID); err != nil {
				return err
			}
		}
		p.Pieces = append(p.Pieces, c)
	}
	s.show(w, http.StatusOK, "pieces", p)
	return nil
}

// fillPieceForm gives the form its choices.
func (s *Server) fillPieceForm(r *http.Request, f *form, x studio.Piece) (p pieceForm, err error) {
	p = pieceForm{Frame: s.frame(r, "A new piece", "pieces"), form: f, Piece: x, Kinds: kindViews(), Units: pieceUnits, MaxMB: studio.MaxFormFile >> 20}
	if x.ID != 0 {
		p.Title = "Change " + x.Name
	}
	if p.Metals, err = s.store.Metals(r.Context()); err != nil {
		return p, err
	}
	if p.Recipes, err = s.recipeChoices(r.Context(), x.OutsideID, x.InsideID); err != nil {
		return p, err
	}
	kind := f.Val("kind")
	p.FromFile = kind == fromFile
	if i := slices.IndexFunc(p.Kinds, func(k kindView) bool { return k.Key == kind }); i >= 0 {
		p.Kind = &p.Kinds[i]
	}
	return p, nil
}

// Asking reports whether the shape is still to be chosen.
func (p pieceForm) Asking() bool { return p.Kind == nil && !p.FromFile }

func (s *Server) newPiece(w http.ResponseWriter, r *http.Request) error {
	p, err := s.fillPieceForm(r, readForm(r), studio.Piece{})
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "piece_edit", p)
	return nil
}

func (s *Server) pieceIn(r *http.Request) (studio.Piece, error) {
	id, err := idIn(r, "id")
	if err != nil {
		return studio.Piece{}, err
	}
	return s.store.Piece(r.Context(), id)
}

func (s *Server) editPiece(w http.ResponseWriter, r *http.Request) error {
	x, err := s.pieceIn(r)
	if err != nil {
		return err
	}
	f := readForm(r)
	if !f.values.Has("kind") {
		f.set("kind", x.Form.Kind)
		if x.Form.Format != "" {
			f.set("kind", fromFile)
		}
	}
	f.set("name", x.Name)
	f.set("note", x.Note)
	f.set("metal", strconv.FormatInt(x.MetalID, 10))
	f.set("outside", strconv.FormatInt(x.OutsideID, 10))
	switch {
	case x.SameFaces:
		f.set("inside", "same")
	case x.InsideID != 0:
		f.set("inside", strconv.FormatInt(x.InsideID, 10))
	}
	if x.Reference != 0 {
		f.set("reference", strconv.FormatInt(x.Reference, 10))
	}
	if x.Form.UnitMM > 0 {
		f.set("unit", strconv.FormatFloat(x.Form.UnitMM, 'g', -1, 64))
	}
	for k, v := range x.Form.DimsMM {
		if v != 0 {
			f.set("d-"+k, strconv.FormatFloat(v, 'g', -1, 64))
		}
	}
	var lines []string
	for _, q := range shape.Profile(x.Form.DimsMM) {
		lines = append(lines, fmt.Sprintf("%v %v", q.X, q.Y))
	}
	f.set("profile", strings.Join(lines, "\n"))
	p, err := s.fillPieceForm(r, f, x)
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "piece_edit", p)
	return nil
}

// readPieceForm reads a form that may carry a drawing or model.
func readPieceForm(w http.ResponseWriter, r *http.Request) (f *form, name string, data []byte, done func()) {
	done = func() {}
	r.Body = http.MaxBytesReader(w, r.Body, studio.MaxFormFile+1<<20)
	err := r.ParseMultipartForm(4 << 20)
	if r.MultipartForm != nil {
		done = func() { _ = r.MultipartForm.RemoveAll() }
	}
	f = readForm(r)
	var big *http.MaxBytesError
	switch {
	case errors.As(err, &big):
		f.say("file", "That file is larger than the %d MB a drawing or model may have; save it with fewer triangles.", studio.MaxFormFile>>20)
		return f, "", nil, done
	case err != nil && !errors.Is(err, http.ErrNotMultipart):
		f.say("file", "The form did not arrive whole; send it again.")
		return f, "", nil, done
	}
	file, head, err := r.FormFile("file")
	if err != nil {
		return f, "", nil, done // none was chosen
	}
	defer file.Close()
	if data, err = io.ReadAll(io.LimitReader(file, studio.MaxFormFile+1)); err != nil {
		f.say("file", "The file did not arrive whole; send it again.")
	}
	return f, head.Filename, data, done
}

// savePiece is POST /pieces: a new piece, or a changed one (field id).
func (s *Server) savePiece(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	leave, err := s.takeSeat(ctx) // a large model takes as much memory as a photograph
	if err != nil {
		return err
	}
	defer leave()
	f, name, data, done := readPieceForm(w, r)
	defer done()
	x := studio.Piece{}
	if id := f.whole("id", "number", 0); id != 0 {
		if x, err = s.store.Piece(ctx, id); err != nil {
			return err
		}
	}
	was := x.Form
	x.Name, x.Note = f.Val("name"), f.Val("note")
	x.MetalID = f.whole("metal", "metal", 0)
	x.OutsideID = f.whole("outside", "recipe", 0)
	x.InsideID, x.SameFaces = 0, f.Val("inside") == "same"
	if !x.SameFaces && f.Val("inside") != "" {
		x.InsideID = f.whole("inside", "recipe", 0)
	}
	x.Reference = f.whole("reference", "swatch number", 0)
	thick := f.number("d-"+shape.Thickness, "thickness", "mm", 0)
	if thick < 0 || thick > 100 {
		f.say("d-"+shape.Thickness, "A thickness of %v mm can't be right; it must be from 0 to 100 mm.", thick)
	}
	if x.MetalID != 0 && thick == 0 && f.Wrong("metal") == "" {
		m, err := s.store.Metal(ctx, x.MetalID)
		if err := f.blame(renamed(err, "metal"), "metal"); err != nil {
			return err
		}
		thick = m.ThicknessMM
	}
	if f.ok() {
		made, err := s.formFrom(f, was, name, data, thick)
		if err := f.blame(err, "file", "unit", "longest", "profile", "kind", "d-longest"); err != nil {
			return err
		}
		if was.Up != [3]float64{} && was.Kind == made.Kind && was.SHA256 == made.SHA256 {
			made.Up = was.Up
		}
		x.Form = made
	}
	if f.ok() {
		var kept studio.Piece
		if len(data) > 0 && x.Form.Format != "" {
			kept, err = s.store.SavePieceWithFile(ctx, x, data)
		} else {
			kept, err = s.store.SavePiece(ctx, x)
		}
		if p := studio.ProblemIn(err); p != nil && p.Kind == studio.NotFound && strings.Contains(p.Text, "swatch") {
			err = studio.Problemf(studio.Invalid, "reference", "There is no swatch %d; write the number on its label, or leave it empty.", x.Reference)
		}
		if err := f.blame(err, "name", "inside", "reference", "file"); err != nil {
			return err
		}
		if f.ok() {
			s.live.changed()
			return backSaying(w, r, fmt.Sprintf("/pieces/%d", kept.ID), kept.Name+" is kept.")
		}
	}
	p, err := s.fillPieceForm(r, f, studio.Piece{ID: x.ID, Name: x.Name, Form: was, OutsideID: x.OutsideID, InsideID: x.InsideID})
	if err != nil {
		return err
	}
	shown := []string{"name", "inside", "reference", "file", "unit", "d-longest", "profile", "d-" + shape.Thickness}
	if p.Kind != nil {
		for _, d := range p.Kind.Dims {
			shown = append(shown, "d-"+d.Key)
		}
	}
	if len(data) > 0 {
		f.say("file", "Choose the file again: a browser does not send it twice.")
	}
	f.onTop(shown...)
	s.show(w, http.StatusUnprocessableEntity, "piece_edit", p)
	return nil
}

// formFrom reckons the form that was typed or sent.
func (s *Server) formFrom(f *form, was studio.Form, name string, data []byte, thick float64) (studio.Form, error) {
	kind := f.Val("kind")
	if kind == fromFile {
		opt := shape.Options{UnitMM: f.number("unit", "unit", "mm", 0), LongestMM: f.number("d-longest", "longest side", "mm", 0), ThickMM: thick}
		if !f.ok() {
			return was, nil
		}
		if len(data) == 0 {
			if was.Format == "" {
				return was, studio.Problemf(studio.Invalid, "file", "Choose the drawing or model first.")
			}
			kept, err := s.pieceData(was)
			if err != nil {
				return was, err
			}
			made, _, err := shape.Read("kept."+studio.FormFormats[was.Format], kept, opt)
			made.FileName = was.FileName
			return made, renamedLongest(err)
		}
		made, _, err := shape.Read(name, data, opt)
		return made, renamedLongest(err)
	}
	k, ok := shape.KindOf(kind)
	if !ok {
		return was, studio.Problemf(studio.Invalid, "", "Choose what shape the piece has.")
	}
	dims := map[string]float64{}
	if k.Profile {
		profile, err := shape.ReadProfile(f.Val("profile"), decimal)
		if err != nil {
			return was, err
		}
		dims = shape.Dims(profile)
		if f.Val("d-"+shape.Rounded) != "" {
			dims[shape.Rounded] = 1
		}
	}
	for _, d := range k.Dims {
		unit := "mm"
		if d.Count {
			unit = ""
		}
		if v := f.number("d-"+d.Key, strings.ToLower(d.Label), unit, 0); v != 0 {
			dims[d.Key] = v
		}
	}
	if thick > 0 {
		dims[shape.Thickness] = thick
	}
	if !f.ok() {
		return was, nil
	}
	made, err := shape.Of(kind, dims)
	if p := studio.ProblemIn(err); p != nil && (slices.ContainsFunc(k.Dims, func(d shape.Dim) bool { return d.Key == p.Field }) || p.Field == shape.Thickness) {
		f.say("d-"+p.Field, "%s", p.Text)
		return was, nil
	}
	return made, err
}

func renamedLongest(err error) error {
	if p := studio.ProblemIn(err); p != nil && p.Field == "longest" {
		return renamed(err, "d-longest")
	}
	return err
}

// pieceData reads the file of a form; none for a shape.
func (s *Server) pieceData(f studio.Form) ([]byte, error) {
	if f.Format == "" {
		return nil, nil
	}
	file, err := s.store.OpenPieceFile(f.SHA256, f.Format)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	data, err := io.ReadAll(io.LimitReader(file, studio.MaxFormFile+1))
	if err != nil {
		return nil, fmt.Errorf("read file of piece %s: %w", f.SHA256, err)
	}
	return data, nil
}

// pieceFile is GET /pieces/{id}/file: the file as it came, to be saved. It is never
// shown here, so that nothing in it can run.
func (s *Server) pieceFile(w http.ResponseWriter, r *http.Request) error {
	x, err := s.pieceIn(r)
	if err != nil {
		return err
	}
	if x.Form.Format == "" {
		return studio.Problemf(studio.NotFound, "", "%s was made from its sizes; there is no file.", x.Name)
	}
	file, err := s.store.OpenPieceFile(x.Form.SHA256, x.Form.Format)
	if err != nil {
		return err
	}
	defer file.Close()
	h := w.Header()
	h.Set("Content-Type", "application/octet-stream")
	h.Set("Content-Security-Policy", "sandbox; default-src 'none'")
	h.Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": x.Form.FileName}))
	h.Set("Content-Length", strconv.FormatInt(x.Form.Bytes, 10))
	_, _ = io.Copy(w, file) // the reader may have gone; nothing is lost
	return nil
}

// turnPiece is POST /pieces/{id}/up: which way is up.
func (s *Server) turnPiece(w http.ResponseWriter, r *http.Request) error {
	x, err := s.pieceIn(r)
	if err != nil {
		return err
	}
	up, ok := upFrom(readForm(r).Val("up"))
	if !ok {
		return studio.Problemf(studio.Invalid, "up", "Choose one of the pictures.")
	}
	x.Form.Up = [3]float64{up.X, up.Y, up.Z}
	if _, err := s.store.SavePiece(r.Context(), x); err != nil {
		return err
	}
	s.live.changed()
	return backSaying(w, r, fmt.Sprintf("/pieces/%d#lies", x.ID), "It stands that way now.")
}

// upFrom reads a way up written as three numbers: "0,-1,1".
func upFrom(text string) (shape.Vec, bool) {
	words := strings.Split(text, ",")
	if len(words) != 3 {
		return shape.Vec{}, false
	}
	var v [3]float64
	for i, w := range words {
		x, err := strconv.ParseFloat(w, 64)
		if err != nil || !(math.Abs(x) <= 1) {
			return shape.Vec{}, false
		}
		v[i] = x
	}
	return shape.Vec{X: v[0], Y: v[1], Z: v[2]}, v != [3]float64{}
}

func upText(v shape.Vec) string {
	return fmt.Sprintf("%.4g,%.4g,%.4g", v.X, v.Y, v.Z)
}
