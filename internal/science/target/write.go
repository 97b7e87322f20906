package target

import (
	"fmt"
	"strings"
)

// standardKeywords are the header lines of CGATS.17 that need no announcement.
var standardKeywords = map[string]bool{
	"ORIGINATOR": true, "DESCRIPTOR": true, "CREATED": true, "MANUFACTURER": true, "PROD_DATE": true,
	"SERIAL": true, "MATERIAL": true, "INSTRUMENTATION": true, "MEASUREMENT_SOURCE": true,
	"PRINT_CONDITIONS": true, "WEIGHTING_FUNCTION": true, "COMPUTATIONAL_PARAMETER": true,
}

// WriteCGATS returns tables as a CGATS.17 text file: counts first, text in
// quotes, decimal points, columns parted by single spaces. It refuses what the
// format cannot hold.
func WriteCGATS(tables ...Table) (string, error) {
	if len(tables) == 0 {
		return "", fmt.Errorf("there is no table to write")
	}
	var b strings.Builder
	b.WriteString("CGATS.17\n")
	for i, t := range tables {
		if err := t.write(&b); err != nil {
			return "", fmt.Errorf("write table %d: %w", i+1, err)
		}
	}
	return b.String(), nil
}

func (t Table) write(b *strings.Builder) error {
	for _, k := range t.Keywords {
		if !bare(k.Name) || strings.HasPrefix(k.Name, "BEGIN_") || strings.HasPrefix(k.Name, "END_") || strings.HasPrefix(k.Name, "NUMBER_OF_") || k.Name == "KEYWORD" {
			return fmt.Errorf("%q cannot be a keyword", k.Name)
		}
		if !standardKeywords[k.Name] {
			fmt.Fprintf(b, "KEYWORD \"%s\"\n", k.Name)
		}
		value, err := quote(k.Value)
		if err != nil {
			return err
		}
		fmt.Fprintf(b, "%s %s\n", k.Name, value)
	}
	if len(t.Fields) == 0 || len(t.Fields) > mostFields {
		return fmt.Errorf("%d columns; there must be 1 to %d", len(t.Fields), mostFields)
	}
	if len(t.Rows) > mostRows {
		return fmt.Errorf("%d rows; there may be %d", len(t.Rows), mostRows)
	}
	seen := map[string]bool{}
	for _, f := range t.Fields {
		if !bare(f) || strings.HasSuffix(f, "DATA_FORMAT") || seen[f] {
			return fmt.Errorf("%q cannot be the name of a column", f)
		}
		seen[f] = true
	}
	fmt.Fprintf(b, "NUMBER_OF_FIELDS %d\nBEGIN_DATA_FORMAT\n%s\nEND_DATA_FORMAT\n", len(t.Fields), strings.Join(t.Fields, " "))
	fmt.Fprintf(b, "NUMBER_OF_SETS %d\nBEGIN_DATA\n", len(t.Rows))
	for i, row := range t.Rows {
		if len(row) != len(t.Fields) {
			return fmt.Errorf("row %d has %d values for %d columns", i+1, len(row), len(t.Fields))
		}
		for c, v := range row {
			if c > 0 {
				b.WriteByte(' ')
			}
			if _, ok := number(v); ok && !strings.Contains(v, ",") {
				b.WriteString(v)
				continue
			}
			q, err := quote(v)
			if err != nil {
				return fmt.Errorf("row %d: %w", i+1, err)
			}
			b.WriteString(q)
		}
		b.WriteByte('\n')
	}
	b.WriteString("END_DATA\n")
	return nil
}

// bare reports whether s can stand without quotes as the name of a keyword or a
// column: capitals, digits, underscores.
func bare(s string) bool {
	for i, r := range s {
		if !(r >= 'A' && r <= 'Z' || r == '_' || i > 0 && r >= '0' && r <= '9') {
			return false
		}
	}
	return s != ""
}

func quote(s string) (string, error) {
	for _, r := range s {
		if r < ' ' || r == '\u007f' || r == '\uFFFD' {
			return "", fmt.Errorf("%q holds a line break or another sign that a line cannot carry", s)
		}
	}
	return `"` + strings.ReplaceAll(s, `"`, `""`) + `"`, nil
}

// Table returns a reference as a table of Lab values to write.
func (r Reference) Table() Table {
	t := Table{
		Keywords: []Keyword{
			{"ORIGINATOR", "Aerugo"},
			{"DESCRIPTOR", strings.TrimSuffix(r.Name+", "+r.Edition, ", ")},
			{"WEIGHTING_FUNCTION", "ILLUMINANT, D50"},
			{"WEIGHTING_FUNCTION", "OBSERVER, 2 degree"},
		},
		Fields: []string{"SAMPLE_ID", "SAMPLE_NAME", "LAB_L", "LAB_A", "LAB_B"},
	}
	for _, p := range r.Patches {
		t.Rows = append(t.Rows, []string{p.ID, p.Name, fmt.Sprintf("%.3f", p.Lab.L), fmt.Sprintf("%.3f", p.Lab.A), fmt.Sprintf("%.3f", p.Lab.B)})
	}
	return t
}
