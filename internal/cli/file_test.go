package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"aerugo/internal/studio"
)

// namesIn lists what a folder holds.
func namesIn(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, e := range entries {
		out = append(out, e.Name())
	}
	return out
}

func TestAFileIsReplacedWholeOrNotAtAll(t *testing.T) {
	path := filepath.Join(t.TempDir(), "studio.zip")
	content := func() string {
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	write := func(text string, fault error) (int64, error) {
		return writeFile(path, func(w io.Writer) error {
			if _, err := io.WriteString(w, text); err != nil {
				return err
			}
			if got := len(namesIn(t, filepath.Dir(path))); fault != nil && got != 2 {
				t.Errorf("while it is written there are %d files, not the old one and one half-written", got)
			}
			return fault
		})
	}
	if n, err := write("first", nil); err != nil || n != 5 || content() != "first" {
		t.Fatalf("%d, %v, %q", n, err, content())
	}
	fault := errors.New("the lamp fell over")
	if _, err := write("second, half", fault); !errors.Is(err, fault) {
		t.Errorf("got %v", err)
	}
	if content() != "first" {
		t.Errorf("what was there is now %q", content())
	}
	if n, err := write("third", nil); err != nil || n != 5 || content() != "third" {
		t.Errorf("%d, %v, %q", n, err, content())
	}
	if got := namesIn(t, filepath.Dir(path)); len(got) != 1 {
		t.Errorf("left behind: %v", got)
	}
}

func TestAFullDiskIsSaidInPlainWords(t *testing.T) {
	path := filepath.Join(t.TempDir(), "studio.zip")
	full := &os.PathError{Op: "write", Path: path, Err: diskFull}
	_, err := writeFile(path, func(io.Writer) error { return fmt.Errorf("pack photograph: %w", full) })
	p := studio.ProblemIn(err)
	if p == nil || p.Kind != studio.Machine || !strings.HasPrefix(p.Text, "the disk is full: ") {
		t.Errorf("got %v", err)
	}
	if got := namesIn(t, filepath.Dir(path)); len(got) != 0 {
		t.Errorf("left behind: %v", got)
	}
	if err := fullDisk(path, errors.New("else")); studio.ProblemIn(err) != nil {
		t.Errorf("another fault became %v", err)
	}
}

// full refuses every byte, as a disk without room does.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, diskFull }

func TestAnAnswerThatDoesNotArriveIsAFault(t *testing.T) {
	table := filepath.Join("..", "science", "colour", "testdata", "ciede2000_sharma2005.csv")
	for _, args := range [][]string{
		{"version"}, {"version", "--json"}, {"--help"},
		{"colour", "difference", "--csv", table}, {"measure", filepath.Join(pictures, "p8_srgb.png")},
	} {
		var stderr bytes.Buffer
		status := Main(args, strings.NewReader(""), full{}, &stderr)
		if status != exitMend || stderr.String() != "aerugo: the disk is full: the answer was not written; free some space, or write it to another disk\n" {
			t.Errorf("%v: status %d, %s", args, status, stderr.String())
		}
	}
}

func TestAStoppedVerbSaysSoAndLeavesNothing(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	stop()
	var out, errs bytes.Buffer
	dir := t.TempDir()
	tm := &term{stdin: strings.NewReader(""), stdout: &answer{w: &out}, stderr: &errs}
	err := run(ctx, tm, []string{"measure", filepath.Join(pictures, "p8_srgb.png")})
	if status := report(ctx, &errs, err); status != exitOurs || errs.String() != "aerugo: stopped before it was done; nothing was half-written\n" || out.Len() > 0 {
		t.Errorf("measure: %v, status %d, %q%q", err, status, out.String(), errs.String())
	}
	if err := run(ctx, tm, []string{"serve", "--studio", filepath.Join(dir, "studio"), "--no-open"}); err != nil {
		t.Errorf("serve, stopped at once: %v", err)
	}
}

func TestOurFaultsAreSaidInOneLine(t *testing.T) {
	var errs bytes.Buffer
	status := report(t.Context(), &errs, errors.New("read row 3:\n  the table\n  is gone"))
	if want := "aerugo: this is a fault of Aerugo's or of this machine, not yours: read row 3: the table is gone\n"; status != exitOurs || errs.String() != want {
		t.Errorf("status %d, %q", status, errs.String())
	}
}
