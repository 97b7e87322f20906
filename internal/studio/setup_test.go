package studio

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// A photograph lies on the latest print made by then, and of that the last
// measurement counts; prints of another paper or kind never do.
func TestPrintForIsTheLatestMadeByThen(t *testing.T) {
	day := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	rapid.Check(t, func(t *rapid.T) {
		var prints []MatPrint
		for i := range rapid.IntRange(0, 8).Draw(t, "prints") {
			prints = append(prints, MatPrint{ID: int64(i + 1), Paper: rapid.SampledFrom([]string{"A4", "Letter"}).Draw(t, "paper"), Swatches: rapid.IntRange(1, 2).Draw(t, "swatches"),
				Printed: day.AddDate(0, 0, rapid.IntRange(0, 5).Draw(t, "day")), RulerMM: 100})
		}
		taken := day.AddDate(0, 0, rapid.IntRange(-1, 6).Draw(t, "taken")).Add(9 * time.Hour)
		got, ok := PrintFor(prints, "A4", 1, taken)
		for _, p := range prints {
			if p.Paper != "A4" || p.Swatches != 1 || p.Printed.After(taken) {
				if ok && p.ID == got.ID {
					t.Fatalf("print %+v was taken for a photograph of %v", p, taken)
				}
				continue
			}
			if !ok || p.Printed.After(got.Printed) || p.Printed.Equal(got.Printed) && p.ID > got.ID {
				t.Fatalf("print %+v is better than %+v", p, got)
			}
		}
	})
}

func TestRulerLinesAreTakenOrRefusedWithAdvice(t *testing.T) {
	for mm, says := range map[float64]string{98: "", 100: "", 102: "", 97.99: "fit to page", 102.01: "fit to page", 94: "fit to page", 10: "ruler shows", -1: "ruler shows", 1e6: "ruler shows"} {
		err := CheckRuler(mm)
		p := ProblemIn(err)
		if says == "" && err != nil || says != "" && (p == nil || !strings.Contains(p.Text, says)) {
			t.Errorf("%v mm: %v, want %q", mm, err, says)
		}
	}
}
