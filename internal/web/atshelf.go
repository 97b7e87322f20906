package web

import (
	"context"
	"fmt"
	"hash/fnv"
	"html/template"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/flow/batch"
	"aerugo/internal/flow/cost"
	"aerugo/internal/flow/plan"
	"aerugo/internal/flow/propose"
	"aerugo/internal/flow/run"
	"aerugo/internal/studio"
)

// shelfPlan is a plan to be weighed against the shelf: what is still to be done, and
// what is still to be cut. Set is 0 where it is not made yet; then every other plan
// comes first, else only those made before it.
type shelfPlan struct {
	set        int64
	name       string
	treatments []studio.Treatment
	swatches   map[int64]studio.Swatch
	metal      int64
	blank      batch.Blank // Pieces 0: nothing is cut
}

// shelfAnswer is what the shelf says to a plan.
type shelfAnswer struct {
	Short  []shelfLine
	Notes  []string
	Buy    template.URL // asks for the shopping list; empty when nothing is short
	Enough bool         // counted, all of it, and enough
}

// shelfLine is one thing that is short. Instead names what could be taken in its place.
type shelfLine struct{ Text, Instead, At string }

// ahead is the other plans: what each still takes, in the order they were made.
type ahead struct {
	claims []cost.Claim
	cuts   []cutClaim
}

// cutClaim is the sheet that a plan still has to be cut from.
type cutClaim struct {
	set   int64
	name  string
	metal int64
	blank batch.Blank
}

// The saw and the edge of a sheet where nobody said: as in the cutting list's form.
const (
	usualKerfMM = 1
	usualEdgeMM = 5
)

// blankOf is what one piece of a set or batch is cut from.
func blankOf(set studio.Set, form studio.Form) batch.Blank {
	b := batch.Blank{WidthMM: set.WidthMM, HeightMM: set.HeightMM, KerfMM: usualKerfMM, EdgeMM: usualEdgeMM, Turn: true}
	if set.PieceID != 0 {
		b.WidthMM, b.HeightMM, b.DiscMM = blankSize(form)
	}
	return b
}

// waitingPlans lists what the sets that are not finished still take, in amounts and in
// sheet. A set that must not be made takes nothing.
func (s *Server) waitingPlans(ctx context.Context, x shelfStock) (a ahead, err error) {
	sets, err := s.store.Sets(ctx)
	if err != nil {
		return a, err
	}
	slices.SortFunc(sets, func(p, q studio.Set) int { return int(p.ID - q.ID) })
	entries := map[int64][]run.Entry{}
	for _, e := range x.entries {
		entries[e.Treatment.SetID] = append(entries[e.Treatment.SetID], e)
	}
	for _, set := range sets {
		left := cost.Ahead(entries[set.ID])
		if len(left) == 0 {
			continue
		}
		if _, _, problem, err := s.setSafety(ctx, set); err != nil {
			return a, err
		} else if problem != nil {
			continue
		}
		a.claims = append(a.claims, cost.Claim{Set: set.ID, Name: set.Name, Needs: x.shelf.Needs(left, x.swatches)})
		if set.MetalID == 0 {
			continue
		}
		blank, _, err := s.stillToCut(ctx, x, set)
		if err != nil {
			return a, err
		}
		if blank.Pieces > 0 {
			a.cuts = append(a.cuts, cutClaim{set.ID, set.Name, set.MetalID, blank})
		}
	}
	return a, nil
}

// stillToCut is what a set has to be cut from the shelf: its pieces less those that were
// cut, or that have begun and so must be cut.
func (s *Server) stillToCut(ctx context.Context, x shelfStock, set studio.Set) (b batch.Blank, pieces int, err error) {
	var form studio.Form
	if set.PieceID != 0 {
		p, err := s.store.Piece(ctx, set.PieceID)
		if err != nil {
			return b, 0, err
		}
		form = p.Form
	}
	begun := map[int64]bool{}
	for _, e := range x.entries {
		if e.Treatment.SetID == set.ID && e.Record.Status != run.Planned {
			begun[e.Treatment.Swatch] = true
		}
	}
	for _, w := range x.swatches {
		if w.SetID == set.ID {
			pieces++
		}
	}
	b = blankOf(set, form)
	b.Pieces = max(0, pieces-max(len(begun), cost.SheetCost(x.sheets[set.MetalID], set.ID).Pieces))
	return b, pieces, nil
}

// before keeps the plans that were made before one, or all other ones.
func (a ahead) before(set int64) ahead {
	var out ahead
	for _, c := range a.claims {
		if set == 0 || c.Set < set {
			out.claims = append(out.claims, c)
		}
	}
	for _, c := range a.cuts {
		if set == 0 || c.set < set {
			out.cuts = append(out.cuts, c)
		}
	}
	return out
}

// sheetsThere are the sheets of a metal on the shelf.
func (x shelfStock) sheetsThere(metal int64) []batch.Sheet {
	var out []batch.Sheet
	for _, st := range cost.StacksOf(x.sheets[metal]) {
		if st.Count > 0 {
			out = append(out, batch.Sheet{ID: st.ID(), WMM: st.Put.WidthMM, HMM: st.Put.HeightMM, Count: st.Count, Offcut: st.Offcut()})
		}
	}
	return out
}

// sheetsLeft are those that no other plan takes first, and the plans that take some.
func (x shelfStock) sheetsLeft(metal int64, a ahead) (left []batch.Sheet, by []string) {
	left = x.sheetsThere(metal)
	for _, c := range a.cuts {
		if c.metal != metal {
			continue
		}
		if cut, err := batch.CutFrom(c.blank, left); err == nil && len(cut.Takings) > 0 {
			left, by = cut.Left, append(by, c.name)
		}
	}
	return left, by
}

// stocks is what is there of every supply.
func (x shelfStock) stocks() map[int64]cost.Stock {
	out := map[int64]cost.Stock{}
	for _, sup := range x.shelf.Supplies {
		out[sup.ID] = x.stockOf(sup)
	}
	return out
}

// supply returns a supply of the shelf.
func (x shelfStock) supply(id int64) studio.Supply {
	for _, sup := range x.shelf.Supplies {
		if sup.ID == id {
			return sup
		}
	}
	return studio.Supply{}
}

// bottleText names a supply with its strength.
func bottleText(sup studio.Supply) string {
	if strength := strengthGrade(sup); strength != "" && !strings.Contains(sup.Name, "%") {
		return sup.Name + ", " + strength
	}
	return sup.Name
}

// afterText names the plans that come first.
func afterText(names []string) string {
	switch len(names) {
	case 1:
		return names[0]
	case 2:
		return names[0] + " and " + names[1]
	}
	return fmt.Sprintf("%s and %d more", names[0], len(names)-1)
}

func claimNames(by []cost.Claim) (names []string) {
	for _, c := range by {
		names = append(names, c.Name)
	}
	return names
}

// shortText says in one line what a plan needs of a supply and what there is.
func (x shelfStock) shortText(st cost.Standing) string {
	n := st.Need
	if n.Supply == 0 {
		return fmt.Sprintf("%s: none on the shelf", capital(n.Name))
	}
	sup := x.supply(n.Supply)
	name, needed, left := bottleText(sup), x.amountText(sup, n.G), x.amountText(sup, st.Left)
	switch {
	case n.Asked > 0:
		return fmt.Sprintf("%s: too weak, %s %% by mass is asked for", name, number(n.Asked, 2))
	case len(st.By) > 0:
		return fmt.Sprintf("%s: %s needed, %s left after %s", name, needed, left, afterText(claimNames(st.By)))
	}
	return fmt.Sprintf("%s: %s needed, %s there", name, needed, left)
}

// lackText says in a sentence what there is of a supply, for what can't be made of it:
// the same for all that needs more.
func (x shelfStock) lackText(st cost.Standing) string {
	n := st.Need
	if n.Supply == 0 {
		return fmt.Sprintf("%s: none on the shelf.", capital(n.Name))
	}
	sup := x.supply(n.Supply)
	name, left := bottleText(sup), x.amountText(sup, st.Left)
	switch {
	case n.Asked > 0:
		return fmt.Sprintf("%s: too weak for what is asked for.", name)
	case len(st.By) > 0:
		return fmt.Sprintf("%s: %s left after %s.", name, left, afterText(claimNames(st.By)))
	}
	return fmt.Sprintf("%s: %s there.", name, left)
}

// atShelf says how the shelf stands to a plan.
func (s *Server) atShelf(x shelfStock, a ahead, p shelfPlan) (shelfAnswer, error) {
	var out shelfAnswer
	first := a.before(p.set)
	needs := x.shelf.Needs(p.treatments, p.swatches)
	if len(needs) == 0 && p.blank.Pieces == 0 {
		return out, nil
	}
	query := url.Values{}
	tick := func(set int64) {
		if text := strconv.FormatInt(set, 10); !slices.Contains(query["set"], text) {
			query.Add("set", text)
		}
	}
	var uncounted []string
	now := s.now()
	for _, st := range x.shelf.Enough(needs, x.stocks(), first.claims, now) {
		sup := x.supply(st.Need.Supply)
		out.Notes = append(out.Notes, x.standingNotes(sup, st, now)...)
		if !st.Known && st.Need.Supply != 0 {
			uncounted = append(uncounted, sup.Name)
		}
		if !st.Lacks() {
			continue
		}
		line := shelfLine{Text: x.shortText(st)}
		if st.Need.Supply != 0 {
			line.At = fmt.Sprintf("/shelf/supplies/%d/stock", st.Need.Supply)
		}
		var others []string
		for _, o := range st.Others {
			others = append(others, bottleText(o))
		}
		if len(others) > 0 {
			line.Instead = fmt.Sprintf("Also on the shelf: %s.", strings.Join(others, "; "))
		}
		out.Short = append(out.Short, line)
		for _, c := range st.By {
			tick(c.Set)
		}
	}
	if p.blank.Pieces > 0 && p.metal != 0 {
		name := x.metalName(p.metal)
		if _, known := cost.Counted(x.sheets[p.metal]); !known {
			uncounted = append(uncounted, name)
		} else {
			left, by := x.sheetsLeft(p.metal, first)
			cut, err := batch.CutFrom(p.blank, left)
			if err != nil {
				return out, err
			}
			if cut.Missing > 0 {
				text := fmt.Sprintf("%s: sheet for %d pieces needed, for %d there", name, p.blank.Pieces, cut.Pieces)
				if len(by) > 0 {
					text = fmt.Sprintf("%s: sheet for %d pieces needed, for %d left after %s", name, p.blank.Pieces, cut.Pieces, afterText(by))
				}
				out.Short = append(out.Short, shelfLine{Text: text, At: fmt.Sprintf("/shelf/metals/%d/sheets", p.metal)})
				for _, c := range first.cuts {
					if c.metal == p.metal {
						tick(c.set)
					}
				}
			}
		}
	}
	if len(uncounted) > 0 {
		out.Notes = append([]string{fmt.Sprintf("Not counted, so nobody knows whether there is enough: %s.", strings.Join(uncounted, "; "))}, out.Notes...)
	}
	out.Enough = len(out.Short) == 0 && len(uncounted) == 0
	if len(out.Short) > 0 {
		if p.set != 0 {
			tick(p.set)
		} else {
			query.Set("for", p.name)
			for _, n := range needs {
				query.Add("need", fmt.Sprintf("%d:%s:%s", n.Supply, n.Material, strconv.FormatFloat(n.G, 'g', 6, 64)))
			}
			if p.blank.Pieces > 0 && p.metal != 0 {
				query.Add("cut", fmt.Sprintf("%d:%g:%g:%g:%d", p.metal, p.blank.WidthMM, p.blank.HeightMM, p.blank.DiscMM, p.blank.Pieces))
			}
		}
		out.Buy = template.URL("/shopping?" + query.Encode())
	}
	return out, nil
}

// standingNotes say what time has done to what a plan takes.
func (x shelfStock) standingNotes(sup studio.Supply, st cost.Standing, now time.Time) (out []string) {
	if len(st.Expired) > 0 {
		g := 0.0
		for _, l := range st.Expired {
			g += l.G
		}
		out = append(out, fmt.Sprintf("%s: %s past their day, not counted.", sup.Name, x.amountText(sup, g)))
	}
	if sup.Material == "ammonia-water" && st.Known {
		if age := ageOf(sup, now); len(age) > 1 {
			out = append(out, fmt.Sprintf("%s: %s.", sup.Name, strings.Join(age, "; ")))
		}
	}
	return out
}

func (x shelfStock) metalName(id int64) string {
	for _, m := range x.metals {
		if m.ID == id {
			return m.Name
		}
	}
	return "metal"
}

// setAtShelf weighs a set that is made: what is not done of it, and what is not cut.
func (s *Server) setAtShelf(ctx context.Context, set studio.Set) (shelfAnswer, error) {
	x, a, err := s.shelfAndPlans(ctx)
	if err != nil {
		return shelfAnswer{}, err
	}
	p := shelfPlan{set: set.ID, name: set.Name, swatches: x.swatches, metal: set.MetalID}
	var entries []run.Entry
	for _, e := range x.entries {
		if e.Treatment.SetID == set.ID {
			entries = append(entries, e)
		}
	}
	p.treatments = cost.Ahead(entries)
	for _, c := range a.cuts {
		if c.set == set.ID {
			p.blank = c.blank
		}
	}
	return s.atShelf(x, a, p)
}

// layoutAtShelf weighs a set that is laid out and not made yet.
func (s *Server) layoutAtShelf(ctx context.Context, lay plan.Layout, blank batch.Blank) (shelfAnswer, error) {
	x, a, err := s.shelfAndPlans(ctx)
	if err != nil {
		return shelfAnswer{}, err
	}
	p := shelfPlan{name: lay.Set.Name, swatches: map[int64]studio.Swatch{}, metal: lay.Set.MetalID, blank: blank}
	for i, piece := range lay.Pieces {
		n := int64(i + 1)
		w := piece.Swatch
		w.Number = n
		p.swatches[n] = w
		for _, t := range piece.Treatments {
			t.Swatch = n
			p.treatments = append(p.treatments, t)
		}
	}
	p.blank.Pieces = len(lay.Pieces)
	return s.atShelf(x, a, p)
}

// shelfAndPlans reads the shelf and what the plans that wait take of it.
func (s *Server) shelfAndPlans(ctx context.Context) (shelfStock, ahead, error) {
	x, err := s.shelfStock(ctx)
	if err != nil {
		return x, ahead{}, err
	}
	a, err := s.waitingPlans(ctx, x)
	return x, a, err
}

// numbered gives the treatments of swatches that are not made numbers of their own.
func numbered(swatches [][]studio.Treatment, w studio.Swatch) ([]studio.Treatment, map[int64]studio.Swatch) {
	var all []studio.Treatment
	bySwatch := map[int64]studio.Swatch{}
	for i, ts := range swatches {
		w.Number = int64(i + 1)
		bySwatch[w.Number] = w
		for _, t := range ts {
			t.Swatch = w.Number
			all = append(all, t)
		}
	}
	return all, bySwatch
}

// shelfFor says what is lacking to make proposals of a family, and gives a key that
// changes with what there is. What nobody has counted is taken to be enough.
func (s *Server) shelfFor(x shelfStock, a ahead, g gathered) (lacks propose.Stock, key string) {
	stock, now := x.stocks(), s.now()
	sheets, most := 0, false
	var by []string
	if _, known := cost.Counted(x.sheets[g.set.MetalID]); known {
		var left []batch.Sheet
		left, by = x.sheetsLeft(g.set.MetalID, a)
		b := blankOf(g.set, studio.Form{})
		b.Pieces = propose.MostProposed * 2
		if cut, err := batch.CutFrom(b, left); err == nil {
			sheets, most = cut.Pieces, true
		}
	}
	h := fnv.New64a()
	fmt.Fprint(h, most, sheets, by, localDay(now))
	for _, sup := range x.shelf.Supplies {
		fmt.Fprintf(h, "|%d %+v %v", sup.ID, stock[sup.ID], x.unitOf(sup))
	}
	for _, c := range a.claims {
		fmt.Fprintf(h, "|%d %s %+v", c.Set, c.Name, c.Needs)
	}
	w := studio.Swatch{WidthMM: g.set.WidthMM, HeightMM: g.set.HeightMM}
	return func(swatches [][]studio.Treatment) string {
		if most && len(swatches) > sheets {
			name := x.metalName(g.set.MetalID)
			if len(by) > 0 {
				return fmt.Sprintf("%s: sheet for %d pieces left after %s.", name, sheets, afterText(by))
			}
			return fmt.Sprintf("%s: sheet for %d pieces there.", name, sheets)
		}
		all, bySwatch := numbered(swatches, w)
		for _, st := range x.shelf.Enough(x.shelf.Needs(all, bySwatch), stock, a.claims, now) {
			if st.Lacks() {
				return x.lackText(st)
			}
		}
		return ""
	}, strconv.FormatUint(h.Sum64(), 36)
}
