package web_test

import (
	"net/url"
	"slices"
	"testing"
)

// What a page shows in German can be typed in German: levels and their ranges, what a
// swatch looks like, and what is in a printed recipe lead where the English words lead.
func TestWhatIsTypedInGermanIsRead(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	german := []string{"Cookie", "aerugo_language=de"}
	ways := func(a answer) (out []string) {
		for _, x := range a.doc(t).all("input[name=design]") {
			out = append(out, x.attr["value"])
		}
		return out
	}
	english := ways(s.post(t, "/sets", s.four(map[string][]string{"do": {"steps"}})))
	typed := s.post(t, "/sets", s.four(map[string][]string{"do": {"steps"}, "levels0": {"30 Min bis 4 Std"}, "levels1": {"leicht, stark"}}), german...)
	if got := ways(typed); len(english) == 0 || !slices.Equal(got, english) {
		t.Errorf("levels typed in German offer %q, in English %q: %s", got, english, typed.problem())
	}

	inHalves := ways(s.post(t, "/sets", s.four(map[string][]string{"do": {"steps"}, "levels3": {"1,5; 2"}}), german...))
	if want := ways(s.post(t, "/sets", s.four(map[string][]string{"do": {"steps"}, "levels3": {"1.5, 2"}}))); !slices.Equal(inHalves, want) {
		t.Errorf("1,5; 2 offers %q, 1.5, 2 offers %q", inHalves, want)
	}

	hits := func(q string, heads ...string) (out []string) {
		for _, a := range s.see(t, "/library?"+url.Values{"q": {q}}.Encode(), heads...).doc(t).all(`main a[href^="/library/"]`) {
			out = append(out, a.attr["href"])
		}
		return out
	}
	if en, de := hits("sal ammoniac"), hits("Salmiak", german...); len(en) == 0 || !slices.Equal(en, de) {
		t.Errorf("Salmiak finds %q, sal ammoniac %q", de, en)
	}

	for q, want := range map[string]string{"blaugrün, matt": "blue-green, matte", "1 Vorderseite": "1 front"} {
		de, en := s.see(t, "/find?"+url.Values{"q": {q}}.Encode(), german...), s.see(t, "/find?"+url.Values{"q": {want}}.Encode())
		if de.code != en.code || len(de.doc(t).all("main a")) != len(en.doc(t).all("main a")) {
			t.Errorf("%q is answered %d with %d links, %q %d with %d", q, de.code, len(de.doc(t).all("main a")), want, en.code, len(en.doc(t).all("main a")))
		}
	}
}
