package store

import (
	"fmt"
	"os"
	"path/filepath"

	"aerugo/internal/language"
)

// Languages returns the languages of the studio, English first: those that come with
// Aerugo and those whose PO files lie in its folder languages/. One of the studio's own
// takes the place of a shipped one of the same tag. A file that can't be read is told to
// tell and left out.
func (s *Store) Languages(tell func(file string, err error)) ([]*language.Language, error) {
	all, err := language.Shipped()
	if err != nil {
		return nil, err
	}
	files, err := filepath.Glob(filepath.Join(s.Dir(), "languages", "*.po"))
	if err != nil {
		return nil, err
	}
	for _, file := range files {
		l, err := readLanguage(file)
		if err != nil {
			tell(file, err)
			continue
		}
		at := len(all)
		for i := range all {
			if all[i].Tag == l.Tag {
				at = i
			}
		}
		if at == 0 {
			tell(file, fmt.Errorf("English is what the texts are written in"))
			continue
		}
		all = append(all[:at:at], append([]*language.Language{l}, all[min(at+1, len(all)):]...)...)
	}
	return all, nil
}

func readLanguage(file string) (*language.Language, error) {
	info, err := os.Stat(file)
	if err != nil {
		return nil, err
	}
	if info.Size() > 8<<20 {
		return nil, fmt.Errorf("it is larger than 8 MB")
	}
	po, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	return language.Read(po)
}
