package store

import (
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"aerugo/internal/studio"
)

// onSmallDisk mounts a file system of a few megabytes, and reports false where
// that is not allowed.
func onSmallDisk(t *testing.T, flags uintptr, options string) (string, bool) {
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", flags, options); err != nil {
		t.Logf("no file system can be mounted here (%v); the other tests of a full disk have to do", err)
		return "", false
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, 0); err != nil {
			t.Error(err)
		}
	})
	return dir, true
}

func TestFullDiskLosesNothing(t *testing.T) {
	dir, ok := onSmallDisk(t, 0, "size=4m")
	if !ok {
		return
	}
	s := mustOpen(t, filepath.Join(dir, "studio"), nil)
	furnish(t, s, false)
	spare := filepath.Join(dir, "spare") // so that there is surely room once it goes
	os.WriteFile(spare, picture(400<<10), 0o644)
	p := shot(1, studio.Front, studio.Bare, noon)
	kept := 0
	var err error
	for ; kept < 20 && err == nil; kept++ {
		p.Client = keys(kept)
		_, _, err = s.AddPhoto(ctx, p, picture(600_000))
	}
	kept--
	wantProblem(t, err, studio.Machine, "The disk is full: the photograph was not kept; free some space and send it again")
	if n := len(files(t, s)); n != kept || kept < 1 {
		t.Errorf("%d files are there, want %d", n, kept)
	}
	_, err = s.Backup(ctx, filepath.Join(dir, "copy"))
	if err == nil {
		if _, err = s.Backup(ctx, ""); err == nil {
			_, err = s.Backup(ctx, "")
		}
	}
	filler := filepath.Join(dir, "filler")
	os.WriteFile(filler, picture(4<<20), 0o644) // takes what is left
	if err == nil {
		_, err = s.Backup(ctx, filepath.Join(dir, "copy too"))
	}
	wantProblem(t, err, studio.Machine, "The disk is full")
	tr := treatmentOf(t, s, 1)
	err = nil
	events := 0
	for ; events < 2000 && err == nil; events++ {
		_, err = s.AddEvents(ctx, []studio.Event{{Treatment: tr.ID, Kind: studio.Noted, At: noon, Client: keys(events), Note: strings.Repeat("x", 3000)}})
	}
	events--
	wantProblem(t, err, studio.Machine, "The disk is full: nothing was changed")
	wantSound(t, s)
	os.Remove(filler)
	os.Remove(spare)
	if _, _, err := s.AddPhoto(ctx, p, picture(1000)); err != nil {
		t.Errorf("with room again: %v", err)
	}
	if n := len(must[map[int64][]studio.Event](t)(s.Events(ctx, []int64{tr.ID}))[tr.ID]); n != events {
		t.Errorf("%d events are kept, want %d", n, events)
	}
	wantSound(t, s)
	s.Close()
}

func TestReadOnlyDiskIsRefused(t *testing.T) {
	dir, ok := onSmallDisk(t, 0, "size=4m")
	if !ok {
		return
	}
	inside := filepath.Join(dir, "studio")
	s := mustOpen(t, inside, nil)
	furnish(t, s, false)
	want := state(t, s)
	s.Close()
	if err := syscall.Mount("", dir, "", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""); err != nil {
		t.Fatal(err)
	}
	_, err := Open(ctx, inside, Options{})
	wantProblem(t, err, studio.Machine, "can't be written to")
	_, err = Open(ctx, filepath.Join(dir, "new"), Options{})
	wantProblem(t, err, studio.Machine, "can't be written to")
	// A backup on such a disk can still be restored from.
	target := filepath.Join(t.TempDir(), "restored")
	if err := Restore(ctx, inside, target); err != nil {
		t.Fatal(err)
	}
	same(t, "restored", state(t, mustOpen(t, target, nil)), want)
}
