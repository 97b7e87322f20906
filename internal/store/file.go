package store

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"

	"aerugo/internal/studio"
)

// extensions are the formats of photographs that are kept, and their files' endings.
var extensions = map[string]string{"JPEG": "jpg", "PNG": "png", "WebP": "webp", "HEIC": "heic"}

// photoPath returns the place of a photograph below the folder photos.
func photoPath(sha, format string) string {
	return filepath.Join(sha[:2], sha+"."+extensions[format])
}

// filePath returns the place in the studio's folder of a photograph, of a data
// sheet (format PDF), or of a piece's drawing or model.
func filePath(sha, format string) string {
	if ending := studio.FormFormats[format]; ending != "" {
		return filepath.Join("pieces", sha[:2], sha+"."+ending)
	}
	if format == "PDF" {
		return filepath.Join("sheets", sha[:2], sha+".pdf")
	}
	return filepath.Join("photos", photoPath(sha, format))
}

// hashOf returns the SHA-256 of data as it names files.
func hashOf(data []byte) string {
	h := sha256.Sum256(data)
	return hex.EncodeToString(h[:])
}

// fileHash returns the SHA-256 and the length of a file.
func fileHash(path string) (string, int64, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", 0, err
	}
	defer f.Close()
	h := sha256.New()
	n, err := io.Copy(h, f)
	return hex.EncodeToString(h.Sum(nil)), n, err
}

// putFile makes a file of what r gives, so that after a crash or a power cut it
// is there whole or not at all: written beside in the folder tmp, made safe,
// then renamed.
func putFile(tmp, path string, r io.Reader) error {
	f, err := os.CreateTemp(tmp, "arriving-*")
	if err != nil {
		return err
	}
	_, err = io.Copy(f, r)
	if err == nil {
		err = f.Chmod(0o644)
	}
	if err == nil {
		err = f.Sync()
	}
	err = errors.Join(err, f.Close())
	if err == nil {
		err = moveFile(f.Name(), path)
	}
	if err != nil {
		_ = os.Remove(f.Name())
	}
	return err
}

// moveFile renames a finished file to its place, making the folder if it is not
// there, and makes the new name safe.
func moveFile(from, to string) error {
	folder := filepath.Dir(to)
	if _, err := os.Stat(folder); errors.Is(err, fs.ErrNotExist) {
		if err := os.MkdirAll(folder, 0o755); err != nil {
			return err
		}
		if err := syncFolder(filepath.Dir(folder)); err != nil {
			return err
		}
	}
	if err := os.Rename(from, to); err != nil {
		return err
	}
	return syncFolder(folder)
}

// syncFolder makes the names in a folder safe. Windows keeps names safe by
// itself and does not let a folder be opened for that.
func syncFolder(path string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// linkOrCopy makes to the same file as from if the disk allows that, else a
// copy. Photographs are never changed in place, so one file may serve twice.
func linkOrCopy(from, to string) error {
	if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
		return err
	}
	if os.Link(from, to) == nil {
		return nil
	}
	f, err := os.Open(from)
	if err != nil {
		return err
	}
	defer f.Close()
	return putFile(filepath.Dir(to), to, f)
}

// fileFault says what went wrong with a photograph's file.
func fileFault(err error, doing string, args ...any) error {
	if err == nil || studio.ProblemIn(err) != nil {
		return err
	}
	if isDiskFull(err) {
		return studio.Problemf(studio.Machine, "", "The disk is full: the photograph was not kept; free some space and send it again.")
	}
	if errors.Is(err, fs.ErrPermission) {
		return studio.Problemf(studio.Machine, "", "The studio's folder can't be written to (%v): the photograph was not kept; allow writing and send it again.", reason(err))
	}
	return fmt.Errorf("%s: %w", fmt.Sprintf(doing, args...), err)
}
