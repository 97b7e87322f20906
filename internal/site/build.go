package site

import (
	"bytes"
	"cmp"
	"context"
	"embed"
	"fmt"
	"html/template"
	"io/fs"
	"path"
	"regexp"
	"slices"
	"strings"

	"aerugo/internal/flow/plan"
	"aerugo/internal/fonts"
	"aerugo/internal/language"
	"aerugo/internal/picture"
	"aerugo/internal/recipefile"
	"aerugo/internal/science/colour"
	"aerugo/internal/science/matter"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

//go:embed pages/*.html pages/site.css
var pageFiles embed.FS

// An Ask says what a site shows. Day is the day it is dated (2026-11-25). Findings
// are sentences to show with a set, by its id.
type Ask struct {
	Title    string
	Day      string
	Recipes  []int64
	Sets     []int64
	Maker    Maker
	Hide     bool               // words instead of amounts, strengths and times
	Notes    bool               // also what was written freely
	Language *language.Language // nil: English
	Findings map[int64][]string
	// Seat waits until there is room for one more photograph in memory; nil: there always is.
	Seat func(context.Context) (leave func(), err error)
}

// Check reports a Problem when nothing can be made of a.
func (a Ask) Check() error {
	if len(a.Recipes)+len(a.Sets) == 0 {
		return studio.Problemf(studio.Invalid, "what", "Tick at least one recipe or set.")
	}
	if strings.TrimSpace(a.Title) == "" || len([]rune(a.Title)) > 120 {
		return studio.Problemf(studio.Invalid, "title", "Give the site a title of 1 to 120 letters.")
	}
	return a.Maker.Check()
}

// page is what every page of a site is given.
type page struct {
	Title, Site, Day string
	Maker            Maker
	Licence          string
	Hide             bool
	Recipes          []recipeView
	Sets             []setView
	Swatches         []*swatchView
	Recipe           recipeView
	Set              setView
	Swatch           *swatchView
	By               string
	Orders           []order
	At               string
	File             bool
	Invented         bool
}

type recipeView struct {
	recipefile.Recipe
	Page     string
	Steps    []stepView
	Over     string
	OverPage string
	OverHow  string
	Swatches []*swatchView
	Known    string
	Cautions []string
	Licence  string
	From     string
	Based    string
}

type stepView struct {
	What  string
	Lines []string
}

type setView struct {
	ID                   int64
	Page, Name, Question string
	Findings             []string
	Swatches             []*swatchView
}

type swatchView struct {
	Number  int64
	Page    string
	Metal   string
	Blank   bool
	Size    string
	Faces   []faceView
	Recipes []link
	Setting string
	Note    string
	look    *studio.Measurement // of the face by which it is sorted
}

type link struct{ Page, Name string }

type faceView struct {
	Face                  studio.Face
	Small, Large          string
	SmallWide, SmallHigh  int
	LargeWide             int
	Alt                   string
	Measured              bool
	Colour, Lab, Coverage string
	Spread                string
	Screen                string
	InGamut               bool
	photo                 int64
	corners               *[4]studio.Point
}

// order is a way to sort the table of swatches, each a page of its own, so that it
// needs no script.
type order struct {
	Page, Label string
	by          func(a, b *swatchView) int
}

func measuredFirst(value func(*studio.Measurement) float64) func(a, b *swatchView) int {
	return func(a, b *swatchView) int {
		switch {
		case a.look == nil && b.look == nil:
			return 0
		case a.look == nil:
			return 1
		case b.look == nil:
			return -1
		}
		return cmp.Compare(value(a.look), value(b.look))
	}
}

var orders = []order{
	{"table.html", "Number", func(a, b *swatchView) int { return cmp.Compare(a.Number, b.Number) }},
	{"table-lightness.html", "Darkest first", measuredFirst(func(m *studio.Measurement) float64 { return m.Lab.L })},
	{"table-hue.html", "Hue", measuredFirst(func(m *studio.Measurement) float64 { return m.Lab.Hue() })},
	{"table-colourful.html", "Most colourful first", measuredFirst(func(m *studio.Measurement) float64 { return -m.Lab.Chroma() })},
	{"table-coverage.html", "Most covered first", measuredFirst(func(m *studio.Measurement) float64 {
		if m.Coverage == nil {
			return 1
		}
		return -m.Coverage.Value
	})},
}

// How long the sides of a site's pictures are, in pixels.
const (
	smallSide = 480
	largeSide = 1280
)

// Build makes the files of a site, in a fixed order, and hands each to put. The same
// records and the same Ask give the same files. progress may be nil.
func Build(ctx context.Context, s *store.Store, a Ask, put func(name string, data []byte) error, progress func(done, total int)) error {
	if err := a.Check(); err != nil {
		return err
	}
	r, err := Gather(ctx, s)
	if err != nil {
		return err
	}
	b := &builder{records: r, ask: a, put: put, swatches: map[int64]*swatchView{}, said: progress, photo: s.PhotoData}
	return b.build(ctx)
}

type builder struct {
	records  *Records
	ask      Ask
	put      func(string, []byte) error
	said     func(int, int)
	photo    func(context.Context, int64) ([]byte, error)
	pages    *template.Template
	file     recipefile.File
	recipes  []recipeView
	sets     []setView
	swatches map[int64]*swatchView
}

func (b *builder) build(ctx context.Context) error {
	var err error
	if b.pages, err = pagesIn(cmp.Or(b.ask.Language, language.English)); err != nil {
		return err
	}
	if err := b.gatherSets(); err != nil {
		return err
	}
	if err := b.gatherRecipes(ctx); err != nil {
		return err
	}
	all := b.sorted(orders[0].by)
	for i, x := range all {
		if b.said != nil {
			b.said(i, len(all)+1)
		}
		if err := b.pictures(ctx, x); err != nil {
			return err
		}
	}
	return b.write(all)
}

// pagesIn reads the pages in a language.
func pagesIn(l *language.Language) (*template.Template, error) {
	files, err := fs.Glob(pageFiles, "pages/*.html")
	if err != nil {
		return nil, fmt.Errorf("read pages: %w", err)
	}
	pages := template.New("").Funcs(template.FuncMap{
		"lang": func() string { return l.Tag },
		"say":  l.Any,
		"own":  func(v any) any { return v }, // a person's words, the same in every language
	})
	for _, file := range files {
		src, err := pageFiles.ReadFile(file)
		if err != nil {
			return nil, fmt.Errorf("read pages: %w", err)
		}
		name := path.Base(file)
		if _, err := pages.New(name).Parse(l.Page(strings.TrimSuffix(name, ".html"), string(src))); err != nil {
			return nil, fmt.Errorf("read page %s in %s: %w", name, l.Tag, err)
		}
	}
	return pages, nil
}

func (b *builder) gatherSets() error {
	r := b.records
	for _, id := range b.ask.Sets {
		i := slices.IndexFunc(r.sets, func(x studio.Set) bool { return x.ID == id })
		if i < 0 {
			return studio.Problemf(studio.NotFound, "set", "There is no set %d in this studio.", id)
		}
		set := r.sets[i]
		if set.PieceID != 0 {
			return studio.Problemf(studio.Invalid, "set", "%s is a batch of pieces, which may be a customer's; batches are not published.", set.Name)
		}
		v := setView{ID: id, Name: b.words(set.Name), Question: b.words(set.Question)}
		v.Page = b.pageName("set", id, v.Name)
		for _, text := range b.ask.Findings[id] {
			v.Findings = append(v.Findings, b.words(text))
		}
		for _, x := range r.swatches {
			if x.SetID == id && !r.students[x.Number] {
				v.Swatches = append(v.Swatches, b.swatch(x.Number))
			}
		}
		slices.SortFunc(v.Swatches, orders[0].by)
		b.sets = append(b.sets, v)
	}
	return nil
}

func (b *builder) gatherRecipes(ctx context.Context) error {
	r := b.records
	ids := slices.Clone(b.ask.Recipes)
	slices.Sort(ids)
	if ids = slices.Compact(ids); len(ids) == 0 {
		return nil
	}
	var err error
	b.file, err = r.RecipeFile(ctx, What{Recipes: ids, Maker: b.ask.Maker, Hide: b.ask.Hide, Notes: b.ask.Notes})
	if err != nil {
		return err
	}
	pages := map[string]string{}
	local := map[string]int64{}
	for id := range r.of {
		local[r.idOf(id)] = id
	}
	for _, x := range b.file.Recipes {
		pages[x.ID] = b.pageName("recipe", local[x.ID], x.Name)
	}
	for _, x := range b.file.Recipes {
		v := recipeView{Recipe: x, Page: pages[x.ID], Licence: recipefile.LicenceWords(x.Licence), From: MakerWords(x.By, x.Studio)}
		newest := x.Newest()
		for _, s := range newest.Steps {
			what, lines := StepWords(s)
			v.Steps = append(v.Steps, stepView{what, lines})
		}
		if o := newest.Over; o != nil {
			below, _ := b.file.Recipe(o.Recipe)
			v.Over, v.OverPage, v.OverHow = below.Name, pages[o.Recipe], o.State
		}
		if x.BasedOn != nil {
			v.Based = fmt.Sprintf("Changed from %s by %s.", x.BasedOn.Name, MakerWords(x.BasedOn.By, x.BasedOn.Studio))
		}
		layers := fileLayers(b.file, x, newest)
		for _, c := range matter.Clashes(plan.Uses(layers, nil), "") {
			v.Cautions = append(v.Cautions, b.words(c.String()))
		}
		for _, c := range matter.Cautions(plan.Uses(layers, nil), "") {
			v.Cautions = append(v.Cautions, b.words(c.Text))
		}
		var versions []int64
		for _, y := range r.of[local[x.ID]] {
			versions = append(versions, y.ID)
		}
		for _, m := range r.madeBy(versions...) {
			s := b.swatch(m.look.Swatch)
			if !slices.Contains(v.Swatches, s) {
				v.Swatches = append(v.Swatches, s)
			}
		}
		for _, s := range v.Swatches {
			if l := (link{v.Page, x.Name}); !slices.Contains(s.Recipes, l) {
				s.Recipes = append(s.Recipes, l)
			}
		}
		v.Known = knownWords(x.Evidence, len(v.Swatches))
		b.recipes = append(b.recipes, v)
	}
	slices.SortFunc(b.recipes, func(x, y recipeView) int { return cmp.Or(cmp.Compare(x.Name, y.Name), cmp.Compare(x.ID, y.ID)) })
	return nil
}

func knownWords(e *recipefile.Evidence, here int) string {
	switch {
	case e == nil || e.Swatches == 0:
		return "No finished and measured swatch stands behind it yet."
	case e.Swatches == 1:
		return "One finished and measured swatch stands behind it."
	case here == 0:
		return fmt.Sprintf("%d finished and measured swatches stand behind it, by its maker's word.", e.Swatches)
	}
	return fmt.Sprintf("%d finished and measured swatches stand behind it.", e.Swatches)
}

// swatch returns the view of a swatch, made once.
func (b *builder) swatch(number int64) *swatchView {
	if v := b.swatches[number]; v != nil {
		return v
	}
	r := b.records
	x := r.swatches[number]
	v := &swatchView{Number: number, Page: fmt.Sprintf("swatch-%04d.html", number), Metal: r.metals[x.MetalID].Name, Blank: x.Blank, Size: fmt.Sprintf("%.3g × %.3g mm", x.WidthMM, x.HeightMM)}
	if b.ask.Notes {
		v.Note = b.words(x.Note)
	}
	var settings []string
	for _, t := range r.treatments {
		if t.Swatch != number || t.Blank {
			continue
		}
		for _, y := range t.Settings {
			text := fmt.Sprintf("%s: %s", y.Factor, y.Level.Label)
			if b.ask.Hide {
				text = fmt.Sprintf("%s: %s", b.words(y.Factor), b.rank(x.SetID, y))
			}
			if !slices.Contains(settings, text) {
				settings = append(settings, text)
			}
		}
	}
	v.Setting = strings.Join(settings, "; ")
	for _, face := range studio.BothFaces {
		look, ok := r.looks[faceKey{number, face}]
		if !ok {
			continue
		}
		f := faceView{Face: face, photo: look.Photo, Alt: r.alt(look), Small: fmt.Sprintf("pictures/s%04d-%s-small.jpg", number, face), Large: fmt.Sprintf("pictures/s%04d-%s-large.jpg", number, face)}
		if m := look.Measurement; m != nil {
			f.corners = m.Marks.Corners
			if m.Calibrated {
				f.measure(m)
				if v.look == nil {
					v.look = m
				}
			}
		}
		v.Faces = append(v.Faces, f)
	}
	b.swatches[number] = v
	return v
}

func (f *faceView) measure(m *studio.Measurement) {
	f.Measured, f.Colour = true, m.Name
	f.Lab = minus(fmt.Sprintf("L* %.1f, a* %.1f, b* %.1f", m.Lab.L, m.Lab.A, m.Lab.B))
	f.Spread = fmt.Sprintf("places on the face lie ± %.1f from that", m.SD)
	f.Screen, f.InGamut = colour.ToScreen(m.Lab)
	if c := m.Coverage; c != nil {
		f.Coverage = fmt.Sprintf("%.0f %% (between %.0f and %.0f %%)", c.Value*100, c.Low*100, c.High*100)
	}
}

// rank says where a level stands among those of its factor, without its figure.
func (b *builder) rank(set int64, x studio.Setting) string {
	if !x.Kind.Numeric() {
		return b.words(x.Level.Label)
	}
	i := slices.IndexFunc(b.records.sets, func(s studio.Set) bool { return s.ID == set })
	if i < 0 {
		return "not told"
	}
	for _, f := range b.records.sets[i].Factors {
		if f.Name != x.Factor {
			continue
		}
		below, above := 0, 0
		for _, l := range f.Levels {
			if l.Number < x.Level.Number {
				below++
			} else if l.Number > x.Level.Number {
				above++
			}
		}
		switch {
		case below == 0 && above > 0:
			return "the least"
		case above == 0 && below > 0:
			return "the most"
		case below > 0:
			return "in between"
		}
	}
	return "not told"
}

func minus(text string) string { return strings.ReplaceAll(text, "-", "−") }

// words takes figures of amounts and times out of a text where they are hidden.
func (b *builder) words(text string) string {
	if b.ask.Hide {
		return recipefile.HideIn(text)
	}
	return text
}

var notName = regexp.MustCompile(`[^a-z]+`)

// pageName names a page after what it shows; figures never get in.
func (b *builder) pageName(kind string, id int64, name string) string {
	slug := strings.Trim(notName.ReplaceAllString(strings.ToLower(name), "-"), "-")
	if len(slug) > 40 {
		slug = strings.TrimRight(slug[:40], "-")
	}
	return strings.TrimRight(fmt.Sprintf("%s-%d-%s", kind, id, slug), "-") + ".html"
}

func (b *builder) sorted(by func(a, b *swatchView) int) []*swatchView {
	var out []*swatchView
	for _, x := range b.swatches {
		out = append(out, x)
	}
	slices.SortFunc(out, func(x, y *swatchView) int { return cmp.Or(by(x, y), cmp.Compare(x.Number, y.Number)) })
	return out
}

// pictures writes both sizes of a swatch's pictures.
func (b *builder) pictures(ctx context.Context, x *swatchView) error {
	for i := range x.Faces {
		if err := b.picture(ctx, &x.Faces[i]); err != nil {
			return err
		}
	}
	return nil
}

func (b *builder) picture(ctx context.Context, f *faceView) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if b.ask.Seat != nil {
		leave, err := b.ask.Seat(ctx)
		if err != nil {
			return err
		}
		defer leave()
	}
	data, err := b.photo(ctx, f.photo)
	if err != nil {
		return err
	}
	img, err := picture.Decode(data)
	if err != nil {
		return err
	}
	small := faceJPEG(img, f.corners, smallSide)
	large := faceJPEG(img, f.corners, largeSide)
	if f.SmallWide, f.SmallHigh, err = sizeOf(small); err != nil {
		return err
	}
	if f.LargeWide, _, err = sizeOf(large); err != nil {
		return err
	}
	if err := b.put(f.Small, small); err != nil {
		return err
	}
	return b.put(f.Large, large)
}

// invented reports whether something of the example is shown.
func (b *builder) invented() bool {
	r := b.records
	return slices.ContainsFunc(r.recipes, func(x studio.Recipe) bool { return x.Invented && slices.Contains(b.ask.Recipes, x.ID) }) ||
		slices.ContainsFunc(r.sets, func(x studio.Set) bool { return x.Invented && slices.Contains(b.ask.Sets, x.ID) })
}

// write writes everything but the pictures.
func (b *builder) write(all []*swatchView) error {
	base := page{Site: b.ask.Title, Day: b.ask.Day, Maker: b.ask.Maker, Licence: recipefile.LicenceWords(b.ask.Maker.Licence), Hide: b.ask.Hide,
		Recipes: b.recipes, Sets: b.sets, Swatches: all, By: MakerWords(b.ask.Maker.Name, b.ask.Maker.Studio), Orders: orders, File: len(b.file.Recipes) > 0, Invented: b.invented()}
	base.Site = b.words(base.Site)
	put := func(name, template, title string, change func(*page)) error {
		p := base
		p.Title, p.At = title, name
		if change != nil {
			change(&p)
		}
		var out bytes.Buffer
		if err := b.pages.ExecuteTemplate(&out, template, p); err != nil {
			return fmt.Errorf("fill page %s: %w", name, err)
		}
		return b.put(name, out.Bytes())
	}
	if err := put("index.html", "index.html", base.Site, nil); err != nil {
		return err
	}
	for _, x := range b.recipes {
		if err := put(x.Page, "recipe.html", x.Name, func(p *page) { p.Recipe = x }); err != nil {
			return err
		}
	}
	for _, x := range b.sets {
		if err := put(x.Page, "set.html", x.Name, func(p *page) { p.Set = x }); err != nil {
			return err
		}
	}
	for _, x := range all {
		if err := put(x.Page, "swatch.html", fmt.Sprintf("Swatch %d", x.Number), func(p *page) { p.Swatch = x }); err != nil {
			return err
		}
	}
	for _, o := range orders {
		if len(all) == 0 {
			break
		}
		if err := put(o.Page, "table.html", fmt.Sprintf("All swatches: %s", strings.ToLower(o.Label)), func(p *page) { p.Swatches = b.sorted(o.by) }); err != nil {
			return err
		}
	}
	return b.writeRest()
}

func (b *builder) writeRest() error {
	css, err := pageFiles.ReadFile("pages/site.css")
	if err != nil {
		return fmt.Errorf("read site.css: %w", err)
	}
	if len(b.file.Recipes) > 0 {
		var out bytes.Buffer
		if err := b.file.Write(&out); err != nil {
			return err
		}
		if err := b.put("recipe.patina.json", out.Bytes()); err != nil {
			return err
		}
	}
	for _, f := range []struct {
		name string
		data []byte
	}{{"site.css", css}, {"fonts/source-sans-3-latin.woff2", fonts.Latin}, {"fonts/source-sans-3-latin-ext.woff2", fonts.LatinExt}, {"fonts/LICENSE-OFL.txt", []byte(fonts.Licence)}} {
		if err := b.put(f.name, f.data); err != nil {
			return err
		}
	}
	return nil
}

// A Summary says what a site would hold.
type Summary struct {
	Recipes, Sets, Swatches, Pictures int
	Students                          int // swatches of the sets that are left out, as students made them
}

// Sum says what Build would make of a, without making it.
func Sum(ctx context.Context, s *store.Store, a Ask) (Summary, error) {
	if err := a.Check(); err != nil {
		return Summary{}, err
	}
	r, err := Gather(ctx, s)
	if err != nil {
		return Summary{}, err
	}
	b := &builder{records: r, ask: a, swatches: map[int64]*swatchView{}}
	if err := b.gatherSets(); err != nil {
		return Summary{}, err
	}
	if err := b.gatherRecipes(ctx); err != nil {
		return Summary{}, err
	}
	sum := Summary{Recipes: len(b.recipes), Sets: len(b.sets), Swatches: len(b.swatches)}
	for _, x := range b.swatches {
		sum.Pictures += len(x.Faces)
	}
	for _, x := range r.swatches {
		if r.students[x.Number] && slices.Contains(a.Sets, x.SetID) {
			sum.Students++
		}
	}
	return sum, nil
}
