package cli

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"aerugo/internal/studio"
)

// writeFile has write fill a new file beside path, forces it to the disk and
// gives it its name: whoever looks finds the whole file, or what was there before.
func writeFile(path string, write func(io.Writer) error) (size int64, err error) {
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() {
		return 0, studio.Problemf(studio.Conflict, "to", "%s is there already and is not an ordinary file; name a file", path)
	}
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*.part")
	if err != nil {
		return 0, studio.Problemf(studio.Machine, "to", "%s can't be written (%s); name a file in a folder that is there and can be written to", path, plainly(err))
	}
	defer func() {
		if err != nil {
			_ = f.Close() // closed already if only the renaming failed
			_ = os.Remove(f.Name())
		}
	}()
	if err := write(f); err != nil {
		return 0, fullDisk(path, err)
	}
	if size, err = f.Seek(0, io.SeekEnd); err != nil {
		return 0, fmt.Errorf("measure %s: %w", f.Name(), err)
	}
	if err := f.Sync(); err != nil {
		return 0, fullDisk(path, err)
	}
	if err := f.Close(); err != nil {
		return 0, fullDisk(path, err)
	}
	if err := os.Rename(f.Name(), path); err != nil {
		return 0, studio.Problemf(studio.Machine, "to", "%s can't be given its name (%s); the file was not kept", path, plainly(err))
	}
	syncFolder(filepath.Dir(path))
	return size, nil
}

// fullDisk turns the machine's word for a full disk into a Problem; any other
// error goes through.
func fullDisk(path string, err error) error {
	if err == nil || studio.ProblemIn(err) != nil || !isFull(err) {
		return err
	}
	return studio.Problemf(studio.Machine, "to", "the disk is full: %s was not written; free some space, or write it to another disk", path)
}

// syncFolder makes the new name last through a power cut where the system can
// do that; the file itself is safe already.
func syncFolder(dir string) {
	d, err := os.Open(dir)
	if err != nil {
		return
	}
	defer d.Close()
	_ = d.Sync() // not every system can
}

// studioIn refuses a folder that holds no studio, where opening it would make one.
func studioIn(dir string) error {
	info, err := os.Stat(filepath.Join(dir, "studio.db"))
	switch {
	case err == nil && info.Mode().IsRegular():
		return nil
	case err == nil || errors.Is(err, os.ErrNotExist):
		return studio.Problemf(studio.NotFound, "studio", "there is no studio in %s; name the folder that holds studio.db with --studio", dir)
	default:
		return studio.Problemf(studio.Machine, "studio", "%s can't be looked into (%s); name the studio's folder with --studio", dir, plainly(err))
	}
}
