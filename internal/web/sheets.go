package web

import (
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

func (s *Server) sheetRoutes(mux *http.ServeMux) {
	s.on(mux, "POST /shelf/supplies/{id}/sheet", s.addSheet)
	s.on(mux, "POST /shelf/supplies/{id}/checked", s.checkRow)
	s.on(mux, "GET /sheets/{id}", s.sheetFile)
}

// supplyIn reads the supply in the path.
func (s *Server) supplyIn(r *http.Request) (studio.Supply, error) {
	id, err := idIn(r, "id")
	if err != nil {
		return studio.Supply{}, err
	}
	return s.store.Supply(r.Context(), id)
}

// addSheet is POST /shelf/supplies/{id}/sheet: a data sheet is kept as it came.
func (s *Server) addSheet(w http.ResponseWriter, r *http.Request) error {
	x, err := s.supplyIn(r)
	if err != nil {
		return err
	}
	name, data, err := readSheet(w, r)
	if err == nil {
		_, err = s.store.AddSheet(r.Context(), studio.DataSheet{Supply: x.ID, Name: name, By: s.who(r)}, data)
	}
	if p := studio.ProblemIn(err); p != nil && p.Kind == studio.Invalid {
		page, err := s.fillSupply(r, x)
		if err != nil {
			return err
		}
		page.SheetProblem = p.Text
		s.show(w, http.StatusUnprocessableEntity, "supply", page)
		return nil
	}
	if err != nil {
		return err
	}
	s.live.changed()
	return backSaying(w, r, fmt.Sprintf("/shelf/supplies/%d", x.ID), "The data sheet is kept. Now hold the lines below against it.")
}

// readSheet reads the one file of an upload; the rest of what is sent is limited.
func readSheet(w http.ResponseWriter, r *http.Request) (string, []byte, error) {
	r.Body = http.MaxBytesReader(w, r.Body, studio.MaxSheet+64<<10)
	parts, err := r.MultipartReader()
	if err != nil {
		return "", nil, studio.Problemf(studio.Invalid, "sheet", "Choose the data sheet's PDF first.")
	}
	tooBig := func(err error) error {
		var big *http.MaxBytesError
		if errors.As(err, &big) {
			return studio.Problemf(studio.Invalid, "sheet", "That file is larger than the %d MB a data sheet may have.", studio.MaxSheet>>20)
		}
		return studio.Problemf(studio.Invalid, "sheet", "The file did not arrive whole; send it again.")
	}
	for {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			return "", nil, studio.Problemf(studio.Invalid, "sheet", "Choose the data sheet's PDF first.")
		}
		if err != nil {
			return "", nil, tooBig(err)
		}
		if part.FormName() != "sheet" {
			continue
		}
		data, err := io.ReadAll(part)
		if err != nil {
			return "", nil, tooBig(err)
		}
		return part.FileName(), data, nil
	}
}

// sheetFile is GET /sheets/{id}: the file as it came, to be saved. It is never
// shown here, so that nothing in it can run.
func (s *Server) sheetFile(w http.ResponseWriter, r *http.Request) error {
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	d, err := s.store.Sheet(r.Context(), id)
	if err != nil {
		return err
	}
	f, err := s.store.OpenSheet(d.SHA256)
	if err != nil {
		return err
	}
	defer f.Close()
	h := w.Header()
	h.Set("Content-Type", "application/octet-stream")
	h.Set("Content-Security-Policy", "sandbox; default-src 'none'")
	h.Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": d.Name}))
	h.Set("Content-Length", strconv.FormatInt(d.Bytes, 10))
	_, _ = io.Copy(w, f) // the reader may have gone; nothing is lost
	return nil
}

// checkRow is POST /shelf/supplies/{id}/checked: one line was held against the
// sheet, or that is taken back.
func (s *Server) checkRow(w http.ResponseWriter, r *http.Request) error {
	x, err := s.supplyIn(r)
	if err != nil {
		return err
	}
	f := readForm(r)
	page, err := s.fillSupply(r, x)
	if err != nil {
		return err
	}
	at := slices.IndexFunc(page.Rows, func(row sheetRow) bool { return row.Key == f.Val("row") })
	if at < 0 {
		return studio.Problemf(studio.Invalid, "row", "There is no such line any more; reload the page and tick again.")
	}
	if f.Val("text") != page.Rows[at].Text {
		return studio.Problemf(studio.Conflict, "row", "That line says something else now; reload the page, read it again and tick then.")
	}
	if _, err := s.store.AddSheetCheck(r.Context(), studio.SheetCheck{Supply: x.ID, Row: page.Rows[at].Key, Text: page.Rows[at].Text, Checked: f.Val("checked") == "1", By: s.who(r)}); err != nil {
		return err
	}
	s.live.changed()
	return back(w, r, fmt.Sprintf("/shelf/supplies/%d#check", x.ID))
}

// sheetRow is a line to hold against the bottle's own sheet: what is known here,
// from where, and who checked it when.
type sheetRow struct {
	Key, Label, Text, Source string
	Memory                   bool
	Check                    *studio.SheetCheck // nil if nobody has
}

// Checked reports whether the line was checked as it stands.
func (r sheetRow) Checked() bool { return r.Check != nil && r.Check.Text == r.Text }

// Doubt reports whether the line comes from memory and nobody has checked it.
func (r sheetRow) Doubt() bool { return r.Memory && !r.Checked() }

// sheetRows are the lines of a supply that stay in doubt until they are checked.
func sheetRows(sup studio.Supply, checks map[string]studio.SheetCheck) []sheetRow {
	sub, ok := matter.Lookup(sup.Material)
	if !ok {
		return nil
	}
	band, err := matter.At(sub.Key, sup.WtPercent())
	if err != nil {
		return nil
	}
	var out []sheetRow
	add := func(key, label, text, source, standing string) {
		if text == "" || text == "-" {
			return
		}
		row := sheetRow{Key: key, Label: label, Text: text, Source: cite(source, standing), Memory: strings.Contains(standing, "memory") || strings.Contains(source, "from memory")}
		if c, ok := checks[key]; ok {
			row.Check = &c
		}
		out = append(out, row)
	}
	add("hazards", "Can", strings.Join(band.Hazards, "; "), strings.TrimPrefix(strings.Join(band.HCodes, " ")+", "+band.Source, ", "), band.Standing)
	labels := map[string]string{"gloves": "Gloves", "eyes": "Eyes", "first aid": "First aid", "disposal": "Leftovers"}
	for _, m := range band.Measures() {
		add(m.What, labels[m.What], m.Text, m.Source, m.Standing)
	}
	add("storage", "Keep", sub.Storage, "", sub.Standing)
	return out
}
