package cli

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"text/tabwriter"
	"time"

	"aerugo/internal/flow/measure"
	"aerugo/internal/flow/scene"
	"aerugo/internal/flow/series"
	"aerugo/internal/picture"
	"aerugo/internal/studio"
)

const seriesHelp = `With --series the photographs are of one face through time, by the times in them or --times: they are laid on each other, and the answer says what changed since the first and between which two photographs change was first seen. Photographs through the lid (--lid) are compared with each other only.`

// seriesReading is what is said about one photograph of a series.
type seriesReading struct {
	File       string      `json:"file"`
	Taken      time.Time   `json:"taken"`
	ThroughLid bool        `json:"through_lid"`
	Error      string      `json:"error,omitempty"`
	Placed     string      `json:"placed_by,omitempty"`
	ShiftMM    *float64    `json:"shift_mm,omitempty"`
	Lab        *plainLab   `json:"lab,omitempty"`
	Coverage   *coverage   `json:"coverage"`
	FromFirst  *seriesSpan `json:"de00_from_first,omitempty"`
	Changed    *float64    `json:"changed_share,omitempty"`
	Floor      *float64    `json:"noise_floor_de00,omitempty"`
	PerHour    *seriesSpan `json:"de00_per_hour,omitempty"`
}

type seriesSpan struct {
	Value float64 `json:"value"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}

func spanOf(r series.Range) *seriesSpan {
	return &seriesSpan{round4(r.Value), round4(r.Low), round4(r.High)}
}

// firstChange is when change was first seen: between without and with, or not
// by without where with is null.
type firstChange struct {
	Seen    bool       `json:"seen"`
	Without time.Time  `json:"without"`
	With    *time.Time `json:"with"`
	Words   string     `json:"words"`
}

type seriesAnswer struct {
	Photographs []seriesReading `json:"photographs"`
	First       firstChange     `json:"first_change"`
	Rule        string          `json:"rule"`
}

// times reads --times; nil without it.
func (v measureVerb) times() ([]time.Time, error) {
	if v.Times == nil {
		return nil, nil
	}
	fields := strings.Split(*v.Times, ",")
	if len(fields) != len(v.Photos) {
		return nil, studio.Problemf(studio.Invalid, "times", "--times names %d times for %d photographs; write one for each, with commas between", len(fields), len(v.Photos))
	}
	var out []time.Time
next:
	for _, f := range fields {
		f = strings.TrimSpace(f)
		for _, layout := range []string{time.RFC3339, "2006-01-02T15:04:05", "2006-01-02T15:04"} {
			if t, err := time.ParseInLocation(layout, f, time.Local); err == nil {
				out = append(out, t)
				continue next
			}
		}
		return nil, studio.Problemf(studio.Invalid, "times", "--times: %q is not a time; write it like 2026-03-14T09:30", f)
	}
	return out, nil
}

// series answers for photographs of one face through time.
func (v measureVerb) series(ctx context.Context, t *term, j job) error {
	if len(v.Photos) < 2 {
		return studio.Problemf(studio.Invalid, "series", "--series needs two photographs or more of the face; one was named")
	}
	times, err := v.times()
	if err != nil {
		return err
	}
	lid, err := v.lids()
	if err != nil {
		return err
	}
	room := newRoom(mostAtOnce)
	shots := make([]series.Shot, len(v.Photos))
	size := j.size
	for i, file := range v.Photos {
		if err := ctx.Err(); err != nil {
			return err
		}
		shots[i] = series.Shot{Name: file, ThroughLid: lid[i]}
		err := withPicture(file, room, func(img *picture.Image) error {
			if times != nil {
				shots[i].Taken = times[i]
			} else if shots[i].Taken = img.Info.TakenIn(time.Local); shots[i].Taken.IsZero() {
				return studio.Problemf(studio.Invalid, "times", "%s does not say when it was taken; give the times of all the photographs with --times", file)
			}
			marks, under, real, err := j.faceOf(img)
			if err != nil {
				return err
			}
			if size == (measure.Size{}) {
				size = real
			}
			m, err := measure.MeasureUnder(img, marks, real, under)
			if err != nil {
				return err
			}
			shots[i].Coverage = m.Coverage
			shots[i].Face, err = measure.Straighten(img, marks, real, series.Places, under)
			return err
		}, j.parts()...)
		if err != nil {
			if studio.ProblemIn(err) == nil {
				return fmt.Errorf("measure %s: %w", file, err)
			}
			text := err.Error()
			if !strings.Contains(text, file) {
				text = file + ": " + text
			}
			return studio.Problemf(studio.Invalid, "photo", "%s", text)
		}
	}
	s, err := series.Run(shots, size)
	if err != nil {
		return err
	}
	clock := func(t time.Time) string { return t.Format("2006-01-02 15:04") }
	out := seriesAnswer{First: firstChange{Seen: s.First.Seen, Without: s.First.Without, Words: s.Sentence(clock)}, Rule: s.Rule}
	if s.First.Seen {
		out.First.With = &s.First.With
	}
	bad := 0
	for _, p := range s.Photos {
		r := seriesReading{File: p.Name, Taken: p.Taken, ThroughLid: p.ThroughLid}
		if p.Problem != nil {
			r.Error = p.Problem.Error()
			bad++
			out.Photographs = append(out.Photographs, r)
			continue
		}
		lab, changed, floor := labOf(p.Lab), round4(p.Changed), round4(p.Floor)
		r.Placed, r.Lab = p.Placed, &lab
		if c := p.Coverage; c != nil {
			r.Coverage = &coverage{round4(c.Value), round4(c.Low), round4(c.High), c.Rule, twoOf(c.Rules), twoOf(c.Sampling)}
		}
		if size.WidthMM > 0 {
			mm := round4(p.ShiftMM)
			r.ShiftMM = &mm
		}
		if !p.First {
			r.Changed, r.Floor, r.FromFirst = &changed, &floor, spanOf(p.FromFirst)
		}
		if p.PerHour != nil {
			r.PerHour = spanOf(*p.PerHour)
		}
		out.Photographs = append(out.Photographs, r)
	}
	if v.JSON {
		err = t.asJSON(out)
	} else {
		err = seriesTable(t, out, clock)
	}
	if err == nil && bad > 0 {
		return studio.Problemf(studio.Invalid, "", "%d of %d photographs can't be laid on the others; the answer says why", bad, len(out.Photographs))
	}
	return err
}

// lids reads which photographs were taken through the lid.
func (v measureVerb) lids() ([]bool, error) {
	out := make([]bool, len(v.Photos))
	if v.Lid == nil {
		return out, nil
	}
	if *v.Lid == "all" {
		for i := range out {
			out[i] = true
		}
		return out, nil
	}
	for _, f := range strings.Split(*v.Lid, ",") {
		n, ok := number(f)
		if !ok || n != float64(int(n)) || n < 1 || int(n) > len(out) {
			return nil, studio.Problemf(studio.Invalid, "lid", "--lid: %q is none of the %d photographs; write their places, like 2,3, or all", strings.TrimSpace(f), len(out))
		}
		out[int(n)-1] = true
	}
	return out, nil
}

// faceOf finds the face in a photograph of a series.
func (j job) faceOf(img *picture.Image) (studio.Marks, measure.Under, measure.Size, error) {
	s, err := scene.Look(img, j.want)
	if err != nil {
		return studio.Marks{}, measure.Under{}, measure.Size{}, err
	}
	marks, size := j.marks, j.size
	if j.want.Mat {
		var ok bool
		if marks, size, ok = s.Face(0); !ok {
			return marks, measure.Under{}, size, s.Swatches[0].Problem
		}
		size = scene.Scaled(size, j.ruler)
		marks.BareLab, marks.Trained = j.marks.BareLab, j.marks.Trained
	}
	return marks, s.Under(), size, nil
}

// seriesTable writes the answer for people.
func seriesTable(t *term, a seriesAnswer, clock func(time.Time) string) error {
	w := tabwriter.NewWriter(t.stdout, 0, 8, 2, ' ', 0)
	fmt.Fprintln(w, "photograph\ttaken\tL*\ta*\tb*\tΔE00 from first\tchanged\tΔE00 per hour\tplaced by")
	for _, p := range a.Photographs {
		name := filepath.Base(p.File)
		if p.ThroughLid {
			name += " (through the lid)"
		}
		if p.Error != "" {
			fmt.Fprintf(w, "%s\t%s\tleft out\t\t\t\t\t\t\n", name, clock(p.Taken))
			continue
		}
		first, changed, hour := "–", "–", "–"
		if p.FromFirst != nil {
			first = fmt.Sprintf("%.1f (%.1f to %.1f)", p.FromFirst.Value, p.FromFirst.Low, p.FromFirst.High)
			changed = fmt.Sprintf("%.0f %%", 100**p.Changed)
		}
		if p.PerHour != nil {
			hour = fmt.Sprintf("%.1f (%.1f to %.1f)", p.PerHour.Value, p.PerHour.Low, p.PerHour.High)
		}
		fmt.Fprintf(w, "%s\t%s\t%.1f\t%.1f\t%.1f\t%s\t%s\t%s\t%s\n", name, clock(p.Taken), p.Lab.L, p.Lab.A, p.Lab.B, first, changed, hour, p.Placed)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	for _, p := range a.Photographs {
		if p.Error != "" {
			fmt.Fprintf(t.stdout, "left out: %s\n", p.Error)
		}
	}
	_, err := fmt.Fprintf(t.stdout, "%s\n%s\n", a.First.Words, a.Rule)
	return err
}
