package site

import (
	"archive/zip"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"aerugo/internal/studio"
)

// Folder has build fill a new folder at dir: it is filled beside that place and gets
// its name when it is whole. A folder that is there already is not touched.
func Folder(dir string, build func(put func(string, []byte) error) error) (err error) {
	if _, err := os.Lstat(dir); !errors.Is(err, os.ErrNotExist) {
		return studio.Problemf(studio.Conflict, "out", "%s is there already; name a folder that is not there yet.", dir)
	}
	made, err := os.MkdirTemp(filepath.Dir(dir), ".site-*")
	if err != nil {
		return studio.Problemf(studio.Machine, "out", "%s can't be made (%v); name a folder in a place that can be written to.", dir, err)
	}
	defer func() {
		if err != nil {
			_ = os.RemoveAll(made) // half a site is none
		}
	}()
	put := func(name string, data []byte) error {
		path := filepath.Join(made, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return fmt.Errorf("make folder of %s: %w", name, err)
		}
		if err := os.WriteFile(path, data, 0o644); err != nil {
			return fmt.Errorf("write %s: %w", name, err)
		}
		return nil
	}
	if err := build(put); err != nil {
		return err
	}
	if err := os.Chmod(made, 0o755); err != nil {
		return fmt.Errorf("open %s to readers: %w", dir, err)
	}
	if err := os.Rename(made, dir); err != nil {
		return studio.Problemf(studio.Machine, "out", "The site can't be given its name %s (%v); nothing was kept.", dir, err)
	}
	return nil
}

// Zip has build write a site as a ZIP file. Files carry the date 1980-01-01, so that
// the same site gives the same bytes.
func Zip(w io.Writer, build func(put func(string, []byte) error) error) error {
	z := zip.NewWriter(w)
	err := build(func(name string, data []byte) error {
		method := zip.Deflate
		switch filepath.Ext(name) {
		case ".jpg", ".woff2":
			method = zip.Store
		}
		f, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: method, Modified: time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)})
		if err != nil {
			return fmt.Errorf("pack %s: %w", name, err)
		}
		if _, err := f.Write(data); err != nil {
			return fmt.Errorf("pack %s: %w", name, err)
		}
		return nil
	})
	if err != nil {
		return err
	}
	return z.Close()
}
