package web

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"aerugo/internal/flow/fume"
	"aerugo/internal/flow/run"
	"aerugo/internal/studio"
)

// plannedFace is a treatment as planned and the swatch it is for.
type plannedFace struct {
	treatment studio.Treatment
	swatch    studio.Swatch
}

// forecastLine says how long swatches of one setting will be wet.
type forecastLine struct {
	Settings, Lies string
	Swatches       []int64
	fume.Forecast
}

// dryWords says of how many settings the salt is not wet in time; empty for none.
func dryWords(lines []forecastLine) string {
	n := 0
	for _, l := range lines {
		if !l.Enough && !l.None && !l.Unknown {
			n++
		}
	}
	switch {
	case n == 0:
		return ""
	case n == len(lines):
		return "Not in time"
	}
	return fmt.Sprintf("Not in time in %d of %d", n, len(lines))
}

// forecasts reckons planned treatments, each way of doing it once.
func (s *Server) forecasts(ctx context.Context, planned []plannedFace) ([]forecastLine, []fume.Assumption, error) {
	f, err := s.fuming(ctx)
	if err != nil {
		return nil, nil, err
	}
	benches := map[int64]fume.Bench{}
	for _, c := range f.chambers {
		if benches[c.ID], _, err = s.bench(ctx, f, c); err != nil {
			return nil, nil, err
		}
	}
	var out []forecastLine
	var assumed []fume.Assumption
	done := map[string][]int{} // a way of doing it -> its lines
	for _, x := range planned {
		way := fmt.Sprintf("%v %v %v %v", settingsText(x.treatment.Settings), x.treatment.Faces, x.treatment.Steps, x.swatch.AreaM2())
		lines, known := done[way]
		if !known {
			for _, c := range f.chambers {
				for _, fc := range fume.Foretell(benches[c.ID], x.treatment, x.swatch, nil) {
					if x.treatment.Faces == studio.OnBoth && fc.Face == studio.Back {
						continue // as the front
					}
					if len(assumed) == 0 {
						assumed = fc.Assumed
					}
					lines = append(lines, len(out))
					out = append(out, forecastLine{Settings: settingsText(x.treatment.Settings), Lies: fc.Coat.Words, Forecast: fc})
				}
			}
			done[way] = lines
		}
		for _, i := range lines {
			if x.swatch.Number != 0 && !slices.Contains(out[i].Swatches, x.swatch.Number) {
				out[i].Swatches = append(out[i].Swatches, x.swatch.Number)
			}
		}
	}
	return out, assumed, nil
}

// wetWords says of each face of a treatment how long it was wet, or will be.
func (s *Server) wetWords(ctx context.Context, f fuming, t folded, sw studio.Swatch) ([]string, error) {
	var out []string
	for _, c := range f.chambers {
		if !slices.ContainsFunc(t.Treatment.Steps, func(x studio.Step) bool { return x.Kind == studio.Fume && x.ChamberID == c.ID }) {
			continue
		}
		b, _, err := s.bench(ctx, f, c)
		if err != nil {
			return nil, err
		}
		if t.Record.Status == run.Planned {
			for _, x := range fume.Foretell(b, t.Treatment, sw, nil) {
				out = append(out, fmt.Sprintf("%s, as planned: %s", capital(string(x.Stay.Face)), x.Words))
			}
			continue
		}
		for _, x := range fume.Past(b, f.jobs, t.Treatment.ID, s.now()) {
			out = append(out, pastWords(x))
		}
	}
	return out, nil
}

// pastWords says in one sentence what a stay in a chamber did to a face.
func pastWords(f fume.Face) string {
	text := capital(string(f.Stay.Face)) + ": "
	switch {
	case f.Unknown:
		return text + strings.Join(f.Doubt, "; ") + "."
	case f.None:
		return text + "no salt to dissolve."
	case f.DissolvedAt.IsZero() || (!f.Going && f.DissolvedAt.After(f.Out)):
		return text + fmt.Sprintf("about %s %% of the salt had dissolved when it came out.", number(100*f.Share, 0))
	case f.Going && f.WetFor == 0:
		return text + fmt.Sprintf("the salt will have dissolved about %s.", localTime(f.DissolvedAt))
	case f.Going:
		return text + fmt.Sprintf("the salt dissolved about %s; wet for %s so far.", localTime(f.DissolvedAt), studio.Span(f.WetFor.Round(time.Minute)))
	}
	return text + fmt.Sprintf("the salt dissolved about %s; wet for %s when it came out.", localTime(f.DissolvedAt), studio.Span(f.WetFor.Round(time.Minute)))
}
