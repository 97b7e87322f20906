package web_test

import (
	"fmt"
	"net/http"
	"net/url"
	"reflect"
	"slices"
	"strings"
	"testing"

	"aerugo/internal/science/published"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// libraryPages are addresses of the library's pages: one for a class, one for the
// teacher, one stopped, one for the record, one with nothing in it.
var libraryPages = []string{"/library", "/library?q=sal+ammoniac&metal=copper&noammonia=1", "/library?q=plaid", "/library/R14?amount=500", "/library/R30", "/library/R24", "/library/R01", "/library/R42", "/library/R69"}

// libraryVisits lists the library's pages in their states.
func libraryVisits(empty, usual, full *bench) []visit {
	return []visit{
		{"library", "empty", empty, "/library", nil, 200, "Published recipes"},
		{"library", "usual", usual, "/library?q=salt&colour=blue&shelf=1", nil, 200, "Published recipes"},
		{"library", "full", full, "/library?use=class", nil, 200, "Published recipes"},
		{"library", "nothing found", usual, "/library?q=plaid", nil, 200, "Published recipes"},
		{"library_recipe", "empty", empty, "/library/R30", nil, 200, "Salt mist over ammonia"},
		{"library_recipe", "usual", usual, "/library/R16?amount=1000", nil, 200, "Mild vinegar green"},
		{"library_recipe", "teacher only", full, "/library/R24", nil, 200, "Weak boiling green"},
		{"library_recipe", "stopped", usual, "/library/R01", nil, 200, "Three-salt green"},
		{"library_recipe", "for the record", usual, "/library/R67", nil, 200, "Nitrate-in-ammonia"},
		{"library_recipe", "something unknown in it", usual, "/library/R42", nil, 200, "Arsenical"},
		{"library_recipe", "nothing in it", usual, "/library/R69", nil, 200, "Fire red"},
		{"library_recipe", "no such amount", usual, "/library/R14?amount=much", nil, 422, "Bright green"},
		{"library_recipe", "refused to a class", usual, "/library/R24/plan", url.Values{"class": {"adults"}}, 422, "Weak boiling green"},
		{"library_recipe", "refused for the record", usual, "/library/R67/plan", url.Values{}, 422, "Nitrate-in-ammonia"},
		{"library_recipe", "not there", usual, "/library/R999", nil, 404, "Not here"},
	}
}

// listed returns the recipes that a page of the library lists.
func listed(t *testing.T, b *bench, query string) []string {
	t.Helper()
	a := b.see(t, "/library?"+query)
	if a.code != http.StatusOK {
		t.Fatalf("/library?%s: status %d", query, a.code)
	}
	var out []string
	for _, x := range a.doc(t).all("article h2 a") {
		out = append(out, strings.TrimPrefix(x.attr["href"], "/library/"))
	}
	return out
}

func TestTheLibraryIsLookedThrough(t *testing.T) {
	s := stocked(t)
	if all := listed(t, s.bench, ""); len(all) != 75 {
		t.Errorf("%d recipes are listed, want 75", len(all))
	}
	british, american := listed(t, s.bench, "q=sal+ammoniac"), listed(t, s.bench, "q=ammonium+chloride")
	if len(british) < 10 || !slices.Equal(british, american) {
		t.Errorf("sal ammoniac finds %v, ammonium chloride %v", british, american)
	}
	// on the shelf: ammonia, vinegar, salt, liver of sulfur, copper nitrate in water
	can := listed(t, s.bench, "shelf=1")
	for _, want := range []string{"R30", "R32", "R33", "R50", "R51"} {
		if !slices.Contains(can, want) {
			t.Errorf("%s can be made of the shelf and is not listed: %v", want, can)
		}
	}
	for _, not := range []string{"R14", "R04", "R37"} { // no copper sulfate; no sawdust; the nitrate is dissolved already
		if slices.Contains(can, not) {
			t.Errorf("%s can't be made of the shelf and is listed", not)
		}
	}
	if none := listed(t, s.bench, "q=plaid+tartan"); len(none) > 0 {
		t.Errorf("plaid tartan finds %v", none)
	}
	for _, q := range []string{"metal=unobtainium", "use=everyone", "heat=very", "q=" + url.QueryEscape("<script>\x00'\"")} {
		listed(t, s.bench, q)
	}
}

// recipes counts the recipes kept.
func (b *bench) recipes(t *testing.T) int {
	t.Helper()
	all, err := b.store.Recipes(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return len(all)
}

// Over every recipe of the library: one for the record only offers no way to be
// planned or mixed, and a forged form is refused; one that is stopped neither;
// one for the teacher alone is refused to every class.
func TestWhatMustNotBeDoneIsNotPlanned(t *testing.T) {
	s := stocked(t)
	room, err := s.store.SaveRoom(t.Context(), studio.Room{Name: "Yard", Outdoors: true, VolumeM3: 100, Mixing: 3})
	if err != nil {
		t.Fatal(err)
	}
	had := s.recipes(t)
	count := map[published.Use]int{}
	stopped := 0
	for _, r := range published.All() {
		path := "/library/" + r.Key
		page := s.see(t, path+"?amount=100").doc(t)
		offers := page.one(`form[action="`+path+`/plan"]`) != nil
		if r.Use == published.ForRecord {
			count[r.Use]++
			if offers || page.one(".weigh") != nil {
				t.Errorf("%s is for the record only, and offered", r.Key)
			}
			for _, class := range append([]studio.ClassOf{"nobody"}, studio.Classes...) {
				a := s.post(t, path+"/plan", url.Values{"class": {string(class)}, "room": {id(room.ID)}})
				if a.code != http.StatusUnprocessableEntity {
					t.Errorf("%s for %q: status %d", r.Key, class, a.code)
				}
			}
			continue
		}
		if !offers {
			stopped++
			if a := s.post(t, path+"/plan", url.Values{"room": {id(room.ID)}}); a.code != http.StatusUnprocessableEntity || !strings.Contains(a.problem(), "must not be done") {
				t.Errorf("%s is stopped: status %d, %s", r.Key, a.code, a.problem())
			}
		}
		if r.Use == published.ByTeacher {
			count[r.Use]++
			for _, class := range studio.Classes {
				if class == studio.NoClass {
					continue
				}
				a := s.post(t, path+"/plan", url.Values{"class": {string(class)}, "room": {id(room.ID)}})
				if a.code != http.StatusUnprocessableEntity || !strings.Contains(a.problem(), "teacher alone") {
					t.Errorf("%s for %s: status %d, %s", r.Key, class, a.code, a.problem())
				}
			}
		}
	}
	// the compiled table has 28 for reference and 32 for the teacher
	if count[published.ForRecord] != 28 || count[published.ByTeacher] != 32 || stopped == 0 {
		t.Errorf("tried %v, %d stopped", count, stopped)
	}
	if n := s.recipes(t); n != had {
		t.Errorf("%d recipes came in though all were refused", n-had)
	}
	if a := s.post(t, "/library/R999/plan", url.Values{}); a.code != http.StatusNotFound {
		t.Errorf("a recipe that is not there: status %d", a.code)
	}
}

// Everything else can be planned at one's own bench, outdoors.
func TestTheRestCanBePlanned(t *testing.T) {
	s := stocked(t)
	room, err := s.store.SaveRoom(t.Context(), studio.Room{Name: "Yard", Outdoors: true, VolumeM3: 100, Mixing: 3})
	if err != nil {
		t.Fatal(err)
	}
	planned := 0
	for _, r := range published.All() {
		path := "/library/" + r.Key
		if s.see(t, path).doc(t).one(`form[action="`+path+`/plan"]`) == nil {
			continue
		}
		to := s.post(t, path+"/plan", url.Values{"room": {id(room.ID)}}).to(t)
		if a := s.see(t, to); a.code != http.StatusOK {
			t.Errorf("%s leads to %s: status %d", r.Key, to, a.code)
		}
		planned++
	}
	all, err := s.store.Recipes(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if planned < 30 || len(all) != planned+1 {
		t.Errorf("%d planned, %d recipes kept", planned, len(all))
	}
	for _, x := range all {
		if x.ID == s.recipe {
			continue
		}
		from, ok := published.ByKey(x.Latest.Source)
		if !ok || !strings.Contains(x.Latest.Why, from.Source) {
			t.Errorf("%s does not say where it is from: %q, %q", x.Name, x.Latest.Source, x.Latest.Why)
		}
		if text := s.see(t, fmt.Sprintf("/recipes/%d", x.ID)).doc(t).one("main").words(); !strings.Contains(text, "After "+from.Name) || !strings.Contains(text, "Nothing changed") {
			t.Errorf("%s: its page does not say that it is as published: %.300s", x.Name, text)
		}
	}
}

// adopt makes a published recipe one's own.
func (s *stock) adopt(t *testing.T, key string, form url.Values) studio.Recipe {
	t.Helper()
	s.post(t, "/library/"+key+"/plan", form).to(t)
	all, err := s.store.Recipes(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range all {
		if x.Latest.Source == key {
			return x
		}
	}
	t.Fatalf("%s is not among the recipes", key)
	return studio.Recipe{}
}

func TestAnAdoptedRecipeRemembersAndSaysWhatChanged(t *testing.T) {
	s := stocked(t)
	own := s.adopt(t, "R28", nil)
	if again := s.adopt(t, "R28", nil); again.ID != own.ID || s.recipes(t) != 2 {
		t.Errorf("asked twice, it is kept twice")
	}
	path := fmt.Sprintf("/recipes/%d", own.ID)
	edit := submitted(s.see(t, path+"/edit").doc(t).one("main form[method=post]"))
	edit.Set("do", "save")
	edit.Set("why", "shorter")
	times := edit["time"]
	at := slices.Index(times, "2 d")
	if at < 0 {
		t.Fatalf("no step of two days among %v", times)
	}
	times[at] = "1 d"
	s.post(t, path, edit).to(t)
	versions, err := s.store.Versions(t.Context(), own.ID)
	if err != nil || len(versions) != 2 {
		t.Fatalf("versions = %v, %v", versions, err)
	}
	if versions[1].Source != "R28" {
		t.Errorf("the new version forgot where it is from: %q", versions[1].Source)
	}
	for i, was := range versions[0].Steps {
		is := versions[1].Steps[i]
		if i == at {
			is.Duration = was.Duration
		}
		if !reflect.DeepEqual(is, was) {
			t.Errorf("step %d was %+v and became %+v", i+1, was, is)
		}
	}
	if text := s.see(t, path).doc(t).one("main").words(); !strings.Contains(text, "Changed since: 1 thing") || !strings.Contains(text, "time 2 d → 1 d") {
		t.Errorf("what changed is not said: %.400s", text)
	}
	// the hand's word is kept, and what it stands for is shown
	if text := s.see(t, path).doc(t).one("ol.steps").words(); strings.Contains(text, ", 0 mL") || !strings.Contains(text, "medium, 80 ± 25 mL/m² (assumed)") {
		t.Errorf("a medium wetting reads %.300s", text)
	}
	// a liquid that can't be read is refused where it stands, not half kept
	edit.Set("why", "")
	edit["mix"] = slices.Clone(edit["mix"])
	for i := range edit["mix"] {
		if edit["mix"][i] != "" {
			edit["mix"][i] = "vinegar 500; salt NaN"
		}
	}
	if a := s.post(t, path, edit); a.code != http.StatusUnprocessableEntity || !strings.Contains(a.problem(), "500") {
		t.Errorf("a strength of 500 %%: status %d, %s", a.code, a.problem())
	}
}

// What only a teacher may do is refused to a class at every door, also after it
// was made one's own and changed.
func TestTeacherOnlyStaysOutOfAClass(t *testing.T) {
	s := stocked(t)
	ctx := t.Context()
	own := s.adopt(t, "R24", nil)
	dry := slices.IndexFunc(own.Latest.Steps, func(x studio.Step) bool { return x.Kind == studio.Dry })
	form := map[string][]string{"front": {id(own.Latest.ID)}, "step0": {fmt.Sprint(dry)}, "name": {"Weak boiling"}, "do": {"make"}}
	form["class"] = []string{"adults"}
	if a := s.post(t, "/sets", s.setForm(form)); a.code != http.StatusUnprocessableEntity || !strings.Contains(a.problem(), "teacher alone") {
		t.Errorf("planned for a class: status %d, %s", a.code, a.problem())
	}
	form["class"] = []string{""}
	set := s.plan(t, s.setForm(form))
	labels := fmt.Sprintf("/sets/%d/labels.pdf", set)
	if a := s.see(t, labels); a.code != http.StatusOK {
		t.Errorf("labels for one's own bench: status %d, %s", a.code, a.problem())
	}
	s.post(t, fmt.Sprintf("/sets/%d/place", set), url.Values{"class": {"adults"}, "room": {"0"}}).to(t)
	if a := s.see(t, labels); a.code != http.StatusUnprocessableEntity || !strings.Contains(a.problem(), "teacher alone") {
		t.Errorf("labels for a class: status %d, %s", a.code, a.problem())
	}
	swatches, err := s.store.SwatchesOf(ctx, set)
	if err != nil {
		t.Fatal(err)
	}
	ts, err := s.store.Treatments(ctx, store.TreatmentFilter{Set: set})
	if err != nil {
		t.Fatal(err)
	}
	if len(ts) == 0 || len(swatches) == 0 {
		t.Fatal("nothing was planned")
	}
	if a := s.begin(t, "b", ts[0].ID); a.code != http.StatusUnprocessableEntity || !strings.Contains(a.problem(), "teacher alone") {
		t.Errorf("begun for a class: status %d, %s", a.code, a.problem())
	}
}

func TestABatchIsReckoned(t *testing.T) {
	s := stocked(t)
	text := s.see(t, "/library/R14?amount=500").doc(t).one(".weigh").words()
	// 119.8 g on a litre, as the compiled table has it
	if strings.Count(text, "59.91 g") != 2 || !strings.Contains(text, "500 mL") {
		t.Errorf("half a litre takes %q", text)
	}
	for amount, want := range map[string]string{"much": "not a number", "-1": "can't be mixed", "0": "can't be mixed", "1e9": "can't be mixed"} {
		if a := s.see(t, "/library/R14?amount="+amount); a.code != http.StatusUnprocessableEntity || !strings.Contains(a.problem(), want) {
			t.Errorf("%s mL: status %d, %s", amount, a.code, a.problem())
		}
	}
}

// TestFromTheLibraryToASet walks from a published recipe to planned swatches in
// a real browser, on a laptop and on a phone.
func TestFromTheLibraryToASet(t *testing.T) {
	t.Parallel()
	for _, width := range []int{1280, 360} {
		t.Run(fmt.Sprintf("%dpx", width), func(t *testing.T) {
			t.Parallel()
			s := stocked(t)
			tb := open(t, s.url, "library", width)
			tb.visit("/recipes")
			tb.pressThrough("Published recipes")
			tb.fill("q", "vinager antique rubbed") // misspelt
			tb.pressThrough("Find recipes")
			tb.noSideways()
			tb.shot("library")
			first := js[string](tb, `document.querySelector('article h2 a').innerText`)
			if first != "Rubbed antique" {
				t.Errorf("%s comes first", first)
			}
			tb.pressThrough(first)
			tb.noSideways()
			tb.fill("amount", "250")
			tb.pressThrough("Say what to take")
			// 2 oz to the imperial quart is 49.9 g/L: the compiled table's R27
			if text := js[string](tb, `document.querySelector('.weigh').innerText`); !strings.Contains(text, "12.47 g") {
				t.Errorf("a quarter of a litre takes %q", text)
			}
			tb.shot("recipe")
			tb.pressThrough("Make it my recipe and plan a set")
			tb.noSideways()
			tb.fill("name", "From the library")
			tb.fill("levels0", "60, 120")
			tb.pressThrough("Show the set before making it")
			tb.shot("preview")
			tb.pressThrough("Make these swatches")
			tb.noSideways()
			if text := js[string](tb, `document.querySelector('h1').innerText`); text != "From the library" {
				t.Errorf("the set is called %q", text)
			}
		})
	}
}
