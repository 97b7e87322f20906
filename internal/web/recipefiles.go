package web

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"time"

	"aerugo/internal/recipefile"
	"aerugo/internal/site"
	"aerugo/internal/studio"
)

func (s *Server) recipeFileRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /recipe-file", s.takeInForm)
	s.on(mux, "POST /recipe-file", s.lookAtFile)
	s.on(mux, "POST /recipe-file/{token}", s.takeInFile)
	s.on(mux, "GET /recipe-file/{token}/{recipe}/{picture}", s.incomingPicture)
	s.on(mux, "GET /recipes/{id}/came/{picture}", s.originPicture)
}

// incoming keeps the last files that were looked at, until they are taken in.
type incoming struct {
	mu   sync.Mutex
	last []incomingFile
}

type incomingFile struct {
	token, name string
	data        []byte
	file        recipefile.File
}

// mostIncoming is how many files wait at most; each has at most recipefile.MaxBytes.
const mostIncoming = 3

func (in *incoming) keep(f incomingFile) {
	in.mu.Lock()
	defer in.mu.Unlock()
	if in.last = append(in.last, f); len(in.last) > mostIncoming {
		in.last = in.last[1:]
	}
}

func (in *incoming) get(token string) (incomingFile, error) {
	in.mu.Lock()
	defer in.mu.Unlock()
	for _, f := range in.last {
		if f.token == token {
			return f, nil
		}
	}
	return incomingFile{}, studio.Problemf(studio.NotFound, "", "That file is not waiting here any more. Choose it again.")
}

// fromFilePage takes a file and shows what is in it.
type fromFilePage struct {
	Frame
	Problem string
	Token   string
	Name    string
	Offers  []offerView
	New     int
}

type offerView struct {
	site.Offer
	Token    string
	Place    int
	Sign     string
	From     string
	Licence  string
	Evidence string
	Steps    []stepView
	Versions string
}

func (s *Server) takeInForm(w http.ResponseWriter, r *http.Request) error {
	s.show(w, http.StatusOK, "recipe_file", fromFilePage{Frame: s.frame(r, "Recipes from a file", "recipes")})
	return nil
}

// lookAtFile is POST /recipe-file: what is in the file, before anything is kept.
func (s *Server) lookAtFile(w http.ResponseWriter, r *http.Request) error {
	if err := s.laptopOnly(r); err != nil {
		return err
	}
	p := fromFilePage{Frame: s.frame(r, "Recipes from a file", "recipes")}
	refuse := func(text string) error {
		p.Problem = text
		s.show(w, http.StatusUnprocessableEntity, "recipe_file", p)
		return nil
	}
	r.Body = http.MaxBytesReader(w, r.Body, recipefile.MaxBytes+1<<16)
	name, data, err := readRecipeUpload(r)
	if err != nil {
		return refuse(fmt.Sprintf("The recipe file can't be used. It is larger than the %d MB a recipe file may have, or did not arrive whole.", recipefile.MaxBytes>>20))
	}
	if len(data) == 0 {
		return refuse("Choose the recipe file first.")
	}
	f, err := recipefile.Read(bytes.NewReader(data))
	if problem := studio.ProblemIn(err); problem != nil {
		return refuse(problem.Text)
	} else if err != nil {
		return err
	}
	records, err := site.Gather(r.Context(), s.store)
	if err != nil {
		return err
	}
	in := records.Look(f, name, data)
	p.Token, p.Name, p.New = random(16), in.Name, in.Count(site.New)
	s.incoming.keep(incomingFile{p.Token, name, data, f})
	for i, o := range in.Offers {
		p.Offers = append(p.Offers, viewOffer(o, p.Token, i))
	}
	s.show(w, http.StatusOK, "recipe_file", p)
	return nil
}

// readRecipeUpload reads the file's name and bytes from a form.
func readRecipeUpload(r *http.Request) (string, []byte, error) {
	parts, err := r.MultipartReader()
	if err != nil {
		return "", nil, nil // a form without a file
	}
	for {
		part, err := parts.NextPart()
		if err == io.EOF {
			return "", nil, nil
		}
		if err != nil {
			return "", nil, err
		}
		if part.FormName() == "file" {
			data, err := readAll(part, recipefile.MaxBytes)
			return part.FileName(), data, err
		}
	}
}

func viewOffer(o site.Offer, token string, place int) offerView {
	x := o.Recipe
	v := offerView{Offer: o, Token: token, Place: place, Sign: map[string]string{site.New: "＋", site.Here: "○", site.Refused: "■"}[o.State],
		From: site.MakerWords(x.By, x.Studio), Licence: recipefile.LicenceWords(x.Licence), Evidence: "Its maker tells of no measured swatch."}
	if e := x.Evidence; e != nil && e.Swatches > 0 {
		v.Evidence = fmt.Sprintf("Measured swatches behind it, by its maker's word: %d.", e.Swatches)
	}
	v.Versions = fmt.Sprintf("Version %d of the maker's; versions in the file: %d.", x.Newest().Number, len(x.Versions))
	for _, step := range x.Newest().Steps {
		what, lines := site.StepWords(step)
		v.Steps = append(v.Steps, stepView{studio.StepKind(what), lines})
	}
	return v
}

// takeInFile keeps what is new in a file that was looked at.
func (s *Server) takeInFile(w http.ResponseWriter, r *http.Request) error {
	if err := s.laptopOnly(r); err != nil {
		return err
	}
	waiting, err := s.incoming.get(r.PathValue("token"))
	if err != nil {
		return err
	}
	records, err := site.Gather(r.Context(), s.store)
	if err != nil {
		return err
	}
	in := records.Look(waiting.file, waiting.name, waiting.data)
	ids, err := records.TakeIn(r.Context(), s.store, in, s.frame(r, "", "").Who)
	if err != nil {
		return err
	}
	s.live.changed()
	switch len(ids) {
	case 0:
		return backSaying(w, r, "/recipes", "Nothing in the file was new.")
	case 1:
		return backSaying(w, r, fmt.Sprintf("/recipes/%d", ids[0]), "The recipe was taken in.")
	}
	return backSaying(w, r, "/recipes", fmt.Sprintf("%d recipes were taken in.", len(ids)))
}

func (s *Server) incomingPicture(w http.ResponseWriter, r *http.Request) error {
	waiting, err := s.incoming.get(r.PathValue("token"))
	if err != nil {
		return err
	}
	i, err := strconv.Atoi(r.PathValue("recipe"))
	if err != nil || i < 0 || i >= len(waiting.file.Recipes) {
		return noPicture(r)
	}
	return sendPicture(w, r, waiting.file.Recipes[i])
}

func (s *Server) originPicture(w http.ResponseWriter, r *http.Request) error {
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	origins, err := s.store.RecipeOrigins(r.Context())
	if err != nil {
		return err
	}
	origin, ok := origins[id]
	if !ok {
		return noPicture(r)
	}
	x, err := site.DocumentOf(origin)
	if err != nil {
		return err
	}
	return sendPicture(w, r, x)
}

func noPicture(r *http.Request) error {
	return studio.Problemf(studio.NotFound, "", "There is no such picture: %q.", r.PathValue("picture"))
}

// sendPicture sends a picture of a recipe that came from elsewhere, by its name.
func sendPicture(w http.ResponseWriter, r *http.Request, x recipefile.Recipe) error {
	for _, p := range x.Pictures {
		if p.Name != r.PathValue("picture") {
			continue
		}
		data, err := p.JPEG()
		if err != nil {
			return err
		}
		w.Header().Set("Content-Type", "image/jpeg")
		w.Header().Set("Content-Security-Policy", "sandbox")
		_, _ = w.Write(data)
		return nil
	}
	return noPicture(r)
}

// cameFrom says where a recipe came from.
type cameFrom struct {
	Recipe   recipefile.Recipe
	From     string
	Licence  string
	File     string
	SHA256   string
	By       string
	At       time.Time
	Changed  bool // the version shown was made here
	Evidence string
}

// cameFrom returns where a version came from, nil if it was written here.
func (s *Server) cameFrom(ctx context.Context, v studio.Version) (*cameFrom, error) {
	origins, err := s.store.RecipeOrigins(ctx)
	if err != nil {
		return nil, err
	}
	o, ok := origins[v.RecipeID]
	if !ok {
		return nil, nil
	}
	x, err := site.DocumentOf(o)
	if err != nil {
		return nil, err
	}
	view := viewOffer(site.Offer{Recipe: x}, "", 0)
	c := &cameFrom{Recipe: x, From: view.From, Licence: view.Licence, File: o.FileName, SHA256: o.FileSHA256, By: o.By, At: o.At, Changed: true, Evidence: view.Evidence}
	for _, id := range o.Versions {
		c.Changed = c.Changed && id != v.ID
	}
	c.From = strings.TrimSpace(c.From)
	return c, nil
}
