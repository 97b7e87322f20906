package recipefile

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"image/jpeg"
	"math"
	"regexp"
	"slices"
	"strings"
	"time"

	"aerugo/internal/studio"
)

const (
	maxRecipes  = 60
	maxVersions = 60
	maxSteps    = 60
	maxPictures = 6
	maxSide     = 2000 // px
	maxSeconds  = 60 * 24 * 3600
)

var (
	idForm   = regexp.MustCompile(`^[0-9a-f]{8,64}$`)
	keyForm  = regexp.MustCompile(`^[a-z0-9]([a-z0-9.-]{0,78}[a-z0-9])?$`)
	nameForm = regexp.MustCompile(`^[a-z0-9][a-z0-9_-]{0,60}\.jpg$`)
)

// Check reports a Problem, which says where, when f is not a file as described.
func (f File) Check() error {
	if f.Format != Format || f.Schema != Schema {
		return wrong("", "It is of format %q, version %d; this is %q, version %d.", f.Format, f.Schema, Format, Schema)
	}
	if n := len(f.Recipes); n == 0 || n > maxRecipes {
		return wrong("", "It holds %d recipes; 1 to %d can be in one file.", n, maxRecipes)
	}
	seen := map[string]bool{}
	for i, r := range f.Recipes {
		where := fmt.Sprintf("recipe %d", i+1)
		if seen[r.ID] {
			return wrong(where, "The id %s is that of an earlier recipe too.", r.ID)
		}
		seen[r.ID] = true
		if err := r.check(where); err != nil {
			return err
		}
	}
	return f.checkLayers()
}

func (r Recipe) check(where string) error {
	if !idForm.MatchString(r.ID) {
		return wrong(where+", id", "%.80q is no id; it is 8 to 64 of the digits 0 to 9 and a to f.", r.ID)
	}
	for _, t := range []struct {
		field, text string
		most        int
	}{{"name", r.Name, 120}, {"by", r.By, 120}, {"studio", r.Studio, 120}} {
		if err := line(where+", "+t.field, t.text, t.most); err != nil {
			return err
		}
	}
	if strings.TrimSpace(r.Name) == "" {
		return wrong(where+", name", "The recipe has no name.")
	}
	if LicenceWords(r.Licence) == "" {
		return wrong(where+", licence", "%.80q is no licence known here; use CC-BY-4.0, CC0-1.0 or all-rights-reserved, for example.", r.Licence)
	}
	if err := day(where+", made", r.Made); err != nil {
		return err
	}
	if r.Amounts != Exact && r.Amounts != Hidden {
		return wrong(where+", amounts", "%.80q should be %q or %q.", r.Amounts, Exact, Hidden)
	}
	if b := r.BasedOn; b != nil {
		if !idForm.MatchString(b.ID) || b.ID == r.ID {
			return wrong(where+", based on", "%.80q can't be what it is based on.", b.ID)
		}
		if LicenceWords(b.Licence) == "" {
			return wrong(where+", based on, licence", "%.80q is no licence known here.", b.Licence)
		}
		for _, t := range []string{b.Name, b.By, b.Studio} {
			if err := line(where+", based on", t, 120); err != nil {
				return err
			}
		}
	}
	if n := len(r.Versions); n == 0 || n > maxVersions {
		return wrong(where, "It has %d versions; 1 to %d can be in a file.", n, maxVersions)
	}
	last := 0
	for i, v := range r.Versions {
		at := fmt.Sprintf("%s, version %d", where, i+1)
		if v.Number <= last || v.Number > 1e6 {
			return wrong(at+", number", "%d should be above %d, the number before it.", v.Number, last)
		}
		last = v.Number
		if err := v.check(at, r.Amounts == Hidden); err != nil {
			return err
		}
	}
	if len(r.Cautions) > 200 {
		return wrong(where+", cautions", "%d cautions are too many; 200 are the most.", len(r.Cautions))
	}
	if err := r.Evidence.check(where + ", evidence"); err != nil {
		return err
	}
	return checkPictures(where, r.Pictures)
}

func (v Version) check(where string, hidden bool) error {
	if err := day(where+", made", v.Made); err != nil {
		return err
	}
	if n := len(v.Steps); n == 0 || n > maxSteps {
		return wrong(where, "It has %d steps; 1 to %d can be in a recipe.", n, maxSteps)
	}
	if o := v.Over; o != nil && o.State != string(studio.OverDry) && o.State != string(studio.OverWet) {
		return wrong(where+", over, state", "%.80q should be %q or %q.", o.State, studio.OverDry, studio.OverWet)
	}
	for i, s := range v.Steps {
		if err := s.check(fmt.Sprintf("%s, step %d", where, i+1), hidden); err != nil {
			return err
		}
	}
	return nil
}

func (s Step) check(where string, hidden bool) error {
	kind := studio.StepKind(s.Kind)
	if !kind.Known() {
		return wrong(where+", kind", "%.80q is no step known here.", s.Kind)
	}
	if s.Substance != "" && !keyForm.MatchString(s.Substance) {
		return wrong(where+", substance", "%.80q is no key of a substance (small letters, digits and hyphens).", s.Substance)
	}
	for _, t := range []struct{ field, text string }{{"words", s.Words}, {"tool", s.Tool}, {"place", s.Place}} {
		if err := line(where+", "+t.field, t.text, 200); err != nil {
			return err
		}
	}
	if !(s.Strength >= 0 && s.Strength <= 100) {
		return wrong(where+", strength", "%v %% can't be right; it is 0 to 100.", s.Strength)
	}
	if len(s.Also) > 20 {
		return wrong(where+", also", "%d things in one liquid are too many; 20 besides the first are the most.", len(s.Also))
	}
	for i, p := range s.Also {
		at := fmt.Sprintf("%s, also %d", where, i+1)
		if !keyForm.MatchString(p.Substance) {
			return wrong(at, "%.80q is no key of a substance (small letters, digits and hyphens).", p.Substance)
		}
		if !(p.Strength >= 0 && p.Strength <= 100) {
			return wrong(at, "%v %% can't be right; it is 0 to 100.", p.Strength)
		}
		if err := line(at, p.Words, 200); err != nil {
			return err
		}
	}
	switch studio.Faces(s.Faces) {
	case "", studio.OnFront, studio.OnBack, studio.OnBoth:
	default:
		return wrong(where+", faces", "%.80q should be front, back or both.", s.Faces)
	}
	if a := s.Amount; a != nil {
		if !slices.Contains(studio.Units, studio.Unit(a.Unit)) {
			return wrong(where+", amount, unit", "%.80q should be g/m2, mL/m2, g or mL.", a.Unit)
		}
		if !(a.Value >= 0 && a.Value <= 1e5) || !(a.Spread >= 0 && a.Spread <= 1e5) {
			return wrong(where+", amount", "%v (spread %v) can't be right; both are 0 to 100000.", a.Value, a.Spread)
		}
		if err := line(where+", amount, hand", a.Hand, 40); err != nil {
			return err
		}
	}
	for _, t := range []struct {
		field string
		v     float64
	}{{"duration", s.Duration}, {"sooner", s.Sooner}, {"later", s.Later}} {
		if !(t.v >= 0 && t.v <= maxSeconds) {
			return wrong(where+", "+t.field, "%v s can't be right; it is 0 to 60 days.", t.v)
		}
	}
	if s.Sooner > s.Duration {
		return wrong(where+", sooner", "It can't end sooner by more than it lasts.")
	}
	if kind.Dwell() && s.Duration == 0 && !hidden {
		return wrong(where+", duration", "%s runs by the clock, so it needs a time above 0.", s.Kind)
	}
	if hidden && (s.Amount != nil || s.Strength != 0 || s.Duration != 0 || slices.ContainsFunc(s.Also, func(p Part) bool { return p.Strength != 0 })) {
		return wrong(where, "The recipe says that its amounts are hidden, but here is one.")
	}
	if !hidden && s.Rough != nil {
		return wrong(where+", rough", "Words instead of figures are only for a recipe whose amounts are hidden.")
	}
	return nil
}

func (e *Evidence) check(where string) error {
	if e == nil {
		return nil
	}
	if e.Swatches < 0 || e.Swatches > 1e6 || len(e.Looks) > 200 {
		return wrong(where, "%d swatches and %d measured faces can't be right.", e.Swatches, len(e.Looks))
	}
	for i, l := range e.Looks {
		at := fmt.Sprintf("%s, look %d", where, i+1)
		if l.Face != string(studio.Front) && l.Face != string(studio.Back) {
			return wrong(at+", face", "%.80q should be front or back.", l.Face)
		}
		if l.Swatch < 1 || !(l.Lab.L >= 0 && l.Lab.L <= 100) || math.Abs(l.Lab.A) > 200 || math.Abs(l.Lab.B) > 200 || !(l.Spread >= 0 && l.Spread <= 200) {
			return wrong(at, "This can't be a measured face: swatch %d, L* %v, a* %v, b* %v, spread %v.", l.Swatch, l.Lab.L, l.Lab.A, l.Lab.B, l.Spread)
		}
		if c := l.Coverage; c != nil && !(0 <= c.Low && c.Low <= c.Value && c.Value <= c.High && c.High <= 1) {
			return wrong(at+", coverage", "%v (%v to %v) can't be right; they are fractions from 0 to 1.", c.Value, c.Low, c.High)
		}
		for _, t := range []string{l.Metal, l.Colour, l.Method} {
			if err := line(at, t, 200); err != nil {
				return err
			}
		}
	}
	return nil
}

func checkPictures(where string, pictures []Picture) error {
	if len(pictures) > maxPictures {
		return wrong(where+", pictures", "%d pictures are too many; %d are the most.", len(pictures), maxPictures)
	}
	seen := map[string]bool{}
	for i, p := range pictures {
		at := fmt.Sprintf("%s, picture %d", where, i+1)
		if !nameForm.MatchString(p.Name) || seen[p.Name] {
			return wrong(at+", name", "%.80q is no plain name of a picture, such as swatch-12.jpg, that no other has.", p.Name)
		}
		seen[p.Name] = true
		b, err := p.JPEG()
		if err != nil {
			return wrong(at, "Its data is not base64.")
		}
		c, err := jpeg.DecodeConfig(bytes.NewReader(b))
		if err != nil {
			return wrong(at, "It is not a JPEG.")
		}
		if c.Width > maxSide || c.Height > maxSide {
			return wrong(at, "It is %d × %d pixels; %d is the longest side it may have.", c.Width, c.Height, maxSide)
		}
		if bytes.Contains(b, []byte("Exif\x00")) || bytes.Contains(b, []byte("http://ns.adobe.com/xap/")) {
			return wrong(at, "It carries a camera's notes, which may tell where it was taken. Save it without them.")
		}
	}
	return nil
}

// JPEG returns the picture's bytes.
func (p Picture) JPEG() ([]byte, error) { return base64.StdEncoding.Strict().DecodeString(p.Data) }

// checkLayers holds what lies over what to the recipes of the file: each is there,
// and no way along them comes back to where it began.
func (f File) checkLayers() error {
	type place struct {
		id string
		n  int
	}
	state := map[place]int{} // 1: on the way, 2: done
	var walk func(place, string) error
	walk = func(p place, where string) error {
		r, ok := f.Recipe(p.id)
		v, there := r.Version(p.n)
		if !ok || !there {
			return wrong(where, "It lies over version %d of recipe %.80q, which is not in the file.", p.n, p.id)
		}
		switch state[p] {
		case 1:
			return wrong(where, "It lies over itself, by way of what lies between.")
		case 2:
			return nil
		}
		state[p] = 1
		if v.Over != nil {
			if v.Over.Recipe == p.id && v.Over.Number >= p.n {
				return wrong(where, "It lies over itself, or over a later version of itself.")
			}
			if err := walk(place{v.Over.Recipe, v.Over.Number}, where); err != nil {
				return err
			}
		}
		state[p] = 2
		return nil
	}
	for i, r := range f.Recipes {
		for j, v := range r.Versions {
			if err := walk(place{r.ID, v.Number}, fmt.Sprintf("recipe %d, version %d, over", i+1, j+1)); err != nil {
				return err
			}
		}
	}
	return nil
}

// line refuses a text of one line that is too long or has more lines.
func line(where, text string, most int) error {
	if n := len([]rune(text)); n > most {
		return wrong(where, "A text of %d letters is too long; %d are the most.", n, most)
	}
	if strings.ContainsAny(text, "\n\t") {
		return wrong(where, "The text should be on one line.")
	}
	return nil
}

func day(where, text string) error {
	if text == "" {
		return nil
	}
	if _, err := time.Parse("2006-01-02", text); err != nil {
		return wrong(where, "%.80q is no day; it is written like 2026-11-25.", text)
	}
	return nil
}
