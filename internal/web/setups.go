package web

import (
	"context"
	"errors"
	"fmt"
	"math"
	"net/http"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/flow/mat"
	"aerugo/internal/flow/measure"
	"aerugo/internal/flow/scene"
	"aerugo/internal/picture"
	"aerugo/internal/science/target"
	"aerugo/internal/studio"
)

func (s *Server) setupRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /setups", s.setups)
	s.on(mux, "POST /setups/current", s.useSetup)
	s.on(mux, "POST /setups/targets", s.addTarget)
	s.on(mux, "POST /photos/{id}/setup", s.keepSetup)
	s.on(mux, "GET /mat", s.matPage)
	s.on(mux, "POST /mat", s.measureMat)
}

// currentSetup is the setting that names the setup new photographs are said to be
// taken with.
const currentSetup = "setup.current"

// lights are the kept cameras and lamps and the colour targets to choose from, and
// which is chosen.
type lights struct {
	Setups  []studio.Setup
	Setup   int64
	Targets []targetChoice
	Target  string
}

type targetChoice struct{ Key, Name string }

// editions are the two published sets of colours of the 24-patch target.
var editions = []targetChoice{{"after-2014", "made from November 2014"}, {"before-2014", "made before November 2014"}}

// lights lists what can be chosen; a setup or target that is in the bin is listed
// where it is the one chosen.
func (s *Server) lights(ctx context.Context, setup int64, chosen string) (l lights, err error) {
	l.Setup, l.Target, l.Targets = setup, chosen, append(l.Targets, editions...)
	if l.Setups, err = s.store.Setups(ctx); err != nil {
		return l, err
	}
	there := setup == 0
	for _, x := range l.Setups {
		there = there || x.ID == setup
	}
	if !there {
		if x, err := s.store.Setup(ctx, setup); err == nil {
			l.Setups = append(l.Setups, x)
		} else if studio.ProblemIn(err) == nil {
			return l, err
		}
	}
	files, err := s.store.TargetFiles(ctx)
	if err != nil {
		return l, err
	}
	for _, f := range files {
		l.Targets = append(l.Targets, targetChoice{fileKey(f.ID), f.Name})
	}
	if id, ok := fileOf(chosen); ok {
		if f, err := s.store.TargetFile(ctx, id); err == nil && !f.BinnedAt.IsZero() {
			l.Targets = append(l.Targets, targetChoice{chosen, f.Name + " (in the bin)"})
		}
	}
	return l, nil
}

// newLights are the choices for a new photograph: the current setup is chosen.
func (s *Server) newLights(ctx context.Context, f *form) (lights, error) {
	setup, chosen := f.light()
	if _, said := f.values["setup"]; !said {
		var err error
		if setup, err = s.current(ctx); err != nil {
			return lights{}, err
		}
	}
	return s.lights(ctx, setup, chosen)
}

// current returns the setup new photographs are taken with, 0 for none.
func (s *Server) current(ctx context.Context) (int64, error) {
	text, err := s.store.Setting(ctx, currentSetup)
	if err != nil || text == "" {
		return 0, err
	}
	id, err := strconv.ParseInt(text, 10, 64)
	if err != nil {
		return 0, nil // nothing the person could do about it
	}
	x, err := s.store.Setup(ctx, id)
	if err != nil || !x.BinnedAt.IsZero() {
		if err != nil && studio.ProblemIn(err) == nil {
			return 0, err
		}
		return 0, nil
	}
	return id, nil
}

func fileKey(id int64) string { return "file-" + strconv.FormatInt(id, 10) }

// fileOf is the inverse of fileKey.
func fileOf(key string) (int64, bool) {
	text, ok := strings.CutPrefix(key, "file-")
	if !ok {
		return 0, false
	}
	id, err := strconv.ParseInt(text, 10, 64)
	return id, err == nil && id > 0
}

// light reads which setup and target a form names.
func (f *form) light() (setup int64, chosen string) {
	setup = f.whole("setup", "setup's number", 0)
	chosen = f.Val("target")
	_, own := fileOf(chosen)
	if chosen != "" && chosen != "after-2014" && chosen != "before-2014" && !own {
		f.say("target", "There is no colour target %q; choose one of the list.", chosen)
		chosen = ""
	}
	return setup, chosen
}

// reference returns the colours of the target that marks name, nil for none.
func (s *Server) reference(ctx context.Context, key string) (*target.Reference, error) {
	var ref target.Reference
	switch id, own := fileOf(key); {
	case key == "":
		return nil, nil
	case key == "after-2014":
		ref = target.After2014()
	case key == "before-2014":
		ref = target.Before2014()
	case own:
		f, err := s.store.TargetFile(ctx, id)
		if err != nil {
			return nil, err
		}
		if ref, err = target.ReadOwn(f.Text, f.Name); err != nil {
			return nil, studio.Problemf(studio.Invalid, "target", "The target %q can't be used: %v.", f.Name, err)
		}
	default:
		return nil, studio.Problemf(studio.Invalid, "target", "There is no colour target %q; choose one of the list.", key)
	}
	return &ref, nil
}

// sceneOf looks again for what the marks say lies round the face.
func (s *Server) sceneOf(ctx context.Context, img *picture.Image, marks studio.Marks) (scene.Scene, error) {
	ref, err := s.reference(ctx, marks.Target)
	if err != nil {
		return scene.Scene{}, err
	}
	return scene.Look(img, scene.Want{Mat: marks.OnMat, Target: ref})
}

// surround is what is known of a photograph round its face: its light, the face's
// real size, where that comes from, and what to mind.
type surround struct {
	under   measure.Under
	size    measure.Size
	scaleOf string
	notes   []string
}

// oddSize is how far the size by the mat may be from the one entered before it is
// said; common practice, no source: swatches are cut by hand.
const oddSize = 0.05

// surround reads it from the scene: the kept setup that the marks name corrects the
// colours, and on the mat the size is the mat's, by the ruler.
func (s *Server) surround(ctx context.Context, photo studio.Photo, img *picture.Image, marks studio.Marks, look scene.Scene) (out surround, err error) {
	swatch, err := s.store.Swatch(ctx, photo.Swatch)
	if err != nil {
		return out, err
	}
	out.size = measure.Size{WidthMM: swatch.WidthMM, HeightMM: swatch.HeightMM}
	out.under, out.notes = look.Under(), look.Notes
	if marks.Setup != 0 {
		x, err := s.store.Setup(ctx, marks.Setup)
		if err != nil {
			return out, err
		}
		var notes []string
		if out.under, notes, err = look.UnderSetup(img, photo, marks, x); err != nil {
			return out, err
		}
		out.notes = append(notes, out.notes...)
	}
	if look.Mat == nil || marks.Corners == nil {
		return out, nil
	}
	prints, err := s.store.MatPrints(ctx)
	if err != nil {
		return out, err
	}
	ruler := studio.RulerLineMM
	out.scaleOf = "the mat, taken as printed at 100 %: its line was not measured yet"
	if p, ok := studio.PrintFor(prints, look.Mat.Layout.Paper, int(look.Mat.Layout.Kind), photo.Taken); ok {
		ruler = p.RulerMM
		out.scaleOf = fmt.Sprintf("the mat printed on %s, whose 100 mm line measures %s mm", localDay(p.Printed), number(ruler, 2))
	}
	size, _ := look.SizeOf(*marks.Corners, ruler)
	if w, h := size.WidthMM/out.size.WidthMM, size.HeightMM/out.size.HeightMM; math.Max(math.Abs(w-1), math.Abs(h-1)) > oddSize {
		out.notes = append(out.notes, fmt.Sprintf("By the mat the face is %s × %s mm, but the swatch is entered as %s × %s mm. The mat's size is used.",
			number(size.WidthMM, 1), number(size.HeightMM, 1), number(out.size.WidthMM, 1), number(out.size.HeightMM, 1)))
	}
	out.size = size
	return out, nil
}

// setupsPage lists the kept cameras and lamps and the person's own targets.
type setupsPage struct {
	Frame
	*form
	Setups  []setupRow
	Files   []studio.TargetFile
	Problem string
	None    bool // new photographs are taken with none of them
}

type setupRow struct {
	studio.Setup
	Current bool
	Age     time.Duration
}

func (s *Server) fillSetups(r *http.Request, f *form) (setupsPage, error) {
	ctx := r.Context()
	p := setupsPage{Frame: s.frame(r, "Cameras, lamps and colour targets", "studio"), form: f}
	current, err := s.current(ctx)
	if err != nil {
		return p, err
	}
	p.None = current == 0
	all, err := s.store.Setups(ctx)
	if err != nil {
		return p, err
	}
	for _, x := range all {
		p.Setups = append(p.Setups, setupRow{x, x.ID == current, s.now().Sub(x.Taken)})
	}
	p.Files, err = s.store.TargetFiles(ctx)
	return p, err
}

func (s *Server) setups(w http.ResponseWriter, r *http.Request) error {
	p, err := s.fillSetups(r, readForm(r))
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "setups", p)
	return nil
}

// useSetup is POST /setups/current: what new photographs are taken with.
func (s *Server) useSetup(w http.ResponseWriter, r *http.Request) error {
	f := readForm(r)
	id := f.whole("setup", "setup's number", 0)
	if !f.ok() {
		return studio.Problemf(studio.Invalid, "setup", "%s", f.Wrong("setup"))
	}
	said := "New photographs are measured without a kept camera and lamp."
	if id != 0 {
		x, err := s.store.Setup(r.Context(), id)
		if err != nil {
			return err
		}
		said = fmt.Sprintf("New photographs are taken with %s, unless you say otherwise.", x.Name)
	}
	if err := s.store.SaveSetting(r.Context(), currentSetup, strconv.FormatInt(id, 10)); err != nil {
		return err
	}
	return backSaying(w, r, "/setups", said)
}

// maxTarget is the largest form with a target's file, in bytes.
const maxTarget = 2 << 20

// addTarget is POST /setups/targets.
func (s *Server) addTarget(w http.ResponseWriter, r *http.Request) error {
	f, text, err := receiveText(w, r)
	if err != nil {
		return err
	}
	file := studio.TargetFile{Name: f.Val("targetname"), Text: text}
	if f.ok() {
		if err = file.Check(); err == nil {
			if _, bad := target.ReadOwn(text, file.Name); bad != nil {
				f.say("file", "The file can't be used for a target: %v.", bad)
			} else {
				_, err = s.store.AddTargetFile(r.Context(), file)
			}
		}
		if err := f.blame(err, "targetname", "file"); err != nil {
			return err
		}
	}
	if !f.ok() {
		p, err := s.fillSetups(r, f)
		if err != nil {
			return err
		}
		p.Problem = f.Wrong("")
		s.show(w, http.StatusUnprocessableEntity, "setups", p)
		return nil
	}
	return backSaying(w, r, "/setups", fmt.Sprintf("%s is kept. Choose it where a photograph shows that target.", file.Name))
}

// receiveText reads a form with one small file of text.
func receiveText(w http.ResponseWriter, r *http.Request) (*form, string, error) {
	r.Body = http.MaxBytesReader(w, r.Body, maxTarget)
	err := r.ParseMultipartForm(maxTarget)
	f := readForm(r)
	var tooBig *http.MaxBytesError
	switch {
	case errors.As(err, &tooBig):
		f.say("file", "The file is larger than %d MB. A target's file of values has some kilobytes; choose that one.", maxTarget>>20)
		return f, "", nil
	case errors.Is(err, http.ErrNotMultipart):
		return f, "", nil
	case err != nil:
		f.say("file", "The file did not arrive whole, so nothing was kept. Send it again.")
		return f, "", nil
	}
	defer r.MultipartForm.RemoveAll()
	part, _, err := r.FormFile("file")
	if err != nil {
		return f, "", nil
	}
	defer part.Close()
	b, err := readAll(part, maxTarget)
	return f, string(b), err
}

// keepSetup is POST /photos/{id}/setup: the camera and lamp of a measured
// photograph are kept for later ones, and are the current ones from then on.
func (s *Server) keepSetup(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	photo, err := s.photoIn(r)
	if err != nil {
		return err
	}
	f := readForm(r)
	var kept studio.Setup
	if !canKeep(photo) {
		f.say("", "Measure this photograph with a colour target or a grey card first: by one of them its camera and lamp are known.")
	} else {
		kept, err = s.setupOf(ctx, photo, f.Val("setupname"), f.Val("lamp"))
		if err := f.blame(err, "setupname", "lamp"); err != nil {
			return err
		}
	}
	if !f.ok() {
		p, err := s.fillPhoto(r, photo, f)
		if err != nil {
			return err
		}
		s.show(w, http.StatusUnprocessableEntity, "photo", p)
		return nil
	}
	if err := s.store.SaveSetting(ctx, currentSetup, strconv.FormatInt(kept.ID, 10)); err != nil {
		return err
	}
	return backSaying(w, r, fmt.Sprintf("/photos/%d", photo.ID), fmt.Sprintf("%s is kept. New photographs are taken with it, unless you say otherwise.", kept.Name))
}

// canKeep reports whether a photograph was read by a target or a grey card of its
// own, so that its camera and lamp can be kept.
func canKeep(p studio.Photo) bool {
	return p.Measurement != nil && (p.Measurement.Marks.Target != "" || p.Measurement.Marks.Grey != nil)
}

func (s *Server) setupOf(ctx context.Context, photo studio.Photo, name, lamp string) (studio.Setup, error) {
	leave, err := s.takeSeat(ctx)
	if err != nil {
		return studio.Setup{}, err
	}
	defer leave()
	data, err := s.store.PhotoData(ctx, photo.ID)
	if err != nil {
		return studio.Setup{}, err
	}
	img, err := picture.Decode(data)
	if err != nil {
		return studio.Setup{}, err
	}
	look, err := s.sceneOf(ctx, img, photo.Measurement.Marks)
	if err != nil {
		return studio.Setup{}, err
	}
	x, err := look.Keep(img, photo, photo.Measurement.Marks, name, lamp)
	if err != nil {
		return studio.Setup{}, err
	}
	return s.store.AddSetup(ctx, x)
}

// matPage prints the mat and asks how its line came out.
type matPage struct {
	Frame
	*form
	Problem                      string
	Mats                         []matChoice
	Which, Printed, Ruler        string
	Prints                       []studio.MatPrint
	ShortestMM, LongestMM, Whole float64
}

type matChoice struct{ Key, Name, Link string }

// matKey names a mat in a form: "A4-1".
func matKey(l mat.Layout) string { return fmt.Sprintf("%s-%d", l.Paper, l.Kind) }

func (s *Server) fillMat(r *http.Request, f *form) (matPage, error) {
	p := matPage{Frame: s.frame(r, "The photo mat", "studio"), form: f, Which: f.Val("mat"), Printed: f.Val("printed"), Ruler: f.Val("ruler"),
		ShortestMM: studio.ShortestRulerMM, LongestMM: studio.LongestRulerMM, Whole: studio.RulerLineMM}
	if p.Printed == "" {
		p.Printed = s.now().Local().Format("2006-01-02")
	}
	for _, l := range mat.Layouts {
		link := "/mat.pdf?sheet=" + strings.ToLower(l.Paper) + "&swatches=" + strconv.Itoa(int(l.Kind))
		p.Mats = append(p.Mats, matChoice{matKey(l), capital(strings.TrimPrefix(l.Name(), "mat ")), link})
	}
	var err error
	p.Prints, err = s.store.MatPrints(r.Context())
	return p, err
}

func (s *Server) matPage(w http.ResponseWriter, r *http.Request) error {
	p, err := s.fillMat(r, readForm(r))
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "mat", p)
	return nil
}

// measureMat is POST /mat: what a ruler shows on the print's 100 mm line.
func (s *Server) measureMat(w http.ResponseWriter, r *http.Request) error {
	f := readForm(r)
	x := studio.MatPrint{Printed: f.date("printed"), RulerMM: f.number("ruler", "length of the line", "mm", studio.RulerLineMM)}
	if f.Val("printed") == "" {
		f.say("printed", "Write the day that stands on the print, beside its title.")
	}
	for _, l := range mat.Layouts {
		if matKey(l) == f.Val("mat") {
			x.Paper, x.Swatches = l.Paper, int(l.Kind)
		}
	}
	if x.Printed.After(s.now()) {
		f.say("printed", "%s is in the future; write the day that stands on the print.", localDay(x.Printed))
	}
	if f.ok() {
		_, err := s.store.AddMatPrint(r.Context(), x)
		if err := f.blame(err, "mat", "printed", "ruler"); err != nil {
			return err
		}
	}
	if !f.ok() {
		p, err := s.fillMat(r, f)
		if err != nil {
			return err
		}
		p.Problem = f.Wrong("")
		s.show(w, http.StatusUnprocessableEntity, "mat", p)
		return nil
	}
	return backSaying(w, r, "/mat", fmt.Sprintf("Sizes on photographs of this mat are measured by a line of %s mm from now on.", number(x.RulerMM, 2)))
}

// ageWords says how old a setup was when a photograph was taken.
func ageWords(d time.Duration) string {
	later := ""
	if d < 0 {
		d, later = -d, " younger than the photograph"
	} else {
		later = " old"
	}
	count := func(n int, unit string) string {
		if n == 1 {
			return "1 " + unit + later
		}
		return strconv.Itoa(n) + " " + unit + "s" + later
	}
	switch days := int(d.Hours() / 24); {
	case d < time.Hour:
		return "less than an hour" + later
	case days < 2:
		return count(int(d.Hours()), "hour")
	case days < 100:
		return count(days, "day")
	default:
		return count(days/30, "month")
	}
}
