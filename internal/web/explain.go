package web

import (
	"context"
	"fmt"
	"net/url"
	"slices"
	"sort"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/flow/fume"
	"aerugo/internal/flow/learn"
	"aerugo/internal/science/colour"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// claimView is one claim as the page shows it.
type claimView struct {
	learn.Claim
	Link     string // its faces side by side, or its swatches on the wall
	Coloured bool   // the two fitted looks are worth showing
	Sign     string // a shape for the standing, said in words beside it
	Behind   string
	Plain    string // the claim without its numbers
	Numbers  string // what stands small below it; empty where Plain says all
}

func viewClaims(set int64, claims []learn.Claim) []claimView {
	var out []claimView
	for _, c := range claims {
		v := claimView{Claim: c, Link: fmt.Sprintf("/swatches?set=%d", set), Behind: "the set's swatches"}
		if len(c.Photos) > 1 {
			q := url.Values{}
			for _, p := range c.Photos {
				q.Add("p", strconv.FormatInt(p, 10))
			}
			v.Link = "/compare?" + q.Encode()
			v.Behind = fmt.Sprintf("%d swatches behind it; see %d faces side by side", len(c.Swatches), len(c.Photos))
		}
		v.Coloured = c.Standing == learn.Shown && c.Aspect == learn.OfColour
		v.Plain, v.Numbers = plainBound(c.Words)
		if words, numbers, ok := strings.Cut(strings.TrimSuffix(c.Words, "."), ": "); ok && c.Standing == learn.Shown {
			switch c.Aspect {
			case learn.OfColour:
				v.Plain, v.Numbers = fmt.Sprintf("%s: a difference %s.", words, seenWords(c.DE)), numbers
			case learn.OfTexture:
				v.Plain, v.Numbers = words+".", numbers
			}
		}
		v.Sign = map[learn.Standing]string{learn.Shown: "●", learn.NoDifference: "○", learn.CantTell: "?"}[c.Standing]
		out = append(out, v)
	}
	return out
}

// StandingWords says how a claim stands.
func (v claimView) StandingWords() string {
	switch v.Standing {
	case learn.Shown:
		return "seen"
	case learn.NoDifference:
		return "no difference"
	}
	return "can't tell"
}

// rows gathers the measured faces of a set with what may have caused their looks: which
// filling of a chamber they were in, on which day, for how long, on how old a pad, and,
// when wet is asked for, how long they were wet.
func (s *Server) rows(ctx context.Context, set studio.Set, wet bool) ([]learn.Row, error) {
	folds, err := s.treatments(ctx, store.TreatmentFilter{Set: set.ID})
	if err != nil {
		return nil, err
	}
	looks, err := s.looksOf(ctx, set)
	if err != nil {
		return nil, err
	}
	var ts []studio.Treatment
	for _, f := range folds {
		ts = append(ts, f.Treatment)
	}
	out := learn.Rows(set, ts, looks)
	if len(out) == 0 {
		return out, nil
	}
	began := map[int64]time.Time{}
	for _, f := range folds {
		if !f.Record.Began.IsZero() && len(f.Treatment.Settings) > 0 {
			began[f.Treatment.Swatch] = f.Record.Began
		}
	}
	s.orderMade(out, began)
	return out, s.fumed(ctx, set, out, wet)
}

// orderMade puts when a swatch was really begun in place of its planned order, where
// that is known of all and they were not begun together.
func (s *Server) orderMade(rows []learn.Row, began map[int64]time.Time) {
	var first, last time.Time
	for _, r := range rows {
		t, ok := began[r.Swatch]
		if !ok {
			return
		}
		if first.IsZero() || t.Before(first) {
			first = t
		}
		if t.After(last) {
			last = t
		}
	}
	for i := range rows {
		t := began[rows[i].Swatch]
		rows[i].Day = localDay(t)
		if last.Sub(first) > time.Minute {
			rows[i].Order = t.Sub(first).Hours()
		}
	}
}

// fumed fills in what is known of each face's stay in a chamber.
func (s *Server) fumed(ctx context.Context, set studio.Set, rows []learn.Row, wet bool) error {
	jobs, err := s.fumeJobs(ctx, store.TreatmentFilter{Set: set.ID})
	if err != nil || len(jobs) == 0 {
		return err
	}
	f := fuming{}
	if wet {
		if f, err = s.fuming(ctx); err != nil {
			return err
		}
	} else {
		if f.chambers, err = s.store.Chambers(ctx); err != nil {
			return err
		}
		if f.supplies, err = s.store.Supplies(ctx); err != nil {
			return err
		}
	}
	stays := map[faceKey][]fume.Stay{}
	var all []fume.Stay
	for _, j := range jobs {
		for _, x := range fume.StaysOf(j, f.supplies, s.now()) {
			if x.Began && !x.Going {
				key := faceKey{x.Swatch, x.Face}
				stays[key] = append(stays[key], x)
				all = append(all, x)
			}
		}
	}
	runs := runsOf(all)
	charged := map[int64][]time.Time{}
	for _, c := range f.chambers {
		log, err := s.store.ChamberLog(ctx, c.ID)
		if err != nil {
			return err
		}
		for _, l := range studio.Standing(log) {
			if l.Kind == studio.PadCharged {
				charged[c.ID] = append(charged[c.ID], l.At)
			}
		}
	}
	wetFor := map[faceKey]float64{}
	if wet {
		if wetFor, err = s.wetHours(ctx, f, jobs); err != nil {
			return err
		}
	}
	for i := range rows {
		r := &rows[i]
		key := faceKey{r.Swatch, r.Face}
		mine := stays[key]
		if len(mine) == 0 {
			continue
		}
		r.Chamber = 0
		for _, x := range mine {
			r.Chamber += x.Out.Sub(x.In).Hours()
		}
		r.Run, r.Day = runs[stayKey(mine[0])], localDay(mine[0].In)
		for _, at := range charged[mine[0].Chamber] {
			if age := mine[0].In.Sub(at).Hours(); age >= 0 && !(r.PadAge <= age) {
				r.PadAge = age
			}
		}
		if h, ok := wetFor[key]; ok {
			r.Wet = h
		}
	}
	return nil
}

func stayKey(x fume.Stay) string {
	return fmt.Sprintf("%d/%s/%d/%d", x.Swatch, x.Face, x.Treatment, x.First)
}

// runsOf names the filling of the chamber each stay belongs to: stays in one chamber
// that overlap, directly or through others, are one filling.
func runsOf(stays []fume.Stay) map[string]string {
	sorted := slices.Clone(stays)
	sort.SliceStable(sorted, func(i, j int) bool {
		if sorted[i].Chamber != sorted[j].Chamber {
			return sorted[i].Chamber < sorted[j].Chamber
		}
		return sorted[i].In.Before(sorted[j].In)
	})
	out := map[string]string{}
	n := 0
	var until time.Time
	for i, x := range sorted {
		if i == 0 || x.Chamber != sorted[i-1].Chamber || x.In.After(until) {
			n, until = n+1, x.Out
		}
		if x.Out.After(until) {
			until = x.Out
		}
		out[stayKey(x)] = fmt.Sprintf("filling %d", n)
	}
	return out
}

// wetHours reckons how long each face was wet with all its salt dissolved; faces without
// salt, and those that can't be reckoned, are left out.
func (s *Server) wetHours(ctx context.Context, f fuming, jobs []fume.Job) (map[faceKey]float64, error) {
	out := map[faceKey]float64{}
	for _, c := range f.chambers {
		var b fume.Bench
		for _, j := range jobs {
			if !slices.ContainsFunc(j.Treatment.Steps, func(x studio.Step) bool { return x.Kind == studio.Fume && x.ChamberID == c.ID }) {
				continue
			}
			if b.Chamber.ID == 0 {
				var err error
				if b, _, err = s.bench(ctx, f, c); err != nil {
					return nil, err
				}
			}
			once := map[string]bool{}
			for _, x := range fume.Past(b, f.jobs, j.Treatment.ID, s.now()) {
				if key := stayKey(x.Stay); !x.Unknown && !x.None && !x.Going && !once[key] {
					once[key] = true
					out[faceKey{x.Stay.Swatch, x.Stay.Face}] += x.WetFor.Hours()
				}
			}
		}
	}
	return out, nil
}

// watchedSalt returns when the salt of a set's swatches was seen to dissolve, one face a
// swatch: two faces of one went through the same.
func (s *Server) watchedSalt(ctx context.Context, set studio.Set) ([]learn.Timed, error) {
	f, err := s.fuming(ctx)
	if err != nil {
		return nil, err
	}
	settings := map[int64][]studio.Setting{}
	for _, j := range f.jobs {
		if j.Treatment.SetID == set.ID && len(j.Treatment.Settings) > 0 {
			settings[j.Treatment.ID] = j.Treatment.Settings
		}
	}
	var out []learn.Timed
	taken := map[int64]bool{}
	for _, c := range f.chambers {
		_, cal, err := s.bench(ctx, f, c)
		if err != nil {
			return nil, err
		}
		for _, w := range cal.Watches {
			if with := settings[w.Stay.Treatment]; len(with) > 0 && !taken[w.Stay.Swatch] {
				taken[w.Stay.Swatch] = true
				out = append(out, learn.Timed{Swatch: w.Stay.Swatch, Settings: with, NotYet: w.NotYet, By: w.By})
			}
		}
	}
	return out, nil
}

// wantedLook is the look of the swatch a person wants to stop at.
func (s *Server) wantedLook(ctx context.Context, text string) (colour.Lab, int64, error) {
	n, err := strconv.ParseInt(strings.TrimSpace(text), 10, 64)
	if err != nil {
		if n, _, err = studio.ReadCode(text); err != nil {
			return colour.Lab{}, 0, studio.Problemf(studio.Invalid, "want", "%q is no swatch number; a number such as 12 would be right.", text)
		}
	}
	looks, err := s.store.Looks(ctx)
	if err != nil {
		return colour.Lab{}, 0, err
	}
	var found *studio.Look
	for i, l := range looks {
		if l.Swatch == n && l.Moment == studio.Finished && l.Measurement != nil && l.Measurement.Calibrated && (found == nil || l.Face == studio.Front) {
			found = &looks[i]
		}
	}
	if found == nil {
		return colour.Lab{}, 0, studio.Problemf(studio.Invalid, "want", "Swatch %d has no finished face measured with a grey card; choose one that has.", n)
	}
	return found.Measurement.Lab, n, nil
}
