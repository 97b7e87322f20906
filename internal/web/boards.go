package web

import (
	"context"
	"html/template"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"aerugo/internal/print"
	"aerugo/internal/studio"
)

// boardCaution stands on every board; common practice, no source.
const boardCaution = "Patina is not for food or drink, and rubs off on fingers: wash your hands after touching the swatches."

// boardPage shows a board as a page, and asks what is to stand on it.
type boardPage struct {
	Frame
	*form
	Sets    []studio.Set
	SetID   int64
	Board   print.Board
	Rows    []boardRow
	Columns []string
	Papers  []print.Paper
	Query   template.URL
}

// boardRow is a row of a grid, or the whole board when it is none.
type boardRow struct {
	Name  string
	Cells [][]print.BoardTile
}

// swatchBoard gathers what stands on it; with pictures also their files. A board without
// swatches is returned as it is, for the page that asks for them.
func (s *Server) swatchBoard(ctx context.Context, f *form, pictures bool) (print.Board, error) {
	b := print.Board{Date: s.now(), Studio: s.studioName(), Title: f.Val("title"), Cautions: []string{boardCaution}, Landscape: f.Val("lie") == "wide", Paper: print.A4}
	for _, p := range print.BoardPapers {
		if strings.EqualFold(f.Val("sheet"), string(p)) {
			b.Paper = p
		}
	}
	swatches, err := s.chosenSwatches(ctx, f)
	if err != nil || len(swatches) == 0 {
		return b, err
	}
	all, err := s.tell(ctx, swatches)
	if err != nil {
		return b, err
	}
	set := all[0].Set
	var metals []string
	for _, o := range all {
		if o.Set.ID != set.ID {
			set = studio.Set{}
		}
		if o.Metal != "" && !slices.Contains(metals, o.Metal) {
			metals = append(metals, o.Metal)
		}
		b.Invented = b.Invented || o.Set.Invented
	}
	b.Metal = strings.Join(metals, "; ")
	if b.Title == "" {
		b.Title = set.Name
	}
	if b.Title == "" {
		b.Title = "Swatches"
	}
	b.Question = set.Question
	if len(set.Factors) == 2 {
		b.RowName, b.ColName = set.Factors[0].Name, set.Factors[1].Name
	}
	looks, err := s.looksByFace(ctx)
	if err != nil {
		return b, err
	}
	for _, o := range all {
		t := print.BoardTile{Number: o.Number, Settings: o.settings(studio.Front)}
		if back := o.settings(studio.Back); t.Settings == "" {
			t.Settings = back
		} else if back != "" && back != t.Settings {
			t.Settings = "front " + t.Settings + "; back " + back
		}
		if b.RowName != "" {
			t.Row, t.Column = levelsOf(o, b.RowName, b.ColName)
		}
		for _, face := range studio.BothFaces {
			c := print.CardFace{Swatch: o.Number, Face: face}
			if l, ok := looks[faceKey{o.Number, face}]; ok {
				c.Measured = l.Measurement
				if pictures {
					photo, err := s.store.Photo(ctx, l.Photo)
					if err != nil {
						return b, err
					}
					if c.JPEG, err = s.made(ctx, photo, "face"); err != nil {
						return b, err
					}
				}
			}
			t.Faces = append(t.Faces, c)
		}
		b.Tiles = append(b.Tiles, t)
	}
	if b.RowName != "" {
		sortByLevels(b.Tiles, set)
	}
	return b, nil
}

// levelsOf are the levels a swatch received of two factors.
func levelsOf(o told, row, column string) (r, c string) {
	for _, face := range studio.BothFaces {
		for _, t := range o.Of[face] {
			for _, x := range t.Settings {
				if x.Factor == row && r == "" {
					r = x.Level.Label
				}
				if x.Factor == column && c == "" {
					c = x.Level.Label
				}
			}
		}
	}
	return r, c
}

// sortByLevels orders tiles as the set's factors have their levels; a blank comes last.
func sortByLevels(tiles []print.BoardTile, set studio.Set) {
	at := func(f studio.Factor, label string) int {
		i := slices.IndexFunc(f.Levels, func(l studio.Level) bool { return l.Label == label })
		if i < 0 {
			return len(f.Levels)
		}
		return i
	}
	slices.SortStableFunc(tiles, func(a, b print.BoardTile) int {
		if d := at(set.Factors[0], a.Row) - at(set.Factors[0], b.Row); d != 0 {
			return d
		}
		return at(set.Factors[1], a.Column) - at(set.Factors[1], b.Column)
	})
}

func (s *Server) boardPage(w http.ResponseWriter, r *http.Request) error {
	f := readForm(r)
	p := boardPage{Frame: s.frame(r, "A board to hang up", "swatches"), form: f, SetID: f.whole("set", "set", 0), Papers: print.BoardPapers}
	var err error
	if p.Sets, err = s.store.Sets(r.Context()); err != nil {
		return err
	}
	if p.Board, err = s.swatchBoard(r.Context(), f, false); err != nil {
		if err := f.blame(err, "numbers"); err != nil {
			return err
		}
	}
	p.arrange()
	q := url.Values{}
	for _, name := range []string{"set", "numbers", "title", "lie"} {
		if v := f.Val(name); v != "" {
			q.Set(name, v)
		}
	}
	p.Query = template.URL(q.Encode())
	f.onTop("numbers")
	s.show(w, f.code(), "board", p)
	return nil
}

// arrange puts the tiles into rows and columns for the page.
func (p *boardPage) arrange() {
	grid := p.Board.RowName != "" && p.Board.ColName != ""
	if !grid {
		if len(p.Board.Tiles) > 0 {
			p.Rows = []boardRow{{Cells: [][]print.BoardTile{p.Board.Tiles}}}
		}
		return
	}
	for _, t := range p.Board.Tiles {
		if !slices.Contains(p.Columns, t.Column) {
			p.Columns = append(p.Columns, t.Column)
		}
	}
	for _, t := range p.Board.Tiles {
		i := slices.IndexFunc(p.Rows, func(r boardRow) bool { return r.Name == t.Row })
		if i < 0 {
			p.Rows = append(p.Rows, boardRow{Name: t.Row, Cells: make([][]print.BoardTile, len(p.Columns))})
			i = len(p.Rows) - 1
		}
		k := slices.Index(p.Columns, t.Column)
		p.Rows[i].Cells[k] = append(p.Rows[i].Cells[k], t)
	}
}

func (s *Server) boardPDF(w http.ResponseWriter, r *http.Request) error {
	b, err := s.swatchBoard(r.Context(), readForm(r), true)
	if err != nil {
		return err
	}
	if len(b.Tiles) == 0 {
		return studio.Problemf(studio.Invalid, "numbers", "Choose a set, or write the numbers of the swatches, like 14 15 20-24.")
	}
	return s.sendPDF(w, "swatch-board.pdf", func(w io.Writer) error { return print.SwatchBoard(w, b) })
}
