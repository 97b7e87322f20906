package benchday

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/flow/timetable"
	"aerugo/internal/studio"
)

// key names a piece of work from one timetable to the next.
type key struct {
	treatment int64
	step      int
	what      string
}

// newDraft lays out the work of a and what of it is done. Kept is the timetable
// before, nil for none.
func newDraft(a *Ask, kept map[key]studio.BenchStart) (*draft, error) {
	if err := a.check(); err != nil {
		return nil, err
	}
	d := &draft{ask: a, of: make([][]int, len(a.Entries)), zero: a.Now}
	in := func(e run.Entry) bool {
		return e.Record.Status != run.Stopped && !e.Treatment.Blank &&
			(e.Record.Status == run.Running || slices.Contains(a.Wish.Treatments, e.Treatment.ID))
	}
	for _, p := range a.Wish.People {
		for _, h := range p.There {
			d.zero = earlier(d.zero, h.From)
		}
	}
	for _, e := range a.Entries {
		if in(e) && !e.Record.Began.IsZero() {
			d.zero = earlier(d.zero, e.Record.Began)
		}
	}
	if far := a.Now.Add(-20 * 24 * time.Hour); d.zero.Before(far) {
		d.zero = far
	}
	d.zero = d.zero.Truncate(time.Minute)
	d.now = upTo(a.Now.Sub(d.zero))
	for i, e := range a.Entries {
		if in(e) {
			d.lay(i)
		}
	}
	if len(d.works) > timetable.MaxOps {
		return nil, studio.Problemf(studio.Invalid, "t", "That makes %d pieces of work; at most %d are planned at once. Tick fewer swatches.", len(d.works), timetable.MaxOps)
	}
	none := func(work) (int, int, bool) { return 0, 0, false }
	for i := range a.Entries {
		d.tell(i, none)
	}
	if len(a.Wish.People) == 1 {
		for _, w := range d.works {
			if w.done && w.what != onRack && w.what != offRack {
				d.hands = max(d.hands, w.end)
			}
		}
	}
	for i := range a.Entries {
		d.tell(i, func(w work) (int, int, bool) {
			s, ok := kept[d.key(w)]
			return d.minute(s.At), s.Minutes, ok
		})
	}
	d.blocks()
	d.layers()
	return d, nil
}

func earlier(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

func (d *draft) key(w work) key { return key{d.treatment(w).ID, w.step, w.what} }

func (d *draft) treatment(w work) studio.Treatment { return d.ask.Entries[w.entry].Treatment }

func (d *draft) stepOf(w work) studio.Step { return d.treatment(w).Steps[w.step] }

func (d *draft) minute(t time.Time) int { return int(t.Sub(d.zero) / time.Minute) }

func (d *draft) time(minute int) time.Time {
	return d.zero.Add(time.Duration(minute) * time.Minute)
}

// first returns the first work of an entry of a kind, any kind if what is empty; -1 for none.
func (d *draft) first(e int, what string) int {
	for _, n := range d.of[e] {
		if what == "" || d.works[n].what == what && d.works[n].lid {
			return n
		}
	}
	return -1
}

// blocks keeps fillings together and one after the other, and the random order
// within each, or within a whole set that has none.
func (d *draft) blocks() {
	type group struct {
		set   int64
		layer int
		faces studio.Faces
	}
	groups := map[group][]int{}
	var keys []group
	for e, n := range d.of {
		if len(n) == 0 {
			continue
		}
		t := d.ask.Entries[e].Treatment
		g := group{t.SetID, t.Layer, t.Faces}
		if t.SetID == 0 || t.Order == 0 {
			continue // made by itself: no order to keep
		}
		if groups[g] == nil {
			keys = append(keys, g)
		}
		groups[g] = append(groups[g], e)
	}
	at := func(e int) studio.Treatment { return d.ask.Entries[e].Treatment }
	for _, g := range keys {
		all := groups[g]
		slices.SortFunc(all, func(x, y int) int {
			return cmp.Or(cmp.Compare(at(x).Block, at(y).Block), cmp.Compare(at(x).Order, at(y).Order), cmp.Compare(at(x).ID, at(y).ID))
		})
		var before []int
		for len(all) > 0 {
			n := 1
			for n < len(all) && at(all[n]).Block == at(all[0]).Block {
				n++
			}
			block := all[:n]
			all = all[n:]
			d.block(block)
			if at(block[0]).Block > 0 {
				d.fillings = append(d.fillings, slices.Clone(block))
			}
			if len(before) > 0 {
				d.after(before, block)
			}
			before = block
		}
	}
}

// block keeps what belongs together in order and, in one chamber that holds it
// all, in one filling.
func (d *draft) block(block []int) {
	if !d.ask.Wish.AnyOrder {
		for _, what := range []string{"", PutIn} {
			before := -1
			for _, e := range block {
				n := d.first(e, what)
				if n < 0 || d.works[n].done {
					continue // what was done is as it is
				}
				if before >= 0 {
					d.inOrder(before, n)
				}
				before = n
			}
		}
	}
	if !d.together(block) {
		return
	}
	span := len(block)*handling + blockGap
	for i, x := range block {
		for j := i + 1; j < len(block); j++ {
			d.ties = append(d.ties, tie{from: d.first(x, PutIn), to: d.first(block[j], PutIn), least: -span, most: span, why: chained, entry: block[j]})
		}
	}
}

// together reports whether a block is one filling of one chamber.
func (d *draft) together(block []int) bool {
	t := d.ask.Entries[block[0]].Treatment
	if t.Block == 0 || len(block) < 2 {
		return false
	}
	var id int64
	for _, e := range block {
		n := d.first(e, PutIn)
		if n < 0 || id != 0 && d.works[n].chamber != id {
			return false
		}
		id = d.works[n].chamber
	}
	c, ok := d.ask.chamber(id)
	if ok && c.Places > 0 && len(block) > c.Places {
		d.notes = append(d.notes, fmt.Sprintf("Block %d has %d swatches and %s has %d places, so it is taken as a day's work, not as one filling.", t.Block, len(block), d.ask.chamberName(id), c.Places))
		return false
	}
	return true
}

// after puts one filling into a chamber when the one before it is out.
func (d *draft) after(before, block []int) {
	if !d.together(before) || !d.together(block) || d.works[d.first(before[0], PutIn)].chamber != d.works[d.first(block[0], PutIn)].chamber {
		if !d.ask.Wish.AnyOrder {
			d.inOrder(d.first(before[len(before)-1], ""), d.first(block[0], ""))
		}
		return
	}
	for _, x := range before {
		out := d.first(x, TakeOut)
		for _, y := range block {
			if out >= 0 {
				d.ties = append(d.ties, tie{from: out, to: d.first(y, PutIn), most: timetable.NoLimit, why: ordered, entry: y})
			}
		}
	}
}

// inOrder lets y start no sooner than x.
func (d *draft) inOrder(x, y int) {
	if x >= 0 && y >= 0 {
		d.ties = append(d.ties, tie{from: x, to: y, least: -d.works[x].minutes, most: timetable.NoLimit, why: ordered, entry: d.works[y].entry})
	}
}

// layers puts the treatments of one swatch one after the other: an overlay
// after its base, the back after the front.
func (d *draft) layers() {
	swatches := map[int64][]int{}
	var numbers []int64
	for e, n := range d.of {
		if len(n) == 0 {
			continue
		}
		s := d.ask.Entries[e].Treatment.Swatch
		if swatches[s] == nil {
			numbers = append(numbers, s)
		}
		swatches[s] = append(swatches[s], e)
	}
	begun := func(e int) int {
		if d.ask.Entries[e].Record.Status == run.Planned {
			return 1
		}
		return 0
	}
	for _, s := range numbers {
		all := swatches[s]
		slices.SortFunc(all, func(x, y int) int {
			a, b := d.ask.Entries[x].Treatment, d.ask.Entries[y].Treatment
			return cmp.Or(cmp.Compare(begun(x), begun(y)), cmp.Compare(a.Layer, b.Layer), -strings.Compare(string(a.Faces), string(b.Faces)), cmp.Compare(a.ID, b.ID))
		})
		// what goes on wet comes straight after its base
		for i := 1; i < len(all); i++ {
			t := d.ask.Entries[all[i]].Treatment
			for j := 0; t.Over == studio.OverWet && j < i-1; j++ {
				if u := d.ask.Entries[all[j]].Treatment; u.Faces == t.Faces && u.Layer == t.Layer-1 {
					e := all[i]
					all = slices.Insert(slices.Delete(all, i, i+1), j+1, e)
					break
				}
			}
		}
		for i := 1; i < len(all); i++ {
			a, b := d.of[all[i-1]], d.of[all[i]]
			l := tie{from: a[len(a)-1], to: b[0], most: timetable.NoLimit, why: ordered, entry: all[i]}
			t, u := d.ask.Entries[all[i]].Treatment, d.ask.Entries[all[i-1]].Treatment
			if t.Over == studio.OverWet && u.Layer == t.Layer-1 {
				l.most, l.why, l.assumed = wetOver, over, true
			}
			d.ties = append(d.ties, l)
		}
	}
}
