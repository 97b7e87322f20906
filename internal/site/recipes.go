package site

import (
	"cmp"
	"context"
	"encoding/base64"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"

	"aerugo/internal/flow/plan"
	"aerugo/internal/picture"
	"aerugo/internal/recipefile"
	"aerugo/internal/science/matter"
	"aerugo/internal/science/published"
	"aerugo/internal/studio"
)

// A Maker is how whoever hands on wishes to be named, and what they allow.
type Maker struct{ Name, Studio, Licence string }

// Check reports a Problem when m can't be named so.
func (m Maker) Check() error {
	switch {
	case recipefile.LicenceWords(m.Licence) == "":
		return studio.Problemf(studio.Invalid, "licence", "%q is no licence known here; choose CC-BY-4.0, CC0-1.0 or all-rights-reserved, for example.", m.Licence)
	case len([]rune(m.Name)) > 120:
		return studio.Problemf(studio.Invalid, "by", "That name has %d letters; 120 are the most.", len([]rune(m.Name)))
	case len([]rune(m.Studio)) > 120:
		return studio.Problemf(studio.Invalid, "studio", "That name has %d letters; 120 are the most.", len([]rune(m.Studio)))
	}
	return nil
}

// What says which recipes go into a file, and how. Pictures reads a photograph's
// bytes; nil leaves pictures out.
type What struct {
	Recipes  []int64
	Maker    Maker
	Hide     bool
	Notes    bool // also what was written freely: notes of steps, and why versions were made
	Pictures func(ctx context.Context, photo int64) ([]byte, error)
}

// RecipeFile makes the file of some recipes, with all they lie over. One that came
// from elsewhere and was not changed goes on as it came, and under its own licence.
func (r *Records) RecipeFile(ctx context.Context, w What) (recipefile.File, error) {
	f := recipefile.File{Format: recipefile.Format, Schema: recipefile.Schema}
	if err := w.Maker.Check(); err != nil {
		return f, err
	}
	var add func(id int64) error
	seen := map[int64]bool{}
	add = func(id int64) error {
		if seen[id] {
			return nil
		}
		seen[id] = true
		x, err := r.fileRecipe(ctx, id, w)
		if err != nil {
			return err
		}
		f.Recipes = append(f.Recipes, x)
		for _, v := range r.of[id] {
			if v.OverID != 0 {
				if err := add(r.versions[v.OverID].RecipeID); err != nil {
					return err
				}
			}
		}
		return nil
	}
	for _, id := range w.Recipes {
		if _, ok := r.recipe(id); !ok {
			return f, studio.Problemf(studio.NotFound, "recipe", "There is no recipe %d in this studio.", id)
		}
		if err := add(id); err != nil {
			return f, err
		}
	}
	if len(f.Recipes) == 0 {
		return f, studio.Problemf(studio.Invalid, "recipe", "Choose at least one recipe.")
	}
	slices.SortFunc(f.Recipes, func(a, b recipefile.Recipe) int { return cmp.Compare(a.ID, b.ID) })
	if w.Hide {
		f = recipefile.Hide(f)
	}
	return f, f.Check()
}

func (r *Records) fileRecipe(ctx context.Context, id int64, w What) (recipefile.Recipe, error) {
	i := slices.IndexFunc(r.recipes, func(x studio.Recipe) bool { return x.ID == id })
	rec := r.recipes[i]
	came, foreign := r.cameAs(id)
	if foreign && !r.changed(id) {
		if w.Pictures == nil {
			came.Pictures = nil
		}
		return came, nil
	}
	x := recipefile.Recipe{ID: r.idOf(id), Name: oneLine(rec.Name, 120), By: oneLine(w.Maker.Name, 120), Studio: oneLine(w.Maker.Studio, 120), Licence: w.Maker.Licence, Amounts: recipefile.Exact}
	if foreign {
		x.BasedOn = &recipefile.BasedOn{ID: came.ID, Name: came.Name, By: came.By, Studio: came.Studio, Licence: came.Licence}
		x.Licence = came.Licence // what was allowed goes on with what was made of it
	}
	var ids []int64
	last := len(r.of[id]) - 1
	for i, v := range r.of[id] {
		if _, stop := plan.Safety(r.layers(v), r.supplies, studio.Metal{}); stop != nil {
			if i == last {
				return x, studio.Problemf(studio.Unsafe, "recipe", "%s can't be handed on. %s", rec.Name, stop.Text)
			}
			continue // an earlier state that could hurt stays here
		}
		ids = append(ids, v.ID)
		if foreign && i < len(came.Versions) {
			x.Versions = append(x.Versions, came.Versions[i])
			continue
		}
		x.Versions = append(x.Versions, r.fileVersion(v, w.Notes))
	}
	x.Made = dayOf(r.of[id][0].Made)
	newest := r.of[id][len(r.of[id])-1]
	if p, ok := published.ByKey(newest.Source); ok {
		x.Source = &recipefile.Source{Text: plan.Origin(p), Standing: p.Standing}
	}
	r.addEvidence(&x, ids)
	for _, c := range matter.Cautions(plan.Uses(r.layers(newest), r.supplies), "") {
		x.Cautions = append(x.Cautions, c.Text)
	}
	return x, r.addPictures(ctx, &x, newest.ID, w)
}

func (r *Records) addEvidence(x *recipefile.Recipe, versions []int64) {
	all := r.madeBy(versions...)
	if len(all) == 0 {
		return
	}
	e := &recipefile.Evidence{}
	seen := map[int64]bool{}
	for _, m := range all {
		seen[m.look.Swatch] = true
		if len(e.Looks) == 24 {
			continue
		}
		g := m.look.Measurement
		l := recipefile.Look{Swatch: m.look.Swatch, Face: string(m.look.Face), Metal: oneLine(r.metals[r.swatches[m.look.Swatch].MetalID].Name, 200), Setting: settings(m.treatment),
			Lab: recipefile.Lab{L: round(g.Lab.L), A: round(g.Lab.A), B: round(g.Lab.B)}, Spread: round(g.SD), Colour: g.Name, Method: oneLine(g.Method, 200)}
		if c := g.Coverage; c != nil {
			l.Coverage = &recipefile.Coverage{Value: round(c.Value), Low: round(min(c.Low, c.Value)), High: round(max(c.High, c.Value))}
		}
		e.Looks = append(e.Looks, l)
	}
	e.Swatches = len(seen)
	x.Evidence = e
}

// pictureSide is the long side of a picture in a recipe file, in pixels.
const pictureSide = 480

// addPictures adds the first two faces that the newest version made.
func (r *Records) addPictures(ctx context.Context, x *recipefile.Recipe, version int64, w What) error {
	if w.Pictures == nil {
		return nil
	}
	for _, m := range r.madeBy(version) {
		if len(x.Pictures) == 2 {
			return nil
		}
		data, err := w.Pictures(ctx, m.look.Photo)
		if err != nil {
			return err
		}
		img, err := picture.Decode(data)
		if err != nil {
			return err
		}
		x.Pictures = append(x.Pictures, recipefile.Picture{Name: fmt.Sprintf("swatch-%d-%s.jpg", m.look.Swatch, m.look.Face), Alt: r.alt(m.look),
			Data: base64.StdEncoding.EncodeToString(faceJPEG(img, m.look.Measurement.Marks.Corners, pictureSide))})
	}
	return nil
}

func (r *Records) fileVersion(v studio.Version, notes bool) recipefile.Version {
	out := recipefile.Version{Number: r.numberOf(v), Made: dayOf(v.Made)}
	if notes {
		out.Why = clean(v.Why)
	}
	if v.OverID != 0 {
		b := r.versions[v.OverID]
		out.Over = &recipefile.Over{Recipe: r.idOf(b.RecipeID), Number: r.numberOf(b), State: string(v.Over)}
	}
	for _, s := range v.Steps {
		x := r.fileStep(s)
		if !notes {
			x.Note = ""
		}
		out.Steps = append(out.Steps, x)
	}
	return out
}

func (r *Records) fileStep(s studio.Step) recipefile.Step {
	key, strength := s.Material, s.Strength
	if i := slices.IndexFunc(r.supplies, func(x studio.Supply) bool { return x.ID == s.SupplyID }); i >= 0 {
		key = r.supplies[i].Material
		if wt := r.supplies[i].WtPercent(); wt > 0 {
			strength = wt
		}
	}
	x := recipefile.Step{Kind: string(s.Kind), Strength: strength, Tool: oneLine(s.Tool, 200), Faces: string(s.Faces),
		Duration: s.Duration.Seconds(), Sooner: s.Early.Seconds(), Later: s.Late.Seconds(), Place: oneLine(s.Place, 200), Note: clean(s.Note)}
	if key != "" {
		x.Substance, x.Words = keyOf(key), oneLine(substanceName(key), 200)
	}
	for _, p := range s.Also {
		x.Also = append(x.Also, recipefile.Part{Substance: keyOf(p.Material), Words: oneLine(substanceName(p.Material), 200), Strength: p.Strength})
	}
	if i := slices.IndexFunc(r.chambers, func(c studio.Chamber) bool { return c.ID == s.ChamberID }); i >= 0 {
		x.Place = fmt.Sprintf("closed chamber of %.3g L", r.chambers[i].VolumeL)
	}
	a := s.Amount
	if a.Value == 0 && a.Hand != "" {
		if known, ok := studio.Resolve(r.hands, a.Hand, s.HandKey(key)); ok {
			a = known
		}
	}
	if !a.IsZero() && a.Unit != "" {
		x.Amount = &recipefile.Amount{Value: a.Value, Spread: a.SD, Unit: string(a.Unit), Hand: oneLine(a.Hand, 40), Assumed: a.Assumed}
	}
	return x
}

var notKey = regexp.MustCompile(`[^a-z0-9.-]+`)

// keyOf makes a key of a material's name: those in the tables are keys already.
func keyOf(material string) string {
	key := notKey.ReplaceAllString(strings.ToLower(material), "-")
	if len(key) > 80 {
		key = key[:80]
	}
	if key = strings.Trim(key, ".-"); key == "" {
		return "not-named"
	}
	return key
}

// layers are a version and all it lies over, the one at the metal first.
func (r *Records) layers(v studio.Version) []studio.Version {
	out := []studio.Version{v}
	for v.OverID != 0 && len(out) < 25 {
		v = r.versions[v.OverID]
		out = append([]studio.Version{v}, out...)
	}
	return out
}

// clean takes out what a recipe file refuses in a text.
func clean(text string) string {
	text = strings.Map(func(c rune) rune {
		if c < ' ' && c != '\n' && c != '\t' || c >= 0x7f && c < 0xa0 || c >= 0x202a && c <= 0x202e || c >= 0x2066 && c <= 0x2069 {
			return -1
		}
		return c
	}, strings.ToValidUTF8(text, ""))
	for len(text) > 4000 {
		r := []rune(text)
		text = string(r[:len(r)-1-len(text)/4001])
	}
	return text
}

func dayOf(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format("2006-01-02")
}

func round(v float64) float64 {
	// four decimals are far below what a photograph can tell
	n := v * 1e4
	if n < 0 {
		return float64(int64(n-.5)) / 1e4
	}
	return float64(int64(n+.5)) / 1e4
}

func settings(t studio.Treatment) string {
	var out []string
	for _, x := range t.Settings {
		out = append(out, x.Level.Label)
	}
	return oneLine(strings.Join(out, " · "), 400)
}
