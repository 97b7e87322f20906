package cost

import (
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/studio"
)

// A Claim is what a plan made earlier still takes from the shelf.
type Claim struct {
	Set   int64
	Name  string
	Needs []Need
}

// A Standing is how the shelf stands to one need of a plan, amounts in grams. There is
// what is there and not past its day, Left what of it no earlier plan takes, never
// below 0. By are the plans that take of it first. Expired are the lots past their
// day, which count for nothing; Others are bottles of the same material that a person
// could take instead: as strong as is needed, not past their day, and not empty.
type Standing struct {
	Need    Need
	Known   bool // somebody has counted
	There   float64
	Left    float64
	Short   float64 // 0: enough, or not known
	By      []Claim
	Expired []Lot
	Others  []studio.Supply
}

// Lacks reports whether the plan can't be made from the shelf for this need.
func (s Standing) Lacks() bool { return s.Short > 0 || s.Need.Asked > 0 || s.Need.Supply == 0 }

// expired reports whether a day to use something by has passed.
func expired(day, now time.Time) bool { return !day.IsZero() && now.After(day.AddDate(0, 0, 1)) }

// Usable returns the lots of a stock that may still be used and those past their day,
// each with something in it, and the sum of the first in grams. A lot without a day
// of its own has that of its supply.
func Usable(sup studio.Supply, st Stock, now time.Time) (g float64, fresh, old []Lot) {
	for _, l := range st.Lots {
		if l.Expires.IsZero() {
			l.Expires = sup.Expires
		}
		if expired(l.Expires, now) {
			if l.G > 0 {
				old = append(old, l)
			}
			continue
		}
		g += l.G
		if l.G > 0 {
			fresh = append(fresh, l)
		}
	}
	return max(0, g), fresh, old
}

// hair is how far sums of fractions of a gram are off.
const hair = 1e-9

// Enough compares what a plan needs with the shelf, in the order of the needs. stock
// is by supply; claims are the plans that come first. A supply that nobody has counted
// is never short: nothing is known of it.
func (s Shelf) Enough(needs []Need, stock map[int64]Stock, claims []Claim, now time.Time) []Standing {
	var out []Standing
	for _, n := range needs {
		x := Standing{Need: n}
		sup, on := s.find(n.Supply, "")
		if n.Supply == 0 || !on {
			x.Need.Supply, x.Known, x.Short = 0, true, n.G
			out = append(out, x)
			continue
		}
		st := stock[n.Supply]
		x.Known = st.Known
		x.There, _, x.Expired = Usable(sup, st, now)
		x.Left = x.There
		for _, c := range claims {
			for _, o := range c.Needs {
				if o.Supply == n.Supply && o.G > 0 {
					x.Left -= o.G
					x.By = append(x.By, c)
				}
			}
		}
		x.Left = max(0, x.Left)
		if x.Known && n.G > x.Left+hair*max(1, n.G) {
			x.Short = n.G - x.Left
		}
		if x.Lacks() {
			x.Others = s.instead(sup, n, stock, now)
		}
		out = append(out, x)
	}
	return out
}

// instead lists other bottles of a material that hold some of it and are as strong as
// the one, or as strong as was asked for.
func (s Shelf) instead(sup studio.Supply, n Need, stock map[int64]Stock, now time.Time) (out []studio.Supply) {
	for _, o := range s.Supplies {
		if o.ID == sup.ID || o.Material != sup.Material || o.WtPercent() < max(sup.WtPercent(), n.Asked) || expired(o.Expires, now) {
			continue
		}
		if g, _, _ := Usable(o, stock[o.ID], now); g > 0 {
			out = append(out, o)
		}
	}
	return out
}

// Ahead returns what entries still take: their treatments that have not ended, each
// with the steps that are not done. A wait that is under way has what it takes; its
// steps before that were never confirmed were passed over.
func Ahead(entries []run.Entry) []studio.Treatment {
	var out []studio.Treatment
	for _, e := range entries {
		if e.Record.Status != run.Planned && e.Record.Status != run.Running {
			continue
		}
		t := e.Treatment
		t.Steps = nil
		for i, step := range e.Treatment.Steps {
			if i < len(e.Record.Steps) {
				switch st := e.Record.Steps[i].State; {
				case st == run.Done, st == run.Unconfirmed, st == run.Dropped:
					continue
				case st == run.Current && step.Kind.Dwell():
					continue
				}
			}
			t.Steps = append(t.Steps, step)
		}
		if len(t.Steps) > 0 {
			out = append(out, t)
		}
	}
	return out
}
