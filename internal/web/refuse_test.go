package web_test

import (
	"fmt"
	"net/http"
	"net/url"
	"reflect"
	"slices"
	"strings"
	"testing"

	"aerugo/internal/studio"
)

// submitted returns what a browser would send if the form were sent as it is
// (HTML Living Standard, 4.10.21.4), without its buttons and files.
func submitted(form *node) url.Values {
	out := url.Values{}
	for _, c := range form.all("input,select,textarea") {
		name := c.attr["name"]
		if name == "" || c.has("disabled") {
			continue
		}
		switch {
		case c.name == "textarea":
			out.Add(name, c.Text())
		case c.name == "select":
			options := c.all("option")
			at := slices.IndexFunc(options, func(o *node) bool { return o.has("selected") })
			if at < 0 && len(options) > 0 {
				at = 0
			}
			if at >= 0 {
				value, ok := options[at].attr["value"]
				if !ok {
					value = options[at].words()
				}
				out.Add(name, value)
			}
		case c.attr["type"] == "checkbox" || c.attr["type"] == "radio":
			if c.has("checked") {
				out.Add(name, c.attr["value"])
			}
		case c.attr["type"] != "file" && c.attr["type"] != "submit":
			out.Add(name, c.attr["value"])
		}
	}
	return out
}

// A refusal is a form that must come back: with its words at the field, and
// with everything that was typed.
type refusal struct {
	name, path string
	form       url.Values
	field      string // where it is said; empty for the top of the form
	says       []string
}

// refused sends the form and holds the answer to what every refusal must keep.
func refused(t *testing.T, b *bench, c refusal) {
	t.Helper()
	before, err := b.store.Seen(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	a := b.post(t, c.path, c.form)
	if a.code != http.StatusUnprocessableEntity {
		t.Errorf("%s: status %d, want 422: %.300s", c.name, a.code, a.problem())
		return
	}
	doc := a.doc(t)
	holdPage(t, c.name+", refused", doc)
	text := doc.one("main").all(".problem")
	said := ""
	if len(text) > 0 {
		said = text[0].words()
	}
	var form *node
	for _, f := range doc.all("main form[method=post]") {
		if f.attr["action"] == c.path {
			form = f
		}
	}
	if form == nil {
		t.Errorf("%s: the form to %s did not come back", c.name, c.path)
		return
	}
	if c.field != "" {
		name, n := c.field, 0
		if i := strings.IndexByte(name, '#'); i >= 0 {
			fmt.Sscanf(name[i+1:], "%d", &n)
			name = name[:i]
		}
		controls := form.all("[name='" + name + "']")
		if n >= len(controls) {
			t.Errorf("%s: there is no field %s", c.name, c.field)
			return
		}
		control := controls[n]
		if control.attr["aria-invalid"] != "true" {
			t.Errorf("%s: the field %s is not marked as invalid", c.name, c.field)
		}
		said = ""
		for p := control.up(); p != nil && p.name != "form" && said == ""; p = p.up() {
			if w := p.one(".wrong"); w != nil {
				said = w.words()
			}
		}
	}
	if said == "" {
		t.Errorf("%s: nothing is said where it belongs; the page says %q", c.name, a.problem())
	}
	for _, w := range c.says {
		if !strings.Contains(said, w) {
			t.Errorf("%s: %q does not say %q", c.name, said, w)
		}
	}
	kept := submitted(form)
	for name, values := range c.form {
		if name == "do" || name == "client" {
			continue
		}
		if !slices.Equal(kept[name], values) {
			t.Errorf("%s: %s was %q and came back as %q", c.name, name, values, kept[name])
		}
	}
	after, err := b.store.Seen(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if before != after {
		t.Errorf("%s: the studio held %+v and holds %+v", c.name, before, after)
	}
}

func TestARefusedSetComesBackAsTyped(t *testing.T) {
	s := stocked(t)
	fifty := make([]string, 50)
	for i := range fifty {
		fifty[i] = fmt.Sprint(10 + i)
	}
	for _, do := range []string{"preview", "make"} {
		for _, c := range []struct {
			name   string
			change map[string][]string
			field  string
			says   []string
		}{
			{"text for the width", map[string][]string{"width": {"a palm"}}, "width", []string{`"a palm"`, "12.5"}},
			{"not a number", map[string][]string{"height": {"NaN"}}, "height", []string{`"NaN"`, "12.5"}},
			{"too small a piece", map[string][]string{"width": {"3"}}, "width", []string{"3 mm", "5 to 1000"}},
			{"text among the levels", map[string][]string{"levels0": {"60, soon"}}, "levels0", []string{`"soon"`, "30, 60, 120"}},
			{"a time before nothing", map[string][]string{"levels0": {"-5, 10"}}, "levels0", []string{`"-5"`}},
			{"one level", map[string][]string{"levels0": {"60"}}, "levels0", []string{"one level", "at least two"}},
			{"no level", map[string][]string{"levels0": {" , "}}, "levels0", []string{"30, 60, 120"}},
			{"the same level twice", map[string][]string{"levels0": {"60, 1 h"}}, "levels0", []string{"1 h twice"}},
			{"one liquid", map[string][]string{"kind0": {"liquid"}, "liquid0": {id(s.ammonia)}}, "levels0", []string{"at least two"}},
			{"a strength above pure", map[string][]string{"kind0": {"strength"}, "levels0": {"5, 200"}}, "levels0", []string{"200", "100"}},
			{"the same thing twice", map[string][]string{"kind1": {"minutes"}, "step1": {"2"}, "levels1": {"5, 12"}}, "levels1", []string{"fuming time once more", "leave"}},
			{"500 of each kind", map[string][]string{"replicates": {"500"}}, "replicates", []string{"500", "1 to 10"}},
			{"500 blanks", map[string][]string{"blanks": {"500"}}, "blanks", []string{"500", "0 to 200"}},
			{"500 swatches", map[string][]string{"levels0": {strings.Join(fifty, ", ")}, "replicates": {"10"}}, "replicates", []string{"200", "fewer"}},
			{"two and a half of each kind", map[string][]string{"replicates": {"2.5"}}, "replicates", []string{`"2.5"`, "like 3"}},
			{"words for the seed", map[string][]string{"seed": {"lucky"}}, "seed", []string{`"lucky"`, "4711"}},
			{"no name", map[string][]string{"name": {""}}, "name", []string{"name"}},
			{"a name without end", map[string][]string{"name": {strings.Repeat("long ", 30)}}, "name", []string{"120"}},
		} {
			form := s.setForm(c.change)
			form.Set("do", do)
			for n := range 3 { // what a browser always sends of the lines not used
				for field, value := range map[string]string{"step": "2", "levels": ""} {
					if name := fmt.Sprint(field, n); !form.Has(name) {
						form.Set(name, value)
					}
				}
			}
			for n, v := range form["name"] {
				form["name"][n] = strings.TrimSpace(v)
			}
			refused(t, s.bench, refusal{c.name + ", " + do, "/sets", trimmed(form), c.field, c.says})
		}
	}
}

// trimmed cuts the space round what is typed, which forms don't keep.
func trimmed(form url.Values) url.Values {
	for _, values := range form {
		for i := range values {
			values[i] = strings.TrimSpace(values[i])
		}
	}
	return form
}

// TestASetVariesOneToEightThings: the form has three lines, and one more each
// time it is asked, up to eight. None is refused, and a ninth, made up, is not taken.
func TestASetVariesOneToEightThings(t *testing.T) {
	s := stocked(t)
	lines := func(a answer) int { return len(a.doc(t).all("select[name^=kind]")) }
	if got := lines(s.see(t, "/sets/new")); got != 3 {
		t.Errorf("the form has %d lines for what is varied, want 3", got)
	}
	for n, want := range map[string]int{"3": 4, "7": 8, "8": 8, "99": 8, "-1": 4} {
		if got := lines(s.post(t, "/sets", s.setForm(map[string][]string{"do": {"more"}, "lines": {n}}))); got != want {
			t.Errorf("one more line than %s makes %d, want %d", n, got, want)
		}
	}
	none := s.post(t, "/sets", s.setForm(map[string][]string{"kind0": {""}}))
	if none.code != 422 || !strings.Contains(none.problem(), "at least one") {
		t.Errorf("nothing varied: status %d: %s", none.code, none.problem())
	}
	four := s.setForm(map[string][]string{"kind1": {"loading"}, "step1": {"1"}, "levels1": {"light, heavy"}, "kind2": {"wetting"}, "step2": {"1"},
		"kind3": {"strength"}, "step3": {"2"}, "levels3": {"5, 9"}, "kind8": {"brushing"}, "step8": {"3"}, "do": {"make"}})
	n := s.plan(t, four)
	set, err := s.store.Set(t.Context(), n)
	if err != nil || len(set.Factors) != 4 || set.Shape != studio.Grid {
		t.Errorf("the set has the factors %v (%v), want 4", set.Factors, err)
	}
}

// TestTwoStepsOfOneKindCanBothBeVaried: a recipe that fumes twice gets two
// fuming times, told apart by their steps.
func TestTwoStepsOfOneKindCanBothBeVaried(t *testing.T) {
	s := stocked(t)
	s.post(t, "/recipes", recipeForm("Fumed twice", line{kind: "fume", supply: id(s.ammonia), time: "1 h", where: id(s.chamber)}, line{kind: "rinse"},
		line{kind: "fume", supply: id(s.ammonia), time: "1 h", where: id(s.chamber)})).to(t)
	recipes, err := s.store.Recipes(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	at := slices.IndexFunc(recipes, func(r studio.Recipe) bool { return r.Name == "Fumed twice" })
	n := s.plan(t, s.setForm(map[string][]string{"front": {id(recipes[at].Latest.ID)}, "kind0": {"minutes"}, "step0": {"0"}, "levels0": {"30, 60"},
		"kind1": {"minutes"}, "step1": {"2"}, "levels1": {"30, 60"}, "replicates": {"1"}, "blanks": {"0"}, "do": {"make"}}))
	set, err := s.store.Set(t.Context(), n)
	if err != nil || len(set.Factors) != 2 || set.Factors[0].Name == set.Factors[1].Name {
		t.Errorf("factors = %v, %v", set.Factors, err)
	}
	if page := s.see(t, fmt.Sprintf("/sets/%d", n)); page.code != 200 || !strings.Contains(page.doc(t).one("main").words(), "step 3") {
		t.Errorf("the set's page does not tell the two apart")
	}
}

func TestARefusedRecipeComesBackAsTyped(t *testing.T) {
	s := stocked(t)
	fume := line{kind: "fume", supply: id(s.ammonia), time: "2 h", where: id(s.chamber)}
	for _, c := range []struct {
		name  string
		form  url.Values
		field string
		says  []string
	}{
		{"unknown time", recipeForm("R", line{kind: "rinse"}, line{kind: "fume", supply: id(s.ammonia), time: "a while"}), "kind#1", []string{`"a while"`, "90 min"}},
		{"no time for a dwell", recipeForm("R", line{kind: "rest"}), "kind", []string{"time above 0"}},
		{"two months", recipeForm("R", line{kind: "rest", time: "61 d"}), "kind", []string{"61 d", "60 days"}},
		{"negative amount", recipeForm("R", line{kind: "sprinkle", supply: id(s.salt), amount: "-5"}), "kind", []string{"-5", "0 to 100000"}},
		{"no amount at all", recipeForm("R", line{kind: "sprinkle", supply: id(s.salt), amount: "a pinch"}), "kind", []string{`"a pinch"`, "light, medium or heavy"}},
		{"no name", recipeForm("", fume), "name", []string{"name"}},
		{"a name without end", recipeForm(strings.Repeat("n", 121), fume), "name", []string{"121", "120"}},
		{"no step", recipeForm("R", line{}), "", []string{"at least one step"}},
		{"sulfide, then acid", recipeForm("R", line{kind: "wet", supply: id(s.sulfide), amount: "20"}, line{kind: "wet", supply: id(s.vinegar), amount: "20"}), "", []string{"hydrogen sulfide", "Safer:"}},
		{"nitrate, then ammonia fume", recipeForm("R", line{kind: "wet", supply: id(s.nitrate), amount: "20"}, fume), "", []string{"explosive salt", "Safer:"}},
	} {
		refused(t, s.bench, refusal{c.name, "/recipes", trimmed(c.form), c.field, c.says})
		c.form.Set("why", "to see")
		refused(t, s.bench, refusal{c.name + ", new version", fmt.Sprintf("/recipes/%d", s.recipe), c.form, c.field, c.says})
	}
	// rinsed between, the table of what must never meet lets both pass
	for _, pair := range [][2]line{
		{{kind: "wet", supply: id(s.sulfide), amount: "20"}, {kind: "wet", supply: id(s.vinegar), amount: "20"}},
	} {
		s.post(t, "/recipes", recipeForm("Rinsed between", pair[0], line{kind: "rinse"}, pair[1])).to(t)
	}
	versions, err := s.store.Versions(t.Context(), s.recipe)
	if err != nil || len(versions) != 1 {
		t.Errorf("refused versions were kept: %v, %v", versions, err)
	}
}

// TestANewVersionKeepsWhatItsStepsUse: a supply or chamber in the bin is still
// what an old recipe uses, and a new version must not lose it, nor the cautions
// that hang on it.
func TestANewVersionKeepsWhatItsStepsUse(t *testing.T) {
	s := stocked(t)
	for kind, n := range map[string]int64{"supply": s.ammonia, "chamber": s.chamber} {
		s.post(t, "/bin", url.Values{"kind": {kind}, "id": {id(n)}}).to(t)
	}
	page := s.see(t, fmt.Sprintf("/recipes/%d/edit", s.recipe)).doc(t)
	form := submitted(page.one("main form[method=post]"))
	form.Set("do", "save")
	form.Set("why", "only the name of it")
	s.post(t, fmt.Sprintf("/recipes/%d", s.recipe), form).to(t)
	versions, err := s.store.Versions(t.Context(), s.recipe)
	if err != nil || len(versions) != 2 {
		t.Fatalf("versions = %v, %v", versions, err)
	}
	for i, was := range versions[0].Steps {
		if is := versions[1].Steps[i]; !reflect.DeepEqual(is, was) {
			t.Errorf("step %d was %+v and became %+v", i+1, was, is)
		}
	}
}

// TestFormsKeepAnOlderVersion: where an older version of a recipe is meant, the
// form must not put the latest, or another recipe, in its place.
func TestFormsKeepAnOlderVersion(t *testing.T) {
	s := stocked(t)
	over := recipeForm("A wash over it", line{kind: "wet", supply: id(s.salt), amount: "10"})
	over.Set("over", id(s.version))
	s.post(t, "/recipes", over).to(t)
	s.post(t, fmt.Sprintf("/recipes/%d", s.recipe), recipeForm("Salt and fumes", line{kind: "fume", supply: id(s.ammonia), time: "3 h", where: id(s.chamber)})).to(t)
	recipes, err := s.store.Recipes(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	wash := recipes[slices.IndexFunc(recipes, func(r studio.Recipe) bool { return r.Name == "A wash over it" })]
	form := submitted(s.see(t, fmt.Sprintf("/recipes/%d/edit", wash.ID)).doc(t).one("main form[method=post]"))
	if got := form.Get("over"); got != id(s.version) {
		t.Errorf("the wash lay over version %d and its form says %q", s.version, got)
	}
	for back, want := range map[string]string{"": "same", fmt.Sprintf("&back=%d", s.version): id(s.version)} {
		page := s.see(t, fmt.Sprintf("/sets/new?front=%d%s", s.version, back)).doc(t)
		form = submitted(page.one("main form[method=post]"))
		if form.Get("front") != id(s.version) || form.Get("back") != want {
			t.Errorf("a set of version %d%s starts with %q and %q", s.version, back, form.Get("front"), form.Get("back"))
		}
	}
}

// TestAWrongMarkIsNamed: marks that can't be read or make no face are refused,
// and the photograph stays unmeasured.
func TestAWrongMarkIsNamed(t *testing.T) {
	s := stocked(t)
	photo, marks := s.photograph(t, s.planned[0].Swatch, studio.Front, 0)
	for name, c := range map[string]struct{ field, value, says string }{
		"words":         {"tlx", "left", `"left"`},
		"out of sight":  {"brx", "99999", ""},
		"a grey of 900": {"greyl", "900", ""},
	} {
		f := marksForm(marks, true)
		f.Set(c.field, c.value)
		a := s.post(t, fmt.Sprintf("/photos/%d/measure", photo), f)
		if a.code != 422 || a.problem() == "" || !strings.Contains(a.problem(), c.says) {
			t.Errorf("%s: status %d: %q", name, a.code, a.problem())
		}
	}
	// corners in another turn, so that the sides cross
	f := marksForm(marks, true)
	f["tlx"], f["tly"], f["trx"], f["try"] = f["trx"], f["try"], f["tlx"], f["tly"]
	if a := s.post(t, fmt.Sprintf("/photos/%d/measure", photo), f); a.code != 422 || a.problem() == "" {
		t.Errorf("crossed sides: status %d: %q", a.code, a.problem())
	}
	all, err := s.store.Measurements(t.Context(), photo)
	if err != nil || len(all) != 0 {
		t.Errorf("refused marks left %d measurements (%v)", len(all), err)
	}
}

// TestARefusedLayerSaysWhy: what must never meet is refused on the swatch too.
func TestARefusedLayerSaysWhy(t *testing.T) {
	s := stocked(t)
	treatment := s.planned[0]
	s.begin(t, "b", treatment.ID).to(t)
	for step := range treatment.Steps {
		s.post(t, "/taps", url.Values{"client": {fmt.Sprint("d", step)}, "kind": {"done"}, "of": {fmt.Sprintf("%d:%d", treatment.ID, step)}}).to(t)
	}
	s.post(t, "/recipes", recipeForm("Nitrate wash", line{kind: "wet", supply: id(s.nitrate), amount: "20"})).to(t)
	recipes, err := s.store.Recipes(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	at := slices.IndexFunc(recipes, func(r studio.Recipe) bool { return r.Name == "Nitrate wash" })
	a := s.post(t, fmt.Sprintf("/swatches/%d/overlay", treatment.Swatch), url.Values{"version": {id(recipes[at].Latest.ID)}, "faces": {"both"}, "over": {"dry"}})
	if a.code != 422 || !strings.Contains(a.doc(t).one("main").words(), "This must not be done") {
		t.Errorf("nitrate over what was fumed: status %d: %q", a.code, a.problem())
	}
	ts, err := s.store.Treatment(t.Context(), treatment.ID)
	if err != nil || ts.Layer != 1 {
		t.Fatal(ts, err)
	}
}
