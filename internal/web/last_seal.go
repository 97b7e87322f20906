package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"

	"aerugo/internal/flow/last"
	"aerugo/internal/flow/pool"
	"aerugo/internal/flow/run"
	"aerugo/internal/language"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// halfKept holds the halves read from photographs: nothing derived is stored, and a
// measurement never changes, so each is read once while the program runs.
type halfKept struct {
	mu  sync.Mutex
	got map[halfKey]*halfRead
}

type halfKey struct {
	measurement int64
	side        string
}

type halfRead struct {
	done    chan struct{}
	halves  last.Halves
	problem error
}

// mostHalves bounds what is kept; the rest is read again when asked for.
const mostHalves = 500

// halves returns the halves of a measured photograph, begun in the background if they
// are not there.
func (s *Server) halves(p studio.Photo, side string) *halfRead {
	key := halfKey{p.Measurement.ID, side}
	s.half.mu.Lock()
	defer s.half.mu.Unlock()
	if h, ok := s.half.got[key]; ok {
		return h
	}
	if s.half.got == nil || len(s.half.got) >= mostHalves {
		s.half.got = map[halfKey]*halfRead{}
	}
	h := &halfRead{done: make(chan struct{})}
	s.half.got[key] = h
	s.background.Go(func() {
		defer close(h.done)
		face, _, err := s.straight(context.Background(), p)
		if err == nil {
			h.halves, err = last.ReadHalves(face, last.MiddleCut(side))
		}
		if h.problem = err; err != nil && studio.ProblemIn(err) == nil {
			s.log.Error("halves not read", "photo", p.ID, "err", err)
			s.half.mu.Lock()
			delete(s.half.got, key) // it may work the next time
			s.half.mu.Unlock()
		}
	})
	return h
}

// sealedFace is one face that was sealed, or will be.
type sealedFace struct {
	Face          studio.FaceOf
	Sealer        string
	Side          string // the half that is sealed; empty: the whole face
	Before, After *studio.Photo
	Halves        *last.Halves
	Words         string
	Why           string // why it is not among the numbers yet
	row           *last.Sealed
}

// sealerOf reads the sealer of a step by its words; empty when none is named.
func sealerOf(step studio.Step) string {
	text := strings.ToLower(step.Tool + " " + step.Material + " " + step.Note)
	for _, name := range studio.Sealers[1:] {
		if strings.Contains(text, name) {
			return name
		}
	}
	return ""
}

// sealedAt is when and with what a treatment sealed its faces: the whole of them where
// side is empty.
func sealedAt(f folded) (sealer, side string, from, to time.Time, ok bool) {
	if name, at, half := last.HalfSealed(f.Treatment); half {
		sealer, side = name, at
	}
	for i, step := range f.Treatment.Steps {
		if step.Kind != studio.Seal {
			continue
		}
		if side == "" {
			sealer = sealerOf(step)
		}
		if i < len(f.Record.Steps) {
			from, to = f.Record.Steps[i].Began, f.Record.Steps[i].Ended
		}
		return sealer, side, from, to, sealer != ""
	}
	return "", "", from, to, false
}

// sealedFaces gathers every face with a sealer, and reads those that are measured.
func (s *Server) sealedFaces(ctx context.Context) ([]*sealedFace, error) {
	folds, err := s.treatments(ctx, store.TreatmentFilter{})
	if err != nil {
		return nil, err
	}
	var out []*sealedFace
	wait := time.After(seriesWait)
	photos := map[studio.FaceOf][]studio.Photo{}
	for _, f := range folds {
		sealer, side, began, ended, ok := sealedAt(f)
		if !ok {
			continue
		}
		for _, face := range studio.BothFaces {
			if !f.Treatment.Faces.Has(face) {
				continue
			}
			x := &sealedFace{Face: studio.FaceOf{Swatch: f.Treatment.Swatch, Face: face}, Sealer: sealer, Side: side}
			out = append(out, x)
			if ended.IsZero() {
				x.Why = "planned; start it from Today"
				if f.Record.Status == run.Running {
					x.Why = "under way"
				}
				continue
			}
			if began.IsZero() {
				began = ended
			}
			all, seen := photos[x.Face]
			if !seen {
				if all, err = s.wearPhotos(ctx, x.Face); err != nil {
					return nil, err
				}
				photos[x.Face] = all
			}
			for i, p := range all {
				if p.Measurement == nil || p.Measurement.Marks.Corners == nil || p.Moment != studio.Finished {
					continue
				}
				switch {
				case !p.Taken.Before(ended) && x.After == nil:
					x.After = &all[i]
				case p.Taken.Before(began) && x.Before == nil:
					x.Before = &all[i]
				}
			}
		}
	}
	for _, x := range out {
		if x.Side != "" && x.After != nil { // begin them all, then wait for them together
			s.halves(*x.After, x.Side)
			if x.Before != nil {
				s.halves(*x.Before, x.Side)
			}
		}
	}
	for _, x := range out {
		if x.Why == "" {
			x.read(s, wait)
		}
	}
	return out, nil
}

// read fills in what the photographs of a sealed face show.
func (x *sealedFace) read(s *Server, wait <-chan time.Time) {
	if x.After == nil {
		x.Why = "photograph it now that it is sealed, and measure it"
		return
	}
	if x.Side == "" {
		if x.Before == nil {
			x.Why = "there is no measured photograph from before it was sealed"
			return
		}
		if !x.Before.Measurement.Calibrated || !x.After.Measurement.Calibrated {
			x.Why = "both photographs need a grey card"
			return
		}
		x.row = &last.Sealed{Swatch: x.Face.Swatch, Sealer: x.Sealer, From: x.Before.Measurement.Lab, To: x.After.Measurement.Lab, Shine: x.After.Measurement.GlareShare - x.Before.Measurement.GlareShare}
		x.Words = "two photographs, before and after"
		return
	}
	get := func(p *studio.Photo) (*last.Halves, bool) {
		h := s.halves(*p, x.Side)
		select {
		case <-h.done:
		case <-wait:
			x.Why = "it is being read; load this page again in a moment"
			return nil, false
		}
		if h.problem != nil {
			x.Why = "its photograph can’t be read"
			if p := studio.ProblemIn(h.problem); p != nil {
				x.Why = p.Text
			}
			return nil, false
		}
		return &h.halves, true
	}
	after, ok := get(x.After)
	if !ok {
		return
	}
	var before *last.Halves
	if x.Before != nil {
		before, _ = get(x.Before)
		x.Why = ""
	}
	from, to := after.Since(before)
	x.Halves = after
	x.row = &last.Sealed{Swatch: x.Face.Swatch, Sealer: x.Sealer, From: from, To: to, Shine: after.Sealed.Shine - after.Open.Shine}
	x.Words = fmt.Sprintf("%s apart (%s to %s on this face)", number(after.DE, 1), number(after.Low, 1), number(after.High, 1))
	if before != nil {
		x.Words += "; what the halves differed by before is taken out"
	}
	if !after.Calibrated {
		x.Words += "; without a grey card, so the size is rough"
	}
}

// sealingPage compares sealers and plans half-sealed swatches.
type sealingPage struct {
	Frame
	*form
	Sealing *last.Sealing
	Faces   []*sealedFace
	Sealers []string
	Sides   []string
	Both    []studio.Face
	Bars    []barView
	Ask     bool // nothing stops it, but there is something to mind
}

type barView struct {
	Swatch int64
	last.Bar
}

func (s *Server) sealing(w http.ResponseWriter, r *http.Request) error {
	return s.showSealing(w, r, http.StatusOK, readForm(r), nil)
}

func (s *Server) showSealing(w http.ResponseWriter, r *http.Request, code int, f *form, bars []barView) error {
	p := sealingPage{Frame: s.frame(r, "What sealing does", "findings"), form: f, Sealers: studio.Sealers[1:], Sides: last.Sides, Both: studio.BothFaces, Bars: bars}
	p.Ask = len(bars) > 0 && !slices.ContainsFunc(bars, func(b barView) bool { return b.Stop })
	var err error
	if p.Faces, err = s.sealedFaces(r.Context()); err != nil {
		return err
	}
	var rows []last.Sealed
	for _, x := range p.Faces {
		if x.row != nil {
			rows = append(rows, *x.row)
		}
	}
	if len(rows) > 0 {
		sealing, err := last.CompareSealers(rows)
		if err != nil {
			return err
		}
		p.Sealing = &sealing
	}
	f.onTop("numbers", "sealer", "side", "face")
	s.show(w, code, "last_sealing", p)
	return nil
}

// sealLayers is what lies on a swatch, for the gate.
func (s *Server) sealLayers(ctx context.Context, x studio.Swatch, b wetBench) ([]last.Layer, error) {
	folds, err := s.treatments(ctx, store.TreatmentFilter{Swatch: x.Number})
	if err != nil {
		return nil, err
	}
	var out []last.Layer
	for _, f := range folds {
		l := last.Layer{Treatment: f.Treatment, Record: f.Record}
		for i, step := range slices.Backward(f.Treatment.Steps) {
			if step.Kind != studio.Dry || f.Record.Status != run.Finished || b.room.RHAssumed {
				continue
			}
			if d, ok := pool.Dry(b.job(f.Treatment, x, f.Record), i, b.room, s.now()); ok {
				l.Dry, l.Never = d.By, d.Never()
			}
			break
		}
		out = append(out, l)
	}
	return out, nil
}

// planSealing is POST /last/sealing: it plans the sealing of one half of each swatch,
// when that may be done.
func (s *Server) planSealing(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	f := readForm(r)
	steps, err := last.HalfSteps(f.Val("sealer"), f.Val("side"))
	if err := f.blame(err, "sealer", "side"); err != nil {
		return err
	}
	face := studio.Face(f.Val("face"))
	if !slices.Contains(studio.BothFaces, face) {
		f.say("face", "Say whether it is the front or the back.")
	}
	faces, err := facesIn(f.typed(f.Val("numbers"), language.FaceWords))
	if err := f.blame(err, "numbers"); err != nil {
		return err
	}
	if err == nil && len(faces) == 0 {
		f.say("numbers", "Write the numbers of the swatches, like 3, 5, 7.")
	}
	if len(faces) > 40 {
		f.say("numbers", "%d swatches are too many at once; 40 are the most.", len(faces))
	}
	var bars []barView
	stop := false
	if f.ok() {
		bench, err := s.wetBench(ctx)
		if err != nil {
			return err
		}
		for _, x := range faces {
			sw, err := s.store.Swatch(ctx, x.Swatch)
			if studio.ProblemIn(err) != nil {
				f.say("numbers", "There is no swatch %d in this studio.", x.Swatch)
				continue
			}
			if err != nil {
				return err
			}
			layers, err := s.sealLayers(ctx, sw, bench)
			if err != nil {
				return err
			}
			for _, b := range last.Gate(face, layers, s.now()) {
				bars = append(bars, barView{x.Swatch, b})
				stop = stop || b.Stop
			}
		}
	}
	if stop {
		f.say("", "Nothing was planned: not all of them may be sealed yet.")
	}
	if !f.ok() || len(bars) > 0 && f.Val("sure") == "" {
		return s.showSealing(w, r, http.StatusUnprocessableEntity, f, bars)
	}
	for _, x := range faces {
		t := studio.Treatment{Swatch: x.Swatch, Faces: studio.Faces(face), Over: studio.OverDry, Steps: steps, Replicate: 1}
		if _, err := s.store.AddTreatment(ctx, t); err != nil {
			return err
		}
	}
	s.live.changed()
	return backSaying(w, r, "/last/sealing", fmt.Sprintf("Planned on %d swatches; start it from Today.", len(faces)))
}
