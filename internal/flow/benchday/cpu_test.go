//go:build unix

package benchday

import (
	"syscall"
	"testing"
	"time"

	"aerugo/internal/flow/timetable"
)

// cpu is how long this program has kept processors busy.
func cpu() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// BenchmarkMake tells how soon a first timetable stands, how good it is, and what
// it is bettered to in eight seconds. Seconds are those of the processor, so that
// other work on the machine does not count.
func BenchmarkMake(b *testing.B) {
	for name, ask := range map[string]func() Ask{"12swatches": twelve, "40swatches": forty} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				a := ask()
				begun := cpu()
				var first time.Duration
				var firstFinish time.Time
				a.Found = func(finish time.Time) {
					if first == 0 {
						first, firstFinish = cpu()-begun, finish
					}
				}
				within := timetable.Limit{Stop: func() bool { return cpu()-begun > 8*time.Second }}
				a.Finish, a.Tidy = within, within
				s, err := Make(a)
				if err != nil || !s.Fits {
					b.Fatal(s.Reasons, err)
				}
				if err := broken(a, s, 0); err != nil {
					b.Fatal(err)
				}
				if first == 0 {
					first = cpu() - begun // in pieces: the first is the last
				}
				b.ReportMetric(first.Seconds()*1000, "first-ms")
				b.ReportMetric((cpu()-begun).Seconds()*1000, "sheet-ms")
				if !firstFinish.IsZero() {
					b.ReportMetric(firstFinish.Sub(at(0, 0)).Minutes(), "first-finish-min")
				}
				b.ReportMetric(s.Finish.Sub(at(0, 0)).Minutes(), "finish-min")
				b.ReportMetric(s.Bound.Sub(at(0, 0)).Minutes(), "bound-min")
				b.ReportMetric(100*s.Finish.Sub(s.Bound).Minutes()/s.Finish.Sub(a.Now).Minutes(), "over-bound-%")
				b.ReportMetric(float64(s.Openings()), "openings")
				b.ReportMetric(float64(len(s.Starts)), "works")
			}
		})
	}
}
