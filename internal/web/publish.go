package web

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net/http"
	"os"
	"slices"
	"strconv"
	"sync"
	"time"

	"aerugo/internal/flow/learn"
	"aerugo/internal/language"
	"aerugo/internal/recipefile"
	"aerugo/internal/site"
	"aerugo/internal/studio"
)

func (s *Server) publishRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /publish", s.publishForm)
	s.on(mux, "POST /publish", s.publish)
	s.on(mux, "GET /publish/site.zip", s.publishedZip)
}

// siteMade is the website made last; it is gone when the program ends.
type siteMade struct {
	mu      sync.Mutex
	path    string
	bytes   int64
	at      time.Time
	problem string
}

// keep puts a new site in the place of the last.
func (m *siteMade) keep(path string, size int64, at time.Time, problem string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.path != "" {
		_ = os.Remove(m.path) // whoever reads it still can
	}
	m.path, m.bytes, m.at, m.problem = path, size, at, problem
}

// publishPage asks what to hand on, and how.
type publishPage struct {
	Frame
	*form
	Recipes, Sets []tickView
	Licences      []recipefile.Licence
	In            []*language.Language
	Sum           *site.Summary
	SumWords      []string
	Ready         string // what can be downloaded, in words
	Failed        string
}

// tickView is one thing that can be ticked.
type tickView struct {
	ID     int64
	Name   string
	Ticked bool
}

// Where the maker's names and licence are remembered.
const (
	settingBy      = "publish_by"
	settingStudio  = "publish_studio"
	settingLicence = "publish_licence"
)

func (s *Server) publishForm(w http.ResponseWriter, r *http.Request) error {
	f := readForm(r)
	for name, key := range map[string]string{"by": settingBy, "from": settingStudio, "licence": settingLicence} {
		if f.Val(name) != "" {
			continue
		}
		kept, err := s.store.Setting(r.Context(), key)
		if err != nil {
			return err
		}
		f.set(name, kept)
	}
	if f.Val("licence") == "" {
		f.set("licence", recipefile.AllRights)
	}
	if id, err := strconv.ParseInt(f.Val("class"), 10, 64); err == nil {
		if err := s.tickClass(r.Context(), f, id); err != nil {
			return err
		}
	}
	if f.Val("title") == "" {
		f.set("title", spokenTo(w).Say("Patinas"))
	}
	if f.Val("in") == "" {
		f.set("in", spokenTo(w).Tag)
	}
	return s.showPublish(w, r, f, nil)
}

// tickClass ticks what a class was taught.
func (s *Server) tickClass(ctx context.Context, f *form, id int64) error {
	c, err := s.store.Class(ctx, id)
	if err != nil {
		return err
	}
	for _, x := range c.Recipes {
		v, err := s.store.Version(ctx, x.VersionID)
		if err != nil {
			return err
		}
		f.values.Add("recipe", strconv.FormatInt(v.RecipeID, 10))
	}
	f.set("title", c.Name)
	return nil
}

func (s *Server) showPublish(w http.ResponseWriter, r *http.Request, f *form, sum *site.Summary) error {
	ctx := r.Context()
	p := publishPage{Frame: s.frame(r, "Share and publish", "recipes"), form: f, Licences: recipefile.Licences, In: s.tongues.choice(), Sum: sum}
	recipes, err := s.store.Recipes(ctx)
	if err != nil {
		return err
	}
	ticked := func(name string, id int64) bool { return slices.Contains(f.values[name], strconv.FormatInt(id, 10)) }
	for _, x := range recipes {
		p.Recipes = append(p.Recipes, tickView{x.ID, x.Name, ticked("recipe", x.ID)})
	}
	sets, err := s.store.Sets(ctx)
	if err != nil {
		return err
	}
	for _, x := range sets {
		if x.PieceID == 0 { // batches may be a customer's
			p.Sets = append(p.Sets, tickView{x.ID, x.Name, ticked("set", x.ID)})
		}
	}
	if sum != nil {
		p.SumWords = sumWords(*sum)
	}
	s.site.mu.Lock()
	if s.site.path != "" {
		p.Ready = fmt.Sprintf("The website made at %s is ready: %s MB.", localTime(s.site.at), number(float64(s.site.bytes)/1e6, 1))
	}
	p.Failed = s.site.problem
	s.site.mu.Unlock()
	code := http.StatusOK
	if !f.ok() {
		code = http.StatusUnprocessableEntity
	}
	s.show(w, code, "publish", p)
	return nil
}

// sumWords says what a site would hold, a whole sentence each.
func sumWords(x site.Summary) []string {
	out := []string{fmt.Sprintf("Recipes: %d, with all they lie over.", x.Recipes), fmt.Sprintf("Sets: %d.", x.Sets),
		fmt.Sprintf("Swatches: %d, with %d photographed faces.", x.Swatches, x.Pictures)}
	if x.Students > 0 {
		out = append(out, fmt.Sprintf("Left out, as students made them: %d swatches.", x.Students))
	}
	return out
}

// readAsk reads what is to be published.
func readAsk(f *form, now time.Time) site.Ask {
	a := site.Ask{Title: f.Val("title"), Day: now.Local().Format("2006-01-02"), Maker: site.Maker{Name: f.Val("by"), Studio: f.Val("from"), Licence: f.Val("licence")},
		Hide: f.Val("hide") != "", Notes: f.Val("notes") != ""}
	read := func(name string) (out []int64) {
		for _, text := range f.values[name] {
			id, err := strconv.ParseInt(text, 10, 64)
			if err != nil {
				f.say("", "%q is nothing that can be ticked.", text)
				continue
			}
			out = append(out, id)
		}
		return out
	}
	a.Recipes, a.Sets = read("recipe"), read("set")
	return a
}

// publish is POST /publish: a look first (do=look), the recipes as one file
// (do=file), or the website (do=make), which is made in the background.
func (s *Server) publish(w http.ResponseWriter, r *http.Request) error {
	if err := s.laptopOnly(r); err != nil {
		return err
	}
	ctx := r.Context()
	f := readForm(r)
	a := readAsk(f, s.now())
	refused := func(err error) error {
		if err := f.blame(err, "title", "by", "licence"); err != nil {
			return err
		}
		return s.showPublish(w, r, f, nil)
	}
	if !f.ok() {
		return refused(nil)
	}
	if f.Val("do") == "file" {
		return s.sendRecipes(w, r, a, refused)
	}
	sum, err := site.Sum(ctx, s.store, a)
	if err != nil {
		return refused(err)
	}
	for key, value := range map[string]string{settingBy: a.Maker.Name, settingStudio: a.Maker.Studio, settingLicence: a.Maker.Licence} {
		if err := s.store.SaveSetting(ctx, key, value); err != nil {
			return err
		}
	}
	if f.Val("do") != "make" {
		return s.showPublish(w, r, f, &sum)
	}
	if f.Val("findings") != "" {
		if a.Findings, err = s.findingWords(ctx, a.Sets); err != nil {
			return err
		}
	}
	if l, ok := s.tongues.find(f.Val("in")); ok {
		a.Language = s.knowing(ctx, l)
	}
	a.Seat = s.takeSeat
	work, stop := context.WithCancel(context.Background())
	if !s.beginWork("Making the website", sum.Swatches+1, stop) {
		stop()
		return refused(studio.Problemf(studio.Conflict, "", "Other long work is under way; wait for it, or stop it first."))
	}
	s.background.Go(func() { s.makeSite(work, stop, a) })
	return backSaying(w, r, "/publish", "The website is being made. You can go on working; it is here when it is ready.")
}

// sendRecipes sends the ticked recipes as one file.
func (s *Server) sendRecipes(w http.ResponseWriter, r *http.Request, a site.Ask, refused func(error) error) error {
	ctx := r.Context()
	records, err := site.Gather(ctx, s.store)
	if err != nil {
		return err
	}
	leave, err := s.takeSeat(ctx)
	if err != nil {
		return err
	}
	defer leave()
	file, err := records.RecipeFile(ctx, site.What{Recipes: a.Recipes, Maker: a.Maker, Hide: a.Hide, Notes: a.Notes, Pictures: s.store.PhotoData})
	if err != nil {
		return refused(err)
	}
	var out bytes.Buffer
	if err := file.Write(&out); err != nil {
		return refused(err)
	}
	w.Header().Set("Content-Type", recipefile.MediaType)
	w.Header().Set("Content-Disposition", `attachment; filename="recipes`+recipefile.Ending+`"`)
	_, _ = w.Write(out.Bytes())
	return nil
}

// findingWords are the sentences that sets showed.
func (s *Server) findingWords(ctx context.Context, sets []int64) (map[int64][]string, error) {
	out := map[int64][]string{}
	for _, id := range sets {
		set, err := s.store.Set(ctx, id)
		if err != nil {
			return nil, err
		}
		rows, err := s.rows(ctx, set, false)
		if err != nil {
			return nil, err
		}
		if len(rows) == 0 {
			continue
		}
		for _, c := range learn.Explain(set, rows).Claims {
			if c.Words != "" {
				out[id] = append(out[id], capital(c.Words))
			}
		}
	}
	return out, nil
}

// makeSite makes the website into a file outside the studio.
func (s *Server) makeSite(ctx context.Context, stop context.CancelFunc, a site.Ask) {
	defer stop()
	path, size, err := s.packSite(ctx, stop, a)
	problem := ""
	switch {
	case err == nil:
	case errors.Is(err, context.Canceled):
		problem = "It was stopped before it was whole; nothing of it is kept."
	default:
		problem = "Something went wrong inside Aerugo; nothing of the website is kept."
		if p := studio.ProblemIn(err); p != nil {
			problem = p.Text
		} else {
			s.log.Error("website not made", "err", err)
		}
	}
	s.site.keep(path, size, s.now(), problem)
	s.Progress("", 1, 1, nil)
}

func (s *Server) packSite(ctx context.Context, stop context.CancelFunc, a site.Ask) (path string, size int64, err error) {
	f, err := os.CreateTemp("", "aerugo-site-*.zip")
	if err != nil {
		return "", 0, studio.Problemf(studio.Machine, "", "The website can't be written: %v.", err)
	}
	defer func() {
		if cerr := f.Close(); err == nil && cerr != nil {
			err = studio.Problemf(studio.Machine, "", "The website can't be written: %v.", cerr)
		}
		if err != nil {
			_ = os.Remove(f.Name())
			path = ""
		}
	}()
	err = site.Zip(f, func(put func(string, []byte) error) error {
		return site.Build(ctx, s.store, a, put, func(done, total int) { s.Progress("Making the website", done, total, stop) })
	})
	if err != nil {
		return "", 0, err
	}
	info, err := f.Stat()
	if err != nil {
		return "", 0, err
	}
	return f.Name(), info.Size(), nil
}

func (s *Server) publishedZip(w http.ResponseWriter, r *http.Request) error {
	s.site.mu.Lock()
	path, at := s.site.path, s.site.at
	s.site.mu.Unlock()
	if path == "" {
		return studio.Problemf(studio.NotFound, "", "No website was made since Aerugo was started. Make one first.")
	}
	f, err := os.Open(path)
	if err != nil {
		return studio.Problemf(studio.NotFound, "", "The website's file is gone. Make it again.")
	}
	defer f.Close()
	w.Header().Set("Content-Type", "application/zip")
	w.Header().Set("Content-Disposition", `attachment; filename="patinas.zip"`)
	http.ServeContent(w, r, "", at, f)
	return nil
}
