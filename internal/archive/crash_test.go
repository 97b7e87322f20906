package archive

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"aerugo/internal/store"
)

// countdown is cancelled once it has been looked at a number of times.
type countdown struct {
	context.Context
	mu   sync.Mutex
	left int
}

func (c *countdown) Err() error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.left--; c.left < 0 {
		return context.Canceled
	}
	return nil
}

// TestMain is also the program that gets killed: with AERUGO_TEST_KILLED set it
// imports an archive into that studio.
func TestMain(m *testing.M) {
	dir := os.Getenv("AERUGO_TEST_KILLED")
	if dir == "" {
		os.Exit(m.Run())
	}
	err := func() error {
		s, err := store.Open(ctx, dir, store.Options{})
		if err != nil {
			return err
		}
		f, err := os.Open(os.Getenv("AERUGO_TEST_ARCHIVE"))
		if err != nil {
			return err
		}
		info, err := f.Stat()
		if err != nil {
			return err
		}
		fmt.Println("begins")
		_, err = Import(ctx, s, f, info.Size())
		return err
	}()
	if err != nil {
		fmt.Println(err)
		os.Exit(1)
	}
	fmt.Println("done")
}

// Killed at any moment, an import leaves the studio as it was, or complete.
func TestKilledImportIsAllOrNothing(t *testing.T) {
	whole := filled(t)
	path := filepath.Join(t.TempDir(), "studio.zip")
	ok(t, os.WriteFile(path, export(t, whole), 0o644))
	complete := fresh(t)
	began := time.Now()
	_, err := take(complete, export(t, whole))
	ok(t, err)
	usual := time.Since(began) // so that the kills fall all over it
	const rounds = 12
	outcomes := map[string]int{}
	for round := range rounds {
		dir := t.TempDir()
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), "AERUGO_TEST_KILLED="+dir, "AERUGO_TEST_ARCHIVE="+path)
		out, err := cmd.StdoutPipe()
		ok(t, err)
		ok(t, cmd.Start())
		said := bufio.NewScanner(out)
		if !said.Scan() || said.Text() != "begins" {
			t.Fatalf("the child says %q", said.Text())
		}
		if round < rounds-1 {
			time.Sleep(usual * time.Duration(round) / (rounds - 4))
		} else if !said.Scan() || said.Text() != "done" {
			t.Fatalf("the child left alone says %q", said.Text())
		}
		cmd.Process.Kill()
		cmd.Wait()
		s := openAt(t, dir, noon)
		c, err := s.Seen(ctx)
		ok(t, err)
		switch {
		case c.Empty:
			outcomes["as before"]++
			photos, err := filepath.Glob(filepath.Join(dir, "photos", "??", "*"))
			if ok(t, err); len(photos) > 0 {
				t.Errorf("files without records are in place: %q", photos)
			}
		case string(export(t, s)) == string(export(t, complete)):
			outcomes["complete"]++
		default:
			t.Errorf("the studio is half imported: %+v", c)
		}
		faults, err := s.Check(ctx)
		if ok(t, err); len(faults) > 0 {
			t.Errorf("the studio is not sound: %q", faults)
		}
		if c.Empty { // and it can be done again
			_, err := take(s, export(t, whole))
			ok(t, err)
		}
		s.Close()
	}
	if outcomes["complete"] == 0 {
		t.Errorf("even the import that was left alone is not complete: %v", outcomes)
	}
	t.Logf("outcomes: %v", outcomes)
}
