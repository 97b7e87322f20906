package matter

import (
	"embed"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"sync"
)

//go:embed data/*.tsv
var data embed.FS

// A row is one line of a table by column name.
type row map[string]string

// list returns the words of a column, split at sep; nil when it is empty.
func (r row) list(column, sep string) []string {
	if r[column] == "" {
		return nil
	}
	return strings.Split(r[column], sep)
}

// readTable splits a tab-separated table. Lines starting with # are notes, the
// first other line names the columns, and a dash stands for an empty cell.
func readTable(text string) ([]row, error) {
	var head []string
	var rows []row
	for n, line := range strings.Split(text, "\n") {
		line = strings.TrimSuffix(line, "\r")
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		cells := strings.Split(line, "\t")
		if head == nil {
			head = cells
			continue
		}
		if len(cells) != len(head) {
			return nil, fmt.Errorf("read table line %d: %d cells where the head has %d", n+1, len(cells), len(head))
		}
		r := make(row, len(head))
		for i, c := range cells {
			if c == "-" {
				c = ""
			}
			r[head[i]] = c
		}
		rows = append(rows, r)
	}
	if head == nil {
		return nil, fmt.Errorf("read table: no head line")
	}
	return rows, nil
}

// table reads one embedded table. The tables are part of the program, so a
// broken one is a fault of the build and stops it at once, in the first test.
func table(name string) []row {
	text, err := data.ReadFile("data/" + name)
	if err != nil {
		panic(err)
	}
	rows, err := readTable(string(text))
	if err != nil {
		panic(fmt.Errorf("table %s: %w", name, err))
	}
	return rows
}

// Sources returns the texts that the tables name as their sources, each once: titles
// and where they were read, which no other language changes.
var Sources = sync.OnceValue(func() []string {
	seen := map[string]bool{}
	for _, name := range []string{"alloys.tsv", "bands.tsv", "cautions.tsv", "clashes.tsv", "densities.tsv", "hazards.tsv", "limits.tsv", "substances.tsv"} {
		for _, r := range table(name) {
			if r["source"] != "" {
				seen[r["source"]] = true
			}
		}
	}
	return slices.Sorted(maps.Keys(seen))
})

// number reads a column that must hold a number.
func (r row) number(column string) float64 {
	v, err := strconv.ParseFloat(r[column], 64)
	if err != nil {
		panic(fmt.Errorf("column %s: %w", column, err))
	}
	return v
}

// year reads a year, 0 when the source gave none.
func (r row) year() int {
	if r["year"] == "" {
		return 0
	}
	return int(r.number("year"))
}
