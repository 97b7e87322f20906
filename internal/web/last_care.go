package web

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strings"
	"time"

	"aerugo/internal/flow/last"
	"aerugo/internal/flow/plan"
	"aerugo/internal/flow/run"
	"aerugo/internal/print"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// carePage is the care sheet as a page.
type carePage struct {
	Frame
	*form
	Swatch   studio.Swatch
	Care     last.Care
	Sections []last.Section
	Photo    int64
	Sealers  []string
	PDF      string
	Letter   string
	MadeUp   bool // part of the example
	made     bool // some treatment is finished, or it was put to a test
}

// plainMetal says a metal as a buyer would.
func plainMetal(m studio.Metal) string {
	text := strings.ToLower(plan.MetalWords(m))
	for _, word := range []string{"brass", "bronze", "copper"} {
		if strings.Contains(text, word) {
			return word
		}
	}
	switch a := strings.ToUpper(m.Alloy); { // UNS: C2 are brasses, C5 and C6 bronzes, C1 coppers
	case strings.HasPrefix(a, "C2"), strings.HasPrefix(a, "C3"), strings.HasPrefix(a, "C4"):
		return "brass"
	case strings.HasPrefix(a, "C5"), strings.HasPrefix(a, "C6"):
		return "bronze"
	case strings.HasPrefix(a, "C1"):
		return "copper"
	}
	return ""
}

// coloursOf says the colours of a face, the largest first: its mean alone would name a
// colour that is nowhere on a face of two.
func coloursOf(m studio.Measurement) string {
	const least, most = 0.08, 3
	var names []string
	entries := slices.Clone(m.Palette)
	slices.SortStableFunc(entries, func(a, b studio.PaletteEntry) int { return cmp.Compare(b.Share, a.Share) })
	for _, e := range entries {
		if e.Share >= least && len(names) < most && e.Name != "" && !slices.Contains(names, e.Name) {
			names = append(names, e.Name)
		}
	}
	switch len(names) {
	case 0:
		return m.Name
	case 1:
		return names[0]
	}
	return "mostly " + names[0] + ", with " + strings.Join(names[1:], " and ")
}

// careOf gathers what the sheet of a swatch, or of a piece in a batch, says.
func (s *Server) careOf(r *http.Request) (carePage, error) {
	ctx := r.Context()
	number, err := idIn(r, "id")
	if err != nil {
		return carePage{}, err
	}
	f := readForm(r)
	p := carePage{Frame: s.frame(r, fmt.Sprintf("Looking after %d", number), "swatches"), form: f, Sealers: studio.Sealers}
	if p.Swatch, err = s.store.Swatch(ctx, number); err != nil {
		return p, err
	}
	sub := last.Subject{Number: number, Name: f.Val("name"), Made: p.Swatch.Made}
	metal, err := s.store.Metal(ctx, p.Swatch.MetalID)
	if err != nil {
		return p, err
	}
	sub.Metal = plainMetal(metal)
	if set, err := s.store.Set(ctx, p.Swatch.SetID); err == nil {
		p.MadeUp = set.Invented
	}
	folds, err := s.treatments(ctx, store.TreatmentFilter{})
	if err != nil {
		return p, err
	}
	recipes := map[int64]map[int64]bool{} // recipe versions by swatch
	for _, x := range folds {
		if recipes[x.Treatment.Swatch] == nil {
			recipes[x.Treatment.Swatch] = map[int64]bool{}
		}
		if x.Treatment.VersionID != 0 {
			recipes[x.Treatment.Swatch][x.Treatment.VersionID] = true
		}
		if x.Treatment.Swatch != number {
			continue
		}
		p.made = p.made || x.Record.Status == run.Finished
		if sealer, side, _, ended, ok := sealedAt(x); ok && side == "" && (!ended.IsZero() || x.Record.Status == run.Finished) {
			sub.Sealer = sealer
		}
		for _, step := range x.Treatment.Steps {
			sub.Ammonia = sub.Ammonia || strings.Contains(step.Material, "ammoni")
		}
	}
	if asked := f.Val("sealer"); slices.Contains(studio.Sealers, asked) {
		sub.Sealer = asked
	}
	looks, err := s.looksByFace(ctx)
	if err != nil {
		return p, err
	}
	if look, ok := looks[faceKey{number, studio.Front}]; ok && look.Measurement != nil && look.Moment == studio.Finished {
		p.Photo = look.Photo
		if look.Measurement.Calibrated {
			sub.Look = coloursOf(*look.Measurement)
		}
	}
	trials, err := s.trialsFor(ctx, p.Swatch, recipes)
	if err != nil {
		return p, err
	}
	p.made = p.made || len(trials) > 0
	p.Care = last.CareOf(sub, trials, s.now(), time.Local)
	p.Sections = p.Care.Sections()
	f.set("sealer", sub.Sealer)
	q := r.URL.Query()
	q.Set("sheet", "a4")
	p.PDF = fmt.Sprintf("/swatches/%d/care.pdf?%s", number, q.Encode())
	q.Set("sheet", "letter")
	p.Letter = fmt.Sprintf("/swatches/%d/care.pdf?%s", number, q.Encode())
	return p, nil
}

// trialsFor are the tests of a swatch, and of those of the same metal that got exactly
// the same recipes.
func (s *Server) trialsFor(ctx context.Context, x studio.Swatch, recipes map[int64]map[int64]bool) ([]last.Trial, error) {
	swatches, err := s.store.Swatches(ctx)
	if err != nil {
		return nil, err
	}
	metal := map[int64]int64{}
	for _, y := range swatches {
		metal[y.Number] = y.MetalID
	}
	alike := func(n int64) bool {
		if metal[n] != x.MetalID || len(recipes[n]) == 0 || len(recipes[n]) != len(recipes[x.Number]) {
			return false
		}
		for v := range recipes[n] {
			if !recipes[x.Number][v] {
				return false
			}
		}
		return true
	}
	views, err := s.wearViews(ctx, func(t studio.WearTest) bool { return t.Face.Swatch == x.Number || alike(t.Face.Swatch) })
	if err != nil {
		return nil, err
	}
	var out []last.Trial
	for _, same := range []bool{true, false} {
		for _, v := range views {
			if (v.Face.Swatch == x.Number) != same {
				continue
			}
			t := last.Trial{Test: v.WearTest, Same: same, Change: v.Change}
			for _, r := range v.Readings {
				t.Readings = append(t.Readings, r.WearReading)
			}
			out = append(out, t)
		}
	}
	return out, nil
}

func (s *Server) carePage(w http.ResponseWriter, r *http.Request) error {
	p, err := s.careOf(r)
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "last_care", p)
	return nil
}

func (s *Server) carePDF(w http.ResponseWriter, r *http.Request) error {
	p, err := s.careOf(r)
	if err != nil {
		return err
	}
	if !p.made {
		return studio.Problemf(studio.Conflict, "", "Nothing on swatch %d is finished or tested yet, so there is nothing to look after. Print its care sheet when it is.", p.Swatch.Number)
	}
	sheet := print.Care{Paper: paper(r), Date: s.now(), Studio: s.studioName(), Title: p.Care.Title, Invented: p.MadeUp}
	for i, x := range p.Sections {
		sheet.Sections = append(sheet.Sections, print.CareSection{Head: x.Head, Lines: x.Lines, Strong: i == 2})
	}
	if p.Photo != 0 {
		photo, err := s.store.Photo(r.Context(), p.Photo)
		if err != nil {
			return err
		}
		jpeg, err := s.made(r.Context(), photo, "face")
		if err != nil {
			return err
		}
		sheet.Photo = &print.CardFace{Swatch: p.Swatch.Number, Face: studio.Front, JPEG: jpeg}
	}
	return s.sendPDF(w, fmt.Sprintf("care-%d.pdf", p.Swatch.Number), func(w io.Writer) error { return print.CareSheet(w, sheet) })
}
