package store

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"aerugo/internal/studio"
)

// TestMain is also the program that gets killed: with AERUGO_TEST_KILLED set it
// keeps events, choices, photographs and data sheets in that studio, saying each on its output once
// it is kept, until it is killed; with AERUGO_TEST_RESTORE set as well it
// restores that backup over the studio.
func TestMain(m *testing.M) {
	dir := os.Getenv("AERUGO_TEST_KILLED")
	if dir == "" {
		os.Exit(m.Run())
	}
	if backup := os.Getenv("AERUGO_TEST_RESTORE"); backup != "" {
		if err := Restore(ctx, backup, dir); err != nil {
			os.Exit(1)
		}
		os.Exit(0)
	}
	s, err := Open(ctx, dir, Options{})
	if err != nil {
		fmt.Println("error", err)
		os.Exit(1)
	}
	run := os.Getenv("AERUGO_TEST_ROUND")
	for i := 0; ; i++ {
		key := fmt.Sprintf("%s-%d", run, i)
		e := studio.Event{Treatment: 1, Kind: studio.Noted, At: time.Now(), Client: key}
		pair := e
		pair.Client += "/pair"
		if _, err := s.AddEvents(ctx, []studio.Event{e, pair}); err != nil {
			fmt.Println("error", err)
			os.Exit(1)
		}
		fmt.Println("event", key)
		tap := studio.Choice{Sitting: 1, Client: key, Who: "Ana", Left: studio.FaceOf{Swatch: 1, Face: studio.Front}, Right: studio.FaceOf{Swatch: 2, Face: studio.Front}, Chosen: studio.ChoseLeft, At: time.Now()}
		if _, err := s.AddChoice(ctx, tap); err != nil {
			fmt.Println("error", err)
			os.Exit(1)
		}
		fmt.Println("choice", key)
		p := shot(1, studio.Front, studio.Underway, time.Now())
		p.Client = key
		if _, _, err := s.AddPhoto(ctx, p, picture(20000)); err != nil {
			fmt.Println("error", err)
			os.Exit(1)
		}
		fmt.Println("photo", key)
		if d, err := s.AddSheet(ctx, studio.DataSheet{Supply: 1, Name: key + ".pdf"}, append([]byte("%PDF-1.7 "+key), picture(20000)...)); err != nil {
			fmt.Println("error", err)
			os.Exit(1)
		} else {
			fmt.Println("sheet", d.Name)
		}
		if i%5 == 4 {
			if _, err := s.Backup(ctx, ""); err != nil {
				fmt.Println("error", err)
				os.Exit(1)
			}
		}
	}
}

// killAfter runs the child on dir, kills it once it has said n lines and a
// little more, and returns what it had said.
func killAfter(t *testing.T, dir string, round, n int) []string {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "AERUGO_TEST_KILLED="+dir, fmt.Sprintf("AERUGO_TEST_ROUND=%d", round))
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	var said []string
	r := bufio.NewScanner(out)
	for len(said) < n && r.Scan() {
		said = append(said, r.Text())
	}
	time.Sleep(time.Duration(rand.IntN(4000)) * time.Microsecond) // into the middle of something
	cmd.Process.Kill()
	for r.Scan() {
		said = append(said, r.Text())
	}
	cmd.Wait()
	return said
}

// What was said to be kept is there after kill -9, whole; of what was under way,
// either all or nothing.
func TestKilledAtAnyMomentLosesNothing(t *testing.T) {
	s := fresh(t)
	sat(t, s, furnish(t, s, false))
	s.Close()
	said := map[string]bool{}
	for round := range 10 {
		for _, line := range killAfter(t, s.Dir(), round, 1+rand.IntN(14)) {
			if strings.HasPrefix(line, "error") {
				t.Fatal(line)
			}
			said[line] = true
		}
		s = mustOpen(t, s.Dir(), &clock{time.Now()})
		wantSound(t, s)
		kept := map[string]bool{}
		for _, e := range must[map[int64][]studio.Event](t)(s.Events(ctx, []int64{1}))[1] {
			kept["event "+e.Client] = true
		}
		for _, c := range must[[]studio.Choice](t)(s.Choices(ctx, 1)) {
			kept["choice "+c.Client] = true
		}
		for _, p := range must[[]studio.Photo](t)(s.PhotosOf(ctx, 1)) {
			kept["photo "+p.Client] = true
		}
		for _, d := range must[[]studio.DataSheet](t)(s.Sheets(ctx, 1)) {
			kept["sheet "+d.Name] = true
		}
		for line := range said {
			if !kept[line] {
				t.Errorf("round %d: %s was said to be kept and is not there", round, line)
			}
		}
		for line := range kept {
			one := strings.TrimSuffix(line, "/pair")
			if strings.HasPrefix(one, "event") && !(kept[one] && kept[one+"/pair"]) {
				t.Errorf("round %d: of %s and its pair only one is there", round, one)
			}
		}
		for _, name := range files(t, s) {
			if strings.HasPrefix(name, ".arriving/") {
				t.Errorf("round %d: %s is left", round, name)
			}
		}
		for _, b := range must[[]string](t)(s.Backups()) {
			if _, err := inspect(ctx, b+"/studio.db"); err != nil {
				t.Errorf("round %d: the backup %s is not whole: %v", round, b, err)
			}
		}
		s.Close()
	}
	if len(said) < 10 {
		t.Errorf("only %d things were kept in all; the child does not work", len(said))
	}
}

// Restoring may be killed too: the studio is then as before or as after, and
// restoring again works.
func TestKilledWhileRestoringIsMendedByRestoringAgain(t *testing.T) {
	s, _, _ := filled(t)
	for range 10 {
		addPhoto(t, s, shot(1, studio.Back, studio.Underway, noon))
	}
	backup := must[string](t)(s.Backup(ctx, filepath.Join(t.TempDir(), "copy")))
	then := state(t, s)
	for round := range 6 {
		if err := s.UpdateSwatchNote(ctx, 1, fmt.Sprintf("in round %d", round)); err != nil {
			t.Fatal(err)
		}
		now := state(t, s)
		s.Close()
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), "AERUGO_TEST_KILLED="+s.Dir(), "AERUGO_TEST_RESTORE="+backup)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		for n := 0; !exists(s.path(".restoring")) && n < 2000; n++ { // it has begun
			time.Sleep(time.Millisecond)
		}
		time.Sleep(time.Duration(rand.IntN(30000)) * time.Microsecond)
		cmd.Process.Kill()
		cmd.Wait()
		s = mustOpen(t, s.Dir(), nil)
		if got := state(t, s); got != now && got != then {
			t.Errorf("round %d: the studio is neither as before nor as after", round)
		}
		s.Close()
		if err := Restore(ctx, backup, s.Dir()); err != nil {
			t.Fatal(err)
		}
		s = mustOpen(t, s.Dir(), nil)
		same(t, "restored", state(t, s), then)
		wantSound(t, s)
		found := false
		for _, b := range must[[]string](t)(s.Backups()) {
			old := mustOpen(t, b, nil)
			found = found || state(t, old) == now
			old.Close()
		}
		if !found {
			t.Errorf("round %d: what was there before is in no backup", round)
		}
	}
}

func TestManyHandsAtOnce(t *testing.T) {
	s := fresh(t)
	furnish(t, s, false)
	tr := treatmentOf(t, s, 1)
	data := picture(5000)
	var hands sync.WaitGroup
	fail := make(chan error, 100)
	for h := range 8 {
		hands.Go(func() {
			for i := range 12 {
				e := studio.Event{Treatment: tr.ID, Kind: studio.Noted, At: noon, Client: keys(i)} // all send the same
				if _, err := s.AddEvents(ctx, []studio.Event{e}); err != nil {
					fail <- err
				}
				p := shot(1, studio.Front, studio.Bare, noon)
				p.Client = fmt.Sprintf("hand %d, %d", h, i)
				if _, _, err := s.AddPhoto(ctx, p, data); err != nil { // the same picture
					fail <- err
				}
				if _, err := s.Looks(ctx); err != nil {
					fail <- err
				}
				if h == 0 && i%6 == 0 {
					if _, err := s.Backup(ctx, ""); err != nil {
						fail <- err
					}
					if _, err := s.PurgeBin(ctx); err != nil {
						fail <- err
					}
				}
			}
		})
	}
	hands.Wait()
	close(fail)
	for err := range fail {
		t.Error(err)
	}
	if n := len(must[map[int64][]studio.Event](t)(s.Events(ctx, []int64{tr.ID}))[tr.ID]); n != 12 {
		t.Errorf("%d events are kept, want 12", n)
	}
	if n := len(must[[]studio.Photo](t)(s.PhotosOf(ctx, 1))); n != 1 {
		t.Errorf("%d photographs are kept, want 1", n)
	}
	wantSound(t, s)
}

func TestFullDatabaseSaysTheDiskIsFull(t *testing.T) {
	s := fresh(t)
	furnish(t, s, false)
	pages := must[int64](t)(number(ctx, s.write, `PRAGMA page_count`))
	if _, err := s.write.Exec(fmt.Sprintf(`PRAGMA max_page_count = %d`, pages+1)); err != nil { // this connection only
		t.Fatal(err)
	}
	tr := treatmentOf(t, s, 1)
	long := strings.Repeat("full ", 700)
	var err error
	kept := 0
	for ; kept < 50 && err == nil; kept++ {
		_, err = s.AddEvents(ctx, []studio.Event{{Treatment: tr.ID, Kind: studio.Noted, At: noon, Client: keys(kept), Note: long}})
	}
	wantProblem(t, err, studio.Machine, "The disk is full: nothing was changed")
	p := shot(1, studio.Front, studio.Bare, noon)
	p.Note = long
	err = nil
	photos := 0
	for ; photos < 50 && err == nil; photos++ {
		_, _, err = s.AddPhoto(ctx, p, picture(100))
	}
	wantProblem(t, err, studio.Machine, "The disk is full: the photograph was not kept; free some space and send it again")
	if left := files(t, s); len(left) != photos-1 {
		t.Errorf("%d files are there, want %d", len(left), photos-1)
	}
	if _, err := s.write.Exec(`PRAGMA max_page_count = 1000000`); err != nil {
		t.Fatal(err)
	}
	if _, existed, err := s.AddPhoto(ctx, p, picture(100)); err != nil || existed {
		t.Errorf("with room again: existed %v, %v", existed, err)
	}
	if n := len(must[map[int64][]studio.Event](t)(s.Events(ctx, []int64{tr.ID}))[tr.ID]); n != kept-1 {
		t.Errorf("%d events are kept, want %d", n, kept-1)
	}
	wantSound(t, s)
}

// putFile sees a disk that fills up under it as full, whichever call fails.
func TestDiskFullIsTold(t *testing.T) {
	full := io.MultiReader(bytes.NewReader(picture(100)), errReader{&os.PathError{Op: "write", Path: "x", Err: noSpaceError}})
	s := fresh(t)
	err := putFile(s.path("photos", ".arriving"), s.path("photos", "x"), full)
	wantProblem(t, fileFault(err, "keep"), studio.Machine, "The disk is full: the photograph was not kept")
	wantProblem(t, fault(err, "keep"), studio.Machine, "The disk is full: nothing was changed")
}

type errReader struct{ err error }

func (e errReader) Read([]byte) (int, error) { return 0, e.err }
