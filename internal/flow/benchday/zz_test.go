package benchday
import ("testing";"time";"aerugo/internal/flow/timetable")
func TestZZ(t *testing.T) {
	for name, ask := range map[string]func() Ask{"40": forty, "any": func() Ask { a := forty(); a.Wish.AnyOrder = true; return a }, "one": func() Ask { a := forty(); a.Wish.People = a.Wish.People[:1]; return a }, "oneany": func() Ask { a := forty(); a.Wish.People = a.Wish.People[:1];  a.Wish.AnyOrder = true;return a }, "24": twice} {
		for _, steps := range []int{0, 3_000_000} {
		a := ask()
		b := cpu()
		var first time.Duration
		var ff time.Time
		a.Found = func(f time.Time) { if first == 0 { first, ff = cpu()-b, f } }
		within := timetable.Limit{Stop: func() bool { return cpu()-b > 8*time.Second }, Steps: steps}
		a.Finish, a.Tidy = within, within
		a.Tidy.Steps = 0
		s, err := Make(a)
		if err != nil || !s.Fits { t.Log(name, err, s.Reasons); continue }
		t.Log(name, steps, "first", first.Round(time.Millisecond), ff.Sub(at(0,0)).Minutes(), "sheet", (cpu()-b).Round(time.Millisecond), "finish", s.Finish.Sub(at(0,0)).Minutes(), "bound", s.Bound.Sub(at(0,0)).Minutes(), s.Proven, "open", s.Openings(), broken(a, s, 0))
		}
	}
}
