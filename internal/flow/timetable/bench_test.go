package timetable

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"
)

// fuming draws swatches of eight steps each in chambers of four places: abrade,
// wet, salt, load, turn, unload, rinse, brush, with waits as in the invented
// bench days of testdata.
func fuming(swatches, chambers int, seed uint64) Day {
	r := rand.New(rand.NewPCG(seed, 5))
	d := Day{Resources: []Resource{{Name: "hands", Capacity: 1}}}
	for c := range chambers {
		d.Resources = append(d.Resources, Resource{Name: fmt.Sprint("chamber ", c+1), Capacity: 4})
		d.Lids = append(d.Lids, Lid{Name: fmt.Sprint("chamber ", c+1)})
	}
	for s := range swatches {
		c := s % chambers
		dwell := 12 + r.IntN(40)
		base := len(d.Ops)
		for k, o := range []struct {
			name           string
			long, min, max int
		}{
			{"abrade", 6, 0, 45}, {"wet", 2, 1, 6}, {"salt", 2, 1, 10}, {"load", 1, dwell, dwell + dwell/2},
			{"turn", 2, dwell, dwell + dwell/2}, {"unload", 1, 2, 20}, {"rinse", 3, 25, 240}, {"brush", 4, 0, 0},
		} {
			id := fmt.Sprintf("S%02d", s+1)
			d.Ops = append(d.Ops, Op{Name: id + " " + o.name, Swatch: id, Minutes: o.long, Needs: []Need{{0, 1}}})
			if k < 7 {
				d.Lags = append(d.Lags, Lag{base + k, base + k + 1, o.min, o.max})
			}
			if k >= 3 && k <= 5 {
				d.Lids[c].Ops = append(d.Lids[c].Ops, base+k)
			}
		}
		d.Holds = append(d.Holds, Hold{1 + c, 1, base + 3, base + 5})
	}
	return d
}

// BenchmarkDays tells how soon the first timetable of a day stands and what is
// reached in five seconds.
func BenchmarkDays(b *testing.B) {
	for _, size := range []struct{ swatches, chambers int }{{12, 2}, {40, 2}, {40, 4}} {
		b.Run(fmt.Sprint(size.swatches, "swatches", size.chambers, "chambers"), func(b *testing.B) {
			seed := uint64(0)
			for b.Loop() {
				seed++
				d := fuming(size.swatches, size.chambers, seed)
				begun := cpu()
				var first time.Duration
				within := func(s time.Duration) Limit {
					return Limit{Stop: func() bool { return cpu()-begun > s }}
				}
				firstFinish := 0
				tt, err := Plan(d, Options{Finish: within(5 * time.Second), Tidy: within(7 * time.Second), Found: func(f, _ int) {
					if first == 0 {
						first, firstFinish = cpu()-begun, f
					}
				}})
				if err != nil || tt.State != Fits || broken(d, tt.Start) != nil {
					b.Fatal(tt.State, err)
				}
				b.ReportMetric(first.Seconds()*1000, "first-ms")
				b.ReportMetric(float64(firstFinish), "first-finish")
				b.ReportMetric(float64(tt.Finish), "finish")
				b.ReportMetric(float64(tt.Bound), "bound")
				b.ReportMetric(float64(tt.Openings), "openings")
				b.ReportMetric(float64(tt.Spare), "spare")
			}
		})
	}
}

// BenchmarkReplan plans again after a step that took two minutes longer.
func BenchmarkReplan(b *testing.B) {
	d := fuming(12, 2, 1)
	before, err := Plan(d, Options{Finish: Limit{Steps: 500_000}, Tidy: Limit{Steps: 500_000}})
	if err != nil || before.State != Fits {
		b.Fatal(before.State, err)
	}
	for _, now := range []int{30, 90, 150} {
		late, ok := lateDay(d, before.Start, now, 2)
		if !ok {
			continue
		}
		b.Run(fmt.Sprint("at", now), func(b *testing.B) {
			for b.Loop() {
				tt, err := Replan(late, before.Start, now, Options{Finish: Limit{Steps: 200_000}, Tidy: Limit{Steps: 20_000}})
				if err != nil {
					b.Fatal(err)
				}
				b.ReportMetric(float64(len(tt.Moved)), "moved")
				fewest := 0.0
				if tt.FewestMoves {
					fewest = 1
				}
				b.ReportMetric(fewest, "proven")
				b.ReportMetric(float64(len(tt.Fixes)), "fixes")
			}
		})
	}
}
