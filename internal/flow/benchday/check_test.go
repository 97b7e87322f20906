package benchday

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/studio"
)

var morning = time.Date(2026, 6, 3, 8, 0, 0, 0, time.UTC)

func at(h, m int) time.Time {
	return morning.Add(time.Duration(h-8)*time.Hour + time.Duration(m)*time.Minute)
}

func hours(from, till time.Time) studio.Hours { return studio.Hours{From: from, Till: till} }

func entry(t studio.Treatment, events ...studio.Event) run.Entry {
	return run.Entry{Treatment: t, Swatch: studio.Swatch{Number: t.Swatch}, Record: run.Fold(t, events)}
}

// broken looks at a sheet step by step, knowing nothing of how it was made, and
// says what is wrong with it. loose is how many minutes a limit may be broken.
func broken(a Ask, s Sheet, loose int) error {
	starts := map[string]studio.BenchStart{}
	name := func(t int64, step int, what string) string { return fmt.Sprint(t, "/", step, "/", what) }
	for _, x := range s.Starts {
		if _, twice := starts[name(x.Treatment, x.Step, x.What)]; twice {
			return fmt.Errorf("%d step %d %s stands there twice", x.Treatment, x.Step, x.What)
		}
		starts[name(x.Treatment, x.Step, x.What)] = x
	}
	end := func(x studio.BenchStart) time.Time { return x.At.Add(time.Duration(x.Minutes) * time.Minute) }
	isFact := func(e run.Entry, x studio.BenchStart) bool { return x.At.Before(a.Now) }
	there := func(p studio.BenchPerson, m time.Time) bool {
		in := slices.ContainsFunc(p.There, func(h studio.Hours) bool { return !m.Before(h.From) && m.Before(h.Till) })
		return in && !slices.ContainsFunc(p.Away, func(h studio.Hours) bool { return !m.Before(h.From) && m.Before(h.Till) })
	}
	hands := map[time.Time]int{}
	inside := map[string]int{}
	facts := map[int64]int{} // more may be in there than it holds
	max0 := func(n int) time.Duration { return time.Duration(n) * time.Minute }
	type put struct {
		t  studio.Treatment
		at time.Time
	}
	var firsts, puts []put
	bySwatch := map[int64][][2]time.Time{}
	layer := map[int64][]int{}
	for _, e := range a.Entries {
		t := e.Treatment
		if !slices.Contains(a.Wish.Treatments, t.ID) && e.Record.Status != run.Running {
			continue
		}
		var last time.Time // when the work before was over
		var began time.Time
		lastFact := false
		var ended time.Time
		place := func(c int64, from, till time.Time) {
			if !from.After(a.Now) && till.After(a.Now) {
				facts[c]++
			}
			for m := from; m.Before(till); m = m.Add(time.Minute) {
				if !m.Before(a.Now) {
					inside[fmt.Sprint(c, m.Unix())]++
				}
			}
		}
		var in time.Time
		first := true
		for i, st := range t.Steps {
			work := func(what string) (studio.BenchStart, error) {
				x, ok := starts[name(t.ID, i, what)]
				if !ok {
					return x, fmt.Errorf("%d step %d: no %q", t.ID, i, what)
				}
				if x.At.Before(last) && !lastFact {
					return x, fmt.Errorf("%d step %d: %s at %v, before the work before it is over at %v", t.ID, i, what, x.At, last)
				}
				if !isFact(e, x) {
					for m := x.At; m.Before(end(x)); m = m.Add(time.Minute) {
						hands[m]++
					}
				}
				if first {
					firsts = append(firsts, put{t, x.At})
					began = x.At
					first = false
				}
				last, lastFact, ended = end(x), isFact(e, x), end(x)
				return x, nil
			}
			dwell := func(from, till time.Time) error {
				if lastFact {
					return nil
				}
				least, most := st.Duration-st.Early, st.Duration+st.Late
				if st.Early == 0 && st.Late == 0 {
					most = st.Duration + max(5*time.Minute, st.Duration/10)
				}
				if st.Kind == studio.Dry && st.Late == 0 {
					most = 1000 * time.Hour
				}
				// a least wait that is no shorter than the most is kept to the minute it takes to end it
				most = max(most, least+2*time.Minute)
				if w := till.Sub(from); w < least.Truncate(time.Minute) || w > most+max0(loose) {
					return fmt.Errorf("%d step %d (%s): %v, not %v to %v", t.ID, i, st.Kind, w, least, most)
				}
				return nil
			}
			turned := func(i int) bool {
				return i > 0 && i+1 < len(t.Steps) && t.Steps[i].Kind == studio.Flip && t.Steps[i-1].Kind == studio.Fume && t.Steps[i+1].Kind == studio.Fume && t.Steps[i-1].ChamberID == t.Steps[i+1].ChamberID
			}
			switch st.Kind {
			case studio.Fume, studio.Bury, studio.Pickle:
				from := last
				if !turned(i - 1) {
					before := last
					x, err := work(PutIn)
					if err != nil {
						return err
					}
					if i > 0 && !lastFact {
						if m := map[studio.StepKind]int{studio.Wet: 10, studio.Sprinkle: 15}[t.Steps[i-1].Kind]; m > 0 && t.Steps[i-1].Late == 0 && x.At.Sub(before) > max0(m+loose) {
							return fmt.Errorf("%d step %d goes in %v after the %s", t.ID, i, x.At.Sub(before), t.Steps[i-1].Kind)
						}
					}
					if st.ChamberID != 0 && len(puts) == 0 || st.ChamberID != 0 && puts[len(puts)-1].t.ID != t.ID {
						puts = append(puts, put{t, x.At})
					}
					in, from = x.At, end(x)
				}
				if turned(i + 1) {
					y := starts[name(t.ID, i+1, Do)]
					lastFact = isFact(e, y)
					if err := dwell(from, y.At); err != nil {
						return err
					}
					lastFact = false
					continue
				}
				y, err := work(TakeOut)
				if err != nil {
					return err
				}
				if err := dwell(from, end(y)); err != nil {
					return err
				}
				if st.ChamberID != 0 {
					place(st.ChamberID, in, end(y))
				}
			case studio.Rest, studio.Dry:
				if i == 0 {
					if _, err := work(Begin); err != nil {
						return err
					}
				}
				from := last
				var till, off time.Time
				switch {
				case i+1 == len(t.Steps) || t.Steps[i+1].Kind == studio.Rest || t.Steps[i+1].Kind == studio.Dry:
					y, err := work(SeeTo)
					if err != nil {
						return err
					}
					till = end(y)
					off = y.At
				default:
					k := PutIn
					if !t.Steps[i+1].Kind.Dwell() {
						k = Do
					}
					y := starts[name(t.ID, i+1, k)]
					till, off = y.At, y.At
					lastFact = isFact(e, y)
				}
				if err := dwell(from, till); err != nil {
					return err
				}
				if st.Kind == studio.Dry {
					place(0, from, off)
				}
				lastFact = false
			default:
				if _, err := work(Do); err != nil {
					return err
				}
			}
		}
		bySwatch[t.Swatch] = append(bySwatch[t.Swatch], [2]time.Time{began, ended})
		layer[t.Swatch] = append(layer[t.Swatch], t.Layer)
	}
	for m, n := range hands {
		have := 0
		for _, p := range a.Wish.People {
			if there(p, m) {
				have++
			}
		}
		if n > have && loose == 0 {
			return fmt.Errorf("%d hands are at work at %v and %d are there", n, m, have)
		}
	}
	for k, n := range inside {
		var c, m int64
		fmt.Sscan(k[:1], &c)
		fmt.Sscan(k[1:], &m)
		most := a.Wish.DryingPlaces
		if c != 0 {
			most = a.Chambers[c-1].Places
		}
		if most > 0 && n > max(most, facts[c]) {
			return fmt.Errorf("%d in %d places of chamber %d at %v", n, most, c, time.Unix(m, 0).UTC())
		}
	}
	for s, all := range bySwatch {
		for i := range all {
			for j := range all {
				if layer[s][i] < layer[s][j] && !all[j][0].Before(a.Now) && all[j][0].Before(all[i][1]) {
					return fmt.Errorf("swatch %d: layer %d begins at %v, before layer %d is over at %v", s, layer[s][j], all[j][0], layer[s][i], all[i][1])
				}
			}
		}
	}
	same := func(x, y studio.Treatment) bool {
		return x.SetID == y.SetID && x.SetID != 0 && x.Block == y.Block && x.Layer == y.Layer && x.Faces == y.Faces && x.Order > 0 && y.Order > 0
	}
	for _, list := range [][]put{firsts, puts} {
		for _, x := range list {
			for _, y := range list {
				if same(x.t, y.t) && x.t.Order < y.t.Order && y.at.Before(x.at) && !a.Wish.AnyOrder && y.at.After(a.Now) {
					return fmt.Errorf("%d comes before %d, against the random order", y.t.ID, x.t.ID)
				}
			}
		}
	}
	size := map[int]int{}
	for _, x := range puts {
		size[x.t.Block]++
	}
	for _, x := range puts {
		for _, y := range puts {
			n := size[x.t.Block]
			if same(x.t, y.t) && x.t.Block > 0 && x.t.Steps[slices.IndexFunc(x.t.Steps, isFume)].ChamberID == y.t.Steps[slices.IndexFunc(y.t.Steps, isFume)].ChamberID &&
				n <= a.Chambers[0].Places && n <= a.Chambers[1].Places && y.at.Sub(x.at).Abs() > max0(n+3+loose) && !y.at.Before(a.Now) && !x.at.Before(a.Now) && oneChamber(a, x.t) {
				return fmt.Errorf("%d and %d of block %d go in %v apart", x.t.ID, y.t.ID, x.t.Block, y.at.Sub(x.at))
			}
		}
	}
	busy := map[string]time.Time{}
	var parts []Part
	for _, act := range s.Actions {
		parts = append(parts, act.Parts...)
	}
	slices.SortFunc(parts, func(x, y Part) int { return x.Start.Compare(y.Start) })
	for _, p := range parts {
		if p.Done || p.Person == "" || p.Going {
			continue
		}
		if p.Start.Before(busy[p.Person]) {
			return fmt.Errorf("%s does two things at %v", p.Person, p.Start)
		}
		busy[p.Person] = p.End
	}
	return nil
}

func isFume(s studio.Step) bool { return s.Kind == studio.Fume && s.ChamberID != 0 }

// oneChamber reports whether a block goes into one chamber.
func oneChamber(a Ask, t studio.Treatment) bool {
	var c int64
	for _, e := range a.Entries {
		u := e.Treatment
		if u.SetID != t.SetID || u.Block != t.Block || u.Layer != t.Layer || u.Faces != t.Faces || u.Order == 0 {
			continue
		}
		i := slices.IndexFunc(u.Steps, isFume)
		if i < 0 || c != 0 && u.Steps[i].ChamberID != c {
			return false
		}
		c = u.Steps[i].ChamberID
	}
	return true
}

// randomAsk draws a small day: random recipes on a few swatches in sets with
// blocks and orders, some with an overlay or a second face, one to three people
// who eat and teach, small chambers and racks.
func randomAsk(r *rand.Rand) Ask {
	a := Ask{Now: morning.Add(time.Duration(r.IntN(90)) * time.Minute), Chambers: []Chamber{{1, "Grey tub", 1 + r.IntN(4), 0.2}, {2, "Bucket", 1 + r.IntN(3), 0.1}}}
	lunch := studio.Hours{From: at(12, 0), Till: at(12, 20+r.IntN(40)), Why: "lunch"}
	for n := range 1 + r.IntN(5)/3 + r.IntN(5)/4 {
		p := studio.BenchPerson{Name: string(rune('A' + n)), There: []studio.Hours{hours(at(8+r.IntN(3), 0), at(16+r.IntN(4), r.IntN(60)))}}
		if r.IntN(2) == 0 {
			p.Away = append(p.Away, lunch)
		}
		if r.IntN(4) == 0 {
			p.Away = append(p.Away, hours(at(14, 0), at(15, 0)))
		}
		if r.IntN(3) == 0 {
			p.There = append(p.There, hours(at(32, 0), at(41, 0)))
		}
		a.Wish.People = append(a.Wish.People, p)
	}
	a.Wish.Overnight = r.IntN(2) == 0
	a.Wish.AnyOrder = r.IntN(4) == 0
	if r.IntN(3) == 0 {
		a.Wish.DryingPlaces = 1 + r.IntN(4)
	}
	id := int64(0)
	minutes := func(n int) time.Duration { return time.Duration(n) * time.Minute }
	recipe := func() []studio.Step {
		chamber := int64(1 + r.IntN(2))
		var steps []studio.Step
		for range 1 + r.IntN(6) {
			k := studio.StepKinds[r.IntN(len(studio.StepKinds))]
			if r.IntN(3) == 0 {
				k = []studio.StepKind{studio.Wet, studio.Sprinkle, studio.Fume, studio.Flip}[r.IntN(4)]
			}
			s := studio.Step{Kind: k}
			if k.Dwell() {
				s.Duration = minutes(2 + r.IntN(120))
				if r.IntN(2) == 0 {
					s.Early, s.Late = minutes(r.IntN(3)), minutes(2+r.IntN(30))
					s.Early = min(s.Early, s.Duration)
				}
			} else if r.IntN(2) == 0 {
				s.Duration = time.Duration(20+r.IntN(400)) * time.Second
			}
			if k == studio.Fume && r.IntN(8) > 0 {
				s.ChamberID = chamber
			}
			if k == studio.Fume && r.IntN(6) == 0 {
				steps = append(steps, s, studio.Step{Kind: studio.Flip})
			}
			steps = append(steps, s)
		}
		return steps
	}
	for set := range 1 + r.IntN(2) {
		base := recipe()
		blocks := r.IntN(3)
		for n := range 1 + r.IntN(4) {
			id++
			t := studio.Treatment{ID: id, Swatch: int64(10*(set+1) + n), SetID: int64(set + 1), Faces: studio.OnFront, Layer: 1, Order: n + 1, Steps: slices.Clone(base)}
			if blocks > 0 {
				t.Block = 1 + n%blocks
			}
			for i := range t.Steps {
				if t.Steps[i].Kind.Dwell() && r.IntN(2) == 0 {
					t.Steps[i].Duration += minutes(r.IntN(40))
				}
			}
			a.Entries = append(a.Entries, entry(t))
			if r.IntN(5) == 0 {
				id++
				over := studio.Treatment{ID: id, Swatch: t.Swatch, SetID: t.SetID, Faces: studio.OnFront, Layer: 2, Over: studio.OverDry, Order: t.Order, Steps: recipe()}
				if r.IntN(3) == 0 {
					over.Over = studio.OverWet
				}
				a.Entries = append(a.Entries, entry(over))
			}
		}
	}
	for _, e := range a.Entries {
		a.Wish.Treatments = append(a.Wish.Treatments, e.Treatment.ID)
	}
	return a
}
