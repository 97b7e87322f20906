package published

import (
	_ "embed" // the tables are part of the program
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

//go:embed data/recipes.csv
var recipesCSV string

//go:embed data/words.tsv
var wordsTSV string

//go:embed data/ingredients.tsv
var ingredientsTSV string

//go:embed data/synonyms.tsv
var synonymsTSV string

// A Row is one line of recipes.csv by column name, as the sources have it.
type Row map[string]string

// columns are those of recipes.csv.
var columns = []string{"id", "metal", "colour", "composition_g_per_L", "basis", "original_quantities", "method", "time", "temperature", "source", "page", "seen", "class_use", "note"}

// ReadRows reads a table of published recipes: comma-separated, with notes after
// a # and the columns of recipes.csv in any order. A missing or strange column,
// an id twice, or a class_use that is none of yes, demo and reference is an error.
func ReadRows(text string) ([]Row, error) {
	r := csv.NewReader(strings.NewReader(text))
	r.Comment = '#'
	lines, err := r.ReadAll()
	if err != nil {
		return nil, fmt.Errorf("read recipes: %w", err)
	}
	if len(lines) == 0 {
		return nil, fmt.Errorf("read recipes: no line names the columns")
	}
	head := lines[0]
	for _, c := range columns {
		if n := slices.Index(head, c); n < 0 {
			return nil, fmt.Errorf("read recipes: no column %s", c)
		}
	}
	if len(head) != len(columns) {
		return nil, fmt.Errorf("read recipes: %d columns, want %d", len(head), len(columns))
	}
	seen := map[string]bool{}
	var rows []Row
	for _, l := range lines[1:] {
		row := Row{}
		for i, cell := range l {
			row[head[i]] = strings.TrimSpace(cell)
		}
		id := row["id"]
		if id == "" || seen[id] {
			return nil, fmt.Errorf("read recipes: id %q is empty or there twice", id)
		}
		seen[id] = true
		if _, ok := uses[row["class_use"]]; !ok {
			return nil, fmt.Errorf("read recipe %s: class_use %q is not yes, demo or reference", id, row["class_use"])
		}
		if row["source"] == "" {
			return nil, fmt.Errorf("read recipe %s: no source", id)
		}
		rows = append(rows, row)
	}
	return rows, nil
}

// tabbed splits a tab-separated table of ours: lines with # are notes, the next
// names the columns, a dash stands for an empty cell.
func tabbed(text string) ([]Row, error) {
	var head []string
	var rows []Row
	for n, line := range strings.Split(text, "\n") {
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
		row := Row{}
		for i, c := range cells {
			if c != "-" {
				row[head[i]] = c
			}
		}
		rows = append(rows, row)
	}
	return rows, nil
}

// ReadSteps reads a way of working: steps with semicolons between, each
// kind/tool/minutes/note where all but the kind may be left out. A ? after the
// minutes marks a time that was taken here, and "3x(a; b)" says the steps in
// brackets three times. Kinds are written with _ for a space.
func ReadSteps(text string) ([]Step, error) {
	var out []Step
	for rest := strings.TrimSpace(text); rest != ""; {
		times := 1
		var inside string
		if n, after, ok := strings.Cut(rest, "x("); ok && len(n) == 1 && n[0] >= '2' && n[0] <= '9' {
			if inside, rest, ok = strings.Cut(after, ")"); !ok {
				return nil, fmt.Errorf("read steps %q: a bracket is not closed", text)
			}
			times = int(n[0] - '0')
			rest = strings.TrimPrefix(rest, ";")
		} else if at := groupAt(rest); at > 0 {
			inside, rest = strings.TrimRight(rest[:at], "; "), rest[at:]
		} else {
			inside, rest = rest, ""
		}
		var group []Step
		for _, one := range strings.Split(inside, ";") {
			s, err := readStep(strings.TrimSpace(one))
			if err != nil {
				return nil, err
			}
			group = append(group, s)
		}
		for i := range times {
			for _, s := range group {
				s.Again = i > 0
				out = append(out, s)
			}
		}
		rest = strings.TrimSpace(rest)
	}
	return out, nil
}

// groupAt is where the next "3x(" begins after a semicolon, 0 if nowhere.
func groupAt(text string) int {
	for i := 0; i+3 < len(text); i++ {
		if text[i] == ';' {
			if rest := strings.TrimSpace(text[i+1:]); len(rest) > 3 && rest[0] >= '2' && rest[0] <= '9' && rest[1:3] == "x(" {
				return len(text) - len(rest)
			}
		}
	}
	return 0
}

func readStep(text string) (Step, error) {
	cells := strings.Split(text, "/")
	if len(cells) > 4 {
		return Step{}, fmt.Errorf("read step %q: more than four parts", text)
	}
	cells = append(cells, "", "", "")
	s := Step{Kind: strings.ReplaceAll(cells[0], "_", " "), Tool: cells[1], Note: cells[3]}
	if s.Kind == "" {
		return Step{}, fmt.Errorf("read step %q: no kind", text)
	}
	if t, taken := strings.CutSuffix(cells[2], "?"); t != "" {
		m, err := strconv.ParseFloat(t, 64)
		if err != nil || !(m > 0 && m <= 60*24*60) {
			return Step{}, fmt.Errorf("read step %q: %q is no time in minutes", text, t)
		}
		s.Minutes, s.Taken = m, taken
	}
	return s, nil
}
