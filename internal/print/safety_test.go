package print

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"
	"testing"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// plainText is a page's words, without the numbers of sources.
func plainText(p readPage) string {
	return strings.Join(strings.Fields(regexp.MustCompile(`\[\d+\]|\(from memory\)`).ReplaceAllString(p.all(), "")), " ")
}

func TestEveryCautionIsOnTheCard(t *testing.T) {
	for name, uses := range map[string][]matter.Use{
		"ammonia": ammonia(9.5), "strong ammonia": ammonia(28), "ammonia of unknown strength": ammonia(0),
		"copper sulfate": {{Key: "copper-sulfate", Step: 1, Form: "liquid"}},
		"unknown":        {{Key: "grandmother's powder", Step: 1, Form: "solid"}},
		"sulfide":        {{Key: "liver-of-sulfur", Step: 1, Form: "liquid"}},
	} {
		for _, metal := range []string{"copper C11000", "brass C26000, hard", ""} {
			card := sampleCard(t)
			card.Uses, card.Metal = uses, metal
			pages := cardPages(t, card)
			var all string
			for _, p := range pages {
				all += plainText(p) + " "
			}
			cautions := matter.Cautions(uses, metal)
			if len(cautions) == 0 {
				t.Fatalf("%s: no cautions to look for", name)
			}
			last := -1
			for i, c := range cautions {
				text, _, _ := strings.Cut(c.Text, " Gloves: ") // gloves and eyes have their own place
				at := strings.Index(all, strings.Join(strings.Fields(text), " "))
				if at < 0 {
					t.Errorf("%s on %q: the card does not say %q", name, metal, text)
					continue
				}
				if i < len(cautions)-1 {
					if at < last {
						t.Errorf("%s on %q: %q comes too early", name, metal, text)
					}
					last = at
				}
				if c.Source != "" && !strings.Contains(all, strings.Join(strings.Fields(c.Source), " ")) {
					t.Errorf("%s on %q: the source %q is missing", name, metal, c.Source)
				}
			}
			for i, p := range pages {
				if !strings.Contains(plainText(p), cautions[len(cautions)-1].Text) {
					t.Errorf("%s on %q: page %d does not defer to label and data sheet", name, metal, i+1)
				}
			}
			for _, u := range uses {
				if b, err := matter.At(u.Key, u.WtPercent); err == nil && len(b.Hazards) > 0 {
					for _, want := range []string{b.Gloves, b.Eyes} {
						if !strings.Contains(all, strings.TrimSuffix(want, ".")) {
							t.Errorf("%s on %q: the card does not say %q", name, metal, want)
						}
					}
				}
			}
		}
	}
}

// Acid on sulfide frees hydrogen sulfide, and ammonia over a copper nitrate
// patina can leave an explosive crust: Lab Manager, 'Incompatible chemical
// mixtures'; CRC Handbook of Chemistry and Physics, section 16-23, tables 1-2.
func TestCardForWhatMustNotMeetIsRefused(t *testing.T) {
	for _, uses := range [][]matter.Use{
		{{Key: "liver-of-sulfur", Step: 1, Form: "liquid"}, {Key: "vinegar", WtPercent: 5, Step: 2, Form: "liquid"}},
		{{Key: "copper-nitrate", Step: 1, Form: "residue"}, {Key: "ammonia-water", WtPercent: 10, Step: 2, Form: "fume"}},
	} {
		card := sampleCard(t)
		card.Uses = uses
		var buf bytes.Buffer
		err := RecipeCard(&buf, card)
		p := studio.ProblemIn(err)
		if p == nil || p.Kind != studio.Unsafe || !strings.Contains(p.Text, "Rule:") {
			t.Errorf("%v: error is %v, want a refusal that names the rule", uses, err)
		}
		if buf.Len() > 0 {
			t.Errorf("%v: %d bytes were written", uses, buf.Len())
		}
	}
	card := sampleCard(t)
	card.Uses = []matter.Use{{Key: "sodium-chloride", Step: 1, Form: "liquid"}, {Key: "vinegar", WtPercent: 5, Step: 1, Form: "liquid"}}
	if err := RecipeCard(&bytes.Buffer{}, card); err != nil {
		t.Errorf("salt and vinegar are refused: %v", err)
	}
}

// The text of a clash is the rule table's own: what comes first is what needs a
// hood, what only asks for care comes after the cautions.
func TestCardSaysWhatMeets(t *testing.T) {
	card := sampleCard(t)
	card.Uses = []matter.Use{
		{Key: "sodium-thiosulfate", Step: 1, Form: "liquid"}, {Key: "vinegar", WtPercent: 5, Step: 2, Form: "liquid"},
		{Key: "hydrogen-peroxide", WtPercent: 3, Step: 3, Form: "liquid"}, {Key: "copper-sulfate", Step: 4, Form: "liquid"},
	}
	clashes := matter.Clashes(card.Uses, card.Metal)
	all := ""
	for _, p := range cardPages(t, card) {
		all += plainText(p) + " "
	}
	caution, _, _ := strings.Cut(matter.Cautions(card.Uses, card.Metal)[0].Text, " Gloves: ")
	first := strings.Index(all, caution)
	levels := map[string]int{}
	for _, c := range clashes {
		levels[c.Level]++
		at := strings.Index(all, strings.TrimSuffix(sentence(c.What)[1:], "."))
		if at < 0 {
			t.Errorf("the card does not say %q", c.What)
		}
		if (c.Level == matter.Hood) != (at < first) {
			t.Errorf("%s (%s) stands at %d, the cautions at %d", c.ID, c.Level, at, first)
		}
	}
	if levels[matter.Hood] == 0 || levels[matter.Care] == 0 {
		t.Fatalf("the sample has the levels %v; it needs a hood and care", levels)
	}
}

func TestNoCautionIsLostOverleaf(t *testing.T) {
	for _, card := range []Card{extremeCard(t), longCard(t, 22, false)} {
		card.Uses = extremeCard(t).Uses
		card.Metal = "brass C26000, hard"
		all := ""
		pages := cardPages(t, card)
		for _, p := range pages {
			all += strings.ReplaceAll(p.all(), " ", "")
		}
		if len(pages) < 2 {
			t.Fatal("the sample stays on one page")
		}
		if !strings.Contains(all, "Cautions,continued") {
			t.Error("the cautions go on without a word")
		}
		s := safetyOf(card.Uses, card.Metal)
		want := s.boxed
		for _, g := range s.guards {
			want = append(want, g.lines...)
		}
		for i, source := range s.sources {
			want = append(want, remark{text: fmt.Sprintf("[%d] %s", i+1, source)})
		}
		for _, r := range want {
			if !strings.Contains(all, strings.ReplaceAll(clean(r.String()), " ", "")) {
				t.Errorf("lost: %q", r)
			}
		}
	}
}
