package benchday

import (
	"slices"
	"testing"
	"time"

	"aerugo/internal/studio"
)

// twelve is twelve swatches of eight steps in two sets, two chambers of six
// places, and one person who eats at noon and teaches at three.
func twelve() Ask {
	a := Ask{Now: at(8, 0), Chambers: []Chamber{{1, "Grey tub", 6, 0.2}, {2, "Bucket", 6, 0.1}}}
	a.Wish.People = []studio.BenchPerson{{Name: "Maren", There: []studio.Hours{hours(at(8, 30), at(18, 0))},
		Away: []studio.Hours{{From: at(12, 0), Till: at(12, 45), Why: "lunch"}, {From: at(15, 0), Till: at(16, 0), Why: "class"}}}}
	const min = time.Minute
	for n := range 12 {
		set := n / 6
		fume := time.Duration(60+30*(n%3)) * min
		a.Entries = append(a.Entries, entry(studio.Treatment{ID: int64(n + 1), Swatch: int64(41 + n), SetID: int64(set + 1), Faces: studio.OnFront, Layer: 1, Order: n%6 + 1, Block: 1, Steps: []studio.Step{
			{Kind: studio.Degrease, Duration: 2 * min},
			{Kind: studio.Abrade, Duration: 3 * min},
			{Kind: studio.Wet, Duration: min},
			{Kind: studio.Sprinkle, Duration: min},
			{Kind: studio.Fume, Duration: fume, Early: 5 * min, Late: 15 * min, ChamberID: int64(set + 1)},
			{Kind: studio.Rest, Duration: 30 * min, Late: 60 * min},
			{Kind: studio.BrushOut, Duration: 2 * min},
			{Kind: studio.Rinse, Duration: min},
		}}))
		a.Wish.Treatments = append(a.Wish.Treatments, int64(n+1))
	}
	return a
}

// forty is forty swatches of the same eight steps for two people over a long day.
func forty() Ask {
	a := twelve()
	a.Wish.People[0].There[0].Till = at(22, 0)
	odile := studio.BenchPerson{Name: "Odile", There: []studio.Hours{hours(at(9, 0), at(22, 0))}, Away: []studio.Hours{{From: at(13, 0), Till: at(13, 45), Why: "lunch"}}}
	a.Wish.People = append(a.Wish.People, odile)
	for n := len(a.Entries); n < 40; n++ {
		t := a.Entries[n%12].Treatment
		t.ID, t.Swatch, t.SetID, t.Steps = int64(n+1), int64(41+n), int64(n/6+1), slices.Clone(t.Steps)
		a.Entries = append(a.Entries, entry(t))
		a.Wish.Treatments = append(a.Wish.Treatments, t.ID)
	}
	return a
}

func BenchmarkAgain(b *testing.B) {
	a := twelve()
	s, err := Make(a)
	if err != nil || !s.Fits {
		b.Fatal(s.Reasons, err)
	}
	for _, h := range []int{9, 10, 11, 13} {
		b.Run(at(h, 20).Format("15h04"), func(b *testing.B) {
			late := a
			late.Now = at(h, 20)
			late.Entries = asPlanned(a, s, late.Now.Add(-12*time.Minute), 0)
			for b.Loop() {
				next, err := Again(late, s.Starts)
				if err != nil || !next.Fits {
					b.Fatal(next.Reasons, err)
				}
				b.ReportMetric(float64(next.Moved), "moved")
				b.ReportMetric(next.MovedBy.Minutes(), "by-min")
			}
		})
	}
}
