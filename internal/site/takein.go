package site

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"aerugo/internal/flow/plan"
	"aerugo/internal/recipefile"
	"aerugo/internal/science/matter"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// What becomes of a recipe of a file.
const (
	New     = "new"
	Here    = "here already"
	Refused = "not taken in"
)

// An Offer is one recipe of a file, as looked at before anything is kept. Why says why
// it is refused or here; Unknown are substances that are not known here, Assumed
// what its strengths are taken for, Cautions what is to be minded, reckoned here.
type Offer struct {
	Recipe   recipefile.Recipe
	State    string
	Why      string
	Unknown  []string
	Assumed  []string
	Cautions []string
}

// An Incoming is a file that was read and looked at.
type Incoming struct {
	Name, SHA256 string
	Offers       []Offer
}

// Count returns how many recipes are in a state.
func (in Incoming) Count(state string) int {
	n := 0
	for _, o := range in.Offers {
		if o.State == state {
			n++
		}
	}
	return n
}

// Look says of every recipe of a file what would become of it. What must never meet
// is refused, and so is what lies over it: a recipe that is kept is one press from the
// bench, and a warning does not travel as well as the steps do. Recipes without
// amounts are refused too: nobody could make them.
func (r *Records) Look(f recipefile.File, name string, data []byte) Incoming {
	sum := sha256.Sum256(data)
	in := Incoming{Name: oneLine(clean(name), 200), SHA256: hex.EncodeToString(sum[:])}
	for _, x := range f.Recipes {
		in.Offers = append(in.Offers, r.lookAt(f, x))
	}
	// what lies over a recipe that does not come can't come either
	for changed := true; changed; {
		changed = false
		for i := range in.Offers {
			o := &in.Offers[i]
			if o.State != New {
				continue
			}
			for _, v := range o.Recipe.Versions {
				if v.Over == nil {
					continue
				}
				j := slices.IndexFunc(in.Offers, func(b Offer) bool { return b.Recipe.ID == v.Over.Recipe })
				if below := in.Offers[j]; below.State == Refused {
					o.State, o.Why, changed = Refused, fmt.Sprintf("It lies over %s, which is not taken in.", below.Recipe.Name), true
				} else if below.State == Here && r.localVersion(v.Over) == 0 {
					o.State, o.Why, changed = Refused, fmt.Sprintf("It lies over version %d of %s, and that version is not here.", v.Over.Number, below.Recipe.Name), true
				}
			}
		}
	}
	if _, err := in.order(); err != nil {
		for i := range in.Offers {
			if in.Offers[i].State == New {
				in.Offers[i].State, in.Offers[i].Why = Refused, err.Error()
			}
		}
	}
	return in
}

func (r *Records) lookAt(f recipefile.File, x recipefile.Recipe) Offer {
	o := Offer{Recipe: x, State: New}
	for _, v := range x.Versions {
		for i, s := range v.Steps {
			o.addDoubts(i+1, s)
		}
	}
	layers := fileLayers(f, x, x.Newest())
	clashes, _ := plan.Safety(layers, nil, studio.Metal{})
	for _, c := range clashes {
		o.Cautions = append(o.Cautions, c.String())
	}
	for _, c := range matter.Cautions(plan.Uses(layers, nil), "") {
		o.Cautions = append(o.Cautions, c.Text)
	}
	if local := r.localOf(x.ID); local != 0 {
		o.State = Here
		o.Why = "It is here already; nothing is added."
		if rec := r.recipes[slices.IndexFunc(r.recipes, func(y studio.Recipe) bool { return y.ID == local })]; !rec.BinnedAt.IsZero() {
			o.Why = "It is here already, in the bin; take it back from there (Studio)."
		}
		return o
	}
	for _, origin := range r.origins {
		if origin.OriginID == x.ID {
			o.State, o.Why = Here, "It came here before, and was changed here or is in the bin; nothing is added."
			return o
		}
	}
	for _, v := range x.Versions {
		if _, stop := plan.Safety(fileLayers(f, x, v), nil, studio.Metal{}); stop != nil {
			o.State, o.Why = Refused, stop.Text
			return o
		}
		if err := fileToVersion(v).Check(); err != nil && x.Amounts == recipefile.Exact {
			o.State, o.Why = Refused, err.Error()
			return o
		}
	}
	if x.Amounts == recipefile.Hidden {
		o.State, o.Why = Refused, "Its maker keeps the amounts back, so it can be read here, but nobody could make it."
	}
	return o
}

func (o *Offer) addDoubts(n int, s recipefile.Step) {
	say := func(to *[]string, text string) {
		if !slices.Contains(*to, text) {
			*to = append(*to, text)
		}
	}
	look := func(key, words string, strength float64) {
		if key == "" && words == "" {
			return
		}
		x, ok := matter.Lookup(key)
		switch {
		case !ok:
			name := words
			if name == "" {
				name = key
			}
			say(&o.Unknown, name)
		case strength == 0:
			band, err := matter.At(key, 0)
			if err != nil || !band.Assumed {
				return
			}
			if x.AssumedWtPercent > 0 {
				say(&o.Assumed, fmt.Sprintf("%s of unknown strength counts as %.3g %% by mass.", x.Name, x.AssumedWtPercent))
			} else {
				say(&o.Assumed, fmt.Sprintf("%s of unknown strength counts as the strongest that is sold.", x.Name))
			}
		}
	}
	look(s.Substance, s.Words, s.Strength)
	for _, p := range s.Also {
		look(p.Substance, p.Words, p.Strength)
	}
	if s.Amount != nil && s.Amount.Assumed {
		say(&o.Assumed, fmt.Sprintf("Step %d (%s): nobody weighed its amount.", n, s.Kind))
	}
}

// fileLayers are a version of a file and all it lies over, the one at the metal first.
func fileLayers(f recipefile.File, x recipefile.Recipe, v recipefile.Version) []studio.Version {
	out := []studio.Version{fileToVersion(v)}
	for v.Over != nil {
		b, _ := f.Recipe(v.Over.Recipe)
		if v, _ = b.Version(v.Over.Number); len(v.Steps) == 0 {
			break
		}
		out = append([]studio.Version{fileToVersion(v)}, out...)
	}
	return out
}

// fileToVersion makes a version of one in a file. A maker's hand word is left
// behind: what it weighs is another thing in another hand, so the figure counts.
func fileToVersion(v recipefile.Version) studio.Version {
	out := studio.Version{Why: v.Why}
	if v.Over != nil {
		out.Over = studio.LayState(v.Over.State)
	}
	if t, err := time.Parse("2006-01-02", v.Made); err == nil {
		out.Made = t
	}
	for _, s := range v.Steps {
		x := studio.Step{Kind: studio.StepKind(s.Kind), Material: s.Substance, Strength: s.Strength, Tool: s.Tool, Faces: studio.Faces(s.Faces),
			Duration: seconds(s.Duration), Early: seconds(s.Sooner), Late: seconds(s.Later), Place: s.Place, Note: s.Note}
		if x.Material == "" {
			x.Material = s.Words
		}
		for _, p := range s.Also {
			x.Also = append(x.Also, studio.Part{Material: p.Substance, Strength: p.Strength})
		}
		if a := s.Amount; a != nil {
			x.Amount = studio.Amount{Value: a.Value, SD: a.Spread, Unit: studio.Unit(a.Unit), Assumed: a.Assumed}
		}
		out.Steps = append(out.Steps, x)
	}
	return out
}

// localOf returns the recipe of this studio that has an id, 0 if none.
func (r *Records) localOf(id string) int64 {
	for _, x := range r.recipes {
		if r.idOf(x.ID) == id {
			return x.ID
		}
	}
	return 0
}

// localVersion returns the version of this studio that a file means, 0 if none.
func (r *Records) localVersion(o *recipefile.Over) int64 {
	local := r.localOf(o.Recipe)
	for id, origin := range r.origins {
		if local == 0 && origin.OriginID == o.Recipe {
			local = id // it was changed since
		}
	}
	for _, v := range r.of[local] {
		if r.numberOf(v) == o.Number {
			return v.ID
		}
	}
	return 0
}

// order sorts what is new so that each comes after all it lies over.
func (in Incoming) order() ([]Offer, error) {
	var out []Offer
	left := slices.DeleteFunc(slices.Clone(in.Offers), func(o Offer) bool { return o.State != New })
	for len(left) > 0 {
		i := slices.IndexFunc(left, func(o Offer) bool {
			return !slices.ContainsFunc(o.Recipe.Versions, func(v recipefile.Version) bool {
				return v.Over != nil && slices.ContainsFunc(left, func(b Offer) bool { return b.Recipe.ID == v.Over.Recipe && b.Recipe.ID != o.Recipe.ID })
			})
		})
		if i < 0 {
			return nil, studio.Problemf(studio.Invalid, "file", "Recipes of the file lie over each other by turns, which can't be kept here.")
		}
		out = append(out, left[i])
		left = slices.Delete(left, i, i+1)
	}
	return out, nil
}

// TakeIn keeps what is new of a file, all of it or nothing, and returns the
// recipes' ids. by is who takes it in, as far as is known.
func (r *Records) TakeIn(ctx context.Context, s *store.Store, in Incoming, by string) ([]int64, error) {
	offers, err := in.order()
	if err != nil || len(offers) == 0 {
		return nil, err
	}
	var all []store.TakenIn
	for i, o := range offers {
		doc, err := json.Marshal(o.Recipe)
		if err != nil {
			return nil, fmt.Errorf("write recipe %s: %w", o.Recipe.ID, err)
		}
		t := store.TakenIn{Name: strings.TrimSpace(o.Recipe.Name), Origin: studio.RecipeOrigin{OriginID: o.Recipe.ID, FileName: in.Name, FileSHA256: in.SHA256, Document: string(doc), By: by}}
		for _, v := range o.Recipe.Versions {
			x := fileToVersion(v)
			var over *[2]int
			if v.Over != nil {
				for j, b := range offers[:i+1] {
					if b.Recipe.ID == v.Over.Recipe {
						over = &[2]int{j, slices.IndexFunc(b.Recipe.Versions, func(y recipefile.Version) bool { return y.Number == v.Over.Number })}
					}
				}
				if over == nil {
					x.OverID = r.localVersion(v.Over)
				}
			}
			t.Versions, t.Over = append(t.Versions, x), append(t.Over, over)
		}
		all = append(all, t)
	}
	return s.TakeIn(ctx, all)
}
