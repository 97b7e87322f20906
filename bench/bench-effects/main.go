// Command bench-effects writes 200 invented swatches by 8 factors, both faces, in ten
// fillings of a chamber on five days, and fits what moved b* with stat.FitMixed as often
// as asked. It prints its answers and times as JSON; effects_lme4.R beside it does the
// same from the same file. All chance is seeded.
package main

import (
	"bufio"
	"encoding/json"
	"flag"
	"fmt"
	"log"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"aerugo/internal/science/stat"
)

type table struct {
	model  stat.Model
	random []stat.Random
}

// draw makes the swatches up: four factors are kinds, four are amounts.
func draw() table {
	r := rand.New(rand.NewPCG(8, 200))
	var t table
	for _, name := range []string{"metal", "liquid", "wetting", "brushing", "salt", "strength", "gap", "hours"} {
		t.model.Columns = append(t.model.Columns, stat.Column{Name: name})
		t.model.Terms = append(t.model.Terms, stat.Term{name})
	}
	t.random = []stat.Random{{Name: "day"}, {Name: "run"}, {Name: "swatch"}}
	days, runs := make([]float64, 5), make([]float64, 10)
	for i := range days {
		days[i] = r.NormFloat64()
	}
	for i := range runs {
		runs[i] = 2 * r.NormFloat64()
	}
	for s := range 200 {
		own, at := 1.5*r.NormFloat64(), make([]int, len(t.model.Columns))
		for k := range at {
			at[k] = r.IntN(3)
		}
		for range 2 {
			for k := range t.model.Columns {
				if c := &t.model.Columns[k]; k < 4 {
					c.Labels = append(c.Labels, string(rune('a'+at[k])))
				} else {
					c.Numbers = append(c.Numbers, float64(10*at[k]))
				}
			}
			b := 10 - 3*float64(at[2]) - 0.1*float64(10*at[4]) + days[s/40] + runs[s/20] + own + r.NormFloat64()
			t.model.Response = append(t.model.Response, b)
			for k, group := range []int{s / 40, s / 20, s} {
				t.random[k].Labels = append(t.random[k].Labels, fmt.Sprintf("%s%d", t.random[k].Name[:1], group))
			}
		}
	}
	return t
}

func (t table) write(path string) (err error) {
	f, err := os.Create(path)
	if err != nil {
		return fmt.Errorf("write swatches: %w", err)
	}
	defer func() {
		if e := f.Close(); err == nil {
			err = e
		}
	}()
	w := bufio.NewWriter(f)
	var heads []string
	for _, c := range t.model.Columns {
		heads = append(heads, c.Name)
	}
	fmt.Fprintln(w, strings.Join(heads, ",")+",day,run,swatch,b")
	for i, y := range t.model.Response {
		var cells []string
		for _, c := range t.model.Columns {
			if c.Labels != nil {
				cells = append(cells, c.Labels[i])
			} else {
				cells = append(cells, fmt.Sprint(c.Numbers[i]))
			}
		}
		for _, g := range t.random {
			cells = append(cells, g.Labels[i])
		}
		fmt.Fprintf(w, "%s,%.17g\n", strings.Join(cells, ","), y)
	}
	return w.Flush()
}

type answer struct {
	Names        []string
	Estimate     []float64
	SE, DF       []float64
	SD           map[string]float64
	Criterion    float64
	Wall, Spent  []float64 // seconds of each fit
	Observations int
}

func spent() float64 {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano()).Seconds()
}

func main() {
	runs := flag.Int("runs", 5, "how often it is fitted")
	flag.Parse()
	if flag.NArg() != 1 {
		log.Fatal("bench-effects [-runs N] DIR")
	}
	t := draw()
	if err := t.write(filepath.Join(flag.Arg(0), "swatches.csv")); err != nil {
		log.Fatal(err)
	}
	a := answer{SD: map[string]float64{}, Observations: len(t.model.Response)}
	for i := range *runs {
		start, before := time.Now(), spent()
		fit, err := stat.FitMixed(t.model, t.random)
		if err != nil {
			log.Fatal(err)
		}
		a.Wall, a.Spent = append(a.Wall, time.Since(start).Seconds()), append(a.Spent, spent()-before)
		if i > 0 {
			continue
		}
		a.Criterion = fit.Criterion
		for _, c := range fit.Coefficients {
			a.Names, a.Estimate, a.SE, a.DF = append(a.Names, c.Name), append(a.Estimate, c.Estimate), append(a.SE, c.SE), append(a.DF, c.DF)
		}
		for _, v := range fit.Variances {
			a.SD[v.Name] = v.SD
		}
	}
	if err := json.NewEncoder(os.Stdout).Encode(a); err != nil {
		log.Fatal(err)
	}
}
