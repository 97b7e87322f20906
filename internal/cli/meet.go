package cli

import (
	"slices"
	"strings"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

type meetVerb struct {
	Substances []string `arg:"" name:"substance" help:"Substances by name, with their strength in percent after a colon where it is known: vinegar:5 hydrogen-peroxide:3."`
	Where      string   `enum:"mixed,shelf,room" default:"mixed" help:"Where they meet: mixed (on one piece or in one pot), on a shelf, or in one room on one day."`
	Metal      string   `help:"The metal too: a name or a UNS number, such as brass or C26000."`
	JSON       bool     `name:"json" help:"Answer in JSON."`
}

// Help is shown below the verb's usage.
func (meetVerb) Help() string {
	return `Levels, worst first: stop (never), hood (outdoors or under a hood only), caution, product (harms the piece, not you), unknown (read the safety data sheet), none (nothing is listed, which is no promise).

An unknown strength counts as the strongest that is sold. The label and the safety data sheet of your own bottle come first.

` + exits
}

// metPair is one clash as meet reports it.
type metPair struct {
	ID       string `json:"id"`
	Level    string `json:"level"`
	A        string `json:"a"`
	B        string `json:"b"`
	Why      string `json:"why"`
	Rule     string `json:"rule"`
	Instead  string `json:"instead"`
	Source   string `json:"source"`
	Standing string `json:"standing"`
}

// met is what meet reports: the worst pair's level, why and source on top.
type met struct {
	Level    string    `json:"level"`
	ID       string    `json:"id,omitempty"`
	Why      string    `json:"why"`
	Source   string    `json:"source"`
	Standing string    `json:"standing"`
	Where    string    `json:"where"`
	Pairs    []metPair `json:"pairs"`
	Cautions []string  `json:"cautions"`
}

const (
	levelNone    = "none"
	levelUnknown = "unknown"
)

// Run says whether the substances may meet.
func (v meetVerb) Run(t *term) error {
	var uses []matter.Use
	for _, text := range v.Substances {
		u, err := useIn(text)
		if err != nil {
			return err
		}
		uses = append(uses, u)
	}
	if len(uses) < 2 && v.Metal == "" {
		return studio.Problemf(studio.Invalid, "substance", "name at least two substances, or one and --metal, such as: aerugo meet vinegar:5 bleach")
	}
	m := meeting(uses, v.Where, v.Metal)
	if v.JSON {
		return t.asJSON(m)
	}
	m.tell(t)
	return nil
}

// useIn reads a substance with or without a strength after the last colon.
func useIn(text string) (matter.Use, error) {
	name, strength, given := text, "", false
	if i := strings.LastIndex(text, ":"); i >= 0 {
		name, strength, given = text[:i], text[i+1:], true
	}
	u := matter.Use{Key: strings.TrimSpace(name), Step: 1}
	if u.Key == "" {
		return u, studio.Problemf(studio.Invalid, "substance", "%q names no substance; write its name, such as vinegar or vinegar:5", text)
	}
	if given {
		wt, ok := number(strings.TrimSuffix(strings.TrimSpace(strength), "%"))
		if !ok || wt <= 0 {
			return u, studio.Problemf(studio.Invalid, "substance", "%q: the strength after the colon is a number of percent above 0, as in hydrogen-peroxide:3", text)
		}
		u.WtPercent = wt
		if _, known := matter.Lookup(u.Key); known {
			if _, err := matter.At(u.Key, wt); err != nil {
				return u, outside(err)
			}
		}
	}
	return u, nil
}

// meeting asks the tables.
func meeting(uses []matter.Use, where, metal string) met {
	var clashes []matter.Clash
	switch {
	case where == "shelf":
		clashes = matter.MeetOnShelf(uses)
	case where == "room":
		clashes = matter.MeetInRoom(uses, metal)
	case metal != "":
		clashes = matter.Clashes(uses, metal)
	default:
		clashes = matter.Meet(uses)
	}
	m := met{Level: levelNone, Where: where, Pairs: []metPair{}, Cautions: []string{}, Standing: "from memory",
		Why: "nothing is listed against them; that is no promise that they get on"}
	for _, c := range clashes {
		p := metPair{c.ID, c.Level, c.A, c.B, c.What, c.Do, c.Instead, c.Source, c.Standing}
		if c.ID == levelUnknown {
			p.Level = levelUnknown
		}
		m.Pairs = append(m.Pairs, p)
	}
	// What nobody knows is worse than what is only a caution.
	order := []string{matter.Stop, matter.Hood, levelUnknown, matter.Care, matter.Product}
	slices.SortStableFunc(m.Pairs, func(a, b metPair) int { return slices.Index(order, a.Level) - slices.Index(order, b.Level) })
	if len(m.Pairs) > 0 {
		p := m.Pairs[0]
		m.Level, m.ID, m.Why, m.Source, m.Standing = p.Level, p.ID, p.Why, p.Source, p.Standing
	}
	for _, c := range matter.Cautions(uses, metal) {
		m.Cautions = append(m.Cautions, c.Text)
	}
	return m
}

// levelWords begin the answer for people.
var levelWords = map[string]string{
	matter.Stop:    "STOP: never let these meet.",
	matter.Hood:    "Only outdoors or under a hood.",
	levelUnknown:   "Not known here: treat it as able to hurt.",
	matter.Care:    "With care.",
	matter.Product: "Safe for you as far as the tables know, but it can harm the piece.",
	levelNone:      "Nothing is listed against them, which is no promise.",
}

// tell writes the answer for people: the verdict, each pair, then the cautions.
func (m met) tell(t *term) {
	t.printf("%s\n", levelWords[m.Level])
	for _, p := range m.Pairs {
		who := p.A
		if p.B != "" {
			who += " and " + p.B
		}
		from := p.Source
		if from == "" {
			from = p.Standing
		}
		t.printf("\n%s, %s (%s): %s.\n  Rule: %s.\n  Instead: %s\n  Source: %s\n", p.Level, who, p.ID, p.Why, p.Rule, p.Instead, from)
	}
	t.printf("\n")
	for _, c := range m.Cautions {
		t.printf("- %s\n", c)
	}
}
