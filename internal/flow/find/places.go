package find

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"aerugo/internal/studio"
)

// A Map says where every swatch is.
type Map struct {
	places map[int64]studio.Place
	order  []studio.Place
	where  map[int64]studio.SwatchMove
	in     map[int64][]studio.SwatchMove // by place, in the order of cells, then numbers
}

// NewMap returns the map of places with the moves that count.
func NewMap(places []studio.Place, where map[int64]studio.SwatchMove) *Map {
	m := &Map{places: map[int64]studio.Place{}, order: places, where: where, in: map[int64][]studio.SwatchMove{}}
	for _, p := range places {
		m.places[p.ID] = p
	}
	for _, x := range where {
		m.in[x.Place] = append(m.in[x.Place], x)
	}
	for _, all := range m.in {
		slices.SortFunc(all, func(a, b studio.SwatchMove) int {
			return cmp.Or(cmp.Compare(a.Row, b.Row), cmp.Compare(a.Column, b.Column), cmp.Compare(a.Swatch, b.Swatch))
		})
	}
	return m
}

// Path names a place with those it stands in, the outermost first: "Cabinet, drawer 2".
func (m *Map) Path(id int64) string {
	var names []string
	for seen := map[int64]bool{}; id != 0 && !seen[id]; id = m.places[id].Parent {
		seen[id] = true
		if p, ok := m.places[id]; ok {
			names = append(names, p.Name)
		}
	}
	slices.Reverse(names)
	return strings.Join(names, ", ")
}

// In returns what stands in a place itself, by cell and then by number.
func (m *Map) In(id int64) []studio.SwatchMove { return m.in[id] }

// Under returns a place and all that stands in it, each after what it stands in.
func (m *Map) Under(id int64) []int64 {
	out := []int64{id}
	for i := 0; i < len(out); i++ {
		for _, p := range m.order {
			if p.Parent == out[i] && !slices.Contains(out, p.ID) {
				out = append(out, p.ID)
			}
		}
	}
	return out
}

// A Branch is a place in the tree, Depth steps in, with how many swatches it holds
// itself and with all that stands in it.
type Branch struct {
	studio.Place
	Depth      int
	Own, Total int
}

// Tree returns the places in use as they stand in each other.
func (m *Map) Tree() []Branch {
	var out []Branch
	var walk func(parent int64, depth int)
	seen := map[int64]bool{}
	walk = func(parent int64, depth int) {
		for _, p := range m.order {
			up := p.Parent
			if x, ok := m.places[up]; !ok || !x.Closed.IsZero() {
				up = 0
			}
			if up != parent || seen[p.ID] || !p.Closed.IsZero() {
				continue
			}
			seen[p.ID] = true
			at := len(out)
			out = append(out, Branch{Place: p, Depth: depth, Own: len(m.in[p.ID])})
			walk(p.ID, depth+1)
			for _, b := range out[at:] {
				out[at].Total += b.Own
			}
		}
	}
	walk(0, 0)
	return out
}

// Where says on one line where a swatch is, with its neighbours: "Cabinet, drawer 2,
// cell C4; left of it 13, right of it 15." ok is false when nobody said.
func (m *Map) Where(swatch int64) (line string, ok bool) {
	x, ok := m.where[swatch]
	if !ok {
		return "", false
	}
	p := m.places[x.Place]
	path := m.Path(x.Place)
	switch {
	case p.Kind == studio.Lent && !x.Due.IsZero():
		return fmt.Sprintf("%s, to be back on %s.", path, x.Due.Format("2 January 2006")), true
	case p.Kind == studio.Lent:
		return fmt.Sprintf("%s, without a day to be back.", path), true
	case p.Kind == studio.Gone:
		return fmt.Sprintf("%s, on %s.", path, x.At.Local().Format("2 January 2006")), true
	case x.Row > 0:
		before, after := m.beside(x)
		cell := studio.Cell(x.Row, x.Column)
		switch {
		case before != "" && after != "":
			return fmt.Sprintf("%s, cell %s; left of it %s, right of it %s.", path, cell, before, after), true
		case before != "":
			return fmt.Sprintf("%s, cell %s; left of it %s.", path, cell, before), true
		case after != "":
			return fmt.Sprintf("%s, cell %s; right of it %s.", path, cell, after), true
		}
		return fmt.Sprintf("%s, cell %s.", path, cell), true
	}
	var near []string
	all := m.in[x.Place]
	at := slices.IndexFunc(all, func(o studio.SwatchMove) bool { return o.Swatch == swatch })
	for i := max(0, at-2); i < min(len(all), at+3); i++ {
		if i != at {
			near = append(near, fmt.Sprint(all[i].Swatch))
		}
	}
	if len(near) == 0 {
		return path + ".", true
	}
	return fmt.Sprintf("%s, with %s.", path, strings.Join(near, ", ")), true
}

// beside names what lies left and right of a cell in its row.
func (m *Map) beside(x studio.SwatchMove) (before, after string) {
	var left, right []string
	for _, o := range m.in[x.Place] {
		if o.Row != x.Row || o.Swatch == x.Swatch {
			continue
		}
		switch o.Column - x.Column {
		case -1:
			left = append(left, fmt.Sprint(o.Swatch))
		case 1:
			right = append(right, fmt.Sprint(o.Swatch))
		}
	}
	return strings.Join(left, " and "), strings.Join(right, " and ")
}

// A Loan is a swatch that is lent. Days is how many days it is overdue, at most 0
// before its day, and Dated is false when it has none.
type Loan struct {
	studio.SwatchMove
	Name  string
	Days  int
	Dated bool
}

// Loans returns what is lent, the longest overdue first and what has no day last.
func (m *Map) Loans(now time.Time) []Loan {
	var out []Loan
	for _, x := range m.where {
		p := m.places[x.Place]
		if p.Kind != studio.Lent {
			continue
		}
		l := Loan{SwatchMove: x, Name: p.Name, Dated: !x.Due.IsZero()}
		if l.Dated {
			day := func(t time.Time) time.Time { return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC) }
			l.Days = int(day(now).Sub(day(x.Due)).Hours() / 24)
		}
		out = append(out, l)
	}
	slices.SortFunc(out, func(a, b Loan) int {
		if a.Dated != b.Dated {
			if a.Dated {
				return -1
			}
			return 1
		}
		return cmp.Or(cmp.Compare(b.Days, a.Days), cmp.Compare(a.Swatch, b.Swatch))
	})
	return out
}

// Words says when the swatch is to be back.
func (l Loan) Words() string {
	switch {
	case !l.Dated:
		return "no day to be back"
	case l.Days > 1:
		return fmt.Sprintf("overdue by %d days", l.Days)
	case l.Days == 1:
		return "overdue since yesterday"
	case l.Days == 0:
		return "to be back today"
	case l.Days == -1:
		return "to be back tomorrow"
	}
	return fmt.Sprintf("to be back in %d days", -l.Days)
}

// A LookThrough is what a round found: what should be there and was seen, what was
// not, and what was seen but belongs elsewhere or nowhere.
type LookThrough struct {
	Found, Missing, Strange []int64
}

// Through compares what was seen with what stands in a place and all in it.
func (m *Map) Through(place int64, seen []int64) LookThrough {
	var out LookThrough
	should := map[int64]bool{}
	for _, id := range m.Under(place) {
		for _, x := range m.in[id] {
			should[x.Swatch] = true
			if slices.Contains(seen, x.Swatch) {
				out.Found = append(out.Found, x.Swatch)
			} else {
				out.Missing = append(out.Missing, x.Swatch)
			}
		}
	}
	for _, n := range seen {
		if !should[n] && !slices.Contains(out.Strange, n) {
			out.Strange = append(out.Strange, n)
		}
	}
	for _, all := range [][]int64{out.Found, out.Missing, out.Strange} {
		slices.Sort(all)
	}
	return out
}

// Free returns the first of [Map.FreeCells], 0, 0 when there is none.
func (m *Map) Free(place int64) (row, column int) {
	for _, c := range m.FreeCells(place) {
		return c[0], c[1]
	}
	return 0, 0
}

// FreeCells returns the cells of a grid in which nothing stands, row and column, row by
// row.
func (m *Map) FreeCells(place int64) [][2]int {
	p := m.places[place]
	taken := map[[2]int]bool{}
	for _, x := range m.in[place] {
		taken[[2]int{x.Row, x.Column}] = true
	}
	var out [][2]int
	for r := 1; r <= p.Rows; r++ {
		for c := 1; c <= p.Columns; c++ {
			if !taken[[2]int{r, c}] {
				out = append(out, [2]int{r, c})
			}
		}
	}
	return out
}
