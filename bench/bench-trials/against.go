package main

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"time"

	"aerugo/internal/science/colour"
	"aerugo/internal/science/guess"
)

// against writes 300 swatches of a hidden bench to learn from and 300 to be judged by
// to a folder, learns from them and prints the time and how near it came.
// fit_sklearn.py does the same from the same files. Neither is given the physics.
func against(dir string, w io.Writer) error {
	hidden, err := draw(rand.New(rand.NewPCG(0, 2026)))
	if err != nil {
		return err
	}
	t := newTrial(hidden, colour.Lab{L: 200}, 1)
	for _, at := range hypercube(300, t.r) {
		t.try(at)
	}
	learn := t.rows
	t.rows = nil
	for range 300 {
		t.try(anySetting(t.r))
	}
	for name, rows := range map[string][]guess.Row{"learn.csv": learn, "judge.csv": t.rows} {
		if err := writeRows(filepath.Join(dir, name), rows); err != nil {
			return err
		}
	}
	start := time.Now()
	m, err := guess.Fit(settings, learn, guess.Options{RepeatSD: 1.5}, rand.New(rand.NewPCG(1, 1)))
	if err != nil {
		return err
	}
	took := time.Since(start)
	miss, inside := 0.0, 0
	for _, row := range t.rows {
		p, err := m.At(row.At, 0.9)
		if err != nil {
			return err
		}
		for a, y := range row.Out {
			miss += (y - p.Mean[a]) * (y - p.Mean[a]) / float64(3*len(t.rows))
			if p.Low[a] <= y && y <= p.High[a] {
				inside++
			}
		}
	}
	_, err = fmt.Fprintf(w, "aerugo: fitted in %.2f s by the clock; misses by %.3f (root mean square); %.1f %% inside 90 %% intervals\n",
		took.Seconds(), math.Sqrt(miss), 100*float64(inside)/float64(3*len(t.rows)))
	return err
}

func writeRows(path string, rows []guess.Row) error {
	f, err := os.Create(path)
	if err != nil {
		return fmt.Errorf("write swatches: %w", err)
	}
	defer f.Close()
	b := bufio.NewWriter(f)
	fmt.Fprintln(b, "metal,salt,loading,strength,gap,hours,L,a,b")
	for _, row := range rows {
		var cells []string
		for _, v := range append(append([]float64{}, row.At...), row.Out...) {
			cells = append(cells, fmt.Sprint(v))
		}
		fmt.Fprintln(b, strings.Join(cells, ","))
	}
	return b.Flush()
}
