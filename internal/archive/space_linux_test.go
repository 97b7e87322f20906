package archive

import (
	"path/filepath"
	"syscall"
	"testing"

	"aerugo/internal/studio"
)

func TestFullDiskStopsAnImport(t *testing.T) {
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=1500k"); err != nil {
		t.Logf("no file system can be mounted here (%v); store's test of a full database has to do", err)
		return
	}
	t.Cleanup(func() { ok(t, syscall.Unmount(dir, 0)) })
	from := filled(t)
	for i := range 6 {
		data := make([]byte, 200_000)
		data[0] = byte(i)
		_, _, err := from.AddPhoto(ctx, studio.Photo{Swatch: 1, Face: studio.Back, Moment: studio.Bare, Taken: noon, Format: "JPEG"}, data)
		ok(t, err)
	}
	s := openAt(t, filepath.Join(dir, "studio"), noon)
	before := state(t, s)
	_, err := take(s, export(t, from))
	wantProblem(t, err, studio.Machine, "The disk is full: nothing was")
	if state(t, s) != before {
		t.Error("the studio was changed")
	}
	s.Close()
}
