package site

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"aerugo/internal/flow/run"
	"aerugo/internal/recipefile"
	"aerugo/internal/science/matter"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// Records are what handing on needs of a studio, as it was at one time.
type Records struct {
	recipes    []studio.Recipe
	versions   map[int64]studio.Version   // by id
	of         map[int64][]studio.Version // by recipe, oldest first
	origins    map[int64]studio.RecipeOrigin
	supplies   []studio.Supply
	chambers   []studio.Chamber
	hands      []studio.HandAmount
	metals     map[int64]studio.Metal
	sets       []studio.Set
	swatches   map[int64]studio.Swatch
	treatments []studio.Treatment
	status     map[int64]run.Status
	looks      map[faceKey]studio.Look
	students   map[int64]bool // swatches that students made
}

type faceKey struct {
	swatch int64
	face   studio.Face
}

// Gather reads the records.
func Gather(ctx context.Context, s *store.Store) (*Records, error) {
	r := &Records{versions: map[int64]studio.Version{}, of: map[int64][]studio.Version{}, metals: map[int64]studio.Metal{}, swatches: map[int64]studio.Swatch{},
		status: map[int64]run.Status{}, looks: map[faceKey]studio.Look{}, students: map[int64]bool{}}
	var err error
	if r.recipes, err = s.Recipes(ctx); err != nil {
		return nil, err
	}
	if r.origins, err = s.RecipeOrigins(ctx); err != nil {
		return nil, err
	}
	for _, x := range r.recipes {
		if err := r.addRecipe(ctx, s, x.ID); err != nil {
			return nil, err
		}
	}
	if r.supplies, err = s.Supplies(ctx); err != nil {
		return nil, err
	}
	if r.chambers, err = s.Chambers(ctx); err != nil {
		return nil, err
	}
	if r.hands, err = s.HandAmounts(ctx); err != nil {
		return nil, err
	}
	if r.sets, err = s.Sets(ctx); err != nil {
		return nil, err
	}
	return r, r.gatherSwatches(ctx, s)
}

// addRecipe reads a recipe's versions, and those of what they lie over, which may
// be in the bin.
func (r *Records) addRecipe(ctx context.Context, s *store.Store, id int64) error {
	if r.of[id] != nil {
		return nil
	}
	versions, err := s.Versions(ctx, id)
	if err != nil {
		return err
	}
	r.of[id] = versions
	if !slices.ContainsFunc(r.recipes, func(x studio.Recipe) bool { return x.ID == id }) {
		x, err := s.Recipe(ctx, id)
		if err != nil {
			return err
		}
		r.recipes = append(r.recipes, x)
	}
	for _, v := range versions {
		r.versions[v.ID] = v
		if v.OverID == 0 {
			continue
		}
		below, err := s.Version(ctx, v.OverID)
		if err != nil {
			return err
		}
		if err := r.addRecipe(ctx, s, below.RecipeID); err != nil {
			return err
		}
	}
	return nil
}

func (r *Records) gatherSwatches(ctx context.Context, s *store.Store) error {
	swatches, err := s.Swatches(ctx)
	if err != nil {
		return err
	}
	for _, x := range swatches {
		r.swatches[x.Number] = x
		if _, ok := r.metals[x.MetalID]; !ok && x.MetalID != 0 {
			if r.metals[x.MetalID], err = s.Metal(ctx, x.MetalID); err != nil {
				return err
			}
		}
	}
	if r.treatments, err = s.Treatments(ctx, store.TreatmentFilter{}); err != nil {
		return err
	}
	var ids []int64
	for _, t := range r.treatments {
		ids = append(ids, t.ID)
	}
	events, err := s.Events(ctx, ids)
	if err != nil {
		return err
	}
	for _, t := range r.treatments {
		r.status[t.ID] = run.Fold(t, events[t.ID]).Status
	}
	looks, err := s.Looks(ctx)
	if err != nil {
		return err
	}
	for _, l := range looks {
		if l.Moment == studio.Finished {
			r.looks[faceKey{l.Swatch, l.Face}] = l
		}
	}
	classes, err := s.Classes(ctx)
	if err != nil {
		return err
	}
	for _, c := range classes {
		seats, err := s.Seats(ctx, c.ID)
		if err != nil {
			return err
		}
		for _, seat := range seats {
			for _, n := range seat.Swatches {
				r.students[n] = true
			}
		}
		for n, x := range r.swatches {
			if c.SetID != 0 && x.SetID == c.SetID {
				r.students[n] = true
			}
		}
	}
	return nil
}

// made is one finished face that a version made, measured with a grey card.
type made struct {
	look      studio.Look
	treatment studio.Treatment
}

// madeBy lists what a version made, by swatch and face. What students made is left out.
func (r *Records) madeBy(versions ...int64) []made {
	var out []made
	for _, t := range r.treatments {
		x, ok := r.swatches[t.Swatch]
		if !ok || r.students[x.Number] || t.Blank || r.status[t.ID] != run.Finished || !slices.Contains(versions, t.VersionID) {
			continue
		}
		for _, face := range studio.BothFaces {
			look, ok := r.looks[faceKey{t.Swatch, face}]
			covered := slices.ContainsFunc(r.treatments, func(o studio.Treatment) bool {
				return o.Swatch == t.Swatch && o.Layer > t.Layer && o.Faces.Has(face)
			})
			if ok && !covered && t.Faces.Has(face) && look.Measurement != nil && look.Measurement.Calibrated {
				out = append(out, made{look, t})
			}
		}
	}
	slices.SortFunc(out, func(a, b made) int {
		return cmp.Or(cmp.Compare(a.look.Swatch, b.look.Swatch), -cmp.Compare(a.look.Face, b.look.Face))
	})
	return out
}

func (r *Records) recipe(id int64) (studio.Recipe, bool) {
	i := slices.IndexFunc(r.recipes, func(x studio.Recipe) bool { return x.ID == id && x.BinnedAt.IsZero() })
	if i < 0 {
		return studio.Recipe{}, false
	}
	return r.recipes[i], true
}

// changed reports whether a recipe that came from elsewhere has versions made here.
func (r *Records) changed(id int64) bool { return len(r.of[id]) != len(r.origins[id].Versions) }

// cameAs returns a recipe as it stood in the file that it came in.
func (r *Records) cameAs(id int64) (recipefile.Recipe, bool) {
	o, ok := r.origins[id]
	if !ok {
		return recipefile.Recipe{}, false
	}
	x, err := DocumentOf(o)
	return x, err == nil
}

// DocumentOf returns the recipe as it stood in the file.
func DocumentOf(o studio.RecipeOrigin) (x recipefile.Recipe, err error) {
	if err = json.Unmarshal([]byte(o.Document), &x); err != nil {
		err = fmt.Errorf("read where recipe %d came from: %w", o.RecipeID, err)
	}
	return x, err
}

// idOf returns the id by which a recipe is known elsewhere.
func (r *Records) idOf(id int64) string {
	of := r.of[id]
	if len(of) == 0 {
		return ""
	}
	first := of[0]
	if came, ok := r.cameAs(id); ok {
		if !r.changed(id) {
			return came.ID
		}
		first = of[min(len(r.origins[id].Versions), len(of)-1)]
		return recipefile.ID(came.ID, "changed", first.Made.UTC().Format("2006-01-02T15:04:05.000Z"))
	}
	steps, _ := json.Marshal(first.Steps) // of plain values, which always go
	return recipefile.ID(strconv.FormatInt(id, 10), first.Made.UTC().Format("2006-01-02T15:04:05.000Z"), string(steps))
}

// numberOf returns the number that a version has in a file.
func (r *Records) numberOf(v studio.Version) int {
	came, ok := r.cameAs(v.RecipeID)
	if !ok {
		return v.Number
	}
	if i := slices.Index(r.origins[v.RecipeID].Versions, v.ID); i >= 0 && i < len(came.Versions) {
		return came.Versions[i].Number
	}
	return came.Newest().Number + v.Number - len(came.Versions)
}

func substanceName(key string) string {
	if x, ok := matter.Lookup(key); ok {
		return x.Name
	}
	return key
}

// oneLine flattens a text and cuts it.
func oneLine(text string, most int) string {
	text = strings.Join(strings.Fields(text), " ")
	if r := []rune(text); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return text
}
