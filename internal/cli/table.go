package cli

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
)

// table writes readings for people: one row a photograph, then the palettes and
// the warnings.
func table(w io.Writer, readings []reading) error {
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	row := func(cells ...string) { fmt.Fprintln(tw, strings.Join(cells, "\t")) }
	measured := 0
	for _, r := range readings {
		if r.problem != nil {
			continue
		}
		if measured == 0 {
			row("photograph", "pixels", "profile", "L*", "a*", "b*", "spread", "covered", "colour")
		}
		measured++
		covered := "not known"
		if c := r.Coverage; c != nil {
			covered = fmt.Sprintf("%.0f %% (%.0f to %.0f)", 100*c.Value, 100*c.Low, 100*c.High)
		}
		name := r.Name
		if !r.Calibrated {
			name += ", uncalibrated"
		}
		row(r.File, fmt.Sprintf("%d x %d", r.Width, r.Height), r.Profile,
			decimals(r.Lab.L), decimals(r.Lab.A), decimals(r.Lab.B), decimals(r.Lab.SD), covered, name)
	}
	if err := tw.Flush(); err != nil {
		return err
	}
	for _, r := range readings {
		if r.problem != nil {
			continue
		}
		fmt.Fprintf(w, "\n%s\n", r.File)
		for _, p := range r.Palette {
			fmt.Fprintf(tw, "  %3.0f %%\t%s\t%s\t%s\t%s\n", 100*p.Share, decimals(p.Lab.L), decimals(p.Lab.A), decimals(p.Lab.B), p.Name)
		}
		if err := tw.Flush(); err != nil {
			return err
		}
		if r.Coverage != nil {
			fmt.Fprintf(w, "  covered: %s\n", r.Coverage.Rule)
		}
		if len(r.Classes) > 0 {
			shares := make([]string, len(r.Classes))
			for i, c := range r.Classes {
				shares[i] = fmt.Sprintf("%s %.0f %%", c.Name, 100*c.Share)
			}
			fmt.Fprintf(w, "  surface: %s\n", strings.Join(shares, ", "))
		}
		for _, text := range r.Warnings {
			fmt.Fprintf(w, "  note: %s\n", text)
		}
	}
	return nil
}

// decimals writes v with one decimal and a true minus sign.
func decimals(v float64) string {
	s := fmt.Sprintf("%.1f", v)
	if s == "-0.0" {
		return "0.0"
	}
	return strings.Replace(s, "-", "−", 1)
}
