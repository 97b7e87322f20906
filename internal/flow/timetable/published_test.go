package timetable

import (
	"testing"
	"time"
)

// The published instances; optimum.csv in each folder names their source.
var published = []struct {
	dir    string
	read   func(testing.TB, string) Day
	proven []string // within few steps
	near   []string // bounded and approached only
}{
	{"jobshop", jobShop, []string{"ft06", "la01", "la02", "la04", "la06"}, []string{"ft10", "la16", "la19"}},
	{"rcpsp", project, []string{"j301_1.sm", "j301_4.sm", "j305_2.sm", "j309_1.sm", "j3017_2.sm", "j3025_1.sm", "j3029_1.sm"}, []string{"j3013_1.sm", "j3045_2.sm"}},
	{"rcpspmax", lagged, []string{"sm_j10_psp1.sch", "sm_j10_psp2.sch", "sm_j10_psp3.sch", "sm_j10_psp9.sch", "ubo10_psp1.sch", "ubo10_psp2.sch",
		"ubo10_psp4.sch", "ubo10_psp17.sch", "ubo10_psp39.sch", "ubo20_psp2.sch", "ubo20_psp6.sch", "ubo20_psp12.sch", "ubo20_psp27.sch",
		"sm_j30_psp14.sch", "sm_j30_psp28.sch"}, nil},
}

func TestPublishedOptimaAreProven(t *testing.T) {
	for _, set := range published {
		want := optima(t, set.dir)
		if len(set.proven)+len(set.near) != len(want) {
			t.Errorf("%s: %d instances are tested, %d are there", set.dir, len(set.proven)+len(set.near), len(want))
		}
		for _, name := range set.proven {
			d := set.read(t, name)
			tt, err := Plan(d, Options{Finish: Limit{Steps: 3_000_000}})
			if err != nil {
				t.Fatal(err)
			}
			if want[name] < 0 {
				if tt.State != CanNot {
					t.Errorf("%s: %v; it is proven to have no solution", name, tt.State)
				}
				continue
			}
			if tt.State != Fits || tt.Finish != want[name] || !tt.Proven {
				t.Errorf("%s: %v, finish %d, bound %d; the optimum is %d", name, tt.State, tt.Finish, tt.Bound, want[name])
			} else if err := broken(d, tt.Start); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		}
		for _, name := range set.near {
			d := set.read(t, name)
			tt, err := Plan(d, Options{Finish: Limit{Steps: 400_000}})
			if err != nil {
				t.Fatal(err)
			}
			if tt.State != Fits || tt.Finish < want[name] || tt.Bound > want[name] || float64(tt.Finish) > 1.25*float64(want[name]) {
				t.Errorf("%s: %v, finish %d, bound %d; the optimum is %d", name, tt.State, tt.Finish, tt.Bound, want[name])
			} else if err := broken(d, tt.Start); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		}
	}
}

// BenchmarkPublished plans until the optimum is proven, or for 20 s.
func BenchmarkPublished(b *testing.B) {
	for _, set := range published {
		want := optima(b, set.dir)
		for _, name := range append(append([]string{}, set.proven...), set.near...) {
			b.Run(name, func(b *testing.B) {
				for b.Loop() {
					begun := time.Now()
					tt, err := Plan(set.read(b, name), Options{Finish: Limit{Stop: func() bool { return time.Since(begun) > 20*time.Second }}})
					if err != nil {
						b.Fatal(err)
					}
					b.ReportMetric(float64(tt.Finish), "finish")
					b.ReportMetric(float64(tt.Bound), "bound")
					b.ReportMetric(float64(want[name]), "optimum")
				}
			})
		}
	}
}
