package site_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"aerugo/internal/recipefile"
	"aerugo/internal/site"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

func exported(t testing.TB, s *store.Store, ids ...int64) []byte {
	t.Helper()
	r := must[*site.Records](t)(site.Gather(t.Context(), s))
	f := must[recipefile.File](t)(r.RecipeFile(t.Context(), site.What{Recipes: ids, Maker: site.Maker{Name: "Ana", Studio: "Shed", Licence: "CC-BY-4.0"}, Notes: true, Pictures: s.PhotoData}))
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func taken(t testing.TB, s *store.Store, data []byte) (site.Incoming, []int64) {
	t.Helper()
	f := must[recipefile.File](t)(recipefile.Read(bytes.NewReader(data)))
	r := must[*site.Records](t)(site.Gather(t.Context(), s))
	in := r.Look(f, "from.patina.json", data)
	return in, must[[]int64](t)(r.TakeIn(t.Context(), s, in, "Ben"))
}

// TestARecipeTravelsUnchanged takes it from one studio to another and out again.
func TestARecipeTravelsUnchanged(t *testing.T) {
	from, to := own(t), open(t)
	first := exported(t, from.Store, from.over.ID)
	validFile(t, first)
	in, ids := taken(t, to, first)
	if len(ids) != 2 || in.Count(site.New) != 2 {
		t.Fatalf("%d recipes came: %+v", len(ids), in.Offers)
	}
	if again := exported(t, to, ids...); !bytes.Equal(first, again) {
		t.Errorf("it came out otherwise:\n%s\n%s", first, again)
	}
	in, more := taken(t, to, first)
	if len(more) != 0 || in.Count(site.Here) != 2 {
		t.Errorf("the second time %d came: %+v", len(more), in.Offers)
	}
	if in, back := taken(t, from.Store, first); len(back) != 0 || in.Count(site.Here) != 2 {
		t.Errorf("at home %d came: %+v", len(back), in.Offers)
	}
	// steps, figures and layers are as they were
	recipes := must[[]studio.Recipe](t)(to.Recipes(t.Context()))
	over, under := recipes[1], recipes[0]
	if over.Name != "Green" {
		over, under = under, over
	}
	if over.Latest.OverID != under.Latest.ID || over.Latest.Over != studio.OverDry {
		t.Errorf("it lies over %d, %s", over.Latest.OverID, over.Latest.Over)
	}
	fume := under.Latest.Steps[2]
	if fume.Material != "ammonia-water" || fume.Strength != 8.76 || fume.Duration.Minutes() != 137 || fume.SupplyID != 0 {
		t.Errorf("the fuming became %+v", fume)
	}
	// a version made here is told from those that came, and says after what
	if _, err := to.AddVersion(t.Context(), under.ID, studio.Version{Steps: under.Latest.Steps[:2], Why: "without fumes"}); err != nil {
		t.Fatal(err)
	}
	changed := must[recipefile.File](t)(recipefile.Read(bytes.NewReader(exported(t, to, under.ID))))
	x := changed.Recipes[0]
	if x.BasedOn == nil || x.BasedOn.By != "Ana" || x.Licence != "CC-BY-4.0" || len(x.Versions) != 2 || x.Newest().Number != 2 {
		t.Errorf("what was changed says %+v", x)
	}
	if in, more := taken(t, to, first); len(more) != 0 {
		t.Errorf("once changed, it came a second time: %+v", in.Offers)
	}
}

func validFile(t testing.TB, data []byte) {
	t.Helper()
	doc := must[any](t)(jsonschema.UnmarshalJSON(bytes.NewReader(recipefile.SchemaJSON)))
	c := jsonschema.NewCompiler()
	if err := c.AddResource("urn:patina-recipes:1", doc); err != nil {
		t.Fatal(err)
	}
	file := must[any](t)(jsonschema.UnmarshalJSON(bytes.NewReader(data)))
	if err := must[*jsonschema.Schema](t)(c.Compile("urn:patina-recipes:1")).Validate(file); err != nil {
		t.Errorf("the schema refuses what was written: %v", err)
	}
}

// TestWhatIsRefusedAddsNothing offers what can hurt, what nobody could make, and what
// lies over either.
func TestWhatIsRefusedAddsNothing(t *testing.T) {
	s := open(t)
	// bleach and ammonia give chloramines: common knowledge of every label, from memory
	hurt := recipefile.Recipe{ID: "aaaaaaaaaa", Name: "Bleached", Licence: "CC0-1.0", Amounts: recipefile.Exact, Versions: []recipefile.Version{{Number: 1, Steps: []recipefile.Step{{Kind: "wet", Substance: "bleach"}, {Kind: "fume", Substance: "ammonia-water", Strength: 10, Duration: 3600}}}}}
	over := recipefile.Recipe{ID: "bbbbbbbbbb", Name: "Over it", Licence: "CC0-1.0", Amounts: recipefile.Exact, Versions: []recipefile.Version{{Number: 1, Over: &recipefile.Over{Recipe: "cccccccccc", Number: 1, State: "dry"}, Steps: []recipefile.Step{{Kind: "rinse"}}}}}
	kept := recipefile.Recipe{ID: "cccccccccc", Name: "Kept back", Licence: "CC0-1.0", Amounts: recipefile.Hidden, Versions: []recipefile.Version{{Number: 1, Steps: []recipefile.Step{{Kind: "rest", Rough: &recipefile.Rough{Duration: "hours"}}}}}}
	fine := recipefile.Recipe{ID: "dddddddddd", Name: "Fine", Licence: "CC0-1.0", Amounts: recipefile.Exact, Versions: []recipefile.Version{{Number: 1, Steps: []recipefile.Step{{Kind: "wet", Substance: "moon-dust", Words: "moon dust"}, {Kind: "fume", Substance: "ammonia-water", Duration: 60}}}}}
	var b bytes.Buffer
	if err := (recipefile.File{Recipes: []recipefile.Recipe{hurt, over, kept, fine}}).Write(&b); err != nil {
		t.Fatal(err)
	}
	in, ids := taken(t, s, b.Bytes())
	if len(ids) != 1 || in.Count(site.Refused) != 3 {
		t.Fatalf("%d came: %+v", len(ids), in.Offers)
	}
	for i, says := range []string{"leach", "lies over Kept back", "amounts back"} {
		if !strings.Contains(in.Offers[i].Why, says) {
			t.Errorf("%s: %q", in.Offers[i].Recipe.Name, in.Offers[i].Why)
		}
	}
	if o := in.Offers[3]; len(o.Unknown) != 1 || o.Unknown[0] != "moon dust" || len(o.Assumed) == 0 || len(o.Cautions) == 0 {
		t.Errorf("what is not known of the fourth: %+v", o)
	}
	if all := must[[]studio.Recipe](t)(s.Recipes(t.Context())); len(all) != 1 || all[0].Name != "Fine" {
		t.Errorf("kept: %v", all)
	}
}

// TestWhatCanHurtIsNotHandedOn keeps one's own dangerous recipe at home.
func TestWhatCanHurtIsNotHandedOn(t *testing.T) {
	s := open(t)
	x := must[studio.Recipe](t)(s.AddRecipe(t.Context(), studio.Recipe{Name: "Bleached"}, studio.Version{Steps: []studio.Step{{Kind: studio.Wet, Material: "bleach"}, {Kind: studio.Wet, Material: "ammonia-water"}}}))
	r := must[*site.Records](t)(site.Gather(t.Context(), s))
	_, err := r.RecipeFile(t.Context(), site.What{Recipes: []int64{x.ID}, Maker: site.Maker{Licence: "CC0-1.0"}})
	if p := studio.ProblemIn(err); p == nil || p.Kind != studio.Unsafe {
		t.Errorf("a file of it: %v", err)
	}
	err = site.Build(t.Context(), s, site.Ask{Title: "x", Recipes: []int64{x.ID}, Maker: site.Maker{Licence: "CC0-1.0"}}, collect(map[string][]byte{}), nil)
	if p := studio.ProblemIn(err); p == nil || p.Kind != studio.Unsafe {
		t.Errorf("a site of it: %v", err)
	}
}
