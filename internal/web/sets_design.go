package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"aerugo/internal/flow/learn"
	"aerugo/internal/flow/plan"
	"aerugo/internal/flow/run"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// firstLines is how many lines the form has for what is varied before more are
// asked for.
const firstLines = 3

// designForm is the part of a set's form that says how the settings are chosen.
type designForm struct {
	Design     studio.Design
	Swatches   string
	Model      plan.Model
	Difference string
	Blocks     string
	Never      []neverForm
	MadeIn     int64 // the earlier set whose swatches count
}

// neverForm is one thing ruled out, as the values of two choices.
type neverForm struct{ A, B string }

// designChoices is what that part offers.
type designChoices struct {
	Offers  []plan.Offer
	Levels  []levelChoice // what can be ruled out
	Names   []string      // what is varied, by line; "" where a line is not used
	Earlier []studio.Set  // sets whose swatches can count
	Spread  plan.Spread
	ToSee   []string // how many swatches show the difference wanted
	Open    bool     // something of the finer part is in use
}

type levelChoice struct{ Value, Label string }

// readLines takes the lines of what is varied: three, those in use, and one more
// when it is asked for.
func (f *setForm) readLines() []factorForm {
	n := min(max(firstLines, int(f.whole("lines", "lines", firstLines))), plan.MaxFactors)
	if f.Val("do") == "more" {
		n = min(n+1, plan.MaxFactors)
	}
	for i := range plan.MaxFactors {
		if f.Val(fmt.Sprint("kind", i)) != "" {
			n = max(n, i+1)
		}
	}
	lines := make([]factorForm, n)
	for i := range lines {
		n := strconv.Itoa(i)
		lines[i] = factorForm{Kind: f.Val("kind" + n), Step: int(f.whole("step"+n, "step", -1)), Levels: f.Val("levels" + n), Shared: f.Val("shared"+n) != ""}
		for _, id := range f.values["liquid"+n] {
			if v, err := strconv.ParseInt(id, 10, 64); err == nil {
				lines[i].Liquids = append(lines[i].Liquids, v)
			}
		}
	}
	return lines
}

func (f *setForm) readDesign() designForm {
	d := designForm{Design: studio.Design(f.Val("design")), Swatches: f.Val("swatches"), Model: plan.Model(f.Val("model")), Difference: f.Val("difference"),
		Blocks: f.Val("blocks"), MadeIn: f.whole("made", "set", 0)}
	if d.Difference == "" {
		d.Difference = "3"
	}
	for i := range plan.MaxNever {
		n := neverForm{f.Val(fmt.Sprint("never", i, "a")), f.Val(fmt.Sprint("never", i, "b"))}
		if n.A != "" || n.B != "" {
			d.Never = append(d.Never, n)
		}
	}
	return d
}

// difference is the difference in ΔE00 that is wanted; what can't be read is said
// beside it and taken as 3.
func (f *setForm) difference() float64 {
	v, err := decimal(f.Difference)
	if err != nil || !(v > 0 && v <= 100) {
		f.say("difference", "%q is no difference in colour; write a number above 0, like 3.", f.Difference)
		return 3
	}
	return v
}

// rangeOf reads "30 to 240", "30–240" or "30..240".
func rangeOf(text string) (low, high string, ok bool) {
	for _, between := range []string{" to ", "..", "…", "–"} {
		if low, high, ok := strings.Cut(text, between); ok {
			low, high = strings.TrimSpace(low), strings.TrimSpace(high)
			return low, high, low != "" && high != "" && !strings.ContainsAny(low+high, ",;")
		}
	}
	return "", "", false
}

// shownAt is the form's field for a field of plan.Ask.
func shownAt(field string) string {
	switch {
	case strings.HasPrefix(field, "never"):
		return "never"
	case field == "faces":
		return "back"
	}
	return field
}

// levelValue names a level by its line and label.
func levelValue(line int, label string) string { return fmt.Sprintf("%d|%s", line, label) }

// askDesign adds how the settings are chosen.
func (s *Server) askDesign(ctx context.Context, f *setForm, a *plan.Ask) error {
	a.Design, a.Model = f.Design, f.Model
	a.Swatches = int(f.whole("swatches", "number of swatches", 0))
	switch f.Blocks {
	case "", "1":
	case "places":
		a.ByPlaces = true
	default:
		a.Blocks = int(f.whole("blocks", "number of fillings or days", 0))
	}
	f.difference()
	var lines []int // the form line of each factor
	for i, line := range f.Factors {
		if line.Kind == "" {
			continue
		}
		if line.Shared {
			a.Shared = append(a.Shared, len(lines))
		}
		lines = append(lines, i)
	}
	pick := func(value string) (plan.Pick, bool) {
		for n, x := range a.Factors {
			for l, level := range x.Levels {
				if n < len(lines) && levelValue(lines[n], level.Label) == value {
					return plan.Pick{Factor: n, Level: l}, true
				}
			}
		}
		return plan.Pick{}, false
	}
	for _, n := range f.Never {
		first, ok := pick(n.A)
		second, okToo := pick(n.B)
		if !ok || !okToo {
			f.say("never", "One of the things ruled out is not among the levels now; choose both again.")
			continue
		}
		a.Never = append(a.Never, []plan.Pick{first, second})
	}
	if f.MadeIn == 0 {
		return nil
	}
	folds, err := s.treatments(ctx, store.TreatmentFilter{Set: f.MadeIn})
	if err != nil {
		return err
	}
	for _, x := range folds {
		if len(x.Treatment.Settings) > 0 && x.Record.Status == run.Finished {
			a.Made = append(a.Made, x.Treatment.Settings)
		}
	}
	if len(a.Made) == 0 {
		f.say("made", "No swatch of that set is finished yet, so none can count.")
	}
	return nil
}

// fillDesign gives the form what fits what is varied so far.
func (s *Server) fillDesign(ctx context.Context, p *setNewPage) error {
	sets, err := s.store.Sets(ctx)
	if err != nil {
		return err
	}
	for _, set := range sets {
		if set.FrontID == p.Form.FrontID && set.MetalID == p.Form.MetalID && len(set.Factors) > 0 {
			p.Earlier = append(p.Earlier, set)
		}
	}
	if p.Spread, err = s.spread(ctx, sets); err != nil {
		return err
	}
	// What is wrong is said when the set is asked for, not while it is written.
	quiet := p.Form
	quiet.form = &form{values: p.Form.values, wrong: map[string]string{}, in: p.Form.in}
	if quiet.FrontID == 0 || !slices.ContainsFunc(quiet.Factors, func(x factorForm) bool { return x.Kind != "" }) {
		p.ToSee = toSee(quiet.difference(), p.Spread, []int{2, 3, 4})
		return nil
	}
	a, err := s.ask(ctx, &quiet, p.Liquids)
	if err != nil && studio.ProblemIn(err) == nil {
		return err
	}
	hands, err := s.store.HandAmounts(ctx)
	if err != nil {
		return err
	}
	n := 0
	var counts []int
	p.Names = make([]string, len(p.Form.Factors))
	for i, line := range p.Form.Factors {
		if line.Kind == "" || n >= len(a.Factors) {
			continue
		}
		x := a.Factors[n]
		p.Names[i] = x.Name
		for _, l := range x.Levels {
			p.Levels = append(p.Levels, levelChoice{levelValue(i, l.Label), x.Name + ": " + l.Label})
		}
		if c := len(x.Levels); c >= 2 && c <= 12 && !slices.Contains(counts, c) {
			counts = append(counts, c)
		}
		n++
	}
	if len(counts) == 0 {
		counts = []int{2, 3, 4}
	}
	slices.Sort(counts)
	p.ToSee = toSee(quiet.difference(), p.Spread, counts)
	if offers, err := plan.Offers(a, p.Liquids, hands); err == nil {
		p.Offers = offers
	} else if studio.ProblemIn(err) == nil {
		return err
	}
	f := p.Form
	p.Open = len(f.Never) > 0 || f.MadeIn != 0 || f.Blocks != "" || slices.ContainsFunc(f.Factors, func(x factorForm) bool { return x.Shared })
	return nil
}

// Chosen is the place of the offer that is ticked: the one chosen, or as long as
// nobody chose and none was used, the recommended one.
func (p setNewPage) Chosen() int {
	for i, o := range p.Offers {
		if p.asked() && o.Design == p.Form.Design || !p.asked() && o.Why != "" {
			return i
		}
	}
	return 0
}

// asked says whether the design was chosen by the person, or shown to them in a
// set, and not only ticked by the page.
func (p setNewPage) asked() bool {
	do, f := p.Form.Val("do"), p.Form
	return do == "preview" || do == "make" || f.values.Has("design") && f.Val("ticked") != "page:"+string(f.Design)
}

// Ticked is what the page ticked by itself, to be known again when it comes back.
func (p setNewPage) Ticked() string {
	if p.asked() || len(p.Offers) == 0 {
		return ""
	}
	return "page:" + string(p.Offers[p.Chosen()].Design)
}

// AskedToSee reports whether the number of swatches was asked for.
func (p setNewPage) AskedToSee() bool { return p.Form.Val("do") == "see" }

// NeverRows are the rows for what is ruled out: those in use and two more.
func (p setNewPage) NeverRows() []neverForm {
	rows := slices.Clone(p.Form.Never)
	for range 2 {
		if len(rows) < plan.MaxNever {
			rows = append(rows, neverForm{})
		}
	}
	return rows
}

// BlockCounts are the numbers of fillings or days to choose from.
func (p setNewPage) BlockCounts() []string { return []string{"2", "3", "4", "5", "6", "8", "10", "12"} }

// toSee says how many swatches of each level show a difference.
func toSee(difference float64, spread plan.Spread, levels []int) []string {
	var out []string
	for _, n := range levels {
		each, err := plan.ToSee(difference, spread, n)
		switch {
		case err != nil:
			if p := studio.ProblemIn(err); p != nil && !slices.Contains(out, p.Text) {
				out = append(out, p.Text)
			}
		case n == 2:
			out = append(out, fmt.Sprintf("Two levels: %d swatches of each, %d in all.", each, 2*each))
		default:
			out = append(out, fmt.Sprintf("%d levels: %d swatches of each, %d in all.", n, each, n*each))
		}
	}
	return out
}

// spread reads how far the studio's swatches that were made alike differ.
func (s *Server) spread(ctx context.Context, sets []studio.Set) (plan.Spread, error) {
	looks, err := s.store.Looks(ctx)
	if err != nil {
		return plan.Spread{}, err
	}
	ts, err := s.store.Treatments(ctx, store.TreatmentFilter{})
	if err != nil {
		return plan.Spread{}, err
	}
	bySet, setOf := map[int64][]studio.Treatment{}, map[int64]int64{}
	for _, t := range ts {
		bySet[t.SetID] = append(bySet[t.SetID], t)
		setOf[t.Swatch] = t.SetID
	}
	looksOf := map[int64][]studio.Look{}
	for _, l := range looks {
		looksOf[setOf[l.Swatch]] = append(looksOf[setOf[l.Swatch]], l)
	}
	// A swatch counts once, however many of its faces were made alike.
	type one struct {
		kind   string
		swatch int64
	}
	sum, count := map[one]plan.Alike{}, map[one]float64{}
	var order []one
	for _, set := range sets {
		for _, p := range learn.Points(set, bySet[set.ID], looksOf[set.ID]) {
			if !p.Calibrated {
				continue
			}
			k := one{fmt.Sprintf("%d: %s", set.ID, settingsText(p.Settings)), p.Swatch}
			if count[k] == 0 {
				order = append(order, k)
			}
			x := sum[k]
			x.Lab.L, x.Lab.A, x.Lab.B = x.Lab.L+p.Lab.L, x.Lab.A+p.Lab.A, x.Lab.B+p.Lab.B
			sum[k] = x
			count[k]++
		}
	}
	var alike []plan.Alike
	for _, k := range order {
		x, n := sum[k], count[k]
		x.Kind = k.kind
		x.Lab.L, x.Lab.A, x.Lab.B = x.Lab.L/n, x.Lab.A/n, x.Lab.B/n
		alike = append(alike, x)
	}
	return plan.SpreadOf(alike), nil
}

// worthView is what a set can and can't tell, in words.
type worthView struct {
	plan.Worth
	Wanted     float64
	Difference string
	Spread     string
	Assumed    bool
	Enough     []string // of what the difference wanted is shown
	Short      []string
	Why        string // why it can't be said
}

// worthOf weighs a set; what stops it is said in its place.
func worthOf(set studio.Set, treatments []studio.Treatment, made [][]studio.Setting, spread plan.Spread, difference float64) *worthView {
	v := &worthView{Wanted: difference, Difference: figures(difference), Spread: spread.Words(), Assumed: spread.Assumed}
	var err error
	if v.Worth, err = plan.Weigh(set, treatments, made, spread, difference); err != nil {
		if v.Why = "What this set can tell was not reckoned."; studio.ProblemIn(err) != nil {
			v.Why = studio.ProblemIn(err).Text
		}
		return v
	}
	// what one thing does comes before what two do together: the first few stand open
	slices.SortStableFunc(v.Untold, func(a, b string) int { return pairsIn(a) - pairsIn(b) })
	for _, x := range v.Shows {
		if x.Enough {
			v.Enough = append(v.Enough, x.Factor)
		} else {
			v.Short = append(v.Short, x.Factor)
		}
	}
	return v
}

// pairsIn is 1 for a sentence on what things do together, 0 for one on a single thing.
func pairsIn(untold string) int {
	if before, _, _ := strings.Cut(untold, " can't be told"); strings.HasSuffix(before, " do together") {
		return 1
	}
	return 0
}

// shownUntold is how many of what can't be told apart stand before the button.
const shownUntold = 3

// MoreUntold is how many more there are of what can't be told apart.
func (v worthView) MoreUntold() int { return max(0, len(v.Untold)-shownUntold) }

// leastShort are the smallest differences shown where the wanted one is not.
func (v worthView) leastShort() (low, high float64) {
	for _, x := range v.Shows {
		if x.Enough {
			continue
		}
		if low == 0 || x.Least < low {
			low = x.Least
		}
		high = max(high, x.Least)
	}
	return low, high
}

// LeastShort says in words what shows where the wanted difference does not.
func (v worthView) LeastShort() string {
	low, high := v.leastShort()
	switch {
	case seenWords(high) == seenWords(v.Wanted):
		return "a larger one"
	case seenWords(low) != seenWords(high) && seenWords(low) != seenWords(v.Wanted):
		return "one " + seenWords(low) + " or one " + seenWords(high)
	}
	return "one " + seenWords(high)
}

// EnoughWords and ShortWords name the things varied in which the difference shows
// and does not.
func (v worthView) EnoughWords() string { return listed(v.Enough, "and") }
func (v worthView) ShortWords() string  { return listed(v.Short, "or") }

// listed joins words: "salt, wetting or drying time".
func listed(words []string, last string) string {
	n := len(words)
	if n < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:n-1], ", ") + " " + last + " " + words[n-1]
}

// LeastNumbers says the same in numbers.
func (v worthView) LeastNumbers() string {
	low, high := v.leastShort()
	if low, high := number(low, 1), number(high, 1); low != high {
		return low + " to " + high + " or more shows"
	}
	return number(high, 1) + " or more shows"
}

// designText names how a set's settings were chosen, plain name first.
func designText(set studio.Set) string {
	if len(set.Factors) == 0 {
		return ""
	}
	plain, textbook := plan.DesignWords(set.Design)
	return fmt.Sprintf("%s (%s)", plain, textbook)
}

// blockWord is what the blocks of a set are.
func blockWord(set studio.Set) string {
	if set.ChamberID != 0 {
		return "filling"
	}
	return "day"
}

// weighSet says on a set's page what its treatments can and can't tell.
func (s *Server) weighSet(r *http.Request, p *setPage) error {
	if len(p.Set.Factors) == 0 {
		return nil
	}
	ctx := r.Context()
	ts, err := s.store.Treatments(ctx, store.TreatmentFilter{Set: p.Set.ID})
	if err != nil {
		return err
	}
	sets, err := s.store.Sets(ctx)
	if err != nil {
		return err
	}
	spread, err := s.spread(ctx, sets)
	if err != nil {
		return err
	}
	p.Difference = "3"
	difference := 3.0
	if text := r.FormValue("difference"); text != "" {
		p.Difference = text
		if difference, err = decimal(text); err != nil || !(difference > 0 && difference <= 100) {
			return studio.Problemf(studio.Invalid, "difference", "%q is no difference in colour; write a number above 0, like 3.", text)
		}
	}
	p.Worth = worthOf(p.Set, ts, nil, spread, difference)
	return nil
}
