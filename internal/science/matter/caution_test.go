package matter

import (
	"strings"
	"testing"
)

// at returns the place of the first caution that holds the words, -1 if none.
func at(cs []Caution, words string) int {
	for i, c := range cs {
		if strings.Contains(c.Text, words) {
			return i
		}
	}
	return -1
}

// Figures: NIOSH, Documentation for IDLH concentrations: ammonia, May 1994.
// First aid: ICSC 0215. Smell: Minnesota Department of Agriculture.
func TestAmmoniaCautionsInOrder(t *testing.T) {
	cs := Cautions([]Use{{Key: "ammonia water", WtPercent: 10, Form: "fume"}, {Key: "salt"}}, "C26000")
	last := -1
	for _, words := range []string{
		"Open the lid outdoors or under a hood", "Goggles", "No flame", "everyone out",
		"25 ppm over the working day, 35 ppm over 15 minutes (NIOSH REL); 50 ppm by US law (OSHA PEL); 300 ppm",
		"Smell is not a meter", "Formed or hard brass above 15 % zinc", "Ammonia water, 10 to 25 %: ", "First aid", "don't pour them away",
		"The label and safety data sheet of your own bottle, local rules and licensed practice come before this page.",
	} {
		i := at(cs, words)
		if i <= last {
			t.Errorf("%q is at %d, after %d; cautions: %v", words, i, last, cs)
		}
		last = i
	}
	if last != len(cs)-1 {
		t.Errorf("the deferring line is %d of %d", last, len(cs)-1)
	}
	limits := cs[at(cs, "25 ppm")]
	if limits.Standing != "read in source" || !strings.Contains(limits.Source, "NIOSH") || !strings.Contains(limits.Source, "1994") {
		t.Errorf("limits cite %+v", limits)
	}
}

func TestCautionsFitTheCase(t *testing.T) {
	for _, c := range []struct {
		name   string
		uses   []Use
		metal  string
		words  string
		wanted bool
	}{
		{"copper does not crack", []Use{{Key: "ammonia", WtPercent: 5}}, "C11000", "crack", false},
		{"unknown metal may", []Use{{Key: "ammonia", WtPercent: 5}}, "", "If this metal holds more than 15 % zinc", true},
		{"strength missing", []Use{{Key: "ammonia"}}, "copper", "strength of the ammonia is not given", true},
		{"strength given", []Use{{Key: "ammonia", WtPercent: 5}}, "copper", "strength of the ammonia is not given", false},
		{"salt and vinegar need no ammonia lines", []Use{{Key: "salt"}, {Key: "vinegar"}}, "copper", "Open the lid", false},
		{"sulfide", []Use{{Key: "liver of sulfur"}}, "copper", "No acid near the sulfide", true},
		{"nitrate under ammonia", []Use{{Key: "copper nitrate"}, {Key: "ammonia", WtPercent: 5}}, "copper", "Never fume over a nitrate patina", true},
		{"nitrate alone", []Use{{Key: "copper nitrate"}}, "copper", "Never fume over a nitrate patina", false},
		{"poison", []Use{{Key: "orpiment"}}, "copper", "arsenic compounds", true},
		{"unknown", []Use{{Key: "green goo"}}, "copper", "green goo: unknown substance: read its safety data sheet", true},
		{"copper salts are collected", []Use{{Key: "copper sulfate"}}, "copper", "collect them", true},
		{"plain words", []Use{{Key: "copper sulfate"}}, "copper", "Copper sulfate: harmful if swallowed; damages eyes for good; very toxic to water life", true},
	} {
		if got := at(Cautions(c.uses, c.metal), c.words) >= 0; got != c.wanted {
			t.Errorf("%s: %q shown %v, want %v", c.name, c.words, got, c.wanted)
		}
	}
}

func TestCautionsAreShort(t *testing.T) {
	for _, s := range Substances() {
		for _, c := range Cautions([]Use{{Key: s.Key}}, "brass") {
			if len(c.Text) > 320 || c.Text == "" || strings.Contains(c.Text, "{") {
				t.Errorf("%s: %d letters: %s", s.Key, len(c.Text), c.Text)
			}
		}
	}
}

// A substance used twice counts at its strongest.
func TestStrongestUseSpeaks(t *testing.T) {
	cs := Cautions([]Use{{Key: "ammonia", WtPercent: 28}, {Key: "ammonia", WtPercent: 2}}, "copper")
	if at(cs, "Ammonia water, 25 to 35 %") < 0 || at(cs, "1 to 3 %") >= 0 {
		t.Errorf("got %v", cs)
	}
}
