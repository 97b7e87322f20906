package web

import (
	"context"
	"fmt"
	"html/template"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"aerugo/internal/flow/find"
	"aerugo/internal/print"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

func (s *Server) labelRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /labels", s.labelsPage)
	s.on(mux, "GET /labels.pdf", s.stickersPDF)
	s.on(mux, "GET /labels/test.pdf", s.stickerTestPDF)
	s.on(mux, "POST /labels/correction", s.keepCorrection)
	s.on(mux, "GET /engrave", s.engravePage)
	s.on(mux, "GET /engrave/{file}", s.engraveFile)
	s.on(mux, "GET /board", s.boardPage)
	s.on(mux, "GET /board.pdf", s.boardPDF)
}

// labelsPage asks what labels to print and on what.
type labelsPage struct {
	Frame
	*form
	Of      string
	Sets    []studio.Set
	SetID   int64
	Formats []print.SheetFormat
	Format  string
	Own     bool
	On      []labelField
	Count   string
}

// labelField is something that can stand on a label.
type labelField struct {
	Key, Label string
	Ticked     bool
}

// labelFields are what can stand on a label beside its number or name.
var labelFields = []labelField{
	{"code", "square code", true}, {"faces", "one label for each face", true}, {"recipe", "recipe", true}, {"metal", "metal", true}, {"settings", "settings", true}, {"place", "where it is kept", false}, {"date", "date made", false},
}

// on reports whether a field was ticked; the defaults count until the form was sent.
func (f *form) onLabel(key string) bool {
	if f.Val("chosen") == "" {
		for _, x := range labelFields {
			if x.Key == key {
				return x.Ticked
			}
		}
	}
	return f.Val("on-"+key) != ""
}

func (s *Server) labelsPage(w http.ResponseWriter, r *http.Request) error {
	return s.showLabels(w, r, readForm(r))
}

func (s *Server) showLabels(w http.ResponseWriter, r *http.Request, f *form) error {
	p := labelsPage{Frame: s.frame(r, "Labels on ready-cut sheets", "swatches"), form: f, Of: f.Val("of"), SetID: f.whole("set", "set", 0), Formats: print.SheetFormats, Format: f.Val("format")}
	if p.Of != "places" && p.Of != "bottles" {
		p.Of = "swatches"
	}
	if p.Format == "" {
		p.Format = print.SheetFormats[0].Key
	}
	for _, x := range labelFields {
		x.Ticked = f.onLabel(x.Key)
		p.On = append(p.On, x)
	}
	var err error
	if p.Sets, err = s.store.Sets(r.Context()); err != nil {
		return err
	}
	if err := s.fillCorrection(r.Context(), f); err != nil {
		return err
	}
	f.onTop("right", "down")
	s.show(w, f.code(), "labels", p)
	return nil
}

// settingCorrection is where it is kept how far the studio's printer draws in paper: to
// the right and down, in mm.
const settingCorrection = "labels.correction_mm"

// correction is how far labels are to be moved for the studio's printer.
func (s *Server) correction(ctx context.Context) (right, down float64, err error) {
	text, err := s.store.Setting(ctx, settingCorrection)
	if err != nil || text == "" {
		return 0, 0, err
	}
	// What can't be used came with an archive made by hand: it is asked for again.
	if n, err := fmt.Sscanf(text, "%g %g", &right, &down); n != 2 || err != nil || print.CheckShift(right, down) != nil {
		return 0, 0, nil
	}
	return right, down, nil
}

// fillCorrection fills in the correction that is kept, where none was typed.
func (s *Server) fillCorrection(ctx context.Context, f *form) error {
	right, down, err := s.correction(ctx)
	if err != nil {
		return err
	}
	for name, v := range map[string]float64{"right": right, "down": down} {
		if !f.values.Has(name) && v != 0 {
			f.set(name, number(v, 2))
		}
	}
	return nil
}

// keepCorrection is POST /labels/correction: later sheets of labels are moved so too.
func (s *Server) keepCorrection(w http.ResponseWriter, r *http.Request) error {
	f := readForm(r)
	right, down := f.number("right", "correction to the right", "mm", 0), f.number("down", "correction down", "mm", 0)
	if f.ok() {
		if err := f.blame(print.CheckShift(right, down), "right"); err != nil {
			return err
		}
	}
	if !f.ok() {
		return s.showLabels(w, r, f)
	}
	if err := s.store.SaveSetting(r.Context(), settingCorrection, fmt.Sprintf("%g %g", right, down)); err != nil {
		return err
	}
	s.live.changed()
	if right == 0 && down == 0 {
		return backSaying(w, r, "/labels", "Labels are not moved any more.")
	}
	return backSaying(w, r, "/labels", "From now on all label sheets are moved so.")
}

// stickerSheet reads what a form says of the sheet.
func (s *Server) stickerSheet(ctx context.Context, f *form) (print.StickerSheet, error) {
	if err := s.fillCorrection(ctx, f); err != nil {
		return print.StickerSheet{}, err
	}
	sheet := print.StickerSheet{Start: int(f.whole("start", "first label", 1)), RightMM: f.number("right", "correction to the right", "mm", 0), DownMM: f.number("down", "correction down", "mm", 0), Studio: s.studioName(), Date: s.now()}
	key := f.Val("format")
	if key == "" {
		key = print.SheetFormats[0].Key
	}
	ok := true
	if key == "own" {
		x := print.SheetFormat{Key: key, Name: "own", Paper: print.A4, Columns: int(f.whole("columns", "columns", 0)), Rows: int(f.whole("rows", "rows", 0)),
			W: f.number("width", "width", "mm", 0), H: f.number("height", "height", "mm", 0), Left: f.number("left", "left margin", "mm", 0), Top: f.number("top", "top margin", "mm", 0)}
		if strings.EqualFold(f.Val("paper"), "letter") {
			x.Paper = print.Letter
		}
		x.PitchX, x.PitchY = f.number("pitchx", "distance across", "mm", x.W), f.number("pitchy", "distance down", "mm", x.H)
		sheet.Format = x
	} else if sheet.Format, ok = print.SheetFormatOf(key); !ok {
		return sheet, studio.Problemf(studio.Invalid, "format", "%q is no sheet of labels known here; choose one from the list, or give your own measures.", key)
	}
	// the words of a sheet lead to both papers: then to the first sheet of that paper
	if want := f.Val("sheet"); key != "own" && want != "" && !strings.EqualFold(want, string(sheet.Format.Paper)) {
		for _, x := range print.SheetFormats {
			if strings.EqualFold(want, string(x.Paper)) {
				sheet.Format = x
				sheet.Start = min(sheet.Start, x.Per())
				break
			}
		}
	}
	for _, text := range f.wrong {
		return sheet, studio.Problemf(studio.Invalid, "", "%s", text)
	}
	return sheet, nil
}

// chosenSwatches are those a form names by numbers, or those of its set.
func (s *Server) chosenSwatches(ctx context.Context, f *form) ([]studio.Swatch, error) {
	if set := f.whole("set", "set", 0); set != 0 && f.Val("numbers") == "" {
		return s.store.SwatchesOf(ctx, set)
	}
	if f.Val("numbers") == "" {
		return nil, nil
	}
	numbers, _, err := swatchNumbers(f.Val("numbers"))
	if err != nil {
		return nil, err
	}
	var out []studio.Swatch
	for _, n := range numbers {
		x, err := s.store.Swatch(ctx, n)
		if err != nil {
			return nil, err
		}
		out = append(out, x)
	}
	return out, nil
}

func (s *Server) stickersPDF(w http.ResponseWriter, r *http.Request) error {
	f := readForm(r)
	sheet, err := s.stickerSheet(r.Context(), f)
	if err != nil {
		return err
	}
	var stickers []print.Sticker
	switch f.Val("of") {
	case "places":
		stickers, err = s.placeStickers(r.Context(), f)
	case "bottles":
		stickers, err = s.bottleStickers(r.Context(), f)
	default:
		stickers, err = s.swatchStickers(r.Context(), f)
	}
	if err != nil {
		return err
	}
	return s.sendPDF(w, "labels.pdf", func(w io.Writer) error { return print.Stickers(w, stickers, sheet) })
}

func (s *Server) stickerTestPDF(w http.ResponseWriter, r *http.Request) error {
	sheet, err := s.stickerSheet(r.Context(), readForm(r))
	if err != nil {
		return err
	}
	return s.sendPDF(w, "label-test.pdf", func(w io.Writer) error { return print.StickerTest(w, sheet) })
}

// told is what is known of one swatch for labels and boards.
type told struct {
	studio.Swatch
	Set    studio.Set
	Metal  string
	Recipe string
	Where  string
	Of     map[studio.Face][]studio.Treatment
}

// tell gathers what labels and boards say of swatches. A set that may not be printed is
// refused as its other sheets are.
func (s *Server) tell(ctx context.Context, swatches []studio.Swatch) ([]told, error) {
	m, _, _, err := s.storageMap(ctx)
	if err != nil {
		return nil, err
	}
	sets, metals, recipes := map[int64]studio.Set{}, map[int64]string{}, map[int64]string{}
	treated := map[int64]map[int64][]studio.Treatment{}
	var out []told
	for _, x := range swatches {
		if _, ok := sets[x.SetID]; !ok {
			set, err := s.store.Set(ctx, x.SetID)
			if err != nil {
				return nil, err
			}
			if _, _, err := s.mayPrint(ctx, set); err != nil {
				return nil, err
			}
			sets[x.SetID] = set
			ts, err := s.store.Treatments(ctx, store.TreatmentFilter{Set: x.SetID})
			if err != nil {
				return nil, err
			}
			by := map[int64][]studio.Treatment{}
			for _, t := range ts {
				by[t.Swatch] = append(by[t.Swatch], t)
			}
			treated[x.SetID] = by
		}
		if _, ok := metals[x.MetalID]; !ok {
			metal, err := s.metalOf(ctx, x.MetalID)
			if err != nil {
				return nil, err
			}
			metals[x.MetalID] = strings.TrimSpace(metal.Name + " " + metal.Alloy)
		}
		o := told{Swatch: x, Set: sets[x.SetID], Metal: metals[x.MetalID], Of: map[studio.Face][]studio.Treatment{}}
		o.Where, _ = m.Where(x.Number)
		var names []string
		for _, t := range treated[x.SetID][x.Number] {
			for _, face := range studio.BothFaces {
				if t.Faces.Has(face) {
					o.Of[face] = append(o.Of[face], t)
				}
			}
			if t.VersionID == 0 {
				continue
			}
			if _, ok := recipes[t.VersionID]; !ok {
				link, err := s.recipeLink(ctx, t.VersionID)
				if err != nil {
					return nil, err
				}
				recipes[t.VersionID] = link.Name
			}
			if name := recipes[t.VersionID]; !slices.Contains(names, name) {
				names = append(names, name)
			}
		}
		o.Recipe = strings.Join(names, ", ")
		out = append(out, o)
	}
	return out, nil
}

// settings are those of a face, of every layer.
func (o told) settings(face studio.Face) string {
	if o.Blank {
		return "blank, kept bare"
	}
	var parts []string
	for _, t := range o.Of[face] {
		if text := settingsText(t.Settings); text != "" {
			parts = append(parts, text)
		}
	}
	return strings.Join(parts, ", then ")
}

func (s *Server) swatchStickers(ctx context.Context, f *form) ([]print.Sticker, error) {
	swatches, err := s.chosenSwatches(ctx, f)
	if err != nil {
		return nil, err
	}
	if len(swatches) == 0 {
		return nil, studio.Problemf(studio.Invalid, "numbers", "Choose a set, or write the numbers of the swatches, like 14 15 20-24.")
	}
	all, err := s.tell(ctx, swatches)
	if err != nil {
		return nil, err
	}
	var out []print.Sticker
	for _, o := range all {
		faces := studio.BothFaces
		if !f.onLabel("faces") {
			faces = faces[:1]
		}
		for _, face := range faces {
			x := print.Sticker{Title: strconv.FormatInt(o.Number, 10), Invented: o.Set.Invented}
			if f.onLabel("faces") {
				x.Word = string(face)
			}
			if f.onLabel("code") {
				x.Code = studio.Code(o.Number, face)
			}
			for _, line := range []struct{ key, text string }{{"settings", o.settings(face)}, {"recipe", o.Recipe}, {"metal", o.Metal}, {"place", o.Where}, {"date", localDay(o.Made)}} {
				if line.text != "" && f.onLabel(line.key) {
					x.Lines = append(x.Lines, line.text)
				}
			}
			out = append(out, x)
		}
	}
	return out, nil
}

func (s *Server) placeStickers(ctx context.Context, f *form) ([]print.Sticker, error) {
	places, err := s.store.Places(ctx)
	if err != nil {
		return nil, err
	}
	var only []int64
	if f.Val("numbers") != "" {
		for _, word := range strings.Fields(strings.ReplaceAll(f.Val("numbers"), ",", " ")) {
			id, err := studio.ReadPlaceCode(word)
			if err != nil {
				if id, err = strconv.ParseInt(word, 10, 64); err != nil {
					return nil, studio.Problemf(studio.Invalid, "numbers", "%q is no place; leave the field empty for all of them.", word)
				}
			}
			only = append(only, id)
		}
	}
	m := find.NewMap(places, nil)
	var out []print.Sticker
	for _, p := range places {
		if !p.Closed.IsZero() || len(only) > 0 && !slices.Contains(only, p.ID) {
			continue
		}
		x := print.Sticker{Title: p.Name, Invented: p.Invented}
		if f.onLabel("code") {
			x.Code = studio.PlaceCode(p.ID)
		}
		if p.Parent != 0 {
			x.Lines = append(x.Lines, m.Path(p.Parent))
		}
		if p.HasGrid() {
			x.Lines = append(x.Lines, fmt.Sprintf("%d rows, %d columns", p.Rows, p.Columns))
		}
		out = append(out, x)
	}
	if len(out) == 0 {
		return nil, studio.Problemf(studio.Invalid, "numbers", "There is no such place to print a label for; name places under Where things are.")
	}
	return out, nil
}

// bottleStickers are short labels for shelves; the bottle's own label with its hazard
// signs is the one that Mix prints.
func (s *Server) bottleStickers(ctx context.Context, _ *form) ([]print.Sticker, error) {
	supplies, err := s.store.Supplies(ctx)
	if err != nil {
		return nil, err
	}
	var out []print.Sticker
	for _, x := range supplies {
		l := print.Sticker{Title: x.Name, Invented: x.Invented}
		for _, line := range []string{substanceName(x.Material), strengthWords(x), lotWords(x)} {
			if line != "" {
				l.Lines = append(l.Lines, line)
			}
		}
		l.Lines = append(l.Lines, "Hazards: see the bottle's own label.")
		out = append(out, l)
	}
	if len(out) == 0 {
		return nil, studio.Problemf(studio.Invalid, "of", "There is no bottle on the shelf yet.")
	}
	return out, nil
}

func strengthWords(x studio.Supply) string {
	if x.Strength == 0 || x.StrengthUnit == studio.Pure {
		return ""
	}
	return fmt.Sprintf("%s %s", number(x.Strength, 1), x.StrengthUnit)
}

func lotWords(x studio.Supply) string {
	if x.Lot == "" {
		return ""
	}
	return "Lot " + x.Lot
}

// engravePage lists what to stamp for a set or for chosen swatches.
type engravePage struct {
	Frame
	*form
	Sets    []studio.Set
	SetID   int64
	Marks   []print.Mark
	Heights []float64
	Query   template.URL
}

// marks are what to stamp: number and face, or the number alone; struck from the back
// they are mirrored.
func (s *Server) marks(ctx context.Context, f *form) ([]print.Mark, error) {
	swatches, err := s.chosenSwatches(ctx, f)
	if err != nil {
		return nil, err
	}
	var out []print.Mark
	for _, x := range swatches {
		switch f.Val("text") {
		case "number":
			out = append(out, print.Mark{Text: strconv.FormatInt(x.Number, 10), Mirror: f.Val("from") == "behind", About: fmt.Sprintf("swatch %d", x.Number)})
		case "code":
			for _, face := range studio.BothFaces {
				out = append(out, print.Mark{Text: studio.Code(x.Number, face), Mirror: f.Val("from") == "behind", About: fmt.Sprintf("swatch %d, %s", x.Number, face)})
			}
		default:
			for _, face := range studio.BothFaces {
				out = append(out, print.Mark{Text: strconv.FormatInt(x.Number, 10) + strings.ToUpper(string(face[:1])), Mirror: f.Val("from") == "behind", About: fmt.Sprintf("swatch %d, %s", x.Number, face)})
			}
		}
	}
	return out, nil
}

func (s *Server) engravePage(w http.ResponseWriter, r *http.Request) error {
	f := readForm(r)
	p := engravePage{Frame: s.frame(r, "Numbers to stamp or engrave", "swatches"), form: f, SetID: f.whole("set", "set", 0), Heights: print.EngravingHeights}
	var err error
	if p.Sets, err = s.store.Sets(r.Context()); err != nil {
		return err
	}
	if p.Marks, err = s.marks(r.Context(), f); err != nil {
		if err := f.blame(err, "numbers"); err != nil {
			return err
		}
	}
	q := url.Values{}
	for _, name := range []string{"set", "numbers", "text", "from", "high"} {
		if v := f.Val(name); v != "" {
			q.Set(name, v)
		}
	}
	p.Query = template.URL(q.Encode())
	f.onTop("numbers")
	s.show(w, f.code(), "engrave", p)
	return nil
}

// engraveFile is GET /engrave/marks.txt, .csv or .svg.
func (s *Server) engraveFile(w http.ResponseWriter, r *http.Request) error {
	f := readForm(r)
	marks, err := s.marks(r.Context(), f)
	if err != nil {
		return err
	}
	if len(marks) == 0 {
		return studio.Problemf(studio.Invalid, "numbers", "Choose a set, or write the numbers of the swatches, like 14 15 20-24.")
	}
	high := f.number("high", "height of the letters", "mm", 3)
	for _, text := range f.wrong {
		return studio.Problemf(studio.Invalid, "", "%s", text)
	}
	var body []byte
	kind := ""
	switch r.PathValue("file") {
	case "marks.txt":
		body, kind = []byte(print.EngravingText(marks)), "text/plain; charset=utf-8"
	case "marks.csv":
		body, kind = print.EngravingCSV(marks), "text/csv; charset=utf-8"
	case "marks.svg":
		if body, err = print.EngravingSVG(marks, high); err != nil {
			return err
		}
		kind = "image/svg+xml"
	default:
		return studio.Problemf(studio.NotFound, "", "There is no such list; there are marks.txt, marks.csv and marks.svg.")
	}
	w.Header().Set("Content-Type", kind)
	if f.Val("save") != "" {
		w.Header().Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", r.PathValue("file")))
	}
	_, _ = w.Write(body)
	return nil
}
