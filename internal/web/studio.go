package web

import (
	"bytes"
	"fmt"
	"html/template"
	"io"
	"net/http"
	"os"
	"strconv"
	"strings"

	"github.com/boombuler/barcode/qr"

	"aerugo/internal/archive"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// maxArchive is the largest archive that can be sent for import, in bytes.
const maxArchive = 20 << 30

func (s *Server) studioRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /studio", s.studioHome)
	s.on(mux, "POST /phones/code", s.showCode)
	s.on(mux, "POST /phones/close", s.closeDoor)
	s.on(mux, "POST /phones/{id}/out", s.shutOut)
	s.on(mux, "POST /backup", s.backup)
	s.on(mux, "GET /export.zip", s.export)
	s.on(mux, "POST /import", s.importArchive)
	s.on(mux, "POST /bin", s.bin)
	s.on(mux, "POST /bin/back", s.unbin)
	s.on(mux, "POST /example", s.fillExample)
	s.on(mux, "POST /example/remove", s.removeExample)
}

// studioPage is about the folder itself: phones, backups, bin.
type studioPage struct {
	Frame
	Dir, Version                string
	Swatches, Photos            int
	Sharing                     bool
	Addresses                   []string
	PhoneProblem, ImportProblem string
	Devices                     []studio.Device
	Backups                     []string
	Binned                      []store.BinEntry
}

func (s *Server) fillStudio(r *http.Request) (studioPage, error) {
	ctx := r.Context()
	p := studioPage{Frame: s.frame(r, "Studio", "studio"), Dir: s.store.Dir(), Version: s.version, Addresses: s.share.open()}
	p.Sharing = len(p.Addresses) > 0
	counts, err := s.store.Seen(ctx)
	if err != nil {
		return p, err
	}
	p.Swatches, p.Photos = counts.Swatches, counts.Photos
	if p.Devices, err = s.store.Devices(ctx); err != nil {
		return p, err
	}
	if p.Backups, err = s.store.Backups(); err != nil {
		return p, err
	}
	p.Binned, err = s.store.Binned(ctx)
	return p, err
}

func (s *Server) studioHome(w http.ResponseWriter, r *http.Request) error {
	p, err := s.fillStudio(r)
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "studio", p)
	return nil
}

// phonePage shows the code that lets one phone in.
type phonePage struct {
	Frame
	Doors []door
}

type door struct {
	Address string
	Code    template.HTML
}

// laptopOnly refuses a request that came from a phone: what opens or shuts the
// door, and what replaces or removes records, is done where the studio is.
func (s *Server) laptopOnly(r *http.Request) error {
	if _, ok := s.device(r); ok && !local(r) {
		return studio.Problemf(studio.Conflict, "", "That is done on the laptop that holds the studio, not on a phone.")
	}
	return nil
}

func (s *Server) showCode(w http.ResponseWriter, r *http.Request) error {
	if err := s.laptopOnly(r); err != nil {
		return err
	}
	addresses, err := s.share.start()
	if err != nil {
		p := studio.ProblemIn(err)
		if p == nil {
			return err
		}
		page, err := s.fillStudio(r)
		if err != nil {
			return err
		}
		page.PhoneProblem = p.Text
		s.show(w, http.StatusConflict, "studio", page)
		return nil
	}
	page := phonePage{Frame: s.frame(r, "Let a phone in", "studio")}
	code := s.JoinCode()
	for _, a := range addresses {
		address := a + "/join?code=" + code
		drawn, err := codeSVG(address)
		if err != nil {
			return err
		}
		page.Doors = append(page.Doors, door{address, drawn})
	}
	s.show(w, http.StatusOK, "phone", page)
	return nil
}

// codeSVG draws text as a QR code (ISO/IEC 18004) with its quiet zone of four modules.
func codeSVG(text string) (template.HTML, error) {
	code, err := qr.Encode(text, qr.M, qr.Auto)
	if err != nil {
		return "", fmt.Errorf("draw code: %w", err)
	}
	n := code.Bounds().Dx()
	var path strings.Builder
	for y := range n {
		for x := range n {
			if r, _, _, _ := code.At(x, y).RGBA(); r == 0 {
				fmt.Fprintf(&path, "M%d %dh1v1h-1z", x+4, y+4)
			}
		}
	}
	return template.HTML(fmt.Sprintf(`<svg viewBox="0 0 %d %d" role="img" aria-label="Code to scan with the phone" shape-rendering="crispEdges"><rect width="100%%" height="100%%" fill="#fff"/><path d="%s" fill="#000"/></svg>`, n+8, n+8, path.String())), nil
}

func (s *Server) closeDoor(w http.ResponseWriter, r *http.Request) error {
	if err := s.laptopOnly(r); err != nil {
		return err
	}
	s.share.stop()
	return backSaying(w, r, "/studio", "Nothing on the network can reach this studio now.")
}

func (s *Server) shutOut(w http.ResponseWriter, r *http.Request) error {
	if err := s.laptopOnly(r); err != nil {
		return err
	}
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	if err := s.store.RevokeDevice(r.Context(), id); err != nil {
		return err
	}
	return backSaying(w, r, "/studio", "That device is shut out.")
}

func (s *Server) backup(w http.ResponseWriter, r *http.Request) error {
	where, err := s.store.Backup(r.Context(), "")
	if err != nil {
		return err
	}
	return backSaying(w, r, "/studio", "The backup is in "+where+".")
}

// export is GET /export.zip. It is written to a file first, so that a fault
// shows as a page and not as a broken archive.
func (s *Server) export(w http.ResponseWriter, r *http.Request) error {
	f, err := os.CreateTemp(s.store.Dir(), ".export-*.zip")
	if err != nil {
		return studio.Problemf(studio.Machine, "", "The archive can't be written into the studio's folder: %v.", err)
	}
	defer os.Remove(f.Name())
	defer f.Close()
	if err := archive.Export(r.Context(), s.store, f); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/zip")
	w.Header().Set("Content-Disposition", `attachment; filename="aerugo-`+s.now().Format("2006-01-02")+`.zip"`)
	http.ServeContent(w, r, "", s.now(), f)
	return nil
}

func (s *Server) importArchive(w http.ResponseWriter, r *http.Request) error {
	if err := s.laptopOnly(r); err != nil {
		return err
	}
	refuse := func(text string) error {
		p, err := s.fillStudio(r)
		if err != nil {
			return err
		}
		p.ImportProblem = text
		s.show(w, http.StatusUnprocessableEntity, "studio", p)
		return nil
	}
	r.Body = http.MaxBytesReader(w, r.Body, maxArchive)
	f, err := os.CreateTemp(s.store.Dir(), ".import-*.zip")
	if err != nil {
		return studio.Problemf(studio.Machine, "", "The archive can't be received into the studio's folder: %v.", err)
	}
	defer os.Remove(f.Name())
	defer f.Close()
	size, err := copyPart(f, r, "archive")
	if err != nil {
		return refuse("The archive did not arrive whole: " + err.Error() + ".")
	}
	if size == 0 {
		return refuse("Choose the archive's file first.")
	}
	report, err := archive.Import(r.Context(), s.store, f, size)
	if err != nil {
		if p := studio.ProblemIn(err); p != nil {
			return refuse(p.Text)
		}
		return err
	}
	s.live.changed()
	return backSaying(w, r, "/studio", fmt.Sprintf("%d swatches and %d photographs were taken in.", report.Swatches, report.Photos))
}

// copyPart streams the named file of a multipart form, without holding it in memory.
func copyPart(to io.Writer, r *http.Request, name string) (int64, error) {
	parts, err := r.MultipartReader()
	if err != nil {
		return 0, err
	}
	for {
		p, err := parts.NextPart()
		if err == io.EOF {
			return 0, nil
		}
		if err != nil {
			return 0, err
		}
		if p.FormName() == name {
			return io.Copy(to, p)
		}
	}
}

func (s *Server) bin(w http.ResponseWriter, r *http.Request) error {
	kind, id, err := binTarget(r)
	if err != nil {
		return err
	}
	var of studio.Version
	if kind == "version" {
		if of, err = s.store.Version(r.Context(), id); err != nil {
			return err
		}
	}
	if err := s.store.BinItem(r.Context(), kind, id); err != nil {
		return err
	}
	s.live.changed()
	to := map[string]string{"set": "/sets", "recipe": "/recipes", "piece": "/pieces", "photo": "/swatches", "swatch": "/swatches", "setup": "/setups", "target": "/setups", "version": fmt.Sprintf("/recipes/%d", of.RecipeID)}[kind]
	if to == "" {
		to = "/shelf"
	}
	return backSaying(w, r, to, "It is in the bin, and can be taken back from there (Studio) for 30 days.")
}

func (s *Server) unbin(w http.ResponseWriter, r *http.Request) error {
	kind, id, err := binTarget(r)
	if err != nil {
		return err
	}
	if err := s.store.RestoreItem(r.Context(), kind, id); err != nil {
		return err
	}
	s.live.changed()
	return backSaying(w, r, "/studio", "It is back where it was.")
}

func binTarget(r *http.Request) (string, int64, error) {
	id, err := strconv.ParseInt(r.FormValue("id"), 10, 64)
	if err != nil {
		return "", 0, studio.Problemf(studio.NotFound, "", "There is nothing with the number %q to put there.", r.FormValue("id"))
	}
	return r.FormValue("kind"), id, nil
}

func (s *Server) fillExample(w http.ResponseWriter, r *http.Request) error {
	if s.example == nil {
		return studio.Problemf(studio.NotFound, "", "This Aerugo was started without example data.")
	}
	if err := s.example(r.Context()); err != nil {
		return err
	}
	s.live.changed()
	return backSaying(w, r, "/", "The example is in. Its photographs are being drawn; more appear by themselves.")
}

func (s *Server) removeExample(w http.ResponseWriter, r *http.Request) error {
	if err := s.laptopOnly(r); err != nil {
		return err
	}
	s.work.mu.Lock()
	stop := s.work.stop
	s.work.mu.Unlock()
	if stop != nil {
		stop()
	}
	if err := s.store.RemoveInvented(r.Context()); err != nil {
		return err
	}
	s.live.changed()
	return backSaying(w, r, "/", "The invented example is gone; what was yours stays.")
}

// readAll reads at most limit bytes of an uploaded part.
func readAll(r io.Reader, limit int64) ([]byte, error) {
	var buf bytes.Buffer
	n, err := io.Copy(&buf, io.LimitReader(r, limit+1))
	if err != nil {
		return nil, err
	}
	if n > limit {
		return nil, &http.MaxBytesError{Limit: limit}
	}
	return buf.Bytes(), nil
}
