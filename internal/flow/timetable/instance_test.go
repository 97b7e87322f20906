package timetable

import (
	"bufio"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// lines reads a file's lines without remarks, cut into words.
func lines(t testing.TB, name string) [][]string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	var out [][]string
	for sc := bufio.NewScanner(strings.NewReader(string(b))); sc.Scan(); {
		if f := strings.Fields(sc.Text()); len(f) > 0 && !strings.HasPrefix(f[0], "#") && !strings.HasPrefix(f[0], "**") {
			out = append(out, f)
		}
	}
	return out
}

func num(t testing.TB, s string) int {
	t.Helper()
	v, err := strconv.Atoi(strings.Trim(s, "[]"))
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// jobShop reads the standard format: machine and duration, in turn.
func jobShop(t testing.TB, name string) Day {
	rows := lines(t, "jobshop/"+name)
	var d Day
	for m := range num(t, rows[0][1]) {
		d.Resources = append(d.Resources, Resource{Name: fmt.Sprint("machine ", m), Capacity: 1})
	}
	for j, row := range rows[1 : 1+num(t, rows[0][0])] {
		for k := 0; k < len(row); k += 2 {
			if k > 0 {
				d.Lags = append(d.Lags, Lag{len(d.Ops) - 1, len(d.Ops), 0, NoLimit})
			}
			d.Ops = append(d.Ops, Op{Name: fmt.Sprint(j, "/", k/2), Minutes: num(t, row[k+1]), Needs: []Need{{num(t, row[k]), 1}}})
		}
	}
	return d
}

// project reads PSPLIB's single-mode format.
func project(t testing.TB, name string) Day {
	var d Day
	part := ""
	type arc struct{ i, j int }
	var arcs []arc
	for _, row := range lines(t, "rcpsp/"+name) {
		if _, err := strconv.Atoi(row[0]); err != nil {
			part = row[0]
			continue
		}
		switch part {
		case "jobnr.":
			for _, s := range row[3:] {
				arcs = append(arcs, arc{num(t, row[0]) - 1, num(t, s) - 1})
			}
		case "jobnr":
		case "R":
			for _, c := range row {
				d.Resources = append(d.Resources, Resource{Name: "R", Capacity: num(t, c)})
			}
		default:
			if strings.HasPrefix(part, "---") && len(row) > 3 {
				o := Op{Name: row[0], Minutes: num(t, row[2])}
				for r, a := range row[3:] {
					o.Needs = append(o.Needs, Need{r, num(t, a)})
				}
				d.Ops = append(d.Ops, o)
			}
		}
	}
	for _, a := range arcs {
		d.Lags = append(d.Lags, Lag{a.i, a.j, 0, NoLimit})
	}
	return d
}

// lagged reads ProGen/max's format: lags from start to start.
func lagged(t testing.TB, name string) Day {
	rows := lines(t, "rcpspmax/"+name)
	n := num(t, rows[0][0]) + 2
	var d Day
	for _, c := range rows[len(rows)-1] {
		d.Resources = append(d.Resources, Resource{Name: "R", Capacity: num(t, c)})
	}
	for _, row := range rows[1+n : 1+2*n] {
		o := Op{Name: row[0], Minutes: num(t, row[2])}
		for r, a := range row[3:] {
			o.Needs = append(o.Needs, Need{r, num(t, a)})
		}
		d.Ops = append(d.Ops, o)
	}
	for i, row := range rows[1 : 1+n] {
		k := num(t, row[2])
		for s := range k {
			d.Lags = append(d.Lags, Lag{i, num(t, row[3+s]), num(t, row[3+k+s]) - d.Ops[i].Minutes, NoLimit})
		}
	}
	return d
}

// benchDay reads an invented bench day; its first line says how. Each swatch's
// last wait is '-'. All places are one chamber's.
func benchDay(t testing.TB, name string) Day {
	d := Day{Resources: []Resource{{Name: "hands", Capacity: 1}, {Name: "places", Capacity: 1}}, Lids: []Lid{{Name: "chamber"}}}
	swatch, in := "", 0
	for _, row := range lines(t, "benchday/"+name) {
		switch row[0] {
		case "places":
			d.Resources[1].Capacity = num(t, row[1])
		case "swatch":
			swatch = row[1]
		case "op":
			i := len(d.Ops)
			d.Ops = append(d.Ops, Op{Name: swatch + " " + row[1], Swatch: swatch, Minutes: num(t, row[2]), Needs: []Need{{0, 1}}})
			switch row[3] {
			case "in":
				in = i
			case "out":
				d.Holds = append(d.Holds, Hold{1, 1, in, i})
			}
			if row[3] != "-" {
				d.Lids[0].Ops = append(d.Lids[0].Ops, i)
			}
			if row[4] != "-" {
				d.Lags = append(d.Lags, Lag{i, i + 1, num(t, row[4]), num(t, row[5])})
			}
		}
	}
	return d
}

// optima reads an optimum.csv; -1 is proven to have no solution.
func optima(t testing.TB, dir string) map[string]int {
	out := map[string]int{}
	for _, row := range lines(t, dir+"/optimum.csv") {
		name, value, ok := strings.Cut(strings.Join(row, " "), ",")
		if !ok || name == "instance" {
			continue
		}
		if value == "unsat" {
			out[name] = -1
			continue
		}
		out[name] = num(t, value)
	}
	return out
}
