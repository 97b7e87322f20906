package web

import (
	"context"
	"fmt"
	"html/template"
	"net/http"
	"slices"

	"aerugo/internal/flow/taste"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// orderPage shows who is liked best, and what can't be told.
type orderPage struct {
	Frame
	Sitting sittingView
	Places  []placeView
	OneWay  string // why no one order explains the choices
	Unsure  []string
	Agree   string
	Twos    []string
	Hands   []string
	Causes  []taste.Claim
}

type placeView struct {
	taste.Place
	Name  string
	Ranks string
	Over  string // how often it is chosen over a middling one, with the interval
	Thumb string
	Bar   template.HTML
}

func (s *Server) order(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	x, err := s.store.Sitting(ctx, id)
	if err != nil {
		return err
	}
	sets, err := s.store.Sets(ctx)
	if err != nil {
		return err
	}
	p := orderPage{Frame: s.frame(r, x.Question, "findings")}
	if p.Sitting, err = s.viewSitting(ctx, x, sets); err != nil {
		return err
	}
	all, err := s.store.Choices(ctx, id)
	if err != nil {
		return err
	}
	standing := studio.StandingChoices(all)
	fit, err := taste.FitChoices(x.Faces, standing)
	if err != nil { // nothing was chosen yet
		s.show(w, http.StatusOK, "taste_order", p)
		return nil
	}
	shows, err := s.showing(ctx, x.Measured)
	if err != nil {
		return err
	}
	o, namer := taste.OrderOf(fit, standing), taste.NamerOf(x.Faces)
	for _, q := range o.Places {
		v := placeView{Place: q, Name: namer.Name(q.Face), Ranks: fmt.Sprint(q.First), Bar: shareBar(q),
			Over: fmt.Sprintf("%.0f\u00a0%% (%.0f\u00a0to\u00a0%.0f)", 100*q.Share, 100*q.LowShare, 100*q.Most)}
		if q.Last > q.First {
			v.Ranks = fmt.Sprintf("%d–%d", q.First, q.Last)
		}
		if photo := shows.photo(q.Face); photo != 0 {
			v.Thumb = fmt.Sprintf("/photos/%d/thumb.jpg", photo)
		}
		p.Places = append(p.Places, v)
	}
	p.OneWay = o.OneOrder()
	p.Unsure = o.Doubts(namer)
	a := taste.AgreementOf(standing)
	p.Agree = a.Words()
	for _, t := range a.Twos {
		p.Twos = append(p.Twos, t.Words())
	}
	for _, h := range taste.HandsOf(standing) {
		p.Hands = append(p.Hands, h.Words())
	}
	if i := slices.IndexFunc(sets, func(a studio.Set) bool { return a.ID == x.Set }); i >= 0 {
		if p.Causes, err = s.preferences(ctx, sets[i], fit, standing); err != nil {
			return err
		}
	}
	s.show(w, http.StatusOK, "taste_order", p)
	return nil
}

// shareBar draws the chance to be chosen over a middling face with its interval, from
// never at the left to always at the right.
func shareBar(p taste.Place) template.HTML {
	return template.HTML(fmt.Sprintf(`<svg class="share" viewBox="0 0 200 20" preserveAspectRatio="none" aria-hidden="true"><path d="M0 10H200M100 3V17" stroke="currentColor" stroke-width="1" opacity=".6" vector-effect="non-scaling-stroke"/><rect x="%.1f" y="6" width="%.1f" height="8" fill="currentColor" opacity=".75"/><rect x="%.1f" y="1" width="3" height="18" fill="currentColor"/></svg>`,
		200*p.LowShare, 200*(p.Most-p.LowShare), 200*p.Share-1.5))
}

// preferences says which settings of a set the choices prefer.
func (s *Server) preferences(ctx context.Context, set studio.Set, fit *taste.Fit, choices []studio.Choice) ([]taste.Claim, error) {
	settings, err := s.settingsOf(ctx, set)
	if err != nil {
		return nil, err
	}
	return taste.CausesOf(set, fit, choices, settings), nil
}

func (s *Server) settingsOf(ctx context.Context, set studio.Set) (taste.Settings, error) {
	folds, err := s.treatments(ctx, store.TreatmentFilter{Set: set.ID})
	if err != nil {
		return nil, err
	}
	var ts []studio.Treatment
	for _, f := range folds {
		ts = append(ts, f.Treatment)
	}
	return taste.SettingsOf(ts), nil
}

// likings is what people like in a set, for its findings.
type likings struct {
	Sittings []sittingView
	Choices  []taste.Claim // of the sitting with the most choices
	Scores   []taste.Claim
}

// likingsOf gathers a set's sittings and what they and the scores prefer; nil where
// there is neither.
func (s *Server) likingsOf(ctx context.Context, set studio.Set) (*likings, error) {
	all, err := s.store.Sittings(ctx)
	if err != nil {
		return nil, err
	}
	out := &likings{}
	most := 0
	for _, x := range all {
		if x.Set != set.ID {
			continue
		}
		v, err := s.viewSitting(ctx, x, []studio.Set{set})
		if err != nil {
			return nil, err
		}
		out.Sittings = append(out.Sittings, v)
		if v.Choices <= most {
			continue
		}
		most = v.Choices
		choices, err := s.store.Choices(ctx, x.ID)
		if err != nil {
			return nil, err
		}
		standing := studio.StandingChoices(choices)
		if fit, err := taste.FitChoices(x.Faces, standing); err == nil {
			if out.Choices, err = s.preferences(ctx, set, fit, standing); err != nil {
				return nil, err
			}
		}
	}
	scores, err := s.store.ScoresOfSet(ctx, set.ID)
	if err != nil {
		return nil, err
	}
	if len(scores) > 0 {
		settings, err := s.settingsOf(ctx, set)
		if err != nil {
			return nil, err
		}
		out.Scores = taste.ScoreCauses(set, scores, settings)
	}
	if len(out.Sittings) == 0 && len(out.Scores) == 0 {
		return nil, nil
	}
	return out, nil
}
